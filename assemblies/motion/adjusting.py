"""What a turn of an adjuster does to ride height: the rod made longer, or the spring wound up a step."""

from __future__ import annotations

import numpy as np

from assemblies.motion.mechanism import Mechanism


def rod_length_shifts_mm(mechanism: Mechanism, longer_mm) -> np.ndarray:
    """Travel (n,) at which the wheel stands when the rod is made longer by each of `longer_mm` (n,) and the
    rocker is held at ride height, mm; NaN where no travel fits.

    Newton on the distance from the rod's outboard end to the rocker's eye, with its exact derivative."""
    ride = mechanism.at(0.0)
    eye = ride.point("rod_inboard")
    wanted = np.linalg.norm(ride.point("rod_outboard") - eye) + np.asarray(longer_mm, float)
    z, done = np.zeros(len(wanted)), np.zeros(len(wanted), bool)
    with np.errstate(all="ignore"):
        for _ in range(50):
            pose = mechanism.at(z)
            line = pose.point("rod_outboard") - eye
            length = np.linalg.norm(line, axis=-1)
            step = (wanted - length) * length / (line * pose.velocity("rod_outboard")).sum(-1)
            lost = ~np.isfinite(step)
            z = np.where(done | lost, z, z + np.clip(step, -10.0, 10.0))
            done |= np.abs(step) < 1e-11
            if (done | lost).all():
                break
    return np.where(done, z, np.nan)
