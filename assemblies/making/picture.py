"""A shaded picture of the whole corner at ride height, from its real solids."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from assemblies.study import Study
from parts.base.frozen import dataclass

LIGHT = np.array([0.35, 0.45, 0.82])
WIDTH_PX, MARGIN_PX = 1300, 25
CHUNK_PX = 400_000
LOOK_DEG = (20.0, 32.0)  # elevation, and bearing from straight ahead towards the corner's own side


@dataclass(frozen=True)
class Camera:
    """A view without perspective: unit vectors, `forward` into the picture."""

    right: np.ndarray
    up: np.ndarray
    forward: np.ndarray

    @staticmethod
    def looking(forward) -> Camera:
        """Level, but where it looks straight up or down: there x is up."""
        forward = np.asarray(forward, float) / np.linalg.norm(forward)
        right = np.cross(forward, [0.0, 0.0, 1.0] if abs(forward[2]) < 0.999 else [1.0, 0.0, 0.0])
        right /= np.linalg.norm(right)
        return Camera(right, np.cross(right, forward), forward)

    @staticmethod
    def usual(side: str, look_deg: tuple[float, float] = LOOK_DEG) -> Camera:
        """From ahead and outside, where no other elevation and bearing are given."""
        elevation, bearing = np.radians(look_deg)
        out = 1 if side == "left" else -1
        return Camera.looking(
            -np.array(
                [
                    np.cos(elevation) * np.cos(bearing),
                    out * np.cos(elevation) * np.sin(bearing),
                    np.sin(elevation),
                ]
            )
        )

    def seen(self, points) -> np.ndarray:
        """Right, up and depth of points (..., 3), mm."""
        return np.stack([points @ self.right, points @ self.up, points @ self.forward], -1)


@dataclass(frozen=True)
class View:
    """A picture (rows, columns, 3) and how it was taken."""

    image: np.ndarray
    camera: Camera
    low: np.ndarray  # right and up at the window's lower left corner
    high: np.ndarray
    scale: float  # pixels a mm
    margin_px: float
    shown: np.ndarray  # which item is seen at a pixel (rows, columns), -1 none

    def pixel(self, point) -> np.ndarray:
        """Column and row of a point in car coordinates."""
        x, y, _ = self.camera.seen(np.asarray(point, float))
        return np.array(
            [
                self.margin_px + (x - self.low[0]) * self.scale,
                self.margin_px + (self.high[1] - y) * self.scale,
            ]
        )


def spread(wanted: Sequence[float], room: float, least: float) -> list[float]:
    """Places near the wanted ones, at least so far apart, within the room."""
    out: list[float] = []
    for y in wanted:
        out.append(max(y, out[-1] + least if out else least))
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], room - least * (len(out) - k))
    return out


def corner(done: Study) -> View:
    """All but the wheel, at ride height."""
    from assemblies.making.drawn import drawn

    return view(
        [(d.shape, d.where, d.colour) for d in drawn(done, wanted=lambda p: p.body != "wheel")],
        Camera.usual(done.job.corner.side),
    )


def mesh_of(shape, where) -> np.ndarray:
    """Triangles (n, 3, 3) of a solid, placed."""
    from parts.files.measured import triangles
    from parts.files.solid import placed

    corners, faces = triangles(placed(shape, where), 0.4, 0.4)
    return corners[faces]


Facets = tuple[Any, Any, tuple[float, ...]]  # solid or its triangles, where it stands, colour


def view(
    items: Sequence[Facets], camera: Camera, window=None, width_px: int = WIDTH_PX, paper=(1.0, 1.0, 1.0)
) -> View:
    """Picture of (solid or its triangles, frame, colour) on `paper`; `window`: low and high corner, right and
    up, mm; None: all of them."""
    meshes = [shape if isinstance(shape, np.ndarray) else mesh_of(shape, where) for shape, where, _ in items]
    mesh = np.concatenate(meshes)
    colour = np.concatenate([np.repeat([c], len(m), 0) for m, (*_, c) in zip(meshes, items, strict=True)])
    normal = np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    seen = normal @ camera.forward < 0
    mesh, colour, normal = mesh[seen], colour[seen], normal[seen]
    owner = np.append(np.repeat(np.arange(len(meshes)), [len(m) for m in meshes])[seen], -1)
    shade = 0.45 + 0.55 * np.clip(normal @ (LIGHT / np.linalg.norm(LIGHT)), 0, 1)
    flat = camera.seen(mesh)
    whole = window is None
    low, high = (
        (flat[..., :2].reshape(-1, 2).min(0), flat[..., :2].reshape(-1, 2).max(0))
        if whole
        else map(np.asarray, window)
    )
    if not whole:
        meets = ((flat[..., :2].min(1) <= high) & (flat[..., :2].max(1) >= low)).all(1)
        flat, colour, shade, owner = flat[meets], colour[meets], shade[meets], owner[np.append(meets, True)]
    margin = MARGIN_PX if whole else 0
    scale = (width_px - 2 * margin) / (high[0] - low[0])
    image, nearest = _raster(flat, colour * shade[:, None], low, high, width_px, margin, paper)
    return View(image, camera, low, high, scale, margin, owner[nearest])


def _raster(
    mesh: np.ndarray, colour: np.ndarray, low, high, width_px: int, margin_px: int, paper
) -> tuple[np.ndarray, np.ndarray]:
    """Nearest face at every pixel, drawn at twice the size and averaged down; and which it is, -1 none.
    `mesh` (n, 3, 3): right, up, depth.

    Every triangle is cut into the spans of pixels its rows cover; each pixel keeps the triangle that is
    nearest there."""
    scale = 2 * (width_px - 2 * margin_px) / (high[0] - low[0])
    rows, columns = int(4 * margin_px + scale * (high[1] - low[1])) // 2 * 2, 2 * width_px
    seen, depth = np.full(rows * columns, -1, np.int32), np.full(rows * columns, np.inf)
    x = (mesh[..., 0] - low[0]) * scale + 2 * margin_px
    y = (high[1] - mesh[..., 1]) * scale + 2 * margin_px
    triangle, row, start, count = _spans(x, y, rows, columns)
    far = _plane(x, y, mesh[..., 2])
    at_start = far[0, triangle] + far[1, triangle] * start + far[2, triangle] * row
    first_pixel, per_pixel = row * columns + start, far[1, triangle]
    ends = np.cumsum(count)
    for first in range(0, int(ends[-1]) if len(ends) else 0, CHUNK_PX):
        part = slice(*np.searchsorted(ends, [first, first + CHUNK_PX], "right"))
        own = count[part]
        span = np.repeat(np.arange(len(own)), own)
        step = np.arange(len(span)) - (np.cumsum(own) - own)[span]
        z = at_start[part][span] + per_pixel[part][span] * step
        at = first_pixel[part][span] + step
        np.minimum.at(depth, at, z)
        nearest = np.flatnonzero(z == depth[at])
        seen[at[nearest]] = triangle[part][span[nearest]]
    colours = np.concatenate([colour, np.asarray(paper, float)[None]]).astype(np.float32)
    a, b, c, d = (seen.reshape(rows, columns)[i::2, j::2] for i in (0, 1) for j in (0, 1))
    image, mixed = colours.take(a, 0), (a != b) | (a != c) | (a != d)
    a, b, c, d = (colours[corner[mixed]] for corner in (a, b, c, d))
    image[mixed] = ((a + b) + (c + d)) / 4
    return image, seen.reshape(rows, columns)[::2, ::2]


def _spans(x: np.ndarray, y: np.ndarray, rows: int, columns: int) -> tuple[np.ndarray, ...]:
    """Triangle, row, first pixel and number of pixels of every row a triangle covers in the picture; spans of
    no pixel left out."""
    top = np.maximum(np.ceil(y.min(1)).astype(int), 0)
    tall = np.maximum(np.minimum(np.floor(y.max(1)).astype(int), rows - 1) - top + 1, 0)
    triangle = np.repeat(np.arange(len(x)), tall)
    row = np.arange(len(triangle)) - np.repeat(np.cumsum(tall) - tall, tall) + top[triangle]
    left, right = np.full(len(row), np.inf), np.full(len(row), -np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        ya, yb, xa, xb = y[triangle, a], y[triangle, b], x[triangle, a], x[triangle, b]
        with np.errstate(all="ignore"):
            share = (row - ya) / (yb - ya)
        met = (share >= 0) & (share <= 1)
        cut = np.where(met, xa + share * (xb - xa), np.nan)
        left, right = np.fmin(left, cut), np.fmax(right, cut)
    left, right = np.maximum(left, 0), np.minimum(right, columns - 1)
    kept = np.isfinite(left) & np.isfinite(right) & (np.floor(right) >= np.ceil(left))
    first = np.ceil(left[kept]).astype(int)
    return triangle[kept], row[kept], first, np.floor(right[kept]).astype(int) - first + 1


def _plane(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Depth of each triangle as z0 + zx·x + zy·y: (3, n)."""
    with np.errstate(all="ignore"):
        d = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
        zx = ((z[:, 1] - z[:, 0]) * (y[:, 2] - y[:, 0]) - (z[:, 2] - z[:, 0]) * (y[:, 1] - y[:, 0])) / d
        zy = ((x[:, 1] - x[:, 0]) * (z[:, 2] - z[:, 0]) - (x[:, 2] - x[:, 0]) * (z[:, 1] - z[:, 0])) / d
        return np.nan_to_num(
            np.stack([z[:, 0] - zx * x[:, 0] - zy * y[:, 0], zx, zy]), nan=1e9, posinf=1e9, neginf=1e9
        )
