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
from assemblies.clearance.cells import least_of_each
from assemblies.clearance.library import Library
from assemblies.clearance.memory import in_grains
from assemblies.clearance.pieces import Piece, real_pieces
from assemblies.clearance.plan import Body, form_box
from assemblies.clearance.scene import Scene
from parts.base.frozen import dataclass
from parts.shape.form import Form, Frame

PROBE_MM = 0.02  # a round probe's polygon reaches past its circle
LEAST_MM = 1e-3  # the library's gaps are nearer to the truth than this


@dataclass(frozen=True)
class Probe:
    """A form held up in the corner at `frame`, car coordinates at ride height, that moves with `carrier`;
    `spared` bodies are not looked at."""

    form: Form
    carrier: str
    spared: frozenset[str] = frozenset()
    frame: Frame = Frame()

    @property
    def key(self) -> str:
        """A name for exactly this shape in this place."""
        return f"{self.form.key} {self.frame.origin} {self.frame.x} {self.frame.z}"

    def pieces(self) -> list[Piece]:
        return real_pieces(self.form.moved(self.frame), PROBE_MM)


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
    exactly how each carrier moves and what each shape is, without and with its body's name."""

    frames: np.ndarray
    low: np.ndarray
    high: np.ndarray
    moves: list[str]
    contents: list[str]
    named: list[str]


class ProbedBodies:
    """Bodies as convex pieces, in wait for probes; both reach at most `PROBE_MM` past their true surfaces, so
    a gap errs to the safe side."""

    def __init__(self, bodies: Sequence[Body], mechanism, tolerance_mm: float = 0.1):
        self.corner, self.tolerance_mm = CornerBounds.of(mechanism), tolerance_mm
        boxes = [b.boxes for b in bodies]
        self.shapes = [(b, k) for b, own in zip(bodies, boxes, strict=True) for k in range(len(own))]
        self.boxes = np.concatenate([np.zeros((0, 2, 3)), *boxes])
        self.carriers = [carrier_index(b.carrier) for b, _ in self.shapes]
        self._keys = [f"{b.key_of(k)} {b.hollow}" for b, k in self.shapes]
        self._known: dict[int, list[Piece]] = {}
        self._at: dict[bytes, _Held] = {}

    def _pieces(self, n: int) -> list[Piece]:
        if n not in self._known:  # as the check has them: most are known from there
            body, k = self.shapes[n]
            self._known[n] = body.real_of(k, self.tolerance_mm)
        return self._known[n]

    def _near(self, probes: Sequence[Probe], at: _Held, within_mm: float) -> np.ndarray:
        """(probes, shapes) whether a probe can be nearer than that to a shape, by the boxes both sweep."""
        own = np.array([form_box(p.form) for p in probes]).reshape(-1, 2, 3)
        place = np.array([p.frame.matrix()[:3] for p in probes]).reshape(-1, 3, 4)
        carriers = [carrier_index(p.carrier) for p in probes]
        low, high = _swept(np.stack(_carried(own[:, 0], own[:, 1], place), 1), carriers, at.frames)
        near = _within(low[:, None], high[:, None], at.low, at.high, within_mm + 2 * PROBE_MM)
        return near & self._asked(probes)

    def _asked(self, probes: Sequence[Probe]) -> np.ndarray:
        """(probes, shapes) whether a shape is not spared."""
        names = np.array([b.name for b, _ in self.shapes])
        out = np.ones((len(probes), len(names)), bool)
        for row, probe in zip(out, probes, strict=True):
            for name in probe.spared:
                row &= names != name
        return out

    def _standing(self, wheel_mm: np.ndarray) -> _Held:
        """Worked out once: several looks are at the same heights. Raises ValueError where one is out of
        reach."""
        if wheel_mm.tobytes() not in self._at:
            frames = self.corner.frames(wheel_mm, np.zeros(len(wheel_mm)))
            if not np.isfinite(frames).all():
                raise ValueError("clearance: the corner cannot reach one of the wheel heights")
            moves = [hashlib.sha256(frames[:, c].tobytes()).hexdigest() for c in range(frames.shape[1])]
            contents = [f"{key} {moves[c]}" for key, c in zip(self._keys, self.carriers, strict=True)]
            named = [f"{b.name}: {content}" for (b, _), content in zip(self.shapes, contents, strict=True)]
            boxes = _swept(self.boxes, self.carriers, frames)
            self._at[wheel_mm.tobytes()] = _Held(frames, *boxes, moves, contents, named)
        return self._at[wheel_mm.tobytes()]

    @staticmethod
    def _contents(probes: Sequence[Probe], at: _Held) -> list[str]:
        """Exactly each probe and how it moves."""
        return [f"{p.key} {at.moves[carrier_index(p.carrier)]}" for p in probes]

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
                [(k, p) for k in mine for p in probes[k].pieces()],
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
        near = self._near(probes, at, within_mm)
        others = ["|".join([at.named[n] for n in row.nonzero()[0].tolist()]) for row in near]
        own = self._contents(probes, at)
        return [f"{self.tolerance_mm!r}, {within_mm!r}, {o}, {n}" for o, n in zip(own, others, strict=True)]

    def room(
        self,
        probes: Sequence[Probe],
        wheel_mm,
        within_mm: float,
        enough_mm: float = -np.inf,
        told: bool = True,
    ) -> Room:
        """Gaps up to `within_mm` of every probe at every wheel height, rack straight ahead. Where a probe
        lacks `enough_mm` it is not looked at further, and its gap there may be less; but where it lacks that
        at every height, the most it has is `told`: to what rides with it where that alone leaves too little.
        Raises ValueError where the corner cannot reach a height."""
        wheel = np.atleast_1d(np.asarray(wheel_mm, float))
        at = self._standing(wheel)
        size = len(probes), len(wheel)
        room = Room(np.full(size, float(within_mm)), np.full(size, "", object))
        held = [(k, p) for k, probe in enumerate(probes) for p in probe.pieces()]
        rows = np.where(self._asked(probes), np.arange(len(probes))[:, None], -1)
        near = np.flatnonzero(self._near(probes, at, within_mm).any(0)).tolist() if held else []
        self._look(held, near, probes, rows, at.frames, within_mm, room, enough_mm, told)
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
        told: bool = False,
    ) -> None:
        """Pieces of probes beside some shapes; `rows` (probes, shapes): the row of `room` that the gap of the
        two is for, -1 where it is not looked at."""
        around = [(n, p) for n in near for p in self._pieces(n)]
        if not around:
            return
        at = rows[np.ix_([k for k, _ in held], [n for n, _ in around])]
        bodies = [(self.shapes[n][0], p) for n, p in around]
        scene = _HeldUp(probes, held, bodies, at, frames, within_mm, room, enough_mm, told)
        scene.look(scene.looked & scene.together, np.array([0]), True)
        left = scene.looked & ~scene.together & (room.gap_mm[at.max(1), :1] >= enough_mm)
        scene.look(left, np.arange(len(frames)), False)


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
        enough_mm: float,
        told: bool,
    ):
        self.frames, self.within_mm, self.room = frames, within_mm, room
        self.enough_mm, self.told = enough_mm, told
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
        """The least gap of some pairs at some poses; `everywhere`: it is the same at all. Of each row and
        pose what may be nearest is asked first, then what is next while it is open."""
        probe, other, pose = self._boxes_meet(pairs, poses)
        if not len(probe):
            return
        least, row, many = self._least(self.first + probe, other, pose), self.rows[probe, other], 1
        left = np.lexsort((least, pose, row))
        while True:
            left = left[least[left] < self.room.gap_mm[row[left], pose[left]]]
            some = self._open()[row[left], pose[left]].nonzero()[0]
            if not len(some):
                return
            who = row[left[some]] * len(self.frames) + pose[left[some]]
            some = some[np.arange(len(some)) - np.searchsorted(who, who) < many]
            self._ask(probe[left[some]], other[left[some]], pose[left[some]], everywhere)
            left, many = np.delete(left, some), 4 * many

    def _open(self) -> np.ndarray:
        """(rows, poses) where there may still be room enough; of a row that has it at none, where the most
        may be."""
        gap = self.room.gap_mm
        room = gap >= self.enough_mm
        if self.told:
            room[np.arange(len(gap)), gap.argmax(1)] |= ~room.any(1)
        return room

    def _ask(self, probe: np.ndarray, other: np.ndarray, pose: np.ndarray, everywhere: bool) -> None:
        found = self.library.ask(self.first + probe, other, pose)[0]
        row, gap, nearest = self.rows[probe, other], self.room.gap_mm, self.room.nearest
        n = least_of_each(row * len(self.frames) + pose, found)
        n = n[found[n] < gap[row[n], pose[n]]]
        at = (row[n],) if everywhere else (row[n], pose[n])
        gap[at], nearest[at] = (v[:, None] if everywhere else v for v in (found[n], self.names[other[n]]))

    def _boxes_meet(self, pairs: np.ndarray, poses: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pieces of a probe and of a body, and the pose, whose boxes are near: first of the boxes both sweep,
        then pose by pose."""
        rows, columns = np.flatnonzero(pairs.any(1)), np.flatnonzero(pairs.any(0))
        if not len(rows):
            return rows, rows, rows
        which = np.concatenate([self.first + rows, columns])
        place = self.frames[poses][:, self.scene.carrier[which]]
        low, high = _carried(self.scene.low[which], self.scene.high[which], place)
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
        f = self.frames[pose, scene.carrier[i]]
        axis = np.einsum("nij,nj->ni", f[:, :, :3], scene.along[i])
        away = self.library.middles(j, pose) - self.library.middles(i, pose)
        flat = away - (away * axis).sum(1)[:, None] * axis
        least = np.full(len(i), -np.inf)
        for n in (axis, -axis, flat, away):
            left = np.flatnonzero(least < self.within_mm)
            size = np.sqrt((n[left] ** 2).sum(1))
            some = size > 1e-9
            left, way = left[some], n[left[some]] / size[some, None]
            least[left] = np.maximum(least[left], self.library.room(i[left], j[left], pose[left], way))
        return np.where(least < self.within_mm, least - scene.beyond[i] - scene.beyond[j] - LEAST_MM, least)


def _swept(boxes: np.ndarray, carriers: list[int], frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Low and high (n, 3) of boxes (n, 2, 3) carried through the poses."""
    low, high = _carried(boxes[:, 0], boxes[:, 1], frames[:, carriers])
    return low.min(0), high.max(0)


def _carried(low: np.ndarray, high: np.ndarray, frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Boxes (..., n, 3) low and high round boxes (n, 3) placed by frames (..., n, 3, 4)."""
    middle, half = (low + high)[..., None] / 2, (high - low)[..., None] / 2
    turn = frames[..., :3]
    middle, half = (turn @ middle)[..., 0] + frames[..., 3], (np.abs(turn) @ half)[..., 0]
    return middle - half, middle + half


def _within(low_a, high_a, low_b, high_b, within_mm: float) -> np.ndarray:
    """Whether boxes are nearer than that."""
    square = np.zeros(1)
    for k in range(3):
        apart = np.maximum(low_b[..., k] - high_a[..., k], low_a[..., k] - high_b[..., k])
        square = square + np.maximum(apart, 0) ** 2
    return square < within_mm**2
