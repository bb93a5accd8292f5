"""What follows if one part fails: words for the builder, for no row says it."""

from __future__ import annotations

from assemblies.job import Job
from assemblies.results.findings import Finding


def one_gone(job: Job) -> Finding:
    said = [
        "rod, a rod end or the rocker's pivot: nothing holds the wheel up"
        + (", nor does the bump stop, which stands on the damper" if job.bump_stop else "")
        + "; the corner drops until something touches",
    ]
    if job.spring.kind != "coil-over":
        said.append(
            "sleeve's cross bolt, a clocking bolt or a socket's seam: the spring lets go at once and the car "
            "rests on the damper's end of travel; look at these bolts with every service, and never turn the "
            "sleeve with weight on the wheel"
        )
    else:
        said.append("coil: its broken end slides down the damper; the car sinks by some turns")
    said.append(
        "droop strap: the damper alone ends the droop, on its own stop"
        if job.droop_strap
        else "damper's own top-out: no strap is fitted, so rod and rocker swing on until they lock or the "
        "spring comes free"
    )
    said.append("a ball joint or an arm's bracket: the wheel is no longer guided; the car cannot be steered")
    return Finding(
        level="note",
        code="one-part-gone",
        where="strength",
        text="If one part fails: " + "; ".join(said) + ". None of this is checked as a load case.",
    )
