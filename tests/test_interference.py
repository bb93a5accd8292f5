"""The check of a corner: how far it goes where the corner locks, which bodies it meets, and what it says of
them."""

import re
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.gaps.interference import closing_rack_mm
from assemblies.job import Job, JobError, load
from assemblies.job.checks import BODY_NAMES
from assemblies.layout.bodies import bodies
from assemblies.layout.contacts import contacts
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism

DEMO = Path(__file__).parent.parent / "assemblies" / "jobs" / "tarnside-front.toml"


def test_the_rack_to_which_a_corner_closes_is_where_its_poses_end():
    mechanism = Mechanism(HardPoints.of(load(DEMO)))
    travel, heights = (-50.0, 55.0), np.linspace(-50, 55, 211)[:, None]
    held = closing_rack_mm(mechanism, travel, 190.0)
    assert 36 < held < 190
    assert mechanism.at(heights, [-held, held]).valid.all()
    assert not mechanism.at(heights, [-held - 0.1, held + 0.1]).valid.all()
    assert closing_rack_mm(mechanism, travel, 36.0) == 36.0 and closing_rack_mm(mechanism, travel, 0.0) == 0.0


@pytest.mark.slow
def test_a_corner_that_locks_within_the_rack_is_checked_as_far_as_it_goes():
    done = demos.known(
        load(DEMO).changed(
            {
                "tie_rod.rack_travel": 190,
                "clearance.fasteners": False,
                "clearance.tools": False,
                "member": None,
                "pivot": None,
                "tie_rod.member": None,
                "spring.housing": {"outer": 60.3, "wall": 2.9},
            }
        )
    )
    stops = [f for f in done.results.findings if f.code == "rack-reach"]
    assert len(stops) == 1 and stops[0].level == "stop" and "190 mm asked" in stops[0].text
    found = done.results.clearance
    assert found.checked and found.pairs and any(text.startswith("rack beyond") for text in found.not_checked)
    assert max(abs(p.at_rack_mm) for p in found.pairs) < 190


BARE = {"clearance.fasteners": False, "clearance.tools": False}


@pytest.mark.slow
def test_what_stands_on_one_side_is_held_against_the_other_sides_bodies():
    """A battery and a tube across the car: the other side's damper comes as near to them as it does in that
    side's own job, where they stand where they stand. What is its own mirror image is not looked at twice."""
    battery = {"name": "battery", "shape": "box", "centre": [5, 100, 365], "size": [60, 60, 40]}
    brace = {"name": "brace", "shape": "round", "size": 20, "from": [-160, -250, 335], "to": [40, 250, 335]}
    across = {"name": "across", "shape": "round", "size": 20, "from": [60, -250, 350], "to": [60, 250, 350]}

    def done(job):
        given = job.changed(BARE).to_dict()
        given["member"] = [*given["member"], battery, brace, across]
        return demos.known(Job.from_dict(given)).results

    here, there = done(load(DEMO)), done(load(DEMO).mirrored())
    other = {(p.a, p.b): p for p in here.clearance.other_side}
    own = {(p.a, p.b): p for p in there.clearance.pairs}
    for name in ("battery", "brace"):
        seen, true = other["other damper", name], own["damper", name]
        assert seen.gap_mm == pytest.approx(true.gap_mm, abs=0.1) and seen.required_mm == true.required_mm
        assert seen.at_other_wheel_mm == pytest.approx(true.at_wheel_mm, abs=1.0)
    seen, true = other["other damper", "brace"], own["damper", "brace"]
    assert true.gap_mm > 0 and np.allclose(
        [seen.point_a, seen.point_b], [true.point_a, true.point_b], atol=0.5
    )
    assert own["damper", "battery"].gap_mm < 0
    assert [f.level for f in here.findings if f.where == "other damper to battery"] == ["stop"]
    assert not any("across" in pair for pair in other)


@pytest.mark.parametrize("body_end", ["chassis", "rocker"])
def test_a_coil_is_met_from_seat_to_perch_at_every_height(body_end):
    """Its length by Hooke's law from the force at ride height, and by how much nearer the damper's eyes have
    come."""
    job = load(DEMO.with_name("corrie-rear.toml")).changed(
        {"spring.free_length": 285, "damper.body_end": body_end}
    )
    done = demos.known(job, interference=False)
    rings = [b for b in bodies(done.layout) if b.name == "spring"]
    assert {b.carrier for b in rings} == {"damper_body", "damper_shaft"}
    turning = {c.b for c in contacts(done.layout) if c.kind == "turns" and c.a == "damper to rocker bolt"}
    assert turning == {"damper shaft" if body_end == "chassis" else "damper body"}
    heights = np.linspace(-60, 60, 13)
    eyes = done.mechanism.at(heights).damper_mm
    length = (
        285 - done.results.spring.ride_force_n / job.spring.rate + eyes - done.mechanism.at(0.0).damper_mm
    )
    for z, now, coil in zip(heights, eyes, length, strict=True):
        pose, ends = done.mechanism.at(z), []
        chassis, eye = np.array(job.damper.chassis_eye), pose.point("damper_eye")
        shaft, body = (eye, chassis) if body_end == "chassis" else (chassis, eye)
        for ring in rings:
            (piece,), frame = ring.forms[0].pieces, pose.frame(ring.carrier)
            at = frame @ piece.frame.matrix()
            start = float((at[:3, 3] - shaft) @ (body - shaft)) / now
            ends.append(sorted((start, start + piece.length_mm * float(at[:3, 2] @ (body - shaft)) / now)))
        (a, b), (c, d) = sorted(ends)
        assert (
            a == pytest.approx(job.spring.seat, abs=1e-6)
            and c <= b + 1e-6
            and d == pytest.approx(job.spring.seat + coil, abs=1e-6)
        )


def test_no_member_may_bear_the_name_of_a_body():
    """It would be one with that body in the gaps, joints and all."""
    for demo in ("heronbank-front", "corrie-rear", "tarnside-front"):
        job = load(DEMO.with_name(f"{demo}.toml"))
        made = {b.name for b in bodies(demos.known(job, interference=False).layout)} - {
            m.name for m in job.member
        }
        assert made <= set(BODY_NAMES)
    given = job.to_dict()
    given["member"][0]["name"] = "Spring anchor"
    with pytest.raises(JobError, match="a body of the corner has that name"):
        Job.from_dict(given)


def test_a_neighbour_may_be_called_what_a_part_of_another_spring_is():
    job = load(DEMO.with_name("corrie-rear.toml"))
    bar = {
        "name": "torsion bar",
        "shape": "round",
        "size": 22,
        "from": [-700, 250, 420],
        "to": [-300, 250, 420],
    }
    given = job.changed(BARE).to_dict()
    given["member"] = [*given["member"], bar]
    assert any(p.b == "torsion bar" for p in demos.known(Job.from_dict(given)).results.clearance.pairs)
    given["member"][-1]["moves_with"] = "spring"  # a coil has no one motion
    with pytest.raises(JobError, match=r"torsion bar\.moves_with.*damper_shaft"):
        Job.from_dict(given)


def test_a_guaranteed_gap_is_never_rounded_up_in_words():
    results = demos.known(load(DEMO).changed(BARE | {"clearance.fixed": 30})).results
    texts = {f.where: f.text for f in results.findings if f.code == "gap"}
    pairs = {f"{p.a} to {p.b}": p for p in results.clearance.pairs}
    assert texts
    for where, text in texts.items():
        if where in pairs:
            gap, lacks = (
                float(re.search(r"gap (-?[\d.]+) mm", text)[1]),
                float(re.search(r"them ([\d.]+) mm", text)[1]),
            )
            assert (
                0 <= pairs[where].gap_mm - gap < 0.0101
                and lacks >= pairs[where].required_mm - pairs[where].gap_mm - 1e-6
            )
