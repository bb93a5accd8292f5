"""How tests are dealt to the workers: one by one, but a file whose tests share something dear (a whole build,
a browser, a library that compiles itself) goes whole to one."""

from __future__ import annotations

import gc
import os
import sys
from collections import OrderedDict

import pytest

# many short processes are started: each would compile every module again
if os.environ.pop("PYTHONDONTWRITEBYTECODE", None):
    sys.dont_write_bytecode = False
gc.set_threshold(200_000, 20, 100)  # what a corner makes lives long: fewer searches for circles save some 5 %
# memory once had is kept, not given back and asked for again: a third of the page faults (glibc heeds it, in
# the workers that are started from here)
for name in ("MALLOC_TRIM_THRESHOLD_", "MALLOC_MMAP_THRESHOLD_"):
    os.environ.setdefault(name, str(2**28))
# each worker has a core of its own: a build that takes a second one takes it from another test, and so do
# numpy's threads, which wait for work by spinning (the command has just the one, too)
os.environ.setdefault("ROCKERSHED_CORES", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

TOGETHER = {name: name for name in ("neighbours_job", "report", "sections", "sheets")}
TOGETHER |= dict.fromkeys(("build", "nesting", "nest_job", "nest_cutting"), "nest")  # it compiles itself


KEEPING = {"test_build_kinds", "test_remembered", "test_step", "test_watch"}  # what is kept is their matter


@pytest.fixture(autouse=True)
def nothing_kept_hides_what_is_planted(request):
    """A test that changes the program makes all itself: a sound answer kept from another would hide it."""
    if "monkeypatch" in request.fixturenames and request.module.__name__.rpartition(".")[2] not in KEEPING:
        import demos

        from parts.files import remembered

        patch = request.getfixturevalue("monkeypatch")
        patch.setattr(remembered, "cache_folder", lambda: None)
        patch.setattr(demos, "keeps", False)


@pytest.fixture
def alone():
    """A study in it makes all itself: nothing is taken over that another of this process made."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("assemblies.layout.made._shared", OrderedDict())
        patch.setattr("assemblies.layout.made.MOST", 0)
        yield


@pytest.fixture
def tables_only():
    """Of the sheets those that are not drawn: the others take most of the time."""
    with pytest.MonkeyPatch.context() as patch:
        for drawn in ("_drawings", "_templates", "_tube_files", "_frame_files"):
            patch.setattr(f"assemblies.making.sheets.{drawn}", lambda *_: None)
        yield


@pytest.fixture
def refuse(monkeypatch):
    """Has the CAD kernel refuse the solid of one placed thing."""
    from assemblies.making import drawn
    from parts.files.solid import SolidError

    make = drawn.solid

    def refuse(placed, why: str) -> None:
        def solid(form, *more):
            if form.key == placed.form.key:
                raise SolidError(why)
            return make(form, *more)

        monkeypatch.setattr(drawn, "solid", solid)

    return refuse


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish() -> None:
    """The runner looks for rings of garbage five times over when it ends, a second each after a whole suite:
    once is enough, the rest then find nothing to look through."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    from xdist.scheduler import LoadScopeScheduling

    class ByTestOrFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.split("::", 1)[0]
            return TOGETHER.get(file.removeprefix("tests/test_").removesuffix(".py"), nodeid)

    return ByTestOrFile(config, log)
