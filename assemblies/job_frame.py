"""What is there already, as tables of a job file: frame members and whatever else is in the way, and plate in hand.

A bar runs `from_` one point `to` another (mm, car coordinates); how a flat-sided one lies about that line is the
convention of `LIES_FLAT`, then `roll` turns it right-handed about from → to.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator

from assemblies.job_values import (
    HOLLOW,
    MIN_APART_MM,
    NO_GRADE,
    FlatPoint,
    Name,
    Point,
    Quantity,
    Roll,
    Steel,
    Table,
    Thickness,
    Tube,
    Wall,
    Word,
    assume,
    below,
    refuse,
    shown,
)

CARRIERS = ("upright", "wheel", "upper_arm", "lower_arm", "tie_rod", "rod", "rocker", "spring", "damper_body", "damper_shaft")


class Placed(Table):
    name: Name
    moves_with: Annotated[str, Word(CARRIERS)] | None = assume(None, "fixed to the frame")


class Bar(Placed):
    """A member from one point to another."""

    from_: Point = Field(alias="from")
    to: Point

    @field_validator("to", mode="after")
    @classmethod
    def _has_length(cls, to: Any, info: ValidationInfo) -> Any:
        start = info.data.get("from_")
        if start is not None and math.dist(start, to) < MIN_APART_MM:
            raise refuse(f"is {shown(to)}, the same point as from", f"must be at least {MIN_APART_MM:g} mm away")
        return to


LIES_FLAT = "first pair of faces parallel to z × axis, or to y where the member is upright"


class SquareBar(Bar):
    shape: Literal["square"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)]
    roll: Roll = assume(0.0, LIES_FLAT)
    material: Steel = assume("unknown", NO_GRADE)


class RectangularBar(Bar):
    """`width` lies along z × axis, `height` square to it."""

    shape: Literal["rectangular"]
    width: Tube
    height: Tube
    wall: Annotated[Wall, below("width", 0.5, HOLLOW, equal=True), below("height", 0.5, HOLLOW, equal=True)]
    roll: Roll = assume(0.0, LIES_FLAT)
    material: Steel = assume("unknown", NO_GRADE)


class RoundBar(Bar):
    shape: Literal["round"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)] | None = assume(None, "solid")
    material: Steel = assume("unknown", NO_GRADE)


class FlatBar(Bar):
    """A solid strip or panel: `width` lies along z × axis, `thickness` square to it."""

    shape: Literal["plate"]
    width: Annotated[float, Quantity(3, 5000)]
    thickness: Annotated[float, Quantity(0.5, 200)]
    roll: Roll = assume(0.0, LIES_FLAT)


class Cylinder(Bar):
    shape: Literal["cylinder"]
    diameter: Annotated[float, Quantity(1, 3000)]


class Box(Placed):
    """A block square to the car's axes."""

    shape: Literal["box"]
    centre: Point
    size: Point

    @field_validator("size", mode="after")
    @classmethod
    def _has_volume(cls, size: Any) -> Any:
        if min(size) < 0.5:
            raise refuse(f"is {shown(size)}", "each side must be at least 0.5 mm")
        return size


Member = Annotated[SquareBar | RectangularBar | RoundBar | FlatBar | Box | Cylinder, Field(discriminator="shape")]


class RoundHole(Table):
    centre: FlatPoint
    diameter: Annotated[float, Quantity(0.5, 2000)]


class StockPlate(Table):
    """A plate in hand, seen flat: corners in order, old holes."""

    thickness: Thickness
    outline: tuple[FlatPoint, ...]
    holes: tuple[RoundHole, ...] = assume((), "no old holes")
    material: Steel = assume("unknown", NO_GRADE)

    @field_validator("outline", mode="after")
    @classmethod
    def _encloses_something(cls, corners: Any) -> Any:
        if len(corners) < 3:
            raise refuse(f"has {len(corners)} corners", "must have at least 3")
        sides = list(zip(corners, corners[1:] + corners[:1], strict=True))
        for (a, b) in sides:
            if math.dist(a, b) < MIN_APART_MM:
                raise refuse(f"has the corner {shown(b)} twice in a row", "corners must differ",
                             "the outline closes itself: leave the second out")
        area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in sides)) / 2
        if area < 1 or _crosses(sides):
            raise refuse(f"is {shown(corners)}", "must enclose a plate without crossing itself",
                         "give the corners in order round the plate")
        return corners


def _crosses(sides: list) -> bool:
    """Whether two sides that are not neighbours meet."""
    def turn(a, b, c) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    for i, (a, b) in enumerate(sides):
        for c, d in sides[i + 2: len(sides) - (i == 0)]:
            if turn(a, b, c) * turn(a, b, d) <= 0 and turn(c, d, a) * turn(c, d, b) <= 0:
                return True
    return False


class Stock(Table):
    plate: tuple[StockPlate, ...] = assume((), "no plate in hand given")

    @field_validator("plate", mode="before")
    @classmethod
    def _one_or_more(cls, given: Any) -> Any:
        return [given] if isinstance(given, Mapping | StockPlate) else given
