"""All convex pieces as arrays: who carries them, where they are at any pose, how far they reach in any direction."""
from __future__ import annotations

import numpy as np

from assemblies.clearance.bounds import CARRIERS
from assemblies.clearance.pieces import Piece

_CLASSES = (4, 8, 16, 32, 64, 128, 256, 512, 1 << 20)  # pieces are worked on with others of like corner count


class Scene:
    """Convex pieces in trees. Positions are car coordinates at ride; `carrier` is an index into CARRIERS.

    A node is a piece (`real`) or a box round two nodes. `kids` (n, 2) are the two nodes it splits into, -1 where none:
    a box's contents, or the two halves of a long piece."""

    def __init__(self, pieces: list[Piece], carriers: list[int], kids: list[tuple[int, int]], real: list[bool]):
        self.pieces, self.kids, self.real = pieces, np.array(kids), np.array(real)
        self.carrier = np.asarray(carriers, int)
        self.beyond = np.array([p.beyond_mm for p in pieces])
        self.low = np.array([p.points.min(0) for p in pieces])
        self.high = np.array([p.points.max(0) for p in pieces])
        self.middle = (self.low + self.high) / 2
        self.size = np.sqrt(((self.high - self.low) ** 2).sum(1))
        self.starts = np.cumsum([0] + [len(p.points) for p in pieces])
        self.points = np.concatenate([p.points for p in pieces])
        self.group = np.searchsorted(_CLASSES, np.diff(self.starts))
        self.slot = np.zeros(len(pieces), int)
        self.stacks: dict[int, np.ndarray] = {}
        for g in np.unique(self.group):
            which = np.flatnonzero(self.group == g)
            widest = max(len(pieces[i].points) for i in which)
            self.slot[which] = np.arange(len(which))
            self.stacks[int(g)] = np.stack([  # a piece repeats its first corner up to the stack's width
                np.concatenate([pieces[i].points, np.repeat(pieces[i].points[:1], widest - len(pieces[i].points), 0)]) for i in which])

    def corners(self) -> np.ndarray:
        """(pieces, 8, 3) corners of each piece's box at ride."""
        return np.where(_CORNERS[None], self.high[:, None], self.low[:, None])

    def reach(self, which: np.ndarray, frames: np.ndarray, direction: np.ndarray) -> np.ndarray:
        """Greatest value of direction · p over each piece in its frame: which (n,), frames (n, 3, 4), direction (n, 3)."""
        own = np.einsum("nij,ni->nj", frames[:, :, :3], direction)
        far = np.einsum("ni,ni->n", frames[:, :, 3], direction)
        group = self.group[which]
        for g, stack in self.stacks.items():
            pick = np.flatnonzero(group == g)
            for part in np.array_split(pick, 1 + len(pick) * stack.shape[1] // 400_000):
                if len(part):
                    points = stack[self.slot[which[part]]]
                    far[part] += np.matmul(points, own[part][:, :, None])[:, :, 0].max(1)
        return far

    def boxes(self, frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Boxes (poses, pieces, 3) low and high of every piece at frames (poses, carriers, 3, 4)."""
        low = np.empty((len(frames), len(self.pieces), 3))
        high = np.empty_like(low)
        order = np.argsort(self.carrier, kind="stable")
        for c in np.unique(self.carrier):
            which = order[self.carrier[order] == c]
            if c == 0:
                low[:, which], high[:, which] = self.low[which], self.high[which]
                continue
            spans = [np.arange(self.starts[i], self.starts[i + 1]) for i in which]
            at = np.cumsum([0] + [len(s) for s in spans[:-1]])
            points = self.points[np.concatenate(spans)]
            for k, frame in enumerate(frames[:, c]):
                now = points @ frame[:, :3].T + frame[:, 3]
                low[k, which] = np.minimum.reduceat(now, at)
                high[k, which] = np.maximum.reduceat(now, at)
        return low, high


class Forest:
    """Builds the trees of a scene: pieces are added once, trees over any groups of them."""

    LONG = 3.0  # a prism longer than this times its girth is halved further
    HALVINGS = 2

    def __init__(self):
        self.pieces: list[Piece] = []
        self.carriers: list[int] = []
        self.kids: list[tuple[int, int]] = []
        self.real: list[bool] = []
        self._trees: dict[tuple[int, ...], int] = {}

    def add(self, piece: Piece, carrier: int) -> int:
        return self._node(piece, carrier, (-1, -1), True)

    def _node(self, piece, carrier, kids, real) -> int:
        self.pieces.append(piece)
        self.carriers.append(carrier)
        self.kids.append(kids)
        self.real.append(real)
        return len(self.pieces) - 1

    def tree(self, group) -> int:
        """Root of a tree over pieces that one carrier moves, or several: boxes split by carrier first."""
        key = tuple(sorted(group))
        if key not in self._trees:
            self._trees[key] = self._grow(np.array(key))
        return self._trees[key]

    def trees(self, group) -> list[int]:
        """One root for each carrier among the pieces."""
        carriers = {self.carriers[i] for i in group}
        return [self.tree([i for i in group if self.carriers[i] == c]) for c in sorted(carriers)]

    def _grow(self, group: np.ndarray) -> int:
        middles = np.array([(self.pieces[i].points.min(0) + self.pieces[i].points.max(0)) / 2 for i in group])
        return self._split(group, middles)

    def _split(self, group: np.ndarray, middles: np.ndarray) -> int:
        if len(group) == 1:
            self._halve(int(group[0]), self.HALVINGS)
            return int(group[0])
        axis = int(np.ptp(middles, axis=0).argmax())
        order = np.argsort(middles[:, axis], kind="stable")
        half = len(group) // 2
        kids = self._split(group[order[:half]], middles[order[:half]]), self._split(group[order[half:]], middles[order[half:]])
        a, b = (self.pieces[k] for k in kids)
        low = np.minimum(a.points.min(0), b.points.min(0))
        high = np.maximum(a.points.max(0), b.points.max(0))
        box = Piece(np.where(_CORNERS, high, low), _NO_EDGES, max(a.beyond_mm, b.beyond_mm))
        return self._node(box, self.carriers[kids[0]], kids, False)

    def _halve(self, i: int, times: int) -> None:
        """Halves of a long prism as its kids."""
        piece = self.pieces[i]
        n = piece.prism
        if not n or not times or self.kids[i] != (-1, -1):
            return
        one, two = piece.points[:n], piece.points[n:]
        along = two[0] - one[0]
        if along @ along < self.LONG**2 * ((one - one[0]) ** 2).sum(1).max():
            return
        middle = (one + two) / 2
        kids = tuple(self.add(Piece(np.concatenate(ends), piece.edges, piece.beyond_mm, n), self.carriers[i])
                     for ends in ((one, middle), (middle, two)))
        self.kids[i] = kids
        for k in kids:
            self._halve(k, times - 1)


_CORNERS = np.array([[(k >> a) & 1 for a in range(3)] for k in range(8)], bool)
_NO_EDGES = np.zeros((0, 2), int)


class Grid:
    """Poses on a dyadic grid of travel and rack, each worked out once. Positions are whole numbers 0 ... FINE."""

    FINE = 1 << 24

    def __init__(self, mechanism, travel_mm: tuple[float, float], rack_mm: float):
        self.mechanism, self.travel, self.rack = mechanism, travel_mm, rack_mm
        self.keys = np.zeros(0, np.int64)
        self.frames = np.zeros((0, len(CARRIERS), 3, 4))

    def wheel_mm(self, at):
        low, high = self.travel
        return low + (high - low) * (np.asarray(at) / self.FINE)

    def rack_mm(self, at):
        return self.rack * (2 * (np.asarray(at) / self.FINE) - 1)

    def index(self, z: np.ndarray, s: np.ndarray) -> np.ndarray:
        """Places in `frames` of the poses at grid positions z, s. Raises ValueError where the corner cannot reach one."""
        key = z.astype(np.int64) * (2 * self.FINE) + s
        fresh = np.setdiff1d(key, self.keys)
        if len(fresh):
            zn, sn = fresh // (2 * self.FINE), fresh % (2 * self.FINE)
            wheel, rack = self.wheel_mm(zn), (self.rack_mm(sn) if self.rack else np.zeros(len(sn)))
            frames = frames_at(self.mechanism, wheel, rack)
            dead = ~np.isfinite(frames).all((1, 2, 3))
            if dead.any():
                k = int(dead.argmax())
                raise ValueError(f"clearance: the corner cannot reach wheel travel {wheel[k]:.3f} mm at rack {rack[k]:.3f} mm; "
                                 "check over the travel in which it closes")
            order = np.argsort(np.concatenate([self.keys, fresh]), kind="stable")
            self.keys = np.concatenate([self.keys, fresh])[order]
            self.frames = np.concatenate([self.frames, frames])[order]
        return np.searchsorted(self.keys, key)


def frames_at(mechanism, wheel_mm: np.ndarray, rack_mm: np.ndarray) -> np.ndarray:
    """(poses, carriers, 3, 4) rigid motions from ride."""
    poses = mechanism.at(wheel_mm, rack_mm)
    out = np.zeros((len(wheel_mm), len(CARRIERS), 3, 4))
    out[:, 0, :, :3] = np.eye(3)
    for k, name in enumerate(CARRIERS[1:], 1):
        out[:, k] = poses.frame(name)[:, :3]
    return out
