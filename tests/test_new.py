"""`new`: every kind it writes is a corner without a stop; the files of tapes and readings are those of the
corner it writes."""

from __future__ import annotations

import re
import tomllib
from itertools import product

import demos
import numpy as np
import pytest

from assemblies.job import STARTER, Job, load
from assemblies.job.kinds import AXLES, RODS, SIDES, SPRINGS, written
from assemblies.tolerances import as_built, measuring
from assemblies.tolerances.readings import read

KINDS = [k for k in product(AXLES, SPRINGS, RODS) if k[1:] != ("coil-over", "pull")]


def run(*args):
    return demos.verb(*args)


def job_of(text):
    return Job.from_dict(tomllib.loads(text))


def stops(text, interference):
    r = demos.known(job_of(text), interference=interference).results
    return [f.text for f in r.findings if f.level == "stop"], r.clearance


@pytest.mark.parametrize("kind", KINDS, ids="-".join)
def test_every_kind_is_what_it_is_called_and_works(kind):
    axle, spring, rod = kind
    text = written(axle, spring, rod)
    job = job_of(text)
    assert (job.spring.kind, job.rod.kind, job.corner.side) == (spring, rod, "left")
    assert (job.tie_rod.rack_travel > 0) == (axle == "front")
    assert stops(text, False)[0] == []


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS, ids="-".join)
def test_every_kind_works_gaps_and_all(kind):
    found, clearance = stops(written(*kind), True)
    assert found == [] and clearance.checked


@pytest.mark.parametrize("kind", KINDS, ids="-".join)
def test_the_right_side_is_the_left_mirrored(kind):
    left, right = (job_of(written(*kind, side)) for side in SIDES)
    assert right.changed({"name": "n"}) == left.mirrored().changed({"name": "n"})


def test_the_command_writes_the_kind_that_is_asked(tmp_path):
    done = run("new", tmp_path / "a.toml", "--axle", "rear", "--spring", "coil-over", "--side", "right")
    assert done.exit_code == 0, done.output
    job = load(tmp_path / "a.toml")
    assert (job.spring.kind, job.rod.kind, job.corner.side) == ("coil-over", "push", "right")
    assert run("new", tmp_path / "b.toml").exit_code == 0
    assert (tmp_path / "b.toml").read_bytes() == STARTER.read_bytes()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--axle", "middle"), "--axle is .middle.; it must be one of front, rear"),
        (("--spring", "coil-over", "--rod", "pull"), "take --rod push"),
        (("--tapes", "--readings"), "two files"),
        (("--tapes", "--axle", "rear"), "leave the kind out"),
    ],
)
def test_a_kind_that_is_not_offered_is_one_line_and_writes_nothing(tmp_path, options, said):
    done = run("new", tmp_path / "a.toml", *options)
    assert done.exit_code == 2 and re.search(said, " ".join(done.output.split()))
    assert list(tmp_path.iterdir()) == []


def test_the_tapes_give_the_points_of_the_corner_that_is_written(tmp_path):
    """Tapes read to 0.5 mm: no point needs measuring again, and each comes back within a millimetre."""
    file = tmp_path / "tapes.toml"
    assert run("new", file, "--tapes").exit_code == 0
    assert run("measure", file).exit_code == 0
    job = tomllib.loads(STARTER.read_text(encoding="utf-8"))
    points = measuring.for_job(measuring.read(file), "left")
    assert len(points) > 12
    for name, place in points.items():
        table, key = name.split(".")
        assert np.abs(np.subtract(place, job[table][key])).max() < 1.0, name


def test_the_readings_are_those_of_the_corner_that_is_written(tmp_path):
    file = tmp_path / "readings.toml"
    assert run("new", file, "--readings").exit_code == 0
    given = read(file)
    assert {r.kind for r in given.readings} >= {"rocker", "damper", "torque", "ride", "thickness"}
    job = load(STARTER)
    e = as_built.estimate(job, demos.known(job, interference=False).springing, given)
    assert e.misfit < 0.5 and (np.abs(e.value) < 2 * e.sigma).all()
    done = run("asbuilt", STARTER, file)
    assert done.exit_code == 0 and "The readings agree with that." in done.output
