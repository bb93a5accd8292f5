"""A comparison in words, for a terminal."""

from __future__ import annotations

import math
import textwrap

from assemblies.making.compare.comparison import Comparison
from assemblies.making.compare.numbers import RowOfBoth
from assemblies.results.findings import worst_first
from assemblies.results.terminal import paragraph, spoken, width

MOST_ROWS = 8  # of uses and of gaps on a terminal


def _word(v: float | None, decimals: int, sign: bool = False) -> str:
    return (
        "-"
        if v is None or not math.isfinite(v)
        else f"{round(v, decimals) + 0.0:{'+' if sign else ''}.{decimals}f}"
    )


def text(c: Comparison) -> str:
    """The comparison for a terminal: the verdict, then what it rests on, then what must be made again."""
    lines = [
        paragraph(c.verdict, ""),
        *(paragraph(f"{k}  {name}", "", "   ") for k, name in zip("AB", c.labels, strict=True)),
    ]
    lines += [paragraph(f"{k}: {x} -> {y}", "   ", "  ") for k, x, y in c.keys]
    for title, found in (("New findings", c.new), ("Findings that go away", c.gone)):
        if found:
            lines += ["", title]
            lines += [
                paragraph(f"{f.level.upper():4}  {f.where}: {f.text}", "  ", "      ", 4)
                for f in worst_first(found)
            ]
    head = ("A", "B", "B - A")
    for title, rows in (
        ("Use of strength, worst first", [r for r in c.uses if r.seen][:MOST_ROWS]),
        ("Mass and cost", tuple(r for r in c.made if r.differs)),
        ("Guaranteed gaps, tightest first", c.pairs[:MOST_ROWS]),
        ("Numbers", tuple(r for r in c.rows if r.differs and r not in c.made)),
    ):
        if rows:
            lines += [
                "",
                f"{title[: width() - 36]:{width() - 42}}{''.join(f'{h:>10}' for h in head)}",
                *map(_line, rows),
            ]
    if not any(r.differs for r in (*c.rows, *c.uses)):
        lines += ["", "No number differs."]
    return "\n".join([*lines, "", *_parts_text(c)]) + "\n"


def _line(r: RowOfBoth) -> str:
    before, after = r.said
    change = _word(r.change, r.decimals, True)
    name, *rest = textwrap.wrap(spoken(r.name), width() - 46)
    tail = f" of {r.asked:g}{' SHORT' if r.short else ''}" if r.asked is not None else f" {r.unit}"
    return "\n".join(
        [f"  {name:{width() - 44}}{before:>10}{after:>10}{change:>10}{tail}", *(f"    {w}" for w in rest)]
    )


def _parts_text(c: Comparison) -> list[str]:
    out = []
    for fate, title in (
        ("again", "Parts to be cut again"),
        ("new", "Parts that are new"),
        ("gone", "Parts no longer needed"),
    ):
        found = [p for p in c.parts if p.fate == fate]
        if found:
            out += [
                title,
                *(paragraph(f"{p.name}{': ' + p.why if p.why else ''}", "  ", "  ") for p in found),
            ]
    stay = [p.name for p in c.parts if p.fate == "stays"]
    return [*out, paragraph(f"Parts that stay: {', '.join(stay) if stay else 'none'}", "", "  ", 3)]
