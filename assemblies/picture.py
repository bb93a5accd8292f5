"""A shaded picture of the whole corner at ride height, from its real solids."""
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from assemblies.step import colour_of
from assemblies.study import Study

LIGHT = np.array([0.35, 0.45, 0.82])
WIDTH_PX, MARGIN_PX = 1300, 25
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
        points, faces = placed(solid(p.form), p.frame).tessellate(0.3, 0.3)
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
    """Nearest faces by depth at every pixel; drawn at twice the size and averaged down. `mesh` (n, 3, 3): right, up, depth."""
    low, high = mesh[..., :2].reshape(-1, 2).min(0), mesh[..., :2].reshape(-1, 2).max(0)
    scale = 2 * (WIDTH_PX - 2 * MARGIN_PX) / (high[0] - low[0])
    size = (int(2 * MARGIN_PX * 2 + scale * (high[1] - low[1])) // 2 * 2, 2 * WIDTH_PX)
    image, depth = np.ones((*size, 3)), np.full(size, np.inf)
    x = (mesh[..., 0] - low[0]) * scale + 2 * MARGIN_PX
    y = (high[1] - mesh[..., 1]) * scale + 2 * MARGIN_PX
    x0, x1 = np.floor(x.min(1)).astype(int), np.ceil(x.max(1)).astype(int) + 1
    y0, y1 = np.floor(y.min(1)).astype(int), np.ceil(y.max(1)).astype(int) + 1
    area = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
    for i in np.nonzero(np.abs(area) > 1e-6)[0]:
        px, py = np.arange(x0[i], x1[i])[None, :], np.arange(y0[i], y1[i])[:, None]
        a = ((x[i, 1] - px) * (y[i, 2] - py) - (x[i, 2] - px) * (y[i, 1] - py)) / area[i]
        b = ((x[i, 2] - px) * (y[i, 0] - py) - (x[i, 0] - px) * (y[i, 2] - py)) / area[i]
        c = 1 - a - b
        far = a * mesh[i, 0, 2] + b * mesh[i, 1, 2] + c * mesh[i, 2, 2]
        part = np.s_[y0[i]:y1[i], x0[i]:x1[i]]
        near = (a >= -1e-9) & (b >= -1e-9) & (c >= -1e-9) & (far < depth[part])
        depth[part][near] = far[near]
        image[part][near] = colour[i]
    return image.reshape(size[0] // 2, 2, size[1] // 2, 2, 3).mean((1, 3))
