"""Steering of a job: rows of results.json, findings, the strings' readings, the verb and its sheet."""

import math
from dataclasses import asdict
from functools import cache

import demos
import numpy as np
import pytest
from declared import amiss

from assemblies.job import load
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.results.model import Results, parsed
from assemblies.steering.account import brake_share
from assemblies.steering.pivots_line import outboard, pivots_line_y_mm
from assemblies.steering.strings import string_check
from assemblies.steering.words import definitions, lines
from tests.corners import planar
from tests.rigid_bodies import RigidBodies
from tests.test_imports import DEMOS

FRONT = next(p for p in DEMOS if p.stem == "heronbank-front")
REAR = next(p for p in DEMOS if p.stem == "corrie-rear")


@cache
def done(path=FRONT, **changes):
    return (
        demos.known(load(path).changed(dict(changes)), interference=False)
        if changes
        else demos.corner(path.stem)
    )


def row(r, key):
    return next(x for x in r.geometry.rows if x.key == key)


def test_a_front_corner_has_lock_bump_steer_and_geometry_in_results_json():
    r = parsed(done().results.to_json())
    assert amiss(done().results, Results) == [] and r.to_json() == done().results.to_json()
    s = r.steering
    assert [b.rack_mm for b in s.bump] == [-36, -18, 0, 18, 36]
    for b in s.bump:
        assert len(b.toe_change_deg) == len(r.geometry.wheel_mm) == len(r.travel.wheel_mm)
        at = int(np.argmax(np.abs(b.toe_change_deg)))
        assert b.worst_deg == b.toe_change_deg[at] and b.worst_at_wheel_mm == r.geometry.wheel_mm[at]
    straight = s.bump[2]
    ride = r.travel.toe_deg[int(np.argmin(np.abs(r.travel.wheel_mm)))]
    assert straight.toe_change_deg == pytest.approx(np.array(r.travel.toe_deg) - ride, abs=1e-6)
    assert s.lock.inner_deg[-1] == s.inner_lock_deg and s.lock.inner_deg[0] == 0
    assert s.pivots_mm == pytest.approx(2 * (777 - 7 - row(r, "scrub_radius_mm").value) + 14, abs=1e-4)
    mean = {t.about: t for t in s.turning}
    assert mean["mean"].radius_to_middle_mm == pytest.approx(
        (mean["inner wheel"].radius_to_middle_mm + mean["outer wheel"].radius_to_middle_mm) / 2
    )


def test_a_toe_link_has_bump_steer_and_no_lock():
    s = done(REAR).results.steering
    assert s.lock_rack_mm is None and s.lock is None and not s.turning and [b.rack_mm for b in s.bump] == [0]
    assert abs(s.bump[0].worst_deg) == pytest.approx(0.0208187, abs=1e-6)
    keys = {x.key for x in done(REAR).results.geometry.rows}
    assert {"anti_squat_frame_percent", "anti_lift_outboard_percent"} <= keys
    assert any("toe link" in x for x in lines(done(REAR).results))


def test_the_steer_angle_at_lock_is_that_of_the_independent_solution():
    job = load(FRONT)
    points = HardPoints.of(job)
    spin = np.array([0.0, 1.0, 0.0])
    seen = {}
    for rack in (36.0, -36.0):
        bodies = RigidBodies(points)
        _, q, _ = bodies.march([0.0], rack)[0]
        turned = bodies.carried(q, "upright", points.wheel_centre + spin) - bodies.carried(
            q, "upright", points.wheel_centre
        )
        seen[rack] = math.degrees(math.atan2(-turned[0], turned[1]))
    s = done().results.steering
    inner, outer = (seen[36.0], -seen[-36.0]) if seen[36.0] > 0 else (seen[-36.0], -seen[36.0])
    assert (s.inner_lock_deg, s.outer_lock_deg) == pytest.approx((inner, outer), abs=1e-7)


def test_bump_steer_at_lock_counts_from_ride_at_the_same_rack():
    """By the independent solution at rack +36 and wheel +50: toe there less toe at ride there."""
    points = HardPoints.of(load(FRONT))
    bodies, toe = RigidBodies(points), []
    for _, q, _ in bodies.march([0.0, 50.0], 36.0):
        centre = bodies.carried(q, "upright", points.wheel_centre)
        spin = bodies.carried(q, "upright", points.wheel_centre + np.array([0, 1.0, 0])) - centre
        toe.append(math.degrees(math.atan2(spin[0], spin[1])))
    r = done().results
    at = r.geometry.wheel_mm.index(50.0)
    assert r.steering.bump[4].toe_change_deg[at] == pytest.approx(toe[1] - toe[0], abs=1e-7)
    assert abs(toe[0]) > 20


def test_the_other_side_has_the_same_numbers():
    a, b = done().results, demos.corner("heronbank-front", True).results
    assert {x.key: x.value for x in b.geometry.rows} == pytest.approx(
        {x.key: x.value for x in a.geometry.rows}, rel=1e-7
    )
    for key in ("inner_lock_deg", "outer_lock_deg", "ackermann_lock", "ackermann_limit", "toggle_margin_deg"):
        assert getattr(b.steering, key) == pytest.approx(getattr(a.steering, key), rel=1e-7)
    assert b.geometry.axle.load_transfer_n_per_g == pytest.approx(a.geometry.axle.load_transfer_n_per_g)
    for x, y in zip(a.geometry.axle.rolled, b.geometry.axle.rolled, strict=True):
        assert asdict(x) == pytest.approx(asdict(y), rel=1e-7, abs=1e-9)
    assert [x.toe_change_deg[0] for x in b.steering.bump] == pytest.approx(
        [x.toe_change_deg[0] for x in reversed(a.steering.bump)], abs=1e-7
    )


def test_anti_dive_uses_the_cars_brake_share_or_the_one_it_follows_to():
    """At 1 g the front carries (L - a + h)/L of the car."""
    car = load(FRONT).car
    share, how = brake_share(load(FRONT))
    assert share == pytest.approx((car.wheelbase - car.cg_from_front + car.cg_height) / car.wheelbase)
    assert "1 g" in how
    r = done(**{"car.brake_share": 0.7}).results
    slope = r.geometry.contact_slope[int(np.argmin(np.abs(r.geometry.wheel_mm)))]
    want = 100 * 0.7 * slope * car.wheelbase / car.cg_height
    assert row(r, "anti_dive_outboard_percent").value == pytest.approx(want, rel=1e-6)
    assert "0.70" in row(r, "anti_dive_outboard_percent").definition


def test_roll_rate_and_transfer_of_the_demo_by_hand():
    """½·K·t² with K the wheel rate at ride; load at 1 g by statics."""
    r, car = done().results, load(FRONT).car
    at = int(np.argmin(np.abs(r.travel.wheel_mm)))
    rate = 0.5 * r.travel.wheel_rate_n_per_mm[at] * 1554**2 / 1000 * math.pi / 180
    a = r.geometry.axle
    assert a.roll_rate_springs_nm_per_deg == pytest.approx(rate, rel=1e-6)
    high = row(r, "roll_centre_mm").value
    load_n = (236 * high + 0.6 * car.mass * (car.cg_height - high)) * 9.80665 / 1554
    assert a.load_transfer_n_per_g == pytest.approx(load_n, rel=1e-6)
    bar = done(**{"car.bar_rate": 100.0, "car.other_roll_rate": 200.0}).results.geometry.axle
    assert bar.roll_share == pytest.approx((rate + 100) / (rate + 300), rel=1e-6)
    assert bar.roll_deg_per_g == pytest.approx(
        car.mass * 9.80665 * (car.cg_height - high) / 1000 / (rate + 300), rel=1e-6
    )


def test_a_joint_that_binds_and_a_steering_near_toggle_are_told():
    made = done(**{"tie_rod.thread": "M8", "tie_rod.wall": 2.0, "tie_rod.rack_travel": 60.0})
    tilt = next(f for f in made.results.findings if f.code == "tie-rod-tilt")
    worst = max(made.results.steering.tilts, key=lambda t: t.deg)
    assert tilt.level == "stop" and f"{worst.deg:.1f} deg" in tilt.text and worst.deg > worst.limit_deg == 13
    assert not [f for f in done().results.findings if f.code in ("tie-rod-tilt", "steering-toggle")]


def test_a_rack_that_pulls_the_steering_into_line_is_a_stop_and_never_a_margin():
    """The poses beyond do not exist; what is left of the travel must not pass for all of it."""
    near = done(**{"tie_rod.rack_travel": 63.0}).results
    assert 15 < near.steering.toggle_margin_deg < 30
    beyond = done(**{"tie_rod.rack_travel": 75.0}).results
    (stop,) = [f for f in beyond.findings if f.code == "steering-toggle"]
    held = beyond.steering.toggle_margin_at_rack_mm
    assert stop.level == "stop" and f"{held:.1f} mm" in stop.text and 63 < held < 75
    assert beyond.steering.toggle_margin_deg == 0
    assert any("come into one line" in x for x in lines(beyond))
    m = Mechanism(HardPoints.of(load(FRONT)))
    z = np.linspace(-45, 55, 101)[:, None]
    assert (
        m.at(z, [-held + 0.1, held - 0.1]).valid.all() and not m.at(z, [-held - 0.2, held + 0.2]).valid.all()
    )


def test_readings_from_the_string_are_the_rims_edges_of_the_independent_solution():
    job = load(FRONT)
    m = Mechanism(HardPoints.of(job))
    c = string_check(job, m)
    assert [x.wheel_mm for x in c.travel] == [-45, -40, -30, -20, -10, 0, 10, 20, 30, 40, 50, 55]
    bodies, points = RigidBodies(HardPoints.of(job)), HardPoints.of(job)
    for z, q, _ in bodies.march([-20.0, -45.0]):
        read = next(x for x in c.travel if x.wheel_mm == z)
        centre = bodies.carried(q, "upright", points.wheel_centre)
        spin = bodies.carried(q, "upright", points.wheel_centre + np.array([0, 1.0, 0])) - centre
        ahead = np.cross(spin, [0, 0, 1.0])
        edge = ahead / np.linalg.norm(ahead) * 14 * 25.4 / 2
        edges = [centre[1] + s * edge[1] for s in (1, -1)]
        assert (read.ahead_mm, read.behind_mm) == pytest.approx([c.string_mm - e for e in edges], abs=1e-6)
    for x in (*c.travel, *c.lock):
        assert x.difference_mm == pytest.approx(c.rim_mm * math.sin(math.radians(x.toe_deg)), abs=1e-9)
        assert min(x.ahead_mm, x.behind_mm) >= 30
    left = [x for x in c.lock if x.wheel == "left"]
    right = {x.rack_mm: x for x in c.lock if x.wheel == "right"}
    for x in left:  # both turn the same way; one wheel's lock is the other's the other way round
        assert x.steer_deg == pytest.approx(-right[-x.rack_mm].steer_deg, abs=1e-9)
        assert x.steer_deg * right[x.rack_mm].steer_deg >= 0


def test_an_inner_joint_outboard_of_the_arms_pivots_is_one_line():
    """By hand at x 120, z 250, three quarters of the way up: pivots at y 400 and 400, the line at 400; upper
    ones at 430 in front and 410 behind, their axis (20 in 200) at 432, the line at 424."""
    near, far = (planar(tie_inner=(120, y, 250)) for y in (409, 423))
    leant = {"upper_front": (100, 430, 300), "upper_rear": (-100, 410, 300)}
    assert pivots_line_y_mm(far) == pytest.approx(400)
    assert pivots_line_y_mm(far.changed(**leant)) == pytest.approx(424)
    assert not outboard(near, 1.0) and not outboard(far.changed(**leant), 1.0)
    assert not outboard(planar(tie_inner=(120, 300, 250)), 1.0)
    for points in (far, far.mirrored()):
        (warn,), (note,) = outboard(points, 0.2), outboard(points, 0.05)
        assert (warn.level, note.level) == ("warn", "note") and "23 mm outboard" in warn.text
    assert not outboard(far.changed(upper_front=(100, 400, 100), upper_rear=(-100, 400, 100)), 1.0)  # no line

    def told(s):
        return [f for f in s.results.findings if f.code == "inner-joint-outboard"]

    assert not told(done()) and not told(done(REAR))
    (found,) = told(done(**{"tie_rod.inner": (1832, 362, 191)}))
    assert found.level == "warn" and "20 mm outboard" in found.text and "y 342 mm" in found.text


def test_the_verb_says_it_in_ten_lines_and_writes_the_sheet(tmp_path):
    from pypdf import PdfReader

    ran = demos.verb("steer", FRONT, "--no-interference", "--out", tmp_path)
    assert ran.exit_code == 0, ran.output
    said = lines(done().results)
    assert 8 <= len(said) <= 13
    flat = " ".join(ran.output.split())
    for line in (*said, *definitions(done().results)):
        assert " ".join(line.split()) in flat
    text = "".join(
        p.extract_text() for p in PdfReader(tmp_path / "heronbank-front-steer" / "steering.pdf").pages
    )
    c = string_check(load(FRONT), done().mechanism)
    for x in (*c.travel, *c.lock):
        assert f"{x.ahead_mm:.1f}" in text and f"{x.behind_mm:.1f}" in text
    assert "Never under a car held by a jack alone" in text
