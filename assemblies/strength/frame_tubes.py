"""Frame tubes under the corner's brackets: bending both ways, torsion and pull between the nodes beside them.

What else the frame carries is not known here, so a use over 1 is a warning. A node is where another tube of
the job meets the tube.
"""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

import numpy as np

from assemblies.layout.placing import Layout
from assemblies.strength import sizing
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, worst
from parts.base.stock import ROUND_TUBES_MM, SQUARE_TUBES_MM, WALLS_MM, Steel
from parts.calc.sections import BeamSection, rectangular_tube, round_tube
from parts.calc.span import Load, cut
from parts.member import Member

RULE = "beam theory between two nodes, pinned, held in twist; elastic, EN 1993-1-1:2005 6.2.1(5)"


class Pull(NamedTuple):
    """A bracket on a member: the force of its eye (k, 3) at `point_mm`, car axes."""

    bracket: str
    member: str
    point_mm: np.ndarray
    force_n: np.ndarray


def nodes_mm(layout: Layout, member: str) -> list[float]:
    """Where other tubes meet a member, along it from its `from` end; a tube that ends where it meets another
    has a node there."""
    own = layout.members[member]
    axis, start = np.array(own.frame.z), np.array(own.from_, float)
    found = [
        float(np.clip((np.array(n.point) - start) @ axis, 0.0, own.length_mm))
        for n in layout.junctions.nodes
        if member in n.members
    ]
    return sorted(found)


def section(member: Member, wall_mm: float, size_mm: float | None = None) -> BeamSection:
    """With another wall, and as a square or round tube of another size."""
    s = member.section
    if s.is_round:
        return round_tube(size_mm or s.width_mm, wall_mm)
    return rectangular_tube(size_mm or s.height_mm, size_mm or s.width_mm, wall_mm)


def stress_mpa(s: BeamSection, is_round: bool, c) -> np.ndarray:
    """σ at the worst corner, both bendings and the pull added, with the twist's τ by von Mises."""
    x, y = np.abs(c.bend_x_nmm) / s.w_el_y_mm3, np.abs(c.bend_y_nmm) / s.w_el_z_mm3
    bent = np.hypot(x, y) if is_round else x + y
    sigma = bent + np.abs(c.along_n) / s.area_mm2
    return np.sqrt(sigma**2 + 3 * (np.abs(c.torque_nmm) / s.c_t_mm3) ** 2)


def checks(
    f: Forces, layout: Layout, pulls: list[Pull], steels: dict[str, Steel], under: str = "its brackets"
) -> tuple[list[Check], list[str]]:
    """A row for each member that has a node on both sides of its brackets; words for those that have not.
    `under`: what pulls, in the row's name."""
    rows: list[Check] = []
    open_: list[str] = []
    for name in dict.fromkeys(p.member for p in pulls):
        member = layout.members[name]
        if not member.section.wall_mm:
            continue
        found = None
        for low, high, here in spans(layout, name, [p for p in pulls if p.member == name]):
            if low is None or high is None:
                named = " and the ".join(dict.fromkeys(p.bracket for p in here))
                open_.append(
                    f"tube '{name}' under the {named}: no other tube of "
                    "the job meets it on both sides, so its span and its bending are not known"
                )
                continue
            (row,) = _span(f, member, name, low, high, here, steels[name], under)
            found = row if found is None or row.use > found.use else found
        rows += [found] if found else []
    return rows, open_


def spans(layout: Layout, name: str, pulls: list[Pull]):
    """(node before, node after, brackets between them); None where there is no node on that side."""
    member = layout.members[name]
    axis, start = np.array(member.frame.z), np.array(member.from_, float)
    nodes = nodes_mm(layout, name)
    groups: dict[tuple, list[Pull]] = {}
    for p in pulls:
        at = float((p.point_mm - start) @ axis)
        low = max((n for n in nodes if n <= at), default=None)
        high = min((n for n in nodes if n > at), default=None)
        groups.setdefault((low, high), []).append(p)
    return [(*ends, here) for ends, here in groups.items()]


def _span(
    f: Forces, member, name, low, high, pulls, steel: Steel, under: str = "its brackets"
) -> list[Check]:
    frame = member.frame.matrix()
    axes, origin = frame[:3, :3], frame[:3, 3]
    loads = []
    for p in pulls:
        local = (p.point_mm - origin) @ axes
        force = p.force_n @ axes
        loads.append(Load(local[2] - low, force, np.cross(np.array([local[0], local[1], 0.0]), force)))
    cuts = [cut(high - low, loads, p.at_mm, before) for p in loads for before in (True, False)]
    wall, is_round = member.section.wall_mm, member.section.is_round
    fy = steel.yield_at(wall)

    def each(wall_mm: float, size_mm: float | None = None) -> np.ndarray:
        return np.stack([stress_mpa(section(member, wall_mm, size_mm), is_round, c) for c in cuts])

    def use_at(wall_mm: float, size_mm: float | None, yield_mpa: float) -> float:
        return float(each(wall_mm, size_mm).max()) / yield_mpa

    def larger() -> list[sizing.Option | str]:
        """A thicker wall and the stronger steel together, then the next sizes of its kind."""
        key, size = f"member.{name}", member.section.width_mm
        least = min(size, member.section.height_mm)
        strong = {f"{key}.material": sizing.STRONG.name}
        tries: list[tuple[dict[str, Any], float, float | None, float]] = [
            (strong | {f"{key}.wall": w}, w, None, sizing.STRONG.yield_mpa)
            for w in WALLS_MM
            if wall < w < least / 4
        ]
        stock = ROUND_TUBES_MM if is_round else SQUARE_TUBES_MM
        tries += [
            ({f"{key}.size": s, f"{key}.wall": w}, w, s, fy)
            for s in stock
            if s > size and least == size
            for w in WALLS_MM
            if wall <= w < s / 4
        ]
        return sizing.passing(
            (
                (
                    sizing.Option(", ".join(sizing.put(k, v).words for k, v in c.items()), c),
                    partial(use_at, w, s, yields),
                )
                for c, w, s, yields in tries
            ),
            "a tube that meets it nearer to the bracket, or a larger one than is stocked",
        )

    stress = each(wall)
    here = cuts[int(np.argmax(stress.max(1)))]
    k = int(np.argmax(stress.max(0)))
    twist = abs(here.torque_nmm[k]) / 1e3
    bend = np.hypot(here.bend_x_nmm[k], here.bend_y_nmm[k]) / 1e3
    return worst(
        f,
        name,
        f"bending and torsion under {under}",
        stress.max(0),
        fy,
        "MPa",
        RULE,
        level="warn",
        note=f"{high - low:.0f} mm between nodes, M {f.service(bend):.0f} and T {f.service(twist):.0f} N·m "
        f"from {', '.join(dict.fromkeys(p.bracket for p in pulls))}; "
        "what else the frame carries is not added",
        cure=lambda u: [
            *sizing.sizes(
                f"member.{name}.wall",
                wall,
                [w for w in WALLS_MM if w < min(member.section.width_mm, member.section.height_mm) / 4],
                lambda w: float(each(w).max()) / fy,
            )(u),
            *(
                [sizing.put(f"member.{name}.material", sizing.STRONG.name)]
                if u * fy <= sizing.STRONG.yield_mpa
                else []
            ),
            *larger(),
        ],
    )
