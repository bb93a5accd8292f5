"""What a corner must bear: forces on the wheel, each with the travel and lock it is applied over.

The usual set is common practice, a first cut that an engineer decides; a job's `[[load_case]]` tables add to
it or, by the same name, replace it. Forces in car axes, N; the weight of a corner is its corner mass times g.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from parts.base.units import G_M_S2, finite, positive

TYRE_PRESSURE_PA = 200_000.0  # 2 bar, common practice on a light car
SCRUB_FRICTION = 0.9  # dry road, common practice


@dataclass(frozen=True)
class LoadCase:
    """A force on the wheel, N in car axes, at the tyre's contact point, or at the wheel centre (inboard
    brakes, drive, an edge hit, inertia of the wheel); besides, a moment on the wheel, N·m.

    `travel_mm`: the wheel heights it acts at, lowest and highest; None is all of the wished travel.
    `full_lock`: with the rack at both ends of its travel. `rare`: a single hard event; the others come every
    drive and count for wear."""

    name: str
    force_n: tuple[float, float, float]
    at: str = "contact"  # or "wheel_centre"
    moment_nm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    travel_mm: tuple[float, float] | None = None
    full_lock: bool = False
    rare: bool = False

    def __post_init__(self):
        if self.at not in ("contact", "wheel_centre"):
            raise ValueError(f'load case {self.name}: at is "{self.at}"; it must be contact or wheel_centre')
        for field, unit in (("force_n", "N"), ("moment_nm", "N·m")):
            value = getattr(self, field)
            if not np.isfinite(value).all() or len(value) != 3:
                raise ValueError(
                    f"load case {self.name}: {field} is {value!r}; it must be three finite numbers, {unit}"
                )
        if self.travel_mm is not None and not self.travel_mm[0] <= self.travel_mm[1]:
            raise ValueError(
                f"load case {self.name}: travel_mm is {self.travel_mm}; the lower wheel height comes first"
            )


def load_cases(job) -> tuple[LoadCase, ...]:
    """The cases of a job: the usual ones from its [loads] table unless left out, then its own `[[load_case]]`
    tables.

    Raises ValueError where nothing is left, or where the kerb is as high as the wheel's radius."""
    cases = {c.name: c for c in (usual_cases(job) if job.loads.usual_cases else ())}
    weight = job.corner.corner_mass * G_M_S2
    for given in job.load_case:
        force = given.force if given.force is not None else tuple(weight * g for g in given.g)
        cases[given.name] = LoadCase(
            given.name, force, given.at, given.moment, given.travel, given.full_lock, given.rare
        )
    if not cases:
        raise ValueError(
            "load_case: no case is given and loads.usual_cases is false; add a [[load_case]] table"
        )
    return tuple(cases.values())


def usual_cases(job) -> tuple[LoadCase, ...]:
    """Static, bump, kerb strike, braking, cornering (outer wheel), both, droop stop, turning on the spot at
    full lock.

    Bump `loads.vertical_g` upward; braking and cornering with 1 g vertical; both together at 0.7 of each, a
    friction circle; droop stop: the unsprung mass brought up short at full droop, `loads.droop_g` of its
    weight downward at the wheel centre. Brakes are locked to the upright (outboard). Source of the figures:
    common practice."""
    given, weight = job.loads, job.corner.corner_mass * G_M_S2
    inward = -1.0 if job.corner.side == "left" else 1.0
    radius = job.wheel.tyre_radius
    scrub = scrub_torque_nm(weight)
    both = math.sqrt(0.5)

    def times(x: float, y: float, z: float) -> tuple[float, float, float]:
        return (x * weight, inward * y * weight + 0.0, z * weight)

    edge = kerb_direction(given.kerb_step, radius)
    droop = -job.corner.droop
    cases = [
        LoadCase("static", times(0, 0, 1), travel_mm=(0.0, 0.0)),
        LoadCase("bump", times(0, 0, given.vertical_g), travel_mm=(0.0, job.corner.bump), rare=True),
        LoadCase(
            "kerb strike",
            times(-given.kerb_g * edge[0] / edge[1], 0, given.kerb_g),
            "wheel_centre",
            rare=True,
            travel_mm=(0.0, job.corner.bump),
        ),
        LoadCase("braking", times(-given.braking_g, 0, 1)),
        LoadCase("cornering", times(0, given.cornering_g, 1)),
        LoadCase("braking in a corner", times(-both * given.braking_g, both * given.cornering_g, 1)),
        LoadCase(
            "droop stop",
            (0.0, 0.0, -given.droop_g * job.corner.unsprung_mass * G_M_S2),
            "wheel_centre",
            travel_mm=(droop, droop),
            rare=True,
        ),
    ]
    if job.tie_rod.rack_travel:
        cases += [
            LoadCase(
                f"full lock, wheel scrubbed {way}",
                times(0, 0, 1),
                moment_nm=(0.0, 0.0, sign * scrub),
                travel_mm=(0.0, 0.0),
                full_lock=True,
            )
            for way, sign in (("left", 1.0), ("right", -1.0))
        ]
    return tuple(cases)


def kerb_direction(step_mm: float, radius_mm: float) -> tuple[float, float]:
    """(horizontal, vertical) parts of the unit force of a square step on a rigid wheel held by the step's
    edge alone.

    The force goes through the wheel's centre, acos(1 - H/R) from the vertical, so it puts no torque about the
    axle. Closed form.

    >>> [round(v, 6) for v in kerb_direction(56, 280)]
    [0.6, 0.8]
    """
    positive(step_mm=step_mm, radius_mm=radius_mm)
    if step_mm >= radius_mm:
        raise ValueError(
            f"loads.kerb_step is {step_mm:g} mm; a wheel of {radius_mm:g} mm radius cannot climb a step as "
            f"high as its centre"
        )
    upright = 1 - step_mm / radius_mm
    return math.sqrt(1 - upright**2), upright


def scrub_torque_nm(
    weight_n: float, friction: float = SCRUB_FRICTION, pressure_pa: float = TYRE_PRESSURE_PA
) -> float:
    """Torque that turns a standing tyre on the spot, M = μ/3·√(W³/p): a round patch of area W/p turned about
    its middle.

    Sliding friction over a disc of uniform pressure gives 2/3·μ·W·r with r = √(W/(π·p)), 1.13 times this; the
    shorter form is the one of steering-gear sizing (from memory). Common practice.

    >>> round(scrub_torque_nm(3000, 0.7, 200_000), 1)
    85.7
    """
    positive(weight_n=weight_n, friction=friction, pressure_pa=pressure_pa)
    finite(weight_n=weight_n)
    return friction / 3 * math.sqrt(weight_n**3 / pressure_pa)
