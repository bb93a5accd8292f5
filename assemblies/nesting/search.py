"""Guided local search: copies jump to where they overlap least, pairs that stay in conflict grow dearer
(the idea of Voudouris & Tsang 1999 as used on cutting problems by Egeblad, Nielsen & Odgaard 2007).

All work is counted in moves, never in seconds, so that a seed gives the same nest however fast or busy the
machine; a wall-clock limit only stops the whole, and the result says so.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from assemblies.nesting import kernel
from assemblies.nesting.budget import Budget
from assemblies.nesting.container import container_of
from assemblies.nesting.kernel import place_one, sweep
from assemblies.nesting.layout import Arrangement
from assemblies.nesting.settle import CLEAR_MM, separate

SAMPLES, ABOUT, HEADS = (
    20,
    10,
    2,
)  # places tried for a move: over the plate, round the copy; how many are followed down
LP_EVERY = 20  # sweeps without gain before the linear programme is tried again


def prepare() -> None:
    """Have the compiled code ready: compiled once, read from the disk afterwards. What an older version left
    there, of classes that are gone, is cleared away: the compiler does not get over it."""
    try:
        _compiled()
    except (AttributeError, ImportError):
        for old in Path(kernel.sweep._cache.cache_path).glob("kernel.*.nb[ic]"):
            old.unlink(missing_ok=True)
        _compiled()


def _compiled() -> None:
    from shapely import box

    from assemblies.nesting.layout import Shape

    square = Shape(box(-1, -1, 1, 1), (0.0,), 0.0)
    two = (
        Arrangement.empty([square], container_of(box(0, 0, 9, 9)))
        .with_(0, 0.0, 1.0, 1.0)
        .with_(0, 0.0, 1.0, 1.0)
    )
    rng = np.random.default_rng(0)
    lay(two, 1, rng, samples=1)
    two.contacts(1.0, True)
    sweep(two.kinds, two.plate, two.copies, np.ones((2, 2)), np.ones(2), 1, 1, 1, word(rng))


def word(rng: np.random.Generator) -> np.ndarray:
    """State of the compiled search's own generator."""
    return rng.integers(2**63, size=1, dtype=np.uint64)


def resolve(
    layout: Arrangement, rng: np.random.Generator, budget: Budget, near_mm: float = 4.0
) -> Arrangement | None:
    """Move copies until none overlaps, or None when the budget is spent. The layout given is left alone."""
    now, state = layout.copy(), word(rng)
    n = len(now)
    pair_w, wall_w = np.ones((n, n)), np.ones(n)
    least, since = np.inf, 0
    while True:
        pair, wall = now.overlaps()
        worst, total = max(pair.max(initial=0.0), wall.max(initial=0.0)), pair.sum() / 2 + wall.sum()
        if worst <= CLEAR_MM:
            return now
        since += 1
        if worst < near_mm and (total < 0.9 * least or since >= LP_EVERY):
            least, since = min(total, least), 0
            apart = separate(now, max(2.0, 1.5 * worst), out=budget.out)
            if apart is not None:
                return apart
        pair_w = np.where(pair > 0, pair_w * (1.2 + 0.8 * pair / worst), np.maximum(1.0, pair_w * 0.95))
        wall_w = np.where(wall > 0, wall_w * (1.2 + 0.8 * wall / worst), np.maximum(1.0, wall_w * 0.95))
        moves = sweep(now.kinds, now.plate, now.copies, pair_w, wall_w, SAMPLES, ABOUT, HEADS, state)
        if not budget.take(max(1, moves)):
            return None


def lay(
    layout: Arrangement, i: int, rng: np.random.Generator, samples: int = 400, lean: float = 1e-4
) -> float:
    """Lay copy i of the layout itself where it overlaps least, of equal places the one of least x; gives the
    cost."""
    return float(place_one(i, layout.kinds, layout.plate, layout.copies, samples, 6, lean, word(rng)))
