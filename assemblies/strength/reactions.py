"""What the frame and the joints must bear: force vector, moment and point for each, the worst of every load
case."""

from __future__ import annotations

import numpy as np

from assemblies.layout.placing import Layout
from assemblies.strength.forces import Forces
from parts.base.frozen import dataclass
from parts.shape.form import vector


@dataclass(frozen=True)
class Reaction:
    """`force_n`, `moment_nm` in car axes act at `point_mm` on what `on` names; `own_n` the same force in the
    part's own axes."""

    name: str
    on: str
    case: str
    wheel_mm: float
    rack_mm: float
    point_mm: tuple[float, float, float]
    force_n: tuple[float, float, float]
    moment_nm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    own_n: tuple[float, float, float] | None = None


def _worst(
    f: Forces,
    name: str,
    on: str,
    point: np.ndarray,
    force: np.ndarray,
    moment: np.ndarray | None = None,
    own: np.ndarray | None = None,
) -> list[Reaction]:
    moment = np.zeros_like(force) if moment is None else moment
    size = np.linalg.norm(force, axis=1) + np.linalg.norm(moment, axis=1)
    rows = []
    for i in range(len(f.cases)):
        here = f.entries_of(i)
        if len(here):
            k = int(here[np.argmax(size[here])])
            rows.append(
                Reaction(
                    name,
                    on,
                    f.name(k),
                    float(f.wheel_mm[k]),
                    float(f.rack_mm[k]),
                    vector(point[k] + 0.0),
                    vector(force[k] + 0.0),
                    vector(moment[k] + 0.0),
                    None if own is None else vector(own[k] + 0.0),
                )
            )
    return rows


def reactions(job, layout: Layout, f: Forces) -> list[Reaction]:
    """Forces of the corner on the frame, bracket by bracket.

    The rocker's pivot takes a moment square to its axis besides; the far end of a rotary spring its torque
    about the axis. How the force along an arm's hinge is shared by its two brackets is an assumption (see
    `assemblies.strength.loads.ArmForces`)."""
    seats = {s.bracket: s.member for s in layout.seats}
    rows: list[Reaction] = []
    for which in ("upper_arm", "lower_arm"):
        side = which.removesuffix("_arm")
        for end in ("front", "rear"):
            name = f"{side} arm {end} bracket"
            rows += _worst(
                f,
                name,
                seats.get(name, "frame"),
                f.points[f"{side}_{end}"],
                -getattr(f.arm(which), f"{end}_n"),
            )
    tie = f.points["tie_outer"] - f.points["tie_inner"]
    rows += _worst(
        f,
        "tie rod, inner end",
        job.tie_rod.member or "frame or rack",
        f.points["tie_inner"],
        f.tie_rod_n[:, None] * tie / np.linalg.norm(tie, axis=1, keepdims=True),
    )
    rows += _worst(
        f,
        "damper bracket",
        seats.get("damper bracket", "frame"),
        f.points["damper_chassis"],
        -f.damper_on_rocker_n,
    )
    axis = np.asarray(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    pivot = f.points["pivot"]
    about = np.cross(f.points["rod_inboard"] - pivot, f.rod_on_rocker_n) + np.cross(
        f.points["damper_eye"] - pivot, f.damper_on_rocker_n
    )
    along = (about @ axis)[:, None] * axis
    on = layout.pivot.member if layout.pivot else "frame"
    rows += _worst(f, "rocker pivot", on, pivot, -f.pivot_n, (about - along) / 1e3)
    if np.any(f.spring_nm):
        far = pivot + np.asarray(job.spring_direction) * getattr(job.spring, "length", 0.0)
        if layout.anchor_plates is not None:
            far = np.broadcast_to(layout.anchor_plates[1].frame.origin, pivot.shape)
        on = on if job.pivot.kind == "stub" else "frame"
        rows += _worst(f, "spring anchor", on, far, np.zeros_like(pivot), -f.spring_nm[:, None] * axis)
    return rows


def joints(layout: Layout, f: Forces) -> list[Reaction]:
    """Forces in the moving joints, in car axes and in each part's own axes (those it is drawn in)."""
    rows: list[Reaction] = []
    for which, force in (("upper_arm", f.upper_joint_n), ("lower_arm", f.lower_joint_n)):
        side = which.removesuffix("_arm")
        placed = layout.arms.get(which)
        own = f.in_body(-force, which, placed.frame.matrix()[:3, :3]) if placed else None
        rows += _worst(f, f"{side} outer joint", f"{side} arm", f.points[f"{side}_outer"], -force, own=own)
    rod = f.points["rod_inboard"] - f.points["rod_outboard"]
    line = rod / np.linalg.norm(rod, axis=1, keepdims=True)
    zero = np.zeros_like(f.rod_n)
    rows += _worst(
        f,
        "rod, outboard end",
        "rod",
        f.points["rod_outboard"],
        -f.rod_n[:, None] * line,
        own=np.stack([zero, zero, -f.rod_n], 1),
    )
    if layout.eyes is not None:
        axes = layout.eyes.frame.matrix()[:3, :3]
        for name, force, at in (
            ("rod eye", f.rod_on_rocker_n, "rod_inboard"),
            ("damper eye", f.damper_on_rocker_n, "damper_eye"),
            ("pivot", f.pivot_n, "pivot"),
        ):
            rows += _worst(
                f, f"rocker, {name}", "rocker", f.points[at], force, own=f.in_body(force, "rocker", axes)
            )
    tie = f.points["tie_inner"] - f.points["tie_outer"]
    rows += _worst(
        f,
        "tie rod, outer end",
        "upright",
        f.points["tie_outer"],
        f.tie_rod_n[:, None] * tie / np.linalg.norm(tie, axis=1, keepdims=True),
    )
    return rows
