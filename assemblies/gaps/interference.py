"""The gaps of one corner: the interference check of everything placed, as results and as findings."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np

from assemblies.clearance import Limits, Report, between_sides, check
from assemblies.clearance.bounds import OTHER, CornerBounds
from assemblies.clearance.other_side import own_image
from assemblies.clearance.plan import ITSELF, STILL, TOGETHER, Cast, apart
from assemblies.clearance.scene import Grid, both_ways
from assemblies.gaps.rest import at_rest, taken_on_trust
from assemblies.job import Job
from assemblies.job.neighbours import NEIGHBOUR_KINDS
from assemblies.layout import bodies as neighbours
from assemblies.layout.contacts import REAMED_LEAN_DEG
from assemblies.layout.fasteners import fasteners
from assemblies.layout.placing import Layout
from assemblies.layout.rack import END, HOUSING
from assemblies.motion.ends import Ends
from assemblies.motion.mechanism import Mechanism
from assemblies.results import gaps as rs
from assemblies.results.findings import Finding, guaranteed, lacking
from parts.base.frozen import dataclass

NAMED = (STILL, TOGETHER, ITSELF)  # looked at at rest, or listed as a contact
ARTICLE = {k.word: k.article for k in NEIGHBOUR_KINDS}
EDGES = (
    (0.0, 0.99),
    (0.2, 0.97),
    (1.0, 0.93),
    (4.0, 0.85),
)  # mm of travel and share of rack kept from where it stops closing
TUBES = (
    "square",
    "rectangular",
    "round",
    "plate",
)  # members that stand on both sides of the car, but for one that crosses the middle;
# a tank or an engine does not, unless it rides on the corner
LEAN_DEG = (
    REAMED_LEAN_DEG,
    3.0,
)  # an eye on its bolt: what a reamed bore, a soft bush takes; common practice
PAST_MM = 0.05  # heights are told to a tenth
DEPTH_KNOWN_MM = 1.0  # a depth known no nearer than this is told as from and to
# the other side's bodies further than this from what stands on one side only, and with gap enough, are not
# listed
NEAR_MM = 50.0


@dataclass(frozen=True)
class Asked:
    """What the check of a corner is asked: its bodies and joints, over the travel it can reach and the
    rack."""

    bodies: tuple
    joints: tuple
    travel_mm: tuple[float, float]
    rack_mm: float
    limits: Any
    tolerance_mm: float

    @staticmethod
    def of(job: Job, ends: Ends, layout: Layout) -> Asked:
        travel = ends.within(job.corner.droop, job.corner.bump)
        return Asked(
            tuple(neighbours.bodies(layout)),
            tuple(neighbours.joints(layout)),
            travel,
            job.tie_rod.rack_travel,
            Limits.of(job.clearance),
            job.clearance.tolerance,
        )

    def check(self, mechanism: Mechanism | CornerBounds, only: str | None = None):
        """Its report, of one body's pairs where that is named. Raises ValueError."""
        return check(
            self.bodies,
            mechanism,
            self.travel_mm,
            self.rack_mm,
            self.joints,
            self.limits,
            self.tolerance_mm,
            between_runs=True,
            only=only,
        )

    def near(
        self, mechanism: Mechanism | CornerBounds, least_mm: float = 0.0, only: str | None = None
    ) -> Asked:
        """Of its bodies those that may come nearer to another, or to the one named, than that or than they
        need, by the boxes they sweep. Raises ValueError."""
        cast = Cast(self.bodies, self.joints, only and {(only, b.name) for b in self.bodies})
        grid = Grid(CornerBounds.of(mechanism), self.travel_mm, both_ways(self.rack_mm))
        near = {
            n
            for p, gap in zip(cast.pairs, cast.far(cast.pairs, grid, between_runs=True), strict=True)
            if gap < max(least_mm, self.limits.of_pair(p, cast) + self.tolerance_mm)
            for n in (p.a, p.b)
        }
        return replace(
            self,
            bodies=tuple(b for b in self.bodies if b.name in near),
            joints=tuple(j for j in self.joints if {j.a, j.b} <= near),
        )

    def between_sides(self, mechanism: Mechanism | CornerBounds, one_sided):
        """The report of this side's bodies to the other side's. Raises ValueError."""
        return between_sides(
            self.bodies,
            mechanism,
            self.travel_mm,
            self.rack_mm,
            self.limits,
            self.tolerance_mm,
            one_sided,
            between_runs=True,
        )

    def from_other_side(self, mechanism: Mechanism | CornerBounds, one_sided) -> list:
        """Pairs of the other side's moving bodies and what stands on one side only. Raises ValueError.

        Seen in the mirror: this side's bodies and the image of that; the rack then goes the other way."""
        moving = [b for b in self.bodies if b.carrier != "frame"]
        images = [
            replace(
                b, forms=tuple(f.mirrored() for f in b.forms), shells=tuple(s.mirrored() for s in b.shells)
            )
            for b in self.bodies
            if b.name in one_sided and not own_image([b])
        ]
        if not images:
            return []
        names = sorted({b.name for b in moving})
        alone = tuple(
            apart(a, b) for a, b in combinations(names, 2)
        )  # among themselves they are looked at elsewhere
        if {END, HOUSING} <= {b.name for b in (*moving, *images)}:
            alone = (*alone, *(j for j in self.joints if {j.a, j.b} == {END, HOUSING}))  # it slides in there
        some = replace(self, bodies=(*moving, *images), joints=alone).near(mechanism, NEAR_MM)
        if not some.bodies:
            return []
        return [
            replace(
                p,
                a=OTHER + p.a,
                point_a=_mirrored(p.point_a),
                point_b=_mirrored(p.point_b),
                at_rack_mm=0.0 - p.at_rack_mm,
                at_other_wheel_mm=p.at_wheel_mm,
            )
            for p in some.check(mechanism).pairs
            if not p.ok or p.gap_mm < NEAR_MM
        ]


def interference(
    job: Job, mechanism: Mechanism, ends: Ends, layout: Layout, cure: Callable | None = None
) -> tuple[rs.ClearanceRow, list[Finding]]:
    """Every pair of bodies over the travel the corner can reach, and the rack.

    `cure` gives, for the report, what would cure each short pair (`assemblies.gaps.cures`)."""
    whole = Asked.of(job, ends, layout)
    held_rack_mm = closing_rack_mm(mechanism, whole.travel_mm, whole.rack_mm)
    motion = CornerBounds.of(mechanism)
    try:
        asked, report = _as_far_as_it_goes(whole, job, motion, held_rack_mm)
    except ValueError as e:
        return (
            rs.ClearanceRow(checked=False, tolerance_mm=job.clearance.tolerance, not_checked=[str(e)]),
            [
                Finding(
                    level="stop",
                    code="interference",
                    where="interference",
                    text=f"The gaps could not be checked: {e}.",
                )
            ],
        )
    across = _across(asked, job, motion)
    skipped = (
        [f"rack beyond ±{guaranteed(asked.rack_mm, 1)} mm: too near where the corner stops closing"]
        if asked.rack_mm < job.tie_rod.rack_travel
        else []
    )
    skipped += [
        f"wheel {end:+z.1f} to {edge:+z.1f} mm: too near where the corner stops closing"
        for end, edge in zip(asked.travel_mm, whole.travel_mm, strict=True)
        if end != edge
    ]
    resting, touching, at_odds = at_rest(layout)
    skipped += [
        f"{a} to {b}: {why}"
        for a, b, why in (*report.not_checked, *across.not_checked)
        if not why.startswith(NAMED)
    ]
    skipped += taken_on_trust(layout)
    skipped += (
        [f"bolt, {text}" for text in fasteners(layout)[1]]
        if job.clearance.fasteners
        else ["bolt heads, washers and nuts: clearance.fasteners is false"]
    )
    cured = cure(report) if cure else {}
    grow, held = outline_room(report, across)
    findings = at_odds + [
        _finding(p, asked.travel_mm, cured.get((p.a, p.b)))
        for p in (*report.pairs, *across.pairs)
        if not p.ok
    ]
    findings += _leans(job, mechanism, asked.travel_mm, layout)
    if held_rack_mm < job.tie_rod.rack_travel:
        findings.append(
            Finding(
                level="stop",
                code="rack-reach",
                where=f"rack ±{job.tie_rod.rack_travel:g} mm",
                text=(
                    f"At full travel the corner closes only to rack ±{guaranteed(held_rack_mm, 1)} mm, "
                    f"{job.tie_rod.rack_travel:g} mm asked: the tie rod cannot follow. "
                    f"The gaps are checked to ±{guaranteed(asked.rack_mm, 1)} mm. Move tie_rod.inner or "
                    f"tie_rod.outer, or lessen tie_rod.rack_travel or the wheel's travel."
                ),
            )
        )
    if layout.rocker is not None and grow > 0:
        findings.append(
            Finding(
                level="note",
                code="outline-room",
                where="rocker",
                text=(
                    f"The rocker's outline may grow by {grow:.1f} mm all round: then {held} has just its "
                    f"gap. The box strips are cut for rod and damper anyway."
                ),
            )
        )
    return (
        rs.ClearanceRow(
            checked=True,
            tolerance_mm=report.tolerance_mm,
            pairs=[_row(p, cured.get((p.a, p.b))) for p in report.pairs],
            at_rest=resting,
            contacts=touching,
            other_side=[_row(p) for p in across.pairs],
            not_checked=skipped,
            outline_may_grow_mm=grow if layout.rocker is not None and grow > 0 else None,
        ),
        findings,
    )


def _as_far_as_it_goes(
    whole: Asked, job: Job, motion: CornerBounds, held_rack_mm: float
) -> tuple[Asked, Any]:
    """The check, and what it was asked: where the corner stops closing within travel or rack its motion
    cannot be bounded up to that very edge, so the edge is left out, more and more. Raises ValueError where
    that does not help."""
    low, high = whole.travel_mm
    ranges = {
        (
            (
                low + inset_mm if low > -job.corner.droop else low,
                high - inset_mm if high < job.corner.bump else high,
            ),
            share * held_rack_mm if held_rack_mm < whole.rack_mm else held_rack_mm,
        ): None
        for inset_mm, share in EDGES
    }  # each once
    *some, last = (replace(whole, travel_mm=travel, rack_mm=rack) for travel, rack in ranges)
    for asked in some:
        try:
            return asked, asked.check(motion)
        except ValueError:
            continue
    return last, last.check(motion)


def _across(asked: Asked, job: Job, motion: CornerBounds):
    """This side's bodies to the other side's; where that cannot be checked the report says so and holds no
    pair."""
    one_sided = {m.name for m in job.member if not m.moves_with and (m.shape not in TUBES or _crosses(m))} | (
        {HOUSING} if job.rack is not None else set()
    )
    try:
        found = asked.between_sides(motion, one_sided)
        more = asked.from_other_side(motion, one_sided)
        return replace(
            found,
            pairs=tuple(sorted((*found.pairs, *more), key=lambda p: (p.gap_mm - p.required_mm, p.a, p.b))),
        )
    except ValueError as e:
        return Report((), (("this side", "the other side of the car", str(e)),), 0, asked.tolerance_mm)


def _crosses(member) -> bool:
    """Whether a bar goes from one side of the car to the other."""
    return member.from_[1] * member.to[1] < 0


def _leans(job: Job, mechanism: Mechanism, travel_mm, layout: Layout) -> list[Finding]:
    """A damper that does not stay square to its bolts, which both lie along the rocker's axis."""
    low, high = travel_mm
    poses = mechanism.at(np.linspace(low, high, 33))
    line = poses.point("damper_eye") - poses.point("damper_chassis")
    axis = np.asarray(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    along = line @ axis
    lean = np.degrees(np.arcsin(np.abs(along) / np.linalg.norm(line, axis=-1)))
    k = int(np.nanargmax(lean))
    if not lean[k] > LEAN_DEG[0]:
        return []
    bolts = ["rocker bolts", *(f"{s.bracket} bolt" for s in layout.seats if s.body == "damper")]
    return [
        Finding(
            level="warn" if lean[k] > LEAN_DEG[1] else "note",
            code="eye-lean",
            where=f"damper to {bolt}",
            text=(
                f"The damper's eye leans up to {lacking(float(lean[k]), 1)} deg on its bolt: a plain eye "
                f"has no room for that. Use eyes with a spherical bearing, or soft bushes up to "
                f"{LEAN_DEG[1]:g} deg (common practice), or move damper.chassis_eye "
                f"{lacking(abs(float(along[k])), 1)} mm along the rocker's axis."
            ),
        )
        for bolt in bolts
    ]


def closing_rack_mm(mechanism: Mechanism, travel_mm: tuple[float, float], rack_mm: float) -> float:
    """The greatest rack displacement, at most `rack_mm`, to which the corner closes over the travel; within
    0.05 mm below it."""
    heights = np.linspace(*travel_mm, 9)

    def closes(rack: float) -> bool:
        return bool(mechanism.at(heights[:, None], [-rack, rack]).valid.all())

    if not rack_mm or closes(rack_mm):
        return rack_mm
    low, high = 0.0, rack_mm
    while high - low > 0.02:
        middle = (low + high) / 2
        low, high = (middle, high) if closes(middle) else (low, middle)
    return max(low - 0.02, 0.0)


def outline_room(report, across) -> tuple[float, str]:
    """How far the rocker's outline may grow all round with every pair still in order, in whole tenths, and
    what holds it.

    An outline that grows by n takes n from a gap at most, from that of the two sides' rockers twice n. Rod
    and damper stand between the plates and are not counted."""
    inside = {"rod", "damper"}
    room = [
        (p.gap_mm - p.required_mm, p.b if p.a == "rocker" else p.a)
        for p in report.pairs
        if "rocker" in (p.a, p.b) and not inside & {p.a, p.b}
    ]
    room += [
        ((p.gap_mm - p.required_mm) / 2, p.b) for p in across.pairs if {p.a, p.b} & {"rocker", "other rocker"}
    ]
    least, held = min(room, default=(0.0, ""))
    return math.floor(10 * least) / 10, held


def _mirrored(point) -> tuple[float, float, float]:
    return point[0], 0.0 - point[1], point[2]


def _row(p, cured=None) -> rs.PairRow:
    return rs.PairRow(
        a=p.a,
        b=p.b,
        kind=p.kind,
        gap_mm=p.gap_mm,
        found_gap_mm=p.found_gap_mm,
        required_mm=p.required_mm,
        at_wheel_mm=p.at_wheel_mm,
        at_rack_mm=p.at_rack_mm,
        at_other_wheel_mm=p.at_other_wheel_mm,
        ok=p.ok,
        point_a=list(p.point_a),
        point_b=list(p.point_b),
        under_from_wheel_mm=p.under_mm[0] if p.under_mm else None,
        under_to_wheel_mm=p.under_mm[1] if p.under_mm else None,
        cures=cured.cures if cured else [],
        margin_mm=p.margin_mm or None,
        least_gap_mm=p.least_gap_mm,
    )


def _finding(p, travel_mm: tuple[float, float], cured=None) -> Finding:
    pose = f"wheel {p.at_wheel_mm:+z.1f} mm" + (f", rack {p.at_rack_mm:+z.1f} mm" if p.at_rack_mm else "")
    if not travel_mm[0] - PAST_MM < p.at_wheel_mm < travel_mm[1] + PAST_MM:
        pose += " straight ahead (as far as lock takes the arms)"
    if p.at_other_wheel_mm is not None:
        pose += f", other wheel {p.at_other_wheel_mm:+z.1f} mm"
    spot = ", ".join(f"{v:.0f}" for v in p.point_a)
    if p.clash:
        over = f", over wheel {p.clash_mm[0]:+z.1f} to {p.clash_mm[1]:+z.1f} mm" if p.clash_mm else ""
        cure = _cure(cured) or _parted(p)
        return Finding(
            level="stop",
            code="clash",
            where=f"{p.a} to {p.b}",
            severity=_severity(p),
            text=(
                f"They run into each other, at least {guaranteed(-p.found_gap_mm)} mm deep, at {pose}, near "
                f"({spot}){over}. {cure}"
            ),
        )
    under = (
        f" The gap is short from wheel {p.under_mm[0]:+z.1f} to {p.under_mm[1]:+z.1f} mm."
        if p.under_mm
        else ""
    )
    return Finding(
        level="warn",
        code="gap",
        where=f"{p.a} to {p.b}",
        severity=_severity(p),
        text=(
            f"Guaranteed gap {guaranteed(p.gap_mm)} mm, {_asked(p)}, at {pose}, near ({spot}).{under} "
            + (_cure(cured) or f"Move one of them {lacking(p.required_mm - p.gap_mm, 2)} mm away there.")
        ),
    )


def _severity(p) -> float:
    """1 where the gap is as asked, 2 where the bodies touch, more where they are in each other."""
    return 1 + (p.required_mm - p.gap_mm) / max(p.required_mm, 1.0)


def _parted(p) -> str:
    """How far a shift must go; of an imported neighbour no more is proven than how far is enough."""
    enough, least = p.required_mm - p.gap_mm, p.required_mm - p.found_gap_mm
    if enough - least < DEPTH_KNOWN_MM:
        return f"Move one of them by at least {lacking(enough, 1)} mm there."
    return (
        f"Move one of them there: it takes at least {lacking(least, 1)} mm, and {lacking(enough, 1)} mm "
        f"along one of the car's axes is enough."
    )


def _asked(p) -> str:
    """What a pair needs, in words: of what type, and how much of it is building tolerance."""
    kind = f" to {ARTICLE[p.kind]}" if p.kind in ARTICLE else ""
    return f"{p.required_mm - p.margin_mm:g} mm asked{kind}" + (
        f" + {p.margin_mm:g} mm margin" if p.margin_mm else ""
    )


def _cure(cured) -> str:
    return " ".join(t for t in cured.text if t) if cured else ""
