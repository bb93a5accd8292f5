"""The exact kernel's word on the worst poses: true solids, true distance or common volume. Loads the CAD kernel."""
from __future__ import annotations

from dataclasses import dataclass

from assemblies.clearance.check import PairResult
from assemblies.clearance.plan import Joint
from parts.form import Frame


@dataclass(frozen=True)
class Confirmed:
    """What the exact kernel finds for a pair at its worst pose: `gap_mm`, and the volume both fill (0 where they do not).

    Tubes are hollow here, so a part inside a tube shows no common volume though the check calls it a clash."""

    a: str
    b: str
    gap_mm: float
    common_mm3: float


def confirm(results: list[PairResult], bodies, mechanism, joints: tuple[Joint, ...] = ()) -> list[Confirmed]:
    """Exact distance and common volume of pairs at their worst poses; pairs with a joint between them are left out (the
    kernel would find the joint itself)."""
    from parts.solid import solid
    joined = {frozenset((j.a, j.b)) for j in joints}
    out = []
    for r in results:
        if frozenset((r.a, r.b)) in joined:
            continue
        poses = mechanism.at(r.at_wheel_mm, r.at_rack_mm)
        shapes = []
        for name in (r.a, r.b):
            own = []
            for body in (b for b in bodies if b.name == name):
                where = None if body.carrier == "frame" else Frame.of(poses.frame(body.carrier))
                own += [solid(form if where is None else form.moved(where), allow_many=True) for form in body.forms]
            shapes.append(own)
        pairs = [(x, y) for x in shapes[0] for y in shapes[1]]
        if not pairs:
            continue
        gap = min(x.distance(y) for x, y in pairs)
        common = sum(x.intersect(y).Volume() for x, y in pairs) if gap < 1e-6 else 0.0
        out.append(Confirmed(r.a, r.b, float(gap), float(common)))
    return out
