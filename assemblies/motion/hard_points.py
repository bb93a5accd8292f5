"""The hard points of one corner as arrays: one corner, or a batch of as-built variations."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from assemblies.motion.links import Link, of_job
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class HardPoints:
    """The corner's points at ride height, car axes, mm; each (..., 3), leading axes = variations, broadcast
    together."""

    upper_front: np.ndarray
    upper_rear: np.ndarray
    upper_outer: np.ndarray
    lower_front: np.ndarray
    lower_rear: np.ndarray
    lower_outer: np.ndarray
    tie_inner: np.ndarray
    tie_outer: np.ndarray
    rod_outboard: np.ndarray
    rod_inboard: np.ndarray
    pivot: np.ndarray
    axis: np.ndarray  # of the rocker; any length, its sense sets the sign of the rocker angle
    damper_eye: np.ndarray  # on the rocker
    damper_chassis: np.ndarray
    wheel_centre: np.ndarray
    contact: np.ndarray  # moves with the upright
    rod_on: str = "upper_arm"  # or "lower_arm", "upright"
    side: str = "left"  # or "right": which way the spin axis points outboard
    static_camber_deg: float = 0.0
    static_toe_deg: float = 0.0
    links: tuple[Link, ...] = ()  # bodies between two of the corner's

    def __post_init__(self):
        for f in fields(self)[:16]:
            value = np.asarray(getattr(self, f.name), dtype=float)
            if value.shape[-1:] != (3,) or not np.isfinite(value).all():
                raise ValueError(
                    f"hard points: {f.name} is {getattr(self, f.name)!r}; it must be finite x, y, z in mm"
                )
            object.__setattr__(self, f.name, value)
        if self.rod_on not in ("upper_arm", "lower_arm", "upright"):
            raise ValueError(
                f"hard points: rod_on is {self.rod_on!r}; it must be upper_arm, lower_arm or upright"
            )
        if self.side not in ("left", "right"):
            raise ValueError(f"hard points: side is {self.side!r}; it must be left or right")

    @classmethod
    def of(cls, job) -> HardPoints:
        """The hard points of a job file."""
        return cls(
            upper_front=job.upper_arm.front_pivot,
            upper_rear=job.upper_arm.rear_pivot,
            upper_outer=job.upper_arm.outer_joint,
            lower_front=job.lower_arm.front_pivot,
            lower_rear=job.lower_arm.rear_pivot,
            lower_outer=job.lower_arm.outer_joint,
            tie_inner=job.tie_rod.inner,
            tie_outer=job.tie_rod.outer,
            rod_outboard=job.rod.outboard,
            rod_inboard=job.rod.inboard,
            pivot=job.rocker.pivot,
            axis=job.rocker.axis,
            damper_eye=job.rocker.damper_eye,
            damper_chassis=job.damper.chassis_eye,
            wheel_centre=job.wheel.centre,
            contact=job.wheel.contact,
            rod_on=job.rod.on,
            side=job.corner.side,
            static_camber_deg=job.wheel.static_camber,
            static_toe_deg=job.wheel.static_toe,
            links=of_job(job),
        )

    def moved(self, **offsets_mm) -> HardPoints:
        """A copy with the named points moved by the offsets (..., 3) mm; leading axes make a batch of
        variations."""
        return replace(
            self, **{name: getattr(self, name) + np.asarray(d, float) for name, d in offsets_mm.items()}
        )

    def changed(self, **values) -> HardPoints:
        """A copy with the named fields replaced."""
        return replace(self, **values)

    def mirrored(self) -> HardPoints:
        """The other side of the car: points turn the sign of y, the rocker's axis, an axial vector, those of
        x and z."""
        flip = {
            n: getattr(self, n) * ((-1.0, 1.0, -1.0) if n == "axis" else (1.0, -1.0, 1.0)) for n in self.names
        }
        links = tuple(x.mirrored() for x in self.links)
        return replace(self, **flip, links=links, side="right" if self.side == "left" else "left")

    @property
    def content(self) -> list[object]:
        """All of it as plain lists, for a name by content."""
        return [
            *(np.asarray(getattr(self, f.name)).tolist() for f in fields(self)[:-1]),
            list(map(repr, self.links)),
        ]

    @property
    def names(self) -> list[str]:
        """The names of the points (and of the rocker's axis)."""
        return [f.name for f in fields(self)[:16]]

    @property
    def batch(self) -> tuple[int, ...]:
        return np.broadcast_shapes(*(getattr(self, n).shape[:-1] for n in self.names))


JOINTS = tuple(
    f.name for f in fields(HardPoints)[:14] if f.name != "axis"
)  # where two bodies of the corner meet
