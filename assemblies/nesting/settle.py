"""All copies at once by linear programming: push overlaps apart, then draw the whole together.

For each near pair of convex pieces the best separating axis is held and the shifts and small turns are found
that satisfy every axis (Li & Milenkovic 1995, compaction and separation of polygons; turns linearised about
the copy's own origin). Axes are chosen afresh each round; what the linearised turns left overlapping is
pushed apart by shifts alone, which are exact.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from assemblies.nesting.layout import Arrangement

CLEAR_MM = 1e-7


def separate(
    layout: Arrangement, step_mm: float, rounds: int = 6, out: Callable[[], bool] = lambda: False
) -> Arrangement | None:
    """The layout with its small overlaps pushed apart, or None; `out`: whether there is no more time."""
    now, worst = layout, np.inf
    for _ in range(rounds):
        if out():
            return None
        moved = _solve(now, step_mm, step_mm if worst > 0.02 else 0.0, length=False)
        if moved is None:
            return None
        now, deep = moved, moved.deepest_mm
        if deep <= CLEAR_MM:
            return now
        if deep > 0.9 * worst:
            return None
        worst = deep
    return None


def compact(
    layout: Arrangement, step_mm: float, rounds: int = 12, out: Callable[[], bool] = lambda: False
) -> tuple[Arrangement, float]:
    """A clear layout drawn towards x least, and the length it then needs (greatest x of a copy). `out`:
    whether there is no more time; each round leaves a clear layout."""
    now, length, rim = layout, layout.length_mm, step_mm
    for _ in range(rounds):
        if out():
            break
        moved = _solve(now, step_mm, rim, length=True)
        deep = moved.deepest_mm if moved is not None else 0.0
        if moved is not None and deep > CLEAR_MM:
            moved = _apart(moved, deep)
        if moved is not None and moved.length_mm < length - 1e-3:
            now, length = moved, moved.length_mm
        elif rim > 0:
            rim = rim / 4 if rim > 0.1 else 0.0
        else:
            break
    return now, length


def _apart(layout: Arrangement, deep: float) -> Arrangement | None:
    for _ in range(4):
        moved = _solve(layout, 3 * deep, 0.0, length=False)
        if moved is None or (deep := moved.deepest_mm) <= CLEAR_MM:
            return moved
        layout = moved
    return None


def _solve(layout: Arrangement, step_mm: float, rim_mm: float, length: bool) -> Arrangement | None:
    """One linear programme: shifts of at most `step_mm` each way and turns of at most `rim_mm` at the rim of
    free copies; least total overlap, or least length with no overlap. None where there is no answer."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_array

    n, size = len(layout), layout.kinds.size[layout.kind]
    # two copies that both move the full step along both axes come closer by at most 2·√2 steps, turning by 2
    # rims
    rows = layout.contacts(2.9 * step_mm + 2 * rim_mm, rim_mm <= 0)
    who, own, other = rows[:, 0].astype(int), rows[:, 1].astype(int), rows[:, 2].astype(int)
    end = own == -2
    k, has_own, has_other = np.arange(len(rows)), own >= 0, other >= 0
    at, col, val = [], [], []

    def put(where, column, value):
        at.append(k[where])
        col.append(column[where])
        val.append(value[where])

    nx, ny, gap = rows[:, 3], rows[:, 4], rows[:, 5]
    for has, i, sign, lever in ((has_own, own, 1.0, rows[:, 6]), (has_other, other, -1.0, rows[:, 7])):
        put(has, 3 * i, sign * nx)
        put(has, 3 * i + 1, sign * ny)
        put(has, 3 * i + 2, -lever / size[i.clip(0)])
    put(end, np.full(len(rows), 3 * n), np.full(len(rows), -1.0))
    turn = np.where(layout.kinds.free[layout.kind], rim_mm, 0.0)
    most = np.column_stack([np.full(n, step_mm), np.full(n, step_mm), turn]).ravel()
    low, high = np.append(-most, -np.inf), np.append(most, layout.container.length_mm)
    if length:
        cost = np.append(np.tile([1e-4, 0.0, 0.0], n), 1.0)
    else:
        _, slack = np.unique(who, return_inverse=True)
        put(~end, 3 * n + 1 + slack, np.full(len(rows), -1.0))
        count = int(slack.max(initial=-1)) + 1
        low, high = np.append(low, np.zeros(count)), np.append(high, np.full(count, np.inf))
        cost = np.append(np.zeros(3 * n + 1), np.ones(count))
    a = csc_array(
        (np.concatenate(val), (np.concatenate(at), np.concatenate(col))), shape=(len(rows), len(cost))
    )
    # no whole numbers among them: `linprog` asks the same solver the same, in half as long again
    found = milp(cost, bounds=Bounds(low, high), constraints=LinearConstraint(a, ub=gap))
    if found.x is None or not found.success:
        return None
    move = found.x[: 3 * n].reshape(n, 3)
    out = layout.copy()
    out.x, out.y, out.turn = out.x + move[:, 0], out.y + move[:, 1], out.turn + move[:, 2] / size
    return out
