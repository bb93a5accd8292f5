"""Fillet welds: design strength by the simplified method, the run that counts, the limits of the rules.

Forces N, lengths mm, moments N·mm, stress MPa; the throat a is leg/√2 for an equal-leg fillet. EN
1993-1-8:2005 section 4 with gamma_M2 = 1.25 unless given.

Scope: EN 1993-1-8 section 4 starts at 4 mm plate (cl. 4.1(1)); thinner plate falls to EN 1993-1-3 cl. 8.5,
and below these rules a number is a first cut only. A counted fillet has a throat of at least 3 mm, and a run
shorter than 30 mm or 6·a carries nothing (cl. 4.5.1, 4.5.2). `scope_notes` says which of these a weld falls
under.
"""

from __future__ import annotations

import math

from parts.base.units import not_negative, positive

GAMMA_M2 = 1.25  # EN 1993-1-8:2005 Table 2.1
LEAST_PLATE_MM = 4.0  # EN 1993-1-8:2005 cl. 4.1(1)
LEAST_THROAT_MM = 3.0  # EN 1993-1-8:2005 cl. 4.5.2(2)
LEAST_RUN_MM, LEAST_RUN_THROATS = 30.0, 6.0  # EN 1993-1-8:2005 cl. 4.5.1(2)


def throat_mm(leg_mm: float) -> float:
    """Throat of an equal-leg fillet, a = z/√2."""
    positive(leg_mm=leg_mm)
    return leg_mm / math.sqrt(2)


def weld_strength_mpa(fu_mpa: float, beta_w: float, gamma_m2: float = GAMMA_M2) -> float:
    """Design shear strength of a fillet, f_vw,d = fu/(√3·beta_w·gamma_M2) (cl. 4.5.3.3); fu of the weaker
    part joined.

    >>> round(weld_strength_mpa(360, 0.8), 4)
    207.8461
    """
    positive(fu_mpa=fu_mpa, beta_w=beta_w, gamma_m2=gamma_m2)
    return fu_mpa / (math.sqrt(3) * beta_w * gamma_m2)


def weld_resistance_n_per_mm(
    throat: float, fu_mpa: float, beta_w: float, gamma_m2: float = GAMMA_M2
) -> float:
    """Simplified method: F_w,Rd = f_vw,d·a per mm of run, whatever the load's direction (cl. 4.5.3.3).
    Throat, not leg.

    >>> round(weld_resistance_n_per_mm(3, 360, 0.8), 3)
    623.538
    """
    positive(throat=throat)
    return weld_strength_mpa(fu_mpa, beta_w, gamma_m2) * throat


def scope_notes(plate_mm: float, throat: float | None = None, run_mm: float | None = None) -> tuple[str, ...]:
    """Where a weld leaves the rules used here, in words; empty where it does not. `run_mm` is an effective
    length.

    >>> scope_notes(3)[0].split("; ")[0]
    'plate 3 mm: EN 1993-1-8 section 4 starts at 4 mm'
    """
    positive(plate_mm=plate_mm)
    notes = []
    if plate_mm < LEAST_PLATE_MM:
        notes.append(
            f"plate {plate_mm:g} mm: EN 1993-1-8 section 4 starts at {LEAST_PLATE_MM:g} mm; "
            "EN 1993-1-3 cl. 8.5 governs, take the number as a first cut"
        )
    if throat is not None:
        positive(throat=throat)
        if throat < LEAST_THROAT_MM:
            notes.append(
                f"throat {throat:.2g} mm: EN 1993-1-8 cl. 4.5.2 counts a fillet from {LEAST_THROAT_MM:g} mm"
            )
    if run_mm is not None:
        not_negative(run_mm=run_mm)
        least = max(LEAST_RUN_MM, LEAST_RUN_THROATS * (throat or 0.0))
        if run_mm < least:
            notes.append(f"run {run_mm:.3g} mm: EN 1993-1-8 cl. 4.5.1 counts none shorter than {least:g} mm")
    return tuple(notes)
