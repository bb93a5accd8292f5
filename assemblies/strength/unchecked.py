"""What the strength of a corner leaves open, in words."""

from __future__ import annotations

from assemblies.job import Job
from assemblies.layout.account import Checked, Unchecked
from assemblies.layout.placing import Layout
from assemblies.strength.found import Strength


def never_checked(job: Job, layout: Layout) -> list[str]:
    out = [
        "tapers of the outer ball joints and the upright: bought; the joint forces give what they must bear",
        "side walls of a member under a saddle or a lapped foot, in shear; of these feet only what bends a "
        "wall is checked, and their welds are counted as if they bore evenly where nothing yields",
        "bushes and housings at the arms' pivots: bought or turned to them; the joint forces give what they "
        "must bear",
        "weight and inertia of the parts, friction, heat, rust and abuse beyond the load cases",
    ]
    if job.spring.kind != "coil-over":
        if job.pivot.kind != "stub":
            out.append("anchor plate to frame: not drawn here; the frame's reactions give the torque")
        out += [
            "rims of the socket's plates beside the window's corners",
            "fatigue of the spring's free length: no curve without its steel and surface",
        ]
    if layout.pivot is None:
        out.append(
            "rocker's pivot pin, bushes and their brackets on the frame: not drawn here; the frame's "
            "reactions "
            "give what they must bear"
        )
    if layout.rocker is not None and job.rocker.window:
        out.append("bending of the strips of metal beside the rocker's window each by itself")
    return out


def of_parts(layout: Layout, found: Strength) -> list[str]:
    """What each placed part says of itself: why it is not checked, or the rows it should have and has not."""
    there = {c.item for c in found.checks}
    out: list[str] = []
    for p in layout.placed:
        if isinstance(p.strength, Unchecked):
            said = p.strength.why
            if not any(m.startswith(said) for m in [*found.missing, *out]):
                out.append(said)
        elif isinstance(p.strength, Checked):
            told = [i for i in p.strength.items if any(m.startswith(i) for m in found.missing)]
            out += [f"{p.name}: no row of {i}" for i in p.strength.items if i not in there and i not in told]
    return out
