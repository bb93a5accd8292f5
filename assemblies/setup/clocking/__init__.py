"""Clocking of a rotary spring: its adjustment chain, the settings it combines to, where to drill and what a
wrong tooth does."""

from __future__ import annotations

import math

from assemblies.motion.springing import Springing
from assemblies.results.setting import Clocking
from assemblies.setup.clocking.drilling import Drilling
from assemblies.setup.clocking.joints import (
    AdjustableJoint,
    Setting,
    chain,
    nearest_deg,
    nearest_settings,
    vernier_step_deg,
)
from assemblies.setup.clocking.settings import joint_rows, nearest, recognise, steps_deg, wound, wrong
from assemblies.setup.ride_height import ride_height_per_deg_mm
from assemblies.setup.standing import OnStops

__all__ = [
    "AdjustableJoint",
    "Drilling",
    "Setting",
    "chain",
    "clocking",
    "nearest",
    "nearest_deg",
    "nearest_settings",
    "recognise",
    "steps_deg",
    "vernier_step_deg",
    "wound",
    "wrong",
]


def clocking(
    job,
    s: Springing,
    drill: Drilling | None = None,
    wanted_deg: float = 0.0,
    count: int = 9,
    on: OnStops | None = None,
) -> Clocking:
    """Steps, the settings nearest to a wanted wind from the design setting, and what a wrong tooth does;
    empty for a coil-over.

    Ride heights are equilibria under the sprung weight, positive raises the car; per step, the rise of one
    step up."""
    if s.spring.linear:
        return Clocking()
    joints = chain(job)
    steps = steps_deg(joints)
    on = on or OnStops(job, s)
    rises = wound(on, list(steps.values()))
    per_deg = ride_height_per_deg_mm(s)
    holes = drill.pair if drill is not None else None
    return Clocking(
        steps=steps,
        ride_height_per_step_mm={
            k: float(v) for k, v in zip(steps, rises.ride_height_mm, strict=True) if math.isfinite(v)
        },
        held_per_step={k: v for k, v in zip(steps, rises.held, strict=True) if v},
        ride_height_per_deg_mm=per_deg if math.isfinite(per_deg) else None,
        joints=joint_rows(joints),
        settings=nearest(on, joints, wanted_deg, count, holes) if steps else [],
        wrong_tooth=wrong(on, joints),
    )
