"""How the smallest gap depends on each dimension: first order, at the pose where it was found.

A body follows its own joints: a point of a rod, arm, rocker or upright moves as its two or three joints do
(an affine map that leaves a body's offset from them as it is). The gap changes by what the two nearest points
move along the line between them. Members and brackets stay where the job has them.
"""

from __future__ import annotations

import numpy as np

from assemblies.layout.bodies import bodies
from assemblies.motion.links import LINK
from assemblies.motion.mechanism import Mechanism
from assemblies.tolerances.bands import Dimension, built_points, stack
from assemblies.tolerances.variations import rocker_turned, turned
from parts.base.frozen import dataclass

JOINTS = {
    "rod": ("rod_outboard", "rod_inboard"),
    "tie_rod": ("tie_inner", "tie_outer"),
    "damper_body": ("damper_chassis", "damper_eye"),
    "damper_shaft": ("damper_chassis", "damper_eye"),
    "upper_arm": ("upper_front", "upper_rear", "upper_outer"),
    "lower_arm": ("lower_front", "lower_rear", "lower_outer"),
    "rocker": ("pivot", "rod_inboard", "damper_eye"),
    "spring": ("pivot", "rod_inboard", "damper_eye"),
    "upright": ("lower_outer", "upper_outer", "tie_outer"),
    "rack": ("tie_inner",),
}


LEAST_SHARE = 0.005  # of the variance: what moves the gap by less does not decide it, and is not named


@dataclass(frozen=True)
class GapBand:
    a: str
    b: str
    gap_mm: float
    required_mm: float
    at_wheel_mm: float
    sigma_mm: float  # linear
    top: tuple[tuple[str, float, float], ...]  # dimension, mm of gap per 1 mm (deg), share of the variance


def gap_band(done, dims: list[Dimension], top: int = 5) -> GapBand | None:
    """Of the pair with the least room over what it needs; None where interference was not checked or that
    pair overlaps."""
    pairs = [p for p in done.results.clearance.pairs if p.point_a and p.point_b]
    if not pairs:
        return None
    pair = min(pairs, key=lambda p: p.gap_mm - p.required_mm)
    slopes = gap_slopes(done, pair, dims)
    if slopes is None:
        return None
    sigma, share = stack(slopes, [d.sigma for d in dims])
    order = np.argsort(-share, kind="stable")[:top]
    return GapBand(
        pair.a,
        pair.b,
        pair.gap_mm,
        pair.required_mm,
        pair.at_wheel_mm,
        sigma,
        tuple((dims[i].name, float(slopes[i]), float(share[i])) for i in order if share[i] >= LEAST_SHARE),
    )


def gap_slopes(done, pair, dims: list[Dimension]) -> np.ndarray | None:
    """Change of a pair's gap per unit of each dimension, by central differences over one standard
    deviation."""
    a, b = np.array(pair.point_a), np.array(pair.point_b)
    line = b - a
    if np.linalg.norm(line) < 1e-3 or pair.gap_mm <= 0:
        return None
    carriers = {x.name: x.carrier for x in bodies(done.layout)}
    steps = np.array([d.sigma for d in dims])
    trials = np.concatenate([np.zeros((1, len(dims))), np.diag(steps), -np.diag(steps)])
    nominal = done.mechanism.points
    points = built_points(done.springing, dims, trials)
    rod = np.linalg.norm(nominal.rod_outboard - nominal.rod_inboard)
    longer = next((trials[:, i] for i, d in enumerate(dims) if d.name == "rod length"), 0.0)
    poses = Mechanism(turned(points, rocker_turned(points, rod + longer))).at(
        pair.at_wheel_mm, pair.at_rack_mm
    )
    moved = [_moved(poses, carriers.get(name, "frame"), p) for name, p in ((pair.a, a), (pair.b, b))]
    change = (moved[1] - moved[0]) @ (line / np.linalg.norm(line))
    n = len(dims)
    return (change[1 : n + 1] - change[n + 1 :]) / (2 * steps)


def _moved(poses, carrier: str, p: np.ndarray) -> np.ndarray:
    """How far a material point of a body, at `p` in the first variation, stands from there in each (V, 3)."""
    if carrier.startswith(LINK):  # the line between two carried points
        link = poses.mechanism.link(carrier)
        ends = link.ends(poses)
        first, line = ends[0][0], ends[1][0] - ends[0][0]
        share = float(np.clip((p - first) @ line / (line @ line), 0.0, 1.0))
        at = (1 - share) * ends[0] + share * ends[1]
        return at - at[0]
    if carrier not in JOINTS:
        return np.zeros((poses.mechanism.batch[0], 3))
    joints = np.stack([poses.point(n) for n in JOINTS[carrier]], 1)  # (V, k, 3)
    first = joints[0]
    base, edges = first[0], first[1:] - first[0]
    share = np.linalg.lstsq(edges.T, p - base, rcond=None)[0]
    weights = np.concatenate([[1 - share.sum()], share])
    return np.einsum("k,vkx->vx", weights, joints - first)
