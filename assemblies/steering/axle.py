"""Two corners as an axle: what heave, roll and one wheel's bump do to both wheels, roll rate, load transfer.

Roll is about +x (positive leans the car to its right, the left side rises) through the middle of the line on
the ground between both contacts at ride; heave is how far the body stands above ride there. Contacts are
those the uprights carry. No tyre model: the ground is level and rigid, the tyres too.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.poses import Poses
from assemblies.steering.ground import WheelOnGround
from assemblies.steering.twist import Twist
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

ROUNDS = 12  # of Newton; quadratic, so half as many do
CLOSED_MM = 1e-9


@dataclass(frozen=True)
class WheelStand:
    """One wheel of an axle on level ground at given roll and heave; arrays."""

    wheel_mm: np.ndarray  # travel, NaN where the corner does not reach it
    camber_to_road_deg: np.ndarray  # + top outward
    toe_deg: np.ndarray  # + toe-in
    poses: Poses


def stand(mechanism: Mechanism, roll_deg, heave_mm=0.0) -> WheelStand:
    """The wheel's travel that keeps its contact on the ground while the body rolls and heaves, by Newton
    with the contact's exact velocity; then its camber to the ground.

    With the body turned by φ about +x the ground's normal in car axes is (0, sin φ, cos φ)."""
    roll, heave = np.broadcast_arrays(np.radians(np.asarray(roll_deg, float)), np.asarray(heave_mm, float))
    up = np.stack([0 * roll, np.sin(roll), np.cos(roll)], -1)
    middle = np.stack([0 * heave, 0 * heave, mechanism.ride("contact")[0, 2] - heave], -1)
    wheel = np.asarray(-heave - np.tan(roll) * mechanism.ride("contact")[0, 1], float)
    for _ in range(ROUNDS):
        poses = mechanism.at(wheel)
        contact = poses.point("contact")
        off = ((contact - middle) * up)[..., 1:].sum(-1)
        if not np.nanmax(np.abs(off), initial=0.0) > CLOSED_MM:
            break
        wheel = wheel - off / (Twist.of(poses).of_point(contact) * up).sum(-1)
    camber = np.degrees(-np.arcsin((WheelOnGround(poses).spin_axis * up).sum(-1)))
    reached = np.abs(off) <= CLOSED_MM
    return WheelStand(
        np.where(reached, wheel, np.nan),
        np.where(reached, camber, np.nan),
        np.where(reached, poses.toe_deg, np.nan),
        poses,
    )


def roll_rate_nm_per_deg(rate_n_per_mm, contact_y_mm, bar_nm_per_deg: float = 0.0) -> float:
    """Roll rate of an axle from its wheels' rates at the wheel centre and their contacts' y: ΣK·y², for two
    alike ½·K·t² with t the track at the contacts; a bar adds its own.

    >>> round(roll_rate_nm_per_deg([22, 22], [700, -700]), 5)
    376.29299
    """
    rate, y = np.asarray(rate_n_per_mm, float), np.asarray(contact_y_mm, float)
    return float((rate * y * y).sum()) / 1000 * math.pi / 180 + bar_nm_per_deg


@dataclass(frozen=True)
class Transfer:
    """Steady cornering at 1 g of sideways acceleration; grows in proportion. Newtons per wheel of this
    axle."""

    share: float  # of the car's whole load transfer moment, taken by this axle
    load_n: float  # the outer wheel gains it, the inner loses it
    geometric_n: float  # of it: through the roll centre, at once, without roll
    roll_deg: float | None  # the body leans out by, where the other axle's rate is known
    jacking_n: float  # lifts this axle's body: both wheels together


def transfer(
    axle_mass_kg: float,
    mass_kg: float,
    cg_height_mm: float,
    track_mm: float,
    roll_centre_mm: float,
    roll_share: float,
    roll_rate_nm_per_deg: float | None = None,
) -> Transfer:
    """Load transfer of an axle of a rigid car at 1 g: geometric m_a·g·h_rc/t and elastic share·m·g·(h -
    h_rc)/t.

    `roll_share`: of the roll moment that this axle's rate takes; `roll_rate`: of both axles. The other axle's
    roll centre is taken as high as this one's (the roll axis level); the moment that gravity adds as the body
    leans is left out. Jacking: each wheel's side force, as its load at equal grip, times the slope
    h_rc/(t/2). Source: statics of a rigid car on two axles."""
    geometric = axle_mass_kg * G_M_S2 * roll_centre_mm / track_mm
    lean = mass_kg * G_M_S2 * (cg_height_mm - roll_centre_mm)
    load = geometric + roll_share * lean / track_mm
    return Transfer(
        share=load * track_mm / (mass_kg * G_M_S2 * cg_height_mm),
        load_n=load,
        geometric_n=geometric,
        roll_deg=None if roll_rate_nm_per_deg is None else lean / 1000 / roll_rate_nm_per_deg,
        jacking_n=2 * load * roll_centre_mm / (track_mm / 2),
    )
