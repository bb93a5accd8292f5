"""What strap and bump stop pull and press: the arm's tube by hand, the frame's end, the damper's force by a
second route."""

import math
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest
from entries import entries

from assemblies.job import load
from assemblies.motion.stops import bump_end
from assemblies.strength import stops
from assemblies.strength.forces import corner_forces
from assemblies.strength.load_cases import LoadCase
from parts.member import Member
from parts.shape.form import Frame

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")


@lru_cache
def demo(name, **changes):
    return demos.corner(name)


def arm_row(end, pull, safety=1.0):
    """An arm of 30 x 2 with its joint at the origin, front tube 400 mm along x, rear one 500 mm along y."""
    part = SimpleNamespace(
        front_pivot=(400.0, 0.0), rear_pivot=(0.0, 500.0), tube_diameter_mm=30.0, tube_wall_mm=2.0
    )
    frame = Frame.looking((10.0, 20.0, 30.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    layout = SimpleNamespace(arms={"lower_arm": SimpleNamespace(part=part, frame=frame)})
    job = SimpleNamespace(
        loads=SimpleNamespace(safety=safety),
        lower_arm=SimpleNamespace(material="S235"),
    )
    pull = np.array(pull, float)
    strap = SimpleNamespace(on="lower_arm")
    t = stops.Taut(strap, -50.0, pull, np.array(end, float) + np.array([10, 20, 30]), pull)
    (row,) = stops.on_arm(job, layout, t)
    return row


W = math.pi / 32 * (30**4 - 26**4) / 30
AREA = math.pi / 4 * (30**2 - 26**2)


def test_a_strap_bends_the_tube_it_pulls_on():
    """Handbook beam on two pins: 1000 N at 100 of 400 mm is 75 N·m, 1.5 times that with the safety; on the
    other tube, 150 of 500, 105 N·m."""
    row = arm_row((100, 0, 0), (0, 0, 1000), 1.5)
    assert (row.demand, row.resistance, row.level) == (pytest.approx(1.5 * 75e3 / W), 235, "stop")
    assert "front tube" in row.check
    row = arm_row((0, 150, 0), (0, 0, 1000))
    assert row.demand == pytest.approx(105e3 / W) and "rear tube" in row.check


def test_a_strap_that_stands_off_the_tube_twists_it_too():
    """Statics: 300 N along the tube and 400 across, 20 mm off its axis: 30 + 6 N·m of bending, 300 N of pull,
    8 N·m of torque on 2·W."""
    row = arm_row((100, 0, 20), (300, 400, 0))
    assert row.demand == pytest.approx(math.hypot(36e3 / W + 300 / AREA, math.sqrt(3) * 8e3 / (2 * W)))


def test_the_tube_that_the_strap_stands_on():
    """Row R1 with the strap for its bracket: SHS 25 x 25 x 3, 500 mm between nodes, 60 mm off its axis at 200
    mm, (800, 400, 1000) N on the frame: 130.89348 MPa; without nodes on both sides its span is not known."""
    rail = Member.square((-100, 0, 0), (700, 0, 0), 25, 3)
    ends = [SimpleNamespace(point=(x, 0.0, 0.0), members=("rail", "post")) for x in (0.0, 500.0)]
    job = SimpleNamespace(member=[SimpleNamespace(name="rail", material="S235")])
    pull = -np.array([800.0, 400.0, 1000.0])
    t = stops.Taut(SimpleNamespace(frame=(200.0, 0.0, 60.0)), -50.0, pull, np.zeros(3), pull)

    def rows(nodes):
        layout = SimpleNamespace(members={"rail": rail}, junctions=SimpleNamespace(nodes=nodes))
        return stops.on_frame_tube(job, layout, t, entries(3), "rail")

    (row,), words = rows(ends)
    assert (row.demand, row.resistance) == pytest.approx((130.89348, 235), rel=1e-4) and not words
    assert (row.level, row.case, row.wheel_mm) == ("warn", stops.CASE, -50.0)
    none, (told,) = rows(ends[:1])
    assert not none and "tube 'rail' under the droop strap: no other tube" in told


@pytest.mark.parametrize("name", DEMOS)
def test_the_frame_bears_the_strap_on_a_named_tube(name):
    """The reaction points from the strap's place on the frame to its end where it is as long as it is made,
    with the force that the finding on the strap tells."""
    s = demo(name)
    strap = s.job.droop_strap
    (r,) = (x for x in s.results.strength.frame if x.name == "droop strap")
    body = s.mechanism.at([r.at_wheel_mm]).frame(strap.on)[0]
    line = body[:3, :3] @ np.array(strap.end) + body[:3, 3] - np.array(strap.frame)
    assert np.linalg.norm(line) == pytest.approx(strap.length, abs=0.05)
    force = np.array(r.force_n)
    assert np.linalg.norm(np.cross(force, line)) < 1e-6 * np.linalg.norm(force) * strap.length
    assert force @ line > 0
    told = next(f.text for f in s.results.findings if f.code == "droop-strap")
    assert f"with up to {np.linalg.norm(force):.0f} N" in told
    assert r.on in s.layout.members
    assert any(m.startswith(f"droop strap on {r.on}: ") for m in s.results.strength.missing)
    (row,) = (c for c in s.results.strength.checks if c.item == "droop strap")
    assert row.at_wheel_mm == r.at_wheel_mm


def test_a_strap_that_stands_on_nothing_is_a_stop():
    job = load(JOBS / "heronbank-front.toml")
    x, y, z = job.droop_strap.frame
    far = job.changed(
        {"droop_strap.frame": [x, y, z + 150], "droop_strap.length": job.droop_strap.length + 105}
    )
    s = demos.known(far, interference=False)
    assert any(f.code == "droop-strap" and "pulled" in f.text for f in s.results.findings)
    said = [f.text for f in s.results.findings if f.level == "stop" and f.code == "load-path"]
    assert len(said) == 1 and "droop_strap.frame within 40 mm of a [[member]]'s side" in said[0]


@pytest.mark.parametrize("name", ("heronbank-front", "tarnside-front"))
def test_the_bump_stops_force_is_the_dampers_in_the_load_case(name):
    """Two routes: the stop's own rows where spring and stop carry the corner, and the equilibrium of all
    joints under that load at the wheel at that height."""
    s = demo(name)
    end = bump_end(s.job, s.mechanism, s.springing)
    load_n = s.job.loads.vertical_g * s.job.corner.corner_mass * 9.80665
    case = LoadCase("x", (0, 0, load_n), travel_mm=(end.wheel_mm, end.wheel_mm), at="wheel_centre")
    f = corner_forces(s.job, s.mechanism, s.springing, (case,))
    assert -f.damper_n == pytest.approx(end.force_n, rel=2e-3)
    assert any(
        m.startswith("bump stop's seat") and f"; {end.force_n:.0f} N along the damper" in m
        for m in s.results.strength.missing
    )
