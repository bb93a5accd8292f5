"""What the interference check keeps between runs: the same answers, asked for once, and never for something
else."""

from __future__ import annotations

import math
import platform
import random
import sys
from dataclasses import replace

import demos
import fcl
import numpy as np
import pytest
from clearance_corner import PULL, bar, box, mechanism

from assemblies.clearance import Body, Limits, bounds, check, forget, memory
from assemblies.clearance.bounds import CornerBounds
from assemblies.clearance.cells import nearest_of_group
from assemblies.clearance.other_side import BothSides
from assemblies.clearance.plan import swept_box, swept_boxes
from assemblies.clearance.rest import RestBodies
from assemblies.clearance.scene import Grid
from assemblies.clearance.straight import Straight
from assemblies.gaps.interference import Asked
from assemblies.motion.links import Link
from assemblies.motion.mechanism import Mechanism
from parts.files import remembered
from parts.files.cache import cache_folder
from parts.shape.form import Form, Frame, Round

TRAVEL = (-30.0, 30.0)


@pytest.fixture
def folder(monkeypatch, tmp_path):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "kept"))
    forget()
    yield tmp_path / "kept"
    forget()


def bodies(tube_x=-20.0):
    return [
        Body("rod", "rod", (bar(PULL["rod_outboard"], PULL["rod_inboard"], 16),)),
        Body("tube", "frame", (bar((tube_x, 250, 300), (tube_x, 420, 100), 25),), "fixed"),
        Body("block", "frame", (box((-30, 300, 380), (30, 360, 420)),), "fixed"),
    ]


def asked(parts, between_runs=True, **other):
    return check(parts, mechanism(PULL), TRAVEL, between_runs=between_runs, **other)


def test_a_second_run_asks_nothing_and_says_the_same(folder):
    first = asked(bodies())
    forget()  # a new process
    second = asked(bodies())
    assert first.queries > 0 and second.queries == 0
    assert second.pairs == first.pairs and second.not_checked == first.not_checked


def test_a_moved_tube_asks_for_its_own_pair_only(folder):
    whole = asked(bodies())
    forget()
    moved = asked(bodies(tube_x=-21.0))
    forget()
    alone = asked(bodies(tube_x=-21.0), between_runs=False)
    assert 0 < moved.queries < whole.queries
    assert {(p.a, p.b): p.gap_mm for p in moved.pairs} == pytest.approx(
        {(p.a, p.b): p.gap_mm for p in alone.pairs}, abs=0.1
    )
    assert next(p for p in moved.pairs if "block" in (p.a, p.b)) == next(
        p for p in whole.pairs if "block" in (p.a, p.b)
    )


@pytest.mark.parametrize("other", [{"tolerance_mm": 0.05}, {"limits": Limits(fixed=40.0)}, {"rack_mm": 5.0}])
def test_another_question_is_not_answered_by_what_was_kept(folder, other):
    asked(bodies())
    forget()
    assert asked(bodies(), **other).queries > 0


def test_another_version_of_the_check_does_not_take_what_an_older_one_kept(folder, monkeypatch):
    asked(bodies())
    forget()
    monkeypatch.setattr(memory, "_source", lambda: "another")
    assert asked(bodies()).queries > 0


def test_a_damaged_file_counts_as_none(folder):
    first = asked(bodies())
    (file,) = folder.glob("*.gaps")
    data = bytearray(file.read_bytes())
    data[-20] ^= 1
    file.write_bytes(bytes(data))
    forget()
    again = asked(bodies())
    assert again.queries == first.queries and again.pairs == first.pairs


def test_nothing_is_kept_unless_it_is_asked_for_and_allowed(folder, monkeypatch):
    asked(bodies(), between_runs=False)
    assert not folder.exists()
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")
    forget()
    asked(bodies())
    forget()
    assert asked(bodies()).queries > 0 and not folder.exists()


# ------------------------------------------------------------ bodies at rest

RING = Form((Round(60, 40, 40, Frame((0.0, 0.0, -20.0))),))
PIN = bar((0, 0, -50), (0, 0, 50), 30)  # in the ring: 5 mm all round it


def at_rest(pin=PIN, ring=RING, hollow=True, tolerance_mm=0.1, within=9.0, deep=True, carrier="frame"):
    standing = RestBodies(
        [Body("pin", "frame", (pin,)), Body("ring", carrier, (ring,), hollow=hollow)], tolerance_mm
    )
    return standing.gaps([(0, 1)], [within], [deep]), standing.parts([0, 1])


@pytest.fixture
def asked_at_rest(monkeypatch):
    asked = []
    for name in ("_gap", "_metals"):
        look = getattr(RestBodies, name)
        monkeypatch.setattr(RestBodies, name, lambda *of, look=look: asked.append(of) or look(*of))
    return asked


def test_gaps_at_rest_are_asked_once_between_runs(folder, asked_at_rest):
    first = at_rest()
    assert len(asked_at_rest) == 3 and first[0] and first[1] == [1, 1]
    forget()  # a new process
    assert at_rest() == first and len(asked_at_rest) == 3


@pytest.mark.parametrize(
    ("other", "gap_mm", "metals"),
    [
        ({"pin": bar((0, 0, -50), (0, 0, 50), 32)}, 4.0, 1),
        ({"ring": Form((Round(60, 40, 36, Frame((0.0, 0.0, -20.0))),))}, 3.0, 1),
        ({"ring": RING.moved(Frame((2.0, 0.0, 0.0)))}, 3.0, 1),
        ({"hollow": False}, -45.0, 1),
        ({"hollow": False, "deep": False}, 0.0, 1),
        ({"tolerance_mm": 2.0}, None, 1),
        ({"within": 4.0}, math.inf, 1),
        ({"ring": Form((*RING.pieces, *RING.moved(Frame((0.0, 0.0, 90.0))).pieces))}, 5.0, 2),
    ],
    ids=["pin", "bore", "place", "hollow", "deep", "tolerance", "within", "metals"],
)
def test_a_gap_at_rest_never_answers_for_another(folder, asked_at_rest, other, gap_mm, metals):
    """The wall between two circles, (bore - pin) / 2, less what the ring is shifted; a pin through a solid
    comes out sideways (30 + 15) or not at all."""
    at_rest(**({"hollow": False} if "deep" in other else {}))
    forget()
    del asked_at_rest[:]
    rows, parts = at_rest(**other)
    assert asked_at_rest
    found = rows[0].gap_mm if rows else math.inf
    assert gap_mm is None or found == pytest.approx(gap_mm, abs=0.2)
    assert parts == [1, metals]


def test_what_runs_the_check_is_in_the_name_of_what_it_keeps(monkeypatch):
    """Another version of a library, of Python or another machine looks anew."""
    told = {memory._source.__wrapped__()}
    for of, name in ((np, "__version__"), (fcl, "__version__"), (sys, "version")):
        monkeypatch.setattr(of, name, "another")
        told.add(memory._source.__wrapped__())
    monkeypatch.setattr(platform, "machine", lambda: "another")
    assert len(told | {memory._source.__wrapped__()}) == 5


# ------------------------------------------------------------ boxes that bodies sweep, the travel of the arms


def test_a_swept_box_is_kept_and_never_answers_for_another(folder):
    """Body, place, carrier, motion, travel and rack: each changed alone after the first was kept."""
    rod = bodies()[0]
    moved = replace(rod, forms=(rod.forms[0].moved(Frame((0.0, 0.0, 1e-6))),))
    other = mechanism(PULL | {"damper_eye": np.add(PULL["damper_eye"], (0.0, 1e-3, 0.0))})
    asked = [(b, mechanism(PULL), TRAVEL, None) for b in (rod, moved, replace(rod, carrier="rocker"))]
    asked += [(replace(rod, carrier="damper_shaft"), m, TRAVEL, None) for m in (mechanism(PULL), other)]
    asked += [(rod, mechanism(PULL), (-30.0, 30.001), None), (rod, mechanism(PULL), TRAVEL, (-5.0, 5.0))]
    told = []
    for body, motion, travel, rack in asked:
        grid = Grid(CornerBounds.of(motion), travel, rack)
        own = np.array(swept_box(body, grid))
        for _ in range(2):  # made, then read
            forget()
            assert np.array_equal(swept_boxes([bodies()[1], body], grid, True)[1], own)
        told.append(tuple(own.ravel()))
    assert len(set(told)) == len(asked)
    both = BothSides(mechanism(PULL))
    assert both.content != both.sides[0].content != CornerBounds.of(other).content


def test_the_travel_of_the_arms_is_kept_for_its_own_motion_and_ranges(folder, monkeypatch):
    lower = mechanism(PULL | {"rod_on": "lower_arm"})
    asked = [(mechanism(PULL), TRAVEL, (-5.0, 5.0)), (lower, TRAVEL, (-5.0, 5.0))]
    asked += [(mechanism(PULL), (-30.0, 30.001), (-5.0, 5.0)), (mechanism(PULL), TRAVEL, (-5.0, 5.001))]
    found, look = [], Straight._travel
    monkeypatch.setattr(Straight, "_travel", staticmethod(lambda *of: found.append(look(*of)) or found[-1]))
    for k, (motion, *ranges) in enumerate(asked):
        for _ in range(2):
            forget()
            Straight.of.cache_clear()
            straight = Straight.of(CornerBounds.of(motion), *ranges, True)
            assert len(found) == k + 1 and straight.travel == found[k]
    assert len(set(found)) > 2  # what carries the rod has no part in it


def test_how_sharply_paths_bend_is_kept_for_its_own_motion_and_cells(folder, monkeypatch):
    """Motion, cells of travel and of rack: each changed alone after the first was kept."""
    other = mechanism(PULL | {"damper_eye": np.add(PULL["damper_eye"], (0.0, 1e-3, 0.0))})
    travel, rack = np.linspace(*TRAVEL, 5), np.linspace(-5.0, 5.0, 3)
    asked = [(mechanism(PULL), travel, rack), (other, travel, rack)]
    asked += [(mechanism(PULL), travel + 0.001, rack), (mechanism(PULL), travel, rack + 0.001)]
    monkeypatch.setattr(remembered, "cache_folder", cache_folder)  # conftest keeps nothing
    made, work = [], bounds.bends
    monkeypatch.setattr(bounds, "bends", lambda *of: made.append(of) or work(*of))
    for k, (motion, *cells) in enumerate(asked):
        for _ in range(2):  # made, then read
            monkeypatch.setattr(bounds, "_known", {})  # a new process
            told = CornerBounds.of(motion).bends(*cells)
            assert len(made) == k + 1
            assert all(map(np.array_equal, told, work(motion, *cells)))


# ------------------------------------------------------------ one body's pairs, one corner's bounds


def test_the_pairs_of_one_body_are_those_of_the_whole_check():
    parts = [*bodies(), Body("arm", "upper_arm", (bar((-100, 300, 250), (0, 560, 260), 20),))]
    whole = asked(parts, between_runs=False)
    forget()
    alone = asked(parts, between_runs=False, only="rod")
    assert alone.pairs == tuple(p for p in whole.pairs if "rod" in (p.a, p.b))
    assert 0 < len(alone.pairs) < len(whole.pairs) and alone.queries < whole.queries


def test_a_corner_s_bounds_are_those_of_another_only_where_all_its_points_are():
    points = mechanism(PULL).points
    one = CornerBounds.of(Mechanism(points))
    assert CornerBounds.of(Mechanism(points.changed())) is one
    shaft = Link((0.0, 100.0, 300.0), "frame", (0.0, 600.0, 300.0), "upright")
    others = [{name: np.add(getattr(points, name), (0.0, 0.0, 0.001))} for name in points.names]
    others += [{"static_toe_deg": 0.1}, {"rod_on": "lower_arm"}, {"side": "right"}, {"links": (shaft,)}]
    for changed in others:
        assert CornerBounds.of(Mechanism(points.changed(**changed))) is not one, changed
        one = CornerBounds.of(Mechanism(points))  # only the last few are known


@pytest.mark.slow
def test_a_pair_is_searched_alike_whatever_is_searched_beside_it(folder, monkeypatch):
    """Kept or searched anew, a pair says the same to the last digit: some bodies' pairs alone against all at
    once."""
    monkeypatch.setattr(sys.modules["assemblies.clearance.check"], "FULL", 0)  # few are bounded like many
    s = demos.corner("corrie-rear")
    asked = Asked.of(s.job, s.springing.ends, s.layout)

    def pairs(bodies):
        forget()
        names = {b.name for b in bodies}
        joints = [j for j in asked.joints if {j.a, j.b} <= names]
        found = check(bodies, s.mechanism, asked.travel_mm, asked.rack_mm, joints, asked.limits).pairs
        return {(p.a, p.b): p for p in found}

    whole = pairs(asked.bodies)
    names = sorted({b.name for b in asked.bodies})
    for seed in range(12):
        some = random.Random(seed).sample(names, len(names) // (2 + seed % 2))
        alone = pairs([b for b in asked.bodies if b.name in some])
        assert len(alone) > 20
        assert [(whole[p], alone[p]) for p in alone if whole[p] != alone[p]] == []


def test_the_nearest_of_a_group_is_the_same_at_the_end_of_the_list():
    """Two entries of one place, and no other group, or another after it: the last of them, by hand."""
    one, alone = np.array([0, 0]), np.array([5, 5])
    asked = np.array([0, 0]), np.array([9, 2])
    assert nearest_of_group(one, alone, *asked).tolist() == [1, 0]
    assert nearest_of_group(np.array([0, 0, 1]), np.array([5, 5, 9]), *asked).tolist() == [1, 0]
