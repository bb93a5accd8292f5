"""The rows of results.json on steering and corner geometry. Units are in the names; a number that does not
exist is null."""

from dataclasses import field

from assemblies.results.row import Curve, Row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class BumpSteer(Row):
    """Toe over travel with the rack held: change from ride (travel 0) at the same rack, + toe-in; one wheel.

    The curve's heights are `geometry.wheel_mm`. `slope`: exact, at ride; `worst`: greatest change either way;
    `steepest`: greatest slope either way."""

    rack_mm: float
    toe_change_deg: Curve
    slope_at_ride_deg_per_mm: float | None
    worst_deg: float | None
    worst_at_wheel_mm: float | None
    steepest_deg_per_mm: float | None
    steepest_at_wheel_mm: float | None


@dataclass(frozen=True)
class LockCurve(Row):
    """Both wheels at ride height in a turn towards this corner's side, from straight ahead to full lock."""

    rack_mm: Curve
    inner_deg: Curve
    outer_deg: Curve
    ackermann: Curve  # share of the angle difference
    ackermann_cotangents: Curve  # share of the difference of the cotangents


@dataclass(frozen=True)
class Turning(Row):
    """At full lock, about the point on the other axle's line that the inner, the outer wheel, or the middle
    of both gives: its distance from the car's middle, and the circle that the outer wheel's contact runs."""

    about: str  # inner wheel | outer wheel | mean
    radius_to_middle_mm: float | None
    circle_mm: float | None


@dataclass(frozen=True)
class JointTilt(Row):
    """The most a tie rod's end must tilt over all travel and rack; `limit_deg`: what such a joint takes,
    typical."""

    end: str  # inner | outer
    joint: str
    deg: float
    limit_deg: float
    at_wheel_mm: float
    at_rack_mm: float
    ok: bool


@dataclass(frozen=True)
class Rack(Row):
    """The rack and what follows from it; `*_extension_mm` 0: its own end reaches the tie rod. Stresses are
    among the strength's checks."""

    length_mm: float
    stroke_mm: float
    mm_per_turn: float | None
    centre_mm: list[float]
    place_given: bool
    extension_mm: float
    other_extension_mm: float
    thread: str
    engagement_mm: float
    jam_nuts: int


@dataclass(frozen=True)
class Place(Row):
    """A place of the tie rod's inner joint and whether tie rod and rack have room there over travel and
    rack."""

    place_mm: list[float]
    toe_deg: float | None  # greatest |toe change|, upwards
    clear: bool | None  # proven; null: not looked at
    short: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class ZoneRow(Row):
    """Greatest |toe change| from droop to bump against ride, rack straight ahead, with the inner joint at
    `y_mm`, `z_mm` and its present x, the tie rod made anew: rows by z. Null where the corner does not
    stand."""

    x_mm: float
    y_mm: list[float]
    z_mm: list[float]
    worst_deg: list[list[float | None]]
    limit_deg: float
    present: Place
    best: Place  # in whole millimetres from the present one
    raise_mm: float
    outboard_mm: float
    extension_mm: float | None  # of a given rack, this side
    changes: dict[str, list[float] | float]  # keys of the job that put it there
    sentence: str
    tried: list[Place] = field(default_factory=list)  # a coarse grid of places, where it was asked for


@dataclass(frozen=True)
class Steering(Row):
    """Rack positive to +y (the car's left) on either side. `lock_*` null where no rack steers the axle."""

    lock_rack_mm: float | None = None
    lock_by: str = ""
    lock_by_gaps_mm: float | None = (
        None  # rack each way that the gaps of all it moves allow; null: not looked at
    )
    rack: Rack | None = None
    turns_lock_to_lock: float | None = None
    inner_lock_deg: float | None = None
    outer_lock_deg: float | None = None
    ackermann_limit: float | None = None  # as the rack nears straight ahead
    ackermann_lock: float | None = None
    ackermann_cotangents_lock: float | None = None
    pivots_mm: float | None = None
    wheelbase_mm: float | None = None
    lock: LockCurve | None = None
    turning: list[Turning] = field(default_factory=list)
    bump: list[BumpSteer] = field(default_factory=list)
    zone: ZoneRow | None = None  # worked out by `steer` and by a build
    tilts: list[JointTilt] = field(default_factory=list)
    toggle_margin_deg: float | None = None
    toggle_margin_at_wheel_mm: float | None = None
    toggle_margin_at_rack_mm: float | None = None
    definitions: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class GeometryRow(Row):
    """A number at ride height, straight ahead, with how it is defined, what is usual, and what it feels
    like."""

    key: str
    name: str
    value: float | None
    unit: str
    usual: str
    feels: str
    definition: str


@dataclass(frozen=True)
class RollRow(Row):
    """Both wheels with the body rolled, `roll_deg` about +x: positive leans to the car's right."""

    roll_deg: float
    left_wheel_mm: float | None
    right_wheel_mm: float | None
    left_camber_to_road_deg: float | None
    right_camber_to_road_deg: float | None
    left_toe_deg: float | None
    right_toe_deg: float | None


@dataclass(frozen=True)
class Axle(Row):
    """Two corners, the other this one's mirror image or a job of its own; per g of steady cornering."""

    track_mm: float
    roll_rate_springs_nm_per_deg: float
    roll_rate_bar_nm_per_deg: float
    roll_share: float  # of the car's roll moment, taken by this axle's rate
    roll_share_from: str
    load_transfer_n_per_g: float  # the outer wheel gains it, the inner loses it
    load_transfer_geometric_n_per_g: float
    load_transfer_share: float  # of the car's load transfer moment
    jacking_n_at_1_g: float
    roll_deg_per_g: float | None
    rolled: list[RollRow] = field(default_factory=list)


@dataclass(frozen=True)
class Geometry(Row):
    """Curves over `wheel_mm`, droop to bump, rack straight ahead; `rows` are the numbers at ride."""

    wheel_mm: list[float]
    kingpin_inclination_deg: Curve
    caster_deg: Curve
    scrub_radius_mm: Curve
    trail_mm: Curve
    camber_deg: Curve
    camber_deg_per_mm: Curve
    toe_deg_per_mm: Curve
    track_change_mm: Curve  # one wheel, outboard
    track_change_per_mm: Curve
    roll_centre_mm: Curve  # over the ground, by the motion of the contact
    roll_centre_by_arms_mm: Curve  # over the ground, the arms' construction: a check
    front_view_swing_arm_mm: Curve
    side_view_swing_arm_mm: Curve
    contact_slope: Curve  # forward per mm of its own rise: torque held by the upright
    wheel_centre_slope: Curve  # torque held by the frame
    rows: list[GeometryRow] = field(default_factory=list)
    axle: Axle | None = None
