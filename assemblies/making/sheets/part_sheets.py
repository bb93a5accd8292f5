"""Drawings a shop takes: a sheet a part that is cut, drilled or turned, with frame and title block. To a
stated scale; what is true to size is the template or the DXF.

Sizes come from the part's outline and steps. Border, title block, scales (ISO 5455), general tolerances
(ISO 2768), first-angle projection (ISO 5456-2)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path as File

from assemblies.making.sheets.blank import BlankSheet, counted
from assemblies.making.sheets.drawing import (
    BOLD,
    CUT,
    DRILLED,
    FAINT,
    FINE,
    SCRIBED,
    Drawing,
    Path,
    Text,
    lettering,
    text_width_mm,
    to_pdf,
)
from assemblies.making.sheets.paper import (
    NOMINAL,
    PAPERS,
    POINTS_PER_MM,
    TOLERANCE,
    Printing,
    digest_of,
    wrapped,
)
from assemblies.making.sheets.taken import Taken
from assemblies.making.sheets.turned import Step, Turned
from parts.base.frozen import dataclass
from parts.files.remembered import once
from parts.shape.outline import circle

SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05)
HOLES_MM = 0.2  # of a hole's place where nothing else is asked, common practice for drilled plate
BORDER_MM, BLOCK_MM, WORDS_MM = 10.0, 30.0, 2.7  # 2.7 mm: 7.7 points
STANDARD = {"S235": "EN 10025-2", "S275": "EN 10025-2", "S355": "EN 10025-2"}


@dataclass(frozen=True)
class PartSheet:
    """One page: `view` to draw to scale and what is written beside it; `sizes` are drawn after scaling."""

    title: str
    number: str  # its line of the cut list
    material: str
    count: str
    view: Drawing
    scale: float
    tables: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    measured: bool = True  # drawn to scale, with sizes

    @property
    def revision(self) -> str:
        """A name of the sheet's content: the same part has the same one, any change another."""
        said = (self.title, self.material, self.count, self.view.items, self.tables, self.notes)
        return digest_of(*said)[:8]


def of_steel(name: str) -> str:
    """The steel with its standard, where it is one of a standard.

    >>> of_steel("S275"), of_steel("spring steel")
    ('S275, EN 10025-2', 'spring steel')
    """
    if name in ("", "unknown"):
        return "grade not given: have it tested"
    return f"{name}, {STANDARD[name]}" if name in STANDARD else name


def fitting_scale(wide: float, high: float, room: tuple[float, float]) -> float:
    return next((s for s in SCALES if s * wide <= room[0] and s * high <= room[1]), SCALES[-1])


def room_mm(printing: Printing) -> tuple[float, float]:
    """Of a view with its sizes, on the paper."""
    w, h = PAPERS[printing.paper]
    return w - 2 * BORDER_MM - 46.0, (h - 2 * BORDER_MM - BLOCK_MM) * 0.62 - 26.0


# ------------------------------------------------------------ flat


def flat_sheet(b: BlankSheet, number: str, printing: Printing = NOMINAL) -> PartSheet:
    """Outline with overall sizes, radii, numbered corners; tables of corners and holes from the datum."""
    o = b.outline
    x0, y0, x1, y1 = o.bounds
    scale = fitting_scale(x1 - x0, y1 - y0, room_mm(printing))
    d = Drawing()
    for loop in (o.outer, *o.inner):
        d.loop(loop, BOLD)
    for m in o.marks:
        if m.kind == "line":
            d.polyline(m.points, SCRIBED)
    for h in b.holes:
        x, y = x0 + h.x_mm, y0 + h.y_mm
        d.circle(x, y, h.diameter_mm, CUT if h.made == "cut" else DRILLED)
        d.cross(x, y, h.diameter_mm / 2 + 2.0 / scale, 0.6 / scale)
    d = d.moved(-scale * x0, -scale * y0, scale)
    wide, high = scale * (x1 - x0), scale * (y1 - y0)
    level(d, 0.0, wide, -9.0, f"{x1 - x0:.1f}", 0.0)
    upright(d, 0.0, high, -9.0, f"{y1 - y0:.1f}", 0.0)
    _words(d, b, scale, (x0, y0))
    rows = [("hole", "x", "y", "finished", "place within", "how")]
    for h in b.holes:
        limits = f" H7 ({h.limits_mm[0]:.3f} to {h.limits_mm[1]:.3f})" if h.limits_mm else ""
        size = f"Ø{h.diameter_mm:g}{limits}"
        how = h.order + (f"; {h.when}" if h.when not in ("", "with the outline", "before welding") else "")
        within = f"±{HOLES_MM / 2 if h.fit in ('reamed', 'jig') else HOLES_MM:g}"
        rows.append((f"{h.number}  {h.purpose}", f"{h.x_mm:.2f}", f"{h.y_mm:.2f}", size, within, how))
    corners = _corners(b)
    notes = [
        f"x and y from the left and lower edge of the box round the part, on the face that carries the "
        f"marks; "
        f"the same datum as the DXF {b.file_stem}.dxf, which rules the outline.",
    ]
    if corners:
        listed = "; ".join(corners)
        notes.append(f"Corners, counter-clockwise, x y (R: arc to the next, - hollow): {listed}.")
    for k, w in enumerate(o.inner, 1):
        a, c, e, f = w.bounds
        radii = sorted({round(q.radius, 1) for q in w.segments if q.bulge})
        round_ = f", R {', '.join(f'{r:g}' for r in radii)}" if radii else ""
        notes.append(
            f"Window {k}: {e - a:.2f} x {f - c:.2f}, its lower left corner at x {a - x0:.2f} y "
            f"{c - y0:.2f}{round_}."
        )
    if b.folds:
        notes.append("Dash-dot: fold lines; radius, angle and sense stand at the fold (see the template).")
    notes.append("Deburr, break edges 0.5; no notch, no punch mark in the rim.")
    return PartSheet(
        f"{b.part}" + ("" if b.hand == "either" else f", {b.hand.upper()} HAND"),
        number,
        f"{b.thickness_mm:g} mm plate, {of_steel(b.material)}",
        counted(b.count, b.hand).replace("cut ", "make ").replace(" of this file", ""),
        d,
        scale,
        tuple(rows) if len(rows) > 1 else (),
        tuple(notes),
    )


MOST_CORNERS = 28


def _corners(b: BlankSheet) -> list[str]:
    x0, y0 = b.outline.bounds[:2]
    segments = b.outline.outer.segments
    if len(segments) > MOST_CORNERS:
        return []
    return [
        f"{k} {s.start[0] - x0:.1f} {s.start[1] - y0:.1f}"
        + (f" R{'-' if s.bulge < 0 else ''}{s.radius:.1f}" if s.bulge else "")
        for k, s in enumerate(segments, 1)
    ]


def _words(d: Drawing, b: BlankSheet, scale: float, origin: tuple[float, float]) -> None:
    """Numbers of holes and corners and each radius once, at the nearest place clear of lines and words."""
    from shapely import LineString, MultiLineString, box

    x0, y0 = origin
    o = b.outline
    rounds = [circle(h.x, h.y, h.diameter_mm) for h in o.holes]
    rims = [[*p, p[0]] for loop in (o.outer, *o.inner, *rounds) for p in [loop.points(0.05)]]
    lines = [[((x - x0) * scale, (y - y0) * scale) for x, y in rim] for rim in rims]
    lines += [i.points for i in d.items if isinstance(i, Path) and not i.closed and len(i.points) > 1]
    taken = Taken(
        MultiLineString(lines).buffer(0.3),
        (box(*Drawing([i]).bounds) for i in d.items if isinstance(i, Text)),
    )

    told: list = []  # that no leader goes through

    def put(x: float, y: float, words: str, reach: float, bold: bool = False) -> None:
        for r in (reach, reach + 2, reach + 4, reach + 7, reach + 11, reach + 16):
            for k in range(12):
                a = math.pi / 4 + k * math.pi / 6
                u, v = x + r * math.cos(a), y + r * math.sin(a)
                t = Text(u, v - 1.0, words, WORDS_MM, "start" if math.cos(a) >= 0 else "end", bold=bold)
                shape = box(*Drawing([t]).bounds).buffer(0.4)
                end = (x + (r - 0.6) * math.cos(a), y + (r - 0.6) * math.sin(a))
                led = LineString([(x, y), end]) if r > reach + 3 else None
                if taken.meets(shape) or (led and any(led.intersects(w) for w in told)):
                    continue
                taken.add(shape)
                told.append(shape)
                d.add(t)
                if led:
                    taken.add(led.buffer(0.3))
                    d.line((x, y), end, FAINT)
                return

    for h in b.holes:
        put(scale * h.x_mm, scale * h.y_mm, f"{h.number}", scale * h.diameter_mm / 2 + 0.8, True)
    seen: set[float] = set()
    for s in (s for loop in (b.outline.outer, *b.outline.inner) for s in loop.segments if s.bulge):
        r = round(s.radius, 1)
        if r not in seen and scale * s.length > 1.5:
            seen.add(r)
            x, y = s.at(0.5)
            put(scale * (x - x0), scale * (y - y0), f"R{r:g}", 0.8)
    if len(b.outline.outer.segments) <= MOST_CORNERS:
        for k, s in enumerate(b.outline.outer.segments, 1):
            put(scale * (s.start[0] - x0), scale * (s.start[1] - y0), str(k), 0.6)


def level(d: Drawing, a: float, b: float, y: float, words: str, from_y: float) -> None:
    """A level size with its extension lines; its figure beside it where it finds no room between."""
    for x in (a, b):
        d.line((x, from_y + math.copysign(1.0, y - from_y)), (x, y + math.copysign(1.5, y - from_y)), FINE)
    wide = text_width_mm(words, WORDS_MM)
    if b - a > wide + 6:
        d.arrow(((a + b) / 2, y), (a, y), FINE, 1.6)
        d.arrow(((a + b) / 2, y), (b, y), FINE, 1.6)
        d.text((a + b) / 2, y + 0.8, words, WORDS_MM, "middle")
    else:
        d.arrow((a - 5, y), (a, y), FINE, 1.6)
        d.arrow((b + 5, y), (b, y), FINE, 1.6)
        d.text(b + 6, y - 0.9, words, WORDS_MM)


def upright(d: Drawing, a: float, b: float, x: float, words: str, from_x: float) -> None:
    for y in (a, b):
        d.line((from_x + math.copysign(1.0, x - from_x), y), (x + math.copysign(1.5, x - from_x), y), FINE)
    d.arrow((x, (a + b) / 2), (x, a), FINE, 1.6)
    d.arrow((x, (a + b) / 2), (x, b), FINE, 1.6)
    d.text(x - 0.8, (a + b) / 2, words, WORDS_MM, "middle", 90.0)


# ------------------------------------------------------------ turned


def turned_sheet(t: Turned, number: str, printing: Printing = NOMINAL, count: str = "") -> PartSheet:
    """Half in section along its axis, seen from the side; its end beside it. `count`: how many, where it is
    not so many a side."""
    room = room_mm(printing)
    scale = fitting_scale(t.length_mm + t.over_mm + 20, t.over_mm, room)
    d, along, half = Drawing(), scale * t.length_mm, scale * t.over_mm / 2
    x = 0.0
    for s in t.outside:
        d.box(x, -scale * s.diameter_mm / 2, x + scale * s.length_mm, scale * s.diameter_mm / 2, BOLD)
        x += scale * s.length_mm
    d.line((-4, 0.0), (along + 4, 0.0), SCRIBED)
    for bore, start, way in ((t.bore, 0.0, 1.0), (t.bore_right, along, -1.0)):
        at = start
        for s in bore:
            end = at + way * scale * s.length_mm
            r = scale * s.diameter_mm / 2
            d.line((at, r), (end, r), CUT)
            d.line((at, -r), (end, -r), DRILLED)
            if abs(end - (along - start)) > 1e-6:
                d.line((end, 0.0), (end, r), CUT)
            at = end
    _hatch(d, t, scale)
    left = along + 18 + half
    for outside_mm in {s.diameter_mm for s in t.outside}:
        d.circle(left, 0.0, scale * outside_mm, BOLD)
    for s in (*t.bore[:1], *t.bore_right[:1]):
        d.circle(left, 0.0, scale * s.diameter_mm, CUT if t.bore else DRILLED)
    d.cross(left, 0.0, half + 3, 0.5, SCRIBED)
    _sizes(d, t, scale, half, along)
    return PartSheet(
        t.name,
        number,
        of_steel(t.material),
        count or f"make {2 * t.count} for the car: {t.count} a side, the same for left and right",
        d,
        scale,
        (),
        (
            *t.notes,
            "Upper half in section, end seen from the left (first angle). Break edges 0.3, no sharp inner "
            "corner.",
        ),
    )


def _hatch(d: Drawing, t: Turned, scale: float) -> None:
    """Metal of the upper half, hatched at 45 degrees."""
    from shapely import LineString, box
    from shapely.ops import unary_union

    x, metal = 0.0, []
    for s in t.outside:
        metal.append(box(x, 0.0, x + scale * s.length_mm, scale * s.diameter_mm / 2))
        x += scale * s.length_mm
    solid = unary_union(metal)
    for bore, at, way in ((t.bore, 0.0, 1.0), (t.bore_right, x, -1.0)):
        for s in bore:
            end = at + way * scale * s.length_mm
            solid = solid.difference(box(min(at, end), -1.0, max(at, end), scale * s.diameter_mm / 2))
            at = end
    x0, y0, x1, y1 = solid.bounds
    for k in range(math.ceil((x1 - x0 + y1 - y0) / 2.5)):
        c = x0 - (y1 - y0) + 2.5 * k
        found = LineString([(c, y0), (c + (y1 - y0), y1)]).intersection(solid)
        for g in getattr(found, "geoms", [found]):
            if g.geom_type == "LineString" and g.length > 0.2:
                a, b = g.coords
                d.line(a, b, FAINT)


def _sizes(d: Drawing, t: Turned, scale: float, half: float, along: float) -> None:
    """Lengths under the view, outsides and bores written over it, a line each."""
    y, x = -half - 7.0, 0.0
    if len(t.outside) > 1:
        for s in t.outside:
            level(d, x, x + scale * s.length_mm, y, f"{s.length_mm:.1f}", -half)
            x += scale * s.length_mm
            y -= 6.0
    level(d, 0.0, along, y - 1, f"{t.length_mm:.1f}", -half)
    x, row = 0.0, half + 5.0
    spots = []
    for s in t.outside:
        spots.append((x + scale * s.length_mm / 2, scale * s.diameter_mm / 2, s))
        x += scale * s.length_mm
    for bore, at, way in ((t.bore, 0.0, 1.0), (t.bore_right, along, -1.0)):
        for s in bore:
            spots.append((at + way * scale * s.length_mm * 0.7, scale * s.diameter_mm / 2, s))
            at += way * scale * s.length_mm
    spots.sort(key=lambda p: -p[0])
    for x, r, s in spots:  # the rightmost lowest, so that no line crosses a word
        d.line((x, r), (x, row - 0.5), FAINT)
        d.line((x, row - 0.5), (x + 3, row - 0.5), FAINT)
        d.text(x + 3.6, row - 1.2, _tolerated(s), WORDS_MM)
        row += 5.0


def _tolerated(s: Step) -> str:
    return s.words or f"Ø{s.diameter_mm:g}"


# ------------------------------------------------------------ pages


def write(path: File, sheets: Sequence[PartSheet], job: str, printing: Printing, title: str) -> File:
    """One page a sheet, border and title block round it, a bookmark each."""
    from reportlab.pdfgen.canvas import Canvas

    paper = PAPERS[printing.paper]
    canvas = Canvas(str(path), pagesize=tuple(v * POINTS_PER_MM for v in paper), invariant=1)
    canvas.setTitle(title)
    canvas.setAuthor("rockershed")
    for n, s in enumerate(sheets, 1):
        canvas.bookmarkPage(f"p{n}")
        canvas.addOutlineEntry(s.title, f"p{n}")
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        to_pdf(page(s, job, printing, n, len(sheets)), canvas)
        canvas.showPage()
    canvas.save()
    return path


def page(s: PartSheet, job: str, printing: Printing, number: int = 1, of: int = 1) -> Drawing:
    """The whole page in mm from its lower left corner."""
    w, h = PAPERS[printing.paper]
    d = Drawing()
    d.box(BORDER_MM, BORDER_MM, w - BORDER_MM, h - BORDER_MM, BOLD)
    _block(d, s, job, printing, number, of)
    x0, y0, x1, y1 = s.view.bounds
    top = h - BORDER_MM - 8
    dx = (w - (x1 - x0)) / 2 - x0
    d.add(*s.view.moved(dx, top - y1).items)
    y = top - (y1 - y0) - 10
    y = _table(d, s.tables, BORDER_MM + 4, y, w - 2 * BORDER_MM - 8)
    for line in wrapped(s.notes, w - 2 * BORDER_MM - 8, WORDS_MM):
        y -= 4.0
        d.text(BORDER_MM + 4, y, line, WORDS_MM)
    return d


ROW_GAP_MM = 0.8  # between a row's words and the next, the line between them


def _table(d: Drawing, rows: Sequence[tuple[str, ...]], x: float, y: float, wide: float) -> float:
    """Columns as wide as their longest cell; the last one takes the rest and is wrapped."""
    if not rows:
        return y
    widths = [max(text_width_mm(r[k], WORDS_MM) for r in rows) + 3 for k in range(len(rows[0]) - 1)]
    widths[0] = min(widths[0], 48.0)
    last = wide - sum(widths)
    for n, row in enumerate(rows):
        cells = [wrapped([c], v - 2, WORDS_MM) for c, v in zip(row, [*widths, last], strict=True)]
        high = 4.0 * max(map(len, cells))
        at = x
        for cell, v in zip(cells, [*widths, last], strict=True):
            for i, words in enumerate(cell):
                d.text(at, y - 3.2 - 4.0 * i, words, WORDS_MM, bold=n == 0)
            at += v
        y -= high + ROW_GAP_MM
        d.line((x, y + 0.6), (x + wide, y + 0.6), FAINT)
    return y - 3


def _block(d: Drawing, s: PartSheet, job: str, printing: Printing, number: int, of: int) -> None:
    """The title block: who made it, what, of what, how many, to which tolerance and scale."""
    x0, x1, y = BORDER_MM, PAPERS[printing.paper][0] - BORDER_MM, BORDER_MM
    d.line((x0, y + BLOCK_MM), (x1, y + BLOCK_MM), BOLD)
    middle = x0 + (x1 - x0) * 0.56
    d.line((middle, y), (middle, y + BLOCK_MM), CUT)
    title = wrapped([s.title], (middle - x0 - 6) / 1.15, 3.6)  # set bold
    for i, words in enumerate(title[:2]):
        d.text(
            x0 + 3,
            y + BLOCK_MM - 6 - 4.4 * i,
            words + (" ..." if i and len(title) > 2 else ""),
            3.6,
            bold=True,
        )
    below = wrapped([f"{job}; cut list no. {s.number or 'none'}", s.count], middle - x0 - 6, WORDS_MM)
    for i, words in enumerate(below[:4]):
        d.text(x0 + 3, y + BLOCK_MM - 15.5 - 4 * i, words, WORDS_MM)
    scale = f"{s.scale:g} : 1" if s.scale >= 1 else f"1 : {1 / s.scale:.3g}"
    said = (
        f"material: {s.material}",
        f"tolerances: {TOLERANCE} where none is given" if s.measured else "sizes: on the sheets of the parts",
        f"scale {scale}; first-angle projection; mm" if s.measured else f"seen aslant, about {scale}",
        f"revision {s.revision} (by content); sheet {number} of {of}",
        "; ".join(printing.made),
        "Assists a builder; approves nothing.",
    )
    lines = [line for words in said for line in wrapped([words], x1 - middle - 6, WORDS_MM)]
    step = min(4.6, (BLOCK_MM - 6.5) / (len(lines) - 1))
    for i, words in enumerate(lines):
        d.text(middle + 3, y + BLOCK_MM - 5 - step * i, words, WORDS_MM)
    if s.measured:
        first_angle(d, x1 - 17.0, y + 4.0)


def first_angle(d: Drawing, x: float, y: float, high: float = 5.0) -> None:
    """The symbol of first-angle projection (ISO 5456-2): a cone's frustum from the side, its small end left,
    and to the right of it what is seen from there."""
    long, small = 1.2 * high, high / 2
    d.polyline([(x, y - small / 2), (x, y + small / 2), (x + long, y + high / 2)], FINE)
    d.polyline([(x, y - small / 2), (x + long, y - high / 2), (x + long, y + high / 2)], FINE)
    d.circle(x + long + high, y, high, FINE)
    d.circle(x + long + high, y, small, FINE)
    d.line((x - 1.2, y), (x + long + 1.2, y), SCRIBED)
    d.cross(x + long + high, y, high / 2 + 1.2, 0.0, SCRIBED)


def sheets(
    blanks: Sequence[BlankSheet], turned: Sequence[Turned], numbers: dict[str, str], printing: Printing
) -> list[PartSheet]:
    """Every blank of every hand, then every turned piece; `numbers`: item of the cut list to its number."""
    todo: list[tuple[Callable[..., PartSheet], BlankSheet | Turned, str]]
    printing = printing.undated
    todo = [(flat_sheet, b, numbers.get(b.part, "")) for b in blanks]
    todo += [(turned_sheet, t, numbers.get(t.row, "")) for t in turned]
    return [
        once("part sheet", (part, number, printing, lettering()), partial(draw, part, number, printing))
        for draw, part, number in todo
    ]
