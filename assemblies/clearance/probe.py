"""Room for things held up at single poses: a bolt on its way out, a socket on its nut, a spanner and its
swing.

Exact distances of convex pieces at the poses asked for, nothing between them: a pose found clear is a proof
that there is one; that there is none is only as sure as the poses are near each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assemblies.clearance.bounds import Corner, carrier_index
from assemblies.clearance.library import Library
from assemblies.clearance.pieces import Piece, leaves, pieces
from assemblies.clearance.plan import Body, form_box
from assemblies.clearance.scene import Scene, box_corners
from parts.shape.form import Form

PROBE_MM = 0.02  # a round probe's polygon reaches past its circle


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


@dataclass(frozen=True)
class _Poses:
    frames: np.ndarray


class ProbedBodies:
    """Bodies as convex pieces, in wait for probes; both reach at most `PROBE_MM` past their true surfaces, so
    a gap errs to the safe side."""

    def __init__(self, bodies: Sequence[Body], mechanism, tolerance_mm: float = 0.1):
        self.corner, self.tolerance_mm = Corner(mechanism), tolerance_mm
        self.shapes = [(b, k) for b in bodies for k in range(len(b.boxes))]
        self.boxes = np.concatenate([np.zeros((0, 2, 3)), *(b.boxes for b in bodies)])
        self.carriers = [carrier_index(b.carrier) for b, _ in self.shapes]
        self._known: dict[int, list[Piece]] = {}

    def _pieces(self, n: int) -> list[Piece]:
        if n not in self._known:  # as the check has them: most are known from there
            body, k = self.shapes[n]
            self._known[n] = [p for piece in body.pieces_of(k, self.tolerance_mm) for p in leaves(piece)]
        return self._known[n]

    def _around(self, probes: Sequence[Probe], frames: np.ndarray, within_mm: float) -> list[int]:
        """The shapes that some probe can be nearer to than that, by the boxes both sweep."""
        low, high = _swept(
            np.array([form_box(p.form) for p in probes]), [carrier_index(p.carrier) for p in probes], frames
        )
        to_low, to_high = _swept(self.boxes, self.carriers, frames)
        near = _within(low[:, None], high[:, None], to_low, to_high, within_mm + 2 * PROBE_MM)
        return np.flatnonzero(near.any(0)).tolist()

    def room(self, probes: Sequence[Probe], wheel_mm, within_mm: float, enough_mm: float = -np.inf) -> Room:
        """Gaps up to `within_mm` of every probe at every wheel height, rack straight ahead. A probe that
        lacks `enough_mm` to what rides with it lacks it at every height: it is not looked at further. Raises
        ValueError where the corner cannot reach a height."""
        wheel = np.atleast_1d(np.asarray(wheel_mm, float))
        frames = self.corner.frames(wheel, np.zeros(len(wheel)))
        if not np.isfinite(frames).all():
            raise ValueError("clearance: the corner cannot reach one of the wheel heights")
        gap, who = (
            np.full((len(probes), len(wheel)), float(within_mm)),
            np.full((len(probes), len(wheel)), "", object),
        )
        held = [
            (k, p)
            for k, probe in enumerate(probes)
            for piece in pieces(probe.form, PROBE_MM)
            for p in leaves(piece)
        ]
        around = (
            [(self.shapes[n][0], p) for n in self._around(probes, frames, within_mm) for p in self._pieces(n)]
            if held
            else []
        )
        if not around:
            return Room(gap, who)
        there, owner = len(around), np.array([k for k, _ in held])
        everything = [p for _, p in (*around, *held)]
        carrier = np.array(
            [
                *(carrier_index(b.carrier) for b, _ in around),
                *(carrier_index(probes[k].carrier) for k in owner),
            ]
        )
        scene, names = (
            Scene(everything, carrier, [(-1, -1)] * len(everything), list(range(len(everything)))),
            np.array([b.name for b, _ in around]),
        )
        library = Library(scene, _Poses(frames))
        looked = np.array([~np.isin(names, list(probes[k].spared)) for k in owner])
        together = carrier[there:, None] == carrier[None, :there]

        def least(pairs: np.ndarray, poses: np.ndarray, everywhere: bool) -> None:
            rows, columns = np.flatnonzero(pairs.any(1)), np.flatnonzero(pairs.any(0))
            if not len(rows):
                return
            low, high = scene.boxes(np.concatenate([there + rows, columns]), frames[poses])
            n = len(rows)
            i, j = np.nonzero(
                pairs[np.ix_(rows, columns)]
                & _within(
                    low[:, :n].min(0)[:, None],
                    high[:, :n].max(0)[:, None],
                    low[:, n:].min(0),
                    high[:, n:].max(0),
                    within_mm,
                )
            )
            t, k = np.nonzero(_within(low[:, i], high[:, i], low[:, n + j], high[:, n + j], within_mm))
            i, j, t = rows[i[k]], columns[j[k]], poses[t]
            if not len(i):
                return
            i, j, t = (x[self._near(library, there + i, j, t, within_mm)] for x in (i, j, t))
            if not len(i):
                return
            found = library.ask(there + i, j, t)[0]
            for n in np.argsort(found, kind="stable"):
                at = slice(None) if everywhere else slice(t[n], t[n] + 1)
                less = found[n] < gap[owner[i[n]], at]
                gap[owner[i[n]], at] = np.where(less, found[n], gap[owner[i[n]], at])
                who[owner[i[n]], at] = np.where(less, names[j[n]], who[owner[i[n]], at])

        least(looked & together, np.array([0]), True)
        least(looked & ~together & (gap[owner, :1] >= enough_mm), np.arange(len(wheel)), False)
        return Room(gap, who)

    @staticmethod
    def _near(library: Library, i, j, pose, within_mm: float) -> np.ndarray:
        """Which pairs the probe's own axis and the line of their middles do not keep apart."""
        scene, frames = library.scene, library.grid.frames
        f, g = frames[pose, scene.carrier[i]], frames[pose, scene.carrier[j]]
        axis = np.einsum("nij,nj->ni", f[:, :, :3], scene.along[i])
        away = (
            np.einsum("nij,nj->ni", g[:, :, :3], scene.middle[j])
            + g[:, :, 3]
            - np.einsum("nij,nj->ni", f[:, :, :3], scene.middle[i])
            - f[:, :, 3]
        )
        flat = away - (away * axis).sum(1)[:, None] * axis
        near = np.ones(len(i), bool)
        for n in (axis, -axis, flat, away):
            left = np.flatnonzero(near)
            size = np.sqrt((n[left] ** 2).sum(1))
            some = size > 1e-9
            left, way = left[some], n[left[some]] / size[some, None]
            near[left[library.room(i[left], j[left], pose[left], way) >= within_mm]] = False
        return near


def _swept(boxes: np.ndarray, carriers: list[int], frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Low and high (n, 3) of boxes (n, 2, 3) carried through the poses."""
    place = frames[:, carriers]
    at = np.einsum("tnij,nkj->tnki", place[..., :3], box_corners(boxes[:, 0], boxes[:, 1]))
    at += place[:, :, None, :, 3]
    return at.min((0, 2)), at.max((0, 2))


def _within(low_a, high_a, low_b, high_b, within_mm: float) -> np.ndarray:
    """Whether boxes are nearer than that."""
    apart = np.maximum(np.maximum(low_b - high_a, low_a - high_b), 0)
    return (apart**2).sum(-1) < within_mm**2
