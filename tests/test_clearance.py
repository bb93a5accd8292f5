"""Interference of whole corners over continuous travel and rack."""

from __future__ import annotations

import math
import random
import subprocess
import sys

import numpy as np
import pytest
from clearance_corner import PULL, PUSH, bar, box, mechanism, square_tube

from assemblies.clearance import Body, Joint, Limits, check
from assemblies.clearance.plan import apart
from parts.shape.form import Form, Frame, Round

TRAVEL = (-40.0, 40.0)


def rod_and_tube(points, radius, a, b, tolerance_mm=0.01, **kw):
    bodies = [
        Body("rod", "rod", (bar(points["rod_outboard"], points["rod_inboard"], 2 * radius),)),
        Body("tube", "frame", (bar(a, b, 25.4),), "fixed"),
    ]
    return check(bodies, mechanism(points), TRAVEL, tolerance_mm=tolerance_mm, **kw).pairs[0]


@pytest.mark.parametrize(
    "points, radius, a, b, gap, at",
    [
        (PULL, 8, (0, 120, 300), (42, 560, 190), 8.3108022, -40.0),
        (PULL, 8, (-42, 200, 300), (-30, 420, 100), 7.2178602, 40.0),
        (PUSH, 9, (-60, 320, 385), (70, 300, 400), 5.7978526, 35.879082),
        (PUSH, 9, (-40, 300, 420), (60, 320, 300), -6.0733243, 40.0),
    ],
)
def test_least_gap_of_a_moving_rod_to_a_tube(points, radius, a, b, gap, at):
    """Check-rows G10 to G13: scipy loop closure with closed-form segment distance, an exact CAD kernel agrees
    at the worst pose; gap to 1e-2 mm, travel to 0.5 mm. Depths are along the line of centres, as the rows
    say."""
    pair = rod_and_tube(points, radius, a, b)
    assert pair.gap_mm <= gap + 1e-2 and pair.found_gap_mm >= gap - 1e-2
    assert pair.found_gap_mm - pair.gap_mm <= 0.01 + 1e-9
    assert abs(pair.at_wheel_mm - at) < 0.5
    assert pair.clash == (gap < 0) and pair.ok == (gap > 8) and pair.required_mm == 8


def needle(mech, at_mm: float, diameter_mm=0.2):
    """A needle on the rocker, twice as far out as its eye, and one standing where it passes at `at_mm`, both
    along the rocker's axis; and the middle of the first at any travel."""
    p = mech.points
    far = p.pivot + 2.04 * (p.rod_inboard - p.pivot)
    axis = p.axis / np.linalg.norm(p.axis)
    frame = mech.at(at_mm).frame("rocker")
    there = frame[:3, :3] @ far + frame[:3, 3]
    return [
        Body("rocker", "rocker", (bar(far - 4 * axis, far + 4 * axis, diameter_mm),)),
        Body("needle", "frame", (bar(there - 4 * axis, there + 4 * axis, diameter_mm),), "fixed"),
    ], far


def test_a_clash_between_two_samples_is_found():
    """0.2 mm deep, lasting 0.3 mm of travel, in the middle between two samples of a 5 mm grid. Parallel
    needles overlap by their diameter less the distance of their centre lines: closed form on the mechanism's
    own frames."""
    mech = mechanism()
    bodies, far = needle(mech, 12.4)

    def gap(z):
        axis = mech.points.axis / np.linalg.norm(mech.points.axis)
        frames, there = mech.at(z).frame("rocker"), mech.at(12.4).frame("rocker")
        away = frames[..., :3, :3] @ far + frames[..., :3, 3] - there[:3, :3] @ far - there[:3, 3]
        away = away - (away @ axis)[..., None] * axis
        return np.linalg.norm(away, axis=-1) - 0.2

    assert gap(np.arange(-40, 41, 5.0)).min() > 2.5
    fine = np.linspace(12, 13, 20001)
    clashing = fine[gap(fine) < 0]
    assert gap(fine).min() == pytest.approx(-0.2, abs=1e-4) and np.ptp(clashing) == pytest.approx(
        0.3, abs=0.02
    )
    pair = check(bodies, mech, TRAVEL, tolerance_mm=0.02).pairs[0]
    assert pair.clash and pair.gap_mm == pytest.approx(-0.2, abs=0.02) and pair.gap_mm <= -0.2 + 1e-6
    assert pair.at_wheel_mm == pytest.approx(12.4, abs=0.05)
    assert pair.clash_mm[0] <= clashing[0] and pair.clash_mm[1] >= clashing[-1]
    assert pair.clash_mm[1] - pair.clash_mm[0] < np.ptp(clashing) + 0.25
    near = np.linspace(*TRAVEL, 80001)
    under = near[gap(near) < 8]
    assert pair.under_mm[0] <= under[0] and pair.under_mm[1] >= under[-1]
    assert pair.under_mm == pytest.approx((under[0], under[-1]), abs=0.25)


def frame_bodies(rng, count):
    """Random tubes round the push-rod corner."""
    out = []
    for k in range(count):
        a = np.array((rng.uniform(-250, 250), rng.uniform(50, 480), rng.uniform(60, 520)))
        b = a + rng.normal(0, 150, 3)
        form = square_tube(a, b, 25, 4) if k % 2 else bar(a, b, rng.uniform(12, 40))
        out.append(Body(f"tube {k}", "frame", (form,), "fixed"))
    return out


def corner_bodies(p):
    along = (p.damper_eye - p.damper_chassis) / np.linalg.norm(p.damper_eye - p.damper_chassis)
    arms = [
        Body(
            f"{n}_arm",
            f"{n}_arm",
            tuple(bar(getattr(p, f"{n}_{e}"), getattr(p, f"{n}_outer"), 24) for e in ("front", "rear")),
        )
        for n in ("upper", "lower")
    ]
    wheel = Form((Round(560, 190, 330, Frame.looking(p.wheel_centre - (0, 95, 0), (0, 1, 0), (1, 0, 0))),))
    return [
        *arms,
        Body("tie_rod", "tie_rod", (bar(p.tie_inner, p.tie_outer, 16),)),
        Body("rod", "rod", (bar(p.rod_outboard, p.rod_inboard, 18),)),
        Body("damper", "damper_body", (bar(p.damper_chassis, p.damper_chassis + 120 * along, 46),)),
        Body("damper", "damper_shaft", (bar(p.damper_eye, p.damper_eye - 130 * along, 14),)),
        Body("wheel", "wheel", (wheel,), "tyre", hollow=True),
    ]


def rows(report):
    return {(r.a, r.b): r for r in report.pairs}


@pytest.mark.parametrize("rack", [0.0, 30.0])
def test_every_pair_is_bracketed(rack):
    """Proven and found gap differ by no more than asked; nothing found on 9 x 25 other poses lies below what
    is proven."""
    mech = mechanism()
    bodies = corner_bodies(mech.points) + frame_bodies(np.random.default_rng(1), 12)
    report = check(bodies, mech, TRAVEL, rack, tolerance_mm=0.1)
    assert len(report.pairs) == 15 + 6 * 12  # six moving bodies, each other and twelve tubes
    for r in report.pairs:
        assert 0 <= r.found_gap_mm - r.gap_mm <= 0.1 + 1e-9
    table = rows(report)
    for z in np.linspace(-39, 39, 9):
        here = rows(check(bodies, mech, (z - 1e-6, z + 1e-6), rack, tolerance_mm=0.5))
        for key, r in here.items():
            assert r.found_gap_mm >= table[key].gap_mm - 1e-9


def test_order_of_bodies_and_names_change_nothing():
    mech = mechanism()
    bodies = corner_bodies(mech.points) + frame_bodies(np.random.default_rng(2), 6)
    first = rows(check(bodies, mech, TRAVEL))
    random.Random(5).shuffle(bodies)
    renamed = [
        Body(
            {"tube 0": "zz", "tube 3": "aa"}.get(b.name, b.name),
            b.carrier,
            b.forms,
            b.kind,
            b.margin_mm,
            b.hollow,
        )
        for b in bodies
    ]
    second = rows(check(renamed, mech, TRAVEL))
    back = {"zz": "tube 0", "aa": "tube 3"}
    assert {(a, back.get(b, b)) for a, b in second} == set(first)
    for (a, b), r in second.items():
        s = first[a, back.get(b, b)]
        assert (r.gap_mm, r.found_gap_mm, r.at_wheel_mm) == pytest.approx(
            (s.gap_mm, s.found_gap_mm, s.at_wheel_mm), abs=1e-6
        )


def test_requirements_by_neighbour_margin_and_flex():
    limits = Limits(fixed=8, moving=12, tyre=20, flex=2.5)
    assert limits.required_mm("moving", "fixed") == 10.5
    assert limits.required_mm("moving", "moving") == 14.5
    assert limits.required_mm("tyre", "fixed") == limits.required_mm("moving", "tyre") == 22.5
    assert limits.required_mm("moving", "exhaust") == 32.5
    with pytest.raises(ValueError, match="lion"):
        limits.required_mm("moving", "lion")
    mech = mechanism()
    bodies = [
        Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),), margin_mm=1.0),
        Body("tank", "frame", (box((-50, 300, 500), (50, 400, 560)),), "fixed", margin_mm=2.0),
    ]
    assert check(bodies, mech, TRAVEL, limits=limits).pairs[0].required_mm == pytest.approx(8 + 2.5 + 3)


def test_only_what_turns_in_a_joint_is_left_out():
    """A rod's eye on a pin of the rocker, between two cheeks of it 1 mm off the eye: eye and pin turn in one
    another, eye and cheeks keep 1 mm, and what else comes near the pin is met: the rod's own bar, wider than
    the eye and begun inside the cheeks, stands in them. Depth by hand: 15 of bar, less 6 of half gap."""
    mech = mechanism()
    p = mech.points
    axis = p.axis / np.linalg.norm(p.axis)
    along = (p.rod_outboard - p.rod_inboard) / np.linalg.norm(p.rod_outboard - p.rod_inboard)
    square = axis - (axis @ along) * along
    square /= np.linalg.norm(square)
    eye, pin = p.rod_inboard, p.rod_inboard - 20 * square
    cheeks = [bar(eye + s * 6 * square, eye + s * 9 * square, 60) for s in (1, -1)]
    rocker = [
        Body("rocker", "rocker", (bar(pin, pin + 40 * square, 10),), part="pin"),
        Body("rocker", "rocker", tuple(cheeks), part="cheeks"),
    ]
    housing = Body("rod", "rod", (bar(eye - 5 * square, eye + 5 * square, 24),), part="eye")
    joint = Joint("rod", "rocker", required_mm=3.0, rows=(("eye", "pin", None), ("eye", "cheeks", 0.5)))

    def found(begin_mm, diameter_mm, *more):
        tube = Body("rod", "rod", (bar(eye + begin_mm * along, p.rod_outboard, diameter_mm),))
        return check([*rocker, housing, tube, *more], mech, (-1e-3, 1e-3), joints=[joint], tolerance_mm=0.01)

    (clear,) = found(40.0, 30).pairs  # the bar begins 10 mm beyond the cheeks' rim
    assert clear.ok and clear.gap_mm == pytest.approx(1.0, abs=0.03) and clear.required_mm == 0.5
    (deep,) = found(14.0, 30).pairs
    assert deep.clash and deep.found_gap_mm == pytest.approx(-(15 - 6), abs=0.1)
    (near,) = found(32.0, 30).pairs  # 2 mm off the rim: short of the joint's 3, and the least of all is told
    assert not near.ok and near.gap_mm == pytest.approx(2.0, abs=0.05) and near.required_mm == 3.0
    assert near.least_gap_mm == pytest.approx(1.0, abs=0.03)
    left_out = [r for r in found(40.0, 30).not_checked if r[:2] == ("rocker", "rod")]
    assert len(left_out) == 1 and "pin and eye" in left_out[0][2]


def test_the_travel_over_which_joined_bodies_are_short_is_of_all_their_parts():
    """Two standing needles, 20 mm of travel apart: a needle of the rocker clashes with each as it passes.
    The row tells of one; the travel it names holds both."""
    mech = mechanism()
    (moving, first), _ = needle(mech, -10.0)
    (_, second), _ = needle(mech, 10.0)
    standing = [
        Body("needle", "frame", b.forms, "fixed", part=n) for b, n in ((first, "one"), (second, "two"))
    ]
    rows = (("", "one", 1.0), ("", "two", 2.0))
    joint = Joint("rocker", "needle", required_mm=1.0, rows=rows)
    (pair,) = check([moving, *standing], mech, TRAVEL, joints=[joint], tolerance_mm=0.02).pairs
    assert pair.clash and pair.required_mm == 2.0 and pair.at_wheel_mm == pytest.approx(10, abs=0.1)
    for span, near in ((pair.clash_mm, 0.5), (pair.under_mm, 3.0)):
        assert span[0] < -10.0 < 10.0 < span[1] and span == pytest.approx((-10, 10), abs=near)


def test_beyond_a_joints_reach_the_neighbours_gap_is_asked():
    """A bar that moves, 5 mm beside one that stands: enough within 60 mm of their joint, short beyond it."""
    mech = mechanism()
    p = mech.points
    line = bar(p.rod_inboard, p.rod_outboard, 10)
    rod = Body("rod", "rod", (line,))
    along = (p.rod_outboard - p.rod_inboard) / np.linalg.norm(p.rod_outboard - p.rod_inboard)
    aside = np.cross(along, (1, 0, 0)) / np.linalg.norm(np.cross(along, (1, 0, 0))) * 15
    for length, ok in ((40, True), (100, False)):
        rail = Body(
            "rail",
            "frame",
            (bar(p.rod_inboard + aside, p.rod_inboard + aside + length * along, 10),),
            "fixed",
        )
        joint = Joint("rod", "rail", tuple(p.rod_inboard), 60.0, 3.0)
        (pair,) = check([rod, rail], mech, (-1e-3, 1e-3), joints=[joint]).pairs
        assert pair.ok == ok and pair.required_mm == (3.0 if ok else 8.0)
        assert pair.gap_mm == pytest.approx(5.0, abs=0.12)


def test_what_is_not_checked_is_listed():
    mech = mechanism()
    bodies = [
        *corner_bodies(mech.points)[:2],
        Body("calliper", "upper_arm", (box((-20, 300, 350), (20, 340, 380)),)),
        *frame_bodies(np.random.default_rng(3), 2),
    ]
    report = check(bodies, mech, TRAVEL, joints=[apart("lower_arm", "calliper")])
    assert {r[:2] for r in report.not_checked} == {
        ("members", "members"),
        ("calliper", "upper_arm"),
        ("calliper", "lower_arm"),
    }
    assert next(why for a, _, why in report.not_checked if a == "members").startswith(
        "neither moves"
    )  # they may be a tank, a hose: not welded


def test_what_rides_on_one_part_of_a_body_is_looked_at_against_the_others():
    """A clamp round a damper's body: only the shaft can come to it, and both lie along the damper's axis, so
    their gap is the damper's least length less the two (closed form). What rides on the shaft as well as on
    the body meets both, crosswise."""
    mech = mechanism()
    p = mech.points
    length = math.dist(p.damper_eye, p.damper_chassis)
    along = (p.damper_eye - p.damper_chassis) / length
    out, back = (lambda mm: p.damper_chassis + mm * along), (lambda mm: p.damper_eye - mm * along)
    damper = [
        Body("damper", "damper_body", (bar(out(0), out(140), 46),)),
        Body("damper", "damper_shaft", (bar(back(0), back(90), 14),)),
    ]
    clamp = [Body("clamp", "damper_body", (bar(out(60), out(80), 60),))]
    report = check([*damper, *clamp], mech, TRAVEL)
    (pair,) = report.pairs
    least = (
        min(
            math.dist(a, b)
            for a, b in zip(
                *(mech.at(np.linspace(*TRAVEL, 4001)).point(n) for n in ("damper_eye", "damper_chassis")),
                strict=True,
            )
        )
        - 90
        - 80
    )
    assert (
        least > 12
        and pair.ok
        and pair.gap_mm <= least + 1e-6
        and pair.found_gap_mm == pytest.approx(least, abs=0.1)
    )
    assert report.not_checked == (
        ("clamp", "damper", "they ride together on the damper body; what moves between them is checked"),
    )
    seat = [Body("clamp", "damper_shaft", (bar(back(40), back(50), 60),))]
    both = check([*damper, *clamp, *seat], mech, TRAVEL)
    apart = [
        check([part, other], mech, TRAVEL).pairs[0]
        for part, other in ((damper[1], clamp[0]), (damper[0], seat[0]))
    ]
    assert (
        both.pairs[0].gap_mm == pytest.approx(min(r.gap_mm for r in apart), abs=0.1) and len(both.pairs) == 1
    )
    assert [r[2].split(";")[0] for r in both.not_checked] == [
        f"they ride together on the damper {half}" for half in ("body", "shaft")
    ]
    assert not check([*damper[:1], *clamp], mech, TRAVEL).pairs


def test_near_toggle():
    """The rocker turns ever faster towards toggle; the bracket holds to 0.05 mm short of it."""
    mech = mechanism(PULL)
    z = np.linspace(0, 200, 4001)
    last = z[np.isfinite(mech.at(z).rocker_rad)].max()
    p = mech.points
    bodies = [
        Body("rocker", "rocker", (bar(p.rod_inboard, p.pivot, 20),)),
        Body("rail", "frame", (square_tube((-100, 150, 30), (100, 150, 30), 25, 4),), "fixed"),
    ]
    pair = check(bodies, mech, (-20.0, last - 0.05)).pairs[0]
    assert 0 <= pair.found_gap_mm - pair.gap_mm <= 0.1
    for z in np.concatenate([np.linspace(-20, last - 0.05, 6), last - np.geomspace(0.051, 1, 6)]):
        assert (
            check(bodies, mech, (z - 1e-7, z + 1e-7), tolerance_mm=1.0).pairs[0].found_gap_mm
            >= pair.gap_mm - 1e-9
        )


def test_errors_name_what_is_wrong():
    mech = mechanism()
    tube = Body("tube", "frame", (bar((10, 0, 0), (10, 0, 100), 20),), "fixed")
    rod = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),))
    with pytest.raises(ValueError, match="cannot reach wheel travel"):
        check([rod, tube], mech, (-40.0, 900.0))
    with pytest.raises(ValueError, match="carrier is 'rodd'"):
        check([Body("rod", "rodd", rod.forms), tube], mech, TRAVEL)
    with pytest.raises(ValueError, match="names body 'spring'"):
        check([rod, tube], mech, TRAVEL, joints=[Joint("rod", "spring")])
    with pytest.raises(ValueError, match="has no form"):
        check([rod, Body("tube", "frame", (), "fixed")], mech, TRAVEL)
    with pytest.raises(ValueError, match="travel"):
        check([rod, tube], mech, (40.0, -40.0))
    with pytest.raises(ValueError, match="tolerance"):
        check([rod, tube], mech, TRAVEL, tolerance_mm=0.0)
    with pytest.raises(ValueError, match=r"tolerance is 0\.0005 mm; it must be 0\.001 mm or more"):
        check([rod, tube], mech, TRAVEL, tolerance_mm=0.0005)


def test_only_light_libraries_are_imported():
    """In a fresh interpreter the check loads no CAD kernel, no scipy, no shapely."""
    code = (
        "import assemblies.clearance, sys; print([m for m in ('cadquery', 'OCP', 'scipy', 'shapely', "
        "'ezdxf') if m in sys.modules])"
    )
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "[]"
    )


@pytest.mark.slow
@pytest.mark.parametrize("seed", [11, 12])
def test_an_exact_kernel_never_finds_less(seed):
    """Independent check: exact distances of true solids (OpenCASCADE through cadquery) on 5 poses of seeded
    corners are never below the proven gap, and at the pose of the least gap agree with the gap found within
    the tolerance."""
    from parts.files.solid import solid

    mech = mechanism(PUSH if seed % 2 else PULL, seed)
    p = mech.points
    along = (p.damper_eye - p.damper_chassis) / np.linalg.norm(p.damper_eye - p.damper_chassis)
    moving = [
        Body("rod", "rod", (bar(p.rod_outboard, p.rod_inboard, 18),)),
        Body("damper", "damper_body", (bar(p.damper_chassis, p.damper_chassis + 120 * along, 46),)),
        Body(
            "wheel",
            "wheel",
            (
                Form(
                    (Round(560, 190, 330, Frame.looking(p.wheel_centre - (0, 95, 0), (0, 1, 0), (1, 0, 0))),)
                ),
            ),
            "tyre",
            hollow=True,
        ),
    ]
    fixed = frame_bodies(np.random.default_rng(seed), 4)
    report = check(moving + fixed, mech, TRAVEL)
    forms = {b.name: b for b in moving + fixed}

    def exact(a, b, z):
        shapes = []
        for body in (forms[a], forms[b]):
            form = body.forms[0]
            if body.carrier != "frame":
                form = form.moved(Frame.of(mech.at(z).frame(body.carrier)))
            shapes.append(solid(form))
        return shapes[0].distance(shapes[1])

    checked = 0
    for r in report.pairs:
        if r.clash or forms[r.b].kind != "fixed":
            continue
        worst = exact(r.a, r.b, r.at_wheel_mm)
        assert r.gap_mm - 1e-6 <= worst <= r.found_gap_mm + 1e-6
        for z in np.linspace(*TRAVEL, 5):
            assert exact(r.a, r.b, z) >= r.gap_mm - 1e-6
        checked += 1
    assert checked >= 5
