"""The frame's junctions as a row of results.json."""

from __future__ import annotations

import math

from assemblies.layout.junctions.assembly import Assembly
from assemblies.layout.junctions.eccentric import off_and_gap
from assemblies.layout.junctions.fitting import Junctions
from assemblies.layout.junctions.torch import HALF_DEG, LONG_MM
from assemblies.results import frame as rs
from parts.tube_end import TubeEnd


def junctions_row(found: Junctions) -> rs.JunctionsRow:
    nodes = [
        rs.FrameNode(
            name=n.name,
            point_mm=list(n.point),
            members=list(n.members),
            passing=[m for m in n.members if n.end_of(m) is None],
            mitred=list(n.mitred or ()),
            ordered_by="job" if n.given else "rule",
            off_axis_mm=apart[0] if (apart := off_and_gap(found, n)) else None,
            brace_gap_mm=apart[1] if apart else None,
            angles=[
                rs.TubeAngle(
                    a=p.a,
                    b=p.b,
                    angle_deg=p.angle_deg,
                    parting_a_mm=_finite(p.parting_a_mm),
                    parting_b_mm=_finite(p.parting_b_mm),
                )
                for p in found.pairs(n)
            ],
        )
        for n in found.nodes
    ]
    ends = [
        rs.TubeEndRow(
            member=name,
            end=end,
            node=node.name if (node := found.node_of(name, end)) else "",
            runs=list(cut.runs),
            long_mm=cut.long_mm,
            short_mm=cut.short_mm,
            **_flat(cut),
            whole=not cut.missing and not cut.trims,
            trimmed=[
                rs.TubeTrim(
                    kind=t.kind,
                    at_mm=float(t.at_mm),
                    width_mm=float(t.width_mm),
                    length_mm=float(t.length_mm),
                )
                for t in cut.trims
            ],
        )
        for (name, end), cut in found.ends.items()
    ]
    tubes = [
        rs.FittedTube(member=name, length_mm=t.length_mm, short_mm=t.short_mm, mass_kg=t.mass_kg)
        for name, t in found.tubes.items()
    ]
    return rs.JunctionsRow(nodes=nodes, ends=ends, tubes=tubes)


def fitting_rows(found: Assembly) -> rs.FittingOrder:
    return rs.FittingOrder(
        steps=[
            rs.FittingStep(
                member=s.name,
                how=s.motion.words if s.motion else "stands first",
                way=list(s.motion.way) if s.motion else None,
                tack=list(s.tacks),
                swung_deg=s.motion.swung_deg if s.motion else 0.0,
                seams=[
                    rs.SeamReach(
                        member=r.member,
                        end=r.end,
                        node=r.node,
                        placed_percent=100 * r.placed,
                        last_percent=100 * r.last,
                        weld_before=r.before,
                    )
                    for r in s.seams
                ],
            )
            for s in found.steps
        ],
        stuck=list(found.stuck),
        torch_deg=2 * HALF_DEG,
        torch_mm=LONG_MM,
    )


def _flat(cut: TubeEnd) -> dict[str, float]:
    if cut.flat is None:
        return {}
    saw, gap = cut.flat
    return {
        "mitre_deg": saw.mitre_deg,
        "tilt_deg": saw.tilt_deg,
        "from_square_deg": saw.from_square_deg,
        "flat_gap_mm": gap,
    }


def _finite(mm: float) -> float | None:
    return mm if math.isfinite(mm) else None
