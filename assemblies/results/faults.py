"""Which errors are answers to what was asked, and which are slips of this program.

A part or a check that cannot be refuses by a `raise ValueError(...)` of its own. Any other error, numpy's
and Python's own ValueErrors among them, is a fault of this program: it is told as one and takes nothing else
down.
"""

from __future__ import annotations

import linecache
import traceback
from pathlib import Path

from assemblies.results.findings import Finding

OWN = tuple(str(Path(__file__).parents[2] / folder) for folder in ("parts", "assemblies"))


def is_refusal(error: Exception) -> bool:
    """Whether a ValueError was raised by a `raise` of this program. Without sources to look at, every one
    counts as a refusal."""
    if not isinstance(error, ValueError):
        return False
    frames = traceback.extract_tb(error.__traceback__)
    if not frames or not frames[-1].filename.startswith(OWN):
        return not frames
    line = linecache.getline(frames[-1].filename, frames[-1].lineno or 0)
    return not line or line.lstrip().startswith("raise")


def fault(where: str, error: Exception) -> Finding:
    """A stop that says so and what to report."""
    frames = traceback.extract_tb(error.__traceback__)
    at = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return Finding(
        level="stop",
        code="program-fault",
        where=where,
        text=f"A fault of this program, not of the job: {type(error).__name__}: {error}{at}. The {where} is "
        f"left out and nothing of it is checked. Report this line with the job file.",
    )
