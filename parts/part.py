"""What every part can do, in one spelling: `solid()`, `workplane()`, `step(path)`, `svg(path)`; a flat one
also `blank(path)`; `parts.plate.Plate.of` takes back what was changed in CAD.

A door to `parts.files`, loaded when asked: numbers never wait for the CAD kernel. Lengths may be given with
their unit ("1/8 in")."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from parts.base import require
from parts.base.fields import file_name, read_fields, whole
from parts.base.stock import DENSITY_KG_M3
from parts.shape.form import Form, Vector
from parts.shape.outline import Outline

if TYPE_CHECKING:
    from parts.files.blank import BlankFile
    from parts.files.solid import cq

HANDS = ("left", "right", "")
STYLE = (
    ".metal{fill:#e3e8e4;stroke:#222}.hole{fill:#fff;stroke:#222}.centre{fill:none;stroke:#777}"
    ".size{fill:#222;font-family:sans-serif}"
)


class Part:
    """Base of a part: a frozen dataclass with `form()` in its own axes, `mass_kg`, `centroid`."""

    if TYPE_CHECKING:  # what the dataclasses bring

        def form(self) -> Form: ...

    def __post_init__(self) -> None:
        read_fields(self, self.title)
        if hasattr(self, "hand"):
            require.one_of("hand", self.hand, HANDS)

    @property
    def title(self) -> str:
        """Its name, else what it is."""
        return getattr(self, "name", "") or re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(self).__name__).lower()

    @property
    def forms(self) -> dict[str, Form]:
        """Its bodies by name; one, unless the part says otherwise."""
        return {self.title: self.form()}

    def solid(self) -> cq.Shape:
        """The kernel's solid in the part's own axes; a compound where it has several bodies. Raises
        SolidError."""
        from parts.files.solid import joined

        return joined(list(self.forms.values()))

    def workplane(self) -> cq.Workplane:
        """The solid as a cadquery Workplane, to go on with; `show_object(part.workplane())` in its editor."""
        from parts.files.solid import workplane

        return workplane(self.solid())

    def step(self, path: str | Path) -> Path:
        """STEP in mm, its bodies named; read back before it counts."""
        from parts.files.solid import solid
        from parts.files.step import StepPart, write_step

        path = file_name(path)
        grey = (0.6, 0.6, 0.6)
        bodies = [StepPart(name, solid(f, allow_many=True), grey) for name, f in self.forms.items()]
        return write_step(path, self.title, bodies, as_assembly=len(bodies) > 1)

    def blank(self, path: str | Path, **as_written: Any) -> BlankFile:
        """Of a flat part its DXF; any other says which plates it has blanks of. Raises ValueError."""
        plates = [n for n in dir(type(self)) if n[0] != "_" and isinstance(getattr(self, n), Flat)]
        has = " and ".join(f"its {n}.blank(path)" for n in plates) if plates else "step(path) writes it"
        raise ValueError(f"{self.title} is no flat part, so it has no blank: {has}")

    def svg(self, path: str | Path) -> Path:
        """A picture: a flat part's outline with its size, any other's edges seen from ahead and above."""
        path = file_name(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(self._repr_svg_(), encoding="utf-8")
        return path

    def _repr_html_(self) -> str:
        """What a notebook shows: the picture and what it weighs."""
        from html import escape

        mass = getattr(self, "mass_kg", None)
        said = f", {mass * 1000:.0f} g" if mass else ""
        flat = f", {self.thickness_mm:g} mm" if isinstance(self, Flat) else ""
        drawn = self._repr_svg_()
        return f"<p><b>{escape(self.title)}</b>{flat}{said}</p>{drawn[drawn.index('<svg') :]}"

    def _repr_svg_(self) -> str:
        from parts.files.measured import seen_svg

        return seen_svg(self.solid())


class SteelPart(Part):
    """Base of a part whose `volume_mm3` is all steel."""

    if TYPE_CHECKING:

        @property
        def volume_mm3(self) -> float: ...

    @property
    def mass_kg(self) -> float:
        """In steel."""
        return self.volume_mm3 * DENSITY_KG_M3 * 1e-9


class Flat(SteelPart):
    """Base of a part cut from plate: also `outline()`, `thickness_mm`; `material` and `hand` where it has
    them."""

    if TYPE_CHECKING:

        @property
        def thickness_mm(self) -> float: ...

        def outline(self) -> Outline: ...

    @property
    def volume_mm3(self) -> float:
        return self.outline().area_mm2 * self.thickness_mm

    @property
    def centroid(self) -> Vector:
        """In the axes of its form."""
        return self.form().pieces[0].centroid

    def blank(self, path: str | Path, *, count: int = 1, **as_written: Any) -> BlankFile:
        """The DXF to cut, read back before it counts. Keywords as `write_blank` (`hand`, `material`,
        `smallest_hole_mm`, `compensation_mm` ...), each as the part says unless given."""
        from parts.files.blank import write_blank

        path, count = file_name(path), whole("count", count)
        own: dict[str, Any] = {
            "part": self.title,
            "hand": getattr(self, "hand", "") or "either",
            "thickness_mm": self.thickness_mm,
            "material": getattr(self, "material", "") or "S275",
            "count": count,
        }
        return write_blank(path, self.outline(), **(own | as_written))

    def _repr_svg_(self) -> str:
        from parts.shape.drawing import drawing

        drawn = drawing(self.title, self.outline())
        head, _, rest = drawn.partition(">")
        width = 'xmlns="http://www.w3.org/2000/svg" width="480"'
        return f"{head} {width}><style>{STYLE}</style>{rest}"
