"""The rocker's outline trimmed: the least trim of one of its sizes that clears a pair, as a key of the
job."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from assemblies.clearance import PairResult
from assemblies.clearance.suggest import quiet
from assemblies.gaps.cures.stand import Stand, trouble
from assemblies.gaps.interference import Asked
from assemblies.job import JobError
from assemblies.layout.placing import needed
from assemblies.results import gaps as rs
from assemblies.results.findings import guaranteed
from assemblies.results.findings import lacking as at_least
from parts.base.frozen import dataclass
from parts.fastener import BoltAndNut
from parts.rocker_plate import WAIST_FLOOR_MM, RockerPlate
from parts.shape.outline import OutlineError, Segment

ON_EDGE_MM = 0.6  # a nearest point so near the outline lies on its edge
BOSSES = ("pivot", "rod", "damper")
ORDER = ("waist", *BOSSES)  # in which sizes are tried
LEAST_USE = 0.005  # a check whose use rises by less is not worth a word


@dataclass(frozen=True)
class Size:
    """One size of the outline: the job's key, the plate's field, what it is now, and the steps it is trimmed
    in."""

    key: str
    field: str
    now_mm: float
    step_mm: float
    floor_mm: float


@dataclass(frozen=True)
class Trims:
    """What came of it: the trims that clear the pair (the one that takes least plate first), and what was
    found of the others."""

    cures: list[rs.Cure]
    said: list[str]


def trims(stand: Stand, pair: PairResult) -> Trims:
    """Trims of the rocker's outline where it comes nearest to the pair's other body.

    Each size that shapes the outline there is tried at the least its own rules allow (edge distances of EN
    1993-1-8, weld,
    necks: parts/rocker_plate); if that clears the pair, the largest value that still does is looked for, laid
    out anew and checked with all its gaps and its strength."""
    plate = needed(stand.layout.rocker).plate
    cures: list[rs.Cure] = []
    said: list[str] = []
    area: dict[str, float] = {}
    sizes = governing(stand, pair)
    if not sizes:
        return Trims(
            [], ["the place lies on the rocker's faces or on its tube, where no trim of the outline helps"]
        )
    for size in sizes:
        lowest, why = least(plate, size)
        if lowest is None:
            said.append(f"{size.key} cannot be less than now, {size.now_mm:.4g}{why}")
            continue
        lacking = _lacking(stand, pair, size)
        gained = pair.required_mm - pair.gap_mm - (left := lacking(lowest))
        if left > 0:
            said.append(
                f"{size.key} at its least, {lowest:g}{why}, gives {guaranteed(max(gained, 0.0))} of the "
                f"{at_least(pair.required_mm - pair.gap_mm)} mm missing"
            )
            continue
        cure, area[size.key] = _tried(stand, pair, size, _largest(lowest, size, partial(_clears, lacking)))
        cures.append(cure)
    cures.sort(key=lambda c: (not c.holds, -area[next(iter(c.changes))]))
    return Trims(cures, said)


def governing(stand: Stand, pair: PairResult) -> list[Size]:
    """The sizes that shape the outline where the rocker is nearest to the other body; none where that place
    is not on the outline's edge. Of bodies that overlap, of all the outline within their depth of it."""
    rocker, eyes = needed(stand.layout.rocker), needed(stand.layout.eyes)
    plate = rocker.plate
    known = _sizes(plate)
    frame = (
        stand.mechanism.at(np.array([pair.at_wheel_mm]), np.array([pair.at_rack_mm]))
        .frame("rocker")
        .reshape(-1, 4, 4)[0]
    )
    point = pair.point_a if pair.a == "rocker" else pair.point_b
    x, y, z = (np.linalg.inv(frame @ eyes.frame.matrix()) @ np.append(point, 1.0))[:3]
    if abs(z) > rocker.box_width_mm / 2 + plate.thickness_mm + ON_EDGE_MM:
        return []
    reach = ON_EDGE_MM + max(0.0, -pair.found_gap_mm)
    away = sorted((s.distance_mm(x, y), k) for k, s in enumerate(plate.outer.segments))
    shapers = {n for d, k in away if d <= reach for n in _shapers(plate, plate.outer.segments[k])} & set(
        known
    )
    return [known[n] for n in ORDER if n in shapers]


def _sizes(plate: RockerPlate) -> dict[str, Size]:
    now = {
        "pivot": plate.pivot_boss.radius_mm,
        "rod": plate.eye_boss("rod").radius_mm,
        "damper": plate.eye_boss("damper").radius_mm,
    }
    out = {w: Size(f"rocker.{w}_boss_radius", f"{w}_boss_radius_mm", r, 0.1, 0.0) for w, r in now.items()}
    if plate.sides[1] is not None:
        out = {
            "waist": Size("rocker.waist_radius", "waist_radius_mm", plate.waist_mm, 0.5, WAIST_FLOOR_MM)
        } | out
    return out


def _shapers(plate: RockerPlate, segment: Segment) -> list[str]:
    """What shapes a stretch of the outline: the hollow, a boss, or the two bosses that a straight side runs
    between."""
    if segment.bulge < 0:
        return ["waist"]
    at = {"pivot": (0.0, 0.0), "rod": plate.rod_eye, "damper": plate.damper_eye}
    if segment.bulge > 0:
        return [min(BOSSES, key=lambda b: math.dist(at[b], segment.centre))]
    radius = {n: s.now_mm for n, s in _sizes(plate).items()}
    ends = [
        min(BOSSES, key=lambda b: abs(math.dist(at[b], p) - radius[b])) for p in (segment.start, segment.end)
    ]
    hollow = ["waist"] if set(ends) == {"rod", "damper"} else []
    return [*hollow, *dict.fromkeys(ends)]


def _clears(lacking: Callable[[float], float], value: float) -> bool:
    return lacking(value) <= 0


def _sized(plate: RockerPlate, size: Size, value: float) -> RockerPlate:
    """Raises OutlineError where the plate's own rules do not allow it."""
    changed: dict[str, Any] = {size.field: value}
    return replace(plate, **changed)


def least(plate: RockerPlate, size: Size) -> tuple[float | None, str]:
    """The least value of a size that the plate's own rules allow, in its steps (None: the present one), and
    why no less."""

    def broken(value: float) -> str | None:
        try:
            _sized(plate, size, value)
        except OutlineError as e:
            return str(e)
        return None

    top = size.now_mm if math.isfinite(size.now_mm) else 10 * max(plate.arm_mm("rod"), plate.arm_mm("damper"))
    low, high = math.floor(size.floor_mm / size.step_mm), math.ceil(top / size.step_mm - 1e-6)
    if (why := broken((high - 1) * size.step_mm)) is not None:
        return None, _reason(why)
    high -= 1
    while high - low > 1:
        middle = (low + high) // 2
        if (said := broken(middle * size.step_mm)) is None:
            high = middle
        else:
            low, why = middle, said
    return round(high * size.step_mm, 6), _reason(why)


def _reason(error: str | None) -> str:
    """The rule behind an outline's error, in brackets."""
    if error is None:
        return " (a saw follows no less)"
    rule = error.rpartition("; ")[2].partition(": use ")[0].partition(": give ")[0]
    found = re.fullmatch(r"the least is [\d.]+ mm \((.*)\)", rule)
    return f" ({found[1].replace(' (', ', ').replace(')', '') if found else rule})"


def _largest(lowest: float, size: Size, clears: Callable[[float], bool]) -> float:
    """The largest value in steps, from one that clears, that still does."""
    top = size.now_mm if math.isfinite(size.now_mm) else 40 * lowest
    low, high = round(lowest / size.step_mm), math.ceil(top / size.step_mm - 1e-6)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if clears(middle * size.step_mm) else (low, middle)
    return round(low * size.step_mm, 6)


def _lacking(stand: Stand, pair: PairResult, size: Size) -> Callable[[float], float]:
    """What the pair lacks with another value of a size; all else stays where it is."""
    other = pair.b if pair.a == "rocker" else pair.a
    asked = stand.asked
    rest = [b for b in asked.bodies if b.name == other]
    bolts = any(isinstance(p.part, BoltAndNut) for p in stand.layout.placed if p.body == other)

    def lacking(value: float) -> float:
        layout = stand.placed({size.key: value}, bolts)
        own = Asked.of(layout.job, stand.sprung.ends, layout)
        rocker = [b for b in own.bodies if b.name == "rocker"]
        if not rocker:
            return math.inf
        joints = [j for j in own.joints if {j.a, j.b} == {"rocker", other}]
        rows = (
            replace(asked, bodies=(*rocker, *rest), joints=tuple(joints), limits=quiet(asked.limits))
            .check(stand.mechanism)
            .pairs
        )
        return max((pair.required_mm - r.gap_mm for r in rows), default=0.0)

    return lacking


def _tried(stand: Stand, pair: PairResult, size: Size, value: float) -> tuple[rs.Cure, float]:
    """The cure, and the area of plate it leaves."""
    other = pair.b if pair.a == "rocker" else pair.a
    changes = {size.key: value}
    try:
        after = stand.anew(changes)
    except (JobError, ValueError) as e:
        return rs.Cure(kind="trim", body="rocker", changes=changes, holds=False, trouble=[str(e)]), 0.0
    wrong = trouble(stand, after, "rocker", other)
    cure = rs.Cure(
        kind="trim", body="rocker", changes=changes, holds=not wrong, trouble=wrong, note=_use(stand, after)
    )
    return cure, after.layout.rocker.plate.outer.area_mm2 if after.layout.rocker else 0.0


def _use(before: Stand, after: Stand) -> str:
    """What a trim does to the rocker's checks: the most used of those it raises."""
    then = {(c.item, c.check): c.use or 0.0 for c in reversed(before.strength.checks)}
    raised = [
        (c.use, c.item, c.check)
        for c in after.strength.checks
        if "rocker" in c.item and c.use is not None and c.use - then.get((c.item, c.check), c.use) > LEAST_USE
    ]
    if not raised:
        return "no check of the rocker is used more for it"
    use, item, check = max(raised, key=lambda c: c[0])
    return f"{item}, {check}: use {at_least(then[item, check])} becomes {at_least(use)}"
