"""All convex pieces as arrays: who carries them, where they are at any pose, how far they reach in any
direction."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Protocol

import numpy as np

from assemblies.clearance.pieces import Piece, boxes
from parts.base.distinct import distinct
from parts.shape.form import cross

LONG_MM, LONG = 80.0, 3.0  # a prism longer than both this and its girth times that is halved
_CLASSES = (8, 16, 64, 1 << 20)  # pieces are worked on with others of like corner count


def both_ways(rack_mm: float) -> tuple[float, float] | None:
    """The range of a rack that goes so far either way; None where there is none."""
    return (-abs(float(rack_mm)), abs(float(rack_mm))) if rack_mm else None


class Scene:
    """Convex pieces in trees. Positions are car coordinates at ride; `carrier` is a number of the motion's.

    A node is a real piece or a cover of two nodes. `kids` (n, 2) are the two nodes it splits into, -1 where
    none: what a cover holds, or the two halves of a long piece."""

    def __init__(
        self,
        pieces: list[Piece],
        carriers: Sequence[int] | np.ndarray,
        kids: list[tuple[int, int]],
        family: list[int],
    ):
        self.pieces, self.kids, self.real = pieces, np.array(kids), np.array([p.real for p in pieces])
        self.family = np.array(family)  # the whole piece that each is part of
        self.carrier = np.asarray(carriers, int)
        self.beyond = np.array([p.beyond_mm for p in pieces])
        self.low, self.high = np.moveaxis(boxes(pieces), 1, 0)
        self.middle = (self.low + self.high) / 2
        self.size = np.sqrt(((self.high - self.low) ** 2).sum(1))
        one, two = self.middle[self.kids].swapaxes(0, 1)
        self.parting = np.sqrt(((one - two) ** 2).sum(1))  # how far a node's two are apart, 0 where none
        shapes = [p.shape for p in pieces]
        self.axis = np.array([p.axis if p.discs is not None else (0.0, 0.0, 0.0) for p in pieces])
        self.round = (self.axis != 0).any(1)  # of discs
        self.along = np.array(
            [p.axis if p.axis is not None else (0.0, 0.0, 0.0) for p in pieces]
        )  # a prism's axis
        self.group = np.searchsorted(_CLASSES, [len(shape) for shape in shapes])
        self.slot = np.zeros(len(pieces), int)
        self.stacks: dict[int, np.ndarray] = {}
        for g in distinct(self.group):
            which = np.flatnonzero(self.group == g)
            widest = max(len(shapes[i]) for i in which)
            self.slot[which] = np.arange(len(which))
            stack = self.stacks[int(g)] = np.empty((len(which), widest, 4))
            for row, i in zip(
                stack, which, strict=True
            ):  # a shape repeats its first corner up to the stack's width
                row[: len(shapes[i])], row[len(shapes[i]) :] = shapes[i], shapes[i][0]

    def leaves(self, roots) -> list[int]:
        """The real pieces under some nodes."""
        out, left = [], list(roots)
        while left:
            i = left.pop()
            if self.real[i]:
                out.append(i)
            else:
                left += list(self.kids[i])
        return out

    def corners(self) -> np.ndarray:
        """(pieces, 8, 3) corners of each piece's box at ride."""
        return box_corners(self.low, self.high)

    def reach(self, which: np.ndarray, frames: np.ndarray, direction: np.ndarray) -> np.ndarray:
        """Greatest value of direction · p over each piece in its frame: which (n,), frames (n, 3, 4),
        direction (n, 3)."""
        return self.reach_along(which, *seen(frames, direction))

    def reach_along(self, which: np.ndarray, own_axes: np.ndarray, far: np.ndarray) -> np.ndarray:
        """The same, of a direction as `seen` gives it."""
        own, far = np.zeros((len(which), 4)), far.copy()
        own[:, :3] = own_axes
        some = self.round[which].nonzero()[0]
        across = cross(own_axes[some], self.axis[which[some]])  # 1 - cos² would be off by 1e-8 along the axis
        own[some, 3] = np.sqrt((across**2).sum(1))  # a disc's reach across its axis
        group, slot = self.group[which], self.slot[which]
        for g, stack in self.stacks.items():
            pick = (group == g).nonzero()[0]
            if not len(pick):
                continue
            chunk = max(1, 100_000 // stack.shape[1])
            for part in (pick[k : k + chunk] for k in range(0, len(pick), chunk)):
                each = np.matmul(stack.take(slot[part], 0), own.take(part, 0)[:, :, None])
                far[part] += each[:, :, 0].max(1)
        return far

    def boxes(self, which: np.ndarray, frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Boxes (poses, n, 3) low and high of pieces at frames (poses, carriers, 3, 4)."""
        place = frames[:, self.carrier[which]].reshape(-1, 3, 4)
        many = np.tile(which, len(frames))
        out = []
        for sign in (-1.0, 1.0):
            sides = [
                sign * self.reach(many, place, np.tile(sign * np.eye(3)[a], (len(many), 1))) for a in range(3)
            ]
            out.append(np.stack(sides, 1).reshape(len(frames), len(which), 3))
        return out[0], out[1]


def seen(frames: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Directions (n, 3) of the car in the axes of bodies moved by frames (n, 3, 4), and how far along them
    each body's origin was moved."""
    return (
        np.einsum("nij,ni->nj", frames[:, :, :3], direction),
        np.einsum("ni,ni->n", frames[:, :, 3], direction),
    )


class Forest:
    """Collects the nodes of a scene."""

    def __init__(self):
        self.pieces: list[Piece] = []
        self.carriers: list[int] = []
        self.kids: list[tuple[int, int]] = []
        self.family: list[int] = []

    def add(self, piece: Piece, carrier: int, family: int | None = None) -> int:
        """A piece, what it covers, and the halves of long prisms; `family`: the piece that holds it."""
        at = len(self.pieces)
        family = at if family is None else family
        self.pieces.append(piece)
        self.carriers.append(carrier)
        self.family.append(family)
        self.kids.append((-1, -1))
        kids = [self.add(k, carrier, family) for k in piece.kids or _halves(piece)]
        if kids:
            self.kids[at] = kids[0], kids[1]
        return at

    def cover(self, of: int, kids: list[int]) -> int | None:
        """A node with the hull of `of` over nodes that lie within it; None where there are none, the only one
        where it is one."""
        if len(kids) < 2:
            return kids[0] if kids else None
        half = len(kids) // 2
        one, two = self.cover(of, kids[:half]), self.cover(of, kids[half:])
        assert one is not None and two is not None  # both halves hold a node at least
        piece = self.pieces[of]
        self.pieces.append(
            Piece(piece.points, piece.edges, piece.beyond_mm, 0, False, (), piece.discs, piece.axis)
        )
        self.carriers.append(self.carriers[of])
        self.family.append(self.family[of])
        self.kids.append((one, two))
        return len(self.pieces) - 1

    def scene(self) -> Scene:
        return Scene(self.pieces, self.carriers, self.kids, self.family)


@lru_cache(maxsize=65536)
def _halves(piece: Piece) -> tuple[Piece, ...]:
    """The two halves of a prism that is long, and long for its girth, which hold their own."""
    n, discs = piece.prism, piece.discs
    if not n:
        return ()
    ends = piece.points.reshape(1, 2, n, 3)
    return _halved(piece, ends, None if discs is None else discs.reshape(1, 2, -1, 4))[0]


def _halved(whole: Piece, ends: np.ndarray, discs: np.ndarray | None) -> list[tuple[Piece, ...]]:
    """The halves of prisms by their two ends (prisms, 2, corners, 3) and the discs there, all at once."""
    out: list[tuple[Piece, ...]] = [()] * len(ends)
    length = np.array([along @ along for along in ends[:, 1, 0] - ends[:, 0, 0]])
    long = np.flatnonzero(length >= LONG_MM**2)
    if len(long):
        girth = ((ends[long, 0] - ends[long, 0, :1]) ** 2).sum(2).max(1)
        long = long[length[long] >= LONG**2 * girth]
    if not len(long):
        return out
    ends, discs = _cut(ends[long]), None if discs is None else _cut(discs[long])
    kids = _halved(whole, ends, discs)
    made = [
        Piece(
            ends[k].reshape(-1, 3),
            whole.edges,
            whole.beyond_mm,
            whole.prism,
            kids=kids[k],
            discs=None if discs is None else discs[k].reshape(-1, 4),
            axis=whole.axis,
        )
        for k in range(len(ends))
    ]
    for row, k in enumerate(long.tolist()):
        out[k] = made[2 * row], made[2 * row + 1]
    return out


def _cut(ends: np.ndarray) -> np.ndarray:
    """(2 prisms, 2, ...) the ends of both halves of each (prisms, 2, ...)."""
    low, along = ends[:, 0], ends[:, 1] - ends[:, 0]
    middle = low + along * 0.5
    both = np.stack([low, middle, middle, low + along], 1)
    return both.reshape(-1, *ends.shape[1:])


_CORNERS = np.array([[(k >> a) & 1 for a in range(3)] for k in range(8)], bool)


def box_corners(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """(..., 8, 3) corners of boxes from their low and high ones (..., 3)."""
    return np.where(_CORNERS, high[..., None, :], low[..., None, :])


def span(ends) -> tuple[float, float]:
    """Two numbers of any kind, from and to, as plain floats."""
    low, high = ends
    return float(low), float(high)


def spread(ends, count: int) -> np.ndarray:
    """`count` values from one end to the other, even."""
    low, high = ends
    return np.linspace(low, high, count)


class Framed(Protocol):
    """Poses worked out: rigid motions (poses, carriers, 3, 4)."""

    @property
    def frames(self) -> np.ndarray: ...


class Motion(Protocol):
    """What a grid asks of a motion: see bounds.CornerBounds."""

    @property
    def references(self) -> np.ndarray: ...

    @property
    def content(self) -> str: ...

    def frames(self, travel: np.ndarray, rack: np.ndarray, /) -> np.ndarray: ...

    def bends(self, travel_edges: np.ndarray, rack_edges: np.ndarray, /) -> tuple[np.ndarray, np.ndarray]: ...


class Grid:
    """Poses on a dyadic grid of travel and rack, each worked out once. Positions are whole numbers 0 ...
    FINE.

    `motion` gives `frames(travel, rack)` (poses, carriers, 3, 4), `bends(travel edges, rack edges)` and
    `references`, `content`: see bounds.CornerBounds. `rack_mm` None: there is no second axis."""

    FINE = 1 << 24

    def __init__(
        self, motion: Motion, travel_mm: tuple[float, float], rack_mm: tuple[float, float] | None = None
    ):
        self.motion, self.travel, self.rack = motion, travel_mm, rack_mm
        self.frames = np.zeros((0, len(motion.references), 3, 4))
        self._keys, self._place = (
            np.zeros(0, np.int64),
            np.zeros(0, np.int64),
        )  # sorted, and where each stands in frames

    @staticmethod
    def _value(at, ends):
        low, high = ends
        return low + (high - low) * (np.asarray(at) / Grid.FINE)

    @property
    def content(self) -> str:
        """Exactly this motion over these ranges."""
        return f"{self.motion.content}, {self.travel}, {self.rack}"

    def wheel_mm(self, at):
        return self._value(at, self.travel)

    def rack_mm(self, at):
        return self._value(at, self.rack) if self.rack else np.zeros(np.shape(at))

    def at(self, z: np.ndarray, s: np.ndarray) -> np.ndarray:
        """Frames (poses, carriers, 3, 4) at grid positions z, s."""
        place = self.index(z, s)  # first: it may add to `frames`
        return self.frames[place]

    def index(self, z: np.ndarray, s: np.ndarray) -> np.ndarray:
        """Places in `frames` of the poses at grid positions z, s. Raises ValueError where the corner cannot
        reach one."""
        key = z.astype(np.int64) * (2 * self.FINE) + s
        at = np.searchsorted(self._keys, key)
        known = np.zeros(len(key), bool)
        inside = at < len(self._keys)
        known[inside] = self._keys[at[inside]] == key[inside]
        if not known.all():
            fresh = distinct(key[~known])
            wheel, rack = self.wheel_mm(fresh // (2 * self.FINE)), self.rack_mm(fresh % (2 * self.FINE))
            frames = self.motion.frames(wheel, rack)
            dead = ~np.isfinite(frames).all((1, 2, 3))
            if dead.any():
                k = int(dead.argmax())
                raise ValueError(
                    f"clearance: the corner cannot reach wheel travel {wheel[k]:.3f} mm at rack "
                    f"{rack[k]:.3f} mm; "
                    "check over the travel in which it closes"
                )
            keys = np.concatenate([self._keys, fresh])
            place = np.concatenate([self._place, len(self.frames) + np.arange(len(fresh))])
            order = np.argsort(keys, kind="stable")
            self._keys, self._place = keys[order], place[order]
            self.frames = np.concatenate([self.frames, frames])
            at = np.searchsorted(self._keys, key)
        return self._place[at]
