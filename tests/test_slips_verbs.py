"""Spoilt files of tapes, readings and swings and odd options through the verbs: exit 0, 1 or 2, never a
traceback; a job file that is written into is whole or as it was.

Seeded. ROCKERSHED_FUZZ_VERBS=2000 runs that many, ROCKERSHED_FUZZ_FROM=100 starts at another seed.
"""

import copy
import os
import tomllib
from pathlib import Path

import demos
import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies import swing, tolerances
from assemblies.command.cli import app
from assemblies.job import load
from assemblies.job.rewrite import literal
from tests.test_slips_fuzz import FIRST, NO_NUMBER, ODD, SEEDS, number, places, put

COUNT = int(os.environ.get("ROCKERSHED_FUZZ_VERBS", "24"))
FILES = [Path(tolerances.__file__).with_name(f"{n}.toml") for n in ("tapes", "readings")]
NUMBERS = (0, -1, 1, 12, -30, 45, 600, 1e9, -1e-9, "nan", "inf", "12,5", "x", "")
SWING = Path(swing.__file__).with_name("starter.toml")
VERBS = (
    "measure", "asbuilt", "correct", "clock", "corners", "side", "new", "into", "swing", "tolerance", "steer",
    "compare",
)  # fmt: skip
OPTIONS = {
    "correct": ("--low", "--weighed", "--sleeve", "--anchor", "--within"),
    "clock": ("--wind", "--count", "--step", "--lever"),
    "tolerance": ("--builds", "--point", "--seed"),
}


def spoilt(file: Path, rng) -> str:
    """The file's text with one to three slips in it."""
    tables = copy.deepcopy(tomllib.loads(file.read_text(encoding="utf-8")))
    for _ in range(rng.integers(1, 4)):
        path, value = (found := list(places(tables)))[rng.integers(len(found))]
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        odd = [v for v in ODD if v not in (None, "nan") and not (isinstance(v, int) and abs(v) > 2**63)]
        put(tables, path, number(value, rng) if plain and rng.random() < 0.7 else odd[rng.integers(len(odd))])
    return "\n".join(f"{k} = {literal(v)}" for k, v in tables.items())


def words(seed: int, folder: Path) -> list[str]:
    rng = np.random.default_rng(seed)
    job = str(SEEDS[rng.integers(len(SEEDS))])
    verb = VERBS[seed % len(VERBS)]
    if verb in ("measure", "asbuilt"):
        file = folder / f"{seed}.toml"
        file.write_text(spoilt(FILES[verb == "asbuilt"], rng), encoding="utf-8")
        return [verb, *([job] if verb == "asbuilt" else []), str(file)]
    if verb == "into":
        file, goal = folder / f"{seed}.toml", folder / f"{seed}-job.toml"
        file.write_text(FILES[0].read_text("utf-8") if seed % 2 else spoilt(FILES[0], rng), encoding="utf-8")
        ends = "\r\n" if seed % 3 == 0 else "\n"
        goal.write_text(Path(job).read_text(encoding="utf-8"), encoding="utf-8", newline=ends)
        return ["measure", str(file), "--into", str(goal)]
    if verb == "swing":
        file = folder / f"{seed}.toml"
        file.write_text(spoilt(SWING, rng), encoding="utf-8")
        return [verb, str(file), "--numbers"]
    if verb in ("steer", "compare"):
        path, value = (found := list(places(load(job).to_dict())))[rng.integers(len(found))]
        key = ".".join(map(str, path))
        slip = f"{number(value, rng):.6g}" if isinstance(value, float) else ODD[rng.integers(len(ODD))]
        change = [] if rng.random() < 0.3 and verb == "steer" else ["--change", f"{key}={slip}"]
        return [verb, job, *change, "--no-interference", "--out", str(folder / "out")]
    if verb in OPTIONS:
        odd = [
            w
            for o in OPTIONS[verb]
            if rng.random() < 0.5
            for w in (o, str(NUMBERS[rng.integers(len(NUMBERS))]))
        ]
        return [verb, job, *odd]
    if verb == "corners":
        return [verb, job, job, "--", *(str(NUMBERS[rng.integers(len(NUMBERS))]) for _ in range(4))]
    if verb == "side":
        return [verb, job, str(folder / f"{seed}-other.toml")]
    kinds = ("front", "rear", "leaf-pack", "coil-over", "push", "pull", "left", "x", "")
    some = [
        w for o in ("--axle", "--spring", "--rod", "--side") for w in (o, kinds[rng.integers(len(kinds))])
    ]
    return [verb, str(folder / f"{seed}-new.toml"), *some]


@pytest.mark.slow
def test_no_verb_ends_in_a_traceback_or_in_no_number(tmp_path):
    statuses = set()
    for seed in range(FIRST, FIRST + COUNT):
        given = words(seed, tmp_path)
        goal = Path(given[-1]) if "--into" in given else None
        was = goal.read_bytes() if goal else b""
        done = demos.verb(*given, env={"NO_COLOR": "1"})
        assert done.exception is None or isinstance(done.exception, SystemExit), (seed, given, done.exception)
        if goal:
            load(goal)
            assert done.exit_code != 2 or goal.read_bytes() == was, (seed, given)
        said = done.output.replace(str(tmp_path), "")
        if done.exit_code != 2:  # an error may quote what was given
            assert not NO_NUMBER.search(said), (seed, given, said)
        assert all(line.isprintable() for line in said.split("\n")), (seed, given, said)
        assert "Traceback" not in said and done.exit_code in (0, 1, 2), (seed, given)
        statuses.add(done.exit_code)
    assert len(statuses) > 1


@pytest.mark.parametrize(
    "given, said",
    [
        ("build JOB --paper A7", 'paper is "A7"; known: A4, A3, Letter'),
        ("build JOB --only blank", "'blank' is none of"),
        ("build JOB --scale-x nan", "scale_x is nan"),
        ("build JOB --shrink 3", "--shrink"),
        ("nest JOB --effort 0", "--effort"),
        ("nest JOB --seconds nan", "--seconds"),
        ("nest JOB --seed -1", "--seed"),
        ("fea JOB --size nan", "--size"),
        ("swept JOB --error nan", "--error"),
        ("swept JOB --scale-y 0", "scale_y is 0"),
        ("watch JOB --port 70000", "--port"),
        ("tolerance JOB --seed -1", "--seed"),
        ("tolerance JOB --point nan", "--point"),
        ("tolerance JOB --point 26", "--point"),
        ("compare JOB", "--change"),
        ("steer JOB JOB", "corner.side"),
        ("check JOB --change corner.bump", "KEY=VALUE"),
        ("check JOB --change corner.bmp=3", "did you mean 'bump'"),
        ("check gone.toml", "no such file"),
        ("corners JOB JOB 1 2 3 nan", "above 0 kg"),
    ],
)
def test_an_option_that_cannot_be_ends_in_one_line_and_touches_nothing(given, said, tmp_path):
    job = str(SEEDS[1])
    words = [job if w == "JOB" else w for w in given.split()]
    if words[0] in ("build", "nest", "fea", "swept", "watch", "compare", "steer"):
        words += ["--out", str(tmp_path / "out")]
    done = CliRunner().invoke(app, words, env={"NO_COLOR": "1", "COLUMNS": "400"})
    assert done.exit_code == 2 and said in done.output, done.output
    assert not any(p.is_file() for p in tmp_path.rglob("*")) and "Traceback" not in done.output
