"""The wheel on the ground at any pose: where it is lowest, which way it heads, where the steering axis meets
the ground.

Two points are called contact and are kept apart:
- the contact carried by the upright (`poses.point("contact")`): a point of the body, so it has a velocity;
  roll centre, track change, roll and torque held at the upright go by it;
- the wheel's lowest point: of the circle through the job's contact that runs round the spin axis, in the
  wheel's own plane. It stays the wheel's contact when the wheel steers and leans; scrub radius, trail and
  turning circle go by it. At ride, straight ahead, it is the job's contact where that lies straight under
  the spin axis.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from assemblies.motion.poses import Poses
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class WheelOnGround:
    """Points (S + (3,)), mm, and directions of a wheel at poses of shape S."""

    poses: Poses

    @cached_property
    def out(self) -> float:
        """+1 on the left side of the car, -1 on the right: the sign of y outboard."""
        return 1.0 if self.poses.mechanism.points.side == "left" else -1.0

    @cached_property
    def spin_axis(self) -> np.ndarray:
        """Unit vector of the wheel's spin axis, outboard."""
        return self.poses.point("spin")

    @cached_property
    def lowest(self) -> np.ndarray:
        """The wheel's lowest point: of the circle round the spin axis that runs through the job's contact."""
        centre, axis = self.poses.point("wheel_centre"), self.spin_axis
        arm = self.poses.point("contact") - centre
        along = (arm * axis).sum(-1, keepdims=True)
        radius = np.linalg.norm(arm - along * axis, axis=-1, keepdims=True)
        up = np.array([0.0, 0.0, 1.0]) - axis[..., 2:] * axis
        return centre + along * axis - radius * up / np.linalg.norm(up, axis=-1, keepdims=True)

    @cached_property
    def heading(self) -> np.ndarray:
        """Horizontal unit vector along which the wheel rolls, forward: square to the spin axis seen from
        above."""
        axis = self.spin_axis
        ahead = np.stack([self.out * axis[..., 1], -self.out * axis[..., 0], 0 * axis[..., 2]], -1)
        return ahead / np.linalg.norm(ahead, axis=-1, keepdims=True)

    @cached_property
    def steer_rad(self) -> np.ndarray:
        """Angle of the heading from straight ahead, about the vertical, right-handed about +z: positive to
        the left on either wheel, with the static toe the job gives."""
        return np.arctan2(self.heading[..., 1], self.heading[..., 0])

    @cached_property
    def steering_axis(self) -> np.ndarray:
        """Unit vector from the lower to the upper ball joint."""
        line = self.poses.point("upper_outer") - self.poses.point("lower_outer")
        return line / np.linalg.norm(line, axis=-1, keepdims=True)

    @cached_property
    def pivot(self) -> np.ndarray:
        """Where the steering axis meets the ground: the horizontal plane through the wheel's lowest point."""
        joint, axis = self.poses.point("lower_outer"), self.steering_axis
        return joint + axis * ((self.lowest - joint)[..., 2:] / axis[..., 2:])

    @cached_property
    def scrub_radius_mm(self) -> np.ndarray:
        """Lowest point from the pivot on the ground along the spin axis seen from above, outboard positive:
        the axis meets the ground inboard of the wheel's plane (ISO 8855, steering-axis offset at ground)."""
        across = self.spin_axis[..., :2] / np.linalg.norm(self.spin_axis[..., :2], axis=-1, keepdims=True)
        return ((self.lowest - self.pivot)[..., :2] * across).sum(-1)

    @cached_property
    def trail_mm(self) -> np.ndarray:
        """Pivot on the ground from the lowest point along the heading, positive ahead of it (ISO 8855, castor
        offset at ground)."""
        return ((self.pivot - self.lowest) * self.heading).sum(-1)
