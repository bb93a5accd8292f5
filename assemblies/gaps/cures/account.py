"""Cures of a corner's short pairs, worst first, within a budget; in words for the findings."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass, field

from assemblies.clearance import PairResult
from assemblies.clearance.suggest import FURTHEST_MM
from assemblies.gaps.cures import shift as members
from assemblies.gaps.cures.advice import advice
from assemblies.gaps.cures.shift import shift
from assemblies.gaps.cures.shorten import shorten
from assemblies.gaps.cures.stand import Stand
from assemblies.gaps.cures.trim import trims
from assemblies.layout.placing import needed
from assemblies.results import gaps as rs

MEMBERS = 4  # members for which a shift is worked out, and
ENOUGH = "all its gaps are then enough; brackets and strength were looked at anew"
BEATEN = (
    1.5  # a cut of less than so many times what is lacking, which any shift must be, needs no shift beside it
)
TRIMS = 3  # pairs of the rocker for which a trim is; the rest says so


@dataclass
class Cured:
    """What was found for one pair: `cures`, and `text` for the builder."""

    cures: list[rs.Cure] = field(default_factory=list)
    text: list[str] = field(default_factory=list)


def cures(stand: Stand, say: Callable[..., None] = lambda *_: None) -> dict[tuple[str, str], Cured]:
    """Cures of every short pair. A shift belongs to all the pairs of its member; a trim to its own pair."""
    fixed = [m.name for m in stand.job.member if not m.moves_with]
    short = [p for p in stand.report.pairs if not p.ok]
    rocker = stand.layout.rocker is not None
    treated = list(dict.fromkeys(n for p in short for n in (p.a, p.b) if n in fixed))
    trimmed = [p for p in short if rocker and "rocker" in (p.a, p.b)]
    out = {(p.a, p.b): Cured() for p in short}
    for k, name in enumerate(treated[:MEMBERS], 1):
        say(f"cures: {name}, {k} of {min(len(treated), MEMBERS)}")
        own = [p for p in short if name in (p.a, p.b)]
        found = _of_member(stand, name, max(p.required_mm - p.gap_mm for p in own))
        for n, p in enumerate(own):
            out[p.a, p.b].cures += found.cures
            out[p.a, p.b].text += (
                found.text if n == 0 else [f"See {own[0].a} to {own[0].b} for what cures '{name}'."]
            )
    for name in treated[MEMBERS:]:
        for p in (p for p in short if name in (p.a, p.b)):
            out[p.a, p.b].text.append(f"No shift of '{name}' was looked for: cure the worse ones first.")
    for k, p in enumerate(trimmed):
        if k >= TRIMS:
            out[p.a, p.b].text.append("No trim was looked for: cure the worse ones first.")
            continue
        say(f"cures: trim of the rocker, {k + 1} of {min(len(trimmed), TRIMS)}")
        _of_rocker(stand, p, out[p.a, p.b])
    for p in short:
        if not {p.a, p.b} & set(fixed) and not any(c.holds for c in out[p.a, p.b].cures):
            out[p.a, p.b].text.append(advice(stand.job, stand.layout, p))
    return out


def _of_member(stand: Stand, name: str, lacking_mm: float) -> Cured:
    """A cut where its end stands in the way, a shift where no cut is about as short as any shift must be."""
    out = Cured()
    try:
        cut = shorten(stand, name)
        done = cut if cut is not None and cut.holds else None
        short = done is not None and needed(done.cut_mm) <= BEATEN * lacking_mm + 1
        found = None if short else shift(stand, name)
    except ValueError as e:  # a corner on the edge of what can be made must still give its report
        return Cured(text=[f"What cures '{name}' could not be worked out: {e}."])
    out.cures = [c for c in (cut, found) if c]
    out.text = [_cut(name, done)] if done else []
    out.text += [_moved(name, found, bool(done))] if found or not done else []
    return out


def _of_rocker(stand: Stand, pair: PairResult, out: Cured) -> None:
    try:
        found = trims(stand, pair)
    except ValueError as e:
        out.text.append(f"A trim of the rocker could not be worked out: {e}.")
        return
    out.text.append(_trimmed(found, any(c.holds for c in out.cures)))
    out.cures += found.cures


def _cut(name: str, cure: rs.Cure) -> str:
    end = next(iter(cure.changes)).rpartition(".")[2]
    return f"Cut {cure.cut_mm:g} mm off '{name}' at its '{end}' end: {ENOUGH} ({_keys(cure)})."


def _moved(name: str, cure: rs.Cure | None, other: bool) -> str:
    if cure is None:
        return (
            f"No shift of '{name}' that gives all its pairs their gap was found within {FURTHEST_MM:g} mm "
            f"along the car's axes and away from what it meets."
        )
    way = members.words(cure.shift_mm)
    if cure.holds:
        return f"{'Or move' if other else 'Move'} '{name}' {way}: {ENOUGH} ({_keys(cure)})."
    return f"Moving '{name}' {way} gives its pairs their gap, but {_list(cure.trouble)}."


def _trimmed(found, other: bool) -> str:
    holds = [c for c in found.cures if c.holds]
    if holds:
        best = holds[0]
        key, value = next(iter(best.changes.items()))
        return (
            f"{'Or trim' if other else 'Trim'} the rocker: {key} = {value:g} clears it and keeps its edge "
            f"distances; {best.note}."
        )
    fails = [
        f"{key} = {value:g} clears it, but {_list(c.trouble)}"
        for c in found.cures
        for key, value in c.changes.items()
    ]
    return f"No trim of the rocker's outline cures it: {'; '.join([*fails, *found.said])}."


def _list(wrong: list[str]) -> str:
    return "; ".join(wrong[:2]) + (f"; and {len(wrong) - 2} more" if len(wrong) > 2 else "")


def to_try(clearance: rs.ClearanceRow) -> list[str]:
    """Every cure that holds, as options to paste behind `rockershed check FILE`."""
    return list(dict.fromkeys(as_options(c) for p in clearance.pairs for c in p.cures if c.holds))


def _keys(cure: rs.Cure) -> str:
    """The changes as the member's table in the job file would say them, those of other members with their
    names."""

    def key(k: str) -> str:
        table, _, last = k.rpartition(".")
        if not table.startswith("member.") and table != cure.body:
            return k
        own = table in (f"member.{cure.body}", cure.body, "")
        return last if own else f"with it {last} of '{table.removeprefix('member.')}'"

    return ", ".join(f"{key(k)} = {_shown(v)}" for k, v in cure.changes.items())


def _shown(v) -> str:
    return f"[{', '.join(f'{x:.10g}' for x in v)}]" if isinstance(v, list) else f"{v:.10g}"


def as_options(cure: rs.Cure) -> str:
    """The cure as options of the command.

    >>> found = {"member.rail.from": [1.0, 2.5, 3.0]}
    >>> as_options(rs.Cure(kind="shift", body="rail", changes=found, holds=True))
    '--change "member.rail.from=[1, 2.5, 3]"'
    """
    return " ".join(f"--change {quoted(f'{k}={_shown(v)}')}" for k, v in cure.changes.items())


def quoted(text: str, windows: bool = os.name == "nt") -> str:
    """An argument as one word for the shell.

    >>> print(quoted('member.a "b" $c.to=[1, 2, 3]', windows=False))
    "member.a \\"b\\" \\$c.to=[1, 2, 3]"
    """
    return '"' + re.sub('"' if windows else r'["$`\\]', r"\\\g<0>", text) + '"'
