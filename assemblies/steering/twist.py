"""The upright as a moving body: its velocity and acceleration by wheel travel and by rack, exact.

The upright is held by six constraints, each a plane that one of its points may not leave at the pose: both
ball joints on their arms' circles (two each), the tie rod's outer end at the rod's length, the wheel centre
at its height. Six linear equations give its velocity and angular velocity per mm of the one that moves; the
same matrix with the centripetal terms on the right gives the second derivatives. No differences anywhere.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.poses import Poses
from parts.base.frozen import dataclass
from parts.shape.form import cross

BY = ("travel", "rack")


@dataclass(frozen=True)
class Twist:
    """Derivatives of the upright's motion by one of wheel travel (rack held) or rack (wheel height held), at
    poses of shape S.

    `velocity` of the wheel centre (S + (3,)), mm/mm; `spin` the angular velocity, rad/mm; `bend` and
    `spin_change` their own derivatives, 1/mm and rad/mm²."""

    centre_mm: np.ndarray
    velocity: np.ndarray
    spin: np.ndarray
    bend: np.ndarray
    spin_change: np.ndarray

    @classmethod
    def of(cls, poses: Poses, by: str = "travel") -> Twist:
        """The twist at poses; NaN where the corner does not stand, or stands where the matrix is singular.
        Raises ValueError for a `by` that is not in BY."""
        if by not in BY:
            raise ValueError(f'twist: by is "{by}"; it must be one of {", ".join(BY)}')
        matrix, arms, radii, centre = _constraints(poses)
        right = np.zeros(matrix.shape[:-1])
        if by == "travel":
            right[..., 5] = 1.0
        else:
            right[..., 4] = matrix[..., 4, 1]  # the rod's line times the rack's +y
        first = _solved(matrix, right)
        velocity, spin = first[..., :3], first[..., 3:]

        inner = np.array([0.0, 1.0 if by == "rack" else 0.0, 0.0])
        bent = np.zeros_like(right)
        for row, (arm, radius) in enumerate(zip(arms, radii, strict=True)):
            about = cross(spin, arm)
            moved = velocity + about - inner if row == 4 else velocity + about
            turned = cross(spin, about)
            bent[..., row] = -(matrix[..., row, :3] * turned).sum(-1)
            if radius is not None:  # held at a length: the square of its speed bends the path inwards
                bent[..., row] -= (moved * moved).sum(-1) / radius
        second = _solved(matrix, bent)
        return cls(centre, velocity, spin, second[..., :3], second[..., 3:])

    def of_point(self, point_mm) -> np.ndarray:
        """Displacement per mm of a point that the upright carries, (S + (3,))."""
        return self.velocity + cross(self.spin, np.asarray(point_mm) - self.centre_mm)

    def of_direction(self, direction) -> tuple[np.ndarray, np.ndarray]:
        """First and second derivative of a direction that turns with the upright, 1/mm and 1/mm²."""
        first = cross(self.spin, direction)
        return first, cross(self.spin_change, direction) + cross(self.spin, first)


def angle_rates(x, y, dx, dy, ddx, ddy) -> tuple[np.ndarray, np.ndarray]:
    """First and second derivative of atan2(y, x), rad, from those of x and y.

    >>> [float(v) for v in angle_rates(1.0, 0.0, 0.0, 2.0, 0.0, 0.0)]
    [2.0, 0.0]
    """
    square = x * x + y * y
    first = (x * dy - y * dx) / square
    return first, (x * ddy - y * ddx) / square - 2 * first * (x * dx + y * dy) / square


def _constraints(poses: Poses):
    """Rows (normal, arm x normal) of the six constraints, the arm from the wheel centre of each row's point,
    the radius where the row holds a length (else None), and the wheel centre."""
    centre = poses.point("wheel_centre")
    normals, arms, radii = [], [], []
    for which in ("upper", "lower"):
        joint = poses.point(f"{which}_outer")
        front, rear = (poses.point(f"{which}_{end}") for end in ("front", "rear"))
        hinge = _unit(rear - front)
        off = joint - front
        out = off - (off * hinge).sum(-1, keepdims=True) * hinge
        normals += [hinge, _unit(out)]
        arms += [joint - centre] * 2
        radii += [None, np.linalg.norm(out, axis=-1)]
    rod = poses.point("tie_outer") - poses.point("tie_inner")
    normals += [_unit(rod), np.broadcast_to([0.0, 0.0, 1.0], centre.shape)]
    arms += [poses.point("tie_outer") - centre, np.zeros_like(centre)]
    radii += [np.linalg.norm(rod, axis=-1), None]
    rows = [np.concatenate([n, cross(a, n)], -1) for n, a in zip(normals, arms, strict=True)]
    return np.stack(rows, -2), arms, radii, centre


def _unit(x: np.ndarray) -> np.ndarray:
    return x / np.linalg.norm(x, axis=-1, keepdims=True)


def _solved(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Solutions of (S, 6, 6) x = (S, 6); NaN where the pose is, or where the matrix is singular."""
    flat, wanted = matrix.reshape(-1, 6, 6).copy(), right.reshape(-1, 6)
    flat[..., 3:] /= 100.0  # mm and rad of like size
    bad = ~np.isfinite(flat).all((-1, -2))
    flat[bad] = np.eye(6)
    with np.errstate(all="ignore"):
        bad |= np.abs(np.linalg.det(flat)) < 1e-12
    flat[bad] = np.eye(6)
    out = np.linalg.solve(flat, wanted[..., None])[..., 0]
    out[..., 3:] /= 100.0
    out[bad] = np.nan
    return out.reshape(right.shape)
