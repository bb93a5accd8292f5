"""Bolts in shear, tension and bearing, preload, eccentric bolt groups, cross bolts.

Forces N, lengths mm, areas mm², stress MPa, torques N·m. EN 1993-1-8:2005 with gamma_M2 = 1.25 unless given;
the 2024 edition changes the bearing rule. The plates' fu is an input: editions differ (see stock.py).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from parts.base.frozen import dataclass
from parts.base.stock import Thread, thread
from parts.base.units import finite, not_negative, positive

GAMMA_M2 = 1.25  # EN 1993-1-8:2005 Table 2.1


@dataclass(frozen=True)
class Grade:
    """A bolt class: nominal tensile strength, yield, and shear factor with threads in the plane."""

    name: str
    fub_mpa: float
    fyb_mpa: float
    alpha_v: float


GRADES: dict[str, Grade] = {
    g.name: g
    for g in (  # EN 1993-1-8:2005 Tables 3.1 and 3.4; ISO 898-1
        Grade("4.6", 400, 240, 0.6),
        Grade("4.8", 400, 320, 0.5),
        Grade("5.6", 500, 300, 0.6),
        Grade("5.8", 500, 400, 0.5),
        Grade("6.8", 600, 480, 0.5),
        Grade("8.8", 800, 640, 0.6),
        Grade("10.9", 1000, 900, 0.5),
    )
}
_PRELOADABLE = ("8.8", "10.9")  # EN 1993-1-8:2005 3.1.2


def grade(name: str) -> Grade:
    """The bolt class called `name`. Raises ValueError listing the known ones (12.9 is not one of EN
    1993-1-8)."""
    if name not in GRADES:
        raise ValueError(f'bolt class is "{name}"; known: {", ".join(GRADES)}')
    return GRADES[name]


def shear_resistance_n(
    area_mm2: float,
    bolt_class: str,
    threads_in_plane: bool = True,
    planes: int = 1,
    gamma_m2: float = GAMMA_M2,
) -> float:
    """F_v,Rd = n·alpha_v·fub·A/gamma_M2 (Table 3.4).

    `area_mm2` is the stress area with the threads in the plane, the shank's area without (alpha_v is then
    0.6). With the threads in the plane alpha_v is 0.6 for 4.6, 5.6 and 8.8 but 0.5 for 4.8, 5.8, 6.8 and
    10.9: 10.9 gains only 4 % on 8.8.

    >>> round(shear_resistance_n(84.3, "8.8"), 1)
    32371.2
    """
    g = grade(bolt_class)
    positive(area_mm2=area_mm2, planes=planes, gamma_m2=gamma_m2)
    return planes * (g.alpha_v if threads_in_plane else 0.6) * g.fub_mpa * area_mm2 / gamma_m2


def tension_resistance_n(
    stress_area_mm2: float, bolt_class: str, countersunk: bool = False, gamma_m2: float = GAMMA_M2
) -> float:
    """F_t,Rd = k2·fub·A_s/gamma_M2, k2 = 0.9 or 0.63 countersunk (Table 3.4)."""
    positive(stress_area_mm2=stress_area_mm2, gamma_m2=gamma_m2)
    return (0.63 if countersunk else 0.9) * grade(bolt_class).fub_mpa * stress_area_mm2 / gamma_m2


@dataclass(frozen=True)
class Bearing:
    """Bearing of one bolt on one plate with the two factors that made it."""

    resistance_n: float
    alpha_b: float
    k1: float


def bearing_resistance(  # noqa: PLR0913  # symbols of one table
    diameter_mm: float,
    hole_mm: float,
    thickness_mm: float,
    plate_fu_mpa: float,
    bolt_class: str,
    end_mm: float | None = None,
    edge_mm: float | None = None,
    pitch_mm: float | None = None,
    gauge_mm: float | None = None,
    oversize_hole: bool = False,
    single_lap: bool = False,
    gamma_m2: float = GAMMA_M2,
) -> Bearing:
    """F_b,Rd = k1·alpha_b·fu·d·t/gamma_M2 (EN 1993-1-8:2005 Table 3.4).

    alpha_b = min(e1/(3·d0), p1/(3·d0) - 1/4, fub/fu, 1); k1 = min(2.8·e2/d0 - 1.7, 1.4·p2/d0 - 1.7, 2.5).
    `end_mm` e1 along the force and `edge_mm` e2 across it run from the hole's centre; `pitch_mm` p1 and
    `gauge_mm` p2 between centres. Leave out what does not apply (no end bolt, no neighbour); at least e1 or
    p1 is needed. An oversize hole (ISO 273 coarse) takes 0.8; a single lap joint with one bolt row is held to
    1.5·fu·d·t/gamma_M2 (3.6.1(10)). Raises ValueError for distances below Table 3.3 (1.2·d0, 1.2·d0, 2.2·d0,
    2.4·d0).

    >>> round(bearing_resistance(12, 13, 3, 360, "8.8", end_mm=20, edge_mm=20).resistance_n, 1)
    13292.3
    """
    g = grade(bolt_class)
    positive(
        diameter_mm=diameter_mm,
        hole_mm=hole_mm,
        thickness_mm=thickness_mm,
        plate_fu_mpa=plate_fu_mpa,
        gamma_m2=gamma_m2,
    )
    if hole_mm < diameter_mm:
        raise ValueError(f"hole_mm is {hole_mm}; it must be at least the bolt's {diameter_mm} mm")
    if end_mm is None and pitch_mm is None:
        raise ValueError(
            "end_mm and pitch_mm are both missing; give the distance to the plate's end or to the next bolt"
        )
    least = least_distances_mm(hole_mm)
    for name, value, limit in (
        ("end_mm", end_mm, least.end_mm),
        ("edge_mm", edge_mm, least.edge_mm),
        ("pitch_mm", pitch_mm, least.pitch_mm),
        ("gauge_mm", gauge_mm, least.gauge_mm),
    ):
        if value is not None and not value >= limit - 1e-9:
            raise ValueError(
                f"{name} is {value}; EN 1993-1-8 Table 3.3 asks for at least {limit:.2f} mm for a {hole_mm} "
                f"mm hole"
            )
    alpha_b = min(
        [1.0, g.fub_mpa / plate_fu_mpa]
        + ([] if end_mm is None else [end_mm / (3 * hole_mm)])
        + ([] if pitch_mm is None else [pitch_mm / (3 * hole_mm) - 0.25])
    )
    k1 = min(
        [2.5]
        + ([] if edge_mm is None else [2.8 * edge_mm / hole_mm - 1.7])
        + ([] if gauge_mm is None else [1.4 * gauge_mm / hole_mm - 1.7])
    )
    product = plate_fu_mpa * diameter_mm * thickness_mm / gamma_m2
    resistance = (0.8 if oversize_hole else 1.0) * k1 * alpha_b * product
    return Bearing(min(resistance, 1.5 * product) if single_lap else resistance, alpha_b, k1)


@dataclass(frozen=True)
class Distances:
    """Least distances from a hole's centre to end and edge and between holes, mm."""

    end_mm: float
    edge_mm: float
    pitch_mm: float
    gauge_mm: float


def least_distances_mm(hole_mm: float) -> Distances:
    """e1 >= 1.2·d0, e2 >= 1.2·d0, p1 >= 2.2·d0, p2 >= 2.4·d0 (EN 1993-1-8:2005 Table 3.3): a floor, not an
    aim."""
    positive(hole_mm=hole_mm)
    return Distances(1.2 * hole_mm, 1.2 * hole_mm, 2.2 * hole_mm, 2.4 * hole_mm)


def combined_use(shear_n, tension_n, shear_resistance: float, tension_resistance: float):
    """F_v/F_v,Rd + F_t/(1.4·F_t,Rd) (Table 3.4): linear with 1.4, not a circle. The tension alone
    must besides stay within F_t,Rd. Arrays broadcast.

    >>> round(float(combined_use(12_000, 25_000, 32371.2, 48556.8)), 5)
    0.73846
    """
    not_negative(shear_n=shear_n, tension_n=tension_n)
    positive(shear_resistance=shear_resistance, tension_resistance=tension_resistance)
    return np.asarray(shear_n) / shear_resistance + np.asarray(tension_n) / (1.4 * tension_resistance)


class CrossBolt(NamedTuple):
    """Forces of one bolt straight through two tubes, N: per shear plane, and on one wall of each tube."""

    shear_n: np.ndarray
    inner_bearing_n: np.ndarray
    outer_bearing_n: np.ndarray


def cross_bolt(
    torque_nmm, inner_mm: float, inner_wall_mm: float, outer_mm: float, outer_wall_mm: float
) -> CrossBolt:
    """A cross bolt that carries torque from one tube to another round it.

    Two shear planes at the inner tube's outside, F = T/D each; two walls of each tube bear at their middle,
    F = T/(D - t). Statics: the arms differ, for shear is at the meeting and bearing at mid wall.

    >>> [round(float(f), 2) for f in cross_bolt(350e3, 38, 3, 45, 3)]
    [9210.53, 10000.0, 8333.33]
    """
    positive(inner_mm=inner_mm, outer_mm=outer_mm, inner_wall_mm=inner_wall_mm, outer_wall_mm=outer_wall_mm)
    torque = np.asarray(torque_nmm, float)
    return CrossBolt(
        torque / inner_mm, torque / (inner_mm - inner_wall_mm), torque / (outer_mm - outer_wall_mm)
    )


def preload_n(stress_area_mm2: float, bolt_class: str) -> float:
    """F_p,C = 0.7·fub·A_s (EN 1993-1-8:2005 3.6.1), classes 8.8 and 10.9 only.

    >>> round(preload_n(58.0, "8.8"))
    32480
    """
    positive(stress_area_mm2=stress_area_mm2)
    if grade(bolt_class).name not in _PRELOADABLE:
        raise ValueError(f'bolt class is "{bolt_class}"; only {" and ".join(_PRELOADABLE)} may be preloaded')
    return 0.7 * grade(bolt_class).fub_mpa * stress_area_mm2


def tightening_torque_nm(preload: float, diameter_mm: float, nut_factor: float = 0.2) -> float:
    """T = K·F·d. K is common practice and runs from 0.12 (greased) to 0.25 (dry): guidance, never a proof of
    preload."""
    positive(preload=preload, diameter_mm=diameter_mm, nut_factor=nut_factor)
    return nut_factor * preload * diameter_mm / 1000


def thread_strip_n(screw: Thread, engaged_mm: float, screw_shear_mpa: float, nut_shear_mpa: float) -> float:
    """Force at which the weaker of two threads strips: 0.75·π·D1·L of the screw's, 0.875·π·d·L of the nut's
    metal in shear, basic sizes. Give the shear strengths; leave chamfers and run-out out of the length.

    Source: FED-STD-H28/2B and Machinery's Handbook, length of engagement.

    >>> round(thread_strip_n(thread("M12"), 7.078, 400, 400) / thread("M12").stress_area_mm2)
    800
    """
    positive(engaged_mm=engaged_mm, screw_shear_mpa=screw_shear_mpa, nut_shear_mpa=nut_shear_mpa)
    outside = 0.75 * math.pi * screw.nut_minor_mm * screw_shear_mpa
    inside = 0.875 * math.pi * screw.diameter_mm * nut_shear_mpa
    return min(outside, inside) * engaged_mm


@dataclass(frozen=True)
class Bolt:
    """A bolt by thread ("M10", "M10x1.25") and class ("8.8"), with its resistances on areas from the thread's
    formula."""

    size: str
    bolt_class: str = "8.8"

    def __post_init__(self):
        thread(self.size), grade(self.bolt_class)

    @property
    def thread(self) -> Thread:
        return thread(self.size)

    def shear_n(self, planes: int = 1, threads_in_plane: bool = True) -> float:
        area = self.thread.stress_area_mm2 if threads_in_plane else self.thread.shank_area_mm2
        return shear_resistance_n(area, self.bolt_class, threads_in_plane, planes)

    def tension_n(self, countersunk: bool = False) -> float:
        return tension_resistance_n(self.thread.stress_area_mm2, self.bolt_class, countersunk)

    def preload_n(self) -> float:
        return preload_n(self.thread.stress_area_mm2, self.bolt_class)


def torque_forces_n(positions_mm, torque_nmm: float, spigot: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Forces of a plate on its equal bolts, (bolts, 2), and on what centres it at (0, 0), (2,), for a torque
    about that point, counter-clockwise positive; N, mm.

    Without a spigot the bolts turn about their own centroid: F_i = T·(-y, x)/Σr² with r from there, and the
    centre bears nothing; one bolt, or several in one place, is a mechanism: ValueError. With a stiff spigot
    at (0, 0) they turn about that, and it bears what their forces do not balance among themselves: one bolt
    takes T/r and the spigot as much again. `T/(n·r)` is right only for bolts spread evenly round the axis.
    Source: statics; elastic bolt group, Shigley's Mechanical Engineering Design.

    >>> torque_forces_n([(45, 0), (-45, 0)], 350e3)[0].round(1).tolist()
    [[0.0, 3888.9], [0.0, -3888.9]]
    >>> torque_forces_n([(45, 0)], 350e3, spigot=True)[1].round(1).tolist()
    [0.0, -7777.8]
    """
    p = np.asarray(positions_mm, float)
    finite(positions_mm=p, torque_nmm=torque_nmm)
    if p.ndim != 2 or p.shape[1:] != (2,) or not len(p):
        raise ValueError(f"positions_mm has shape {p.shape}; it must be (bolts, 2)")
    r = p if spigot else p - p.mean(axis=0)
    polar = float((r**2).sum())
    if polar < 1e-6:
        raise ValueError(
            f"{len(p)} bolt(s) in one place carry no torque: it turns about them; take two bolts apart, "
            "or a spigot on the axis and a bolt beside it"
        )
    forces = torque_nmm / polar * np.column_stack((-r[:, 1], r[:, 0])) + 0.0
    return forces, 0.0 - forces.sum(axis=0) if spigot else np.zeros(2)
