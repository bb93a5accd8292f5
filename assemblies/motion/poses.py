"""What a set of poses of the corner can tell: points, angles, exact derivatives by travel, rigid motions of
the bodies."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from assemblies.motion.at_ride import MEMBERS, AtRide, triad
from assemblies.motion.chain import Upright
from assemblies.motion.linkage import Jet, cross, rows, sqrt, turn
from assemblies.motion.links import LINK
from parts.base.frozen import dataclass

# what a pose keeps, in rows: cos and sin of three angles, points, the upright's basis, the wheel's spin axis
ROWS: dict[str, int | slice] = {
    "lower_arm": slice(0, 2),
    "upper_arm": slice(2, 4),
    "rocker": slice(4, 6),
    "lower_outer": slice(6, 9),
    "k": slice(9, 12),
    "m": slice(12, 15),
    "n": slice(15, 18),
    "rod_outboard": slice(18, 21),
    "rod_inboard": slice(21, 24),
    "damper_eye": slice(24, 27),
    "damper2": 27,
    "wheel_centre": slice(28, 31),
    "contact": slice(31, 34),
    "spin": slice(34, 37),
    "tie_outer": slice(37, 40),
}
N_ROWS = 40

# the row of the angle by which a body turns about its hinge
ANGLES = {"rocker": "rocker", "spring": "rocker", "upper_arm": "upper_arm", "lower_arm": "lower_arm"}
BODIES = (
    "rocker",
    "spring",
    "rod",
    "damper_body",
    "damper_shaft",
    "upper_arm",
    "lower_arm",
    "tie_rod",
    "upright",
    "wheel",
    "rack",
)


@dataclass(frozen=True)
class Poses:
    """Positions and angles of the corner at a set of poses; arrays of shape batch + poses (+ (3,) for
    points)."""

    mechanism: AtRide
    shape: tuple[int, ...]
    rack_mm: np.ndarray | None
    state: np.ndarray  # (variations, rows, poses)

    def _shaped(self, x: np.ndarray) -> np.ndarray:
        """(V, n) or (V, 3, n) into batch + poses (+ (3,))."""
        x = x.swapaxes(1, 2) if x.ndim == 3 else x
        return x.reshape((*self.mechanism.batch, *self.shape, *x.shape[2:]))

    def _row(self, name: str) -> np.ndarray:
        return self.state[:, ROWS[name]]

    def _point(self, name: str) -> np.ndarray:
        if name in ROWS:
            return self._row(name)
        if name == "upper_outer":
            return self._row("lower_outer") + self._row("k") * self.mechanism.chain.size[:, :, None]
        fixed = np.repeat(self.mechanism.ride(name)[:, :, None], self.state.shape[-1], -1)
        if name == "tie_inner" and self.rack_mm is not None:
            fixed[:, 1] += self.rack_mm
        return fixed

    def point(self, name: str) -> np.ndarray:
        """A point's position, mm, (..., 3): any name of HardPoints; those fixed to the chassis stay put."""
        return self._shaped(self._point(name))

    @property
    def valid(self) -> np.ndarray:
        """Whether the corner reaches the pose."""
        return self._shaped(~np.isnan(self.state[:, 4]))

    @property
    def rocker_rad(self) -> np.ndarray:
        """Rocker angle, rad, right-handed about the axis as given, zero at ride."""
        return self._shaped(
            np.arctan2(self.state[:, 5], self.state[:, 4]) * self.mechanism.chain.rocker_sense
        )

    @property
    def damper_mm(self) -> np.ndarray:
        """Damper length eye to eye, mm."""
        return self._shaped(np.sqrt(self._row("damper2")))

    @property
    def camber_deg(self) -> np.ndarray:
        """Camber, deg, positive with the top outward: -asin(s_z) of the outboard spin axis s."""
        return self._shaped(np.degrees(-np.arcsin(self._row("spin")[:, 2])))

    @property
    def toe_deg(self) -> np.ndarray:
        """Toe, deg, positive toe-in: atan2(s_x, s_y) with s_y counted outboard."""
        spin, out = self._row("spin"), 1.0 if self.mechanism.points.side == "left" else -1.0
        return self._shaped(np.degrees(np.arctan2(spin[:, 0], out * spin[:, 1])))

    # rod, rocker and damper

    @cached_property
    def _rod_in_rocker(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rod vector outboard from the rocker's eye: along the arm, right-handed across it, along the axis;
        each (V, n)."""
        chain, rod = self.mechanism.chain, self._row("rod_outboard") - self._row("rod_inboard")
        p, q, out = np.moveaxis(chain.rocker @ rod, 1, 0)
        cos, sin = self.state[:, 4], self.state[:, 5]
        return p * cos + q * sin, (q * cos - p * sin) * chain.rocker_sense, out

    @property
    def rod_to_arm_deg(self) -> np.ndarray:
        """Angle between rod (seen along the rocker's axis) and arm at the rocker's eye, deg, 0 to 180; 0 or
        180 is toggle."""
        along, across, _ = self._rod_in_rocker
        return self._shaped(np.degrees(np.arctan2(abs(across), -along)))

    @property
    def rod_moment_arm_mm(self) -> np.ndarray:
        """Moment of a unit tension in the rod about the rocker's axis, mm, signed right-handed; zero at
        toggle."""
        along, across, out = self._rod_in_rocker
        return self._shaped(self.mechanism.chain.arm * across / np.sqrt(along**2 + across**2 + out**2))

    @property
    def rod_inboard_tilt_deg(self) -> np.ndarray:
        """Tilt of the rod out of the rocker's plane: the angle the rod end on the rocker's bolt must take,
        deg, signed."""
        along, across, out = self._rod_in_rocker
        return self._shaped(np.degrees(np.arctan2(out, np.hypot(along, across))))

    @property
    def rod_outboard_tilt_deg(self) -> np.ndarray:
        """Angle between the rod and the plane square to its outboard bolt, deg, signed.

        The bolt is taken parallel to the hinge axis of the arm that carries it, or, on the upright, to the
        rocker's axis at ride; it turns with its carrier. A bolt set otherwise shifts the whole curve: see the
        zero you fit it at.
        """
        points = self.mechanism
        on = self.mechanism.points.rod_on
        if on == "upright":
            bolt = self._turned("upright", points.axis)
        else:
            arm = on.removesuffix("_arm")
            bolt = unit(points.ride(f"{arm}_rear") - points.ride(f"{arm}_front"))[:, :, None]
        rod = unit(self._row("rod_inboard") - self._row("rod_outboard"))
        return self._shaped(np.degrees(np.arcsin((bolt * rod).sum(1))))

    @property
    def damper_moment_arm_mm(self) -> np.ndarray:
        """Moment of a unit tension in the damper about the rocker's axis, mm, signed right-handed: its length
        per radian."""
        arm = self._row("damper_eye") - self.mechanism.ride("pivot")[:, :, None]
        line = unit(self._point("damper_chassis") - self._row("damper_eye"))
        axis = np.broadcast_to(self.mechanism.axis[:, :, None], arm.shape)
        return self._shaped((axis * cross(arm, line)).sum(1))

    @property
    def damper_tilt_deg(self) -> np.ndarray:
        """Tilt of the damper out of the rocker's plane, deg, signed: at both eyes alike, their bolts parallel
        to the axis."""
        line = unit(self._point("damper_chassis") - self._row("damper_eye"))
        return self._shaped(np.degrees(np.arcsin((self.mechanism.axis[:, None] @ line)[:, 0])))

    # derivatives by wheel travel, rack held

    @cached_property
    def _upright(self) -> Upright:
        """The upright as Taylor series in the lower arm's angle."""
        with np.errstate(all="ignore"):
            c, s = turn(np.arctan2(self.state[:, 1], self.state[:, 0]), 2)
            return self.mechanism.chain.upright(c, s, self.rack_mm)

    @cached_property
    def _jets(self) -> dict[str, Jet]:
        """Taylor series of the wheel's rise, and of the rocker and what hangs on it."""
        chain, u = self.mechanism.chain, self._upright
        with np.errstate(all="ignore"):
            outboard = chain.rod_outboard(u)
            cos, sin, _ = chain.turn_rocker(outboard)
            eyes = chain.eyes @ rows(1.0, cos, sin)
            return {
                "z": u.wheel_z,
                "cos": cos,
                "sin": sin,
                "rocker": cos.angle_of(sin) * chain.rocker_sense,
                "damper": eyes[..., 6, :].sqrt(),
                "rod_outboard": outboard,
                "rod_inboard": eyes[..., 0:3, :],
                "damper_eye": eyes[..., 3:6, :],
            }

    @cached_property
    def _points(self) -> dict[str, Jet]:
        """Taylor series of the moving points outboard of the rocker."""
        with np.errstate(all="ignore"):
            return self.mechanism.chain.points(self._upright)

    def _rod_to_arm(self) -> Jet:
        """The angle between rod and arm, deg, as a series like the others."""
        jets = self._jets
        with np.errstate(all="ignore"):
            p, q, _ = split(self.mechanism.chain.rocker @ (jets["rod_outboard"] - jets["rod_inboard"]))
            along, across = p * jets["cos"] + q * jets["sin"], p * jets["sin"] - q * jets["cos"]
            flat = sqrt(along * along + across * across)
            return (-along / flat).angle_of(across / flat) * (180 / np.pi)

    def _rate(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """First and second derivative by travel, series reversed."""
        if name not in self._rates:
            self._rates[name] = self._rate_of(name)
        return self._rates[name]

    @cached_property
    def _rates(self) -> dict[str, tuple[np.ndarray, np.ndarray]]:
        return {}

    def _rate_of(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        if name == "rod_to_arm":
            jet = self._rod_to_arm()
        else:
            jet = self._jets[name] if name in self._jets else self._points[name]
        f, z = jet.c, [c if jet.c[0].ndim == 2 else c[:, None] for c in self._jets["z"].c]
        first = f[1] / z[1]
        return first, 2 * (f[2] - first * z[2]) / z[1] ** 2

    @property
    def dtheta_dz(self) -> np.ndarray:
        """Rocker angle by travel, rad/mm."""
        return self._shaped(self._rate("rocker")[0])

    @property
    def d2theta_dz2(self) -> np.ndarray:
        """Second derivative of the rocker angle by travel, rad/mm²."""
        return self._shaped(self._rate("rocker")[1])

    @property
    def ddamper_dz(self) -> np.ndarray:
        """Damper length by travel, mm/mm (negative: it shortens in bump)."""
        return self._shaped(self._rate("damper")[0])

    @property
    def d2damper_dz2(self) -> np.ndarray:
        """Second derivative of the damper length by travel, 1/mm."""
        return self._shaped(self._rate("damper")[1])

    @property
    def rod_to_arm_deg_per_mm(self) -> np.ndarray:
        """Angle between rod and arm by travel, deg/mm."""
        return self._shaped(self._rate("rod_to_arm")[0])

    def velocity(self, name: str) -> np.ndarray:
        """A moving point's displacement per mm of travel, (..., 3); zero for points on the chassis."""
        moves = name in self._jets or name in self._points
        return self._shaped(self._rate(name)[0] if moves else 0 * self._point(name))

    # rigid motions

    def frame(self, body: str) -> np.ndarray:
        """Rigid motion from ride to the pose, (..., 4, 4), car coordinates, of a body named in BODIES.

        A rod, damper half or tie rod takes its ride line to the present one; its spin about that line keeps
        the reference direction (the rocker's axis for rod and damper, z for the tie rod; another car axis
        where those lie along it). A link's is `links.Link.frame`, by its number: "link 1".
        """
        if body.startswith(LINK):
            return self.mechanism.link(body).frame(self)
        out = np.zeros((*self.mechanism.batch, *self.shape, 4, 4))
        out[..., :3, :] = self.frames((body,))[..., 0, :, :]
        out[..., 3, 3] = 1.0
        return out

    def frames(self, bodies: Sequence[str]) -> np.ndarray:
        """The motions of several bodies, links apart, at once: (..., bodies, 3, 4), rotation and shift
        as in `frame`."""
        for body in bodies:
            if body not in BODIES:
                raise ValueError(f'poses: body is "{body}"; it must be one of {", ".join(BODIES)}')
        m = self.mechanism
        names = [m.anchor(body) for body in bodies]
        ride, now = np.stack([m.ride(n) for n in names], 1), np.stack([self._point(n) for n in names], 1)
        turns = self._turns(bodies)
        out = np.empty((*now.shape[:2], now.shape[3], 3, 4))
        out[..., :3] = turns
        out[..., 3] = now.swapaxes(2, 3) - (turns @ ride[:, :, None, :, None])[..., 0]
        return out.swapaxes(1, 2).reshape((*m.batch, *self.shape, len(bodies), 3, 4))

    def _turns(self, bodies: Sequence[str]) -> np.ndarray:
        """Rotations from ride to the pose, (V, bodies, n, 3, 3); the rack has none."""
        m, (count, _, n) = self.mechanism, self.state.shape
        out = np.empty((count, len(bodies), n, 3, 3))
        out[:] = np.eye(3)

        def of(some) -> list[int]:
            return [k for k, body in enumerate(bodies) if body in some]

        if which := of(ANGLES):
            cos, sin = np.moveaxis(np.stack([self._row(ANGLES[bodies[k]]) for k in which], 1), 2, 0)
            out[:, which] = about(np.stack([m.hinge(bodies[k]) for k in which], 1), cos, sin)
        if which := of(("upright", "wheel")):
            now = np.stack([np.swapaxes(self._row(name), 1, 2) for name in "kmn"], -1)
            out[:, which] = (now @ np.swapaxes(m.chain.frame, 1, 2)[:, None])[:, None]
        if which := of(MEMBERS):
            ends = [[self._point(MEMBERS[bodies[k]][end]) for k in which] for end in (0, 1)]
            line = np.stack(ends[1], 1) - np.stack(ends[0], 1)
            across, ride = (np.stack([f(bodies[k]) for k in which], 1) for f in (m.reference, m.ride_triad))
            out[:, which] = triad(line.swapaxes(2, 3), across[:, :, None]) @ ride[:, :, None].swapaxes(-1, -2)
        return out

    def _turned(self, body: str, direction: np.ndarray) -> np.ndarray:
        """A direction (V, 3) of the body at ride, turned with it: (V, 3, n)."""
        return np.swapaxes((self._turns((body,))[:, 0] @ direction[:, None, :, None])[..., 0], 1, 2)


HAT = np.array(
    [
        [[0, 0, 0], [0, 0, -1], [0, 1, 0]],
        [[0, 0, 1], [0, 0, 0], [-1, 0, 0]],
        [[0, -1, 0], [1, 0, 0], [0, 0, 0]],
    ]
)  # axis · HAT is the matrix of axis x


def split(x) -> tuple:
    """The three rows of (V, 3, n)."""
    return x[..., 0, :], x[..., 1, :], x[..., 2, :]


def unit(x: np.ndarray) -> np.ndarray:
    """Unit vectors along axis 1."""
    return x / np.sqrt((x * x).sum(1, keepdims=True))


def about(axis: np.ndarray, cos: np.ndarray, sin: np.ndarray) -> np.ndarray:
    """Rotations (..., n, 3, 3) about unit axes (..., 3) by cos and sin (..., n)."""
    along = (axis[..., :, None] * axis[..., None, :])[..., None, :, :]
    hat = (axis @ HAT.reshape(3, 9)).reshape(*axis.shape[:-1], 1, 3, 3)
    return cos[..., None, None] * (np.eye(3) - along) + sin[..., None, None] * hat + along
