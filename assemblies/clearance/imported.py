"""Neighbours that come as STEP files of other programs: closed triangle meshes with a proven distance from
the true surface."""

from __future__ import annotations

import hashlib
from functools import cache, cached_property
from io import BytesIO
from pathlib import Path

import numpy as np

import parts.files.cache
from assemblies.clearance.pieces import Piece
from parts.base.frozen import dataclass
from parts.files import stranger
from parts.files.cache import keep, kept

_CORNERS = np.array([[(k >> a) & 1 for a in range(3)] for k in range(8)], bool)
_NONE, _SIDES = np.zeros((0, 2), int), np.array([[0, 1], [1, 2], [2, 0]])
MOST_REMEMBERED = 64  # files


@dataclass(frozen=True, eq=False)
class Shell:
    """A closed mesh, triangles (n, 3, 3) mm facing outward, car coordinates at ride; the true surface lies
    within `error_mm` of it. Each triangle is one convex piece, under boxes."""

    triangles: np.ndarray
    error_mm: float

    @cached_property
    def key(self) -> str:
        return hashlib.sha256(
            np.ascontiguousarray(self.triangles).tobytes() + repr(self.error_mm).encode()
        ).hexdigest()

    @cached_property
    def box(self) -> np.ndarray:
        flat = self.triangles.reshape(-1, 3)
        return np.array([flat.min(0) - self.error_mm, flat.max(0) + self.error_mm])

    @property
    def point(self) -> np.ndarray:
        return self.triangles[0, 0]

    def moved(self, by) -> Shell:
        return Shell(self.triangles + np.asarray(by, float), self.error_mm)

    def mirrored(self) -> Shell:
        """Its mirror image in the car's middle plane."""
        return Shell((self.triangles * (1.0, -1.0, 1.0))[:, ::-1], self.error_mm)

    @cached_property
    def piece(self) -> Piece:
        """A tree of boxes down to the triangles: neighbours along a space-filling curve are paired, then the
        pairs, and so on."""
        flat = self.triangles[_along_curve(self.triangles.mean(1))]
        low, high, made = flat.min(1), flat.max(1), self._pieces(flat, _SIDES, flat.min(1), flat.max(1))
        while len(made) > 1:
            odd = len(made) % 2
            pairs = slice(0, len(made) - odd)
            rest = low[len(made) - odd :], high[len(made) - odd :], made[len(made) - odd :]
            low, high = (
                np.minimum(low[pairs][::2], low[pairs][1::2]),
                np.maximum(high[pairs][::2], high[pairs][1::2]),
            )
            corners = np.where(_CORNERS, high[:, None], low[:, None])
            made = (
                self._pieces(
                    corners, _NONE, low, high, list(zip(made[pairs][::2], made[pairs][1::2], strict=True))
                )
                + rest[2]
            )
            low, high = np.concatenate([low, rest[0]]), np.concatenate([high, rest[1]])
        return made[0]

    def _pieces(
        self,
        corners: np.ndarray,
        edges: np.ndarray,
        low: np.ndarray,
        high: np.ndarray,
        kids: list | None = None,
    ) -> list[Piece]:
        """A piece for each set of corners; what it would work out of itself is put there for all at once."""
        boxes, shapes = (
            np.stack([low, high], 1),
            np.concatenate([corners, np.zeros((*corners.shape[:2], 1))], 2),
        )
        made = [
            Piece(c, edges, self.error_mm, 0, kids is None, kids[k] if kids else (), short_mm=self.error_mm)
            for k, c in enumerate(corners)
        ]
        for piece, box, shape in zip(made, boxes, shapes, strict=True):
            piece.__dict__.update(box=box, shape=shape)
        return made

    def holds(self, point: np.ndarray) -> bool:
        """Whether a point that is not on the surface lies inside: the mesh's solid angle round it is 4π, not
        0.

        Source: A. van Oosterom, J. Strackee, The solid angle of a plane triangle, IEEE Trans. Biomed. Eng. 30
        (1983)."""
        if (point < self.box[0]).any() or (point > self.box[1]).any():
            return False
        a, b, c = (self.triangles[:, k] - point for k in range(3))
        la, lb, lc = (np.sqrt((v * v).sum(1)) for v in (a, b, c))
        top = (a * np.cross(b, c)).sum(1)
        foot = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        return abs(2 * np.arctan2(top, foot).sum()) > 2 * np.pi


def _along_curve(points: np.ndarray) -> np.ndarray:
    """Order of points along a curve that fills space (bits of x, y and z in turn: Morton's order)."""
    low, most = points.min(0), max(float(np.ptp(points, axis=0).max()), 1e-9)
    cell = ((points - low) / most * 1023).astype(np.int64)
    key = np.zeros(len(points), np.int64)
    for bit in range(10):
        for axis in range(3):
            key |= ((cell[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.argsort(key, kind="stable")


@dataclass(frozen=True, eq=False)
class Meshes:
    """Triangles (n, 3, 3) mm of each solid of a STEP file, in the file's axes, outward; how far the true
    surface is from them at
    most: proven, but for `unproven_faces`; how many faces of the file belong to no solid and are left out."""

    solids: tuple[np.ndarray, ...]
    error_mm: float
    loose_faces: int
    unproven_faces: int = 0


def read_step(
    path: str | Path, matrix=None, error_mm: float = 0.025, mirrored: bool = False
) -> tuple[Shell, ...]:
    """One shell for each solid of a STEP file, mirrored in the file's own y where asked, then placed by a 4 x
    4 matrix.

    Raises ValueError as `meshes_of` does."""
    m = np.eye(4) if matrix is None else np.asarray(matrix, float)
    found = meshes_of(path, error_mm)
    own = [(mesh * (1.0, -1.0, 1.0))[:, ::-1] if mirrored else mesh for mesh in found.solids]
    return tuple(Shell(mesh @ m[:3, :3].T + m[:3, 3], found.error_mm) for mesh in own)


def meshes_of(path: str | Path, error_mm: float) -> Meshes:
    """The solids of a STEP file as triangles, within `error_mm` of the true surface where that can be had.

    Kept by the file's content; a file not met before is read by the CAD kernel in a process of its own.
    Raises ValueError where the file is not there, cannot be read, or holds no solid that is sound."""
    path = Path(path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise ValueError(f"{path.name}: no such file") from None
    except OSError as e:
        raise ValueError(f"{path.name} cannot be read: {e.strerror}") from None
    name = hashlib.sha256(_making() + repr(float(error_mm)).encode() + data).hexdigest()
    if name not in _memory:
        if len(_memory) >= MOST_REMEMBERED:
            _memory.clear()
        _memory[name] = _from_disk(name) or _made(path, name, error_mm)
    return _memory[name]


_memory: dict[str, Meshes] = {}


@cache
def _making() -> bytes:
    """How triangles are made, as bytes: the source of it and the kernel's version; neither loads the
    kernel."""
    from importlib.metadata import version

    source = b"".join(
        Path(parts.files.cache.__file__).with_name(f"{n}.py").read_bytes()
        for n in ("facets", "facet_error", "surface_bend")
    )
    return hashlib.sha256(version("cadquery-ocp").encode() + source).digest()


def _made(path: Path, name: str, error_mm: float) -> Meshes:
    try:
        body = stranger.mesh(path, error_mm)
    except ValueError as e:
        raise ValueError(f"{path.name} {e}") from None
    keep(name, "mesh", body)
    return _of(body)


def _from_disk(name: str) -> Meshes | None:
    body = kept(name, "mesh")
    return None if body is None else _of(body)


def _of(body: bytes) -> Meshes:
    with np.load(BytesIO(body)) as found:
        solids = np.split(found["triangles"], np.cumsum(found["counts"])[:-1])
        return Meshes(tuple(solids), float(found["error"]), int(found["loose"]), int(found["unproven"]))
