"""Rods and tubes in compression, and rod-end threads in tension and bending.

Loads N, lengths mm, areas mm², second moments mm⁴, stress MPa. A rod's length runs between its ball centres,
not the tube's ends. Ends are pinned (`fixity` 1) unless shown otherwise: welded nodes are not fixed ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from parts.base.stock import E_MPA, Thread
from parts.base.units import finite, not_negative, positive

FIXITY: dict[str, float] = {  # theoretical effective length over length; fixed-pinned is π/x with tan x = x
    "pinned-pinned": 1.0,
    "fixed-free": 2.0,
    "fixed-pinned": math.pi / 4.493409457909064,
    "fixed-fixed": 0.5,
}
CURVES: dict[str, float] = {
    "a0": 0.13,
    "a": 0.21,
    "b": 0.34,
    "c": 0.49,
    "d": 0.76,
}  # EN 1993-1-1:2005 Table 6.1
CURVE_BY_FINISH = {"hot": "a", "cold": "c"}  # hollow sections, EN 1993-1-1:2005 Table 6.2 (S235 to S420)


def fixity(ends: str) -> float:
    """Theoretical effective-length factor K of the named end conditions; the load grows with 1/K².

    >>> round(fixity("fixed-pinned"), 6)
    0.699156
    """
    if ends not in FIXITY:
        raise ValueError(f'ends is "{ends}"; known: {", ".join(FIXITY)}')
    return FIXITY[ends]


def slenderness(area_mm2: float, i_mm4: float, length_mm: float, fixity: float = 1.0) -> float:
    """λ = K·L/√(I/A)."""
    positive(area_mm2=area_mm2, i_mm4=i_mm4, length_mm=length_mm, fixity=fixity)
    return fixity * length_mm / math.sqrt(i_mm4 / area_mm2)


def euler_load_n(
    i_mm4: float, length_mm: float, fixity: float = 1.0, youngs_modulus_mpa: float = E_MPA
) -> float:
    """P_E = π²·E·I/(K·L)²: elastic; above half the squash load another rule takes over (see `strut`).

    >>> round(euler_load_n(4636.9908, 450))
    47460
    """
    positive(i_mm4=i_mm4, length_mm=length_mm, fixity=fixity, youngs_modulus_mpa=youngs_modulus_mpa)
    return math.pi**2 * youngs_modulus_mpa * i_mm4 / (fixity * length_mm) ** 2


def transition_slenderness(yield_mpa: float, youngs_modulus_mpa: float = E_MPA) -> float:
    """Slenderness where Euler and the parabola touch, at half yield: √(2·π²·E/fy)."""
    positive(yield_mpa=yield_mpa, youngs_modulus_mpa=youngs_modulus_mpa)
    return math.sqrt(2 * math.pi**2 * youngs_modulus_mpa / yield_mpa)


def parabola_load_n(
    area_mm2: float,
    i_mm4: float,
    length_mm: float,
    yield_mpa: float,
    fixity: float = 1.0,
    youngs_modulus_mpa: float = E_MPA,
) -> float:
    """Johnson's parabola, A·fy·[1 - fy·λ²/(4·π²·E)], up to the transition slenderness; ValueError above it
    (Euler rules).

    Source: Shigley's Mechanical Engineering Design, intermediate columns.

    >>> round(parabola_load_n(113.09734, 4636.9908, 450, 355))
    31658
    """
    limit = transition_slenderness(yield_mpa, youngs_modulus_mpa)
    ratio = slenderness(area_mm2, i_mm4, length_mm, fixity)
    if ratio > limit * (1 + 1e-12):
        raise ValueError(
            f"slenderness is {ratio:.2f}; the parabola holds up to {limit:.2f}, use Euler above it"
        )
    return area_mm2 * yield_mpa * (1 - yield_mpa * ratio**2 / (4 * math.pi**2 * youngs_modulus_mpa))


@dataclass(frozen=True)
class Strut:
    """A straight strut: its slenderness and the one load that rules it."""

    slenderness: float
    transition_slenderness: float
    squash_n: float
    euler_n: float
    critical_n: float
    rule: str  # "parabola" or "Euler"


def strut(
    area_mm2: float,
    i_mm4: float,
    length_mm: float,
    yield_mpa: float,
    fixity: float = 1.0,
    youngs_modulus_mpa: float = E_MPA,
) -> Strut:
    """Critical load by the parabola for a stocky strut, by Euler for a slender one. No safety factor in it.

    >>> strut(113.09734, 4636.9908, 450, 355).rule
    'parabola'
    """
    ratio = slenderness(area_mm2, i_mm4, length_mm, fixity)
    limit = transition_slenderness(yield_mpa, youngs_modulus_mpa)
    euler = euler_load_n(i_mm4, length_mm, fixity, youngs_modulus_mpa)
    stocky = ratio <= limit
    critical = (
        parabola_load_n(area_mm2, i_mm4, length_mm, yield_mpa, fixity, youngs_modulus_mpa)
        if stocky
        else euler
    )
    return Strut(ratio, limit, area_mm2 * yield_mpa, euler, critical, "parabola" if stocky else "Euler")


def rankine_load_n(
    area_mm2: float,
    i_mm4: float,
    length_mm: float,
    crushing_mpa: float,
    constant: float | None = None,
    fixity: float = 1.0,
    youngs_modulus_mpa: float = E_MPA,
) -> float:
    """Rankine: P = fc·A/(1 + a·λ²). `constant` None takes a = fc/(π²·E), the harmonic sum of squash and
    Euler.

    The classical mild-steel constants 320 MPa and 1/7500 of strength-of-materials texts are not tied to the
    actual yield.

    >>> tube = (144.51326, 9628.1959, 600)
    >>> round(rankine_load_n(*tube, 320, 1 / 7500)), round(rankine_load_n(*tube, 235))
    (26879, 21059)
    """
    positive(crushing_mpa=crushing_mpa, youngs_modulus_mpa=youngs_modulus_mpa)
    a = crushing_mpa / (math.pi**2 * youngs_modulus_mpa) if constant is None else constant
    positive(constant=a)
    return crushing_mpa * area_mm2 / (1 + a * slenderness(area_mm2, i_mm4, length_mm, fixity) ** 2)


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
    fixity: float = 1.0,
    gamma_m1: float = 1.0,
    youngs_modulus_mpa: float = E_MPA,
) -> Buckling:
    """N_b,Rd = χ·A·fy/gamma_M1, λ̄ = √(A·fy/P_E) (EN 1993-1-1:2005 6.3.1), section class 1 to 3 (see
    `tube_class`)."""
    positive(area_mm2=area_mm2, yield_mpa=yield_mpa, gamma_m1=gamma_m1)
    euler = euler_load_n(i_mm4, length_mm, fixity, youngs_modulus_mpa)
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


@dataclass(frozen=True)
class Bow:
    """Mid-length bow of a strut under load and the moment that it makes."""

    bow_mm: float
    moment_nmm: float


def amplified_bow(initial_bow_mm: float, load_n: float, euler_n: float) -> Bow:
    """A half-sine bow grows by 1/(1 - P/P_E); M = P·bow. Raises ValueError from the Euler load up.

    >>> amplified_bow(1.5, 12_000, 40_000)
    Bow(bow_mm=2.142857142857143, moment_nmm=25714.285714285714)
    """
    not_negative(initial_bow_mm=initial_bow_mm, load_n=load_n)
    positive(euler_n=euler_n)
    if load_n >= euler_n:
        raise ValueError(f"load_n is {load_n}; it must stay below the Euler load, {euler_n:.1f} N")
    bow = initial_bow_mm / (1 - load_n / euler_n)
    return Bow(bow, load_n * bow)


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
    limits = tuple(n * 235 / yield_mpa for n in (50, 70, 90))
    ratio = outer_mm / wall_mm
    return TubeClass(1 + sum(ratio > limit for limit in limits), ratio, limits)


# ------------------------------------------------------------ rod-end threads


def thread_axial_stress_mpa(force_n: float, stress_area_mm2: float) -> float:
    """σ = F/A_s, sign of the force kept."""
    finite(force_n=force_n)
    positive(stress_area_mm2=stress_area_mm2)
    return force_n / stress_area_mm2


def thread_bending_stress_mpa(lateral_n: float, arm_mm: float, root_mm: float) -> float:
    """σ = 32·F·e/(π·d3³) at the root of the first loaded thread, `arm_mm` from the lateral force."""
    not_negative(lateral_n=lateral_n, arm_mm=arm_mm)
    positive(root_mm=root_mm)
    return 32 * lateral_n * arm_mm / (math.pi * root_mm**3)


@dataclass(frozen=True)
class ThreadStress:
    """Stress of a rod-end stem: axial on the stress area, bending on the root, and their sum in size."""

    axial_mpa: float
    bending_mpa: float

    @property
    def total_mpa(self) -> float:
        return abs(self.axial_mpa) + self.bending_mpa


def stem_stress(thread: Thread, force_n: float, lateral_n: float = 0.0, arm_mm: float = 0.0) -> ThreadStress:
    """A rod end's stem under a force along it and one across it at the ball. It must not be made to carry
    bending: on M12, one newton sideways at 18 mm stresses it like 16 N along it."""
    return ThreadStress(
        thread_axial_stress_mpa(force_n, thread.stress_area_mm2),
        thread_bending_stress_mpa(lateral_n, arm_mm, thread.root_mm),
    )
