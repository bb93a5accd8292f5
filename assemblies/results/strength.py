"""The rows of results.json on loads and strength. Units are in the names."""

from dataclasses import field

from assemblies.results.row import Row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class StrengthCheck(Row):
    """`demand` carries the safety factor unless `service` says why not; `use` = demand/resistance
    (null: no resistance at all).

    `level`: what a use over 1 means, stop or warn. `damage`: the sum of a fatigue check."""

    item: str
    case: str
    check: str
    demand: float
    resistance: float
    unit: str
    use: float | None
    source: str
    ok: bool
    at_wheel_mm: float | None = None
    at_rack_mm: float | None = None
    note: str = ""
    cure: str = ""
    level: str = "stop"
    damage: float | None = None
    service: str = ""


@dataclass(frozen=True)
class LoadCaseRow(Row):
    name: str
    force_n: list[float]
    moment_nm: list[float]
    at: str
    from_wheel_mm: float | None  # null: over all of the travel
    to_wheel_mm: float | None
    full_lock: bool
    rare: bool


@dataclass(frozen=True)
class ReactionRow(Row):
    """Force and moment, car axes, at a point, on what `on` names; `own_n` the same force in the axes the part
    is drawn in."""

    name: str
    on: str
    case: str
    at_wheel_mm: float
    at_rack_mm: float
    point_mm: list[float]
    force_n: list[float]
    moment_nm: list[float]
    own_n: list[float] | None = None


@dataclass(frozen=True)
class PathLink(Row):
    """One link of the way from the tyre to the frame: `part` held on `on` by `by` (weld, bolts, press,
    bearing, contact, bought, yours, nothing), what of a force and a moment it carries in axes whose z is its
    own, and what it must carry in its worst case. `state`: held, open (it ends in nothing) or moves (a
    mechanism). `member`: the tube of the frame it ends on, "" for none."""

    part: str
    on: str
    by: str
    forces: str
    moments: str
    state: str
    case: str
    at_wheel_mm: float
    force_n: float
    moment_nm: float
    member: str = ""


@dataclass(frozen=True)
class StrengthRow(Row):
    """`checks` worst first; `frame`: what the frame must bear; `path`: the links from the tyre to the frame;
    `residual`, `virtual_work`: the balance, over
    the load."""

    checks: list[StrengthCheck] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    cases: list[LoadCaseRow] = field(default_factory=list)
    frame: list[ReactionRow] = field(default_factory=list)
    joints: list[ReactionRow] = field(default_factory=list)
    path: list[PathLink] = field(default_factory=list)
    residual: float | None = None
    virtual_work: float | None = None
