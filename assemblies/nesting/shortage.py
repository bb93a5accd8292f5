"""How much plate is missing: the blanks left over, nested on a strip as wide as the stock."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np

from assemblies.nesting.budget import Budget, settle_up
from assemblies.nesting.container import containers
from assemblies.nesting.model import Missing, Remnant, Rules, Shortage, remnant_of
from parts.files.cache import keep, kept, key

ALLOWANCE = 1.03  # a search finds one nest, not every nest


def shortages(
    missing: list[Missing],
    remnants: list[Remnant],
    rules: Rules,
    seed: int,
    effort: int,
    clock: Budget | None = None,
) -> list[Shortage]:
    """For each thickness and material with blanks left over, a rectangular plate that would take them all.
    `clock`: whose time it is; what it cuts short is a larger plate, and is not kept."""
    clock = clock or Budget(0)
    out = []
    for thickness, material in sorted({(m.blank.thickness_mm, m.blank.material) for m in missing}):
        some = [m for m in missing if (m.blank.thickness_mm, m.blank.material) == (thickness, material)]
        same = [r for r in remnants if abs(r.thickness_mm - thickness) < 1e-6] or remnants
        stock = max((r.outline.bounds[3] - r.outline.bounds[1] for r in same), default=0.0)
        given = ([_plain(m) for m in some], stock, rules, seed, effort)
        name = key("shortage", given)
        body = kept(name, "shortage")
        length, width = json.loads(body) if body is not None else _size(*given, clock)
        if body is None and not clock.out():
            keep(name, "shortage", json.dumps((length, width)).encode())
        out.append(Shortage(thickness, material, length, width, sum(m.area_mm2 for m in some)))
    return out


def _plain(m: Missing) -> Missing:
    """What of a missing blank decides how much room it takes: not what it is cut from, nor its marks."""
    outline = replace(m.blank.outline, marks=())
    return Missing(replace(m.blank, outline=outline, thickness_mm=1.0, material=""), m.count, "")


def _size(
    some: list[Missing], stock_mm: float, rules: Rules, seed: int, effort: int, clock: Budget
) -> tuple[int, int]:
    """Length and width, whole mm, of a plate no wider than the stock where the blanks allow that."""
    from assemblies.nesting.layout import Arrangement  # brings the compiler: only a search waits for it
    from assemblies.nesting.search import prepare, resolve
    from assemblies.nesting.stock import SEARCH_CHORD_MM, shape_of
    from assemblies.nesting.strip import scattered, shorten

    prepare()
    area = sum(m.area_mm2 for m in some)
    spans = [m.blank.outline.bounds for m in some]
    widest = max(
        min(x1 - x0, y1 - y0) if m.blank.rotation == "free" else math.hypot(x1 - x0, y1 - y0)
        for m, (x0, y0, x1, y1) in zip(some, spans, strict=True)
    )
    width = math.ceil(max(min(stock_mm, 1.5 * math.sqrt(area)), widest * 1.05 + 2 * rules.edge_mm + 1))
    longest = max(math.hypot(x1 - x0, y1 - y0) for x0, y0, x1, y1 in spans)
    length = 2.5 * area / width + longest * 1.2 + 2 * rules.edge_mm
    rng = np.random.default_rng(seed)
    for _ in range(6):
        plate = remnant_of([(0, 0), (length, 0), (length, width), (0, width)], name="wanted")
        shapes = [shape_of(m.blank, plate, rules, SEARCH_CHORD_MM, math.inf) for m in some]
        kinds = [k for k, m in enumerate(some) for _ in range(m.count)]
        layout = scattered(Arrangement.empty(shapes, containers(plate, rules)[0]), kinds, rng)
        budget = Budget(
            max(60, min(effort // 2, 60 * len(kinds))), clock.limit_s, None, 0, clock.out(), clock.start
        )
        own = Budget(min(40 * len(kinds), budget.moves))  # in any case: there must be an answer
        found = resolve(layout, rng, own)
        settle_up(budget, own)
        if found is not None:
            need = shorten(found, rng, budget).length_mm + rules.edge_mm
            return math.ceil(ALLOWANCE * need), width
        length *= 1.5
    return math.ceil(length), width
