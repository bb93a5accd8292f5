"""The demos as they are, each studied once in a process: whoever changes one makes a study of his own."""

from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import Job, load
from assemblies.layout.made import Made
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


def known(job, interference=True, progress=None, **asked):
    """`study`, as a verb or a watch asks for it. What it makes of a job without gaps it makes once, and of
    the first of that name takes over what no change touched (`test_kept_study` has that it is the same)."""
    if (interference and asked) or not (keeps and isinstance(job, Job)):
        return study(job, interference, progress or (lambda *_: None), **asked)
    name = job.model_dump_json() + repr(job.assumed)
    if name not in _known:
        while len(_known) >= MOST_KNOWN:
            del _known[next(iter(_known))]
        first, made = _first.get(job.name), Made()
        if first is not None and first.layout is not None:
            made._known.update(first.layout.made._known)  # a copy: what is new goes with this one
        _known[name] = study(job, interference=False, made=made)
        _first.setdefault(job.name, _known[name])
    return and_gaps(_known[name]) if interference else _known[name]


keeps = True  # not in a test that changes the program (conftest): a sound answer kept would hide it
MOST_KNOWN = 30  # of some MB each
_known: dict[str, Study] = {}
_first: dict[str, Study] = {}


def verb(*words, **options):
    """How a verb ends that is run in this process, each corner worked once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("assemblies.study.study", known)
        return CliRunner().invoke(app, [*map(str, words)], **options)
