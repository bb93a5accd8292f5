"""Pivots: what two supports of a shaft bear, the shaft's own stress, plain bushes, rolling bearings, a press
fit.

Forces N, lengths mm, moments N·mm, stress MPa. Ratings are inputs from the maker's table.
"""

from __future__ import annotations

import math

import numpy as np

from parts.base.frozen import dataclass
from parts.base.units import positive


def two_supports(force_n, moment_nmm, first_mm: float, second_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Reactions of two supports at `first_mm` and `second_mm` along z on a shaft that bears a force and a
    moment at z = 0; vectors (..., 3), square to z only: along it something else must hold.

    R1 + R2 = -F and z·k×R1 + z·k×R2 = -M give R2 = (z1·F + k×M)/(z2 - z1). Statics; rows P1 and P11.
    Raises ValueError where both stand in one place.

    >>> [r[0].tolist() for r in two_supports([(6000.0, 0, 0)], [(0, 0, 0)], 30, 80)]
    [[-9600.0, 0.0, 0.0], [3600.0, 0.0, 0.0]]
    """
    span = second_mm - first_mm
    if abs(span) < 1e-6:
        raise ValueError(f"both supports stand at {first_mm:g} mm: they hold no moment")
    f, m = np.array(force_n, float), np.asarray(moment_nmm, float)
    f[..., 2] = 0.0
    turned = np.stack([-m[..., 1], m[..., 0], np.zeros_like(m[..., 0])], -1)  # k × M
    second = (first_mm * f + turned) / span
    return -f - second + 0.0, second + 0.0


@dataclass(frozen=True)
class TubeStress:
    """Of a round shaft under bending, torque and shear at one section, MPa: von Mises at the extreme fibre
    and at the neutral axis, where torsion and shear add. Arrays like the loads."""

    bending_mpa: np.ndarray
    torsion_mpa: np.ndarray
    shear_mpa: np.ndarray

    @property
    def fibre_mpa(self) -> np.ndarray:
        return np.sqrt(self.bending_mpa**2 + 3 * self.torsion_mpa**2)

    @property
    def neutral_mpa(self) -> np.ndarray:
        return math.sqrt(3) * (self.torsion_mpa + self.shear_mpa)

    @property
    def worst_mpa(self) -> np.ndarray:
        return np.maximum(self.fibre_mpa, self.neutral_mpa)


def tube_stress(outer_mm: float, bore_mm: float, moment_nmm, torque_nmm, shear_n) -> TubeStress:
    """M/W, T/(2·W) and 4·V/(3·A)·(R² + R·r + r²)/(R² + r²): Gere and Timoshenko, Mechanics of Materials; row
    P2. Bore 0 is solid."""
    positive(outer_mm=outer_mm)
    if not 0 <= bore_mm < outer_mm:
        raise ValueError(f"bore_mm is {bore_mm:g}; it must be at least 0 and under {outer_mm:g} mm")
    big, small = outer_mm / 2, bore_mm / 2
    w = math.pi * (big**4 - small**4) / 4 / big
    area = math.pi * (big**2 - small**2)
    rise = (big**2 + big * small + small**2) / (big**2 + small**2)
    return TubeStress(
        np.abs(moment_nmm) / w, np.abs(torque_nmm) / (2 * w), 4 * np.abs(shear_n) / (3 * area) * rise
    )


def bush_pressure_mpa(force_n, bore_mm: float, width_mm: float, off_mm: float = 0.0):
    """Greatest edge pressure of a plain bush, F/(d·b)·(1 + 6·e/b), with the load `off_mm` from its middle,
    up to b/6: beyond it one edge lifts. Projected area, not half the circumference. Row P4.

    >>> float(bush_pressure_mpa(6000, 20, 20)), float(bush_pressure_mpa(6000, 20, 20, 2))
    (15.0, 24.0)
    """
    positive(bore_mm=bore_mm, width_mm=width_mm)
    if not 0 <= off_mm <= width_mm / 6 + 1e-9:
        raise ValueError(
            f"off_mm is {off_mm:g}; beyond {width_mm / 6:g} mm, a sixth of the width, an edge lifts"
        )
    return np.abs(force_n) / (bore_mm * width_mm) * (1 + 6 * off_mm / width_mm)


def static_load_n(kind: str, radial_n, axial_n=0.0):
    """P0 of ISO 76: max(0.6·Fr + 0.5·Fa, Fr) of a deep-groove ball bearing; Fr of a needle bearing, which
    carries nothing along its axis. Row P5."""
    radial, axial = np.abs(radial_n), np.abs(axial_n)
    if kind == "ball":
        return np.maximum(0.6 * radial + 0.5 * axial, radial)
    if kind == "needle":
        return radial
    raise ValueError(f'kind is "{kind}"; it must be "ball" or "needle"')


def dynamic_load_n(kind: str, radial_n, axial_n=0.0):
    """P of ISO 281: Fr of a needle bearing; of a deep-groove ball bearing max(Fr, 0.56·Fr + 2.3·Fa), its Y
    that of the least axial load of Table 3 (f0·Fa/C0 0.172; 1.0 at 6.89), so the safe side of all others;
    the table as ten published programs carry it.

    >>> dynamic_load_n("ball", [4000, 2000], [0, 1000]).tolist(), float(dynamic_load_n("needle", 4000, 900))
    ([4000.0, 3420.0], 4000.0)
    """
    radial, axial = np.abs(radial_n), np.abs(axial_n)
    return np.maximum(radial, 0.56 * radial + 2.3 * axial) if kind == "ball" else radial


def life_revolutions(kind: str, rating_n: float, load_n: float) -> float:
    """Basic life L10 = (C/P)^p·10⁶ of ISO 281, p = 3 of balls, 10/3 of rollers. Row P6.

    >>> round(life_revolutions("needle", 16_800, 4_000) / 1e6, 4)
    119.5357
    """
    positive(rating_n=rating_n, load_n=load_n)
    return 1e6 * (rating_n / load_n) ** ({"ball": 3.0, "needle": 10 / 3}[kind])


def life_swings(revolutions: float, sweep_deg: float) -> float:
    """Swings there and back in a life, revolutions·180/sweep with the whole sweep from end to end. Row P6.
    Below about a roller's pitch it means nothing: each spot is rubbed by one roller."""
    positive(sweep_deg=sweep_deg)
    return revolutions * 180 / sweep_deg


@dataclass(frozen=True)
class Press:
    """A ring pressed into another of the same steel."""

    pressure_mpa: float
    push_out_n: float
    torque_nmm: float
    hoop_mpa: float  # at the housing's bore
    closes_mm: float  # the ring's bore gets smaller by this, on diameter
