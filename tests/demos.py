"""The demos as they are, each studied once in a process: whoever changes one makes a study of his own."""

from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import load
from assemblies.study import Study, study
from assemblies.study import with_gaps as and_gaps

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@cache
def corner(name: str, mirrored: bool = False) -> Study:
    """Without gaps."""
    job = load(JOBS / f"{name}.toml")
    return known(job.mirrored() if mirrored else job, interference=False)


@cache
def with_gaps(name: str) -> Study:
    """What `study` makes of the demo: it goes on from its numbers."""
    return and_gaps(corner(name))


def known(job, interference=True, **asked):
    """`study`, as a verb or a watch asks for it; what it makes of a job without gaps it makes once."""
    if interference:
        return study(job, **asked)
    name = job.model_dump_json() + repr(job.assumed)
    if name not in _known:
        _known[name] = study(job, interference=False)
    return _known[name]


_known: dict[str, Study] = {}


def verb(*words, **options):
    """How a verb ends that is run in this process, each corner worked once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("assemblies.study.study", known)
        return CliRunner().invoke(app, [*map(str, words)], **options)
