"""A drawing in mm, kept as lines, Bézier curves and words, and written as PDF or SVG from the same numbers.

Origin and axes are the drawing's own: x right, y up. Arcs become cubic Bézier pieces within `ARC_ERROR_MM`.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Iterator
from dataclasses import field, replace
from functools import cache
from html import escape
from pathlib import Path as File
from typing import Any

from parts.base.frozen import dataclass
from parts.shape.outline import Loop, Point, Segment, circle

ARC_ERROR_MM = 0.002
HALF_PI = math.pi / 2
SMALL_MM = 2.5  # no print is smaller: 7 points


@dataclass(frozen=True)
class Pen:
    """Width and dashes in mm; grey 0 is black, 1 white."""

    width_mm: float = 0.2
    dash_mm: tuple[float, ...] = ()
    grey: float = 0.0


CUT = Pen(0.2)  # 0.18 to 0.25: thin enough to split, thick enough to print; common practice
FINE = Pen(0.18)
DRILLED = Pen(0.18, (1.5, 0.8))
SCRIBED = Pen(0.18, (4.0, 1.0, 0.6, 1.0))  # marked, never cut
FAINT = Pen(0.13, (), 0.55)
BOLD = Pen(0.35)


@dataclass(frozen=True)
class Path:
    """A start and what follows: a point for a line, three (two controls, end) for a cubic Bézier curve."""

    start: Point
    steps: tuple[tuple[Point, ...], ...]
    pen: Pen = CUT
    closed: bool = False
    fill_grey: float | None = None

    @property
    def points(self) -> list[Point]:
        return [self.start, *(p for s in self.steps for p in s)]


@dataclass(frozen=True)
class Text:
    """Words with their baseline's start, middle or end at (x, y), turned `turn_deg` counter-clockwise."""

    x: float
    y: float
    words: str
    height_mm: float = 3.0  # of the font; a capital is 0.72 of it
    anchor: str = "start"
    turn_deg: float = 0.0
    bold: bool = False

    @property
    def width_mm(self) -> float:
        return text_width_mm(self.words, self.height_mm, self.bold)


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture (rows, columns, 3; bytes) from its lower left corner; an SVG leaves it out."""

    x: float
    y: float
    width_mm: float
    height_mm: float
    pixels: Any = field(repr=False)


Item = Path | Text | Picture


@dataclass
class Drawing:
    """Everything drawn, in order."""

    items: list[Item] = field(default_factory=list)

    def add(self, *items: Item) -> Drawing:
        self.items += items
        return self

    def line(self, a: Point, b: Point, pen: Pen = FINE) -> None:
        self.items.append(Path(a, ((b,),), pen))

    def polyline(self, points: Iterable[Point], pen: Pen = FINE) -> None:
        first, *rest = points
        self.items.append(Path(first, tuple((p,) for p in rest), pen))

    def loop(self, loop: Loop, pen: Pen = CUT, fill_grey: float | None = None) -> None:
        steps = tuple(s for seg in loop.segments for s in curve(seg))
        self.items.append(Path(loop.segments[0].start, steps, pen, True, fill_grey))

    def circle(
        self, x: float, y: float, diameter_mm: float, pen: Pen = CUT, fill_grey: float | None = None
    ) -> None:
        self.loop(circle(x, y, diameter_mm), pen, fill_grey)

    def segment(self, s: Segment, pen: Pen = FINE) -> None:
        self.items.append(Path(s.start, tuple(curve(s)), pen))

    def box(self, x0: float, y0: float, x1: float, y1: float, pen: Pen = FINE) -> None:
        self.items.append(Path((x0, y0), (((x1, y0),), ((x1, y1),), ((x0, y1),)), pen, True))

    def cross(self, x: float, y: float, reach_mm: float, open_mm: float = 0.8, pen: Pen = FINE) -> None:
        """Four strokes with an open centre, so that the point itself stays paper."""
        for ux, uy in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            self.line((x + ux * open_mm, y + uy * open_mm), (x + ux * reach_mm, y + uy * reach_mm), pen)

    def arrow(self, a: Point, b: Point, pen: Pen = FINE, head_mm: float = 2.0) -> None:
        self.line(a, b, pen)
        way = math.atan2(b[1] - a[1], b[0] - a[0])
        for side in (2.7, -2.7):
            self.line(b, (b[0] + head_mm * math.cos(way + side), b[1] + head_mm * math.sin(way + side)), pen)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        height_mm: float = 3.0,
        anchor: str = "start",
        turn_deg: float = 0.0,
        bold: bool = False,
    ) -> None:
        self.items.append(Text(x, y, words, height_mm, anchor, turn_deg, bold))

    def moved(self, dx: float, dy: float, scale: float = 1.0) -> Drawing:
        """Scaled about the origin, then shifted; pens keep their widths."""

        def put(p: Point) -> Point:
            return p[0] * scale + dx, p[1] * scale + dy

        def one(i: Item) -> Item:
            if isinstance(i, Picture):
                x, y = put((i.x, i.y))
                return replace(i, x=x, y=y, width_mm=i.width_mm * scale, height_mm=i.height_mm * scale)
            if isinstance(i, Text):
                return replace(i, x=i.x * scale + dx, y=i.y * scale + dy, height_mm=i.height_mm * scale)
            return replace(i, start=put(i.start), steps=tuple(tuple(put(p) for p in s) for s in i.steps))

        return Drawing([one(i) for i in self.items])

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Box round everything: controls included (they hold their curve), words by the font's own widths."""
        xs, ys = [], []
        for i in self.items:
            if isinstance(i, Picture):
                xs += [i.x, i.x + i.width_mm]
                ys += [i.y, i.y + i.height_mm]
                continue
            if isinstance(i, Path):
                xs += [p[0] for p in i.points]
                ys += [p[1] for p in i.points]
                continue
            start = {"start": 0.0, "middle": -0.5, "end": -1.0}[i.anchor] * i.width_mm
            c, s = math.cos(math.radians(i.turn_deg)), math.sin(math.radians(i.turn_deg))
            for u in (start, start + i.width_mm):
                for v in (-0.22 * i.height_mm, 0.75 * i.height_mm):
                    xs.append(i.x + c * u - s * v)
                    ys.append(i.y + s * u + c * v)
        return min(xs), min(ys), max(xs), max(ys)


# ------------------------------------------------------------------------------------------------ arcs


def bezier_error_share(sweep_rad: float) -> float:
    """Largest radial error of one cubic piece with controls at 4/3·tan(sweep/4) radii, as a share of the
    radius.

    2/27·sin⁶(θ/4)/cos²(θ/4): the radius of the curve overshoots by this (closed form; 2.7e-4 for a quarter
    turn).

    >>> round(bezier_error_share(1.5707963267948966) * 1e4, 2)
    2.73
    """
    return 2 / 27 * math.sin(sweep_rad / 4) ** 6 / math.cos(sweep_rad / 4) ** 2


def curve(s: Segment) -> Iterator[tuple[Point, ...]]:
    """A segment as one line, or as Bézier pieces within `ARC_ERROR_MM` of the arc."""
    if not s.bulge:
        yield (s.end,)
        return
    (cx, cy), r, sweep = s.centre, s.radius, s.sweep
    n = max(1, math.ceil(abs(sweep) / HALF_PI - 1e-9))
    while r * bezier_error_share(abs(sweep) / n) > ARC_ERROR_MM:
        n += 1
    step = sweep / n
    reach = 4 / 3 * math.tan(step / 4) * r
    a0 = math.atan2(s.start[1] - cy, s.start[0] - cx)
    for k in range(n):
        a, b = a0 + k * step, a0 + (k + 1) * step
        start = (cx + r * math.cos(a), cy + r * math.sin(a))
        end = s.end if k == n - 1 else (cx + r * math.cos(b), cy + r * math.sin(b))
        yield (
            (start[0] - reach * math.sin(a), start[1] + reach * math.cos(a)),
            (end[0] + reach * math.sin(b), end[1] - reach * math.cos(b)),
            end,
        )


# ------------------------------------------------------------------------------------------------ out


def text_width_mm(words: str, height_mm: float, bold: bool = False) -> float:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return stringWidth(words, font(bold), height_mm)


def lettering() -> str:
    """The letters that words are set in just now, as a name of their content: where words are placed hangs on
    it."""
    from reportlab.pdfbase.pdfmetrics import getFont

    return " ".join(_content(getattr(getFont(font(b)).face, "filename", "standard")) for b in (False, True))


@cache
def _content(font_file: Any) -> str:
    path = File(str(font_file))
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else str(font_file)


def font(bold: bool) -> str:
    return "Helvetica-Bold" if bold else "Helvetica"


def to_pdf(drawing: Drawing, canvas) -> None:
    """Draw on a reportlab canvas whose unit has been made 1 mm."""
    pen = None
    for i in drawing.items:
        if isinstance(i, Picture):
            canvas.drawImage(_image(i), i.x, i.y, i.width_mm, i.height_mm)
            continue
        if isinstance(i, Text):
            _write(i, canvas)
            continue
        if i.pen != pen:  # the canvas keeps it: a page says it once for all lines alike
            pen = i.pen
            canvas.setLineWidth(pen.width_mm)
            canvas.setDash(*((list(pen.dash_mm), 0) if pen.dash_mm else ([], 0)))
            canvas.setStrokeGray(pen.grey)
        path = canvas.beginPath()
        path.moveTo(*i.start)
        for s in i.steps:
            path.lineTo(*s[0]) if len(s) == 1 else path.curveTo(*(v for p in s for v in p))
        if i.closed:
            path.close()
        if i.fill_grey is not None:
            canvas.setFillGray(i.fill_grey)
        canvas.drawPath(path, stroke=1, fill=int(i.fill_grey is not None))
        if i.fill_grey is not None:
            canvas.setFillGray(0)


def _write(t: Text, canvas) -> None:
    put = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }[t.anchor]
    canvas.setFont(font(t.bold), t.height_mm)
    if not t.turn_deg:
        put(t.x, t.y, t.words)
        return
    canvas.saveState()
    canvas.translate(t.x, t.y)
    canvas.rotate(t.turn_deg)
    put(0, 0, t.words)
    canvas.restoreState()


def _image(p: Picture):
    from PIL import Image
    from reportlab.lib.utils import ImageReader

    return ImageReader(Image.fromarray(p.pixels))


def to_svg(drawing: Drawing, title: str, margin_mm: float = 5.0) -> str:
    """One page of true size: the user unit is 1 mm, y counted downward from the top."""
    x0, y0, x1, y1 = drawing.bounds
    left, top = x0 - margin_mm, y1 + margin_mm
    w, h = x1 - x0 + 2 * margin_mm, y1 - y0 + 2 * margin_mm

    def at(p: Point) -> str:
        return f"{p[0] - left:.4f} {top - p[1]:.4f}"

    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.4f}mm" height="{h:.4f}mm" viewBox="0 0 {w:.4f} '
        f'{h:.4f}">',
        f"<title>{escape(title)}</title>",
    ]
    for i in drawing.items:
        if isinstance(i, Picture):
            continue
        if isinstance(i, Text):
            turn = f' transform="rotate({-i.turn_deg:g} {at((i.x, i.y))})"' if i.turn_deg else ""
            weight = ' font-weight="bold"' if i.bold else ""
            out.append(
                f'<text x="{i.x - left:.4f}" y="{top - i.y:.4f}" font-family="Helvetica, Arial, sans-serif" '
                f'font-size="{i.height_mm:g}"'
                f'{weight} text-anchor="{i.anchor}"{turn}>{escape(i.words)}</text>'
            )
            continue
        d = (
            f"M{at(i.start)}"
            + "".join(("L" if len(s) == 1 else "C") + " ".join(map(at, s)) for s in i.steps)
            + ("Z" if i.closed else "")
        )
        dash = f' stroke-dasharray="{" ".join(f"{v:g}" for v in i.pen.dash_mm)}"' if i.pen.dash_mm else ""
        grey = f"#{round(255 * i.pen.grey):02x}" + f"{round(255 * i.pen.grey):02x}" * 2
        fill = "none" if i.fill_grey is None else "#" + f"{round(255 * i.fill_grey):02x}" * 3
        out.append(f'<path d="{d}" fill="{fill}" stroke="{grey}" stroke-width="{i.pen.width_mm:g}"{dash}/>')
    return "\n".join([*out, "</svg>"]) + "\n"
