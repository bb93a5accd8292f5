"""The zone of the inner joint as a row of results.json: the map of toe, the advised place, and whether there
is room at it, at the present one and, where asked for, at a grid of places."""

from __future__ import annotations

import math

import numpy as np

from assemblies.job import Job
from assemblies.layout.placing import Layout
from assemblies.motion.ends import Ends
from assemblies.motion.hard_points import HardPoints
from assemblies.results import steering as rs
from assemblies.results.findings import guaranteed
from assemblies.steering.room import COARSE_MM, RackRoom, room
from assemblies.steering.zone import advice, sentence, worst_toe_deg, zone
from parts.files.remembered import once

SIDE_PLACES = 5  # of the grid that is tried for room, along y and z


def zone_row(
    job: Job,
    layout: Layout | None,
    ends: Ends,
    look: bool = True,
    grid: bool = False,
    progress=lambda *_: None,
) -> rs.ZoneRow:
    """The zone over the travel the corner reaches. `look`: prove the room at the present and the advised
    place; `grid`: at a grid of places over the map too (a second or two each)."""
    travel = ends.within(job.corner.droop, job.corner.bump)
    points = HardPoints.of(job)
    found = once("zone", (points, travel), lambda: zone(points, travel))
    tip = advice(job, found, travel)
    said = sentence(job, found, tip, travel)
    inner = job.tie_rod.inner
    best = room(job, layout, ends, tip.changes) if look and layout is not None else None
    here = room(job, layout, ends, {}) if look and layout is not None else None
    if best is not None and not best.clear:
        said += "; but there is no room for it there: " + "; ".join(_short(best))
    tried = []
    if grid and layout is not None:
        ys, zs = (np.linspace(x[0], x[-1], SIDE_PLACES) for x in (found.y_mm, found.z_mm))
        for n, (y, z) in enumerate(((y, z) for z in zs for y in ys), 1):
            progress("room for the rack", n, SIDE_PLACES**2)
            toe = float(worst_toe_deg(points, y, z, travel))
            tried.append(_place((inner[0], y, z), toe, room(job, layout, ends, moved(job, y, z), COARSE_MM)))
    return rs.ZoneRow(
        x_mm=found.x_mm,
        y_mm=[float(v) for v in found.y_mm],
        z_mm=[float(v) for v in found.z_mm],
        worst_deg=[[_or_none(float(v)) for v in row] for row in found.worst_deg],
        limit_deg=found.limit_deg,
        present=_place(inner, found.present_deg, here),
        best=_place(tip.place_mm, tip.toe_deg, best),
        raise_mm=tip.raise_mm,
        outboard_mm=tip.outboard_mm,
        extension_mm=tip.extension_mm,
        changes=tip.changes,
        sentence=said,
        tried=tried,
    )


def moved(job: Job, y_mm: float, z_mm: float) -> dict:
    """The job's keys that put the inner joint there, the rack with it."""
    inner = job.tie_rod.inner
    changes: dict = {"tie_rod.inner": [inner[0], float(y_mm), float(z_mm)]}
    if job.rack is not None:
        if job.rack.centre is not None:
            changes["rack.centre"] = [job.rack.centre[0], job.rack.centre[1], float(z_mm)]
        if job.rack.extension is not None:
            changes["rack.extension"] = None
    return changes


def _place(place, toe: float, seen: RackRoom | None) -> rs.Place:
    return rs.Place(
        place_mm=[float(v) for v in place],
        toe_deg=math.ceil(1e4 * toe - 1e-9) / 1e4 if math.isfinite(toe) else None,
        clear=None if seen is None else seen.clear,
        short=[] if seen is None else _short(seen),
    )


def _short(seen: RackRoom) -> list[str]:
    if seen.why:
        return [seen.why]
    return [f"{a} to {b} {guaranteed(gap)} mm, {need:g} mm asked" for a, b, gap, need in seen.short]


def _or_none(v: float) -> float | None:
    return v if math.isfinite(v) else None
