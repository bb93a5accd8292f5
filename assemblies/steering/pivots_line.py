"""Whether the tie rod's inner joint stands outboard of the line through the arms' pivots, where it cannot
swing as the arms do."""

from __future__ import annotations

import math

import numpy as np

from assemblies.motion.hard_points import HardPoints
from assemblies.results.findings import Finding
from assemblies.steering.zone import LIMIT_DEG

OUTBOARD_MM = 10.0  # said from there on; with unlike arms the best place is this near to the line


def pivots_line_y_mm(points: HardPoints) -> float:
    """y, at height and fore-aft of the tie rod's inner joint, of the straight line through both arms' pivot
    axes at that fore-aft; NaN where an axis stands across the car or the line lies level.

    On it the tie rod is about as long as an arm there would be (exactly so with parallel arms)."""
    x, _, z = points.tie_inner
    with np.errstate(all="ignore"):
        upper, lower = (
            a + (x - a[0]) / (b[0] - a[0]) * (b - a)
            for a, b in (
                (points.upper_front, points.upper_rear),
                (points.lower_front, points.lower_rear),
            )
        )
        y = lower[1] + (z - lower[2]) / (upper[2] - lower[2]) * (upper[1] - lower[1])
    return float(y) if math.isfinite(y) else math.nan


def outboard(points: HardPoints, toe_deg: float) -> list[Finding]:
    """The inner joint outboard of the line through the arms' pivots: a rod shorter than the arms beside
    it."""
    side = 1.0 if points.side == "left" else -1.0
    line = pivots_line_y_mm(points)
    off = side * (float(points.tie_inner[1]) - line)
    if not off > OUTBOARD_MM:
        return []
    return [
        Finding(
            level="warn" if toe_deg > LIMIT_DEG else "note",
            code="inner-joint-outboard",
            where="tie_rod.inner",
            text=(
                f"tie_rod.inner's y {points.tie_inner[1]:g} mm stands {off:.0f} mm outboard of the line "
                f"through the arms' pivots, y {line:.0f} mm at its height. More than {OUTBOARD_MM:g} mm "
                f"outboard it swings on a shorter radius than the arms beside it and adds toe change of one "
                f"way in droop and bump (common practice: on the line); here toe changes by up to "
                f"{toe_deg:.2f} deg over the travel. Take a shorter rack or extension, or move the link's "
                f"bracket inboard: rockershed steer says where."
            ),
        )
    ]
