"""Where the wheel is really stopped, what happens beyond the wished travel where nothing stops it there, and
how near the frame then comes to the ground."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable
from dataclasses import replace

from assemblies.clearance.rest import lowest_mm
from assemblies.gaps.interference import interference as gaps_of
from assemblies.job import Job
from assemblies.layout.bodies import bodies
from assemblies.layout.placing import Layout
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing, springing
from assemblies.motion.stops import Stop
from assemblies.results.findings import Finding, Level, guaranteed, lacking, use_of
from assemblies.results.gaps import PairRow
from assemblies.results.travel import EndStop, Ground, RunsOn, Stops
from assemblies.strength import strength
from assemblies.strength.corner import rooms_of
from assemblies.strength.found import Strength
from assemblies.strength.stops import travel_ends
from assemblies.study.verdict import verdict
from parts.base.frozen import dataclass

PAST_MM = 0.5  # beyond the wished travel: from here on it counts
ENDS = ("damper-", "droop-stop", "preload", "twist-left")  # findings that speak of the end itself


@dataclass(frozen=True)
class CornerSoFar:
    """What is known of a corner so far."""

    job: Job
    mechanism: Mechanism
    sprung: Springing
    layout: Layout
    findings: list[Finding]
    gaps: bool  # whether they were looked at


def stopped(c: CornerSoFar) -> tuple[Stops, list[Finding]]:
    """Both ends of the travel, the run beyond them, the ground, and what they say."""
    bump, droop = travel_ends(c.job, c.mechanism, c.sprung, c.layout.made)
    on = _run_on(c, bump, droop)
    high = max(bump.wheel_mm, 0.0) if bump.by != c.sprung.ends.stops[1] else c.job.corner.bump
    ground = _ground(c, high)
    told = Stops(bump=_row(bump), droop=_row(droop), runs_on=on, ground=ground)
    return told, [*_bump(c, bump), *_strap(c, droop), *_beyond(on), *_low(c.job, ground)]


def _row(s: Stop) -> EndStop:
    force, touches, fall = (v if math.isfinite(v) else None for v in (s.force_n, s.touches_mm, s.fall_mm))
    return EndStop(wheel_mm=s.wheel_mm, by=s.by, force_n=force, touches_mm=touches, fall_mm=fall)


# ------------------------------------------------------------ beyond the wished travel


def _run_on(c: CornerSoFar, bump: Stop, droop: Stop) -> RunsOn | None:
    """The same parts over the travel that is really there, where a stop, strap or the damper ends it beyond
    the wished one."""
    wished = c.job.corner
    high = bump.wheel_mm if bump.by in ("bump stop", "spring", "damper") else wished.bump
    low = droop.wheel_mm if droop.by in ("droop strap", "damper") else -wished.droop
    low, high = min(low, -wished.droop), max(high, wished.bump)
    if high <= wished.bump + PAST_MM and low >= -wished.droop - PAST_MM:
        return None
    far, sprung, layout = _as_far_as(c, low, high)
    found = list(verdict(far, sprung))
    known = {_mark(f) for f in c.findings if f.level == "stop"}
    heights: dict[str, float] = {}
    try:
        whole = strength(far, c.mechanism, sprung, layout)
        found += whole.findings
        heights = _broken_by(c, low, high, whole, [f.where for f in _fresh(whole.findings, known)])
    except ValueError as e:
        found.append(Finding(level="stop", code="load-case", where="strength", text=f"{e}."))
    if c.gaps:
        gaps, of_gaps = gaps_of(far, c.mechanism, sprung.ends, layout)
        found += of_gaps
        for p in gaps.pairs:
            heights[f"{p.a} to {p.b}"] = _enters(p, wished)
    said = [(heights.get(f.where), f) for f in _fresh(found, known)]
    said.sort(key=lambda hf: math.inf if hf[0] is None else abs(hf[0]))
    breaks = [
        f"{f.where}{'' if z is None else f' by wheel {z:+z.1f} mm'}: {f.text.partition('. ')[0].rstrip('.')}"
        for z, f in said
    ]
    return RunsOn(from_wheel_mm=low, to_wheel_mm=high, breaks=breaks, gaps_checked=c.gaps)


def _as_far_as(c: CornerSoFar, low: float, high: float) -> tuple[Job, Springing, Layout]:
    far = c.job.changed({"corner.bump": high, "corner.droop": -low})
    return far, springing(far, c.mechanism), replace(c.layout, job=far)


def _broken_by(
    c: CornerSoFar, low: float, high: float, whole: Strength, items: Collection[str]
) -> dict[str, float]:
    """The height each of these items has broken by: looked at again at each quarter of what lies beyond the
    wished travel, in the rooms that gave their rows."""
    wished, heights = c.job.corner, dict[str, float]()
    rooms = rooms_of(whole, [row for row in whole.checks if row.item in items])
    quarters = []
    for part in (0.25, 0.5, 0.75) if rooms else ():
        some = -wished.droop + part * (low + wished.droop), wished.bump + part * (high - wished.bump)
        far, sprung, layout = _as_far_as(c, *some)
        quarters.append(strength(far, c.mechanism, sprung, layout, rooms=rooms).checks)
    for row in itertools.chain(*quarters, whole.checks):
        if not row.ok and row.level == "stop" and row.wheel_mm is not None:
            heights.setdefault(row.item, row.wheel_mm)
    return heights


def _fresh(found: Iterable[Finding], known: Collection[tuple[str, str]]) -> list[Finding]:
    """The stops among them that the wished travel has not."""
    return [f for f in found if f.level == "stop" and _mark(f) not in known and not f.code.startswith(ENDS)]


def _enters(p: PairRow, wished) -> float:
    """Wheel height beyond the wished travel from which a pair's gap is short."""
    low, high = p.under_from_wheel_mm, p.under_to_wheel_mm
    if low is not None and high is not None:
        if high > wished.bump:
            return max(low, wished.bump)
        if low < -wished.droop:
            return min(high, -wished.droop)
    return p.at_wheel_mm


def _mark(f: Finding) -> tuple[str, str]:
    """What a finding is about, without the pose it was found at."""
    return f.code, f.where if f.code.startswith(("gap", "clash", "strength")) else ""


# ------------------------------------------------------------ words


def _bump(c: CornerSoFar, s: Stop) -> list[Finding]:
    wished, given, g = c.job.corner.bump, c.job.bump_stop, c.job.loads.vertical_g
    where = f"wheel {s.wheel_mm:+z.1f} mm"
    if s.by == "bump stop":
        text = (
            f"The bump stop touches at wheel {s.touches_mm:+z.1f} mm and carries {g:g} corner weights with "
            f"the spring at {s.wheel_mm:+z.1f} mm (wished {wished:+g}), {s.force_n:.0f} N along the damper: "
            f"a fall of {max(s.fall_mm, 0):.0f} mm of the hanging wheel, no damping counted."
        )
        return [Finding(level="note", code="bump-stop", where=where, text=text)]
    if s.by == "spring":
        text = (
            f"The spring alone carries {g:g} corner weights at {s.wheel_mm:+z.1f} mm: the bump stop is not "
            f"touched."
        )
        return [Finding(level="note", code="bump-stop", where=where, text=text)]
    ends = "the damper bottoms, metal on metal" if s.by == "damper" else f"the linkage itself ends ({s.by})"
    first = (
        f"The bump stop is pressed past its last row ({given.curve[-1][0]:g} mm, {given.curve[-1][1]:.0f} N) "
        f"and does not carry {g:g} corner weights: the wheel runs on to {s.wheel_mm:+z.1f} mm, where {ends}."
        if given
        else f"Nothing in the inputs stops the wheel at the wished bump of {wished:+g} mm: it runs on to "
        f"{s.wheel_mm:+z.1f} mm, where {ends}."
    )
    cure = "Take a stiffer or longer bump_stop" if given else "Give a [bump_stop] on the damper's shaft"
    return [
        Finding(
            level="warn" if s.by == "damper" else "stop",
            code="bump-stop",
            where=where,
            text=f"{first} The force of metal on metal has no bound from these sums. {cure}.",
        )
    ]


def _strap(c: CornerSoFar, s: Stop) -> list[Finding]:
    """A strap, or a damper that says how stiff it tops out; of any other the verdict says where it does."""
    strap, where = c.job.droop_strap, f"wheel {s.wheel_mm:+z.1f} mm"
    thrown = "where the spring throws the wheel down, no damping counted"
    if strap is None:
        text = f"The damper tops out at {s.wheel_mm:+z.1f} mm and bears up to {s.force_n:.0f} N {thrown}."
        known = math.isfinite(s.force_n)
        return [Finding(level="note", code="top-out", where=where, text=text)] if known else []
    if s.by == "droop strap" and not math.isfinite(s.force_n):
        text = (
            f"The strap of {strap.length:g} mm is taut at ride height already: lengthen droop_strap.length."
        )
        return [Finding(level="stop", code="droop-strap", where="ride height", text=text)]
    if s.by != "droop strap":
        return [
            Finding(
                level="warn",
                code="droop-strap",
                where=where,
                text=f"The strap of {strap.length:g} mm is still slack at {s.wheel_mm:+z.1f} mm, where the "
                f"{s.by} ends droop: shorten droop_strap.length.",
            )
        ]
    text = (
        f"The strap is taut at {s.wheel_mm:+z.1f} mm (wished {-c.job.corner.droop:+g}) and is pulled with up "
        f"to {s.force_n:.0f} N {thrown}"
    )
    most = strap.breaking_load
    if most is None:
        return [Finding(level="note", code="droop-strap", where=where, text=f"{text}.")]
    use = c.job.loads.safety * s.force_n / most
    text += f": {use_of(use)} of {most:.0f} N with the safety of {c.job.loads.safety:g}."
    cure = "" if use <= 1 else " Take a softer or a stronger strap."
    return [Finding(level="stop" if use > 1 else "note", code="droop-strap", where=where, text=text + cure)]


def _beyond(on: RunsOn | None) -> list[Finding]:
    if on is None:
        return []
    reach = f"wheel {on.from_wheel_mm:+z.1f} to {on.to_wheel_mm:+z.1f} mm"
    gaps = "" if on.gaps_checked else " Gaps were left out of this run."
    if not on.breaks:
        text = (
            f"Looked at as far as the wheel really goes, {reach}: nothing more breaks or clashes there.{gaps}"
        )
        return [Finding(level="note", code="runs-on", where=reach, text=text)]
    more = f" Then {'; '.join(on.breaks[1:4])}." if len(on.breaks) > 1 else ""
    text = (
        f"The wheel goes past its wished travel, and there {len(on.breaks)} more "
        f"{'thing breaks or clashes' if len(on.breaks) == 1 else 'things break or clash'}, first "
        f"{on.breaks[0]}.{more}{gaps} Stop the wheel before with [bump_stop] or [droop_strap], or cure them "
        "with that travel in corner.bump and corner.droop."
    )
    return [Finding(level="stop", code="runs-on", where=reach, text=text)]


# ------------------------------------------------------------ the ground


def _ground(c: CornerSoFar, high_mm: float) -> list[Ground]:
    """Lowest points of all that stands still on the frame; the car sinks level by the wheel's travel, and the
    ground stays under the contact."""
    standing = [b for b in bodies(c.layout) if b.carrier == "frame"]
    lowest: dict[str, float] = {}
    for body, low_mm in zip(standing, lowest_mm(standing), strict=True):
        lowest[body.name] = min(low_mm, lowest.get(body.name, math.inf))
    at = c.job.wheel.contact[2]
    rise = {name: z - at for name, z in lowest.items() if math.isfinite(z)}
    return [
        Ground(body=name, ride_mm=ride, least_mm=ride - high_mm, at_wheel_mm=high_mm)
        for name, ride in sorted(rise.items(), key=lambda item: item[1])
    ]


def _low(job: Job, ground: list[Ground]) -> list[Finding]:
    if not ground:
        return []
    g, asked = ground[0], job.clearance.ground
    level: Level = "stop" if g.least_mm <= 0 else "warn" if g.least_mm < asked else "note"
    cure = (
        ""
        if level == "note"
        else f" Raise it by {lacking(asked - g.least_mm, 1)} mm, or stop the wheel earlier with [bump_stop]."
    )
    return [
        Finding(
            level=level,
            code="ground",
            where=g.body,
            text=f"Lowest on the frame is {g.body}: {guaranteed(g.ride_mm)} mm over the ground at ride, "
            f"{guaranteed(g.least_mm)} mm at wheel {g.at_wheel_mm:+z.1f} mm with the car level, "
            f"{asked:g} mm asked (the tyre gives some 10 mm more).{cure}",
        )
    ]
