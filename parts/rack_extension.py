"""An extension that makes a steering rack longer: a round screwed into the bar's end in place of the inner
joint, with the joint screwed into it.

Local axes: origin at its shoulder on the bar, z outward. The male thread reaches back into the bar by the
engagement; the bore at the far end takes the joint's thread as deep. A jam nut locks it on the bar.
"""

from __future__ import annotations

import math

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import thread
from parts.base.units import finite
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Round, Vector

LEAST_WALL = 0.15  # of the thread's diameter, of metal round the tapped end, common practice
LEAST_ENGAGED = 1.0  # thread diameters, common practice
GOOD_ENGAGED = 1.5  # common practice in steel


@dataclass(frozen=True)
class RackExtension(SteelPart):
    """`length_mm`: shoulder to shoulder, what the rack grows by on this side; `engagement_mm`: of either
    thread."""

    length_mm: float
    diameter_mm: float
    thread: str
    engagement_mm: float

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            length_mm=self.length_mm, diameter_mm=self.diameter_mm, engagement_mm=self.engagement_mm
        )
        size = thread(self.thread).diameter_mm
        if self.diameter_mm < (1 + 2 * LEAST_WALL) * size:
            raise ValueError(
                f"rack.extension_diameter is {self.diameter_mm:g} mm; must be at least "
                f"{(1 + 2 * LEAST_WALL) * size:.4g} mm round its {self.thread} bore"
            )

    @property
    def cut_length_mm(self) -> float:
        """Of the bar it is turned from: the length and the male thread."""
        return self.length_mm + self.engagement_mm

    @property
    def engaged(self) -> float:
        """Engagement in thread diameters."""
        return self.engagement_mm / thread(self.thread).diameter_mm

    def form(self) -> Form:
        """The male thread as a round of its stress area, the tapped bore at its minor diameter."""
        t, deep = thread(self.thread), min(self.engagement_mm, self.length_mm)
        male = math.sqrt(4 / math.pi * t.stress_area_mm2)
        return Form(
            (
                Round(self.diameter_mm, self.length_mm),
                Round(male, self.engagement_mm, 0.0, Frame((0.0, 0.0, -self.engagement_mm))),
            ),
            (Round(t.nut_minor_mm, deep, 0.0, Frame((0.0, 0.0, self.length_mm - deep))),),
        )

    @property
    def volume_mm3(self) -> float:
        """Round, less the tapped bore, with the male thread as a round of its stress area."""
        return self._moments[0]

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, self._moments[1] / self._moments[0]

    @property
    def _moments(self) -> tuple[float, float]:
        """Volume, and its moment about the shoulder."""
        (body, male), (bore,) = self.form().pieces, self.form().cuts
        signed = ((body, 1.0), (male, 1.0), (bore, -1.0))
        return (
            math.fsum(k * p.volume_mm3 for p, k in signed),
            math.fsum(k * p.volume_mm3 * p.centroid[2] for p, k in signed),
        )

    def stress_mpa(self, side_n, axial_n, lever_mm):
        """Greatest normal stress at the root of the male thread, on its stress area As: a cantilever that
        bears `side_n` at `lever_mm` from the shoulder, and `axial_n`. σ = F/As + 32·M/(π·d³), d =
        sqrt(4·As/π).

        Elastic, no stress concentration of the thread's root, no preload of the jam nut; statics of a round
        bar.

        >>> e = RackExtension(100.0, 24.0, "M14", 21.0)
        >>> round(e.stress_mpa(500.0, 0.0, 125.0), 1), round(e.stress_mpa(0.0, 1154.0, 125.0), 2)
        (357.3, 10.0)
        """
        finite(side_n=side_n, axial_n=axial_n, lever_mm=lever_mm)
        return round_stress_mpa(
            math.sqrt(4 * thread(self.thread).stress_area_mm2 / math.pi), side_n, axial_n, lever_mm
        )


def round_stress_mpa(diameter_mm: float, side_n, axial_n, lever_mm):
    """Greatest normal stress of a solid round cantilever: F/A + M/W, W = π·d³/32; numbers or arrays."""
    area = math.pi / 4 * diameter_mm**2
    return abs(axial_n) / area + abs(side_n) * lever_mm * 32 / (math.pi * diameter_mm**3)
