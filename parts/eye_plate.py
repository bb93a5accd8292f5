"""A rocker's plate of any number of eyes: a belt round their bosses, straight or hollow between them.

For two eyes and a pivot `parts.rocker_plate` knows more (window, waist sized by itself). Lengths mm, forces
N.
"""

from __future__ import annotations

import math
from functools import cached_property
from itertools import combinations

from parts.base import require
from parts.base.fields import read_fields, reads
from parts.base.frozen import dataclass
from parts.base.stock import steel
from parts.boss import least_boss_radius_mm, sized_boss_radius_mm
from parts.part import Flat
from parts.shape.belt import Boss, belt, hull_order
from parts.shape.form import Form, Prism
from parts.shape.outline import FITS, Hole, Loop, Outline, OutlineError, Point, circle

APART = 2.2  # of the larger hole, from centre to centre: EN 1993-1-8 Table 3.3


@dataclass(frozen=True)
class Eye:
    """A hole and the boss round it. `radius_mm` None: sized for the force. `fit` as `Hole`: "weld" for the
    hole that a tube is welded into."""

    at: Point
    hole_mm: float
    name: str = "eye"
    force_n: float = 0.0  # worst force, all plates together
    radius_mm: float | None = None
    fit: str = "reamed"

    def __post_init__(self) -> None:
        read_fields(self, self.name)
        require.positive(hole_mm=self.hole_mm)
        require.one_of("fit", self.fit, FITS)
        require.not_negative(force_n=self.force_n)
        if self.radius_mm is not None:
            require.positive(radius_mm=self.radius_mm)


@dataclass(frozen=True)
class EyePlate(Flat):
    """Origin where the eyes' coordinates have it; the face z = thickness carries the marks.

    `waist_mm`: radius of the hollow between neighbours, None for straight sides. `plates` share each eye's
    force. An eye inside the belt of the others is a hole in the field. Raises OutlineError with the eye, the
    value and the limit where a boss or a distance is under its rule (EN 1993-1-8 Tables 3.3 and 3.9; round a
    welded tube its leg and a thickness beside it, common practice)."""

    eyes: tuple[Eye, ...]
    thickness_mm: float
    waist_mm: float | None = None
    plates: int = 1
    safety: float = 1.5  # on yield
    material: str = "S275"
    name: str = "eye plate"
    hand: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(thickness_mm=self.thickness_mm, safety=self.safety, plates=self.plates)
        if len(self.eyes) < 2:
            raise OutlineError(f"{self.name}: {len(self.eyes)} eyes; it needs at least 2")
        for a, b in combinations(self.eyes, 2):
            apart, least = math.dist(a.at, b.at), APART * max(a.hole_mm, b.hole_mm)
            if "weld" not in (a.fit, b.fit) and apart < least:
                raise OutlineError(
                    f"{self.name}: {a.name} and {b.name} are {apart:.2f} mm apart; the least is {least:.2f} "
                    f"mm (EN 1993-1-8 Table 3.3): move one"
                )
        for e in self.eyes:
            least = self.least_radius_mm(e)
            if e.radius_mm is not None and e.radius_mm < least - 1e-9:
                raise OutlineError(
                    f"{self.name}: {e.name}'s radius is {e.radius_mm:g} mm; the least is {least:.2f} mm"
                )
            rim = min(s.distance_mm(*e.at) for s in self.outer.segments)
            if rim < least - 1e-6:
                raise OutlineError(
                    f"{self.name}: the edge comes within {rim:.2f} mm of {e.name}'s centre; the least is "
                    f"{least:.2f} mm: use a larger waist_mm, None for straight sides, or move the eye"
                )
        self.outline().check()

    def _sized(self, e: Eye, rule, *more: float) -> float:
        shared = self.plates * self.thickness_mm
        return rule(e.hole_mm, e.force_n, shared, steel(self.material).yield_mpa, self.safety, *more)

    @reads
    def least_radius_mm(self, eye: Eye) -> float:
        """From the eye's centre to the plate's edge."""
        if eye.fit == "weld":
            return eye.hole_mm / 2 + self.thickness_mm + max(self.thickness_mm, 3.0)
        return self._sized(eye, least_boss_radius_mm)

    @reads
    def boss(self, eye: Eye) -> Boss:
        if eye.radius_mm is not None:
            return Boss(*eye.at, eye.radius_mm)
        if eye.fit == "weld":
            return Boss(*eye.at, math.ceil(2 * self.least_radius_mm(eye) - 1e-9) / 2)
        return Boss(*eye.at, self._sized(eye, sized_boss_radius_mm, self.thickness_mm))

    @cached_property
    def outer(self) -> Loop:
        order = hull_order([self.boss(e) for e in self.eyes])
        if len(order) == 1:
            return circle(order[0].x, order[0].y, 2 * order[0].radius_mm)
        try:
            return belt(order, [self.waist_mm] * len(order))
        except OutlineError as e:
            raise OutlineError(f"{self.name}: {e}") from e

    def outline(self) -> Outline:
        return Outline(self.outer, holes=tuple(Hole(*e.at, e.hole_mm, e.name, e.fit) for e in self.eyes))

    def form(self) -> Form:
        return Form((Prism(self.outline(), self.thickness_mm),))
