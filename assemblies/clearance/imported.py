"""Neighbours that come as STEP files of other programs: closed triangle meshes with a proven distance from the true surface."""
from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from assemblies.clearance.pieces import Piece

_CORNERS = np.array([[(k >> a) & 1 for a in range(3)] for k in range(8)], bool)
_NONE = np.zeros((0, 2), int)


@dataclass(frozen=True, eq=False)
class Shell:
    """A closed mesh, triangles (n, 3, 3) mm facing outward, car coordinates at ride; the true surface lies within
    `error_mm` of it. Each triangle is one convex piece, under boxes."""

    triangles: np.ndarray
    error_mm: float

    @cached_property
    def key(self) -> str:
        return hashlib.sha256(np.ascontiguousarray(self.triangles).tobytes() + repr(self.error_mm).encode()).hexdigest()

    @cached_property
    def box(self) -> np.ndarray:
        flat = self.triangles.reshape(-1, 3)
        return np.array([flat.min(0) - self.error_mm, flat.max(0) + self.error_mm])

    @property
    def point(self) -> np.ndarray:
        return self.triangles[0, 0]

    def moved(self, by) -> Shell:
        return Shell(self.triangles + np.asarray(by, float), self.error_mm)

    @cached_property
    def piece(self) -> Piece:
        """A tree of boxes down to the triangles."""
        return self._tree(np.arange(len(self.triangles)), self.triangles.mean(1))

    def _tree(self, which: np.ndarray, middles: np.ndarray) -> Piece:
        if len(which) == 1:
            return Piece(self.triangles[which[0]], _NONE, self.error_mm)
        axis = int(np.ptp(middles[which], axis=0).argmax())
        which = which[np.argsort(middles[which, axis], kind="stable")]
        kids = tuple(self._tree(part, middles) for part in (which[:len(which) // 2], which[len(which) // 2:]))
        flat = self.triangles[which].reshape(-1, 3)
        return Piece(np.where(_CORNERS, flat.max(0), flat.min(0)), _NONE, self.error_mm, 0, False, kids)

    def holds(self, point: np.ndarray) -> bool:
        """Whether a point that is not on the surface lies inside: the mesh's solid angle round it is 4π, not 0.

        Source: A. van Oosterom, J. Strackee, The solid angle of a plane triangle, IEEE Trans. Biomed. Eng. 30 (1983)."""
        a, b, c = (self.triangles[:, k] - point for k in range(3))
        la, lb, lc = (np.sqrt((v * v).sum(1)) for v in (a, b, c))
        top = (a * np.cross(b, c)).sum(1)
        foot = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        return abs(2 * np.arctan2(top, foot).sum()) > 2 * np.pi


def read_step(path: str | Path, matrix=None, error_mm: float = 0.05) -> tuple[Shell, ...]:
    """One shell for each solid of a STEP file, placed by a 4 x 4 matrix. Loads the CAD kernel.

    Raises ValueError where the file is not there, cannot be read, or holds no solid."""
    path = Path(path)
    if not path.is_file():
        raise ValueError(f"neighbour {path}: no such file")
    from parts.solid import plain_solids
    try:
        solids = plain_solids(path)
    except Exception as e:  # the kernel raises many kinds for a broken file
        raise ValueError(f"neighbour {path}: not a STEP file that can be read ({e})") from None
    if not solids:
        raise ValueError(f"neighbour {path}: it holds no solid; export solids, not surfaces or sketches")
    m = np.eye(4) if matrix is None else np.asarray(matrix, float)
    out = []
    for solid in solids:
        vertices, faces = solid.tessellate(error_mm / 2, 0.2)
        points = np.array([v.toTuple() for v in vertices]) if vertices else np.zeros((0, 3))
        triangles = points[np.array(faces, int).reshape(-1, 3)] if len(points) else np.zeros((0, 3, 3))
        area = np.sqrt((np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]) ** 2).sum(1)) if len(triangles) else np.zeros(0)
        triangles = triangles[area > 1e-9]
        if not len(triangles):
            raise ValueError(f"neighbour {path}: a solid in it is empty")
        volume = (triangles[:, 0] * np.cross(triangles[:, 1], triangles[:, 2])).sum() / 6
        if volume < 0:
            triangles = triangles[:, ::-1]
        out.append(Shell(triangles @ m[:3, :3].T + m[:3, 3], error_mm))
    return tuple(out)
