"""The demos as they are, each studied once in a process: whoever changes one makes a study of his own."""

from functools import cache
from pathlib import Path

from assemblies.job import load
from assemblies.study import Study, study

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@cache
def corner(name: str) -> Study:
    """Without gaps."""
    return study(load(JOBS / f"{name}.toml"), interference=False)


@cache
def with_gaps(name: str) -> Study:
    return study(load(JOBS / f"{name}.toml"))
