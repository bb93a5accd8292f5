"""Pins in double shear and the plates round them: EN 1993-1-8:2005, 3.13.

Forces N, lengths mm, moments N·mm, stress MPa. gamma_M0 = 1.0, gamma_M6,ser = 1.0. Edge
distances run from the hole's EDGE here (in bolt bearing they run from its centre).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from parts.base.stock import E_MPA
from parts.base.units import not_negative, positive

GAMMA_M0 = 1.0  # EN 1993-1-1:2005 6.1
GAMMA_M6_SER = 1.0  # EN 1993-1-8:2005 Table 2.1


def pin_moment_nmm(force_n: float, outer_mm: float, inner_mm: float, gap_mm: float) -> float:
    """M_Ed = F/8·(b + 4c + 2a): two outer plates `outer_mm` (a) each, one inner `inner_mm` (b), gaps `gap_mm`
    (c) between.

    >>> pin_moment_nmm(40_000, 3, 8, 1)
    90000.0
    """
    not_negative(force_n=force_n, gap_mm=gap_mm)
    positive(outer_mm=outer_mm, inner_mm=inner_mm)
    return force_n / 8 * (inner_mm + 4 * gap_mm + 2 * outer_mm)


def pin_moment_resistance_nmm(diameter_mm: float, pin_yield_mpa: float, replaceable: bool = False) -> float:
    """M_Rd = 1.5·W_el·fyp/gamma_M0; for a pin meant to be changed 0.8·W_el·fyp/gamma_M6,ser under service
    load (Table 3.10)."""
    positive(diameter_mm=diameter_mm, pin_yield_mpa=pin_yield_mpa)
    w = math.pi * diameter_mm**3 / 32
    return 0.8 * w * pin_yield_mpa / GAMMA_M6_SER if replaceable else 1.5 * w * pin_yield_mpa / GAMMA_M0


def pin_bearing_resistance_n(
    diameter_mm: float, thickness_mm: float, yield_mpa: float, replaceable: bool = False
) -> float:
    """F_b,Rd = 1.5·t·d·fy/gamma_M0; for a pin meant to be changed 0.6·t·d·fy/gamma_M6,ser under service load
    (Table 3.10).

    `thickness_mm` is the sum of the plates that bear one way, `yield_mpa` the lower of plate and pin.

    >>> pin_bearing_resistance_n(16, 8, 355), pin_bearing_resistance_n(10, 6, 275, replaceable=True)
    (68160.0, 9900.0)
    """
    positive(diameter_mm=diameter_mm, thickness_mm=thickness_mm, yield_mpa=yield_mpa)
    product = thickness_mm * diameter_mm * yield_mpa
    return 0.6 * product / GAMMA_M6_SER if replaceable else 1.5 * product / GAMMA_M0


def contact_use(
    force_n: float,
    diameter_mm: float,
    hole_mm: float,
    thickness_mm: float,
    yield_mpa: float,
    youngs_modulus_mpa: float = E_MPA,
) -> float:
    """Contact stress of a pin meant to be changed, over its limit: 0.591·√(E·F·(d0 - d)/(d²·t)) /
    (2.5·fy/gamma_M6,ser).

    Service load; EN 1993-1-8:2005 3.13.2, equations 3.14 to 3.16 (from memory). Zero for a pin that fills its
    hole."""
    not_negative(force_n=force_n)
    positive(
        diameter_mm=diameter_mm,
        hole_mm=hole_mm,
        thickness_mm=thickness_mm,
        yield_mpa=yield_mpa,
        youngs_modulus_mpa=youngs_modulus_mpa,
    )
    _fits(diameter_mm, hole_mm)
    stress = 0.591 * math.sqrt(
        youngs_modulus_mpa * force_n * (hole_mm - diameter_mm) / (diameter_mm**2 * thickness_mm)
    )
    return stress / (2.5 * yield_mpa / GAMMA_M6_SER)


class PinUse(NamedTuple):
    """Uses (demand over resistance) of a pin in double shear; `together` = (M/M_Rd)² + (F_v/F_v,Rd)²."""

    bending: np.ndarray
    shear: np.ndarray
    together: np.ndarray


def pin_use(
    force_n, outer_mm: float, inner_mm: float, gap_mm: float, moment_resistance_nmm: float, shear_n: float
) -> PinUse:
    """Table 3.10 for a pin with two outer plates (a) and one inner (b), gaps (c) each side; `shear_n` is the
    resistance of both planes. Arrays of forces broadcast.

    >>> m = pin_moment_resistance_nmm(16, 640)
    >>> round(float(pin_use(40_000, 3, 8, 1, m, 2 * 77207.781).together), 5)
    0.12146
    """
    bending = np.asarray(force_n) * pin_moment_nmm(1.0, outer_mm, inner_mm, gap_mm) / moment_resistance_nmm
    shear = np.asarray(force_n) / shear_n
    return PinUse(bending, shear, bending**2 + shear**2)


def eye_force_n(
    end_mm: float, side_mm: float, thickness_mm: float, yield_mpa: float, hole_mm: float
) -> float:
    """The greatest force that Table 3.9 type A lets an eye carry, from its distances to the hole's edge (0
    where too near)."""
    positive(end_mm=end_mm, side_mm=side_mm, thickness_mm=thickness_mm, yield_mpa=yield_mpa, hole_mm=hole_mm)
    spare = min(end_mm - 2 * hole_mm / 3, side_mm - hole_mm / 3)
    return max(0.0, spare) * 2 * thickness_mm * yield_mpa / GAMMA_M0


def _fits(diameter_mm: float, hole_mm: float) -> None:
    if hole_mm < diameter_mm:
        raise ValueError(f"hole_mm is {hole_mm}; it must be at least the pin's {diameter_mm} mm")
