"""Strips of paper to wrap round the ends of tubes, 1:1.

A strip is the tube's outside unrolled, printed face outside: x round the tube from the index line (the middle
of the local +x face), right-handed about from -> to, y along the tube, from -> to up the page. Its width is
taken at the middle of the paper: the girth plus pi times the paper. The other side of the car takes the same
strip printed face inside. Lengths mm, angles deg.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from assemblies.making.sheets.drawing import CUT, DRILLED, FAINT, FINE, SMALL_MM, Drawing, text_width_mm
from assemblies.making.sheets.paper import NOMINAL, Printing, Sheet
from assemblies.making.sheets.tube_ends import ENDS, TubePiece, end_in_words, flat_words, needs_strip, size
from parts.base.frozen import dataclass
from parts.member import Section
from parts.tube_end import TubeEnd
from parts.tube_wall import breaks_mm

WASTE_MM, TAIL_MM, BETWEEN_MM = 9.0, 24.0, 9.0  # paper beyond the cut, on the tube, and between two strips
QUARTER_MM = 3.2  # between lines of words
WIDE_MM = 120.0  # a strip wider than this has no words on its left, so that it fits A4 longer
WORDS_MM = 55.0  # what the legend takes of a page


def girth_mm(section: Section, paper_mm: float) -> float:
    """Width of a strip round the outside: pi·(D + paper) on a round; the paper's middle runs round the
    corners of others."""
    return float(breaks_mm(section)[-1]) + math.pi * paper_mm


def on_paper(section: Section, along_mm: np.ndarray, paper_mm: float) -> np.ndarray:
    """x on the strip of places along the outside: flats keep their length, rounds grow by the paper. At a
    sharp corner: after it."""
    at = breaks_mm(section)
    k = np.clip(np.searchsorted(at, along_mm, side="right") - 1, 0, 8)
    lengths = np.diff(at)
    share = np.where(
        k % 2 == 1,
        (np.asarray(along_mm) - at[k.clip(0, 8)]) / np.where(lengths > 0, lengths, 1.0)[k.clip(0, 7)],
        0.0,
    ).clip(0, 1)
    return along_mm + (k // 2 + share) * math.pi / 4 * paper_mm


@dataclass(frozen=True)
class Strip:
    """The printed curve: x round the strip, y up it from the tube's given end, on the outside and at the
    bore; `ruled` by which run."""

    x: np.ndarray
    outer: np.ndarray
    bore: np.ndarray
    ruled: np.ndarray
    girth_mm: float
    runs: int = 0  # as many are numbered; what is ruled by more is trimmed


def strip(cut: TubeEnd, end: str, paper_mm: float) -> Strip:
    sign = 1.0 if end == "from" else -1.0
    s = cut.around_mm
    return Strip(
        on_paper(cut.section, s, paper_mm),
        sign * cut.outer_mm,
        sign * cut.inner_mm,
        cut.ruled_by,
        girth_mm(cut.section, paper_mm),
        len(cut.runs),
    )


HOW = (
    "Cut the strip out, wrap it printed face OUTSIDE, arrow from -> to; its two edges meet on the index "
    "line, scribed straight along the tube, the same for both ends. "
    "The grey line 'long point' goes on the end of the tube sawn to its order length.",
    "Solid: the cut of the outside. Dashed: edge of the bore: cut square to the wall along the solid line, "
    "then bevel the inside back to the dashed line where that lies on "
    "the tube's side of it, or metal stands proud.",
)
OTHER_SIDE = "Other side of the car: the same strips, printed face INSIDE, arrow from -> to."


def sheets(
    found: Sequence[TubePiece], paper_mm: float, printing: Printing = NOMINAL
) -> list[tuple[str, Sheet]]:
    """(file stem, sheet): both strips of a tube on one where they fit the page, else a sheet each; tubes sawn
    square have none."""
    out = []
    room = printing.window[3]
    for p in found:
        ends = [e for e in ENDS if needs_strip(p.cut(e))]
        both = _sheet(p, ends, paper_mm) if ends else None
        if both is None:
            continue
        _, low, _, high = both.drawing.bounds
        stem = p.name.replace(" ", "-")
        if len(ends) == 2 and high - low > room - WORDS_MM:
            out += [(f"{stem}-{e}", _sheet(p, [e], paper_mm)) for e in ends]
        else:
            out.append((stem, both))
    return out


def _sheet(p: TubePiece, ends: Sequence[str], paper_mm: float) -> Sheet:
    d, top = Drawing(), 0.0
    for end in ends:  # from below, to above
        top = _draw(d, p, end, paper_mm, top) + BETWEEN_MM
    t = p.tube
    which = (
        f", {ends[0]} end"
        if len(ends) == 1 and needs_strip(p.cut("to" if ends[0] == "from" else "from"))
        else ""
    )
    title = f"{p.name}{which}: strip{'s' if len(ends) > 1 else ''} to wrap"
    flat = f", {flat_words(t)}" if flat_words(t) else ""
    subtitle = (
        f"{size(t.section)} - saw to {t.length_mm:.1f} mm, long point to long point{flat} - "
        f"{'one for the car' if p.of_car == 1 else 'one each side'} - "
        f"strip {girth_mm(t.section, paper_mm):.2f} wide, paper {paper_mm:g}"
    )
    lines = [
        *(end_in_words(p, e) for e in ENDS),
        *(f"To end: {n}" for n in p.notes),
        *HOW,
        *(() if p.of_car == 1 else (OTHER_SIDE,)),
    ]
    return Sheet(title, subtitle, d, tuple(lines))


def _draw(d: Drawing, p: TubePiece, end: str, paper_mm: float, bottom: float) -> float:
    """One strip, its lower edge at `bottom`; returns its upper edge."""
    cut, s = p.cut(end), strip(p.cut(end), end, paper_mm)
    body = 1.0 if end == "from" else -1.0  # the way to the tube's middle
    low, high = float(min(s.outer.min(), s.bore.min())), float(max(s.outer.max(), s.bore.max()))
    tail = TAIL_MM + QUARTER_MM * (_lines(p) - 1)
    y0, y1 = (low - WASTE_MM, high + tail) if end == "from" else (low - tail, high + WASTE_MM)
    up = bottom - y0
    w = s.girth_mm
    d.box(0.0, bottom, w, y1 + up, FAINT)
    for x in (0.0, w):
        d.line((x, bottom), (x, y1 + up), FINE)
    words = (high if body > 0 else low) + up
    folds = _folds(
        d,
        cut.section,
        paper_mm,
        *((bottom, words + 2.5, y1 + up) if body > 0 else (y1 + up, words - 2.5, bottom)),
    )
    tip = body * cut.long_mm + up
    heel = body * cut.short_mm + up
    d.line((0.0, tip), (w + 3, tip), FAINT)
    d.line((w, heel), (w + 3, heel), FAINT)
    flip = -2.6 if (tip < heel) else 1.0
    d.text(w + 4, tip + (flip if abs(tip - heel) < 4 else -0.9), "long point", SMALL_MM)
    d.text(
        w + 4, heel + ((1.0 if flip < 0 else -2.6) if abs(tip - heel) < 4 else -0.9), "short point", SMALL_MM
    )
    d.polyline(zip(s.x, s.outer + up, strict=True), CUT)
    if cut.section.wall_mm:
        d.polyline(zip(s.x, s.bore + up, strict=True), DRILLED)
    _runs(d, s, up, body, tip, folds)
    _tail(d, p, end, w, words, body, paper_mm)
    return y1 + up


def _folds(
    d: Drawing, section: Section, paper_mm: float, waste: float, words: float, tube: float
) -> list[float]:
    """Where the strip bends round the corners, quarter lines on a round: from the waste's edge to the words,
    and on the tube's edge; their x."""
    at, g = breaks_mm(section), girth_mm(section, paper_mm)
    if section.is_round:
        places = [g / 4, g / 2, 3 * g / 4]
    else:
        x = on_paper(section, at, paper_mm)
        places = [
            float(e)
            for k in (1, 3, 5, 7)
            for e in (x[k], x[k] + (at[k + 1] - at[k]) + math.pi / 4 * paper_mm)
        ]
    for e in places:
        d.line((e, waste), (e, words), FAINT)
        d.line((e, tube), (e, tube + math.copysign(2.0, waste - tube)), FAINT)
    return places


def _runs(d: Drawing, s: Strip, up: float, body: float, tip: float, folds: Sequence[float]) -> None:
    """The number of the run that cuts, on the waste side of each stretch of the curve, and a tick where they
    change."""
    change = np.flatnonzero(np.diff(s.ruled)) + 1
    for i in change:
        x, y = float(s.x[i]), float(s.outer[i]) + up
        d.line((x, y - body * 0.6), (x, y - body * 3.4), FINE)
    for a, b in zip([0, *change], [*change, len(s.x)], strict=True):
        x0, x1 = float(s.x[a]), float(s.x[min(b, len(s.x) - 1)])
        if x1 - x0 < 3.0:
            continue
        rule = int(s.ruled[a])
        words = "open" if rule < 0 else "T" if rule >= s.runs else str(rule + 1)
        if text_width_mm(words, 2.6, True) > x1 - x0:
            continue
        x, half = (x0 + x1) / 2, text_width_mm(words, 2.6, True) / 2 + 0.6
        if (fold := next((e for e in folds if abs(e - x) < half), None)) is not None:
            x = fold + half if fold + 2 * half < x1 else fold - half
        near = (s.x > x - 2.5) & (s.x < x + 2.5)
        lines = np.concatenate(
            [
                s.outer[near],
                s.bore[near],
                np.interp([x - 2, x, x + 2], s.x, s.outer),
                np.interp([x - 2, x, x + 2], s.x, s.bore),
            ]
        )
        edge = float(lines.min() if body > 0 else lines.max()) + up
        y = edge - 3.2 if body > 0 else edge + 1.3
        if y - 0.5 < tip < y + 2.4:  # clear of the long point's line
            y = tip - 2.6 if body > 0 else tip + 0.8
        d.text(x, y, words, 2.6, "middle", bold=True)


def _tail(d: Drawing, p: TubePiece, end: str, w: float, edge: float, body: float, paper_mm: float) -> None:
    """Words on the tube's side: where each quarter looks, the tube's name, which end, the arrow up."""
    section = p.tube.section
    down = QUARTER_MM * (_lines(p) - 1)
    rows = (
        [edge + 4.0 + down, *(edge + v + down for v in (10.0, 14.0, 18.0))]
        if body > 0
        else [edge - 6.0, *(edge - v - down for v in (12.0, 16.0, 20.0))]
    )
    at = on_paper(section, np.arange(4) * breaks_mm(section)[-1] / 4, paper_mm)
    for k in range(1, 4):
        for n, words in enumerate(_quarter(p, k)):
            d.text(float(at[k]), rows[0] - QUARTER_MM * n, words, SMALL_MM, "middle")
    d.text(0.8, rows[0], f"index: {p.faces(0)}" if w > WIDE_MM else "index", SMALL_MM)
    if w <= WIDE_MM:
        d.text(-2.0, rows[0], "index line looks", SMALL_MM, "end")
        d.text(-2.0, rows[0] - QUARTER_MM, p.faces(0), SMALL_MM, "end")
    name, size_ = _fit(p.name, w - 20, 3.4)
    d.text(w / 2, rows[1], name, size_, "middle", bold=True)
    place = f", {p.places[end]}" if p.places[end] else ""
    for row, words in zip(rows[2:], (f"{end.upper()} end{place}", size(section)), strict=True):
        fitted, size_ = _fit(words, w - 20, 2.8)
        d.text(w / 2, row, fitted, size_, "middle")
    low = min(rows[1], rows[3]) - 0.5
    for x in (6.0, w - 6.0):
        d.arrow((x, low), (x, low + 11.0), FINE)
        d.text(x - 2.0 if x < w / 2 else x + 2.0, low + 3.5, "to", SMALL_MM, "end" if x < w / 2 else "start")


def _quarter(p: TubePiece, k: int) -> list[str]:
    """What a quarter looks at, a line each."""
    first, *rest = p.faces(k).split(" and ")
    return [first, *(f"and {r}" for r in rest)]


def _lines(p: TubePiece) -> int:
    return max(len(_quarter(p, k)) for k in range(1, 4))


def _fit(words: str, room: float, most: float) -> tuple[str, float]:
    """Words and their height to fit the room: `SMALL_MM` at least, cut short with dots where even that is too
    much (the sheet's title says all)."""
    high = max(SMALL_MM, min(most, most * room / max(text_width_mm(words, most), 1e-9)))
    while len(words) > 6 and text_width_mm(words, high) > room + 1e-6:
        words = words.removesuffix("...")[:-1].rstrip(" ,") + "..."
    return words, high
