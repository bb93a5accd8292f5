"""Every force in the corner for every load case at every pose it applies to, as flat lists: one entry a case
and pose.

The load case gives the forces of the wheel's side. On the rocker's side a rotary spring has the torque of its
twist at that pose, and what the rod brings beyond it the damper takes along its line (damping, bump rubber or
stop); a coil-over takes it all. Weights and inertia of the parts are left out; joints have no friction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing, travel_steps
from assemblies.strength.load_cases import LoadCase
from assemblies.strength.loads import ArmForces, Loads, loads
from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.files.remembered import content
from parts.rocker import LocalEyes

FORCES = (
    "upper_joint_n",
    "lower_joint_n",
    "tie_rod_n",
    "rod_n",
    "damper_n",
    "spring_nm",
    "rod_on_rocker_n",
    "damper_on_rocker_n",
    "pivot_n",
)
STEP_MM = 2.0  # of wheel height between the poses looked at; forces are smooth in it


@dataclass(frozen=True)
class Forces:
    """Entries k of one case at one pose; vectors (k, 3) in car axes unless named otherwise; N, N·m, mm."""

    cases: tuple[LoadCase, ...]
    case: np.ndarray  # index into cases
    wheel_mm: np.ndarray
    rack_mm: np.ndarray
    usual: np.ndarray  # False for rare cases
    upper_joint_n: np.ndarray  # on the upright
    lower_joint_n: np.ndarray
    tie_rod_n: np.ndarray  # tension positive, so the rod and the damper
    rod_n: np.ndarray
    damper_n: np.ndarray
    spring_nm: np.ndarray  # of a rotary spring on the rocker, about the axis as given
    upper_arm: ArmForces
    lower_arm: ArmForces
    rod_on_rocker_n: np.ndarray
    damper_on_rocker_n: np.ndarray
    pivot_n: np.ndarray  # reaction on the rocker
    points: dict[str, np.ndarray]
    turns: dict[str, np.ndarray]  # rotation of a body from ride to the pose, (k, 3, 3)
    residual: float  # largest unbalanced part of any equation over the load
    virtual_work: float  # largest difference of the load's work and the rod's on the rocker, over the work
    safety: float = 1.0  # that all forces above carry
    welds_only: bool = False  # of the checks made of these only welds' are asked

    def times(self, safety: float) -> Forces:
        """Every force with a safety factor: the one place where it comes in. What a check makes of these
        forces carries it; a check of service asks `service`."""
        return replace(
            self,
            **{n: getattr(self, n) * safety for n in FORCES},
            upper_arm=self.upper_arm.times(safety),
            lower_arm=self.lower_arm.times(safety),
            safety=self.safety * safety,
        )

    @cached_property
    def content(self) -> str:
        """A digest of all of it."""
        return content(self)

    def service(self, force: np.ndarray) -> np.ndarray:
        """A force of these without the safety factor."""
        return force / self.safety

    def name(self, k: int) -> str:
        return self.cases[int(self.case[k])].name

    def arm(self, which: str) -> ArmForces:
        return self.upper_arm if which == "upper_arm" else self.lower_arm

    def in_body(self, vectors: np.ndarray, body: str, axes: np.ndarray | None = None) -> np.ndarray:
        """Car vectors in the axes of a body: those of the car at ride turned with it, or `axes` (3, 3;
        columns) at ride so turned."""
        local = np.einsum("kji,kj->ki", self.turns[body], vectors)
        return local if axes is None else local @ axes

    def entries_of(self, case: int) -> np.ndarray:
        return np.nonzero(self.case == case)[0]


def corner_forces(
    job,
    mechanism: Mechanism,
    sprung: Springing,
    cases: Sequence[LoadCase],
    spring_takes_all: bool = False,
    welds_only: bool = False,
) -> Forces:
    """Forces of all cases over the travel that the linkage can reach. `spring_takes_all`: the damper carries
    nothing that a rotary spring could (slow movement)."""
    cases = tuple(cases)
    low, high = (
        max(-job.corner.droop, sprung.ends.closes_mm[0] + 1e-6),
        min(job.corner.bump, sprung.ends.closes_mm[1] - 1e-6),
    )
    spans = [c.travel_mm or (low, high) for c in cases]
    ends = [min(max(z, low), high) for span in spans for z in span]
    straight = distinct([*travel_steps(-low, high, STEP_MM), *ends])
    wheel, rack, applies = straight, np.zeros(len(straight)), []
    if any(c.full_lock for c in cases):
        reach = job.tie_rod.rack_travel
        lock = distinct(
            [
                z
                for c, span in zip(cases, spans, strict=True)
                if c.full_lock
                for z in straight
                if _within(z, span)
            ]
        )
        wheel = np.concatenate([straight, lock, lock])
        rack = np.concatenate([rack, np.full(len(lock), reach), np.full(len(lock), -reach)])
    for c, span in zip(cases, spans, strict=True):
        inside = _within(wheel, (min(max(span[0], low), high), min(max(span[1], low), high)))
        applies.append(inside & ((rack != 0) if c.full_lock and job.tie_rod.rack_travel else (rack == 0)))
    poses = mechanism.at(wheel, rack)
    solved = loads(poses, cases)
    pose, case = np.nonzero(np.transpose(applies) & poses.valid[:, None])
    found = _flat(
        sprung,
        poses,
        solved,
        (wheel, rack),
        pose,
        case,
        spring_takes_all,
        _virtual_work(poses, solved, cases, np.transpose(applies)),
    )
    return replace(found, welds_only=True) if welds_only else found


def _within(z, span) -> np.ndarray:
    return (np.asarray(z) >= span[0] - 1e-9) & (np.asarray(z) <= span[1] + 1e-9)


def _flat(sprung, poses, solved: Loads, at, pose, case, spring_takes_all: bool, work: float) -> Forces:
    names = (
        "upper_outer",
        "lower_outer",
        "tie_outer",
        "tie_inner",
        "rod_outboard",
        "rod_inboard",
        "damper_eye",
        "damper_chassis",
        "pivot",
        "upper_front",
        "upper_rear",
        "lower_front",
        "lower_rear",
        "wheel_centre",
    )
    points = {n: poses.point(n)[pose] for n in names}
    rod = solved.rod_n[pose, case]
    rod_arm, damper_arm = poses.rod_moment_arm_mm[pose], poses.damper_moment_arm_mm[pose]
    torque = np.zeros(len(pose))
    if not sprung.spring.linear:
        if spring_takes_all:
            torque = -rod * rod_arm / 1e3
        else:
            torque = -sprung.preload.sense * sprung.preload.curves(poses).torque_nm[pose]
    damper = -(rod * rod_arm + 1e3 * torque) / damper_arm
    rod_vector = rod[:, None] * _unit(points["rod_outboard"] - points["rod_inboard"])
    damper_vector = damper[:, None] * _unit(points["damper_chassis"] - points["damper_eye"])
    arms = {}
    for which in ("upper_arm", "lower_arm"):
        a = solved.arm(which)
        arms[which] = ArmForces(a.outer_n[pose, case], a.front_n[pose, case], a.rear_n[pose, case])
    turns = {
        b: poses.frame(b)[pose, :3, :3]
        for b in ("rocker", "upper_arm", "lower_arm", "upright", "rod", "damper_body")
    }
    usual = ~np.array([c.rare for c in solved.cases])[case]
    return Forces(
        solved.cases,
        case,
        at[0][pose],
        at[1][pose],
        usual,
        solved.upper_joint_n[pose, case],
        solved.lower_joint_n[pose, case],
        solved.tie_rod_n[pose, case],
        rod,
        damper,
        torque,
        arms["upper_arm"],
        arms["lower_arm"],
        rod_vector,
        damper_vector,
        -(rod_vector + damper_vector),
        points,
        turns,
        float(np.max(solved.residual[pose, case], initial=0.0)),
        work,
    )


def _virtual_work(poses, solved: Loads, cases, applies) -> float:
    """Over a small travel the load's work is the rod's on the rocker; cases with a moment are left out (no
    angle of the wheel here)."""
    worst = 0.0
    rate = poses.dtheta_dz * 1e3
    for k, c in enumerate(cases):
        if any(c.moment_nm):
            continue
        speed = poses.velocity(c.at)
        done, taken = speed @ np.array(c.force_n, float), solved.rocker_torque_nm[:, k] * rate
        size = np.abs(speed) @ np.abs(np.array(c.force_n, float))
        use = applies[:, k] & poses.valid & (size > 0)  # a wheel that has lifted bears nothing
        worst = max(worst, float(np.max(np.abs(done - taken)[use] / size[use], initial=0.0)))
    return worst


@dataclass(frozen=True)
class RockerForces:
    """The same entries in the rocker's axes: origin on the pivot's axis in the mid plane, z along the axis, x
    to the rod eye."""

    rod_n: np.ndarray
    damper_n: np.ndarray
    pivot_n: np.ndarray
    pivot_moment_nmm: np.ndarray  # about the origin, square to the axis
    spring_nm: np.ndarray
    rod_eye: np.ndarray
    damper_eye: np.ndarray


def rocker_forces(f: Forces, eyes: LocalEyes) -> RockerForces:
    axes = eyes.frame.matrix()[:3, :3]
    rod, damper = (
        f.in_body(f.rod_on_rocker_n, "rocker", axes),
        f.in_body(f.damper_on_rocker_n, "rocker", axes),
    )
    rod_eye, damper_eye = (
        np.array([*eyes.rod_eye, eyes.rod_offset_mm]),
        np.array([*eyes.damper_eye, eyes.damper_offset_mm]),
    )
    moment = -np.cross(rod_eye, rod) - np.cross(damper_eye, damper)
    moment[:, 2] = 0.0
    return RockerForces(rod, damper, -(rod + damper), moment, f.spring_nm, rod_eye, damper_eye)


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)
