"""A round body between two carriers, as a table of a job file: a half shaft, a steering column, a
link to a bar."""

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator

from assemblies.job.frame import CARRIERS, KINDS
from assemblies.job.values import (
    HOLLOW,
    Direction,
    Length,
    Margin,
    Name,
    Point,
    Quantity,
    Swing,
    Table,
    Tube,
    Wall,
    Word,
    assume,
    away_from_start,
    below,
    nearest,
    refuse,
    shown,
)

On = Annotated[str, Word(("frame", "rack", *CARRIERS))]
AXIS = (
    "of a shaft to the wheel the wheel's spindle, or across the car where the joint is on the frame; of any "
    "other link its own line at ride"
)
NO_ANGLE = "the most its joint there may bend is not given: it is told, and held against nothing"
NOT_IN = "its joint there stands clear of everything"
REACH = "of it, from the joint's centre on, may lie inside what it turns in; common practice"


class LinkTable(Table):
    """From the centre of one joint to that of the other, each carried by the frame or by a body. It keeps its
    length; what the distance changes, it slides in the joint `slides` says."""

    name: Name
    from_: Point = Field(alias="from")
    from_on: On = assume("frame", "its joint is fixed to the frame")
    to: Point
    to_on: On = assume("upright", "its joint rides on the upright")
    diameter: Tube
    wall: Annotated[Wall, below("diameter", 0.5, HOLLOW, equal=True)] | None = assume(None, "solid")
    slides: Annotated[str, Word(("from", "to", "none"))] = assume(
        "from", "the joint at from slides, as the inner one of a half shaft does"
    )
    plunge: Annotated[float, Quantity(0.1, 1000)] | None = assume(
        None, "the whole way its joint slides, end to end, is not given: it is told, and held against nothing"
    )
    from_axis: Direction | None = assume(None, AXIS)
    to_axis: Direction | None = assume(None, AXIS)
    from_angle: Swing | None = assume(None, NO_ANGLE)
    to_angle: Swing | None = assume(None, NO_ANGLE)
    from_in: Name | None = assume(None, NOT_IN)
    to_in: Name | None = assume(None, NOT_IN)
    from_reach: Length = assume(60.0, REACH)
    to_reach: Length = assume(60.0, REACH)
    kind: Annotated[str, Word(KINDS)] | None = assume(None, "plain metal that moves")
    margin: Margin | None = assume(None, "no building tolerance")

    _has_length = field_validator("to", mode="after")(away_from_start)

    @field_validator("to_on", mode="after")
    @classmethod
    def _of_two(cls, on: Any, info: ValidationInfo) -> Any:
        same = {"wheel": "upright", "spring": "rocker"}
        start = info.data.get("from_on")
        if start is not None and same.get(start, start) == same.get(on, on):
            raise refuse(
                f"is {shown(on)}, as from_on",
                "its two ends must move with different bodies",
                "what rides with one body alone is a [[member]] with moves_with",
            )
        return on

    @field_validator("plunge", mode="after")
    @classmethod
    def _slides(cls, plunge: Any, info: ValidationInfo) -> Any:
        if plunge is not None and info.data.get("slides") == "none":
            raise refuse(f"is {plunge:g} mm", 'slides is "none"', 'say which joint slides: "from" or "to"')
        return plunge

    @field_validator("from_reach", "to_reach", mode="after")
    @classmethod
    def _part_of_it(cls, reach: float, info: ValidationInfo) -> float:
        if {"from_", "to"} <= info.data.keys():
            length = math.dist(info.data["from_"], info.data["to"])
            if reach >= length:
                raise refuse(f"is {reach:g} mm", f"must be less than its length {length:.4g} mm")
        return reach


def problems(seen: Mapping[str, Any], bodies: tuple[str, ...]) -> Iterator[tuple[str, str, str, str]]:
    """(key, value, limit, cure) of what joints say they stand in that is not there, and of names taken."""
    links = seen.get("job.link", ())
    members = [m.name for m in seen.get("job.member", ())]
    taken = {n.casefold() for n in (*members, *bodies)}
    for x in links:
        if x.name.casefold() in taken:
            yield (
                f"link.{x.name}",
                f"is named '{x.name}'",
                "something else has that name",
                "name it otherwise",
            )
        taken.add(x.name.casefold())
        for key, name in (("from_in", x.from_in), ("to_in", x.to_in)):
            if name is not None and name not in (*members, *bodies):
                known = nearest(name, (*members, *bodies)) or "known: " + ", ".join((*members, *bodies))
                yield f"link.{x.name}.{key}", f"names '{name}'", "must name a member or a body", known
