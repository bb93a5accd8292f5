"""Pins in double shear and the plates round them: EN 1993-1-8:2005, 3.13.

Forces N, lengths mm, moments N·mm, stress MPa. gamma_M0 = 1.0, gamma_M2 = 1.25, gamma_M6,ser = 1.0. Edge
distances run from the hole's EDGE here (in bolt bearing they run from its centre).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from parts.base.stock import E_MPA
from parts.base.units import not_negative, positive

GAMMA_M0 = 1.0  # EN 1993-1-1:2005 6.1
GAMMA_M2 = 1.25  # EN 1993-1-8:2005 Table 2.1
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


def pin_shear_resistance_n(diameter_mm: float, pin_fu_mpa: float) -> float:
    """F_v,Rd per plane = 0.6·A·fup/gamma_M2 (Table 3.10)."""
    positive(diameter_mm=diameter_mm, pin_fu_mpa=pin_fu_mpa)
    return 0.6 * math.pi / 4 * diameter_mm**2 * pin_fu_mpa / GAMMA_M2


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


@dataclass(frozen=True)
class PinUse:
    """Uses (demand over resistance) of a pin in double shear and its plates; all must be at most 1."""

    shear: float
    bending: float
    together: float  # (M/M_Rd)² + (F_v/F_v,Rd)²
    inner_bearing: float
    outer_bearing: float

    @property
    def worst(self) -> float:
        return max(self.shear, self.bending, self.together, self.inner_bearing, self.outer_bearing)

    @property
    def ok(self) -> bool:
        return self.worst <= 1


def pin_use(
    force_n: float,
    diameter_mm: float,
    outer_mm: float,
    inner_mm: float,
    gap_mm: float,
    pin_fu_mpa: float,
    pin_yield_mpa: float,
    plate_yield_mpa: float,
) -> PinUse:
    """All static checks of Table 3.10 for a pin with two outer plates (a) and one inner (b), gaps (c) each
    side.

    >>> round(pin_use(40_000, 16, 3, 8, 1, 800, 640, 355).together, 5)
    0.12146
    """
    moment = pin_moment_nmm(force_n, outer_mm, inner_mm, gap_mm)
    bending = moment / pin_moment_resistance_nmm(diameter_mm, pin_yield_mpa)
    shear = force_n / 2 / pin_shear_resistance_n(diameter_mm, pin_fu_mpa)
    fy = min(plate_yield_mpa, pin_yield_mpa)
    return PinUse(
        shear,
        bending,
        bending**2 + shear**2,
        force_n / pin_bearing_resistance_n(diameter_mm, inner_mm, fy),
        force_n / pin_bearing_resistance_n(diameter_mm, 2 * outer_mm, fy),
    )


@dataclass(frozen=True)
class EyeDistances:
    """Least distances from the hole's edge: `end_mm` (a) along the force, `side_mm` (c) across it."""

    end_mm: float
    side_mm: float


def eye_distances_mm(force_n: float, thickness_mm: float, yield_mpa: float, hole_mm: float) -> EyeDistances:
    """Table 3.9 type A, plate given: a >= F·gamma_M0/(2·t·fy) + 2·d0/3, c >= F·gamma_M0/(2·t·fy) + d0/3.

    >>> e = eye_distances_mm(20_000, 6, 235, 17)
    >>> round(e.end_mm, 3), round(e.side_mm, 3)
    (18.426, 12.759)
    """
    not_negative(force_n=force_n)
    positive(thickness_mm=thickness_mm, yield_mpa=yield_mpa, hole_mm=hole_mm)
    strip = force_n * GAMMA_M0 / (2 * thickness_mm * yield_mpa)
    return EyeDistances(strip + 2 * hole_mm / 3, strip + hole_mm / 3)


def eye_force_n(
    end_mm: float, side_mm: float, thickness_mm: float, yield_mpa: float, hole_mm: float
) -> float:
    """The greatest force that Table 3.9 type A lets an eye carry, from its distances to the hole's edge (0
    where too near)."""
    positive(end_mm=end_mm, side_mm=side_mm, thickness_mm=thickness_mm, yield_mpa=yield_mpa, hole_mm=hole_mm)
    spare = min(end_mm - 2 * hole_mm / 3, side_mm - hole_mm / 3)
    return max(0.0, spare) * 2 * thickness_mm * yield_mpa / GAMMA_M0


@dataclass(frozen=True)
class EyeThickness:
    """Table 3.9 type B: least thickness for the force, and the largest hole at that thickness."""

    thickness_mm: float
    hole_mm: float


def eye_thickness_mm(force_n: float, yield_mpa: float) -> EyeThickness:
    """Table 3.9 type B, shape given: t >= 0.7·√(F·gamma_M0/fy), d0 <= 2.5·t."""
    positive(force_n=force_n, yield_mpa=yield_mpa)
    t = 0.7 * math.sqrt(force_n * GAMMA_M0 / yield_mpa)
    return EyeThickness(t, 2.5 * t)


def _fits(diameter_mm: float, hole_mm: float) -> None:
    if hole_mm < diameter_mm:
        raise ValueError(f"hole_mm is {hole_mm}; it must be at least the pin's {diameter_mm} mm")
