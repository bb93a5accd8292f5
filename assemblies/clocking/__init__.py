"""Clocking of a rotary spring: its adjustment chain, the settings it combines to, where to drill and what a wrong tooth does."""
from __future__ import annotations

from assemblies.clocking.drilling import Drilling
from assemblies.clocking.joints import Joint, Setting, chain, nearest_deg, nearest_settings, vernier_step_deg
from assemblies.clocking.settings import joint_rows, nearest, recognise, steps_deg, wound, wrong
from assemblies.results import Clocking
from assemblies.springing import Springing

__all__ = ["Drilling", "Joint", "Setting", "chain", "clocking", "nearest", "nearest_deg", "nearest_settings", "recognise", "steps_deg", "vernier_step_deg",
           "wound", "wrong"]


def clocking(job, s: Springing, drill: Drilling | None = None, wanted_deg: float = 0.0, count: int = 9) -> Clocking:
    """Steps, the settings nearest to a wanted wind from the design setting, and what a wrong tooth does; empty for a coil-over.

    Ride heights are exact equilibria under the sprung weight, positive raises the car; per step, the rise of one step up."""
    if s.spring.linear:
        return Clocking()
    joints = chain(job)
    steps = steps_deg(joints)
    rises = wound(s, [1.0, *steps.values()]).ride_height_mm.tolist()
    slope = wound(s, [1e-3, -1e-3]).ride_height_mm
    per_deg = float(slope[0] - slope[1]) / 2e-3
    holes = drill.pair if drill is not None else None
    return Clocking(steps=steps, ride_height_per_step_mm=dict(zip(steps, rises[1:], strict=True)), ride_height_per_deg_mm=per_deg,
                    joints=joint_rows(joints), settings=nearest(s, joints, wanted_deg, count, holes) if steps else [],
                    wrong_tooth=wrong(s, joints))
