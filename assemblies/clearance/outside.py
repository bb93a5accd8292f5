"""What of a convex piece lies outside a sphere, in convex pieces."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from assemblies.clearance.pieces import Piece


@lru_cache(maxsize=4096)
def outside(piece: Piece, centre: tuple[float, float, float], radius_mm: float) -> list[Piece]:
    """Convex pieces that contain all of a real piece that lies outside the sphere, and little else.

    Cut by planes square to the directions in which the piece reaches out, until what is left has every corner
    inside the sphere and so lies wholly in it: only that rest is dropped. After 40 cuts the rest is kept (the
    safe side)."""
    rest = piece
    kept: list[Piece] = []
    for _ in range(40):
        away = rest.points - np.asarray(centre, float)
        gap = np.sqrt((away**2).sum(1))
        if gap.max() <= radius_mm:
            return kept
        first = away[gap.argmax()] / gap.max()
        group = away[(gap > radius_mm) & (away @ first > 0.8 * gap)]
        n = group.mean(0)
        n /= np.sqrt(n @ n)
        height = away @ n
        girth2 = (gap[height > 0] ** 2 - height[height > 0] ** 2).max()
        plane = (
            math.sqrt(max(radius_mm**2 - girth2, 0.0)) - 1e-9
        )  # where what is left just fits into the sphere
        plane = plane if plane > 0.85 * radius_mm else 0.92 * radius_mm
        if height.min() >= plane:
            return [*kept, rest]
        far, rest = _cut(rest, height - plane)
        kept.append(far)
    return [*kept, rest]


def _cut(piece: Piece, height: np.ndarray) -> tuple[Piece, Piece]:
    """The part where height > 0 and the rest; `height` of the corners over the cutting plane."""
    i, j = piece.edges[:, 0], piece.edges[:, 1]
    up = height > 0
    crossing = up[i] != up[j]
    i, j = i[crossing], j[crossing]
    share = (height[i] / (height[i] - height[j]))[:, None]
    rim = piece.points[i] * (1 - share) + piece.points[j] * share
    order, ring = _round_about(rim), len(piece.points) + np.arange(len(rim))
    at = np.empty_like(ring)
    at[order] = ring  # corner number of each crossing edge's new point, numbered round the rim
    rim_edges = np.stack([ring, np.concatenate([ring[1:], ring[:1]])], 1)
    points = np.concatenate([piece.points, rim[order]])
    out = []
    for side in (up, ~up):
        both = side[piece.edges].all(1)
        near = np.where(side[i], i, j)
        edges = np.concatenate([piece.edges[both], np.stack([near, at], 1), rim_edges])
        used = np.zeros(len(points), bool)
        used[edges] = True
        out.append(Piece(points[used], (used.cumsum() - 1)[edges], piece.beyond_mm, axis=piece.axis))
    return out[0], out[1]


def _round_about(points: np.ndarray) -> np.ndarray:
    """Order of the corners of a flat convex polygon round its middle."""
    away = points - points.mean(0)
    u = away[(away**2).sum(1).argmax()]
    rest = away - np.outer(away @ u, u) / max(u @ u, 1e-300)
    w = rest[(rest**2).sum(1).argmax()]
    u, w = (v / max(np.sqrt(v @ v), 1e-150) for v in (u, w))
    return np.argsort(np.arctan2(away @ w, away @ u), kind="stable")
