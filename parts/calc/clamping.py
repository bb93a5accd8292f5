"""What a bolt's preload does to what it clamps: a sleeve squeezed along its axis, a tube squeezed across.

Forces N, lengths mm, stress MPa, torques N·m. A first cut: yield of the plain section, no buckling, for
sleeves here are short and stout.
"""

from __future__ import annotations

import math

from parts.base.stock import thread
from parts.base.units import not_negative, positive
from parts.calc.bolts import grade, preload_n, tightening_torque_nm

SQUEEZED_SHARE = (
    0.5  # of the joint's resistance: the hole under the washer, and that the tube must still slide
)


def sleeve_squash_n(outer_mm: float, bore_mm: float, yield_mpa: float) -> float:
    """Yield of a ring squeezed along its axis, fy·π/4·(D² - d²). Source: statics.

    >>> round(sleeve_squash_n(16, 10, 235))
    28793
    """
    positive(outer_mm=outer_mm, yield_mpa=yield_mpa)
    not_negative(bore_mm=bore_mm)
    if bore_mm >= outer_mm:
        raise ValueError(f"bore_mm is {bore_mm:g}; it must be less than outer_mm, {outer_mm:g}")
    return yield_mpa * math.pi / 4 * (outer_mm**2 - bore_mm**2)


def tube_squeeze_n(outer_mm: float, wall_mm: float, pad_mm: float, yield_mpa: float) -> float:
    """What a tube bears between two pads of `pad_mm` that face each other across it: half of
    5.2/(1 - 0.81·β)·fy·t², β = pad/D, the chord face of an X joint of round tubes (EN 1993-1-8:2005
    Table 7.2, D/t from 10 to 40).

    The half is ours, a first cut: the bolt's hole lies under the pad, and the tube must still slide.

    >>> round(tube_squeeze_n(45, 3, 16, 235))
    7723
    """
    positive(outer_mm=outer_mm, wall_mm=wall_mm, pad_mm=pad_mm, yield_mpa=yield_mpa)
    if wall_mm >= outer_mm / 2:
        raise ValueError(f"wall_mm is {wall_mm:g}; it must be less than half of outer_mm, {outer_mm:g}")
    beta = min(pad_mm / outer_mm, 1.0)
    return SQUEEZED_SHARE * 5.2 / (1 - 0.81 * beta) * yield_mpa * wall_mm**2


def class_preload_n(size: str, bolt_class: str) -> float:
    """Preload of the usual tightening: 0.7·fub·As of class 8.8 (EN 1993-1-8:2005 3.6.1), and no more for a
    stronger bolt, for no joint here is held by friction; 0.7·fyb·As of a weaker class, common practice.

    >>> [round(class_preload_n("M10", c)) for c in ("8.8", "10.9", "5.6")]
    [32474, 32474, 12178]
    """
    area, g = thread(size).stress_area_mm2, grade(bolt_class)
    return preload_n(area, "8.8") if g.fub_mpa >= 800 else 0.7 * g.fyb_mpa * area


def torque_nm(size: str, force_n: float) -> int:
    """Whole N·m, rounded down, that give a force at nut factor 0.2: dry; grease gives up to 1.7 times the
    force.

    >>> torque_nm("M10", 28793)
    57
    """
    return math.floor(tightening_torque_nm(force_n, thread(size).diameter_mm) + 1e-9)
