"""What the rack does not move, over one number in place of two: against the motion itself and against the
search over both."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from assemblies.clearance import check
from assemblies.clearance.bounds import CARRIERS, STEERED, CornerBounds
from assemblies.clearance.memory import forget
from assemblies.clearance.plan import Body
from assemblies.clearance.straight import Straight
from tests.clearance_corner import PULL, PUSH, bar, box, mechanism

TRAVEL, RACK = (-40.0, 50.0), 25.0
ALIKE = [k for k, name in enumerate(CARRIERS) if name not in STEERED]


@pytest.mark.parametrize("points", [PUSH, PULL], ids=["push", "pull"])
@pytest.mark.parametrize("seed", range(3))
def test_every_pose_of_travel_and_rack_is_one_of_the_straight_travel(points, seed):
    """scipy's brentq finds the straight-ahead travel at which the lower arm stands as in a pose of travel and
    rack: it lies in the range, and all but tie rod and upright stand there as in that pose."""
    corner = CornerBounds(mechanism(points, seed))
    m, straight = corner.mechanism, Straight.of(corner, TRAVEL, (-RACK, RACK))
    rng = np.random.default_rng(seed)
    poses = [
        *zip(rng.uniform(*TRAVEL, 30), rng.uniform(-RACK, RACK, 30), strict=True),
        *((z, s) for z in TRAVEL for s in np.linspace(-RACK, RACK, 15)),
    ]
    seen = []
    for z, s in poses:
        outer = m.at(z, s).point("lower_outer")[2]
        x = brentq(lambda x, outer=outer: m.at(x).point("lower_outer")[2] - outer, z - 15, z + 15, xtol=1e-12)
        seen.append(x)
        assert straight.travel[0] <= x <= straight.travel[1]
        there, here = corner.frames(np.array([x, z]), np.array([0.0, s]))
        assert np.abs(there - here)[ALIKE].max() < 1e-6
        low, high = straight.span((x, x))
        assert low <= z <= high
    assert (
        min(seen) - straight.travel[0] < 0.1 and straight.travel[1] - max(seen) < 0.1
    )  # and it is no longer than it must be
    assert straight.travel[0] < TRAVEL[0] - 0.01 or straight.travel[1] > TRAVEL[1] + 0.01


def test_what_the_rack_does_not_move_is_told_at_no_rack_setting():
    """A rod beside a post and a tie rod beside one, at an end of the travel that only lock reaches: the
    rod's row has no rack, and the gap found is the one at the pose told."""
    mech = mechanism(PULL)
    p = mech.points
    rod = Body("rod", "rod", (bar(p.rod_outboard, p.rod_inboard, 18),))
    tie = Body("tie_rod", "tie_rod", (bar(p.tie_inner, p.tie_outer, 14),))
    posts = [
        Body("rod's post", "frame", (bar((-60, 330, 60), (-60, 330, 420), 20),), "fixed"),
        Body("tie rod's post", "frame", (bar((110, 330, 60), (110, 330, 420), 20),), "fixed"),
    ]
    rows = {(r.a, r.b): r for r in check([rod, tie, *posts], mech, TRAVEL, RACK).pairs}
    assert all(r.at_rack_mm == 0.0 for (a, b), r in rows.items() if a == "rod" and "post" in b)
    assert rows["tie_rod", "tie rod's post"].at_rack_mm != 0.0
    row = rows["rod", "rod's post"]
    z = row.at_wheel_mm
    here = {(r.a, r.b): r for r in check([rod, *posts], mech, (z - 1e-6, z + 1e-6)).pairs}[
        "rod", "rod's post"
    ]
    assert here.found_gap_mm == pytest.approx(row.found_gap_mm, abs=1e-4)


def test_a_rod_on_the_upright_follows_the_rack():
    assert Straight.of(CornerBounds(mechanism(PULL | {"rod_on": "upright"})), TRAVEL, (-RACK, RACK)) is None


@pytest.mark.parametrize("seed", range(4))
def test_brackets_meet_those_of_the_search_over_both(seed, monkeypatch):
    """A rod with the least gap at an end of the travel, in the middle, and a clash: proven and found of
    either search hold for the other."""
    mech = mechanism(PULL, seed)
    p, rng = mech.points, np.random.default_rng(seed)
    rod = Body("rod", "rod", (bar(p.rod_outboard, p.rod_inboard, 18),))
    arm = Body("upper_arm", "upper_arm", (bar(p.upper_front, p.upper_outer, 22),))
    fixed = [
        Body(f"post {k}", "frame", (bar(a, a + rng.normal(0, 100, 3), 25),), "fixed")
        for k, a in enumerate(rng.uniform((-120, 150, 60), (120, 450, 420), (5, 3)))
    ]
    fixed.append(
        Body(
            "block",
            "frame",
            (box(np.add(p.rod_inboard, (-30, 20, 10)), np.add(p.rod_inboard, (30, 60, 40))),),
            "fixed",
        )
    )
    forget()
    one = check([rod, arm, *fixed], mech, TRAVEL, RACK)
    forget()
    monkeypatch.setattr(Straight, "of", lambda *_: None)
    both = {(q.a, q.b): q for q in check([rod, arm, *fixed], mech, TRAVEL, RACK).pairs}
    forget()
    assert len(one.pairs) == len(both) and any(q.clash for q in one.pairs)
    for a in one.pairs:
        b = both[a.a, a.b]
        assert (
            a.gap_mm <= b.found_gap_mm
            and b.gap_mm <= a.found_gap_mm
            and a.found_gap_mm - a.gap_mm <= 0.1 + 1e-9
        )
        assert (a.under_mm is None) == (b.under_mm is None) or abs(a.gap_mm - a.required_mm) < 0.1
        if a.under_mm and b.under_mm:
            assert a.under_mm == pytest.approx(b.under_mm, abs=0.2)
