"""The cutting plan of tube and rod: the cut list's pieces, for the sides of the car that are built, on the
bars in hand and bought.

Pieces are sawn to the length of the cut list, those that are faced in the lathe longer by the job's
`process.facing`. Of the frame's tubes one serves both sides where it crosses the middle of the car. Bars of
unknown grade take any piece; a piece whose steel the job does not name comes from any bar. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from assemblies.making.sheets.sections import StockSection, rectangular, round_tube
from assemblies.nesting.bars import BarPiece, BarPlan, Sawn, cut_bars
from assemblies.results.faults import needed
from assemblies.results.findings import Finding
from parts.base.frozen import dataclass

if TYPE_CHECKING:
    from assemblies.job import Job
    from assemblies.making.sheets.cut_list_line import CutListLine

ANY_STEEL = ("", "unknown", "mild steel")
HEAD = ["section", "material", "bar", "bar length, mm", "from", "pieces, in order", "offcut, mm"]


@dataclass(frozen=True)
class SectionPlan:
    """All pieces of one section and steel."""

    section: StockSection
    material: str
    plan: BarPlan

    @property
    def bought(self) -> str:
        """What to buy, in words."""
        p = self.plan
        if not p.to_buy:
            return "none to buy"
        if p.by_the_metre:
            lengths = " + ".join(f"{b.length_mm:.0f}" for b in p.bars if b.bought)
            return f"buy {p.needed_mm / 1000:.2f} m by the metre ({lengths} mm, saw cuts in)"
        sure = "" if p.proven else f", at least {p.least_to_buy} by length"
        return f"buy {p.to_buy} of {p.buy_length_mm:g} mm{sure}, {p.needed_mm:.0f} mm used"


def sides_of(job: Job) -> int:
    return 1 if job.nest is not None and job.nest.sides != "both" else 2


def plans(listed: Sequence[CutListLine], job: Job) -> list[SectionPlan]:
    """A plan a section, in the order of the cut list; of the frame's tubes those that are fitted, unless the
    job says they stand already."""
    in_hand = [(section_of(b), b.material, b.length) for b in job.stock.bar for _ in range(b.count)]
    out = []
    sawn = [r for r in listed if _is_sawn(r, job, [b[0] for b in in_hand])]
    sawn = _turned_down(sawn, job.process.turn_down)
    for section, material, pieces in _groups(sawn, sides_of(job), job.process.facing):
        fits = [
            b
            for b in in_hand
            if b[0].same(section) and (material in ANY_STEEL or b[1] in (material, "unknown"))
        ]
        plan = cut_bars(
            pieces,
            [length for *_, length in fits],
            job.stock.bar_length,
            job.process.saw_kerf,
            job.stock.in_hand_first,
            job.stock.sold_by == "metre",
        )
        for bar in plan.bars:
            if not bar.bought:
                in_hand.remove(next(b for b in fits if b[2] == bar.length_mm and b in in_hand))
        out.append(SectionPlan(section, material, plan))
    return out


def how_bought(job: Job) -> str:
    """What the plan aims at, in words."""
    if job.stock.sold_by == "metre":
        return (
            "As little is bought as can be; a length bought is its pieces and a saw cut each"
            if job.stock.in_hand_first
            else "All is bought; a length is its pieces and a saw cut each"
        )
    first = (
        ", then what is in hand is used up" if job.stock.in_hand_first else ", then what is in hand is spared"
    )
    return f"Numbers bought are the fewest possible{first}"


def _turned_down(rows: Sequence[CutListLine], most_mm: float) -> list[CutListLine]:
    """Turned pieces of solid bar, each from the thickest of its steel that is at most so much thicker."""
    taken: dict[tuple[str, float], StockSection] = {}
    solid = {(r.material, s.width_mm): s for r in rows if (s := turned_from(r)) is not None}
    for (material, width), section in sorted(solid.items(), key=lambda item: (item[0][0], -item[0][1])):
        above = [s for (m, _), s in taken.items() if m == material and s.width_mm <= width + most_mm]
        taken[material, width] = max(above, key=lambda s: s.width_mm, default=section)
    return [
        r if (s := turned_from(r)) is None else replace(r, section=taken[r.material, s.width_mm])
        for r in rows
    ]


def turned_from(r: CutListLine) -> StockSection | None:
    """The solid round bar that a piece is turned from."""
    return (
        r.section if r.section and r.faced and r.section.shape == "round" and not r.section.wall_mm else None
    )


def _is_sawn(r: CutListLine, job: Job, in_hand: Sequence[StockSection]) -> bool:
    if r.section is None or not r.length_mm or (r.of_the_frame and not (r.of_car and job.frame.sawn)):
        return False
    return not r.if_in_hand or any(s.same(r.section) for s in in_hand)


def _groups(
    rows: Sequence[CutListLine], sides: int, facing_mm: float = 0.0
) -> list[tuple[StockSection, str, list[BarPiece]]]:
    """(section, material, pieces); pieces of any steel join the others of their section where those are of
    one steel."""
    sections: list[StockSection] = []
    for r in rows:
        if r.section is not None and not any(s.same(r.section) for s in sections):
            sections.append(r.section)
    out = []
    for s in sections:
        some = [r for r in rows if r.section is not None and s.same(r.section)]
        named = list(dict.fromkeys(r.material for r in some if r.material not in ANY_STEEL))
        for material in named or [some[0].material or "unknown"]:
            mine = [r for r in some if r.material == material or (r.material in ANY_STEEL and len(named) < 2)]
            out.append((s, material, _pieces(mine, sides, facing_mm)))
        if len(named) > 1 and (rest := [r for r in some if r.material in ANY_STEEL]):
            out.append((s, rest[0].material or "unknown", _pieces(rest, sides, facing_mm)))
    return out


def _pieces(rows: Sequence[CutListLine], sides: int, facing_mm: float) -> list[BarPiece]:
    return [
        BarPiece(r.item, needed(r.length_mm) + facing_mm * r.faced)
        for r in rows
        for _ in range(min(r.of_car, sides) if r.of_the_frame else r.count * sides)
    ]


def section_of(bar) -> StockSection:
    if bar.shape == "round":
        return round_tube(bar.size, bar.wall)
    return (
        rectangular(bar.size, bar.size, bar.wall)
        if bar.shape == "square"
        else rectangular(bar.width, bar.height, bar.wall)
    )


def findings(made: Sequence[SectionPlan]) -> list[Finding]:
    """A piece longer than any bar."""
    return [
        Finding(
            level="warn",
            code="nest-bar",
            where=f"{p.name}, {s.section}",
            text=(
                f"It is {p.length_mm:.0f} mm long and the longest bar {s.plan.buy_length_mm:g} mm: find a "
                f"longer one ([[stock.bar]]), or join two by a sleeve welded over the joint."
            ),
        )
        for s in made
        for p in dict.fromkeys(s.plan.too_long)
    ]


def rows(made: Sequence[SectionPlan]) -> list[list[str]]:
    out = []
    for s in made:
        out += [
            [
                s.section.told,
                s.material,
                str(n),
                f"{bar.length_mm:g}",
                "bought" if bar.bought else "in hand",
                pieces_in_words(bar),
                f"{bar.offcut_mm:.0f}",
            ]
            for n, bar in enumerate(s.plan.bars, 1)
        ]
    return out


def pieces_in_words(bar: Sawn) -> str:
    """ "2 x pivot tube 84.0; ...": neighbours alike on one entry."""
    runs: list[list] = []
    for p in bar.pieces:
        if runs and runs[-1][0] == p:
            runs[-1][1] += 1
        else:
            runs.append([p, 1])
    return "; ".join((f"{n} x " if n > 1 else "") + f"{p.name} {p.length_mm:.1f}" for p, n in runs)


def strips(made: Sequence[SectionPlan], width_pt: float) -> list:
    """A drawing a section for the shop book: its bars to one scale, pieces with their names, what is left
    hatched.

    The page is as wide as the longest bar, or as all that is used of any and a fifth more: a longer bar ends
    in a break."""
    bars = [b for s in made for b in s.plan.bars]
    shown_mm = (
        min(max(b.length_mm for b in bars), 1.2 * max(b.length_mm - b.offcut_mm for b in bars))
        if bars
        else 1.0
    )
    return [_strips(s, width_pt, shown_mm) for s in made if s.plan.bars]


PRINT = 7.0  # points
HIGH, PITCH, TITLE = 13.0, 20.0, 16.0  # points


def _strips(s: SectionPlan, width_pt: float, shown_mm: float):
    from reportlab.graphics.shapes import Drawing

    d = Drawing(width_pt, TITLE + PITCH * len(s.plan.bars))
    _text(d, f"{s.section.told}, {s.material}: {s.bought}", 0, d.height - 10, 8.5, fontName="Helvetica-Bold")
    for n, bar in enumerate(s.plan.bars):
        _strip(d, bar, d.height - TITLE - PITCH * n - HIGH, width_pt / shown_mm, width_pt)
    return d


def _strip(d, bar: Sawn, y: float, scale: float, width_pt: float) -> None:
    from reportlab.graphics.shapes import Line, Polygon, Rect
    from reportlab.lib import colors
    from reportlab.pdfbase.pdfmetrics import stringWidth

    end, broken = min(bar.length_mm * scale, width_pt), bar.length_mm * scale > width_pt + 1e-6
    at = (bar.length_mm - bar.offcut_mm) * scale
    edge = [end, y, end - 4 * broken, y + HIGH / 3, end, y + 2 * HIGH / 3, end - 4 * broken, y + HIGH]
    d.add(
        Polygon(
            [0, y, *edge, 0, y + HIGH], fillColor=colors.whitesmoke, strokeColor=colors.grey, strokeWidth=0.5
        )
    )
    for k in range(max(0, int((end - at - 5) // 6))):
        d.add(Line(at + 6 * k, y, at + 6 * k + 6, y + HIGH, strokeColor=colors.lightgrey, strokeWidth=0.4))
    words = f"{'bought' if bar.bought else 'in hand'}, {bar.length_mm:g} long, {bar.offcut_mm:.0f} left"
    if (wide := stringWidth(words, "Helvetica", PRINT)) < end - at - 6:
        d.add(
            Rect(
                (at + end) / 2 - wide / 2 - 2,
                y + 2,
                wide + 4,
                HIGH - 4,
                fillColor=colors.white,
                strokeColor=None,
            )
        )
        _text(d, words, (at + end) / 2, y + 4.2, textAnchor="middle")
    at = 0.0
    for p in bar.pieces:
        wide = p.length_mm * scale
        d.add(
            Rect(
                at,
                y,
                wide,
                HIGH,
                fillColor=colors.Color(0.78, 0.86, 0.92),
                strokeColor=colors.black,
                strokeWidth=0.4,
            )
        )
        fits = [
            w
            for w in (f"{p.name} {p.length_mm:.1f}", f"{p.length_mm:.1f}")
            if stringWidth(w, "Helvetica", PRINT) < wide - 3
        ]
        if fits:
            _text(d, fits[0], at + wide / 2, y + 4.2, textAnchor="middle")
        at += wide + bar.kerf_mm * scale


def _text(d, words: str, x: float, y: float, size: float = PRINT, **style) -> None:
    from reportlab.graphics.shapes import String

    d.add(String(x, y, words, **({"fontName": "Helvetica", "fontSize": size} | style)))
