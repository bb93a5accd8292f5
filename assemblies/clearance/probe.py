"""Room for things held up at single poses: a bolt on its way out, a socket on its nut, a spanner and its
swing.

Exact distances of convex pieces at the poses asked for, nothing between them: a pose found clear is a proof
that there is one; that there is none is only as sure as the poses are near each other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence

import numpy as np

from assemblies.clearance.bounds import CornerBounds, carrier_index
from assemblies.clearance.library import Library
from assemblies.clearance.memory import in_grains
from assemblies.clearance.pieces import Piece, real_pieces
from assemblies.clearance.plan import Body, form_box, form_key
from assemblies.clearance.scene import Scene, box_corners
from parts.base.frozen import dataclass
from parts.shape.form import Form

PROBE_MM = 0.02  # a round probe's polygon reaches past its circle
LEAST_MM = 1e-3  # the library's gaps are nearer to the truth than this


@dataclass(frozen=True)
class Probe:
    """A form held up in the corner, car coordinates at ride height, that moves with `carrier`; `spared`
    bodies are not looked at."""

    form: Form
    carrier: str
    spared: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Room:
    """(probes, poses): least gap to anything, minus the depth where something is in the way, never more than
    what was looked for; and what is nearest, "" where nothing is."""

    gap_mm: np.ndarray
    nearest: np.ndarray


Each = Callable[[str, Sequence[object], Callable[[list[int]], list[list[float]]]], list[list[float]]]


@dataclass(frozen=True)
class _Poses:
    frames: np.ndarray


@dataclass(frozen=True)
class _Held:
    """Shapes at some wheel heights: frames (poses, carriers, 3, 4), boxes that hold each at all of them, and
    exactly how each carrier moves and what each shape is."""

    frames: np.ndarray
    low: np.ndarray
    high: np.ndarray
    moves: list[str]
    contents: list[str]


class ProbedBodies:
    """Bodies as convex pieces, in wait for probes; both reach at most `PROBE_MM` past their true surfaces, so
    a gap errs to the safe side."""

    def __init__(self, bodies: Sequence[Body], mechanism, tolerance_mm: float = 0.1):
        self.corner, self.tolerance_mm = CornerBounds.of(mechanism), tolerance_mm
        boxes = [b.boxes for b in bodies]
        self.shapes = [(b, k) for b, own in zip(bodies, boxes, strict=True) for k in range(len(own))]
        self.boxes = np.concatenate([np.zeros((0, 2, 3)), *boxes])
        self.carriers = [carrier_index(b.carrier) for b, _ in self.shapes]
        self._known: dict[int, list[Piece]] = {}
        self._at: dict[bytes, _Held] = {}

    def _pieces(self, n: int) -> list[Piece]:
        if n not in self._known:  # as the check has them: most are known from there
            body, k = self.shapes[n]
            self._known[n] = body.real_of(k, self.tolerance_mm)
        return self._known[n]

    def _near(self, probes: Sequence[Probe], at: _Held, within_mm: float) -> np.ndarray:
        """(probes, shapes) whether a probe can be nearer than that to a shape, by the boxes both sweep."""
        carriers = [carrier_index(p.carrier) for p in probes]
        low, high = _swept(np.array([form_box(p.form) for p in probes]), carriers, at.frames)
        near = _within(low[:, None], high[:, None], at.low, at.high, within_mm + 2 * PROBE_MM)
        names = np.array([b.name for b, _ in self.shapes])
        near &= np.array([~np.isin(names, list(p.spared)) for p in probes]).reshape(near.shape)
        return near

    def _standing(self, wheel_mm: np.ndarray) -> _Held:
        """Worked out once: several looks are at the same heights. Raises ValueError where one is out of
        reach."""
        if wheel_mm.tobytes() not in self._at:
            frames = self.corner.frames(wheel_mm, np.zeros(len(wheel_mm)))
            if not np.isfinite(frames).all():
                raise ValueError("clearance: the corner cannot reach one of the wheel heights")
            moves = [hashlib.sha256(frames[:, c].tobytes()).hexdigest() for c in range(frames.shape[1])]
            shapes = zip(self.shapes, self.carriers, strict=True)
            contents = [f"{b.key_of(k)} {b.hollow} {moves[c]}" for (b, k), c in shapes]
            boxes = _swept(self.boxes, self.carriers, frames)
            self._at[wheel_mm.tobytes()] = _Held(frames, *boxes, moves, contents)
        return self._at[wheel_mm.tobytes()]

    @staticmethod
    def _contents(probes: Sequence[Probe], at: _Held) -> list[str]:
        """Exactly each probe and how it moves."""
        return [f"{form_key(p.form)} {at.moves[carrier_index(p.carrier)]}" for p in probes]

    def gaps(self, probes: Sequence[Probe], wheel_mm: np.ndarray, within_mm: float, each: Each) -> np.ndarray:
        """(probes, poses) the gaps of `room`, in whole grains. They are worked shape by shape: `each` is told
        all that the gap of a probe and a shape hangs on, and what works those that it does not know."""
        at, size = self._standing(wheel_mm), len(wheel_mm)
        pairs = np.argwhere(self._near(probes, at, within_mm))
        held = self._contents(probes, at)

        def look(which: list[int]) -> list[list[float]]:
            row = np.full((len(probes), len(self.shapes)), -1)
            row[tuple(pairs[which].T)] = np.arange(len(which))
            mine, theirs = (sorted(set(pairs[which, side].tolist())) for side in (0, 1))
            room = Room(
                np.full((len(which), size), float(within_mm)), np.full((len(which), size), "", object)
            )
            self._look(
                [(k, p) for k in mine for p in real_pieces(probes[k].form, PROBE_MM)],
                theirs,
                probes,
                row,
                at.frames,
                within_mm,
                room,
            )
            return in_grains(room.gap_mm).tolist()

        given = [(self.tolerance_mm, within_mm, held[k], at.contents[n]) for k, n in pairs.tolist()]
        out = np.full((len(probes), size), float(within_mm))
        if given:
            np.minimum.at(out, pairs[:, 0], each("gap to a probe", given, look))
        return out

    def contents(self, probes: Sequence[Probe], wheel_mm: np.ndarray, within_mm: float) -> list[str]:
        """Of each probe all that its `room` hangs on, what it can be near to by name."""
        at = self._standing(wheel_mm)
        named = [f"{b.name}: {content}" for (b, _), content in zip(self.shapes, at.contents, strict=True)]
        return [
            f"{self.tolerance_mm!r}, {within_mm!r}, {own}, {[named[n] for n in np.flatnonzero(near)]}"
            for own, near in zip(self._contents(probes, at), self._near(probes, at, within_mm), strict=True)
        ]

    def room(self, probes: Sequence[Probe], wheel_mm, within_mm: float, enough_mm: float = -np.inf) -> Room:
        """Gaps up to `within_mm` of every probe at every wheel height, rack straight ahead. A probe that
        lacks `enough_mm` to what rides with it lacks it at every height: it is not looked at further. Raises
        ValueError where the corner cannot reach a height."""
        wheel = np.atleast_1d(np.asarray(wheel_mm, float))
        at = self._standing(wheel)
        size = len(probes), len(wheel)
        room = Room(np.full(size, float(within_mm)), np.full(size, "", object))
        held = [(k, p) for k, probe in enumerate(probes) for p in real_pieces(probe.form, PROBE_MM)]
        names = np.array([b.name for b, _ in self.shapes])
        rows = np.array([np.where(np.isin(names, list(p.spared)), -1, k) for k, p in enumerate(probes)])
        near = np.flatnonzero(self._near(probes, at, within_mm).any(0)).tolist() if held else []
        self._look(held, near, probes, rows, at.frames, within_mm, room, enough_mm)
        return room

    def _look(
        self,
        held: list[tuple[int, Piece]],
        near: Sequence[int],
        probes: Sequence[Probe],
        rows: np.ndarray,
        frames: np.ndarray,
        within_mm: float,
        room: Room,
        enough_mm: float = -np.inf,
    ) -> None:
        """Pieces of probes beside some shapes; `rows` (probes, shapes): the row of `room` that the gap of the
        two is for, -1 where it is not looked at."""
        around = [(n, p) for n in near for p in self._pieces(n)]
        if not around:
            return
        at = rows[np.ix_([k for k, _ in held], [n for n, _ in around])]
        scene = _HeldUp(
            probes, held, [(self.shapes[n][0], p) for n, p in around], at, frames, within_mm, room
        )
        scene.look(scene.looked & scene.together, np.array([0]), everywhere=True)
        worth = room.gap_mm[at.max(1), :1] >= enough_mm
        scene.look(scene.looked & ~scene.together & worth, np.arange(len(frames)), everywhere=False)


class _HeldUp:
    """Pieces of probes and of the bodies around them in one scene, the probes' after the others'; what is
    found goes into `room`. `rows`, `looked`, `together` (pieces of probes, pieces around): which row of it a
    pair is for, which pairs are to be looked at, and which ride together."""

    def __init__(
        self,
        probes: Sequence[Probe],
        held: list[tuple[int, Piece]],
        around: list[tuple[Body, Piece]],
        rows: np.ndarray,
        frames: np.ndarray,
        within_mm: float,
        room: Room,
    ):
        self.frames, self.within_mm, self.room = frames, within_mm, room
        self.first, self.rows = len(around), rows
        self.names = np.array([body.name for body, _ in around])
        carriers = [body.carrier for body, _ in around] + [probes[k].carrier for k, _ in held]
        carrier = np.array([carrier_index(c) for c in carriers])
        everything = [p for _, p in (*around, *held)]
        self.scene = Scene(everything, carrier, [(-1, -1)] * len(everything), list(range(len(everything))))
        self.library = Library(self.scene, _Poses(frames))
        self.looked = rows >= 0
        self.together = carrier[self.first :, None] == carrier[None, : self.first]

    def look(self, pairs: np.ndarray, poses: np.ndarray, everywhere: bool) -> None:
        """The least gap of some pairs at some poses; `everywhere`: it is the same at all."""
        probe, other, pose = self._boxes_meet(pairs, poses)
        if not len(probe):
            return
        least = self._least(self.first + probe, other, pose)
        near = least < self.within_mm
        probe, other, pose, least = probe[near], other[near], pose[near], least[near]
        if not len(probe):
            return
        row = self.rows[probe, other]  # at each pose first what may be nearest, then what can be nearer
        order = np.lexsort((least, pose, row))
        new = np.ones(len(order), bool)
        new[1:] = (np.diff(row[order]) != 0) | (np.diff(pose[order]) != 0)
        self._ask(probe[order[new]], other[order[new]], pose[order[new]], everywhere)
        rest = np.sort(order[~new])
        rest = rest[least[rest] < self.room.gap_mm[row[rest], pose[rest]]]
        self._ask(probe[rest], other[rest], pose[rest], everywhere)

    def _ask(self, probe: np.ndarray, other: np.ndarray, pose: np.ndarray, everywhere: bool) -> None:
        if not len(probe):
            return
        found = self.library.ask(self.first + probe, other, pose)[0]
        gap, nearest = self.room.gap_mm, self.room.nearest
        for n in np.argsort(found, kind="stable"):
            at = slice(None) if everywhere else slice(pose[n], pose[n] + 1)
            row = self.rows[probe[n], other[n]]
            less = found[n] < gap[row, at]
            gap[row, at] = np.where(less, found[n], gap[row, at])
            nearest[row, at] = np.where(less, self.names[other[n]], nearest[row, at])

    def _boxes_meet(self, pairs: np.ndarray, poses: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pieces of a probe and of a body, and the pose, whose boxes are near: first of the boxes both sweep,
        then pose by pose."""
        rows, columns = np.flatnonzero(pairs.any(1)), np.flatnonzero(pairs.any(0))
        if not len(rows):
            return rows, rows, rows
        low, high = self.scene.boxes(np.concatenate([self.first + rows, columns]), self.frames[poses])
        n = len(rows)
        swept_low, swept_high = low.min(0), high.max(0)
        meet = _within(
            swept_low[:n, None], swept_high[:n, None], swept_low[n:], swept_high[n:], self.within_mm
        )
        i, j = np.nonzero(pairs[np.ix_(rows, columns)] & meet)
        t, k = np.nonzero(_within(low[:, i], high[:, i], low[:, n + j], high[:, n + j], self.within_mm))
        return rows[i[k]], columns[j[k]], poses[t]

    def _least(self, i, j, pose) -> np.ndarray:
        """No pair is found nearer than this: kept apart along the probe's own axis or the line of their
        middles, less what the corners stand off the shapes and the library's last digits."""
        scene = self.scene
        f, g = self.frames[pose, scene.carrier[i]], self.frames[pose, scene.carrier[j]]
        axis = np.einsum("nij,nj->ni", f[:, :, :3], scene.along[i])
        away = (
            np.einsum("nij,nj->ni", g[:, :, :3], scene.middle[j])
            + g[:, :, 3]
            - np.einsum("nij,nj->ni", f[:, :, :3], scene.middle[i])
            - f[:, :, 3]
        )
        flat = away - (away * axis).sum(1)[:, None] * axis
        least = np.full(len(i), -np.inf)
        for n in (axis, -axis, flat, away):
            left = np.flatnonzero(least < self.within_mm)
            size = np.sqrt((n[left] ** 2).sum(1))
            some = size > 1e-9
            left, way = left[some], n[left[some]] / size[some, None]
            least[left] = np.maximum(least[left], self.library.room(i[left], j[left], pose[left], way))
        return np.where(least < self.within_mm, least - scene.beyond[i] - scene.beyond[j] - LEAST_MM, least)


def held_at(bodies: Sequence[Body], frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Low and high (bodies, 3) of a box that holds all of each at every pose; NaN where one is no pose."""
    return _swept(np.array([b.box for b in bodies]), [carrier_index(b.carrier) for b in bodies], frames)


def _swept(boxes: np.ndarray, carriers: list[int], frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Low and high (n, 3) of boxes (n, 2, 3) carried through the poses."""
    place = frames[:, carriers]
    at = np.einsum("tnij,nkj->tnki", place[..., :3], box_corners(boxes[:, 0], boxes[:, 1]))
    at += place[:, :, None, :, 3]
    return at.min((0, 2)), at.max((0, 2))


def _within(low_a, high_a, low_b, high_b, within_mm: float) -> np.ndarray:
    """Whether boxes are nearer than that."""
    square = np.zeros(1)
    for k in range(3):
        apart = np.maximum(low_b[..., k] - high_a[..., k], low_a[..., k] - high_b[..., k])
        square = square + np.maximum(apart, 0) ** 2
    return square < within_mm**2
