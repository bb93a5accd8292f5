"""Which errors are answers to what was asked, and which are slips of this program.

A part or a check that cannot be refuses by a `raise ValueError(...)` of its own. Any other error, numpy's
and Python's own ValueErrors among them, is a fault of this program: it is told as one and takes nothing else
down.
"""

from __future__ import annotations

import linecache
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from assemblies.results.findings import Finding

Of = TypeVar("Of")
Other = TypeVar("Other")
FAULT = (
    "program-fault"  # the code of such a finding; what holds one is never kept: another run may be without
)
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


def looked(
    where: str,
    room: Callable[[], tuple[Of, list[Finding]]],
    otherwise: Other,
    passing: tuple[type[Exception], ...] = (),
) -> tuple[Of | Other, list[Finding]]:
    """What a room found. Where it cannot, `otherwise` and a stop that says why: nothing else falls with it.
    `passing`: errors that are answers to whoever called, beside what the system refuses (OSError)."""
    try:
        return room()
    except (OSError, *passing):  # a tuple of errors it is
        raise
    except Exception as e:
        return otherwise, [cannot(where, e)]


def needed(made: Of | None) -> Of:
    """What something else hangs on: a part, a layout, a table of the results. Raises ValueError where it
    could not be made."""
    if made is None:
        raise ValueError("what it hangs on could not be made")
    return made


def cannot(where: str, error: Exception) -> Finding:
    """A stop: refused by the rules of what was to be made, or a fault of this program."""
    if not is_refusal(error):
        return fault(where, error)
    return Finding(level="stop", code="part", where=where, text=f"This cannot be made as asked: {error}.")


def fault(where: str, error: Exception) -> Finding:
    """A stop that says so and what to report."""
    frames = traceback.extract_tb(error.__traceback__)
    at = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return Finding(
        level="stop",
        code=FAULT,
        where=where,
        text=f"A fault of this program, not of the job: {type(error).__name__}: {error}{at}. The {where} is "
        f"left out and nothing of it is checked. Report this line with the job file.",
    )
