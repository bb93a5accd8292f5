"""Blanks onto plates: one by one, all at once, by exchange; and a plate that can be spared is emptied
again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assemblies.nesting.budget import Budget, part, settle_up
from assemblies.nesting.layout import Arrangement
from assemblies.nesting.search import lay, resolve
from assemblies.nesting.settle import CLEAR_MM
from assemblies.nesting.stock import Stock
from assemblies.nesting.strip import scattered
from parts.base.frozen import dataclass

FULLEST = 0.9  # share of the free area above which all at once is not worth a try


@dataclass(frozen=True, eq=False)
class FilledPiece:
    """One connected piece of a plate and what lies on it."""

    stock: Stock
    layout: Arrangement

    def admits(self, k: int) -> bool:
        return self.stock.admits(k, self.layout.container)

    def has_room(self, k: int) -> bool:
        return self.layout.area_mm2 + self.layout.shapes[k].area_mm2 <= self.layout.container.area_mm2 * (
            1 + 1e-9
        )


def fill_all(
    plates: tuple[Stock, ...], wanted: list[int], rng, budget: Budget
) -> tuple[list[FilledPiece], list[int]]:
    """Fill the plates in turn, the largest first; gives the sheets and the kinds left over."""
    left, sheets = list(wanted), []
    for stock in sorted(plates, key=lambda p: -p.area_mm2):
        shapes = stock.shapes
        for box in stock.boxes:
            sheet = FilledPiece(stock, Arrangement.empty(shapes, box))
            layout, left = fill(sheet.layout, left, rng, budget, sheet.admits)
            sheets.append(replace(sheet, layout=layout))
    if left and len(sheets) == 1 and all(sheets[0].admits(k) for k in set(wanted)):
        whole = _all_at_once(
            Arrangement.empty(sheets[0].stock.shapes, sheets[0].layout.container), wanted, rng, budget
        )
        if whole is not None:
            return [replace(sheets[0], layout=whole)], []
    return _exchanged(sheets, left, rng, budget) if left else (sheets, left)


def fill(
    layout: Arrangement, wanted: list[int], rng, budget: Budget, admits=lambda k: True
) -> tuple[Arrangement, list[int]]:
    """Add copies one by one, each where it overlaps least, and part whatever overlaps; what cannot be parted
    in time is set aside. Gives a clear layout and the kinds set aside."""
    left: list[int] = []
    for n, k in enumerate(wanted):
        area = layout.area_mm2 + layout.shapes[k].area_mm2
        if k in left or not admits(k) or area > layout.container.area_mm2 * (1 + 1e-9):
            left.append(k)
            continue
        found = _added(layout, k, rng, budget, (budget.moves - budget.spent) // (len(wanted) - n + 3))
        if found is None:
            left.append(k)
        else:
            layout = found
        budget.tell(f"{len(layout)} of {len(wanted)} blanks placed")
    return layout, left


def _added(layout: Arrangement, k: int, rng, budget: Budget, moves: int = 0) -> Arrangement | None:
    """One copy more, or None; at least 20 moves a copy are spent on it while there are any."""
    trial = layout.with_(k, 0.0, 0.0, 0.0)
    lay(trial, len(layout), rng)
    if trial.deepest_mm <= CLEAR_MM:
        return trial
    own = part(budget, max(20 * len(trial), moves))
    found = resolve(trial, rng, own)
    settle_up(budget, own)
    return found


def _all_at_once(layout: Arrangement, wanted: list[int], rng, budget: Budget) -> Arrangement | None:
    """Everything thrown on one plate and parted: finds what adding one by one cannot."""
    if sum(layout.shapes[k].area_mm2 for k in wanted) > FULLEST * layout.container.area_mm2:
        return None
    own = part(budget, (budget.moves - budget.spent) // 2)
    found = resolve(scattered(layout, wanted, rng), rng, own)
    settle_up(budget, own)
    return found


def _exchanged(
    sheets: list[FilledPiece], left: list[int], rng, budget: Budget
) -> tuple[list[FilledPiece], list[int]]:
    """A blank left over takes the place of a smaller one, as long as the budget goes; the smaller one then
    looks for room."""
    area = sheets[0].layout.shapes
    while left and budget.spent < budget.moves and not budget.hit_limit:
        n, k = int(rng.integers(len(sheets))), left[int(rng.integers(len(left)))]
        sheet = sheets[n]
        smaller = [i for i, q in enumerate(sheet.layout.kind) if area[q].area_mm2 < area[k].area_mm2 - 1e-6]
        budget.take()
        if not smaller or not sheet.admits(k):
            continue
        i = int(rng.choice(smaller))
        found = _added(sheet.layout.without(i), k, rng, budget)
        if found is None:
            continue
        left.remove(k)
        left.append(int(sheet.layout.kind[i]))
        sheets[n] = replace(sheet, layout=found)
        for q in sorted(left, key=lambda q: -area[q].area_mm2):
            if _housed(sheets, q, rng, budget):
                left.remove(q)
        budget.tell(f"{sum(len(s.layout) for s in sheets)} blanks placed, {len(left)} left")
    return sheets, left


def _housed(sheets: list[FilledPiece], k: int, rng, budget: Budget) -> bool:
    """Add a copy to the first sheet that takes it; the list is changed."""
    for n, sheet in enumerate(sheets):
        if sheet.admits(k) and sheet.has_room(k):
            found = _added(sheet.layout, k, rng, budget)
            if found is not None:
                sheets[n] = replace(sheet, layout=found)
                return True
    return False


def emptied(sheets: list[FilledPiece], bound: int, rng, budget: Budget) -> list[FilledPiece]:
    """The sheets with the least used of them emptied onto the others, again and again while that goes."""
    while True:
        used = sorted((s for s in sheets if len(s.layout)), key=lambda s: s.layout.area_mm2)
        if len({id(s.stock) for s in used}) <= max(1, bound):
            return sheets
        others = [s for s in used if s.stock is not used[0].stock]
        kinds = np.concatenate([s.layout.kind for s in used if s.stock is used[0].stock])
        out = sorted(map(int, kinds), key=lambda k: -used[0].layout.shapes[k].area_mm2)
        if not all(_housed(others, k, rng, budget) for k in out):
            return sheets
        sheets = others
