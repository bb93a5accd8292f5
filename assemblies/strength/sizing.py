"""What would bring a failing item under its limit: the next stocked plate, boss radius, weld leg, bolt, tube or wall, in words.

Each rule inverts its own check's law (stress by 1/t, bending of a plate out of its plane by 1/t², a weld by 1/a); a cure is
proved by running the job with it (`gauges` does so for plate).
"""
from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from parts.stock import PLATES_MM, THREADS, WALLS_MM

Cure = Callable[[float], str]
_COARSE = [t for t in THREADS.values() if t.coarse]


def next_up(need: float, sizes: Iterable[float]) -> float:
    """The least size of `sizes` not under `need`; a whole mm beyond them.

    >>> next_up(3.2, PLATES_MM), next_up(13.0, PLATES_MM)
    (4.0, 13.0)
    """
    return min((s for s in sizes if s >= need - 1e-9), default=float(math.ceil(need - 1e-9)))


def plate(key: str, thickness_mm: float, power: float = 1.0) -> Cure:
    """A thicker plate where the stress falls with thickness to `power`."""
    return lambda use: f"{key} = {next_up(thickness_mm * use ** (1 / power), PLATES_MM):g} mm instead of {thickness_mm:g}, or a stronger steel that is known"


def wall(key: str, wall_mm: float, power: float = 1.0) -> Cure:
    return lambda use: f"{key} = {next_up(wall_mm * use ** (1 / power), WALLS_MM):g} mm instead of {wall_mm:g}, a larger tube or a stronger steel that is known"


def leg(key: str, leg_mm: float) -> Cure:
    return lambda use: f"{key} = {math.ceil(2 * leg_mm * use - 1e-9) / 2:g} mm leg instead of {leg_mm:.3g}, as far as the thinner part bears it, or more run"


def bolt(size: str, grade: str, power: float = 2.0) -> Cure:
    """A stronger class, else a larger bolt: shear by the area (power 2), bending by the modulus (power 3)."""
    def cure(use: float) -> str:
        diameter = float(size.partition("x")[0][1:])
        larger = next((t.name for t in _COARSE if t.diameter_mm >= diameter * use ** (1 / power) - 1e-9 and t.diameter_mm > diameter), "a larger one")
        return ("bolts.grade = 10.9, or " if grade not in ("10.9",) else "") + f"{larger} instead of {size}"
    return cure


def radius(key: str, radius_mm: float, hole_mm: float) -> Cure:
    """More metal round a hole; the metal beyond the hole's edge grows with the use."""
    return lambda use: f"{key} = {math.ceil(2 * (hole_mm / 2 + (radius_mm - hole_mm / 2) * use) - 1e-9) / 2:g} mm instead of {radius_mm:g}, or a thicker plate"
