"""A flat part of any outline: drawn by hand from lines and arcs, or taken from a solid made in cadquery.

A door to `parts.files`, loaded when a solid is taken."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism
from parts.shape.outline import Hole, Outline

if TYPE_CHECKING:
    from parts.files.solid import cq


OWN_AXES = Frame()


@dataclass(frozen=True)
class Plate(Flat):
    """`shape` extruded by `thickness_mm` along z of `frame` (in the part's axes), from its origin.

    The outline is checked when the plate is made. Raises OutlineError or ValueError with what is wrong."""

    shape: Outline
    thickness_mm: float
    material: str = "S275"
    name: str = "plate"
    hand: str = ""
    frame: Frame = OWN_AXES
    density_kg_m3: float = DENSITY_KG_M3  # steel

    def __post_init__(self) -> None:
        super().__post_init__()
        if not isinstance(self.shape, Outline):
            raise ValueError(f"{self.name}: shape is a {type(self.shape).__name__}; it wants an Outline")
        require.positive(thickness_mm=self.thickness_mm, density_kg_m3=self.density_kg_m3)
        self.shape.check()

    @staticmethod
    def of(
        solid: cq.Workplane | cq.Shape,
        like: Flat | None = None,
        **said: Any,
    ) -> Plate:
        """The plate that a cadquery Workplane or Shape of one flat solid is, whichever way it lies.

        `like`: the part it was before it was changed, in the same axes: its name, material, hand and marks
        go on, and holes that stayed keep their purpose and fit. Keywords as `Plate`. Raises SolidError where
        it is not flat (a bend, a chamfer), or bounded by other than lines and arcs."""
        from parts.files.flat import flat

        pieces = like.form().pieces if like else ()
        outline, thickness_mm, frame = flat(solid, pieces[0].frame if len(pieces) == 1 else None)
        if like:
            known = {_spot(h): h for h in like.outline().holes}
            stayed = ((h, known.get(_spot(h), h)) for h in outline.holes)
            holes = (replace(h, purpose=k.purpose, fit=k.fit) for h, k in stayed)
            outline = replace(outline, holes=tuple(holes), marks=like.outline().marks)
            own: dict[str, Any] = {"name": like.title}
            own |= {k: v for k in ("material", "hand") if (v := getattr(like, k, ""))}
            said = own | said
        return Plate(outline, thickness_mm, frame=frame, **said)

    def outline(self) -> Outline:
        return self.shape

    def form(self) -> Form:
        return Form((Prism(self.shape, self.thickness_mm, self.frame),))

    @property
    def mass_kg(self) -> float:
        return self.volume_mm3 * self.density_kg_m3 * 1e-9


def _spot(h: Hole) -> tuple[float, float, float]:
    return round(h.x, 3), round(h.y, 3), round(h.diameter_mm, 3)
