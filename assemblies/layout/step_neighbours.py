"""The job's neighbours that come as STEP files: read before anything is made, and what is to be known of
them.

Only here and in `neighbours` are they met as triangles; a file not met before is read by the CAD kernel,
once, in a process of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from assemblies.clearance.imported import meshes_of
from assemblies.job import FrameJob, Job, JobError
from assemblies.job.point_checks import FURTHEST_MM
from assemblies.job.problem import Problem
from assemblies.results.findings import Finding

MESH_SHARE = 0.25  # of the gaps' tolerance: how far triangles may be from the true surface


def files(job: Job | FrameJob) -> list:
    return [m for m in job.member if m.shape == "step"]


def error_mm(job: Job | FrameJob) -> float:
    """How near to the true surface triangles are asked to be."""
    return job.clearance.tolerance * MESH_SHARE


def read(job: Job | FrameJob, progress: Callable[..., None] = lambda *_: None) -> None:
    """Read the STEP file of every member that has one. Raises JobError listing those that cannot be used."""
    given = files(job)
    if not given:
        return

    problems = []
    for i, m in enumerate(given, 1):
        progress(f"reading {m.name}", i, len(given))
        try:
            meshes_of(m.file, error_mm(job))
        except ValueError as e:
            problems.append(Problem(f"member.{m.name}.file", str(e)))
    if problems:
        raise JobError(problems)


def findings(job: Job) -> list[Finding]:
    """What of the imported neighbours is worth knowing: triangles wider of the surface than asked, what was
    left out, a far place."""
    out = []
    for m in files(job):
        try:
            found = meshes_of(m.file, error_mm(job))
        except ValueError:
            continue  # its place in the layout has said so
        if found.error_mm > error_mm(job):
            out.append(
                Finding(
                    level="note",
                    code="import-coarse",
                    where=m.name,
                    text=(
                        f"Its curved faces are met by triangles to {found.error_mm:.3f} mm, "
                        f"{error_mm(job):g} mm asked: the guaranteed gaps to it are "
                        f"up to {2 * found.error_mm:.2f} mm less than the true ones. Export the outside that "
                        f"matters alone, or with plain cylinders and tori in place of splines."
                    ),
                )
            )
        if found.unproven_faces:
            out.append(
                Finding(
                    level="note",
                    code="import-unproven",
                    where=m.name,
                    text=(
                        f"For {found.unproven_faces} of its faces the distance of triangles from the surface "
                        f"({found.error_mm:.3f} mm) is measured, not proven: offsets of "
                        "free-form faces, or faces whose edges do not fit. The guaranteed gaps to it are "
                        "only as good; export it with plain or spline surfaces, repaired."
                    ),
                )
            )
        if found.loose_faces:
            out.append(
                Finding(
                    level="warn",
                    code="import-loose",
                    where=m.name,
                    text=(
                        f"{found.loose_faces} faces of its file belong to no solid and were left out of the "
                        f"gaps: make solids of them and export again."
                    ),
                )
            )
        at = placement(m)
        corners = (
            np.concatenate(found.solids).reshape(-1, 3)
            * (1.0, -1.0 if m.mirrored else 1.0, 1.0)
            @ at[:3, :3].T
            + at[:3, 3]
        )
        low, high = corners.min(0), corners.max(0)
        away = float(
            np.linalg.norm(
                np.maximum(np.maximum(low - job.wheel.centre, np.array(job.wheel.centre) - high), 0)
            )
        )
        if away > FURTHEST_MM:
            out.append(
                Finding(
                    level="warn",
                    code="import-far",
                    where=m.name,
                    text=(
                        f"It stands {away:.0f} mm from the wheel centre, from "
                        f"({', '.join(f'{v:.0f}' for v in low)}) to "
                        f"({', '.join(f'{v:.0f}' for v in high)}): "
                        f"look at member.{m.name}.at and turn."
                    ),
                )
            )
    return out


def placement(m) -> np.ndarray:
    """4 x 4 from a STEP file's axes to the car's: turned about the car's x, then y, then z, then moved."""
    out = np.eye(4)
    for axis, degrees in enumerate(m.turn):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        turn = np.eye(4)
        turn[[i, i, j, j], [i, j, i, j]] = c, -s, s, c
        out = turn @ out
    out[:3, 3] = m.at
    return out
