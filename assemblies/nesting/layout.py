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
from assemblies.nesting.polygons import Piece, convex_pieces, cos_sin, grown, turned


@dataclass(eq=False)
class Shape:
    """One kind of blank: its true cover, the allowed angles, pieces with half the spacing round them, pieces without."""

    cover: object
    angles: tuple[float, ...]
    half_spacing_mm: float
    fill_mm: float = 0.8
    _bare: list = field(default_factory=list)
    _cache: dict = field(default_factory=dict)

    def __post_init__(self) -> None:
        from shapely import Polygon

        pieces = convex_pieces(grown(self.cover, self.half_spacing_mm), self.fill_mm)
        self.near = Packed.of(pieces)
        self._bare = convex_pieces(Polygon(self.cover.exterior), self.fill_mm)
        self.area_mm2 = float(self.cover.area)
        outer = np.array(self.cover.convex_hull.exterior.coords)
        self.reach_mm = float(np.hypot(outer[:, 0], outer[:, 1]).max())

    def bare(self, r: int) -> list[Piece]:
        key = (r, "bare")
        if key not in self._cache:
            self._cache[key] = [Piece(turned(p, self.angles[r])) for p in self._bare]
        return self._cache[key]

    def box(self, r: int) -> tuple[float, float, float, float]:
        key = (r, "box")
        if key not in self._cache:
            p = np.concatenate([b.points for b in self.bare(r)])
            self._cache[key] = (*map(float, p.min(axis=0)), *map(float, p.max(axis=0)))
        return self._cache[key]


Rows = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]  # mx, my, c, starts of each piece pair


@dataclass(eq=False)
class Packed:
    """Convex pieces as flat arrays: corners and outward normals, where each piece's begin, support along own normals."""

    points: np.ndarray
    normals: np.ndarray
    starts: np.ndarray
    reach: np.ndarray

    @staticmethod
    def of(pieces: list[np.ndarray]) -> Packed:
        made = [Piece(p) for p in pieces]
        sizes = np.array([len(p) for p in pieces])
        return Packed(
            np.concatenate(pieces),
            np.concatenate([p.normals for p in made]),
            np.concatenate([[0], np.cumsum(sizes)[:-1]]),
            np.concatenate([p.support(p.normals) for p in made]),
        )

    def turned(self, angle_deg: float) -> Packed:
        return Packed(turned(self.points, angle_deg), turned(self.normals, angle_deg), self.starts, self.reach)

    def supports(self, directions: np.ndarray) -> np.ndarray:
        """(pieces, directions)"""
        d = self.points[:, :1] * directions[:, 0] + self.points[:, 1:] * directions[:, 1]
        return np.maximum.reduceat(d, self.starts, axis=0)


def pair_rows(moving: Packed, fixed: Packed) -> Rows:
    """Every axis of every pair of pieces: the fixed one's normals, then the moving one's turned inward."""
    a, b = len(moving.starts), len(fixed.starts)
    na, nb = np.append(moving.starts, len(moving.normals)), np.append(fixed.starts, len(fixed.normals))
    on_b = moving.supports(-fixed.normals) + fixed.reach  # (a, normals of b)
    on_a = fixed.supports(-moving.normals) + moving.reach  # (b, normals of a)
    mx, my, c, sizes = [], [], [], []
    for i in range(a):
        inward, ia = -moving.normals[na[i] : na[i + 1]], on_a[:, na[i] : na[i + 1]]
        for j in range(b):
            s = slice(nb[j], nb[j + 1])
            mx += [fixed.normals[s, 0], inward[:, 0]]
            my += [fixed.normals[s, 1], inward[:, 1]]
            c += [on_b[i, s], ia[j]]
            sizes.append(nb[j + 1] - nb[j] + len(inward))
    return np.concatenate(mx), np.concatenate(my), np.concatenate(c), np.concatenate([[0], np.cumsum(sizes)[:-1]])


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
                    s[len(b.normals) :][_endless(b, -a.normals)] = np.inf
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
        return Layout(
            self.shapes, self.container, self.kind.copy(), self.r.copy(), self.x.copy(), self.y.copy(), self._pairs, self._walls
        )

    def with_(self, kind: int, r: int, x: float, y: float) -> Layout:
        return Layout(
            self.shapes,
            self.container,
            np.append(self.kind, kind),
            np.append(self.r, r),
            np.append(self.x, x),
            np.append(self.y, y),
            self._pairs,
            self._walls,
        )

    def without(self, i: int) -> Layout:
        return Layout(
            self.shapes, self.container, *(np.delete(a, i) for a in (self.kind, self.r, self.x, self.y)), self._pairs, self._walls
        )

    def rows(self, i: int, r: int, j: int) -> Rows:
        """Of copy i turned to r against copy j as it lies."""
        key = (self.kind[i], r, self.kind[j], self.r[j])
        found = self._pairs.get(key)
        if found is None:
            a, b = self.shapes[key[0]], self.shapes[key[2]]
            angle = b.angles[key[3]]
            relative = (key[0], key[2], round((a.angles[r] - angle) % 360, 9))
            if relative not in self._pairs:
                self._pairs[relative] = pair_rows(a.near.turned(relative[2]), b.near)
            mx, my, c, starts = self._pairs[relative]
            k, s = cos_sin(angle)
            found = self._pairs[key] = k * mx - s * my, s * mx + k * my, c, starts
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

    def field(self, i: int, r: int, weights: np.ndarray, wall_weight: float) -> Field:
        """All that copy i, turned to r, can run into."""
        others = [j for j in range(len(self)) if j != i]
        walls = self.wall_rows(int(self.kind[i]), r)
        parts = [self.rows(i, r, j) for j in others] + walls
        weight = np.concatenate([weights[i, others], np.full(len(walls), wall_weight)])
        shift = np.zeros((len(parts), 2))
        shift[: len(others), 0], shift[: len(others), 1] = self.x[others], self.y[others]
        sizes = np.array([len(p[2]) for p in parts])
        pairs = np.array([len(p[3]) for p in parts])
        at = np.concatenate([[0], np.cumsum(sizes)[:-1]])
        mx, my, c, starts = (np.concatenate([p[k] for p in parts]) for k in range(4))
        offset = np.repeat(shift, sizes, axis=0)
        return Field(
            mx,
            my,
            c + mx * offset[:, 0] + my * offset[:, 1],
            starts + np.repeat(at, pairs),
            np.concatenate([[0], np.cumsum(pairs)[:-1]]),
            weight,
            self.limits(int(self.kind[i]), r)[2],
            wall_weight,
        )


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

    def __post_init__(self) -> None:
        self.mx32, self.my32, self.c32 = (a.astype(np.float32)[:, None] for a in (self.mx, self.my, self.c))

    def depths(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(things, points): how deep the copy's origin at each point runs into each thing, 0 where clear
        (single precision: good enough to choose a place; what counts as clear is decided in double)."""
        x, y = x.astype(np.float32), y.astype(np.float32)
        v = self.mx32 * x
        v += self.my32 * y
        np.subtract(self.c32, v, out=v)
        d = np.minimum.reduceat(v, self.starts, axis=0)
        d = np.maximum.reduceat(d, self.items, axis=0)
        return np.maximum(d, 0.0, out=d)

    def downhill(self, x: float, y: float) -> tuple[float, float]:
        """Unit direction along which the cost falls fastest at a point (0, 0 where it is flat)."""
        v = self.c - self.mx * x - self.my * y
        low = np.minimum.reduceat(v, self.starts)
        gx = gy = 0.0
        for g, first in enumerate(self.items):
            last = self.items[g + 1] if g + 1 < len(self.items) else len(low)
            p = first + int(np.argmax(low[first:last]))
            if low[p] > 0:
                end = self.starts[p + 1] if p + 1 < len(self.starts) else len(v)
                k = self.starts[p] + int(np.argmin(v[self.starts[p] : end]))
                gx, gy = gx + self.weights[g] * self.mx[k], gy + self.weights[g] * self.my[k]
        gx -= self.wall_weight if x > self.far_x else 0.0
        size = float(np.hypot(gx, gy))
        return (gx / size, gy / size) if size > 0 else (0.0, 0.0)

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
        return Field(
            self.mx[rows], self.my[rows], self.c[rows], starts, items, self.weights[group[items]], self.far_x, self.wall_weight
        )

    def cost(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        d = self.depths(x, y)
        return (d * self.weights[:, None]).sum(axis=0) + self.wall_weight * np.maximum(x - self.far_x, 0.0)
