"""From a job to its parts: which parameter sets there are, where each stands at ride height and what it moves
with.

Numbers only: nothing here needs the CAD kernel. A part that cannot be made becomes a finding, and the rest
goes on.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from assemblies.job import Job
from assemblies.layout.arms import place_arm
from assemblies.layout.fastener_bodies import place_bolts
from assemblies.layout.frame import place_damper_bracket, place_members, place_pickup
from assemblies.layout.links import place_links
from assemblies.layout.made import Made
from assemblies.layout.pivot import place_pivot
from assemblies.layout.placing import Layout
from assemblies.layout.rack import place_rack
from assemblies.layout.rocker import place_rocker
from assemblies.layout.rods import place_damper, place_rod, place_tie_rod, place_wheel
from assemblies.layout.spring import place_spring
from assemblies.motion.mechanism import Mechanism
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class DesignForces:
    """The worst forces the plates are sized for, over the whole travel, N (see assemblies.strength.loads and
    the job's [loads])."""

    rod_n: float
    damper_n: float
    spring_nm: float = 0.0  # torque of a rotary spring at full bump


def lay_out(
    job: Job,
    mechanism: Mechanism,
    travel_mm: np.ndarray,
    forces: DesignForces,
    slack_rocker_deg: float | None = None,
    bolts: bool = True,
    made: Made | None = None,
) -> Layout:
    """Place every part of the corner. `travel_mm` are the poses the swings are read from. Without `bolts`
    those are left out as bodies: no strength asks which way they stand. `made`: parts of another layout of
    the same study."""
    out = Layout(job, slack_rocker_deg, made=made or Made())
    rack = job.tie_rod.rack_travel
    poses = mechanism.at(np.asarray(travel_mm)[:, None], np.array([-rack, 0.0, rack]))
    out.attempt("frame members", lambda: place_members(out))
    out.attempt("rocker", lambda: place_rocker(out, poses, forces.rod_n, forces.damper_n))
    out.attempt("rod", lambda: place_rod(out))
    out.attempt("tie rod", lambda: place_tie_rod(out))
    out.attempt("rack", lambda: place_rack(out))
    out.attempt("damper", lambda: place_damper(out))
    for which in ("upper_arm", "lower_arm"):
        out.attempt(which, partial(place_arm, out, which))
    out.attempt("wheel", lambda: place_wheel(out))
    if job.spring.kind != "coil-over":
        out.attempt("spring", lambda: place_spring(out, forces.spring_nm))
    out.attempt("links", lambda: place_links(out))
    out.attempt("pivot", lambda: place_pivot(out))
    out.attempt("damper bracket", lambda: place_damper_bracket(out))
    for which in ("upper_arm", "lower_arm"):
        for end in ("front", "rear"):
            out.attempt(f"{which} {end} bracket", partial(place_pickup, out, which, end))
    if bolts:
        out.attempt("bolts", lambda: place_bolts(out, mechanism, travel_mm))
    out.is_whole()
    return out
