"""Pictures of the corner without a browser's 3D: for print, and for a page that has no WebGL.

The triangles of the real solids are drawn from the farthest to the nearest, cut up first so that no long one hides what
lies before its middle; the wheel is laid over the rest like glass.
"""
from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO

import numpy as np

from assemblies.report.scene import triangles
from assemblies.study import Study

WIDE, FINER, BORDER = 900, 2, 16  # dots; how much finer it is drawn than kept; empty rim
LONGEST_MM = 90.0  # of a triangle's sides
ELEVATION_DEG, BEARING_DEG = 20.0, 38.0  # from straight ahead towards the corner's own side
LIGHT = (0.3, 0.45, 0.84)
PAPER = (246, 247, 243)
GLASS, GLASS_SHARE = ("wheel",), 0.22


@dataclass(frozen=True)
class View:
    """Triangles (n, 3, 3) in picture axes (right, up, towards the eye; mm), their colours, and which are glass."""

    corners: np.ndarray
    colours: np.ndarray
    glass: np.ndarray


def pictures(study: Study, shapes: Mapping[str, object], heights_mm: list[float]) -> list[str]:
    """PNG as data addresses, one for each wheel height, all to the same scale and from the same place."""
    from assemblies.step import colour_of
    placed = []
    for p in study.layout.placed:
        if p.name in shapes:
            corners, faces = triangles(p.form, shapes[p.name])
            placed.append((p, cut_up(corners[faces], LONGEST_MM), np.array(colour_of(p.body, p.carrier))))
    views = [_seen(study, placed, z) for z in heights_mm]
    low, high = (f([f(v.corners, (0, 1)) for v in views], 0) for f in (np.min, np.max))
    return [_png(v, low, high) for v in views]


def cut_up(mesh: np.ndarray, longest: float) -> np.ndarray:
    """Triangles (n, 3, 3) halved across their longest side until none is longer than `longest`."""
    done = []
    while len(mesh):
        sides = np.linalg.norm(mesh - np.roll(mesh, -1, 1), axis=2)  # side k: corner k to corner k + 1
        k = sides.argmax(1)
        n = np.arange(len(mesh))
        long = sides[n, k] > longest
        done.append(mesh[~long])
        mesh, k, n = mesh[long], k[long], np.arange(int(long.sum()))
        a, b, c = mesh[n, k], mesh[n, (k + 1) % 3], mesh[n, (k + 2) % 3]
        middle = (a + b) / 2
        mesh = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    return np.concatenate(done)


def _axes(side: str) -> np.ndarray:
    """Rows: right, up and towards the eye, in car axes."""
    e, b = np.radians([ELEVATION_DEG, BEARING_DEG])
    eye = np.array([np.cos(e) * np.cos(b), (1 if side == "left" else -1) * np.cos(e) * np.sin(b), np.sin(e)])
    right = np.cross([0, 0, 1.0], eye)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(eye, right), eye])


def _seen(study: Study, placed, wheel_mm: float) -> View:
    """What faces the eye at a wheel height, shaded, farthest first."""
    poses, axes = study.mechanism.at(wheel_mm), _axes(study.job.corner.side)
    lamp = axes @ (np.array(LIGHT) / np.linalg.norm(LIGHT))
    corners, colours, glass = [], [], []
    for p, mesh, colour in placed:
        where = p.frame.matrix() if p.carrier == "frame" else poses.frame(p.carrier) @ p.frame.matrix()
        turn = axes @ where[:3, :3]
        at = mesh @ turn.T + axes @ where[:3, 3]
        normal = np.cross(at[:, 1] - at[:, 0], at[:, 2] - at[:, 0])
        length = np.linalg.norm(normal, axis=1)
        front = normal[:, 2] > 1e-9 * length
        shade = 0.45 + 0.55 * np.clip(normal[front] @ lamp / length[front], 0, 1)
        corners.append(at[front])
        colours.append(255 * colour * shade[:, None])
        glass.append(np.full(int(front.sum()), p.body in GLASS))
    corners, colours, glass = (np.concatenate(x) for x in (corners, colours, glass))
    order = np.argsort(corners[..., 2].mean(1), kind="stable")
    return View(corners[order], colours[order].astype(int), glass[order])


def _png(v: View, low, high) -> str:
    from PIL import Image, ImageDraw
    scale = FINER * (WIDE - 2 * BORDER) / max(high[0] - low[0], 1e-9)
    size = FINER * WIDE, round(2 * FINER * BORDER + scale * (high[1] - low[1]))
    flat = np.stack([(v.corners[..., 0] - low[0]) * scale + FINER * BORDER, size[1] - FINER * BORDER - (v.corners[..., 1] - low[1]) * scale], -1)
    image, glass = Image.new("RGB", size, PAPER), Image.new("L", size, 0)
    draw, veil = ImageDraw.Draw(image), ImageDraw.Draw(glass)
    for corners, colour, clear in zip(flat.reshape(-1, 6).tolist(), map(tuple, v.colours.tolist()), v.glass.tolist(), strict=True):
        if clear:
            veil.polygon(corners, fill=round(255 * GLASS_SHARE), outline=round(255 * GLASS_SHARE))
        else:
            draw.polygon(corners, fill=colour, outline=colour)
    image.paste((70, 66, 70), (0, 0, *size), glass)
    out = BytesIO()
    image.resize((WIDE, size[1] // FINER), Image.LANCZOS).quantize(128).save(out, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")
