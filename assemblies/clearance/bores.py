"""Pieces within the bore of a ring that stands still, or before its ends, met by the bore and not wedge by
wedge.

With r from the ring's axis and y from the plane of its end outwards, all its metal has r of the bore's radius
or more and y of 0 or less. So along any way (cos φ outwards, sin φ back to the ring, both 0 or more) the gap
of a piece is at least the least over its points of cos φ (bore - r) + sin φ y. That is a concave function of
where a point is, and changes by no more than the point moves: over a cell of travel, while the piece's points
stay within B of the straight lines between their places at the cell's corners (bounds.py), it is at least the
least of the corners, less B. φ is 0 for a piece inside the ring.
"""

from __future__ import annotations

import numpy as np

from assemblies.clearance.scene import Scene
from parts.shape.form import cross


def reaches(
    scene: Scene, which: np.ndarray, rings: np.ndarray, frames: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Of pieces (n,) in frames (n, poses, 3, 4) and rings that stand still: how far each piece reaches along
    its way, cos φ r - sin φ y (n, poses), and minus how far the ring is, -cos φ bore (n,); and the way in
    space (n, 3) where the piece is nearest; whether it stays nearer to the axis than the bore (n,)."""
    reach_i, reach_j, within = np.empty(frames.shape[:2]), np.empty(len(which)), np.empty(len(which), bool)
    axis, centre, bore = scene.axis[rings], scene.centre[rings], scene.bore_mm[rings] / 2
    way = cross(axis, np.eye(3)[np.abs(axis).argmin(1)])  # of a piece about the axis: any way outwards
    way /= np.sqrt((way**2).sum(1))[:, None]
    for g, stack in scene.stacks.items():
        pick = (scene.group[which] == g).nonzero()[0]
        if not len(pick):
            continue
        shape, f, a = stack[scene.slot[which[pick]]], frames[pick], axis[pick]
        at = np.einsum("npij,njc->npci", f[..., :3], shape[:, :3]) + f[:, :, None, :, 3]
        at -= centre[pick, None, None]
        x = np.einsum("npci,ni->npc", at, a)
        off = at - x[..., None] * a[:, None, None]
        radius = shape[:, None, 3]  # of discs square to the piece's own axis
        tilt = cross(np.einsum("npij,nj->npi", f[..., :3], scene.axis[which[pick]]), a[:, None])
        wide = radius * np.sqrt((tilt**2).sum(-1))[..., None]
        away = np.sqrt((off**2).sum(-1))
        r, ends = away + radius, (-x - wide, x - scene.bore_length_mm[rings[pick], None, None] - wide)
        before = np.stack([y.min((1, 2)) for y in ends])
        side = before.argmax(0)
        y, sense = np.where(side[:, None, None] == 1, ends[1], ends[0]), np.where(side == 1, 1.0, -1.0)
        room, beyond = bore[pick, None] - r.max(2), np.maximum(y.min(2), 0.0)
        rows = np.arange(len(pick))
        pose = np.hypot(room, beyond).argmin(1)
        turn = np.arctan2(beyond[rows, pose], np.maximum(room[rows, pose], 1e-9))
        c, s = np.cos(turn), np.sin(turn)
        each = c[:, None, None] * r - s[:, None, None] * y
        reach_i[pick], reach_j[pick], within[pick] = each.max(2), -c * bore[pick], (room > 0).all(1)
        furthest = each[rows, pose].argmax(1)
        size = away[rows, pose, furthest]
        out = np.where(
            (size > 1e-6)[:, None], off[rows, pose, furthest] / np.maximum(size, 1e-6)[:, None], way[pick]
        )
        way[pick] = c[:, None] * out - (s * sense)[:, None] * a
    return reach_i, reach_j, way, within
