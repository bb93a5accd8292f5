"""Small shapes that several parts share: a boss on a foot, a hexagon, a bar coped to a round."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from parts.shape.outline import Loop, OutlineError, Vertex


def boss_on_foot(radius_mm: float, foot: Sequence[Vertex]) -> Loop:
    """A boss round the origin joined by true tangent lines to the two ends of a foot.

    `foot` runs counter-clockwise round the part (a boss on its left); its vertices carry the bulges of its
    own segments, the last vertex's bulge is not used. Raises OutlineError where an end lies within the
    boss."""
    first, last = foot[0], foot[-1]
    for v in (first, last):
        if math.hypot(v.x, v.y) <= radius_mm + 1e-9:
            raise OutlineError(
                f"foot end at x {v.x:.2f}, y {v.y:.2f} mm lies within the boss of radius {radius_mm:g} mm"
            )
    arrive = math.atan2(last.y, last.x) + math.acos(radius_mm / math.hypot(last.x, last.y))
    leave = math.atan2(first.y, first.x) - math.acos(radius_mm / math.hypot(first.x, first.y))
    sweep = (leave - arrive) % (2 * math.pi)
    return Loop(
        (
            *foot[:-1],
            Vertex(last.x, last.y),
            Vertex(radius_mm * math.cos(arrive), radius_mm * math.sin(arrive), math.tan(sweep / 4)),
            Vertex(radius_mm * math.cos(leave), radius_mm * math.sin(leave)),
        )
    )


def hexagon(across_flats_mm: float, turn_rad: float = 0.0) -> Loop:
    """Regular hexagon centred on the origin, one flat's normal along x turned by `turn_rad`. Area √3/2·s²."""
    r = across_flats_mm / math.sqrt(3)
    return Loop(
        tuple(
            Vertex(r * math.cos(a), r * math.sin(a))
            for a in (turn_rad + math.pi / 6 + k * math.pi / 3 for k in range(6))
        )
    )


def saddle_volume_mm3(bar_radius_mm: float, run_radius_mm: float, angle_rad: float = math.pi / 2) -> float:
    """Volume of a solid round bar between the run's centre and the run's surface, where the bar is coped to
    the run.

    ∫ √(R² - y²) dA / sin α over the bar's section, y across both axes; their axes meet at angle α. The term
    in cos α of the cope curve is odd and drops out. Gauss's rule for the weight √(r² - y²): exact to rounding
    for r < R, 1e-6 at r = R, where two equal bars square to each other give half of 16·r³/3. Raises
    ValueError for r > R.

    >>> round(saddle_volume_mm3(15.0, 15.0), 1)
    9000.0
    """
    r, big = bar_radius_mm, run_radius_mm
    if r > big + 1e-9:
        raise ValueError(f"bar radius is {r:g} mm; it must not exceed the run's radius, {big:g} mm")
    k = np.arange(1, 200) * (math.pi / 200)
    y = r * np.cos(k)
    return float(
        2
        * r
        * r
        * math.pi
        / 200
        * (np.sin(k) ** 2 * np.sqrt(np.maximum(big * big - y * y, 0.0))).sum()
        / math.sin(angle_rad)
    )
