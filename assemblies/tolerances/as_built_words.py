"""What readings say of the corner as built, in words for the terminal."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.motion.springing import Springing
from assemblies.results.terminal import paragraph
from assemblies.setup import words
from assemblies.setup.clocking import chain, nearest_settings
from assemblies.setup.limits import beyond
from assemblies.tolerances.as_built import FITS, Estimate, corner, thickness_of


def lines(job, s: Springing, e: Estimate) -> list[tuple[str, list[str]]]:
    """Blocks of text for the terminal."""
    unit = "mm of collar" if s.spring.linear else "deg"
    rows = [
        [u.name, f"{v:+.3g}", f"±{2 * q:.2g}", u.unit, f"±{u.expected:g}"]
        for u, v, q in zip(e.unknowns, e.value, e.sigma, strict=True)
    ]
    blocks = [
        (
            "What differs from the job (95 of 100 within the ±)",
            words.table(["unknown", "found", "sure to", "", "before"], rows),
        )
    ]
    fits = (
        "The readings agree with that."
        if e.misfit < FITS
        else f"The readings do not fit: {e.misfit:.1f} times their stated accuracy. A reading is wrong, or "
        f"something else differs."
    )
    blocks.append(("", [paragraph(t, "  ") for t in (fits, e.doubtful) if t]))
    blocks.append(("Left out", [paragraph(t, "  ") for t in e.left_out]))
    blocks.append(("What the readings cannot tell", [paragraph(t, "  ") for t in e.unclear]))
    blocks.append(
        (
            "Correction",
            [
                paragraph(
                    f"As set it stands {_set(e.stands_mm)} under the job's load. "
                    f"Wind {e.wind:+z.2f} ±{2 * e.wind_sigma:.2f} {unit}.",
                    "  ",
                )
            ],
        )
    )
    joints = chain(job)
    if any(j.stepped for j in joints):
        blocks.append(
            (
                "Moves nearest to it, from the present setting",
                _moves(job, s, joints, e),
            )
        )
    return blocks


def _set(stands_mm: float) -> str:
    if not math.isfinite(stands_mm):
        return "past its wished travel, on a stop,"
    return f"{abs(stands_mm):.1f} mm {'low' if stands_mm > 0 else 'high'}"


def _rises(v) -> list[str]:
    """How far each corner stands too high, or which end of the wished travel its spring takes it past."""
    force, _ = v.forces(np.array([v.low_mm, v.high_mm]))
    ends = np.select(
        [force[:, 0] >= v.weight_n, force[:, 1] <= v.weight_n],
        ["past corner.droop", "past corner.bump"],
        "cannot stand",
    )
    return [f"{0.0 - z:+z.1f}" if math.isfinite(z) else end for z, end in zip(v.settle(), ends, strict=True)]


def _moves(job, s: Springing, joints, e: Estimate) -> list[str]:
    """Moves nearest to the correction, on the corner as estimated: how it then stands, and what its spring
    goes beyond."""
    near = sorted(nearest_settings(joints, e.wind, 5), key=lambda x: x.wind_deg)
    names, winds = [j.name for j in joints if j.stepped], np.array([x.wind_deg for x in near])
    v = corner(job, s, e.unknowns, np.repeat(e.value[None], len(near), 0))
    v = replace(v, deflection=v.deflection + np.radians(winds) * (np.arange(len(v.deflection)) == 0)[:, None])
    rises = _rises(v)
    bump = np.degrees(v.at(v.deflection, np.array([job.corner.bump]))[:, 0])
    size, was = (
        float(thickness_of(job, e.unknowns, e.value[None])[0]),
        float(thickness_of(job, (), e.value[None])[0]),
    )
    said = [beyond(job.spring, s, float(t) - s.twist_deg["bump"], size / was) for t in bump]
    rows = [
        [
            f"{x.wind_deg:+z.2f}",
            *(f"{k:+d}" for k in x.teeth),
            rise,
            f"{twist * math.radians(s.spring.stress_mpa_per_rad) * size / was:.0f}",
            beware,
        ]
        for x, rise, twist, beware in zip(near, rises, bump, said, strict=True)
    ]
    beware = "beware" if any(said) else ""
    return words.table(["wind, deg", *names, "then too high by, mm", "MPa bump", beware], rows)
