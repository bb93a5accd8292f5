"""A frame alone worked through, numbers only: its nodes, its cut ends, what stands on nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, cast

from assemblies.job import FrameJob
from assemblies.layout import step_neighbours as imports
from assemblies.layout.frame import place_members, sides
from assemblies.layout.junctions.account import fitting_rows, junctions_row
from assemblies.layout.junctions.advice import advised
from assemblies.layout.junctions.assembly import assembled
from assemblies.layout.junctions.standing import loose
from assemblies.layout.placing import Layout
from assemblies.results.findings import worst_first
from assemblies.results.gaps import ClearanceRow
from assemblies.results.model import Results
from assemblies.results.strength import StrengthRow
from assemblies.results.travel import AssumedRow
from assemblies.results.words import tally
from parts.base.frozen import dataclass

STRENGTH = "frame tubes: no load is known; a corner job that names this file as frame.file has some"
GAPS = "gaps: nothing moves here; only where tubes meet was looked at, not what passes near"


@dataclass(frozen=True, repr=False)
class FrameStudy:
    """What was found out about a frame alone; `layout` holds its members and junctions, nothing of a
    corner."""

    job: FrameJob
    layout: Layout
    results: Results

    def __repr__(self) -> str:
        return f"<FrameStudy of {self.job.name}: {tally(self.results)}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the brief account, as on a terminal."""
        from assemblies.results import shown

        return shown.html(self.results)


def study_frame(job: FrameJob, progress: Callable[..., None] = lambda *_: None) -> FrameStudy:
    """Everything a frame alone says. Raises JobError where a neighbour's STEP file cannot be used."""
    imports.read(job, progress)
    progress("tubes")
    layout = Layout(cast(Any, job))  # of a corner's tables a frame's layout asks for none
    layout.attempt("frame members", lambda: place_members(layout))
    layout.is_whole()
    made, side = layout.junctions, sides(job)
    progress("order of fitting")
    order = assembled(made, side == "one")
    found = [
        *layout.findings,
        *advised(made),
        *(order.findings() if order else ()),
        *loose(made, job.frame.goes_on, [n.name for n in job.node], side == "one"),
    ]
    assumed = [AssumedRow(key=a.key, value=a.value, unit=a.unit, why=a.why) for a in job.assumed]
    results = Results(
        name=job.name,
        side=side,
        what="frame",
        assumed=assumed,
        clearance=ClearanceRow(checked=False, tolerance_mm=job.clearance.tolerance, not_checked=[GAPS]),
        strength=StrengthRow(missing=[STRENGTH]),
        junctions=replace(junctions_row(made), fitting=fitting_rows(order) if order else None)
        if made.nodes
        else None,
        findings=list(worst_first(found)),
    )
    return FrameStudy(job, layout, results)
