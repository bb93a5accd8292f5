"""Convex pieces: what the placer sees of an outline. Every piece set covers the true shape (never less than
it)."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from parts.base.frozen import dataclass
from parts.shape.outline import Outline


@dataclass(frozen=True, eq=False)
class ConvexPiece:
    """A convex polygon, counter-clockwise, (n, 2). `open_edges` marks edges that bound nothing (treated as
    endless)."""

    points: np.ndarray
    open_edges: np.ndarray | None = None

    @cached_property
    def all_normals(self) -> np.ndarray:
        """Outward unit normals of the edges, the open ones too."""
        d = np.roll(self.points, -1, axis=0) - self.points
        return np.stack([d[:, 1], -d[:, 0]], axis=1) / np.hypot(d[:, 0], d[:, 1])[:, None]

    @property
    def normals(self) -> np.ndarray:
        """Outward unit normals of the edges that bound."""
        return self.all_normals if self.open_edges is None else self.all_normals[~self.open_edges]

    @property
    def reaches(self) -> np.ndarray:
        """Support along each normal, endless on an open edge."""
        reach = self.support(self.all_normals)
        return reach if self.open_edges is None else np.where(self.open_edges, np.inf, reach)

    @property
    def loose(self) -> np.ndarray:
        """Infinite at a corner that ends an open edge, else 0."""
        if self.open_edges is None:
            return np.zeros(len(self.points))
        return np.where(self.open_edges | np.roll(self.open_edges, 1), np.inf, 0.0)

    def support(self, directions: np.ndarray) -> np.ndarray:
        """max over the piece of direction · point, for each row of `directions`."""
        return (directions[:, :1] * self.points[:, 0] + directions[:, 1:] * self.points[:, 1]).max(axis=1)


def cover(outline: Outline, chord_error_mm: float, keep_windows_over_mm2: float = math.inf):
    """shapely polygon that covers the outline's metal; windows and holes below the limit are filled."""
    from shapely import Point, Polygon

    windows = []
    for loop in outline.inner:
        cw = loop if loop.area_mm2 < 0 else loop.reversed()
        if abs(loop.area_mm2) >= keep_windows_over_mm2:
            windows.append(cw.points(chord_error_mm, outside=True))
    for h in outline.holes:
        if math.pi * h.diameter_mm**2 / 4 >= keep_windows_over_mm2:
            windows.append(Point(h.x, h.y).buffer(h.diameter_mm / 2, quad_segs=16).exterior.coords)
    return Polygon(outline.outer.points(chord_error_mm, outside=True), windows)


def grown(shape, distance_mm: float, quad_segs: int = 4):
    """`shape` and everything within the distance of it: a polygon that covers the true offset. Straight sides
    are exact; round corners are circumscribed and reach at most 5 % further."""
    if distance_mm <= 0:
        return shape
    # exact along the sides (mitred offset), cut back at sharp corners by a round one of larger radius: the
    # library rounds
    # the number of chords of a corner, so a chord may span up to 1.5 of the nominal angle
    mitred = shape.buffer(distance_mm, join_style="mitre", mitre_limit=20)
    rounded = shape.buffer(distance_mm / math.cos(1.5 * math.pi / (4 * quad_segs)), quad_segs=quad_segs)
    both = mitred.intersection(rounded)
    return both if both.geom_type == "Polygon" else max(both.geoms, key=lambda g: g.area)


def eased(shape, fill_mm: float):
    """`shape` with hollows no deeper than `fill_mm` filled by straight chords: fewer corners, still a
    cover."""
    from shapely import Polygon
    from shapely.geometry.polygon import orient

    shape = orient(shape, 1.0)
    out = Polygon(
        _chorded(list(shape.exterior.coords)[:-1], fill_mm),
        [_chorded(list(r.coords)[:-1], fill_mm) for r in shape.interiors],
    )
    return out if out.is_valid and _within(shape, out.buffer(1e-9)) else shape


def _chorded(points: list, fill_mm: float) -> list:
    """Material on the left: drop a hollow corner while everything dropped lies within `fill_mm` of the
    chord."""
    ring: list[tuple] = [(p, []) for p in points]  # a corner and what was dropped between it and the next
    k, idle = 0, 0
    while idle < len(ring) > 3:
        k %= len(ring)
        (a, da), (v, dv), (b, _) = ring[k - 1], ring[k], ring[(k + 1) % len(ring)]
        length = math.dist(a, b)
        dropped = [*da, v, *dv]
        off = [
            ((b[0] - a[0]) * (q[1] - a[1]) - (b[1] - a[1]) * (q[0] - a[0])) / max(length, 1e-12)
            for q in dropped
        ]
        if min(off) >= -1e-12 and max(off) <= fill_mm and off[len(da)] > 0:
            ring[k - 1] = (a, dropped)
            del ring[k]
            idle = 0
        else:
            k, idle = k + 1, idle + 1
    return [p for p, _ in ring]


def convex_pieces(shape, fill_mm: float = 0.0) -> list[np.ndarray]:
    """Cover a polygon (holes allowed) by few convex polygons, counter-clockwise. Hollows no deeper than
    `fill_mm` are filled over; with 0 the pieces are exact. Each hollow corner is cut along one of its own
    sides or to another hollow corner, whichever leaves fewest hollow corners (after Chazelle & Dobkin 1985,
    greedy); windows go by triangles."""
    import shapely
    from shapely.geometry.polygon import orient

    shape = orient(shapely.remove_repeated_points(shape, 1e-7), 1.0)
    shape = eased(shape, fill_mm) if fill_mm else shape
    out, todo = [], [shape]
    while todo:
        p = todo.pop()
        if p.interiors:
            todo += _through_window(p)
            continue
        rings = [_ring(p)]
        while rings:
            ring = rings.pop()
            hollow = _hollows(ring)
            if hollow:
                rings += _best_cut(ring, hollow)
            elif len(ring) > 2:
                out.append(ring)
    return out


def _ring(polygon) -> np.ndarray:
    from shapely.geometry.polygon import orient

    return np.array(orient(polygon).exterior.coords)[:-1]


def _turns(p: np.ndarray) -> np.ndarray:
    """Sine of the turn at each corner; negative in a hollow."""
    d, e = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
    return (d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]) / (np.hypot(d[:, 0], d[:, 1]) * np.hypot(e[:, 0], e[:, 1]))


def _hollows(p: np.ndarray) -> list[int]:
    return [int(k) for k in np.flatnonzero(_turns(p) < -1e-9)]


def _through_window(polygon) -> list:
    """Both sides of a line through the middle of the first window."""
    from shapely import Polygon, box

    middle = Polygon(polygon.interiors[0]).centroid.x
    x0, y0, x1, y1 = polygon.bounds
    halves = [
        polygon.intersection(box(x0 - 1, y0 - 1, middle, y1 + 1)),
        polygon.intersection(box(middle, y0 - 1, x1 + 1, y1 + 1)),
    ]
    return [g for h in halves for g in getattr(h, "geoms", [h]) if g.geom_type == "Polygon" and g.area > 1e-9]


def _best_cut(p: np.ndarray, hollow: list[int]) -> list[np.ndarray]:
    n = len(p)
    v = hollow[int(np.argmin(_turns(p)[hollow]))]
    after, before = np.roll(p, -v - 1, axis=0)[0] - p[v], p[v - 1] - p[v]
    tries = [-before, -after] + [p[w] - p[v] for w in hollow if w not in (v, (v + 1) % n, (v - 1) % n)]
    best = None
    for k, u in enumerate(tries):
        inside = after[0] * u[1] - after[1] * u[0] > 1e-12 or u[0] * before[1] - u[1] * before[0] > 1e-12
        hit = _ray(p, v, u)
        if hit is None or (k > 1 and not inside):
            continue
        t, edge = hit
        q = p[v] + min(t, 1.0 if k > 1 else t) * u
        if k > 1 and t < 1 - 1e-9:
            continue  # not in sight
        if k > 1:
            edge = int(np.flatnonzero((p == p[v] + u).all(axis=1) | (np.hypot(*(p - q).T) < 1e-9))[0])
        parts = _parted(p, v, q, edge)
        if min(len(part) for part in parts) < 3:
            continue
        key = (sum(len(_hollows(part)) for part in parts), math.hypot(*(q - p[v])))
        if best is None or key < best[0]:
            best = (key, parts)
    if best is None:
        return _triangles(p)
    return best[1]


def _ray(p: np.ndarray, v: int, u: np.ndarray) -> tuple[float, int] | None:
    """Where a ray from corner v first meets a side that does not touch v: share of u, and the side's
    number."""
    a, b = p, np.roll(p, -1, axis=0)
    e, w = b - a, a - p[v]
    cross = u[0] * e[:, 1] - u[1] * e[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (w[:, 0] * e[:, 1] - w[:, 1] * e[:, 0]) / cross
        s = (w[:, 0] * u[1] - w[:, 1] * u[0]) / cross
    good = (np.abs(cross) > 1e-12) & (t > 1e-9) & (s >= -1e-9) & (s <= 1 + 1e-9)
    good[[v, v - 1]] = False
    if not good.any():
        return None
    k = int(np.argmin(np.where(good, t, np.inf)))
    return float(t[k]), k


def _parted(p: np.ndarray, v: int, q: np.ndarray, edge: int) -> list[np.ndarray]:
    """The two loops either side of the cut from corner v to the point q on side `edge`."""

    def walk(i: int, j: int) -> np.ndarray:
        return p[np.arange(i, j + 1 + (len(p) if j < i else 0)) % len(p)]

    loops = [
        np.concatenate([walk(v, edge), q[None]]),
        np.concatenate([q[None], walk((edge + 1) % len(p), v)]),
    ]
    return [_tidy(loop) for loop in loops]


def _tidy(p: np.ndarray) -> np.ndarray:
    """Without corners that coincide or lie on a straight side."""
    p = p[np.hypot(*(p - np.roll(p, 1, axis=0)).T) > 1e-9]
    return p[np.abs(_turns(p)) > 1e-12] if len(p) > 2 else p


def _triangles(p: np.ndarray) -> list[np.ndarray]:
    """The last resort for a ring too slender to cut by rays: a plain triangulation."""
    import shapely
    from shapely import Polygon, make_valid

    faces = shapely.constrained_delaunay_triangles(make_valid(Polygon(p))).geoms
    return [_ring(t) for t in faces if t.area > 1e-9]


def _within(hull, roof) -> bool:
    return hull.difference(roof).area <= 1e-9 * hull.area
