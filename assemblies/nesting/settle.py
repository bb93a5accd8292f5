"""All copies at once by linear programming: push overlaps apart, then draw the whole together.

For each near pair of convex pieces the best separating axis is held and the shifts are found that satisfy every
axis (Li & Milenkovic 1995, compaction and separation of polygons). The axes are chosen afresh each round.
"""

from __future__ import annotations

import numpy as np

from assemblies.nesting.layout import Layout

CLEAR_MM = 1e-7


def contacts(layout: Layout, reach_mm: float):
    """Axes of near pairs: (i, j, mx, my, c) with the condition c - m·(t_i - t_j) <= 0; j = -1 is the container."""
    n = len(layout)
    radius = np.array([layout.shapes[k].reach_mm + layout.shapes[k].half_spacing_mm for k in layout.kind])
    found = []
    for i in range(n):
        for j in range(i + 1, n):
            dx, dy = layout.x[i] - layout.x[j], layout.y[i] - layout.y[j]
            if dx * dx + dy * dy > (radius[i] + radius[j] + reach_mm) ** 2:
                continue
            found += _best(layout.rows(i, int(layout.r[i]), j), dx, dy, reach_mm, i, j)
        for rows in layout.wall_rows(int(layout.kind[i]), int(layout.r[i])):
            found += _best(rows, layout.x[i], layout.y[i], reach_mm, i, -1)
    return found


def _best(rows, dx: float, dy: float, reach_mm: float, i: int, j: int) -> list:
    mx, my, c, starts = rows
    v = c - mx * dx - my * dy
    ends = np.append(starts[1:], len(v))
    low = np.minimum.reduceat(v, starts)
    out = []
    for p in np.flatnonzero(low > -reach_mm):
        k = starts[p] + int(np.argmin(v[starts[p] : ends[p]]))
        out.append((i, j, mx[k], my[k], c[k], v[k]))
    return out


def deepest_mm(layout: Layout) -> float:
    """The worst overlap by the placer's own measure; at most 0 where all is clear."""
    far = max(
        (float(layout.x[i] - layout.limits(int(layout.kind[i]), int(layout.r[i]))[2]) for i in range(len(layout))), default=0.0
    )
    return max([far] + [_worst(layout, i, j) for i in range(len(layout)) for j in range(-1, i)])


def _worst(layout: Layout, i: int, j: int) -> float:
    if j < 0:
        return max(
            float(np.minimum.reduceat(c - mx * layout.x[i] - my * layout.y[i], s).max())
            for mx, my, c, s in layout.wall_rows(int(layout.kind[i]), int(layout.r[i]))
        )
    mx, my, c, s = layout.rows(i, int(layout.r[i]), j)
    return float(np.minimum.reduceat(c - mx * (layout.x[i] - layout.x[j]) - my * (layout.y[i] - layout.y[j]), s).max())


def separate(layout: Layout, step_mm: float, rounds: int = 6) -> Layout | None:
    """The layout with its small overlaps pushed apart, or None."""
    now = layout
    worst = np.inf
    for _ in range(rounds):
        moved = _solve(now, step_mm, length=False)
        if moved is None:
            return None
        now = moved
        deep = deepest_mm(now)
        if deep <= CLEAR_MM:
            return now
        if deep > 0.9 * worst:
            return None
        worst = deep
    return None


def compact(layout: Layout, step_mm: float, rounds: int = 12) -> tuple[Layout, float]:
    """A clear layout drawn towards x least, and the length it then needs (greatest x of a bare copy)."""
    now, length = layout, length_mm(layout)
    for _ in range(rounds):
        moved = _solve(now, step_mm, length=True)
        if moved is None or deepest_mm(moved) > CLEAR_MM:
            break
        now, before, length = moved, length, length_mm(moved)
        if before - length < 1e-3:
            break
    return now, length


def length_mm(layout: Layout) -> float:
    return max(
        (float(layout.x[i]) + layout.shapes[layout.kind[i]].box(int(layout.r[i]))[2] for i in range(len(layout))), default=0.0
    )


def _solve(layout: Layout, step_mm: float, length: bool) -> Layout | None:
    """One linear programme: shifts of at most `step_mm`; least total overlap, or least length with no overlap."""
    from scipy.optimize import linprog
    from scipy.sparse import csc_array

    n = len(layout)
    # two copies that both move the full step along both axes come closer by at most 2·√2 steps
    rows = contacts(layout, 2.9 * step_mm)
    i, j = np.array([r[0] for r in rows], int), np.array([r[1] for r in rows], int)
    mx, my, now = np.array([r[2] for r in rows]), np.array([r[3] for r in rows]), np.array([r[5] for r in rows])
    k, both = np.arange(len(rows)), j >= 0
    at = [k, k, k[both], k[both]]
    col = [2 * i, 2 * i + 1, 2 * j[both], 2 * j[both] + 1]
    val = [-mx, -my, mx[both], my[both]]
    size, count = 2 * n + 1, len(rows)
    ends = np.array([layout.x[q] + layout.shapes[layout.kind[q]].box(int(layout.r[q]))[2] for q in range(n)])
    q = np.arange(n)
    at += [count + q, count + q]
    col += [2 * q, np.full(n, 2 * n)]
    val += [np.ones(n), -np.ones(n)]
    upper = np.concatenate([-now, -ends])
    bounds = [(-step_mm, step_mm)] * (2 * n)
    if length:
        cost = np.concatenate([np.tile([1e-4, 0.0], n), [1.0]])
        bounds += [(None, layout.container.length_mm)]
    else:
        at.append(k)
        col.append(size + k)
        val.append(-np.ones(count))
        size += count
        cost = np.concatenate([np.zeros(2 * n + 1), np.ones(count)])
        bounds += [(None, layout.container.length_mm)] + [(0, None)] * count
    a = csc_array((np.concatenate(val), (np.concatenate(at), np.concatenate(col))), shape=(count + n, size))
    found = linprog(cost, A_ub=a, b_ub=upper, bounds=bounds, method="highs-ds")
    if found.x is None or not found.success:
        return None
    out = layout.copy()
    out.x += found.x[0 : 2 * n : 2]
    out.y += found.x[1 : 2 * n : 2]
    return out
