"""Strings and a plumb bob on the finished car: what a rule from the string to the rim must read.

A string is stretched along either side of the car, level with the wheel centres, parallel to the car's
middle. The rim's edges are read ahead and behind at the height of the hub, and plumbed to the floor at lock.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.job import Job
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.poses import Poses
from assemblies.steering.ground import WheelOnGround
from parts.base.frozen import dataclass

CLEAR_MM = 30.0  # string to whatever of the rim comes nearest, common practice
READ_MM = 0.5  # what a careful builder reads, common practice


@dataclass(frozen=True)
class StringReading:
    """Square distances from the string to the rim's edge ahead of and behind the hub, mm; their difference,
    ahead less behind, is positive toe-in."""

    wheel: str  # left | right
    wheel_mm: float
    rack_mm: float
    ahead_mm: float
    behind_mm: float
    steer_deg: float  # from straight ahead, + to the left
    toe_deg: float  # + toe-in, with static toe

    @property
    def difference_mm(self) -> float:
        return self.ahead_mm - self.behind_mm


@dataclass(frozen=True)
class StringCheck:
    """`string_mm`: of either string from the car's middle. `per_tenth_mm`: difference a tenth of a degree
    makes."""

    rim_mm: float
    string_mm: float
    per_tenth_mm: float
    travel: tuple[StringReading, ...]  # rack straight ahead, every 10 mm of wheel height
    lock: tuple[StringReading, ...]  # both wheels at ride height, rack at 0, half and full, both ways


def string_check(job: Job, mechanism: Mechanism, wheel_mm=None, step_mm: float = 10.0) -> StringCheck:
    """Readings over the travel and over the lock; `wheel_mm`: lowest and highest wheel height that is
    reached.

    The rim's edge at the hub's height is the rim's half diameter along the heading from the wheel centre,
    exactly: a level chord of the rim runs square to the spin axis."""
    low, high = wheel_mm if wheel_mm is not None else (-job.corner.droop, job.corner.bump)
    inner = range(math.ceil((low + 1e-9) / step_mm), math.floor((high - 1e-9) / step_mm) + 1)
    heights = np.array(sorted({low, high, 0.0, *(step_mm * k for k in inner)}))
    rim, lock = job.wheel.rim_diameter, job.tie_rod.rack_travel
    racks = np.array([-lock, -lock / 2, 0.0, lock / 2, lock]) if lock else np.zeros(0)
    side = job.corner.side
    other = "right" if side == "left" else "left"
    seen = [(side, heights, np.zeros(len(heights)), mechanism.at(heights, 0.0), 1.0)]
    if lock:
        seen += [
            (side, np.zeros(5), racks, mechanism.at(0.0, racks), 1.0),
            (other, np.zeros(5), racks, mechanism.at(0.0, -racks), -1.0),
        ]
    edges = [_edges(poses, rim) for *_, poses, _ in seen]
    string = 10.0 * math.ceil((max(float(np.nanmax(e)) for pair in edges for e in pair) + CLEAR_MM) / 10)
    rows = []
    straight = float(WheelOnGround(mechanism.at(0.0, 0.0)).steer_rad)
    for (wheel, z, rack, poses, image), (ahead, behind) in zip(seen, edges, strict=True):
        steer = (
            np.round(image * np.degrees(WheelOnGround(poses).steer_rad - straight), 12) + 0.0
        )  # no minus zero
        rows.append(
            tuple(
                StringReading(wheel, *map(float, values))
                for values in zip(
                    z, rack + 0.0, string - ahead, string - behind, steer, poses.toe_deg, strict=True
                )
            )
        )
    tenth = rim * math.sin(math.radians(0.1))
    return StringCheck(rim, string, tenth, rows[0], tuple(x for part in rows[1:] for x in part))


def _edges(poses: Poses, rim_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Distance from the car's middle of the rim's edge ahead and behind at the hub's height, outboard
    positive."""
    ground = WheelOnGround(poses)
    centre, heading = poses.point("wheel_centre"), ground.heading
    ahead, behind = (ground.out * (centre + s * rim_mm / 2 * heading)[..., 1] for s in (1.0, -1.0))
    return ahead, behind
