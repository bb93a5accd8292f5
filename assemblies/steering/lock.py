"""How much lock the gaps allow: the greatest rack displacement each way at which everything that follows the
rack keeps its gap over the whole travel, proven as any other gap."""

from __future__ import annotations

from dataclasses import replace

from assemblies.clearance.bounds import CornerBounds, carrier_index
from assemblies.gaps.interference import Asked, closing_rack_mm
from assemblies.job import Job
from assemblies.layout.placing import Layout
from assemblies.motion.ends import Ends
from assemblies.motion.mechanism import Mechanism
from assemblies.results.gaps import ClearanceRow

NEAR_MM = 0.5  # of rack: how near the answer is, from below


def lock_by_gaps_mm(
    job: Job, mechanism: Mechanism, ends: Ends, layout: Layout, gaps: ClearanceRow
) -> float | None:
    """None where the gaps were not checked, or a pair is short with the rack straight ahead too.

    Only pairs that came out short are tried again, with less and less rack: a pair in order over the whole
    rack is so over less of it. Pairs of both sides of the car are left as they are. Raises ValueError as the
    check does."""
    lock = job.tie_rod.rack_travel
    if not gaps.checked or not lock:
        return None
    asked = Asked.of(job, ends, layout)
    steered = {b.name for b in asked.bodies if carrier_index(b.carrier) in CornerBounds(mechanism).steered}
    short = {(p.a, p.b) for p in gaps.pairs if not p.ok and {p.a, p.b} & steered}
    held = closing_rack_mm(mechanism, asked.travel_mm, lock)
    if not short:
        return held
    names = {n for pair in short for n in pair}
    some = replace(
        asked,
        bodies=tuple(b for b in asked.bodies if b.name in names),
        joints=tuple(j for j in asked.joints if {j.a, j.b} <= names),
    )

    def clear(rack_mm: float) -> bool:
        found = replace(some, rack_mm=rack_mm).check(mechanism).pairs
        return all(p.ok for p in found if (p.a, p.b) in short or (p.b, p.a) in short)

    if not clear(0.0):
        return None
    low, high = 0.0, held
    while high - low > NEAR_MM:
        middle = (low + high) / 2
        low, high = (middle, high) if clear(middle) else (low, middle)
    return low
