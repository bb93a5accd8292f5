"""The demos as they are, each studied once in a process: whoever changes one makes a study of his own."""

from functools import cache
from pathlib import Path

from assemblies.job import load
from assemblies.study import Study, study
from assemblies.study import with_gaps as and_gaps

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@cache
def corner(name: str, mirrored: bool = False) -> Study:
    """Without gaps."""
    job = load(JOBS / f"{name}.toml")
    return study(job.mirrored() if mirrored else job, interference=False)


@cache
def with_gaps(name: str) -> Study:
    """What `study` makes of the demo: it goes on from its numbers."""
    return and_gaps(corner(name))


def known(job, interference=True, **asked):
    """`study`, as a verb asks for it; a demo as it is, without gaps, is the one that stands here already."""
    if not interference and (JOBS / f"{job.slug}.toml").is_file() and job == corner(job.slug).job:
        return corner(job.slug)
    return study(job, interference=interference, **asked)
