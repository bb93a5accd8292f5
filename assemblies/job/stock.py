"""What lies in the shop, as tables of a job file: plate remnants and bars in hand, and how blanks are laid on
plate.

A plate is seen flat, its marked face up; its sides are counted from 1, side 1 from the first corner to the
second.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import ValidationInfo, field_validator

from assemblies.job.values import (
    HOLLOW,
    MIN_APART_MM,
    NO_GRADE,
    ByWord,
    Flag,
    FlatPoint,
    Later,
    Name,
    Noted,
    Quantity,
    Steel,
    Table,
    Thickness,
    Tube,
    Wall,
    Word,
    assume,
    below,
    nearest,
    refuse,
    shown,
)

Corners = tuple[FlatPoint, ...]
Count = Annotated[int, Quantity(1, 100, "", whole=True)]
Distance = Annotated[float, Quantity(0, 500)]


class RoundHole(Table):
    centre: FlatPoint
    diameter: Annotated[float, Quantity(0.5, 2000)]


class StockPlate(Table):
    """A plate in hand: corners in order, which sides were cut hot, old holes, and areas that are not to be
    used."""

    name: Name | None = assume(None, "goes by its number")
    thickness: Thickness
    outline: Corners
    torch_edges: tuple[Annotated[int, Quantity(-1000, 1000, "", whole=True)], ...] = assume(
        (), "every side is sheared or sawn"
    )
    edge: Distance | None = assume(None, "as nest.edge")
    holes: tuple[RoundHole, ...] = assume((), "no old holes")
    keep_outs: tuple[Corners, ...] = assume((), "all of it can be used")
    grain: Annotated[float, Quantity(-360, 360, "deg")] = assume(0.0, "rolled along x")
    count: Count = assume(1, "one of it")
    material: Steel = assume("unknown", NO_GRADE)

    @field_validator("outline", mode="after")
    @classmethod
    def _encloses_something(cls, corners: Any) -> Any:
        return _simple(corners, "plate")

    @field_validator("torch_edges", mode="after")
    @classmethod
    def _has_those_sides(cls, sides: Any, info: ValidationInfo) -> Any:
        count = len(info.data.get("outline") or ())
        for n in sides:
            if count and not 1 <= n <= count:
                raise refuse(
                    f"names side {n}",
                    f"must be 1 to {count}, the sides of the outline",
                    "side 1 runs from the first corner to the second",
                )
        if twice := [n for n, k in Counter(sides).items() if k > 1]:
            raise refuse(
                f"names side {twice[0]} twice", "each side may stand there once", "leave the second out"
            )
        return sides

    @field_validator("holes", mode="after")
    @classmethod
    def _holes_lie_on_it(cls, holes: Any, info: ValidationInfo) -> Any:
        outline = info.data.get("outline")
        for h in holes if outline else ():
            if not _inside(h.centre, outline) and _off(h.centre, outline) >= h.diameter / 2:
                raise refuse(
                    f"has a hole at {shown(h.centre)}, off the plate",
                    "must lie on the plate",
                    "look for a slipped digit, or leave it out",
                )
        return holes

    @field_validator("keep_outs", mode="after")
    @classmethod
    def _keep_outs_lie_on_it(cls, areas: Any, info: ValidationInfo) -> Any:
        outline = info.data.get("outline")
        for n, corners in enumerate(areas, 1):
            _simple(corners, "area", f"keep-out {n} ")
            if outline and (stray := _reaches_out(corners, outline)):
                raise refuse(
                    f"has keep-out {n} at {shown(stray)}, off the plate",
                    "must lie on the plate",
                    "end it at the plate's edge",
                )
        return areas


class RoundStock(Table):
    shape: Literal["round"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)] | None = assume(None, "solid")
    length: Annotated[float, Quantity(20, 20_000)]
    count: Count = assume(1, "one of it")
    material: Steel = assume("unknown", NO_GRADE)


class SquareStock(Table):
    shape: Literal["square"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)] | None = assume(None, "solid")
    length: Annotated[float, Quantity(20, 20_000)]
    count: Count = assume(1, "one of it")
    material: Steel = assume("unknown", NO_GRADE)


class RectangularStock(Table):
    shape: Literal["rectangular"]
    width: Tube
    height: Tube
    wall: (
        Annotated[Wall, below("width", 0.5, HOLLOW, equal=True), below("height", 0.5, HOLLOW, equal=True)]
        | None
    ) = assume(None, "solid")
    length: Annotated[float, Quantity(20, 20_000)]
    count: Count = assume(1, "one of it")
    material: Steel = assume("unknown", NO_GRADE)


StockBar = Annotated[RoundStock | SquareStock | RectangularStock, ByWord("shape")]


class StockTable(Table):
    """What is in hand. A bar that is not in hand is bought `bar_length` long, or, by the metre, as long as it
    must be, up to that."""

    plate: tuple[Later[StockPlate], ...] = assume((), "no plate in hand given")
    bar: tuple[StockBar, ...] = assume((), "no tube or rod in hand given")
    bar_length: Annotated[float, Quantity(500, 20_000)] = assume(
        6000.0, "tube and rod are sold in 6 m, common practice"
    )
    in_hand_first: Flag = assume(True, "bars in hand are cut before new ones")
    sold_by: Annotated[str, Word(("bar", "metre"))] = assume("bar", "whole bars, as most shops sell them")

    @field_validator("plate", "bar", mode="before")
    @classmethod
    def _one_or_more(cls, given: Any) -> Any:
        return [given] if isinstance(given, Mapping | Table) else given

    @field_validator("plate", mode="after")
    @classmethod
    def _names_differ(cls, plates: Any) -> Any:
        if twice := [n for n, k in Counter(plate_names(plates)).items() if k > 1]:
            raise refuse(
                f"has {twice[0]!r} twice", "each plate needs its own name", "use count for several alike"
            )
        return plates


def plate_names(plates: Sequence[StockPlate]) -> list[str]:
    """A name a sheet, in order: its own or "plate 1", and of several alike "plate 1 a", "plate 1 b" ..."""
    out = []
    for i, p in enumerate(plates, 1):
        name = p.name or f"plate {i}"
        out += [name if p.count == 1 else f"{name} no. {k + 1}" for k in range(p.count)]
    return out


class Spare(Table):
    """`count` more of a blank, of each hand; `name` is a part's ("rocker plate") or one hand's ("rocker plate
    left")."""

    name: Name
    count: Count


USUAL_NESTING = (
    "both sides of the car, 5 mm to a sheet's edge, 10 to a torch-cut one or an old hole, between blanks "
    "plasma 5, hand 3, "
    "else twice the kerf; common practice"
)


class NestingTable(Noted):
    """How the blanks are laid on the plates in hand; distances mm."""

    table = "nest"
    spacing: Distance | None = assume(
        None,
        "between blanks: plasma 5, hand 3, laser and waterjet twice the kerf but 2 at least; common practice",
    )
    edge: Distance = assume(5.0, "to a sheet's edge, common practice")
    torch_edge: Distance = assume(10.0, "to a torch-cut edge, common practice")
    hole: Distance = assume(10.0, "to an old hole, common practice")
    keep_out: Distance = assume(0.0, "keep-outs are given as large as they must be")
    sides: Annotated[str, Word(("both", "left", "right"))] = assume("both", "both sides of the car")
    spare: tuple[Spare, ...] = assume((), "no spares")
    turn: Annotated[float, Quantity(0, 180, "deg")] | None = assume(None, "blanks lie any way round")
    grain: Flag = assume(False, "folds lie any way to the rolling direction")
    leads: Flag | None = assume(None, "pierces and lead-ins are drawn, but not for hand cutting")

    @field_validator("spare", mode="before")
    @classmethod
    def _one_or_more(cls, given: Any) -> Any:
        return [given] if isinstance(given, Mapping | Table) else given

    @field_validator("spare", mode="after")
    @classmethod
    def _named_once(cls, spares: Any) -> Any:
        if twice := [n for n, k in Counter(s.name for s in spares).items() if k > 1]:
            raise refuse(f"has {twice[0]!r} twice", "each blank may stand there once", "add the counts up")
        return spares

    @field_validator("turn", mode="after")
    @classmethod
    def _divides_a_turn(cls, turn: Any) -> Any:
        if turn and abs(360 / turn - round(360 / turn)) > 1e-9:
            raise refuse(
                f"is {turn:g} deg", "must divide 360", "90 lets blanks lie in quarter turns, 0 only as drawn"
            )
        return turn


def unknown_spare(name: str, known: Sequence[str]) -> str:
    """What is wrong with a spare of a blank that the corner has not got."""
    return (
        f"nest.spare.{name}: no blank has this name; "
        f"{nearest(name, known) or 'known here: ' + ', '.join(known)}"
    )


# ------------------------------------------------------------ flat geometry

LEAST_SPAN_MM = 5.0  # a plate of less is a slip of units


def _simple(corners: Any, what: str, which: str = "") -> Any:
    if len(corners) < 3:
        raise refuse(f"{which}has {len(corners)} corners".strip(), "must have at least 3")
    sides = _sides(corners)
    for a, b in sides:
        if math.dist(a, b) < MIN_APART_MM:
            raise refuse(
                f"{which}has the corner {shown(b)} twice in a row",
                "corners must differ",
                "the outline closes itself: leave the second out",
            )
    if what == "plate" and (span := max(math.dist(corners[0], c) for c in corners)) < LEAST_SPAN_MM:
        raise refuse(
            f"is {span:.3g} mm across",
            f"must be at least {LEAST_SPAN_MM:g} mm",
            'bare numbers are mm; another unit is written with its number: "0.62 m", "24 in"',
        )
    area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in sides)) / 2
    if area < 1 or _crosses(sides):
        raise refuse(
            f"{which}is {shown(corners)}",
            f"must enclose {'an' if what == 'area' else 'a'} {what} without crossing itself",
            f"give the corners in order round the {what}",
        )
    return corners


def _sides(corners: Any) -> list:
    return list(zip(corners, corners[1:] + corners[:1], strict=True))


def _turn(a, b, c) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _crosses(sides: list) -> bool:
    """Whether two sides that are not neighbours meet."""
    for i, (a, b) in enumerate(sides):
        for c, d in sides[i + 2 : len(sides) - (i == 0)]:
            if _turn(a, b, c) * _turn(a, b, d) <= 0 and _turn(c, d, a) * _turn(c, d, b) <= 0:
                return True
    return False


def _off(p, corners) -> float:
    """Distance from a point to the nearest side."""
    least = math.inf
    for (ax, ay), (bx, by) in _sides(corners):
        dx, dy = bx - ax, by - ay
        k = min(1.0, max(0.0, ((p[0] - ax) * dx + (p[1] - ay) * dy) / (dx * dx + dy * dy)))
        least = min(least, math.hypot(p[0] - ax - k * dx, p[1] - ay - k * dy))
    return least


def _inside(p, corners) -> bool:
    """Whether a ray from the point crosses the sides an odd number of times."""
    odd = False
    for (ax, ay), (bx, by) in _sides(corners):
        if (ay > p[1]) != (by > p[1]) and p[0] < ax + (p[1] - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def _reaches_out(corners, plate):
    """A point of an area's border that lies off the plate, None where there is none.

    Between the places where a side meets the plate's sides it lies wholly on or wholly off: the middles
    tell."""
    for a, b in _sides(corners):
        cuts = {0.0, 1.0}
        for c, d in _sides(plate):
            across = (b[0] - a[0]) * (d[1] - c[1]) - (b[1] - a[1]) * (d[0] - c[0])
            if across:
                cuts.add(
                    min(
                        1.0,
                        max(0.0, ((c[0] - a[0]) * (d[1] - c[1]) - (c[1] - a[1]) * (d[0] - c[0])) / across),
                    )
                )
        ends = sorted(cuts)
        for k in (*ends, *((u + v) / 2 for u, v in zip(ends, ends[1:], strict=False))):
            p = (a[0] + k * (b[0] - a[0]), a[1] + k * (b[1] - a[1]))
            if not _inside(p, plate) and _off(p, plate) > MIN_APART_MM:
                return p
    return None
