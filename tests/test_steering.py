"""Steering and corner geometry against closed forms, statics and an independent solution of the corner.

Sources: ISO 8855 for the terms; closed forms are worked out beside the test; `rigid_bodies` solves the
corner as bodies under constraints by scipy's root finder and knows nothing of the project's motion.
"""

import math
from functools import cache

import numpy as np
import pytest

from assemblies.motion.chain import spin_axis
from assemblies.motion.mechanism import Mechanism
from assemblies.steering import axle, steer
from assemblies.steering.geometry import anti_percent, corner
from assemblies.steering.ground import WheelOnGround
from assemblies.steering.twist import Twist, angle_rates
from tests.corners import PULL, PUSH, planar, random_corner, trailing
from tests.rigid_bodies import RigidBodies

SEEDS = (0, 1, 2, 5, 8, 13)  # every rod mount, both sides, static camber and toe
EVERY = [PUSH, PULL, *(random_corner(s) for s in SEEDS)]


def _out(points) -> float:
    return 1.0 if points.side == "left" else -1.0


def _four_bar(**more):
    """The corner whose front view is the unequal arms of the closed form; its tie rod lies beside the lower
    arm and moves as that does, so the upright moves in the plane."""
    given = dict(
        upper_front=(100, 250, 330),
        upper_rear=(-100, 250, 330),
        upper_outer=(0, 520, 350),
        lower_front=(100, 180, 130),
        lower_rear=(-100, 180, 130),
        lower_outer=(0, 560, 120),
        tie_inner=(120, 180, 130),
        tie_outer=(120, 560, 120),
        wheel_centre=(0, 625, 240),
        contact=(0, 625, -30),
    )
    return planar(**{**given, **more})


# ------------------------------------------------------------ planar closed forms


def test_roll_and_instant_centre_of_unequal_arms_by_motion_and_by_construction():
    """Front-view four-bar, closed form: instant centre [-1760.5825, 181.06796], swing arm 2385.5825, roll
    centre 55.297804 over the contact, contact shift 0.024017521 deg/mm of its own rise."""
    c = corner(Mechanism(_four_bar()).at([0.0]))
    assert c.front_view_centre_mm[0] == pytest.approx([-1760.5825, 181.06796], abs=1e-4)
    assert c.front_view_arm_mm[0] == pytest.approx(2385.5825, abs=1e-4)
    assert c.roll_centre_mm[0] == pytest.approx(55.297804, abs=1e-5)
    assert c.roll_centre_by_arms_mm[0] == pytest.approx(55.297804, abs=1e-5)
    turn = -c.camber_deg_per_mm[0] / c.contact_rise_per_mm[0]
    assert turn == pytest.approx(0.024017521, abs=1e-8)


@pytest.mark.parametrize("wheel", [-60.0, -30.0, 30.0, 60.0])
def test_parallel_equal_arms_have_their_roll_centre_where_the_arms_point(wheel):
    """Arms of 350, half track 700: shift 350·(cos a - 1), roll centre over the contact -700·tan a, sin a =
    z/350; at ride it lies on the ground, and camber and toe never change."""
    m = Mechanism(
        planar(
            **{f"upper_{e}": (x, 300, 300) for e, x in (("front", 100), ("rear", -100))},
            **{f"lower_{e}": (x, 300, 100) for e, x in (("front", 100), ("rear", -100))},
            upper_outer=(0, 650, 300),
            lower_outer=(0, 650, 100),
            tie_inner=(120, 300, 200),
            tie_outer=(120, 650, 200),
            wheel_centre=(0, 700, 200),
            contact=(0, 700, 0),
        )
    )
    c = corner(m.at([0.0, wheel]))
    rise = math.asin(wheel / 350)
    shift = 350 * (math.cos(rise) - 1)
    assert c.track_mm[1] == pytest.approx(shift, abs=1e-9)
    assert c.roll_centre_mm[1] == pytest.approx(-(700 + shift) * math.tan(rise), abs=1e-6)
    assert c.roll_centre_by_arms_mm == pytest.approx(c.roll_centre_mm, abs=1e-6)
    assert c.roll_centre_mm[0] == pytest.approx(0.0, abs=1e-9)
    assert c.camber_deg == pytest.approx([0, 0], abs=1e-9)
    assert c.camber_deg_per_mm == pytest.approx([0, 0], abs=1e-12)
    assert c.toe_deg_per_mm == pytest.approx([0, 0], abs=1e-12)


def test_a_short_tie_rod_toes_in_both_ways_with_no_slope_at_ride():
    """Arms 300, tie rod 250, 120 ahead of a vertical kingpin: toe-in = 0.063920643, 0.25884477, 0.59471567
    deg at ±20, ±40, ±60 (A·sin + B·cos = C)."""
    m = Mechanism(planar(tie_inner=(120, 450, 200)))
    z = np.array([-60.0, -40, -20, 20, 40, 60])
    toe = steer.bump_steer_deg(m.at(z[:, None], np.zeros(1)), m.at(0.0, np.zeros(1)))[:, 0]
    want = np.array([0.59471567, 0.25884477, 0.063920643])
    assert toe == pytest.approx([*want, *want[::-1]], abs=1e-7)
    assert float(steer.toe_slope_deg_per_mm(m.at(0.0))) == pytest.approx(0.0, abs=1e-12)
    assert (np.sign(steer.toe_slope_deg_per_mm(m.at(z))) == np.sign(z)).all()


def test_a_tie_rod_on_an_arms_hinge_line_that_moves_as_that_arm_does_gives_no_toe_at_all():
    m = Mechanism(_four_bar())
    z = np.linspace(-45, 45, 31)[:, None]
    assert abs(steer.bump_steer_deg(m.at(z, np.zeros(1)), m.at(0.0, np.zeros(1)))).max() < 1e-9


# ------------------------------------------------------------ against the independent solution


@cache
def _stencil(which: int, by: str, wheel: float, rack: float, step: float):
    """Poses of the independent solution at five places round one, along travel or rack: the wheel's points
    and spin axis."""
    points = EVERY[which]
    bodies, out = RigidBodies(points), []
    spin = np.reshape(spin_axis(points), 3)
    for k in (-2, -1, 0, 1, 2):
        z, r = (wheel + k * step, rack) if by == "travel" else (wheel, rack + k * step)
        q = np.zeros(9)
        for share in np.linspace(0, 1, 7)[1:]:
            q = bodies.near(q, share * z, share * r)
        q, _ = bodies.pose(q, z, r)

        def at(x, q=q):
            return bodies.carried(q, "upright", np.asarray(x, float))

        centre = at(points.wheel_centre)
        out.append(
            {n: at(getattr(points, n)) for n in ("contact", "wheel_centre", "upper_outer", "lower_outer")}
            | {"spin": at(points.wheel_centre + spin) - centre}
        )
    return out


def _slope(values, step):
    v = [np.asarray(x) for x in values]
    return (v[0] - 8 * v[1] + 8 * v[3] - v[4]) / (12 * step)


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_gains_and_centres_agree_with_differences_of_the_independent_solution(which):
    points, wheel, rack, step = EVERY[which], 14.0, -6.0, 0.5
    out, seen = _out(points), _stencil(which, "travel", wheel, rack, step)
    c = corner(Mechanism(points).at(np.array([wheel]), np.array([rack])))
    contact, spin = _slope([s["contact"] for s in seen], step), [s["spin"] for s in seen]
    at = seen[2]
    assert c.contact_rise_per_mm[0] == pytest.approx(contact[2], abs=1e-6)
    assert c.track_per_mm[0] == pytest.approx(out * contact[1], abs=1e-6)
    assert c.roll_centre_mm[0] == pytest.approx(at["contact"][1] * contact[1] / contact[2], abs=1e-6 * 700)
    assert c.contact_slope[0] == pytest.approx(contact[0] / contact[2], abs=1e-6)
    centre = _slope([s["wheel_centre"] for s in seen], step)
    assert c.centre_slope[0] == pytest.approx(centre[0], abs=1e-6)
    camber = _slope([math.degrees(-math.asin(s[2])) for s in spin], step)
    toe = _slope([math.degrees(math.atan2(s[0], out * s[1])) for s in spin], step)
    assert c.camber_deg_per_mm[0] == pytest.approx(float(camber), abs=1e-6)
    assert c.toe_deg_per_mm[0] == pytest.approx(float(toe), abs=1e-6)
    # the instant centres, carried by the upright, have no velocity in their planes
    m = Mechanism(points)
    twist = Twist.of(m.at(wheel, rack))
    for centre, plane in ((c.front_view_centre_mm, (1, 2)), (c.side_view_centre_mm, (0, 2))):
        point = at["contact"].copy()
        point[list(plane)] = centre[0]
        assert twist.of_point(point)[list(plane)] == pytest.approx([0, 0], abs=1e-6)


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_steer_rates_by_rack_agree_with_differences_of_the_independent_solution(which):
    points, step = EVERY[which], 0.8
    out, seen = _out(points), _stencil(which, "rack", 9.0, 5.0, step)
    steered = [math.atan2(-out * s["spin"][0], out * s["spin"][1]) for s in seen]
    first, second = steer.steer_rates(Mechanism(points).at(9.0, 5.0))
    bent = (-steered[0] + 16 * steered[1] - 30 * steered[2] + 16 * steered[3] - steered[4]) / (12 * step**2)
    assert float(first) == pytest.approx(float(_slope(steered, step)), abs=1e-8)
    assert float(second) == pytest.approx(bent, abs=2e-8)


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_the_steering_axis_on_the_ground_agrees_with_the_independent_solution(which):
    points = EVERY[which]
    out, at = _out(points), _stencil(which, "rack", 9.0, 5.0, 0.8)[2]
    c = corner(Mechanism(points).at(np.array([9.0]), np.array([5.0])))
    spin, line = at["spin"], at["upper_outer"] - at["lower_outer"]
    assert c.kingpin_deg[0] == pytest.approx(math.degrees(math.atan(-out * line[1] / line[2])), abs=1e-6)
    assert c.caster_deg[0] == pytest.approx(math.degrees(math.atan(-line[0] / line[2])), abs=1e-6)
    # the wheel's lowest point, by looking all round its circle through the contact
    hub = at["wheel_centre"] + (at["contact"] - at["wheel_centre"]) @ spin * spin
    radius = math.dist(hub, at["contact"])
    ahead = np.cross(spin, [0, 0, 1.0])
    ahead /= np.linalg.norm(ahead)
    down = np.cross(spin, ahead)
    turns = np.linspace(0, 2 * math.pi, 200_001)
    round_ = hub + radius * (np.cos(turns)[:, None] * ahead + np.sin(turns)[:, None] * down)
    low = round_[round_[:, 2].argmin()]
    pivot = at["lower_outer"] + line * (low[2] - at["lower_outer"][2]) / line[2]
    across = out * np.array([-math.sin(t := math.atan2(-out * spin[0], out * spin[1])), math.cos(t)])
    along = np.array([math.cos(t), math.sin(t)])
    assert c.scrub_mm[0] == pytest.approx((low - pivot)[:2] @ across, abs=0.02)  # the ring's own step is 9 µm
    assert c.trail_mm[0] == pytest.approx((pivot - low)[:2] @ along, abs=0.02)


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_statics_finds_the_same_roll_centre(which):
    """A sideways force at the contact is held in balance by the arms (forces in their planes, none along the
    circle), the tie rod (along itself) and an upward force at the contact; that force over the sideways one
    is -dy/dz. Wrenches about the origin, N and N·mm."""
    points = EVERY[which]
    poses = Mechanism(points).at(-11.0, 4.0)
    wrenches = []
    for arm in ("upper", "lower"):
        joint, front, rear = (poses.point(f"{arm}_{e}") for e in ("outer", "front", "rear"))
        for pull in (front - joint, rear - joint):  # along the arm's two tubes: any force in its plane
            wrenches.append((pull / np.linalg.norm(pull), joint))
    rod = poses.point("tie_inner") - poses.point("tie_outer")
    wrenches.append((rod / np.linalg.norm(rod), poses.point("tie_outer")))
    contact = poses.point("contact")
    wrenches.append((np.array([0.0, 0.0, 1.0]), contact))
    matrix = np.stack([np.concatenate([f, np.cross(p, f)]) for f, p in wrenches], -1)
    side = np.array([0.0, 1.0, 0.0])
    found = np.linalg.solve(matrix, -np.concatenate([side, np.cross(contact, side)]))
    c = corner(Mechanism(points).at(np.array([-11.0]), np.array([4.0])))
    assert c.roll_centre_mm[0] == pytest.approx(-contact[1] * found[5], rel=1e-9, abs=1e-7)


def test_the_arms_construction_is_another_number_where_there_is_bump_steer_and_trail():
    """They must not agree: by the construction the tie rod would not matter."""
    poses = Mechanism(PUSH).at([0.0])
    c = corner(poses)
    apart = c.roll_centre_mm[0] - c.roll_centre_by_arms_mm[0]
    assert 1e-3 < abs(apart) < 10
    other = corner(Mechanism(PUSH.moved(tie_inner=(0, 0, 40))).at([0.0]))
    assert other.roll_centre_by_arms_mm[0] == pytest.approx(c.roll_centre_by_arms_mm[0], abs=1e-9)
    assert abs(other.roll_centre_mm[0] - c.roll_centre_mm[0]) > 0.1


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_no_toe_slope_where_the_rod_is_square_to_the_velocity_of_its_outer_joint_in_toe_free_motion(which):
    points = EVERY[which]
    m, out = Mechanism(points), _out(points)
    poses = m.at(0.0)
    outer = poses.point("tie_outer")
    by_travel, by_rack = (Twist.of(poses, by) for by in ("travel", "rack"))
    toe, steered = math.radians(float(steer.toe_slope_deg_per_mm(poses))), float(steer.steer_rates(poses)[0])
    free = toe / (out * steered)  # rack per travel that keeps the toe: toe-in is -out times the steer angle
    velocity = by_travel.of_point(outer) + free * by_rack.of_point(outer)
    rod = points.tie_inner - points.tie_outer
    square = rod - (rod @ velocity) / (velocity @ velocity) * velocity
    moved = points.changed(tie_inner=points.tie_outer + square)
    assert float(steer.toe_slope_deg_per_mm(Mechanism(moved).at(0.0))) == pytest.approx(0.0, abs=1e-10)
    assert abs(toe) > 1e-6


def test_angle_rates_are_those_of_a_known_angle():
    t, h = 0.7, 1e-4

    def angle(t):
        return math.atan2(math.sin(3 * t) + 0.2, math.cos(2 * t))

    x, dx, ddx = math.cos(2 * t), -2 * math.sin(2 * t), -4 * math.cos(2 * t)
    y, dy, ddy = math.sin(3 * t) + 0.2, 3 * math.cos(3 * t), -9 * math.sin(3 * t)
    first, second = angle_rates(x, y, dx, dy, ddx, ddy)
    assert first == pytest.approx((angle(t + h) - angle(t - h)) / (2 * h), rel=1e-6)
    assert second == pytest.approx((angle(t + h) - 2 * angle(t) + angle(t - h)) / h**2, rel=1e-5)


# ------------------------------------------------------------ lock, Ackermann, turning circle

KINGPIN_Y, ARM_MM, ROD_MM, WHEELBASE = 700.0, 120.0, 300.0, 2300.0


def _trapezoid(slant_deg: float, ahead: bool = False):
    """A vertical kingpin, steering arm of 120 mm slanted inboard from straight back (or ahead), a level tie
    rod."""
    lean = math.radians(slant_deg)
    sense = 1 if ahead else -1
    outer = (sense * ARM_MM * math.cos(lean), KINGPIN_Y - ARM_MM * math.sin(lean), 200.0)
    return planar(
        tie_inner=(outer[0], outer[1] - ROD_MM, 200.0),
        tie_outer=outer,
        wheel_centre=(0, 760, 200),
        contact=(0, 760, 0),
    )


def _steered(points, rack: float) -> float:
    """Planar closed form: angle about +z of the steering arm, by the cosine rule in the triangle kingpin,
    inner joint, outer joint."""
    inner = np.add(points.tie_inner[:2], (0, rack - KINGPIN_Y))
    start = points.tie_outer[:2] - (0, KINGPIN_Y)
    away = math.hypot(*inner)
    opening = math.acos((ARM_MM**2 + away**2 - ROD_MM**2) / (2 * ARM_MM * away))
    base = points.tie_inner[:2] - (0, KINGPIN_Y)
    sense = math.copysign(1.0, base[0] * start[1] - base[1] * start[0])
    turned = math.atan2(inner[1], inner[0]) + sense * opening - math.atan2(start[1], start[0])
    return (turned + math.pi) % (2 * math.pi) - math.pi


@pytest.mark.parametrize("slant, ahead", [(0, False), (12, False), (20, False), (10, True), (-15, True)])
def test_ackermann_and_circle_of_a_planar_steering_follow_from_the_cosine_rule(slant, ahead):
    points = _trapezoid(slant, ahead)
    t = steer.turn(Mechanism(points), 40.0, WHEELBASE, count=9)
    assert t.pivots_mm == pytest.approx(2 * KINGPIN_Y, abs=1e-9)
    for r, inner, outer, share, cots, c_in, c_out, mean in zip(
        t.rack_mm[1:],
        *(x[1:] for x in (t.inner_deg, t.outer_deg, t.ackermann, t.ackermann_cot)),
        t.centre_inner_mm[1:],
        t.centre_outer_mm[1:],
        t.circle_mean_mm[1:],
        strict=True,
    ):
        di, do = _steered(points, r), -_steered(points, -r)
        assert di > 0 and do > 0
        assert (inner, outer) == pytest.approx((math.degrees(di), math.degrees(do)), abs=1e-8)
        full = math.atan(1 / (1 / math.tan(do) - 2 * KINGPIN_Y / WHEELBASE)) % math.pi
        assert share == pytest.approx((di - do) / (full - do), abs=1e-9)
        assert cots == pytest.approx(
            (1 / math.tan(do) - 1 / math.tan(di)) * WHEELBASE / (2 * KINGPIN_Y), abs=1e-9
        )
        # the wheel runs 60 mm outboard of its kingpin: its contact turns about that
        inner_at = (-60 * math.sin(di), KINGPIN_Y + 60 * math.cos(di))
        outer_at = (60 * math.sin(do), -KINGPIN_Y - 60 * math.cos(do))
        y_in = inner_at[1] + (inner_at[0] + WHEELBASE) / math.tan(di)
        y_out = outer_at[1] + (outer_at[0] + WHEELBASE) / math.tan(do)
        assert (c_in, c_out) == pytest.approx((y_in, y_out), rel=1e-9)
        assert mean == pytest.approx(2 * math.dist(outer_at, (-WHEELBASE, (y_in + y_out) / 2)), rel=1e-9)
    assert t.ackermann_limit == pytest.approx(float(t.ackermann[1]), abs=0.02)
    small = steer.turn(Mechanism(points), 0.02, WHEELBASE, count=2)
    assert small.ackermann[1] == pytest.approx(t.ackermann_limit, abs=1e-4)
    assert small.ackermann_cot[1] == pytest.approx(t.ackermann_limit, abs=1e-4)


def test_full_ackermann_has_both_wheels_turning_about_one_point():
    """Where the wheels run on their kingpins (no scrub) a share of one puts both centres on one point: look
    for the slant of the arm that gives it at one rack place."""

    def at(slant):
        points = _trapezoid(slant).changed(
            wheel_centre=np.array((0.0, 700, 200)), contact=np.array((0.0, 700, 0))
        )
        return steer.turn(Mechanism(points), 30.0, WHEELBASE, count=2)

    low, high = 0.0, 40.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if at(middle).ackermann[1] < 1 else (low, middle)
    t = at(low)
    assert t.ackermann[1] == pytest.approx(1.0, abs=1e-9) and t.ackermann_cot[1] == pytest.approx(
        1.0, abs=1e-9
    )
    assert t.centre_inner_mm[1] == pytest.approx(t.centre_outer_mm[1], rel=1e-9)
    assert t.circle_inner_mm[1] == pytest.approx(t.circle_outer_mm[1], rel=1e-9)


@pytest.mark.parametrize("points", EVERY, ids=str)
def test_the_mirror_image_turns_the_other_way_alike(points):
    a, b = (steer.turn(Mechanism(p), 15.0, WHEELBASE, count=4) for p in (points, points.mirrored()))
    assert a.rack_mm == pytest.approx(-b.rack_mm)
    for name in ("inner_deg", "outer_deg", "ackermann", "circle_mean_mm", "ackermann_limit"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-9, nan_ok=True)


def test_an_axle_steered_behind_is_the_one_in_front_seen_backwards():
    """All points reflected fore and aft, the other axle now ahead: the same inner and outer angles and
    circles."""
    for points in (PUSH, _trapezoid(15), random_corner(5)):
        flip = np.array([-1.0, 1.0, 1.0])
        behind = points.changed(
            **{n: getattr(points, n) * (-flip if n == "axis" else flip) for n in points.names},
            static_toe_deg=-points.static_toe_deg,
        )
        a = steer.turn(Mechanism(points), 20.0, WHEELBASE, count=4)
        b = steer.turn(Mechanism(behind), 20.0, WHEELBASE, "rear", count=4)
        for name in (
            "inner_deg",
            "outer_deg",
            "ackermann",
            "ackermann_cot",
            "circle_mean_mm",
            "centre_inner_mm",
        ):
            assert getattr(b, name) == pytest.approx(getattr(a, name), rel=1e-9, abs=1e-9, nan_ok=True)
        assert b.ackermann_limit == pytest.approx(a.ackermann_limit, rel=1e-9)
        assert (a.inner_deg[1:] > 0).all() and (a.outer_deg[1:] > 0).all()


def test_static_toe_does_not_count_as_steering():
    """Wheels set toe-in: the angles from straight ahead start at zero, the circle knows of the toe."""
    points = _trapezoid(12)
    plain, toed = (
        steer.turn(Mechanism(p), 30.0, WHEELBASE, count=3)
        for p in (points, points.changed(static_toe_deg=0.5))
    )
    assert toed.inner_deg == pytest.approx(plain.inner_deg, abs=1e-9)
    assert toed.ackermann[1:] == pytest.approx(plain.ackermann[1:], abs=1e-9)
    assert toed.centre_outer_mm[2] < plain.centre_outer_mm[2]  # the outer wheel heads further in
    assert toed.centre_inner_mm[2] > plain.centre_inner_mm[2]


def test_toggle_is_where_arm_and_rod_lie_in_line():
    """Planar: arm straight back, rod level: 90 deg at ride; the angle is that of the triangle's cosine
    rule."""
    points = _trapezoid(0)
    m, rack = Mechanism(points), np.array([-60.0, -20.0, 0.0, 35.0, 70.0])
    got = steer.arm_to_rod_deg(m.at(0.0, rack))
    for r, angle in zip(rack, got, strict=True):
        away = math.dist(np.add(points.tie_inner[:2], (0, r)), (0, KINGPIN_Y))
        want = math.degrees(math.acos((ARM_MM**2 + ROD_MM**2 - away**2) / (2 * ARM_MM * ROD_MM)))
        assert angle == pytest.approx(want, abs=1e-8)


def test_tilts_of_the_tie_rod_in_a_planar_corner():
    """Parallel equal arms and tie rod: upright and rack keep their bolts upright, the rod rises by
    asin(z/300)."""
    poses = Mechanism(planar()).at(np.array([-50.0, 0.0, 50.0]))
    rise = np.degrees(np.arcsin(np.array([-50.0, 0, 50]) / 300))
    assert steer.outer_tilt_deg(poses) == pytest.approx(rise, abs=1e-9)
    assert steer.inner_tilt_deg(poses) == pytest.approx(rise, abs=1e-9)
    assert steer.to_rack_deg(poses) == pytest.approx(abs(rise), abs=1e-6)


# ------------------------------------------------------------ anti figures, axle


def test_a_corner_tilted_seen_from_the_side_moves_along_its_tilt():
    """A whole corner turned 4 deg about y: all its points move along a line tilted as much, contact and wheel
    centre alike."""
    tilt = math.radians(4.0)

    def turned(p):
        x, y, z = p
        return (x * math.cos(tilt) + z * math.sin(tilt), y, -x * math.sin(tilt) + z * math.cos(tilt))

    flat = planar()
    m = Mechanism(flat.changed(**{n: np.array(turned(getattr(flat, n))) for n in flat.names}))
    c = corner(m.at([0.0]))
    assert c.contact_slope[0] == pytest.approx(math.tan(tilt), abs=1e-9)
    assert c.centre_slope[0] == pytest.approx(math.tan(tilt), abs=1e-9)
    share, wheelbase, height = 0.6, 2300.0, 450.0
    assert anti_percent(c.contact_slope[0], share, wheelbase, height, 1.0) == pytest.approx(
        100 * share * math.tan(tilt) * wheelbase / height, rel=1e-9
    )


def test_parallel_trailing_arms_level_at_ride_hold_nothing():
    """They move the whole upright straight up: no slope, and the side-view swing arm has no end."""
    c = corner(Mechanism(trailing(400.0)).at([0.0]))
    # both arms alike and parallel: the upright does not turn, so contact and centre move alike
    assert c.contact_slope[0] == pytest.approx(0.0, abs=1e-12)
    assert c.centre_slope[0] == pytest.approx(0.0, abs=1e-12)
    assert not np.isfinite(c.side_view_arm_mm[0]) or abs(c.side_view_arm_mm[0]) > 1e9


def test_roll_rate_is_half_the_rate_times_track_squared():
    """22 N/mm, 1400 mm: 376.29299 N·m/deg; 15 of a bar are added."""
    assert axle.roll_rate_nm_per_deg([22, 22], [700, -700]) == pytest.approx(376.29299, rel=1e-7)
    assert axle.roll_rate_nm_per_deg([22, 22], [700, -700], 15.0) == pytest.approx(391.29299, rel=1e-7)


def test_load_transfer_of_a_known_car():
    """620 kg, centre of gravity 1080 behind the front axle of 2250, 420 high, track 1420, 400 of 680
    N·m/deg, roll centre on the ground, 1 g: the outer front wheel 2638.6827, the inner 522.98125 N (statics,
    rigid car)."""
    t = axle.transfer(620 * 1170 / 2250, 620, 420, 1420, 0.0, 400 / 680, 680)
    assert t.load_n == pytest.approx((2638.6827 - 522.98125) / 2, rel=1e-7)
    assert t.share == pytest.approx(0.58823529, rel=1e-7) and t.geometric_n == t.jacking_n == 0
    assert t.roll_deg == pytest.approx(620 * 9.80665 * 0.42 / 680, rel=1e-9)
    high = axle.transfer(620 * 1170 / 2250, 620, 420, 1420, 420.0, 400 / 680, 680)
    assert high.roll_deg == pytest.approx(0.0) and high.load_n == pytest.approx(
        620 * 1170 / 2250 * 9.80665 * 420 / 1420
    )


@pytest.mark.parametrize("which", range(len(EVERY)))
def test_a_rolled_axle_stands_on_the_ground(which):
    """Turned back by the roll, both contacts lie on one level line at the heave asked; camber to the road is
    that of the turned spin axis."""
    points = EVERY[which]
    for roll, heave in ((2.0, 0.0), (-1.5, 6.0)):
        seen = []
        for side in (points, points.mirrored()):
            s = axle.stand(Mechanism(side), np.array([roll]), heave)
            c, w = math.cos(math.radians(roll)), math.sin(math.radians(roll))
            turn = np.array([[1, 0, 0], [0, c, -w], [0, w, c]])  # about +x
            middle = np.array([0.0, 0.0, points.contact[2] - heave])
            contact = turn @ (s.poses.point("contact")[0] - middle)
            assert contact[2] == pytest.approx(0.0, abs=1e-8)
            spin = turn @ s.poses.point("spin")[0]
            assert s.camber_to_road_deg[0] == pytest.approx(math.degrees(-math.asin(spin[2])), abs=1e-9)
            seen.append((side.side, s))
        wheel = {side: float(s.wheel_mm[0]) for side, s in seen}
        assert (wheel["left"] < wheel["right"]) == (roll > 0)  # the left side rises: its wheel droops
        assert sum(wheel.values()) / 2 == pytest.approx(-heave, abs=2.0)


def test_in_roll_a_corner_without_camber_change_leans_with_the_body():
    """Parallel equal arms: camber to the road is the roll itself, outer wheel top outward."""
    m = Mechanism(planar())
    roll = np.array([0.0, 1.0, 3.0])
    left = axle.stand(m, roll)
    right = axle.stand(Mechanism(planar().mirrored()), roll)
    assert right.camber_to_road_deg == pytest.approx(roll, abs=1e-9)  # the car leans to its right
    assert left.camber_to_road_deg == pytest.approx(-roll, abs=1e-9)


def test_the_ground_points_of_a_wheel_standing_straight():
    """Kingpin vertical, wheel 60 outboard of it: scrub 60, no trail; lowest point and contact are one."""
    g = WheelOnGround(Mechanism(planar()).at([0.0]))
    assert g.scrub_radius_mm[0] == pytest.approx(60.0) and g.trail_mm[0] == pytest.approx(0.0, abs=1e-12)
    assert g.lowest[0] == pytest.approx([0, 760, 0], abs=1e-12)
    leant = WheelOnGround(
        Mechanism(planar(lower_outer=(30, 700, 100), upper_outer=(-10, 680, 300))).at([0.0])
    )
    # axis through (30, 700, 100) along (-40, -20, 200): on the ground at (50, 710)
    assert leant.scrub_radius_mm[0] == pytest.approx(50.0) and leant.trail_mm[0] == pytest.approx(50.0)
