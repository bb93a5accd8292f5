"""A corner's numbers are its own: neither its side, nor its place along the car, nor the order of its members
changes one.

Reflection and translation are symmetries of mechanics; the job's conventions say how each key turns with
them (shared conventions: ISO 8855 axes; an axis of rotation is an axial vector).
"""

import math
from dataclasses import asdict
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from assemblies.job import Job, load
from assemblies.job.sense import POINTS
from assemblies.study import study

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
SHIFT_MM = 731.25
SIGNED = {"rod_inboard_tilt_deg", "damper_tilt_deg"}  # about the rocker's axis as given, which turns round
VECTORS = {"axis", "force", "moment", "size", "turn"}  # three numbers that are no place


def drawn(name: str, seed: int) -> Job:
    """A demo with its points a little off, so that nothing is level, square or round by luck."""
    job, rng = load(JOBS / f"{name}.toml"), np.random.default_rng(seed)
    return job.changed(
        {
            key: [round(float(v), 2) for v in np.add(_get(job, key), rng.normal(0, 1.5, 3))]
            for key in POINTS
            if key != "wheel.contact"
        }
    )


def _get(job: Job, key: str):
    for name in key.split("."):
        job = getattr(job, name)
    return job


def shifted(job: Job, by_mm: float) -> Job:
    """Every place of the job further forward."""

    def go(value, key=""):
        if isinstance(value, dict):
            return {k: go(v, k) for k, v in value.items()}
        if isinstance(value, list | tuple):
            place = len(value) == 3 and key not in VECTORS and all(isinstance(v, int | float) for v in value)
            return [value[0] + by_mm, *value[1:]] if place else [go(v, key) for v in value]
        return value

    return Job.from_dict(go(job.to_dict()))


def turned_round(job: Job) -> Job:
    written = job.to_dict()
    return Job.from_dict(written | {"member": written.get("member", [])[::-1]})


@cache
def numbers(job: Job) -> tuple[dict, dict, set, dict]:
    """Strength rows by item and check, the scalars and curves of motion and springing, findings' codes; what
    is said of ends, clocking, set-up and geometry."""
    r = study(job, interference=False).results
    rows = {(c.item, c.check): (c.demand, c.resistance, c.use, c.case, c.ok) for c in r.strength.checks}
    curves = {}
    for group in (r.travel, r.spring):
        for key, value in vars(group).items():
            if isinstance(value, int | float | list):
                curves[key] = value
    whole = {g: asdict(getattr(r, g)) for g in ("ends", "clocking", "setup", "geometry")}
    return rows, curves, {(f.level, f.code) for f in r.findings}, dict(leaves(whole))


def leaves(value, path=()):
    """Every number and text, by its place."""
    if isinstance(value, dict | list):
        for key, v in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(v, (*path, key))
    else:
        yield path, value


CASES = [("heronbank-front", 1), ("corrie-rear", 2), ("tarnside-front", 3)]
WAYS = {
    "mirrored": Job.mirrored,
    "shifted": lambda job: shifted(job, SHIFT_MM),
    "members turned round": turned_round,
}


@pytest.mark.slow
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name, seed", CASES)
def test_no_number_changes(name, seed, way):
    job = drawn(name, seed)
    rows, curves, codes, told = numbers(job)
    other, bent, said, again = numbers(WAYS[way](job))
    assert rows.keys() == other.keys() and curves.keys() == bent.keys() and codes == said
    assert list(rows) == list(other)  # in the same order
    assert told.keys() == again.keys()
    for key, value in told.items():
        near = isinstance(value, float)
        assert again[key] == (pytest.approx(value, rel=1e-6, abs=1e-6) if near else value), key
    for key, (demand, resistance, use, case, ok) in rows.items():
        got = other[key]
        assert got[0] == pytest.approx(demand, rel=1e-6, abs=1e-6), key
        assert got[1] == pytest.approx(resistance, rel=1e-6), key
        assert (math.isinf(use) and math.isinf(got[2])) or got[2] == pytest.approx(use, rel=1e-6, abs=1e-9), (
            key
        )
        assert got[4] == ok and (got[3] == case or use < 1e-9), key
    for key, value in curves.items():
        sign = -1.0 if way == "mirrored" and key in SIGNED else 1.0
        a, b = np.asarray(value, float), sign * np.asarray(bent[key], float)
        assert a.shape == b.shape and np.allclose(a, b, rtol=1e-6, atol=1e-6, equal_nan=True), key
