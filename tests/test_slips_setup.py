"""Slips of the pen in what is set up and read on the car: one clear line each; no setting without a word."""

import math
from functools import cache
from pathlib import Path

import demos
import pytest

from assemblies.job import Job, JobError, load
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import springing
from assemblies.setup.clocking import chain, nearest
from assemblies.setup.limits import beyond
from assemblies.setup.ride_height import correction
from assemblies.setup.standing import OnStops
from assemblies.study.off_gauge import off_gauge
from assemblies.tolerances.as_built import estimate
from assemblies.tolerances.readings import Reading, Readings
from parts.base.stock import gauge_mm, no_stock_plate
from parts.base.units import length_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
HERON = JOBS / "heronbank-front.toml"


@cache
def corner(name="heronbank-front"):
    job = load(JOBS / f"{name}.toml")
    return job, springing(job, Mechanism(HardPoints.of(job)))


def run(*words):
    done = demos.verb(*words, env={"NO_COLOR": "1"})
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, " ".join((done.output + (done.stderr if done.stderr_bytes else "")).split())


@pytest.mark.parametrize(
    "key, value, said",
    [
        ("corner.bump", "12,5", "write 12.5"),
        ("corner.bump", [12, 5], "write 12.5"),
        ("corner.bump", "12,5 mm", 'write "12.5 mm"'),
        ("corner.corner_mass", "118,5", "write 118.5"),
        ("corner.corner_mass", [118, 5], "write 118.5"),
        ("wheel.centre", [0, 5, 580, 280], "decimal commas?"),
        ("wheel.centre", ["0,5", 580, 280], "write 0.5"),
        ("rocker.axis", ["0,5", 0, 1], "write 0.5"),
    ],
)
def test_a_decimal_comma_is_named_in_one_line(key, value, said):
    with pytest.raises(JobError) as e:
        corner()[0].changed({key: value})
    assert key in str(e.value) and said in str(e.value) and "\n" not in str(e.value)


def test_a_list_that_is_no_decimal_comma_is_not_called_one():
    for value in ([12.5, 5], [1, 2, 3], ["a", 1], "1,2,3", "x", [12, -5]):
        with pytest.raises(ValueError) as e:
            length_mm(value)
        assert "comma" not in str(e.value), value


@pytest.mark.parametrize(
    "text, said",
    [
        ('[[reading]]\nkind = "damper"\nvalue = "258,8"', "write 258.8"),
        ('[[reading]]\nkind = "damper"\nvalue = [258, 8]', "write 258.8"),
        ('[[reading]]\nkind = "damper"\nvalue = 258,8', "write 258.8"),
        ('[[reading]]\nkind = ["damper"]\nvalue = 258.8', "kind is"),
        ('[[reading]]\nkind = "damper"\nvalue = 258.8\naccuracy = "x"', "reading 1, accuracy"),
        (
            '[[reading]]\nkind = "damper"\nat = 120\nvalue = 258.8',
            "readings can be at -54 to +66 mm of",
        ),
        ('[[reading]]\nkind = "torque"\nat = -60\nvalue = 90', "readings can be at -54 to +66 mm"),
        ('[[reading]]\nkind = "damper"\nvalue = 25.88', "25.88 mm; 220 to 290 mm"),
        ('[[reading]]\nkind = "ride"\nat = 20\nvalue = 3', "20 kg; 27 to 354 kg"),
        ('[[reading]]\nkind = "ride"\nat = 118\nvalue = 300', "300 mm; -45 to 55 mm"),
        ('[[reading]]\nkind = "thickness"\nvalue = 0.4', "0.4 mm; 3 to 5 mm"),
        ("kind = 1,5", "write 1.5"),
    ],
)
def test_a_slip_in_a_reading_is_one_line(tmp_path, text, said):
    file = tmp_path / "readings.toml"
    file.write_text(text)
    status, out = run("asbuilt", HERON, file)
    assert status == 2 and said in out and "Traceback" not in out


@pytest.mark.parametrize(
    "text, said",
    [
        ("tape_accuracy = '2,5'", "tape_accuracy is '2,5'"),
        ("[datum]\nA = [700, 5, 0, 0]", "decimal commas?"),
        ("[datum]\nA = [0, 0, 0]\n[[point]]\nname = 'p'\ndistances = { A = [1074, 5] }", "write 1074.5"),
        ("[datum]\nA = [0, 0, 0]\n[[point]]\nname = 'p'\ndistances = { A = '1074,5' }", "p, tape A is"),
    ],
)
def test_a_slip_in_a_tape_is_one_line(tmp_path, text, said):
    file = tmp_path / "tapes.toml"
    file.write_text(text)
    status, out = run("measure", file)
    assert status == 2 and said in out


def test_a_setting_past_the_guide_says_so_at_its_line():
    """The guide of `check`, 600 MPa where no tensile strength is given."""
    job, _ = corner()
    job = job.changed({"spring.tensile_strength": None})
    s = springing(job, Mechanism(HardPoints.of(job)))
    rows = nearest(OnStops(job, s), chain(job), 22.0, 30)
    assert any(r.bump_stress_mpa > 600 for r in rows) and any(r.bump_stress_mpa < 600 for r in rows)
    for r in rows:
        assert (f"{r.bump_stress_mpa:.0f} MPa at full bump, guide 600" in r.beyond) == (
            r.bump_stress_mpa > 600
        )
    slack = nearest(OnStops(job, s), chain(job), -14.0, 9)
    assert all(("slack" in r.beyond) == (r.droop_twist_deg < 0) for r in slack)
    assert beyond(job.spring, s, 0.0) == "" or "edges" in beyond(job.spring, s, 0.0)


@pytest.mark.slow
def test_correct_and_corners_never_prescribe_past_the_guide_without_a_word():
    status, out = run("correct", HERON, "--low", 45)
    assert status == 0 and "BEWARE" in out and "if the load is off: leaves' edges up to" in out
    assert "BEWARE" not in run("correct", HERON, "--low", 2)[1]
    status, out = run("corners", HERON, HERON, 60, 160, 190, 120)
    assert status == 0 and "slack at full droop" in out and "guide" in out


def test_a_height_beyond_the_travel_is_refused():
    _, s = corner()
    for low in (90.0, -60.0):
        with pytest.raises(ValueError, match="beyond its travel, -45 to \\+55 mm"):
            correction(s, low)


def test_as_built_moves_are_of_the_corner_as_it_was_found(tmp_path):
    """A spring set 8 deg too slack, wound back by 8 deg, is the design again: so is its stress in bump."""
    from assemblies.tolerances.as_built import model
    from assemblies.tolerances.as_built_words import lines
    from assemblies.tolerances.readings import Unknown

    job, s = corner()
    unknowns = (Unknown("clock", 10.0), Unknown("rate", 6.0))
    asked = [Reading("ride", 118.0, 0.0), *(Reading("torque", z, 0.0) for z in (-20.0, 0.0, 20.0, 40.0))]
    read = model(job, s, asked, unknowns, [[-8.0, 0.0]])[0]
    given = Readings(
        tuple(Reading(r.kind, r.at, float(v), 0.01, 0.01) for r, v in zip(asked, read, strict=True)), unknowns
    )
    found = estimate(job, s, given)
    table = next(rows for head, rows in lines(job, s, found) if head.startswith("Moves"))
    best = min((r.split() for r in table[1:]), key=lambda r: abs(float(r[0]) - found.wind))
    assert found.wind == pytest.approx(8.0, abs=0.05)
    per_deg = math.radians(s.spring.stress_mpa_per_rad)
    expected = s.stress_mpa["bump"] + (float(best[0]) - 8.0) * per_deg
    assert float(best[4]) == pytest.approx(expected, abs=1.0)


def test_a_plate_that_no_one_sells_is_told():
    job, _ = corner()
    assert off_gauge(job) == []
    (said,) = off_gauge(job.changed({"rocker.plate_thickness": 3.7}))
    assert "rocker.plate_thickness is 3.7 mm" in said.text and said.level == "note"
    for t in (3.0, "1/8 in", 6, gauge_mm(11)):
        assert off_gauge(job.changed({"rocker.plate_thickness": t})) == []
    assert no_stock_plate(11.0) == "10 mm and 12 mm"
    assert isinstance(job, Job)
