"""Bodies at rest to each other: their gaps at ride, once and exactly.

What stands still and what rides together on one carrier never changes its gaps, so one look is enough: the
distances of the convex pieces that stand for the bodies, which reach at most the tolerance's share past the
metal and nowhere fall short of it. Pieces that overlap are measured along every direction that can part two
polytopes least: the distance library's own depth ends the process where faces just touch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import fcl
import numpy as np

from assemblies.clearance.cells import box_gap
from assemblies.clearance.library import convex
from assemblies.clearance.memory import recalled
from assemblies.clearance.nearest import nearest
from assemblies.clearance.pieces import Piece, boxes, corners
from assemblies.clearance.plan import Body
from assemblies.clearance.search import ARITHMETIC_MM
from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.shape.form import vector

TOUCH_MM = 0.01  # pieces of one part nearer than this are one metal
FCL_MM = 3e-4  # what is told may be off by so much
LOOSE_MM = 0.1  # the corners of a lowest point may reach so far past the metal
AT_ONCE = 1_000_000  # pairs of boxes in one go


@dataclass(frozen=True)
class AtRest:
    """Bodies number `i` and `j`: the true gap lies between `gap_mm` and `found_gap_mm`; negative is depth."""

    i: int
    j: int
    gap_mm: float
    found_gap_mm: float
    point_a: tuple[float, float, float]
    point_b: tuple[float, float, float]


def near_pairs(boxes, within_mm: float) -> list[tuple[int, int]]:
    """Every two boxes (n, 2, 3: low and high corners) that come nearer than `within_mm`, each once, the lower
    number first."""
    boxes = np.asarray(boxes, float).reshape(-1, 2, 3)
    all_ = np.arange(len(boxes))
    _, i, j = _sweep(boxes[:, 0], boxes[:, 1], all_, all_, within_mm)
    return sorted(zip(i[i < j].tolist(), j[i < j].tolist(), strict=True))


def _sweep(low, high, one, two, within_mm: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(gap of their boxes, i of one, j of two) of all that come nearer than `within_mm`: along x, vectorised
    over what each of one can still meet. `low`, `high` (n, 3): corners of the boxes that one and two
    number."""
    found = [(np.zeros(0), np.zeros(0, int), np.zeros(0, int))]
    two = two[np.argsort(low[two, 0], kind="stable")]
    widest = (high[two, 0] - low[two, 0]).max(initial=0.0)
    first = np.searchsorted(low[two, 0], low[one, 0] - within_mm - widest, side="left")
    count = np.searchsorted(low[two, 0], high[one, 0] + within_mm, side="right") - first
    for some in np.split(np.arange(len(one)), np.flatnonzero(np.diff(np.cumsum(count) // AT_ONCE)) + 1):
        i = np.repeat(some, count[some])
        j = np.arange(len(i)) + np.repeat(first[some] - np.cumsum(count[some]) + count[some], count[some])
        i, j = one[i], two[j]
        gap = box_gap(low[i], high[i], low[j], high[j])
        near = gap < within_mm
        found.append((gap[near], i[near], j[near]))
    gap, i, j = (np.concatenate(v) for v in zip(*found, strict=True))
    return gap, i, j


def lowest_mm(bodies: Sequence[Body]) -> list[float]:
    """The height of each one's lowest point at ride, kept between runs; infinite where it has no shape."""
    forms = [(b, k) for b in bodies for k in range(len(b.forms))]
    kept = recalled(
        "lowest of a form",
        [f"{b.key_of(k)} {b.hollow}" for b, k in forms],
        lambda fresh: [
            float(corners(b.forms[k], LOOSE_MM, b.hollow)[:, 2].min()) for b, k in (forms[n] for n in fresh)
        ],
    )
    found = iter(kept)
    return [
        min([*(next(found) for _ in b.forms), *(float(s.box[0, 2]) for s in b.shells)], default=math.inf)
        for b in bodies
    ]


class RestBodies:
    """Bodies at ride as convex pieces."""

    def __init__(self, bodies: Sequence[Body], tolerance_mm: float = 0.1):
        self.bodies, self.tolerance_mm = list(bodies), tolerance_mm
        self.pieces: list[Piece] = []  # the real ones of the bodies that were asked for
        self._own: dict[int, np.ndarray] = {}
        self._boxes = np.zeros((0, 2, 3))
        self._objects: dict[int, fcl.CollisionObject] = {}
        self._request = fcl.DistanceRequest(enable_nearest_points=True)

    @cached_property
    def boxes(self) -> np.ndarray:
        """(bodies, 2, 3) low and high at ride."""
        return np.array([b.box for b in self.bodies]).reshape(-1, 2, 3)

    def _pieces(self, k: int) -> np.ndarray:
        """The numbers of a body's real pieces."""
        if k not in self._own:
            body = self.bodies[k]
            own = [p for n in range(len(body.boxes)) for p in body.real_of(n, self.tolerance_mm)]
            self._own[k] = np.arange(len(self.pieces), len(self.pieces) + len(own))
            self.pieces += own
            self._boxes = np.concatenate([self._boxes, boxes(own)])
        return self._own[k]

    def _near(self, one: np.ndarray, two: np.ndarray, within_mm: float) -> list[tuple[float, int, int]]:
        """(distance of their boxes, piece, piece) of what may be nearer than that, nearest boxes first."""
        low, high = self._boxes[:, 0], self._boxes[:, 1]

        def beside(n: np.ndarray, m: np.ndarray) -> np.ndarray:
            """Those of n that come near the box round all of m."""
            return n[box_gap(low[n], high[n], low[m].min(0), high[m].max(0)) < within_mm] if len(m) else m

        one = beside(one, two)
        two = beside(two, one)
        gap, i, j = _sweep(low, high, one, two, within_mm)
        order = np.lexsort((j, i, gap))
        return list(zip(gap[order].tolist(), i[order].tolist(), j[order].tolist(), strict=True))

    def _object(self, i: int) -> fcl.CollisionObject:
        if i not in self._objects:
            self._objects[i] = fcl.CollisionObject(convex(self.pieces[i].points))
        return self._objects[i]

    def _apart(self, i: int, j: int) -> tuple[float, np.ndarray, np.ndarray]:
        """Distance and nearest points of two pieces; not over 0 where they touch or overlap.

        Where edges or faces are parallel the library may stop early, at corners that are not the nearest: the
        room along its line tells, and its answer is put right. No distance is more than `FCL_MM` over the
        room that is there."""
        result = fcl.DistanceResult()
        gap = float(fcl.distance(self._object(i), self._object(j), self._request, result))
        a, b = (np.asarray(p, float) for p in result.nearest_points)
        one, two = self.pieces[i].points, self.pieces[j].points
        if gap > FCL_MM and gap - _room(one, two, b - a) > FCL_MM:
            a, b = nearest(one, two, b - a)
            gap = min(math.dist(a, b), _room(one, two, b - a) + FCL_MM)
        return (0.0, a, b) if gap <= FCL_MM or math.dist(a, b) < 1e-7 else (gap, a, b)

    def gaps(
        self, pairs: Sequence[tuple[int, int]], within_mm: Sequence[float], deep: Sequence[bool]
    ) -> list[AtRest]:
        """The gap of each pair of bodies that come nearer than its `within_mm`; how deep they overlap where
        that is asked for, else 0."""
        low, high = self.boxes[:, 0], self.boxes[:, 1]
        i, j = np.array(pairs, int).reshape(-1, 2).T
        rough = box_gap(low[i], high[i], low[j], high[j])
        near = [
            (int(i[k]), int(j[k]), float(rough[k]), float(within_mm[k]), bool(deep[k]))
            for k in np.flatnonzero(rough < np.asarray(within_mm)).tolist()
        ]
        key = {k: self._key(k) for k in {k for n in near for k in n[:2]}}
        keys = [f"{key[a]}|{key[b]}|{within!r}|{d}" for a, b, _, within, d in near]
        found = recalled("at rest", keys, lambda fresh: [self._gap(*near[k]) for k in fresh])
        return [AtRest(n[0], n[1], *gap) for n, gap in zip(near, found, strict=True) if gap is not None]

    def _key(self, k: int) -> str:
        return f"{self.bodies[k].key}, {self.tolerance_mm!r}"

    def _gap(self, first: int, second: int, rough: float, within: float, deep: bool) -> tuple | None:
        """(gap, found gap, both points) of two bodies, `rough` the gap of their boxes; None where it is not
        under `within`."""
        low, high, least = np.inf, np.inf, None
        for box, p, q in self._near(self._pieces(first), self._pieces(second), within):
            one, two = self.pieces[p], self.pieces[q]
            short, beyond = one.short_mm + two.short_mm, one.beyond_mm + two.beyond_mm
            if box - short > low or (low <= 0 and not deep):
                break
            gap, a, b = self._apart(p, q)
            if gap <= 0 and deep:
                gap, a, b = _depth(one, two)
            high = min(high, gap + beyond + FCL_MM)
            if gap - short - FCL_MM < low:
                low, least = gap - short - FCL_MM, (a, b)
        if least is None:
            return None
        if high > 0 and self._holds(first, second):  # a body wholly inside a mesh
            low, high = min(low, rough), min(-ARITHMETIC_MM, rough)
        return (low, high, vector(least[0]), vector(least[1])) if low < within else None

    def _holds(self, i: int, j: int) -> bool:
        """Whether one of two bodies is wholly inside a closed mesh of the other."""
        return any(
            shell.holds(np.asarray(self.bodies[inner].a_point, float))
            for outer, inner in ((i, j), (j, i))
            for shell in self.bodies[outer].shells
        )

    def parts(self, which: Sequence[int]) -> list[int]:
        """Of how many separate metals each of some bodies' forms are, holes and cuts filled."""
        keys = [self._key(i) for i in which]
        return recalled("metals", keys, lambda fresh: [self._metals(which[k]) for k in fresh])

    def _metals(self, i: int) -> int:
        own = self._pieces(i)
        head = {int(n): int(n) for n in own}

        def of(n: int) -> int:
            while head[n] != n:
                n = head[n]
            return n

        for _, n, m in self._near(own, own, TOUCH_MM):
            one, two = of(n), of(m)
            if one != two and self._apart(n, m)[0] <= TOUCH_MM:
                head[one] = two
        return len({of(int(n)) for n in own})


def _room(one: np.ndarray, two: np.ndarray, way: np.ndarray) -> float:
    """How far two hulls are kept apart along a way from one to two: no more than their distance."""
    size = math.hypot(*way)
    return float((two @ way).min() - (one @ way).max()) / size if size > 1e-7 else 0.0


def _depth(one: Piece, two: Piece) -> tuple[float, np.ndarray, np.ndarray]:
    """Minus the depth of two pieces that overlap, or the room found between them, and points of the two.

    The least shift that parts two polytopes is square to a face of one or to an edge of each, so the most
    room along those directions is exact (separating axes)."""
    edges = _edges(one, two)
    i, j = np.triu_indices(len(edges), 1)
    n = np.cross(edges[i], edges[j])
    size = np.sqrt((n * n).sum(1))
    n = n[size > 1e-6] / size[size > 1e-6, None]
    n = np.concatenate([n, -n])
    room = (two.points @ n.T).min(0) - (one.points @ n.T).max(0)
    k = int(room.argmax())
    a, b = one.points[(one.points @ n[k]).argmax()], two.points[(two.points @ n[k]).argmin()]
    return float(room[k]), a, b


def _edges(*pieces: Piece) -> np.ndarray:
    """Directions of all edges, each once."""
    out = []
    for p in pieces:
        d = p.points[p.edges[:, 1]] - p.points[p.edges[:, 0]]
        size = np.sqrt((d * d).sum(1))
        d = d[size > 1e-9] / size[size > 1e-9, None]
        first = np.take_along_axis(d, (np.abs(d) > 1e-6).argmax(1)[:, None], 1)
        out.append(d * np.sign(first))
    return distinct(np.round(np.concatenate(out), 9), rows=True)
