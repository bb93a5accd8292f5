"""Corner weights: what four scales say, and the change at each corner's spring that sets the cross weight.

The car is a rigid body on four springs; springs alone can only move load along the one pattern w that leaves
the total and both moments unchanged: w = (1, -1, -tf/tr, tf/tr) for front left, front right, rear left, rear
right. So total, front share and side to side balance are given by where the masses sit; only the cross weight
can be set. With the changes F_i = λ·w_i made at the spring of every corner the car does not move at all: each
change is exact, whatever the other corners do.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.springing import Springing
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

CORNERS = ("front left", "front right", "rear left", "rear right")


@dataclass(frozen=True)
class CornerWeights:
    """Shares of four readings (kg, in the order of CORNERS). Cross weight: front right + rear left over the
    total."""

    readings_kg: np.ndarray
    total_kg: np.ndarray
    front_share: np.ndarray
    left_share: np.ndarray
    cross_share: np.ndarray


def corner_weights(readings_kg) -> CornerWeights:
    """From readings (..., 4). Raises ValueError for a reading that is not a positive number.

    >>> w = corner_weights([120, 118, 160, 168])
    >>> float(w.total_kg), round(float(w.cross_share), 4)
    (566.0, 0.4912)
    """
    r = np.asarray(readings_kg, float)
    if r.shape[-1:] != (4,):
        raise ValueError(
            f"corner weights: {r.shape[-1] if r.ndim else 1} readings given; four are needed: "
            f"{', '.join(CORNERS)}"
        )
    if not (np.isfinite(r) & (r > 0)).all():
        raise ValueError(
            f"corner weights: readings are {readings_kg}; each must be above 0 kg: a wheel off its scale "
            f"cannot be corrected from here"
        )
    total = r.sum(-1)
    return CornerWeights(
        r,
        total,
        (r[..., 0] + r[..., 1]) / total,
        (r[..., 0] + r[..., 2]) / total,
        (r[..., 1] + r[..., 2]) / total,
    )


def pattern(front_track_mm: float, rear_track_mm: float) -> np.ndarray:
    """The only load change that springs can make: no change of total, pitch or roll moment."""
    for name, t in (("front_track_mm", front_track_mm), ("rear_track_mm", rear_track_mm)):
        if not (np.isfinite(t) and t > 0):
            raise ValueError(f"{name} is {t}; it must be above 0 mm")
    ratio = front_track_mm / rear_track_mm
    return np.array([1.0, -1.0, -ratio, ratio])


def load_changes_n(
    readings_kg, front_track_mm: float, rear_track_mm: float, cross_share: float = 0.5
) -> np.ndarray:
    """Change of wheel load at each corner (..., 4), N, that brings the cross weight to `cross_share`; up is
    more load."""
    if not 0 < cross_share < 1:
        raise ValueError(f"cross_share is {cross_share}; it must lie between 0 and 1 (0.5 is the usual aim)")
    w = pattern(front_track_mm, rear_track_mm)
    now = corner_weights(readings_kg)
    scale = (cross_share - now.cross_share) * now.total_kg * G_M_S2 / (w[1] + w[2])
    return scale[..., None] * w


def wind_for_load(s: Springing, change_n) -> np.ndarray:
    """Wind (deg; coil-over mm of collar) that changes a corner's wheel load by `change_n` with the wheel
    standing where it stands at ride height: δ = F/(K·dφ/dz), exact."""
    pose = s.mechanism.at(0.0)
    if s.spring.linear:
        return np.asarray(change_n, float) / (s.spring.rate * abs(float(pose.ddamper_dz)))
    return np.degrees(np.asarray(change_n, float) / (s.spring.rate * 1e3 * abs(float(pose.dtheta_dz))))
