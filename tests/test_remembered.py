"""What is kept between runs by content: nothing stale, nothing broken, nothing that runs."""

import os
import pickle
import sys
import zlib
from dataclasses import dataclass, replace
from importlib.metadata import distributions
from importlib.metadata import version as installed
from pathlib import Path

import demos
import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.layout import step_neighbours
from assemblies.results import summary
from parts.base.version import records, version
from parts.files import cache, remembered
from parts.files.remembered import Unnamed, content, once
from parts.shape.form import Form, Frame, Round
from parts.shape.outline import Hole, Outline, rectangle


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    return tmp_path


GIVEN = (
    Outline(rectangle(0, 0, 40, 20), holes=(Hole(5, 5, 6, "pin", "reamed"),)),
    {"a": [1, 2.0, None, True], "b": frozenset({"x", "y"})},
    Form((Round(30.0, 100.0, 26.0, Frame((1.0, 2.0, 3.0))),)),
    np.array([[1.0, 2.0]]),
)


def _changed():
    """Each with one thing in it another."""
    outline, table, form, array = GIVEN
    hole = outline.holes[0]
    yield replace(outline, holes=(replace(hole, fit="jig"),)), table, form, array
    yield replace(outline, holes=(replace(hole, x=np.nextafter(hole.x, 9)),)), table, form, array
    yield outline, {"a": [1, 2.0, None, 1], "b": table["b"]}, form, array
    yield outline, {"a": [1, 2, None, True], "b": table["b"]}, form, array
    yield outline, {"b": table["b"], "a": table["a"]}, form, array
    yield outline, {"a": [1, 2.0, None, True], "b": frozenset({"xy"})}, form, array
    yield outline, table, Form((replace(form.pieces[0], bore_mm=26.5),)), array
    yield outline, table, form, np.array([[1.0, -2.0]])
    yield outline, table, form, np.array([1.0, 2.0])
    yield outline, table, form, np.array([[1, 2]])
    yield outline, table, form


def test_every_number_and_word_goes_into_the_name():
    names = [content(g) for g in (GIVEN, *_changed())]
    assert len(set(names)) == len(names)
    assert content(GIVEN) == content(pickle.loads(pickle.dumps(GIVEN))), "the same content has the same name"
    assert content(("a|b", "c")) != content(("a", "b|c"))


def test_a_value_is_made_once_and_again_where_input_tool_or_file_is_another(own_cache, monkeypatch):
    made = []

    def make(of):
        made.append(of)
        return replace(GIVEN[2], volume_mm3=float(len(of))), np.arange(3)

    def ask(of):
        value, numbers = once("try", of, lambda: make(of))
        assert (
            value.volume_mm3 == len(of) and value.pieces == GIVEN[2].pieces and numbers.tolist() == [0, 1, 2]
        )

    ask("one"), ask("one"), ask("two")
    assert made == ["one", "two"]
    once("another maker", "one", lambda: made.append("other"))
    assert made.pop() == "other"
    file = max(own_cache.glob("*.value"), key=lambda p: p.stat().st_size)
    for break_ in (lambda b: b[:-1] + bytes([b[-1] ^ 1]), lambda b: b[: len(b) // 2], lambda b: b""):
        kept = {p: p.read_bytes() for p in own_cache.glob("*.value")}
        for path, body in kept.items():
            path.write_bytes(break_(body))
        ask("one"), ask("two")
        assert made == ["one", "two", "one", "two"], f"a broken {file.name} was used"
        del made[2:]
    monkeypatch.setattr(cache, "tool", lambda: "a newer version")
    ask("one")
    assert made == ["one", "two", "one"]


def test_what_cannot_be_named_whole_is_never_kept(own_cache):
    @dataclass
    class Foreign:
        x: int = 1

    for given in (Foreign(), lambda: 1, object(), np.array([object()], object)):
        with pytest.raises(Unnamed):
            content(given)
        assert [once("x", given, lambda n=n: n) for n in (1, 2)] == [1, 2]
    assert not list(own_cache.iterdir())


def test_a_file_that_would_run_something_is_not_read(own_cache):
    class Runs:
        def __reduce__(self):
            return os.mkdir, (str(own_cache / "ran"),)

    class Ours:
        def __reduce__(self):
            return remembered.once, ("x", 1, int)

    for bad in (Runs(), Ours()):
        name = cache.key("x", content(1))
        cache.keep(name, "value", zlib.compress(pickle.dumps(bad)))
        assert once("x", 1, lambda: "made") == "made"
    assert not (own_cache / "ran").exists()


def test_the_tool_is_named_by_all_of_its_files_and_every_library(tmp_path, monkeypatch):
    rooms = [demos.JOBS.parent, demos.JOBS.parents[1] / "parts"]
    files = {p for room in rooms for p in room.rglob("*") if p.is_file() and p.parent.name != "__pycache__"}
    assert {Path(p) for room in rooms for p in cache._files(str(room))} == {
        p for p in files if p.parent != demos.JOBS
    }
    plain = str.maketrans("-.", "__")
    for d in distributions():
        record = f"{d.metadata['Name']}-{d.version}".lower().translate(plain)
        assert any(n.lower().translate(plain).startswith(record) for n in records()), record
    assert version() == installed("rockershed")
    named = cache.tool.__wrapped__()
    assert named == cache.tool.__wrapped__()
    (tmp_path / "numpy-99.0.dist-info").mkdir()
    monkeypatch.setattr(sys, "path", [*sys.path, str(tmp_path)])
    assert cache.tool.__wrapped__() != named


def test_the_tool_is_another_where_any_of_its_files_is(tmp_path, monkeypatch):
    """Whatever they hold, a line that reads as the next one's name among it."""
    a, b = tmp_path / "a.py", tmp_path / "b.py"
    monkeypatch.setattr(cache, "_files", lambda room: [str(a), str(b)] if room.endswith("parts") else [])
    next_one = str(b)[len(str(demos.JOBS.parents[1])) :] + "\n"
    held = [("x = 1\n", "y = 2\n"), ("x = 2\n", "y = 1\n"), ("y = 2\n", "x = 1\n"), ("x = 1\ny = 2\n", "")]
    names = set()
    for first, second in [*held, (next_one, ""), ("", next_one)]:
        a.write_text(first)
        b.write_text(second)
        names.add(cache.tool.__wrapped__())
    assert len(names) == len(held) + 2


def test_a_check_is_told_as_before_only_where_nothing_of_it_changed(own_cache, tmp_path, monkeypatch):
    """Words, `--json` and exit status of the same study, worked once; another value, a default now given, a
    neighbour's file, a question or a tool that is another is worked anew, and after a fault each time."""
    from assemblies import study as room
    from assemblies.results.faults import fault

    sound, worked, more = demos.corner("heronbank-front"), [], []

    def study(job, **asked):
        worked.append((job, asked))
        return replace(sound, job=job, results=sound.results.grown(more))

    monkeypatch.setattr(room, "study", study)
    monkeypatch.setattr(step_neighbours, "read", lambda *_: None)
    file, neighbour = tmp_path / "job.toml", tmp_path / "pump.step"
    text = (demos.JOBS / "heronbank-front.toml").read_text(encoding="utf-8")
    text += '[[member]]\nname = "pump"\nshape = "step"\nfile = "pump.step"\n'
    file.write_text(text, encoding="utf-8"), neighbour.write_text("one")

    def check(*more, new):
        before = len(worked)
        done = CliRunner().invoke(app, ["check", str(file), *more])
        assert len(worked) - before == new and not done.stderr, (more, done.output)
        return done.exit_code, done.stdout

    assert check(new=1) == check(new=0) and check("--json", new=0) == (0, sound.results.to_json())
    assert check("--full", new=0)[1] == summary.text(sound.results)
    check("--no-interference", new=1), check("--change", "rocker.plate_thickness=3.5", new=1)
    check("--cures", new=1), check(new=0)
    neighbour.write_text("two")
    check(new=1), check(new=0)
    file.write_text(text.replace("\nfixed = 8", "\nfixed = 8\ntolerance = 0.1"), encoding="utf-8")
    check(new=1), check(new=0)
    monkeypatch.setattr(cache, "tool", lambda: "a newer version")
    check(new=1), check(new=0)
    more.append(fault("strength", MemoryError()))
    file.write_text(text, encoding="utf-8"), neighbour.write_text("three")
    assert [check(new=1)[0], check(new=1)[0]] == [1, 1]
    more.clear()
    assert check(new=1)[0] == check(new=0)[0] == 0
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")
    check(new=1), check(new=1)


def test_the_oldest_of_each_kind_go_first(monkeypatch, tmp_path):
    """Of two kinds, three of each may stay: by hand, what was kept last."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    monkeypatch.setattr(cache, "MOST_FILES", 3)
    for n in range(5):
        for kind in ("step", "value"):
            cache.keep(f"{n}", kind, b"x")
            os.utime(tmp_path / f"{n}.{kind}", (n, n))
    assert len(list(tmp_path.iterdir())) == 10  # one name in 256 has the folder looked through
    cache.keep("00", "told", b"x"), (tmp_path / "00.told").unlink()
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        f"{n}.{k}" for n in (2, 3, 4) for k in ("step", "value")
    ]
    monkeypatch.setattr(cache, "MOST_BYTES", 2 * (tmp_path / "4.step").stat().st_size)
    cache._thin(tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        f"{n}.{k}" for n in (3, 4) for k in ("step", "value")
    ]
