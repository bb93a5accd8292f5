"""What is taken over from the last study of a job is what would be made again, to the last digit."""

from __future__ import annotations

import pickle
import random
from contextlib import suppress

import pytest

from assemblies.job import Job, JobError, load
from assemblies.layout.made import Made, Watched
from assemblies.study import study
from assemblies.study.kept import keep_made, made_last
from parts.files import cache
from parts.files.remembered import read
from parts.shape.form import Frame
from tests import demos

POINTS = (
    "upper_arm.outer_joint",
    "upper_arm.front_pivot",
    "lower_arm.outer_joint",
    "lower_arm.rear_pivot",
    "tie_rod.outer",
    "rod.inboard",
    "rocker.damper_eye",
    "damper.chassis_eye",
    "wheel.contact",
)
SIZES = (  # and by how much of itself each may grow
    ("rocker.plate_thickness", 0.3),
    ("rocker.box_width", 0.02),
    ("upper_arm.bracket_thickness", 0.2),
    ("lower_arm.tube_wall", 0.2),
    ("rod.wall", 0.2),
    ("car.cg_height", 0.1),
    ("car.mass", 0.1),
    ("corner.corner_mass", 0.05),
    ("corner.bump", 0.05),
    ("damper.longest", 0.01),
    ("damper.shortest", -0.01),
    ("damper.eye_width", 0.05),
    ("spring.length", -0.03),
    ("spring.rate", 0.05),
    ("tie_rod.rack_travel", 0.05),
    ("loads.safety", 0.1),
    ("clearance.tolerance", 0.5),
    ("wheel.static_camber", 1.0),
)


NAMES = ("heronbank-front", "tarnside-front", "corrie-rear")


def job_of(name: str) -> Job:
    return load(demos.JOBS / f"{name}.toml")


def kept(made: Made) -> Made:
    """As the next process has it."""
    return Made(read(pickle.dumps(made.body(), protocol=4)))


def told(job: Job, made: Made) -> str:
    return study(job, interference=False, made=made).results.to_json()


def tweaked(job: Job, dice: random.Random) -> Job:
    """The job with one value changed, or as the other side of the car."""
    kind = dice.choice(("point", "size", "size", "size", "tube", "side", "name"))
    if kind == "point":
        table, _, key = (at := dice.choice(POINTS)).partition(".")
        return job.changed({at: [v + dice.uniform(-0.5, 0.5) for v in getattr(getattr(job, table), key)]})
    if kind == "tube":
        tube = dice.choice([m for m in job.member if getattr(m, "wall", None)])
        return job.changed({f"member.{tube.name}.wall": tube.wall * dice.uniform(0.9, 1.1)})
    if kind == "side":
        return job.mirrored()
    if kind == "name":
        return job.changed({"name": f"{job.name} {dice.randrange(9)}"})
    at, most = dice.choice(SIZES)
    table, _, key = at.partition(".")
    now = getattr(getattr(job, table), key, None)
    return job if now is None else job.changed({at: (now or 1.0) * (1 + most * dice.random())})


def test_a_tweak_of_a_kept_study_is_told_as_a_fresh_one():
    done = demos.corner("heronbank-front")
    for change in ({"rocker.plate_thickness": 3.7}, {"damper.shortest": done.job.damper.shortest - 1}):
        other, last = done.job.changed(change), kept(done.layout.made)
        assert told(other, last) == told(other, Made())
        assert len(last._kept.keys() & last._known.keys()) > 20  # it was taken over


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_any_row_of_tweaks_is_told_as_fresh_studies(name):
    dice = random.Random(f"tweaks of {name}")
    job, made = job_of(name), Made()
    for _ in range(12):
        made = kept(made)
        assert told(job, made) == told(job, Made())
        with suppress(JobError):  # where that cannot be, the same once more
            job = tweaked(job, dice)


def test_equal_numbers_that_are_written_otherwise_are_told_apart():
    made = Made()
    assert [made(repr, x) for x in (0.0, -0.0, 1, 1.0, True)] == ["0.0", "-0.0", "1", "1.0", "True"]
    assert [made(Frame((x, 0.0, 0.0)).matrix)[0, 3] for x in (1.0, 2.0)] == [1.0, 2.0]
    assert made.each("half", [2.0, 4.0], lambda which: [(1.0, 2.0)[k] for k in which]) == [1.0, 2.0]
    assert made.each("half", [4.0, 2.0, 8.0], lambda which: [{2: 4.0}[k] for k in which]) == [2.0, 1.0, 4.0]


def test_an_answer_is_taken_over_while_what_it_asked_for_stays():
    job, made, asked = job_of("heronbank-front"), Made(), []

    def look(j: Job) -> tuple[object, ...]:
        asked.append(j)
        strap = None if j.droop_strap is None else j.droop_strap.length
        return j.car.cg_height, isinstance(j.spring, type(job.spring)), strap

    def looked(j: Job) -> tuple[tuple[object, ...], int]:
        return made.noting("look", None, (j,), look), len(asked)

    coil = job_of("corrie-rear").spring
    first = (job.car.cg_height, True, job.droop_strap.length)
    assert looked(job) == looked(job.changed({"rocker.plate_thickness": 4})) == (first, 1)
    assert looked(job.changed({"car.cg_height": 431})) == ((431.0, True, first[2]), 2)
    assert looked(job) == (first, 3)
    assert looked(job.model_copy(update={"droop_strap": None})) == ((*first[:2], None), 4)
    assert looked(job.model_copy(update={"spring": coil})) == ((first[0], False, first[2]), 5)
    watched = Watched(job)
    assert [getattr(watched, "nothing", 7), getattr(watched, "nothing", 7)] == [7, 7]
    assert watched.asked() == ["nothing"]
    # a method may ask for anything: what it gave is never taken over
    assert made.noting("all", None, (job,), lambda j: j.changed({}).name) == job.name
    assert "all" not in made._known


def test_what_is_kept_is_found_by_the_next_process_and_nothing_else_is(tmp_path, monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    monkeypatch.setattr("parts.files.remembered.cache_folder", cache.cache_folder)
    job, made = job_of("heronbank-front"), Made()
    assert made.once("one", 1, lambda: 1.0) == 1.0
    made.once("a function", 1, lambda: lambda: 1)
    keep_made(job, made)
    assert [*made_last(job)._kept] == [*made.body()] and len(made.body()) == 1
    assert not made_last(job).new
    assert not made_last(job.changed({"name": "another"}))._kept
    assert not made_last(job.mirrored())._kept
    (file,) = tmp_path.glob("*.made")
    file.write_bytes(file.read_bytes()[:-1] + b"?")
    assert not made_last(job)._kept
