"""Speed of the motion against a general root finder on the same constraints, side by side in one run."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from assemblies.bench.runner import Ratio
from assemblies.motion.mechanism import HardPoints, Mechanism

_POINTS: dict[str, Any] = dict(  # invented: pull rod on the upper arm, oblique rocker axis
    upper_front=(112, 246, 341),
    upper_rear=(-148, 254, 319),
    upper_outer=(-14, 509, 351),
    lower_front=(154, 161, 133),
    lower_rear=(-166, 177, 123),
    lower_outer=(8, 556, 121),
    tie_inner=(69, 177, 157),
    tie_outer=(75, 542, 151),
    wheel_centre=(0, 619, 240),
    contact=(0, 625, -35),
    rod_outboard=(-5, 479, 331),
    rod_inboard=(-8, 206, 101),
    pivot=(-8, 164, 151),
    axis=(1, 0.08, -0.05),
    damper_eye=(-6, 194, 211),
    damper_chassis=(-10, 21, 331),
)
CORNER = HardPoints(**_POINTS)
SWEEP_MM = np.linspace(-45, 55, 41)


def closed_form(mechanism: Mechanism, z, times: int = 1) -> None:
    """Pose and read what the root finder also finds, and more: rocker, damper, camber and toe."""
    for _ in range(times):
        poses = mechanism.at(z)
        _ = poses.rocker_rad, poses.damper_mm, poses.camber_deg, poses.toe_deg


def rotation(v):
    """Rotation matrix of a rotation vector (Rodrigues)."""
    angle = np.sqrt(v @ v)
    if angle < 1e-14:
        return np.eye(3)
    x, y, z = v / angle
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k)


def body_poses(p: HardPoints, z) -> None:
    """The sweep by scipy's root finder: the upright's six coordinates, the angles of arms and rocker, nine
    constraints."""
    from scipy.optimize import root

    upper, lower, axis = (
        v / np.linalg.norm(v) for v in (p.upper_rear - p.upper_front, p.lower_rear - p.lower_front, p.axis)
    )
    tie, rod = np.linalg.norm(p.tie_outer - p.tie_inner), np.linalg.norm(p.rod_outboard - p.rod_inboard)
    on_upright = np.stack([p.upper_outer, p.lower_outer, p.tie_outer]) - p.wheel_centre
    on_upper = np.stack([p.upper_outer, p.rod_outboard]) - p.upper_front

    def open_(q, travel):
        upright = p.wheel_centre + q[0:3] + on_upright @ rotation(q[3:6]).T
        arm = p.upper_front + on_upper @ rotation(upper * q[6]).T
        low = p.lower_front + rotation(lower * q[7]) @ (p.lower_outer - p.lower_front)
        eye = p.pivot + rotation(axis * q[8]) @ (p.rod_inboard - p.pivot)
        out = np.empty(9)
        out[0:3], out[3:6] = upright[0] - arm[0], upright[1] - low
        line, reach = upright[2] - p.tie_inner, arm[1] - eye
        out[6], out[7], out[8] = np.sqrt(line @ line) - tie, q[2] - travel, np.sqrt(reach @ reach) - rod
        return out

    for side in (z[z >= 0], z[z < 0][::-1]):
        q = np.zeros(9)
        for travel in side:
            q = root(open_, q, args=(travel,), tol=1e-12).x


def joint_places(p: HardPoints, z) -> None:
    """The sweep by scipy's root finder on the cheapest general statement: places of joints, distances kept;
    no rotations."""
    from scipy.optimize import root

    moving = np.stack(
        [p.lower_outer, p.upper_outer, p.tie_outer, p.rod_inboard, p.rod_outboard, p.wheel_centre]
    )
    fixed = np.stack(
        [
            p.lower_front,
            p.lower_rear,
            p.upper_front,
            p.upper_rear,
            p.tie_inner,
            p.pivot,
            p.pivot + 100 * p.axis,
        ]
    )
    a = np.array([0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5])
    b = np.array([6, 7, 8, 9, 0, 0, 1, 10, 11, 12, 4, 8, 9, 1, 0, 1, 2])
    places = np.concatenate([moving, fixed])
    kept = ((places[a] - places[b]) ** 2).sum(1)
    size, height = np.sqrt(kept), p.wheel_centre[2]

    def open_(q, travel):
        places[:6] = q.reshape(6, 3)
        d = places[a] - places[b]
        return np.append(((d * d).sum(1) - kept) / size, places[5, 2] - height - travel)

    for side in (z[z >= 0], z[z < 0][::-1]):
        q = moving.ravel()
        for travel in side:
            q = root(open_, q, args=(travel,), tol=1e-12).x


def bench() -> list[Ratio]:
    """Medians over rounds in which every contender runs once; per pose."""
    rng = np.random.default_rng(0)
    many = CORNER.moved(**{n: rng.uniform(-1, 1, (10_000, 3)) for n in CORNER.names if n != "axis"})
    one, dense = Mechanism(CORNER), np.linspace(-45, 55, 200_000)
    work: dict[str, tuple[Callable[[], None], int]] = {
        "bodies": (lambda: body_poses(CORNER, SWEEP_MM), 41),
        "places": (lambda: joint_places(CORNER, SWEEP_MM), 41),
        "sweep": (lambda: closed_form(one, SWEEP_MM, 100), 4100),
        "batch": (lambda: closed_form(one, dense), len(dense)),
        "variations": (lambda: closed_form(Mechanism(many), SWEEP_MM), 410_000),
    }
    times: dict[str, list[float]] = {name: [] for name in work}
    for _ in range(6):
        for name, (run, poses) in work.items():
            start = time.perf_counter()
            run()
            times[name].append((time.perf_counter() - start) / poses)
    per = {name: statistics.median(t[1:]) for name, t in times.items()}
    return [
        Ratio("poses per second, batch / scipy root on body poses", per["bodies"] / per["batch"], 1000),
        Ratio(
            "poses per second, one 41-pose sweep / scipy root on body poses",
            per["bodies"] / per["sweep"],
            150,
        ),
        Ratio(
            "cost per pose, 10 000 variations x 41 poses (their constants included) / single sweep",
            per["variations"] / per["sweep"],
            0.15,
            at_least=False,
        ),
        Ratio(
            "for knowledge, no target: one 41-pose sweep / scipy root on joint places, the cheapest "
            "statement found",
            per["places"] / per["sweep"],
            0,
        ),
    ]
