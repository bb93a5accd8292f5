"""Properties of tubes and round bars as cross-sections.

Dimensions mm, areas mm², second moments mm⁴, moduli mm³. y is the axis
across the section's width, so `i_y` is bending over the height; z the other one.
"""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.base.units import not_negative, positive
from parts.calc.torsion import round_constant_mm4


@dataclass(frozen=True)
class BeamSection:
    """A doubly symmetric cross-section: area, bending about y and z, torsion."""

    area_mm2: float
    i_y_mm4: float
    i_z_mm4: float
    w_el_y_mm3: float
    w_el_z_mm3: float
    c_t_mm3: float  # torque over peak shear


def corner_radii_mm(wall_mm: float, finish: str = "cold") -> tuple[float, float]:
    """(outer, inner) corner radius of a rectangular hollow section for its calculated properties.

    Cold formed (EN 10219-2): 2t/1t up to 6 mm, 2.5t/1.5t up to 10 mm, 3t/2t above. Hot finished (EN 10210-2):
    1.5t/1t. A real tube's corner may differ (1.6 to 2.4·t at small walls): measure one where a part must fit
    over it.

    >>> corner_radii_mm(3), corner_radii_mm(6, "hot")
    ((6.0, 3.0), (9.0, 6.0))
    """
    positive(wall_mm=wall_mm)
    if finish == "hot":
        return 1.5 * wall_mm, 1.0 * wall_mm
    if finish != "cold":
        raise ValueError(f'finish is "{finish}"; known: cold, hot')
    outer, inner = (2.0, 1.0) if wall_mm <= 6 else (2.5, 1.5) if wall_mm <= 10 else (3.0, 2.0)
    return outer * wall_mm, inner * wall_mm


def rectangular_tube(
    height_mm: float,
    width_mm: float,
    wall_mm: float,
    finish: str = "cold",
    radii_mm: tuple[float, float] | None = None,
) -> BeamSection:
    """Rectangular hollow section by the annex formulas of EN 10219-2 ("cold") or EN 10210-2 ("hot").

    `radii_mm` (outer, inner) overrides the standard's corners, (0, 0) makes them sharp. I_t and C_t are the
    annex's thin-wall figures: a finite-element I_t is higher by 0.3 % (wall 3) to 2.5 % (stubby). Raises
    ValueError for a wall or radius that leaves no bore or no flat side.

    >>> s = rectangular_tube(40, 40, 3)
    >>> round(s.area_mm2, 3), round(s.i_y_mm4 / 1e4, 3)
    (420.823, 9.324)
    """
    positive(height_mm=height_mm, width_mm=width_mm, wall_mm=wall_mm)
    small = min(height_mm, width_mm)
    if 2 * wall_mm >= small:
        raise ValueError(f"wall_mm is {wall_mm}; it must be less than half of the smaller side, {small} mm")
    ro, ri = corner_radii_mm(wall_mm, finish) if radii_mm is None else radii_mm
    not_negative(outer_radius_mm=ro, inner_radius_mm=ri)
    if 2 * ro > small or 2 * ri > small - 2 * wall_mm:
        raise ValueError(
            f"corner radii are {ro} outside and {ri} inside; at most half of the smaller side, {small / 2} "
            f"and "
            f"{small / 2 - wall_mm} mm"
        )
    h, b, t = height_mm, width_mm, wall_mm
    bent = (ro + ri) / 2
    line = 2 * (b - t + h - t) - 2 * bent * (4 - math.pi)
    enclosed = (b - t) * (h - t) - bent**2 * (4 - math.pi)
    k = 2 * enclosed * t / line
    i_t = line * t**3 / 3 + 2 * k * enclosed
    i_y, i_z = _hollow_inertia(h, b, t, ro, ri), _hollow_inertia(b, h, t, ro, ri)
    area = 2 * t * (b + h - 2 * t) - (4 - math.pi) * (ro**2 - ri**2)
    return BeamSection(
        area,
        i_y,
        i_z,
        2 * i_y / h,
        2 * i_z / b,
        i_t / (t + k / t),
    )


def round_tube(outer_mm: float, wall_mm: float | None = None) -> BeamSection:
    """Round tube, or round bar with `wall_mm` None. Exact; the table formulas of EN 10219-2 are the same.

    >>> s = round_tube(33.7, 2.6)
    >>> round(s.area_mm2, 2), round(s.w_el_y_mm3, 2)
    (254.03, 1835.44)
    """
    positive(outer_mm=outer_mm)
    j = float(round_constant_mm4(outer_mm, wall_mm))
    bore = 0.0 if wall_mm is None else max(0.0, outer_mm - 2 * wall_mm)
    i, w = j / 2, j / outer_mm
    return BeamSection(math.pi / 4 * (outer_mm**2 - bore**2), i, i, w, w, 2 * w)


def _corner(radius_mm: float, depth_mm: float) -> tuple[float, float, float]:
    """What a rounded corner leaves out: area, distance from the section's axis, own second moment (EN 10219-2
    annex)."""
    area = (1 - math.pi / 4) * radius_mm**2
    arm = depth_mm / 2 - (10 - 3 * math.pi) / (12 - 3 * math.pi) * radius_mm
    own = (1 / 3 - math.pi / 16 - 1 / (3 * (12 - 3 * math.pi))) * radius_mm**4
    return area, arm, own


def _hollow_inertia(h: float, b: float, t: float, ro: float, ri: float) -> float:
    (ao, ho, io), (ai, hi, ii) = _corner(ro, h), _corner(ri, h - 2 * t)
    return (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12 - 4 * (io + ao * ho**2) + 4 * (ii + ai * hi**2)
