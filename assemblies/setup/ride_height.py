"""Ride height: where a corner settles when its spring is wound or its rod lengthened, and the wind that
corrects it.

Exact equilibrium throughout: the spring's torque K·(θ_ride + δ + φ(z))·dφ/dz balances the sprung weight W,
with φ the rocker's angle in the loading sense and δ the wind added. For a coil-over read damper travel for
angle and mm of collar for wind. Travel z is the wheel's rise relative to the chassis: the car stands -z
higher. Tyre, friction and the other corners are left out: a figure holds for left and right corrected alike.
Stops are left out too: `standing` says what holds the wheel where the spring alone would not.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.motion.adjusting import rod_length_shifts_mm
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Preload, Springing
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

MOVING_POINTS = ("upper_outer", "lower_outer", "tie_outer", "rod_outboard", "wheel_centre", "contact")


def settle(preload: Preload, mechanism: Mechanism, weight_n, wound=0.0, near_mm=0.0) -> np.ndarray:
    """Travel (mm) at which the spring carries `weight_n` when wound by `wound` (rad; coil-over mm); arrays
    broadcast.

    Newton with the exact wheel rate, from ride height or `near_mm`. NaN where no reachable travel fits. Of a
    batch of corners each has its own.
    """
    weight, wound, start, _ = np.broadcast_arrays(
        np.asarray(weight_n, float), np.asarray(wound, float), np.asarray(near_mm, float), preload.ride
    )
    shape, weight, wound = weight.shape, weight.ravel(), wound.ravel()
    rides: Any = preload.ride + preload.spring.rate * wound  # one a wind
    set_up = replace(preload, ride=rides)
    z, before, done = start.ravel(), np.full(len(weight), np.nan), np.zeros(len(weight), bool)
    with np.errstate(all="ignore"):
        for _ in range(60):
            c = set_up.curves(mechanism.at(z))
            force, rate = c.wheel_force_n, c.wheel_rate_n_per_mm
            if mechanism.batch:
                force, rate = np.diagonal(force), np.diagonal(rate)
            step = (weight - force) / rate
            done = np.abs(step) < 1e-6  # the step is taken: what is left is of the order of its square
            new = z + np.clip(step, -10.0, 10.0)
            fro = new == before  # what stands where it stood two steps ago goes to and fro for ever
            before, z = z, new
            if (done | fro | np.isnan(step)).all():
                break
    return np.where(done, z, np.nan).reshape(shape)


def wind_for(preload: Preload, mechanism: Mechanism, weight_n, from_mm, to_mm=0.0) -> np.ndarray:
    """Wind (rad; coil-over mm) that takes a corner standing at travel `from_mm` under `weight_n` to `to_mm`;
    arrays broadcast.

    δ = [W/r(to) - W/r(from)]/K - [φ(to) - φ(from)], r = dφ/dz: closed form, whatever the present setting is.
    Positive winds the spring up. NaN where the corner cannot stand there.
    """
    weight = np.asarray(weight_n, float)
    a, b = (_state(preload, mechanism, np.asarray(z, float)) for z in (from_mm, to_mm))
    unit = 1e3 if not preload.spring.linear else 1.0
    with np.errstate(all="ignore"):
        return weight / (preload.spring.rate * unit) * (1 / b[1] - 1 / a[1]) - (b[0] - a[0])


def ride_height_per_deg_mm(s: Springing) -> float:
    """Rise of the car per degree more wind at ride height, first order: K·(dφ/dz)/K_wheel."""
    pose = s.mechanism.at(0.0)
    rate = float(s.preload.curves(pose).wheel_rate_n_per_mm)
    return math.radians(s.spring.rate * 1e3 * abs(float(pose.dtheta_dz)) / rate) if rate else math.nan


def carried_n(preload: Preload, mechanism: Mechanism, wheel_mm) -> np.ndarray:
    """Weight that the spring as set carries with the wheel at `wheel_mm`, N."""
    return preload.curves(mechanism.at(np.asarray(wheel_mm, float))).wheel_force_n


def _state(preload: Preload, mechanism: Mechanism, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Spring deflection from ride and its derivative by travel, in the loading sense."""
    pose = mechanism.at(z)
    if preload.spring.linear:
        return (pose.damper_mm - preload.ride_damper_mm) * preload.sense, pose.ddamper_dz * preload.sense
    return pose.rocker_rad * preload.sense, pose.dtheta_dz * preload.sense


def with_rods(mechanism: Mechanism, longer_mm) -> tuple[Mechanism, np.ndarray]:
    """The corner with its rod made longer by each of `longer_mm` (n,), as a batch of those that close; and of
    all the travel of the old corner at which the new one's travel is zero, NaN where none closes.

    The new zero is the pose in which the rocker stands as it did at ride height."""
    z = rod_length_shifts_mm(mechanism, longer_mm)
    pose = mechanism.at(z[np.isfinite(z)])
    moved = {n: pose.point(n) for n in MOVING_POINTS}
    alignment = {"static_camber_deg": pose.camber_deg, "static_toe_deg": pose.toe_deg}
    return Mechanism(mechanism.points.changed(**moved, **alignment)), z


def rods_turned_mm(preload: Preload, mechanism: Mechanism, weight_n: float, longer_mm) -> np.ndarray:
    """Travel (n,) at which the corner settles with its rod made longer by each of `longer_mm` (n,), mm. NaN
    where none closes, or no reachable travel carries the weight."""
    new, z = with_rods(mechanism, longer_mm)
    closes = np.isfinite(z)
    z[closes] += settle(preload, new, np.full(closes.sum(), weight_n))
    return z


@dataclass(frozen=True)
class Correction:
    """What to do about a car that stands wrong. Winds in deg (coil-over: mm of collar), positive winds the
    spring up."""

    stands_mm: float  # wheel relative to its place at ride height; positive: the car is low
    wanted_mm: float
    wind_clock: float  # if the load is as the job says and the setting is off
    wind_load: float  # if the setting is as designed and the load is off
    load_kg: float  # the sprung mass that would explain the height
    wind_weighed: float | None = None  # with the corner's mass weighed
    sprung_kg: float | None = None  # as weighed; None: the job's

    @property
    def wind(self) -> float:
        """The wind to make: as weighed, else taking the setting to be off."""
        return self.wind_clock if self.wind_weighed is None else self.wind_weighed


def correction(
    s: Springing, low_mm: float, wanted_low_mm: float = 0.0, sprung_kg: float | None = None
) -> Correction:
    """From a car standing `low_mm` too low (negative: too high) to the wind that corrects it.

    One height cannot tell a wrong setting from a wrong load: both winds are given, and one more where the
    sprung mass was weighed. Raises ValueError where the corner cannot stand at that height.
    """
    p, m = s.preload, s.mechanism
    droop, bump = float(s.wheel_mm[0]), float(s.wheel_mm[-1])
    if not droop <= low_mm <= bump:
        raise ValueError(
            f"ride height: {low_mm:+g} mm low puts the wheel beyond its travel, {droop:+g} to {bump:+g} mm, "
            f"where a stop or strap holds it and not the spring alone: check the reading, its sign and its "
            f"digits"
        )
    load = float(carried_n(p, m, low_mm))
    if not math.isfinite(load) or not math.isfinite(float(carried_n(p, m, wanted_low_mm))):
        raise ValueError(
            f"ride height: the corner does not reach wheel height {low_mm:+g} mm or {wanted_low_mm:+g} mm; "
            f"it closes from {s.ends.closes_mm[0]:+z.1f} to {s.ends.closes_mm[1]:+z.1f} mm: check the "
            f"reading and its sign"
        )
    scale = 1.0 if s.spring.linear else 180 / math.pi

    def wind(weight_n: float) -> float:
        return float(wind_for(p, m, weight_n, low_mm, wanted_low_mm)) * scale

    weighed = None if sprung_kg is None else wind(sprung_kg * G_M_S2)
    as_designed = wind(s.sprung_mass_kg * G_M_S2)
    return Correction(low_mm, wanted_low_mm, as_designed, wind(load), load / G_M_S2, weighed, sprung_kg)
