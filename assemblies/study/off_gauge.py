"""Thicknesses of a job that no usual plate has."""

from __future__ import annotations

from assemblies.job import Job
from assemblies.results.findings import Finding
from parts.base.stock import no_stock_plate

PLATE_KEYS = ("plate_thickness", "bracket_thickness", "lug_thickness", "anchor_plate", "socket_plate")


def off_gauge(job: Job) -> list[Finding]:
    """One note of the thicknesses that are no usual plate: a slip of the pen, or a plate that was not
    measured."""
    seen = {}
    for name in ("upper_arm", "lower_arm", "tie_rod", "rod", "rocker", "damper", "spring"):
        table = getattr(job, name)
        for key in PLATE_KEYS:
            t = getattr(table, key, None)
            if t is not None and (near := no_stock_plate(t)):
                seen[f"{name}.{key}"] = f"{name}.{key} is {t:g} mm; stock has {near}"
    if not seen:
        return []
    return [
        Finding(
            level="note",
            code="plate-stock",
            where=", ".join(seen),
            text=f"No usual plate: {', '.join(seen.values())}. Check the digits, or measure the plate.",
        )
    ]
