"""A spacer round a bolt: a turned ring that takes the bolt's clamping force. Lengths mm, forces N."""

from __future__ import annotations

import math

from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.base.stock import clearance_hole_mm, washer
from parts.base.units import finite
from parts.pivot_ring import PivotRing


@dataclass(frozen=True)
class Spacer(PivotRing):
    """`outer_mm`, `bore_mm`, `length_mm`; z along the axis from one end.

    >>> Spacer.of("M10", 12.0)
    Spacer(outer_mm=20.0, bore_mm=10.5, length_mm=12.0)
    >>> round(Spacer.of("M10", 12.0).stress_mpa(20000), 1)
    87.9
    """

    @staticmethod
    @reads
    def of(bolt: str, length_mm: float) -> Spacer:
        """As large as the bolt's washer (ISO 7089), bored to the fine series of ISO 273. Raises ValueError
        for a bolt that is in neither table."""
        return Spacer(float(washer(bolt).outer_mm), clearance_hole_mm(bolt, "fine"), length_mm)

    @property
    def area_mm2(self) -> float:
        return math.pi / 4 * (self.outer_mm**2 - self.bore_mm**2)

    def stress_mpa(self, clamp_n: float) -> float:
        """Pressure of a clamping force on its ends."""
        finite(clamp_n=clamp_n)
        return clamp_n / self.area_mm2
