"""Where no member's shift and no trim can help: the keys of the job that place and size the two bodies."""

from __future__ import annotations

from assemblies.clearance import PairResult
from assemblies.job import Job
from assemblies.layout.placing import Layout


def advice(job: Job, layout: Layout, pair: PairResult) -> str:
    """A sentence on what decides a pair, or none."""
    member = {m.name: m for m in job.member}
    for body in (pair.a, pair.b):
        seat = next((s for s in layout.seats if s.bracket == body), None)
        if seat is not None:
            return (
                f"The {body} follows the eye it holds and '{seat.member}', which carries it: move one of "
                f"these two."
            )
        if body in member and member[body].moves_with:
            return f"'{body}' rides with the {member[body].moves_with}: place it elsewhere on it."
    keys = [k for body in (pair.a, pair.b) for k in _keys(job, body)]
    if not keys:
        return ""
    steered = {"wheel", "tie_rod"} & {pair.a, pair.b} and abs(
        pair.at_rack_mm
    ) > 0.9 * job.tie_rod.rack_travel > 0
    lock = " or less lock, tie_rod.rack_travel" if steered else ""
    return (
        f"No frame member stands in the way here. What places and sizes the two, none of it tried: "
        f"{', '.join(keys)}{lock}."
    )


def _keys(job: Job, body: str) -> list[str]:
    spring = {
        "leaf-pack": "spring.housing",
        "coil-over": "spring.outer_diameter",
        "solid-bar": "spring.diameter",
        "tube": "spring.outer",
    }[job.spring.kind]
    return {
        "rod": ["rod.inboard", "rod.diameter"],
        "rod end": ["rod.outboard", "rod.thread"],
        "damper": ["damper.chassis_eye", "damper.body_diameter"],
        "spring": [spring],
        "upper_arm": ["upper_arm.outer_joint", "upper_arm.tube_diameter"],
        "spring housing": ["spring.housing"],
        "lower_arm": ["lower_arm.outer_joint", "lower_arm.tube_diameter"],
        "tie_rod": ["tie_rod.outer", "tie_rod.diameter"],
        "wheel": ["wheel.centre", "wheel.tyre_width"],
        "rocker": ["rocker.box_width", "rocker.pivot"],
    }.get(body, [])
