"""Spoilt files of tapes and readings and odd options through the verbs: exit 0, 1 or 2, never a traceback.

Seeded. ROCKERSHED_FUZZ_VERBS=2000 runs that many, ROCKERSHED_FUZZ_FROM=100 starts at another seed.
"""

import copy
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies import tolerances
from assemblies.command.cli import app
from assemblies.job.rewrite import literal
from tests.test_slips_fuzz import FIRST, NO_NUMBER, ODD, SEEDS, number, places, put

COUNT = int(os.environ.get("ROCKERSHED_FUZZ_VERBS", "60"))
FILES = [Path(tolerances.__file__).with_name(f"{n}.toml") for n in ("tapes", "readings")]
NUMBERS = (0, -1, 1, 12, -30, 45, 600, 1e9, -1e-9, "nan", "inf", "12,5", "x", "")
OPTIONS = {
    "correct": ("--low", "--weighed", "--sleeve", "--anchor", "--within"),
    "clock": ("--wind", "--count", "--step", "--lever"),
}


def spoilt(file: Path, rng) -> str:
    """The file's text with one to three slips in it."""
    tables = copy.deepcopy(tomllib.loads(file.read_text(encoding="utf-8")))
    for _ in range(rng.integers(1, 4)):
        path, value = (found := list(places(tables)))[rng.integers(len(found))]
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        odd = [v for v in ODD if v is not None and not (isinstance(v, int) and abs(v) > 2**63)]
        put(tables, path, number(value, rng) if plain and rng.random() < 0.7 else odd[rng.integers(len(odd))])
    return "\n".join(f"{k} = {literal(v)}" for k, v in tables.items())


def words(seed: int, folder: Path) -> list[str]:
    rng = np.random.default_rng(seed)
    job = str(SEEDS[rng.integers(len(SEEDS))])
    verb = ("measure", "asbuilt", "correct", "clock", "corners", "side", "new")[seed % 7]
    if verb in ("measure", "asbuilt"):
        file = folder / f"{seed}.toml"
        file.write_text(spoilt(FILES[verb == "asbuilt"], rng), encoding="utf-8")
        return [verb, *([job] if verb == "asbuilt" else []), str(file)]
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
        done = CliRunner().invoke(app, given, env={"NO_COLOR": "1"})
        assert done.exception is None or isinstance(done.exception, SystemExit), (seed, given, done.exception)
        said = done.output.replace(str(tmp_path), "")
        if done.exit_code != 2:  # an error may quote what was given
            assert not NO_NUMBER.search(said), (seed, given, said)
        assert "Traceback" not in said and done.exit_code in (0, 1, 2), (seed, given)
        statuses.add(done.exit_code)
    assert len(statuses) > 1
