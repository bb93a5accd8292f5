"""Triangles over a flat outline, finer where asked: points spread by a wished size, Delaunay, a few smoothing
rounds.

Boundary points lie on the true arcs; the edges between them are straight. Needs scipy (it comes with the CAD
library).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from parts.base.frozen import dataclass
from parts.shape.outline import Loop, Outline

Size = Callable[[np.ndarray], np.ndarray]  # wished edge length, mm, at points (n, 2)
SMOOTHINGS = 12
SPREAD = 0.25  # growth of the size per mm away from a fine place


@dataclass(frozen=True)
class Mesh:
    """`points` (n, 2) mm, `triangles` (m, 3) counter-clockwise; `boundary`: how many of the first points lie
    on the outline."""

    points: np.ndarray
    triangles: np.ndarray
    boundary: int

    @property
    def area_mm2(self) -> float:
        return float(_areas(self.points, self.triangles).sum())


def graded(size_mm: float, fine: Sequence[tuple[float, float, float, float]]) -> Size:
    """`size_mm` everywhere, less round each (x, y, radius, size) of `fine`: that size on the circle, growing
    away from it."""

    def size(xy: np.ndarray) -> np.ndarray:
        out = np.full(len(xy), float(size_mm))
        for x, y, radius, least in fine:
            away = np.abs(np.hypot(xy[:, 0] - x, xy[:, 1] - y) - radius)
            out = np.minimum(out, least + SPREAD * away)
        return out

    return size


def mesh_outline(outline: Outline, size: Size) -> Mesh:
    """Mesh of a flat part with its windows and holes. Raises ValueError where the mesh does not fill the
    outline."""
    loops = [_spaced(loop, size) for loop in (outline.outer, *outline.inner)]
    for h in outline.holes:
        r = h.diameter_mm / 2
        around = max(16, math.ceil(2 * math.pi * r / float(size(np.array([[h.x + r, h.y]]))[0])))
        turn = 2 * math.pi * np.arange(around) / around
        loops.append(np.column_stack([h.x + r * np.cos(turn), h.y - r * np.sin(turn)]))
    return mesh_loops(loops, size)


def mesh_loops(loops: Sequence[np.ndarray], size: Size) -> Mesh:
    """Mesh inside the first closed polygon and outside the others; their corners are the boundary points."""
    from scipy.spatial import Delaunay, cKDTree

    edge = np.concatenate(loops)
    inside = _inside(loops)
    tree = cKDTree(edge)
    filled = _spread(edge, size)
    filled = filled[inside(filled) & (tree.query(filled)[0] > 0.65 * size(filled))]
    points = np.concatenate([edge, filled])
    n = len(edge)
    for k in range(SMOOTHINGS + 1):
        triangles = Delaunay(points).simplices
        triangles = triangles[inside(points[triangles].mean(1))]
        triangles = triangles[_areas(points, triangles, signed=False) > 1e-9]
        if k < SMOOTHINGS:
            points = _smoothed(points, triangles, n)
    flip = _areas(points, triangles, signed=True) < 0
    triangles[flip] = triangles[flip][:, ::-1]
    used = np.zeros(len(points), bool)
    used[triangles] = True
    number = np.cumsum(used) - 1
    mesh = Mesh(points[used], number[triangles], int(used[:n].sum()))
    wanted = abs(_polygon_area(loops[0])) - sum(abs(_polygon_area(h)) for h in loops[1:])
    if abs(mesh.area_mm2 - wanted) > 1e-3 * wanted:
        raise ValueError(
            f"the mesh covers {mesh.area_mm2:.1f} mm² of {wanted:.1f} mm²: ask for a smaller size"
        )
    return mesh


def _spaced(loop: Loop, size: Size) -> np.ndarray:
    """Points along a loop at the wished spacing; every segment's start among them."""
    out = []
    for s in loop.segments:
        probe = np.array([s.at(t) for t in np.linspace(0, 1, 9)])
        count = max(1, math.ceil(s.length * float(np.mean(1 / size(probe)))))
        # spread by the size along the segment, so that fine places get more points
        t = np.linspace(0, 1, 201)
        density = np.concatenate(
            [[0.0], np.cumsum(1 / size(np.array([s.at(u) for u in (t[1:] + t[:-1]) / 2])))]
        )
        shares = np.interp(np.arange(count) / count, density / density[-1], t)
        out += [s.at(float(u)) for u in shares]
    return np.array(out)


def _spread(edge: np.ndarray, size: Size) -> np.ndarray:
    """Points of triangular grids, each grid where the wished size is about its own."""
    low, high = edge.min(0), edge.max(0)
    least, most = (
        float(size(edge).min()),
        float(
            size(
                np.stack(
                    np.meshgrid(*[np.linspace(a, b, 60) for a, b in zip(low, high, strict=True)]), -1
                ).reshape(-1, 2)
            ).max()
        ),
    )
    steps = [
        least * math.sqrt(2) ** k for k in range(max(1, math.ceil(2 * math.log2(max(most / least, 1.0)) + 1)))
    ]
    found = []
    for h in steps:
        rows = np.arange(low[1], high[1] + h, h * math.sqrt(3) / 2)
        grid = np.concatenate(
            [
                np.column_stack(
                    [
                        np.arange(low[0] - h / 2 * (i % 2), high[0] + h, h),
                        np.full(len(np.arange(low[0] - h / 2 * (i % 2), high[0] + h, h)), y),
                    ]
                )
                for i, y in enumerate(rows)
            ]
        )
        want = size(grid)
        found.append(grid[(want >= h * 2**-0.25) & (want < h * 2**0.25)])
    return np.concatenate(found)


def _smoothed(points: np.ndarray, triangles: np.ndarray, fixed: int) -> np.ndarray:
    """Every inner point to the mean of its neighbours."""
    a, b = triangles[:, [0, 1, 2]].ravel(), triangles[:, [1, 2, 0]].ravel()
    total, count = np.zeros_like(points), np.zeros(len(points))
    for i, j in ((a, b), (b, a)):
        np.add.at(total, i, points[j])
        np.add.at(count, i, 1)
    new = points.copy()
    move = (np.arange(len(points)) >= fixed) & (count > 0)
    new[move] = total[move] / count[move, None]
    return new


def _inside(loops: Sequence[np.ndarray]) -> Callable[[np.ndarray], np.ndarray]:
    from matplotlib.path import Path

    paths = [Path(np.concatenate([p, p[:1]])) for p in loops]
    return lambda xy: (
        paths[0].contains_points(xy)
        & ~np.any([p.contains_points(xy) for p in paths[1:]] or [np.zeros(len(xy), bool)], axis=0)
    )


def _areas(points: np.ndarray, triangles: np.ndarray, signed: bool = False) -> np.ndarray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])) / 2
    return area if signed else np.abs(area)


def _polygon_area(p: np.ndarray) -> float:
    x, y = p.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)
