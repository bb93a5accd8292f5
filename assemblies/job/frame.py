"""What is there already, as tables of a job file: frame members and whatever else is in the way.

A bar runs `from_` one point `to` another (mm, car coordinates); how a flat-sided one lies about that line is
the convention of `LIES_FLAT`, then `roll` turns it right-handed about from → to.
"""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator

from assemblies.job import neighbours
from assemblies.job.values import (
    HOLLOW,
    NO_GRADE,
    ByWord,
    Coordinates,
    Flag,
    Length,
    Margin,
    Name,
    Noted,
    Point,
    Quantity,
    Roll,
    Steel,
    Table,
    Tube,
    Wall,
    Word,
    assume,
    away_from_start,
    below,
    derived,
    refuse,
    shown,
)

CARRIERS = (
    "upright",
    "wheel",
    "upper_arm",
    "lower_arm",
    "tie_rod",
    "rod",
    "rocker",
    "spring",
    "damper_body",
    "damper_shaft",
)


KINDS = ("fixed", "moving", *neighbours.WORDS)


def _path(value: Any) -> str:
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise refuse(f"is {shown(value)}", "must be the path of a file, in quotes")
    return value.strip()


class PlacedTable(Table):
    """`kind` says what gap it needs (see `ClearanceTable`), `margin` how far it may stand from where the job
    says, `touches` what it is clamped, strapped or welded to: parts by name that do not move against it."""

    name: Name
    moves_with: Annotated[str, Word(CARRIERS)] | None = assume(None, "fixed to the frame")
    kind: Annotated[str, Word(KINDS)] | None = assume(
        None, "plain metal: fixed, or moving where it moves with a body"
    )
    margin: Margin | None = assume(None, "no building tolerance")
    touches: tuple[Name, ...] = assume((), "touches only what its welds and bolts join it to")


class Bar(PlacedTable):
    """A member from one point to another."""

    from_: Point = Field(alias="from")
    to: Point

    _has_length = field_validator("to", mode="after")(away_from_start)


TubeEnds = Annotated[str, Word(("fitted", "square"))]
ENDS = "cut to the tubes it meets"
Corner = Annotated[float, Quantity(0.1, 100)]
CORNER = "outside corners not measured: drawn as two walls, for the gaps as sharp as EN 10219-2 lets them be"
LIES_FLAT = "first pair of faces parallel to z × axis, or to y where the member is upright"


class SquareBar(Bar):
    shape: Literal["square"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)]
    roll: Roll = assume(0.0, LIES_FLAT)
    corner: Corner | None = assume(None, CORNER)
    material: Steel = assume("unknown", NO_GRADE)
    ends: TubeEnds = assume("fitted", ENDS)


class RectangularBar(Bar):
    """`width` lies along z × axis, `height` square to it."""

    shape: Literal["rectangular"]
    width: Tube
    height: Tube
    wall: Annotated[Wall, below("width", 0.5, HOLLOW, equal=True), below("height", 0.5, HOLLOW, equal=True)]
    roll: Roll = assume(0.0, LIES_FLAT)
    corner: Corner | None = assume(None, CORNER)
    material: Steel = assume("unknown", NO_GRADE)
    ends: TubeEnds = assume("fitted", ENDS)


class RoundBar(Bar):
    shape: Literal["round"]
    size: Tube
    wall: Annotated[Wall, below("size", 0.5, HOLLOW, equal=True)] | None = assume(None, "solid")
    material: Steel = assume("unknown", NO_GRADE)
    ends: TubeEnds | None = assume(None, "a tube is cut to the tubes it meets, a solid round is left square")


Hollow = SquareBar | RectangularBar | RoundBar  # what may be a tube


class FlatBar(Bar):
    """A solid strip or panel: `width` lies along z × axis, `thickness` square to it."""

    shape: Literal["plate"]
    width: Annotated[float, Quantity(3, 5000)]
    thickness: Annotated[float, Quantity(0.5, 200)]
    roll: Roll = assume(0.0, LIES_FLAT)


class Cylinder(Bar):
    shape: Literal["cylinder"]
    diameter: Annotated[float, Quantity(1, 3000)]


class Box(PlacedTable):
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


class NodeTable(Table):
    """A point that tubes share: a member that says its name ends there. `offset`: so far off `at` the tubes
    meet (an eccentric node); a tube named in `chords` ends `at` it itself, as one that passes does."""

    name: Name
    at: Point
    offset: Point = assume((0.0, 0.0, 0.0), "the tubes meet where the node is")
    chords: tuple[Name, ...] = assume((), "all tubes that name the node end at its offset")


class Group(Table):
    """What moves as one by `move`: members with both their ends, nodes, and points by their keys
    ("damper.chassis_eye", "member.brace.from"; a table's name stands for all its points)."""

    name: Name
    members: tuple[Name, ...] = assume((), "no members")
    nodes: tuple[Name, ...] = assume((), "no nodes but those its members name")
    points: tuple[Name, ...] = assume((), "no points besides")
    move: Point = assume((0.0, 0.0, 0.0), "as written")


class Junction(Noted):
    """Where tubes of the frame meet: the order they are fitted in, or the two that meet on their bisecting
    plane."""

    table = "junction"
    members: tuple[Name, ...] = Field()
    mitre: Flag = assume(False, "each is cut to the skin of those before it")
    at: Point | None = assume(None, "wherever these tubes meet")

    @field_validator("members", mode="after")
    @classmethod
    def _two_or_more(cls, names: Any) -> Any:
        if len(names) < 2:
            raise refuse(
                f"has {len(names)} names",
                "must name two tubes or more",
                "in the order they are fitted; the first is cut by none",
            )
        if twice := [n for n in names if names.count(n) > 1]:
            raise refuse(f"has {shown(twice[0])} twice", "each tube is fitted once", "take one out")
        return names

    @field_validator("mitre", mode="after")
    @classmethod
    def _of_two(cls, mitre: bool, info: ValidationInfo) -> bool:
        if mitre and len(info.data.get("members", (1, 2))) != 2:
            raise refuse(
                "is true",
                f"a mitre is of two tubes, members has {len(info.data['members'])}",
                "name the two that meet on their bisecting plane",
            )
        return mitre


class FrameTable(Noted):
    """How the tubes of the frame go together."""

    table = "frame"
    file: Annotated[str, BeforeValidator(_path)] | None = assume(
        None, "its members stand in this file: no frame file is shared"
    )
    sides: Annotated[str, Word(("one", "both"))] | None = assume(
        None, "one stands for the other's mirror image too, unless tubes lie on both sides of the car"
    )
    join_within: Margin = assume(
        10.0, "an end this near to another tube, along its own axis, is cut to it; common practice"
    )
    sawn: Annotated[Flag, derived(lambda d: d["file"] is None)] = assume(
        None,
        "its tubes are sawn from the bars too, unless they stand in a frame file, which has its own bars",
    )
    goes_on: tuple[Name, ...] = assume(
        (), "no tube is said to go on into a frame beyond this job: the tubes here must join each other"
    )
    paper: Annotated[float, Quantity(0, 1)] = assume(
        0.1, "thickness of the paper of strips to wrap, common practice"
    )


def _there(file: str) -> str:
    """The path of a file that is there, from the root: `assemblies.job.load` has put it below the job file's
    folder."""
    path = Path(file).expanduser().absolute()
    if not path.is_file():
        what = "is a folder" if path.is_dir() else "no such file"
        raise refuse(f"is {shown(file)}", what, "a path is taken from the job file's folder")
    return str(path)


class StepFileTable(PlacedTable):
    """All solids of a STEP file of any program. Its origin comes to lie `at` a point, turned about the car's
    x, then y, then z axis; `mirrored` first turns it into its mirror image (y of the file turns its sign)."""

    shape: Literal["step"]
    file: Annotated[Annotated[str, BeforeValidator(_path)], AfterValidator(_there)]
    at: Point = assume((0.0, 0.0, 0.0), "the file is drawn in the car's coordinates")
    turn: Annotated[tuple[float, float, float], Coordinates(3, 360, "deg")] = assume(
        (0.0, 0.0, 0.0), "it stands as drawn"
    )
    mirrored: Flag = assume(False, "as drawn")


Member = Annotated[
    SquareBar | RectangularBar | RoundBar | FlatBar | Box | Cylinder | StepFileTable,
    ByWord("shape"),
]


class HoseTable(Table):
    """A hose, cable or strap between two points, each on the frame or on a body that carries it; `length` is
    free length between the two points."""

    name: Name
    from_: Point = Field(alias="from")
    from_on: Annotated[str, Word(("frame", *CARRIERS))] = assume("frame", "fixed to the frame")
    to: Point
    to_on: Annotated[str, Word(("frame", *CARRIERS))] = assume("frame", "fixed to the frame")
    length: Length | None = assume(None, "not given: the least is worked out")
    diameter: Annotated[float, Quantity(1, 100)] = assume(10.0, "usual brake hose with its ends")
