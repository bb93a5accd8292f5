"""The kernel's look at whole solids: what shares metal is found and told, at the pose where it does, and what
does not is not; boxes never hide a pair that does."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest

from assemblies.layout.contacts import ROUNDING_MM3, contacts
from assemblies.making.drawn import Drawn, drawn
from assemblies.making.gap_views import confirming, whole
from assemblies.making.gap_views.confirming import told, whole_poses
from assemblies.making.gap_views.whole import Looker, Shared, near
from parts.files.solid import solid
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline, rectangle

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@lru_cache(maxsize=1)
def tarnside():
    return demos.corner("tarnside-front")


def thing(name: str, form: Form, where=None, made: bool = True) -> Drawn:
    of = SimpleNamespace(name=name, body=name, form=form, carrier="frame")
    return Drawn(name, solid(form) if made else None, np.eye(4) if where is None else where, of, "frame")


def block(size, at=(0.0, 0.0, 0.0)) -> Form:
    x, y, z = size
    return Form((Prism(Outline(rectangle(0, 0, x, y)), z, Frame(at)),))


def test_a_bar_through_a_plate_shares_their_section_times_the_thickness():
    """πd²/4·t by hand; asked once while they stand to each other as before, again where they do not."""
    plate, bar = (
        thing("plate", block((100, 80, 6))),
        thing("bar", Form((Round(10, 60, 0.0, Frame((50, 40, -20))),))),
    )
    look = Looker()
    (s,) = look.at([plate, bar], 0.0, 0.0)
    assert s.common_mm3 == pytest.approx(math.pi * 25 * 6, rel=1e-6) and look.asked == 1
    moved = np.eye(4)
    moved[:3, 3] = (500, 20, 7)
    both = [thing(d.name, d.of.form, moved) for d in (plate, bar)]
    assert not look.at(both, 1.0, 0.0) and look.asked == 1
    assert look.at([plate, both[1]], 1.0, 0.0) == [] and look.asked == 1  # apart now: their boxes say so
    aside = np.eye(4)
    aside[0, 3] = 1.0
    assert len(look.at([plate, thing("bar", bar.of.form, aside)], 2.0, 0.0)) == 1 and look.asked == 2


def test_a_hole_with_its_bolt_shares_nothing_and_touching_faces_are_not_asked():
    plate = Form(
        (Prism(Outline(rectangle(0, 0, 60, 60), holes=()), 6.0),),
        cuts=(Round(10, 6.0, 0.0, Frame((30, 30, 0))),),
    )
    look = Looker()
    assert not look.at(
        [thing("plate", plate), thing("bolt", Form((Round(10, 40, 0.0, Frame((30, 30, -10))),)))], 0, 0
    )
    assert look.asked == 1
    assert not look.at([thing("one", block((20, 20, 5))), thing("two", block((20, 20, 5), (0, 0, 5)))], 0, 0)
    assert look.asked == 1


def test_boxes_never_part_two_bars_that_share_metal():
    """600 pairs of bars at random: whose middle lines come nearer than both radii are all asked."""
    rng, met = np.random.default_rng(5), 0
    for _ in range(600):
        things = []
        for name in "ab":
            frame = Frame.looking(tuple(rng.uniform(-25, 25, 3)), rng.normal(0, 1, 3), rng.normal(0, 1, 3))
            form = Form((Round(float(rng.uniform(5, 20)), float(rng.uniform(20, 120)), 0.0, frame),))
            things.append(thing(name, form, made=False))
        axes = [np.array(t.of.form.pieces[0].frame.z) for t in things]
        ends = [np.array(t.of.form.pieces[0].frame.origin) for t in things]
        lengths = [t.of.form.pieces[0].length_mm for t in things]
        # centre lines nearer than both radii, by sampling: no box and no kernel in it
        lines = [e + a * np.linspace(0, n, 60)[:, None] for e, a, n in zip(ends, axes, lengths, strict=True)]
        away = np.linalg.norm(lines[0][:, None] - lines[1][None], axis=2)
        k, m = np.unravel_index(away.argmin(), away.shape)
        if (
            0 < k < 59
            and 0 < m < 59
            and away[k, m] < sum(t.of.form.pieces[0].diameter_mm for t in things) / 2 - 1.0
        ):
            met += 1
            assert near(things) == [(0, 1)]
    assert met > 30


def test_an_answer_is_kept_for_the_same_two_in_the_same_place_to_each_other_alone(monkeypatch, tmp_path):
    """A bar through a plate, moved together through the car, then each thing that the answer hangs on
    changed: the bar's place by a hair, its turn, either solid. Each of these is asked anew."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    asked, real = [], whole.common_mm3
    monkeypatch.setattr(whole, "common_mm3", lambda *given: asked.append(given) or real(*given))
    plate, bar = block((100, 80, 6)), Form((Round(10, 60, 0.0, Frame((50, 40, -20))),))
    moved = Frame.looking((1748.3, -211.7, 90.1), (0.3, 0.2, 0.9), (1, 0, 0.1)).matrix()

    def found(at, own=plate, other=bar, by=None):
        look = Looker(between_runs=True)
        (s,) = look.at(
            [thing("plate", own, at), thing("bar", other, at if by is None else at @ by)], 0.0, 0.0
        )
        look.keep()
        return s.common_mm3

    one = found(np.eye(4))
    assert found(moved) == one == found(np.eye(4)) and len(asked) == 1
    aside, turned = Frame((2e-6, 0, 0)).matrix(), Frame.looking((0, 0, 0), (0, -1e-8, 1), (1, 0, 0)).matrix()
    changed = [
        {"by": aside},
        {"by": turned},
        {"own": block((100, 80, 7))},
        {"other": Form((Round(11, 60, 0.0, Frame((50, 40, -20))),))},
    ]
    for n, change in enumerate(changed, 2):
        assert (found(np.eye(4), **change) != one or "by" in change) and len(asked) == n


def test_a_spent_allowance_is_said():
    look = Looker(most=1)
    things = [thing(n, block((20, 20, 5))) for n in "abc"]
    assert len(look.at(things, 0, 0)) == 1 and look.left == 2


# ------------------------------------------------------------ what is told of it


def results_with(pairs=(), at_rest=(), findings=()):
    gaps = SimpleNamespace(pairs=list(pairs), at_rest=list(at_rest))
    return SimpleNamespace(clearance=gaps, findings=list(findings))


def parts(*names):
    by = {d.name: d for d in drawn(tarnside(), 0.0, 0.0, lambda p: p.name in names)}
    return [by[n] for n in names]


def test_untold_metal_is_a_stop_and_told_metal_is_not_told_twice():
    strip, shaft = parts("rocker box strip 1", "damper shaft")
    found = [Shared(strip, shaft, 3.0, -20.0, 0.0), Shared(strip, shaft, 138.4, -50.0, 0.0)]
    rows, findings = told(tarnside(), results_with(), found)
    assert [r.common_mm3 for r in rows] == [138.4] and rows[0].kind is None
    (f,) = findings
    assert f.level == "stop" and f.code == "shared-metal" and "138.4 mm³" in f.text and "-50.0 mm" in f.text
    clash = SimpleNamespace(a="damper", b="rocker", found_gap_mm=-2.5)
    rows, findings = told(tarnside(), results_with([clash]), found)
    assert len(rows) == 1 and not findings
    assert told(tarnside(), results_with(), [Shared(strip, shaft, ROUNDING_MM3, 0, 0)]) == ([], [])


def test_a_contact_is_allowed_to_touch_and_no_more():
    """The shaft's eye turns on its bolt: known by name and kind, and a stop where one is in the other."""
    shaft, bolt = parts("damper shaft", "damper to rocker bolt")
    rows, findings = told(tarnside(), results_with(), [Shared(shaft, bolt, 50.0, 0.0, 0.0)])
    assert rows[0].kind == "turns" and findings[0].level == "stop" and "on purpose" in findings[0].text
    lean = SimpleNamespace(code="eye-lean", where="damper to rocker bolts")
    assert told(tarnside(), results_with(findings=[lean]), [Shared(shaft, bolt, 50.0, 0.0, 0.0)])[1]
    found = Looker().at([shaft, leaning(bolt, shaft, 2.5)], 0.0, 0.0)
    assert found[0].common_mm3 > 20 and told(tarnside(), results_with(), found)[1]
    assert not told(tarnside(), results_with(findings=[lean]), found)[1]


def leaning(bolt: Drawn, eye: Drawn, degrees: float) -> Drawn:
    """The bolt turned about the eye's middle, square to itself (Rodrigues)."""
    across = np.linalg.svd(bolt.where[:3, 2][None])[2][1]
    k, a, turn = np.cross(across, np.eye(3)).T, math.radians(degrees), np.eye(4)
    turn[:3, :3] = np.eye(3) + math.sin(a) * k + (1 - math.cos(a)) * k @ k
    turn[:3, 3] = eye.where[:3, 3] - turn[:3, :3] @ eye.where[:3, 3]
    return Drawn(bolt.name, bolt.shape, turn @ bolt.where, bolt.of, bolt.carrier, bolt.within)


def test_a_contact_may_share_no_more_than_its_own_size():
    """An eye leaning as far as a reamed bore lets it, against the kernel; a node's tubes a sliver of the
    thinner one; a weld and a spring in its window nothing."""
    shaft, bolt = parts("damper shaft", "damper to rocker bolt")
    known = {c.pair: c for c in contacts(tarnside().layout)}
    eye = known[frozenset((shaft.name, bolt.name))]
    (found,) = Looker().at([shaft, leaning(bolt, shaft, 0.1)], 0.0, 0.0)
    assert found.common_mm3 == pytest.approx(eye.may_share_mm3 - ROUNDING_MM3, rel=0.05)
    most = {c.kind: max(x.may_share_mm3 for x in known.values() if x.kind == c.kind) for c in known.values()}
    thickest = max(m.outline().area_mm2 for m in tarnside().layout.members.values())
    assert most["weld"] == most["held"] == most["fit"] == most["bolt"] == ROUNDING_MM3
    assert ROUNDING_MM3 < most["node"] <= ROUNDING_MM3 + 0.5 * thickest


def test_whole_solids_are_looked_at_though_the_gaps_were_not(monkeypatch):
    strip, shaft = parts("rocker box strip 1", "damper shaft")
    seen = confirming.Seen([Shared(strip, shaft, 138.4, -50.0, 0.0)], [[0.0, 0.0]], [])
    monkeypatch.setattr(confirming, "_whole", lambda done, asked, progress: seen)
    assert not tarnside().results.clearance.checked
    r = confirming.confirmed(tarnside(), tarnside().results)
    assert r.clearance.whole_at == [[0.0, 0.0]] and not r.clearance.checked
    assert [f.level for f in r.findings if f.code == "shared-metal"] == ["stop"]


def test_welded_parts_that_share_a_little_are_a_warning_and_a_lot_a_stop():
    strip, plate = parts("rocker box strip 1", tarnside().layout.rocker_plates[0].name)
    for common, level in ((3.0, "warn"), (2000.0, "stop")):
        rows, findings = told(tarnside(), results_with(), [Shared(strip, plate, common, 0.0, 0.0)])
        assert rows[0].kind == "weld" and [f.level for f in findings] == [level]


def test_the_looks_are_at_droop_ride_bump_and_full_lock():
    job = tarnside().job
    rack = job.tie_rod.rack_travel
    assert whole_poses(tarnside()) == [
        (-job.corner.droop, 0.0),
        (0.0, 0.0),
        (job.corner.bump, 0.0),
        (0.0, rack),
        (0.0, -rack),
    ]


@pytest.mark.slow
def test_no_two_solids_of_a_demo_share_metal_and_a_planted_one_is_found():
    """The other two demos are built whole, and looked at so, in test_build."""
    done = tarnside()
    look, found = Looker(), []
    for z, rack in whole_poses(done)[:3]:
        found += look.at(list(drawn(done, z, rack)), z, rack)
    assert told(done, results_with(), found) == ([], [])
    things = list(drawn(done, 0.0, 0.0))
    shaft = next(d for d in things if d.name == "damper shaft")
    tab = next(d for d in things if d.name.startswith("damper bracket tab"))
    across = np.eye(4)
    across[:3, 3] = shaft.where[:3, 3] - tab.where[:3, 3]
    planted = Drawn(tab.name, tab.shape, across @ tab.where, tab.of, tab.carrier, tab.within)
    rows, findings = told(done, results_with(), Looker().at([shaft, planted], 0.0, 0.0))
    assert rows and findings and findings[0].level == "stop"


def test_the_kernels_look_leaves_what_it_looks_at_as_it_was():
    """Else its next answer, and the STEP file, would hang on what was asked before."""
    from parts.files.measured import digest

    washer = thing("washer", Form((Round(20, 2, 10.0, Frame((0, 0, 0))),)))
    bolt = thing("bolt", Form((Round(10, 40, 0.0, Frame((0, 0, -10))), Round(16, 6, 0.0, Frame((0, 0, 2))))))
    before = [digest.__wrapped__(d.shape) for d in (washer, bolt)]
    assert not Looker().at([washer, bolt], 0.0, 0.0)
    assert [digest.__wrapped__(d.shape) for d in (washer, bolt)] == before
