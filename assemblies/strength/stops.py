"""What stops the wheel pulls and presses too: the droop strap on its arm's tube and on the frame, the bump
stop and the damper's top-out along the damper.

The strap's peak is that of `assemblies.motion.stops`: the spring throws the wheel down, no damping counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assemblies.job import Job
from assemblies.job.stops import DroopStrap
from assemblies.layout.made import Made
from assemblies.layout.placing import Layout
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from assemblies.motion.stops import Stop, bump_end, droop_end
from assemblies.strength import frame_tubes, sizing
from assemblies.strength.forces import Forces
from assemblies.strength.load_cases import LoadCase
from assemblies.strength.path import CarryingLink, WalkedLink
from assemblies.strength.reactions import Reaction
from assemblies.strength.row import Check, with_cure
from parts.base.frozen import dataclass
from parts.base.stock import steel
from parts.calc.sections import round_tube

REACH_MM = 40.0  # of a strap's lug or loop from a tube's side, common practice
CASE = "thrown into the strap"


@dataclass(frozen=True)
class Taut:
    """The strap at its peak: `pull_n` on the arm's end of it, car axes; the frame's end has the opposite.
    `end_mm`, `arm_n`: its end and pull in the arm's own axes at ride."""

    strap: DroopStrap
    wheel_mm: float
    pull_n: np.ndarray
    end_mm: np.ndarray
    arm_n: np.ndarray

    @property
    def force_n(self) -> float:
        return float(np.linalg.norm(self.pull_n))


def travel_ends(job: Job, mechanism: Mechanism, sprung: Springing, made: Made) -> tuple[Stop, Stop]:
    """Where the wheel is stopped in bump and in droop; no size of a part has a say in it."""
    return made.noting(
        "where the wheel stops",
        mechanism.points,
        (job, sprung),
        lambda j, s: (bump_end(j, mechanism, s), droop_end(j, mechanism, s)),
    )


def taut(job: Job, mechanism: Mechanism, s: Stop) -> Taut | None:
    """None without a strap, or where it stays slack or is taut at ride height already. `s`: the droop's
    end."""
    strap = job.droop_strap
    if strap is None:
        return None
    if s.by != "droop strap" or not np.isfinite(s.force_n):
        return None
    body = mechanism.at([s.wheel_mm]).frame(strap.on)[0]
    line = np.array(strap.frame) - (body[:3, :3] @ np.array(strap.end) + body[:3, 3])
    pull = s.force_n * line / np.linalg.norm(line)
    return Taut(strap, s.wheel_mm, pull, np.array(strap.end, float), body[:3, :3].T @ pull)


def on_arm(job: Job, layout: Layout, t: Taut) -> list[Check]:
    """The nearer tube of the arm by itself as a beam from its pivot to the outer joint, pinned at both: the
    wheel's inertia answers at the joint. F·a·b/L across, and what the end's distance from the tube's axis
    adds: the pull along the tube times it, the pull across times it as a torque. Statics, von Mises."""
    arm = t.strap.on
    placed = layout.arms.get(arm)
    if placed is None:
        return []
    part, frame = placed.part, placed.frame.matrix()
    end, pull = (t.end_mm - frame[:3, 3]) @ frame[:3, :3], (t.arm_n @ frame[:3, :3]) * job.loads.safety
    tubes = {"front": part.front_pivot, "rear": part.rear_pivot}

    def station(pivot) -> tuple[float, float, float, np.ndarray]:
        """Along the tube from the joint, off its axis, its length and direction."""
        length = float(np.hypot(*pivot))
        u = np.array([*pivot, 0.0]) / length
        at = float(np.clip(end @ u, 0.0, length))
        return at, float(np.linalg.norm(end - at * u)), length, u

    which = min(tubes, key=lambda n: station(tubes[n])[1])
    at, off, length, u = station(tubes[which])
    along = abs(float(pull @ u))
    across = float(np.sqrt(max(pull @ pull - along**2, 0.0)))

    def stress(outer: float, wall: float) -> float:
        s = round_tube(outer, wall)
        bent = across * at * (length - at) / length + along * off
        return float(np.hypot(bent / s.w_el_y_mm3 + along / s.area_mm2, 3**0.5 * across * off / s.c_t_mm3))

    fy = steel(getattr(job, arm).material).yield_mpa
    tube = sizing.tube(
        f"{arm}.tube_wall",
        f"{arm}.tube_diameter",
        part.tube_diameter_mm,
        part.tube_wall_mm,
        lambda d, w, y: stress(d, w) / y,
        fy,
        f"{arm}.material",
    )
    nearer = "droop_strap.end nearer to the outer joint, with droop_strap.length to suit"

    def cure(use: float) -> list[sizing.Option | str]:
        return [*(o for o in tube(use) if not isinstance(o, str)), nearer]

    c = Check(
        "droop strap",
        f"bending of the {arm.replace('_', ' ')}'s {which} tube",
        CASE,
        stress(part.tube_diameter_mm, part.tube_wall_mm),
        fy,
        "MPa",
        f"statics: the {which} tube alone on its pivot and the joint, {at:.0f} mm from the joint of "
        f"{length:.0f}, its end {off:.0f} mm off the axis",
        t.wheel_mm,
        0.0,
        "a bound: no damping is counted in the strap's force; the weld of its lug is not in it, nor the "
        f"arm's bracket, which bears {across / job.loads.safety * at / length:.0f} N of it",
    )
    return [with_cure(c, cure)]


def tube_near(layout: Layout, point: Sequence[float] | np.ndarray) -> tuple[str | None, str]:
    """The tube that a strap's frame end stands on, None where none is within reach; the nearest in words."""
    off = {name: _beside_mm(m, np.array(point, float)) for name, m in layout.members.items()}
    near = min(off, key=lambda n: off[n], default=None)
    far = f'"{near}" is the nearest, {off[near]:.0f} mm off' if near else "there is none"
    return (near if near is not None and off[near] <= REACH_MM else None), far


def on_frame(job: Job, layout: Layout, t: Taut) -> tuple[WalkedLink, Reaction]:
    """What the frame must bear of it, on the tube it stands at; open where none is within reach."""
    point = np.array(t.strap.frame, float)
    member, far = tube_near(layout, point)
    link = CarryingLink(
        "droop strap",
        member or "nothing",
        "yours" if member else "nothing",
        "xyz",
        "",
        -t.pull_n[None],
        np.zeros((1, 3)),
        member=member or "",
        cure=f"droop_strap.frame within {REACH_MM:g} mm of a [[member]]'s side: {far}",
        note="its ends on frame and arm are not drawn",
    )
    found = WalkedLink(link, "held" if member else "open", CASE, t.wheel_mm, t.force_n, 0.0)
    at = (float(point[0]), float(point[1]), float(point[2]))
    force = (float(-t.pull_n[0]), float(-t.pull_n[1]), float(-t.pull_n[2]))
    return found, Reaction("droop strap", member or "frame", CASE, t.wheel_mm, 0.0, at, force)


def on_frame_tube(job: Job, layout: Layout, t: Taut, f: Forces, member: str) -> tuple[list[Check], list[str]]:
    """Bending and torsion of the tube that the strap stands on, as under a bracket, by its pull alone."""
    here = replace(
        f,  # one entry of its own; no force of the corner is read from it
        cases=(LoadCase(CASE, (0.0, 0.0, 0.0)),),
        case=np.zeros(1, int),
        wheel_mm=np.array([t.wheel_mm]),
        rack_mm=np.zeros(1),
        usual=np.zeros(1, bool),
    )
    pull = -t.pull_n[None] * f.safety
    at = frame_tubes.Pull("droop strap", member, np.array(t.strap.frame, float), pull)
    steels = {m.name: steel(getattr(m, "material", "unknown")) for m in job.member}
    return frame_tubes.checks(here, layout, [at], steels, "the droop strap")


def _beside_mm(member, point: np.ndarray) -> float:
    """From a point to a member's side, 0 inside it; its half width counted all round."""
    axis, start = np.array(member.frame.z), np.array(member.from_, float)
    along = float(np.clip((point - start) @ axis, 0.0, member.length_mm))
    s = member.section
    return max(float(np.linalg.norm(point - start - along * axis)) - min(s.width_mm, s.height_mm) / 2, 0.0)


def missing(job: Job, ends: tuple[Stop, Stop], f: Forces, t: Taut | None) -> list[str]:
    """What is left open of both ends of the travel, with its force before any safety factor."""
    out, damper = [], f.service(f.damper_n)
    bump, s = ends
    if job.bump_stop is not None:
        if np.isfinite(bump.force_n):
            most = -min(float(damper.min()), 0.0)
            out.append(
                f"bump stop's seat on the damper's body, its heat and age: its maker's; {bump.force_n:.0f} N "
                f"along the damper at wheel {bump.wheel_mm:+z.1f} mm; the damper's eye and bracket are "
                f"checked for {most:.0f} N"
            )
        else:
            out.append("bump stop's own room on the damper's shaft, its heat and age: its maker's")
    if job.droop_strap is not None:
        if t is None:
            out.append("droop strap: its force is not known, for it does not end the droop")
        elif job.droop_strap.on == "upright":
            out.append(f"droop strap: what its {t.force_n:.0f} N do to the upright, which is not modelled")
        else:
            out.append(f"droop strap's lug on its arm and its weld: they bear {t.force_n:.0f} N")
    elif job.damper.top_out_stiffness is None:
        out.append("damper as it tops out: its stiffness there is not given (damper.top_out_stiffness)")
    else:
        most = max(float(damper.max()), 0.0)
        if s.by == "damper" and np.isfinite(s.force_n) and s.force_n > most:
            out.append(
                f"damper as it tops out: its eyes and bracket are pulled with {s.force_n:.0f} N there and "
                f"are checked for {most:.0f} N of pull"
            )
    return out
