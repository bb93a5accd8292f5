"""Forms into convex pieces that contain them, with a proven limit on how far they reach beyond the real
surface.

Outlines are made into polygons that lie outside the metal (arcs circumscribed, hollow arcs chorded), cut into
convex parts (ear clipping, then parts joined while they stay convex: Hertel and Mehlhorn) and extruded; round
bars become prisms round their circle. Holes, windows and bores count as filled, so a bolt inside a tube is a
clash, not clear; a body named `hollow` (a wheel, a spring's housing) keeps the bores of its round pieces as a
ring of wedges.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache, cached_property, lru_cache
from itertools import pairwise

import numpy as np

from parts.base.frozen import dataclass
from parts.shape.form import Form, Prism, Round

COVER_SIDES = 16
_COVER_TURNS = 2 * math.pi / COVER_SIDES * np.arange(COVER_SIDES)
_NEXT = np.arange(1, COVER_SIDES + 1) % COVER_SIDES


@dataclass(frozen=True, eq=False)
class Piece:
    """The convex hull of `points` (n, 3) mm, car coordinates at ride, joined by `edges` (m, 2).

    Where the shape is rounder than its corners say, `discs` (k, 4), centres and radii, are the hull of discs
    square to `axis` that lies between the metal and the points (for a cover: that holds what it covers).
    `real`: it reaches at most `beyond_mm` past the metal; otherwise it is only a cover of its `kids` (two
    pieces, or none). The metal may reach `short_mm` past it (0 but for imported shapes, whose triangles are
    only near the surface). A prism has `prism` corners at one end, then as many at the other (0: not a
    prism). `bore_mm`: of the cover over a whole ring, 0 for all else."""

    points: np.ndarray
    edges: np.ndarray
    beyond_mm: float
    prism: int = 0
    real: bool = True
    kids: tuple[Piece, ...] = ()
    discs: np.ndarray | None = None
    axis: np.ndarray | None = None
    short_mm: float = 0.0
    bore_mm: float = 0.0

    @cached_property
    def box(self) -> np.ndarray:
        """Low and high corner (2, 3)."""
        return np.array([self.points.min(0), self.points.max(0)])

    @cached_property
    def shape(self) -> np.ndarray:
        """The discs, or the points as discs of no radius: (n, 4)."""
        return (
            self.discs
            if self.discs is not None
            else np.concatenate([self.points, np.zeros((len(self.points), 1))], 1)
        )


def pieces(form: Form, error_mm: float, hollow: bool = False) -> tuple[Piece, ...]:
    """Convex pieces (or covers of them) that together contain the form, none reaching more than `error_mm`
    past its filled surface: one for each of the form's own pieces, those stacked as one."""
    return tuple(_made(piece, error_mm, hollow) for piece in stacked(form.pieces))


def real_pieces(form: Form, error_mm: float, hollow: bool = False) -> list[Piece]:
    """The real pieces of `pieces`, without the covers over them."""
    return [p for piece in stacked(form.pieces) for p in _real(piece, error_mm, hollow)]


def stacked(some: Sequence[Prism | Round]) -> list[Prism | Round]:
    """Prisms of one outside that stand one on the other made one: their holes count as filled."""
    out: list[Prism | Round] = []
    for piece in some:
        below = out[-1] if out else None
        if isinstance(below, Prism) and isinstance(piece, Prism) and _on(below, piece):
            out[-1] = replace(below, thickness_mm=below.thickness_mm + piece.thickness_mm)
        else:
            out.append(piece)
    return out


def _on(below: Prism, piece: Prism) -> bool:
    one, two = below.frame, piece.frame
    top = [o + below.thickness_mm * z for o, z in zip(one.origin, one.z, strict=True)]
    alike = (one.x, one.z) == (two.x, two.z) and below.outline.outer == piece.outline.outer
    return alike and not any((*below.lean_mm, *piece.lean_mm)) and math.dist(top, two.origin) < 1e-9


def corners(form: Form, error_mm: float, hollow: bool = False) -> np.ndarray:
    """Corners (n, 3) whose hull holds the form's: of its pieces as prisms, not cut into convex ones."""
    return np.concatenate([_whole(p, error_mm, hollow).points for p in form.pieces])


def _whole(piece: Prism | Round, error_mm: float, hollow: bool) -> Piece:
    if isinstance(piece, Prism):
        polygon = piece.outline.outer.points(error_mm, outside=True)
        return _extruded([polygon], piece.thickness_mm, piece.frame, error_mm)[0]
    count = _wedges(piece, error_mm) if hollow and piece.bore_mm > 0 else 1
    return _extruded(_wedge(piece, error_mm, count, count), piece.length_mm, piece.frame, error_mm)[0]


@lru_cache(maxsize=16384)
def _made(piece: Prism | Round, error_mm: float, hollow: bool) -> Piece:
    real = _real(piece, error_mm, hollow)
    if len(real) == 1:
        return real[0]
    return _ring(piece, error_mm, real) if isinstance(piece, Round) else _covers(piece, error_mm, real)


@lru_cache(maxsize=16384)
def _real(piece: Prism | Round, error_mm: float, hollow: bool) -> tuple[Piece, ...]:
    return _round(piece, error_mm, hollow) if isinstance(piece, Round) else _prism(piece, error_mm)


def leaves(piece: Piece) -> list[Piece]:
    """The real pieces that a cover holds; a real piece itself."""
    return [piece] if piece.real else [leaf for kid in piece.kids for leaf in leaves(kid)]


def boxes(some: Sequence[Piece]) -> np.ndarray:
    """(pieces, 2, 3) low and high corner of each."""
    if not some:
        return np.zeros((0, 2, 3))
    points = np.concatenate([p.points for p in some])
    first = np.cumsum([0, *(len(p.points) for p in some[:-1])])
    return np.stack([np.minimum.reduceat(points, first), np.maximum.reduceat(points, first)], 1)


def _extruded(
    polygons, height_mm: float, frame, beyond_mm: float, discs=None, parts=(), kids=()
) -> list[Piece]:
    """Prisms of polygons (corners, 2), all at once; `discs` are the last one's. Covers over `parts` and each
    other: by `kids` the numbers of the two that each is over, the parts counted first."""
    m, count = frame.matrix(), [len(p) for p in polygons]
    flat = np.concatenate([p for polygon in polygons for p in (polygon, polygon)])
    points = np.zeros((len(flat), 3))
    points[:, :2], points[:, 2] = flat, np.repeat([0.0, height_mm] * len(count), np.repeat(count, 2))
    points = points @ m[:3, :3].T + m[:3, 3]
    if discs is not None:
        flat, k = np.asarray(discs, float), len(discs)
        discs = np.zeros((2 * k, 4))
        for at, z in ((discs[:k], 0.0), (discs[k:], height_mm)):
            at[:, :2], at[:, 2] = flat[:, :2], z
            at[:, :3] = at[:, :3] @ m[:3, :3].T + m[:3, 3]
            at[:, 3] = flat[:, 2]
    out, axis, end = list(parts), m[:3, 2], 0
    for k, n in enumerate(count):
        start, end = end, end + 2 * n
        own = tuple(out[i] for i in kids[k]) if kids else ()
        shape = discs if end == len(points) else None
        out.append(Piece(points[start:end], _prism_edges(n), beyond_mm, n, not own, own, shape, axis))
    return out[len(parts) :]


@cache
def _prism_edges(n: int) -> np.ndarray:
    """Edges (3 n, 2) of a prism of n sides: its corners at one end, then at the other."""
    low = np.arange(n)
    nxt = (low + 1) % n
    edges = np.concatenate([low, low + n, low, nxt, nxt + n, low + n]).reshape(2, -1).T
    edges.flags.writeable = False
    return edges


def _prism(prism: Prism, error_mm: float) -> tuple[Piece, ...]:
    if any(prism.lean_mm):
        raise ValueError("an oblique prism is taken out of a form; it is no piece of one")
    polygons, tree, discs = _parts(prism.outline.outer, error_mm)
    beyond, discs = _beyond_mm(prism, error_mm), None if tree else discs
    return tuple(_extruded(polygons, prism.thickness_mm, prism.frame, beyond, discs))


def _beyond_mm(prism: Prism, error_mm: float) -> float:
    return error_mm if any(v.bulge for v in prism.outline.outer.vertices) else 0.0


def _covers(prism: Prism, error_mm: float, real: tuple[Piece, ...]) -> Piece:
    """The covers over a prism's real pieces: hulls of neighbouring ones."""
    loop, beyond = prism.outline.outer, _beyond_mm(prism, error_mm)
    polygons, kids = _over(loop, error_mm)
    discs = _parts(loop, error_mm)[2]
    return _extruded(polygons, prism.thickness_mm, prism.frame, beyond, discs, real, kids)[-1]


def _round(bar: Round, error_mm: float, hollow: bool) -> tuple[Piece, ...]:
    ring = hollow and bar.bore_mm > 0
    polygons = _wedge(bar, error_mm, _wedges(bar, error_mm) if ring else 1, 1)
    discs = None if ring else [(0.0, 0.0, bar.diameter_mm / 2)]
    return tuple(_extruded(polygons, bar.length_mm, bar.frame, error_mm, discs=discs))


def _wedges(bar: Round, error_mm: float) -> int:
    """Of a ring whose bore is kept."""
    wedges = 8
    while bar.bore_mm / 2 * (1 - math.cos(math.pi / wedges)) > error_mm:
        wedges *= 2
    return wedges


def _wedge(bar: Round, error_mm: float, wedges: int, count: int) -> np.ndarray:
    """Every so many neighbouring wedges of a ring as one polygon (polygons, corners, 2); of all of them the
    bore is filled."""
    r, bore = bar.diameter_mm / 2, bar.bore_mm / 2
    sides = max(1, math.ceil(_sides(r, error_mm) / wedges)) * count
    start = np.arange(0, wedges, count)[:, None]
    ends = 2 * math.pi * np.concatenate([start, start + count], 1) / wedges
    step = (ends[:, 1:] - ends[:, :1]) / sides
    turns = ends[:, :1] + (np.arange(sides) + 0.5) * step
    tangents = (r / np.cos(step / 2))[..., None] * _around(turns)  # corners of the path of tangents
    if count == wedges:
        return tangents
    ends = _around(ends)
    return np.concatenate([r * ends[:, :1], tangents, r * ends[:, 1:], bore * ends[:, ::-1]], 1)


def _around(turns: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(turns), np.sin(turns)], -1)


def _ring(bar: Round, error_mm: float, real: tuple[Piece, ...]) -> Piece:
    """The covers over a ring's wedges: of two neighbours, of four, and of all."""
    wedges, count, polygons = len(real), 2, []
    while count < wedges:
        some, count = _wedge(bar, error_mm, wedges, count), 2 * count
        polygons += list(_loose(some) if some.shape[1] > COVER_SIDES else some)
    polygons += list(_wedge(bar, error_mm, wedges, wedges))
    kids = [(2 * k, 2 * k + 1) for k in range(wedges - 1)]
    discs = [(0.0, 0.0, bar.diameter_mm / 2)]
    made = _extruded(polygons, bar.length_mm, bar.frame, error_mm, discs, real, kids)
    return replace(made[-1], bore_mm=bar.bore_mm)


def _loose(polygons: np.ndarray) -> np.ndarray:
    """Convex polygons (polygons, corners, 2) of few sides that hold those of many: what a cover needs, at
    less work."""
    edge = np.concatenate([polygons[:, 1:], polygons[:, :1]], 1) - polygons
    longest = edge[np.arange(len(edge)), (edge**2).sum(2).argmax(1)]
    n = _around(np.arctan2(longest[:, 1], longest[:, 0])[:, None] + _COVER_TURNS)
    h = (n @ polygons.swapaxes(1, 2)).max(2)
    after, h_after = n[:, _NEXT], h[:, _NEXT]  # where the support lines of neighbouring directions meet
    corner = np.stack(
        [h * after[..., 1] - h_after * n[..., 1], h_after * n[..., 0] - h * after[..., 0]], 2
    ) / math.sin(2 * math.pi / COVER_SIDES)
    middle = polygons.mean(1, keepdims=True)
    return middle + (corner - middle) * (1 + 1e-9)


def _sides(radius_mm: float, error_mm: float) -> int:
    """Sides of the polygon round a circle that reaches at most `error_mm` past it: r/cos(pi/n) - r."""
    return max(8, math.ceil(math.pi / math.acos(radius_mm / (radius_mm + error_mm))))


# ---------------------------------------------------------------------------------------------- polygons


@lru_cache(maxsize=512)
def _parts(loop, error_mm: float):
    """A loop's convex parts, the tree of halves over them (None: a part, in their order), and the discs of
    the whole loop.

    The whole loop lies in the hull of its outward arcs' discs and its corners (lines join corners, hollow
    arcs lie within their chords' hull); a convex loop that is no larger than that hull is the hull."""
    parts = convex_parts(loop.points(error_mm, outside=True))
    order, tree = _halved([part.mean(0).tolist() for part in parts], list(range(len(parts))))
    parts = [parts[k] for k in order]
    arcs = [(*s.centre, s.radius) for s in loop.segments if s.bulge > 0]
    ends = [
        (*s.start, 0.0)
        for s in loop.segments
        if not any(math.dist(s.start, d[:2]) <= d[2] * (1 + 1e-9) + 1e-9 for d in arcs)
    ]
    discs = np.array(arcs + ends)
    if not tree:  # as the shape of a real piece it must not reach past the polygon
        (polygon,) = parts
        edge = np.concatenate([polygon[1:], polygon[:1]]) - polygon
        out = np.stack([edge[:, 1], -edge[:, 0]], 1) / np.sqrt((edge**2).sum(1))[:, None]
        if ((out @ discs[:, :2].T + discs[:, 2]).max(1) > (out * polygon).sum(1) + 1e-6).any():
            return parts, tree, None
    return parts, tree, discs


@lru_cache(maxsize=512)
def _over(loop, error_mm: float) -> tuple[list[np.ndarray], list[tuple[int, int]]]:
    """Polygons of the covers over a loop's parts, the whole loop's last, and the numbers of the two that each
    is over: of a part, or after the parts of a cover."""
    parts, whole, _ = _parts(loop, error_mm)
    hulls = [list(map(tuple, p.tolist())) for p in parts]
    kids, left = [], iter(range(len(parts)))

    def over(tree) -> int:
        if tree is None:
            return next(left)
        one, two = (over(k) for k in tree)
        hulls.append(_hull(hulls[one] + hulls[two]))
        kids.append((one, two))
        return len(hulls) - 1

    over(whole)
    *some, last = (np.array(p) for p in hulls[len(parts) :])
    return [*(_loose(p[None])[0] if len(p) > COVER_SIDES else p for p in some), last], kids


def _halved(middles: list[list[float]], which: list[int]) -> tuple[list[int], tuple | None]:
    """Places in the order of a tree of halves, each cut across where its middles lie farthest apart; and the
    tree."""
    if len(which) == 1:
        return which, None
    apart = [max(along) - min(along) for along in zip(*(middles[k] for k in which), strict=True)]
    longest = apart.index(max(apart))
    which = sorted(which, key=lambda k: middles[k][longest])
    half = len(which) // 2
    (first, one), (second, two) = _halved(middles, which[:half]), _halved(middles, which[half:])
    return first + second, (one, two)


def _hull(points: list[tuple]) -> list[tuple]:
    """Corners of the convex hull, counter-clockwise (monotone chain), of points some of which are given
    twice."""
    points.sort()

    def half(path):
        chain: list = []
        for point in path:
            x, y = point
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-2], chain[-1]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                chain.pop()
            chain.append(point)
        return chain[:-1]

    return half(points) + half(points[::-1])


def convex_parts(polygon) -> list[np.ndarray]:
    """A simple polygon, counter-clockwise, cut into convex polygons."""
    p = [(float(x), float(y)) for x, y in polygon]
    n = len(p)
    if all(_turn(p[i - 1], p[i], p[(i + 1) % n]) >= -1e-12 for i in range(n)):
        return [np.array(p)]
    parts = _merged(p, _ears(p))
    return [np.array([p[i] for i in part]) for part in parts]


def _turn(a, b, c) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _holds(a, b, c, points) -> bool:
    """Whether some point but its own corners lies in a triangle or on its edge."""
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    ux, uy, vx, vy, wx, wy = bx - ax, by - ay, cx - bx, cy - by, ax - cx, ay - cy
    for q in points:
        x, y = q
        if (
            ux * (y - by) - uy * (x - bx) >= 0
            and vx * (y - cy) - vy * (x - cx) >= 0
            and wx * (y - ay) - wy * (x - ax) >= 0
            and q not in (a, b, c)
        ):
            return True
    return False


def _ears(p) -> list[tuple[int, int, int]]:
    """Triangles of a simple counter-clockwise polygon by clipping ears. Raises ValueError where it crosses
    itself."""
    left = list(range(len(p)))
    hollow = {i: p[i] for i in left if _turn(p[i - 1], p[i], p[(i + 1) % len(p)]) <= 0}
    out, k, tried = [], 0, 0
    while len(left) > 3:
        n = len(left)
        k %= n
        i, j, m = left[k - 1], left[k], left[(k + 1) % n]
        a, b, c = p[i], p[j], p[m]
        flat = tried > n  # only slivers of no area are left
        if (j not in hollow or (flat and abs(_turn(a, b, c)) < 1e-9)) and not _holds(
            a, b, c, hollow.values()
        ):
            out.append((i, j, m))
            del left[k]
            hollow.pop(j, None)
            n -= 1
            for at in (k - 1, k):
                here = left[at % n]
                if here in hollow and _turn(p[left[at % n - 1]], p[here], p[left[(at + 1) % n]]) > 0:
                    del hollow[here]
            tried = 0
            k += 1  # every other corner in turn keeps the triangles from fanning into slivers
        else:
            k, tried = k + 1, tried + 1
            if tried > 2 * n + 2:
                raise ValueError("an outline crosses itself: it cannot be cut into convex parts")
    i, j, m = left
    out.append((i, j, m))
    return out


def _merged(p, triangles) -> list[list[int]]:
    """Neighbouring parts joined across a shared edge while the outcome stays convex."""
    parts = [list(t) for t in triangles]
    edge = {}
    for k, part in enumerate(parts):
        for i, j in zip(part, part[1:] + part[:1], strict=True):
            edge[i, j] = k
    shared = [e for e in edge if e[0] < e[1] and (e[1], e[0]) in edge]
    shared.sort(key=lambda e: -math.dist(p[e[0]], p[e[1]]))
    for i, j in shared:
        a, b = edge[i, j], edge[j, i]
        if a == b:
            continue
        first, second = parts[a], parts[b]
        x, y = first.index(j), second.index(i)
        first, second = first[x:] + first[:x], second[y:] + second[:y]  # j ... i and i ... j
        if (
            _turn(p[second[-2]], p[j], p[first[1]]) >= -1e-12
            and _turn(p[first[-2]], p[i], p[second[1]]) >= -1e-12
        ):
            parts[a], parts[b] = first + second[1:-1], []
            for s, t in pairwise(second):
                edge[s, t] = a
    return [part for part in parts if part]
