"""A shaded picture of the whole corner at ride height, from its real solids."""
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from assemblies.step import colour_of
from assemblies.study import Study

LIGHT = np.array([0.35, 0.45, 0.82])
WIDTH_PX, MARGIN_PX = 1300, 25
CHUNK_PX = 400_000
LOOK_DEG = (20.0, 32.0)  # elevation, and bearing from straight ahead towards the corner's own side


def draw(done: Study, path: Path, progress: Callable[..., None] = lambda *_: None) -> Path:
    """PNG of every placed part, seen from ahead and outside; the wheel is left out so that the joints show."""
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    from parts.solid import placed, solid
    progress("picture")
    triangles, colours = [], []
    for p in done.layout.placed:
        if p.body == "wheel":
            continue
        points, faces = placed(solid(p.form), p.frame).tessellate(0.4, 0.4)
        mesh = np.array([v.toTuple() for v in points])[np.array(faces)]
        triangles.append(mesh)
        colours.append(np.repeat([colour_of(p.body, p.carrier)], len(mesh), 0))
    mesh, colour = np.concatenate(triangles), np.concatenate(colours)
    elevation, bearing = np.radians(LOOK_DEG)
    side = 1 if done.layout.job.corner.side == "left" else -1
    forward = -np.array([np.cos(elevation) * np.cos(bearing), side * np.cos(elevation) * np.sin(bearing), np.sin(elevation)])
    right = np.cross(forward, [0, 0, 1])
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    normal = np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    seen = normal @ forward < 0
    mesh, colour, normal = mesh[seen], colour[seen], normal[seen]
    shade = 0.45 + 0.55 * np.clip(normal @ (LIGHT / np.linalg.norm(LIGHT)), 0, 1)
    image = _raster(np.stack([mesh @ right, mesh @ up, mesh @ forward], -1), colour * shade[:, None])
    path.parent.mkdir(parents=True, exist_ok=True)
    plt.imsave(path, image, metadata={"Software": None})
    return path


def _raster(mesh: np.ndarray, colour: np.ndarray) -> np.ndarray:
    """Nearest face at every pixel; drawn at twice the size and averaged down. `mesh` (n, 3, 3): right, up, depth.

    Every triangle is cut into the spans of pixels its rows cover; spans are written furthest first, where they are nearer
    than what stands there already."""
    low, high = mesh[..., :2].reshape(-1, 2).min(0), mesh[..., :2].reshape(-1, 2).max(0)
    scale = 2 * (WIDTH_PX - 2 * MARGIN_PX) / (high[0] - low[0])
    rows, columns = int(4 * MARGIN_PX + scale * (high[1] - low[1])) // 2 * 2, 2 * WIDTH_PX
    image, depth = np.ones((rows * columns, 3)), np.full(rows * columns, np.inf)
    x = (mesh[..., 0] - low[0]) * scale + 2 * MARGIN_PX
    y = (high[1] - mesh[..., 1]) * scale + 2 * MARGIN_PX
    triangle, row, start, count = _spans(x, y)
    far = _plane(x, y, mesh[..., 2])
    ends = np.cumsum(count)
    for first in range(0, int(ends[-1]), CHUNK_PX):
        part = slice(*np.searchsorted(ends, [first, first + CHUNK_PX], "right"))
        which = np.repeat(np.arange(len(count))[part], count[part])
        step = np.arange(len(which)) - np.repeat(np.cumsum(count[part]) - count[part], count[part])
        px, py, t = start[which] + step, row[which], triangle[which]
        z, at = far[0, t] + far[1, t] * px + far[2, t] * py, py * columns + px
        near = np.nonzero(z < depth[at])[0]
        near = near[np.argsort(-z[near], kind="stable")]
        depth[at[near]], image[at[near]] = z[near], colour[t[near]]
    return image.reshape(rows // 2, 2, columns // 2, 2, 3).mean((1, 3))


def _spans(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, ...]:
    """Triangle, row, first pixel and number of pixels of every row a triangle covers; spans of no pixel left out."""
    top = np.ceil(y.min(1)).astype(int)
    tall = np.maximum(np.floor(y.max(1)).astype(int) - top + 1, 0)
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
    kept = np.isfinite(left) & (np.floor(right) >= np.ceil(left))
    first = np.ceil(left[kept]).astype(int)
    return triangle[kept], row[kept], first, np.floor(right[kept]).astype(int) - first + 1


def _plane(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Depth of each triangle as z0 + zx·x + zy·y: (3, n)."""
    with np.errstate(all="ignore"):
        d = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
        zx = ((z[:, 1] - z[:, 0]) * (y[:, 2] - y[:, 0]) - (z[:, 2] - z[:, 0]) * (y[:, 1] - y[:, 0])) / d
        zy = ((x[:, 1] - x[:, 0]) * (z[:, 2] - z[:, 0]) - (x[:, 2] - x[:, 0]) * (z[:, 1] - z[:, 0])) / d
        return np.nan_to_num(np.stack([z[:, 0] - zx * x[:, 0] - zy * y[:, 0], zx, zy]), nan=1e9, posinf=1e9, neginf=1e9)
