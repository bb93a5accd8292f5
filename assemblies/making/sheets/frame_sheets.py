"""The sheets that say where a corner goes on its frame: all places at a glance with the order of welding,
then each bracket at true size, square on its face and along its tube."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from assemblies.layout.placing import Layout, Placed
from assemblies.making.sheets import mount_sheets, undrawn
from assemblies.making.sheets.drawing import BOLD, CUT, DRILLED, FAINT, FINE, SCRIBED, Drawing, Path
from assemblies.making.sheets.mounts import MountStand
from assemblies.making.sheets.on_frame import OnFrame
from assemblies.making.sheets.on_tube import OnTube
from assemblies.making.sheets.paper import Sheet
from parts.shape.form import Frame
from parts.shape.outline import circle

WORDS_MM = 2.7
ROW_MM = 4.6  # between the rows of figures under a view
BEYOND_MM = 16.0  # of tube drawn beyond what stands on it
PLAN_MM = (170.0, 120.0)
STACKED_MM = 165.0  # of both views; higher ones stand beside each other where no tabs make them wide
AXES = {undrawn.CLAMP: "rack's axis", undrawn.TOE_LINK: "ball", undrawn.STRAP: "pull"}


def sheets(found: OnFrame, layout: Layout) -> list[tuple[str, Sheet]]:
    """The overview, then a sheet a bracket and a stand, in the order of welding."""
    side = found.side.upper()
    out = [
        (
            "where-on-frame",
            Sheet(
                f"where it goes on the frame - {side} side",
                "from above, not to scale - circles: bolt axes, places on the rocker's axis - numbers: order "
                "of welding",
                _plan(found, layout),
                tuple(f"{n}. {s}" for n, s in enumerate(found.steps, 1)) + found.axles,
            ),
        )
    ]
    for n, b in enumerate(found.in_order, 1):
        if isinstance(b, MountStand):
            stem = f"where-{b.what.replace(' ', '-')}"
            out.append((stem, mount_sheets.sheet(n, b, layout, side)))
            continue
        out.append(
            (
                f"where-{b.what.replace(' ', '-')}",
                Sheet(
                    f"{n}  {b.what} on {b.tube} - {side} side",
                    f"{b.face}, distances from its {b.end_words}{f' ({b.node})' if b.node else ''} - true "
                    f"size",
                    _bracket(b, layout.brackets[b.what].tabs if b.tabs else (), layout),
                    _legend(b, layout),
                ),
            )
        )
    return out


def _legend(b: OnTube, layout: Layout) -> tuple[str, ...]:
    """The same in words."""
    axis = undrawn.AXIS.get(b.what, "Bolt axis")
    sawn = (
        ""
        if abs(b.sawn_mm - b.along_mm) < 0.05
        else f"; {b.sawn_mm:.1f} from the long point of that end as it is sawn"
    )
    lines = [
        f"{axis}: {b.along_mm:.1f} along the tube from its {b.end_words}{sawn}; {abs(b.height_mm):.1f} "
        f"{'over' if b.height_mm >= 0 else 'under'} the face"
        + (
            f"; {abs(b.aside_mm):.1f} {b.aside_to} of the face's middle line"
            if abs(b.aside_mm) > 0.05
            else ""
        )
        + (f"; {'it' if not b.tabs else 'the bolt'} lies {_way(b.skew_deg)}." if any(b.bolt) else ".")
    ]
    if not b.tabs:
        return (*lines, *undrawn.lines(b, layout))
    for t in b.tabs:
        lines.append(
            f"{t.name}: its foot from {t.along_mm[0]:.1f} to {t.along_mm[1]:.1f} along"
            + (" (that is beyond the end)" if t.along_mm[0] < -0.05 else "")
            + f", {t.across_mm[0]:+z.1f} to {t.across_mm[1]:+z.1f} across (+ {b.aside_to})."
        )
    lines.append(
        f"{b.gap_mm:.2f} between the tabs: set it by the jig's spacer. "
        + (
            f"The tabs lean {b.lean_deg:.1f} deg, bolt end {b.lean_to}."
            if b.lean_deg > 0.05
            else "The tabs stand square to the face."
        )
    )
    lines.append(
        "Lay the sheet on the tube's face with its arrow to the named end, or scribe the distances; tack "
        "with the "
        "jig on, tape to the other axles, then weld. The other side is the mirror image."
    )
    return tuple(lines)


def _way(skew_deg: float) -> str:
    if skew_deg < 0.05:
        return "along the tube"
    return (
        "square across it" if abs(skew_deg - 90) < 0.05 else f"{skew_deg:.1f} deg from the tube's direction"
    )


# ------------------------------------------------------------ a bracket, two views


def _bracket(b: OnTube, tabs: Sequence[Placed], layout: Layout) -> Drawing:
    """Square on the face above, along the tube below it."""
    d = Drawing()
    lowest = _on_face(d, b, tabs, layout)
    end_on = Drawing()
    _along_tube(end_on, b, tabs, layout)
    x0, y0, _, y1 = end_on.bounds
    left, _, right, top = d.bounds
    if not tabs and top - lowest + y1 - y0 > STACKED_MM:
        d.add(*end_on.moved(right + 12.0 - x0, top - y1).items)
        return d
    d.add(*end_on.moved(left - x0, lowest - 12.0 - y1).items)
    return d


def _axes(b: OnTube) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    way, normal = np.array(b.way), np.array(b.normal)
    return way, normal, np.cross(normal, way)


def _view(placed: Placed, origin, right, up) -> list:
    """A plate's shadow in a view, as rings of points."""
    from shapely import MultiPoint, Polygon
    from shapely.ops import unary_union

    f = placed.frame.matrix()
    rim = np.array(placed.part.outline().outer.points(0.05))
    levels = [
        (np.column_stack((rim, np.full(len(rim), z), np.ones(len(rim)))) @ f.T)[:, :3] - origin
        for z in (0.0, placed.part.thickness_mm)
    ]
    low, high = (np.column_stack((p @ right, p @ up)) for p in levels)
    quads = [
        MultiPoint([low[i], low[i - 1], high[i], high[i - 1]]).convex_hull.buffer(1e-6)
        for i in range(len(rim))
    ]
    caps = [Polygon(p).buffer(1e-6) for p in (low, high) if abs(Polygon(p).area) > 1e-3]
    shadow = unary_union([*quads, *caps]).simplify(0.02)
    return [list(shadow.exterior.coords)]


def _on_face(d: Drawing, b: OnTube, tabs: Sequence[Placed], layout: Layout) -> float:
    """Looking square on the face, the named end to the left; gives the lowest y."""
    member = layout.members[b.tube]
    way, normal, up = _axes(b)
    m = member.frame.matrix()
    start = np.array(member.from_ if b.end == "from" else member.to)
    half = member.section.width_mm / 2
    if not member.section.is_round and abs(float(m[:3, 0] @ normal)) > 0.5:
        half = member.section.height_mm / 2
    spots = [v for t in b.tabs for v in t.along_mm] + [b.along_mm]
    low, high = min(spots) - BEYOND_MM, min(max(spots) + BEYOND_MM, member.length_mm)
    first = max(low, min(0.0, b.along_mm - b.sawn_mm))
    for y in (-half, half):
        d.line((first, y), (high, y), BOLD)
    d.line((first, 0.0), (high, 0.0), SCRIBED)
    for x, true_end in ((first, first > low), (high, False)):
        d.line((x, -half), (x, half), BOLD if true_end else FAINT)
    for t in tabs:
        for ring in _view(t, start, way, up):
            d.polyline([*ring, ring[0]], FINE)
    turned = 1.0 if float(up @ _towards(b, layout)) > 0 else -1.0
    for place in b.tabs:
        (s0, s1), (u0, u1) = place.along_mm, sorted(turned * v for v in place.across_mm)
        foot = Path(
            (s0, u0), (((max(s1, s0 + 0.1), u0),), ((max(s1, s0 + 0.1), u1),), ((s0, u1),)), CUT, True, 0.82
        )
        d.add(foot)
    eye = np.array(b.point) - start
    ex, ey = float(eye @ way), float(eye @ up)
    bolt = np.array(b.bolt)
    bx, by = float(bolt @ way), float(bolt @ up)
    reach = (tabs[0].part.thickness_mm * 2 + b.gap_mm) / 2 + 8 if tabs else half + abs(ey) + 8
    d.line((ex - reach * bx, ey - reach * by), (ex + reach * bx, ey + reach * by), SCRIBED)
    d.cross(ex, ey, 2.5, 0.5)
    x0, y0, _, y1 = d.bounds
    d.arrow((x0 + 22, y1 + 6), (x0 + 2, y1 + 6), CUT)
    d.text(x0 + 24, y1 + 5, f"to the {b.end_words} of {b.tube}", WORDS_MM)
    d.text(x0 + 2, y1 + 11, "square on the face", 3.2, bold=True)
    marks = sorted({round(v, 2) for t in b.tabs for v in t.along_mm} | {round(b.along_mm, 2)})
    names = {round(b.along_mm, 2): AXES.get(b.what, "bolt axis")}
    for place in b.tabs:
        names.setdefault(round(place.along_mm[0], 2), "tab's edge")
        names.setdefault(round(place.along_mm[1], 2), "tab's edge")
    lowest = y0 - 3
    for k, s in enumerate(marks):  # the leftmost lowest, so that no line crosses a figure
        y = lowest - ROW_MM * (len(marks) - k)
        d.line((s, lowest + 2), (s, y), FAINT)
        d.text(s + 1, y + 0.6, f"{s:.1f} {names[s]}", WORDS_MM)
    return lowest - ROW_MM * len(marks)


def _towards(b: OnTube, layout: Layout) -> np.ndarray:
    """The car direction of `aside_mm`."""
    member = layout.members[b.tube]
    m = member.frame.matrix()
    eye = (np.linalg.inv(m) @ (*b.point, 1.0))[:2]
    n = (np.linalg.inv(m)[:3, :3] @ np.array(b.normal))[:2]
    across = np.array((-n[1], n[0]))
    across *= math.copysign(1.0, float(eye @ across) or (1.0 if b.end == "from" else -1.0))
    return m[:3, :3] @ np.array((*across, 0.0))


def _along_tube(d: Drawing, b: OnTube, tabs: Sequence[Placed], layout: Layout) -> None:
    """Looking along the tube from its named end, the face up."""
    member = layout.members[b.tube]
    way, normal, up = _axes(b)
    right = -up
    m = member.frame.matrix()
    start = np.array(member.from_ if b.end == "from" else member.to)
    local = np.linalg.inv(m)[:3, :3]
    turn = Frame((0.0, 0.0, 0.0), tuple(right), tuple(-way)).matrix()[:3, :3].T  # car to view
    for k, loop in enumerate((member.section.outer(), *((_bore(member),) if member.section.wall_mm else ()))):
        pts = [(turn @ local.T @ np.array((x, y, 0.0)))[:2] for x, y in loop.points(0.02)]
        pts = [(float(x), float(y)) for x, y in pts]
        d.polyline([*pts, pts[0]], BOLD if k == 0 else FINE)
    for t in tabs:
        for ring in _view(t, start, right, normal):
            d.polyline([*ring, ring[0]], CUT)
    eye = np.array(b.point) - start
    ex, ey = float(eye @ right), float(eye @ normal)
    if b.skew_deg < 45:
        if tabs:
            d.circle(ex, ey, tabs[0].part.outline().holes[0].diameter_mm, DRILLED)
        d.cross(ex, ey, 8.0, 0.5, FINE)
    else:
        x0, _, x1, _ = d.bounds
        d.line((x0 - 4, ey), (x1 + 4, ey), SCRIBED)
    face = ey - b.height_mm
    x0, y0, x1, y1 = d.bounds
    what = AXES.get(b.what, "bolt")
    at, over = x1 + 6, "over" if b.height_mm >= 0 else "under"
    for y in (face, ey):
        d.line((x1 + 1, y), (at + 2, y), FAINT)
    d.arrow((at, face), (at, ey), FINE, 1.6)
    d.arrow((at, ey), (at, face), FINE, 1.6)
    d.text(
        at + 2,
        (face + ey) / 2 - 0.9,
        f"{abs(b.height_mm):.1f} {what} {over} face",
        WORDS_MM,
    )
    if abs(b.aside_mm) > 0.05:
        y = y0 - 5
        for x in (0.0, ex):
            d.line((x, y0 - 1), (x, y - 2), FAINT)
        d.arrow((0.0, y), (ex, y), FINE, 1.6)
        d.arrow((ex, y), (0.0, y), FINE, 1.6)
        d.text(max(0.0, ex) + 2, y - 0.9, f"{b.aside_mm:.1f} {b.aside_to} of the middle", WORDS_MM)
    d.text(x0, y1 + 4, f"along the tube, from its {b.end_words}", 3.2, bold=True)


def _bore(member):
    s = member.section
    if s.is_round:
        return circle(0.0, 0.0, s.width_mm - 2 * s.wall_mm)
    return s.outline().inner[0]


# ------------------------------------------------------------ all at a glance


def _plan(found: OnFrame, layout: Layout) -> Drawing:
    """Seen from above, forward to the left: tubes that carry something, bolt axes, the car's middle line."""
    names = {b.tube for b in (*found.brackets, *found.undrawn)} | (
        {layout.pivot.member} if layout.pivot is not None else set()
    )
    tubes = [layout.members[n] for n in sorted(names) if n in layout.members]
    points = np.array([p for t in tubes for p in (t.from_, t.to)] + [b.point for b in found.in_order])
    x, y = -points[:, 0], -points[:, 1]
    y = np.append(y, 0.0)
    scale = min(PLAN_MM[0] / (np.ptp(x) + 60), PLAN_MM[1] / (np.ptp(y) + 60))
    d = Drawing()

    def put(p: Sequence[float]) -> tuple[float, float]:
        return -float(p[0]) * scale, -float(p[1]) * scale

    for t in tubes:
        a, b = np.array(put(t.from_)), np.array(put(t.to))
        if np.linalg.norm(b - a) < 1.0:
            continue
        n = np.array((a[1] - b[1], b[0] - a[0])) / np.linalg.norm(b - a) * t.section.width_mm / 2 * scale
        for s in (1, -1):
            d.line(tuple(a + s * n), tuple(b + s * n), FINE)
    lo, hi = float(x.min()) * scale - 6, float(x.max()) * scale + 6
    d.line((lo, 0.0), (hi, 0.0), SCRIBED)
    taken: list[tuple[float, float]] = []
    spots = [put(b.point) for b in found.in_order]
    for p, q in combinations(spots, 2):
        d.line(p, q, FAINT)
    for n, p in enumerate(spots, 1):
        at = next(
            (
                q
                for r in (0.0, 7.0, 11.0, 15.0)
                for a in np.linspace(0, 2 * math.pi, 12, endpoint=False)
                for q in [(p[0] + r * math.cos(a), p[1] + r * math.sin(a))]
                if all(math.dist(q, o) > 6.4 for o in taken)
            ),
            p,
        )
        taken.append(at)
        if at != p:
            d.line(p, at, CUT)
        d.circle(*at, 5.6, FINE, 1.0)
        d.text(at[0], at[1] - 1.0, str(n), 3.2, "middle", bold=True)
    x0, y0, x1, y1 = d.bounds
    d.arrow((x0 + 20, y1 + 5), (x0 + 4, y1 + 5), CUT)
    d.text(x0 + 22, y1 + 4, "front of the car", WORDS_MM)
    d.text(x1, 1.2, "the car's middle", WORDS_MM, "end")
    for n, on in enumerate(found.in_order, 1):
        words = (
            on.short
            if isinstance(on, MountStand)
            else f"{on.what}: {on.tube}, {on.face}, {on.along_mm:.1f} from its {on.end_words}"
        )
        d.text(x0, y0 - 5 - ROW_MM * n, f"{n}  {words}", WORDS_MM)
    return d
