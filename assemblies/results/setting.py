"""The rows of results.json on clocking and setting up. Units are in the names; a number that does not exist
is null."""

from dataclasses import KW_ONLY, field

from assemblies.results.row import Row
from parts.base.frozen import dataclass


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
