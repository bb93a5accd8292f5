"""An independent solution of the corner: poses of rigid bodies (scipy rotations) under constraints, by
scipy's root finder."""

from __future__ import annotations

import numpy as np
from scipy.optimize import root
from scipy.spatial.transform import Rotation

UPPER, LOWER, ROCKER = 6, 7, 8
SCALE = np.array([1.0] * 3 + [1e-2] * 6)  # mm and rad of the unknowns


class RigidBodies:
    """Nine unknowns: the upright's translation and rotation vector, the turns of both arms and of the
    rocker."""

    def __init__(self, points):
        self.p = p = points
        self.tie = np.linalg.norm(p.tie_outer - p.tie_inner)
        self.rod = np.linalg.norm(p.rod_outboard - p.rod_inboard)
        self.base = {"upright": p.wheel_centre, "upper_arm": p.upper_front, "lower_arm": p.lower_front}
        self.base["rocker"] = p.pivot
        axes = (p.upper_rear - p.upper_front, p.lower_rear - p.lower_front, p.axis)
        self.axes = np.array([a / np.linalg.norm(a) for a in axes])

    def turned(self, q) -> dict:
        """Rotation matrices of the four bodies by scipy's rotation vectors."""
        made = Rotation.from_rotvec(np.vstack([q[3:6], self.axes * q[[UPPER, LOWER, ROCKER], None]]))
        return dict(zip(self.base, made.as_matrix(), strict=True))

    def carried(self, q, body: str, x, turned=None):
        at = self.base[body] + (self.turned(q) if turned is None else turned)[body] @ (x - self.base[body])
        return at + q[0:3] if body == "upright" else at

    def open(self, q, wheel_mm, rack_mm):
        """How far each constraint is from closing, mm."""
        p, turned = self.p, self.turned(q)

        def at(body: str, x):
            return self.carried(q, body, x, turned)

        inner = p.tie_inner + np.array([0, rack_mm, 0])
        return np.concatenate(
            [
                at("upright", p.upper_outer) - at("upper_arm", p.upper_outer),
                at("upright", p.lower_outer) - at("lower_arm", p.lower_outer),
                [
                    np.linalg.norm(at("upright", p.tie_outer) - inner) - self.tie,
                    q[2] - wheel_mm,
                    np.linalg.norm(at(p.rod_on, p.rod_outboard) - at("rocker", p.rod_inboard)) - self.rod,
                ],
            ]
        )

    def near(self, q, wheel_mm, rack_mm):
        """From a near pose q to the pose at this travel by scipy's root finder; unknowns scaled to like
        sizes."""
        return root(lambda s: self.open(s * SCALE, wheel_mm, rack_mm), q / SCALE, tol=1e-12).x * SCALE

    def pose(self, q, wheel_mm, rack_mm=0.0):
        """The pose closed to rounding, by Newton steps on central differences, and how ill-conditioned it
        is."""
        q, jac = self.near(q, wheel_mm, rack_mm), np.empty((9, 9))
        for _ in range(2):
            for i, h in enumerate(np.diag(1e-3 * SCALE)):
                jac[:, i] = (self.open(q + h, wheel_mm, rack_mm) - self.open(q - h, wheel_mm, rack_mm)) / (
                    2 * h[i]
                )
            q = q - np.linalg.solve(jac, self.open(q, wheel_mm, rack_mm))
        assert abs(self.open(q, wheel_mm, rack_mm)).max() < 1e-10
        return q, np.linalg.cond(jac * SCALE)

    def march(self, travels, rack_mm=0.0, step_mm=9.0):
        """Poses at travels that lead away from ride, by small steps: the branch is kept by continuation."""
        q, at, out = np.zeros(9), 0.0, []
        for part in np.linspace(0, rack_mm, 1 + int(abs(rack_mm) / 2))[1:]:
            q = self.near(q, 0.0, part)
        for z in travels:
            for part in np.linspace(at, z, 2 + int(abs(z - at) / step_mm))[1:]:
                q = self.near(q, part, rack_mm)
            q, cond = self.pose(q, z, rack_mm)
            at = z
            out.append((z, q, cond))
        return out
