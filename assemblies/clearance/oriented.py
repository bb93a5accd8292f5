"""Boxes at any turn: the one round a piece in its own axes, and by how much two are parted at least."""

from __future__ import annotations

from itertools import product

import numpy as np

from parts.shape.form import Piece, Round

Box = tuple[np.ndarray, np.ndarray, np.ndarray]  # centre (3,), axes (3, 3) as columns, half sizes (3,)


def round_piece(piece: Piece) -> Box:
    """Holes and bores count as filled."""
    if isinstance(piece, Round):
        r = piece.diameter_mm / 2
        low, high = (-r, -r, 0.0), (r, r, piece.length_mm)
    else:
        x0, y0, x1, y1 = piece.outline.bounds
        low, high = (x0, y0, 0.0), (x1, y1, piece.thickness_mm)
    return turned(piece.frame.matrix(), np.array(low), np.array(high))


def turned(frame: np.ndarray, low: np.ndarray, high: np.ndarray) -> Box:
    """The box from `low` to `high` in the axes of a 4 x 4 frame."""
    return frame[:3, :3] @ ((low + high) / 2) + frame[:3, 3], frame[:3, :3], (high - low) / 2


def parted_mm(ca, a, ha, cb, b, hb) -> np.ndarray:
    """The widest gap that planes square to one of 15 directions (faces, edges crossed) leave between each two
    boxes (n of each): never more than their distance, below 0 where they overlap. S. Gottschalk, M. Lin, D.
    Manocha, OBBTree, SIGGRAPH 1996."""
    between = np.einsum("nji,nj->ni", a, cb - ca)
    r = np.einsum("nji,njk->nik", a, b)
    size = np.abs(r) + 1e-12
    out = (np.abs(between) - ha - np.einsum("nik,nk->ni", size, hb)).max(1)
    along_b = np.abs(np.einsum("ni,nik->nk", between, r)) - hb - np.einsum("nik,ni->nk", size, ha)
    out = np.maximum(out, along_b.max(1))
    for i, k in product(range(3), range(3)):
        i1, i2, k1, k2 = (i + 1) % 3, (i + 2) % 3, (k + 1) % 3, (k + 2) % 3
        along = np.abs(between[:, i2] * r[:, i1, k] - between[:, i1] * r[:, i2, k])
        wide = ha[:, i1] * size[:, i2, k] + ha[:, i2] * size[:, i1, k]
        wide += hb[:, k1] * size[:, i, k2] + hb[:, k2] * size[:, i, k1]
        length = np.hypot(r[:, i1, k], r[:, i2, k])  # of the two edges' cross product
        out = np.where(length > 1e-6, np.maximum(out, (along - wide - 1e-9) / np.maximum(length, 1e-6)), out)
    return out
