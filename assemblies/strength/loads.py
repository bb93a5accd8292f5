"""Forces in one corner: the full spatial equilibrium of upright, arms, rod and rocker, for many poses and
cases at once.

The upright is held by the upper and lower joint (three force components each), the tie rod and, where it
carries it, the rod; each arm turns freely about its hinge. Eight unknowns, eight equations: six of the
upright, one hinge moment per arm. An arm that carries the rod is not a two-force member: nothing is assumed
about its joint's direction. Weights and inertia of the parts are left out; joints have no friction.
Quasi-static: brakes locked to the upright unless the case says not.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.mechanism import Poses
from assemblies.strength.load_cases import LoadCase
from parts.base.frozen import dataclass
from parts.shape.form import cross


@dataclass(frozen=True)
class ArmForces:
    """Forces on an arm, N: (..., cases, 3).

    How the force along the hinge is shared, statics cannot tell: each pivot takes what its own tube brings as
    a straight strut, and what is left half and half. An arm without a rod on it is then a plain truss."""

    outer_n: np.ndarray  # from the upright
    front_n: np.ndarray  # from the chassis at the front pivot
    rear_n: np.ndarray

    def times(self, factor: float) -> ArmForces:
        return ArmForces(self.outer_n * factor, self.front_n * factor, self.rear_n * factor)


@dataclass(frozen=True)
class Loads:
    """Forces of every case at every pose; shapes poses + (cases,), vectors + (3,). Rods: tension positive."""

    poses: Poses
    cases: tuple[LoadCase, ...]
    upper_joint_n: np.ndarray  # on the upright
    lower_joint_n: np.ndarray  # on the upright
    tie_rod_n: np.ndarray
    rod_n: np.ndarray
    residual: np.ndarray  # largest unbalanced part of any equation over the load applied: should be rounding

    @property
    def rocker_torque_nm(self) -> np.ndarray:
        """Torque of the rod on the rocker about its axis as given; the spring (and damper) take its
        opposite."""
        return self.rod_n * self.poses.rod_moment_arm_mm[..., None] / 1e3

    def arm(self, which: str) -> ArmForces:
        """Forces on "upper_arm" or "lower_arm"."""
        side = which.removesuffix("_arm")
        front, rear, outer = (
            self.poses.point(f"{side}_{n}")[..., None, :] for n in ("front", "rear", "outer")
        )
        at_outer = -(self.upper_joint_n if side == "upper" else self.lower_joint_n)
        total, moment = at_outer, cross(outer - front, at_outer)
        if self.poses.mechanism.points.rod_on == which:
            rod = self._rod_vector()
            total, moment = (
                total - rod,
                moment - cross(self.poses.point("rod_outboard")[..., None, :] - front, rod),
            )
        hinge = rear - front
        length2 = (hinge**2).sum(-1, keepdims=True)
        along = hinge * ((total * hinge).sum(-1, keepdims=True) / length2)
        rear_across = cross(hinge, moment) / length2
        front_across = -(total - along) - rear_across
        front_along, rear_along = (
            _strut_share(f, outer - p, hinge) for f, p in ((front_across, front), (rear_across, rear))
        )
        left = (-along - front_along - rear_along) / 2
        return ArmForces(at_outer, front_across + front_along + left, rear_across + rear_along + left)

    def _rod_vector(self) -> np.ndarray:
        """Force of the rod on the rocker (its opposite acts outboard)."""
        line = self.poses.point("rod_outboard") - self.poses.point("rod_inboard")
        return self.rod_n[..., None] * (line / np.linalg.norm(line, axis=-1, keepdims=True))[..., None, :]


def loads(poses: Poses, cases) -> Loads:
    """Solve every case at every pose. NaN where the corner does not stand; raises ValueError for no case at
    all."""
    cases = tuple(cases)
    if not cases:
        raise ValueError("loads: no load case given; give at least one LoadCase")
    p = {
        n: poses.point(n)
        for n in (
            "upper_outer",
            "lower_outer",
            "tie_outer",
            "tie_inner",
            "rod_outboard",
            "rod_inboard",
            "upper_front",
            "upper_rear",
            "lower_front",
            "lower_rear",
        )
    }
    shape = p["lower_outer"].shape[:-1]
    on = poses.mechanism.points.rod_on
    reach = np.linalg.norm(p["upper_outer"] - p["lower_outer"], axis=-1)[
        ..., None
    ]  # turns moments into forces, mm
    tie = _unit(p["tie_inner"] - p["tie_outer"])
    rod = _unit(p["rod_inboard"] - p["rod_outboard"])

    a = np.zeros((*shape, 8, 8))  # unknowns: force on the upright at upper, lower joint; tie rod, rod tension
    eye = np.eye(3)
    a[..., 0:3, 0:3] = a[..., 0:3, 3:6] = eye
    a[..., 0:3, 6] = tie
    arm_of_upper = (p["upper_outer"] - p["lower_outer"]) / reach
    a[..., 3:6, 0:3] = cross(arm_of_upper[..., None, :], eye).swapaxes(-1, -2)
    a[..., 3:6, 6] = cross((p["tie_outer"] - p["lower_outer"]) / reach, tie)
    if on == "upright":
        a[..., 0:3, 7] = rod
        a[..., 3:6, 7] = cross((p["rod_outboard"] - p["lower_outer"]) / reach, rod)
    for row, which, first in ((6, "upper", 0), (7, "lower", 3)):
        hinge = _unit(p[f"{which}_rear"] - p[f"{which}_front"])
        a[..., row, first : first + 3] = -cross(hinge, (p[f"{which}_outer"] - p[f"{which}_front"]) / reach)
        if on == f"{which}_arm":
            a[..., row, 7] = (hinge * cross((p["rod_outboard"] - p[f"{which}_front"]) / reach, rod)).sum(-1)

    b = np.zeros((*shape, 8, len(cases)))
    for k, case in enumerate(cases):
        force, moment = np.asarray(case.force_n, float), 1e3 * np.asarray(case.moment_nm, float)
        b[..., 0:3, k] = -force
        b[..., 3:6, k] = -cross((poses.point(case.at) - p["lower_outer"]) / reach, force) - moment / reach
    lost = ~poses.valid
    a[lost], b[lost] = np.eye(8), np.nan
    x = np.linalg.solve(a, b)
    size = np.maximum(abs(b).max(-2), abs(a[..., None] * x[..., None, :, :]).max((-2, -3)))
    residual = abs(a @ x - b).max(-2) / np.where(size > 0, size, 1.0)
    x = np.swapaxes(x, -1, -2)
    return Loads(poses, cases, x[..., 0:3], x[..., 3:6], x[..., 6], x[..., 7], residual)


def _strut_share(across_n: np.ndarray, tube: np.ndarray, hinge: np.ndarray) -> np.ndarray:
    """Force along the hinge that goes with a pivot's force square to it where the tube works as a straight
    strut."""
    h = _unit(hinge)
    along = (tube * h).sum(-1, keepdims=True)
    square = tube - along * h
    return h * along * (across_n * square).sum(-1, keepdims=True) / (square**2).sum(-1, keepdims=True)


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)
