"""True-size pages: paper, check bars, tiles that overlap, and the correction of a printer's scale.

Everything is laid out in true mm. A printer that prints 200 mm as 199.2 gets the factor 200/199.2: the page
is then drawn that much larger, so that what comes out of it is true, and the same room on the paper holds
that much less.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import field, replace
from functools import cached_property
from io import BytesIO
from pathlib import Path as File
from typing import Any

from assemblies.making.sheets.drawing import (
    BOLD,
    FAINT,
    FINE,
    SMALL_MM,
    Drawing,
    Path,
    Picture,
    Text,
    lettering,
    text_width_mm,
    to_pdf,
)
from parts.base.frozen import dataclass
from parts.base.units import PAPERS_MM
from parts.base.version import version
from parts.files.remembered import once

PAPERS = PAPERS_MM
MARGIN_MM, OVERLAP_MM = 10.0, 10.0  # common practice
FOOT_MM, SIDE_MM = 34.0, 9.0  # strips for the title with the level bar, and for the upright bar
MOST_CORRECTION = 0.05
POINTS_PER_MM = 72 / 25.4
LEGEND_MM, LEADING_MM = 2.9, 4.0
TOLERANCE = "ISO 2768-mK"  # where a sheet gives none


class SheetError(ValueError):
    """An option of the sheets that cannot be used; the text names value and limit."""


@dataclass(frozen=True)
class Printing:
    """Paper, and the factors nominal/measured of the check bars on a test print, across and up the page as it
    is read. `dated`: the day of the job's content; no part of what makes two builds different."""

    paper: str = "A4"
    scale_x: float = 1.0
    scale_y: float = 1.0
    dated: str = field(default="", compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise SheetError(f'paper is "{self.paper}"; known: {", ".join(PAPERS)}')
        for name in ("scale_x", "scale_y"):
            if not abs(getattr(self, name) - 1) <= MOST_CORRECTION:
                raise SheetError(
                    f"{name} is {getattr(self, name):g}; it must be within {1 - MOST_CORRECTION:g} to "
                    f"{1 + MOST_CORRECTION:g} "
                    "(nominal over measured): a larger error is a print set to fit the page"
                )

    @property
    def made(self) -> tuple[str, ...]:
        """By which release, of which day's job."""
        return (f"rockershed {version()}", *([f"job of {self.dated}"] if self.dated else []))

    @property
    def undated(self) -> Printing:
        """All that a drawing hangs on: its page alone names the day."""
        return replace(self, dated="")

    @property
    def page_mm(self) -> tuple[float, float]:
        """What the paper holds, in true mm."""
        w, h = PAPERS[self.paper]
        return w / self.scale_x, h / self.scale_y

    @property
    def window(self) -> tuple[float, float, float, float]:
        """(x0, y0, width, height) of the room for the drawing."""
        w, h = self.page_mm
        x0, y0 = MARGIN_MM + SIDE_MM, MARGIN_MM + FOOT_MM
        return x0, y0, w - MARGIN_MM - x0, h - MARGIN_MM - y0

    @property
    def bars_mm(self) -> tuple[float, float]:
        """Nominal length of the level and the upright check bar: 200, or the longest whole 20 that fits."""
        across, up = (min(200.0, 20.0 * math.floor((v - 2 * MARGIN_MM - SIDE_MM) / 20)) for v in self.page_mm)
        return across, up

    @property
    def corrected(self) -> bool:
        return (self.scale_x, self.scale_y) != (1.0, 1.0)


NOMINAL = Printing()


@dataclass(frozen=True)
class Sheet:
    """One thing drawn at true size: its title, what stands under it on the page, the drawing and the legend's
    lines."""

    title: str
    subtitle: str
    drawing: Drawing
    legend: tuple[str, ...] = ()

    @cached_property
    def digest(self) -> str:
        """A name of the sheet's content: the same sheet has the same one, any change another."""
        return digest_of(self.title, self.subtitle, self.drawing.items, self.legend)

    @property
    def revision(self) -> str:
        return self.digest[:8]


def digest_of(*said: Any) -> str:
    """A name of what a sheet says, words and lines; of a picture its pixels."""
    named = hashlib.sha256(repr(said).encode())
    for items in said:
        for i in items if isinstance(items, list) else ():
            if isinstance(i, Picture):
                named.update(i.pixels.tobytes())
    return named.hexdigest()


@dataclass
class Page:
    """One page: the whole of a sheet, one tile of it, or its map."""

    sheet: Sheet
    drawing: Drawing  # already in page coordinates
    what: str = ""
    clip: bool = True
    words: Drawing = field(default_factory=Drawing)  # not clipped


def pages(sheet: Sheet, printing: Printing) -> list[Page]:
    """A sheet on one page where drawing and legend fit its window, else a map with the legend and as many
    tiles as it takes."""
    x0, y0, w, h = printing.window
    bx0, by0, bx1, by1 = sheet.drawing.bounds
    wide, high = bx1 - bx0, by1 - by0
    legend = wrapped(sheet.legend, w)
    taken = LEADING_MM * len(legend) + 3
    if wide <= w and high + taken <= h:
        here = sheet.drawing.moved(x0 + (w - wide) / 2 - bx0, y0 + h - high - by0 - (h - high - taken) * 0.4)
        return [Page(sheet, here, words=_legend(legend, x0, y0 + taken))]
    columns, rows = (
        max(1, math.ceil((size - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))
        for size, room in ((wide, w), (high, h))
    )
    step_x, step_y = w - OVERLAP_MM, h - OVERLAP_MM
    left = (bx0 + bx1) / 2 - (columns * step_x + OVERLAP_MM) / 2
    top = (by0 + by1) / 2 + (rows * step_y + OVERLAP_MM) / 2
    tiles = []
    for r in range(rows):
        for c in range(columns):
            tx, ty = left + c * step_x, top - r * step_y - h  # lower left corner of the tile in the drawing
            page = sheet.drawing.moved(x0 - tx, y0 - ty)
            name = _tile(r, c)
            _crosses(page, x0, y0, w, h, r, c, rows, columns)
            tiles.append(
                Page(sheet, page, f"tile {name} of {rows * columns}" if rows * columns > 1 else "drawing")
            )
    return [
        Page(
            sheet,
            _map(sheet, printing, legend, rows, columns, left, top, step_x, step_y),
            "page map",
            clip=False,
        ),
        *tiles,
    ]


def whole(sheet: Sheet) -> Drawing:
    """A sheet on one page of its own size: check bars of 100 mm both ways, title and legend below."""
    d = Drawing(list(sheet.drawing.items))
    x0, y0, *_ = d.bounds
    bar(d, (x0 - 6, y0), 100.0, True)
    bar(d, (x0, y0 - 8), 100.0, False)
    d.text(x0, y0 - 17, sheet.title, 4.2, bold=True)
    for i, words in enumerate(
        ["Print at 100 %: both bars must measure 100 mm.", *wrapped((sheet.subtitle, *sheet.legend), 182.0)]
    ):
        d.text(x0, y0 - 22 - LEADING_MM * i, words, LEGEND_MM)
    return d


def _tile(row: int, column: int) -> str:
    return f"{chr(ord('A') + row % 26)}{column + 1}"


def _crosses(
    page: Drawing, x0: float, y0: float, w: float, h: float, row: int, column: int, rows: int, columns: int
) -> None:
    """Two crosses in the middle of each overlap, near a quarter and three quarters, where the drawing leaves
    them room; both tiles of an overlap look at the same drawing, so they choose alike."""
    half, free = OVERLAP_MM / 2, _Free(page)
    for there, x, other in (
        (column > 0, x0 + half, column - 1),
        (column < columns - 1, x0 + w - half, column + 1),
    ):
        for places in QUARTERS if there else ():
            y = y0 + h * free.first(places, lambda s, x=x: (x - 11, y0 + s * h - 5, x + 11, y0 + s * h + 5))
            page.cross(x, y, 4.0, 0.5, BOLD)
            page.text(
                x + (1 if other < column else -1),
                y + 1.2,
                "-".join(sorted((_tile(row, column), _tile(row, other)))),
                SMALL_MM,
                "start" if other < column else "end",
            )
    for there, y, other in ((row > 0, y0 + h - half, row - 1), (row < rows - 1, y0 + half, row + 1)):
        for places in QUARTERS if there else ():
            x = x0 + w * free.first(places, lambda s, y=y: (x0 + s * w - 5, y - 5, x0 + s * w + 11, y + 5))
            page.cross(x, y, 4.0, 0.5, BOLD)
            page.text(x + 1, y + 1.2, "-".join(sorted((_tile(row, column), _tile(other, column)))), SMALL_MM)


QUARTERS = tuple(
    tuple(q + off for off in (0.0, 0.04, -0.04, 0.08, -0.08, 0.12, -0.12, 0.16, -0.16, 0.2, -0.2))
    for q in (0.25, 0.75)
)


class _Free:
    """Where a drawing has no lines and no words."""

    def __init__(self, drawing: Drawing) -> None:
        from shapely import MultiLineString, STRtree, box

        lines = [i.points + [i.start] * i.closed for i in drawing.items if isinstance(i, Path)]
        self.tree = STRtree(
            [
                *MultiLineString([p for p in lines if len(p) > 1]).geoms,
                *(box(*Drawing([i]).bounds) for i in drawing.items if isinstance(i, Text)),
            ]
        )

    def first(self, places, room):
        """The first place whose box (of `room`) is free; the first of all where none is."""
        from shapely import box

        return next((p for p in places if not len(self.tree.query(box(*room(p)), "intersects"))), places[0])


def _map(
    sheet: Sheet,
    printing: Printing,
    legend: list[str],
    rows: int,
    columns: int,
    left: float,
    top: float,
    step_x: float,
    step_y: float,
) -> Drawing:
    """The whole drawing small, with the tiles' edges and names, above the legend."""
    x0, y0, w, h = printing.window
    taken = LEADING_MM * len(legend) + 12
    wide, high = columns * step_x + OVERLAP_MM, rows * step_y + OVERLAP_MM
    scale = min(1.0, w / wide, (h - taken) / high)
    dx, dy = x0 + (w - scale * wide) / 2 - scale * left, y0 + h - scale * top
    small = Drawing([i for i in sheet.drawing.items if hasattr(i, "start")]).moved(
        dx, dy, scale
    )  # words would be too small to read
    free = _Free(small)
    for r in range(rows):
        for c in range(columns):
            a, b = left + c * step_x, top - r * step_y
            small.box(
                a * scale + dx,
                (b - step_y - OVERLAP_MM) * scale + dy,
                (a + step_x + OVERLAP_MM) * scale + dx,
                b * scale + dy,
                FAINT,
            )
            x1, y1, x2, y2 = (
                (a + OVERLAP_MM) * scale + dx + 1,
                (b - OVERLAP_MM) * scale + dy - 5,
                (a + step_x) * scale + dx - 9,
                (b - step_y) * scale + dy + 2,
            )
            corners = [
                (x1, y1),
                (x2, y1),
                (x1, y2),
                (x2, y2),
                ((x1 + x2) / 2, y1),
                (x1, (y1 + y2) / 2),
                (x2, (y1 + y2) / 2),
                ((x1 + x2) / 2, (y1 + y2) / 2),
            ]
            x, y = free.first(corners, lambda p: (p[0] - 0.5, p[1] - 1.5, p[0] + 8.5, p[1] + 4.5))
            small.text(x, y, _tile(r, c), 5.0, bold=True)
    small.text(
        x0,
        y0 + taken - 5,
        f"Page map, not to scale (about 1 : {1 / scale:.2g}). Lay the crosses of neighbouring tiles on each "
        f"other; trim one sheet, not both.",
        2.9,
    )
    small.add(*_legend(legend, x0, y0 + taken - 9).items)
    return small


def _legend(lines: list[str], x: float, top: float) -> Drawing:
    out = Drawing()
    for i, words in enumerate(lines):
        out.text(x, top - LEADING_MM * (i + 1), words, LEGEND_MM)
    return out


def wrapped(lines: Sequence[str], width_mm: float, height_mm: float = LEGEND_MM) -> list[str]:
    """Each line broken between words where it is wider than `width_mm`; what follows is set in by two
    blanks."""
    out = []
    for line in lines:
        now = ""
        for word in line.split(" "):
            longer = f"{now} {word}" if now else word
            if now and text_width_mm(longer, height_mm) > width_mm:
                out.append(now)
                longer = f"   {word}"
            now = longer
        out.append(now)
    return out


# ------------------------------------------------------------ the page's own lines


def frame(page: Page, printing: Printing, number: int, count: int) -> Drawing:
    """Title, note on printing, both check bars and their boxes."""
    out = Drawing()
    w, _ = printing.page_mm
    x0, y0, *_ = printing.window
    level, upright = printing.bars_mm
    right = w - MARGIN_MM
    out.line((MARGIN_MM, y0 - 4), (right, y0 - 4), FAINT)
    out.text(MARGIN_MM, y0 - 9, page.sheet.title, 4.2, bold=True)
    out.text(right, y0 - 9, f"{page.what + ', ' if page.what else ''}page {number} of {count}", 2.9, "end")
    below, high = _fitted(page.sheet.subtitle, right - MARGIN_MM)
    for i, words in enumerate(below):
        out.text(MARGIN_MM, y0 - 13.5 + (1.3 if len(below) > 1 else 0.0) - 2.7 * i, words, high)
    scale = (
        f"Scale corrected: x {printing.scale_x:.4f}, y {printing.scale_y:.4f}. " if printing.corrected else ""
    )
    out.text(
        MARGIN_MM,
        y0 - 17.5,
        f"{printing.paper}. {scale}Print at 100 %, never fit to page. A bar off by more than 0.25 %: rebuild "
        f"with --scale-x or --scale-y = nominal / measured.",
        2.5,
    )
    out.text(
        MARGIN_MM,
        y0 - 20.9,
        f"Revision {page.sheet.revision} (by content). {TOLERANCE} where no tolerance is given.",
        2.5,
    )

    bar(out, (x0, MARGIN_MM + 7), level, False)
    bar(out, (MARGIN_MM + 3, y0), upright, True)
    for i, (axis, length) in enumerate((("x", level), ("y", upright))):
        x = x0 + 80 * i
        out.text(x, MARGIN_MM + 0.8, f"{axis}: measured", 2.9)
        out.box(x + 19, MARGIN_MM - 0.6, x + 41, MARGIN_MM + 4.2)
        out.text(x + 43, MARGIN_MM + 0.8, f"/ nominal {length:g} mm", 2.9)
    for i, words in enumerate(printing.made):
        out.text(right, MARGIN_MM + 2.4 - 3.0 * i, words, 2.5, "end")
    return out


def _fitted(words: str, room_mm: float) -> tuple[list[str], float]:
    """A line, smaller where it is too wide, or two of the smallest print; and its height."""
    high = LEGEND_MM * min(1.0, room_mm / max(text_width_mm(words, LEGEND_MM), 1e-9))
    if high >= SMALL_MM:
        return [words], high
    return [line.strip() for line in wrapped((words,), room_mm, SMALL_MM)[:2]], SMALL_MM


def bar(out: Drawing, start: tuple[float, float], length_mm: float, upright: bool) -> None:
    """A check bar: a line between two end ticks whose middles are `length_mm` apart, and a tick each 20
    mm."""

    def at(along: float, across: float) -> tuple[float, float]:
        return (start[0] - across, start[1] + along) if upright else (start[0] + along, start[1] + across)

    out.line(at(0, 0), at(length_mm, 0), FINE)
    for k in range(int(length_mm // 20) + 1):
        end = k in (0, int(length_mm // 20))
        out.line(at(20.0 * k, -2.0 if end else -0.8), at(20.0 * k, 2.0 if end else 0.8), FINE)
    x, y = at(length_mm / 2, 1.4)
    out.text(x, y, f"{length_mm:g} mm", 2.5, "middle", 90.0 if upright else 0.0)


def write_pdf(path: File, sheets: Sequence[Sheet], printing: Printing, title: str) -> dict[str, list[int]]:
    """All sheets in one file, a bookmark each; returns each sheet's page numbers. The same input gives the
    same bytes."""
    given = ([s.digest for s in sheets], printing, title, lettering())
    body, where = once("pages", given, lambda: _pdf(sheets, printing, title))
    path.write_bytes(body)
    return where


def _pdf(sheets: Sequence[Sheet], printing: Printing, title: str) -> tuple[bytes, dict[str, list[int]]]:
    from reportlab.pdfgen.canvas import Canvas

    every = [p for s in sheets for p in pages(s, printing)]
    paper = PAPERS[printing.paper]
    out = BytesIO()
    canvas = Canvas(out, pagesize=(paper[0] * POINTS_PER_MM, paper[1] * POINTS_PER_MM), invariant=1)
    canvas.setTitle(title)
    canvas.setAuthor("rockershed")
    canvas.setViewerPreference("PrintScaling", "None")
    where: dict[str, list[int]] = {}
    for n, page in enumerate(every, 1):
        if page.sheet.title not in where:
            canvas.bookmarkPage(f"s{n}")
            canvas.addOutlineEntry(page.sheet.title, f"s{n}")
        where.setdefault(page.sheet.title, []).append(n)
        canvas.scale(POINTS_PER_MM * printing.scale_x, POINTS_PER_MM * printing.scale_y)
        canvas.saveState()
        if page.clip:
            clip = canvas.beginPath()
            clip.rect(*printing.window)
            canvas.clipPath(clip, stroke=0, fill=0)
        to_pdf(page.drawing, canvas)
        canvas.restoreState()
        to_pdf(page.words, canvas)
        to_pdf(frame(page, printing, n, len(every)), canvas)
        canvas.showPage()
    canvas.save()
    return out.getvalue(), where
