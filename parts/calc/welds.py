"""Fillet welds: design strength, simplified and directional method, and weld groups treated as lines.

Forces N, lengths mm, moments N·mm, stress MPa; the throat a is leg/√2 for an equal-leg fillet. EN
1993-1-8:2005 section 4 with gamma_M2 = 1.25 unless given.

Scope: EN 1993-1-8 section 4 starts at 4 mm plate (cl. 4.1(1)); thinner plate falls to EN 1993-1-3 cl. 8.5,
and below these rules a number is a first cut only. A counted fillet has a throat of at least 3 mm, and a run
shorter than 30 mm or 6·a carries nothing (cl. 4.5.1, 4.5.2). `scope_notes` says which of these a weld falls
under.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from parts.base.units import finite, not_negative, positive

GAMMA_M2 = 1.25  # EN 1993-1-8:2005 Table 2.1
LEAST_PLATE_MM = 4.0  # EN 1993-1-8:2005 cl. 4.1(1)
LEAST_THROAT_MM = 3.0  # EN 1993-1-8:2005 cl. 4.5.2(2)
LEAST_RUN_MM, LEAST_RUN_THROATS = 30.0, 6.0  # EN 1993-1-8:2005 cl. 4.5.1(2)

Point = tuple[float, float]


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


def effective_length_mm(length_mm: float, throat: float, full_size_ends: bool = False) -> float:
    """Run that counts: overall length less 2·a unless full size to its ends; 0 where below 30 mm or 6·a (cl.
    4.5.1).

    >>> effective_length_mm(60, 3), effective_length_mm(32, 3)
    (54.0, 0.0)
    """
    positive(length_mm=length_mm, throat=throat)
    effective = length_mm if full_size_ends else length_mm - 2.0 * throat
    return effective if effective >= max(LEAST_RUN_MM, LEAST_RUN_THROATS * throat) else 0.0


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


@dataclass(frozen=True)
class Directional:
    """Directional method: stresses on the throat plane, equivalent stress, and the use (at most 1)."""

    equivalent_mpa: float
    limit_mpa: float
    use: float


def directional(
    sigma_perp_mpa: float,
    tau_perp_mpa: float,
    tau_along_mpa: float,
    fu_mpa: float,
    beta_w: float,
    gamma_m2: float = GAMMA_M2,
) -> Directional:
    """√(σ⊥² + 3·(τ⊥² + τ∥²)) <= fu/(beta_w·gamma_M2), and σ⊥ <= 0.9·fu/gamma_M2 (cl. 4.5.3.2)."""
    finite(sigma_perp_mpa=sigma_perp_mpa, tau_perp_mpa=tau_perp_mpa, tau_along_mpa=tau_along_mpa)
    positive(fu_mpa=fu_mpa, beta_w=beta_w, gamma_m2=gamma_m2)
    equivalent = math.sqrt(sigma_perp_mpa**2 + 3 * (tau_perp_mpa**2 + tau_along_mpa**2))
    limit = fu_mpa / (beta_w * gamma_m2)
    return Directional(
        equivalent, limit, max(equivalent / limit, abs(sigma_perp_mpa) / (0.9 * fu_mpa / gamma_m2))
    )


def transverse_stress_mpa(force_n: float, throat: float, length_mm: float) -> float:
    """σ⊥ = τ⊥ = F/(√2·a·L) on the throat of equal-leg fillets loaded square to their run and to one leg, L
    their total length.

    >>> round(transverse_stress_mpa(40_000, 3, 120), 4)
    78.5674
    """
    finite(force_n=force_n)
    positive(throat=throat, length_mm=length_mm)
    return force_n / (math.sqrt(2) * throat * length_mm)


# ------------------------------------------------------------ weld groups as lines


@dataclass(frozen=True)
class Straight:
    """A straight run between two points, mm."""

    start: Point
    end: Point

    def __post_init__(self):
        finite(start=self.start, end=self.end)
        if self.start == self.end:
            raise ValueError(f"a straight run starts and ends at {self.start}; it needs a length")

    @property
    def moments(self) -> tuple[float, ...]:
        """∫ of 1, x, y, x², y², xy along the run."""
        (x1, y1), (x2, y2) = self.start, self.end
        n = math.dist(self.start, self.end)
        return (
            n,
            n * (x1 + x2) / 2,
            n * (y1 + y2) / 2,
            n * (x1 * x1 + x1 * x2 + x2 * x2) / 3,
            n * (y1 * y1 + y1 * y2 + y2 * y2) / 3,
            n * (2 * x1 * y1 + x1 * y2 + x2 * y1 + 2 * x2 * y2) / 6,
        )

    def candidates(self, base: np.ndarray, slope: np.ndarray) -> list[Point]:
        """Where |base + slope·(x, y)| can be greatest on the run: it is convex along a line, so an end."""
        return [self.start, self.end]


@dataclass(frozen=True)
class Arc:
    """A run along a circle: centre, radius mm, start and sweep in rad (sweep 2π is the whole circle)."""

    centre: Point
    radius_mm: float
    start_rad: float = 0.0
    sweep_rad: float = 2 * math.pi

    def __post_init__(self):
        finite(centre=self.centre, start_rad=self.start_rad)
        positive(radius_mm=self.radius_mm, sweep_rad=self.sweep_rad)
        if self.sweep_rad > 2 * math.pi + 1e-12:
            raise ValueError(
                f"sweep_rad is {self.sweep_rad}; it must be at most a full turn, {2 * math.pi:.6f}"
            )

    def at(self, angle_rad: float) -> Point:
        return (
            self.centre[0] + self.radius_mm * math.cos(angle_rad),
            self.centre[1] + self.radius_mm * math.sin(angle_rad),
        )

    @property
    def moments(self) -> tuple[float, ...]:
        """∫ of 1, x, y, x², y², xy along the run, closed form."""
        (cx, cy), r, a, d = self.centre, self.radius_mm, self.start_rad, self.sweep_rad
        b = a + d
        n, ix, iy = r * d, r**2 * (math.sin(b) - math.sin(a)), r**2 * (math.cos(a) - math.cos(b))
        half = (math.sin(2 * b) - math.sin(2 * a)) / 2
        xx, yy, xy = (
            r**3 * (d + half) / 2,
            r**3 * (d - half) / 2,
            r**3 * (math.cos(2 * a) - math.cos(2 * b)) / 4,
        )
        return (
            n,
            cx * n + ix,
            cy * n + iy,
            cx**2 * n + 2 * cx * ix + xx,
            cy**2 * n + 2 * cy * iy + yy,
            cx * cy * n + cx * iy + cy * ix + xy,
        )

    def candidates(self, base: np.ndarray, slope: np.ndarray) -> list[Point]:
        """Ends, and every stationary point of |base + slope·(x, y)|² on the circle: a trigonometric
        polynomial of order 2, so the roots of a quartic in exp(i·angle)."""
        g, m = self.radius_mm * slope, base + slope @ np.array(self.centre)
        order_1 = 2 * (m @ g)  # cos and sin of the angle
        order_2 = np.array(
            [(g[:, 0] @ g[:, 0] - g[:, 1] @ g[:, 1]) / 2, g[:, 0] @ g[:, 1]]
        )  # of twice the angle
        c1, c2 = complex(*order_1) / 2, complex(*order_2) / 2  # coefficients of exp(-i·angle), exp(-2i·angle)
        ends = [self.at(self.start_rad), self.at(self.start_rad + self.sweep_rad)]
        scale = max(abs(c1), abs(c2))
        if scale == 0 or not math.isfinite(scale):
            return ends
        roots = np.roots(np.array([2 * c2.conjugate(), c1.conjugate(), 0, -c1, -2 * c2]) / scale)
        turns = [(float(np.angle(z)) - self.start_rad) % (2 * math.pi) for z in roots]
        return ends + [self.at(self.start_rad + t) for t in turns if t <= self.sweep_rad]


@dataclass(frozen=True)
class WeldPoint:
    """Stress on the throat at one point of a group: in the weld's plane (x, y), out of it (z), and their
    vector sum."""

    at: Point
    tau_x_mpa: float
    tau_y_mpa: float
    sigma_z_mpa: float

    @property
    def resultant_mpa(self) -> float:
        return math.sqrt(self.tau_x_mpa**2 + self.tau_y_mpa**2 + self.sigma_z_mpa**2)


@dataclass(frozen=True)
class WeldGroup:
    """Runs of one throat in one plane, treated as lines: properties per mm of throat (length mm, second
    moments mm³).

    Source: Shigley's Mechanical Engineering Design, welds treated as a line. A combined load is the elastic
    vector sum.

    >>> g = rectangle_run(60, 40)
    >>> round(g.j_mm3, 2), round(g.i_x_mm3, 3)
    (166666.67, 58666.667)
    """

    runs: tuple[Straight | Arc, ...]

    def __post_init__(self):
        if not self.runs:
            raise ValueError("runs is empty; a weld group needs at least one run")

    @cached_property
    def _moments(self) -> np.ndarray:
        return np.sum([r.moments for r in self.runs], axis=0)

    @property
    def length_mm(self) -> float:
        return float(self._moments[0])

    @property
    def centroid(self) -> Point:
        m = self._moments
        return float(m[1] / m[0]), float(m[2] / m[0])

    @property
    def i_x_mm3(self) -> float:
        """∫y² along the runs, about the centroid: bending about x."""
        m = self._moments
        return float(m[4] - m[2] ** 2 / m[0])

    @property
    def i_y_mm3(self) -> float:
        """∫x² along the runs, about the centroid: bending about y."""
        m = self._moments
        return float(m[3] - m[1] ** 2 / m[0])

    @property
    def i_xy_mm3(self) -> float:
        m = self._moments
        return float(m[5] - m[1] * m[2] / m[0])

    @property
    def j_mm3(self) -> float:
        """Polar second moment, for torsion in the weld's plane."""
        return self.i_x_mm3 + self.i_y_mm3

    def worst(self, throat: float, force_n=(0.0, 0.0, 0.0), moment_nmm=(0.0, 0.0, 0.0)) -> WeldPoint:
        """The point of greatest vector-sum stress under a force through the centroid and a moment about it.

        x and y lie in the weld's plane, z out of it; right-handed. Torsion is moment z, bending moments x and
        y: τ = F/(a·L) ± M_z·r/(a·J), σ = F_z/(a·L) + bending about the principal axes (product of inertia
        kept). Exact on lines and arcs, not sampled. Raises ValueError for a moment that a single straight run
        cannot carry."""
        positive(throat=throat)
        force, moment = np.asarray(force_n, float), np.asarray(moment_nmm, float)
        finite(force_n=force, moment_nmm=moment)
        if force.shape != (3,) or moment.shape != (3,):
            raise ValueError(
                f"force_n and moment_nmm need three numbers each (x, y, z); got {force.shape} and "
                f"{moment.shape}"
            )
        twist = moment[2] / self.j_mm3
        slope = np.array([[0.0, -twist], [twist, 0.0], self._bending_slope(moment)]) / throat
        base = force / (throat * self.length_mm) - slope @ np.array(self.centroid)
        points = [p for r in self.runs for p in r.candidates(base, slope)]
        stresses = [base + slope @ np.array(p) for p in points]
        most = max(range(len(points)), key=lambda i: float(stresses[i] @ stresses[i]))
        return WeldPoint(tuple(map(float, points[most])), *map(float, stresses[most]))

    def _bending_slope(self, moment: np.ndarray) -> np.ndarray:
        """(∂/∂x, ∂/∂y) of σ·a: M_x = ∫y·σ, M_y = -∫x·σ."""
        m_x, m_y = moment[:2]
        if m_x == 0 and m_y == 0:
            return np.zeros(2)
        inertia = np.array([[self.i_xy_mm3, self.i_x_mm3], [self.i_y_mm3, self.i_xy_mm3]])
        wanted = np.array([m_x, -m_y])
        slope = np.linalg.lstsq(inertia / self.j_mm3, wanted / self.j_mm3, rcond=1e-10)[0]
        if np.abs(inertia @ slope - wanted).max() > 1e-6 * np.abs(wanted).max():
            raise ValueError(
                f"moment_nmm is {tuple(moment.tolist())}; runs in one straight line carry no moment about "
                f"that line"
            )
        return slope


def rectangle_run(width_mm: float, depth_mm: float) -> WeldGroup:
    """Weld all round a rectangle, centred on (0, 0), `width_mm` along x: J_u = (b + d)³/6."""
    positive(width_mm=width_mm, depth_mm=depth_mm)
    x, y = width_mm / 2, depth_mm / 2
    return polygon_run([(-x, -y), (x, -y), (x, y), (-x, y)])


def circle_run(diameter_mm: float) -> WeldGroup:
    """Weld all round a tube, centred on (0, 0): J_u = 2·π·r³, I_u = π·r³."""
    positive(diameter_mm=diameter_mm)
    return WeldGroup((Arc((0.0, 0.0), diameter_mm / 2),))


def polygon_run(corners: Iterable[Point], closed: bool = True) -> WeldGroup:
    """Weld along straight lines through `corners`, back to the first where `closed`."""
    c = [(float(x), float(y)) for x, y in corners]
    ends = c[1:] + c[:1] if closed else c[1:]
    return WeldGroup(tuple(Straight(a, b) for a, b in zip(c, ends, strict=False)))
