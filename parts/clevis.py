"""A fork welded from plate: two cheeks with a bolt's hole on a base.

Local axes: origin on the bolt's axis half way between the cheeks, z along the bolt, x from the base to the
bolt's far side: the base's outer face lies at x = -reach - base. Lengths mm, forces N.
"""

from __future__ import annotations

import math
from functools import cached_property

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import clearance_hole_mm, steel
from parts.boss import least_boss_radius_mm, sized_boss_radius_mm
from parts.part import SteelPart
from parts.plate import Plate
from parts.shape.form import Form, Frame, Vector, vector
from parts.shape.outline import Hole, Outline, OutlineError, Vertex, rectangle
from parts.shape.shapes import boss_on_foot


@dataclass(frozen=True)
class Clevis(SteelPart):
    """`gap_mm` between the cheeks, `reach_mm` from the base's inner face to the bolt's centre.

    `width_mm` None: twice the boss. `hole_mm` None: ISO 273 medium for `bolt`. Raises OutlineError or
    ValueError with field, value and limit (boss: EN 1993-1-8 Tables 3.3 and 3.9)."""

    gap_mm: float
    reach_mm: float
    bolt: str = "M10"
    thickness_mm: float = 4.0
    base_thickness_mm: float | None = None  # None: as the cheeks
    width_mm: float | None = None
    hole_mm: float | None = None
    radius_mm: float | None = None
    force_n: float = 0.0  # worst, on both cheeks together
    safety: float = 1.5  # on yield
    material: str = "S275"
    name: str = "clevis"

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(gap_mm=self.gap_mm, thickness_mm=self.thickness_mm, safety=self.safety)
        require.not_negative(force_n=self.force_n)
        for field in ("reach_mm", "base_thickness_mm", "hole_mm", "radius_mm", "width_mm"):
            if (size := getattr(self, field)) is not None:
                require.positive(**{field: size})
        least = least_boss_radius_mm(*self._rule)
        if self.boss_mm < least - 1e-9:
            raise OutlineError(f"{self.name}: radius is {self.boss_mm:g} mm; the least is {least:.2f} mm")
        require.at_least("reach_mm", self.reach_mm, self.boss_mm + self.thickness_mm, "boss and weld")
        require.at_least("width_mm", self.foot_mm, 2 * self.boss_mm, "the foot carries the whole boss")
        _ = self.cheek, self.base

    @property
    def hole(self) -> float:
        return clearance_hole_mm(self.bolt) if self.hole_mm is None else self.hole_mm

    @property
    def _rule(self) -> tuple[float, float, float, float, float]:
        shared = 2 * self.thickness_mm
        return self.hole, self.force_n, shared, steel(self.material).yield_mpa, self.safety

    @property
    def boss_mm(self) -> float:
        if self.radius_mm is not None:
            return self.radius_mm
        return sized_boss_radius_mm(*self._rule, self.thickness_mm)

    @property
    def foot_mm(self) -> float:
        return 2 * self.boss_mm if self.width_mm is None else self.width_mm

    @property
    def grip_mm(self) -> float:
        """Both cheeks and the gap: what the bolt clamps, with a spacer or an eye between."""
        return self.gap_mm + 2 * self.thickness_mm

    @cached_property
    def cheek(self) -> Plate:
        """Two off. Blank: origin at the hole, the foot at x = -reach."""
        w = self.foot_mm / 2
        foot = [Vertex(-self.reach_mm, w), Vertex(-self.reach_mm, -w)]
        hole = Hole(0.0, 0.0, self.hole, f"{self.name} bolt", "clearance")
        loop = boss_on_foot(self.boss_mm, foot)
        return Plate(Outline(loop, holes=(hole,)), self.thickness_mm, self.material, f"{self.name} cheek")

    @cached_property
    def base(self) -> Plate:
        """One off. Blank: x across the cheeks, y along the foot, its middle at the origin."""
        x, y = self.grip_mm / 2, self.foot_mm / 2
        t = self.thickness_mm if self.base_thickness_mm is None else self.base_thickness_mm
        return Plate(Outline(rectangle(-x, -y, x, y)), t, self.material, f"{self.name} base")

    @property
    def forms(self) -> dict[str, Form]:
        """The plates by name, each where it stands."""
        half, t = self.gap_mm / 2, self.thickness_mm
        base = Frame((-self.reach_mm, 0.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0))
        return {
            f"{self.name} cheek 1": self.cheek.form().moved(Frame((0.0, 0.0, half))),
            f"{self.name} cheek 2": self.cheek.form().moved(Frame((0.0, 0.0, -half - t))),
            f"{self.name} base": self.base.form().moved(base),
        }

    def form(self) -> Form:
        """All of it as one welded piece."""
        return Form(tuple(p for f in self.forms.values() for p in f.pieces))

    @property
    def volume_mm3(self) -> float:
        return 2 * self.cheek.volume_mm3 + self.base.volume_mm3

    @property
    def centroid(self) -> Vector:
        pieces = self.form().pieces
        total = math.fsum(p.volume_mm3 for p in pieces)
        return vector(sum(p.volume_mm3 * p.centroid[k] for p in pieces) / total for k in range(3))
