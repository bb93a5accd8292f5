"""Springs of one corner: rate, preload, wheel rate, forces and stress over the travel.

A spring is a law, torque by rocker twist or force by damper shortening; the corner's mass at ride height sets
its preload. Wheel rate of a rotary spring K = Kθ·(dθ/dz)² + T·d²θ/dz², of a coil-over K = k·(ds/dz)² +
F·d²s/dz²: virtual work, differentiated. Not modelled: friction, bump and droop stops, gas force of the
damper, weight of the parts (the unsprung mass rests on the tyre), rubber. Forces are those of a corner
standing still on its spring.
"""

from __future__ import annotations

import math
from dataclasses import field, replace
from typing import Any

import numpy as np

from assemblies.motion.ends import Ends, ends
from assemblies.motion.mechanism import Mechanism, Poses
from parts.base.frozen import dataclass
from parts.base.stock import SPRING_E_MPA
from parts.base.units import G_M_S2
from parts.calc import torsion


@dataclass(frozen=True)
class Spring:
    """A linear spring: rotary (on the rocker's axis, N·m/rad) or coil-over (along the damper, N/mm)."""

    kind: str
    rate: float  # N·m/rad, or N/mm for a coil-over
    rate_clamped: float | None = None  # bound of a leaf pack whose leaves' ends cannot warp, N·m/rad
    rate_held: float | None = (
        None  # upper bound: besides, every leaf's ends held off the pack's axis, N·m/rad
    )
    stress_mpa_per_rad: float = 0.0  # peak shear by twist of a rotary spring
    free_length_mm: float | None = None  # of a coil-over's spring

    @property
    def linear(self) -> bool:
        return self.kind == "coil-over"

    @classmethod
    def of(cls, spec, length_mm: float | None = None) -> Spring:
        """The spring of a job file's [spring] table; `length_mm`: of a rotary one slid to another length."""
        if spec.kind == "coil-over":
            return cls(spec.kind, spec.rate, free_length_mm=spec.free_length)
        length, g = length_mm or spec.length, spec.shear_modulus
        if spec.kind == "leaf-pack":
            bounds = torsion.pack_bounds(
                spec.leaf_width, spec.leaf_thickness, length, g, SPRING_E_MPA, spec.leaves
            )
            stress = torsion.strip_stress_mpa(1.0, spec.leaf_width, spec.leaf_thickness, length, g)
            return cls(
                spec.kind,
                float(bounds.free_nm_per_rad),
                float(bounds.clamped_nm_per_rad),
                float(bounds.held_nm_per_rad),
                float(stress),
            )
        outer, wall = (spec.diameter, None) if spec.kind == "solid-bar" else (spec.outer, spec.wall)
        return cls(
            spec.kind,
            float(torsion.round_rate_nm_per_rad(outer, length, g, wall)),
            stress_mpa_per_rad=float(torsion.round_stress_mpa(1.0, outer, length, g)),
        )


@dataclass(frozen=True)
class Curves:
    """The spring at a set of poses; arrays like the poses. Signs: positive loads the spring, as bump does."""

    linear: bool  # a coil-over's
    deflection: np.ndarray  # from the spring's free state: twist, rad, or compression, mm
    load: np.ndarray  # torque, N·m, or force, N
    wheel_force_n: np.ndarray  # vertical, through the wheel centre
    rate_spring_n_per_mm: np.ndarray  # first term of the wheel rate
    rate_geometry_n_per_mm: np.ndarray  # second: the changing ratio under the present torque or force
    rod_force_n: np.ndarray  # tension positive; changes sign where the spring goes slack

    @property
    def twist_rad(self) -> np.ndarray:
        return self._of("rotary", self.deflection)

    @property
    def torque_nm(self) -> np.ndarray:
        return self._of("rotary", self.load)

    @property
    def compression_mm(self) -> np.ndarray:
        return self._of("coil", self.deflection)

    @property
    def force_n(self) -> np.ndarray:
        return self._of("coil", self.load)

    def _of(self, kind: str, values: np.ndarray) -> np.ndarray:
        if (kind == "coil") != self.linear:
            raise TypeError(f"this is no {kind} spring")
        return values

    @property
    def wheel_rate_n_per_mm(self) -> np.ndarray:
        return self.rate_spring_n_per_mm + self.rate_geometry_n_per_mm


@dataclass(frozen=True)
class Preload:
    """A spring set so that the corner stands at ride height under its sprung weight."""

    spring: Spring
    sense: float  # rocker angle × sense grows in bump; for a coil-over, damper length × sense
    ride: float  # torque N·m, or force N
    ride_damper_mm: float = 0.0

    @classmethod
    def for_weight(cls, spring: Spring, mechanism: Mechanism, weight_n: float) -> Preload:
        """From the weight the spring carries at ride height, N, acting at the wheel centre: virtual work.

        Raises ValueError where the spring has no leverage at ride height (it could carry nothing).
        """
        pose = mechanism.at(0.0)
        ratio = float(pose.ddamper_dz if spring.linear else pose.dtheta_dz)
        if not math.isfinite(ratio):
            raise ValueError(
                "spring: the corner does not stand at ride height: there an arm and the upright, tie rod and "
                "steering arm, or rod and rocker arm lie in one line, or the wheel does not rise as the "
                "lower "
                "arm turns; move those points out of line"
            )
        if not abs(ratio) > 1e-9:
            raise ValueError(
                f"spring: it moves {ratio!r} {'mm' if spring.linear else 'rad'} per mm of wheel travel at "
                f"ride height; "
                "it cannot carry the corner: move the rocker's points away from toggle"
            )
        if spring.linear and ratio > 0:
            raise ValueError(
                f"spring: the damper lengthens by {ratio:.3f} mm per mm of bump at ride height; a coil-over "
                f"must "
                "shorten in bump: put damper_eye on the other side of the rocker's pivot, or move chassis_eye"
            )
        scale = 1.0 if spring.linear else 1e-3
        return cls(spring, math.copysign(1.0, ratio), weight_n * scale / abs(ratio), float(pose.damper_mm))

    @property
    def ride_deflection(self) -> float:
        """Twist (rad) or compression (mm) at ride."""
        return self.ride / self.spring.rate

    def curves(self, poses: Poses) -> Curves:
        """Forces and wheel rate at the poses."""
        rotary = not self.spring.linear
        if rotary:
            moved, first, second = poses.rocker_rad, poses.dtheta_dz, poses.d2theta_dz2
        else:
            moved, first, second = poses.damper_mm - self.ride_damper_mm, poses.ddamper_dz, poses.d2damper_dz2
        moved, first, second = moved * self.sense, first * self.sense, second * self.sense
        deflection = self.ride_deflection + moved
        load = self.spring.rate * deflection
        unit = 1e3 if rotary else 1.0  # N·m to N·mm
        rocker_nmm = load * 1e3 * self.sense if rotary else load * poses.damper_moment_arm_mm
        return Curves(
            self.spring.linear,
            deflection,
            load,
            load * unit * first,
            self.spring.rate * unit * first**2,
            load * unit * second,
            rocker_nmm / poses.rod_moment_arm_mm,
        )


@dataclass(frozen=True)
class Springing:
    """The corner on its spring, droop to bump."""

    spring: Spring
    preload: Preload
    mechanism: Mechanism
    poses: Poses
    wheel_mm: np.ndarray  # steps of 1 mm or less, with both ends and ride height among them
    curves: Curves
    ends: Ends
    sprung_mass_kg: float
    ride_frequency_hz: float  # on the spring alone, tyre left out
    rise_percent: float  # wheel rate at full bump over ride height, less one
    slack_rocker_deg: float | None  # rocker angle at which a rotary spring carries nothing
    slack_wheel_mm: float | None  # travel at which the spring carries nothing; None: the linkage ends before
    twist_deg: dict[str, float] = field(default_factory=dict)  # rotary: at ride, droop, bump, damper_top_out
    stress_mpa: dict[str, float] = field(default_factory=dict)
    compression_mm: dict[str, float] = field(default_factory=dict)  # coil-over

    @property
    def per_damper(self) -> np.ndarray:
        """Damper travel per wheel travel, positive when the damper shortens in bump."""
        return -self.poses.ddamper_dz

    @property
    def ride_rate_n_per_mm(self) -> float:
        """Wheel rate at ride height."""
        return float(self.curves.wheel_rate_n_per_mm[int(np.argmin(np.abs(self.wheel_mm)))])


def travel_steps(droop_mm: float, bump_mm: float, step_mm: float = 1.0) -> np.ndarray:
    """Travel from full droop to full bump in steps of at most `step_mm`, ride height (0) exactly among
    them."""
    down = np.linspace(-droop_mm, 0.0, 1 + math.ceil(droop_mm / step_mm))
    return np.concatenate([down, np.linspace(0.0, bump_mm, 1 + math.ceil(bump_mm / step_mm))[1:]])


def springing(job, mechanism: Mechanism, wound: float = 0.0) -> Springing:
    """The corner of a job on its spring. Where the corner cannot reach a pose the curves are NaN there.
    `wound` (rad; coil-over mm): the same spring wound further than the design setting; travel still counts
    from the design ride height."""
    return _springing(*read_of(job), mechanism, wound)


def alike(job, other) -> bool:
    """Whether `springing` reads the same of both jobs: with one mechanism they are on one spring."""
    return read_of(job) == read_of(other)


def read_of(job) -> tuple[Any, Any, float, float]:
    """What springing reads of a job; it is handed nothing else."""
    return job.corner, job.spring, job.damper.longest, job.damper.shortest


def _springing(
    corner, springs, longest_mm: float, shortest_mm: float, mechanism: Mechanism, wound: float
) -> Springing:
    spring, sprung = Spring.of(springs), corner.corner_mass - corner.unsprung_mass
    preload = Preload.for_weight(spring, mechanism, sprung * G_M_S2)
    preload = replace(preload, ride=preload.ride + spring.rate * wound)
    stops = ends(mechanism, corner.droop, corner.bump, longest_mm, shortest_mm)
    z = travel_steps(corner.droop, corner.bump)
    poses = mechanism.at(z)
    curves = preload.curves(poses)
    rate = curves.wheel_rate_n_per_mm
    ride = int(np.argmin(abs(z)))
    marks = {"ride": 0.0, "droop": -corner.droop, "bump": corner.bump}
    if stops.damper_longest_mm[0] is not None:
        marks["damper_top_out"] = stops.damper_longest_mm[0]
    at = preload.curves(mechanism.at(list(marks.values())))
    extra: dict = {}
    if spring.linear:
        extra["compression_mm"] = dict(zip(marks, at.compression_mm.tolist(), strict=True))
    else:
        extra["twist_deg"] = dict(zip(marks, np.degrees(at.twist_rad).tolist(), strict=True))
        extra["stress_mpa"] = {
            k: math.radians(v) * spring.stress_mpa_per_rad for k, v in extra["twist_deg"].items()
        }
    return Springing(
        spring,
        preload,
        mechanism,
        poses,
        z,
        curves,
        stops,
        sprung,
        frequency_hz(float(rate[ride]), sprung),
        float(rate[-1] / rate[ride] - 1) * 100,
        None if spring.linear else -preload.sense * math.degrees(preload.ride_deflection),
        slack_mm(preload, mechanism, stops),
        **extra,
    )


def frequency_hz(wheel_rate_n_per_mm: float, sprung_kg: float) -> float:
    """Undamped ride frequency f = sqrt(1000·K/m)/(2π), K in N/mm; NaN for a wheel that would not return (K <
    0).

    >>> round(frequency_hz(22, 170), 7)
    1.8105354
    """
    return (
        math.sqrt(1000 * wheel_rate_n_per_mm / sprung_kg) / (2 * math.pi)
        if wheel_rate_n_per_mm >= 0
        else math.nan
    )


def slack_mm(preload: Preload, mechanism: Mechanism, stops: Ends) -> float | None:
    """Travel below ride height at which the spring carries nothing; None where the linkage ends before.

    Marched in steps of 1 mm from ride height towards the linkage's end, then Newton (exact derivative) kept
    in its step.
    """
    z = np.append(np.arange(0.0, stops.closes_mm[0], -1.0), stops.closes_mm[0] + 1e-9)

    linear = preload.spring.linear

    def carried(pose):
        c = preload.curves(pose)
        return c.compression_mm if linear else c.twist_rad

    gone = np.nonzero(carried(mechanism.at(z)) <= 0)[0]
    if not len(gone):
        return None
    low, high = z[gone[0]], z[gone[0] - 1]
    x = (low + high) / 2
    for _ in range(60):
        pose = mechanism.at([x])
        value = float(carried(pose)[0])
        low, high = (low, x) if value > 0 else (x, high)
        slope = float((pose.ddamper_dz if linear else pose.dtheta_dz)[0]) * preload.sense
        new = x - value / slope if slope else math.nan
        new = new if low < new < high else (low + high) / 2
        if abs(new - x) < 1e-12 * (1 + abs(x)):
            break
        x = new
    return float(x)
