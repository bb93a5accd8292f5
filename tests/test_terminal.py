"""What a builder sees first: a screen of 80 columns, worst findings before others, the verdict last."""

import os
import subprocess
import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import demos
import pytest

from assemblies.results import summary
from assemblies.results.findings import Finding, worst_first
from assemblies.results.told import tell, untold

JOBS = sorted((Path(__file__).parent.parent / "assemblies" / "jobs").glob("*.toml"))


@lru_cache
def results(name: str):
    return demos.corner(name).results


@pytest.mark.parametrize("job", JOBS, ids=lambda p: p.stem)
@pytest.mark.parametrize("columns", [60, 80, 120])
def test_a_check_fits_one_screen_and_no_line_breaks(job, columns, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(columns))
    r = results(job.stem)
    many = [Finding(level="stop", code="x", where=f"part {k}", text="It clashes. " * 30) for k in range(40)]
    for shown in (r, replace(r, findings=[*r.findings, *many])):
        lines = summary.brief(shown, "      a hint").splitlines()
        assert max(map(len, lines)) <= columns
        assert columns < 80 or len(lines) <= 60
        assert summary.CAUTION.split()[-1] in lines[-1]
        assert "not checked" in " ".join(" ".join(lines[:2]).split())


def test_what_does_not_fit_is_counted_by_name():
    r = results(JOBS[0].stem)
    stops = [Finding(level="stop", code="x", where=f"part {k}", text="It clashes here.") for k in range(50)]
    said = " ".join(summary.found_in_brief(replace(r, findings=stops)))
    shown = said.count("STOP")
    assert f"and {50 - shown} more, {50 - shown} of them stops: part {shown}; part {shown + 1}" in said


def test_notes_are_told_a_line_each_and_bodies_as_one_says_them():
    """As many notes as leave the whole within 60 lines, the rest counted; a key of the job stays a key."""
    r = results("heronbank-front")
    text = "upper_arm to tie_rod: set lower_arm.tube_wall; rod.on = 'upper_arm'. " * 2
    many = [Finding(level="note", code="x", where="lower_arm", text=text) for _ in range(40)]
    lines = summary.brief(replace(r, findings=many)).splitlines()
    told = [line for line in lines if line.startswith("NOTE")]
    assert 55 <= len(lines) <= 60 and len(told) > 5
    assert f"and {40 - len(told)} more notes" in "\n".join(lines)
    said = "\n".join(summary.found(replace(r, findings=many[:1])))
    assert "NOTE  lower arm" in said and "upper arm to tie rod: set lower_arm.tube_wall" in said
    assert "'upper_arm'" in said


def test_worst_first_is_by_how_bad_within_a_level():
    rows = [("warn", 9.0), ("stop", 1.02), ("stop", 3.4), ("warn", 1.0), ("note", 1.0), ("warn", 1.3)]
    found = worst_first([Finding(level=a, code="", where="", text="", severity=b) for a, b in rows])
    assert [(f.level, f.severity) for f in found] == [
        ("stop", 3.4),
        ("stop", 1.02),
        ("warn", 9.0),
        ("warn", 1.3),
        ("warn", 1.0),
        ("note", 1.0),
    ]


def test_assumptions_told_once_are_not_told_again(tmp_path, monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    rows, file = results(JOBS[0].stem).assumed, tmp_path / "mine.toml"
    assert untold(file, rows) == rows
    tell(file, rows[2:])
    assert untold(file, rows) == rows[:2]
    assert untold(tmp_path / "another.toml", rows) == rows
    changed = [replace(a, value="9") for a in rows[2:3]]
    assert untold(file, changed) == changed
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")
    assert untold(file, rows) == rows


def test_version_and_verbs_by_the_order_of_the_work():
    run = [sys.executable, "-m", "assemblies.command.cli"]
    env = {**os.environ, "COLUMNS": "80"}
    asked = [
        subprocess.run([*run, word], capture_output=True, text=True, encoding="utf-8", env=env, check=True)
        for word in ("--version", "--help")
    ]
    assert asked[0].stdout.split()[0] == "rockershed" and asked[0].stdout.split()[1][0].isdigit()
    said = asked[1].stdout
    places = [
        said.index(f"\n{title}:") for title in ("Begin", "Look", "Make", "Set up", "The program itself")
    ]
    assert places == sorted(places) and "\nMore:" not in said
    assert max(map(len, said.splitlines())) <= 80


@pytest.mark.parametrize("columns", [60, 80])
def test_a_wide_table_keeps_to_the_screen_and_every_cell(columns, monkeypatch):
    """Words go below their row, heads and the first column over several lines; nothing is cut."""
    from assemblies.setup.words import table

    monkeypatch.setenv("COLUMNS", str(columns))
    head = ["what it is that is told here", "wind, deg", "rises, mm", "bolt it at", ""]
    rows = [
        [
            "ride height, car up, before correction",
            "+0.91",
            "-10.8",
            "row 1: inner 0, outer 90 deg, " * 3,
            "MPa",
        ]
    ] * 2
    lines = table(head, rows)
    assert max(map(len, lines)) <= columns
    said = " ".join(" ".join(lines).split())
    for words in (
        "outer 90 deg, row 1: inner 0",
        "+0.91",
        "-10.8",
        "MPa",
        "bolt it at: row 1",
        "before correction",
    ):
        assert said.count(words) >= 2, words
    short = table(["a", "b"], [["x", "1"]])
    assert short == ["  a  b", "  x  1"]
