"""What a corner must bear: forces on the wheel, each with the travel and lock it is applied over.

The usual set is common practice, a first cut that an engineer decides; a job's `[[load_case]]` tables add to
it or, by the same name, replace it. Forces in car axes, N; the weight of a corner is its corner mass times g.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from assemblies.motion.springing import Springing
from assemblies.motion.stops import Stop, droop_end
from assemblies.strength.load_transfer import (
    braking_force_n,
    kerb_from_the_side_n,
    load_at_grip,
    roll_share,
    wheel_loads,
)
from parts.base.frozen import dataclass
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


def cases_of(job, sprung: Springing, droop: Stop | None = None) -> tuple[LoadCase, ...]:
    """`load_cases` of a corner on its spring: its wheel rate and, where the damper is the droop stop and says
    how stiff, what the spring throws the wheel into it with. `droop`: the droop's end, where it is known."""
    end = droop or droop_end(job, sprung.mechanism, sprung)
    thrown = end.wheel_n - end.spring_n if end.by == "damper" and math.isfinite(end.wheel_n) else 0.0
    return load_cases(job, sprung.ride_rate_n_per_mm, thrown)


def load_cases(job, wheel_rate_n_per_mm: float = math.nan, thrown_n: float = 0.0) -> tuple[LoadCase, ...]:
    """The cases of a job: the usual ones from its [loads] and [car] tables unless left out, then its own
    `[[load_case]]` tables.

    `wheel_rate_n_per_mm` at ride gives this axle's share of the roll moment where the other axle's roll rate
    is known; `thrown_n`: what a damper that is the droop stop takes at the wheel. Raises ValueError where
    nothing is left, or where a kerb is as high as the wheel's radius."""
    cases = {
        c.name: c for c in (usual_cases(job, wheel_rate_n_per_mm, thrown_n) if job.loads.usual_cases else ())
    }
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


def usual_cases(job, wheel_rate_n_per_mm: float = math.nan, thrown_n: float = 0.0) -> tuple[LoadCase, ...]:
    """What a car sees: standing; bump `loads.vertical_g` upward and a kerb's edge, at any height (a fall
    starts at full droop); braking, backwards too; cornering, both wheels of the axle; both together at 0.7 of
    each, a friction circle; drive and the engine's braking where this axle is driven, as hard as
    `loads.braking_g` of grip lets it; sideways into a kerb; the droop stop: the unsprung mass brought up
    short at full droop, `loads.droop_g` of its weight downward at the wheel centre, or what the spring
    throws it into the damper with; turning on the spot at
    full lock.

    Loads and forces of a wheel with the whole car's transfer (`load_transfer`). Brakes are locked to the
    upright (outboard); drive comes through a shaft, so its force acts at the wheel's centre. Source of the
    figures: common practice."""
    given, weight = job.loads, job.corner.corner_mass * G_M_S2
    cases = [
        LoadCase("static", (0.0, 0.0, weight), travel_mm=(0.0, 0.0)),
        LoadCase("bump", (0.0, 0.0, given.vertical_g * weight), rare=True),
        *_kerbs(job, weight),
        *_on_the_road(job, weight, wheel_rate_n_per_mm),
        LoadCase(
            "droop stop",
            (0.0, 0.0, -max(given.droop_g * job.corner.unsprung_mass * G_M_S2, thrown_n)),
            "wheel_centre",
            travel_mm=(-job.corner.droop, -job.corner.droop),
            rare=True,
        ),
    ]
    if job.tie_rod.rack_travel:
        scrub = scrub_torque_nm(weight)
        cases += [
            LoadCase(
                f"full lock, wheel scrubbed {way}",
                (0.0, 0.0, weight),
                moment_nm=(0.0, 0.0, sign * scrub),
                travel_mm=(0.0, 0.0),
                full_lock=True,
            )
            for way, sign in (("left", 1.0), ("right", -1.0))
        ]
    return tuple(cases)


def _kerbs(job, weight: float) -> Iterator[LoadCase]:
    """A kerb's edge ahead, through the wheel's centre, and one from the side, at the edge's height."""
    given = job.loads
    across, up = kerb_direction(given.kerb_step, job.wheel.tyre_radius)
    yield LoadCase(
        "kerb strike",
        (-given.kerb_g * weight * across / up, 0.0, given.kerb_g * weight),
        "wheel_centre",
        rare=True,
    )
    if given.side_kerb_height >= 2 * job.wheel.tyre_radius:
        raise ValueError(
            f"loads.side_kerb_height is {given.side_kerb_height:g} mm; the wheel is "
            f"{2 * job.wheel.tyre_radius:g} mm high"
        )
    push = kerb_from_the_side_n(job.corner.corner_mass, given.side_kerb_speed, given.side_stiffness)
    inward = push * _inward(job)
    yield LoadCase(
        "sideways kerb",
        (0.0, inward, weight),
        moment_nm=(-inward * given.side_kerb_height / 1e3, 0.0, 0.0),
        rare=True,
    )


def _on_the_road(job, weight: float, wheel_rate: float) -> Iterator[LoadCase]:
    """Braking, cornering, both, and drive, each with the load that the whole car's inertia moves."""
    car, ax, ay, inward = job.car, job.loads.braking_g, job.loads.cornering_g, _inward(job)
    share, both = roll_share(car, wheel_rate), math.sqrt(0.5)
    for name, way in (("braking", -1), ("reverse braking", 1)):
        load, _ = wheel_loads(car, weight, share, way * ax)
        yield LoadCase(name, (way * braking_force_n(car, load, ax), 0.0, load))
    outer, inner = wheel_loads(car, weight, share, 0.0, ay)
    yield LoadCase("cornering", (0.0, inward * ay * outer, outer))
    yield LoadCase("cornering, inner wheel", (0.0, -inward * ay * inner, inner))
    outer, inner = wheel_loads(car, weight, share, -both * ax, both * ay)
    for name, load, side in (
        ("braking in a corner", outer, inward),
        ("braking in a corner, inner wheel", inner, -inward),
    ):
        along = -braking_force_n(car, load, both * ax)
        yield LoadCase(name, (along, side * both * ay * load, load))
    if car.driven:
        for name, grip in (("drive", ax), ("engine braking", -ax)):
            load = load_at_grip(car, weight, grip)
            pull = grip * load
            torque = (job.wheel.centre[2] - job.wheel.contact[2]) * pull / 1e3
            yield LoadCase(name, (pull, 0.0, load), moment_nm=(0.0, torque, 0.0))


def _inward(job) -> float:
    return -1.0 if job.corner.side == "left" else 1.0


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
