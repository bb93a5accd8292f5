"""Walls of hollow sections under a plate: yield lines of a flat face, a round wall, and the part of a plate's
width that a face between two side walls holds. Lengths mm, forces N, moments N·mm, MPa; gamma_M5 = 1.

EN 1993-1-8:2005 section 7 starts at walls of 2.5 mm (7.1.1); thinner ones are a first cut. From memory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from parts.base.units import positive

WIDEST = 0.85  # share of a face's width up to which the face itself yields first, EN 1993-1-8 Table 7.11


class WallResistance(NamedTuple):
    """Force square to the wall, and moments that press one end of the footprint and pull the other: along the
    section's length and across it."""

    force_n: float
    along_nmm: float
    across_nmm: float


def face_resistance(
    wall_mm: float, face_mm: float, wide_mm: float, long_mm: float, yield_mpa: float
) -> WallResistance:
    """A flat face `face_mm` wide under a footprint `wide_mm` across and `long_mm` along it (Tables 7.11,
    7.14): N = fy·t²/(1 - β)·(2η + 4√(1 - β)), β = b/b0 to 0.85, η = h/b0.

    >>> round(face_resistance(3, 40, 20, 20, 235).force_n, 1)
    16194.2
    """
    positive(wall_mm=wall_mm, face_mm=face_mm, wide_mm=wide_mm, long_mm=long_mm, yield_mpa=yield_mpa)
    beta, eta, unit = min(wide_mm / face_mm, WIDEST), long_mm / face_mm, yield_mpa * wall_mm**2
    force = unit / (1 - beta) * (2 * eta + 4 * math.sqrt(1 - beta))
    along = unit * long_mm * (1 / (2 * eta) + 2 / math.sqrt(1 - beta) + eta / (1 - beta))
    across = unit * (
        long_mm * (1 + beta) / (2 * (1 - beta)) + math.sqrt(2 * face_mm * wide_mm * (1 + beta) / (1 - beta))
    )
    return WallResistance(force, along, across)


def round_resistance(
    wall_mm: float, outer_mm: float, wide_mm: float, long_mm: float, yield_mpa: float, lengthwise: bool
) -> WallResistance:
    """A round tube under a plate across it (4 + 20·β²)·fy·t², or along it 5·(1 + 0.25·η)·fy·t², η to 4
    (Table 7.3).

    >>> round_resistance(2, 40, 20, 5, 235, False).force_n, round_resistance(2, 40, 5, 40, 235, True).force_n
    (8460.0, 5875.0)
    """
    positive(wall_mm=wall_mm, outer_mm=outer_mm, wide_mm=wide_mm, long_mm=long_mm, yield_mpa=yield_mpa)
    unit = yield_mpa * wall_mm**2
    along, across = 5 * (1 + 0.25 * min(long_mm / outer_mm, 4.0)), 4 + 20 * min(wide_mm / outer_mm, 1.0) ** 2
    force = unit * (along if lengthwise else across)
    return WallResistance(force, 0.5 * long_mm * force, 0.5 * wide_mm * force)


def held_width_mm(
    width_mm: float, face_mm: float, wall_mm: float, wall_yield: float, plate_mm: float, plate_yield: float
) -> float:
    """Of a plate standing across a face, the width that the stiff edges of the face hold: b_eff =
    10/(b0/t0)·(fy0·t0)/(fy1·t1)·b1 <= b1, half of it at each end (Table 7.13); the middle of the face gives
    way.

    >>> round(held_width_mm(30, 40, 3, 235, 5, 235), 2)
    13.5
    """
    positive(width_mm=width_mm, face_mm=face_mm, wall_mm=wall_mm, plate_mm=plate_mm)
    share = 10 * wall_mm / face_mm * wall_yield * wall_mm / (plate_yield * plate_mm)
    return min(share, 1.0) * width_mm
