"""Nearest points of two convex hulls, exactly, for the few pairs where the distance library stops early."""

from __future__ import annotations

import numpy as np


def nearest(a: np.ndarray, b: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Nearest points of the hulls of a (n, 3) and b (m, 3), by the least vector of their difference.

    Wolfe's method: keep the corners of b - a that carry the least vector so far, add the corner furthest
    against it, correct, until no corner lies nearer along it. Exact in finitely many steps but for rounding;
    `direction` (from a to b) is where to begin. Source: P. Wolfe, Finding the nearest point in a polytope,
    Math. Programming 11 (1976)."""
    chosen = [(int((a @ direction).argmax()), int((b @ direction).argmin()))]
    weight = np.ones(1)
    scale = max(1.0, float(np.abs(a - b[0]).max()))
    for _ in range(200):
        corners = np.array([b[j] - a[i] for i, j in chosen])
        x = weight @ corners
        new = int((a @ x).argmax()), int((b @ x).argmin())
        if x @ x - x @ (b[new[1]] - a[new[0]]) <= 1e-13 * scale * max(np.sqrt(x @ x), 1e-9) or new in chosen:
            break
        chosen.append(new)
        corners = np.vstack([corners, b[new[1]] - a[new[0]]])
        weight = np.append(weight, 0.0)
        while True:
            flat = _flattest(corners)
            if (flat > 1e-14).all():
                weight = flat
                break
            falling = flat <= 1e-14
            step = np.min(weight[falling] / np.maximum(weight[falling] - flat[falling], 1e-300))
            weight = np.maximum(weight + min(step, 1.0) * (flat - weight), 0.0)
            keep = weight > 1e-14
            if keep.all():
                keep[int(np.where(falling, weight, np.inf).argmin())] = False
            weight, corners = weight[keep] / weight[keep].sum(), corners[keep]
            chosen = [c for c, k in zip(chosen, keep, strict=True) if k]
    return weight @ a[[i for i, _ in chosen]], weight @ b[[j for _, j in chosen]]


def _flattest(corners: np.ndarray) -> np.ndarray:
    """Weights, of sum one, of the least vector in the flat through the corners."""
    if len(corners) == 1:
        return np.ones(1)
    edges = (corners[1:] - corners[0]).T
    rest, *_ = np.linalg.lstsq(edges, -corners[0], rcond=1e-12)
    return np.concatenate([[1 - rest.sum()], rest])
