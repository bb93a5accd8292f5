"""Corner geometry over travel, rack held: steering axis, scrub, trail, camber, track, instant and roll
centre, slopes that make the anti figures.

Gains are per mm of wheel-centre travel, exact (assemblies.steering.twist). Two roll centres are given under
their own names: by the motion of the contact, which is the one that counts, and by the arms' construction, a
check on it; they differ by bump steer times trail.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.poses import Poses
from assemblies.steering.ground import WheelOnGround
from assemblies.steering.twist import Twist, angle_rates
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class CornerGeometry:
    """Arrays over the poses; lengths mm, angles deg, slopes per mm of wheel-centre travel unless said."""

    kingpin_deg: np.ndarray  # lean of the steering axis seen from the front, + top inward (ISO 8855)
    caster_deg: np.ndarray  # lean seen from the side, + top rearward (ISO 8855)
    scrub_mm: np.ndarray  # see Ground.scrub_radius_mm
    trail_mm: np.ndarray  # see Ground.trail_mm
    camber_deg: np.ndarray  # + top outward
    camber_deg_per_mm: np.ndarray
    toe_deg_per_mm: np.ndarray  # + toe-in in bump
    track_mm: np.ndarray  # contact outboard from where it is at ride, one wheel
    track_per_mm: np.ndarray  # contact outboard per mm of wheel-centre travel, one wheel
    contact_rise_per_mm: np.ndarray
    roll_centre_mm: np.ndarray  # over the ground, by the motion of the contact
    roll_centre_by_arms_mm: np.ndarray  # over the ground, the arms' construction
    front_view_centre_mm: (
        np.ndarray
    )  # (S, 2) y, z of the instant centre in the plane across through the contact
    front_view_arm_mm: np.ndarray  # contact to it, level; + towards the car's other side
    side_view_centre_mm: (
        np.ndarray
    )  # (S, 2) x, z of the instant centre in the plane along through the contact
    side_view_arm_mm: np.ndarray  # contact to it, level; + rearward
    contact_slope: np.ndarray  # contact forward per mm of its own rise: torque held by the upright
    centre_slope: np.ndarray  # wheel centre forward per mm of its rise: torque held by the frame


def corner(poses: Poses) -> CornerGeometry:
    """The geometry at poses that hold ride height (travel 0) of the same rack as their entry nearest to it.

    - Roll centre by motion: in the plane across the car through the contact carried by the upright, on the
      line through the contact square to its velocity there, where that line meets the car's middle. Its
      height is y·(dy/dz) with z the rise of the contact itself, not of the wheel centre.
    - Instant centre by motion: the point of that plane which, carried by the upright, has no velocity in it.
    - Roll centre by the arms: each arm's plane cut by the plane across through the wheel centre; from the
      contact to where the two lines meet. Parallel lines meet nowhere: the line is then parallel to them.
    - Side view: the same as the instant centre by motion, in the plane along the car through the contact.

    Validity: one side of a symmetric car; small motions from the pose.
    """
    ground, twist = WheelOnGround(poses), Twist.of(poses)
    out, spin = ground.out, ground.spin_axis
    axis, contact = ground.steering_axis, poses.point("contact")
    moved = twist.of_point(contact)
    dspin, ddspin = twist.of_direction(spin)
    toe_rate, _ = angle_rates(
        out * spin[..., 1],
        spin[..., 0],
        out * dspin[..., 1],
        dspin[..., 0],
        out * ddspin[..., 1],
        ddspin[..., 0],
    )
    outboard = out * contact[..., 1]
    ride = int(
        np.nanargmin(np.abs(poses.point("wheel_centre")[..., 2] - poses.mechanism.ride("wheel_centre")[0, 2]))
    )
    with np.errstate(all="ignore"):
        turn = twist.spin
        front = np.stack(
            [contact[..., 1] - moved[..., 2] / turn[..., 0], contact[..., 2] + moved[..., 1] / turn[..., 0]],
            -1,
        )
        side = np.stack(
            [contact[..., 0] + moved[..., 2] / turn[..., 1], contact[..., 2] - moved[..., 0] / turn[..., 1]],
            -1,
        )
        return CornerGeometry(
            kingpin_deg=np.degrees(np.arctan2(-out * axis[..., 1], axis[..., 2])),
            caster_deg=np.degrees(np.arctan2(-axis[..., 0], axis[..., 2])),
            scrub_mm=ground.scrub_radius_mm,
            trail_mm=ground.trail_mm,
            camber_deg=poses.camber_deg,
            camber_deg_per_mm=np.degrees(-dspin[..., 2] / np.sqrt(1 - spin[..., 2] ** 2)),
            toe_deg_per_mm=np.degrees(toe_rate),
            track_mm=outboard - outboard.ravel()[ride],
            track_per_mm=out * moved[..., 1],
            contact_rise_per_mm=moved[..., 2],
            roll_centre_mm=contact[..., 1] * moved[..., 1] / moved[..., 2],
            roll_centre_by_arms_mm=_by_arms(poses) - contact[..., 2],
            front_view_centre_mm=front,
            front_view_arm_mm=out * (contact[..., 1] - front[..., 0]),
            side_view_centre_mm=side,
            side_view_arm_mm=contact[..., 0] - side[..., 0],
            contact_slope=moved[..., 0] / moved[..., 2],
            centre_slope=twist.velocity[..., 0] / twist.velocity[..., 2],
        )


def _by_arms(poses: Poses) -> np.ndarray:
    """Height of the roll centre in car axes by the arms' construction, in homogeneous coordinates (y, z, 1)
    of the plane across the car through the wheel centre, so that parallel lines need no case of their own."""
    x = poses.point("wheel_centre")[..., 0]
    lines = []
    for which in ("upper", "lower"):
        joint, front, rear = (poses.point(f"{which}_{end}") for end in ("outer", "front", "rear"))
        normal = np.cross(front - joint, rear - joint)
        level = normal[..., 0] * x - (normal * joint).sum(-1)
        lines.append(np.stack([normal[..., 1], normal[..., 2], level], -1))
        lines[-1] = lines[-1] / np.linalg.norm(normal, axis=-1, keepdims=True)
    contact = poses.point("contact")
    meet = np.cross(lines[0], lines[1])
    line = np.cross(np.stack([contact[..., 1], contact[..., 2], np.ones_like(x)], -1), meet)
    return -line[..., 2] / line[..., 1]


def anti_percent(slope, share: float, wheelbase_mm: float, height_mm: float, towards: float) -> np.ndarray:
    """How much of the pitching by a force along the car the geometry itself holds, percent: slope·share·L/h.

    `slope`: the force's point forward per mm of its own rise: the contact's where the torque is held by the
    upright (outboard brakes, a hub motor), the wheel centre's where it is held by the frame (inboard brakes,
    drive shafts). `share` of the whole car's force that this axle takes. `towards`: +1 where a contact that
    moves forward in bump resists (front under braking: anti-dive; front under drive: anti-lift), -1 where one
    that moves rearward does (rear under braking: anti-lift; rear under drive: anti-squat).

    Virtual work: the axle's force F·share does work F·share·slope per mm of rise, the load that the car's
    pitch shifts to the axle is F·h/L. Validity: rigid tyres, small pitch, both wheels alike.

    >>> round(float(anti_percent(0.05, 0.6, 2400.0, 450.0, 1.0)), 6)
    16.0
    """
    return 100.0 * towards * np.asarray(slope) * share * wheelbase_mm / height_mm
