"""What `bench` prints and keeps; what it measures is no test."""

import sys
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from assemblies.bench import runner
from assemblies.bench.runner import Ratio, run
from assemblies.command.cli import app


@pytest.fixture
def measured(monkeypatch, tmp_path):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    given = {}
    for name in ("one", "two"):
        room = SimpleNamespace(bench=lambda name=name: [Ratio(name, given[name], 2.0, at_least=False)])
        monkeypatch.setitem(sys.modules, f"assemblies.bench.{name}", room)

    def bench(rooms, **ratios):
        given.update(ratios)
        said = []
        status = run(said.append, rooms)
        return status, [line for line in said if not line.endswith("...")]

    return bench


def test_its_last_runs_stand_beside_with_what_was_different_then(measured, monkeypatch):
    machine = runner._machine()
    monkeypatch.setattr(runner, "_machine", lambda: [*machine[:-2], "shapely 1.0", machine[-1]])
    status, said = measured(["one"], one=1.5)
    assert status == 0 and len(said) == 2 and "before" not in "".join(said)
    assert said[1].split() == ["met", "1.500", "<=", "2", "one"]
    monkeypatch.setattr(runner, "_machine", lambda: machine)
    status, said = measured(["one", "two"], one=2.5, two=1.0)
    assert status == 1 and said[1].endswith(", then with shapely 1.0")
    assert said[2].startswith("MISSED") and said[2].endswith("one  (before: 1.500)")
    assert said[3].endswith("two")
    for _ in range(3):
        status, said = measured(["two"], two=1.25)
    assert said[-1].endswith("(before: -, 1.000, 1.250, 1.250)") and "then with" in said[1]


def test_one_that_is_ended_early_keeps_what_it_has(measured):
    with pytest.raises(KeyError):
        measured(["one", "two"], one=1.75)
    assert measured(["one"], one=1.5)[1][-1].endswith("(before: 1.750)")


def test_a_room_that_there_is_not_is_one_line():
    done = CliRunner().invoke(app, ["bench", "sped"])
    assert done.exit_code == 2 and "work, watching" in done.output
