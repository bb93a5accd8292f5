"""What a nest is made from and what it gives: blanks, remnants, rules, placements. Lengths mm, angles
degrees.

A placement turns a blank's outline counter-clockwise about its own origin, then shifts it. A blank is never
turned
over: the marked face stays up, so a left plate cannot come out as a right one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from functools import cached_property

from parts.base.frozen import dataclass
from parts.shape.outline import Hole, Loop, Outline, OutlineError, Point, Vertex

FREE_STEP_DEG = 15.0


class NestError(ValueError):
    """Input that cannot be nested; the text names the thing, the value and what to do."""


@dataclass(frozen=True)
class Rules:
    """Least distances in mm: between blanks, to a sheet edge, to a torch-cut edge, to an old hole, to a
    keep-out.

    Defaults are common practice for plasma: 5 between, 5 to a sheared edge, 10 to a torch-cut edge or an old
    hole. `kerf_mm` is the width the tool burns or grinds away; the spacing must hold at least one kerf."""

    spacing_mm: float = 5.0
    edge_mm: float = 5.0
    torch_edge_mm: float = 10.0
    hole_mm: float = 10.0
    keep_out_mm: float = 0.0
    kerf_mm: float = 1.5

    @staticmethod
    def of(process: str) -> Rules:
        """The rules of "plasma" or "grinder" (common practice); anything else: give the distances
        yourself."""
        known = {"plasma": Rules(), "grinder": Rules(spacing_mm=3.0, kerf_mm=1.5)}
        if process not in known:
            raise NestError(
                f'process "{process}" has no cutting rules; use one of {", ".join(known)}, or give Rules(...)'
            )
        return known[process]

    def check(self) -> None:
        for name in ("spacing_mm", "edge_mm", "torch_edge_mm", "hole_mm", "keep_out_mm", "kerf_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise NestError(f"{name} is {value:g}; it must be a distance of 0 mm or more")
        if self.spacing_mm <= 0:
            raise NestError(
                f"spacing_mm is {self.spacing_mm:g}; blanks that touch cannot be cut apart: "
                f"use at least the kerf, {self.kerf_mm:g} mm"
            )
        if self.spacing_mm < self.kerf_mm:
            raise NestError(
                f"spacing_mm is {self.spacing_mm:g}, less than the kerf of {self.kerf_mm:g} mm; "
                "widen the spacing to at least one kerf"
            )


@dataclass(frozen=True)
class Blank:
    """A flat part to be cut `count` times. `rotation`: "free", a step in degrees (90: quarter turns; 0: as
    drawn) or "grain" (rolling direction along the blank's x, so 0 or 180 against the remnant's grain)."""

    name: str
    outline: Outline
    count: int = 1
    thickness_mm: float = 3.0
    material: str = "S275"
    rotation: str | float = "free"
    hand: str = ""

    def check(self) -> None:
        if not isinstance(self.count, int) or self.count < 0:
            raise NestError(
                f'blank "{self.name}": count is {self.count!r}; it must be a whole number, 0 or more'
            )
        if not (math.isfinite(self.thickness_mm) and self.thickness_mm > 0):
            raise NestError(
                f'blank "{self.name}": thickness_mm is {self.thickness_mm:g}; it must be more than 0'
            )
        if isinstance(self.rotation, str):
            if self.rotation not in ("free", "grain"):
                raise NestError(
                    f'blank "{self.name}": rotation is "{self.rotation}"; use "free", "grain" or a step in '
                    f"degrees"
                )
        elif not 0 <= self.rotation <= 360:
            raise NestError(
                f'blank "{self.name}": rotation step is {self.rotation:g} degrees; use 0 (as drawn) to 360'
            )
        try:
            self.outline.check()
        except OutlineError as e:
            raise NestError(f'blank "{self.name}": {e}') from e


@dataclass(frozen=True)
class Remnant:
    """A piece of plate. `torch_edges` numbers the sides of `outline` (0 is the side that leaves the first
    corner) that were cut hot; `edge_mm` gives a side its own distance; `holes` are old round holes;
    `keep_outs` areas not to be touched (a stamp, a bend, rust). `grain_deg`: rolling direction from x,
    counter-clockwise."""

    name: str
    outline: Loop
    holes: tuple[Hole, ...] = ()
    torch_edges: tuple[int, ...] = ()
    edge_mm: dict[int, float] = field(default_factory=dict)
    keep_outs: tuple[Loop, ...] = ()
    thickness_mm: float = 3.0
    material: str = "S275"
    grain_deg: float = 0.0

    @cached_property
    def area_mm2(self) -> float:
        """Metal of the remnant: old holes out as far as they lie on it, keep-outs still in. Closed form where
        no hole reaches over the edge or into another; else the holes are polygons of 720 corners."""
        from shapely import Point as Dot
        from shapely import Polygon, union_all

        whole, discs = abs(self.outline.area_mm2), sum(math.pi * h.diameter_mm**2 / 4 for h in self.holes)
        if not self.holes:
            return whole
        polygons = [Dot(h.x, h.y).buffer(h.diameter_mm / 2, 180) for h in self.holes]
        lost = (
            union_all(polygons).intersection(Polygon(self.outline.points(0.01))).area
            * discs
            / sum(p.area for p in polygons)
        )
        return whole - (discs if lost > discs * (1 - 1e-9) else lost)

    def distance_mm(self, side: int, rules: Rules) -> float:
        if side in self.edge_mm:
            return self.edge_mm[side]
        return rules.torch_edge_mm if side in self.torch_edges else rules.edge_mm

    def check(self) -> None:
        from shapely import Polygon, is_valid_reason

        if not (math.isfinite(self.thickness_mm) and self.thickness_mm > 0):
            raise NestError(
                f'remnant "{self.name}": thickness_mm is {self.thickness_mm:g}; it must be more than 0'
            )
        n = len(self.outline.vertices)
        if n < 2 or any(not (math.isfinite(v.x) and math.isfinite(v.y)) for v in self.outline.vertices):
            raise NestError(f'remnant "{self.name}": the outline needs at least 3 finite corners')
        shape = Polygon(self.outline.points(0.01)) if len(self.outline.points(0.01)) > 2 else Polygon()
        if shape.is_empty or not shape.is_valid or shape.area < 1:
            raise NestError(
                f'remnant "{self.name}": the outline crosses itself or encloses nothing '
                f"({is_valid_reason(shape)}); give the corners in order round the edge"
            )
        for side in (*self.torch_edges, *self.edge_mm):
            if not 0 <= side < n:
                raise NestError(f'remnant "{self.name}": side {side} does not exist; sides are 0 to {n - 1}')
        for side, d in self.edge_mm.items():
            if not (math.isfinite(d) and d >= 0):
                raise NestError(
                    f'remnant "{self.name}": the distance of side {side} is {d:g}; it must be 0 mm or more'
                )
        for h in self.holes:
            if not h.diameter_mm > 0:
                raise NestError(
                    f'remnant "{self.name}": a hole\'s diameter is {h.diameter_mm:g}; it must be more than 0'
                )
        for loop in self.keep_outs:
            if not Polygon(loop.points(0.01)).is_valid:
                raise NestError(f'remnant "{self.name}": a keep-out crosses itself')


@dataclass(frozen=True)
class Placement:
    """Copy `copy` (1, 2, ...) of a blank on a remnant, turned by `turn_deg` about the blank's origin, then
    shifted."""

    blank: Blank
    copy: int
    remnant: Remnant
    turn_deg: float
    x_mm: float
    y_mm: float

    @cached_property
    def outline(self) -> Outline:
        return self.blank.outline.moved(self.x_mm, self.y_mm, math.radians(self.turn_deg))

    @property
    def label(self) -> str:
        return f"{self.blank.name} {self.copy}/{self.blank.count}"


@dataclass(frozen=True)
class Missing:
    """Copies of a blank that found no place, and why."""

    blank: Blank
    count: int
    why: str

    @property
    def area_mm2(self) -> float:
        return self.count * self.blank.outline.gross_area_mm2


@dataclass(frozen=True)
class Shortage:
    """A plate that would take all that is missing of one thickness and material (found by nesting on it,
    edges included)."""

    thickness_mm: float
    material: str
    length_mm: float
    width_mm: float
    net_area_mm2: float


@dataclass(frozen=True)
class Nest:
    """The result. `hit_limit` says that the wall clock ended the search before its effort was spent: only
    then may the same seed give another nest on a slower machine."""

    placements: tuple[Placement, ...]
    missing: tuple[Missing, ...]
    shortages: tuple[Shortage, ...]
    remnants: tuple[Remnant, ...]
    rules: Rules
    least_remnants: int
    hit_limit: bool = False

    def on(self, remnant: Remnant) -> tuple[Placement, ...]:
        return tuple(p for p in self.placements if p.remnant is remnant)

    @property
    def used(self) -> tuple[Remnant, ...]:
        return tuple(r for r in self.remnants if self.on(r))

    def use_percent(self, remnant: Remnant) -> float:
        """Blanks' gross area (holes are waste too) over the metal of the remnant."""
        return 100 * sum(p.blank.outline.gross_area_mm2 for p in self.on(remnant)) / remnant.area_mm2


def remnant_of(corners: Sequence[Point], holes: Sequence[tuple[Point, float]] = (), **other) -> Remnant:
    """A remnant from plain corners and (centre, diameter) holes, as a job file's [stock] gives them."""
    return Remnant(
        outline=Loop(tuple(Vertex(float(x), float(y)) for x, y in corners)),
        holes=tuple(Hole(c[0], c[1], d, "old hole") for c, d in holes),
        **other,
    )
