"""As built: planted errors recovered, bands that hold as often as they say, and honesty where readings cannot
tell causes apart."""

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from assemblies.job import load
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.motion.springing import springing
from assemblies.tolerances.as_built import estimate, model
from assemblies.tolerances.as_built_words import lines
from assemblies.tolerances.readings import Reading, Readings, Unknown, read, unknowns_for
from parts.base.units import G_M_S2
from parts.calc.torsion import pack_rate_nm_per_rad
from tests.settled import settle_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
SWEEP = [Reading("damper", z, 0.0) for z in (-40.0, -20.0, 0.0, 20.0, 40.0)]
ROCKER = [Reading("rocker", z, 0.0) for z in (-40.0, -20.0, 20.0, 40.0)]
FULL = (*ROCKER, *SWEEP, Reading("ride", 118.0, 0.0), Reading("torque", -40.0, 0.0))


@cache
def corner(name="heronbank-front"):
    job = load(JOBS / f"{name}.toml")
    return job, springing(job, Mechanism(HardPoints.of(job)))


def planted(readings, unknowns, true, noise=None, name="heronbank-front"):
    """The readings of a corner with those differences, with seeded errors of reading and of wheel height
    where asked."""
    job, s = corner(name)
    if noise is None:
        return Readings(
            tuple(
                replace(r, value=float(v))
                for r, v in zip(readings, model(job, s, readings, unknowns, true)[0], strict=True)
            ),
            unknowns,
        )
    moved = [replace(r, at=r.at + noise.normal(0, r.wheel_sigma_mm)) for r in readings]
    values = model(job, s, moved, unknowns, true)[0] + noise.normal(0, [r.sigma for r in readings])
    return Readings(
        tuple(replace(r, value=float(v)) for r, v in zip(readings, values, strict=True)), unknowns
    )


def test_the_model_is_the_corner_itself():
    """No differences: readings are those of the exact corner; a clock error and a thicker strip are met by
    root finds of their own."""
    job, s = corner()
    m, unknowns = s.mechanism, (Unknown("clock", 10), Unknown("thickness", 0.2))
    readings = [
        Reading("rocker", 30.0, 0),
        Reading("damper", -25.0, 0),
        Reading("toe", 40.0, 0),
        Reading("ride", 140.0, 0),
        Reading("torque", 10.0, 0),
        Reading("thickness", 0, 0),
    ]
    got = model(job, s, readings, unknowns, np.array([[0.0, 0.0], [1.5, 0.1]]))
    pose = m.at([30.0, -25.0, 40.0, 0.0, 10.0])
    assert got[0, :3] == pytest.approx(
        [math.degrees(pose.rocker_rad[0]), pose.damper_mm[1], pose.toe_deg[2] - pose.toe_deg[3]], abs=1e-5
    )
    assert got[0, 3] == pytest.approx(settle_mm(s.preload, m, (140 - 26) * G_M_S2), abs=1e-4)
    assert (
        got[0, 4] == pytest.approx(float(s.preload.curves(m.at(10.0)).torque_nm), rel=1e-7) and got[0, 5] == 4
    )
    rate = float(pack_rate_nm_per_rad(32, 4.1, 600, 79300, 4))
    thicker = replace(s.preload, spring=replace(s.spring, rate=rate), ride=rate * s.preload.ride_deflection)
    assert got[1, 3] == pytest.approx(settle_mm(thicker, m, (140 - 26) * G_M_S2, math.radians(1.5)), abs=1e-4)
    assert got[1, 5] == pytest.approx(4.1)


def test_planted_errors_come_back_exactly_from_clean_readings():
    """Readings without error and as good as told: the planted differences, to what the wide first guess pulls
    (1 % of it)."""
    job, s = corner()
    unknowns = unknowns_for(job, {"pivot.y": 4.0}, rod=True)
    true = np.array([2.0, -3.0, 1.0, -0.8])
    sharp = [
        replace(r, accuracy=0.002 * (1 if r.kind == "rocker" else 5), wheel_accuracy_mm=0.001) for r in FULL
    ]
    e = estimate(job, s, planted(sharp, unknowns, true))
    assert e.value == pytest.approx(true, abs=0.02)
    assert e.misfit < 0.05


@pytest.mark.slow
@pytest.mark.parametrize("name", ["heronbank-front", pytest.param("corrie-rear", marks=pytest.mark.slow)])
def test_bands_hold_as_often_as_they_say(name):
    """Sixty seeded corners with differences as large as told and readings as good as told: each 95 % band
    holds its truth in 95 of 100 (binomial: at least 50 of 60, p < 0.001 below), pulls have standard deviation
    1, and so does the correction."""
    job, s = corner(name)
    rng = np.random.default_rng(11)
    if name == "corrie-rear":
        unknowns, readings = (
            unknowns_for(job, {"damper_chassis.x": 2.0}),
            (*SWEEP, Reading("ride", 165.0, 0.0), Reading("ride", 195.0, 0.0)),
        )
    else:
        unknowns, readings = unknowns_for(job, {"pivot.y": 2.0, "rod_outboard.z": 2.0}), FULL
    pulls, winds = [], []
    while len(pulls) < 60:
        true = rng.normal(0, [u.sigma * (0.4 if u.name == "clock" else 1.0) for u in unknowns])
        told = tuple(replace(u, expected=u.expected * (0.4 if u.name == "clock" else 1.0)) for u in unknowns)
        e = estimate(job, s, planted(readings, told, true, rng, name))
        pulls.append((e.value - true) / e.sigma)
        clean = _wind(job, s, told, true)
        winds.append((e.wind - clean) / e.wind_sigma)
    pulls, winds = np.array(pulls), np.array(winds)
    held = (np.abs(pulls) < 1.96).sum(0)
    assert (held >= 50).all(), held
    assert (np.abs(winds) < 1.96).sum() >= 50
    assert pulls.std() == pytest.approx(1.0, abs=0.2) and np.abs(pulls.mean(0)).max() < 4 / math.sqrt(60)


def _wind(job, s, unknowns, true):
    from assemblies.tolerances.as_built import corner as built

    v = built(job, s, unknowns, np.atleast_2d(true))
    return float(v.wind_to_ride()[0]) * (1 if v.linear else 180 / math.pi)


def test_clock_and_rate_cannot_be_told_apart_from_one_ride_height():
    """One equation, two unknowns: it must say so, keep what it was told, and yet give a sound correction."""
    job, s = corner()
    unknowns = unknowns_for(job)
    one = estimate(job, s, planted([Reading("ride", 118.0, 0.0, 0.2)], unknowns, np.array([1.5, 0.0])))
    assert any("clock and rate cannot be told apart" in t for t in one.unclear) and any(
        "little about" in t for t in one.unclear
    )
    correlation = one.covariance[0, 1] / math.sqrt(one.covariance[0, 0] * one.covariance[1, 1])
    assert correlation < -0.99
    assert one.wind_sigma < 0.1 * one.sigma[0]  # together they are known well
    both = estimate(
        job,
        s,
        planted(
            [
                Reading("ride", 118.0, 0.0, 0.2),
                Reading("torque", -40.0, 0.0, 0.3),
                Reading("torque", 50.0, 0.0, 0.3),
            ],
            unknowns,
            np.array([1.5, -4.0]),
        ),
    )
    assert not any("told apart" in t for t in both.unclear)
    assert (np.abs(both.value - [1.5, -4.0]) < both.sigma).all() and (both.sigma < [0.3, 1.0]).all()


def test_damper_readings_say_nothing_of_the_clock():
    job, s = corner()
    e = estimate(
        job, s, planted(SWEEP, unknowns_for(job, {"damper_chassis.z": 4.0}), np.array([2.0, 3.0, 1.5]))
    )
    said = " ".join(e.unclear)
    assert "little about clock" in said and "little about rate" in said
    assert e.sigma[:2] == pytest.approx([5.0, 3.0], rel=1e-6)  # just what it was told
    assert e.sigma[2] < 2.0


def test_the_correction_brings_the_built_corner_to_ride_height():
    """Wind the planted corner by the printed correction: it stands where it should, to the stated band."""
    job, s = corner()
    unknowns = unknowns_for(job)
    true = np.array([-3.0, 4.0])
    e = estimate(job, s, planted(FULL, unknowns, true))
    assert e.wind == pytest.approx(_wind(job, s, unknowns, true), abs=2 * e.wind_sigma)
    again = estimate(job, s, planted(FULL, unknowns, true + np.array([e.wind, 0])))
    assert abs(again.wind) < 2 * again.wind_sigma and abs(again.stands_mm) < 2.0
    low = planted([Reading("ride", 118.0, 0)], unknowns, np.array([-3.0, 0.0])).readings[0].value
    assert low > 0 > true[0] and e.stands_mm == pytest.approx(
        planted([Reading("ride", 118.0, 0)], unknowns, e.value).readings[0].value, abs=1e-3
    )


def test_a_wrong_reading_shows_as_misfit():
    job, s = corner()
    given = planted(FULL, unknowns_for(job), np.array([1.0, 1.0]))
    rows = list(given.readings)
    rows[6] = replace(rows[6], value=rows[6].value + 8.0)
    e = estimate(job, s, replace(given, readings=tuple(rows)))
    assert e.misfit > 1.6 and int(np.argmax(np.abs(e.residual))) == 6
    assert any("do not fit" in line for _, block in lines(job, s, e) for line in block)


def test_thickness_read_brings_its_own_unknown():
    job, s = corner()
    given = Readings((Reading("ride", 118.0, 0.0), Reading("thickness", 0.0, 4.06)))
    e = estimate(job, s, given)
    assert e.unknowns[-1].name == "thickness" and e.value[-1] == pytest.approx(0.06, abs=0.01)
    with pytest.raises(ValueError, match="no strips"):
        estimate(*corner("corrie-rear"), Readings((Reading("thickness", 0, 3.06),)))


def test_readings_from_a_file(tmp_path):
    path = tmp_path / "readings.toml"
    path.write_text(
        'doubt = ["pivot.y", "rod"]\n[[reading]]\nkind = "ride"\nat = 118\nvalue = 14\n[[reading]]\nkind = '
        '"damper"\nat = 20\nvalue = 250.6\naccuracy = 0.5\n',
        encoding="utf-8",
    )
    given = read(path)
    assert [u.name for u in given.unknowns] == ["clock", "rate", "rod", "pivot.y"] and given.readings[
        1
    ].accuracy == 0.5
    job, s = corner()
    e = estimate(job, s, given)
    assert e.wind > 2 and e.stands_mm > 8
    for text, said in (
        ('[[reading]]\nkind = "smell"\nvalue = 1', "smell"),
        ('[[reading]]\nkind = "ride"', "needs kind and value"),
        ('doubt = ["knee.y"]', "knee"),
        ("nonsense = 1", "nonsense"),
        ('[[reading]]\nkind = "ride"\nvalue = 1\naccuracy = -1', "accuracy is -1"),
    ):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(ValueError, match=said):
            read(path)
    with pytest.raises(ValueError, match="no readings"):
        estimate(job, s, Readings(()))


def test_a_coil_over_reads_its_rocker_and_speaks_of_its_collar():
    """Rocker angles of a coil-over are those of the moved corner, and tell a pivot that is off; what is
    estimated is mm of collar."""
    name = "corrie-rear"
    job, s = corner(name)
    read_ = tuple(Reading("rocker", z, 0.0, 0.05, 0.1) for z in (-40.0, -20.0, 20.0, 40.0))
    unknowns = (Unknown("collar", 10), Unknown("rate", 6), Unknown("rod_outboard.z", 4))
    given = planted((*read_, Reading("ride", 165.0, 0.0)), unknowns, np.array([3.0, 0.0, 2.0]), name=name)
    poses = Mechanism(s.mechanism.points).at([0.0, 20.0])
    true = math.degrees(float(poses.rocker_rad[1] - poses.rocker_rad[0]))
    straight = model(job, s, [Reading("rocker", 20.0, 0.0)], unknowns, np.zeros(3))
    assert straight[0, 0] == pytest.approx(true, abs=1e-4)
    e = estimate(job, s, replace(given, unknowns=(Unknown("clock", 10), *unknowns[1:])))
    assert e.unknowns[0].name == "collar" and e.unknowns[0].unit == "mm"
    assert e.value[2] == pytest.approx(2.0, abs=2 * e.sigma[2]) and e.sigma[2] < 1.0
    said = " ".join(" ".join(t.split()) for _, block in lines(job, s, e) for t in block)
    assert "clock" not in said and "mm of collar" in said


def test_one_bad_reading_does_not_refuse_the_others():
    """A height out of the corner's reach and a mass it cannot carry are left out and told; a slip of the pen
    is named; what the others say stays."""
    name = "corrie-rear"
    job, s = corner(name)
    unknowns = (Unknown("collar", 10), Unknown("rate", 6))
    good = planted((*SWEEP, Reading("ride", 165.0, 0.0)), unknowns, np.array([3.0, 0.0]), name=name)
    alone = estimate(job, s, good)
    bad = (Reading("rocker", 200.0, 5.0), Reading("ride", 900.0, 5.0), Reading("thickness", 0.0, 3.0))
    e = estimate(job, s, replace(good, readings=(*bad, *good.readings)))
    assert e.value == pytest.approx(alone.value, abs=1e-6) and len(e.left_out) == 3
    assert all(w in t for w, t in zip(("at +200 mm", "under 900 kg", "no strips"), e.left_out, strict=True))
    slip = replace(good.readings[3], value=good.readings[3].value + 30.0)
    e = estimate(job, s, replace(good, readings=(*good.readings[:3], slip, *good.readings[4:])))
    assert e.misfit > 1.6 and "damper at +20 mm" in e.doubtful and "other 5 agree" in e.doubtful
    assert alone.doubtful == "" and alone.left_out == ()
