"""From the corner's numbers to findings: what cannot work, what is outside good practice, what is worth
knowing.

Limits without a named source are common practice of the trade, and a stop is only what geometry or statics
proves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from assemblies.job import Job
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing, springing
from assemblies.results.findings import Finding, Level, guaranteed, lacking
from assemblies.setup.collar import short_of_free
from assemblies.setup.limits import LEAST_DROOP_TWIST_DEG
from parts.base.stock import rod_end

TOGGLE_BEYOND_MM = 10.0  # no toggle within the travel and this much more at each end
ROD_TO_ARM_WARN_DEG, ROD_TO_ARM_STOP_DEG = 40.0, 25.0
DAMPER_MARGIN_MM = 5.0
OFF_PLANE_DEG = 5.0
TILT_SHARE = 0.8
RISE_ROAD, RISE_HARSH = 25.0, 60.0
DAMPER_PER_WHEEL_LEAST = 0.4
BUMP_STEER_DEG_PER_25_MM = 0.1
MOST_TIE_ROD_MM = 60.0  # as far as a height of the inner joint is looked for
SWING_MOST_DEG = 50.0
FREQUENCY_HZ = (1.0, 3.0)


def verdict(job: Job, s: Springing) -> list[Finding]:
    """All findings that need no part and no neighbour."""
    return [
        Finding(level=level, code=code, where=where, text=text)
        for rule in (_reach, _toggle, _damper, _droop_stop, _slack, _rod, _tilts, _rates, _steering)
        for level, code, where, text in rule(job, s)
    ]


Rows = Iterator[tuple[Level, str, str, str]]


def _reach(job: Job, s: Springing) -> Rows:
    low, high = s.ends.closes_mm
    for wished, end, stop, name in (
        (-job.corner.droop, low, s.ends.stops[0], "droop"),
        (job.corner.bump, high, s.ends.stops[1], "bump"),
    ):
        if abs(wished) > abs(end) and wished * end >= 0:
            yield (
                "stop",
                "cannot-close",
                f"wheel {end:+z.2f} mm",
                f"The linkage stops closing at {end:+z.3f} mm of the wished {wished:+g} mm of {name}: "
                f"the {stop} cannot reach further. Shorten corner.{name} or move that joint.",
            )


def _toggle(job: Job, s: Springing) -> Rows:
    e = s.ends
    droop, bump = job.corner.droop, job.corner.bump
    for z in e.toggle_mm:
        if z is not None and -droop - TOGGLE_BEYOND_MM <= z <= bump + TOGGLE_BEYOND_MM:
            yield (
                "stop",
                "toggle",
                f"wheel {z:+z.1f} mm",
                f"Rod and rocker arm come into one line at wheel {z:+z.2f} mm; the travel and "
                f"{TOGGLE_BEYOND_MM:g} mm beyond "
                f"each end must be free of it (wished {-droop:+g} to {bump:+g} mm), or the rocker folds the "
                f"wrong way. Turn the rod arm, or shorten the travel.",
            )
    level: Level
    if e.margin_deg < ROD_TO_ARM_STOP_DEG:
        level, limit = "stop", ROD_TO_ARM_STOP_DEG
    elif e.margin_deg < ROD_TO_ARM_WARN_DEG:
        level, limit = "warn", ROD_TO_ARM_WARN_DEG
    else:
        return
    yield (
        level,
        "toggle-margin",
        f"wheel {e.margin_at_mm:+z.1f} mm",
        f"Rod and rocker arm come within {guaranteed(e.margin_deg, 1)} deg of one line at wheel "
        f"{e.margin_at_mm:+z.1f} mm; "
        f"keep {limit:g} deg (common practice). Forces and rate grow fast there: turn the rod arm towards "
        f"square to the rod.",
    )


def _damper(job: Job, s: Springing) -> Rows:
    d, length = job.damper, s.poses.damper_mm
    if np.isnan(length).all():
        return
    for margin, z, end, name in (
        (
            np.nanmin(length) - d.shortest,
            s.wheel_mm[int(np.nanargmin(length))],
            s.ends.damper_shortest_mm,
            "shortest",
        ),
        (
            d.longest - np.nanmax(length),
            s.wheel_mm[int(np.nanargmax(length))],
            s.ends.damper_longest_mm,
            "longest",
        ),
    ):
        at = min((x for x in end if x is not None), key=abs, default=None)
        where = f"wheel {z:+z.1f} mm"
        cure = "Move damper.chassis_eye, shorten the travel or take a damper of more stroke."
        if margin < 0:
            runs = f" It runs out at wheel {at:+z.2f} mm." if at is not None else ""
            yield (
                "stop",
                f"damper-{name}",
                where,
                f"The damper would have to pass its {name} by {lacking(-margin, 1)} mm "
                f"({getattr(d, name):g} mm eye to eye).{runs} {cure}",
            )
        elif margin < DAMPER_MARGIN_MM:
            yield (
                "warn",
                f"damper-{name}",
                where,
                f"The damper comes within {guaranteed(margin, 1)} mm of its {name}; keep "
                f"{DAMPER_MARGIN_MM:g} mm (common practice). {cure}",
            )
    ride = s.poses.damper_mm[int(np.argmin(np.abs(s.wheel_mm)))]
    if not d.shortest <= ride <= d.longest:
        yield (
            "stop",
            "damper-ride",
            "ride height",
            f"At ride height the damper would be {ride:.1f} mm eye to eye; it goes from {d.shortest:g} to "
            f"{d.longest:g} mm. {cure}",
        )


def _droop_stop(job: Job, s: Springing) -> Rows:
    if job.droop_strap is not None:
        return  # said where the strap is looked at
    droop = -job.corner.droop
    top = min((z for z in s.ends.damper_longest_mm if z is not None and z < 0), key=abs, default=None)
    slack = s.slack_wheel_mm
    if top is None:
        yield (
            "note",
            "droop-stop",
            f"wheel {droop:+g} mm",
            f"Nothing in the inputs stops the wheel at the wished droop of {droop:+g} mm, not even the "
            f"damper: fit a strap or a stop there.",
        )
        return
    if top >= droop:
        return
    gone = slack is not None and slack > top
    says = (
        f" On the way the spring goes slack at {slack:+z.1f} mm."
        if gone
        else f" The spring still holds {s.twist_deg['damper_top_out']:.1f} deg of twist there."
        if "damper_top_out" in s.twist_deg
        else f" The coil is {short_of_free(s.compression_mm['damper_top_out'])} there."
        if "damper_top_out" in s.compression_mm
        else ""
    )
    yield (
        "warn" if gone else "note",
        "droop-stop",
        f"wheel {top:+z.1f} mm",
        f"Nothing in the inputs stops the wheel at the wished droop of {droop:+g} mm: the damper alone "
        f"would at {top:+z.1f} mm.{says} Fit a strap at {droop:+g} mm, or use a damper made to be the droop "
        f"stop.",
    )


def _slack(job: Job, s: Springing) -> Rows:
    droop, slack = -job.corner.droop, s.slack_wheel_mm
    if slack is not None and slack >= droop:
        yield (
            "stop",
            "slack",
            f"wheel {slack:+z.1f} mm",
            f"The spring carries nothing from wheel {slack:+z.2f} mm down, inside the wished droop of "
            f"{droop:+g} mm: rod and spring go loose "
            "and knock. Less droop, a softer spring (more twist or compression at ride), or a droop strap "
            "above that point.",
        )
        return
    if not s.spring.linear and np.isfinite(s.twist_deg["droop"]):
        left = s.twist_deg["droop"]
        beyond = (
            f"beyond full droop, at wheel {slack:+z.1f} mm"
            if slack is not None
            else "beyond where the linkage can go"
        )
        if left < LEAST_DROOP_TWIST_DEG:
            yield (
                "warn",
                "twist-left",
                f"wheel {droop:+g} mm",
                f"Only {left:.1f} deg of twist are left at full droop; keep {LEAST_DROOP_TWIST_DEG:g} deg "
                f"after settling and slack (common practice). "
                "More sleeve turn only lifts the car: less droop or a softer spring.",
            )
        yield (
            "note",
            "preload",
            "assembly",
            f"The spring is slack with the rocker at {s.slack_rocker_deg:+z.1f} deg, {beyond}. So {left:.1f} "
            f"deg must be wound in against a droop stop "
            "before the pin goes in: the stop must hold it, and a wound spring can break bones.",
        )


def _rod(job: Job, s: Springing) -> Rows:
    force = s.curves.rod_force_n
    loaded = force[np.isfinite(force) & (s.wheel_mm >= 0)]
    wanted = 1.0 if job.rod.kind == "pull" else -1.0
    if len(loaded) and (loaded * wanted < 0).any():
        worst = float(loaded[np.argmax(-loaded * wanted)])
        other = "push" if wanted > 0 else "pull"
        yield (
            "stop",
            "rod-sense",
            "ride to bump",
            f"The job calls it a {job.rod.kind} rod, yet the spring loads it with {worst:+z.0f} N (tension "
            f"positive) between ride and bump: it works as a "
            f'{other} rod. Set rod.kind = "{other}" or move the rod to the other side of the '
            "rocker's pivot.",
        )
    if s.spring.kind == "coil-over" and s.compression_mm["bump"] >= 0.75 * job.coil.free_length:
        yield (
            "warn",
            "coil-solid",
            "full bump",
            f"The coil is compressed {s.compression_mm['bump']:.0f} mm of its free "
            f"{job.coil.free_length:g} mm at full bump: ask its maker for the solid length.",
        )


def _tilts(job: Job, s: Springing) -> Rows:
    limit = rod_end(job.rod.thread).tilt_deg
    for name, tilt in (
        ("inboard", s.poses.rod_inboard_tilt_deg),
        ("outboard", s.poses.rod_outboard_tilt_deg),
    ):
        if np.isnan(tilt).all():
            continue
        if (
            name == "outboard"
        ):  # the bolt is set square to the rod at ride: what counts is the change from there
            tilt = tilt - tilt[int(np.argmin(np.abs(s.wheel_mm)))]
        worst = int(np.nanargmax(np.abs(tilt)))
        size, where = abs(float(tilt[worst])), f"wheel {s.wheel_mm[worst]:+z.1f} mm"
        if size > limit:
            yield (
                "stop",
                "rod-tilt",
                where,
                f"The {name} rod end would tilt {size:.1f} deg; one of {job.rod.thread} binds at about "
                f"{limit:g} deg (typical: measure yours), and a bound stem breaks. "
                "Turn the rocker's axis square to the rod or fit coned spacers.",
            )
        elif size > TILT_SHARE * limit:
            yield (
                "warn",
                "rod-tilt",
                where,
                f"The {name} rod end tilts {size:.1f} deg, over {100 * TILT_SHARE:.0f} % of about {limit:g} "
                f"deg (typical for {job.rod.thread}: measure yours).",
            )
        elif name == "inboard" and size > OFF_PLANE_DEG:
            yield (
                "note",
                "rod-off-plane",
                where,
                f"The rod leaves the rocker's plane by {size:.1f} deg; aim for {OFF_PLANE_DEG:g} deg or less "
                f"(common practice).",
            )
    tilt = s.poses.damper_tilt_deg
    if not np.isnan(tilt).all() and np.nanmax(np.abs(tilt)) > OFF_PLANE_DEG:
        worst = int(np.nanargmax(np.abs(tilt)))
        yield (
            "warn",
            "damper-off-plane",
            f"wheel {s.wheel_mm[worst]:+z.1f} mm",
            f"The damper leaves the rocker's plane by {abs(float(tilt[worst])):.1f} deg; keep "
            f"{OFF_PLANE_DEG:g} deg (common practice). "
            "Move damper.chassis_eye into the plane.",
        )


def _rates(job: Job, s: Springing) -> Rows:
    per = s.per_damper
    if np.isfinite(per).any() and np.nanmin(per) < DAMPER_PER_WHEEL_LEAST:
        i = int(np.nanargmin(per))
        yield (
            "note",
            "damper-ratio",
            f"wheel {s.wheel_mm[i]:+z.1f} mm",
            f"The damper moves only {per[i]:.2f} mm per mm of wheel; under {DAMPER_PER_WHEEL_LEAST:g} means "
            f"high forces in little stroke (common practice).",
        )
    if np.isfinite(s.ride_frequency_hz):
        yield from _snap(job, s)
    if np.isfinite(s.rise_percent) and np.isfinite(s.ride_frequency_hz):  # no share of a negative rate
        if -100 < s.rise_percent < 0:  # beyond that it is a snap-through
            yield (
                "warn",
                "falling-rate",
                "full bump",
                f"The wheel rate falls by {-s.rise_percent:.0f} % from ride to full bump: the corner gets "
                f"softer as it is pressed. {_rise_cure(job, s.rise_percent)}",
            )
        elif s.rise_percent > RISE_ROAD:
            yield (
                "warn" if s.rise_percent > RISE_HARSH else "note",
                "rise",
                "full bump",
                f"The wheel rate rises by {s.rise_percent:.0f} % from ride to full bump; +5 to "
                f"+{RISE_ROAD:g} % is usual on the road (common practice).",
            )
    if np.isnan(s.ride_frequency_hz):
        yield (
            "stop",
            "unstable",
            "ride height",
            "The wheel rate is negative at ride height: the corner would not stand. "
            + _turned(job, -math.inf, lambda after: _least_rate(after), "least wheel rate {:+z.1f} N/mm"),
        )
    elif not FREQUENCY_HZ[0] <= s.ride_frequency_hz <= FREQUENCY_HZ[1]:
        yield (
            "note",
            "frequency",
            "ride height",
            f"Ride frequency {s.ride_frequency_hz:.2f} Hz lies outside {FREQUENCY_HZ[0]:g} to "
            f"{FREQUENCY_HZ[1]:g} Hz (common practice): check masses, rate and ratio.",
        )
    swing = np.degrees(s.poses.rocker_rad)
    if np.isfinite(swing).any() and np.nanmax(swing) - np.nanmin(swing) > SWING_MOST_DEG:
        yield (
            "note",
            "swing",
            "whole travel",
            f"The rocker swings {np.nanmax(swing) - np.nanmin(swing):.0f} deg in all; 30 to "
            f"{SWING_MOST_DEG:g} deg is usual (common practice).",
        )


def _snap(job: Job, s: Springing) -> Rows:
    """Where the wheel rate crosses zero on the way from ride to either end: from there the wheel falls
    through."""
    rate, heights = s.curves.wheel_rate_n_per_mm, s.wheel_mm
    ride = int(np.argmin(np.abs(heights)))
    for name, order in (("bump", range(ride, len(rate))), ("droop", range(ride, -1, -1))):
        seen = [k for k in order if np.isfinite(rate[k])]
        k = next((n for n, at in enumerate(seen) if rate[at] <= 0), None)
        if not k:
            continue
        a, b = seen[k - 1], seen[k]
        height = float(heights[a] + (heights[b] - heights[a]) * rate[a] / (rate[a] - rate[b]))
        yield (
            "stop",
            "snap-through",
            f"wheel {height:+z.1f} mm",
            f"The wheel rate crosses zero at {height:+z.1f} mm of {name} ({rate[ride]:.1f} N/mm at ride): "
            f"beyond it "
            f"the wheel goes through by itself to where something stops it. "
            + _turned(job, _least_rate(s), _least_rate, "least wheel rate {:+z.1f} N/mm"),
        )


def _least_rate(s: Springing) -> float:
    rate = s.curves.wheel_rate_n_per_mm
    return float(rate.min()) if np.isfinite(rate).all() else -math.inf


def _rise_cure(job: Job, rise_percent: float) -> str:
    return _turned(job, rise_percent, lambda after: after.rise_percent, "{:+z.0f} % of rise")


def _turned(job: Job, now: float, measure: Callable[[Springing], float], words: str) -> str:
    """The smallest turn of the damper's or of the rod's arm about the rocker's pivot that lifts `measure`
    over zero, else the one that lifts it most: tried on the job itself; the values are the job's keys. Only a
    coil-over's rate is moved by the damper's arm."""
    arms = {"rod.inboard": job.rod.inboard}
    if job.spring.kind == "coil-over":
        arms = {"rocker.damper_eye": job.rocker.damper_eye, **arms}
    pivot, axis = np.array(job.rocker.pivot), np.array(job.rocker.axis) / np.linalg.norm(job.rocker.axis)
    best: tuple[float, str, list[float] | None] = (now, "", None)
    for deg in (5, -5, 10, -10, 15, -15, 20, -20):
        c, sn = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        for key, eye in arms.items():
            arm = np.array(eye) - pivot
            moved = pivot + arm * c + np.cross(axis, arm) * sn + axis * (axis @ arm) * (1 - c)
            point = [round(float(v), 1) + 0.0 for v in moved]
            try:
                tried = job.changed({key: point})
                after = springing(tried, Mechanism(HardPoints.of(tried)))
            except ValueError:
                continue
            if _sound(tried, after) and measure(after) > best[0] + 0.5:
                best = (measure(after), key, point)
        if best[0] > 0:
            break
    if best[2] is None:
        of = " or of the damper's arm" if len(arms) > 1 else ""
        return f"No turn of the rod's arm{of} by up to 20 deg makes it better: move the damper or the pivot."
    enough = "" if best[0] > 0 else ", which is not enough: move the damper or the pivot too"
    return (
        f"Tried: {best[1]} = {best[2]} gives {words.format(best[0])}{enough} (rod and damper lengths follow; "
        "check again)."
    )


def _sound(job: Job, s: Springing) -> bool:
    """The whole travel closes, clear of toggle, with the damper within its stroke."""
    length = s.poses.damper_mm
    return bool(
        np.isfinite(s.curves.wheel_rate_n_per_mm).all()
        and s.ends.margin_deg >= ROD_TO_ARM_WARN_DEG
        and length.max() <= job.damper.longest
        and length.min() >= job.damper.shortest
    )


def _steering(job: Job, s: Springing) -> Rows:
    toe = s.poses.toe_deg
    near = (np.abs(s.wheel_mm) <= 25.0) & np.isfinite(toe)
    if not near.any():
        return
    ride = toe[int(np.argmin(np.abs(s.wheel_mm)))]
    worst = float(np.max(np.abs(toe[near] - ride)))
    if worst > BUMP_STEER_DEG_PER_25_MM:
        yield (
            "warn",
            "bump-steer",
            "±25 mm",
            f"Toe changes by {worst:.2f} deg within 25 mm of travel; aim for {BUMP_STEER_DEG_PER_25_MM:g} "
            f"deg (common practice). {_level_tie_rod(s, worst)}",
        )


def _level_tie_rod(s: Springing, worst_deg: float) -> str:
    """How far the tie rod's inner joint goes up or down for toe to change least: secant on the slope of toe
    at ride height, then tried over the 25 mm either way."""
    points = s.mechanism.points
    heights = np.append(s.wheel_mm[(np.abs(s.wheel_mm) <= 25.0)], [-1.0, 1.0, 0.0])

    def toe(up: float) -> tuple[float, float]:
        """Slope at ride and the most over the 25 mm, the joint that much higher."""
        moved = Mechanism(points.changed(tie_inner=points.tie_inner + np.array([0.0, 0.0, up])))
        t = moved.at(heights).toe_deg
        return float(t[-2] - t[-3]), float(np.max(np.abs(t[:-3] - t[-1])))

    a, b = 0.0, 1.0
    (fa, _), (fb, _) = toe(a), toe(b)
    for _ in range(8):
        if not (math.isfinite(fa) and math.isfinite(fb)) or abs(fa - fb) < 1e-9 or abs(b) > MOST_TIE_ROD_MM:
            break
        a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
        fb = toe(b)[0]
    up = round(2 * b) / 2
    left = toe(up)[1] if abs(up) <= MOST_TIE_ROD_MM else math.nan
    if not left < worst_deg:
        return (
            f"No height of tie_rod.inner within {MOST_TIE_ROD_MM:g} mm makes it better: it is the tie rod's "
            "length or its outer joint."
        )
    z = float(points.tie_inner[2]) + up
    way = "Raise" if up > 0 else "Lower"
    enough = "" if left <= BUMP_STEER_DEG_PER_25_MM else ", the rest is the tie rod's length"
    return f"{way} tie_rod.inner by {abs(up):g} mm, to z = {z:g}: tried, {left:.2f} deg are left{enough}."
