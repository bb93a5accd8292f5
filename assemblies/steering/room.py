"""Whether tie rod and rack have room with the inner joint at another place: the proven gaps of just what
moves there, over the whole travel and rack."""

from __future__ import annotations

from dataclasses import replace

from assemblies.clearance.bounds import CornerBounds
from assemblies.clearance.check import look
from assemblies.clearance.plan import Cast
from assemblies.clearance.scene import both_ways
from assemblies.gaps.interference import Asked, closing_rack_mm
from assemblies.job import Job, JobError
from assemblies.layout.placing import Layout
from assemblies.layout.rack import END, HOUSING, place_rack
from assemblies.layout.rods import place_tie_rod
from assemblies.motion.ends import Ends
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from parts.base.frozen import dataclass

MOVED = ("tie_rod", END, HOUSING)
COARSE_MM = 1.0  # tolerance of a map's gaps: "clear" is proven, "in the way" may be this near to clear


@dataclass(frozen=True)
class RackRoom:
    """`short`: pairs under their gap, as (a, b, gap, asked); empty and `why` empty: all clear, proven."""

    short: tuple[tuple[str, str, float, float], ...]
    why: str = ""  # the place could not be looked at

    @property
    def clear(self) -> bool:
        return not self.short and not self.why


def room(job: Job, layout: Layout, ends: Ends, changes: dict, tolerance_mm: float | None = None) -> RackRoom:
    """The gaps of tie rod, rack end and rack housing with `changes` made (tie_rod.inner and the rack's
    keys). All else stays where `layout` has it; pairs of the two sides of the car are left out."""
    try:
        there = job.changed(changes)
    except JobError as e:
        return RackRoom((), str(e).splitlines()[0])
    mechanism = Mechanism(HardPoints.of(there))
    laid = replace(
        layout,
        job=there,
        placed=[p for p in layout.placed if p.body not in MOVED],
        findings=[],
        tie_rod=None,
        rack_extension=None,
    )
    try:
        place_tie_rod(laid)
        place_rack(laid)
        asked = Asked.of(there, ends, laid)
        if closing_rack_mm(mechanism, asked.travel_mm, asked.rack_mm) < asked.rack_mm:
            return RackRoom((), "the tie rod cannot follow the whole rack")
        names = sorted({b.name for b in asked.bodies})
        wanted = {(a, b) for a in names for b in names if a < b and {a, b} & set(MOVED)}
        cast = Cast(asked.bodies, asked.joints, wanted=wanted)
        found = look(
            cast,
            mechanism.points,
            lambda: CornerBounds(mechanism),
            asked.travel_mm,
            both_ways(asked.rack_mm),
            asked.limits,
            tolerance_mm or asked.tolerance_mm,
            False,
        )
    except ValueError as e:
        return RackRoom((), str(e))
    return RackRoom(tuple((p.a, p.b, float(p.gap_mm), float(p.required_mm)) for p in found.pairs if not p.ok))
