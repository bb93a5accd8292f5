"""Steering and geometry of a job as rows of results.json and findings, in one pass over a grid of poses."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from assemblies.gaps.interference import closing_rack_mm
from assemblies.job import Job
from assemblies.job.car import ROLL_SHARE
from assemblies.job.rack import extensions, place
from assemblies.layout.rack import SEAM_MM
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from assemblies.results import steering as rs
from assemblies.results.findings import Finding
from assemblies.steering import axle as two
from assemblies.steering import steer
from assemblies.steering.geometry import CornerGeometry, anti_percent, corner
from assemblies.steering.pivots_line import outboard
from assemblies.steering.usual import ROWS, STEERING, anti
from parts.base.stock import rod_end

MARGIN_WARN_DEG = 25.0  # between steering arm and tie rod, common practice
TILT_SHARE = 0.8  # of what a joint takes: said from there
BALL_DEG = 25.0  # a bought ball joint each way, typical: ask its maker
ROLLS_DEG = (-4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0)
AT_G = 1.0  # of braking, for the share where none is given

CURVES = {
    "kingpin_inclination_deg": "kingpin_deg",
    "caster_deg": "caster_deg",
    "scrub_radius_mm": "scrub_mm",
    "trail_mm": "trail_mm",
    "camber_deg": "camber_deg",
    "camber_deg_per_mm": "camber_deg_per_mm",
    "toe_deg_per_mm": "toe_deg_per_mm",
    "track_change_mm": "track_mm",
    "track_change_per_mm": "track_per_mm",
    "roll_centre_mm": "roll_centre_mm",
    "roll_centre_by_arms_mm": "roll_centre_by_arms_mm",
    "front_view_swing_arm_mm": "front_view_arm_mm",
    "side_view_swing_arm_mm": "side_view_arm_mm",
    "contact_slope": "contact_slope",
    "wheel_centre_slope": "centre_slope",
}


def geometry(job: Job, mechanism: Mechanism, sprung: Springing) -> rs.Geometry:
    """Corner geometry over the travel of the job, numbers at ride, the axle. Needs a corner that stands."""
    wheel = sprung.wheel_mm
    c = corner(mechanism.at(wheel))
    at = corner(mechanism.at(np.zeros(1)))
    ride = {key: float(getattr(at, field)[0]) for key, field in CURVES.items()}
    rows = [rs.GeometryRow(value=_or_none(ride[t.key]), **t._asdict()) for t in ROWS]
    share, how = brake_share(job)
    rows += [
        rs.GeometryRow(
            value=_or_none(
                float(anti_percent(ride[slope], part, job.car.wheelbase, job.car.cg_height, sense))
            ),
            **told._asdict(),
        )
        for slope, told, part, sense in anti(job.car.axle, job.car.driven, share, how)
    ]
    return rs.Geometry(
        wheel_mm=[float(z) for z in wheel],
        **{key: _list(getattr(c, field)) for key, field in CURVES.items()},
        rows=rows,
        axle=axle(job, mechanism, sprung, at),
    )


def brake_share(job: Job) -> tuple[float, str]:
    """Front share of the car's braking and where it is from: the job's, or as the wheels are loaded at 1
    g."""
    car = job.car
    if car.brake_share is not None:
        return car.brake_share, "car.brake_share"
    share = (car.wheelbase - car.cg_from_front + AT_G * car.cg_height) / car.wheelbase
    return min(1.0, share), f"as the wheels are loaded at {AT_G:g} g"


def axle(
    job: Job,
    mechanism: Mechanism,
    sprung: Springing,
    at_ride: CornerGeometry,
    other: tuple[Job, Springing] | None = None,
) -> rs.Axle:
    """Two corners as an axle: this one and its mirror image, or `other`, the corner of the other side."""
    there = other[1].mechanism if other else Mechanism(mechanism.points.mirrored())
    rates = [_ride_rate(sprung), _ride_rate(other[1] if other else sprung)]
    ys = [float(m.ride("contact")[0, 1]) for m in (mechanism, there)]
    track = abs(ys[0] - ys[1])
    springs = two.roll_rate_nm_per_deg(rates, ys)
    own, rest = springs + job.car.bar_rate, job.car.other_roll_rate
    share, source = (
        (own / (own + rest), "both axles' roll rates")
        if rest
        else (ROLL_SHARE, "assumed: car.other_roll_rate")
    )
    masses = [job.corner.corner_mass, (other[0] if other else job).corner.corner_mass]
    moved = two.transfer(
        sum(masses),
        job.car.mass,
        job.car.cg_height,
        track,
        float(at_ride.roll_centre_mm[0]),
        share,
        own / share if share else None,
    )
    left, right = (mechanism, there) if mechanism.points.side == "left" else (there, mechanism)
    stands = [two.stand(m, np.array(ROLLS_DEG)) for m in (left, right)]
    return rs.Axle(
        track_mm=track,
        roll_rate_springs_nm_per_deg=springs,
        roll_rate_bar_nm_per_deg=job.car.bar_rate,
        roll_share=share,
        roll_share_from=source,
        load_transfer_n_per_g=moved.load_n,
        load_transfer_geometric_n_per_g=moved.geometric_n,
        load_transfer_share=moved.share,
        jacking_n_at_1_g=moved.jacking_n,
        roll_deg_per_g=moved.roll_deg,
        rolled=[
            rs.RollRow(
                roll_deg=roll,
                **{
                    f"{side}_{key}": _or_none(float(getattr(s, key)[i]))
                    for side, s in zip(("left", "right"), stands, strict=True)
                    for key in ("wheel_mm", "camber_to_road_deg", "toe_deg")
                },
            )
            for i, roll in enumerate(ROLLS_DEG)
        ],
    )


def steering(job: Job, mechanism: Mechanism, sprung: Springing) -> tuple[rs.Steering, list[Finding]]:
    """What the rack does, or a toe link without lock; with findings on toggle, joints and lock."""
    lock = job.tie_rod.rack_travel
    wheel = sprung.wheel_mm
    racks = np.array([0.0] if not lock else [-lock, -lock / 2, 0.0, lock / 2, lock])
    poses = mechanism.at(wheel[:, None], racks)
    if not poses.valid.any():
        return rs.Steering(), []
    change = steer.bump_steer_deg(poses, mechanism.at(0.0, racks))
    slope = steer.toe_slope_deg_per_mm(poses)
    ride_slope = steer.toe_slope_deg_per_mm(mechanism.at(0.0, racks))
    bump = [
        rs.BumpSteer(
            rack_mm=float(r),
            toe_change_deg=_list(change[:, k]),
            slope_at_ride_deg_per_mm=_or_none(float(ride_slope[k])),
            **_worst("worst", "deg", change[:, k], wheel),
            **_worst("steepest", "deg_per_mm", slope[:, k], wheel),
        )
        for k, r in enumerate(racks)
    ]
    tilts = _tilts(job, poses, wheel, racks)
    found = [f for t in tilts if (f := _tilt_finding(t))]
    common: dict[str, Any] = dict(bump=bump, tilts=tilts, definitions=STEERING, rack=rack_row(job))
    found += _goes_further(job)
    straight = np.nanmax(np.abs(change[:, len(racks) // 2]), initial=0.0)
    found += outboard(mechanism.points, float(straight))
    if not lock:
        return rs.Steering(**common), found
    margin, of_margin = _toggle(job, mechanism, sprung, poses, racks)
    return rs.Steering(**common | _at_lock(job, mechanism) | margin), found + of_margin


def _goes_further(job: Job) -> list[Finding]:
    """A rack whose stroke is more than the travel that is worked out."""
    lock = job.tie_rod.rack_travel
    if job.rack is None or lock >= job.rack.stroke:
        return []
    return [
        Finding(
            level="warn",
            code="lock-stop",
            where=f"rack ±{lock:g} mm",
            text=(
                f"The rack goes on to ±{job.rack.stroke:g} mm, {job.rack.stroke - lock:g} mm further than "
                f"tie_rod.rack_travel {lock:g} mm, and everything here is worked out to there only: fit a "
                f"stop at ±{lock:g} mm of the rack, both ways, or leave tie_rod.rack_travel out."
            ),
        )
    ]


def _at_lock(job: Job, mechanism: Mechanism) -> dict[str, Any]:
    """Fields of the results that say how far and how round the wheels turn."""
    lock = job.tie_rod.rack_travel
    t = steer.turn(mechanism, lock, job.car.wheelbase, job.car.axle)
    mean = (t.centre_inner_mm[-1] + t.centre_outer_mm[-1]) / 2, t.circle_mean_mm[-1]
    return dict(
        lock_rack_mm=lock,
        lock_by=ended_by(job),
        turns_lock_to_lock=2 * lock / job.rack.mm_per_turn if job.rack and job.rack.mm_per_turn else None,
        inner_lock_deg=_or_none(float(t.inner_deg[-1])),
        outer_lock_deg=_or_none(float(t.outer_deg[-1])),
        ackermann_limit=_or_none(t.ackermann_limit),
        ackermann_lock=_or_none(float(t.ackermann[-1])),
        ackermann_cotangents_lock=_or_none(float(t.ackermann_cot[-1])),
        pivots_mm=t.pivots_mm,
        wheelbase_mm=job.car.wheelbase,
        lock=rs.LockCurve(
            rack_mm=_list(t.rack_mm),
            inner_deg=_list(t.inner_deg),
            outer_deg=_list(t.outer_deg),
            ackermann=_list(t.ackermann),
            ackermann_cotangents=_list(t.ackermann_cot),
        ),
        turning=[
            rs.Turning(about=about, radius_to_middle_mm=_or_none(float(r)), circle_mm=_or_none(float(c)))
            for about, r, c in (
                ("inner wheel", t.centre_inner_mm[-1], t.circle_inner_mm[-1]),
                ("outer wheel", t.centre_outer_mm[-1], t.circle_outer_mm[-1]),
                ("mean", *mean),
            )
        ],
    )


def _toggle(
    job: Job, mechanism: Mechanism, sprung: Springing, poses: Any, racks: np.ndarray
) -> tuple[dict[str, Any], list[Finding]]:
    """How near steering arm and tie rod come to one line: fields of the results, and a finding."""
    lock, wheel = job.tie_rod.rack_travel, sprung.wheel_mm
    within = sprung.ends.within(-float(wheel[0]), float(wheel[-1]))
    held = closing_rack_mm(mechanism, within, lock)
    if held < lock:
        told: dict[str, Any] = dict(
            toggle_margin_deg=0.0,
            toggle_margin_at_rack_mm=held,
            lock_by=f"the tie rod cannot follow beyond rack ±{held:.1f} mm at every wheel height",
        )
        stop = Finding(
            level="stop",
            code="steering-toggle",
            where=f"rack ±{held:.1f} mm",
            text=(
                f"Steering arm and tie rod come into one line at rack ±{held:.1f} mm, before the "
                f"{lock:g} mm asked: there the wheel can turn over. Lessen tie_rod.rack_travel below "
                f"{held:.1f} mm with margin, or lengthen the steering arm (tie_rod.outer further from the "
                f"ball joints' line)."
            ),
        )
        return told, [stop]
    angle = steer.arm_to_rod_deg(poses)
    margin = np.minimum(angle, 180 - angle)
    i, k = np.unravel_index(np.nanargmin(margin), margin.shape)
    told = dict(
        toggle_margin_deg=float(margin[i, k]),
        toggle_margin_at_wheel_mm=float(wheel[i]),
        toggle_margin_at_rack_mm=float(racks[k]),
    )
    if margin[i, k] >= MARGIN_WARN_DEG:
        return told, []
    near = Finding(
        level="warn",
        code="steering-toggle",
        where=f"wheel {wheel[i]:+z.1f} mm, rack {racks[k]:+z.1f} mm",
        text=(
            f"Steering arm and tie rod come within {margin[i, k]:.1f} deg of one line; keep "
            f"{MARGIN_WARN_DEG:g} deg (common practice). Nearer, the steering grows heavy and slack, and in "
            f"line the wheel can turn over. Lessen tie_rod.rack_travel or lengthen the steering arm "
            f"(tie_rod.outer further from the ball joints' line)."
        ),
    )
    return told, [near]


def ended_by(job: Job) -> str:
    """What ends the lock: the rack's own stroke, a stop short of it, or just the job's figure."""
    if job.rack is None:
        return "tie_rod.rack_travel, a figure of the job"
    if job.tie_rod.rack_travel < job.rack.stroke:
        return f"a stop: the rack itself goes to ±{job.rack.stroke:g} mm"
    return "the rack's own ends"


def rack_row(job: Job) -> rs.Rack | None:
    """The rack with the extensions that reach both tie rods."""
    rack, inner = job.rack, job.tie_rod.inner
    if rack is None:
        return None
    centre = place(rack, inner)
    this, other = (max(0.0, e) for e in extensions(rack.length, centre[1], inner[1]))
    return rs.Rack(
        length_mm=rack.length,
        stroke_mm=rack.stroke,
        mm_per_turn=rack.mm_per_turn,
        centre_mm=list(centre),
        place_given=rack.centre is not None,
        extension_mm=this,
        other_extension_mm=other,
        thread=rack.thread,
        engagement_mm=rack.engagement,
        jam_nuts=sum(e > SEAM_MM for e in (this, other)),
    )


def _tilts(job: Job, poses, wheel, racks) -> list[rs.JointTilt]:
    """A made tie rod has a rod end of its thread at either end; a bought one a ball joint in line with the
    rack, and one in the steering arm; without a rack its inner end hangs on a bolt too."""
    thread = job.tie_rod.thread
    ends = [("outer", steer.outer_tilt_deg(poses), thread)]
    in_line = thread is None and job.tie_rod.rack_travel > 0
    ends.append(("inner", steer.to_rack_deg(poses) if in_line else steer.inner_tilt_deg(poses), thread))
    out = []
    for end, tilt, size in ends:
        i, k = np.unravel_index(np.nanargmax(np.abs(tilt)), tilt.shape)
        limit = rod_end(size).tilt_deg if size else BALL_DEG
        out.append(
            rs.JointTilt(
                end=end,
                joint=f"rod end {size}"
                if size
                else ("ball joint in line with the rack" if end == "inner" and in_line else "ball joint"),
                deg=abs(float(tilt[i, k])),
                limit_deg=float(limit),
                at_wheel_mm=float(wheel[i]),
                at_rack_mm=float(racks[k]),
                ok=bool(abs(tilt[i, k]) <= limit),
            )
        )
    return out


def _tilt_finding(t: rs.JointTilt) -> Finding | None:
    if t.deg <= TILT_SHARE * t.limit_deg:
        return None
    over, made = t.deg > t.limit_deg, t.joint.startswith("rod end")
    takes = "binds at about" if over else "takes about"
    return Finding(
        level="stop" if over and made else "warn",
        code="tie-rod-tilt",
        where=f"wheel {t.at_wheel_mm:+z.1f} mm, rack {t.at_rack_mm:+z.1f} mm",
        text=(
            f"The tie rod's {t.end} end tilts {t.deg:.1f} deg; a {t.joint} {takes} {t.limit_deg:g} "
            f"deg (typical: "
            f"measure yours), and a bound stem breaks. Lessen tie_rod.rack_travel or the travel, or "
            f"fit coned "
            f"spacers."
        ),
    )


def _worst(name: str, unit: str, values, wheel) -> dict:
    if not np.isfinite(values).any():
        return {f"{name}_{unit}": None, f"{name}_at_wheel_mm": None}
    i = int(np.nanargmax(np.abs(values)))
    return {f"{name}_{unit}": float(values[i]), f"{name}_at_wheel_mm": float(wheel[i])}


def _ride_rate(s: Springing) -> float:
    return float(s.curves.wheel_rate_n_per_mm[int(np.argmin(np.abs(s.wheel_mm)))])


def _list(x) -> list[float | None]:
    return [_or_none(float(v)) for v in np.asarray(x, float)]


def _or_none(v: float) -> float | None:
    return v if math.isfinite(v) else None
