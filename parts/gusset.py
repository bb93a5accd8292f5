"""Inner gusset of a boxed rocker: a flat web between the plates, from the pivot tube outwards between the two
arms.

Lengths mm.
"""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism
from parts.shape.outline import Loop, Mark, Outline, OutlineError, Vertex

SNIPE_MM = 8.0  # corners cut off so that the web clears the other welds: 8 to 10, common practice
SHORTEST_MM = 12.0
FIT_UP_MM = 0.5  # widest gap a fillet bridges well; common practice


@dataclass(frozen=True)
class Gusset(Flat):
    """The web as a rectangle with sniped corners.

    Blank: x along the web from its inner end (at the pivot tube), y across from one plate's inner face to the
    other's.
    Form: in the rocker's system (origin on the pivot's axis, mid plane), the web lies in the plane that holds
    the axis and points `direction_deg` from x; its long edges touch the plates' inner faces, its ends stop
    short by the fit-up gap. Raises OutlineError with field, value and limit."""

    start_mm: float  # from the pivot's axis to the web's inner end
    length_mm: float
    width_mm: float  # the gap between the plates
    thickness_mm: float
    direction_deg: float = 0.0
    snipe_mm: float | None = None  # None: 8 mm, less where it does not fit
    material: str = "S275"
    name: str = "gusset"

    def __post_init__(self) -> None:
        super().__post_init__()
        for field, least in (
            ("start_mm", 0.0),
            ("length_mm", SHORTEST_MM - 1e-9),
            ("width_mm", 0.0),
            ("thickness_mm", 0.0),
        ):
            if not (math.isfinite(v := getattr(self, field)) and v > least):
                raise OutlineError(
                    f"{self.name}: {field} is {v:g} mm; it must be over {max(least, 0):.3g} mm"
                )
        room = min(self.length_mm, self.width_mm) / 2
        if self.snipe_mm is not None and not 0 <= self.snipe_mm < room:
            raise OutlineError(f"{self.name}: snipe_mm is {self.snipe_mm:g}; it must be under {room:.2f} mm")

    @property
    def corner_mm(self) -> float:
        """Leg of the 45 degree snipe as made: at most a quarter of the shorter side unless given."""
        return (
            min(SNIPE_MM, min(self.length_mm, self.width_mm) / 4) if self.snipe_mm is None else self.snipe_mm
        )

    def outline(self) -> Outline:
        w, h, c = self.length_mm, self.width_mm, self.corner_mm
        corners = (
            [(c, 0), (w - c, 0), (w, c), (w, h - c), (w - c, h), (c, h), (0, h - c), (0, c)]
            if c
            else [(0, 0), (w, 0), (w, h), (0, h)]
        )
        return Outline(
            Loop(tuple(Vertex(float(x), float(y)) for x, y in corners)),
            marks=(Mark("text", ((c + 1.0, h / 2),), self.name, 3.0),),
        )

    def form(self) -> Form:
        a = math.radians(self.direction_deg)
        c, s = math.cos(a), math.sin(a)
        # local x along the web, local y along the axis, local z across the web
        across = (s, -c, 0.0)
        t = self.thickness_mm / 2
        origin = (self.start_mm * c - t * across[0], self.start_mm * s - t * across[1], -self.width_mm / 2)
        return Form((Prism(self.outline(), self.thickness_mm, Frame(origin, (c, s, 0.0), across)),))

    @property
    def area_mm2(self) -> float:
        """Rectangle less four triangles."""
        return self.length_mm * self.width_mm - 2 * self.corner_mm**2

    @property
    def volume_mm3(self) -> float:
        return self.area_mm2 * self.thickness_mm

    @property
    def centroid(self) -> tuple[float, float, float]:
        r, a = self.start_mm + self.length_mm / 2, math.radians(self.direction_deg)
        return r * math.cos(a), r * math.sin(a), 0.0

    @property
    def inertia_kg_mm2(self) -> float:
        """Mass moment about the pivot's axis: ∫ of (radius² + across²)."""
        m = self.outline().moments
        along = m[3] + 2 * self.start_mm * m[1] + self.start_mm**2 * m[0]
        return DENSITY_KG_M3 * 1e-9 * (along * self.thickness_mm + m[0] * self.thickness_mm**3 / 12)
