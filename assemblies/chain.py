"""The corner's constants and the chain from the lower arm's angle to every point.

Everything is a chain from the lower arm's angle a: the lower joint lies on a circle; the upper joint on a circle, held by
the upright's length; the tie rod's outer end is held by three lengths; every other point of the upright is a constant
combination of those three; the rocker's eye lies on a circle, held by the rod.

Scalar products needed on the way are linear in v = (1, cos a, sin a, cos b, sin b), b = the upper arm's angle, because
lengths within a body are constant: one small matrix product gives them all. Layout (variations, rows, poses), mm.
"""
from __future__ import annotations

from typing import NamedTuple

import numpy as np

from assemblies.hard_points import HardPoints
from assemblies.linkage import cross, held_by_three, held_on_circle, rows


class Upright(NamedTuple):
    """The upright at given arm angles: directions k = lower to upper joint, t = lower joint to tie rod's inner end."""

    v: object  # (5, n): 1, cos a, sin a, cos b, sin b
    k: object
    t: object
    x: object  # tie rod's outer end = lower joint + x·k + y·t + w·(k×t)
    y: object
    w: object
    kt: object
    wheel_z: object  # rise of the wheel centre, mm
    upper_left: object  # discriminants, mm²: zero where the loop stops closing
    tie_left: object


class Chain(NamedTuple):
    """Constants of a batch of corners; every field has the variations as its first axis."""

    ride_wheel: np.ndarray  # (V, 3) wheel centre at ride
    lower: np.ndarray  # (V, 3, 3) lower joint = lower @ (1, cos a, sin a)
    upper: np.ndarray  # (V, 3, 3) upper joint = upper @ (1, cos b, sin b)
    upper_loop: np.ndarray  # (V, 3, 3) A, B, C of the upper joint's circle from (1, cos a, sin a)
    upper_branch: np.ndarray  # (V, 1)
    scalars: np.ndarray  # (V, 9, 5) k, t, t·t, k·t, lower joint z from v
    kk: np.ndarray  # (V, 1) |k|²
    alpha: np.ndarray  # (V, 1) k·m, m = lower joint to tie rod's outer end
    rho2: np.ndarray  # (V, 1) |m|²
    tie2: np.ndarray  # (V, 1) tie rod length²
    tie_branch: np.ndarray  # (V, 1)
    body: np.ndarray  # (V, 4, 3) wheel centre, contact, spin axis, rod's end in the basis k, m, k×m
    rod: np.ndarray  # (V, 3, 5) rod's outboard end from v, where an arm carries it
    on_upright: bool
    rocker_centre: np.ndarray  # (V, 3, 1) foot of the rod eye on the rocker's axis
    rocker_plane: np.ndarray  # (V, 2, 3) directions of the rocker's arm at ride and square to it
    arm: np.ndarray  # (V, 1) rod eye to axis
    rocker_gap: np.ndarray  # (V, 1) arm² - rod²
    rocker_branch: np.ndarray  # (V, 1)
    eyes: np.ndarray  # (V, 7, 3) rod eye, damper eye, damper length² from (1, cos, sin) of the rocker's angle

    def take(self, which) -> Chain:
        """The constants of some variations (slice or index array)."""
        return Chain(*(f if isinstance(f, bool) else f[which] for f in self))

    @classmethod
    def of(cls, p: HardPoints) -> Chain:
        """Constants of flattened hard points (V, 3). Raises ValueError where three points of a body lie in a line."""
        lower, e1, e2, _ = circle(p.lower_front, p.lower_rear - p.lower_front, p.lower_outer, up=True)
        upper, f1, f2, _ = circle(p.upper_front, p.upper_rear - p.upper_front, p.upper_outer, up=True)
        g, ti = upper - lower, p.tie_inner - lower  # everything from the foot of the lower joint on its axis
        d2 = dot(k0 := p.upper_outer - p.lower_outer, k0)
        m0 = p.tie_outer - p.lower_outer
        t0 = p.tie_inner - p.lower_outer
        rl2, gg = dot(e1, e1), dot(g, g)
        ru2 = dot(f1, f1)
        one, nil = np.ones_like(d2), np.zeros_like(d2)

        # |upper - lower joint|² = d2 as A cos b + B sin b = C, linear in (1, cos a, sin a); A, B per unit radius²
        loop = mat([-dot(f1, g), dot(f1, e1), dot(f1, e2)], [-dot(f2, g), dot(f2, e1), dot(f2, e2)],
                   [(gg + rl2 + ru2 - d2) / 2, -dot(g, e1), -dot(g, e2)])
        b0 = loop[:, 1, 0] + loop[:, 1, 1]

        # in v = (1, cos a, sin a, cos b, sin b)
        lo = np.stack([nil[:, None] + 0 * e1, e1, e2, 0 * e1, 0 * e1], -1)  # (V, 3, 5)
        uo = np.stack([g, 0 * g, 0 * g, f1, f2], -1)
        inner = np.stack([ti, 0 * ti, 0 * ti, 0 * ti, 0 * ti], -1)
        tt = np.stack([dot(ti, ti) + rl2, -2 * dot(ti, e1), -2 * dot(ti, e2), nil, nil], -1)
        uo2 = np.stack([gg + ru2, nil, nil, 2 * dot(g, f1), 2 * dot(g, f2)], -1)
        unit = np.stack([one, nil, nil, nil, nil], -1)
        joint = (uo2 + unit * (rl2 - d2)[:, None]) / 2  # upper joint · lower joint
        kt = np.einsum("vi,vij->vj", ti, uo) - joint - np.einsum("vi,vij->vj", ti, lo) + unit * rl2[:, None]
        wheel = lower + lo[:, :, 0]  # lower joint's z is counted from the wheel centre's ride height
        lo_z = lo[:, 2] + unit * (wheel - p.wheel_centre)[:, 2:]
        scalars = np.concatenate([uo - lo, inner - lo, tt[:, None], kt[:, None], lo_z[:, None]], 1)

        n0 = np.cross(k0, m0)
        flat = dot(n0, n0) <= 1e-12 * d2 * dot(m0, m0)
        if flat.any():
            raise ValueError("hard points: the upright's two ball joints and the tie rod's outer end lie in one line; "
                             "move tie_rod.outer off the line through the ball joints")
        basis = np.stack([k0, m0, n0], -1)
        seen = np.stack([p.wheel_centre - p.lower_outer, p.contact - p.lower_outer, spin_axis(p),
                         p.rod_outboard - p.lower_outer], -1)
        body = np.swapaxes(np.linalg.solve(basis, seen), 1, 2)

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
        rod0 = p.rod_outboard - p.rod_inboard
        from_eye = dhub - p.damper_chassis
        damper2 = np.stack([dot(from_eye, from_eye) + dot(h1, h1), 2 * dot(from_eye, h1), 2 * dot(from_eye, h2)], -1)
        eyes = np.concatenate([np.stack([hub, g1, g2], -1), np.stack([dhub, h1, h2], -1), damper2[:, None]], 1)
        plane = np.stack([g1, g2], 1) / arm[:, None, None]
        across = dot(plane[:, 1], p.rod_outboard - hub)

        return cls(
            ride_wheel=p.wheel_centre, lower=np.stack([lower, e1, e2], -1), upper=np.stack([upper, f1, f2], -1),
            upper_loop=loop, upper_branch=col(-np.sign(b0)), scalars=scalars, kk=col(d2), alpha=col(dot(k0, m0)),
            rho2=col(dot(m0, m0)), tie2=col(dot(p.tie_outer - p.tie_inner, p.tie_outer - p.tie_inner)),
            tie_branch=col(np.sign(dot(m0, np.cross(k0, t0)))), body=body, rod=rod, on_upright=p.rod_on == "upright",
            rocker_centre=hub[:, :, None], rocker_plane=plane, arm=col(arm), rocker_gap=col(arm**2 - dot(rod0, rod0)),
            rocker_branch=col(-np.sign(across)), eyes=eyes)

    def upright(self, c, s, rack=None) -> Upright:
        """From cos and sin of the lower arm's angle to the upright; `rack` (mm, +y) moves the tie rod's inner end."""
        abc = self.upper_loop @ rows(1.0, c, s)
        cb, sb, upper_left = held_on_circle(abc[..., 0, :], abc[..., 1, :], abc[..., 2, :], self.upper_branch)
        v = rows(1.0, c, s, cb, sb)
        q = self.scalars @ v
        k, t, tt, kt = q[..., 0:3, :], q[..., 3:6, :], q[..., 6, :], q[..., 7, :]
        kx, ky, kz, tx, ty, tz = (q[..., i, :] for i in range(6))
        if rack is not None:
            tt, kt, ty = tt + rack * (2 * ty + rack), kt + rack * ky, ty + rack
            t = rows(tx, ty, tz)
        beta = (tt + (self.rho2 - self.tie2)) / 2
        x, y, w, tie_left = held_by_three(self.kk, kt, tt, self.alpha, beta, self.rho2, self.tie_branch)
        pw, qw, rw = self.body[:, 0, 0:1], self.body[:, 0, 1:2], self.body[:, 0, 2:3]
        wheel_z = (q[..., 8, :] + (x * qw + w * kt * rw + pw) * kz + (y * qw - w * (self.kk * rw)) * tz
                   + (w * qw + y * rw) * (kx * ty - ky * tx))
        return Upright(v, k, t, x, y, w, kt, wheel_z, upper_left, tie_left)

    def basis(self, u: Upright):
        """k, m and k×m of the upright, each (V, 3, n)."""
        x, y, w = u.x[..., None, :], u.y[..., None, :], u.w[..., None, :]
        n0 = cross(u.k, u.t)
        m = u.k * x + u.t * y + n0 * w
        n = n0 * y + u.k * (w * u.kt[..., None, :]) - u.t * (w * self.kk[..., None])
        return u.k, m, n

    def points(self, u: Upright) -> dict:
        """The moving points outboard of the rocker, each (V, 3, n)."""
        k, m, n = self.basis(u)
        lo = self.lower @ u.v[..., 0:3, :]
        carried = [lo + k * b[..., 0:1] + m * b[..., 1:2] + n * b[..., 2:3] for b in np.moveaxis(self.body[:, :, None], 1, 0)]
        return {"lower_outer": lo, "upper_outer": lo + k, "tie_outer": lo + m, "wheel_centre": carried[0], "contact": carried[1],
                "rod_outboard": carried[3] if self.on_upright else self.rod @ u.v}

    def rocker(self, outboard):
        """cos and sin of the rocker's angle and the discriminant (mm²), from the rod's outboard end (V, 3, n)."""
        d = outboard - self.rocker_centre
        ab = self.rocker_plane @ d
        sq = d * d
        c = (sq[..., 0, :] + sq[..., 1, :] + sq[..., 2, :] + self.rocker_gap) / (2 * self.arm)
        return held_on_circle(ab[..., 0, :], ab[..., 1, :], c, self.rocker_branch)


def circle(on_axis, direction, point, up=False):
    """Circle of a point about an axis: centre, radius vector at the point, the vector square to it, radius.

    The second vector is right-handed about `direction`; with `up`, the axis' sense is chosen so that it points upwards.
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
    """Wheel's spin axis at ride, pointing outboard, from the static camber and toe: camber = -asin(s_z), toe = atan2(s_x, ±s_y)."""
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
