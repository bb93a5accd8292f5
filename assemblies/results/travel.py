"""The rows of results.json on travel, ends, spring and stops. Units are in the names; a number that does not
exist is null."""

from dataclasses import KW_ONLY, field
from typing import Any

from assemblies.results.row import Curve, Row
from parts.base.frozen import dataclass


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
