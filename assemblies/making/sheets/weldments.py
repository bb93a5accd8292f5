"""What is welded, as a sheet each: an arm with its housings, boss, tubes and the rod's lug; the boxed rocker.
Sizes between the places that must come out true, the welds, what is bored after them.

Sizes are those of the parts as laid out, mm and degrees, for the hand that is laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from assemblies.layout.account import ROCKER_PLAN, Seam, SeamOf, Seams
from assemblies.layout.placing import Layout, Placed, needed
from assemblies.making.sheets.assembly_sheets import numbers_of
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.drawing import BOLD, DRILLED, FAINT, FINE, SCRIBED, Drawing, Path, Text
from assemblies.making.sheets.paper import PAPERS, Printing, wrapped
from assemblies.making.sheets.part_sheets import (
    BLOCK_MM,
    BORDER_MM,
    WORDS_MM,
    PartSheet,
    fitting_scale,
    level,
    of_steel,
    room_mm,
    upright,
)
from assemblies.making.sheets.taken import Taken
from assemblies.making.sheets.weld_plan import WeldPlan
from parts.arm import Arm
from parts.shape.outline import Point

IN_LINE_MM, FLAT_MM, SQUARE_DEG = (
    0.2,
    0.5,
    0.3,
)  # of bores that share a bar, a plane, an axis; common practice
EYE_MM = 0.3  # of an eye from the pivot in its jig, common practice
ROW_MM, LINE_MM, SIZES_MM = 4.8, 4.0, 44.0  # of a table's row, of a note's line, of a view's sizes and gaps
C_ROOM_MM = 24.0  # on the paper, for its figure between its arrows
HEAD = ("", "size", "of what")
Row = tuple[str, str, str]


def sheets(
    layout: Layout, rows: Sequence[CutListLine], plan: WeldPlan | None, printing: Printing
) -> list[PartSheet]:
    out = [_rocker(layout, rows, plan, printing)] if plan is not None else []
    return out + [_arm(layout, name, rows, printing) for name in layout.arms]


def count_of(layout: Layout) -> str:
    hand = layout.job.corner.side
    other = "left" if hand == "right" else "right"
    return f"make 2 for the car: 1 as drawn ({hand}), 1 its mirror image ({other})"


def numbers_in(some: Sequence[Placed], rows: Sequence[CutListLine]) -> str:
    return ", ".join(str(n) for n in sorted({n for p in some for n in numbers_of(p, rows)}))


def weld_lines(seams: Sequence[Seam]) -> list[str]:
    return [
        f"Weld {k}, leg {s.leg_mm:g}: {s.where}; {s.runs} runs of {s.length_mm:.0f}."
        for k, s in enumerate(seams, 1)
    ]


def seams_of(some: Sequence[Placed]) -> list[Seam]:
    return [s for p in some if isinstance(p.weld, Seams) for s in p.weld.seams]


# ------------------------------------------------------------ an arm


def arm_sizes(arm: Arm) -> list[tuple[str, float, str]]:
    """Letter, value, of what: the triangle of an arm, and what it is made of."""
    front, rear = (np.array(p) for p in (arm.front_pivot, arm.rear_pivot))
    apart = float(np.linalg.norm(rear - front))
    along = (rear - front) / apart
    station = float(-front @ along)  # the joint is the origin
    off = float(np.linalg.norm(front + station * along))
    return [
        ("A", apart, "housings, middle to middle along the hinge"),
        ("B", off, "outer joint from the hinge's line, square to it"),
        ("C", station, "outer joint along the hinge from the front housing's middle, + to the rear"),
        ("D", math.degrees(math.atan2(off, station)), "front tube to the hinge, deg, on the rear's side"),
        ("E", math.degrees(math.atan2(off, apart - station)), "rear tube to the hinge, deg, on the front's"),
        ("F", arm.housing_length_mm, f"each housing's length, Ø{arm.housing_mm:g} outside"),
        ("G", math.hypot(station, off), "tape: boss to the front housing, middle to middle"),
        ("H", math.hypot(apart - station, off), "tape: boss to the rear housing, middle to middle"),
    ]


def _arm(layout: Layout, which: str, rows: Sequence[CutListLine], printing: Printing) -> PartSheet:
    placed = layout.arms[which]
    arm, name = placed.part, which.replace("_", " ")
    lug = layout.lug if layout.job.rod.on == which else None
    some: list[Placed] = [placed, *((*layout.lug_sleeves, *layout.lug_fins) if lug else ())]
    sizes = arm_sizes(arm)
    table: list[Row] = [(a, f"{v:.1f}", words) for a, v, words in sizes]
    bore, boss = f"Ø{arm.housing_bore_mm:g}", f"Ø{arm.boss_bore_mm:g}"
    table += [
        ("", boss, f"boss's bore, square to the plane of the tubes within {SQUARE_DEG:g} deg; "
         f"Ø{arm.boss_mm:g} outside, {arm.boss_height_mm:g} high"),
        ("", bore, f"both housings' bores, in line within {IN_LINE_MM:g}: a straight bar through both"),
        ("", "0.0", f"boss's middle out of the plane of hinge and tubes; all flat within {FLAT_MM:g}"),
        ("", f"Ø{arm.tube_diameter_mm:g} x {arm.tube_wall_mm:g}", "both tubes; their ends by their strips"),
    ]  # fmt: skip
    if lug:
        table += _lug_rows(layout, placed)
    notes = (
        "Seen from above; the hinge is the line through both housings. Tolerances told here are common "
        "practice.",
        "Jig: a straight bar through both housings, collars for A; a pin square to the plane in the boss for "
        "B and C. Tack all, measure G and H, weld from side to side, on the bar till cold.",
        *weld_lines(seams_of(some)),
        f"After welding, bushes and joint out till then: bore both housings in line to the bush in hand "
        f"({bore}), the boss to its joint ({boss}){', lug sleeves to the bolt' if lug else ''}; measure A, "
        f"B, G and H again.",
    )
    d, scale = _arm_view(layout, placed, sizes, _room(printing, len(table) + 1, notes))
    return PartSheet(
        f"{name}, welded",
        numbers_in(some, rows),
        of_steel(placed.material),
        count_of(layout),
        d,
        scale,
        (HEAD, *table),
        notes,
    )


def _room(printing: Printing, rows: int, notes: Sequence[str]) -> tuple[float, float]:
    """Of a view without its sizes, on the paper: what table and notes leave."""
    wide, high = room_mm(printing)
    w, h = PAPERS[printing.paper]
    lines = len(wrapped(notes, w - 2 * BORDER_MM - 8, WORDS_MM))
    left = h - 2 * BORDER_MM - BLOCK_MM - ROW_MM * rows - LINE_MM * lines - SIZES_MM
    return wide, min(high, left)


def lug_place(layout: Layout, placed: Placed[Arm]) -> tuple[float, float, float, float]:
    """The rod's outboard bolt on its arm: along the hinge from the front housing's middle, from the hinge's
    line towards the joint, over the arm's plane (car's up), and the clear room between its sleeves."""
    p = (np.linalg.inv(placed.frame.matrix()) @ (*layout.job.rod.outboard, 1.0))[:3]
    front, rear = (np.array(q) for q in (placed.part.front_pivot, placed.part.rear_pivot))
    along = (rear - front) / np.linalg.norm(rear - front)
    station = float((p[:2] - front) @ along)
    to_joint = -front - float(-front @ along) * along
    off = float((p[:2] - front) @ to_joint / np.linalg.norm(to_joint))
    ends = [np.array(s.frame.origin) for s in layout.lug_sleeves]
    return station, off, float(p[2]), float(np.linalg.norm(ends[0] - ends[1]))


def _lug_rows(layout: Layout, placed: Placed[Arm]) -> list[Row]:
    station, off, high, apart = lug_place(layout, placed)
    sleeve = layout.lug_sleeves[0].part
    under = "over" if high >= 0 else "under"
    return [
        ("J", f"{station:.1f}", "rod's bolt, middle between its sleeves: as C"),
        ("K", f"{off:.1f}", "the same from the hinge's line towards the joint: as B"),
        ("L", f"{abs(high):.1f}", f"the same {under} the plane of the tubes"),
        ("", f"{apart:.2f}", f"between the two sleeves, Ø{sleeve.outer_mm:g} bored {sleeve.bore_mm:g}; in "
         f"line within {IN_LINE_MM:g}"),
    ]  # fmt: skip


def _arm_view(
    layout: Layout, placed: Placed[Arm], sizes: Sequence[tuple[str, float, str]], room: tuple[float, float]
) -> tuple[Drawing, float]:
    """From above, the hinge level, the joint below it."""
    arm = placed.part
    front, rear = (np.array(p) for p in (arm.front_pivot, arm.rear_pivot))
    right = (rear - front) / np.linalg.norm(rear - front)
    if (right[0] * -front[1] + right[1] * front[0]) > 0:  # the joint would be above
        right = -right
    turn = np.array((right, (-right[1], right[0])))
    f, r, joint = turn @ (front - front), turn @ (rear - front), turn @ -front
    low, high = sorted((float(f[0]), float(r[0])))
    half = arm.housing_length_mm / 2
    wide = max(high + half, float(joint[0]) + arm.boss_mm / 2) - min(low - half, joint[0] - arm.boss_mm / 2)
    scale = fitting_scale(wide, -float(joint[1]) + (arm.housing_mm + arm.boss_mm) / 2, room)
    f, r, joint = scale * f, scale * r, scale * joint
    hl, hr = scale * half, scale * arm.housing_mm / 2
    d = Drawing()
    boss = shapely.Point(joint).buffer(scale * arm.boss_mm / 2, quad_segs=32)
    seats = [shapely.box(p[0] - hl, p[1] - hr, p[0] + hl, p[1] + hr) for p in (f, r)]
    before = shapely.union_all([boss, *seats])
    for p in (f, r):
        tube = shapely.LineString([joint, p]).buffer(scale * arm.tube_diameter_mm / 2, cap_style="flat")
        left = tube.difference(before)
        seen = max(getattr(left, "geoms", [left]), key=lambda g: g.area)
        d.polyline(list(seen.exterior.coords), BOLD)
        before = before.union(tube)
        d.line(tuple(joint), tuple(p), SCRIBED)
    for p in (f, r):
        d.box(p[0] - hl, p[1] - hr, p[0] + hl, p[1] + hr, BOLD)
        bore = scale * arm.housing_bore_mm / 2
        for y in (-bore, bore):
            d.line((p[0] - hl, p[1] + y), (p[0] + hl, p[1] + y), DRILLED)
        d.cross(p[0], p[1], 2.0, 0.0)
    d.circle(joint[0], joint[1], scale * arm.boss_mm, BOLD)
    d.circle(joint[0], joint[1], scale * arm.boss_bore_mm, FINE)
    d.cross(joint[0], joint[1], scale * arm.boss_mm / 2 + 2, 0.3)
    edge_l, edge_r = min(f[0], r[0]) - hl - 3, max(f[0], r[0]) + hl + 3
    d.line((edge_l, 0.0), (edge_r, 0.0), SCRIBED)
    if layout.job.rod.on == placed.body and layout.lug is not None:
        _lug_mark(d, layout, placed, scale, right, front)
    _arm_words(d, (f, r, joint), (hl, hr, scale * arm.boss_mm / 2), {a: v for a, v, _ in sizes})
    return d, scale


def _arm_words(
    d: Drawing,
    places: tuple[np.ndarray, np.ndarray, np.ndarray],
    halves: tuple[float, float, float],
    at: dict[str, float],
) -> None:
    """Sizes round an arm on the paper: front, rear, joint; half a housing's length and width, half the
    boss."""
    (f, r, joint), (hl, hr, boss) = places, halves
    x0 = d.bounds[0]
    first, last = sorted((float(f[0]), float(r[0])))
    level(d, first - hl, first + hl, hr + 4, "", hr)
    d.text(first - hl - 6, hr + 3.1, f"F {at['F']:.1f}", WORDS_MM, "end")
    level(d, first, last, hr + 14, f"A {at['A']:.1f}", hr + 5)
    a, b = sorted((float(f[0]), float(joint[0])))
    if b - a > 0.5:
        narrow = b - a < C_ROOM_MM and b < last - 1
        level(d, a, b, hr + 9, "" if narrow else f"C {at['C']:.1f}", hr + 1)
        if narrow:  # beyond the last housing, where no line goes through it
            d.line((b, hr + 9), (last + 3, hr + 9), FINE)
            d.text(last + 4, hr + 8.1, f"C {at['C']:.1f}", WORDS_MM)
    for y in (0.0, float(joint[1])):
        start = first - hl - 3 if y == 0.0 else float(joint[0]) - boss - 3
        d.line((min(start, x0 - 1), y), (max(start, x0 - 1), y), FAINT)
    upright(d, float(joint[1]), 0.0, x0 - 8, f"B {at['B']:.1f}", x0 - 2)
    d.text(float(f[0]), hr + 18, "front", WORDS_MM, "middle", bold=True)
    d.text(float(r[0]), hr + 18, "rear", WORDS_MM, "middle", bold=True)
    middles = [_angle(d, p, q, joint) for p, q in ((f, r), (r, f))]
    for letter, middle, way in zip("DE", middles, (f - r, r - f), strict=True):
        label(d, middle, f"{letter} {at[letter]:.1f} deg", (float(way[0]), float(way[1])))


def _lug_mark(
    d: Drawing, layout: Layout, placed: Placed[Arm], scale: float, right: np.ndarray, front: np.ndarray
) -> None:
    """The rod's bolt from above: its sleeves as they lie, a cross between them."""
    turn = np.array((right, (-right[1], right[0])))
    back = np.linalg.inv(placed.frame.matrix())

    def put(v: Sequence[float] | np.ndarray) -> np.ndarray:
        return scale * (turn @ ((back @ (*v, 1.0))[:2] - front))

    for s in layout.lug_sleeves:
        m = s.frame.matrix()
        a, b = (put((m @ (0.0, 0.0, z, 1.0))[:3]) for z in (0.0, s.part.length_mm))
        ring = shapely.LineString([a, b]).buffer(scale * s.part.outer_mm / 2, cap_style="flat")
        d.polyline(list(ring.exterior.coords), FINE)
    x, y = put(layout.job.rod.outboard)
    d.cross(x, y, 3.0, 0.4)


def _angle(
    d: Drawing, corner: np.ndarray, one: np.ndarray, other: np.ndarray, share: float = 0.3
) -> tuple[float, float]:
    """An angle as an arc between two lines from its corner; its middle."""
    start = math.atan2(*(one - corner)[::-1])
    sweep = (math.atan2(*(other - corner)[::-1]) - start + math.pi) % (2 * math.pi) - math.pi
    radius = share * min(float(np.linalg.norm(p - corner)) for p in (one, other))
    t = start + sweep * np.linspace(0, 1, 25)
    arc = [(float(x), float(y)) for x, y in corner + radius * np.column_stack((np.cos(t), np.sin(t)))]
    d.polyline(arc, FINE)
    return arc[12]


def label(d: Drawing, at: Point, words: str, way: Point = (1.0, 0.0)) -> None:
    """Words at the nearest place to a point that is clear of lines and words, `way` before others; on a line
    of their own where that is not hard by."""
    here, first = shapely.Point(at), math.atan2(way[1], way[0])
    told = [shapely.box(*Drawing([i]).bounds) for i in d.items if isinstance(i, Text) and i.words]
    drawn = [shapely.LineString(_fine(i)) for i in d.items if isinstance(i, Path)]
    taken = Taken(shapely.union_all(drawn), told)
    turns = [first + sign * k * math.pi / 12 for k in range(13) for sign in (1, -1)]
    for side in (turns[:14], turns[14:]):
        for reach in np.arange(3.0, 90.0, 1.5):
            for turn in side:
                x, y = at[0] + reach * math.cos(turn), at[1] + reach * math.sin(turn)
                word = Text(x, y - 1.0, words, WORDS_MM, "start" if math.cos(turn) >= -1e-9 else "end")
                room = shapely.box(*Drawing([word]).bounds).buffer(0.6)
                leader = shapely.shortest_line(here, room)
                if taken.meets(room) or any(leader.intersects(w) for w in told):
                    continue
                d.add(word)
                if leader.length > 5.0:
                    d.polyline([(float(u), float(v)) for u, v in leader.coords], FAINT)
                return


def _fine(path: Path) -> list[tuple[float, float]]:
    """Points along a path: its curves' own, not their controls."""
    t = np.linspace(0, 1, 9)[1:, None]
    weights = np.hstack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3))
    out = [path.start]
    for s in path.steps:
        out += s if len(s) == 1 else [(float(x), float(y)) for x, y in weights @ np.array([out[-1], *s])]
    return [*out, path.start] if path.closed else out


# ------------------------------------------------------------ the rocker


def rocker_sizes(layout: Layout) -> list[tuple[str, float, str]]:
    rocker, eyes = needed(layout.rocker), needed(layout.eyes)
    rod, damper = (np.array(e) for e in (eyes.rod_eye, eyes.damper_eye))
    arms = [float(np.linalg.norm(e)) for e in (rod, damper)]
    t, box = rocker.plate.thickness_mm, rocker.box_width_mm
    return [
        ("A", arms[0], f"pivot to rod eye, within {EYE_MM:g}"),
        ("B", arms[1], f"pivot to damper eye, within {EYE_MM:g}"),
        ("C", float(np.linalg.norm(rod - damper)), "check: rod eye to damper eye"),
        ("D", math.degrees(math.acos(float(rod @ damper) / arms[0] / arms[1])), "between both arms, deg"),
        ("E", box, "box, inside between the plates"),
        ("F", box + 2 * t, "over both plates"),
    ]


def _rocker(
    layout: Layout, rows: Sequence[CutListLine], plan: WeldPlan | None, printing: Printing
) -> PartSheet:
    rocker, eyes = needed(layout.rocker), needed(layout.eyes)
    plan = needed(plan)
    pieces = [p for p in layout.placed if p.weld == SeamOf(ROCKER_PLAN)]
    sizes, tube, plate = rocker_sizes(layout), rocker.tube, rocker.plate
    at = {a: v for a, v, _ in sizes}
    o = plate.outline()
    x0, y0, x1, y1 = o.bounds
    scale = fitting_scale(x1 - x0, y1 - y0, room_mm(printing))
    d = Drawing()
    for loop in (o.outer, *o.inner):
        d.loop(loop, BOLD)
    d.circle(0.0, 0.0, tube.outer_mm, BOLD)
    d.circle(0.0, 0.0, tube.outer_mm - 2 * tube.wall_mm, FINE)
    for e, hole in ((eyes.rod_eye, plate.rod_hole_mm), (eyes.damper_eye, plate.damper_hole_mm)):
        d.circle(*e, hole, BOLD)
        d.line((0.0, 0.0), e, SCRIBED)
    d.line(eyes.rod_eye, eyes.damper_eye, SCRIBED)
    d = d.moved(0.0, 0.0, scale)
    rod, damper = (scale * np.array(e) for e in (eyes.rod_eye, eyes.damper_eye))
    between = _angle(d, 0 * rod, rod, damper, 0.5)
    for a, b, letter in ((0 * rod, rod, "A"), (0 * rod, damper, "B"), (rod, damper, "C")):
        label(d, tuple((a + b) / 2), f"{letter} {at[letter]:.2f}")
    label(d, between, f"D {at['D']:.1f} deg")
    offset = eyes.damper_offset_mm
    table: list[Row] = [(a, f"{v:.2f}", words) for a, v, words in sizes]
    table += [
        ("", f"{tube.length_mm:.1f}", f"pivot tube's length, Ø{tube.outer_mm:g} x {tube.wall_mm:g}; square "
         f"to both plates within {SQUARE_DEG:g} deg"),
        ("", f"Ø{plate.rod_hole_mm:g}", "rod's holes, both plates in line"),
        ("", f"Ø{plate.damper_hole_mm:g}", "damper's holes, both plates in line"),
        *([("", f"{abs(offset):.2f}", "damper eye's middle off the box's middle, along the axis to the "
            + ("near" if offset > 0 else "far") + " plate")] if abs(offset) > 0.05 else []),
    ]  # fmt: skip
    return PartSheet(
        "rocker, welded",
        numbers_in(pieces, rows),
        of_steel(layout.job.rocker.plate_material),
        count_of(layout),
        d,
        scale,
        (HEAD, *table),
        (
            f"Seen along the pivot's axis on the {needed(layout.rocker_plates)[0].name}. Tolerances "
            f"told here are common practice.",
            "In its jig, in the order of the weld plan; both plates parallel, their holes in line: a bar "
            f"through each pair, within {IN_LINE_MM:g}.",
            *weld_lines(
                [
                    Seam(f"{name} to both plates, as numbered on the weld plan", n, long / n, leg)
                    for name, n, long, leg in _runs(plan)
                ]
            ),
            "After welding: ream the rod's and the damper's holes through both plates; bushes or bearings of "
            "the pivot after that, reamed in line; then measure A, B and C again.",
        ),
    )


def _runs(plan: WeldPlan) -> list[tuple[str, int, float, float]]:
    """A seam's name, its runs on both plates, their length together, leg."""
    out: dict[str, list] = {}
    for r in plan.runs:
        out.setdefault(r.seam, []).append(r)
    return [
        (name, 2 * len(runs), 2 * sum(r.length_mm for r in runs), runs[0].leg_mm)
        for name, runs in out.items()
    ]
