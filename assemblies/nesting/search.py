"""Guided local search: copies jump to where they overlap least, pairs that stay in conflict grow dearer
(the idea of Voudouris & Tsang 1999 as used on cutting problems by Egeblad, Nielsen & Odgaard 2007).

All work is counted in moves, never in seconds, so that a seed gives the same nest on any machine; a wall-clock limit
only stops the whole, and the result says so.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from assemblies.nesting.layout import Layout
from assemblies.nesting.settle import CLEAR_MM, deepest_mm, separate


@dataclass(eq=False)
class Budget:
    """Moves left, a clock that may end all early, and who wants to hear of progress (share 0 to 1, text)."""

    moves: int
    limit_s: float = np.inf
    progress: Callable[[float, str], None] | None = None
    spent: int = 0
    hit_limit: bool = False
    start: float = field(default_factory=time.monotonic)

    def take(self) -> bool:
        """Spend one move; False when there is none left."""
        if self.hit_limit or self.spent >= self.moves:
            return False
        self.spent += 1
        if self.spent % 16 == 0 and time.monotonic() - self.start > self.limit_s:
            self.hit_limit = True
        return not self.hit_limit

    def tell(self, text: str) -> None:
        if self.progress:
            self.progress(min(1.0, self.spent / self.moves), text)


def part(budget: Budget, moves: int) -> Budget:
    """A budget of at most `moves` out of another: give it back with `settle_up`."""
    return Budget(min(moves, budget.moves - budget.spent), budget.limit_s, None, 0, budget.hit_limit, budget.start)


def settle_up(budget: Budget, used: Budget) -> None:
    budget.spent += used.spent
    budget.hit_limit = budget.hit_limit or used.hit_limit


def overlaps(layout: Layout) -> tuple[np.ndarray, np.ndarray]:
    """Depth of each pair of copies (n x n, symmetric) and of each copy in its walls (n)."""
    n = len(layout)
    pair, wall = np.zeros((n, n)), np.zeros(n)
    for i in range(n):
        for j in range(i):
            mx, my, c, s = layout.rows(i, int(layout.r[i]), j)
            v = c - mx * (layout.x[i] - layout.x[j]) - my * (layout.y[i] - layout.y[j])
            pair[i, j] = pair[j, i] = max(0.0, np.minimum.reduceat(v, s).max())
        kind, r = int(layout.kind[i]), int(layout.r[i])
        wall[i] = max(0.0, layout.x[i] - layout.limits(kind, r)[2])
        for mx, my, c, s in layout.wall_rows(kind, r):
            wall[i] += max(0.0, np.minimum.reduceat(c - mx * layout.x[i] - my * layout.y[i], s).max())
    return pair, wall


def resolve(layout: Layout, rng: np.random.Generator, budget: Budget, near_mm: float = 4.0) -> Layout | None:
    """Move copies until none overlaps, or None when the budget is spent. The layout given is left alone."""
    now = layout.copy()
    n = len(now)
    pair_w, wall_w = np.ones((n, n)), np.ones(n)
    while True:
        pair, wall = overlaps(now)
        worst = max(pair.max(initial=0.0), wall.max(initial=0.0))
        if worst <= CLEAR_MM:
            return now
        if worst < near_mm:
            apart = separate(now, max(2.0, 1.5 * worst))
            if apart is not None:
                return apart
        top = max(worst, 1e-9)
        pair_w = np.where(pair > 0, pair_w * (1.2 + 0.8 * pair / top), np.maximum(1.0, pair_w * 0.95))
        wall_w = np.where(wall > 0, wall_w * (1.2 + 0.8 * wall / top), np.maximum(1.0, wall_w * 0.95))
        for i in rng.permutation(np.flatnonzero((pair > 0).any(axis=1) | (wall > 0))):
            if not budget.take():
                return None
            now.r[i], now.x[i], now.y[i] = best_place(now, int(i), rng, pair_w, float(wall_w[i]))[1:]


def best_place(
    layout: Layout,
    i: int,
    rng: np.random.Generator,
    pair_w: np.ndarray,
    wall_w: float,
    turns: int = 3,
    samples: int = 32,
    lean: float = 0.0,
) -> tuple[float, int, float, float]:
    """(cost, angle index, x, y) of the cheapest place found for copy i: samples over the plate and about where it is,
    then closer and closer round the best. `lean` > 0 prefers a small x among places without overlap."""
    shape = layout.shapes[layout.kind[i]]
    here, count = int(layout.r[i]), len(shape.angles)
    rs = [here] + [int(q) for q in rng.choice(count, min(turns, count), replace=False) if q != here]
    heads = []
    for r in rs:
        x0, y0, x1, y1 = layout.limits(int(layout.kind[i]), r)
        if x1 < x0 or y1 < y0:
            continue
        wide = layout.field(i, r, pair_w, wall_w)
        u = rng.random((samples, 2))
        x, y = x0 + u[:, 0] * (x1 - x0), y0 + u[:, 1] * (y1 - y0)
        if r == here:
            near = rng.normal(0.0, 0.15 * shape.reach_mm, (samples // 3, 2))
            x = np.concatenate([[layout.x[i]], x, np.clip(layout.x[i] + near[:, 0], x0, x1)])
            y = np.concatenate([[layout.y[i]], y, np.clip(layout.y[i] + near[:, 1], y0, y1)])
        cost = wide.cost(x, y) + lean * x
        order = list(np.argsort(cost, kind="stable")[:2])
        for k in order if r != here or 0 in order else [0, *order]:
            heads.append((float(cost[k]) if k or r != here else -1.0, r, float(x[k]), float(y[k]), (x0, y0, x1, y1), wide))
    heads.sort(key=lambda h: h[0])
    best = (np.inf, here, float(layout.x[i]), float(layout.y[i]))
    for _, r, bx, by, box, wide in heads[:3]:
        found = _closer(layout, i, r, bx, by, box, wide, rng, pair_w, wall_w, lean)
        if found[0] < best[0]:
            best = found
    return best


def _closer(layout: Layout, i: int, r: int, bx: float, by: float, box, wide, rng, pair_w, wall_w, lean: float):
    """Smaller and smaller random steps from one start, against the true pieces of what is within reach."""
    size = layout.shapes[layout.kind[i]].reach_mm
    reach = 0.4 * size
    fine = wide.around(bx, by, 1.5 * reach)
    x0, x1, y0, y1 = max(box[0], bx - reach), min(box[2], bx + reach), max(box[1], by - reach), min(box[3], by + reach)
    cost0, span = np.inf, 0.25 * size
    for scale in (1.0, 0.5, 0.25, 0.1):
        gx, gy = fine.downhill(bx, by)
        steps = np.concatenate([[0.0], span * scale * np.arange(1, 9) / 8])
        jitter = rng.normal(0.0, 0.15 * span * scale, (2, 8))
        x = np.clip(np.concatenate([bx + gx * steps, bx + jitter[0]]), x0, x1)
        y = np.clip(np.concatenate([by + gy * steps, by + jitter[1]]), y0, y1)
        cost = fine.cost(x, y) + lean * x
        k = int(np.argmin(cost))
        if cost[k] < cost0:
            cost0, bx, by = float(cost[k]), float(x[k]), float(y[k])
        if cost0 <= 0:
            break
    return cost0, r, bx, by


def clear(layout: Layout) -> bool:
    return len(layout) == 0 or deepest_mm(layout) <= CLEAR_MM
