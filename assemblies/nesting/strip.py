"""Draw a nest together towards one end, so that what is left of the plate stays in one piece.

On a plain rectangle this is strip packing: the least length of a strip of given width.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from assemblies.nesting.budget import Budget, part, settle_up
from assemblies.nesting.layout import Arrangement, Shape
from assemblies.nesting.search import resolve
from assemblies.nesting.settle import CLEAR_MM, compact

FIRST_SHARE, LEAST_SHARE = 0.03, 0.002
TRY_MOVES = 40  # a copy


def shorten(layout: Arrangement, rng: np.random.Generator, budget: Budget) -> Arrangement:
    """The same copies in the same container, its far end drawn in as far as the budget goes. `layout` must be
    clear.

    Each try draws the end in by a share of the length and parts the copies anew; a try that fails makes the
    next share smaller and starts from the best with two copies changed over."""
    open_ = layout.container
    best, length = compact(layout, 5.0, out=budget.out)
    least, share, kick = best.container.bounds[0], FIRST_SHARE, False
    while budget.spent < budget.moves and not budget.hit_limit:
        trial = _squeezed(best, least + (length - least) * (1 - share), rng, kick)
        own = part(budget, TRY_MOVES * len(layout))
        found = resolve(trial, rng, own)
        settle_up(budget, own)
        kick = found is None
        if found is None:
            share = max(LEAST_SHARE, 0.7 * share)
        else:
            best, length = compact(found, 5.0, out=budget.out)
        budget.tell(f"length {length - least:.0f} mm")
    return best.within(open_)


def _squeezed(layout: Arrangement, length: float, rng: np.random.Generator, kick: bool) -> Arrangement:
    """The layout in a shorter container; after a failure two copies of like size change places."""
    out = layout.within(layout.container.cut_at(length))
    if kick and len(out) > 2:
        i = int(rng.integers(len(out)))
        others = np.flatnonzero(out.kind != out.kind[i])
        if len(others):
            j = int(rng.choice(others))
            out.x[i], out.x[j], out.y[i], out.y[j] = out.x[j], out.x[i], out.y[j], out.y[i]
    for i in range(len(out)):
        x0, y0, x1, y1 = out.limits(int(out.kind[i]), float(out.turn[i]))
        out.x[i], out.y[i] = max(x0, min(out.x[i], x1)), max(y0, min(out.y[i], y1))
    return out


def scattered(layout: Arrangement, kinds: list[int], rng: np.random.Generator) -> Arrangement:
    """Copies of `kinds` thrown at random over the container."""
    out = layout
    for k in kinds:
        shape = layout.shapes[k]
        turn = math.radians(shape.angles[int(rng.integers(len(shape.angles)))])
        x0, y0, x1, y1 = layout.limits(k, turn)
        u = rng.random(2)
        out = out.with_(k, turn, x0 + u[0] * max(0.0, x1 - x0), y0 + u[1] * max(0.0, y1 - y0))
    return out


def refined(layout: Arrangement, shapes: Callable[[], list[Shape]], budget: Budget) -> Arrangement:
    """Drawn together once more with finely cut arcs, where there is time."""
    if budget.out():
        return layout
    fine = Arrangement(shapes(), layout.container, layout.kind, layout.turn, layout.x, layout.y)
    return compact(fine, 2.0, out=budget.out)[0] if fine.deepest_mm <= CLEAR_MM else layout
