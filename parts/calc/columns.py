"""Rods and tubes in compression, the moment that compression grows, and a rod end's stem.

Loads N, lengths mm, areas mm², second moments mm⁴, stress MPa. A rod's length runs between its ball centres,
not the tube's ends. Ends are pinned: welded nodes are not fixed ends.
"""

from __future__ import annotations

import math

import numpy as np

from parts.base.frozen import dataclass
from parts.base.stock import E_MPA, Thread
from parts.base.units import not_negative, positive

CURVES: dict[str, float] = {
    "a0": 0.13,
    "a": 0.21,
    "b": 0.34,
    "c": 0.49,
    "d": 0.76,
}  # EN 1993-1-1:2005 Table 6.1


def euler_load_n(i_mm4: float, length_mm: float, youngs_modulus_mpa: float = E_MPA) -> float:
    """P_E = π²·E·I/L²: elastic; a stocky strut yields before it (see `buckling_resistance`).

    >>> round(euler_load_n(4636.9908, 450))
    47460
    """
    positive(i_mm4=i_mm4, length_mm=length_mm, youngs_modulus_mpa=youngs_modulus_mpa)
    return math.pi**2 * youngs_modulus_mpa * i_mm4 / length_mm**2


def reduction_factor(relative_slenderness: float, curve: str) -> float:
    """χ of EN 1993-1-1:2005 6.3.1.2: χ = 1/(Φ + √(Φ² - λ̄²)) <= 1, Φ = 0.5·[1 + α·(λ̄ - 0.2) + λ̄²]; 1 up to
    λ̄ = 0.2.

    Curves a0, a, b, c, d. Cold-formed hollow sections take c, hot-finished ones a.

    >>> round(reduction_factor(1.0, "c"), 5)
    0.53994
    """
    not_negative(relative_slenderness=relative_slenderness)
    if curve not in CURVES:
        raise ValueError(f'curve is "{curve}"; known: {", ".join(CURVES)}')
    if relative_slenderness <= 0.2:
        return 1.0
    phi = 0.5 * (1 + CURVES[curve] * (relative_slenderness - 0.2) + relative_slenderness**2)
    return min(1.0, 1 / (phi + math.sqrt(phi**2 - relative_slenderness**2)))


@dataclass(frozen=True)
class Buckling:
    """Design buckling resistance with the numbers that made it."""

    relative_slenderness: float
    chi: float
    resistance_n: float
    euler_n: float


def buckling_resistance(
    area_mm2: float,
    i_mm4: float,
    length_mm: float,
    yield_mpa: float,
    curve: str,
    gamma_m1: float = 1.0,
    youngs_modulus_mpa: float = E_MPA,
) -> Buckling:
    """N_b,Rd = χ·A·fy/gamma_M1, λ̄ = √(A·fy/P_E) (EN 1993-1-1:2005 6.3.1), section class 1 to 3 (see
    `tube_class`)."""
    positive(area_mm2=area_mm2, yield_mpa=yield_mpa, gamma_m1=gamma_m1)
    euler = euler_load_n(i_mm4, length_mm, youngs_modulus_mpa)
    relative = math.sqrt(area_mm2 * yield_mpa / euler)
    chi = reduction_factor(relative, curve)
    return Buckling(relative, chi, chi * area_mm2 * yield_mpa / gamma_m1, euler)


def stepped_strut_load_n(
    stub_mm: float, stub_i_mm4: float, tube_i_mm4: float, length_mm: float, youngs_modulus_mpa: float = E_MPA
) -> float:
    """Elastic critical load of a pinned rod with a thin stub of `stub_mm` (ball centre to tube) at each end.

    Least root P of tan(k1·s)·tan(k2·m/2) = k1/k2, k = √(P/(E·I)), m = L - 2s, 1 the stub, 2 the tube;
    symmetric. Where the stubs differ use the longer for both. Squash and bending of the stub usually rule
    before it. Root by Newton's method kept inside a shrinking bracket.

    >>> round(stepped_strut_load_n(40, math.pi / 64 * 9.853**4, 4636.9908, 450))
    43082
    """
    not_negative(stub_mm=stub_mm)
    positive(
        stub_i_mm4=stub_i_mm4,
        tube_i_mm4=tube_i_mm4,
        length_mm=length_mm,
        youngs_modulus_mpa=youngs_modulus_mpa,
    )
    if 2 * stub_mm > length_mm:
        raise ValueError(f"stub_mm is {stub_mm}; two of them must fit in the length, {length_mm} mm")
    a = stub_mm / math.sqrt(youngs_modulus_mpa * stub_i_mm4)  # k1·s = a·√P
    b = (length_mm / 2 - stub_mm) / math.sqrt(youngs_modulus_mpa * tube_i_mm4)
    stiff = math.sqrt(tube_i_mm4 / stub_i_mm4)  # k1/k2
    # sin·sin - (k1/k2)·cos·cos rises through zero once before the larger of the two angles reaches a right
    # angle
    low, high = 0.0, math.pi / 2 / max(a, b)
    q = high / 2
    for _ in range(100):
        u, v = a * q, b * q
        value = math.sin(u) * math.sin(v) - stiff * math.cos(u) * math.cos(v)
        slope = (a + stiff * b) * math.cos(u) * math.sin(v) + (b + stiff * a) * math.sin(u) * math.cos(v)
        low, high = (q, high) if value < 0 else (low, q)
        step = q - value / slope if slope > 0 else low
        following = step if low < step < high else (low + high) / 2
        if abs(following - q) <= 1e-15 * q:
            break
        q = following
    return q * q


def amplified_moment_nmm(moment_nmm, load_n, critical_n):
    """Moment of a strut bent or bowed beforehand, grown by its compression: M/(1 - N/N_cr), without bound
    from the critical load up. A bow e0 brings M = N·e0. Arrays broadcast. Closed form for a half sine.

    >>> round(float(amplified_moment_nmm(12_000 * 1.5, 12_000, 40_000)), 2)
    25714.29
    """
    not_negative(moment_nmm=moment_nmm, load_n=load_n)
    positive(critical_n=critical_n)
    spare = 1 - np.asarray(load_n, float) / critical_n
    with np.errstate(divide="ignore", invalid="ignore"):
        grown = np.where(spare > 0, np.asarray(moment_nmm) / spare, np.inf)
    return np.where(np.asarray(load_n) > 0, grown, moment_nmm)


@dataclass(frozen=True)
class TubeClass:
    """Section class (1 to 4) of a round tube, its D/t and the limits of classes 1, 2, 3."""

    number: int
    ratio: float
    limits: tuple[float, float, float]


def tube_class(outer_mm: float, wall_mm: float, yield_mpa: float) -> TubeClass:
    """D/t <= 50·ε², 70·ε², 90·ε² with ε² = 235/fy (EN 1993-1-1:2005 Table 5.2): ε squared for round tubes.

    >>> tube_class(76.1, 1.5, 355).number
    3
    """
    positive(outer_mm=outer_mm, wall_mm=wall_mm, yield_mpa=yield_mpa)
    limits = 50 * 235 / yield_mpa, 70 * 235 / yield_mpa, 90 * 235 / yield_mpa
    ratio = outer_mm / wall_mm
    return TubeClass(1 + sum(ratio > limit for limit in limits), ratio, limits)


def stem_stress_mpa(thread: Thread, force_n, moment_nmm=0.0):
    """A rod end's stem: |F|/A_s on the stress area plus 32·M/(π·d3³) on the root. It must not be made to
    carry bending: on M12, one newton sideways at 18 mm stresses it like 16 N along it. Arrays broadcast.

    >>> from parts.base.stock import thread
    >>> round(float(stem_stress_mpa(thread("M12"), 0.0, 500 * 18.0)), 2)
    95.84
    """
    return np.abs(force_n) / thread.stress_area_mm2 + 32 * np.abs(moment_nmm) / (math.pi * thread.root_mm**3)
