"""The rocker in each plate a builder can get: its worst use and its mass."""

from __future__ import annotations

import math
from collections.abc import Iterable

from assemblies.job import Job
from assemblies.layout.corner import lay_out
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import springing
from assemblies.study.corner import Study, design_forces, strength_of


def gauges(job: Job, thicknesses_mm: Iterable[float], like: Study | None = None) -> list[dict]:
    """Parts and strength again with each plate: thickness, worst use and item of the rocker, and the mass of
    its plates. Takes a moment; less where a study of the job is there.

    A thickness with which the rocker cannot be made says why."""
    mechanism = like.mechanism if like else Mechanism(HardPoints.of(job))
    sprung = (like and like.springing) or springing(job, mechanism)  # the plate moves nothing
    made = like.layout.made if like and like.layout else None
    forces, rows = design_forces(job, sprung), []
    for t in thicknesses_mm:
        tried = job.changed({"rocker.plate_thickness": t})
        layout = lay_out(tried, mechanism, sprung.wheel_mm, forces, sprung.slack_rocker_deg, made=made)
        strong, found = strength_of(tried, mechanism, sprung, layout)
        mine = [c for c in strong.checks if "rocker" in c.item and c.level == "stop" and c.case != "spectrum"]
        if layout.rocker is None or not mine:
            why = next(
                (
                    f.text
                    for f in [*layout.findings, *found]
                    if f.where in ("rocker", "strength") and f.level == "stop"
                ),
                "the rocker could not be checked",
            )
            rows.append({"thickness_mm": t, "use": None, "item": "", "check": why, "rocker_kg": None})
            continue
        worst = max(mine, key=lambda c: math.inf if c.use is None else c.use)
        rows.append(
            {
                "thickness_mm": t,
                "use": worst.use,
                "item": worst.item,
                "check": worst.check,
                "rocker_kg": layout.rocker.mass_kg,
            }
        )
    return rows
