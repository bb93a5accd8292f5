"""Where a corner's travel ends: its linkage, toggle, the damper's stroke; and how near to toggle it comes on
the way."""

from __future__ import annotations

import numpy as np

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.reach import STOPS, reach
from parts.base.frozen import dataclass

NEAR_MM = 1e-9  # keeps clear of the very end, where the corner stands only within rounding
DAMPER, ROCKER = STOPS.index("damper"), STOPS.index("rocker")


@dataclass(frozen=True)
class Ends:
    """Travels in mm (droop negative); None where it does not come before the linkage itself stops. (droop
    side, bump side)."""

    closes_mm: tuple[float, float]  # the linkage reaches this far; every search ends here
    stops: tuple[
        str, str
    ]  # what stops it: upper arm, tie rod, rocker (toggle) or wheel height (it turns back)
    toggle_mm: tuple[float | None, float | None]
    margin_deg: float  # least angle between rod and arm from one line, over the continuous wished travel
    margin_at_mm: float
    damper_longest_mm: tuple[
        float | None, float | None
    ]  # travel at which the damper is at its longest: it tops out
    damper_shortest_mm: tuple[float | None, float | None]  # travel at which it bottoms

    def within(self, droop_mm: float, bump_mm: float, clear_mm: float = 0.01) -> tuple[float, float]:
        """Lowest and highest wheel height of the wished travel (both positive) that the linkage reaches,
        `clear_mm` short of where it stops closing."""
        low, high = self.closes_mm
        return max(-droop_mm, low + clear_mm), min(bump_mm, high - clear_mm)


def ends(
    mechanism: Mechanism,
    droop_mm: float,
    bump_mm: float,
    longest_mm: float,
    shortest_mm: float,
    rack_mm: float = 0.0,
) -> Ends:
    """The ends of one corner; `droop_mm` and `bump_mm` (both positive) are the wished travel the margin is
    taken over."""
    if mechanism.batch:
        raise ValueError(
            f"ends: the hard points are a batch of shape {mechanism.batch}; ask for one corner at a time"
        )
    three = [0, 0, 0]
    found = reach(
        mechanism.chain.take(three),
        mechanism.rises[three, None],
        np.full((3, 1), float(rack_mm)) if rack_mm else None,
        [np.inf, longest_mm, shortest_mm],
    )
    if not rack_mm:
        mechanism.keep_range(*(part[0] for part in found))
    order = [0, 1] if mechanism.rises[0] > 0 else [1, 0]  # droop, bump
    wheel, stop = found.wheel_mm[:, order], found.stop[:, order]

    def at(row: int, wanted: int) -> tuple[float | None, float | None]:
        low, high = (float(z) if s == wanted else None for z, s in zip(wheel[row], stop[row], strict=True))
        return low, high

    closes = float(wheel[0, 0]), float(wheel[0, 1])
    margin, where = toggle_margin(
        mechanism, max(-droop_mm, closes[0] + NEAR_MM), min(bump_mm, closes[1] - NEAR_MM), rack_mm
    )
    for z, s, wished in zip(closes, stop[0], (-droop_mm, bump_mm), strict=True):
        if s == ROCKER and abs(z) <= abs(wished):
            margin, where = 0.0, z  # toggle lies inside the wished travel
    low, high = stop[0]
    return Ends(closes, (STOPS[low], STOPS[high]), at(0, ROCKER), margin, where, at(1, DAMPER), at(2, DAMPER))


def toggle_margin(
    mechanism: Mechanism, low_mm: float, high_mm: float, rack_mm: float = 0.0
) -> tuple[float, float]:
    """Least of angle and 180° less angle between rod and arm over all travel between the two, deg, and where,
    mm.

    Minima between samples are where the angle's exact derivative by travel changes sign; they are found by
    bisection.
    """
    z = np.linspace(low_mm, high_mm, 2 + int(high_mm - low_mm))
    angle, slope = _margin(mechanism, z, rack_mm)
    for i in np.nonzero((slope[:-1] < 0) & (slope[1:] > 0))[0]:
        a, b = z[i], z[i + 1]
        for _ in range(40):
            c = (a + b) / 2
            a, b = (a, c) if _margin(mechanism, [c], rack_mm)[1][0] > 0 else (c, b)
        z, angle = np.append(z, a), np.append(angle, _margin(mechanism, [a], rack_mm)[0])
    least = int(np.nanargmin(angle))
    return float(angle[least]), float(z[least])


def _margin(mechanism: Mechanism, z, rack_mm: float):
    poses = mechanism.at(z, rack_mm)
    angle, slope = poses.rod_to_arm_deg, poses.rod_to_arm_deg_per_mm
    return np.minimum(angle, 180 - angle), np.where(angle > 90, -slope, slope)
