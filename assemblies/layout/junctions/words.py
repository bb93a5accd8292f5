"""What is said about tube ends: each with number, limit and cure."""

from __future__ import annotations

import math

import numpy as np

from assemblies.layout.junctions.meeting import Beside, Tube
from assemblies.layout.junctions.order import Node
from assemblies.results.findings import Finding
from parts.fitted_tube import Fitted
from parts.tube_end import TubeEnd

LEAST_ANGLE_DEG = 30.0  # below it there is no room to weld the heel; common practice
SAW_DEG, SAW_TILT_DEG = 60.0, 45.0  # what a usual saw's mitre and tilt reach; common practice
OVERHANG_MM = 0.1
ROLL_DEG = 0.5


def _warn(code: str, where: str, text: str) -> Finding:
    return Finding(level="warn", code=code, where=where, text=text)


def not_followed(where: str, why: str) -> Finding:
    return _warn("junction", where, f"This [[junction]] is not followed: {why}.")


def not_cut(node: Node, name: str, end: str, error: ValueError) -> Finding:
    return _warn("tube-end", name, f"The {end} end of '{name}' at {node.name} is left square: {error}.")


def nothing_left(name: str, tube: Fitted) -> Finding:
    return _warn(
        "tube-end",
        name,
        (
            f"'{name}' is {tube.member.length_mm:.1f} mm long and the cuts of its two ends pass each other "
            f"by {-tube.generators_mm[1]:.1f} mm: its ends are left "
            "square. Make it longer, or leave it out."
        ),
    )


def beside(tubes: dict[str, Tube], b: Beside) -> Finding | None:
    pair = f"'{b.tube}' and '{b.other}'"
    if b.kind == "crossing":
        return _warn(
            "tube-crossing",
            f"{b.tube} and {b.other}",
            (
                f"{pair} pass through each other at {b.angle_deg:.0f} deg and neither ends there (the nearer "
                f"end lies {b.mm:.0f} mm past): one of them must be cut. Make "
                "two members of it that end on the other, or move one aside."
            ),
        )
    if b.kind == "along":
        return _warn(
            "tube-crossing",
            f"{b.tube} and {b.other}",
            (
                f"{pair} lie along each other at {b.angle_deg:.1f} deg and overlap (axes {b.mm:.1f} mm "
                f"apart): no cut fits them together. Move one aside, or let them "
                "meet end to end."
            ),
        )
    if b.kind == "short" and tubes[b.tube].free:
        return Finding(
            level="note",
            code="tube-short",
            where=b.tube,
            text=(
                f"The {b.end} end of '{b.tube}' stops {b.mm:.1f} mm short of '{b.other}' and is left square: "
                f"an end within frame.join_within is cut to it. Make it "
                "longer if the two are to be welded."
            ),
        )
    return None


def sharp(node: Node, name: str, run: str, apart_deg: float) -> list[Finding]:
    if apart_deg >= LEAST_ANGLE_DEG:
        return []
    return [
        _warn(
            "tube-angle",
            name,
            (
                f"'{name}' meets '{run}' at {apart_deg:.1f} deg ({node.name}); under {LEAST_ANGLE_DEG:g} deg "
                f"the heel cannot be welded from inside the angle (common practice). "
                "Move its other end, or weld a plate across."
            ),
        )
    ]


def run_end(
    tubes: dict[str, Tube], node: Node, name: str, run: str, past: tuple[str, float] | None
) -> list[Finding]:
    if past is None:
        return []
    which, mm = past
    return [
        _warn(
            "tube-run-end",
            run,
            (
                f"'{name}' lands up to {mm:.1f} mm past the {which} end of '{run}' ({node.name}), which is "
                f"open there: its template is drawn as if '{run}' went on."
            ),
        )
    ]


def overhang(node: Node, tube: Tube, cut: TubeEnd, over) -> list[Finding]:
    """Within the wall it is a matter of the weld."""
    if over is None or over.mm <= OVERHANG_MM:
        return []
    apart = f" (the axes pass {over.off_mm:.1f} mm apart)" if over.off_mm > OVERHANG_MM else ""
    slight = over.mm <= tube.member.section.wall_mm
    return [
        Finding(
            level="note" if slight else "warn",
            code="tube-overhang",
            where=tube.name,
            text=(
                f"'{tube.name}' stands {over.mm:.1f} mm over the side of '{over.run}' "
                f"({node.name}){', less than its wall' if slight else ''}: that part of its end meets "
                f"nothing "
                f"and is cut square at the long point{apart}."
            ),
        )
    ]


def saw(node: Node, name: str, end: str, cut: TubeEnd) -> list[Finding]:
    p = cut.plane
    if p is None or (abs(p.mitre_deg) <= SAW_DEG and abs(p.tilt_deg) <= SAW_TILT_DEG):
        return []
    return [
        Finding(
            level="note",
            code="tube-saw",
            where=name,
            text=(
                f"The {end} end of '{name}' ({node.name}) is a flat cut of {abs(p.mitre_deg):.1f} deg mitre "
                f"and {abs(p.tilt_deg):.1f} deg tilt; a usual saw goes to "
                f"{SAW_DEG:g} and {SAW_TILT_DEG:g} deg. Cut it to its wrapped template."
            ),
        )
    ]


def mitre(tubes: dict[str, Tube], node: Node, name: str, partner: str) -> list[Finding]:
    """Whether two mitred sections meet flush; told once, at the first of the two."""
    if node.mitred is None or node.mitred[0] != name:
        return []
    a, b = tubes[name].member.section, tubes[partner].member.section
    if (a.is_round, a.width_mm, a.height_mm) != (b.is_round, b.width_mm, b.height_mm):
        return [
            _warn(
                "tube-mitre",
                name,
                (
                    f"'{name}' and '{partner}' are mitred at {node.name} but their sections differ "
                    f"({a.width_mm:g} × {a.height_mm:g} and {b.width_mm:g} × {b.height_mm:g} mm): they "
                    f"do "
                    "not meet flush."
                ),
            )
        ]
    if a.is_round:
        return []
    off = flush_roll_deg(tubes, node, name, partner)
    if abs(off) <= ROLL_DEG:
        return []
    return [
        _warn(
            "tube-mitre",
            name,
            (
                f"'{name}' and '{partner}' are mitred at {node.name} but '{partner}' is rolled "
                f"{abs(off):.1f} deg off flush."
            ),
        )
    ]


def flush_roll_deg(tubes: dict[str, Tube], node: Node, name: str, partner: str) -> float:
    """What to add to the partner's roll for its section to be the mirror image of this one's in their
    bisecting plane."""
    a, b = (tubes[k].away(node.mitred_end(k)) for k in (name, partner))
    n = (a - b) / np.linalg.norm(a - b)
    x = np.array(tubes[name].member.frame.x)
    x = x - 2 * float(x @ n) * n
    m = tubes[partner].member.frame.matrix()[:3, :3]
    s = tubes[partner].member.section
    step = 90.0 if s.width_mm == s.height_mm else 180.0
    turn = math.degrees(math.atan2(float(x @ m[:, 1]), float(x @ m[:, 0])))
    return (turn + step / 2) % step - step / 2
