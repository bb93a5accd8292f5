"""Thousands of spoilt jobs: every one ends in one clear error or in honest findings, never in a traceback, a
`nan` or an `inf`.

Seeded. ROCKERSHED_FUZZ=3000 runs that many jobs, ROCKERSHED_FUZZ_FROM=100 starts at another seed.
"""

from __future__ import annotations

import copy
import json
import math
import os
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from assemblies.job import STARTER, Job, JobError
from assemblies.results.summary import text
from assemblies.study import study

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
SEEDS = [STARTER, *sorted(JOBS.glob("*.toml"))]
COUNT = int(os.environ.get("ROCKERSHED_FUZZ", "36"))
FIRST = int(os.environ.get("ROCKERSHED_FUZZ_FROM", "0"))
NO_NUMBER = re.compile(r"(?<![A-Za-z])[-+]?(nan|inf)(?![A-Za-z])|[0-9]{12,}", re.IGNORECASE)

ODD = (
    None, True, "", "x", "1/8 in", "12,5", "nan", math.nan, math.inf, 0, 0.0, -1, 1e-9, 1e300, 10**400,
    [], [1, 2], [1, 2, 3],
    {}, {"a": 1}, "Ж", "a\tb", "\x1b[31mred", "x" * 5000, [[0, 0], [1, 1]],
)  # fmt: skip


def places(table, path=()):
    """Every leaf of a job's tables: (path, value); a list of numbers is one leaf and so is each of its
    numbers."""
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))
        yield (*path, key), value


def put(table, path, value):
    for at in path[:-1]:
        table = table[at]
    if value is ...:
        del table[path[-1]]
    else:
        table[path[-1]] = value


def number(value, rng):
    """A slip of the pen in one number: sign, decade, unit, a digit, a decimal comma lost."""
    value = value if abs(value) < 1e300 else 1e300
    way = rng.integers(9)
    return [
        -value, value * 10, value / 10, value * 25.4, value / 25.4, value + float(rng.normal(0, 100)),
        0.0, value * 1000, float(rng.uniform(-2, 2)) * value,
    ][way]  # fmt: skip


def spoilt(seed: int) -> dict:
    """A job file's tables with one to three slips in them."""
    rng = np.random.default_rng(seed)
    job = copy.deepcopy(tomllib.loads(SEEDS[seed % len(SEEDS)].read_text(encoding="utf-8")))
    for _ in range(rng.integers(1, 4)):
        found = list(places(job))
        path, value = found[rng.integers(len(found))]
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if plain and rng.random() < 0.8:
            put(job, path, number(value, rng))
        elif isinstance(value, list) and len(value) == 3 and rng.random() < 0.6:
            put(job, path, [value[i] for i in rng.permutation(3)])
        elif isinstance(value, list) and rng.random() < 0.5:
            others = [v for _, v in found if isinstance(v, list) and len(v) == len(value)]
            put(job, path, copy.deepcopy(others[rng.integers(len(others))]))
        elif rng.random() < 0.3:
            put(job, path, ...)
        else:
            odd = ODD[rng.integers(len(ODD))]
            put(job, path, "so" if odd == "nan" and path[-1] == "name" else odd)  # a name may be any word
    return job


def holds(tables: dict, interference: bool = False) -> int:
    """Study the job as the command does: its exit status. Fails where a reader would meet what no one can
    use."""
    try:
        job = Job.from_dict(tables)
    except JobError as e:
        said = str(e)
        assert said.strip() and all(line.isprintable() for line in said.split("\n")), said
        assert len(said) < 20_000
        return 2
    try:
        results = study(job, interference=interference).results
    except JobError as e:
        assert str(e).strip()
        return 2
    said = text(results)
    assert not (found := NO_NUMBER.search(said)), said[max(0, found.start() - 200) : found.end() + 50]
    assert "Error" not in said and "Traceback" not in said, said
    json.loads(results.to_json())
    assert not re.search(r"\b(NaN|Infinity)\b", results.to_json())
    for f in results.findings:
        assert not NO_NUMBER.search(f.text), f.text
        assert f.text.strip().endswith((".", ")", "?")) and len(f.text) < 1500, f.text
    return 1 if any(f.level == "stop" for f in results.findings) else 0


@pytest.mark.slow
def test_no_slip_of_the_pen_gets_past_with_a_traceback():
    statuses = []
    for seed in range(FIRST, FIRST + COUNT):
        try:
            statuses.append(holds(spoilt(seed), interference=seed % 12 == 0))
        except Exception as e:
            raise AssertionError(f"seed {seed}") from e
    assert {0, 1, 2} >= set(statuses) and len(set(statuses)) > 1
