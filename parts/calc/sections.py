"""Properties of tubes, bars, plates and boxed plates as cross-sections.

Dimensions mm, areas mm², second moments and torsion constants mm⁴, moduli mm³, mass kg/m. y is the axis
across the section's width, so `i_y` is bending over the height; z the other one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from parts.base.stock import DENSITY_KG_M3
from parts.base.units import not_negative, positive
from parts.calc.torsion import round_constant_mm4, strip_alpha, strip_constant_mm4


@dataclass(frozen=True)
class Section:
    """A doubly symmetric cross-section: area, mass, bending about y and z, torsion."""

    name: str
    area_mm2: float
    i_y_mm4: float
    i_z_mm4: float
    w_el_y_mm3: float
    w_el_z_mm3: float
    w_pl_y_mm3: float
    w_pl_z_mm3: float
    i_t_mm4: float
    c_t_mm3: float  # torque over peak shear
    density_kg_m3: float = DENSITY_KG_M3

    @property
    def mass_kg_per_m(self) -> float:
        return self.area_mm2 * self.density_kg_m3 * 1e-6

    @property
    def radius_y_mm(self) -> float:
        """Radius of gyration √(I/A) for bending about y."""
        return math.sqrt(self.i_y_mm4 / self.area_mm2)

    @property
    def radius_z_mm(self) -> float:
        return math.sqrt(self.i_z_mm4 / self.area_mm2)


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
    density_kg_m3: float = DENSITY_KG_M3,
) -> Section:
    """Rectangular hollow section by the annex formulas of EN 10219-2 ("cold") or EN 10210-2 ("hot").

    `radii_mm` (outer, inner) overrides the standard's corners, (0, 0) makes them sharp. I_t and C_t are the
    annex's thin-wall figures: a finite-element I_t is higher by 0.3 % (wall 3) to 2.5 % (stubby). Raises
    ValueError for a wall or radius that leaves no bore or no flat side.

    >>> s = rectangular_tube(40, 40, 3)
    >>> round(s.area_mm2, 3), round(s.i_y_mm4 / 1e4, 3)
    (420.823, 9.324)
    """
    positive(height_mm=height_mm, width_mm=width_mm, wall_mm=wall_mm, density_kg_m3=density_kg_m3)
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
    shape = f"{h:g} x {b:g} x {t:g}" + ("" if radii_mm else f" {finish}")
    return Section(
        shape,
        area,
        i_y,
        i_z,
        2 * i_y / h,
        2 * i_z / b,
        _hollow_plastic(h, b, t, ro, ri),
        _hollow_plastic(b, h, t, ro, ri),
        i_t,
        i_t / (t + k / t),
        density_kg_m3,
    )


def square_tube(
    size_mm: float, wall_mm: float, finish: str = "cold", density_kg_m3: float = DENSITY_KG_M3
) -> Section:
    """Square hollow section: see `rectangular_tube`."""
    return rectangular_tube(size_mm, size_mm, wall_mm, finish, density_kg_m3=density_kg_m3)


def round_tube(
    outer_mm: float, wall_mm: float | None = None, density_kg_m3: float = DENSITY_KG_M3
) -> Section:
    """Round tube, or round bar with `wall_mm` None. Exact; the table formulas of EN 10219-2 are the same.

    >>> s = round_tube(33.7, 2.6)
    >>> round(s.area_mm2, 2), round(s.radius_y_mm, 3)
    (254.03, 11.034)
    """
    positive(outer_mm=outer_mm, density_kg_m3=density_kg_m3)
    j = float(round_constant_mm4(outer_mm, wall_mm))
    bore = 0.0 if wall_mm is None else max(0.0, outer_mm - 2 * wall_mm)
    i, w, w_pl = j / 2, j / outer_mm, (outer_mm**3 - bore**3) / 6
    name = f"round {outer_mm:g}" + ("" if wall_mm is None else f" x {wall_mm:g}")
    return Section(
        name, math.pi / 4 * (outer_mm**2 - bore**2), i, i, w, w, w_pl, w_pl, j, 2 * w, density_kg_m3
    )


def plate(depth_mm: float, thickness_mm: float, density_kg_m3: float = DENSITY_KG_M3) -> Section:
    """A plate on edge (or any solid rectangle): `i_y` is bending in its own plane. Torsion by Saint-Venant's
    series.

    >>> plate(60, 3).i_y_mm4
    54000.0
    """
    positive(depth_mm=depth_mm, thickness_mm=thickness_mm, density_kg_m3=density_kg_m3)
    h, t = depth_mm, thickness_mm
    long, short = max(h, t), min(h, t)
    return Section(
        f"plate {h:g} x {t:g}",
        h * t,
        t * h**3 / 12,
        h * t**3 / 12,
        t * h**2 / 6,
        h * t**2 / 6,
        t * h**2 / 4,
        h * t**2 / 4,
        float(strip_constant_mm4(h, t)),
        float(strip_alpha(long / short)) * long * short**2,
        density_kg_m3,
    )


def boxed_plates(
    depth_mm: float, plate_mm: float, width_mm: float, strip_mm: float, density_kg_m3: float = DENSITY_KG_M3
) -> Section:
    """Two side plates `depth_mm` deep and `plate_mm` thick, closed by strips `strip_mm` thick between them,
    flush with the edges.

    `width_mm` is overall. I_t = 4·A²/Σ(s/t) on the walls' mid-lines (Bredt), low against finite elements (by
    3.6 % for 60 x 30 x 3); it holds only where the box is closed: compare `open_plates_constant_mm4`. Raises
    ValueError where no bore is left.

    >>> s = boxed_plates(60, 3, 30, 3)
    >>> s.area_mm2, s.i_y_mm4, round(s.i_t_mm4, 1)
    (504, 225072.0, 169180.1)
    """
    positive(
        depth_mm=depth_mm,
        plate_mm=plate_mm,
        width_mm=width_mm,
        strip_mm=strip_mm,
        density_kg_m3=density_kg_m3,
    )
    gap, bore = width_mm - 2 * plate_mm, depth_mm - 2 * strip_mm
    if gap <= 0 or bore <= 0:
        raise ValueError(
            f"box {width_mm} wide and {depth_mm} deep leaves a bore of {gap} x {bore} mm; both must be above "
            f"0 mm"
        )
    i_y = (width_mm * depth_mm**3 - gap * bore**3) / 12
    i_z = (depth_mm * width_mm**3 - bore * gap**3) / 12
    b, h = width_mm - plate_mm, depth_mm - strip_mm
    i_t = 4 * (b * h) ** 2 / (2 * h / plate_mm + 2 * b / strip_mm)
    return Section(
        f"box {depth_mm:g} x {width_mm:g}",
        width_mm * depth_mm - gap * bore,
        i_y,
        i_z,
        2 * i_y / depth_mm,
        2 * i_z / width_mm,
        (width_mm * depth_mm**2 - gap * bore**2) / 4,
        (depth_mm * width_mm**2 - bore * gap**2) / 4,
        i_t,
        2 * b * h * min(plate_mm, strip_mm),
        density_kg_m3,
    )


def open_plates_constant_mm4(depth_mm: float, plate_mm: float, plates: int = 2) -> float:
    """Torsion constant of unboxed side plates, each twisting by itself: n·β·b·t³; some 160 times less than
    boxed."""
    positive(plates=plates)
    return plates * float(strip_constant_mm4(depth_mm, plate_mm))


@dataclass(frozen=True)
class NetSection:
    """A plate at a hole: area, shift of the neutral axis from the plate's middle, I and modulus about it."""

    area_mm2: float
    shift_mm: float  # along the offset's own axis, so away from the hole
    i_mm4: float
    w_mm3: float  # at the edge on the hole's side, the further one: it governs
    w_far_side_mm3: float  # at the other edge


def net_section(depth_mm: float, thickness_mm: float, hole_mm: float, offset_mm: float = 0.0) -> NetSection:
    """Plate bent in its plane, cut through a hole `offset_mm` off its middle; about the neutral axis of what
    is left.

    >>> net_section(50, 3, 12.5).area_mm2
    112.5
    """
    positive(depth_mm=depth_mm, thickness_mm=thickness_mm, hole_mm=hole_mm)
    if not abs(offset_mm) + hole_mm / 2 < depth_mm / 2:
        raise ValueError(
            f"hole_mm is {hole_mm} at offset_mm {offset_mm}; it must lie inside the plate, {depth_mm} mm deep"
        )
    area = (depth_mm - hole_mm) * thickness_mm
    shift = -hole_mm * thickness_mm * offset_mm / area
    i = thickness_mm * ((depth_mm**3 - hole_mm**3) / 12 - hole_mm * offset_mm**2) - area * shift**2
    return NetSection(area, shift, i, i / (depth_mm / 2 + abs(shift)), i / (depth_mm / 2 - abs(shift)))


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


def _hollow_plastic(h: float, b: float, t: float, ro: float, ri: float) -> float:
    (ao, ho, _), (ai, hi, _) = _corner(ro, h), _corner(ri, h - 2 * t)
    return (b * h**2 - (b - 2 * t) * (h - 2 * t) ** 2) / 4 - 4 * ao * ho + 4 * ai * hi
