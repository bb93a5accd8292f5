"""What a turn of an adjuster does to ride height: the rod made longer, or the spring wound up a step."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Preload


def rod_length_shift_mm(mechanism: Mechanism, longer_mm: float) -> float:
    """Travel at which the wheel stands when the rod is made longer and the rocker is held at ride height, mm.

    Newton on the distance from the rod's outboard end to the rocker's eye, with its exact derivative. Raises
    ValueError where no travel fits.
    """
    ride = mechanism.at(0.0)
    eye = ride.point("rod_inboard")
    wanted = np.linalg.norm(ride.point("rod_outboard") - eye) + longer_mm

    def miss(z):
        pose = mechanism.at(z)
        line = pose.point("rod_outboard") - eye
        length = np.linalg.norm(line)
        return length - wanted, line @ pose.velocity("rod_outboard") / length

    return _newton(miss, f"a rod {longer_mm:+g} mm longer")


def settle_mm(preload: Preload, mechanism: Mechanism, weight_n: float, wound_rad: float = 0.0) -> float:
    """Travel at which the spring carries `weight_n` when wound up by `wound_rad` beyond its preload
    (coil-over: mm), mm.

    Negative: the wheel goes down relative to the chassis, the car rises. Newton with the exact wheel rate.
    """
    wound = replace(preload, ride=preload.ride + preload.spring.rate * wound_rad)

    def miss(z):
        curves = wound.curves(mechanism.at(z))
        return float(curves.wheel_force_n) - weight_n, float(curves.wheel_rate_n_per_mm)

    return _newton(miss, f"{weight_n:g} N on a spring wound up by {wound_rad:g}")


def _newton(miss, what: str) -> float:
    z = 0.0
    for _ in range(50):
        value, slope = miss(z)
        step = -value / slope if slope else math.nan
        if not math.isfinite(step):
            break
        z += math.copysign(min(abs(step), 10.0), step)
        if abs(step) < 1e-11:
            return z
    raise ValueError(f"adjusting: no wheel travel fits {what}; the corner does not reach that far")
