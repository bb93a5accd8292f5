"""State of a nest in the making and how deep things overlap: the separating-axis measure of convex pieces.

Two convex pieces A (moving, at t) and B (fixed, at u) overlap by at most min over k of c_k - m_k·(t - u), where m_k runs
over B's outward normals and A's inward ones: the least shift that parts them. Shapes of several pieces take the
greatest of their pairs. Exact as a yes or no; as a depth an upper bound. Numbers are combined by plain sums and
products only, so a run does not depend on the machine's matrix library.
"""
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from assemblies.nesting.container import Container
from assemblies.nesting.polygons import Piece, convex_pieces, grown, turned


@dataclass(eq=False)
class Shape:
    """One kind of blank: its true cover, the allowed angles, pieces with half the spacing round them, pieces without."""

    cover: object
    angles: tuple[float, ...]
    half_spacing_mm: float
    fill_mm: float = 0.8
    _hull: list = field(default_factory=list)
    _near: list = field(default_factory=list)
    _bare: list = field(default_factory=list)
    _cache: dict = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._near = convex_pieces(grown(self.cover, self.half_spacing_mm), self.fill_mm)
        from shapely import Polygon
        self._bare = convex_pieces(Polygon(self.cover.exterior), self.fill_mm)
        self.area_mm2 = float(Polygon(self.cover.exterior).area)
        hull = np.array(self.cover.convex_hull.exterior.coords)
        self._hull = self._near if len(self._near) == 1 else [_hull(self._near)]
        self.reach_mm = float(np.hypot(hull[:, 0], hull[:, 1]).max())

    def near(self, r: int) -> list[Piece]:
        return self._turned(r, "near", self._near)

    def bare(self, r: int) -> list[Piece]:
        return self._turned(r, "bare", self._bare)

    def box(self, r: int) -> tuple[float, float, float, float]:
        key = (r, "box")
        if key not in self._cache:
            p = np.concatenate([b.points for b in self.bare(r)])
            self._cache[key] = (*map(float, p.min(axis=0)), *map(float, p.max(axis=0)))
        return self._cache[key]

    def _turned(self, r: int, what: str, pieces: list) -> list[Piece]:
        key = (r, what)
        if key not in self._cache:
            self._cache[key] = [Piece(turned(p, self.angles[r])) for p in pieces]
        return self._cache[key]


Rows = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]  # mx, my, c, starts of each piece pair


def pair_rows(moving: list[Piece], fixed: list[Piece]) -> Rows:
    mx, my, c, starts, at = [], [], [], [], 0
    for a in moving:
        for b in fixed:
            nb, na = b.normals, -a.normals
            n = np.concatenate([nb, na])
            mx.append(n[:, 0])
            my.append(n[:, 1])
            c.append(b.support(n) + a.support(-n))
            starts.append(at)
            at += len(n)
    return np.concatenate(mx), np.concatenate(my), np.concatenate(c), np.array(starts)


def container_rows(pieces: list[Piece], container: Container) -> list[Rows]:
    """One group for the hull (a row is a pair of its own), then one a group of obstacles; the far end comes last."""
    n, h = container.hull_rows
    reach = np.max([p.support(n) for p in pieces], axis=0)
    groups: list[Rows] = [(-n[:, 0], -n[:, 1], reach - h, np.arange(len(n)))]
    for obstacle in container.obstacles:
        mx, my, c, starts, at = [], [], [], [], 0
        for a in pieces:
            for b in obstacle:
                m = np.concatenate([b.normals, -a.normals])
                # b's support along the moving piece's normals is endless where b is open that way: such an axis never parts
                s = b.support(m)
                if b.open_edges is not None and b.open_edges.any():
                    s[len(b.normals):][_endless(b, -a.normals)] = np.inf
                keep = np.isfinite(s)
                mx.append(m[keep, 0])
                my.append(m[keep, 1])
                c.append((s + a.support(-m))[keep])
                starts.append(at)
                at += int(keep.sum())
        groups.append((np.concatenate(mx), np.concatenate(my), np.concatenate(c), np.array(starts)))
    return groups


def _endless(piece: Piece, directions: np.ndarray) -> np.ndarray:
    """Whether the furthest corner of the piece in a direction lies on an open edge."""
    on_open = piece.open_edges | np.roll(piece.open_edges, 1)
    best = (directions[:, :1] * piece.points[:, 0] + directions[:, 1:] * piece.points[:, 1]).argmax(axis=1)
    return on_open[best]


@dataclass(eq=False)
class Layout:
    """Copies of shapes in a container. Arrays over the copies: kind, r (index into the angles), x, y."""

    shapes: list[Shape]
    container: Container
    kind: np.ndarray
    r: np.ndarray
    x: np.ndarray
    y: np.ndarray
    _pairs: dict = field(default_factory=dict)
    _walls: dict = field(default_factory=dict)

    @staticmethod
    def empty(shapes: list[Shape], container: Container) -> Layout:
        i, f = np.zeros(0, int), np.zeros(0)
        return Layout(shapes, container, i, i.copy(), f, f.copy())

    def __len__(self) -> int:
        return len(self.kind)

    def copy(self) -> Layout:
        return Layout(self.shapes, self.container, self.kind.copy(), self.r.copy(), self.x.copy(), self.y.copy(),
                      self._pairs, self._walls)

    def with_(self, kind: int, r: int, x: float, y: float) -> Layout:
        return Layout(self.shapes, self.container, np.append(self.kind, kind), np.append(self.r, r),
                      np.append(self.x, x), np.append(self.y, y), self._pairs, self._walls)

    def without(self, i: int) -> Layout:
        return Layout(self.shapes, self.container, *(np.delete(a, i) for a in (self.kind, self.r, self.x, self.y)),
                      self._pairs, self._walls)

    def rows(self, i: int, r: int, j: int, hull: bool = False) -> Rows:
        """Of copy i turned to r against copy j as it lies; `hull` takes both without their hollows."""
        key = (self.kind[i], r, self.kind[j], self.r[j], hull)
        found = self._pairs.get(key)
        if found is None:
            a, b = self.shapes[key[0]], self.shapes[key[2]]
            angle = b.angles[key[3]]
            relative = (key[0], key[2], round((a.angles[r] - angle) % 360, 9), hull)
            if relative not in self._pairs:
                pa, pb = (a._hull, b._hull) if hull else (a._near, b._near)
                self._pairs[relative] = pair_rows([Piece(turned(p, relative[2])) for p in pa], [Piece(p) for p in pb])
            mx, my, c, starts = self._pairs[relative]
            m = turned(np.stack([mx, my], axis=1), angle)
            found = self._pairs[key] = m[:, 0].copy(), m[:, 1].copy(), c, starts
        return found

    def wall_rows(self, kind: int, r: int) -> list[Rows]:
        key = (kind, r)
        if key not in self._walls:
            self._walls[key] = container_rows(self.shapes[kind].bare(r), self.container)
        return self._walls[key]

    def limits(self, kind: int, r: int) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y of a copy's origin inside the container's box."""
        x0, y0, x1, y1 = self.container.bounds
        a, b, c, d = self.shapes[kind].box(r)
        return x0 - a, y0 - b, x1 - c, y1 - d

    def field(self, i: int, r: int, weights: np.ndarray, wall_weight: float, only=None) -> Field:
        """What copy i, turned to r, can run into: hulls of all other copies, or the true pieces of those in `only`."""
        parts, weight, shift = [], [], []
        for j in range(len(self)) if only is None else only:
            if j != i:
                parts.append(self.rows(i, r, j, hull=only is None))
                weight.append(weights[i, j])
                shift.append((self.x[j], self.y[j]))
        for rows in self.wall_rows(int(self.kind[i]), r):
            parts.append(rows)
            weight.append(wall_weight)
            shift.append((0.0, 0.0))
        sizes = np.array([len(p[2]) for p in parts])
        pairs = np.array([len(p[3]) for p in parts])
        at = np.concatenate([[0], np.cumsum(sizes)[:-1]])
        mx, my, c, starts = (np.concatenate([p[k] for p in parts]) for k in range(4))
        offset = np.repeat(np.array(shift), sizes, axis=0)
        return Field(mx, my, c + mx * offset[:, 0] + my * offset[:, 1], starts + np.repeat(at, pairs),
                     np.concatenate([[0], np.cumsum(pairs)[:-1]]), np.array(weight),
                     self.limits(int(self.kind[i]), r)[2], wall_weight)


def _hull(pieces: list[np.ndarray]) -> np.ndarray:
    from shapely import MultiPoint
    from shapely.geometry.polygon import orient

    return np.array(orient(MultiPoint(np.concatenate(pieces)).convex_hull).exterior.coords)[:-1]


@dataclass(eq=False)
class Field:
    mx: np.ndarray
    my: np.ndarray
    c: np.ndarray
    starts: np.ndarray
    items: np.ndarray
    weights: np.ndarray
    far_x: float
    wall_weight: float

    def depths(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(things, points): how deep the copy's origin at each point runs into each thing, 0 where clear."""
        v = self.c[:, None] - self.mx[:, None] * x - self.my[:, None] * y
        d = np.minimum.reduceat(v, self.starts, axis=0)
        d = np.maximum.reduceat(d, self.items, axis=0)
        return np.maximum(d, 0.0)

    def gaps(self, x: float, y: float) -> np.ndarray:
        """Signed depth against each thing at one point: negative where clear (a lower bound of minus the gap)."""
        v = self.c - self.mx * x - self.my * y
        return np.maximum.reduceat(np.minimum.reduceat(v, self.starts), self.items)

    def around(self, x: float, y: float, radius_mm: float) -> Field:
        """The same field for points within `radius_mm` of one point: what is further than that cannot be reached."""
        v = self.c - self.mx * x - self.my * y
        low = np.minimum.reduceat(v, self.starts)
        pairs = low > -radius_mm
        if not pairs.any():
            pairs[0] = True
        sizes = np.diff(np.append(self.starts, len(v)))
        rows = np.repeat(pairs, sizes)
        group = np.repeat(np.arange(len(self.items)), np.diff(np.append(self.items, len(self.starts))))[pairs]
        starts = np.concatenate([[0], np.cumsum(sizes[pairs])[:-1]])
        items = np.flatnonzero(np.diff(group, prepend=-1))
        return Field(self.mx[rows], self.my[rows], self.c[rows], starts, items, self.weights[group[items]], self.far_x,
                     self.wall_weight)

    def cost(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        d = self.depths(x, y)
        return (d * self.weights[:, None]).sum(axis=0) + self.wall_weight * np.maximum(x - self.far_x, 0.0)
