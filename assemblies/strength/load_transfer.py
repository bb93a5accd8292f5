"""What a wheel bears while the whole car brakes, drives or corners: load goes from axle to axle and from side
to side.

Statics of a rigid car on two axles, roll centres on the ground; N in car axes. A wheel cannot pull the road:
where one lifts, its axle's or the other axle's wheels bear what is left.
"""

from __future__ import annotations

import math

from assemblies.job.car import ROLL_SHARE, Car
from parts.base.units import G_M_S2


def roll_share(car: Car, wheel_rate_n_per_mm: float) -> float:
    """This axle's share of the roll moment: its roll rate over both axles', K·t²/2 with K the wheel rate at
    ride, and its bar; `ROLL_SHARE` where the other axle's is not given. Closed form."""
    per_deg = math.radians(wheel_rate_n_per_mm * car.track**2 / 2) / 1e3
    own = max(per_deg + car.bar_rate, 0.0) if math.isfinite(per_deg) else 0.0
    if car.other_roll_rate is None or own + car.other_roll_rate <= 0:
        return ROLL_SHARE
    return own / (own + car.other_roll_rate)


def wheel_loads(
    car: Car, standing_n: float, share: float, ahead_g: float = 0.0, sideways_g: float = 0.0
) -> tuple[float, float]:
    """Vertical load of this axle's outer and inner wheel, N, at accelerations of the whole car in g: ahead
    (braking: negative) and sideways.

    Along: m·a·h/L goes to the rear axle. Across: of the moment m·a·h this axle takes `share`, and more where
    the other axle's inner wheel has lifted, never more than lifts its own."""
    weight = car.mass * G_M_S2
    axle = (
        2 * standing_n + (1 if car.axle == "rear" else -1) * weight * ahead_g * car.cg_height / car.wheelbase
    )
    axle = min(max(axle, 0.0), weight)
    moment = weight * abs(sideways_g) * car.cg_height
    own_lift, other_lift = axle * car.track / 2, (weight - axle) * car.other_track / 2
    moved = min(max(share * moment, moment - other_lift), own_lift) / car.track
    return axle / 2 + moved, axle / 2 - moved


def braking_force_n(car: Car, load_n: float, braking_g: float) -> float:
    """Force of one wheel of this axle that brakes the car: the same share of its load at every wheel, or what
    the given share of the axle leaves it (both wheels of an axle alike: one pressure)."""
    if car.brake_share is None:
        return braking_g * load_n
    share = car.brake_share if car.axle == "front" else 1 - car.brake_share
    return share * car.mass * G_M_S2 * braking_g / 2


def load_at_grip(car: Car, standing_n: float, grip: float) -> float:
    """Load of a wheel while this axle alone drives (`grip` > 0) or is held by the engine (< 0) as hard as the
    road lets it: F = grip·N and N itself has m·a·h/L in it."""
    lever = (1 if car.axle == "rear" else -1) * grip * car.cg_height / car.wheelbase
    most = car.mass * G_M_S2 / 2
    return most if lever >= 1 else min(standing_n / (1 - lever), most)


def kerb_from_the_side_n(mass_kg: float, speed_m_s: float, stiffness_n_per_mm: float) -> float:
    """Peak force of a wheel that slides sideways into a kerb: ½·m·v² = F²/(2·k), all of it in the stiffness
    of tyre, rim and arms in series; no damping.

    >>> round(kerb_from_the_side_n(155, 1.5, 300), 3)
    10228.636
    """
    return speed_m_s * math.sqrt(1e3 * stiffness_n_per_mm * mass_kg)
