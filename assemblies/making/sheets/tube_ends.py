"""Strips of paper to wrap round the ends of tubes, 1:1, the saw's table and one list of all ends: the frame's
tubes and the arms'.

A strip is the tube's outside unrolled, printed face outside: x round the tube from the index line (the middle
of the local +x face), right-handed about from -> to, y along the tube, from -> to up the page. Its width is
taken at the middle of the paper: the girth plus pi times the paper. The other side of the car takes the same
strip printed face inside. Lengths mm, angles deg.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from assemblies.layout.frame import of_car, sides
from assemblies.layout.junctions.fitting import OTHER
from assemblies.layout.junctions.trimmed import in_words as trim_in_words
from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.drawing import CUT, DRILLED, FAINT, FINE, SMALL_MM, Drawing, text_width_mm
from assemblies.making.sheets.paper import NOMINAL, Printing, Sheet
from assemblies.making.sheets.sections import in_inches
from assemblies.results.findings import lacking
from parts.arm import Arm
from parts.base.frozen import dataclass
from parts.fitted_tube import Fitted
from parts.member import Section
from parts.tube_end import SawCut, TubeEnd
from parts.tube_wall import breaks_mm

ENDS = ("from", "to")
WASTE_MM, TAIL_MM, BETWEEN_MM = 9.0, 24.0, 9.0  # paper beyond the cut, on the tube, and between two strips
QUARTER_MM = 3.2  # between lines of words
WIDE_MM = 120.0  # a strip wider than this has no words on its left, so that it fits A4 longer
WORDS_MM = 55.0  # what the legend takes of a page
SQUARE_MM = 0.5  # an end whose curve varies less is sawn square
LEVEL_DEG = 0.05
NEAR_FLAT_MM = 1.5  # open beside a run's rounded corners along a flat cut: weld fills it; common practice


@dataclass(frozen=True)
class TubePiece:
    """A tube to cut. `turn`: its axes (columns x, y, z) in the car's; `places`: what is at each end; `order`:
    its place in the order of fitting there, 0 where none; `notes`: what else to know. `of_car`: how many both
    sides take."""

    name: str
    tube: Fitted
    turn: np.ndarray
    places: dict[str, str]
    order: dict[str, int]
    outboard: float  # sign of y
    notes: tuple[str, ...] = ()
    of_car: int = 2

    def cut(self, end: str) -> TubeEnd:
        return self.tube.from_cut if end == "from" else self.tube.to_cut

    def faces(self, quarter: int) -> str:
        """Where the middle of a quarter looks in the car: 0 the index line, then round right-handed."""
        x, y = self.turn[:, 0], self.turn[:, 1]
        return direction((x, y, -x, -y)[quarter], self.outboard)


def direction(v: Sequence[float] | np.ndarray, outboard: float) -> str:
    """A unit vector in words, its larger shares first: "up", "front and outboard"; without a side (0) left
    and right."""
    names = (("front", "rear"), ("outboard", "inboard") if outboard else ("left", "right"), ("up", "down"))
    shares = (float(v[0]), float(v[1]) * (outboard or 1.0), float(v[2]))
    return " and ".join(
        names[k][shares[k] < 0]
        for k in sorted(range(3), key=lambda k: -abs(shares[k]))
        if abs(shares[k]) > 0.38
    )


def pieces(layout: Layout) -> list[TubePiece]:
    """The frame's tubes with a cut end, then the arms' tubes."""
    side, made, out = (1.0 if layout.job.side == "left" else -1.0), layout.junctions, []
    both = sides(layout.job) == "both"
    for name, tube in made.tubes.items():
        found = {e: made.node_of(name, e) for e in ENDS}
        out.append(
            TubePiece(
                name,
                tube,
                tube.frame.matrix()[:3, :3],
                {e: n.name if n else "" for e, n in found.items()},
                {e: n.members.index(name) + 1 if n else 0 for e, n in found.items()},
                0.0 if both else side,
                of_car=of_car(layout.job, tube.member),
            )
        )
    for placed in layout.arms.values():
        out += _arm(placed.name, placed.part, placed.frame.matrix()[:3, :3], side)
    return out


def _arm(which: str, arm: Arm, turn: np.ndarray, side: float) -> list[TubePiece]:
    out = []
    for k, (end, tube, past) in enumerate(
        zip(("front", "rear"), arm.coped(), arm.past_housing_mm(), strict=True)
    ):
        notes = (
            (
                f"{past:.1f} mm past the housing's end, where nothing carries it: trim it there, or make the "
                f"housing {2 * past:.0f} mm longer.",
            )
            if past > SQUARE_MM
            else ()
        )
        out.append(
            TubePiece(
                f"{which} {end} tube",
                tube,
                turn @ tube.frame.matrix()[:3, :3],
                {"from": "outer joint", "to": f"{end} pivot"},
                {"from": k + 1, "to": 0},
                side,
                notes,
            )
        )
    return out


# ------------------------------------------------------------ the strip's numbers


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


def needs_strip(cut: TubeEnd) -> bool:
    return bool(cut.runs) and max(np.ptp(cut.outer_mm), np.ptp(cut.inner_mm)) > SQUARE_MM


# ------------------------------------------------------------------------------------------------ the sheets

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


def flat_mm(tube: Fitted) -> float:
    """Long point to long point where every end that one saw cut makes is sawn so: shorter than what is
    ordered."""
    return tube.length_mm - sum(c.flat_in_mm for c in (tube.from_cut, tube.to_cut) if has_saw_cut(c))


def flat_words(tube: Fitted) -> str:
    flat = flat_mm(tube)
    return f"{flat:.1f} with flat cuts" if tube.length_mm - flat > 0.05 else ""


def size(s: Section) -> str:
    wall = f" x {s.wall_mm:g}" if s.wall_mm else ""
    wide = (s.width_mm,) if s.is_round else (s.width_mm, s.height_mm)
    beside = in_inches(*wide, *((s.wall_mm,) if s.wall_mm else ()))
    words = f"round {s.width_mm:g}{wall}" if s.is_round else f"{s.width_mm:g} x {s.height_mm:g}{wall}"
    return f"{words}{beside}"


def end_in_words(p: TubePiece, end: str) -> str:
    """What an end is cut to, in order, and how."""
    cut = p.cut(end)
    at = f"{end.capitalize()} end" + (
        f" ({p.places[end]}{f', fitted no. {p.order[end]}' if p.order[end] else ''})" if p.places[end] else ""
    )
    if not cut.runs:
        return f"{at}: square, cut to nothing."
    to = ", ".join(f"{n} {run_in_words(name)}" for n, name in enumerate(cut.runs, 1))
    if not needs_strip(cut):
        return f"{at}: on {to}; sawn square."
    words = (
        f"{at}: on {to}; the short point lies {cut.short_mm - cut.long_mm:.1f} mm in from the long "
        f"point; weld {cut.weld_mm:.0f} mm."
    )
    if cut.missing:
        words += " 'open': it meets nothing there and stays square at the long point."
    if cut.trims:
        words += f" Trimmed at the cuts beside (T): {'; '.join(map(trim_in_words, cut.trims))}."
    if saw := saw_in_words(p, end):
        words += f" {saw}"
    return words


def run_in_words(name: str) -> str:
    return f"{name.removeprefix(OTHER)} of the other side" if name.startswith(OTHER) else name


def kind(cut: TubeEnd) -> str:
    """How an end is made, for the cut list."""
    if not needs_strip(cut):
        return "square"
    if has_saw_cut(cut):
        deg = _saw(cut)[0].from_square_deg
        return f"sawn {f'{deg:.1f} deg from square' if deg > LEVEL_DEG else 'square'}{_in(cut)}"
    return "coped, see its strip"


def _in(cut: TubeEnd) -> str:
    """Where a flat cut's long point lies on a tube that has its order length."""
    return f", {cut.flat_in_mm:.1f} in from the long point" if cut.flat_in_mm > 0.05 else ""


def saw_in_words(p: TubePiece, end: str) -> str:
    """Setting of the saw where one flat cut does: "" where none does."""
    cut = p.cut(end)
    if not has_saw_cut(cut):
        return ""
    saw, gap = _saw(cut)
    rest = f", at most {lacking(gap, 1)} open at the rounded corners" if gap > 0.05 else ""
    if cut.section.is_round:
        return f"One flat cut: {saw.from_square_deg:.1f} from square{_in(cut)}{rest}."
    table, mitre, x, tilt, y = setting(cut, end)
    words = [
        f"{name} {deg:.1f}, the {p.faces(side)} side longer"
        for name, deg, side in (("mitre", mitre, x), ("blade tilted", tilt, y))
        if deg > LEVEL_DEG
    ]
    said = "; ".join(words) or "square"
    return f"Or one saw cut, the {p.faces(table)} face on the table: {said}{_in(cut)}{rest}."


def has_saw_cut(cut: TubeEnd) -> bool:
    return bool(cut.runs) and not cut.missing and cut.flat is not None and cut.flat[1] <= NEAR_FLAT_MM


def _saw(cut: TubeEnd) -> tuple[SawCut, float]:
    """The flat cut, and what is open beside it, of an end that has one."""
    return needed(cut.flat)


def setting(cut: TubeEnd, end: str) -> tuple[int, float, int, float, int]:
    """Quarter on the table, mitre and the quarter that is longer for it, blade's tilt and the quarter longer
    for that. A tilt alone becomes a
    mitre: the tube is laid a quarter turn round."""
    (saw, _), (x, y) = _saw(cut), longer_sides(cut, end)
    if abs(saw.mitre_deg) <= LEVEL_DEG < abs(saw.tilt_deg):
        return 2, abs(saw.tilt_deg), y, 0.0, 0
    return 3, abs(saw.mitre_deg), x, abs(saw.tilt_deg), y


def longer_sides(cut: TubeEnd, end: str) -> tuple[int, int]:
    """Quarters (of +x or -x, of +y or -y) where the tube reaches farther, for a flat cut: `SawCut`'s u is
    local x, mirrored at `to`."""
    saw, _ = _saw(cut)
    u = saw.mitre_deg if end == "from" else -saw.mitre_deg
    return (0 if u > 0 else 2), (1 if saw.tilt_deg > 0 else 3)


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


# ------------------------------------------------------------------------------------------------ lists

HEAD = [
    "tube",
    "end",
    "section",
    "for the car",
    "order length, mm",
    "at",
    "fitted no.",
    "cut to, in order",
    "long point, mm",
    "short point, mm",
    "between short points, mm",
    "index line faces",
    "saw: on the table",
    "mitre, deg",
    "mitre, longer side",
    "tilt, deg",
    "tilt, longer side",
    "open at the corners, mm",
    "from square, deg",
    "saw cut in from the long point, mm",
    "weld, mm",
    "note",
]


def rows(found: Sequence[TubePiece]) -> list[list[str]]:
    """A row an end. Long and short point: from the given end towards the tube's middle, negative is
    longer."""
    return [_row(p, end) for p in found for end in ENDS]


def _row(p: TubePiece, end: str) -> list[str]:
    cut, t = p.cut(end), p.tube
    saw = [""] * 8
    if has_saw_cut(cut):
        f, gap = _saw(cut)
        table, mitre, x, tilt, y = setting(cut, end)
        saw = (
            ["", "", "", "", ""]
            if cut.section.is_round
            else [
                p.faces(table),
                f"{mitre:.2f}",
                p.faces(x) if mitre > LEVEL_DEG else "",
                f"{tilt:.2f}",
                p.faces(y) if tilt > LEVEL_DEG else "",
            ]
        )
        saw += [f"{gap:.2f}", f"{f.from_square_deg:.2f}", f"{cut.flat_in_mm:.2f}"]
    note = "part of it meets nothing" if cut.missing else "" if cut.runs else "square"
    return [
        p.name,
        end,
        size(t.section),
        str(p.of_car),
        f"{t.length_mm:.1f}",
        p.places[end],
        str(p.order[end] or ""),
        "; ".join(map(run_in_words, cut.runs)),
        f"{cut.long_mm:.2f}",
        f"{cut.short_mm:.2f}",
        f"{t.short_mm:.1f}",
        p.faces(0),
        *saw,
        f"{cut.weld_mm:.0f}" if cut.runs else "",
        " ".join([*([note] if note else []), *p.notes] if end == "to" else [note]),
    ]


BOOK_HEAD = [
    "tube",
    "end",
    "at",
    "order length",
    "cut to, in order",
    "short point in",
    "saw: on the table",
    "mitre",
    "longer",
    "tilt",
    "longer",
    "open",
    "in from long point",
    "note",
]
BOOK_WIDTHS = (12, 4, 8, 6, 18, 5, 10, 5, 10, 5, 10, 5, 6, 14)


def book_rows(found: Sequence[TubePiece]) -> list[list[str]]:
    out = []
    for p in found:
        for end in ENDS:
            r, cut = _row(p, end), p.cut(end)
            out.append(
                [
                    r[0],
                    r[1],
                    r[5] + (f", no. {r[6]}" if r[6] else ""),
                    r[4],
                    r[7].replace("; ", ", "),
                    f"{cut.short_mm - cut.long_mm:.1f}",
                    *r[12:18],
                    f"{cut.flat_in_mm:.1f}" if r[19] else "",
                    r[21].split(",")[0],
                ]
            )
    return out
