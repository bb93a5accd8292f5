"""A swing as a small TOML file: [swing], then [[plate]] and [[round]] in the part's own axes, [[member]] as
in a job file.

    [swing]
    pivot = [1700, 260, 480]
    axis = [1, 0, 0]
    x_towards = [1700, 352, 480]
    from = -22
    to = 30

    [[plate]]
    discs = [[0, 0, 30], [92, 0, 14], [-10, 69, 14]]
    thickness = 4
    along = [13, -17]

    [[member]]
    ...

A member with `moves_with = "rocker"` turns too; like every member it is given in car coordinates, as it
stands at 0 degrees.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, ValidationError, ValidationInfo, field_validator

from assemblies.clearance import Limits
from assemblies.clearance.hinge import MOST_DEG, Hinge
from assemblies.job import JobError, neighbours
from assemblies.job.file import problems_of, slug, tables_of
from assemblies.job.frame import Member
from assemblies.job.gaps import ClearanceTable, KindGaps
from assemblies.job.problem import Problem
from assemblies.job.values import (
    Coordinates,
    Direction,
    FlatPoint,
    Gap,
    Name,
    Point,
    Quantity,
    Table,
    Thickness,
    assume,
    refuse,
    shown,
)
from assemblies.layout.members import member_part
from assemblies.swing.swing import OnHinge, StepFile, Swing
from parts.shape.belt import Boss, hull
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline, OutlineError, rounded

Degrees = Annotated[float, Quantity(-MOST_DEG, MOST_DEG, "deg")]
Along = Annotated[float, Quantity(-5000, 5000)]


class TurnTable(Table):
    """The hinge in car coordinates, and how far it turns, right-handed about `axis`."""

    pivot: Point
    axis: Direction
    x_towards: Point | None = assume(None, "the part's own x is as level as it can be")
    from_: Degrees = Field(alias="from")
    to: Degrees

    @field_validator("axis", mode="after")
    @classmethod
    def _has_length(cls, axis: Any) -> Any:
        if not math.hypot(*axis) > 1e-9:
            raise refuse(f"is {shown(axis)}", "a direction needs a length")
        return axis

    @field_validator("x_towards", mode="after")
    @classmethod
    def _beside_the_axis(cls, point: Any, info: ValidationInfo) -> Any:
        if point is not None and {"pivot", "axis"} <= info.data.keys():
            try:
                Hinge(info.data["pivot"], info.data["axis"], point)
            except ValueError:
                raise refuse(
                    f"is {shown(point)}",
                    "must not lie on the axis",
                    "give a point of the part, the rod eye say",
                ) from None
        return point

    @field_validator("to", mode="after")
    @classmethod
    def _after_from(cls, to: float, info: ValidationInfo) -> float:
        start = info.data.get("from_")
        if start is not None and not 0 < to - start <= MOST_DEG:
            raise refuse(
                f"is {to:g} deg",
                f"must be above from ({start:g} deg), by no more than {MOST_DEG:g}",
                "swap them if they were mixed up",
            )
        return to


def _corners(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) < 3:
        raise refuse(f"is {shown(value)}", "must be a list of three corners [x, y] or more")
    return value


def _discs(value: Any) -> Any:
    if not isinstance(value, list | tuple) or not value:
        raise refuse(f"is {shown(value)}", "must be a list of discs [x, y, radius]")
    return value


Disc = Annotated[tuple[float, float, float], Coordinates(3, 5000)]


class PlateTable(Table):
    """A flat part in the hinge's own axes, by its outline or as the hull round discs; `along`: where its
    lower face stands along the axis from the pivot, one number a plate."""

    discs: Annotated[tuple[Disc, ...], BeforeValidator(_discs)] | None = assume(None, "outline is given")
    outline: Annotated[tuple[FlatPoint, ...], BeforeValidator(_corners)] | None = assume(
        None, "discs are given"
    )
    corner_radius: Annotated[float, Quantity(0, 500)] = assume(0.0, "sharp corners")
    thickness: Thickness
    along: tuple[Along, ...]

    def form(self) -> Form:
        """Raises ValueError where the outline is none."""
        if (self.discs is None) == (self.outline is None):
            raise ValueError("give it either discs or an outline")
        if self.outline is not None:
            loop = rounded(self.outline, self.corner_radius)
            loop = loop if loop.area_mm2 > 0 else rounded(self.outline[::-1], self.corner_radius)
        else:
            assert self.discs is not None
            for x, y, r in self.discs:
                if not r > 0:
                    raise ValueError(f"the disc at {x:g}, {y:g} has radius {r:g} mm; it must be above 0")
            loop = hull([Boss(*d) for d in self.discs])
        outline = Outline(loop)
        outline.check()
        return Form(tuple(Prism(outline, self.thickness, Frame((0.0, 0.0, z))) for z in self.along))


class RoundPart(Table):
    """A tube, boss or bolt in the hinge's own axes; bores count as filled."""

    from_: Point = Field(alias="from")
    to: Point
    diameter: Annotated[float, Quantity(1, 1000)]

    def form(self) -> Form:
        length = math.dist(self.from_, self.to)
        if length < 0.01:
            raise ValueError(f"from and to are the same point, {shown(self.to)}")
        along = [b - a for a, b in zip(self.from_, self.to, strict=True)]
        near = [0.0, 0.0, 0.0]
        near[min(range(3), key=lambda k: abs(along[k]))] = 1.0
        return Form((Round(self.diameter, length, 0.0, Frame.looking(self.from_, along, near)),))


def _as_in_a_job(key: str) -> Any:
    usual = ClearanceTable.model_fields[key]
    return assume(usual.default, usual.description)


class AskedGaps(KindGaps):
    """The gaps asked for, as in a job file."""

    fixed: Gap = _as_in_a_job("fixed")
    moving: Gap = _as_in_a_job("moving")
    flex: Annotated[float, Quantity(0, 50)] = assume(0.0, "no flex added to the gaps")
    tolerance: Annotated[float, Quantity(0.001, 10)] = _as_in_a_job("tolerance")


def _names_a_folder(name: str) -> str:
    if not slug(name):
        raise refuse(f"is {shown(name)}", "must hold a letter or a digit", "it names the output folder")
    return name


class SwingFile(Table):
    schema_: Annotated[int, Quantity(1, 1, "", whole=True)] = assume(
        1, "the only form so far", alias="schema"
    )
    name: Annotated[Name, AfterValidator(_names_a_folder)]
    swing: TurnTable
    plate: tuple[PlateTable, ...] = assume((), "no plates")
    round: tuple[RoundPart, ...] = assume((), "no rounds")
    member: tuple[Member, ...] = assume((), "no members")
    clearance: AskedGaps = assume({}, "usual gaps")


def starter() -> str:
    """Text of a commented swing file to start from."""
    return Path(__file__).with_name("starter.toml").read_text(encoding="utf-8")


def load(path: str | Path) -> Swing:
    """Read a swing file. Raises JobError listing every problem, each with key, value, limit and cure."""
    given = tables_of(path, "`rockershed swing FILE --new` writes one to start from")
    try:
        file = SwingFile.model_validate(given)
    except ValidationError as e:
        raise JobError(problems_of(e, given, SwingFile)) from None
    problems = list(_between(file))
    forms = []
    turning: list[tuple[str, PlateTable | RoundPart]] = [
        (f"plate.{k}", p) for k, p in enumerate(file.plate, 1)
    ]
    turning += [(f"round.{k}", r) for k, r in enumerate(file.round, 1)]
    for key, entry in turning:
        try:
            forms.append(OnHinge(entry.form()))
        except (OutlineError, ValueError) as e:
            problems.append(Problem(key, str(e)))
    if problems:
        raise JobError(problems)
    t, asked = file.swing, file.clearance
    things = {x.name: _thing(x) for x in file.member}
    turns = {x.name for x in file.member if x.moves_with}
    stands = [x for x in file.member if not x.moves_with]
    try:
        return Swing(
            Hinge(t.pivot, t.axis, t.x_towards),
            t.from_,
            t.to,
            (*forms, *(things[n] for n in things if n in turns)),
            {x.name: things[x.name] for x in stands},
            Limits(
                asked.fixed,
                asked.moving,
                flex=asked.flex,
                others={k: getattr(asked, k) for k in neighbours.WORDS},
            ),
            asked.tolerance,
            {x.name: x.kind for x in stands if x.kind},
            {x.name: x.margin for x in stands if x.margin},
            file.name,
        )
    except ValueError as e:
        raise JobError([Problem(str(path), str(e))]) from None


def _thing(x):
    return StepFile(x.file, x.at, x.turn, x.mirrored) if x.shape == "step" else member_part(x)


def _between(file: SwingFile):
    """What the entries must satisfy together."""
    names = [x.name for x in file.member]
    for name in sorted({n for n in names if names.count(n) > 1}):
        yield Problem(f"member.{name}.name", "is there twice", "each neighbour needs a name of its own")
    for x in file.member:
        if x.moves_with not in (None, "rocker"):
            yield Problem(
                f"member.{x.name}.moves_with",
                f"is {shown(x.moves_with)}",
                'must be "rocker": on a hinge alone nothing else moves',
                "leave it out for what stands",
            )
    if not (file.plate or file.round or any(x.moves_with for x in file.member)):
        yield Problem(
            "plate",
            "missing",
            "nothing turns",
            'add [[plate]], [[round]] or a member that moves_with = "rocker"',
        )
    if all(x.moves_with for x in file.member):
        yield Problem("member", "missing", "nothing stands round the part", "add [[member]]")
