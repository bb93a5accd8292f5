"""What is taken over from the last study of a job is what would be made again, to the last digit."""

from __future__ import annotations

import pickle
import random
from contextlib import suppress
from dataclasses import replace
from types import SimpleNamespace

import demos
import numpy as np
import pytest
from clearance_corner import mechanism

from assemblies.clearance import Body
from assemblies.clearance.probe import Probe, ProbedBodies
from assemblies.job import Job, JobError, load
from assemblies.layout import made as layout_made
from assemblies.layout.made import Made, Watched
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.stops import bump_end, droop_end
from assemblies.strength import brackets, by_part, lug, spring, tubes
from assemblies.strength.corner import _forces
from assemblies.strength.row import Check
from assemblies.strength.stops import travel_ends
from assemblies.study import Study, study
from assemblies.study.kept import keep_made, made_last
from parts import pickup_bracket
from parts.files import cache
from parts.files.remembered import content, read
from parts.shape.form import Form, Frame, Round, unit, vector

POINTS = (
    "upper_arm.outer_joint",
    "upper_arm.front_pivot",
    "lower_arm.outer_joint",
    "tie_rod.outer",
    "rod.inboard",
    "rocker.damper_eye",
    "damper.chassis_eye",
)
SIZES = (  # and by how much of itself each may grow
    ("rocker.plate_thickness", 0.3),
    ("upper_arm.bracket_thickness", 0.2),
    ("upper_arm.tube_diameter", 0.1),
    ("car.cg_height", 0.1),
    ("corner.corner_mass", 0.05),
    ("corner.bump", 0.05),
    ("damper.longest", 0.01),
    ("damper.shortest", -0.01),
    ("damper.eye_width", 0.05),
    ("spring.shear_modulus", 0.02),
    ("spring.rate", 0.05),
    ("tie_rod.rack_travel", 0.05),
    ("loads.safety", 0.1),
)
TWEAKS = (*POINTS, *SIZES, "hinge", "hinge", "side", "name")
NAMES = ("heronbank-front", "tarnside-front", "corrie-rear")

pytestmark = pytest.mark.usefixtures("alone")


def job_of(name: str) -> Job:
    return load(demos.JOBS / f"{name}.toml")


def kept(made: Made) -> Made:
    """As the next process has it."""
    return Made(read(pickle.dumps(made.body(), protocol=4)))


def told(job: Job, made: Made) -> str:
    return study(job, interference=False, made=made).results.to_json()


def tweaked(done: Study, tweak: str | tuple[str, float], dice: random.Random) -> Job:
    """The job with that changed; as it is where it has no such key. Raises JobError where it cannot be."""
    job = done.job
    if tweak == "side":
        return job.mirrored()
    if tweak == "name":
        return job.changed({"name": f"{job.name} {dice.randrange(9)}"})
    if tweak == "tubes":  # their sides, and the wall of the one that the upper arm's front bracket stands on
        carrier = done.layout.brackets["upper arm front bracket"]
        tubes = [m for m in job.member if isinstance(getattr(m, "size", None), float)]  # the square ones
        sizes = {f"member.{m.name}.size": m.size + dice.uniform(0.1, 0.5) for m in tubes}
        return job.changed({**sizes, f"member.{carrier.member}.wall": dice.uniform(2.6, 3.6)})
    if tweak == "hinge":  # moved along itself
        arm = dice.choice((job.upper_arm, job.lower_arm))
        by, table = dice.uniform(-0.5, 0.5), "upper_arm" if arm is job.upper_arm else "lower_arm"
        ends = {f"{table}.{k}": getattr(arm, k) for k in ("front_pivot", "rear_pivot")}
        return job.changed({key: [x + by, y, z] for key, (x, y, z) in ends.items()})
    at, most = (tweak, None) if isinstance(tweak, str) else tweak
    table, _, key = at.partition(".")
    now = getattr(getattr(job, table), key, None)
    if now is None:
        return job
    if most is None:
        return job.changed({at: [v + dice.uniform(-0.5, 0.5) for v in now]})
    return job.changed({at: (now or 1.0) * (1 + most * dice.random())})


@pytest.mark.slow
def test_a_tweak_of_a_kept_study_is_told_as_a_fresh_one():
    done = demos.corner("heronbank-front")
    changes = {"rocker.plate_thickness": 3.7, "damper.shortest": done.job.damper.shortest - 1}
    other, last = done.job.changed(changes), kept(done.layout.made)
    assert told(other, last) == told(other, Made())
    assert len(last._kept.keys() & last._known.keys()) > 20  # it was taken over


@pytest.mark.slow
@pytest.mark.parametrize("place", range(3))
def test_any_row_of_tweaks_is_told_as_fresh_studies(place):
    dice = random.Random("tweaks")
    deck = ["tubes", *dice.sample(TWEAKS, len(TWEAKS))[place::3]]
    done = demos.corner(NAMES[place])
    made, job = done.layout.made, done.job
    for tweak in deck:
        with suppress(JobError):  # where that cannot be, the same once more
            job = tweaked(done, tweak, dice)
        made, done = kept(made), study(job, interference=False)
        assert told(job, made) == done.results.to_json()


@pytest.mark.slow
def test_studies_of_one_process_share_what_they_made_and_are_told_as_if_alone(monkeypatch, tmp_path):
    """In turns, so that each finds live what one before the last made; where nothing is kept, nothing is
    shared."""
    dice, job, asked = random.Random("shared"), job_of("heronbank-front"), []
    done = SimpleNamespace(job=job, layout=demos.corner("heronbank-front").layout)
    jobs = [job, *(tweaked(done, t, dice) for t in ("tubes", SIZES[0], "tie_rod.outer"))]
    fresh = [told(j, Made()) for j in jobs]
    assert len(set(fresh)) == len(jobs) and not layout_made._shared
    monkeypatch.setattr(layout_made, "MOST", 4000)
    assert told(job, Made()) == fresh[0] and not layout_made._shared
    monkeypatch.setattr("parts.files.remembered.cache_folder", lambda: tmp_path)
    seat = pickup_bracket.seat

    def asked_for(*of, **named):
        asked.append(of)
        return seat(*of, **named)

    monkeypatch.setattr(pickup_bracket, "seat", asked_for)
    for k, anew in ((0, 4), (1, 4), (2, 0), (3, 0), (0, 0), (2, 0)):
        asked.clear()
        assert told(jobs[k], Made()) == fresh[k] and len(asked) == anew


def test_the_studies_of_a_process_share_no_more_than_so_many(monkeypatch, tmp_path):
    monkeypatch.setattr(layout_made, "MOST", 3)
    monkeypatch.setattr("parts.files.remembered.cache_folder", lambda: tmp_path)
    made = []

    def one(k: int) -> int:
        return Made().once("number", k, lambda: (made.append(k), k)[1])

    assert [one(k) for k in (1, 2, 3, 1, 4, 1, 3)] == [1, 2, 3, 1, 4, 1, 3]
    assert made == [1, 2, 3, 4]  # 2 was asked for longest ago, and went
    assert Made().each("number", [4, 5], lambda which: [10 * k for k in which]) == [4, 10]
    assert one(1) == 1 and made == [1, 2, 3, 4, 1]


def test_equal_numbers_that_are_written_otherwise_are_told_apart():
    made = Made()
    assert [tuple(made(f, (0.0, 0.0, 2.0)))[2] for f in (vector, unit)] == [2.0, 1.0]
    assert [made(repr, x) for x in (0.0, -0.0, 1, 1.0, True)] == ["0.0", "-0.0", "1", "1.0", "True"]
    assert [made(Frame((x, 0.0, 0.0)).matrix)[0, 3] for x in (1.0, 2.0)] == [1.0, 2.0]
    assert made.each("half", [2.0, 4.0], lambda which: [(1.0, 2.0)[k] for k in which]) == [1.0, 2.0]
    assert made.each("half", [4.0, 2.0, 8.0], lambda which: [{2: 4.0}[k] for k in which]) == [2.0, 1.0, 4.0]


def test_a_gap_is_taken_over_while_both_shapes_and_how_they_move_stay():
    """A bar beside a wall, then with each thing changed that its gap hangs on, to the gap of a fresh look."""
    at = Frame((1000.0, 0.0, 0.0))
    bar, thin = (Form((Round(d, 50.0, 0.0, at),)) for d in (20.0, 18.0))
    wall, near = (Form((Round(20.0, 50.0, 16.0, Frame((1000.0 + x, 0.0, 0.0))),)) for x in (30.0, 28.0))
    inside = Form((Round(6.0, 50.0, 0.0, Frame((1030.0, 0.0, 0.0))),))
    heights, made, worked = np.array([0.0, 20.0]), Made(), []

    def each(what, given, make):
        return made.each(what, given, lambda which: worked.append(which) or make(which))

    def looked(form: Form, carrier: str, body: Body, tolerance_mm: float) -> bool:
        """Whether it was worked out."""
        worked.clear()
        around, probes = ProbedBodies([body], mechanism(), tolerance_mm), [Probe(form, carrier)]
        told = around.gaps(probes, heights, 40.0, each)
        assert told == pytest.approx(around.room(probes, heights, 40.0).gap_mm, abs=1e-6)
        return bool(worked)

    def body(form: Form, carrier: str = "frame", hollow: bool = False) -> Body:
        return Body("wall", carrier, (form,), hollow=hollow)

    cases = [
        (bar, "frame", body(wall), 0.1),
        (thin, "frame", body(wall), 0.1),
        (bar, "upright", body(wall), 0.1),
        (bar, "frame", body(near), 0.1),
        (bar, "frame", body(wall, "upright"), 0.1),
        (bar, "frame", body(wall), 2.0),
        (inside, "frame", body(wall), 0.1),
        (inside, "frame", body(wall, hollow=True), 0.1),
    ]
    assert [looked(*case) for case in cases] == [True] * len(cases)
    assert [looked(*case) for case in cases] == [False] * len(cases)


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


def test_forces_are_the_studys_while_points_cases_and_spring_stay():
    done, made = demos.corner("heronbank-front"), Made()
    job, sprung = done.job, done.springing
    moved = Mechanism(done.mechanism.points.moved(upper_front=(0.0, 0.0, 5.0)))
    wound = replace(sprung, preload=replace(sprung.preload, ride=sprung.preload.ride + 5.0))
    given = [
        (job, done.mechanism, sprung),
        (job, moved, sprung),
        (job.changed({"loads.cornering_g": job.loads.cornering_g + 0.1}), moved, sprung),
        (job, moved, wound),
    ]
    for one in given:
        end = droop_end(one[0], one[1], one[2])
        for known, fresh in zip(_forces(*one, end, made)[1:], _forces(*one, end, Made())[1:], strict=True):
            assert content(known) == content(fresh)
    assert _forces(*given[-1], end, made)[1] is _forces(*given[-1], end, made)[1]


def test_the_travels_ends_are_known_while_all_stays_that_they_hang_on():
    """With each thing changed that has a say in them they are those of a fresh look; a plate has none."""
    done = demos.corner("heronbank-front")
    job, sprung, made = done.job, done.springing, Made()
    moved = Mechanism(done.mechanism.points.moved(upper_front=(0.0, 0.0, 5.0)))
    wound = replace(sprung, preload=replace(sprung.preload, ride=sprung.preload.ride + 5.0))
    strap, stop = job.droop_strap, job.bump_stop
    given = [
        (job, done.mechanism, sprung),
        (job, moved, sprung),
        (job.changed({"droop_strap.length": strap.length - 2}), done.mechanism, sprung),
        (job.changed({"droop_strap.stiffness": 2 * strap.stiffness}), done.mechanism, sprung),
        (job.changed({"bump_stop.free_length": stop.free_length + 2}), done.mechanism, sprung),
        (job.changed({"loads.vertical_g": job.loads.vertical_g + 0.2}), done.mechanism, sprung),
        (job, done.mechanism, wound),
    ]
    fresh = [(bump_end(*one), droop_end(*one)) for one in given]
    assert len(set(fresh)) == len(fresh)
    assert [travel_ends(*one, made) for one in given] == fresh
    plate = job.changed({"rocker.plate_thickness": 4})
    assert travel_ends(plate, done.mechanism, wound, made) is travel_ends(*given[-1], made)


@pytest.mark.parametrize(
    "changes, anew",
    [
        ({"rocker.plate_thickness": 4}, 1),  # the damper bracket stands clear of it
        ({"upper_arm.bracket_thickness": 9}, 2),
        ({"lower_arm.tube_wall": 4}, 1),
        ({"rod.lug_thickness": 6}, 1),
        ({"loads.safety": 1.7}, 9),
    ],
)
def test_rows_are_taken_over_while_forces_and_sizes_stay(changes, anew, monkeypatch):
    """Of five brackets, two arms, a lug and the spring's ends: how many are worked, and that all are told as
    by a fresh look."""
    done, worked = demos.corner("heronbank-front"), []

    def watched(rows):
        def look(f, *of, **named):
            worked.extend([] if f.welds_only else [f])
            return rows(f, *of, **named)

        return look

    for module, name in ((brackets, "checks"), (tubes, "arm"), (lug, "checks"), (spring, "ends")):
        monkeypatch.setattr(module, name, watched(getattr(module, name)))
    job, last = done.job.changed(changes), kept(done.layout.made)
    again = told(job, last)
    assert len(worked) == anew
    assert again == told(job, Made())
    assert len(worked) == anew + 9


def test_a_weld_that_would_tire_is_cured_alike_when_its_row_is_taken_over():
    """Of a thinner arm and smaller fillets the lug's and the feet's welds tire: what cures them is made where
    it is asked for."""
    done = demos.corner("heronbank-front")
    job = done.job.changed({"upper_arm.tube_wall": 2.5, "upper_arm.bracket_weld": 3.5})
    first = study(job, interference=False, try_cures=True)
    tired = [c for c in first.results.strength.checks if not c.ok and c.check.startswith("fatigue, weld")]
    assert {c.item for c in tired} == {"rod lug", "upper arm front bracket", "upper arm rear bracket"}
    assert all("upper_arm.tube_wall" in c.cure or "upper_arm.bracket_weld" in c.cure for c in tired)
    again = study(job, interference=False, try_cures=True, made=kept(first.layout.made))
    assert again.results.to_json() == first.results.to_json()


def test_a_row_that_is_taken_over_has_cures_of_its_own():
    def rows(f, *words):
        plain = Check("tab", "weld", "bump", 2.0, 1.0, "N", "s")
        return [replace(plain, check=w, remedy=lambda use, w=w: [f"{w} {use}"]) for w in words] + [plain]

    layout, unit = SimpleNamespace(made=Made()), SimpleNamespace(content="", welds_only=True)
    for _ in range(2):
        one, two, none = by_part._once(layout, "made up", rows, unit, "one", "two")
        assert [one.remedy(1.5), two.remedy(2.5), none.remedy(2.5)] == [["one 1.5"], ["two 2.5"], ()]


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
