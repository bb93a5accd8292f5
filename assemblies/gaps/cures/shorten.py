"""A bar whose end stands in the way, cut shorter: the least cut that gives all its pairs what they need, as a
key of the job."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.clearance.suggest import quiet
from assemblies.gaps.cures.stand import Stand, trouble
from assemblies.gaps.interference import Asked
from assemblies.job import JobError
from assemblies.job.frame import Bar
from assemblies.job.places import put_at
from assemblies.results import gaps as rs

NEAR_END_MM = 40.0  # a nearest point so near an end of the bar is the end's affair
MOST_MM = 60.0  # no more is cut off, nor a third of the bar
STEP_MM = 0.5
STEPS = 10


def shorten(stand: Stand, name: str) -> rs.Cure | None:
    """How much to cut off the end at which a bar's worst pair is nearest; None where it is no bar, not near
    an end, or no cut of up to `MOST_MM` is enough. A cut by c changes no gap by more than c, so marching by
    what is lacking passes no first place."""
    member = next(m for m in stand.job.member if m.name == name)
    worst = next(p for p in stand.report.pairs if name in (p.a, p.b))
    if not isinstance(member, Bar):
        return None
    now = {"from": member.from_, "to": member.to}
    a, b = np.array(member.from_), np.array(member.to)
    length = math.dist(a, b)
    along = float((np.array(worst.point_b if worst.b == name else worst.point_a) - a) @ (b - a)) / length
    written, end, way = ("from", a, (b - a) / length) if along < length / 2 else ("to", b, (a - b) / length)
    if min(along, length - along) > NEAR_END_MM:
        return None
    cut = worst.required_mm - worst.gap_mm
    for _ in range(STEPS):
        cut = STEP_MM * math.ceil(cut / STEP_MM - 1e-6)
        if cut > min(MOST_MM, length / 3):
            return None
        changes = dict(
            [put_at(f"member.{name}.{written}", now[written], (end + cut * way).tolist(), off_node=True)]
        )
        left = _lacking(stand, name, changes)
        if left <= 0:
            return _tried(stand, name, changes, cut)
        cut += left
    return None


def _lacking(stand: Stand, name: str, changes: Mapping[str, Any]) -> float:
    """The most that a pair of the member lacks with keys changed, all else where it is."""
    asked, need = (
        stand.asked,
        {frozenset((p.a, p.b)): p.required_mm for p in stand.report.pairs if name in (p.a, p.b)},
    )
    own = Asked.of(stand.job, stand.sprung.ends, stand.placed(changes)).bodies
    bodies = (*(b for b in asked.bodies if b.carrier != "frame"), *(b for b in own if b.name == name))
    named = {b.name for b in bodies}
    joints = tuple(j for j in asked.joints if {j.a, j.b} <= named)
    rows = (
        replace(asked, bodies=bodies, joints=joints, limits=quiet(asked.limits))
        .check(stand.mechanism, name)
        .pairs
    )
    return max((need[frozenset((r.a, r.b))] - r.gap_mm for r in rows), default=math.inf)


def _tried(stand: Stand, name: str, changes: Mapping[str, Any], cut: float) -> rs.Cure:
    try:
        wrong = trouble(stand, stand.anew(changes), name)
    except (JobError, ValueError) as e:
        wrong = [str(e)]
    return rs.Cure(
        kind="shorten", body=name, changes=dict(changes), holds=not wrong, trouble=wrong, cut_mm=cut
    )
