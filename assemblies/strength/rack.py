"""The rack's end under the tie rod: the extension as a cantilever from its thread, the bar as one "
"from its bush."""

from __future__ import annotations

import math

import numpy as np

from assemblies.job import Job
from assemblies.job.rack import place
from assemblies.layout.placing import Layout
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, worst
from assemblies.strength.sizing import put
from parts.base.stock import STEELS, steel, thread
from parts.rack_extension import GOOD_ENGAGED, LEAST_ENGAGED, round_stress_mpa

LARGER = ("M16", "M18")
BAR = STEELS["unknown"]  # the bar's steel is its maker's


def checks(job: Job, layout: Layout, f: Forces) -> list[Check]:
    """Stress F/A + M/W, elastic, in every case with its rack: the tie rod pulls along itself at the inner
    joint; what of that is square to the rack bends. The extension over its length and the joint's reach, on
    its thread's stress area; the bar over what stands out of the housing, on its full round (teeth left
    out)."""
    rack = job.rack
    if rack is None:
        return []
    rod = f.points["tie_outer"] - f.points["tie_inner"]
    pull = f.tie_rod_n[:, None] * rod / np.linalg.norm(rod, axis=1, keepdims=True)
    side_n, axial_n = np.hypot(pull[:, 0], pull[:, 2]), np.abs(pull[:, 1])
    out: list[Check] = []
    if (made := layout.rack_extension) is not None:
        part, lever = made.part, made.part.length_mm + rack.joint_reach
        turns = thread(part.thread)
        fy = steel(rack.extension_material).yield_at(part.diameter_mm / 2)
        out += worst(
            f,
            "rack extension",
            "cantilever at its thread",
            part.stress_mpa(side_n, axial_n, lever),
            fy,
            "MPa",
            f"F/A_s + M/W on the stress area of {part.thread}, elastic",
            note=f"{lever:.0f} mm from the shoulder to the inner joint's ball",
            cure=lambda u: [
                *(put("rack.extension_material", m) for m in ("S275", "S355") if steel(m).yield_mpa > fy),
                *(put("rack.thread", t) for t in LARGER if thread(t).diameter_mm > turns.diameter_mm),
                f"steel of {math.ceil(fy * u / 5) * 5:g} MPa yield at least, or a rack of more length",
            ],
        )
        engaged = math.pi * turns.pitch_diameter_mm * part.engagement_mm / 2
        out += worst(
            f,
            "rack extension",
            "thread engagement",
            axial_n,
            engaged * fy / math.sqrt(3) if part.engaged >= LEAST_ENGAGED else 0.0,
            "N",
            f"shear of {part.engagement_mm:.1f} mm of thread, half of π·d2·L at fy/√3",
            note=f"{part.engaged:.2f} of the diameter; {LEAST_ENGAGED:g} at least, {GOOD_ENGAGED:g} "
            f"good (common "
            f"practice)",
            cure=lambda u: [put("rack.engagement", GOOD_ENGAGED * turns.diameter_mm, part.engagement_mm)],
        )
    inner = f.points["tie_inner"][:, 1] - place(rack, job.tie_rod.inner)[1]
    levers = np.maximum(np.abs(inner) - rack.housing_length / 2, 0.0)
    out += worst(
        f,
        "rack bar",
        "cantilever in its bush",
        round_stress_mpa(rack.bar_diameter, side_n, axial_n, levers),
        BAR.yield_mpa,
        "MPa",
        "F/A + M/W of the full round, elastic",
        level="warn",
        note="its steel is not known: counted as S235; teeth and hardening left out",
        cure=lambda u: [
            "a rack of more length and shorter extensions, or a longer housing: ask the rack's maker"
        ],
    )
    return out
