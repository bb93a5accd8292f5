"""What each clocking setting does: ride height, torque, twist and stress; and how a wrong tooth shows on the
car."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.results.setting import ClockingJoint, ClockingSetting, WrongTooth
from assemblies.setup.clocking.joints import (
    AdjustableJoint,
    Setting,
    nearest_settings,
    vernier_step_deg,
    wrong_teeth,
)
from assemblies.setup.limits import beyond
from assemblies.setup.standing import OnStops
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Wound:
    """A corner on its wheel under the sprung weight with its spring wound from the design setting; arrays
    like `wind_deg`. `held`: what holds it there beside its spring, or that it stands past the wished
    travel."""

    wind_deg: np.ndarray
    ride_height_mm: np.ndarray  # rise of the car, positive up
    torque_nm: np.ndarray  # where it then stands
    twist_deg: np.ndarray
    stress_mpa: np.ndarray
    droop_twist_deg: np.ndarray  # at full droop of the job, measured from the design ride height
    bump_stress_mpa: np.ndarray  # at full bump, likewise
    held: np.ndarray


def wound(on: OnStops, wind_deg) -> Wound:
    """Equilibrium of each wind, deg (positive winds the spring up). NaN where the corner cannot stand."""
    wind, s = np.asarray(wind_deg, float), on.s
    p, m = s.preload, s.mechanism
    stands = on.stand(np.radians(wind))
    z = stands.wheel_mm
    rides: Any = p.ride + p.spring.rate * np.radians(wind.ravel())  # one a wind
    set_up = replace(p, ride=rides)
    c = set_up.curves(m.at(z.ravel()))
    twist = np.degrees(c.twist_rad).reshape(wind.shape)
    per_deg = math.radians(s.spring.stress_mpa_per_rad)
    return Wound(
        wind,
        stands.rise_mm,
        c.torque_nm.reshape(wind.shape),
        twist,
        twist * per_deg,
        s.twist_deg["droop"] + wind,
        (s.twist_deg["bump"] + wind) * per_deg,
        stands.held,
    )


def rows(
    on: OnStops, joints: tuple[AdjustableJoint, ...], settings: list[Setting], holes=None
) -> list[ClockingSetting]:
    """Settings as rows of results.json; `holes(joint, teeth)` names the pair of holes to bolt."""
    if not settings:
        return []
    w = wound(on, [x.wind_deg for x in settings])
    stepped = [j for j in joints if j.stepped]
    out = []
    for i, x in enumerate(settings):
        if not math.isfinite(w.ride_height_mm[i]):
            continue  # the corner could not stand on that setting
        moved = dict(zip((j.name for j in stepped), x.teeth, strict=True))
        try:
            bolt = {j.name: holes(j.name, moved[j.name]) for j in stepped} if holes else {}
        except ValueError:
            continue  # no bolts that hold the spring's torque: not a setting
        out.append(
            ClockingSetting(
                sleeve_teeth=moved.get("sleeve", 0),
                anchor_teeth=moved.get("anchor", 0),
                angle_deg=x.wind_deg,
                ride_height_mm=float(w.ride_height_mm[i]),
                torque_nm=float(w.torque_nm[i]),
                twist_deg=float(w.twist_deg[i]),
                stress_mpa=float(w.stress_mpa[i]),
                droop_twist_deg=_number(w.droop_twist_deg[i]),
                bump_stress_mpa=_number(w.bump_stress_mpa[i]),
                beyond="; ".join(t for t in (w.held[i], beyond(on.job.spring, on.s, x.wind_deg)) if t),
                held=w.held[i],
                turn_deg=x.turn_deg,
                bolt=bolt,
            )
        )
    return out


def nearest(
    on: OnStops,
    joints: tuple[AdjustableJoint, ...],
    wanted_deg: float = 0.0,
    count: int = 9,
    holes=None,
) -> list[ClockingSetting]:
    """Settings nearest to a wanted wind from the design setting, in the order of their wind."""
    near = sorted(nearest_settings(joints, wanted_deg, count), key=lambda x: x.wind_deg)
    return rows(on, joints, near, holes)


def wrong(on: OnStops, joints: tuple[AdjustableJoint, ...]) -> list[WrongTooth]:
    """What one tooth wrong at either end, or at both, does to the car."""
    found = wrong_teeth(joints)
    if not found:
        return []
    w = wound(on, [x.wind_deg for x in found])
    names = [j.name for j in joints if j.stepped]
    return [
        WrongTooth(
            teeth=dict(zip(names, x.teeth, strict=True)),
            angle_deg=x.wind_deg,
            ride_height_mm=_number(h),
            held=by,
        )
        for x, h, by in zip(found, w.ride_height_mm, w.held, strict=True)
    ]


def recognise(table: list[WrongTooth], rise_mm: float, within_mm: float) -> list[WrongTooth]:
    """The mistakes that would make the car stand `rise_mm` too high (negative: low), to within the measuring
    error; nearest first."""
    off = [(abs(t.ride_height_mm - rise_mm), t) for t in table if t.ride_height_mm is not None]
    return [t for error_mm, t in sorted(off, key=lambda x: x[0]) if error_mm <= within_mm]


def joint_rows(joints: tuple[AdjustableJoint, ...]) -> list[ClockingJoint]:
    return [
        ClockingJoint(
            name=j.name,
            kind=j.kind,
            steps=j.steps or None,
            step_deg=j.step_deg or None,
            range_deg=j.range_deg or None,
            side=j.side,
        )
        for j in joints
    ]


def steps_deg(joints: tuple[AdjustableJoint, ...]) -> dict[str, float]:
    """Each stepped joint's step, and the vernier of two or more, deg."""
    stepped = [j for j in joints if j.stepped]
    out = {j.name: j.step_deg for j in stepped}
    if len(stepped) > 1:
        out["vernier"] = vernier_step_deg(*(j.steps for j in stepped))
    return out


def _number(x) -> float | None:
    return float(x) if math.isfinite(x) else None
