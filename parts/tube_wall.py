"""A tube's wall, unrolled: points of its section by the length along the outside and the depth below it.

The index line is the middle of the local +x face (round: angle 0 at local +x); the length runs right-handed
about from -> to. Corners are rounds and lines run round them too. At a depth the same place is taken on a
loop inside: on a round the same angle, on a flat the same height, shortened where a sharp corner's bore needs
it. Lengths mm.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from parts.member import Section


def breaks_mm(section: Section) -> np.ndarray:
    """Lengths along the outside where flats and rounds change, from 0 to the perimeter. A round changes each
    quarter."""
    x, y, c = _sizes(section)
    round_ = c * math.pi / 2
    return np.cumsum([0.0, y, round_, 2 * x, round_, 2 * y, round_, 2 * x, round_, y])


def wall_points(
    section: Section, along_mm: np.ndarray, depth_mm: np.ndarray | float = 0.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """x, y and dA/(d along · d depth) of points of the section; `depth_mm` below the outside, broadcast with
    `along_mm`.

    Valid to the depth of the wall, for a solid bar to half its width."""
    s, q = np.asarray(along_mm, float), np.asarray(depth_mm, float)
    (x, y, c), at, (start_x, way_x), (start_y, way_y) = _pieces(section)
    k = np.clip(np.searchsorted(at, s, side="right") - 1, 0, 8)
    flat, on = k % 2 == 0, s - at[k]
    normal = (k // 2) * (math.pi / 2) + np.where(flat, 0.0, on / c if c else 0.0)
    out_x, out_y = np.cos(normal), np.sin(normal)
    # the place on the rectangle of the rounds' centres; past that depth it shrinks and the rounds are gone
    on = np.where(flat, on, 0.0)
    px, py = start_x[k] + way_x[k] * on, start_y[k] + way_y[k] * on
    below, rise = np.maximum(q - c, 0.0), np.maximum(c - q, 0.0)
    scale_x, scale_y = 1 - below / x if x > 0 else 1.0, 1 - below / y if y > 0 else 1.0
    weight = np.where(flat, np.where(k % 4 == 0, scale_y, scale_x), rise / c if c else 0.0)
    return px * scale_x + rise * out_x, py * scale_y + rise * out_y, weight


@lru_cache(256)
def _pieces(section: Section):
    """Sizes, breaks, and of each flat and round where it starts and which way it runs, in x and in y."""
    x, y, c = _sizes(section)
    return (
        (x, y, c),
        breaks_mm(section),
        (np.array([x, x, x, -x, -x, -x, -x, x, x]), np.array([0, 0, -1, 0, 0, 0, 1, 0, 0])),
        (np.array([0, y, y, y, y, -y, -y, -y, -y]), np.array([1, 0, 0, 0, -1, 0, 0, 0, 1])),
    )


def _sizes(section: Section) -> tuple[float, float, float]:
    """Half lengths of the flats on ±y and ±x, and the radius of the rounds."""
    c = section.outer_corner_mm
    return section.width_mm / 2 - c, section.height_mm / 2 - c, c
