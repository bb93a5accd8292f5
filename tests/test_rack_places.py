"""Where the inner joint may go: least toe, whole millimetres, room, and two jobs as an axle."""

import math
from dataclasses import replace

import demos
import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import load
from assemblies.motion.hard_points import HardPoints
from assemblies.steering.account import axle
from assemblies.steering.geometry import corner
from assemblies.steering.places import zone_row
from assemblies.steering.room import room
from assemblies.steering.words import place
from assemblies.steering.zone import advice, sentence, worst_toe_deg, zone
from assemblies.study import study
from tests.corners import PUSH, planar
from tests.rigid_bodies import RigidBodies
from tests.test_rack import FRONT, job

TRAVEL = (-45.0, 55.0)


def test_worst_toe_is_the_greatest_change_of_the_independent_solution():
    """Rod made anew to another inner joint; heights as sampled, both ends among them."""
    y, z = 193.0, 141.0
    points = PUSH.changed(tie_inner=np.array([72.0, y, z]))
    bodies, toe = RigidBodies(points), {}
    for way in (np.linspace(0, -30, 6), np.linspace(0, 30, 6)):
        for height, q, _ in bodies.march(way):
            centre = bodies.carried(q, "upright", points.wheel_centre)
            spin = bodies.carried(q, "upright", points.wheel_centre + np.array([0, 1.0, 0])) - centre
            toe[height] = math.degrees(math.atan2(spin[0], spin[1]))
    worst = max(abs(v - toe[0.0]) for v in toe.values())
    assert float(worst_toe_deg(PUSH, y, z, (-30.0, 30.0))) == pytest.approx(worst, abs=1e-6)


def test_the_best_place_of_parallel_equal_arms_is_the_parallel_equal_rod():
    """Arms of 300 level: a level rod of 300 gives no toe at all, at any height of the outer joint; the outer
    joint stands at y 700, z 200, so the inner one belongs at y 400, z 200."""
    found = zone(planar(tie_inner=(120, 423, 215)), (-50.0, 50.0))
    assert found.present_deg > 1
    assert found.best_mm == pytest.approx((400, 200), abs=0.05) and found.best_deg < 2e-3
    assert found.inside.any() and not found.inside.all()
    k, i = np.unravel_index(np.nanargmin(found.worst_deg), found.worst_deg.shape)
    assert math.dist((found.y_mm[i], found.z_mm[k]), (400, 200)) < 6
    assert (found.worst_deg[found.inside] <= found.limit_deg).all()
    right = zone(planar(tie_inner=(120, 423, 215)).mirrored(), (-50.0, 50.0))
    assert right.best_mm == pytest.approx((-400, 200), abs=0.05)


@pytest.mark.usefixtures("alone")
def test_what_is_advised_is_what_the_job_then_gives():
    j = job().changed({"tie_rod.inner": [1832, 340, 185], "rack.centre": [1832, 0, 185]})
    found = zone(HardPoints.of(j), TRAVEL)
    tip = advice(j, found, TRAVEL)
    assert tip.raise_mm == round(tip.raise_mm) and tip.outboard_mm == round(tip.outboard_mm)
    said = sentence(j, found, tip, TRAVEL)
    assert said.startswith("raise the rack 6 mm and make the left extension 99 mm: toe stays within 0.0")
    there = study(j.changed(tip.changes), interference=False).results
    straight = there.steering.bump[2]
    assert there.steering.rack.extension_mm == pytest.approx(tip.extension_mm) == pytest.approx(99)
    assert abs(straight.worst_deg) == pytest.approx(tip.toe_deg, abs=1e-6)
    told = float(said.split("within ")[1].split(" deg")[0])
    assert abs(straight.worst_deg) <= told < abs(straight.worst_deg) + 1e-3
    now = float(said.split("(now ")[1].split(" deg")[0])
    assert now == pytest.approx(found.present_deg, abs=1e-3) and now > 0.5


@pytest.mark.usefixtures("alone")
@pytest.mark.slow
def test_a_place_without_room_is_named_with_what_stands_in_the_way():
    """As the whole check of the job so changed has it."""
    s = demos.corner("heronbank-front")
    low = {"tie_rod.inner": [1832, 340, 151]}
    seen = room(s.job, s.layout, s.springing.ends, low)
    whole = study(s.job.changed({**low, "clearance.tools": False})).results
    short = {(p.a, p.b): p.gap_mm for p in whole.clearance.pairs if not p.ok and "tie_rod" in (p.a, p.b)}
    assert short and {(a, b): gap for a, b, gap, _ in seen.short} == pytest.approx(short, abs=1e-6)
    here = room(s.job, s.layout, s.springing.ends, {})
    assert here.clear and not here.why
    assert "cannot follow" in room(s.job, s.layout, s.springing.ends, {"tie_rod.rack_travel": 75.0}).why
    assert room(s.job, s.layout, s.springing.ends, {"tie_rod.inner": [1832, 340, "x"]}).why


@pytest.mark.slow
def test_the_zone_says_where_there_is_room_and_counts_what_it_tried():
    s = demos.known(load(FRONT).changed({"tie_rod.inner": [1832, 348, 203]}), interference=False)
    z = zone_row(s.job, s.layout, s.springing.ends)
    assert z.best.clear and z.raise_mm < -5 and "lower the rack" in z.sentence
    said = place(replace(s.results.steering, zone=z))
    assert any("proven" in x for x in said)
    unseen = zone_row(s.job, s.layout, s.springing.ends, look=False)
    assert unseen.best.clear is None
    assert not any("proven" in x for x in place(replace(s.results.steering, zone=unseen)))


def test_two_jobs_make_an_axle(tmp_path):
    """The other side with a softer spring: roll rate ΣK·y² of both, rows of either wheel its own."""
    this = demos.corner("heronbank-front")
    other = study(
        load(FRONT).mirrored().changed({"spring.length": 800, "corner.bump": 50}), interference=False
    )
    at = corner(this.mechanism.at(np.zeros(1)))
    both = axle(this.job, this.mechanism, this.springing, at, (other.job, other.springing))
    rates = [
        s.results.travel.wheel_rate_n_per_mm[int(np.argmin(np.abs(s.results.travel.wheel_mm)))]
        for s in (this, other)
    ]
    assert rates[0] > rates[1] * 1.05
    assert both.roll_rate_springs_nm_per_deg == pytest.approx(sum(rates) * 777**2 / 1e3 * math.pi / 180)
    alone = axle(this.job, this.mechanism, this.springing, at)
    assert both.rolled == alone.rolled  # same points, mirrored
    file = tmp_path / "other.toml"
    file.write_text(FRONT.read_text(encoding="utf-8"), encoding="utf-8")
    ran = CliRunner().invoke(
        app, ["steer", str(FRONT), str(file), "--no-interference", "--out", str(tmp_path)]
    )
    assert ran.exit_code == 2 and "name the other side's job" in " ".join(ran.output.split())
