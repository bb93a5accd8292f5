"""A rocker's pivot as numbers: what holds the shaft, what turns, and where.

Stations are mm along the rocker's own axis (`eyes.frame.z`) from its middle plane.
"""

from __future__ import annotations

import math

from parts.base.bearings import BearingSize, size
from parts.base.frozen import dataclass

WASHER_MM = 1.5  # thrust washer between the rocker's tube and what stands beside it, common practice
USUAL_WIDTH_MM = 20.0  # of a bush, where the job gives none
SHOULDER = 0.3  # of a ball bearing's ring height: what presses on its inner ring reaches no higher
IN_LINE_DEG, OFF_LINE_MM = 0.3, 0.5  # of a tube from the axis it should share, common practice


@dataclass(frozen=True)
class PivotMount:
    """A pivot as it stands. `supports_mm`: stations of what holds the shaft on the frame; `bearings_mm`: of
    what turns (on the shaft of a spindle, round a stub); `turns`: True where the shaft turns with the rocker.
    `shaft_mm`, `shaft_bore_mm`: what bends. `member`: the tube all of it stands on."""

    kind: str
    member: str
    supports_mm: tuple[float, float]
    bearings_mm: tuple[float, float]
    bearing: BearingSize
    width_mm: float
    shaft_mm: float
    shaft_bore_mm: float
    turns: bool
    material: str
    wall_mm: float = 0.0  # of the member, where the shaft is welded into it


def bearing_width(bearing: BearingSize, wanted_mm: float | None) -> float:
    """The width asked for, else the widest up to 20 mm and up to the bore. Raises ValueError."""
    if wanted_mm is not None:
        return next(w for w in size(bearing.kind, bearing.bore_mm, wanted_mm).widths_mm if w == wanted_mm)
    fits = [w for w in bearing.widths_mm if w <= min(USUAL_WIDTH_MM, bearing.bore_mm) + 1e-9]
    return max(fits, default=bearing.widths_mm[0])


def thrust_outer_mm(bearing: BearingSize, room_mm: float, most_mm: float = math.inf) -> float:
    """Outside of what runs against a bearing along its axis, `room_mm` over the bore: over a needle's thin
    cup on to the ring round it, on a ball bearing's inner ring alone; at most `most_mm`."""
    d, over = bearing.bore_mm, bearing.outside_mm
    if bearing.kind == "ball":
        return d + SHOULDER * (over - d)
    return min(max(d + room_mm, over + 2.0 if bearing.kind == "needle" else 0.0), most_mm)
