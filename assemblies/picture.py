"""A shaded picture of the whole corner at ride height, from its real solids."""
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from assemblies.step import colour_of
from assemblies.study import Study

LIGHT = np.array([0.35, 0.45, 0.82])
LOOK_DEG = (22.0, 20.0)  # elevation, and bearing from straight ahead towards the corner's own side


def draw(done: Study, path: Path, progress: Callable[..., None] = lambda *_: None) -> Path:
    """PNG of every placed part, nearest faces last; the wheel is left thin so that the joints show."""
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    from matplotlib.collections import PolyCollection

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
    order = np.argsort(-(mesh.mean(1) @ forward))
    shade = 0.45 + 0.55 * np.clip(normal @ (LIGHT / np.linalg.norm(LIGHT)), 0, 1)
    flat = np.stack([mesh @ right, mesh @ up], -1)[order]
    fill = (colour * shade[:, None])[order]
    fig, ax = plt.subplots(figsize=(11, 7), layout="constrained")
    ax.add_collection(PolyCollection(flat, facecolors=fill, edgecolors=fill, linewidths=0.2))
    low, high = flat.reshape(-1, 2).min(0) - 20, flat.reshape(-1, 2).max(0) + 20
    ax.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), aspect="equal")
    ax.axis("off")
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, dpi=110, metadata={"Software": None})
    plt.close(fig)
    return path
