"""The rows of results.json on gaps, contacts, hoses, links and room for tools. Units are in the names."""

from dataclasses import field
from typing import Any

from assemblies.results.row import Row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Cure(Row):
    """What would give a pair its gap: a member's `shift`, a bar cut shorter at one end (`shorten`) or a
    `trim` of the rocker's outline, as `changes` of the job's keys.

    `holds`: laid out anew with its brackets, all its gaps and its strength are in order; else `trouble` says
    what is not."""

    kind: str
    body: str
    changes: dict[str, Any]
    holds: bool
    shift_mm: list[float] | None = None
    cut_mm: float | None = None
    trouble: list[str] = field(default_factory=list)
    note: str = ""


@dataclass(frozen=True)
class PairRow(Row):
    """A pair of bodies over the whole travel (and rack): `gap_mm` is proven from below, `found_gap_mm` was
    found."""

    a: str
    b: str
    kind: str
    gap_mm: float
    found_gap_mm: float
    required_mm: float
    at_wheel_mm: float
    at_rack_mm: float
    ok: bool
    point_a: list[float] | None = None
    point_b: list[float] | None = None
    under_from_wheel_mm: float | None = None
    under_to_wheel_mm: float | None = None
    at_other_wheel_mm: float | None = None  # of a pair of both sides of the car
    exact_gap_mm: float | None = (
        None  # the CAD kernel's, at the pose, what turns in the other left out, bores filled; 0: they overlap
    )
    common_mm3: float | None = None  # volume that both fill there
    common_metal_mm3: float | None = None  # the same with bores and holes open
    margin_mm: float | None = None  # building tolerance that required_mm holds
    # of joined bodies the parts that lack most tell the row: proven of all that do not turn in one another
    least_gap_mm: float | None = None
    cures: list[Cure] = field(default_factory=list)  # of a short pair, where they were asked for


@dataclass(frozen=True)
class Hose(Row):
    """A hose between two points over all travel and rack: `least_length_mm` is proven, `with_spare_mm` common
    practice; `sag_mm` how far one of the given length can hang off the straight line where its ends are
    nearest."""

    name: str
    length_mm: float | None
    least_length_mm: float
    with_spare_mm: float
    longest_at_wheel_mm: float
    longest_at_rack_mm: float
    shortest_mm: float
    shortest_at_wheel_mm: float
    shortest_at_rack_mm: float
    sag_mm: float | None = None


@dataclass(frozen=True)
class Linked(Row):
    """A shaft or link between two bodies over all travel and rack, `length_mm` between its joints at ride:
    how far they come nearer (in) and go apart (out) from there, proven, against the whole way its joint
    slides; the most each joint bends from its own axis. None: no limit is given."""

    name: str
    length_mm: float
    plunge_in_mm: float
    plunge_in_at_wheel_mm: float
    plunge_in_at_rack_mm: float
    plunge_out_mm: float
    plunge_out_at_wheel_mm: float
    plunge_out_at_rack_mm: float
    plunge_limit_mm: float | None
    from_angle_deg: float
    from_angle_ride_deg: float
    from_angle_at_wheel_mm: float
    from_angle_at_rack_mm: float
    from_angle_limit_deg: float | None
    to_angle_deg: float
    to_angle_ride_deg: float
    to_angle_at_wheel_mm: float
    to_angle_at_rack_mm: float
    to_angle_limit_deg: float | None


@dataclass(frozen=True)
class RestGap(Row):
    """Two parts that do not move against each other, at every height: `on` what carries both. Those with
    little to spare; pieces of one body may touch (`required_mm` 0)."""

    a: str
    b: str
    on: str
    gap_mm: float
    required_mm: float
    ok: bool
    point_a: list[float]
    point_b: list[float]


@dataclass(frozen=True)
class ContactRow(Row):
    """Two parts that touch on purpose, by name. `kind`: weld, node (tubes of the frame cut to each other),
    bolt (through or on what it clamps), fit (one round in another), held (a spring in its window), seat (a
    coil), turns (an eye on its bolt or between what holds it), given (the job says so). `by`: the joint."""

    a: str
    b: str
    kind: str
    by: str


@dataclass(frozen=True)
class SharedMetal(Row):
    """Two drawn solids that the CAD kernel finds in each other at a pose. `kind`: how they touch on purpose;
    None: they should be apart."""

    a: str
    b: str
    common_mm3: float
    at_wheel_mm: float
    at_rack_mm: float
    kind: str | None


@dataclass(frozen=True)
class ClearanceRow(Row):
    checked: bool
    tolerance_mm: float
    pairs: list[PairRow] = field(default_factory=list)
    at_rest: list[RestGap] = field(default_factory=list)
    contacts: list[ContactRow] = field(default_factory=list)
    # this side's bodies to the mirror image's, as far as they come near it
    other_side: list[PairRow] = field(default_factory=list)
    not_checked: list[str] = field(default_factory=list)
    # pairs that the CAD kernel was not asked about in a build, and why
    not_confirmed: list[str] = field(default_factory=list)
    # poses (wheel, rack) at which a build has held every whole solid against every other, and what of them
    # share metal; null: not a build
    whole_at: list[list[float]] | None = None
    shared_metal: list[SharedMetal] = field(default_factory=list)
    outline_may_grow_mm: float | None = None  # the rocker's, all round; null: not at all


@dataclass(frozen=True)
class BoltAccess(Row):
    """Whether a bolt can be got at, wheel off and all else in place. A wheel height is one at which it was
    found to go; null: none was."""

    bolt: str
    size: str
    length_mm: float
    head: str  # the side its head is on
    head_tool: str | None
    nut_tool: str | None
    tools_at_wheel_mm: float | None
    out_at_wheel_mm: float | None
    in_the_way: list[str] = field(default_factory=list)
