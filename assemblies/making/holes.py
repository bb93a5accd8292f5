"""Which holes of a blank a cutter burns and which are drilled."""

from __future__ import annotations

from assemblies.job import Job


def smallest_hole_mm(job: Job, thickness_mm: float) -> float:
    """Holes under this are drilled: plasma and hand cutting burn none under twice the plate, laser and water
    jet none under it (common practice), unless the job says otherwise."""
    if job.process.smallest_hole is not None:
        return job.process.smallest_hole
    return thickness_mm * (1.0 if job.process.cutting in ("laser", "waterjet") else 2.0)
