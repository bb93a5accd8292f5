"""Inside a joint: what an audit found in the solids without a word is named by the check, or gone by the
part's own design."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import demos
import pytest

from assemblies.clearance import Limits, check
from assemblies.job import load
from assemblies.layout import bodies as neighbours
from assemblies.layout import rocker
from assemblies.study import study
from parts.arm import Arm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "tarnside-front", "corrie-rear")


@lru_cache(maxsize=3)
def job(name):
    return load(JOBS / f"{name}.toml")


def row(name: str, a: str, b: str, **changes):
    """The row of two bodies of a demo, changed, over travel and rack."""
    done = demos.known(job(name).changed(changes), interference=False) if changes else demos.corner(name)
    return _row(done, a, b)


def _row(done, a, b):
    j = done.job
    some = [x for x in neighbours.bodies(done.layout) if x.name in (a, b)]
    joints = [x for x in neighbours.joints(done.layout) if {x.a, x.b} == {a, b}]
    travel = (-j.corner.droop, j.corner.bump)
    (pair,) = check(some, done.mechanism, travel, j.tie_rod.rack_travel, joints, Limits.of(j.clearance)).pairs
    return pair


SEATS = [
    (f"{arm}_arm", f"{arm} arm {end} bracket") for arm in ("upper", "lower") for end in ("front", "rear")
]


@pytest.mark.parametrize("name", DEMOS)
def test_arms_and_dampers_keep_off_their_own_brackets(name):
    """Housings and eyes have their washer between the tabs, all else 3 mm for a weld's toe and side play."""
    for a, b in (*SEATS, ("damper", "damper bracket")):
        pair = row(name, a, b)
        assert pair.ok and pair.gap_mm > 0.9, (a, b, pair)
        assert (pair.least_gap_mm or pair.gap_mm) > 0.9


def test_a_tube_in_its_own_tab_is_named(monkeypatch):
    """Housings as short as they were: the lower arm's tube stands 1.4 mm in a tab (14 mm³ of the solids)."""
    monkeypatch.setattr(Arm, "between_tabs", lambda self, *_: self)
    pair = _row(study(job("heronbank-front"), interference=False), "lower_arm", "lower arm rear bracket")
    assert pair.clash and pair.found_gap_mm == pytest.approx(-1.4, abs=0.2)
    short = _row(study(job("corrie-rear"), interference=False), "upper_arm", "upper arm front bracket")
    assert not short.ok and not short.clash and short.required_mm == 3.0


def test_a_wide_base_gets_longer_housings_and_where_they_end_is_named(monkeypatch):
    """A lower arm 120 mm wider: its tubes lie at 50 deg and would pass whole tabs."""
    wide = {
        "lower_arm.front_pivot": [1950, 330, 152],
        "lower_arm.rear_pivot": [1540, 330, 146],
        "lower_arm.outer_joint": [1757, 640, 148],
        "corner.as_measured": ["upper_arm.outer_joint", "lower_arm.outer_joint"],  # for the arm alone
    }
    assert row("heronbank-front", "lower_arm", "lower arm front bracket", **wide).ok
    monkeypatch.setattr("parts.arm.MOST_HOUSING_MM", 36.0)
    assert row("heronbank-front", "lower_arm", "lower arm front bracket", **wide).clash


def test_a_dampers_body_begins_outside_what_its_eye_sits_between():
    """With the body 18 mm from its eye it stands 3 mm in both tabs (176 mm³ each in the solids)."""
    near = row("corrie-rear", "damper", "damper bracket", **{"damper.body_from_eye": 18.0})
    assert near.clash and near.found_gap_mm < -2.5
    at_rocker = {"damper.body_end": "rocker", "damper.body_diameter": 46}
    inside = row("heronbank-front", "damper", "rocker", **at_rocker)
    assert inside.clash  # the plates widen towards the pivot: the body's edge stands in them
    further = row("heronbank-front", "damper", "rocker", **at_rocker, **{"damper.body_from_eye": 45})
    assert further.ok


@pytest.mark.parametrize("name", DEMOS)
def test_strips_leave_eyes_and_rods_their_margin_at_every_tilt_and_lock(name):
    for body in ("damper", "rod"):
        pair = row(name, "rocker", body)
        assert pair.ok and pair.required_mm in (0.5, 3.0)


def test_a_strip_in_an_eyes_neck_is_named(monkeypatch):
    """Strips cut for the shaft alone, not for the eye's neck: one stands in the eye (138 mm³ of solids)."""
    made = rocker._swing
    monkeypatch.setattr(rocker, "_swing", lambda *a: made(*a[:6]))
    assert _row(study(job("tarnside-front"), interference=False), "rocker", "damper").clash


def test_the_ball_stays_with_its_bolt():
    """A rod's ball rides with the rocker, its housing with the rod; the shank turns in the housing alone."""
    layout = demos.corner("heronbank-front").layout
    rod = {b.part: b.carrier for b in neighbours.bodies(layout) if b.name == "rod"}
    assert rod == {"": "rod", "housing": "rod", "ball": "rocker"}
    (joint,) = (j for j in neighbours.joints(layout) if {j.a, j.b} == {"rod", "rocker bolts"})
    left_out = [r[:2] for r in joint.rows if r[2] is None]
    assert left_out == [("housing", "rod to rocker bolt shank")]
