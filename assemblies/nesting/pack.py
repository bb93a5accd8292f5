"""From blanks and remnants to a proven nest: groups by thickness and material, fewest remnants first."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from functools import partial

import numpy as np

from assemblies.nesting import proof
from assemblies.nesting.budget import Budget, part, settle_up
from assemblies.nesting.model import Blank, Missing, Nest, NestError, Placement, Remnant, Rules
from assemblies.nesting.shortage import shortages
from parts.files.remembered import once


def nest(
    blanks: list[Blank],
    remnants: list[Remnant],
    rules: Rules | None = None,
    effort: int = 4000,
    seed: int = 0,
    limit_s: float = math.inf,
    progress: Callable[[float, str], None] | None = None,
    oversize: str = "error",
) -> Nest:
    """Place every copy of every blank on the fewest remnants, and prove the result.

    `effort` counts the moves of the search (some 500 to 1000 a second), so a seed gives the same nest however
    fast the machine; `limit_s` is a wall-clock guard, and the nest says when it cut the search short. What
    finds no place is named in `missing`. `oversize`: a blank larger than every plate of its kind is an
    "error" or goes to "missing". Raises NestError for input that cannot be right. Mirror images are never
    made."""
    rules = rules or Rules()
    _check(blanks, remnants, rules)
    if progress:
        progress(0.0, "preparing the search (longer the first time of all)")
    budget = Budget(max(1, int(effort)), limit_s, progress)
    placed: list[Placement] = []
    missing: list[Missing] = []
    least = 0
    groups = sorted({(b.thickness_mm, b.material) for b in blanks if b.count})
    stocked = {(round(r.thickness_mm, 6), r.material) for r in remnants}
    total = sum(b.count for b in blanks if (round(b.thickness_mm, 6), b.material) in stocked)
    for thickness, material in groups:
        some = [b for b in blanks if (b.thickness_mm, b.material) == (thickness, material) and b.count]
        plates = [r for r in remnants if abs(r.thickness_mm - thickness) < 1e-6 and r.material == material]
        if not plates:
            missing += [Missing(b, b.count, f"no remnant of {thickness:g} mm {material}") for b in some]
            continue
        share = max(1, int(effort * sum(b.count for b in some) / total))
        own = part(budget, share)
        own.progress = progress and partial(_told, progress, budget.spent / effort, share / effort)

        def search(some=some, plates=plates, own=own):
            from assemblies.nesting.grouping import place  # brings the compiler: only a search waits for it
            from assemblies.nesting.search import prepare

            prepare()
            p, m, k = place(some, plates, rules, np.random.default_rng(seed), own, oversize)
            blank, plate = [b.name for b in some], [r.name for r in plates]
            laid = [
                (blank.index(q.blank.name), q.copy, plate.index(q.remnant.name), q.turn_deg, q.x_mm, q.y_mm)
                for q in p
            ]
            return laid, [(blank.index(q.blank.name), q.count, q.why) for q in m], k, own.spent

        if limit_s < math.inf:  # what a clock cut short is not kept
            laid, gone, k, own.spent = search()
        else:
            given = (some, plates, rules, seed, own.moves, oversize)
            laid, gone, k, own.spent = once("nest", given, search)
        p = [Placement(some[b], copy, plates[r], turn, x, y) for b, copy, r, turn, x, y in laid]
        m = [Missing(some[b], count, why) for b, count, why in gone]
        settle_up(budget, own)
        placed, missing, least = placed + p, missing + m, least + k
    short = shortages(missing, remnants, rules, seed, effort, budget)
    result = Nest(
        tuple(placed), tuple(missing), tuple(short), tuple(remnants), rules, least, budget.hit_limit
    )
    proof.prove(result)
    budget.spent = budget.moves
    budget.tell("nest proven")
    return result


def _told(
    progress: Callable[[float, str], None], before: float, part: float, share: float, text: str
) -> None:
    """Progress of one part of the work, in shares of all of it."""
    progress(min(1.0, before + share * part), text)


def _check(blanks: list[Blank], remnants: list[Remnant], rules: Rules) -> None:
    rules.check()
    for b in blanks:
        b.check()
    for r in remnants:
        r.check()
    for what, names in (("blank", [b.name for b in blanks]), ("remnant", [r.name for r in remnants])):
        twice = [n for n, c in Counter(names).items() if c > 1]
        if twice:
            raise NestError(f'{what} "{twice[0]}" is given twice; names must differ (use count for copies)')
