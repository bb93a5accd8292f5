"""Turned pieces of a rocker's pivot: stub, spindle, bushes, the rings that carry bearings, spacers and thrust
washers. All are rounds with a bore.

Local axes: origin on the axis at one end, z along it.
"""

from __future__ import annotations

import math

from parts.base import require
from parts.base.frozen import dataclass
from parts.part import SteelPart
from parts.shape.form import Form, Round, Vector


@dataclass(frozen=True)
class PivotRing(SteelPart):
    """`bore_mm` 0 is solid. Raises ValueError with field, value and limit."""

    outer_mm: float
    bore_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(outer_mm=self.outer_mm, length_mm=self.length_mm)
        if not 0 <= self.bore_mm < self.outer_mm:
            raise ValueError(
                f"bore is {self.bore_mm:g} mm; it must be at least 0 and under {self.outer_mm:g} mm"
            )

    def form(self) -> Form:
        return Form((Round(self.outer_mm, self.length_mm, self.bore_mm),))

    @property
    def volume_mm3(self) -> float:
        return math.pi / 4 * (self.outer_mm**2 - self.bore_mm**2) * self.length_mm

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, self.length_mm / 2
