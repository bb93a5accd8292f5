"""The rows of results.json on the frame: its nodes, how its tubes are cut and in which order they go in.
Units are in the names."""

from dataclasses import KW_ONLY, field

from assemblies.results.row import Row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class TubeAngle(Row):
    """Two tubes of a node: the angle between them, away from it, and how far along each their outsides part
    (None: never)."""

    a: str
    b: str
    angle_deg: float
    parting_a_mm: float | None
    parting_b_mm: float | None


@dataclass(frozen=True)
class FrameNode(Row):
    """Tubes that meet, in the order they are fitted: each is cut to those before it. `passing` do not end
    here."""

    name: str
    point_mm: list[float]
    members: list[str]
    passing: list[str] = field(default_factory=list)
    mitred: list[str] = field(default_factory=list)
    ordered_by: str = "rule"  # or "job"
    off_axis_mm: float | None = (
        None  # of two braces on one face of what passes: where their axes meet, + beyond
    )
    brace_gap_mm: float | None = None  # and the gap between their toes, negative where they overlap
    angles: list[TubeAngle] = field(default_factory=list)


@dataclass(frozen=True)
class TubeTrim(Row):
    """What is taken off a cut end besides: a `tongue` too narrow to stand, or a skin (`overhang`) thinner
    than the wall; `at_mm` round the tube from the index line, `length_mm` of metal that goes."""

    kind: str
    at_mm: float
    width_mm: float
    length_mm: float


@dataclass(frozen=True)
class TubeEndRow(Row):
    """A cut end. `long_mm` and `short_mm`: where its outside is cut at its long and at its short point, from
    the given end towards the tube's middle (negative: longer). Angles of the saw where one flat cut makes it,
    but for `flat_gap_mm` at a run's rounded corners; `whole`: all of it lands on a run."""

    member: str
    end: str
    node: str
    runs: list[str]
    long_mm: float
    short_mm: float
    mitre_deg: float | None = None
    tilt_deg: float | None = None
    from_square_deg: float | None = None
    flat_gap_mm: float | None = None
    whole: bool = True
    trimmed: list[TubeTrim] = field(default_factory=list)


@dataclass(frozen=True)
class FittedTube(Row):
    """`length_mm`: to saw off, long point to long point; `short_mm` between the short points."""

    member: str
    length_mm: float
    short_mm: float
    mass_kg: float


@dataclass(frozen=True)
class SeamReach(Row):
    """How much of an end's seam a torch's cone reaches, %: when its tube and those it is cut to are in
    place, and when all are; `weld_before`: the tube that first hides some of it, "" where none does."""

    member: str
    end: str
    node: str
    placed_percent: float
    last_percent: float
    weld_before: str = ""


@dataclass(frozen=True)
class FittingStep(Row):
    """A tube in the order of fitting, `seams` those that are whole then: `how` it is brought in, from
    which `way` (unit vector from its place outwards; null: it stands first, or no way was found)."""

    member: str
    how: str
    way: list[float] | None = None
    swung_deg: float = 0.0
    tack: list[str] = field(default_factory=list)  # ends that can be tacked from now on
    seams: list[SeamReach] = field(default_factory=list)


@dataclass(frozen=True)
class FittingOrder(Row):
    """`stuck`: tubes of which none comes out past the others; the torch is a cone of `torch_deg` in all."""

    _: KW_ONLY
    steps: list[FittingStep]
    stuck: list[str] = field(default_factory=list)
    torch_deg: float
    torch_mm: float


@dataclass(frozen=True)
class JunctionsRow(Row):
    nodes: list[FrameNode] = field(default_factory=list)
    ends: list[TubeEndRow] = field(default_factory=list)
    tubes: list[FittedTube] = field(default_factory=list)
    fitting: FittingOrder | None = None  # of a frame alone, and in a build
