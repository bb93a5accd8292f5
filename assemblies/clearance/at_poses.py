"""The gaps of a pair at single poses: exact distances of convex pieces there, nothing between the poses.

For pictures and for a slider: what is guaranteed over all of travel and rack is `check`'s to say. The pieces
reach at most a tenth of the tolerance past the metal, so a gap errs to the safe side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assemblies.clearance.bounds import CornerBounds
from assemblies.clearance.check import Limits
from assemblies.clearance.library import Library
from assemblies.clearance.plan import Body, Cast, Groups, Joint
from assemblies.clearance.scene import Scene
from parts.base.frozen import dataclass

CHUNK = 2_000_000  # boxes of pieces compared at once
ROUNDS = 4
EVEN_MM = 1e-9  # of pieces that overlap all are asked whose boxes meet


@dataclass(frozen=True)
class AtPoses:
    """One pair at poses (n,): its gap (minus depth), what of it is over what is asked, and the two nearest
    points, car coordinates at ride height, with the carrier each rides on. Of joined bodies
    the parts that lack most tell the row. NaN where the corner cannot be there."""

    gap_mm: np.ndarray
    spare_mm: np.ndarray
    point_a: np.ndarray
    point_b: np.ndarray
    carrier_a: np.ndarray
    carrier_b: np.ndarray


@dataclass(frozen=True)
class _Frames:
    frames: np.ndarray


def at_poses(
    names: tuple[str, str],
    bodies: Sequence[Body],
    joints: Sequence[Joint],
    mechanism,
    wheel_mm,
    rack_mm,
    limits: Limits,
    tolerance_mm: float = 0.1,
) -> AtPoses | None:
    """Bodies of both names at poses (arrays of one length). None where there is nothing to look at: they ride
    together, or one of them is an imported mesh, which distances of pieces alone do not tell."""
    own = [b for b in bodies if b.name in names]
    if any(b.shells for b in own):
        return None
    cast = Cast(own, [j for j in joints if {j.a, j.b} == set(names)])
    if not cast.pairs:
        return None
    wheel, rack = np.asarray(wheel_mm, float), np.asarray(rack_mm, float)
    frames = CornerBounds(mechanism).frames(wheel, rack)
    reached = np.flatnonzero(np.isfinite(frames).all((1, 2, 3)))
    made = Groups(cast, cast.pairs, tolerance_mm)
    scene = made.forest.scene()
    library = Library(scene, _Frames(frames[reached]))
    n = len(wheel)
    gap, spare = np.full(n, np.nan), np.full(n, np.nan)
    ends, on = np.full((2, n, 3), np.nan), np.zeros((2, n), int)
    for pair, groups in zip(cast.pairs, made.groups, strict=True):
        one, two = (np.array(scene.leaves(g), int) for g in groups)
        if not (len(one) and len(two)):
            continue
        if pair.a != names[0]:
            one, two = two, one
        least, i, j, a, b = _least(library, one, two, len(reached))
        left = least - limits.of_pair(pair, cast)
        less = ~(left >= spare[reached])
        at = reached[less]
        gap[at], spare[at] = least[less], left[less]
        for side, piece, point in ((0, i, a), (1, j, b)):
            carrier = scene.carrier[piece[less]]
            f = frames[at, carrier]
            ends[side, at] = np.einsum("nji,nj->ni", f[:, :, :3], point[less] - f[:, :, 3])
            on[side, at] = carrier
    return AtPoses(gap, spare, ends[0], ends[1], on[0], on[1])


def _least(library: Library, one: np.ndarray, two: np.ndarray, count: int) -> tuple[np.ndarray, ...]:
    """Least distance of two lists of pieces at each pose, which two and between which points."""
    scene: Scene = library.scene
    ka, kb = (x.ravel() for x in np.indices((len(one), len(two))))
    moving = scene.carrier[one[ka]] != scene.carrier[two[kb]]
    ka, kb = ka[moving], kb[moving]
    i, j = one[ka], two[kb]
    least, who = np.full(count, np.inf), np.zeros(count, int)
    ends = np.zeros((2, count, 3))
    step = max(1, CHUNK // max(len(i), 1))
    for poses in np.array_split(np.arange(count), max(1, -(-count // step))):
        frames = library.grid.frames[poses]
        (low_a, high_a), (low_b, high_b) = (scene.boxes(x, frames) for x in (one, two))
        apart = np.maximum(np.maximum(low_b[:, kb] - high_a[:, ka], low_a[:, ka] - high_b[:, kb]), 0.0)
        bound = np.sqrt((apart**2).sum(-1))

        def ask(pose, k, poses=poses):
            found, _, a, b = library.ask(i[k], j[k], poses[pose])
            nearest_last = np.argsort(-found, kind="stable")
            best = np.full(len(poses), -1)
            best[pose[nearest_last]] = nearest_last
            m = best[best >= 0]
            m = m[found[m] < least[poses[pose[m]]]]
            at = poses[pose[m]]
            least[at], who[at], ends[0, at], ends[1, at] = found[m], k[m], a[m], b[m]

        every = np.arange(len(poses))
        for turn in range(ROUNDS):  # the nearest boxes first: what they leave no room for is not asked
            k = bound.argmin(1)
            worth = bound[every, k] < np.maximum(least[poses], EVEN_MM)
            if not worth.any():
                break
            ask(every[worth], k[worth])
            bound[every, k] = np.inf
            if turn + 1 < ROUNDS:
                continue
            pose, k = np.nonzero(bound < np.maximum(least[poses], EVEN_MM)[:, None])
            way = ends[1, poses[pose]] - ends[0, poses[pose]]
            size = np.linalg.norm(way, axis=1)[:, None]
            way = np.where(size > 1e-6, way / np.maximum(size, 1e-9), (0.0, 0.0, 1.0))
            if len(k):
                room = library.room(i[k], j[k], poses[pose], way)
                near = room < np.maximum(least[poses[pose]], EVEN_MM)
                if near.any():
                    ask(pose[near], k[near])
    return least, i[who], j[who], ends[0], ends[1]
