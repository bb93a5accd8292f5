"""Bodies between two carriers: half shafts, columns, links; by hand where the corner is a parallelogram, by
another way of reckoning else."""

from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest
from clearance_corner import PULL, bar
from corners import planar

from assemblies.clearance import Body, Joint, Limits, between_sides, check
from assemblies.gaps.links import links
from assemblies.job import Job, JobError, starter
from assemblies.layout import bodies as near
from assemblies.layout.links import place_links
from assemblies.layout.placing import Layout
from assemblies.motion.ends import Ends
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.links import Link
from assemblies.motion.mechanism import Mechanism

HALF = {"name": "half shaft", "from": [5, 130, 270], "to": [0, 690, 265], "diameter": 24}
CLOSES = Ends((-90.0, 90.0), ("", ""), 40.0, 0.0, (None, None), (None, None), (None, None))


def job(**keys) -> Job:
    given = tomllib.loads(starter())
    given["link"] = [HALF | keys]
    return Job.from_dict(given)


def told(**keys):
    """Row and finding of the half shaft."""
    j = job(**keys)
    (row,), (finding,) = links(j, Mechanism(HardPoints.of(j)), CLOSES)
    return row, finding


def test_by_hand_on_a_parallelogram():
    """Arms of 300 mm swing the upright without turning it: at a rise z its points come in by
    300 - √(300² - z²)."""
    shaft = Link((0, 150, 200), "frame", (0, 650, 200), "upright")
    m = Mechanism(planar(links=(shaft,)))
    z = np.array([-80.0, 0.0, 50.0])
    a, b = shaft.ends(m.at(z))
    y = 650 - (300 - np.sqrt(300**2 - z**2))
    assert np.allclose(a, (0, 150, 200)) and np.allclose(b, np.stack([0 * z, y, 200 + z], -1), atol=1e-9)
    f = m.at(z).frame("link 1")
    assert np.allclose(f[:, :3, :3] @ np.swapaxes(f[:, :3, :3], -1, -2), np.eye(3), atol=1e-12)
    at = np.array([0, 640, 200.0])  # 10 mm from the end it stays with
    assert np.allclose(np.linalg.norm(f[:, :3, :3] @ at + f[:, :3, 3] - b, axis=-1), 10, atol=1e-9)
    apart = np.hypot(y - 150, z)
    from assemblies.clearance.hose import reach

    found = reach(m, "frame", (0, 150, 200), "upright", (0, 650, 200), (-80.0, 50.0))
    assert found.longest_mm == pytest.approx(500, abs=0.1)
    assert found.shortest_mm == pytest.approx(apart[0], abs=0.1) and found.shortest_mm <= apart[0]


@pytest.mark.parametrize(
    "link, p, q",
    [
        (Link((5, 120, 240), "frame", (75, 545, 200), "upright"), (110, 470, 330), (100, 480, 120)),
        (Link((20, 430, 130), "lower_arm", (60, 300, 380), "rocker", "from"), (40, 350, 290), (10, 360, 180)),
    ],
)
def test_gaps_are_proven_and_tight(link, p, q):
    """Against the distance of two segments at thousands of poses of travel and rack: never less than proven,
    and the least of them within the tolerance of it."""
    m = Mechanism(HardPoints(**PULL, links=(link,)))
    p, q = np.array(p, float), np.array(q, float)
    bodies = [
        Body("shaft", "link 1", (bar(link.from_point, link.to_point, 24),)),
        Body("post", "frame", (bar(p, q, 20),)),
    ]
    (pair,) = check(bodies, m, (-40, 40), 25.0, limits=Limits(), tolerance_mm=0.05).pairs
    frame = m.at(np.linspace(-40, 40, 41)[:, None], np.linspace(-25, 25, 11)).frame("link 1")
    a, b = (
        frame[..., :3, :3] @ np.array(x, float) + frame[..., :3, 3] for x in (link.from_point, link.to_point)
    )
    share = np.linspace(0, 1, 1001)[:, None]
    post = p + share * (q - p)
    least = min(_to_segment(post, x, y) for x, y in zip(a.reshape(-1, 3), b.reshape(-1, 3), strict=True)) - 22
    if pair.gap_mm > 0:  # of ends that are flat the segments' tubes are a little nearer
        assert pair.gap_mm <= least + 1e-6 and pair.gap_mm >= least - 0.6
    else:
        assert least < 0


def test_another_link_of_the_same_shape_is_not_taken_for_it():
    """What was proven of one is remembered by what carries it."""
    post = Body("post", "frame", (bar((40, 350, 290), (10, 360, 180), 20),))
    shaft = Body("shaft", "link 1", (bar((5, 120, 240), (0, 560, 235), 24),))
    found = []
    for on in ("upright", "lower_arm"):
        m = Mechanism(HardPoints(**PULL, links=(Link((5, 120, 240), "frame", (0, 560, 235), on),)))
        found.append(check([post, shaft], m, (-40, 40)).pairs[0].gap_mm)
    assert abs(found[0] - found[1]) > 0.05


def _to_segment(points, a, b) -> float:
    t = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
    return float(np.linalg.norm(points - a - t[:, None] * (b - a), axis=1).min())


def test_a_link_of_each_side():
    """Two level links across the car, 25 mm off the middle, that only turn about a joint on the frame."""
    link = Link((5, 25, 240), "frame", (5, 300, 240), "lower_arm", "from")
    m = Mechanism(HardPoints(**PULL, links=(link,)))
    bodies = [Body("stay", "link 1", (bar(link.from_point, link.to_point, 20),))]
    (pair,) = between_sides(bodies, m, (-40, 40), limits=Limits(moving=60)).pairs
    a, b = link.ends(m.at(np.linspace(-40, 40, 81)))
    tilt = np.abs((b - a)[:, [0, 2]]).max() / 275  # its flat end reaches so much of its radius inward
    assert 50 - 2 * 10 * tilt * 1.5 - 0.1 <= pair.gap_mm < 50 and {pair.a, pair.b} == {"stay", "other stay"}


def test_what_a_joint_stands_in_is_left_out_only_there():
    given = job(from_reach=50).to_dict()
    given["link"][0]["from_in"] = "final drive"
    given["member"].append(
        {"name": "final drive", "shape": "box", "centre": [5, 90, 270], "size": [200, 160, 160]}
    )
    j = Job.from_dict(given)
    out = Layout(j)
    place_links(out)
    (placed,) = out.placed
    parts = near.split(out, placed)
    assert {k: round(f.pieces[0].length_mm, 3) for k, f in parts.items()} == {
        "from end": 50,
        "": round(math.dist(HALF["from"], HALF["to"]) - 50, 3),
    }
    (joint,) = [x for x in _joints(out) if x.b == "final drive"]
    assert joint.row("half shaft", "from end", "") == (None,) and joint.row("half shaft", "", "") is None


def _joints(out) -> list[Joint]:
    from assemblies.layout.links import joints

    return joints(out)


def test_told_with_limits():
    """As told without limits; over its joint's way or angle a stop, with a move that was tried."""
    row, note = told()
    assert note.level == "note" and "link.half shaft.plunge, link.half shaft.from_angle" in note.text
    a, b = (
        Mechanism(HardPoints.of(job()))
        .points.links[0]
        .ends(
            Mechanism(HardPoints.of(job())).at(np.linspace(-45, 50, 400)[:, None], np.linspace(-35, 35, 41))
        )
    )
    apart = np.linalg.norm(b - a, axis=-1)
    assert 0 <= row.plunge_out_mm - (apart.max() - row.length_mm) < 0.11
    assert 0 <= row.plunge_in_mm - (row.length_mm - apart.min()) < 0.11
    way = b - a
    angle = np.degrees(np.arctan2(np.hypot(way[..., 0], way[..., 2]), way[..., 1]))
    assert row.from_angle_deg == pytest.approx(angle.max(), abs=0.01)
    slid = row.plunge_in_mm + row.plunge_out_mm
    assert told(plunge=slid + 1)[1].level == "note"
    stop = told(plunge=slid - 1)[1]
    assert stop.level == "stop" and "pulled apart" in stop.text
    assert told(slides="none")[1].level == "stop"
    assert told(from_angle=math.floor(row.from_angle_deg))[1].level == "stop"


def test_a_cure_that_is_told_cures():
    """A shaft that stands 45 mm too low: the move that is told clears both joints."""
    low = {"from": [5, 130, 225], "from_angle": 9, "to_angle": 40}
    _, stop = told(**low)
    assert stop.level == "stop"
    place = stop.text.split("Tried: link.half shaft.from = [")[1].split("]")[0]
    moved = [float(v) for v in place.split(",")]
    assert told(**low | {"from": moved})[1].level == "note"


@pytest.mark.parametrize(
    "keys, words",
    [
        ({"to_on": "frame"}, "two ends must move with different bodies"),
        ({"from_on": "wheel"}, "two ends must move with different bodies"),
        ({"to": [5, 130, 270]}, "the same point as from"),
        ({"slides": "none", "plunge": 20}, 'slides is "none"'),
        ({"from_in": "gear box"}, "must name a member or a body"),
        ({"name": "lower rail"}, "something else has that name"),
        ({"from_reach": 900}, "must be less than its length"),
        ({"from": [0.1, 4, 10]}, "looks like inches"),
    ],
)
def test_slips(keys, words):
    with pytest.raises(JobError, match=words):
        job(**keys)


def test_the_other_side():
    j = job(from_axis=[0.1, 1, 0]).mirrored()
    assert j.link[0].from_ == (5, -130, 270) and j.link[0].from_axis == (0.1, -1, 0)
    one = links(j, Mechanism(HardPoints.of(j)), CLOSES)[0][0]
    two = told(from_axis=[0.1, 1, 0])[0]
    assert one.plunge_in_mm == pytest.approx(two.plunge_in_mm, abs=1e-6)
    assert one.from_angle_deg == pytest.approx(two.from_angle_deg, abs=1e-9)
