"""Fatigue at named details: detail categories, a spectrum of load ranges, the sum of their damage.

S-N curve of EN 1993-1-9:2005 7.1: N = 2e6·(Δσ_C/(γ·Δσ))³ to 5e6 cycles, slope 5 from there to 1e8, nothing
below that; shear has the slope 5 all along. Damage is Palmgren and Miner's sum. The use is how many times
larger the spectrum is than one that just makes the sum 1. Stresses of one corner weight standing on the wheel
at ride height, the spring alone carrying; ranges scale them.
"""

from __future__ import annotations

import numpy as np

from assemblies.strength.row import Check
from assemblies.strength.sizing import Cure, Option
from parts.base.frozen import dataclass

SPECTRUM = "fatigue has its own factor, gamma, on the ranges"
TWO, KNEE, CUT = 2e6, 5e6, 1e8


def damage(ranges_mpa, counts, category_mpa, gamma: float, shear=False):
    """Σ n/N for stress ranges and counts, over the last axis; leading axes are details, `category_mpa` and
    `shear` one each.

    >>> damage([71.0], [2e6], 71.0, 1.0).round(9).item(), damage([10.0], [1e9], 71.0, 1.0).item()
    (1.0, 0.0)
    """
    return _sum(np.asarray(ranges_mpa, float), np.asarray(counts, float), gamma, *_curve(category_mpa, shear))


def _curve(category_mpa, shear):
    """Category, knee and cut-off of each detail, and whether it is in shear, (..., 1)."""
    category, shear = np.asarray(category_mpa, float)[..., None], np.asarray(shear, bool)[..., None]
    knee = category * (TWO / KNEE) ** (1 / 3)
    cut = np.where(shear, category * (TWO / CUT) ** (1 / 5), knee * (KNEE / CUT) ** (1 / 5))
    return category, knee, cut, shear


def _sum(ranges_mpa, n, gamma: float, category, knee, cut, shear):
    s = gamma * ranges_mpa
    direct = np.where(s >= knee, (s / category) ** 3 / TWO, (s / knee) ** 5 / KNEE)
    per_cycle = np.where(shear, (s / category) ** 5 / TWO, direct)
    return np.where(s >= cut, n * per_cycle, 0.0).sum(-1)


def allowed_scale(ranges_mpa, counts, category_mpa, gamma: float, shear=False):
    """The factor on all ranges up to which the damage sum stays at 1 or below; infinite without stress. By
    bisection: the sum grows with the factor (and jumps at the cut-off)."""
    s = np.asarray(ranges_mpa, float)
    top = s.max(-1)
    # the largest range alone makes the sum 1 where it is this high, so the answer lies below
    with np.errstate(divide="ignore"):
        high = (
            10 * np.asarray(category_mpa, float) * max(TWO, 1.0) ** (1 / 3) / np.maximum(gamma * top, 1e-12)
        )
    low, n, curve = np.zeros_like(high), np.asarray(counts, float), _curve(category_mpa, shear)
    for _ in range(60):
        middle = (low + high) / 2
        fits = _sum(middle[..., None] * s, n, gamma, *curve) <= 1
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.where(top > 0, low, np.inf)


@dataclass(frozen=True)
class Detail:
    """`stress_mpa`: under one corner weight, nominal at the detail."""

    item: str
    detail: str
    category_mpa: float
    stress_mpa: float
    source: str
    shear: bool = False
    cure: Cure | None = None


def of_welds(rows: list[Check]) -> list[Detail]:
    """The details of all weld rows of one corner weight, without a safety factor: the flow over the
    throat, at the seam's peak."""
    return [
        Detail(
            r.item,
            r.check,
            r.seam.category_mpa,
            r.demand * r.seam.peak / r.seam.throat_mm,
            r.seam.source,
            r.seam.shear,
            r.remedy,
        )
        for r in rows
        if r.seam is not None
    ]


def named(detail: str) -> str:
    return f"fatigue, {detail}"


def checks(
    details: list[Detail], ranges: tuple[tuple[float, float], ...], gamma: float, given: bool
) -> list[Check]:
    """One row a detail: largest range against the range at which the same spectrum makes the sum 1."""
    if not details:
        return []
    g, counts = np.array(ranges).T
    stress = np.abs([d.stress_mpa for d in details])[:, None] * g
    category, shear = np.array([d.category_mpa for d in details]), np.array([d.shear for d in details])
    scales = allowed_scale(stress, counts, category, gamma, shear)
    sums = damage(stress, counts, category, gamma, shear)
    rows = []
    for d, top, scale, total in zip(details, stress.max(1), scales, sums, strict=True):
        if top <= 0:
            continue
        rows.append(
            Check(
                d.item,
                named(d.detail),
                "spectrum",
                float(top),
                float(top * scale),
                "MPa",
                f"EN 1993-1-9:2005 {d.source}, category {d.category_mpa:g}, gamma {gamma:g}",
                0.0,
                0.0,
                f"damage sum {total:.3g}",
                level="stop" if given else "warn",
                damage=float(total),
                service=SPECTRUM,
                options=_options(d, float(1 / scale)),
            )
        )
    return rows


def _options(d: Detail, use: float) -> tuple[Option | str, ...]:
    if use <= 1:
        return ()
    return (*(d.cure(use) if d.cure else ()), f"{use:.2f} times the metal there, or a better detail")
