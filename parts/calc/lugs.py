"""Eyes in plate with a pin: tension, splitting, double shear, bearing, after the kind of ASME BTH-1, pinned
connections.

One consistent set of units (mm, N, MPa here). `side` b_e runs from the hole's edge to the side edge, `end` R
from the hole's CENTRE to the end edge along the force. Fracture modes carry 1.2·N_d, bearing (yield) N_d
alone. Formulas from memory, matched to public calculation sheets.
"""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.base.units import positive


def loose_pin_factor(pin_mm: float, hole_mm: float) -> float:
    """C_r = 1 - 0.275·√(1 - (D_p/D_h)²): falls fast near a close fit.

    >>> round(loose_pin_factor(0.95, 1), 5)
    0.91413
    """
    positive(pin_mm=pin_mm, hole_mm=hole_mm)
    if pin_mm > hole_mm:
        raise ValueError(f"pin_mm is {pin_mm}; it must be at most the hole's {hole_mm} mm")
    return 1 - 0.275 * math.sqrt(1 - (pin_mm / hole_mm) ** 2)


def effective_width_mm(
    thickness_mm: float,
    hole_mm: float,
    side_mm: float,
    yield_mpa: float,
    fu_mpa: float,
    stiffened: bool = False,
) -> float:
    """b_eff = min(b_e, 4·t, 0.6·b_e·(Fu/Fy)·√(D_h/b_e)); a boxed or bossed plate (`stiffened`) cannot dish:
    no 4·t."""
    positive(thickness_mm=thickness_mm, hole_mm=hole_mm, side_mm=side_mm, yield_mpa=yield_mpa, fu_mpa=fu_mpa)
    width = min(side_mm, 0.6 * side_mm * fu_mpa / yield_mpa * math.sqrt(hole_mm / side_mm))
    return width if stiffened else min(width, 4 * thickness_mm)


def shear_angle_rad(pin_mm: float, hole_mm: float) -> float:
    """φ = 55°·D_p/D_h, returned in radians."""
    positive(pin_mm=pin_mm, hole_mm=hole_mm)
    return math.radians(55 * pin_mm / hole_mm)


def rounded_end_loss_mm(end_radius_mm: float, pin_mm: float, hole_mm: float) -> float:
    """Shear-plane length lost on a rounded end, Z' = r - √(r² - (D_p/2·sin φ)²); BTH-1 commentary.

    >>> round(rounded_end_loss_mm(24.5, 16, 17), 6)
    0.819549
    """
    positive(end_radius_mm=end_radius_mm)
    reach = pin_mm / 2 * math.sin(shear_angle_rad(pin_mm, hole_mm))
    if end_radius_mm < reach:
        raise ValueError(
            f"end_radius_mm is {end_radius_mm}; it must be at least {reach:.2f} mm for a {pin_mm} mm pin"
        )
    return end_radius_mm - math.sqrt(end_radius_mm**2 - reach**2)


@dataclass(frozen=True)
class Lug:
    """Allowable force of an eye by mode, with the numbers that made it."""

    loose_pin_factor: float
    effective_width_mm: float
    shear_angle_rad: float
    shear_area_mm2: float
    tension_n: float
    splitting_n: float
    shear_n: float
    bearing_n: float

    @property
    def by_mode(self) -> dict[str, float]:
        return {
            "tension": self.tension_n,
            "splitting": self.splitting_n,
            "shear": self.shear_n,
            "bearing": self.bearing_n,
        }


def lug(  # noqa: PLR0913  # symbols of one clause
    thickness_mm: float,
    pin_mm: float,
    hole_mm: float,
    side_mm: float,
    end_mm: float,
    yield_mpa: float,
    fu_mpa: float,
    design_factor: float = 2.0,
    end_radius_mm: float | None = None,
    stiffened: bool = False,
    rotating: bool = False,
) -> Lug:
    """Allowable forces of one plate eye.

    P_t = C_r·Fu/(1.2·N_d)·2·t·b_eff; P_b = C_r·Fu/(1.2·N_d)·[1.13·(R - D_h/2) + 0.92·b_e/(1 + b_e/D_h)]·t;
    P_v = 0.7·Fu/(1.2·N_d)·A_v, A_v = 2·[a + D_p/2·(1 - cos φ) - Z']·t, a = R - D_h/2; P_p =
    1.25·Fy/N_d·D_p·t, or 0.63·Fy/N_d·D_p·t for a pin that turns under load (`rotating`; from memory, not
    confirmed by a second source). `end_radius_mm` gives the end's rounding, None is square (Z' = 0). Two thin
    ears are not one thick tongue: call it for one ear and double. Raises ValueError where R leaves no metal
    past the hole.

    >>> eye = lug(8, 16, 17, 16, 24.5, 235, 360)
    >>> round(min(eye.by_mode.values())), round(eye.tension_n)
    (18800, 33001)
    """
    positive(
        thickness_mm=thickness_mm,
        side_mm=side_mm,
        end_mm=end_mm,
        yield_mpa=yield_mpa,
        fu_mpa=fu_mpa,
        design_factor=design_factor,
    )
    c_r = loose_pin_factor(pin_mm, hole_mm)
    past = end_mm - hole_mm / 2
    if past <= 0:
        raise ValueError(f"end_mm is {end_mm}; it must be more than half of the hole, {hole_mm / 2} mm")
    width = effective_width_mm(thickness_mm, hole_mm, side_mm, yield_mpa, fu_mpa, stiffened)
    phi = shear_angle_rad(pin_mm, hole_mm)
    lost = 0.0 if end_radius_mm is None else rounded_end_loss_mm(end_radius_mm, pin_mm, hole_mm)
    shear_length = past + pin_mm / 2 * (1 - math.cos(phi)) - lost
    if shear_length <= 0:
        raise ValueError(
            f"end_mm is {end_mm}; its rounded end leaves no shear length past a {hole_mm} mm hole"
        )
    area = 2 * shear_length * thickness_mm
    fracture = fu_mpa / (1.2 * design_factor)
    split = 1.13 * past + 0.92 * side_mm / (1 + side_mm / hole_mm)
    bearing = (0.63 if rotating else 1.25) * yield_mpa / design_factor * pin_mm * thickness_mm
    return Lug(
        c_r,
        width,
        phi,
        area,
        c_r * fracture * 2 * thickness_mm * width,
        c_r * fracture * split * thickness_mm,
        0.7 * fracture * area,
        bearing,
    )
