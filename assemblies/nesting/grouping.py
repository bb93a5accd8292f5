"""Blanks and plates of one thickness and material: fewest plates first, then each drawn together."""

from __future__ import annotations

import math
from collections import Counter

from assemblies.nesting.budget import Budget, part, settle_up
from assemblies.nesting.filling import emptied, fill_all
from assemblies.nesting.model import Blank, Missing, NestError, Placement, Remnant, Rules
from assemblies.nesting.stock import Stock, choices, least_plates, too_large
from assemblies.nesting.strip import refined, shorten


def place(blanks: list[Blank], remnants: list[Remnant], rules: Rules, rng, budget: Budget, oversize: str):
    """(placements, missing, lower bound on remnants) of blanks and remnants that go together."""
    area = [b.outline.gross_area_mm2 for b in blanks]
    wanted = [k for k in sorted(range(len(blanks)), key=lambda k: -area[k]) for _ in range(blanks[k].count)]
    plates = [Stock(r, rules, blanks) for r in remnants]
    missing = []
    for k, b in enumerate(blanks):
        if not any(p.admits(k) for p in plates):
            wanted = [q for q in wanted if q != k]
            why = too_large(b, plates)
            if oversize == "error":
                raise NestError(why)
            missing.append(Missing(b, b.count, why))
    needed = sum(area[k] for k in wanted)
    bound = least_plates(needed, [p.area_mm2 for p in plates]) if wanted else 0
    best = None
    for some in choices(plates, needed, bound):
        own = part(budget, max(20, (budget.moves - budget.spent) // 2))
        own.progress = budget.progress
        sheets, left = fill_all(some, wanted, rng, own)
        if not left:
            sheets = emptied(sheets, bound, rng, own)
        settle_up(budget, own)
        score = (sum(area[k] for k in left), sum(len(sheet.layout) > 0 for sheet in sheets))
        if best is None or score < best[0]:
            best = (score, sheets, left)
        if not left or budget.hit_limit:
            break
    placements: list[Placement] = []
    copies: Counter[int] = Counter()
    used = [sheet for sheet in best[1] if len(sheet.layout)] if best else []
    for n, sheet in enumerate(used):
        tidy = part(budget, (budget.moves - budget.spent) // (len(used) - n))
        tidy.progress = budget.progress
        layout = refined(shorten(sheet.layout, rng, tidy), sheet.stock.fine, tidy)
        settle_up(budget, tidy)
        for k, turn, x, y in zip(layout.kind, layout.turn, layout.x, layout.y, strict=True):
            copies[int(k)] += 1
            turn_deg = round(math.degrees(turn) % 360, 9) % 360
            placements.append(_placement(blanks[k], copies[int(k)], sheet.stock.remnant, turn_deg, x, y))
    for k, count in sorted(Counter(best[2] if best else []).items()):
        why = "no place found in the time given" if budget.hit_limit else "no room left"
        missing.append(Missing(blanks[k], count, why))
    return placements, missing, bound


def _placement(b: Blank, copy: int, remnant: Remnant, turn: float, x: float, y: float) -> Placement:
    x0, y0, x1, y1 = b.outline.bounds
    cx, cy, a = (x0 + x1) / 2, (y0 + y1) / 2, math.radians(turn)
    c, s = math.cos(a), math.sin(a)
    return Placement(b, copy, remnant, float(turn), float(x - c * cx + s * cy), float(y - s * cx - c * cy))
