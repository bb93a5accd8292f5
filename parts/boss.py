"""Size of a round boss about a pin hole: from the force, the edge-distance rules and the washer. Lengths mm,
forces N, MPa."""

from __future__ import annotations

import math

from parts.base.stock import WASHERS


def pin_eye_mm(
    hole_mm: float, force_n: float, thickness_mm: float, yield_mpa: float, safety: float
) -> tuple[float, float]:
    """Least metal beyond a pin hole's edge: (a towards the end, c to the side), mm.

    a >= F·γ/(2·t·fy) + 2·d0/3, c >= F·γ/(2·t·fy) + d0/3; t is all the thickness that shares F.
    Source: EN 1993-1-8:2005 3.13.1, Table 3.9 type A.

    >>> [round(v, 6) for v in pin_eye_mm(17, 20000, 6, 235, 1.0)]
    [18.425532, 12.758865]
    """
    plain = force_n * safety / (2 * thickness_mm * yield_mpa)
    return plain + 2 * hole_mm / 3, plain + hole_mm / 3


def washer_mm(hole_mm: float) -> float:
    """Outside diameter of the plain washer of the largest bolt that passes the hole (ISO 7089); 2·d0 off the
    table.

    >>> washer_mm(10), washer_mm(12.0), washer_mm(10.5)
    (20.0, 24.0, 20.0)
    """
    fits = [w.outer_mm for size, w in WASHERS.items() if float(size[1:]) <= hole_mm]
    inside = fits and hole_mm < 21
    return float(max(fits)) if inside else 2.0 * hole_mm


def least_boss_radius_mm(
    hole_mm: float, force_n: float, thickness_mm: float, yield_mpa: float, safety: float
) -> float:
    """Least radius of a round boss about a pin hole: the pin-eye rule all round and 1.2·d0 from the centre.

    `thickness_mm` is all the thickness that shares the force (both plates). A round boss may be pulled any
    way, so the end distance a rules. Sources: EN 1993-1-8 Table 3.9 type A and Table 3.3.

    >>> round(least_boss_radius_mm(10, 6000, 6, 275, 1.5), 2)
    14.39
    """
    return max(hole_mm / 2 + pin_eye_mm(hole_mm, force_n, thickness_mm, yield_mpa, safety)[0], 1.2 * hole_mm)


def sized_boss_radius_mm(
    hole_mm: float, force_n: float, thickness_mm: float, yield_mpa: float, safety: float, plate_mm: float
) -> float:
    """A good radius: the least one, 1.5·d0 (common practice) and the washer with a weld leg beside it, up to
    a half mm."""
    need = max(
        least_boss_radius_mm(hole_mm, force_n, thickness_mm, yield_mpa, safety),
        1.5 * hole_mm,
        washer_mm(hole_mm) / 2 + plate_mm,
    )
    return math.ceil(2 * need - 1e-9) / 2
