"""A wheel as a hollow ring: tyre outside, the rim's barrel inside; the joints live in the hollow.

Local axes: origin at the wheel centre, z along the spin axis. It is an envelope for interference, not a
weight.
"""

from __future__ import annotations

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.part import Part
from parts.shape.form import Form, Frame, Round, Vector

BARREL_MM = 12.0  # rim radius less the radius inside the barrel; assumed, design.md conventions


@dataclass(frozen=True)
class Wheel(Part):
    """`tyre_radius_mm` free radius, `tyre_width_mm` over the side walls, `rim_diameter_mm` nominal (bead
    seat).

    Raises ValueError where the barrel has no inside or the tyre no height."""

    tyre_radius_mm: float
    tyre_width_mm: float
    rim_diameter_mm: float
    barrel_mm: float = BARREL_MM
    mass_kg: float | None = None  # as weighed: the envelope says nothing of it

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            tyre_radius_mm=self.tyre_radius_mm,
            tyre_width_mm=self.tyre_width_mm,
            rim_diameter_mm=self.rim_diameter_mm,
            barrel_mm=self.barrel_mm,
        )
        if self.mass_kg is not None:
            require.positive(mass_kg=self.mass_kg)
        require.at_least(
            "tyre_radius_mm",
            self.tyre_radius_mm,
            self.rim_diameter_mm / 2,
            "it must be more than half the rim diameter",
            slack=-1e-9,
        )
        require.at_least(
            "rim_diameter_mm",
            self.rim_diameter_mm,
            2 * self.barrel_mm,
            "the barrel has no inside",
            slack=-1e-9,
        )

    @property
    def inside_radius_mm(self) -> float:
        return self.rim_diameter_mm / 2 - self.barrel_mm

    @reads
    def form(self, grown_mm: float = 0.0) -> Form:
        """The ring; `grown_mm` adds to the tyre's radius and to each side (a tyre grows at speed)."""
        width = self.tyre_width_mm + 2 * grown_mm
        return Form(
            (
                Round(
                    2 * (self.tyre_radius_mm + grown_mm),
                    width,
                    2 * self.inside_radius_mm,
                    Frame((0.0, 0.0, -width / 2)),
                ),
            )
        )

    @property
    def volume_mm3(self) -> float:
        """Of the envelope."""
        return self.form().pieces[0].volume_mm3

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, 0.0
