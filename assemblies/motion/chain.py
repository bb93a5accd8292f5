"""The corner's constants and the chain from the lower arm's angle to every point.

Everything is a chain from the lower arm's angle a: the lower joint lies on a circle; the upper joint on a
circle, held by the upright's length; the tie rod's outer end is held by three lengths; every other point of
the upright is a constant combination of those three; the rocker's eye lies on a circle, held by the rod.

Scalar products needed on the way are linear in v = (1, cos a, sin a, cos b, sin b), b = the upper arm's
angle, because lengths within a body are constant: one small matrix product gives them all. Layout
(variations, rows, poses), mm.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from assemblies.motion.hard_points import HardPoints
from assemblies.motion.linkage import Series, cross, held_on_circle, rows, sqrt


class Upright(NamedTuple):
    """The upright at given arm angles, in arrays or Jets of arrays; k = unit vector from lower to upper
    joint, t = lower joint to tie rod's inner end."""

    v: Series  # (V, 5, n): 1, cos a, sin a, cos b, sin b
    k: Series  # (V, 3, n)
    t: Series
    kt: Series  # k·t
    d: Series  # t² square to k, mm²
    along: Series  # the steering arm's direction square to k is (along·t + aside·k×t)/d, t squared off k
    aside: Series
    wheel_z: Series  # rise of the wheel centre, mm
    upper_left: Series  # discriminants, mm⁴ and mm²: zero where the loop stops closing
    tie_left: Series


class Chain(NamedTuple):
    """Constants of a batch of corners; every array has the variations as its first axis."""

    lower: np.ndarray  # (V, 3, 3) lower joint = lower @ (1, cos a, sin a)
    upper: np.ndarray  # (V, 3, 3) upper joint = upper @ (1, cos b, sin b)
    upper_loop: np.ndarray  # (V, 3, 3) a, b, c of the upper joint's circle from (1, cos a, sin a)
    size: np.ndarray  # (V, 1) lower to upper joint, mm
    # (V, 10, 5) from v: k, t, t·t, k·t, along, wheel's rise less what the steering arm adds
    scalars: np.ndarray
    # (V, 4, 1) wheel centre along and across the steering arm; what a moved rack adds to `along`
    steer: np.ndarray
    tie_branch: np.ndarray  # (V, 1) sign of `aside`
    # (V, 5, 3) wheel centre, contact, spin axis, tie rod's outer end, rod's end in the upright's frame
    body: np.ndarray
    frame: np.ndarray  # (V, 3, 3) the upright's frame at ride, columns k, m, k×m
    rod: np.ndarray  # (V, 3, 5) rod's outboard end from v, where an arm carries it
    on_upright: bool
    rocker: np.ndarray  # (V, 3, 3) rows: arm's direction at ride, square to it (sense of the branch), axis
    rocker_centre: np.ndarray  # (V, 3, 1) foot of the rod's eye on the rocker's axis
    rocker_gap: np.ndarray  # (V, 1) (arm² - rod²)/(2·arm), mm
    arm: np.ndarray  # (V, 1) rod's eye to the axis, mm
    rocker_sense: np.ndarray  # (V, 1) +1 where the branch's sense is right-handed about the axis as given
    eyes: np.ndarray  # (V, 7, 3) rod eye, damper eye, damper length² from (1, cos, sin) of the rocker's angle

    def take(self, which) -> Chain:
        """The constants of some variations (slice or index array)."""
        return self._replace(**{k: f[which] for k, f in self._asdict().items() if not isinstance(f, bool)})

    @classmethod
    def of(cls, p: HardPoints) -> Chain:
        """Constants of flattened hard points (V, 3). Raises ValueError where three points of a body lie in a
        line."""
        lower = circle(p.lower_front, p.lower_rear - p.lower_front, p.lower_outer, up=True)
        upper = circle(p.upper_front, p.upper_rear - p.upper_front, p.upper_outer, up=True)
        body = _body(p)
        upper, loop = _upper_loop(lower, upper, body.size)
        scalars, steer = _scalars(p, lower, upper, body)
        return cls(
            lower=lower.matrix,
            upper=upper.matrix,
            upper_loop=loop,
            size=col(body.size),
            scalars=scalars,
            steer=steer,
            tie_branch=col(body.tie_branch),
            body=body.seen,
            frame=body.frame,
            rod=_rod_on_arm(p, lower, upper),
            on_upright=p.rod_on == "upright",
            **_rocker(p),
        )

    def upright(self, c, s, rack=None, flat=None) -> Upright:
        """From cos and sin of the lower arm's angle to the upright; `rack` (mm, +y) moves the tie rod's inner
        end.

        `flat`, two arrays (V, 1) of ones and zeros, takes the upper joint's or the tie rod's triangle as
        exactly flat (0): the very end of its motion.
        """
        abc = self.upper_loop @ rows(1.0, c, s)
        cb, sb, upper_left = held_on_circle(abc[..., 0, :], abc[..., 1, :], abc[..., 2, :], flat and flat[0])
        v = rows(1.0, c, s, cb, sb)
        q = self.scalars @ v
        kx, ky, kz, tx, ty, tz, tt, kt, along, rise = (q[..., i, :] for i in range(10))
        k, t = q[..., 0:3, :], q[..., 3:6, :]
        forward, sideways, per_tt, per_kt = (self.steer[:, i] for i in range(4))
        if rack is not None:
            along = along + rack * ((ty + rack / 2) * per_tt - ky * per_kt)
            tt, kt, ty = tt + rack * (ty * 2 + rack), kt + rack * ky, ty + rack
            t = rows(tx, ty, tz)
        d = tt - kt * kt
        tie_left = d - along * along
        aside = sqrt(tie_left if flat is None else tie_left * flat[1]) * self.tie_branch
        wheel_z = (
            rise
            + (
                (along * forward - aside * sideways) * (tz - kt * kz)
                + (aside * forward + along * sideways) * (kx * ty - ky * tx)
            )
            / d
        )
        return Upright(v, k, t, kt, d, along, aside, wheel_z, upper_left, tie_left)

    def basis(self, u: Upright):
        """k, m and k×m: the upright's orthonormal frame, each (V, 3, n)."""
        along, aside = u.along / u.d, u.aside / u.d
        along, aside = along[..., None, :], aside[..., None, :]
        off, side = u.t - u.k * u.kt[..., None, :], cross(u.k, u.t)
        return u.k, off * along + side * aside, side * along - off * aside

    def points(self, u: Upright) -> dict:
        """The moving points outboard of the rocker, each (V, 3, n)."""
        k, m, n = self.basis(u)
        lo = self.lower @ u.v[..., 0:3, :]
        on = [
            lo + k * b[..., 0:1] + m * b[..., 1:2] + n * b[..., 2:3]
            for b in np.moveaxis(self.body[:, :, None], 1, 0)
        ]
        return {
            "lower_outer": lo,
            "upper_outer": lo + k * self.size[:, :, None],
            "wheel_centre": on[0],
            "contact": on[1],
            "tie_outer": on[3],
            "rod_outboard": on[4] if self.on_upright else self.rod @ u.v,
        }

    def rod_outboard(self, u: Upright):
        """The rod's outboard end alone, (V, 3, n)."""
        return self.points(u)["rod_outboard"] if self.on_upright else self.rod @ u.v

    def turn_rocker(self, outboard):
        """cos and sin of the rocker's angle (in the branch's sense) and the discriminant (mm²), from the
        rod's outboard end."""
        d = outboard - self.rocker_centre
        ab = self.rocker[:, :2] @ d
        sq = d * d
        c = (sq[..., 0, :] + sq[..., 1, :] + sq[..., 2, :]) / (self.arm * 2) + self.rocker_gap
        return held_on_circle(ab[..., 0, :], ab[..., 1, :], c)


class Circle(NamedTuple):
    """The way of a point about an axis, from ride: centre + out·cos + square·sin. Rows are variations."""

    centre: np.ndarray  # (V, 3)
    out: np.ndarray  # (V, 3) from the centre to the point
    square: np.ndarray  # (V, 3) as long, square to it and to the axis
    radius: np.ndarray  # (V,)

    @property
    def matrix(self) -> np.ndarray:
        """(V, 3, 3): the point is matrix @ (1, cos, sin)."""
        return np.stack([self.centre, self.out, self.square], -1)

    def at(self, angle_rad) -> np.ndarray:
        cos, sin = np.cos(angle_rad)[..., None], np.sin(angle_rad)[..., None]
        return self.centre + self.out * cos + self.square * sin


def circle(on_axis, direction, point, up=False) -> Circle:
    """The circle of a point about an axis. `square` is right-handed about `direction`; with `up`, the axis'
    sense is chosen so that it points upwards."""
    axis = direction / norm(direction)[..., None]
    rel = point - on_axis
    centre = on_axis + dot(rel, axis)[..., None] * axis
    out = point - centre
    square = np.cross(axis, out)
    if up:
        square = np.where(square[..., 2:] < 0, -square, square)
    return Circle(centre, out, square, norm(out))


def _upper_loop(lower: Circle, upper: Circle, size: np.ndarray) -> tuple[Circle, np.ndarray]:
    """The upper joint's circle, its angle b in the sense of ride's branch, and what fixes b (V, 3, 3).

    The joints keep their distance: |upper - lower|² = size² reads a·cos b + b·sin b = c, and each of a, b and
    c is linear in (1, cos a, sin a) of the lower arm."""
    apart = upper.centre - lower.centre
    cosine, sine = (
        [-dot(way, apart), dot(way, lower.out), dot(way, lower.square)] for way in (upper.out, upper.square)
    )
    sense = np.where(sine[0] + sine[1] > 0, -1.0, 1.0)
    upper = upper._replace(square=upper.square * sense[:, None])
    sine = [x * sense for x in sine]
    half = (dot(apart, apart) + dot(lower.out, lower.out) + dot(upper.out, upper.out) - size**2) / 2
    return upper, mat(cosine, sine, [half, -dot(apart, lower.out), -dot(apart, lower.square)])


class _Body(NamedTuple):
    """The upright as a rigid body, from its lower joint: kingpin = unit vector to the upper joint, the
    steering arm = from there to the tie rod's outer end."""

    size: np.ndarray  # (V,) between the joints, mm
    arm_along: np.ndarray  # (V,) the steering arm along the kingpin, mm
    arm_off: np.ndarray  # (V,) and square to it
    frame: np.ndarray  # (V, 3, 3) columns: kingpin, steering arm squared off it, their product
    seen: np.ndarray  # (V, 5, 3) what it carries, in that frame
    tie_branch: np.ndarray  # (V,) the side of the plane of kingpin and tie rod's inner end it is on


def _body(p: HardPoints) -> _Body:
    """Raises ValueError where the steering arm lies along the kingpin."""
    joints, arm = p.upper_outer - p.lower_outer, p.tie_outer - p.lower_outer
    size = np.sqrt(dot(joints, joints))
    kingpin = joints / size[:, None]
    arm_along = dot(kingpin, arm)
    across = arm - arm_along[:, None] * kingpin
    arm_off = norm(across)
    if (arm_off <= 1e-6 * size).any():
        raise ValueError(
            "hard points: the upright's two ball joints and the tie rod's outer end lie in one line; "
            "move tie_rod.outer off the line through the ball joints"
        )
    aside = across / arm_off[:, None]
    frame = np.stack([kingpin, aside, np.cross(kingpin, aside)], -1)
    wheel, contact, rod = (x - p.lower_outer for x in (p.wheel_centre, p.contact, p.rod_outboard))
    carried = np.stack([wheel, contact, spin_axis(p), arm, rod], 1)
    side = np.where(dot(arm, np.cross(kingpin, p.tie_inner - p.lower_outer)) < 0, -1.0, 1.0)
    return _Body(size, arm_along, arm_off, frame, carried @ frame, side)


def _scalars(p: HardPoints, lower: Circle, upper: Circle, body: _Body) -> tuple[np.ndarray, np.ndarray]:
    """`Chain.scalars` and `Chain.steer`. Both joints are linear in v = (1, cos a, sin a, cos b, sin b), and
    so are products of vectors whose lengths do not change. Everything from the foot of the lower joint."""
    apart, tie_inner = upper.centre - lower.centre, p.tie_inner - lower.centre
    lower2, upper2 = dot(lower.out, lower.out), dot(upper.out, upper.out)
    nil, none = np.zeros_like(body.size), 0 * apart
    one = np.stack([nil + 1, nil, nil, nil, nil], -1)  # in v
    lower_joint = np.stack([none, lower.out, lower.square, none, none], -1)  # (V, 3, 5)
    upper_joint = np.stack([apart, none, none, upper.out, upper.square], -1)
    tie = tie_inner[:, :, None] * one[:, None] - lower_joint  # lower joint to tie rod's inner end
    tie_tie = np.stack(
        [
            dot(tie_inner, tie_inner) + lower2,
            -2 * dot(tie_inner, lower.out),
            -2 * dot(tie_inner, lower.square),
            nil,
            nil,
        ],
        -1,
    )
    upper_upper = np.stack(
        [dot(apart, apart) + upper2, nil, nil, 2 * dot(apart, upper.out), 2 * dot(apart, upper.square)], -1
    )
    upper_lower = (upper_upper + one * (lower2 - body.size**2)[:, None]) / 2
    tie_of_joints = (tie_inner[:, None] @ (upper_joint - lower_joint))[:, 0]
    kingpin_tie = (tie_of_joints - upper_lower + one * lower2[:, None]) / body.size[:, None]
    # the tie rod keeps its length: steering arm · tie
    arm2, rod2 = (
        body.arm_along**2 + body.arm_off**2,
        dot(p.tie_outer - p.tie_inner, p.tie_outer - p.tie_inner),
    )
    arm_tie = (tie_tie + one * (arm2 - rod2)[:, None]) / 2
    along = (arm_tie - kingpin_tie * body.arm_along[:, None]) / body.arm_off[:, None]
    kingpin = (upper_joint - lower_joint) / body.size[:, None, None]
    wheel = body.seen[:, 0]
    still = one * (lower.centre - p.wheel_centre)[:, 2:]
    rise = lower_joint[:, 2] + kingpin[:, 2] * wheel[:, :1] + still
    scalars = np.concatenate([kingpin, tie, np.stack([tie_tie, kingpin_tie, along, rise], 1)], 1)
    per_rack = 1 / body.arm_off, body.arm_along / body.arm_off
    return scalars, np.stack([wheel[:, 1], wheel[:, 2], *per_rack], 1)[:, :, None]


def _rod_on_arm(p: HardPoints, lower: Circle, upper: Circle) -> np.ndarray:
    """The rod's outboard end from v where an arm carries it (V, 3, 5): it keeps its place along the arm's
    axis and turns with the arm's outer joint."""
    on_upper = p.rod_on == "upper_arm"
    arm = upper if on_upper else lower
    rel, arm2 = p.rod_outboard - arm.centre, dot(arm.out, arm.out)
    axis = np.cross(arm.out, arm.square) / arm2[:, None]
    out, square = dot(rel, arm.out) / arm2, dot(rel, arm.square) / arm2
    turning = [
        out[:, None] * arm.out + square[:, None] * arm.square,
        out[:, None] * arm.square - square[:, None] * arm.out,
    ]
    still = arm.centre + (dot(rel, axis) / dot(axis, axis))[:, None] * axis
    none = [0 * still, 0 * still]
    return np.stack([still, *(none + turning if on_upper else turning + none)], -1)


def _rocker(p: HardPoints) -> dict[str, np.ndarray]:
    """The rocker's fields of `Chain`: the rod holds its rod eye on a circle, its damper eye turns along."""
    axis = p.axis / norm(p.axis)[:, None]
    rod_eye, damper_eye = circle(p.pivot, axis, p.rod_inboard), circle(p.pivot, axis, p.damper_eye)
    arm = rod_eye.radius
    rod2 = dot(p.rod_outboard - p.rod_inboard, p.rod_outboard - p.rod_inboard)
    sense = np.where(dot(rod_eye.square, p.rod_outboard - rod_eye.centre) > 0, -1.0, 1.0)
    rod_eye, damper_eye = (c._replace(square=c.square * sense[:, None]) for c in (rod_eye, damper_eye))
    damper = damper_eye.centre - p.damper_chassis
    length2 = np.stack(
        [
            dot(damper, damper) + dot(damper_eye.out, damper_eye.out),
            2 * dot(damper, damper_eye.out),
            2 * dot(damper, damper_eye.square),
        ],
        -1,
    )
    return {
        "rocker": np.stack([rod_eye.out / col(arm), rod_eye.square / col(arm), axis], 1),
        "rocker_centre": rod_eye.centre[:, :, None],
        "rocker_gap": col((arm**2 - rod2) / (2 * arm)),
        "arm": col(arm),
        "rocker_sense": col(sense),
        "eyes": np.concatenate([rod_eye.matrix, damper_eye.matrix, length2[:, None]], 1),
    }


def spin_axis(p: HardPoints) -> np.ndarray:
    """Wheel's spin axis at ride, pointing outboard, from the static camber and toe: camber = -asin(s_z), toe
    = atan2(s_x, ±s_y)."""
    camber, toe = np.radians(p.static_camber_deg), np.radians(p.static_toe_deg)
    out = 1.0 if p.side == "left" else -1.0
    s = np.stack([np.cos(camber) * np.sin(toe), out * np.cos(camber) * np.cos(toe), -np.sin(camber)], -1)
    return np.broadcast_to(s, p.lower_outer.shape)


def dot(a, b) -> np.ndarray:
    return np.einsum("...i,...i->...", a, b)


def norm(a) -> np.ndarray:
    return np.sqrt(dot(a, a))


def mat(*lines) -> np.ndarray:
    """(V, rows, columns) from rows of (V,) entries."""
    return np.stack([np.stack(line, -1) for line in lines], 1)


def col(x) -> np.ndarray:
    return np.asarray(x)[:, None]
