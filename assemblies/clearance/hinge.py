"""A part that turns about one axis, no suspension round it: its motion with an exact bound, and its gaps.

The carrier "rocker" turns, "frame" stands; what a corner's check calls wheel travel in mm is the angle in
degrees here. A point r from the axis moves on a circle: |p''| = r·(π/180)² per deg², the same at every angle,
so the bound that the search cuts its cells by (see bounds.py) is no enclosure but the value itself.
"""

from __future__ import annotations

import math
from dataclasses import fields
from functools import cached_property

import numpy as np

from assemblies.clearance.bounds import carrier_index
from assemblies.clearance.check import LEAST_TOLERANCE_MM, Limits, Report, look
from assemblies.clearance.plan import Cast
from assemblies.motion.poses import about
from parts.base.frozen import dataclass
from parts.shape.form import Frame, Vector

CARRIER = "rocker"
_ROUNDING = 1e-12  # of the entries of a rotation
MOST_DEG = 360.0


@dataclass(frozen=True)
class Hinge:
    """A pivot (car coordinates, mm) and the axis through it, as it stands at 0 degrees; angles right-handed
    about `axis`.

    `x_towards`: a point of the car; the part's own x points from the pivot's axis to it at 0 degrees, its
    own z along the axis, its origin is the pivot. None: x as level as it can be. Raises ValueError where the
    axis has no length or the point lies on it."""

    pivot: Vector
    axis: Vector
    x_towards: Vector | None = None

    def __post_init__(self) -> None:
        for name in ("pivot", "axis", "x_towards"):
            v = getattr(self, name)
            if v is not None and not (np.shape(v) == (3,) and np.isfinite(np.asarray(v, float)).all()):
                raise ValueError(f"hinge: {name} is {v!r}; it must be three finite numbers")
        if not np.linalg.norm(self.axis) > 1e-9:
            raise ValueError(f"hinge: axis is {tuple(self.axis)}; a direction needs a length")
        _ = self.frame

    @cached_property
    def frame(self) -> Frame:
        """The part's own axes in the car at 0 degrees."""
        axis = np.asarray(self.axis, float)
        if self.x_towards is None:
            level = np.cross((0.0, 0.0, 1.0), axis)
            upright = np.linalg.norm(level) < 1e-3 * np.linalg.norm(axis)
            return Frame.looking(self.pivot, axis, (1.0, 0.0, 0.0) if upright else level)
        arm = np.asarray(self.x_towards, float) - np.asarray(self.pivot, float)
        if np.linalg.norm(np.cross(arm, axis)) < 1e-6 * np.linalg.norm(axis):
            raise ValueError(
                f"hinge: x_towards is {tuple(self.x_towards)}, a point of the axis; give one beside it, such "
                f"as the rod eye"
            )
        return Frame.looking(self.pivot, axis, arm)

    # ------------------------------------------------------------ as the motion of a search

    @property
    def content(self) -> str:
        return repr(("hinge", *(np.asarray(getattr(self, f.name)).tolist() for f in fields(self))))

    @property
    def references(self) -> np.ndarray:
        return np.array([np.zeros(3), np.asarray(self.pivot, float)])

    @cached_property
    def _unit(self) -> np.ndarray:
        return np.asarray(self.axis, float) / np.linalg.norm(self.axis)

    def frames(self, degrees: np.ndarray, _=None) -> np.ndarray:
        """(poses, 2, 3, 4) rigid motions from 0 degrees of what stands and of what turns."""
        a = np.radians(np.asarray(degrees, float))[None]
        out = np.zeros((a.size, 2, 3, 4))
        out[:, 0, :, :3] = np.eye(3)
        out[:, 1, :, :3] = about(self._unit[None], np.cos(a), np.sin(a))[0]
        out[:, 1, :, 3] = self.references[1] - out[:, 1, :, :3] @ self.references[1]
        return out

    def bends(self, edges: np.ndarray, _=None):
        """As bounds.bends, per deg²: |R''·q| = |(1 - u·uᵀ)·q|·(π/180)² at any angle, so one matrix stands
        for all."""
        mid, rad = (np.zeros((1, 2, 12, len(edges) - 1, 1)) for _ in range(2))
        size = math.radians(1.0) ** 2
        mid[0, 1, :9] = ((np.eye(3) - np.outer(self._unit, self._unit)) * size).ravel()[:, None, None]
        rad[0, 1, :9] = _ROUNDING * size
        return mid, rad

    # ------------------------------------------------------------ as the mechanism of a second look

    def at(self, degrees: float, _=0.0) -> _Pose:
        return _Pose(self.frames(np.array([float(degrees)]))[0])


@dataclass(frozen=True, eq=False)
class _Pose:
    motions: np.ndarray

    def frame(self, carrier: str) -> np.ndarray:
        """4 x 4 from 0 degrees."""
        return np.vstack([self.motions[carrier_index(carrier)], (0.0, 0.0, 0.0, 1.0)])


def check_turning(
    bodies,
    hinge: Hinge,
    degrees: tuple[float, float],
    limits: Limits | None = None,
    tolerance_mm: float = 0.1,
    between_runs: bool = False,
) -> Report:
    """Gaps of what turns (carrier "rocker") to what stands ("frame"), over all angles from `degrees[0]` to
    `[1]`.

    Bodies are given in car coordinates as they stand at 0 degrees. In the report `at_wheel_mm`, `under_mm`
    and `clash_mm` are degrees. Raises ValueError for a swing that is none, another carrier, no form."""
    low, high = map(float, degrees)
    if not (math.isfinite(low) and math.isfinite(high) and low < high and high - low <= MOST_DEG):
        raise ValueError(
            f"swing: it goes from {low:g} to {high:g} deg; the first must be below the second, and no more "
            f"than {MOST_DEG:g} deg apart"
        )
    if not tolerance_mm >= LEAST_TOLERANCE_MM:
        raise ValueError(f"swing: tolerance is {tolerance_mm} mm; it must be {LEAST_TOLERANCE_MM} mm or more")
    for b in bodies:
        if b.carrier not in ("frame", CARRIER):
            raise ValueError(
                f"swing: body {b.name!r} rides on {b.carrier!r}; on a hinge alone a body stands "
                f'("frame") or turns ("{CARRIER}")'
            )
    return look(
        Cast(bodies, ()),
        hinge,
        lambda: hinge,
        (low, high),
        None,
        limits or Limits(),
        tolerance_mm,
        between_runs,
    )
