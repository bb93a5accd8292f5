"""Sections that differ by little, of which one takes a bar of its own for a short piece: made one, where that
saves a bar and the corner, worked again, is no worse; turned pieces from one thicker bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeGuard

from assemblies.job import Job, JobError
from assemblies.job.frame import Hollow
from assemblies.layout.placing import needed
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.sawing import SectionPlan, plans, section_of, turned_from
from assemblies.nesting.bars import cut_bars
from assemblies.results.findings import Finding
from assemblies.study import Study, study

LITTLE_MM, LITTLE_WALL_MM = 5.0, 1.0  # of size and of wall: the welder sees no difference, common practice
MOSTLY_LEFT = 0.5  # of what is bought: less used than this is worth a thought
MOST_TRIED = {True: 1, False: 2}  # by whether gaps are looked at too: a few seconds, a second
TURNED_MM = (2.0, 4.0, 6.0)  # off the diameter, common practice


def proposals(done: Study, made: Sequence[SectionPlan], listed: Sequence[CutListLine]) -> list[Finding]:
    """A note for each section that can go; those of which least is used first. None for a shop that sells by
    the metre."""
    job, left = done.job, dict(MOST_TRIED)
    if job.stock.sold_by == "metre":
        return []
    out = _turned(job, listed)
    gone: set[str] = set()
    for s in sorted((s for s in made if _mostly_left(s)), key=lambda s: s.plan.needed_mm):
        for other in made:
            changes = _changes(job, s, other)
            outside = any(not key.endswith(".wall") for key in changes)
            if {str(s.section), str(other.section)} & gone or not changes or not left[outside]:
                continue
            if (bars := _saved(job, s, other)) < 1:
                continue
            left[outside] -= 1
            if _no_worse(done, changes, outside and done.results.clearance.checked):
                out.append(_finding(s, other, changes, bars))
                gone |= {str(s.section), str(other.section)}
    return out


def _turned(job: Job, listed: Sequence[CutListLine]) -> list[Finding]:
    """How many bars less are bought where turned pieces may come from thicker ones: the least that saves
    most."""
    if job.process.turn_down:
        return []
    turned = [r for r in listed if turned_from(r) is not None]
    bought = {
        most: sum(s.plan.to_buy for s in plans(turned, job.changed({"process.turn_down": most})))
        for most in (0.0, *TURNED_MM)
    }
    most = min(bought, key=lambda m: (bought[m], m))
    bars = bought[0.0] - bought[most]
    if not bars:
        return []
    return [
        Finding(
            level="note",
            code="bar-section",
            where="turned pieces",
            text=(
                f"Solid bar is bought in diameters that differ by little, for short pieces that are turned "
                f"anyway. Tried: process.turn_down = {most:g} cuts them from the thickest of each {most:g} "
                f"mm: {bars} bar{'s' if bars > 1 else ''} less to buy, the parts stay as they are."
            ),
        )
    ]


def _mostly_left(s: SectionPlan) -> bool:
    return bool(s.plan.to_buy) and s.plan.needed_mm < MOSTLY_LEFT * s.plan.to_buy * s.plan.buy_length_mm


def _changes(job: Job, s: SectionPlan, other: SectionPlan) -> dict[str, Any]:
    """The keys that give all pieces of a section the other one; {} where some piece is no tube of the frame,
    or the two differ by more than little."""
    if other is s or s.material != other.material:
        return {}
    mine = {p.name for b in s.plan.bars for p in b.pieces}
    members = [m for m in job.member if _is_tube(m) and section_of(m).same(s.section)]
    like = next((m for m in job.member if _is_tube(m) and section_of(m).same(other.section)), None)
    if like is None or {m.name for m in members} != mine or any(m.shape != like.shape for m in members):
        return {}
    sizes = ("size",) if like.shape != "rectangular" else ("width", "height")
    for m in members:
        off = max(abs(getattr(m, k) - getattr(like, k)) for k in sizes)
        if off > LITTLE_MM or abs(needed(m.wall) - needed(like.wall)) > LITTLE_WALL_MM:
            return {}
    return {
        f"member.{m.name}.{k}": getattr(like, k)
        for m in members
        for k in (*sizes, "wall")
        if getattr(m, k) != getattr(like, k)
    }


def _is_tube(m) -> TypeGuard[Hollow]:
    return isinstance(m, Hollow) and bool(m.wall) and not m.moves_with


def _saved(job: Job, s: SectionPlan, other: SectionPlan) -> int:
    """Bars bought less, the pieces cut together."""
    pieces = [p for x in (s, other) for b in x.plan.bars for p in b.pieces]
    hand = [b.length_mm for b in other.plan.bars if not b.bought]
    whole = cut_bars(pieces, hand, job.stock.bar_length, job.process.saw_kerf, job.stock.in_hand_first)
    return s.plan.to_buy + other.plan.to_buy - whole.to_buy


def _no_worse(done: Study, changes: dict[str, Any], gaps: bool) -> bool:
    """No stop or warning that was not there, and no row of strength that got over 1 or further over it."""
    try:
        after = study(done.job.changed(changes), interference=gaps, like=done).results
    except JobError:
        return False
    before = done.results
    known = {(f.code, f.where) for f in before.findings if f.level != "note"}
    if any((f.code, f.where) not in known for f in after.findings if f.level != "note"):
        return False
    use = {(c.item, c.check, c.case): c.use for c in before.strength.checks}
    for c in after.strength.checks:
        was = use.get((c.item, c.check, c.case))
        if not c.ok and (was is None or c.use is None or c.use > was + 1e-6):
            return False
    return True


def _finding(s: SectionPlan, other: SectionPlan, changes: dict[str, Any], bars: int) -> Finding:
    keys = ", ".join(f"{k} = {v:g}" for k, v in changes.items())
    of = f"{bars} bar{'s' if bars > 1 else ''} less to buy"
    return Finding(
        level="note",
        code="bar-section",
        where=f"{s.section}",
        text=(
            f"Of the {s.plan.to_buy * s.plan.buy_length_mm:g} mm of {s.section} that must be bought "
            f"{s.plan.needed_mm:.0f} mm are used. Made of {other.section} like others: {of}. Tried: {keys}: "
            f"no new finding, no row of strength over 1 that was not."
        ),
    )
