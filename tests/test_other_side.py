"""Both sides of the car against each other, each at any height of its own wheel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from clearance_corner import PUSH, bar, box, mechanism

from assemblies.clearance import Body, Limits, between_sides
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Loop, Outline, Vertex

TRAVEL = (-40.0, 40.0)
THIN_MM = 0.02


def damper(mech, name="damper", diameter=THIN_MM):
    return Body(name, "damper_body", (bar(mech.points.damper_chassis, mech.points.damper_eye, diameter),))


def segments_apart(p, q, r, s):
    """Least distance of segments pq and rs (arrays, ..., 3): Ericson, Real-Time Collision Detection (2005),
    5.1.9, with the ends tried one by one."""
    d, e, w = q - p, s - r, p - r
    a, b, c = (d * d).sum(-1), (d * e).sum(-1), (e * e).sum(-1)
    f, g = (d * w).sum(-1), (e * w).sum(-1)
    with np.errstate(all="ignore"):
        t = np.nan_to_num(np.clip((b * g - c * f) / (a * c - b * b), 0, 1))
    best = np.inf
    for t0 in (t, np.zeros_like(t), np.ones_like(t)):
        u = np.clip((b * t0 + g) / c, 0, 1)
        t1 = np.clip((b * u - f) / a, 0, 1)
        best = np.minimum(best, np.sqrt((((p + t1[..., None] * d) - (r + u[..., None] * e)) ** 2).sum(-1)))
    return best


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_dampers_of_both_sides_at_all_pairs_of_heights(seed):
    """Least distance of two thin bars over a dense grid of both travels, in closed form: never below the
    proven gap, and the found gap is that of true poses."""
    mech = mechanism(PUSH, seed)
    found = between_sides([damper(mech)], mech, TRAVEL, limits=Limits(moving=60.0))
    assert [(p.a, p.b, p.kind) for p in found.pairs] == [("damper", "other damper", "moving")]
    pair = found.pairs[0]
    frames = mech.at(np.linspace(*TRAVEL, 161)).frame("damper_body")
    ends = [
        frames[:, :3, :3] @ np.asarray(getattr(mech.points, k)) + frames[:, :3, 3]
        for k in ("damper_chassis", "damper_eye")
    ]
    image = [e * (1, -1, 1) for e in ends]
    apart = segments_apart(ends[0][:, None], ends[1][:, None], image[0][None], image[1][None])
    assert pair.gap_mm - 1e-6 <= apart.min() - THIN_MM + 2e-2 and pair.gap_mm <= apart.min() + 1e-6
    assert pair.found_gap_mm - pair.gap_mm <= 0.1 and pair.found_gap_mm >= apart.min() - THIN_MM - 0.1
    pose = [mech.at(z).frame("damper_body") for z in (pair.at_wheel_mm, pair.at_other_wheel_mm)]
    a, b = (
        [f[:3, :3] @ np.asarray(getattr(mech.points, k)) + f[:3, 3] for k in ("damper_chassis", "damper_eye")]
        for f in pose
    )
    b = [e * (1, -1, 1) for e in b]
    assert segments_apart(*a, *b) == pytest.approx(pair.found_gap_mm, abs=2 * THIN_MM)


def test_only_what_comes_near_the_middle_is_looked_at():
    mech = mechanism()
    outboard = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 16),))
    assert between_sides([outboard], mech, TRAVEL).pairs == ()
    near = between_sides([outboard, damper(mech)], mech, TRAVEL, limits=Limits(moving=60))
    assert [(p.a, p.b) for p in near.pairs] == [("damper", "other damper")]
    both_eyes = (
        2 * PUSH["damper_chassis"][1]
    )  # the chassis eyes stand still, and nothing lies nearer the middle: closed form
    assert near.pairs[0].gap_mm <= both_eyes + 1e-6 and near.pairs[0].found_gap_mm == pytest.approx(
        both_eyes, abs=0.1 + THIN_MM
    )


def test_members_of_the_other_side_and_what_is_given_whole():
    """A tube beside the middle plane has its image there too; one that is its own image and a tank do not."""
    mech = mechanism()
    moving = damper(mech)
    beside = Body("post", "frame", (box((-60, 8, 100), (20, 20, 500)),), "fixed")
    whole = Body("cross tube", "frame", (box((-60, -200, 100), (-50, 200, 500)),), "fixed")
    tank = Body("tank", "frame", (box((-60, 4, 100), (20, 60, 500)),), "fixed")
    found = between_sides(
        [moving, beside, whole, tank], mech, TRAVEL, one_sided={"tank"}, limits=Limits(fixed=30, moving=60)
    )
    assert {p.b for p in found.pairs} == {"other damper", "other post"}
    post = next(p for p in found.pairs if p.b == "other post")
    frames = mech.at(np.linspace(*TRAVEL, 401)).frame("damper_body")
    ends = [
        frames[:, :3, :3] @ np.asarray(PUSH[k], float) + frames[:, :3, 3]
        for k in ("damper_chassis", "damper_eye")
    ]
    line = ends[0][:, None] + np.linspace(0, 1, 400)[:, None] * (ends[1] - ends[0])[:, None]
    gap = np.maximum(np.maximum(np.array([-60, -20, 100]) - line, line - np.array([20, -8, 500])), 0)
    least = np.sqrt((gap**2).sum(-1)).min()
    assert post.gap_mm - 1e-6 <= least and post.found_gap_mm == pytest.approx(least, abs=0.1 + THIN_MM)


def test_an_exhausts_heat_reaches_across_the_middle():
    """trade practice: 75 mm from an exhaust to a damper, on whichever side; to other metal 30."""
    mech = mechanism()
    pipe = Body("pipe", "frame", (box((-200, 40, 200), (100, 75, 260)),), "exhaust")
    found = between_sides([damper(mech, diameter=30), damper(mech, "reservoir", 30), pipe], mech, TRAVEL)
    assert {(p.a, p.b): (p.required_mm, p.ok) for p in found.pairs if p.kind == "exhaust"} == {
        ("damper", "other pipe"): (75, False)
    }


def test_a_body_as_wide_as_its_image_but_of_another_shape_has_one():
    """A post beside the middle, and on the other side of it a foot as far out: only together are they as wide
    as their image."""
    mech = mechanism()
    post, foot = box((-60, 8, 100), (20, 20, 500)), box((-60, -20, 100), (20, -8, 110))
    pairs = {}
    for name, forms in (
        ("frame", (post, foot)),
        ("whole", (post, post.mirrored())),
        ("bar", (bar((0, -90, 200), (0, 90, 200), 25),)),
    ):
        pairs[name] = {
            (p.a, p.b): p
            for p in between_sides(
                [damper(mech), Body(name, "frame", forms, "fixed")], mech, TRAVEL, limits=Limits(fixed=30)
            ).pairs
        }
    alone = between_sides(
        [damper(mech), Body("post", "frame", (post,), "fixed")], mech, TRAVEL, limits=Limits(fixed=30)
    )
    post_gap = next(p.gap_mm for p in alone.pairs if p.b == "other post")
    assert pairs["frame"]["damper", "other frame"].gap_mm == pytest.approx(post_gap, abs=0.1)
    assert ("damper", "other whole") not in pairs["whole"] and ("damper", "other bar") not in pairs["bar"]


def test_the_other_side_sees_the_same_gaps():
    mech = mechanism()
    bodies = [damper(mech, diameter=30), Body("post", "frame", (box((-60, 8, 100), (20, 20, 500)),), "fixed")]
    images = [replace(b, forms=tuple(f.mirrored() for f in b.forms)) for b in bodies]
    limits = Limits(fixed=30, moving=20)
    one = {(p.a, p.b): p for p in between_sides(bodies, mech, TRAVEL, limits=limits).pairs}
    two = {
        (p.a, p.b): p
        for p in between_sides(images, Mechanism(mech.points.mirrored()), TRAVEL, limits=limits).pairs
    }
    assert one.keys() == two.keys() and len(one) == 2
    for k, p in one.items():
        assert two[k].gap_mm == pytest.approx(p.gap_mm, abs=0.1) and two[k].found_gap_mm == pytest.approx(
            p.found_gap_mm, abs=0.1
        )


def test_bodies_that_follow_the_rack_are_told_as_not_checked():
    mech = mechanism()
    tie = Body("tie_rod", "tie_rod", (bar((72, 3, 148), PUSH["tie_outer"], 14),))
    found = between_sides([tie], mech, TRAVEL, rack_mm=20.0)
    assert found.pairs == () and [(a, b) for a, b, _ in found.not_checked] == [("tie_rod", "other tie_rod")]
    assert "rack" in found.not_checked[0][2]


def test_what_a_rod_on_the_upright_moves_is_told_to_follow_the_rack():
    """Looked at with the rack straight ahead, which is not all; a rod on an arm does not follow it."""
    for on, told in (("upright", 1), ("lower_arm", 0)):
        mech = mechanism(PUSH | {"rod_on": on})
        damper = Body("damper", "damper_body", (bar(PUSH["damper_chassis"], PUSH["damper_eye"], 44),))
        report = between_sides([damper], mech, (-20.0, 20.0), 20.0)
        assert (
            len(report.pairs) == 1
            and sum("follows the rack" in why for *_, why in report.not_checked) == told
        )


def test_mirrored_points_move_as_the_mirror_image():
    """The mirrored corner's points at every height are the mirror images of this side's (a symmetry, so
    exact)."""
    points = HardPoints(**PUSH)
    one, two = Mechanism(points), Mechanism(points.mirrored())
    z = np.linspace(-35, 35, 15)
    for name in ("rod_inboard", "damper_eye", "upper_outer", "tie_outer"):
        assert two.at(z).point(name) == pytest.approx(one.at(z).point(name) * (1, -1, 1), abs=1e-8)
    assert points.mirrored().mirrored().axis == pytest.approx(points.axis)


def test_a_mirrored_form_is_the_mirror_image():
    """Every corner of an unsymmetrical prism, and a bar's ends, where reflection puts them."""
    frame = Frame.looking((10, 20, 30), (1, 2, 0.5), (0, 0.3, 1))
    outline = Outline(Loop((Vertex(0, 0), Vertex(30, 0, 0.4), Vertex(10, 20))))
    form = Form((Prism(outline, 7.0, frame), Round(8.0, 40.0, 3.0, frame)))
    image = form.mirrored()

    def corners(p):
        m = p.frame.matrix()
        flat = [(v.x, v.y) for v in p.outline.outer.vertices] if isinstance(p, Prism) else [(0, 0)]
        high = p.thickness_mm if isinstance(p, Prism) else p.length_mm
        return {
            tuple(np.round(m[:3, :3] @ (x, y, z) + m[:3, 3], 9) + 0.0) for x, y in flat for z in (0, high)
        }

    for a, b in zip(form.pieces, image.pieces, strict=True):
        assert corners(b) == {(x, 0.0 - y, z) for x, y, z in corners(a)}
        assert np.linalg.det(b.frame.matrix()[:3, :3]) == pytest.approx(1.0)
        assert b.volume_mm3 == pytest.approx(a.volume_mm3)
    assert image.mirrored().pieces[1] == form.pieces[1]
