"""Hoses and cables of the job: how long each must be over all travel and rack, and how far it can stray from
its straight line."""

from __future__ import annotations

import math

from assemblies.clearance.hose import reach
from assemblies.job import Job
from assemblies.motion.ends import Ends
from assemblies.motion.mechanism import Mechanism
from assemblies.results import gaps as rs
from assemblies.results.findings import Finding, guaranteed, lacking

SPARE = 0.05  # of the longest distance: no pull at droop and lock, common practice


def hoses(job: Job, mechanism: Mechanism, ends: Ends) -> tuple[list[rs.Hose], list[Finding]]:
    """A row and a finding for each hose of the job, over the travel the corner can reach and the rack."""
    travel = ends.within(job.corner.droop, job.corner.bump)
    rows, findings = [], []
    for h in job.hose:
        try:
            found = reach(mechanism, h.from_on, h.from_, h.to_on, h.to, travel, job.tie_rod.rack_travel)
        except ValueError as e:
            findings.append(
                Finding(
                    level="stop", code="hose", where=h.name, text=f"How long it must be cannot be said: {e}."
                )
            )
            continue
        row = _row(h, found)
        rows.append(row)
        findings.append(_finding(h, row, job.clearance.hose))
    return rows, findings


def _row(h, found) -> rs.Hose:
    sag = math.sqrt(max(h.length**2 - found.shortest_mm**2, 0.0)) / 2 if h.length is not None else None
    return rs.Hose(
        name=h.name,
        length_mm=h.length,
        least_length_mm=found.longest_mm,
        with_spare_mm=found.longest_mm * (1 + SPARE),
        longest_at_wheel_mm=found.at_wheel_mm,
        longest_at_rack_mm=found.at_rack_mm,
        shortest_mm=found.shortest_mm,
        shortest_at_wheel_mm=found.shortest_at_wheel_mm,
        shortest_at_rack_mm=found.shortest_at_rack_mm,
        sag_mm=sag,
    )


def _finding(h, row: rs.Hose, gap_mm: float) -> Finding:
    far, near = (
        _pose(row.longest_at_wheel_mm, row.longest_at_rack_mm),
        _pose(row.shortest_at_wheel_mm, row.shortest_at_rack_mm),
    )
    need = (
        f"Its ends are up to {lacking(row.least_length_mm, 1)} mm apart, at {far}, and as near as "
        f"{row.shortest_mm:.1f} mm, at {near}: "
        f"with {SPARE * 100:.0f} % to spare (common practice) it must be "
        f"{lacking(row.with_spare_mm, 0)} mm long between its ends, bends for the fittings besides"
    )
    if h.length is None:
        return Finding(
            level="note",
            code="hose",
            where=h.name,
            text=f"{need}. Give hose.{h.name}.length to check the one in hand.",
        )
    tie = (
        f" At {near} its middle line can hang {row.sag_mm:.0f} mm off the straight line between its ends "
        f"(inside the ellipse that has them as foci): its run is not "
        f"checked, so tie it where that line keeps {gap_mm + h.diameter / 2:g} mm ({gap_mm:g} and half its "
        f"diameter) from all else, clear of tyre and exhaust."
    )
    if h.length < row.least_length_mm:
        return Finding(
            level="stop",
            code="hose",
            where=h.name,
            text=f"It is {h.length:g} mm long: {lacking(row.least_length_mm - h.length, 1)} mm too short. "
            f"{need}.",
        )
    spare = h.length / row.least_length_mm - 1
    if spare < SPARE:
        return Finding(
            level="warn",
            code="hose",
            where=h.name,
            text=f"It is {h.length:g} mm long, {guaranteed(spare * 100, 1)} % to spare. {need}.{tie}",
        )
    return Finding(
        level="note",
        code="hose",
        where=h.name,
        text=f"It is {h.length:g} mm long, {guaranteed(spare * 100, 0)} % to spare. {need}.{tie}",
    )


def _pose(wheel_mm: float, rack_mm: float) -> str:
    return f"wheel {wheel_mm:+z.1f} mm" + (f" and rack {rack_mm:+z.1f} mm" if rack_mm else "")
