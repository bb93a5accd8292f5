"""Cures of short gaps: smallest shifts against closed forms and rows of outside values, trims of the rocker's
outline."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest
from clearance_corner import PULL, PUSH, bar, box, mechanism
from scipy.optimize import nnls

from assemblies.clearance import Body, Limits, check
from assemblies.clearance.suggest import Surroundings, least_vector, moved
from assemblies.command.common import pair
from assemblies.gaps.cures import Stand, account, cures
from assemblies.gaps.cures.account import _keys, as_options
from assemblies.gaps.cures.shift import _followed, placed, shift, words
from assemblies.gaps.cures.shorten import shorten
from assemblies.gaps.cures.stand import apart, trouble
from assemblies.gaps.cures.trim import _lacking, _sizes, governing, least, trims
from assemblies.gaps.interference import outline_room
from assemblies.job import load
from assemblies.layout.corner import lay_out
from assemblies.results import gaps as rs
from assemblies.study import design_forces, study
from parts.files.remembered import content
from parts.rocker_plate import RockerPlate
from parts.shape.form import Form, Frame, Prism
from parts.shape.outline import Outline, OutlineError, rectangle

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
TRAVEL = (-40.0, 40.0)
STILL = (-1e-4, 1e-4)  # a travel so short that nothing moves


# ------------------------------------------------------------ least vectors


def smallest_shift(name, bodies, mechanism, travel_mm, rack_mm=0.0, square_to=None, **more):
    return Surroundings(name, bodies, mechanism, travel_mm, rack_mm, **more).smallest(square_to)


def test_the_least_vector_agrees_with_least_distance_programming():
    """Lawson and Hanson, Solving Least Squares Problems, ch. 23: min |x| with Gx >= h by non-negative least
    squares (scipy)."""
    rng = np.random.default_rng(4)
    met = 0
    for _ in range(200):
        n = rng.normal(size=(rng.integers(1, 7), 3))
        n /= np.linalg.norm(n, axis=1)[:, None]
        c = rng.uniform(-2, 10, len(n))
        e, f = np.vstack([n.T, c]), np.array([0, 0, 0, 1.0])
        u, left = nnls(e, f)
        r = e @ u - f
        got = least_vector(list(zip(n, c, strict=True)))
        if left < 1e-7:
            assert got is None
            continue
        met += 1
        assert got == pytest.approx(-r[:3] / r[3], abs=1e-5)
    assert met > 120


def test_the_least_vector_in_a_plane_stays_in_it():
    """n = (1, 1, 1)/sqrt(3), c = 1, only x and y free: x = y with (x + y)/sqrt(3) = 1."""
    got = least_vector([(np.ones(3) / math.sqrt(3), 1.0)], np.eye(3)[:2])
    assert got == pytest.approx([math.sqrt(3) / 2, math.sqrt(3) / 2, 0.0])
    assert least_vector([(np.array([0, 0, 1.0]), 1.0)], np.eye(3)[:2]) is None
    assert least_vector([]) == pytest.approx([0, 0, 0])


# ------------------------------------------------------------------------------------------------ shifts

# check-rows G10 to G13: points, rod radius, tube, least gap (scipy loop closure with closed-form segment
# distance)
ROWS = [
    (PULL, 8, (0, 120, 300), (42, 560, 190), 8.3108022),
    (PULL, 8, (-42, 200, 300), (-30, 420, 100), 7.2178602),
    (PUSH, 9, (-60, 320, 385), (70, 300, 400), 5.7978526),
    (PUSH, 9, (-40, 300, 420), (60, 320, 300), -6.0733243),
]


@pytest.mark.parametrize(("points", "radius", "a", "b", "gap"), ROWS, ids=["G10", "G11", "G12", "G13"])
def test_a_rod_and_a_tube_need_what_is_missing_along_their_line_of_centres(points, radius, a, b, gap):
    """A shift s takes or gives s at most, and all of it along the line of centres: the least is required -
    gap."""
    mech, need, tol = mechanism(points), 10.0, 0.02
    rod = Body("rod", "rod", (bar(points["rod_outboard"], points["rod_inboard"], 2 * radius),))
    tube = Body("tube", "frame", (bar(a, b, 25.4),), "fixed")
    found = smallest_shift("tube", [rod, tube], mech, TRAVEL, limits=Limits(fixed=need), tolerance_mm=tol)
    assert need - gap - 0.01 <= found.distance_mm <= need - gap + 0.08
    assert found.least_mm - 1e-9 <= found.distance_mm <= 1.01 * found.least_mm + tol

    def ok(mm):
        by = mm * np.array(found.direction)
        return (
            check([rod, moved(tube, by)], mech, TRAVEL, limits=Limits(fixed=need), tolerance_mm=tol)
            .pairs[0]
            .ok
        )

    assert ok(found.distance_mm) and not ok(found.distance_mm - 0.15)


def walls(*boxes):
    """Boxes that stand still, as parts of moving bodies."""
    return [
        Body(name, "rod", (box(low, high),))
        for name, (low, high) in zip(("wall a", "wall b", "wall c"), boxes, strict=False)
    ]


SQUARE = Prism(Outline(rectangle(-5, -5, 5, 5)), 10.0, Frame((5.0, 5.0, 0.0)))  # 0 to 10 along each axis
POST = Body("post", "frame", (Form((SQUARE,)),), "fixed")


def test_between_two_walls_the_shift_is_the_diagonal_of_what_each_lacks():
    """Wall a 3 mm away along x, wall b 2 mm along y, 8 asked: (5, 6, 0) is the least, in closed form."""
    bodies = [*walls(((-50, -50, -50), (-3, 60, 60)), ((-2.9, -50, -50), (60, -2, 60))), POST]
    found = smallest_shift("post", bodies, mechanism(), STILL, limits=Limits(fixed=8), tolerance_mm=0.02)
    assert found.vector_mm == pytest.approx([5, 6, 0], abs=0.05)
    assert found.words == "" and found.least_mm == pytest.approx(6, abs=0.05)


def test_a_wall_that_closes_the_short_way_sends_the_body_another():
    """Wall a is 3 mm away and wants 5 along +x, but wall b stands there 9 mm away (1 to spare); walls end at
    z = 16: up it goes, until the corner of each wall, 3 mm off along x, is 8 away: z + sqrt(64 - 9) - 16 ...
    and -y is open at y = -40."""
    bodies = [*walls(((-50, -300, -300), (-3, 300, 16)), ((19, -300, -300), (60, 300, 16))), POST]
    found = smallest_shift("post", bodies, mechanism(), STILL, limits=Limits(fixed=8), tolerance_mm=0.02)
    # the bottom of the post, z, above the edges at height 16 and x = -3 and 19: sideways by t leaves 3 + t
    # and 9 - t; both at
    # 8 when the height over the edge is sqrt(64 - (3 + t)²) and sqrt(64 - (9 - t)²); alike at t = 3: sqrt(64
    # - 36) = 5.2915
    straight, aside = 16 + math.sqrt(64 - 9), math.hypot(3, 16 + math.sqrt(28))
    assert aside < straight
    assert aside - 0.05 <= found.distance_mm <= straight + 0.05
    assert found.direction[2] > 0.9


def test_a_slot_with_no_way_out_has_no_shift():
    low, high = (-300, -300, -300), (300, 300, 300)
    bodies = [*walls((low, (300, 300, -3)), ((-300, -300, 13), high)), POST]
    assert smallest_shift("post", bodies, mechanism(), STILL, limits=Limits(fixed=8)) is None


def test_a_bar_is_moved_square_to_itself_and_names_and_order_change_nothing():
    wall = Body("wall", "rod", (box((40, 3, -50), (60, 50, 50)),))
    tube = Body("tube", "frame", (bar((-100, -20, 0), (100, -6, 30), 10),), "fixed")
    axis = np.array((200, 14, 30.0))
    found = smallest_shift("tube", [wall, tube], mechanism(), STILL, limits=Limits(fixed=8), square_to=axis)
    assert abs(np.dot(found.direction, axis / np.linalg.norm(axis))) < 1e-9
    other = Body("far", "tie_rod", (box((200, 200, 200), (210, 210, 210)),))
    renamed = [Body(n, b.carrier, b.forms, b.kind) for n, b in (("a", wall), ("z", tube), ("m", other))]
    for bodies in (renamed, renamed[::-1]):
        again = smallest_shift("z", bodies, mechanism(), STILL, limits=Limits(fixed=8), square_to=axis)
        assert again.vector_mm == pytest.approx(found.vector_mm, abs=1e-9)


def test_a_body_in_order_needs_no_shift_and_one_that_moves_has_none():
    far = Body("far", "rod", (box((200, 200, 200), (210, 210, 210)),))
    found = smallest_shift("post", [far, POST], mechanism(), STILL)
    assert found.distance_mm == 0
    with pytest.raises(ValueError, match="frame"):
        smallest_shift("far", [far, POST], mechanism(), STILL)


def test_a_shift_clears_at_every_lock_too():
    """A tube beside the tie rod: what clears it straight ahead does not at full lock, 20 mm of rack either
    way."""
    mech = mechanism()
    rod = Body("tie_rod", "tie_rod", (bar(PUSH["tie_inner"], PUSH["tie_outer"], 16),))
    tube = Body("tube", "frame", (bar((90, 150, 100), (90, 300, 220), 20),), "fixed")
    straight, steered = (smallest_shift("tube", [rod, tube], mech, TRAVEL, rack) for rack in (0.0, 20.0))
    assert check([rod, moved(tube, steered.vector_mm)], mech, TRAVEL, 20.0).pairs[0].ok
    assert check([rod, moved(tube, straight.vector_mm)], mech, TRAVEL).pairs[0].ok
    assert steered.distance_mm >= straight.distance_mm - 0.1


def test_marching_stops_where_the_gap_is_just_enough():
    """A post beside a wall, moved at 60 degrees to its face: 5 mm are missing, so 5/cos 60 = 10 mm."""
    bodies = [*walls(((-50, -300, -300), (-3, 300, 300))), POST]
    around = Surroundings("post", bodies, mechanism(), STILL, limits=Limits(fixed=8), tolerance_mm=0.02)
    assert around.march((0.5, math.sqrt(3) / 2, 0), 5.0, 150.0) == pytest.approx(10, abs=0.06)
    assert around.march((-1, 0, 0), 5.0, 40.0) is None


# ------------------------------------------------------------------------------------------------ in a job


def on_nothing(job, kept) -> dict:
    """Keys that name a member which is gone, put back; a spring tube of its own in its place."""
    names = {m["name"] for m in kept}
    out = {} if job.tie_rod.member in names else {"tie_rod.member": None}
    housing = getattr(job.spring, "housing", None)
    if housing is not None and housing.member not in (None, *names):
        tube = next(m for m in job.member if m.name == housing.member)
        out |= {"spring.housing": {"outer": tube.size, "wall": tube.wall}, "pivot": None}
    return out if job.pivot.member in (None, *names) else out | {"pivot": None}


def stand(name, changes=None, mirrored=False, members=None):
    """A demo with keys changed, with some of its members alone: fewer pairs."""
    job = load(JOBS / f"{name}.toml").changed(changes or {})
    if members is not None:
        kept = [m for m in job.to_dict()["member"] if m["name"] in members]
        job = job.changed({"member": kept} | on_nothing(job, kept))
    job = job.mirrored() if mirrored else job
    done, got = demos.known(job, interference=False), {}

    def keep(report):
        got["report"] = report
        return {}

    from assemblies.gaps.interference import interference

    interference(job, done.mechanism, done.springing.ends, done.layout, keep)
    return Stand(
        job,
        done.mechanism,
        done.springing,
        design_forces(job, done.springing),
        done.layout,
        got["report"],
        done.results.strength,
    )


@pytest.fixture(scope="module")
def front():
    return stand("heronbank-front", STRAIGHT, members=FEW)


@pytest.fixture(scope="module")
def rear():
    """A rear corner with a rod boss far larger than it need be: it meets the rod."""
    return stand("corrie-rear", WIDE, members=())


STRAIGHT = {"tie_rod.rack_travel": 0}  # the pairs looked at here do not steer
FEW = ("lower rail", "upper rail", "rear diagonal", "damper post", "header tank")
WIDE = {"rocker.plate_thickness": 5, "rocker.rod_boss_radius": 26, "rocker.waist_radius": 140}


@pytest.mark.usefixtures("alone")
@pytest.mark.slow
def test_a_member_moved_as_told_has_all_its_gaps_in_a_fresh_study(front):
    for name, upset in (("lower rail", ""), ("rear diagonal", "then meets 'upper rail' no more")):
        cure = shift(front, name)
        assert cure.holds == (not cure.trouble) == (not upset) and upset in "".join(cure.trouble)
        after = study(front.job.changed(cure.changes)).results.clearance.pairs
        own = [p for p in after if name in (p.a, p.b)]
        assert own and all(p.ok for p in own)
        assert sum(not p.ok for p in after) < sum(not p.ok for p in front.report.pairs)
        less = np.array(cure.shift_mm) * (1 - 0.35 / np.linalg.norm(cure.shift_mm))
        member = next(m for m in front.job.member if m.name == name)
        before = front.anew(placed(member, less)).report.pairs
        assert any(not p.ok for p in before if name in (p.a, p.b))


@pytest.mark.slow
def test_the_other_hand_gets_the_mirrored_shift(front):
    other = stand("heronbank-front", STRAIGHT, mirrored=True, members=FEW)
    x, y, z = shift(front, "rear diagonal").shift_mm
    assert y and shift(other, "rear diagonal").shift_mm == pytest.approx([x, -y, z], abs=0.11)


def test_a_rail_whose_end_stands_in_the_way_is_cut_shorter():
    """A cut by c gives c at most: no less than what is missing; 0.7 mm less than the cut (its steps are 0.5)
    is not enough."""
    here = stand(
        "tarnside-front",
        STRAIGHT | {"member.upper rail.to": [-22, -278, 388], "clearance.fasteners": False},
        members=("upper rail",),
    )  # without bolts: where one is put in depends on what stands near
    own = [p for p in here.report.pairs if "upper rail" in (p.a, p.b)]
    lacking = max(p.required_mm - p.gap_mm for p in own)
    cure = shorten(here, "upper rail")
    assert lacking > 1 and cure.holds and cure.shift_mm is None and lacking <= cure.cut_mm <= 60
    ((key, end),) = cure.changes.items()
    assert key == "member.upper rail.to" and end == pytest.approx([-22 - cure.cut_mm, -278, 388])
    assert all(p.ok for p in here.anew(cure.changes).report.pairs if "upper rail" in (p.a, p.b))
    less = here.anew({key: [end[0] + 0.7, *end[1:]]}).report.pairs
    assert not all(p.ok for p in less if "upper rail" in (p.a, p.b))


def test_what_a_shift_upsets_is_said(front):
    """The upper rail carries the upper arm's brackets: 150 mm higher their eyes are out of reach."""
    member = next(m for m in front.job.member if m.name == "upper rail")
    wrong = trouble(front, front.anew(placed(member, (0, 0, 150))), "upper rail")
    assert any("bracket" in w for w in wrong)
    assert trouble(front, front.anew({}), "damper post") == []


def test_words_and_options_of_a_shift():
    assert words([0, 0, -2.9]) == "2.9 mm down"
    assert words([1.0, -2.0, 2.0]) == "3.0 mm: 2.0 right, 2.0 up and 1.0 forward"
    job = load(JOBS / "heronbank-front.toml")
    member = next(m for m in job.member if m.name == "upper rail")
    cure = rs.Cure(kind="shift", body=member.name, changes=placed(member, (0.1, 0, -2.9)), holds=True)
    options = as_options(cure)[len('--change "') : -1].split('" --change "')
    again = job.changed(dict(pair(o) for o in options))
    assert next(m for m in again.member if m.name == "upper rail").to == pytest.approx(
        (member.to[0] + 0.1, member.to[1], member.to[2] - 2.9)
    )
    tank = next(m for m in job.member if m.name == "header tank")
    assert placed(tank, (1, 2, 3)) == {"member.header tank.centre": [1841.0, 152.0, 303.0]}


def test_of_many_clashes_only_the_nearest_are_treated(front, monkeypatch):
    asked = []
    monkeypatch.setattr(account, "_of_member", lambda s, name, lacking: asked.append(name) or account.Cured())
    monkeypatch.setattr(account, "MEMBERS", 1)
    found = cures(front)
    assert asked == ["rear diagonal"]
    assert any("No shift of 'lower rail' was looked for" in t for t in found["rocker", "lower rail"].text)
    assert set(found) == {(p.a, p.b) for p in front.report.pairs if not p.ok}


# ------------------------------------------------------------------------------------------------ trims


def test_the_least_boss_is_the_standard_s():
    """EN 1993-1-8 Table 3.9 type A: d0/2 + F·γ/(2·t·fy) + 2·d0/3, and Table 3.3: 1.2·d0; up to the next
    tenth."""
    plate = RockerPlate(
        (90, 0),
        (0, 80),
        4.0,
        38.0,
        12.0,
        10.0,
        rod_force_n=9000.0,
        rod_boss_radius_mm=30.0,
        damper_boss_radius_mm=20.0,
    )
    sizes = _sizes(plate)
    rule = max(6 + 9000 * 1.5 / (2 * 8 * 275) + 8, 14.4)
    value, why = least(plate, sizes["rod"])
    assert value == pytest.approx(math.ceil(10 * rule) / 10) and "EN 1993-1-8" in why
    assert least(plate, sizes["damper"])[0] == pytest.approx(
        12.0
    )  # no force: 5 + 20/3 = 11.67, and 1.2·10 = 12 rules
    for size in sizes.values():
        value, why = least(plate, size)
        if value is not None:
            replace(plate, **{size.field: value})
            with pytest.raises(OutlineError):
                replace(plate, **{size.field: value - size.step_mm})


def test_a_place_on_the_outline_names_the_size_that_makes_it(rear):
    pair = next(p for p in rear.report.pairs if {p.a, p.b} == {"rocker", "rod"})
    assert "rocker.rod_boss_radius" in [s.key for s in governing(rear, pair)]
    eyes, plate = rear.layout.eyes, rear.layout.rocker.plate
    for segment in plate.outer.segments:
        x, y = segment.at(0.5)
        point = (eyes.frame.matrix() @ (x, y, rear.layout.rocker.box_width_mm / 2, 1.0))[:3]
        spot = replace(pair, at_wheel_mm=0.0, at_rack_mm=0.0, point_a=tuple(point), point_b=tuple(point))
        keys = [s.field for s in governing(rear, spot)]
        if segment.bulge < 0:
            assert keys == ["waist_radius_mm"]
        elif segment.bulge > 0:  # a boss: its own centre is nearest to the arc's middle, less its radius
            bosses = {
                "pivot_boss_radius_mm": plate.pivot_boss,
                "rod_boss_radius_mm": plate.eye_boss("rod"),
                "damper_boss_radius_mm": plate.eye_boss("damper"),
            }
            assert keys == [
                k for k, b in bosses.items() if abs(math.dist((x, y), (b.x, b.y)) - b.radius_mm) < 1e-6
            ]
        else:
            assert len(keys) == 2
    face = (eyes.frame.matrix() @ (0.0, 0.0, 200.0, 1.0))[:3]
    assert governing(rear, replace(pair, at_wheel_mm=0.0, point_a=tuple(face), point_b=tuple(face))) == []


@pytest.mark.slow
@pytest.mark.parametrize("mirrored", [False, True], ids=["as drawn", "other hand"])
def test_the_least_trim_clears_a_little_less_does_not_and_edges_hold(rear, mirrored):
    here = stand("corrie-rear", WIDE, True, ()) if mirrored else rear
    pair = next(p for p in here.report.pairs if {p.a, p.b} == {"rocker", "rod"})
    assert not pair.ok
    found = trims(here, pair)
    assert [next(iter(c.changes)) for c in found.cures if c.holds] and any(
        "rocker.rod_boss_radius" in c.changes for c in found.cures
    )
    left = []
    for cure in found.cures:
        ((key, value),) = cure.changes.items()
        after = here.anew(cure.changes)
        row = next(p for p in after.report.pairs if {p.a, p.b} == {"rocker", "rod"})
        assert (
            cure.holds and cure.note and row.ok and all(r.ok for r in after.layout.rocker.plate.edge_rows())
        )
        assert all(c.ok for c in after.strength.checks if "rocker" in c.item)
        wider = here.anew({key: value * 1.05}).report.pairs
        assert not next(p for p in wider if {p.a, p.b} == {"rocker", "rod"}).ok
        left.append(after.layout.rocker.plate.outer.area_mm2)
    assert left == sorted(left, reverse=True)  # the one that takes least plate is offered first


def test_where_no_trim_is_enough_each_size_says_what_it_gives(front):
    pair = next(p for p in front.report.pairs if (p.a, p.b) == ("rocker", "lower rail"))
    found = trims(front, pair)
    tube = front.job.rocker.pivot_tube
    boss = tube.outer / 2 + 2 * front.job.rocker.plate_thickness  # the weld's leg is a plate's thickness too
    assert not found.cures
    assert any(s.startswith(f"rocker.pivot_boss_radius at its least, {boss:.4g} (") for s in found.said)


def test_an_outline_grown_all_round_takes_no_more_than_that_from_any_gap():
    """Bosses larger by n and the hollow smaller by n are the outline's exact offset by n."""
    here = stand("tarnside-front", STRAIGHT, members=("upper rail", "upper rail front"))
    n, held = outline_room(here.report, SimpleNamespace(pairs=()))
    assert n > 1
    plate = here.layout.rocker.plate
    sizes = {s.key: s.now_mm for s in _sizes(plate).values()}
    grown = {k: v - n if "waist" in k else v + n for k, v in sizes.items()}
    after = here.anew(grown)
    assert after.layout.rocker.plate.outer.area_mm2 > plate.outer.area_mm2
    before = {(p.a, p.b): p for p in here.report.pairs}
    seen = 0
    for p in after.report.pairs:
        if "rocker" in (p.a, p.b) and not {"rod", "damper"} & {p.a, p.b}:
            seen += 1
            assert p.gap_mm >= before[p.a, p.b].gap_mm - n - 0.1 and p.found_gap_mm >= p.required_mm
    assert seen > 5 and held


@pytest.fixture(scope="module")
def framed():
    """The rear corner with all its frame and an order of fitting that the job gives."""
    job = load(JOBS / "corrie-rear.toml").changed({"junction": [{"members": ["rocker head", "rocker rail"]}]})
    done = demos.known(job, interference=False)
    forces = design_forces(job, done.springing)
    return Stand(job, done.mechanism, done.springing, forces, done.layout, None, done.results.strength)


@pytest.mark.usefixtures("alone")
def test_a_trial_is_laid_out_as_if_from_nothing(framed):
    """What its key does not touch is taken from the study: every part is the one a fresh corner has."""
    changes = {"rocker.rod_boss_radius": 20.0, "member.rear upper rail.size": 32.0}
    sprung = framed.sprung
    for bolts in (True, False):
        tried = framed.placed(changes, bolts)
        fresh = lay_out(
            tried.job, framed.mechanism, sprung.wheel_mm, framed.forces, sprung.slack_rocker_deg, bolts
        )
        assert content([tried.placed, tried.findings]) == content([fresh.placed, fresh.findings])


def test_a_trim_is_worked_out_on_a_frame_with_junctions_and_named_members(framed):
    """Its trials lay out the whole job: nothing that names a member is left without it."""
    size = _sizes(framed.layout.rocker.plate)["rod"]
    pair = SimpleNamespace(a="rocker", b="rear upper rail", required_mm=8.0)
    lacking = _lacking(framed, pair, size)
    assert math.isfinite(lacking(size.now_mm)) and lacking(size.now_mm) <= lacking(size.now_mm + 1.0) + 0.2


def test_a_tube_that_leaves_its_node_is_told_or_takes_the_node_along(framed):
    """30 mm forward the rail's end meets the post no more: that is trouble; with the rail's end moved too, it
    is none. 2 mm up the fitting cuts it anew: nothing follows. 60 mm, twice its width, only with its node."""
    post = next(m for m in framed.job.member if m.name == "damper post")
    alone, along = _followed(framed, post, np.array((30.0, 0, 0)))
    assert list(alone) == ["member.damper post.from", "member.damper post.to"]
    gone = apart(framed.layout, framed.placed(alone))
    assert [g[:3] for g in gone] == [("rocker rail", "to", "damper post")]
    assert along == alone | {"member.rocker rail.to": [-148, 335, 404]}
    assert apart(framed.layout, framed.placed(along)) == []
    assert list(_followed(framed, post, np.array((0, 0, 2.0)))) == [placed(post, (0, 0, 2.0))]
    assert all("member.rocker rail.to" in c for c in _followed(framed, post, np.array((0, 0, 60.0))))
    cure = rs.Cure(kind="shift", body=post.name, changes=along, holds=True)
    assert "with it to of 'rocker rail' = [-148, 335, 404]" in _keys(cure)


def test_a_lost_node_is_trouble(framed):
    post = next(m for m in framed.job.member if m.name == "damper post")
    here = replace(framed, report=SimpleNamespace(pairs=[], tolerance_mm=0.1))
    object.__setattr__(here, "pairs", [])
    layout = here.placed(placed(post, (30.0, 0, 0)))
    after = replace(here, layout=layout)
    object.__setattr__(after, "pairs", [])
    assert any(
        "the 'to' end of 'rocker rail' then meets 'damper post' no more" in w
        for w in trouble(here, after, "damper post")
    )
