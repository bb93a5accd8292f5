"""Strength a part at a time: the worst row of each item for the bars, and of each placed part for the model's
colours. Which rows belong to which part is what the part itself gives account of.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from assemblies.layout import account
from assemblies.layout.placing import Layout
from assemblies.results.faults import needed
from assemblies.results.findings import lacking, use_of
from assemblies.results.model import Results
from assemblies.results.strength import StrengthCheck

SHOWN = 10  # bars at once, the others folded
FULL = 1.25  # use that fills the room of a bar
BANDS = (  # up to this use, its colour and words; blue to red, told apart by colour-blind readers
    (0.5, "#4a86b8", "up to 0.5 of what it carries"),
    (0.8, "#a9cbe0", "up to 0.8"),
    (1.0, "#f2c46d", "up to 1"),
    (math.inf, "#c2361f", "over 1"),
)
OPEN, IDLE = "#5b5560", "#dcdcd4"  # carries load and is not checked; carries nothing of the corner's load


def worst(checks: Iterable[StrengthCheck]) -> StrengthCheck | None:
    return max(checks, key=_use, default=None)


def _use(c: StrengthCheck) -> float:
    return math.inf if c.use is None else c.use


def band(use: float | None) -> str:
    return next(colour for most, colour, _ in BANDS if (math.inf if use is None else use) <= most)


def bars(r: Results, layout: Layout | None) -> list[dict]:
    """An item of the strength table each, worst first: its worst check, how long and of what colour its bar
    is, and the parts it speaks of."""
    items: dict[str, list[StrengthCheck]] = {}
    for c in r.strength.checks:
        items.setdefault(c.item, []).append(c)
    of: dict[str, list[str]] = {}
    for p in layout.placed if layout is not None else ():
        if isinstance(p.strength, account.Checked):
            for item in p.strength.items:
                of.setdefault(item, []).append(p.name)
    rows = [(needed(worst(found)), item, len(found)) for item, found in items.items()]
    return [
        {
            "item": item,
            "check": c,
            "count": count,
            "use": "no resistance" if c.use is None else lacking(c.use),
            "long": min(_use(c), FULL) / FULL,
            "beyond": _use(c) > FULL,
            "colour": band(c.use),
            "parts": of.get(item, []),
        }
        for c, item, count in sorted(rows, key=lambda row: -_use(row[0]))
    ]


def of_parts(r: Results, layout: Layout) -> dict[str, dict]:
    """By the name of a placed part: its colour, and what is said of its strength."""
    if not r.strength.checks:
        return {}
    out = {}
    for p in layout.placed:
        s = p.strength
        if isinstance(s, account.Checked):
            c = worst(c for c in r.strength.checks if c.item in s.items)
            said = f"{use_of(c.use)}, {c.check.lower()}" if c and c.use is not None else "no resistance"
            out[p.name] = {"colour": band(c.use), "said": said} if c else {"colour": OPEN, "said": "no row"}
        else:
            colour = OPEN if isinstance(s, account.Unchecked) else IDLE
            out[p.name] = {"colour": colour, "said": f"not checked: {s.why}"}
    return out


def legend() -> list[tuple[str, str]]:
    """Colour and words, as the model shows them."""
    return [
        *((colour, said) for _, colour, said in BANDS),
        (OPEN, "carries load, not checked"),
        (IDLE, "carries nothing of the corner's load"),
    ]


def of_row(item: str, group: str, layout: Layout) -> list[str]:
    """The placed parts that a line of the cut list is for, as they give account of their source."""
    out = []
    for p in layout.placed:
        s = p.source
        if isinstance(s, account.FromPlate):
            found = group == "plate" and s.blank.name == item
        elif isinstance(s, account.FromStock):
            found = group != "plate" and any(row in item for row in s.rows)
        elif isinstance(s, account.Bought):
            found = group in ("fastener", "bought") and s.row in item
        else:
            found = False
        if found:
            out.append(p.name)
    return out
