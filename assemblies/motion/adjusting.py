"""What a turn of an adjuster does to ride height: the rod made longer, or the spring wound up a step."""

from __future__ import annotations

import math

import numpy as np

from assemblies.motion.mechanism import Mechanism


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
