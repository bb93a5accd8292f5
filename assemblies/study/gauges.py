"""The rocker in each plate a builder can get: its worst use and its mass."""

from __future__ import annotations

import math
from collections.abc import Iterable
from contextlib import suppress

from assemblies.job import Job
from assemblies.layout.corner import lay_out
from assemblies.layout.made import Made
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import springing
from assemblies.strength import Check, strength
from assemblies.study.corner import Study, design_forces, strength_of


def gauges(job: Job, thicknesses_mm: Iterable[float], like: Study | None = None) -> list[dict]:
    """The parts that a plate touches and the rocker's strength again with each: thickness, worst use and
    item of the rocker, and the mass of its plates. Less work where a study of the job is there.

    A thickness with which the rocker cannot be made says why."""
    mechanism = like.mechanism if like else Mechanism(HardPoints.of(job))
    sprung = (like and like.springing) or springing(job, mechanism)  # the plate moves nothing
    made = like.layout.made if like and like.layout else Made()
    forces, slack, rows = design_forces(job, sprung), sprung.slack_rocker_deg, []
    for t in thicknesses_mm:
        tried = job.changed({"rocker.plate_thickness": t})
        layout = lay_out(tried, mechanism, sprung.wheel_mm, forces, slack, bolts=False, made=made)
        checks: list[Check] = []
        with suppress(ValueError):  # told below
            checks = strength(tried, mechanism, sprung, layout, rooms=("rocker",)).checks
        mine = [c for c in checks if "rocker" in c.item and c.level == "stop" and c.case != "spectrum"]
        if layout.rocker is None or not mine:
            found = strength_of(tried, mechanism, sprung, layout)[1]
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
        worst = max(mine, key=lambda c: c.use)
        rows.append(
            {
                "thickness_mm": t,
                "use": worst.use if math.isfinite(worst.use) else None,
                "item": worst.item,
                "check": worst.check,
                "rocker_kg": layout.rocker.mass_kg,
            }
        )
    return rows
