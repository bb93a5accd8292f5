"""Pictures of the corner without a browser's 3D: for print, and for a page that has no WebGL.

Every surface is sampled densely enough for the picture's dots; each dot keeps the nearest sample. Faint bodies (the
wheel) let every other dot of a finer picture through, which averages to half when the picture is scaled down.
"""
from __future__ import annotations

import base64
from collections.abc import Mapping
from io import BytesIO

import numpy as np

from assemblies.report.scene import triangles
from assemblies.study import Study

WIDE, FINER, BORDER = 900, 2, 16  # dots; samples per dot; empty rim
ELEVATION_DEG, BEARING_DEG = 20.0, 30.0  # from straight ahead towards the corner's own side
LIGHT = np.array([0.3, 0.45, 0.84])
PAPER = (0.965, 0.968, 0.957)
FAINT = ("wheel",)


def pictures(study: Study, shapes: Mapping[str, object], heights_mm: list[float]) -> list[str]:
    """PNG as data addresses, one for each wheel height, all to the same scale and from the same place."""
    from assemblies.step import colour_of
    placed = [(p, *triangles(shapes[p.name]), np.array(colour_of(p.body, p.carrier))) for p in study.layout.placed if p.name in shapes]
    views = [_sampled(study, placed, z) for z in heights_mm]
    low, high = (f([f(v[0], 0) for v in views], 0) for f in (np.min, np.max))
    return [_png(flat, depth, colour, faint, low, high) for flat, depth, colour, faint in views]


def _view(side: str) -> np.ndarray:
    """Rows: right, up and towards the eye, in car axes."""
    e, b = np.radians([ELEVATION_DEG, BEARING_DEG])
    eye = np.array([np.cos(e) * np.cos(b), (1 if side == "left" else -1) * np.cos(e) * np.sin(b), np.sin(e)])
    right = np.cross([0, 0, 1.0], eye)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(eye, right), eye])


def _sampled(study: Study, placed, wheel_mm: float):
    """Samples of all surfaces that face the eye: place in the picture (mm), depth, colour, faint or not."""
    poses, view = study.mechanism.at(wheel_mm), _view(study.job.corner.side)
    size = 1.2  # mm between samples: set from the travel of a usual corner, about one fine dot
    out = []
    for p, corners, faces, colour in placed:
        where = p.frame.matrix() if p.carrier == "frame" else poses.frame(p.carrier) @ p.frame.matrix()
        at = (corners @ where[:3, :3].T + where[:3, 3]) @ view.T
        a, b, c = (at[faces[:, k]] for k in range(3))
        normal = np.cross(b - a, c - a)
        length = np.linalg.norm(normal, axis=1)
        seen = (normal[:, 2] > 1e-9 * length) & (length > 0)
        light = np.clip((normal[seen] / length[seen, None]) @ (view @ (LIGHT / np.linalg.norm(LIGHT))), 0, 1)
        points, which = _covered(a[seen], b[seen], c[seen], size)
        out.append((points[:, :2], points[:, 2], (colour * (0.42 + 0.58 * light[which, None])), np.full(len(points), p.body in FAINT)))
    return tuple(np.concatenate(x) for x in zip(*out, strict=True))


def _covered(a, b, c, size):
    """Points over triangles no further apart than `size` in the picture, and whose they are: rows from the corner
    opposite the shortest side to that side."""
    sides = np.stack([np.linalg.norm((p - q)[:, :2], axis=1) for p, q in ((b, c), (c, a), (a, b))])
    k = sides.argmin(0)
    corners = np.stack([a, b, c])
    n = np.arange(len(k))
    tip, one, two = corners[k, n], corners[(k + 1) % 3, n], corners[(k + 2) % 3, n]
    rows, dots = (np.maximum(np.ceil(s / size).astype(int), 1) + 1 for s in (sides.max(0), sides.min(0)))
    which = np.repeat(n, rows * dots)
    place = np.arange(len(which)) - np.repeat(np.cumsum(rows * dots) - rows * dots, rows * dots)
    s = (place // dots[which] / (rows[which] - 1))[:, None]
    t = (place % dots[which] / (dots[which] - 1))[:, None]
    return tip[which] + s * (one[which] - tip[which] + t * (two[which] - one[which])), which


def _png(flat, depth, colour, faint, low, high) -> str:
    from PIL import Image
    inner = WIDE - 2 * BORDER
    scale = FINER * inner / max(high[0] - low[0], 1e-9)
    tall = round(FINER * 2 * BORDER + scale * (high[1] - low[1]))
    wide = FINER * WIDE
    x = np.rint((flat[:, 0] - low[0]) * scale).astype(int) + FINER * BORDER
    y = tall - FINER * BORDER - 1 - np.rint((flat[:, 1] - low[1]) * scale).astype(int)
    kept = ~faint | ((x + y) % 2 == 0) & (x % 2 == 0)
    x, y, depth, colour = x[kept], y[kept], depth[kept], colour[kept]
    order = np.argsort(depth, kind="stable")  # nearest last
    dots = np.tile(np.array(PAPER), (tall, wide, 1))
    near = np.full((tall, wide), -np.inf)
    dots[y[order], x[order]] = colour[order]
    near[y[order], x[order]] = depth[order]
    dots[_edges(near)] *= 0.35
    image = Image.fromarray((255 * dots).astype(np.uint8)).resize((WIDE, tall // FINER), Image.LANCZOS).quantize(128)
    out = BytesIO()
    image.save(out, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def _edges(near: np.ndarray, step_mm: float = 9.0) -> np.ndarray:
    """Dots at whose neighbour the depth jumps: drawn dark, as a pencil would."""
    with np.errstate(invalid="ignore"):
        jump = [near - np.roll(near, n, axis) > step_mm for axis in (0, 1) for n in (1, -1)]
    return np.any(jump, 0) & np.isfinite(near)
