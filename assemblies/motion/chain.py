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
    scalars: (
        np.ndarray
    )  # (V, 10, 5) from v: k, t, t·t, k·t, along, wheel's rise less what the steering arm adds
    steer: (
        np.ndarray
    )  # (V, 4, 1) wheel centre along and across the steering arm; what a moved rack adds to `along`
    tie_branch: np.ndarray  # (V, 1) sign of `aside`
    body: (
        np.ndarray
    )  # (V, 5, 3) wheel centre, contact, spin axis, tie rod's outer end, rod's end in the upright's frame
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
        lower, e1, e2, _ = circle(p.lower_front, p.lower_rear - p.lower_front, p.lower_outer, up=True)
        upper, f1, f2, _ = circle(p.upper_front, p.upper_rear - p.upper_front, p.upper_outer, up=True)
        g, ti = upper - lower, p.tie_inner - lower  # everything from the foot of the lower joint on its axis
        d2 = dot(k0 := p.upper_outer - p.lower_outer, k0)
        m0 = p.tie_outer - p.lower_outer
        t0 = p.tie_inner - p.lower_outer
        rl2, gg = dot(e1, e1), dot(g, g)
        ru2 = dot(f1, f1)

        # |upper - lower joint|² = d2 as a cos b + b sin b = c, linear in (1, cos a, sin a); b's sense makes
        # the branch
        aa, bb = ([-dot(f, g), dot(f, e1), dot(f, e2)] for f in (f1, f2))
        sense = np.where(bb[0] + bb[1] > 0, -1.0, 1.0)
        f2, bb = f2 * sense[:, None], [x * sense for x in bb]
        loop = mat(aa, bb, [(gg + rl2 + ru2 - d2) / 2, -dot(g, e1), -dot(g, e2)])

        # the upright's own frame: k, the steering arm squared off it, their product
        size = np.sqrt(d2)
        k0 = k0 / size[:, None]
        alpha = dot(k0, m0)
        across = m0 - alpha[:, None] * k0
        rho = norm(across)
        if (rho <= 1e-6 * size).any():
            raise ValueError(
                "hard points: the upright's two ball joints and the tie rod's outer end lie in one line; "
                "move tie_rod.outer off the line through the ball joints"
            )
        m_hat = across / rho[:, None]
        frame = np.stack([k0, m_hat, np.cross(k0, m_hat)], -1)
        seen = np.stack(
            [
                p.wheel_centre - p.lower_outer,
                p.contact - p.lower_outer,
                spin_axis(p),
                m0,
                p.rod_outboard - p.lower_outer,
            ],
            1,
        )
        body = seen @ frame

        # in v = (1, cos a, sin a, cos b, sin b)
        nil = np.zeros_like(d2)
        unit = np.stack([nil + 1, nil, nil, nil, nil], -1)
        lo = np.stack([0 * e1, e1, e2, 0 * e1, 0 * e1], -1)  # (V, 3, 5)
        uo = np.stack([g, 0 * g, 0 * g, f1, f2], -1)
        inner = ti[:, :, None] * unit[:, None]
        tt = np.stack([dot(ti, ti) + rl2, -2 * dot(ti, e1), -2 * dot(ti, e2), nil, nil], -1)
        uo2 = np.stack([gg + ru2, nil, nil, 2 * dot(g, f1), 2 * dot(g, f2)], -1)
        joint = (uo2 + unit * (rl2 - d2)[:, None]) / 2  # upper joint · lower joint
        kt = ((ti[:, None] @ (uo - lo))[:, 0] - joint + unit * rl2[:, None]) / size[:, None]
        tie2 = dot(p.tie_outer - p.tie_inner, p.tie_outer - p.tie_inner)
        along = ((tt + unit * (dot(m0, m0) - tie2)[:, None]) / 2 - kt * alpha[:, None]) / rho[:, None]
        k = (uo - lo) / size[:, None, None]
        rise = lo[:, 2] + k[:, 2] * body[:, 0, :1] + unit * (lower - p.wheel_centre)[:, 2:]
        scalars = np.concatenate([k, inner - lo, np.stack([tt, kt, along, rise], 1)], 1)
        steer = np.stack([body[:, 0, 1], body[:, 0, 2], 1 / rho, alpha / rho], 1)[:, :, None]
        tie_branch = np.where(dot(m0, np.cross(k0, t0)) < 0, -1.0, 1.0)

        on_upper = p.rod_on == "upper_arm"
        foot, centre = (upper, g) if on_upper else (lower, 0 * g)
        r1, r2 = (f1, f2) if on_upper else (e1, e2)
        rel = p.rod_outboard - foot  # carried by the arm: constant along its axis, turning with r1, r2
        ax = np.cross(r1, r2) / dot(r1, r1)[:, None]
        c1, c2, c0 = dot(rel, r1) / dot(r1, r1), dot(rel, r2) / dot(r1, r1), dot(rel, ax) / dot(ax, ax)
        turned = [c1[:, None] * r1 + c2[:, None] * r2, c1[:, None] * r2 - c2[:, None] * r1]
        still = lower + centre + c0[:, None] * ax
        none = [0 * r1, 0 * r1]
        rod = np.stack([still, *(none if on_upper else turned), *(turned if on_upper else none)], -1)

        axis = p.axis / norm(p.axis)[:, None]
        hub, g1, g2, arm = circle(p.pivot, axis, p.rod_inboard)
        dhub, h1, h2, _ = circle(p.pivot, axis, p.damper_eye)
        rod2 = dot(p.rod_outboard - p.rod_inboard, p.rod_outboard - p.rod_inboard)
        side = np.where(dot(g2, p.rod_outboard - hub) > 0, -1.0, 1.0)
        s1 = side[:, None]
        from_eye = dhub - p.damper_chassis
        damper2 = np.stack(
            [dot(from_eye, from_eye) + dot(h1, h1), 2 * dot(from_eye, h1), 2 * dot(from_eye, h2) * side], -1
        )
        eyes = np.concatenate(
            [np.stack([hub, g1, g2 * s1], -1), np.stack([dhub, h1, h2 * s1], -1), damper2[:, None]], 1
        )

        return cls(
            lower=np.stack([lower, e1, e2], -1),
            upper=np.stack([upper, f1, f2], -1),
            upper_loop=loop,
            size=col(size),
            scalars=scalars,
            steer=steer,
            tie_branch=col(tie_branch),
            body=body,
            frame=frame,
            rod=rod,
            on_upright=p.rod_on == "upright",
            rocker=np.stack([g1 / col(arm), g2 * s1 / col(arm), axis], 1),
            rocker_centre=hub[:, :, None],
            rocker_gap=col((arm**2 - rod2) / (2 * arm)),
            arm=col(arm),
            rocker_sense=col(side),
            eyes=eyes,
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


def circle(on_axis, direction, point, up=False):
    """Circle of a point about an axis: centre, radius vector at the point, the vector square to it, radius.

    The second vector is right-handed about `direction`; with `up`, the axis' sense is chosen so that it
    points upwards.
    """
    axis = direction / norm(direction)[..., None]
    rel = point - on_axis
    centre = on_axis + dot(rel, axis)[..., None] * axis
    r1 = point - centre
    r2 = np.cross(axis, r1)
    if up:
        r2 = np.where(r2[..., 2:] < 0, -r2, r2)
    return centre, r1, r2, norm(r1)


def spin_axis(p: HardPoints) -> np.ndarray:
    """Wheel's spin axis at ride, pointing outboard, from the static camber and toe: camber = -asin(s_z), toe
    = atan2(s_x, ±s_y)."""
    camber, toe = np.radians(p.static_camber_deg), np.radians(p.static_toe_deg)
    out = 1.0 if p.side == "left" else -1.0
    s = np.array([np.cos(camber) * np.sin(toe), out * np.cos(camber) * np.cos(toe), -np.sin(camber)])
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
