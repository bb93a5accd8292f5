"""Exact distances of convex pieces at given poses, from a general collision library, checked and put
right."""

from __future__ import annotations

from functools import lru_cache

import fcl
import numpy as np

from assemblies.clearance.nearest import nearest
from assemblies.clearance.pieces import Piece
from assemblies.clearance.scene import Framed, Scene, placed

EXACT_MM = 1e-5  # a direction whose room is this near the gap needs no sharpening


class Library:
    """Distances between pieces of a scene at poses of a grid."""

    def __init__(self, scene: Scene, grid: Framed):
        self.scene, self.grid = scene, grid
        self.objects: list = [None] * len(scene.pieces)
        self._carrier = scene.carrier.tolist()
        self.placed = [-1] * len(scene.pieces)
        self._turns: dict[tuple[int, int], fcl.Transform] = {}
        self.queries = 0
        self._request = fcl.DistanceRequest(enable_nearest_points=True, enable_signed_distance=True)

    def ask(self, i, j, pose) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Gap (minus depth), direction from i to j, and nearest points of pairs of pieces at poses (places in
        the grid)."""
        gap, n, a, b = self._asked(i, j, pose)
        gap, n = self._sharpened(i, j, pose, gap, n, a, b)
        return gap, n, a, b

    def _asked(self, i, j, pose):
        count = len(i)
        gap, a, b = np.empty(count), np.empty((count, 3)), np.empty((count, 3))
        request, order = self._request, np.lexsort((i, pose))
        ones, twos, poses = i[order], j[order], pose[order]
        middles = self.middles(ones, poses), self.middles(twos, poses)
        for k, one, two, at, here, there in zip(
            *(x.tolist() for x in (order, ones, twos, poses)), *middles, strict=True
        ):
            result = fcl.DistanceResult()
            gap[k] = fcl.distance(self._at(one, at, here), self._at(two, at, there), request, result)
            a[k], b[k] = result.nearest_points
        n = b - a
        size = np.sqrt((n**2).sum(1))
        bad = np.flatnonzero(size < 1e-7)
        n[gap < 0] *= -1
        gap = np.where(gap > 0, np.maximum(gap, size), gap)
        n /= np.where(size > 0, size, 1)[:, None]
        for k in bad:  # touching: the library has no direction; ask again a hair apart
            n[k] = self._apart(int(i[k]), int(j[k]), int(pose[k]))
        self.queries += count
        return gap, n, a, b

    def _now(self, i, frames) -> np.ndarray:
        f = frames[self.scene.carrier[i]]
        return self.scene.pieces[i].points @ f[:, :3].T + f[:, 3]

    def middles(self, which, pose) -> np.ndarray:
        """(n, 3) middles of pieces' boxes, where their objects have their origins, moved with them."""
        f = placed(self.grid.frames, pose, self.scene.carrier[which])
        return np.einsum("nij,nj->ni", f[:, :, :3], self.scene.middle[which]) + f[:, :, 3]

    def _object(self, i):
        self.objects[i] = fcl.CollisionObject(_convex(self.scene.pieces[i]))
        return self.objects[i]

    def _at(self, i, pose, middle):
        """A piece's object as it stands at a pose, its middle where that says."""
        thing = self.objects[i] or self._object(i)
        c = self._carrier[i]
        key = pose if c else 0
        if self.placed[i] != key:
            turn = self._turns.get((c, key))
            if turn is None:  # a carrier's turn at a pose is the same for all its pieces
                turn = self._turns[c, key] = fcl.Transform(self.grid.frames[pose, c][:, :3], middle)
            turn.setTranslation(middle)
            thing.setTransform(turn)
            self.placed[i] = key
        return thing

    def _apart(self, i, j, pose):
        here, there = self.middles(np.array([i, j]), np.array([pose, pose]))
        away = there - here
        away = away / max(np.sqrt(away @ away), 1e-12)
        for step in (1e-3, 3e-3):
            result = fcl.DistanceResult()
            self.placed[j] = -1
            aside = self._at(j, pose, there + step * away)
            self.placed[j] = -1  # it stands where it does not belong
            fcl.distance(self._at(i, pose, here), aside, self._request, result)
            n = np.subtract(*result.nearest_points[::-1])
            size = np.sqrt(n @ n)
            if size > 1e-7:
                return n / size * (1 if n @ away > 0 else -1)
        return away

    def reach(self, i, pose, n) -> np.ndarray:
        """How far pieces reach along n at poses."""
        return self.scene.reach(i, placed(self.grid.frames, pose, self.scene.carrier[i]), n)

    def reaches(self, i, j, pose, n) -> tuple[np.ndarray, np.ndarray]:
        """How far pieces i reach along n and pieces j along -n: what is left between them is their room along
        n."""
        both = self.reach(np.concatenate([i, j]), np.concatenate([pose, pose]), np.concatenate([n, -n]))
        return both[: len(i)], both[len(i) :]

    def room(self, i, j, pose, n) -> np.ndarray:
        """Room along n between pieces at poses."""
        one, two = self.reaches(i, j, pose, n)
        return -one - two

    def _sharpened(self, i, j, pose, gap, n, a, b):
        """The library's gaps and directions, checked by the room along them and put right where they fall
        short.

        Where many pairs of points are nearest (parallel edges, faces) its direction is a little off, and over
        a long piece that costs room: try it square to the pieces' own axes, and along them. Of overlapping
        pieces, no room along any direction is more than minus the depth: the most room found corrects a depth
        given too large."""
        room = self.room(i, j, pose, n)
        off = np.flatnonzero(gap - room > EXACT_MM)
        if len(off):
            p = pose[off]
            frames = self.grid.frames
            axes = [
                np.einsum("nij,nj->ni", frames[p, self.scene.carrier[w]][:, :, :3], self.scene.along[w])
                for w in (i[off], j[off])
            ]
            base, best, way = n[off], room[off].copy(), n[off].copy()
            square = [_unit(base - (base * u).sum(1)[:, None] * u) for u in axes]
            tries = [
                *square,
                _unit(square[0] - (square[0] * axes[1]).sum(1)[:, None] * axes[1]),
                _along(np.cross(*axes), base),
                *(_along(u, base) for u in axes),
            ]
            deep = (gap[off] < 0)[:, None]
            tries += [np.where(deep, -t, base) for t in tries] + [
                np.where(deep, s * np.eye(3)[a], base) for a in range(3) for s in (1, -1)
            ]
            for k, t in enumerate(tries):
                if k == 6 and not deep.any():
                    break
                t = np.where(np.isfinite(t).all(1)[:, None], t, base)
                r = self.room(i[off], j[off], p, t)
                more = r > best
                best, way = np.where(more, r, best), np.where(more[:, None], t, way)
            n, room = n.copy(), room.copy()
            n[off], room[off] = way, best
            gap = np.where(gap < 0, np.maximum(gap, room), gap)
            for k in off[(gap - room)[off] > EXACT_MM]:
                if gap[k] > 0:
                    f = frames[pose[k]]
                    a[k], b[k] = nearest(self._now(i[k], f), self._now(j[k], f), n[k])
                    gap[k] = np.sqrt((b[k] - a[k]) @ (b[k] - a[k]))
                    n[k] = (b[k] - a[k]) / max(gap[k], 1e-300)
        return gap, n


@lru_cache(maxsize=8192)
def _convex(piece: Piece) -> fcl.Convex:
    """A piece about the middle of its box."""
    return convex(piece.points - (piece.box[0] + piece.box[1]) / 2)


def convex(points: np.ndarray) -> fcl.Convex:
    """The hull of points (n, 3).

    One face only: the library then looks at every corner, which is exact; walking along faces is not
    always."""
    if len(points) < 4:
        points = np.concatenate([points, points[:1].repeat(4 - len(points), 0)])
    numbers = np.array(points, float, order="C").ravel().data  # its own: the binding takes none read-only
    return fcl.Convex([_HullPoint(numbers[k : k + 3]) for k in range(0, len(numbers), 3)], 1, [3, 0, 1, 2])


class _HullPoint:
    """Three numbers as the library's binding asks for them: numpy's own rows take it twice as long."""

    __slots__ = ("_numbers",)

    def __init__(self, numbers: memoryview):
        self._numbers = numbers

    def astype(self, _: type) -> memoryview:
        return self._numbers


def _unit(v: np.ndarray) -> np.ndarray:
    with np.errstate(all="ignore"):
        return v / np.sqrt((v * v).sum(1))[:, None]


def _along(v: np.ndarray, to: np.ndarray) -> np.ndarray:
    """Unit vectors along ±v, in the sense of `to`."""
    return _unit(v) * np.where((v * to).sum(1) < 0, -1.0, 1.0)[:, None]
