"""What the rack does to the wheels: angles, Ackermann, turning circle, bump steer, joint tilts, toggle.

Rack positive to +y on either side of the car; the other wheel is this one's mirror image at the rack's
opposite displacement. Steer angles are about the vertical, + to the left, of the wheel's heading.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.at_ride import AtRide
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.poses import Poses
from assemblies.steering.ground import WheelOnGround
from assemblies.steering.twist import Twist, angle_rates
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Turn:
    """Both wheels at ride height over rack displacement; `inner` and `outer` angles from straight ahead,
    deg."""

    rack_mm: np.ndarray  # 0 to lock, in the sense that turns the car towards this wheel
    inner_deg: np.ndarray
    outer_deg: np.ndarray
    ackermann: np.ndarray  # share of the angle difference, NaN at 0
    ackermann_cot: np.ndarray  # share of the difference of the cotangents, NaN at 0
    ackermann_limit: float  # of both, as the rack nears 0
    pivots_mm: float  # apart on the ground, of both steering axes at ride
    centre_inner_mm: (
        np.ndarray
    )  # from the car's middle to where each wheel turns about on the other axle's line
    centre_outer_mm: np.ndarray
    circle_inner_mm: (
        np.ndarray
    )  # diameters that the outer wheel's contact runs, about the inner wheel's centre,
    circle_outer_mm: np.ndarray  # its own,
    circle_mean_mm: np.ndarray  # and the middle of both


def turn(
    mechanism: Mechanism, lock_mm: float, wheelbase_mm: float, axle: str = "front", count: int = 25
) -> Turn:
    """A turn towards this corner's own side from straight ahead to the rack's `lock_mm`, at ride height.

    - Ackermann share of the angle difference, δo the outer and δi the inner wheel's angle from straight
      ahead: (δi - δo) / (δ* - δo), where cot δ* = cot δo - w/L turns both wheels about one point of the
      other axle's line; w = the pivots' distance where the steering axes meet the ground at ride, L the
      wheelbase. 100 %: no scrub in a slow turn; 0: both wheels at one angle.
    - Share of the cotangents: (cot δo - cot δi)·L/w. It has the same limit as the rack nears zero, and is up
      to some 5 points off at full lock.
    - That limit: δ''·L / (w·δ'²), exact derivatives by rack.
    - Turning centre of a wheel: where the line through its lowest point square to its heading (with static
      toe) meets the other axle's line. The two wheels' centres differ; the middle of both is called mean. A
      circle is what the outer wheel's lowest point runs about it: no body overhang, no tyre slip, level
      ground.
    """
    ahead = 1.0 if axle == "front" else -1.0  # wheels behind that head left turn the car right
    rack = np.linspace(0.0, lock_mm, count) * _towards(mechanism) * ahead
    here, other = (WheelOnGround(mechanism.at(0.0, s * rack)) for s in (1.0, -1.0))
    out = here.out
    inner = ahead * out * (here.steer_rad - here.steer_rad[0])
    outer = -ahead * out * (other.steer_rad - other.steer_rad[0])
    pivots = 2 * abs(float(here.pivot[0, 1]))
    with np.errstate(all="ignore"):
        cot_in, cot_out = 1 / np.tan(inner), 1 / np.tan(outer)
        ideal = np.arctan2(1.0, cot_out - pivots / wheelbase_mm)
        share = (inner - outer) / (ideal - outer)
        cots = (cot_out - cot_in) * wheelbase_mm / pivots
        # seen with the turn to the left: the inner wheel at +y, the outer, mirrored, at -y
        reach = wheelbase_mm * ahead
        centre_y, line = [], float(mechanism.ride("wheel_centre")[0, 0]) - reach
        for ground, sense in ((here, 1.0), (other, -1.0)):
            point, steer = ground.lowest, sense * out * ground.steer_rad
            across = sense * out * point[..., 1]
            centre_y.append(across + (point[..., 0] - line) / np.tan(steer))
        far = other.lowest
        circles = [
            2 * np.hypot(far[..., 0] - line, y + out * far[..., 1])
            for y in (*centre_y, (centre_y[0] + centre_y[1]) / 2)
        ]
    share[0] = cots[0] = np.nan
    centre_y[0][0] = centre_y[1][0] = np.nan
    for c in circles:
        c[0] = np.nan
    return Turn(
        rack,
        np.degrees(inner),
        np.degrees(outer),
        share,
        cots,
        ackermann_limit(mechanism, pivots, wheelbase_mm, axle),
        pivots,
        *(np.abs(y) for y in centre_y),
        *circles,
    )


def ackermann_limit(
    mechanism: Mechanism, pivots_mm: float, wheelbase_mm: float, axle: str = "front"
) -> float:
    """Ackermann share as the rack nears straight ahead at ride: δ''·L/(w·δ'²), δ' and δ'' this wheel's exact
    derivatives by rack. With δ = a·r + b·r² here and a·r - b·r² on the mirrored wheel, δi - δo = 2·b·r² of
    the a²·r²·w/L that full Ackermann asks; both ways of taking the share agree there."""
    first, second = steer_rates(mechanism.at(0.0, 0.0))
    out = 1.0 if (mechanism.points.side == "left") == (axle == "front") else -1.0
    return float(out * second * wheelbase_mm / (pivots_mm * first**2))


def steer_rates(poses: Poses) -> tuple[np.ndarray, np.ndarray]:
    """First and second derivative by rack, wheel height held, of the steer angle, rad/mm and rad/mm²."""
    twist, ground = Twist.of(poses, "rack"), WheelOnGround(poses)
    out, axis = ground.out, ground.spin_axis
    first, second = twist.of_direction(axis)
    return angle_rates(*(x for d in (axis, first, second) for x in (out * d[..., 1], -out * d[..., 0])))


def bump_steer_deg(poses: Poses, at_ride: Poses) -> np.ndarray:
    """Toe change from travel 0 at the same rack, deg, + toe-in: poses (heights, racks) against (racks,)."""
    return poses.toe_deg - at_ride.toe_deg


def toe_slope_deg_per_mm(poses: Poses) -> np.ndarray:
    """Toe by wheel-centre travel, rack held, deg/mm, exact; + toe-in in bump."""
    ground, twist = WheelOnGround(poses), Twist.of(poses)
    axis, first = ground.spin_axis, twist.of_direction(ground.spin_axis)[0]
    out = ground.out
    rate, _ = angle_rates(out * axis[..., 1], axis[..., 0], out * first[..., 1], first[..., 0], 0.0, 0.0)
    return np.degrees(rate)


def arm_to_rod_deg(poses: Poses) -> np.ndarray:
    """Angle between steering arm and tie rod, both seen along the steering axis, deg, 0 to 180; at 0 and 180
    they are in line, the steering toggles, and the wheel can turn over."""
    axis = WheelOnGround(poses).steering_axis
    joint = poses.point("tie_outer")
    arm, rod = joint - poses.point("lower_outer"), joint - poses.point("tie_inner")
    arm, rod = (x - (x * axis).sum(-1, keepdims=True) * axis for x in (arm, rod))
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(arm, rod), axis=-1), (arm * rod).sum(-1)))


def outer_tilt_deg(poses: Poses) -> np.ndarray:
    """Tilt of the tie rod's outer end, deg, signed: out of the plane square to its bolt, which the upright
    carries. The bolt is taken to stand as near upright as square to the rod allows at ride, straight
    ahead."""
    bolt, rod = _bolt(poses.mechanism), _rod(poses)
    turned = poses.frame("upright")[..., :3, :3] @ bolt
    return np.degrees(np.arcsin((turned * rod).sum(-1)))


def inner_tilt_deg(poses: Poses) -> np.ndarray:
    """Tilt of a rod end at the tie rod's inner end, deg, signed: as `outer_tilt_deg`, its bolt in the
    rack."""
    return np.degrees(np.arcsin((_rod(poses) * _bolt(poses.mechanism)).sum(-1)))


def to_rack_deg(poses: Poses) -> np.ndarray:
    """Angle between tie rod and rack, deg, 0 to 90: what a ball joint in line with the rack must take."""
    return np.degrees(np.arccos(np.minimum(1.0, np.abs(_rod(poses)[..., 1]))))


def _towards(mechanism: Mechanism) -> float:
    """The rack's sense, +1 or -1 along y, that turns the car towards this corner's side."""
    first, _ = steer_rates(mechanism.at(0.0, 0.0))
    return 1.0 if float(first) * (1.0 if mechanism.points.side == "left" else -1.0) > 0 else -1.0


def _rod(poses: Poses) -> np.ndarray:
    line = poses.point("tie_outer") - poses.point("tie_inner")
    return line / np.linalg.norm(line, axis=-1, keepdims=True)


def _bolt(mechanism: AtRide) -> np.ndarray:
    rod = (mechanism.ride("tie_outer") - mechanism.ride("tie_inner"))[0]
    rod = rod / np.linalg.norm(rod)
    up = np.array([0.0, 0.0, 1.0]) if abs(rod[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    bolt = up - (up @ rod) * rod
    return bolt / np.linalg.norm(bolt)
