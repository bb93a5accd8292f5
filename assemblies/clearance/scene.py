"""All convex pieces as arrays: who carries them, where they are at any pose, how far they reach in any
direction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple, Protocol

import numpy as np

from assemblies.clearance.pieces import Piece
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
        halves: Sequence[_Halves] = (),
    ):
        discs = [p.discs for p in pieces if p.discs is not None]
        of_discs = np.array([p.discs is not None for p in pieces])
        count = np.array([len(p.points) for p in pieces])
        size = count.copy()
        size[of_discs] = [len(d) for d in discs]
        shapes = np.zeros((size.sum(), 4))  # corners are discs of no radius
        row = np.repeat(of_discs, size)
        shapes[~row, :3] = _joined([p.points for p in pieces if p.discs is None], 3)
        shapes[row] = _joined(discs, 4)

        whole = np.concatenate([np.arange(len(pieces)), *(h.whole for h in halves)])
        place = np.concatenate([np.ones(len(pieces), int), *(h.place for h in halves)])
        points = _joined([p.points for p in pieces] + [h.points.reshape(-1, 3) for h in halves], 3)
        shapes = _joined([shapes, *(h.shapes.reshape(-1, 4) for h in halves)], 4)
        count, size = (
            np.concatenate([own, *(np.full(len(h.of), getattr(h, what).shape[1]) for h in halves)])
            for own, what in ((count, "points"), (size, "shapes"))
        )
        first, at = count.cumsum() - count, size.cumsum() - size

        self.pieces = _Pieces(pieces, whole, place)
        self.kids = np.full((len(whole), 2), -1)
        self.kids[: len(pieces)] = kids
        for h in halves:
            self.kids[h.of[::2]] = h.node.reshape(-1, 2)
        self.real = np.array([p.real for p in pieces])[whole]
        self.family = np.array(family)[whole]  # the whole piece that each is part of
        self.carrier = np.asarray(carriers, int)[whole]
        self.beyond = np.array([p.beyond_mm for p in pieces])[whole]
        self.low, self.high = np.minimum.reduceat(points, first), np.maximum.reduceat(points, first)
        self.middle = (self.low + self.high) / 2
        self.size = np.sqrt(((self.high - self.low) ** 2).sum(1))
        one, two = self.middle[self.kids].swapaxes(0, 1)
        self.parting = np.sqrt(((one - two) ** 2).sum(1))  # how far a node's two are apart, 0 where none
        self.round = of_discs[whole]
        self.along = np.array([(0.0, 0.0, 0.0) if p.axis is None else p.axis for p in pieces])[whole]
        self.axis = np.where(self.round[:, None], self.along, 0.0)  # a prism's axis; that of discs
        self.group = np.searchsorted(_CLASSES, size)
        self.slot = np.zeros(len(whole), int)
        self.bore_mm = np.array([p.bore_mm for p in pieces])[whole]  # of whole rings
        self.centre, self.bore_length_mm = np.zeros((len(whole), 3)), np.zeros(len(whole))
        for k in self.bore_mm.nonzero()[0].tolist():  # the middle of its one end, and how far the other is
            self.centre[k], far = pieces[k].shape[:, :3]
            self.bore_length_mm[k] = np.sqrt(((far - self.centre[k]) ** 2).sum())
        self.stacks: dict[int, np.ndarray] = {}  # (pieces, 4, corners): as fast again as the other way round
        for g in distinct(self.group):
            which = np.flatnonzero(self.group == g)
            self.slot[which] = np.arange(len(which))
            corner = np.arange(size[which].max())  # a shape repeats its first corner up to the stack's width
            corner = np.where(corner < size[which, None], corner, 0)
            self.stacks[int(g)] = np.ascontiguousarray(shapes[at[which, None] + corner].swapaxes(1, 2))

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
        return self.reach_along(which, seen(frames, direction))

    def reach_along(self, which: np.ndarray, own: np.ndarray) -> np.ndarray:
        """The same, of a direction as `seen` gives it (n, 4)."""
        own, far = own.copy(), own[:, 3].copy()  # what a corner makes of the last column is 0, as its radius
        some = self.round[which].nonzero()[0]
        if len(some):  # a disc's reach across its axis; 1 - cos² would be off by 1e-8 along the axis
            across = cross(own[some, :3], self.axis[which[some]])
            own[some, 3] = length(across)
        group, slot = self.group[which], self.slot[which]
        for g, stack in self.stacks.items():
            pick = (group == g).nonzero()[0]
            if not len(pick):
                continue
            corners = stack.shape[2]
            chunk = max(1, 100_000 // corners)
            for part in (pick[k : k + chunk] for k in range(0, len(pick), chunk)):
                each = np.matmul(own.take(part, 0)[:, None], stack.take(slot[part], 0))
                far[part] += np.maximum.reduceat(each.ravel(), np.arange(0, each.size, corners))
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


def placed(frames: np.ndarray, pose: np.ndarray, carrier: np.ndarray) -> np.ndarray:
    """(n, 3, 4) motions of carriers (n,) at poses (n,), out of (poses, carriers, 3, 4)."""
    return frames.reshape(-1, 3, 4).take(pose * frames.shape[1] + carrier, 0)


def seen(frames: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """(n, 4) directions (n, 3) of the car in the axes of bodies moved by frames (n, 3, 4), and in the last
    column how far along them each body's origin was moved."""
    return np.einsum("nij,ni->nj", frames, direction)


def length(vectors: np.ndarray) -> np.ndarray:
    """(...) lengths of many vectors (..., 3): numpy's sum along so short an axis takes four times as long."""
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    return np.sqrt(x * x + y * y + z * z)


def _joined(some: list[np.ndarray], width: int) -> np.ndarray:
    """Rows (n, width) one after the other, of none too."""
    return np.concatenate([np.zeros((0, width)), *some])


class _Pieces:
    """The pieces of a scene by number; the halves of long ones are made when they are asked for."""

    def __init__(self, pieces: list[Piece], whole: np.ndarray, place: np.ndarray):
        self._pieces, self._whole, self._place = pieces, whole.tolist(), place.tolist()

    def __len__(self) -> int:
        return len(self._whole)

    def __getitem__(self, i: int) -> Piece:
        return _half(self._pieces[self._whole[i]], self._place[i])


class Forest:
    """Collects the nodes of a scene."""

    def __init__(self):
        self.pieces: list[Piece] = []
        self.carriers: list[int] = []
        self.kids: list[tuple[int, int]] = []
        self.family: list[int] = []

    def add(self, piece: Piece, carrier: int, family: int | None = None) -> int:
        """A piece and what it covers; `family`: the piece that holds it."""
        at = len(self.pieces)
        family = at if family is None else family
        self.pieces.append(piece)
        self.carriers.append(carrier)
        self.family.append(family)
        self.kids.append((-1, -1))
        if piece.kids:
            one, two = piece.kids
            self.kids[at] = self.add(one, carrier, family), self.add(two, carrier, family)
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
        """Its nodes, and the halves of long prisms among them."""
        return Scene(self.pieces, self.carriers, self.kids, self.family, _halved(self.pieces))


class _Halves(NamedTuple):
    """Halves of prisms of like corners, two by two: their nodes, the nodes they are halves of and the pieces
    they are part of (n,); which part, see `_half`; corners (n, corners, 3) and shapes (n, discs, 4)."""

    node: np.ndarray
    of: np.ndarray
    whole: np.ndarray
    place: np.ndarray
    points: np.ndarray
    shapes: np.ndarray


def _halved(pieces: list[Piece]) -> list[_Halves]:
    """The halves of prisms that are long, and long for their girth, and of those halves theirs."""
    alike: dict[tuple[int, int], list[int]] = {}
    for i, p in enumerate(pieces):
        if p.prism and not p.kids:
            alike.setdefault((p.prism, 0 if p.discs is None else len(p.discs)), []).append(i)
    out: list[_Halves] = []
    count = len(pieces)
    for (_, discs), some in alike.items():
        node = whole = np.array(some)
        place = np.ones(len(some), int)
        ends = np.array([pieces[i].points for i in some]).reshape(len(some), 2, -1, 3)
        shapes = np.array([pieces[i].discs for i in some]).reshape(len(some), 2, -1, 4) if discs else None
        while len(long := _long(ends)):
            ends, shapes = _cut(ends[long]), None if shapes is None else _cut(shapes[long])
            of, whole = node[long].repeat(2), whole[long].repeat(2)
            place = 2 * place[long].repeat(2) + np.tile([0, 1], len(long))
            node = np.arange(count, count + len(of))
            count += len(of)
            points = ends.reshape(len(of), -1, 3)
            corners = (
                np.concatenate([points, np.zeros((*points.shape[:2], 1))], 2) if shapes is None else shapes
            )
            out.append(_Halves(node, of, whole, place, points, corners.reshape(len(of), -1, 4)))
    return out


def _long(ends: np.ndarray) -> np.ndarray:
    """Which prisms are to be halved, by their two ends (prisms, 2, corners, 3)."""
    length = ((ends[:, 1, 0] - ends[:, 0, 0]) ** 2).sum(1)
    long = np.flatnonzero(length >= LONG_MM**2)
    girth = ((ends[long, 0] - ends[long, 0, :1]) ** 2).sum(2).max(1, initial=0.0)
    return long[length[long] >= LONG**2 * girth]


@lru_cache(maxsize=65536)
def _half(piece: Piece, place: int) -> Piece:
    """A part of a long prism: the whole is 1, the halves of k are 2 k and 2 k + 1."""
    if place == 1:
        return piece
    of = _half(piece, place // 2)

    def cut(ends: np.ndarray) -> np.ndarray:
        return _cut(ends.reshape(1, 2, -1, ends.shape[1]))[place % 2].reshape(ends.shape)

    return replace(of, points=cut(of.points), discs=None if of.discs is None else cut(of.discs))


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
        self._room = self.frames = np.zeros((0, len(motion.references), 3, 4))
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
            count = len(keys)
            if count > len(self._room):  # twice what is asked for: a pose or two are added at a time
                self._room = np.concatenate([self.frames, frames, np.empty((count, *frames.shape[1:]))])
            self._room[len(self.frames) : count] = frames
            self.frames = self._room[:count]
            at = np.searchsorted(self._keys, key)
        return self._place[at]
