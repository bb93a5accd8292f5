"""Paper to wrap round the parts of the rod's lug, 1:1: where to file a sleeve to its saddle, or where the
arm's tube is drilled.

Printed face outside, x round the part, y along it; the other side of the car takes the same strip wrapped
face inside.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.layout.arms import ENDS
from assemblies.layout.placing import Layout
from assemblies.making.sheets.drawing import CUT, FAINT, FINE, SCRIBED, Drawing
from assemblies.making.sheets.paper import Sheet
from parts.rod_lug import RodLug

MARGIN_MM = 12.0  # of a strip beyond what it shows
BETWEEN_MM = 24.0


def sheet(layout: Layout) -> Sheet | None:
    """Both strips side by side, each with its words below; None where there is no lug."""
    lug = layout.lug
    if lug is None or layout.rod_arm is None:
        return None
    arm = layout.rod_arm.part
    out, x = Drawing(), 0.0
    for i in (0, 1):
        x += (
            _hole_strip(out, x, lug, i, arm.tube_diameter_mm)
            if lug.through
            else _saddle_strip(out, x, lug, i)
        )
    name = layout.job.rod.on.replace("_", " ")
    first = lug.sleeves[0]
    if lug.through:
        lines = [
            f"Wrap a strip round the {name}'s tube, cut edge toward the outer joint at the distance written "
            f"on it, 'up' on the tube's top. Both loops are the hole's edge on the tube's outside.",
            f"Drill along the line of both loops, {first.outer_mm:g} mm through both walls, before the fin "
            f"stands on the tube; bevel the edges through the wall.",
            "Push both sleeves in with the bolt or a straight bar through them, ball's width and washers "
            "between, then weld; ream after welding.",
        ]
    else:
        lines = [
            "Wrap a strip round its sleeve, lower edge at the end beside the ball. File away what lies "
            "inside the loop, until the tube "
            f"({arm.tube_diameter_mm:g} mm) sits in it all round and the middle line points square down to "
            f"the arm.",
            "Set both sleeves on the tubes with the bolt or a straight bar through them, ball's width and "
            "washers between, then weld all round; ream after welding.",
        ]
    lines.append("Other side of the car: the same strips, printed face inside.")
    return Sheet(
        "rod lug, strips to wrap",
        f"{name} - a strip's width is the part's girth: check it before marking",
        out,
        tuple(lines),
    )


def _strip(d: Drawing, x: float, girth: float, height: float, middle: str) -> float:
    """A strip's frame with its middle line; the x of that line."""
    at = x + girth / 2
    d.box(x, 0.0, x + girth, height, CUT)
    d.line((at, 0.0), (at, height), SCRIBED)
    d.text(at, height + 1.5, middle, 2.6, "middle")
    return at


def _words(d: Drawing, x: float, lines: tuple[str, ...]) -> None:
    for n, words in enumerate(lines):
        d.text(x, -4.5 - 3.8 * n, words, 2.6)


def _saddle_strip(d: Drawing, x: float, lug: RodLug, i: int) -> float:
    s = lug.sleeves[i]
    girth = math.pi * s.outer_mm
    at = _strip(d, x, girth, s.length_mm, "to the arm")
    for seam in s.seams:
        d.polyline([(at + s.outer_mm / 2 * math.atan2(py, px), pz) for px, py, pz in seam], CUT)
    d.line((x, s.along_mm), (x + girth, s.along_mm), FAINT)
    _words(
        d,
        x,
        (
            f"sleeve {i + 1}, {ENDS[lug.tubes[i]]} tube",
            f"{s.outer_mm:g} over, {s.length_mm:g} long",
            "this edge beside the ball",
        ),
    )
    return girth + BETWEEN_MM


def _hole_strip(d: Drawing, x: float, lug: RodLug, i: int, tube_mm: float) -> float:
    loops = on_the_tube(lug, i)
    low = math.floor(min(p[:, 1].min() for p in loops) - MARGIN_MM)
    height, girth = math.ceil(max(p[:, 1].max() for p in loops) + MARGIN_MM) - low, math.pi * tube_mm
    at = _strip(d, x, girth, height, "up")
    for loop in loops:
        d.polyline([(at + a * tube_mm / 2, t - low) for a, t in loop], CUT)
        a, t = (loop.min(0) + loop.max(0)) / 2
        d.cross(at + a * tube_mm / 2, t - low, 2.5, pen=FINE)
    _words(
        d,
        x,
        (
            f"{ENDS[lug.tubes[i]]} tube",
            f"this edge {low:g} mm from the",
            "outer joint's centre, along the tube",
        ),
    )
    return girth + BETWEEN_MM


def on_the_tube(lug: RodLug, i: int) -> list[np.ndarray]:
    """The hole's edges of one tube as (angle, along): rad from its top, right-handed as seen on paper laid on
    it; mm from the outer joint."""
    sleeve, m = lug.sleeves[i], lug.frames[i].matrix()
    a = math.radians(sleeve.angle_deg)
    u = m[:3, :3] @ np.array([0.0, math.sin(a), math.cos(a)])
    u = u if u[0] > 0 else -u  # from the joint inboard
    right = np.cross(u, (0.0, 0.0, 1.0))
    points = [seam @ m[:3, :3].T + m[:3, 3] for seam in sleeve.seams]
    return [np.stack([np.unwrap(np.arctan2(p @ right, p[:, 2])), p @ u], 1) for p in points]
