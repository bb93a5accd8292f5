"""Draw a nest together towards one end, so that what is left of the plate stays in one piece.

On a plain rectangle this is strip packing: the least length of a strip of given width.
"""

from __future__ import annotations

import numpy as np

from assemblies.nesting.layout import Layout
from assemblies.nesting.search import Budget, part, resolve, settle_up
from assemblies.nesting.settle import compact, length_mm


def shorten(layout: Layout, rng: np.random.Generator, budget: Budget) -> Layout:
    """The same copies in the same container, its far end drawn in as far as the budget goes. `layout` must be clear."""
    open_ = layout.container
    best, length = compact(layout, 5.0)
    least = best.container.bounds[0]
    share = 0.03
    now = best
    while budget.spent < budget.moves and not budget.hit_limit and share > 0.0008:
        target = least + (length - least) * (1 - share)
        trial = _squeezed(now, target, rng, kick=now is not best)
        own = part(budget, 40 * len(layout))
        found = resolve(trial, rng, own)
        settle_up(budget, own)
        if found is None:
            share *= 0.7
            now = best.copy()
            continue
        found, got = compact(found, 5.0)
        best = now = found
        length = got
        budget.tell(f"length {length - least:.0f} mm")
    best.container = open_
    return best


def _squeezed(layout: Layout, length: float, rng: np.random.Generator, kick: bool) -> Layout:
    """The layout in a shorter container; after a failure two copies of like size change places."""
    out = layout.copy()
    out.container = layout.container.cut_at(length)
    if kick and len(out) > 2:
        i = int(rng.integers(len(out)))
        others = np.flatnonzero(out.kind != out.kind[i])
        if len(others):
            j = int(rng.choice(others))
            out.x[i], out.x[j], out.y[i], out.y[j] = out.x[j], out.x[i], out.y[j], out.y[i]
    for i in range(len(out)):
        x0, y0, x1, y1 = out.limits(int(out.kind[i]), int(out.r[i]))
        out.x[i], out.y[i] = max(x0, min(out.x[i], x1)), max(y0, min(out.y[i], y1))
    return out


def scattered(layout: Layout, kinds: list[int], rng: np.random.Generator) -> Layout:
    """Copies of `kinds` thrown at random over the container."""
    out = layout
    for k in kinds:
        shape = layout.shapes[k]
        r = int(rng.integers(len(shape.angles)))
        x0, y0, x1, y1 = layout.limits(k, r)
        u = rng.random(2)
        out = out.with_(k, r, x0 + u[0] * max(0.0, x1 - x0), y0 + u[1] * max(0.0, y1 - y0))
    return out


__all__ = ["length_mm", "scattered", "shorten"]
