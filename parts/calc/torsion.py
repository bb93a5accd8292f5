"""Torsion of bars, tubes and leaf packs: constants, rates, shear stress, bounds on a real pack.

Saint-Venant torsion, linear elastic, small strain. Lengths mm, torque N·m, twist rad, moduli and stress MPa,
torsion constants mm⁴, rates N·m/rad. A strip's width is its long side, its thickness the short one; `leaves`
strips lie flat on each other. Every argument may be an array; results broadcast.

Source: Timoshenko & Goodier, Theory of Elasticity, 3rd ed., torsion of a rectangular bar (the series below).
"""

from __future__ import annotations

import math

import numpy as np

from parts.base.frozen import dataclass
from parts.base.units import finite, positive

_ODD = np.arange(
    1, 33, 2, dtype=float
)  # 16 terms: the first one left out is below 1e-22 at width = thickness
_SUM_ODD_5 = 31 / 32 * 1.0369277551433699  # Σ 1/n⁵ over odd n = (1 - 2⁻⁵)·ζ(5)


def strip_beta(width_over_thickness):
    """Coefficient β of a rectangle's torsion constant J = β·b·t³, from b/t >= 1 (infinity gives 1/3).

    β = 1/3·[1 - (192/π⁵)·(t/b)·Σ tanh(n·π·b/(2t))/n⁵], n = 1, 3, 5 ...; summed as ζ(5) less a series that
    falls like exp(-n·π·b/t), exact to rounding. Raises ValueError below 1 (the width is the long side).

    >>> round(float(strip_beta(1)), 8), round(float(strip_beta(10)), 8)
    (0.14057701, 0.31232504)
    """
    r = _ratio(width_over_thickness)
    missing = _over_n(2 / (np.exp(np.minimum(_ODD * math.pi * r[..., None], 700)) + 1), 5)
    return (1 - 192 / math.pi**5 / r * (_SUM_ODD_5 - missing)) / 3


def strip_shear_factor(width_over_thickness):
    """Factor k of a rectangle's peak shear τ = k·G·(twist per length)·t, at the middle of the long side.

    k = 1 - (8/π²)·Σ 1/(n²·cosh(n·π·b/(2t))), n odd; 0.675 for a square, 1 for a thin strip. The corners carry
    none."""
    r = _ratio(width_over_thickness)
    return 1 - 8 / math.pi**2 * _over_n(1 / np.cosh(np.minimum(_ODD * math.pi / 2 * r[..., None], 700)), 2)


def strip_constant_mm4(width_mm, thickness_mm):
    """Torsion constant of one rectangle, J = β·b·t³ (either side may be given first)."""
    positive(width_mm=width_mm, thickness_mm=thickness_mm)
    b, t = np.maximum(width_mm, thickness_mm), np.minimum(width_mm, thickness_mm)
    return strip_beta(b / t) * b * t**3


def pack_rate_nm_per_rad(width_mm, thickness_mm, length_mm, shear_modulus_mpa, leaves=1):
    """Rate of strips free to slide on each other: K = N·β·G·b·t³/L, L between the clamp faces.

    Lower bound of a real pack: see `pack_bounds`.

    >>> round(float(pack_rate_nm_per_rad(30, 3, 500, 80_000, leaves=5)), 5)
    202.38662
    """
    positive(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa, leaves=leaves)
    return leaves * shear_modulus_mpa * strip_constant_mm4(width_mm, thickness_mm) / length_mm / 1000


def strip_stress_mpa(twist_rad, width_mm, thickness_mm, length_mm, shear_modulus_mpa):
    """Peak shear of a strip twisted by `twist_rad` over its free length: τ = k·G·θ·t/L, sign of the twist
    kept.

    It follows twist, thickness and length, never the number of leaves.

    >>> round(float(strip_stress_mpa(math.radians(30), 40, 3, 600, 79_300)), 4)
    207.6069
    """
    finite(twist_rad=twist_rad)
    positive(
        width_mm=width_mm, thickness_mm=thickness_mm, length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa
    )
    b, t = np.maximum(width_mm, thickness_mm), np.minimum(width_mm, thickness_mm)
    return strip_shear_factor(b / t) * shear_modulus_mpa * np.asarray(twist_rad) * t / length_mm


@dataclass(frozen=True)
class PackBounds:
    """Rates of one leaf pack between the free value and the stiffest its ends can make it, N·m/rad.

    `free`: leaves slide and warp freely. `clamped`: warping held at both ends. `held`: besides, every leaf's
    ends held where they lie off the pack's axis (sockets with no play): an upper bound, most of which play
    takes away."""

    free_nm_per_rad: float
    clamped_nm_per_rad: float
    held_nm_per_rad: float


def pack_bounds(
    width_mm, thickness_mm, length_mm, shear_modulus_mpa, youngs_modulus_mpa, leaves=1
) -> PackBounds:
    """The free rate and the two bounds above it; a measured pack should lie between `free` and `held`."""
    free = pack_rate_nm_per_rad(width_mm, thickness_mm, length_mm, shear_modulus_mpa, leaves)
    clamped = leaves * clamped_strip_rate_nm_per_rad(
        width_mm, thickness_mm, length_mm, shear_modulus_mpa, youngs_modulus_mpa
    )
    extra = edge_bending_rate_nm_per_rad(width_mm, thickness_mm, length_mm, youngs_modulus_mpa, leaves)
    return PackBounds(free, clamped, clamped + extra)


def clamped_strip_rate_nm_per_rad(width_mm, thickness_mm, length_mm, shear_modulus_mpa, youngs_modulus_mpa):
    """Rate of one strip with both ends clamped against warping.

    K = G·J/(L - (2/k)·tanh(k·L/2)), k² = G·J/(E·Cw), Cw = b³·t³/144 (restrained warping of a thin strip);
    within 1 % of a 3-D elastic solid at b/t = 8, L/b = 10, not checked elsewhere. Each clamp takes about
    1/k of length: do not also subtract the clamp's depth.

    >>> round(float(clamped_strip_rate_nm_per_rad(40, 5, 400, 79_300, 206_000)), 4)
    319.8932
    """
    positive(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa)
    gj = shear_modulus_mpa * strip_constant_mm4(width_mm, thickness_mm)
    lost = warping_length_mm(width_mm, thickness_mm, shear_modulus_mpa, youngs_modulus_mpa)
    return gj / (length_mm - 2 * lost * np.tanh(length_mm / (2 * lost))) / 1000


def warping_length_mm(width_mm, thickness_mm, shear_modulus_mpa, youngs_modulus_mpa):
    """Length 1/k that a clamped end takes out of a strip, k² = G·J/(E·Cw), Cw = b³·t³/144."""
    positive(shear_modulus_mpa=shear_modulus_mpa, youngs_modulus_mpa=youngs_modulus_mpa)
    gj = shear_modulus_mpa * strip_constant_mm4(width_mm, thickness_mm)
    return np.sqrt(youngs_modulus_mpa * (np.asarray(width_mm, float) * thickness_mm) ** 3 / 144 / gj)


def edge_bending_rate_nm_per_rad(width_mm, thickness_mm, length_mm, youngs_modulus_mpa, leaves):
    """Upper bound of the rate that leaves off the pack's axis add, bent on edge when their ends are held
    rigidly.

    Σ 12·E·I·e²/L³ with I = t·b³/12 and e the leaf's distance from the pack's axis; leaves stacked flat
    without gaps, Σ e² = t²·N·(N² - 1)/12. Beam with ends displaced e·θ across. Zero for one leaf.

    >>> round(float(edge_bending_rate_nm_per_rad(40, 5, 400, 206_000, 4)), 3)
    128.75
    """
    positive(
        width_mm=width_mm,
        thickness_mm=thickness_mm,
        length_mm=length_mm,
        youngs_modulus_mpa=youngs_modulus_mpa,
        leaves=leaves,
    )
    n, t = np.asarray(leaves, float), np.asarray(thickness_mm, float)
    offsets = t**2 * n * (n**2 - 1) / 12
    return (
        youngs_modulus_mpa
        * t
        * np.asarray(width_mm, float) ** 3
        * offsets
        / np.asarray(length_mm, float) ** 3
        / 1000
    )


def round_constant_mm4(outer_mm, wall_mm=None):
    """Torsion constant of a round bar (`wall_mm` None) or tube: J = π·(D⁴ - d⁴)/32. Exact.

    >>> round(float(round_constant_mm4(25)), 2), round(float(round_constant_mm4(30, 3)), 3)
    (38349.52, 46949.531)
    """
    positive(outer_mm=outer_mm)
    return math.pi * (np.asarray(outer_mm, float) ** 4 - _bore(outer_mm, wall_mm) ** 4) / 32


def round_rate_nm_per_rad(outer_mm, length_mm, shear_modulus_mpa, wall_mm=None):
    """Rate of a round bar or tube: K = G·J/L."""
    positive(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa)
    return shear_modulus_mpa * round_constant_mm4(outer_mm, wall_mm) / length_mm / 1000


def round_stress_mpa(twist_rad, diameter_mm, length_mm, shear_modulus_mpa):
    """Shear of a round bar or tube at `diameter_mm` (its outside for the peak): τ = G·θ·d/(2L), sign of the
    twist kept."""
    finite(twist_rad=twist_rad)
    positive(diameter_mm=diameter_mm, length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa)
    return shear_modulus_mpa * np.asarray(twist_rad) * diameter_mm / (2 * length_mm)


def leaf_edge_stress_mpa(twist_rad, width_mm, thickness_mm, length_mm, shear_modulus_mpa, youngs_modulus_mpa):
    """Normal stress at a strip's edges at the mouth of a clamp that lets it not warp: E·(b/2)·(t/2)·φ'', with
    φ'' = k·φ'·tanh(k·L/2), φ' = θ/(L - (2/k)·tanh(k·L/2)) (Vlasov). An upper bound: play lets much of it go.

    >>> round(float(leaf_edge_stress_mpa(math.radians(22), 32, 4, 480, 79_300, 206_000)), 2)
    702.58
    """
    finite(twist_rad=twist_rad)
    lost = warping_length_mm(width_mm, thickness_mm, shear_modulus_mpa, youngs_modulus_mpa)
    turn = np.tanh(length_mm / (2 * lost))
    per_mm = np.abs(twist_rad) / (length_mm - 2 * lost * turn)
    return youngs_modulus_mpa * width_mm * thickness_mm / 4 * per_mm * turn / lost


GUIDE_MPA, GUIDE_PRESET_MPA = (
    600.0,
    800.0,
)  # hardened, not pre-set and pre-set: low ends of the usual figures, from memory
EDGE_GUIDE_MPA = 1100.0  # yield of hardened spring steel, low end, from memory
YIELD_OF_TENSILE = 0.9  # of hardened spring steel, from memory
SHARE_OF_TENSILE = 0.5  # EN 13906-1, static limit of cold-coiled helical springs, as an analogue


def shear_guide_mpa(tensile_mpa: float | None, preset: bool) -> tuple[float, str]:
    """Peak shear that a torsion spring's twist should not pass, and where that is from: advice.

    0.5·Rm where the tensile strength is given, else the usual figure."""
    if tensile_mpa:
        return SHARE_OF_TENSILE * tensile_mpa, "0.5·Rm, EN 13906-1 as an analogue"
    if preset:
        return GUIDE_PRESET_MPA, "guide for pre-set springs, from memory: advice"
    return GUIDE_MPA, "guide for springs not pre-set, from memory: advice"


def edge_guide_mpa(tensile_mpa: float | None) -> tuple[float, str]:
    """Normal stress that leaves' edges should not pass at their clamps, and where that is from: advice."""
    if tensile_mpa:
        return YIELD_OF_TENSILE * tensile_mpa, "0.9 of the tensile strength"
    return EDGE_GUIDE_MPA, "guide from memory: advice"


def closed_wall_flow_n_per_mm(torque_nmm, enclosed_mm2):
    """Shear flow round a closed thin wall, q = T/(2·A), A inside the wall's mid-line (Bredt); τ = q/t in each
    wall. Holds only where the section is closed all round. Arrays broadcast.

    >>> closed_wall_flow_n_per_mm(350e3, 60 * 60).round(6).item()
    48.611111
    """
    positive(enclosed_mm2=enclosed_mm2)
    finite(torque_nmm=torque_nmm)
    return np.asarray(torque_nmm, float) / (2 * np.asarray(enclosed_mm2, float))


def _ratio(width_over_thickness) -> np.ndarray:
    r = np.asarray(width_over_thickness, float)
    if not (r >= 1).all():
        raise ValueError(
            f"width_over_thickness is {width_over_thickness}; it must be 1 or more (the width is the long "
            f"side)"
        )
    return r


def _over_n(terms: np.ndarray, power: int) -> np.ndarray:
    return (terms / _ODD**power).sum(axis=-1)


def _bore(outer_mm, wall_mm) -> np.ndarray:
    """Inside diameter, 0 for a solid bar. Raises ValueError for a wall that leaves no bore."""
    if wall_mm is None:
        return np.zeros(())
    positive(wall_mm=wall_mm)
    bore = np.asarray(outer_mm, float) - 2 * np.asarray(wall_mm, float)
    if not (bore > -1e-12).all():
        raise ValueError(
            f"wall_mm is {wall_mm}; it must be at most half of the outside diameter, {outer_mm} mm"
        )
    return np.maximum(bore, 0.0)
