"""Where the wheel is stopped, what happens where nothing stops it, and the ground under the frame."""

import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.job import JobError, load
from assemblies.job.job import STARTER
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import springing
from assemblies.motion.stops import bump_end, droop_end, fall_mm, pressed_n, strap_n
from assemblies.strength import Check, Strength, strength
from assemblies.strength.forces import corner_forces
from assemblies.strength.load_cases import cases_of
from assemblies.study import stopped, study

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
G = 9.80665


@lru_cache
def corner(name="heronbank-front"):
    job = load(JOBS / f"{name}.toml")
    mechanism = Mechanism(HardPoints.of(job))
    return job, mechanism, springing(job, mechanism)


# ------------------------------------------------------------ energy


def test_a_fall_on_to_a_bump_stop():
    """Check row N16: W = 1520 N, F = 1520 + 22·z, from z = 35 on a stop of 40·x + 3·x² N; 60 mm over
    the ground."""
    z = np.linspace(-55.0, 90.0, 14501)
    x = np.maximum(z - 35, 0)
    f = 1520 + 22 * z + 40 * x + 3 * x**2
    end = np.interp(60.0, fall_mm(z, f, 1520.0)[100:], z[100:])
    assert end == pytest.approx(70.479015, rel=1e-4)
    assert np.interp(end, z, f) == pytest.approx(8265.9804, rel=1e-4)
    up = z >= 0
    end = np.interp(60.0, fall_mm(z[up], f[up], 1520.0)[100:], z[up][100:])
    assert end == pytest.approx(64.948345, rel=1e-4)
    assert np.interp(end, z, f) == pytest.approx(6837.5074, rel=1e-4)


def test_the_spring_throws_the_wheel_into_its_strap():
    """Check row N17: 1275 N at ride, 22 N/mm, 50 mm of droop, strap 800 N/mm."""
    energy = (1275 + 175) / 2 * 50
    assert energy == 36250
    assert strap_n(energy, 175, 800) == pytest.approx(7792.7835, rel=1e-5)


def test_a_stop_beyond_its_last_row_has_no_force_that_is_known():
    assert pressed_n(((10, 500), (20, 2500)), [-1, 5, 15]) == pytest.approx([0, 250, 1500])
    assert math.isnan(pressed_n(((10, 500), (20, 2500)), 20.1))


# ------------------------------------------------------------ where it stops


def test_spring_and_bump_stop_carry_the_corner_where_it_says():
    """By hand at that height: the stop's rows and the spring through their own ratios are 3 corner weights;
    the energy of the fall is the integral of both."""
    job, mechanism, sprung = corner()
    s = bump_end(job, mechanism, sprung)
    assert s.by == "bump stop"
    pose = mechanism.at([s.wheel_mm])
    x = job.damper.shortest + job.bump_stop.free_length - pose.damper_mm[0]
    n = 3000 + (x - 9) / 2 * 1700  # between its rows [9, 3000] and [11, 4700]
    assert 9 < x < 11
    assert s.force_n == pytest.approx(n, rel=1e-4)
    ratio = mechanism.at([s.wheel_mm - 0.01]).damper_mm[0] - mechanism.at([s.wheel_mm + 0.01]).damper_mm[0]
    spring = sprung.preload.curves(pose).wheel_force_n[0]
    assert spring + n * ratio / 0.02 == pytest.approx(3 * 118 * G, rel=1e-4)
    touch = mechanism.at([s.touches_mm]).damper_mm[0] - job.damper.shortest
    assert touch == pytest.approx(job.bump_stop.free_length, abs=0.25 * 0.45)
    z = np.linspace(-45, s.wheel_mm, 4001)
    poses = mechanism.at(z)
    along = np.interp(
        job.damper.shortest + job.bump_stop.free_length - poses.damper_mm,
        [0, 3, 6, 9, 11],
        [0, 400, 1400, 3000, 4700],
    )
    total = sprung.preload.curves(poses).wheel_force_n - along * poses.ddamper_dz
    work = np.sum(np.diff(z) * (total[1:] + total[:-1]) / 2)
    assert 92 * G * (s.fall_mm + s.wheel_mm + 45) == pytest.approx(work, rel=1e-3)


def test_without_a_stop_the_wheel_goes_to_the_dampers_metal():
    job, mechanism, sprung = corner()
    none = job.changed({"bump_stop": None, "droop_strap": None})
    bump, droop = bump_end(none, mechanism, sprung), droop_end(none, mechanism, sprung)
    assert bump.by == droop.by == "damper"
    assert mechanism.at([bump.wheel_mm]).damper_mm[0] == pytest.approx(225)
    assert mechanism.at([droop.wheel_mm]).damper_mm[0] == pytest.approx(285)
    assert math.isnan(bump.force_n)


def test_a_stop_that_is_too_weak_does_not_stop_it():
    job, mechanism, sprung = corner()
    weak = job.changed({"bump_stop.curve": [[5, 100], [14, 2000]]})
    s = bump_end(weak, mechanism, sprung)
    assert s.by == "damper" and s.touches_mm == pytest.approx(29, abs=0.3)


def test_the_strap_is_taut_where_its_ends_are_its_length_apart():
    """And its pull is row N17's sum with this corner's own spring and ratio, by central differences."""
    job, mechanism, sprung = corner()
    s, strap = droop_end(job, mechanism, sprung), job.droop_strap

    def length(z):
        f = mechanism.at([z]).frame(strap.on)[0]
        return np.linalg.norm(f[:3, :3] @ strap.end + f[:3, 3] - strap.frame)

    assert length(s.wheel_mm) == pytest.approx(strap.length, abs=1e-3)
    ratio = (length(s.wheel_mm - 0.01) - length(s.wheel_mm + 0.01)) / 0.02
    z = np.linspace(s.wheel_mm, 0, 2001)
    f = sprung.preload.curves(mechanism.at(z)).wheel_force_n
    energy = np.sum(np.diff(z) * (f[1:] + f[:-1]) / 2)
    k = strap.stiffness * ratio**2
    peak = f[0] + math.sqrt(f[0] ** 2 + 2 * k * energy)
    assert s.force_n == pytest.approx(peak / ratio, rel=1e-3)
    long = job.changed({"droop_strap.length": 470})
    assert droop_end(long, mechanism, sprung).by == "damper"


def test_a_damper_that_says_how_stiff_it_tops_out_bears_the_throw_and_so_do_its_eyes():
    """Row N17's sum again, with the damper's own ratio; the droop stop case is what is thrown beyond the
    spring's own force, and the damper's force in it is the peak (statics of the rocker)."""
    job, mechanism, sprung = corner()
    stiff = job.changed({"droop_strap": None, "damper.top_out_stiffness": 60.0})
    s = droop_end(stiff, mechanism, sprung)
    ratio = (
        mechanism.at([s.wheel_mm - 0.01]).damper_mm[0] - mechanism.at([s.wheel_mm + 0.01]).damper_mm[0]
    ) / 0.02
    z = np.linspace(s.wheel_mm, 0, 2001)
    f = sprung.preload.curves(mechanism.at(z)).wheel_force_n
    energy = np.sum(np.diff(z) * (f[1:] + f[:-1]) / 2)
    peak = f[0] + math.sqrt(f[0] ** 2 + 2 * 60 * ratio**2 * energy)
    assert s.force_n == pytest.approx(peak / ratio, rel=1e-3)
    far = stiff.changed({"corner.droop": -s.wheel_mm})
    case = next(c for c in cases_of(far, sprung) if c.name == "droop stop")
    assert case.force_n[2] == pytest.approx(f[0] - peak, rel=1e-3)
    forces = corner_forces(far, mechanism, sprung, [case])
    assert forces.damper_n[0] == pytest.approx(s.force_n, rel=1e-3)
    assert next(c for c in cases_of(job, sprung) if c.name == "droop stop").force_n[2] == pytest.approx(
        -3 * 26 * G
    )


def test_a_strap_that_is_taut_at_ride_height_is_a_stop():
    assert found(results(droop_strap__length=300.0), "droop-strap").level == "stop"


def test_mirrored_stops_are_the_same():
    job, _, _ = corner()
    other = job.mirrored()
    assert other.mirrored() == job
    mechanism = Mechanism(HardPoints.of(other))
    a, b = droop_end(other, mechanism, springing(other, mechanism)), droop_end(*corner())
    assert (a.wheel_mm, a.force_n) == (
        pytest.approx(b.wheel_mm, abs=1e-6),
        pytest.approx(b.force_n, rel=1e-6),
    )


# ------------------------------------------------------------ in the study


@lru_cache
def results(name="heronbank-front", **changes):
    if not changes:
        return demos.corner(name).results
    job = load(JOBS / f"{name}.toml").changed({k.replace("__", "."): v for k, v in changes.items()})
    return demos.known(job, interference=False).results


def found(r, code):
    return next((f for f in r.findings if f.code == code), None)


@pytest.mark.parametrize("name", ["heronbank-front", "corrie-rear", "tarnside-front"])
def test_the_demos_are_stopped_within_their_travel(name):
    r = results(name)
    assert (r.stops.bump.by, r.stops.droop.by) == ("bump stop", "droop strap")
    assert r.stops.runs_on is None and found(r, "runs-on") is None
    assert found(r, "bump-stop").level == found(r, "droop-strap").level == "note"


def test_the_starter_works_as_it_says_gaps_and_all():
    """Its first words: an invented corner that works, both sides of the car together."""
    r = demos.known(load(STARTER)).results
    assert [f.text for f in r.findings if f.level == "stop"] == []
    assert r.clearance.checked and r.stops.runs_on is None


def test_where_nothing_stops_the_wheel_every_check_runs_on_and_the_first_break_is_named():
    """The rod eye's bolt of the demo stands at 0.98 within its travel: beyond it breaks, and the wished
    travel's own rows stay as they were."""
    r = results(bump_stop=None)
    on, f = r.stops.runs_on, found(r, "runs-on")
    assert on.to_wheel_mm == pytest.approx(r.ends.damper_bottoms_at_wheel_mm)
    assert on.breaks and f.level == "stop" and on.breaks[0] in f.text
    assert any("rocker" in b for b in on.breaks)
    assert r.strength.checks == results().strength.checks
    assert "no bound" in found(r, "bump-stop").text
    heights = [float(b.split("by wheel ")[1].split(" mm")[0]) for b in on.breaks if "by wheel" in b]
    assert heights == sorted(heights) and heights[0] < 75  # not only at the end, +81.4
    assert not on.gaps_checked and "Gaps were left out" in f.text


@pytest.mark.parametrize(("name", "broken"), [("heronbank-front", 4), ("tarnside-front", 2)])
def test_what_breaks_beyond_has_broken_where_all_checks_of_these_parts_say_so(name, broken):
    """The same parts with the travel drawn out by quarters of what lies beyond, every check worked: the first
    quarter in which an item breaks has its height."""
    bump = droop = 20.0
    change = {"bump_stop": None, "corner.bump": bump, "corner.droop": droop, "loads.vertical_g": 5}
    s = study(load(JOBS / f"{name}.toml").changed(change), False)
    on = s.results.stops.runs_on
    said = dict(b.partition(": ")[0].split(" by wheel ") for b in on.breaks)
    first: dict[str, str] = {}
    for part in (0.25, 0.5, 0.75, 1.0):
        high, low = bump + part * (on.to_wheel_mm - bump), -droop + part * (on.from_wheel_mm + droop)
        far = s.job.changed({"corner.bump": high, "corner.droop": -low})
        found = strength(far, s.mechanism, springing(far, s.mechanism), replace(s.layout, job=far))
        for row in found.checks:  # worst first
            if not row.ok and row.level == "stop" and row.wheel_mm is not None:
                first.setdefault(row.item, f"{row.wheel_mm:+.1f} mm")
    within = {f.where for f in s.results.findings if f.level == "stop"}
    assert {item: z for item, z in first.items() if item not in within} == said and len(said) == broken


def test_a_guide_passed_on_the_way_is_no_break(monkeypatch):
    s = demos.corner("heronbank-front")
    so_far = stopped.CornerSoFar(s.job, s.mechanism, s.springing, s.layout, [], False)
    row = Check("an eye", "bending", "bump", 2.0, 1.0, "-", "-", wheel_mm=60.0, level="warn")
    monkeypatch.setattr(stopped, "strength", lambda *_, **__: Strength((), checks=[row]))
    whole = Strength((), checks=[replace(row, wheel_mm=80.0, level="stop")])
    assert stopped._broken_by(so_far, -45.0, 80.0, whole, ["an eye"]) == {"an eye": 80.0}


def test_what_breaks_within_the_travel_already_is_not_told_again_beyond_it():
    r = results(bump_stop=None, rocker__plate_thickness=2.0)
    stops = {f.where for f in r.findings if f.level == "stop" and f.code == "strength"}
    assert stops and not any(b.split(" by wheel")[0] in stops for b in r.stops.runs_on.breaks)


def test_a_strap_weaker_than_its_pull_is_a_stop():
    r = results(droop_strap__breaking_load=5000.0)
    assert found(r, "droop-strap").level == "stop"


def test_the_frame_sinks_by_the_wheels_travel():
    """Lower rail: axis 90 mm up, 30 mm square: 75 mm at ride, less the height the stop lets the wheel to."""
    r = results()
    low = r.stops.ground[0]
    assert (low.body, low.ride_mm) == ("lower rail", pytest.approx(75, abs=0.01))
    assert low.least_mm == pytest.approx(75 - r.stops.bump.wheel_mm, abs=0.01)
    assert len({g.body for g in r.stops.ground}) == len(r.stops.ground)
    assert found(r, "ground").level == "note"
    r = results(bump_stop=None)
    assert (
        r.stops.ground[0].least_mm == pytest.approx(75 - r.stops.bump.wheel_mm, abs=0.01)
        and r.stops.ground[0].least_mm < 0
    )
    assert found(r, "ground").level == "stop"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"bump_stop.curve": []}, "must be rows"),
        ({"bump_stop.curve": [[5, 100], [4, 200]]}, "must be rows"),
        ({"bump_stop.curve": [[5, 100], [8, 90]]}, "must be rows"),
        ({"bump_stop.curve": [[24, 100]]}, "must end before bump_stop.free_length 24"),
        ({"droop_strap.on": "rocker"}, "upper_arm"),
        ({"droop_strap.length": 0}, "must be 20 to 5000"),
    ],
)
def test_a_stop_that_cannot_be_is_one_clear_error(changes, said):
    with pytest.raises(JobError, match=said):
        load(STARTER).changed(changes)
