"""Bought joints: ball joints, tie rod ends, rod ends: what they must bear and how far they must swing over
all of travel and rack, against what the builder knows of them.

A joint is taken as set in its middle at ride height, its stud along the kingpin (ball joints, the tie rod's
outer end); the tie rod's inner end swings off the rack's line, a rod end's eye off its bolt's square.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from assemblies.job import Job
from assemblies.motion.mechanism import Mechanism
from assemblies.strength import sizing
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, with_cure, worst
from parts.base.frozen import dataclass

SET = "or one set in the middle of its own travel"
GRID = 13, 5  # wheel heights and rack places looked at; angles are smooth in both


@dataclass(frozen=True)
class BoughtJoint:
    """One joint: `force_n` an entry of the forces, `swing_deg` at every pose of the grid; None: not known."""

    item: str
    table: str  # of the job
    force_n: np.ndarray | None
    swing_deg: np.ndarray
    rating_n: float | None
    most_deg: float | None
    rating_key: str = "joint_rating"
    swing_key: str = "joint_swing"


def joints(job: Job, mechanism: Mechanism, f: Forces, travel_mm: tuple[float, float]) -> tuple:
    """The joints and the grid's wheel heights and racks, each flat."""
    rack = job.tie_rod.rack_travel
    grid = np.meshgrid(np.linspace(*travel_mm, GRID[0]), np.linspace(-rack, rack, GRID[1]))
    wheel, turned = (np.append(g.ravel(), 0.0) for g in grid)  # the last pose is ride height
    poses = mechanism.at(wheel, turned)
    at = poses.point
    kingpin = _unit(at("upper_outer") - at("lower_outer"))
    found = []
    for which, force in (("upper_arm", f.upper_joint_n), ("lower_arm", f.lower_joint_n)):
        side = which.removesuffix("_arm")
        arm = _unit((at(f"{side}_front") + at(f"{side}_rear")) / 2 - at(f"{side}_outer"))
        spec = getattr(job, which)
        found.append(
            BoughtJoint(
                f"{side} ball joint",
                which,
                np.linalg.norm(force, axis=1),
                _from_ride(_angle(arm, kingpin)),
                spec.joint_rating,
                spec.joint_swing,
            )
        )
    tie = _unit(at("tie_inner") - at("tie_outer"))
    ends = job.tie_rod
    size = np.abs(f.tie_rod_n)
    found.append(
        BoughtJoint(
            "tie rod, outer end",
            "tie_rod",
            size,
            _from_ride(_angle(tie, kingpin)),
            ends.joint_rating,
            ends.joint_swing,
        )
    )
    if rack:
        inner = mechanism.at(np.zeros(2), np.array([-rack, rack])).point("tie_inner")
        line = _unit(inner[1] - inner[0])
        off = np.degrees(np.arccos(np.clip(np.abs(tie @ line), -1, 1)))
        found.append(
            BoughtJoint("tie rod, inner end", "tie_rod", size, off, ends.joint_rating, ends.joint_swing)
        )
    rod = job.rod.rod_end
    for end, tilt in (("outboard", poses.rod_outboard_tilt_deg), ("inboard", poses.rod_inboard_tilt_deg)):
        found.append(
            BoughtJoint(
                f"{job.rod.kind} rod, {end} end",
                "rod.rod_end",
                None,  # its force is the rod's, and has its row there
                np.abs(tilt),
                rod.static_rating,
                rod.swing,
                "static_rating",
                "swing",
            )
        )
    return found, wheel, turned


def checks(
    job: Job, mechanism: Mechanism, f: Forces, travel_mm: tuple[float, float]
) -> tuple[list[Check], list[str]]:
    """Rows where the builder knows a rating or a swing; else words of what to look for."""
    rows: list[Check] = []
    open_: list[str] = []
    found, wheel, rack = joints(job, mechanism, f, travel_mm)
    for j in found:
        k = int(np.nanargmax(j.swing_deg))
        swing = float(j.swing_deg[k])
        wants = []
        if j.most_deg:
            row = Check(
                j.item,
                "swing",
                "travel and rack",
                swing,
                j.most_deg,
                "deg",
                f"geometry over travel and rack against {j.table}.{j.swing_key}",
                float(wheel[k]),
                float(rack[k]),
                "from the middle of its swing at ride height",
                service="an angle, not a force",
                remedy=partial(_rated, f"{j.table}.{j.swing_key}", j.most_deg, "deg", (SET,)),
            )
            rows.append(with_cure(row, row.remedy))
        else:
            wants.append(f"swing {swing:.1f} deg each way ({j.table}.{j.swing_key})")
        if j.force_n is not None:
            if j.rating_n:
                rows += worst(
                    f,
                    j.item,
                    "rating",
                    j.force_n,
                    j.rating_n,
                    "N",
                    f"its maker's static rating, {j.table}.{j.rating_key}",
                    cure=partial(_rated, f"{j.table}.{j.rating_key}", j.rating_n, "N", ()),
                )
            else:
                most = f.service(j.force_n).max()
                wants.append(f"bear {most:.0f} N before any safety factor ({j.table}.{j.rating_key})")
        if wants:
            checked = j.most_deg or j.force_n is None or j.rating_n  # only one of the two is left
            only = "" if not checked else ", rating" if j.most_deg else ", swing"
            open_.append(f"{j.item}{only}: bought; it must {' and '.join(wants)}")
    return rows, open_


def _rated(key: str, now: float, unit: str, words: tuple[str, ...], use: float) -> list[sizing.Option | str]:
    """One that its maker rates so much higher."""
    return [sizing.rated(key, now * use, unit), *words]


def _from_ride(angle_deg: np.ndarray) -> np.ndarray:
    return np.abs(angle_deg - angle_deg[-1])


def _angle(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.degrees(np.arccos(np.clip((a * b).sum(-1), -1.0, 1.0)))


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)
