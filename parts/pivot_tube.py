"""Pivot tube of a rocker: through both plates, proud of them by the weld, bored for its bushes after welding.

Lengths mm.
"""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Round


@dataclass(frozen=True)
class PivotTube(SteelPart):
    """A plain tube on the pivot's axis. Origin at its middle (the rocker's mid plane), z along the axis.

    Its outside fills the pivot hole of both plates; its ends stand `proud_mm` beyond their outer faces.
    Raises ValueError with field, value and limit."""

    outer_mm: float
    wall_mm: float
    box_width_mm: float  # gap between the plates
    plate_thickness_mm: float
    proud_mm: float | None = None  # beyond each plate, for the fillet; None: one plate thickness
    bush_wall_mm: float = 0.0  # 0: none; else a bush of this wall, pressed into the bore as welded and bored
    material: str = "S275"
    name: str = "pivot tube"

    def __post_init__(self) -> None:
        super().__post_init__()
        for field in ("outer_mm", "wall_mm", "box_width_mm", "plate_thickness_mm"):
            if not (math.isfinite(v := getattr(self, field)) and v > 0):
                raise ValueError(f"{self.name}: {field} is {v:g} mm; it must be over 0")
        if self.wall_mm >= self.outer_mm / 2:
            raise ValueError(
                f"{self.name}: wall_mm is {self.wall_mm:g}; it must be under half of {self.outer_mm:g} mm"
            )
        if not (math.isfinite(self.ends_mm) and self.ends_mm >= 0):
            raise ValueError(f"{self.name}: proud_mm is {self.ends_mm:g}; it must not be negative")
        if not 0 <= self.bush_wall_mm < self.bore_mm / 2:
            raise ValueError(
                f"{self.name}: bush_wall_mm is {self.bush_wall_mm:g}; it must be under half the bore "
                f"{self.bore_mm:g} mm"
            )

    @property
    def ends_mm(self) -> float:
        return self.plate_thickness_mm if self.proud_mm is None else self.proud_mm

    @property
    def bore_mm(self) -> float:
        return self.outer_mm - 2 * self.wall_mm

    @property
    def length_mm(self) -> float:
        return self.box_width_mm + 2 * self.plate_thickness_mm + 2 * self.ends_mm

    @property
    def pin_mm(self) -> float:
        """Diameter that turns in the tube: its bore, less the bushes."""
        return self.bore_mm - 2 * self.bush_wall_mm

    @property
    def notes(self) -> tuple[str, ...]:
        return (f"{self.name}: bore to size after welding; {self.bore_mm:g} mm as bought closes up a little",)

    def form(self) -> Form:
        return Form(
            (Round(self.outer_mm, self.length_mm, self.bore_mm, Frame((0.0, 0.0, -self.length_mm / 2))),)
        )

    @property
    def volume_mm3(self) -> float:
        return math.pi * (self.outer_mm**2 - self.bore_mm**2) / 4 * self.length_mm

    @property
    def centroid(self) -> tuple[float, float, float]:
        return 0.0, 0.0, 0.0

    @property
    def inertia_kg_mm2(self) -> float:
        """Mass moment about its axis: m·(D² + d²)/8."""
        return self.mass_kg * (self.outer_mm**2 + self.bore_mm**2) / 8
