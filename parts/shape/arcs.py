"""True arcs in place of the fine straight steps that stand for a curve: a blank is cut along few clean lines.

A tube met aslant gives parts of ellipses: within `ERROR_MM` a few arcs stand for each."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from parts.shape.outline import Segment, Vertex

ERROR_MM = 0.02  # a twentieth of the gap a fillet's fit-up allows
LEAST_MM = 0.3  # a shorter edge is a hook in a cut: cutting programs stumble over it, common practice
MOST_OFF_MM = 0.05  # what leaving such an edge out may move the line


def arced(path: Sequence[Vertex], error_mm: float = ERROR_MM) -> list[Vertex]:
    """An open path with arcs for its runs of short steps, each corner of a step within `error_mm` of its arc,
    and without edges under `LEAST_MM` where leaving one out moves the line no more than 0.05 mm. Both ends
    stay; a path that has arcs already keeps them.

    >>> quarter = [Vertex(10 * math.cos(a), 10 * math.sin(a)) for a in np.linspace(0, math.pi / 2, 30)]
    >>> [(round(v.x, 6), round(v.y, 6), round(v.bulge, 4)) for v in arced(quarter)]
    [(10.0, 0.0, 0.4142), (0.0, 10.0, 0.0)]
    """
    out: list[Vertex] = []
    for first, last in _runs(path, error_mm):
        out += _fitted(path, first, last, error_mm)
    return _without_hooks([*out, path[-1]])


def _runs(path: Sequence[Vertex], error_mm: float) -> list[tuple[int, int]]:
    """First and last vertex of every run of steps along a curve; a line or arc of its own is a run alone."""
    p = np.array([(v.x, v.y) for v in path])
    d = np.diff(p, axis=0)
    long = np.hypot(*d.T)
    way = np.arctan2(d[:, 1], d[:, 0])
    turn = np.abs((np.diff(way) + math.pi) % (2 * math.pi) - math.pi)
    radius = (long[1:] + long[:-1]) / 2 / np.maximum(turn, 1e-9)
    radius = np.where(turn > math.radians(30), 1e-9, radius)  # a true corner bends no step
    at = np.minimum(np.append(radius, np.inf), np.insert(radius, 0, np.inf))
    flat = np.array([bool(v.bulge) for v in path[:-1]])
    step = (long**2 / 8 / at <= error_mm) & ~flat
    runs, k = [], 0
    while k < len(long):
        j = k + 1
        while step[k] and j < len(long) and step[j] and turn[j - 1] <= math.radians(30):
            j += 1
        runs.append((k, j))
        k = j
    return runs


def _fitted(path: Sequence[Vertex], first: int, last: int, error_mm: float) -> list[Vertex]:
    """The fewest arcs of alike many steps each that keep to a run's corners; without its end."""
    steps = last - first
    for n in range(1, steps + 1):
        cuts = [first + math.floor(k * steps / n + 0.5) for k in range(n + 1)]
        parts = [_arc(path[a : b + 1], error_mm) for a, b in zip(cuts, cuts[1:], strict=False)]
        if all(found is not None for found in parts):
            return [v for v in parts if v is not None]
    return list(path[first:last])


def _arc(path: Sequence[Vertex], error_mm: float) -> Vertex | None:
    """The start of one arc from end to end of a run that keeps to the corners between; None where none
    does."""
    a, b = path[0], path[-1]
    if len(path) == 2:
        return a
    p = np.array([(v.x, v.y) for v in path[1:-1]])
    u, w = p - (a.x, a.y), p - (b.x, b.y)
    # the chord is seen from the arc under pi less half its sweep
    seen = np.arctan2(w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0], (u * w).sum(1))
    sweeps = np.sort(2 * (math.pi - np.abs(seen)) * np.sign(seen))
    sweep = float(sweeps[(len(sweeps) - 1) // 2] + sweeps[len(sweeps) // 2]) / 2  # their median
    chord = math.hypot(b.x - a.x, b.y - a.y)
    bulge = math.tan(sweep / 4)
    if abs(bulge) * chord / 2 < error_mm / 4:
        off = np.abs((b.x - a.x) * u[:, 1] - (b.y - a.y) * u[:, 0]) / chord
        return a if float(off.max()) <= error_mm else None
    if abs(bulge) > 1:
        return None
    h = (1 - bulge**2) / (4 * bulge)
    centre = (a.x + b.x) / 2 - h * (b.y - a.y), (a.y + b.y) / 2 + h * (b.x - a.x)
    radius = chord * (1 + bulge**2) / (4 * abs(bulge))
    off = np.abs(np.hypot(p[:, 0] - centre[0], p[:, 1] - centre[1]) - radius)
    return Vertex(a.x, a.y, bulge) if float(off.max()) <= error_mm else None


def _without_hooks(path: list[Vertex]) -> list[Vertex]:
    """Straight edges under `LEAST_MM` joined to the neighbour that then moves least."""
    while len(path) > 2:
        short = [
            (_moved(path, i), i)
            for k, (a, b) in enumerate(zip(path, path[1:], strict=False))
            if math.hypot(b.x - a.x, b.y - a.y) < LEAST_MM
            for i in (k, k + 1)
            if 0 < i < len(path) - 1
        ]
        off, i = min(short, default=(math.inf, 0))
        if off > MOST_OFF_MM:
            break
        before, gone, after = path[i - 1 : i + 2]
        bulge = before.bulge or gone.bulge
        path[i - 1 : i + 1] = [Vertex(before.x, before.y, bulge and _through(before, gone, after, bulge))]
    return path


def _moved(path: list[Vertex], i: int) -> float:
    """How far the line goes from what it was where a vertex is left out: a line between its neighbours, or,
    where one edge is an arc, an arc of its radius."""
    a, v, b = path[i - 1 : i + 2]
    if a.bulge and v.bulge:
        return math.inf
    if not (a.bulge or v.bulge):
        chord = math.hypot(b.x - a.x, b.y - a.y)
        return abs((b.x - a.x) * (v.y - a.y) - (b.y - a.y) * (v.x - a.x)) / max(chord, 1e-9)
    bulge = a.bulge or v.bulge
    new = Segment((a.x, a.y), (b.x, b.y), _through(a, v, b, bulge))
    old = Segment((a.x, a.y), (v.x, v.y), a.bulge), Segment((v.x, v.y), (b.x, b.y), v.bulge)
    if min(s.chord for s in old if s.bulge) <= LEAST_MM:
        return math.inf
    return max(new.distance_mm(*s.at(k / 8)) for s in old for k in range(9))


def _through(a: Vertex, v: Vertex, b: Vertex, bulge: float) -> float:
    """Bulge of the arc from a to b that keeps the radius of the one it grows out of."""
    old = (a, v) if a.bulge else (v, b)
    was = math.hypot(old[1].x - old[0].x, old[1].y - old[0].y)
    radius = was * (1 + bulge**2) / (4 * abs(bulge))
    half = math.asin(min(1.0, math.hypot(b.x - a.x, b.y - a.y) / (2 * radius)))
    return math.copysign(math.tan(half / 2), bulge)
