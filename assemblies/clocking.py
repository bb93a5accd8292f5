"""Clocking of a rotary spring: the steps of its two toothed or drilled ends, alone and as a vernier."""
from __future__ import annotations

import math

import numpy as np

from assemblies.job import Job
from assemblies.results import Clocking, ClockingSetting
from assemblies.springing import Springing

NEAREST = 9  # settings listed round the one in the middle


def ride_height_per_deg_mm(s: Springing) -> float:
    """Rise of the car for one degree more wind, at constant wheel load: Kθ·(dθ/dz)/K_wheel, first order (check-row V5).

    Positive: winding the spring up raises the chassis (the wheel moves down relative to it)."""
    ride = int(np.argmin(np.abs(s.wheel_mm)))
    ratio = abs(float(s.poses.dtheta_dz[ride]))
    return s.spring.rate * 1e3 * ratio / float(s.curves.wheel_rate_n_per_mm[ride]) * math.radians(1.0)


def clocking(job: Job, s: Springing) -> Clocking:
    """Steps and the settings nearest to the present one; empty for a coil-over, per degree only where no teeth are given."""
    if s.spring.linear:
        return Clocking()
    per_deg = ride_height_per_deg_mm(s)
    teeth = job.spring.teeth
    if teeth is None:
        return Clocking(ride_height_per_deg_mm=per_deg)
    steps = {"sleeve": 360 / teeth.sleeve, "anchor": 360 / teeth.anchor, "vernier": 360 / math.lcm(teeth.sleeve, teeth.anchor)}
    return Clocking(steps=steps, ride_height_per_step_mm={k: v * per_deg for k, v in steps.items()}, ride_height_per_deg_mm=per_deg,
                    settings=[ClockingSetting(sleeve_teeth=a, anchor_teeth=b, angle_deg=angle, ride_height_mm=angle * per_deg)
                              for angle, a, b in vernier(teeth.sleeve, teeth.anchor, NEAREST)])


def vernier(n1: int, n2: int, count: int) -> list[tuple[float, int, int]]:
    """The `count` combined settings nearest to zero: (angle in deg, teeth at the first end, teeth at the second).

    Angle = k1·360/n1 - k2·360/n2, every multiple of 360/lcm(n1, n2); the move with the fewest teeth is given."""
    step = 360 / math.lcm(n1, n2)
    unit1, unit2 = math.lcm(n1, n2) // n1, math.lcm(n1, n2) // n2
    found = []
    for m in range(-(count // 2), count - count // 2):
        best = None
        for k1 in range(-n1, n1 + 1):
            rest = k1 * unit1 - m
            if rest % unit2 == 0 and (best is None or abs(k1) + abs(rest // unit2) < abs(best[0]) + abs(best[1])):
                best = (k1, rest // unit2)
        if best is not None:
            found.append((m * step, *best))
    return found
