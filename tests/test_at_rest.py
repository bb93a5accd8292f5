"""What stands still or rides together: one look at ride; contacts by name and kind."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import demos
import numpy as np
import pytest
from clearance_corner import bar, box, square_tube
from scipy.optimize import lsq_linear

from assemblies.clearance import Body
from assemblies.clearance.rest import RestBodies
from assemblies.gaps.rest import at_rest
from assemblies.job import load
from assemblies.study import study
from parts.shape.form import Form, Frame, Round

DEMO = "assemblies/jobs/heronbank-front.toml"


@lru_cache(maxsize=1)
def demo():
    return load(DEMO)


def resting(**changes):
    """Rows, contacts and findings of the demo, changed."""
    if not changes:
        return at_rest(demos.corner("heronbank-front").layout)
    return at_rest(demos.known(demo().changed(changes), interference=False).layout)


def with_member(**member):
    return {"member": [*(m.model_dump(by_alias=True, exclude_unset=True) for m in demo().member), member]}


# ------------------------------------------------------------ the engine, against closed forms


def gap_of(one: Form, two: Form, hollow=False, within=50.0):
    found = RestBodies([Body("a", "frame", (one,), hollow=hollow), Body("b", "frame", (two,))]).gaps(
        [(0, 1)], [within], [True]
    )
    return found[0] if found else None


@pytest.mark.parametrize("seed", range(6))
def test_gap_and_depth_of_two_parallel_bars_are_the_closed_form(seed):
    """Round bars of one direction: distance of their lines less both radii, negative as a depth."""
    rng = np.random.default_rng(seed)
    along = rng.normal(size=3)
    along /= np.linalg.norm(along)
    aside = np.cross(along, rng.normal(size=3))
    aside /= np.linalg.norm(aside)
    for apart in (30.0, 20.3, 19.7, 14.0):
        row = gap_of(bar(0 * along, 200 * along, 24), bar(apart * aside, apart * aside + 200 * along, 16))
        assert row.gap_mm <= apart - 20 <= row.found_gap_mm
        assert row.found_gap_mm - row.gap_mm < 0.05


@pytest.mark.parametrize("seed", range(4))
def test_blocks_turned_about_one_axis_are_no_further_apart_than_they_are(seed):
    """Edges and faces that are parallel, as in most frames: alone, the distance library told up to 120 mm
    more than there is. Against scipy's least squares within bounds: a point of either block in its own
    sizes."""
    rng = np.random.default_rng(seed)
    for _ in range(40):
        half, other = rng.choice([20.0, 30, 40, 200, 600], 3) / 2, rng.choice([20.0, 30, 3, 300], 3) / 2
        tilt = np.radians(rng.choice([0, 17, 30, 45, 90]))
        across = Frame((0, 0, 0), (np.cos(tilt), 0.0, np.sin(tilt)), (-np.sin(tilt), 0.0, np.cos(tilt)))
        reach = np.abs(across.matrix()[2, :3]) @ other
        away = np.array([*rng.choice([0.0, 5, 37, 150], 2), half[2] + reach + rng.choice([3.0, 12])])
        row = gap_of(
            box(-half, half), box(-other, other).moved(replace(across, origin=tuple(away))), within=500.0
        )
        sides = np.hstack([np.diag(half), -across.matrix()[:3, :3] * other])
        true = np.linalg.norm(sides @ lsq_linear(sides, away, (-1, 1), method="bvls").x - away)
        assert row.gap_mm <= true + 1e-6 and row.found_gap_mm == pytest.approx(true, abs=2e-3)


def test_crossing_tubes_boxes_and_faces_that_touch():
    one = square_tube((-100, 0, 0), (100, 0, 0), 30, 0)
    for z, gap in ((26.0, 1.0), (25.0, 0.0), (22.0, -3.0), (12.0, -13.0)):
        row = gap_of(one, square_tube((0, -100, z), (0, 100, z), 20, 0))
        assert row.gap_mm == pytest.approx(gap, abs=0.01) and row.found_gap_mm == pytest.approx(gap, abs=0.01)
    assert gap_of(box((0, 0, 0), (10, 10, 10)), box((80, 0, 0), (90, 10, 10))) is None


def test_a_hollow_body_keeps_its_bore():
    """A bar inside a tube: wall to bar; a box through the wall stands in it."""
    tube = Form((Round(200, 100, 160, Frame()),))
    row = gap_of(tube, bar((0, 0, -10), (0, 0, 110), 100), hollow=True)
    assert row.gap_mm == pytest.approx(30.0, abs=0.1)
    assert gap_of(tube, box((70, -5, 20), (90, 5, 40)), hollow=True).found_gap_mm < -4


def test_metal_in_two_parts_is_counted():
    two = Form((*bar((0, 0, 0), (50, 0, 0), 10).pieces, *bar((50.5, 0, 0), (90, 0, 0), 10).pieces))
    one = Form((*bar((0, 0, 0), (50, 0, 0), 10).pieces, *bar((50, 0, 0), (90, 0, 0), 10).pieces))
    standing = RestBodies([Body("two", "frame", (two,)), Body("one", "frame", (one,))])
    assert standing.parts([0, 1]) == [2, 1]
    layout = demos.corner("heronbank-front").layout
    lone = [replace(layout.placed[0], name=name, form=form) for name, form in (("two", two), ("one", one))]
    findings = at_rest(replace(layout, placed=[*layout.placed, *lone]))[2]
    assert [f.where for f in findings if f.code == "in-parts"] == ["two"]


# ------------------------------------------------------------ the demo


def test_the_demos_have_no_unnamed_contact():
    rows, touching, findings = resting()
    assert not findings and all(r.ok for r in rows)
    kinds = {c.kind for c in touching}
    assert kinds == {"weld", "node", "bolt", "fit", "held", "turns"}
    named = {frozenset((c.a, c.b)): c for c in touching}
    assert named[frozenset(("lower arm", "lower arm front bracket bolt"))].kind == "turns"
    assert named[frozenset(("lower rail", "lower arm front bracket tab 1"))].kind == "weld"


@pytest.mark.parametrize(
    "member, pair",
    [
        # a rack housing lowered into a cross tube
        (
            dict(name="rack 2", shape="round", size=40,
                 **{"from": (1690, -100, 107), "to": (1690, 100, 107)}),
            ("lower cross tube", "rack 2"),
        ),
        (
            dict(name="tank", shape="box", centre=(1840, 40, 130), size=(120, 160, 90)),
            ("floor diagonal", "tank"),
        ),
        (
            dict(name="stray", shape="round", size=20, wall=2, ends="square",
                 **{"from": (1300, 150, 165), "to": (1300, 450, 165)}),
            ("spring tube", "stray"),
        ),
        (
            dict(name="caliper", shape="box", centre=(1630, 740, 300), size=(110, 90, 60),
                 moves_with="upright"),
            ("caliper", "wheel"),
        ),
    ],
)  # fmt: skip
def test_bodies_that_never_move_against_each_other_are_compared(member, pair):
    """The cases an audit found without a word: a housing through a tube, a tank in one, a tube through the
    spring's housing, a caliper in the rim."""
    _, _, findings = resting(**with_member(**member))
    hit = [f for f in findings if set(f.where.split(" to ")) == set(pair)]
    assert len(hit) == 1 and hit[0].level == "stop" and "stand in each other" in hit[0].text


def test_the_depth_told_clears_the_overlap():
    """A box 7 mm into a tube's side, moved by what the finding asks, is clear by the gap asked."""

    def tank(y):
        return with_member(name="tank", shape="box", centre=(1560, y, 90), size=(40, 60, 20))  # fmt: skip

    _, _, findings = resting(**tank(315 - 15 - 30 + 7))
    (hit,) = [f for f in findings if "tank" in f.where]
    assert 6.9 < float(hit.text.split("at least ")[1].split(" mm")[0]) <= 7.0
    ask = float(hit.text.split("by at least ")[1].split(" mm")[0])
    assert ask == pytest.approx(7.5, abs=0.11)
    _, _, findings = resting(**tank(315 - 15 - 30 + 7 - ask))
    assert not [f for f in findings if "tank" in f.where]


def test_a_kind_that_asks_for_more_is_held_at_rest_too():
    """An exhaust 20 mm beside a tube: 30 is asked of it, standing still or not."""
    pipe = dict(name="pipe", shape="cylinder", diameter=40, kind="exhaust",
                **{"from": (1500, 255, 90), "to": (1600, 255, 90)})  # fmt: skip
    rows, _, findings = resting(**with_member(**pipe))
    row = next(r for r in rows if {r.a, r.b} == {"lower rail", "pipe"})
    assert row.required_mm == 30 and row.gap_mm == pytest.approx(25.0, abs=0.1) and not row.ok
    assert any(f.level == "warn" and "30 mm asked" in f.text for f in findings)


def test_a_weld_without_metal_under_it_is_a_finding(monkeypatch):
    """A bracket's tab drawn back from its member, over whose corner it is coped: 0.18, 0.7 and 1.9 mm off."""
    from dataclasses import replace

    done = study(demo(), interference=False).layout
    tab = next(s for s in done.seats if s.tabs[0].part.foot == "butt").tabs[0]
    away = -np.array(tab.frame.x)
    for off, level in ((0.3, None), (1.2, "warn"), (3.0, "stop")):
        moved = replace(tab, frame=replace(tab.frame, origin=tuple(np.array(tab.frame.origin) + off * away)))
        placed = [moved if p is tab else p for p in done.placed]
        monkeypatch.setattr(done, "placed", placed)
        seams = [f for f in at_rest(done)[2] if f.code == "open-seam"]
        monkeypatch.undo()
        assert [f.level for f in seams] == ([level] if level else [])


# ------------------------------------------------------------ corners of square tubes


def test_a_square_tubes_gap_counts_its_corners_as_sharp_as_they_may_be():
    """EN 10219-2 lets the outside corners of a 30 x 4 tube run from 1.6 to 2.4 walls: along the diagonal the
    metal then reaches (15 - r)·sqrt(2) + r, at most 18.56 mm from the axis with r = 6.4, not 17.90 with the
    nominal r = 8; with a radius that was measured it is that one's."""
    from assemblies.layout import bodies as neighbours

    def reach(**corner):
        rail = next(m for m in demo().member if m.name == "damper post")
        rest = [m.model_dump(by_alias=True, exclude_unset=True) for m in demo().member if m is not rail]
        job = demo().changed({"member": [*rest, rail.model_dump(by_alias=True, exclude_unset=True) | corner]})
        layout = demos.known(job, interference=False).layout
        (post,) = (b for b in neighbours.bodies(layout) if b.name == "damper post")
        out = np.array((1.0, 1.0, 0.0)) / np.sqrt(2)
        points = np.concatenate([p.points for p in post.pieces(0.01)])
        return float(((points - (1748.0, 0.0, 0.0)) @ out).max())

    for given, r in (({}, 6.4), ({"corner": 4.8}, 4.8), ({"corner": 2.0}, 2.0)):
        assert reach(**given) == pytest.approx((15 - r) * np.sqrt(2) + r, abs=0.002)
