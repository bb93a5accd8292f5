"""The model of results.json: the contract with whoever reads it. Extend it; never rename or drop a key.

Units are in the names. A number that does not exist (a toggle that is never reached) is null.
"""

import json
import math
from collections.abc import Iterable
from dataclasses import KW_ONLY, field, replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import BeforeValidator, TypeAdapter

from assemblies.results.findings import Finding, worst_first
from assemblies.results.not_checked import NotChecked, gather
from assemblies.results.row import Row
from assemblies.results.steering import Geometry, Steering
from parts.base.frozen import dataclass
from parts.base.version import version

SCHEMA = 1
Curve = list[float | None]  # null where the mechanism cannot stand


@dataclass(frozen=True)
class AssumedRow(Row):
    _: KW_ONLY
    key: str
    value: Any
    unit: str = ""
    why: str


@dataclass(frozen=True)
class Travel(Row):
    """Arrays of one length over droop to bump, in steps of 1 mm or finer."""

    _: KW_ONLY
    wheel_mm: list[float]
    rocker_deg: Curve
    damper_mm: Curve
    damper_per_wheel: Curve
    wheel_per_damper: Curve
    wheel_rate_n_per_mm: Curve
    wheel_rate_spring_term_n_per_mm: Curve
    wheel_rate_geometry_term_n_per_mm: Curve
    wheel_force_n: Curve
    rod_force_n: Curve
    spring_torque_nm: Curve | None = None
    spring_force_n: Curve | None = None
    spring_twist_deg: Curve | None = None
    camber_deg: Curve
    toe_deg: Curve
    rod_to_arm_deg: Curve
    rod_moment_arm_mm: Curve
    damper_moment_arm_mm: Curve | None = None  # the same of a pull in the damper; null: of an older build
    rod_outboard_tilt_deg: Curve
    rod_inboard_tilt_deg: Curve
    damper_tilt_deg: Curve  # out of the rocker's plane, at both eyes alike


@dataclass(frozen=True)
class EndsRow(Row):
    """Where the mechanism and the damper end; null where that does not come before the linkage itself
    stops."""

    reach_mm: list[float]  # the linkage closes from here to here
    stopped_by: list[str]  # and what stops it, droop side and bump side
    toggle_margin_deg: float
    toggle_margin_at_wheel_mm: float
    toggle_droop_mm: float | None
    toggle_bump_mm: float | None
    damper_tops_out_at_wheel_mm: float | None
    damper_bottoms_at_wheel_mm: float | None
    damper_margin_longest_mm: float
    damper_margin_shortest_mm: float
    spring_slack_at_wheel_mm: float | None


@dataclass(frozen=True)
class SpringNumbers(Row):
    _: KW_ONLY
    kind: str
    rate_nm_per_rad: float | None = None
    rate_nm_per_deg: float | None = None
    rate_clamped_bound_nm_per_rad: float | None = None
    rate_held_bound_nm_per_rad: float | None = None
    rate_n_per_mm: float | None = None
    ride_torque_nm: float | None = None
    ride_force_n: float | None = None
    ride_twist_deg: float | None = None
    droop_twist_deg: float | None = None
    bump_twist_deg: float | None = None
    twist_at_damper_top_out_deg: float | None = None
    slack_rocker_deg: float | None = None
    ride_compression_mm: float | None = None
    droop_compression_mm: float | None = None
    bump_compression_mm: float | None = None
    stress_ride_mpa: float | None = None
    stress_max_mpa: float | None = None
    ride_frequency_hz: float
    rise_percent: float


@dataclass(frozen=True)
class ClockingSetting(Row):
    """Teeth counted in the loading sense at both ends; `angle_deg` is the wind it adds, from the design
    setting; + raises the car."""

    sleeve_teeth: int
    anchor_teeth: int
    angle_deg: float
    ride_height_mm: float
    torque_nm: float | None = None  # where the car then stands
    twist_deg: float | None = None
    stress_mpa: float | None = None
    droop_twist_deg: float | None = None  # left at full droop
    bump_stress_mpa: float | None = None
    beyond: str = ""  # why not to set it: what the spring then goes beyond; empty: nothing speaks against it
    held: str = (
        ""  # what holds the car at that height beside its spring, or that it is past the wished travel
    )
    turn_deg: float = 0.0  # what a slot or a free joint adds
    bolt: dict[str, str] = field(default_factory=dict)  # which pair of holes, by joint


@dataclass(frozen=True)
class ClockingJoint(Row):
    _: KW_ONLY
    name: str
    kind: str
    steps: int | None = None
    step_deg: float | None = None
    range_deg: float | None = None
    side: str


@dataclass(frozen=True)
class WrongTooth(Row):
    """What a mistake of these teeth does: null where the car could not stand. `held`: what holds it at that
    height beside its spring ("hangs on the droop strap", ...), or that it stands past the wished travel."""

    teeth: dict[str, int]
    angle_deg: float
    ride_height_mm: float | None
    held: str = ""


@dataclass(frozen=True)
class Clocking(Row):
    """`steps` in degrees by joint; `ride_height_per_step_mm` by the same names, + raises the car, and
    `held_per_step` for those that take it to a stop or past the wished travel."""

    steps: dict[str, float] = field(default_factory=dict)
    ride_height_per_step_mm: dict[str, float] = field(default_factory=dict)
    held_per_step: dict[str, str] = field(default_factory=dict)
    ride_height_per_deg_mm: float | None = None
    settings: list[ClockingSetting] = field(default_factory=list)
    joints: list[ClockingJoint] = field(default_factory=list)
    wrong_tooth: list[WrongTooth] = field(default_factory=list)


@dataclass(frozen=True)
class EndStop(Row):
    """What ends the travel: "bump stop", "droop strap", "damper" (its metal), or the linkage's part.
    `force_n` along the stop (null: metal, no bound); `fall_mm` over the ground of the hanging wheel that
    brings it there."""

    wheel_mm: float
    by: str
    force_n: float | None = None
    touches_mm: float | None = None
    fall_mm: float | None = None


@dataclass(frozen=True)
class RunsOn(Row):
    """Where the wheel goes past its wished travel, and what breaks or clashes there that does not within it,
    first things first."""

    from_wheel_mm: float
    to_wheel_mm: float
    breaks: list[str]
    gaps_checked: bool


@dataclass(frozen=True)
class Ground(Row):
    """Least height over the ground of what hangs on the frame, the car level: at ride and at the end of
    bump."""

    body: str
    ride_mm: float
    least_mm: float
    at_wheel_mm: float


@dataclass(frozen=True)
class Stops(Row):
    bump: EndStop
    droop: EndStop
    runs_on: RunsOn | None = None
    ground: list[Ground] = field(default_factory=list)  # lowest first


@dataclass(frozen=True)
class WindingRow(Row):
    """The spring at one pose, from free: twist and torque of a rotary spring, compression and force of a
    coil-over."""

    _: KW_ONLY
    pose: str
    wheel_mm: float
    twist_deg: float | None = None
    torque_nm: float | None = None
    compression_mm: float | None = None
    force_n: float | None = None
    energy_j: float
    lever_force_n: float | None = None
    lever_travel_mm: float | None = None


@dataclass(frozen=True)
class CollarRow(Row):
    """A setting of a coil-over's collar: `wind_mm` it squeezes the coil more than designed (+ raises the
    car), `seat_to_perch_mm` with the damper off the car and pulled right out, the rest where the car then
    stands; null where it cannot stand."""

    wind_mm: float
    seat_to_perch_mm: float
    ride_height_mm: float | None
    force_n: float | None
    droop_compression_mm: float | None  # left at full droop; below 0 the coil is loose
    held: str = (
        ""  # what holds the car at that height beside its spring, or that it is past the wished travel
    )
    beyond: str = ""  # why not to set it; empty: nothing speaks against it


@dataclass(frozen=True)
class AdjusterRow(Row):
    """One step of an adjuster either way: the car's rise, mm, and what then holds it beside its spring."""

    name: str
    step: float
    unit: str
    up_mm: float
    down_mm: float
    up_held: str = ""
    down_held: str = ""


@dataclass(frozen=True)
class SlideRow(Row):
    slide_mm: float  # towards the rocker
    free_length_mm: float
    rate_nm_per_rad: float
    rate_change_percent: float
    ride_height_mm: float  # rise of the car at the same clock setting
    wheel_rate_n_per_mm: float  # where it then stands
    ride_frequency_hz: float | None  # null where a stop holds the car
    wind_back_deg: float  # wind that brings ride height back
    stress_bump_mpa: float  # at full bump of the job, at the same clock setting
    overlap_mm: float  # of the pack in the rocker's socket
    protrusion_mm: float  # of the pack past that socket, towards and through the rocker
    ok: bool
    held: str = ""  # what holds the car there beside its spring, or that it is past the wished travel


@dataclass(frozen=True)
class DrillRow(Row):
    """A hole of an adjustable joint: angle from the datum line, arc along the bare tube (plates: along the
    hole circle)."""

    joint: str
    part: str
    row: int
    along_mm: float
    angle_deg: float
    arc_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class SetUp(Row):
    """How the corner is set up. `loading_turn`: +1 where bump turns the rocker clockwise for somebody at the
    rocker looking along the spring, -1 anticlockwise, null for a coil-over."""

    _: KW_ONLY
    lever_mm: float
    winding: list[WindingRow]
    socket_slack_deg: float | None = None  # lost before the spring bears, both ends together, from the middle
    torque_bound_nm: float | None = None  # at full droop, of a leaf pack as stiff as its ends can make it
    stop: str
    cautions: list[str]
    adjusters: list[AdjusterRow]
    slide: list[SlideRow] = field(default_factory=list)
    loading_turn: int | None = None
    drill: list[DrillRow] = field(default_factory=list)
    order: list[str] = field(default_factory=list)
    collar: list[CollarRow] = field(default_factory=list)  # of a coil-over, the design setting in the middle


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


@dataclass(frozen=True)
class HoleRow(Row):
    number: int
    purpose: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    fit: str
    made: str
    cut_mm: float = 0.0  # what the cutter makes of it; 0: drilled


@dataclass(frozen=True)
class BlankRow(Row):
    name: str
    part: str
    hand: str
    count: int  # a side that uses it
    material: str
    thickness_mm: float
    area_mm2: float
    cut_length_mm: float
    mass_kg: float
    holes: list[HoleRow]
    dxf: str | None = None
    count_car: int | None = None  # of this file for both sides of the car


@dataclass(frozen=True)
class PartRow(Row):
    name: str
    body: str
    count: int
    material: str
    mass_kg: float | None  # null: bought, weigh it
    centre_of_gravity_mm: list[float]
    step: str | None = None
    step_other: str | None = None  # of the other side's, its mirror image


@dataclass(frozen=True)
class CutRow(Row):
    """A line of the cut list and bill of materials; `cost` where [prices] has a figure for it."""

    # plate | tube | bar | spring | fastener | bought | open (not laid out) | frame (the job's own members)
    group: str
    item: str
    count: int
    stock: str
    length_mm: float | None
    material: str
    mass_each_kg: float | None  # null: bought, weigh it
    mass_kg: float | None
    cost: float | None
    note: str


@dataclass(frozen=True)
class MassesRow(Row):
    """The corner's own parts, half of arms and rod unsprung; frame members apart; and over a plain coil-over
    corner."""

    parts_kg: float
    sprung_kg: float
    unsprung_kg: float
    centre_of_gravity_mm: list[float]
    frame_members_kg: float
    missing: list[str]
    over_plain_coil_over_kg: float | None = None
    height_over_plain_mm: float | None = None
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class NestedPlate(Row):
    """A plate in hand with blanks laid on it; `use_percent`: blanks' gross area over the plate's metal."""

    plate: str
    thickness_mm: float
    material: str
    blanks: int
    use_percent: float
    cut_length_mm: float
    cuts: int
    without_lead: int
    dxf: str | None = None
    picture: str | None = None


@dataclass(frozen=True)
class MissingBlank(Row):
    blank: str
    count: int
    thickness_mm: float
    material: str
    why: str


@dataclass(frozen=True)
class PlateWanted(Row):
    """A plate that would take what is missing of its thickness."""

    thickness_mm: float
    material: str
    length_mm: float
    width_mm: float


@dataclass(frozen=True)
class Nesting(Row):
    """The blanks of the sides that are built, on the plates in hand."""

    spacing_mm: float
    plates: list[NestedPlate] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    missing: list[MissingBlank] = field(default_factory=list)
    wanted: list[PlateWanted] = field(default_factory=list)


@dataclass(frozen=True)
class BarRow(Row):
    """One bar of tube or rod and the pieces sawn from it, in order."""

    section: str
    material: str
    length_mm: float
    bought: bool
    pieces: list[str]
    piece_lengths_mm: list[float]
    offcut_mm: float


@dataclass(frozen=True)
class BarsToBuy(Row):
    """`at_least`: the bound by length; `proven`: `count` is the fewest there can be; `needed_mm`: what is
    used of them, `by_the_metre` what is ordered."""

    section: str
    material: str
    length_mm: float
    count: int
    at_least: int
    proven: bool
    needed_mm: float
    by_the_metre: bool = False


@dataclass(frozen=True)
class Results(Row):
    _: KW_ONLY
    schema: int = SCHEMA
    version: str = field(default_factory=version)  # of the program that made it
    name: str
    side: str
    what: str = "corner"  # or "frame": a file with members only
    assumed: list[AssumedRow]
    travel: Travel | None = None
    ends: EndsRow | None = None
    spring: SpringNumbers | None = None
    stops: Stops | None = None
    clocking: Clocking = field(default_factory=Clocking)
    setup: SetUp | None = None
    clearance: ClearanceRow
    steering: Steering | None = None
    geometry: Geometry | None = None
    hoses: list[Hose] = field(default_factory=list)
    links: list[Linked] = field(default_factory=list)
    access: list[BoltAccess] = field(default_factory=list)
    junctions: JunctionsRow | None = None
    strength: StrengthRow = field(default_factory=StrengthRow)
    blanks: list[BlankRow] = field(default_factory=list)
    parts: list[PartRow] = field(default_factory=list)
    cut_list: list[CutRow] = field(default_factory=list)
    masses: MassesRow | None = None
    nest: Nesting | None = None
    sawing: list[BarRow] = field(default_factory=list)
    bars_to_buy: list[BarsToBuy] = field(default_factory=list)
    not_made: list[str] = field(default_factory=list)  # kinds of files a build was not asked for
    taken_out: list[str] = field(default_factory=list)  # those of an older build that no longer held
    findings: list[Finding]

    @property
    def not_checked(self) -> list[NotChecked]:
        """Everything that no check of this run stands for, from every room."""
        return gather(self)

    def grown(self, found: Iterable[Finding] = (), **content: Any) -> "Results":
        """A copy with more fields in place and more findings: their list only grows."""
        if "findings" in content:
            raise TypeError("findings only grow: give the new ones as `found`")
        return replace(self, findings=list(worst_first([*self.findings, *found])), **content)

    def to_json(self) -> str:
        """Text of results.json: keys by their names, no NaN or infinity, numbers to 9 figures."""
        told = _plain(self) | {"not_checked": _plain(self.not_checked)}
        return json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read(path: str | Path) -> Results:
    """Raises ValidationError for a key that is none, or a value of another kind."""
    return parsed(Path(path).read_text(encoding="utf-8"))


def parsed(text: str) -> Results:
    """As `read`, of the text of a results.json. What was not checked is worked out anew."""
    return _reader().validate_json(text)


@cache
def _reader() -> TypeAdapter:
    return TypeAdapter(Annotated[Results, BeforeValidator(_without_worked_out)])


def _without_worked_out(given: Any) -> Any:
    return {k: v for k, v in given.items() if k != "not_checked"} if isinstance(given, dict) else given


def _plain(value: Any) -> Any:
    if isinstance(value, Row):
        return {k: _plain(v) for k, v in vars(value).items()}
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return float(f"{value:.9g}") if math.isfinite(value) else None
    return value
