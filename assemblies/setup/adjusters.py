"""What moves ride height and by how much: one step of each adjuster, and the moves of the clocking joints
that correct a car which stands wrong."""

from __future__ import annotations

import math
from contextlib import suppress

import numpy as np

from assemblies.motion.springing import Preload
from assemblies.setup.clocking.joints import nearest_settings
from assemblies.setup.ride_height import Correction, rods_turned_mm, wind_for
from assemblies.setup.standing import OnStops
from parts.base.frozen import dataclass
from parts.base.stock import thread
from parts.base.units import G_M_S2

COLLAR_PITCH_MM = 1.5  # usual thread of a coil-over's collar, common practice: measure yours


@dataclass(frozen=True)
class Adjuster:
    """One way to move ride height: `up_mm` and `down_mm` are the car's rise for one step either way,
    `up_held` and `down_held` what then holds it beside its spring."""

    name: str
    step: float
    unit: str
    up_mm: float
    down_mm: float
    up_held: str = ""
    down_held: str = ""


def adjusters(on: OnStops, steps_deg: dict[str, float]) -> list[Adjuster]:
    """What one degree, each joint's step, and one turn of rod or collar do to ride height, at the sprung
    weight."""
    s = on.s
    if s.spring.linear:
        steps, unit, scale = (
            {"collar, 1 mm": 1.0, f"collar, one turn of {COLLAR_PITCH_MM:g} mm pitch": COLLAR_PITCH_MM},
            "mm",
            1.0,
        )
    else:
        steps, unit, scale = (
            {"spring, 1 degree": 1.0} | {f"{name}, one step": deg for name, deg in steps_deg.items()},
            "deg",
            math.pi / 180,
        )
    wounds = np.array(list(steps.values())) * scale
    stands = on.stand(np.stack([wounds, -wounds]))
    out = [
        _adjuster(name, step, unit, stands.rise_mm[:, i], stands.held[:, i])
        for i, (name, step) in enumerate(steps.items())
    ]
    pitch = thread(on.job.rod.thread).pitch_mm
    turns = {
        "rod, one turn of one end": pitch,
        "rod, one turn between right- and left-hand ends": 2 * pitch,
    }
    both = np.outer(list(turns.values()), (1, -1))
    settled = np.full(both.shape, math.nan)
    with suppress(ValueError):  # the corner would close in a line
        settled = rods_turned_mm(s.preload, s.mechanism, on.weight_n, both.ravel()).reshape(both.shape)
    for (name, mm), z in zip(turns.items(), settled.tolist(), strict=True):
        if all(map(math.isfinite, z)):
            stands = on.told(sorted(z))
            out.append(_adjuster(name, mm, "mm", stands.rise_mm, stands.held))
    return [a for a in out if math.isfinite(a.up_mm + a.down_mm)]


def _adjuster(name: str, step: float, unit: str, rise_mm, held) -> Adjuster:
    (up, down), (up_held, down_held) = rise_mm, held
    return Adjuster(name, step, unit, float(up), float(down), up_held, down_held)


@dataclass(frozen=True)
class Move:
    """Teeth to move from the present setting, the wind that makes, how high the car then stands over its
    wanted height, and what holds it there beside its spring."""

    teeth: tuple[int, ...]
    wind_deg: float
    left_mm: float
    from_design_deg: (
        float  # how far the spring is then wound from the design setting, as the correction has it
    )
    held: str = ""


def moves(on: OnStops, joints, c: Correction, count: int = 5) -> list[Move]:
    """The moves of the clocking joints nearest to a correction, in the order of their wind, with what each
    leaves."""
    s = on.s
    near = sorted(nearest_settings(joints, c.wind, count), key=lambda x: x.wind_deg)
    weight = (s.sprung_mass_kg if c.sprung_kg is None else c.sprung_kg) * G_M_S2
    m = s.mechanism
    ideal = float(
        wind_for(s.preload, m, weight, 0.0, c.wanted_mm)
    )  # from a setting that stands at zero under this load
    true = Preload.for_weight(s.spring, m, weight)
    winds = np.radians([x.wind_deg - c.wind for x in near]) + ideal
    stands = on.stand(winds, true, weight)
    more = np.degrees(winds + true.ride_deflection - s.preload.ride_deflection).tolist()
    return [
        Move(x.teeth, x.wind_deg, float(c.wanted_mm + up), d, by)
        for x, up, by, d in zip(near, stands.rise_mm, stands.held, more, strict=True)
    ]
