"""What the interference check keeps between runs: the same answers, asked for once, and never for something
else."""

from __future__ import annotations

import pytest
from clearance_corner import PULL, bar, box, mechanism

from assemblies.clearance import Body, Limits, check, forget, memory

TRAVEL = (-30.0, 30.0)


@pytest.fixture
def folder(monkeypatch, tmp_path):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "kept"))
    forget()
    yield tmp_path / "kept"
    forget()


def bodies(tube_x=-20.0):
    return [
        Body("rod", "rod", (bar(PULL["rod_outboard"], PULL["rod_inboard"], 16),)),
        Body("tube", "frame", (bar((tube_x, 250, 300), (tube_x, 420, 100), 25),), "fixed"),
        Body("block", "frame", (box((-30, 300, 380), (30, 360, 420)),), "fixed"),
    ]


def asked(parts, between_runs=True, **other):
    return check(parts, mechanism(PULL), TRAVEL, between_runs=between_runs, **other)


def test_a_second_run_asks_nothing_and_says_the_same(folder):
    first = asked(bodies())
    forget()  # a new process
    second = asked(bodies())
    assert first.queries > 0 and second.queries == 0
    assert second.pairs == first.pairs and second.not_checked == first.not_checked


def test_a_moved_tube_asks_for_its_own_pair_only(folder):
    whole = asked(bodies())
    forget()
    moved = asked(bodies(tube_x=-21.0))
    forget()
    alone = asked(bodies(tube_x=-21.0), between_runs=False)
    assert 0 < moved.queries < whole.queries
    assert {(p.a, p.b): p.gap_mm for p in moved.pairs} == pytest.approx(
        {(p.a, p.b): p.gap_mm for p in alone.pairs}, abs=0.1
    )
    assert next(p for p in moved.pairs if "block" in (p.a, p.b)) == next(
        p for p in whole.pairs if "block" in (p.a, p.b)
    )


@pytest.mark.parametrize("other", [{"tolerance_mm": 0.05}, {"limits": Limits(fixed=40.0)}, {"rack_mm": 5.0}])
def test_another_question_is_not_answered_by_what_was_kept(folder, other):
    asked(bodies())
    forget()
    assert asked(bodies(), **other).queries > 0


def test_another_version_of_the_check_does_not_take_what_an_older_one_kept(folder, monkeypatch):
    asked(bodies())
    forget()
    monkeypatch.setattr(memory, "_source", lambda: "another")
    assert asked(bodies()).queries > 0


def test_a_damaged_file_counts_as_none(folder):
    first = asked(bodies())
    (file,) = folder.glob("*.gaps")
    data = bytearray(file.read_bytes())
    data[-20] ^= 1
    file.write_bytes(bytes(data))
    forget()
    again = asked(bodies())
    assert again.queries == first.queries and again.pairs == first.pairs


def test_nothing_is_kept_unless_it_is_asked_for_and_allowed(folder, monkeypatch):
    asked(bodies(), between_runs=False)
    assert not folder.exists()
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")
    forget()
    asked(bodies())
    forget()
    assert asked(bodies()).queries > 0 and not folder.exists()
