"""Sheets of what stands on the rocker's axis: along it in section with the distances from the named end, and
looked at along it, the way the builder sees it when he sets its angle."""

from __future__ import annotations

import math

import numpy as np

from assemblies.layout.placing import Layout, needed
from assemblies.layout.stub import PLUGS
from assemblies.making.sheets.drawing import BOLD, CUT, DRILLED, FAINT, FINE, SCRIBED, Drawing, Path
from assemblies.making.sheets.mounts import ANCHOR, HOUSING, RINGS, SPINDLE, MountStand, top_of
from assemblies.making.sheets.paper import Sheet
from parts.member import Member
from parts.shape.outline import circle

WORDS_MM, HEAD_MM, ROW_MM = 2.7, 3.2, 4.6
SCALES = (1.0, 0.5, 0.2, 0.1, 0.05)
ROOM_MM, HIGH_MM = 165.0, 88.0  # of either view
BEYOND_MM = 25.0  # of a tube drawn beyond what stands in it


def sheet(number: int, s: MountStand, layout: Layout, side: str) -> Sheet:
    """Both views, all in words below."""
    d, tube = Drawing(), layout.members.get(s.tube)
    across = Drawing()
    if s.what == SPINDLE:
        scale = _on_face(d, s, needed(tube))
        across_scale = _through(across, s, layout, needed(tube))
    else:
        scale = _along(d, s, layout, tube)
        across_scale = _across(across, s, tube)
    x0, y0, *_ = d.bounds
    left, _, _, top = across.bounds
    d.add(*across.moved(x0 - left, y0 - 9.0 - top).items)
    on = f" on {s.tube}" if s.tube else ""
    return Sheet(
        f"{number}  {s.what}{on} - {side} side",
        f"distances from {'its' if s.tube else 'the'} {s.end_words} - upper view {_words(scale)}, lower view "
        f"{_words(across_scale)}",
        d,
        s.lines,
    )


def _words(scale: float) -> str:
    return "true size" if scale == 1.0 else f"1 : {1 / scale:g}"


def _scale(wide: float, high: float) -> float:
    return next((v for v in SCALES if v * wide <= ROOM_MM and v * high <= HIGH_MM), SCALES[-1])


# ------------------------------------------------------------ along the axis


def _along(d: Drawing, s: MountStand, layout: Layout, tube: Member | None) -> float:
    """In section, the named end on the left and what counts from it to the right; the scale."""
    start, way = np.array(s.start), np.array(s.way)
    plane = float((np.array(needed(layout.eyes).frame.origin) - start) @ way)
    boxes = [_box(p, start, way) for p in s.parts]
    spots = [v for _, v in s.marks] + [v for a, b, _, _ in boxes for v in (a, b)]
    if s.what != ANCHOR:
        spots.append(plane)
    low, high = min(*spots, 0.0) - 8.0, max(*spots) + BEYOND_MM
    if tube is not None:
        high = min(high, tube.length_mm)
    half = max([r for *_, r, _ in boxes] + [_half(tube) if tube is not None else 0.0])
    scale = _scale(high - low + 30.0, 2 * half)

    def line(a, b, pen) -> None:
        d.line((a[0] * scale, a[1] * scale), (b[0] * scale, b[1] * scale), pen)

    if tube is not None:
        r, wall = tube.section.width_mm / 2, tube.section.wall_mm
        for y, pen in ((r, BOLD), (-r, BOLD), (r - wall, FINE), (wall - r, FINE)):
            line((0.0, y), (high, y), pen)
        line((0.0, -r), (0.0, r), BOLD)
        line((high, -r), (high, r), FAINT)
    for a, b, r, bore in boxes:
        for sign in (1, -1):
            low_y, high_y = sorted((sign * bore * scale, sign * r * scale))
            d.add(
                Path(
                    (a * scale, low_y),
                    (((b * scale, low_y),), ((b * scale, high_y),), ((a * scale, high_y),)),
                    CUT,
                    True,
                    0.82,
                )
            )
    if s.what == HOUSING or s.what == RINGS:
        line((plane, -half - 6 / scale), (plane, half + 6 / scale), SCRIBED)
    line((low, 0.0), (high + 4 / scale, 0.0), SCRIBED)
    lowest = d.bounds[1] - 2.0
    marks = sorted(s.marks, key=lambda m: m[1])
    if s.what == RINGS:
        marks = sorted([("rocker's middle plane", plane), *marks], key=lambda m: m[1])
    for k, (what, at) in enumerate(marks):  # the leftmost lowest, so that no line crosses a figure
        y = lowest - ROW_MM * (len(marks) - k)
        d.line((at * scale, lowest + 1), (at * scale, y), FAINT)
        d.text(at * scale + 1, y + 0.6, f"{at:.1f} {what}", WORDS_MM)
    x0, _, _, y1 = d.bounds
    d.arrow((x0 + 20, y1 + 5), (x0 + 2, y1 + 5), CUT)
    d.text(x0 + 22, y1 + 4, _to(s), WORDS_MM)
    d.text(x0 + 2, y1 + 9.5, "along the axis, in section", HEAD_MM, bold=True)
    return scale


def _to(s: MountStand) -> str:
    """What lies to the left."""
    return f"beyond the {s.end_words} of {s.tube}" if s.tube else "to the rocker"


def _half(tube: Member) -> float:
    return max(tube.section.width_mm, tube.section.height_mm) / 2


def _box(p, start: np.ndarray, way: np.ndarray) -> tuple[float, float, float, float]:
    """From where to where a round lies along the axis, and its radii outside and at the bore."""
    part, m = p.part, p.frame.matrix()
    if isinstance(part, Member):
        long, outer = part.length_mm, part.section.width_mm
        bore = outer - 2 * part.section.wall_mm
    elif hasattr(part, "outer_mm"):
        long, outer, bore = part.length_mm, part.outer_mm, part.bore_mm
    else:
        long, outer = part.thickness_mm, part.diameter_mm
        bore = part.bore_mm if p.name.endswith("fixed") else part.socket.outer_diameter_mm
    a, b = sorted(float(((m @ (0.0, 0.0, z, 1.0))[:3] - start) @ way) for z in (0.0, long))
    return a, b, outer / 2, bore / 2


# ------------------------------------------------------------ across it


def _across(d: Drawing, s: MountStand, tube: Member | None) -> float:
    """Seen along the axis, its top up."""
    look = np.array(s.look)
    up, _ = top_of(look)
    right, middle = np.cross(look, up), np.array(s.point)
    over = 2 * max(r for p in s.parts for *_, r, _ in (_box(p, np.array(s.start), look),))
    if tube is not None:
        over = max(over, 2 * _half(tube))
    scale = _scale(over + 60.0, over)

    def put(p) -> tuple[float, float]:
        v = np.asarray(p, float) - middle
        return float(v @ right) * scale, float(v @ up) * scale

    if s.what == ANCHOR:
        _plate(d, s, put, scale, tube)
        head = "from behind the anchor, towards the rocker"
    else:
        section = tube.section if tube is not None else s.parts[0].part.section
        bore = section.width_mm - 2 * section.wall_mm
        d.circle(0.0, 0.0, section.width_mm * scale, BOLD)
        d.circle(0.0, 0.0, bore * scale, FINE)
        head = f"along the axis, from its {s.end_words}" if s.tube else "along the axis, from the rocker"
        if s.what == RINGS:
            d.circle(0.0, 0.0, s.parts[0].part.bore_mm * scale, CUT)
            for k in range(PLUGS):
                a = math.pi / 2 + k * 2 * math.pi / PLUGS
                r0, r1 = (bore / 2 - 2) * scale, section.width_mm / 2 * scale + 4
                d.line((r0 * math.cos(a), r0 * math.sin(a)), (r1 * math.cos(a), r1 * math.sin(a)), SCRIBED)
    x0, _, x1, y1 = d.bounds
    d.cross(0.0, 0.0, 4.0, 0.6)
    d.arrow((x1 + 8, -5.0), (x1 + 8, 9.0), CUT)
    d.text(x1 + 10, 1.0, s.top, WORDS_MM)
    d.text(x0, y1 + 5, head, HEAD_MM, bold=True)
    return scale


def _plate(d: Drawing, s: MountStand, put, scale: float, tube: Member | None) -> None:
    """The fixed plate with its holes, the tube it stands on behind it, its scribed line and its angle."""
    fixed = s.parts[0]
    m = fixed.frame.matrix()
    o = fixed.part.outline("fixed")
    rims = [o.outer, *(circle(h.x, h.y, h.diameter_mm) for h in o.holes)]
    for k, loop in enumerate(rims):
        pts = [put((m @ (x, y, 0.0, 1.0))[:3]) for x, y in loop.points(0.02)]
        d.polyline([*pts, pts[0]], BOLD if k == 0 else CUT)
    if tube is not None:
        d.circle(0.0, 0.0, tube.section.width_mm * scale, DRILLED)
    far = fixed.part.diameter_mm / 2
    a, b = (put((m @ (r, 0.0, 0.0, 1.0))[:3]) for r in (0.0, far + 7 / scale))
    d.line(a, b, SCRIBED)
    d.line((0.0, 0.0), (0.0, far * scale + 7), FAINT)
    turn, r = math.radians(needed(s.turn_deg)), far * scale + 4
    d.polyline([(r * math.sin(turn * t), r * math.cos(turn * t)) for t in np.linspace(0, 1, 40)], FINE)
    x1 = d.bounds[2]
    d.text(x1 + 6, 20.0, f"scribed line {s.turn_deg:.1f} deg", WORDS_MM)
    d.text(x1 + 6, 16.0, f"clockwise from {s.top}", WORDS_MM)


# ------------------------------------------------------------ a spindle through a tube


def _on_face(d: Drawing, s: MountStand, tube: Member) -> float:
    """Square on the face that it goes into, the named end to the left."""
    (what, at), bar = s.marks[0], s.parts[0].part
    axis = np.array(s.parts[0].frame.z)
    half = _across_face(tube, axis) / 2
    low, high = max(0.0, at - 60.0), min(tube.length_mm, at + 60.0)
    scale = _scale(high - low + 30.0, 2 * half)
    for y in (-half, half):
        d.line((low * scale, y * scale), (high * scale, y * scale), BOLD)
    d.line((low * scale - 3, 0.0), (high * scale + 3, 0.0), SCRIBED)
    for x, pen in ((low, FAINT if low else BOLD), (high, FAINT)):
        d.line((x * scale, -half * scale), (x * scale, half * scale), pen)
    d.circle(at * scale, 0.0, bar.outer_mm * scale, CUT)
    d.cross(at * scale, 0.0, bar.outer_mm * scale / 2 + 2, 0.6)
    x0, y0, _, y1 = d.bounds
    d.line((at * scale, y0 - 1), (at * scale, y0 - 6), FAINT)
    d.text(at * scale + 1, y0 - 5.4, f"{at:.1f} {what}, Ø{bar.outer_mm:g}", WORDS_MM)
    d.arrow((x0 + 20, y1 + 5), (x0 + 2, y1 + 5), CUT)
    d.text(x0 + 22, y1 + 4, _to(s), WORDS_MM)
    d.text(x0 + 2, y1 + 9.5, "square on the face", HEAD_MM, bold=True)
    return scale


def _through(d: Drawing, s: MountStand, layout: Layout, tube: Member) -> float:
    """Along the tube: the spindle through both walls, the rocker's middle plane before it."""
    bar, m = s.parts[0], s.parts[0].frame.matrix()
    axis, near = np.array(bar.frame.z), np.array(s.point)
    pivot = needed(layout.pivot)
    wall = pivot.wall_mm
    end = float((m[:3, 3] - near) @ axis)
    far = abs(pivot.supports_mm[1] - pivot.supports_mm[0])
    plane = float((np.array(needed(layout.eyes).frame.origin) - near) @ axis)
    half = _across_face(tube, axis) / 2
    long, r = bar.part.length_mm, bar.part.outer_mm / 2
    scale = _scale(long + 40.0, 2 * half + 20)

    def box(a: float, b: float, low: float, high: float, fill: float | None) -> None:
        pts = [(x * scale, y * scale) for x, y in ((a, low), (b, low), (b, high), (a, high))]
        d.add(Path(pts[0], tuple((p,) for p in pts[1:]), CUT, True, fill))

    box(-wall / 2, far + wall / 2, -half, half, None)
    box(wall / 2, far - wall / 2, wall - half, half - wall, None)
    box(end, end + long, -r, r, 0.82)
    d.line(((end - 4) * scale, 0.0), ((end + long + 4) * scale, 0.0), SCRIBED)
    d.line((plane * scale, -half * scale), (plane * scale, half * scale), SCRIBED)
    lowest = d.bounds[1] - 2.0
    face = -wall / 2
    marks = [
        (end, f"{plane - end:.1f} from the free end to the middle plane"),
        (plane, f"{face - plane:.1f} from the rocker's middle plane to the face"),
        (face, f"{long:.1f} long; {end + long - far - wall / 2:.1f} out of the far wall"),
    ]
    for k, (x, words) in enumerate(marks):
        y = lowest - ROW_MM * (len(marks) - k)
        d.line((x * scale, lowest + 1), (x * scale, y), FAINT)
        d.text(x * scale + 1, y + 0.6, words, WORDS_MM)
    x0, _, _, y1 = d.bounds
    d.text(x0, y1 + 4, "along the tube, the free end to the left", HEAD_MM, bold=True)
    return scale


def _across_face(tube: Member, axis: np.ndarray) -> float:
    """Breadth of the face that an axis goes into, mm."""
    m = tube.frame.matrix()
    s = tube.section
    return s.height_mm if abs(float(m[:3, 0] @ axis)) > abs(float(m[:3, 1] @ axis)) else s.width_mm
