"""A batch of corners as they may be built: each with its own points, rod, clocking, spring and load; curves
over travel at once.

Zero travel is the wheel where the job has it: camber and toe are set there, the rod has its printed length,
so a point that is off turns the rocker (closed form, a circle and a sphere). The spring is clocked to the
design. Curves are Chebyshev polynomials in travel through exact poses at Lobatto nodes; smooth curves of a
corner are met to about 1e-6 of their span.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.polynomial import chebyshev as cheb

from assemblies.motion.chain import circle, dot, norm
from assemblies.motion.linkage import held_on_circle
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.motion.springing import Springing
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

NODES = 11


def rocker_turned(points: HardPoints, rod_mm) -> np.ndarray:
    """Rocker angle (rad, right-handed about its axis) at which a rod of `rod_mm` meets the outboard end where
    it stands, on the branch of the points as given; NaN where it cannot."""
    eye = circle(points.pivot, points.axis, points.rod_inboard)
    far = points.rod_outboard - eye.centre
    along, across = dot(far, eye.out), dot(far, eye.square)
    sense = np.where(across > 0, -1.0, 1.0)
    reach = (dot(far, far) + dot(eye.out, eye.out) - np.asarray(rod_mm, float) ** 2) / 2
    with np.errstate(invalid="ignore"):
        cos, sin, _ = held_on_circle(along, across * sense, reach)
    return np.arctan2(sin, cos) * sense


def turned(points: HardPoints, angle_rad) -> HardPoints:
    """The points with the rocker turned about its axis."""
    rod, damper = (circle(points.pivot, points.axis, eye) for eye in (points.rod_inboard, points.damper_eye))
    return points.changed(rod_inboard=rod.at(angle_rad), damper_eye=damper.at(angle_rad))


@dataclass(frozen=True)
class Variations:
    """Curves of V corners over travel; `deflection` in rad (coil-over: mm) from the free spring, in the
    loading sense."""

    low_mm: float
    high_mm: float
    rate: np.ndarray  # (V,) N·m/rad, or N/mm
    weight_n: np.ndarray  # (V,) on the spring
    sense: float
    linear: bool
    deflection: np.ndarray  # (n, V) Chebyshev coefficients, as are the next three
    toe_deg: np.ndarray
    damper_mm: np.ndarray
    rocker_rad: np.ndarray  # right-handed about the axis, from where it stands at zero travel as designed

    def at(self, curve: np.ndarray, z_mm) -> np.ndarray:
        """A curve at travels: z of shape (m,) gives (V, m), z of shape (V, 1) each corner's own."""
        x = self._x(np.asarray(z_mm, float))
        return sum_cheb(curve, x)

    def _x(self, z):
        return (2 * z - self.low_mm - self.high_mm) / (self.high_mm - self.low_mm)

    @cached_property
    def _slopes(self) -> tuple[np.ndarray, np.ndarray]:
        per = 2 / (self.high_mm - self.low_mm)
        first = cheb.chebder(self.deflection, axis=0) * per
        return first, cheb.chebder(first, axis=0) * per

    @property
    def unit(self) -> float:
        return 1.0 if self.linear else 1e3

    def forces(self, z_mm) -> tuple[np.ndarray, np.ndarray]:
        """Wheel force N and wheel rate N/mm at travels, as `at`."""
        d, first, second = (self.at(c, z_mm) for c in (self.deflection, *self._slopes))
        k = (self.rate * self.unit)[:, None]
        return k * d * first, k * (first**2 + d * second)

    def settle(self, weight_n=None) -> np.ndarray:
        """Travel (V,) at which each corner stands; NaN where that is outside the travel."""
        weight = (
            self.weight_n
            if weight_n is None
            else np.broadcast_to(np.asarray(weight_n, float), self.rate.shape)
        )
        z = np.zeros((len(self.rate), 1))
        with np.errstate(all="ignore"):
            for _ in range(40):
                force, rate = self.forces(z)
                step = np.clip((weight[:, None] - force) / rate, -10, 10)
                z = np.clip(z + step, self.low_mm - 1, self.high_mm + 1)
                if not (np.abs(step) > 1e-9).any():
                    break
        z = z[:, 0]
        return np.where((np.abs(step[:, 0]) < 1e-6) & (z >= self.low_mm) & (z <= self.high_mm), z, np.nan)

    def wind_to_ride(self) -> np.ndarray:
        """Wind (V,), rad or mm, that brings each corner to zero travel under its weight: W/(K·r) - deflection
        at zero."""
        zero = np.zeros(1)
        d, slope = self.at(self.deflection, zero)[:, 0], self.at(self._slopes[0], zero)[:, 0]
        return self.weight_n / (self.rate * self.unit * slope) - d

    def set_rates(self, z_mm) -> np.ndarray:
        """Wheel rate (V, m) once every corner has been set to ride height."""
        wind = self.wind_to_ride()
        d, first, second = (self.at(c, z_mm) for c in (self.deflection, *self._slopes))
        return (self.rate * self.unit)[:, None] * (first**2 + (d + wind[:, None]) * second)


def sum_cheb(c: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Σ c_k T_k(x) by Clenshaw; c (n, V), x (m,) or (V, 1): (V, m)."""
    x = np.atleast_2d(x)
    b1 = b2 = np.zeros(np.broadcast_shapes((c.shape[1], 1), x.shape))
    for k in range(len(c) - 1, 0, -1):
        b1, b2 = c[k][:, None] + 2 * x * b1 - b2, b1
    return c[0][:, None] + x * b1 - b2


def vary(
    s: Springing,
    points: HardPoints,
    rod_longer_mm=0.0,
    clock=0.0,
    rate_factor=1.0,
    mass_kg=None,
    droop_mm=None,
    bump_mm=None,
) -> Variations:
    """Corners from a batch of points (V, 3) and errors (V,) or single: the rod's length, the clocking (rad;
    coil-over mm of collar, + winds up), the spring's rate and the sprung mass."""
    nominal = s.mechanism.points
    rod = norm(nominal.rod_outboard - nominal.rod_inboard)
    count = max(
        points.batch[0] if points.batch else 1,
        *(np.size(x) for x in (rod_longer_mm, clock, rate_factor, 1.0 if mass_kg is None else mass_kg)),
    )
    points = points.changed(**{n: np.broadcast_to(getattr(points, n), (count, 3)) for n in points.names})
    turn = rocker_turned(points, rod + np.broadcast_to(np.asarray(rod_longer_mm, float), count))
    bad = ~np.isfinite(turn)
    mechanism = Mechanism(turned(points, np.where(bad, 0.0, turn)))
    low, high = (
        -(droop_mm if droop_mm is not None else -s.wheel_mm[0]),
        bump_mm if bump_mm is not None else s.wheel_mm[-1],
    )
    x = -np.cos(np.pi * np.arange(NODES) / (NODES - 1))
    poses = mechanism.at((low + high) / 2 + x * (high - low) / 2)
    p = s.preload
    rocker = poses.rocker_rad + turn[:, None]
    moved = p.sense * (poses.damper_mm - p.ride_damper_mm if p.spring.linear else rocker)
    start = p.ride_deflection + np.broadcast_to(np.asarray(clock, float), count)
    fit = np.linalg.inv(cheb.chebvander(x, NODES - 1))
    curves = [
        fit @ np.where(bad[:, None], np.nan, y).T
        for y in (moved + start[:, None], poses.toe_deg, poses.damper_mm, rocker)
    ]
    mass = s.sprung_mass_kg if mass_kg is None else mass_kg
    return Variations(
        float(low),
        float(high),
        p.spring.rate * np.broadcast_to(np.asarray(rate_factor, float), count),
        np.broadcast_to(np.asarray(mass, float) * G_M_S2, count),
        p.sense,
        p.spring.linear,
        *curves,
    )
