"""Motion against the outside world: check rows K, closed forms, and an independent solver of rigid-body
constraints."""

from types import SimpleNamespace

import numpy as np
import pytest
from corners import PULL, PUSH, mirrored, planar, random_corner, trailing
from rigid_bodies import ROCKER, RigidBodies
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from assemblies.motion.ends import ends, toggle_margin
from assemblies.motion.linkage import Jet, held_on_circle, turn
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.motion.poses import BODIES
from assemblies.motion.reach import STOPS, reach

DEG = np.degrees


# check rows: full corners

FULL = [  # source: two independent solvers (scipy root on body poses, mujoco kinematics) agreeing to 1e-7
    (
        PUSH,
        [-40, -20, 0, 20, 40],
        [-21.158031, -10.518829, 0, 10.654362, 21.703791],
        [252.90236, 241.07449, 228.27396, 214.46843, 199.63334],
        [0.50245796, 0.22642449, 0, -0.18362567, -0.32988602],
        [0.40146236, 0.26323731, 0, -0.38286534, -0.8841472],
        [623.23119, 624.74927, 625, 624.01979, 621.82626],
        [-17.6847, 211.00539, 452.81962],
    ),
    (
        PULL,
        [-40, -20, 0, 20, 40],
        [-20.440744, -9.8650278, 0, 9.3707733, 18.405391],
        [234.24546, 222.03202, 210.58253, 199.98965, 190.37283],
        [0.46826116, 0.21636373, 0, -0.18888817, -0.35744827],
        [0.66744303, 0.38827217, 0, -0.49529514, -1.0987569],
        [616.76753, 618.00609, 618, 616.77564, 614.34263],
        [-8.3001346, 218.59244, 115.74522],
    ),
    (
        PULL.changed(rod_on="upright"),
        [-30, 0, 30],
        [-15.409699, 0, 14.249246],
        [228.46739, 210.58253, 194.70197],
        [0.33731462, 0, -0.27528354],
        [0.54176694, 0, -0.78331874],
        [617.54476, 618, 615.71022],
        [-8.2869022, 215.97475, 111.82156],
    ),
]


@pytest.mark.parametrize(
    ("points", "z", "phi", "damper", "toe", "camber", "wheel_y", "eye"), FULL, ids=["K15", "K16", "K17"]
)
def test_full_corner_rows(points, z, phi, damper, toe, camber, wheel_y, eye):
    poses = Mechanism(points).at(z)
    assert DEG(poses.rocker_rad) == pytest.approx(phi, abs=1e-4)
    assert poses.damper_mm == pytest.approx(damper, abs=1e-3)
    assert poses.toe_deg == pytest.approx(toe, abs=1e-4)
    assert poses.camber_deg == pytest.approx(camber, abs=1e-4)
    assert poses.point("wheel_centre")[:, 1] == pytest.approx(wheel_y, abs=1e-3)
    assert poses.point("rod_inboard")[-1] == pytest.approx(eye, abs=1e-3)


@pytest.mark.parametrize(
    ("points", "dphi", "d2phi", "ddamper"),
    [  # source: scipy loop closure, 4th-order differences
        (
            PUSH,
            [0.53979891, 0.52668882, 0.52727649, 0.54027394, 0.56731416],
            [-1.85669e-05, -5.0460911e-06, 5.899609e-06, 1.7010973e-05, 3.0930256e-05],
            [-0.5674931, -0.61546748, -0.66487084, -0.71591778, -0.76745501],
        ),
        (
            PULL,
            [0.55133607, 0.50887412, 0.47939271, 0.4589811, 0.445524],
            [-4.4523148e-05, -3.0634527e-05, -2.1364433e-05, -1.4558138e-05, -9.0838821e-06],
            [-0.62849482, -0.59224935, -0.55193367, -0.50636263, -0.45406268],
        ),
    ],
    ids=["K18", "K19"],
)
def test_derivative_rows(points, dphi, d2phi, ddamper):
    poses = Mechanism(points).at([-40, -20, 0, 20, 40])
    assert DEG(poses.dtheta_dz) == pytest.approx(dphi, rel=1e-6)
    assert poses.d2theta_dz2 == pytest.approx(d2phi, abs=2e-9)
    assert poses.ddamper_dz == pytest.approx(ddamper, rel=1e-6)


# check rows: closed forms


def test_four_bar_both_assemblies():
    """K1, Norton's example reproduced in closed form: both rocker angles and the speed ratio of the open
    one."""
    crank, coupler, rocker, ground = 40.0, 120.0, 80.0, 100.0
    c, s = turn(np.radians([40.0]), 1)
    far_x, far_y = c * crank - ground, s * crank  # crank pin from the rocker's pivot
    left = (far_x * far_x + far_y * far_y + (rocker**2 - coupler**2)) / (2 * rocker)
    for mirror, angle, ratio in ((-1, -98.004964, None), (1, 57.32488, 0.27991941)):
        cos, sin, _ = held_on_circle(far_x, far_y * -mirror, left)
        theta = cos.angle_of(sin) * -mirror
        assert DEG(theta.c[0]) == pytest.approx([angle], abs=1e-5)
        if ratio:
            assert theta.c[1] == pytest.approx([ratio], rel=1e-6)


FOUR_BARS = [((40, 120, 80, 100), 1), ((60, 80, 60, 100), -1), ((50, 50, 50, 50), 0)]


@pytest.mark.parametrize(("bars", "turns"), FOUR_BARS)
def test_full_rotation(bars, turns):
    """K3: shortest + longest under the other two: the loop closes all round; equal: it just folds flat; over:
    it does not."""
    crank, coupler, rocker, ground = bars
    t = np.linspace(0, 2 * np.pi, 20001)
    x, y = crank * np.cos(t) - ground, crank * np.sin(t)
    with np.errstate(all="ignore"):
        left = held_on_circle(x, y, (x * x + y * y + rocker**2 - coupler**2) / (2 * rocker))[2]
    assert np.sign(np.round(left.min(), 6)) == turns


def four_bar_corner(start_deg: float) -> tuple[HardPoints, float]:
    """K2's four-bar in a planar corner: lower arm = crank (60), rod 80, rocker 60, ground 100, open assembly
    at `start_deg`."""
    crank = 60 * np.array([np.cos(a := np.radians(start_deg)), np.sin(a)])
    x = crank - [100, 0]
    r = np.hypot(*x)
    spread = np.arccos((r**2 + 60**2 - 80**2) / (2 * r * 60))
    eyes = [
        np.array([100, 0]) + 60 * np.array([np.cos(t), np.sin(t)])
        for t in (np.arctan2(x[1], x[0]) - spread, np.arctan2(x[1], x[0]) + spread)
    ]
    eye = eyes[0] if np.cross([*(eyes[0] - crank), 0], [*([100, 0] - crank), 0])[2] < 0 else eyes[1]
    at = lambda p: (0, 400 + p[0], 100 + p[1])  # noqa: E731
    return planar(
        rod_outboard=at(crank),
        rod_inboard=at(eye),
        pivot=at((100, 0)),
        damper_eye=at((100, 50)),
        damper_chassis=at((250, 60)),
    ), np.radians(start_deg)


def test_toggle_of_the_four_bar():
    """K2: the limit is at crank 120 deg, and the ratio grows like one over the root of the distance to it."""
    points, start = four_bar_corner(60)
    m = Mechanism(points)
    found = reach(m.chain, m.rises[:, None])
    assert STOPS[found.stop[0, 1]] == "rocker"
    assert DEG(found.angle_rad[0, 1] + start) == pytest.approx(120, abs=1e-6)
    z = 300 * np.sin(found.angle_rad[0, 1] - np.radians([10, 1, 0.1, 0.01]))  # level arms of 300 mm
    poses = m.at(z)
    ratio = abs(poses.dtheta_dz) * np.sqrt(300**2 - z**2)  # d(rocker)/d(crank) = dθ/dz · dz/da
    assert ratio == pytest.approx([1.4593333, 3.5601125, 10.41313, 32.163078], rel=1e-4)
    assert not m.at(found.wheel_mm[0, 1] + 1e-6).valid
    assert m.at(found.wheel_mm[0, 1] - 1e-6).valid
    assert ends(m, 40, 55, 500, 10).toggle_mm[1] == pytest.approx(found.wheel_mm[0, 1], abs=1e-9)


def test_planar_rocker_moment_arms():
    """K5: signed perpendicular distances from the pivot to rod and damper line, and what follows from
    them."""
    at = lambda y, z: (0, 400 + y, 200 + z)  # noqa: E731
    pose = Mechanism(
        planar(
            pivot=at(0, 0),
            rod_inboard=at(70, 20),
            rod_outboard=at(260, -180),
            damper_eye=at(-30, 60),
            damper_chassis=at(-250, 120),
        )
    ).at(0.0)
    assert float(pose.rod_moment_arm_mm) == pytest.approx(-64.52495, rel=1e-6)
    assert float(pose.damper_moment_arm_mm) == pytest.approx(49.992307, rel=1e-6)
    assert DEG(1 / float(pose.rod_moment_arm_mm)) == pytest.approx(
        -0.88796318, rel=1e-6
    )  # rod pulled along its line by 1
    assert float(-pose.damper_moment_arm_mm / pose.rod_moment_arm_mm) == pytest.approx(0.77477483, rel=1e-6)


def test_parallel_equal_arms():
    """K9: the wheel translates on an arc; camber and toe do not change."""
    points = planar(upper_outer=(0, 750, 300), lower_outer=(0, 750, 100), tie_outer=(120, 750, 200))
    poses = Mechanism(points).at([-60, -30, 30, 60])
    assert poses.point("wheel_centre")[:, 1] - 760 == pytest.approx(
        [-5.181207, -1.2880845, -1.2880845, -5.181207], abs=1e-6
    )
    assert abs(poses.camber_deg).max() < 1e-9
    assert abs(poses.toe_deg).max() < 1e-9


def test_unequal_arms_in_front_view():
    """K10: rotation of the upright and lateral shift of the contact point over its own travel."""
    m = Mechanism(
        planar(
            upper_front=(100, 250, 330),
            upper_rear=(-100, 250, 330),
            upper_outer=(0, 520, 350),
            lower_front=(100, 180, 130),
            lower_rear=(-100, 180, 130),
            lower_outer=(0, 560, 120),
            contact=(0, 625, -30),
            tie_inner=(100, 180, 130),
            tie_outer=(100, 560, 120),
            wheel_centre=(0, 625, 235),
            rod_outboard=(0, 500, 130),
            rod_inboard=(0, 250, 420),
            pivot=(0, 200, 380),
            damper_eye=(0, 150, 420),
            damper_chassis=(0, 20, 300),
        )
    )
    z = [
        brentq(lambda z, want=want: m.at(z).point("contact")[2] + 30 - want, -60, 60, xtol=1e-12)
        for want in (-40, -20, 20, 40)
    ]
    poses = m.at(z)
    assert -poses.camber_deg == pytest.approx([-0.78531551, -0.43668639, 0.52423614, 1.1377318], abs=1e-5)
    assert poses.point("contact")[:, 1] - 625 == pytest.approx(
        [-5.1178178, -2.1606584, 1.3850473, 2.0136739], abs=1e-4
    )


@pytest.mark.parametrize(
    ("length", "steer"), [(250, [-0.063920643, -0.25884477, -0.59471567]), (300, [0, 0, 0])]
)
def test_bump_steer_of_a_short_tie_rod(length, steer):
    """K12: a level tie rod ahead of the axle, too short, gives toe-in both ways (steer positive = toe-out on
    the left)."""
    poses = Mechanism(planar(tie_inner=(120, 700 - length, 200))).at([[20, 40, 60], [-20, -40, -60]])
    assert -poses.toe_deg == pytest.approx(np.array([steer, steer]), abs=1e-7)


def test_trailing_arm_shift():
    """K13: the wheel comes towards the pivot by R - sqrt(R² - z²) and keeps its camber."""
    poses = Mechanism(trailing(400)).at([60.0])
    assert poses.point("wheel_centre")[0, 0] == pytest.approx(4.5256013, abs=1e-6)
    assert poses.camber_deg == pytest.approx([0], abs=1e-9)
    assert np.sin(poses.rocker_rad * np.sign(poses.dtheta_dz)) == pytest.approx(
        [60 / 400], rel=1e-12
    )  # the parallelogram


# an independent solver, random corners: every mount, both sides, tilted axes

SEEDS = range(60)
WORST = 1e-9  # agreement relative to 400 mm and to 1 rad


def compare(seed: int, rack_mm: float) -> int:
    """Poses compared; where an independent pose is ill-conditioned (near toggle) both solutions lose digits
    with it."""
    points = random_corner(seed)
    mechanism, bodies, seen = Mechanism(points), RigidBodies(points), 0
    found = np.sort(reach(mechanism.chain, mechanism.rises[:, None], np.array([[rack_mm]])).wheel_mm[0])
    start = float(np.clip(0, *found * 0.9))
    for end in np.clip([-45, 45], *found * 0.9):
        for z, q, cond in bodies.march(np.linspace(start, end, 4)[1:], rack_mm):
            pose = mechanism.at(z, rack_mm)
            allowed = WORST * max(1.0, cond / 1e4)
            assert pose.valid, (seed, z)
            assert abs(float(pose.rocker_rad) - q[ROCKER]) < allowed, (seed, z)
            for name, body in (
                ("upper_outer", "upper_arm"),
                ("lower_outer", "lower_arm"),
                ("tie_outer", "upright"),
                ("wheel_centre", "upright"),
                ("contact", "upright"),
                ("rod_outboard", points.rod_on),
                ("rod_inboard", "rocker"),
                ("damper_eye", "rocker"),
            ):
                assert (
                    abs(pose.point(name) - bodies.carried(q, body, getattr(points, name))).max()
                    < 400 * allowed
                ), (seed, z, name)
            out = 1 if points.side == "left" else -1
            camber, toe = np.radians([points.static_camber_deg, points.static_toe_deg])
            spin = Rotation.from_rotvec(q[3:6]).apply(
                [np.cos(camber) * np.sin(toe), out * np.cos(camber) * np.cos(toe), -np.sin(camber)]
            )
            assert float(pose.camber_deg) == pytest.approx(DEG(-np.arcsin(spin[2])), abs=57 * allowed)
            assert float(pose.toe_deg) == pytest.approx(
                DEG(np.arctan2(spin[0], out * spin[1])), abs=57 * allowed
            )
            assert float(pose.damper_mm) == pytest.approx(
                np.linalg.norm(bodies.carried(q, "rocker", points.damper_eye) - points.damper_chassis),
                abs=400 * allowed,
            )
            seen += 1
    return seen


@pytest.mark.parametrize("seed", [s if s < 12 else pytest.param(s, marks=pytest.mark.slow) for s in SEEDS])
def test_against_rigid_body_constraints(seed):
    """Closed forms agree with scipy's root finder on rigid-body constraints; the rack is moved in every fifth
    corner."""
    assert compare(seed, 12.0 if seed % 5 == 0 else 0.0) == 6


@pytest.mark.parametrize("seed", range(0, 60, 10))
def test_derivatives_against_the_independent_solver(seed):
    """First and second derivatives by travel against 4th-order differences of the independent solution, step
    1 mm."""
    points = random_corner(seed)
    bodies = RigidBodies(points)
    q, _ = bodies.pose(np.zeros(9), 5.0)
    theta = np.array([bodies.pose(q, 5.0 + k)[0][ROCKER] for k in (-2, -1, 0, 1, 2)])
    pose = Mechanism(points).at(5.0)
    first = (theta[0] - 8 * theta[1] + 8 * theta[3] - theta[4]) / 12
    second = (-theta[0] + 16 * theta[1] - 30 * theta[2] + 16 * theta[3] - theta[4]) / 12
    assert float(pose.dtheta_dz) == pytest.approx(first, rel=1e-6)
    assert float(pose.d2theta_dz2) == pytest.approx(second, rel=1e-4, abs=2e-9)


# properties


@pytest.mark.parametrize("seed", range(12))
def test_mirrored_corner_moves_mirrored(seed):
    points, z = random_corner(seed), np.linspace(-30, 30, 7)
    here, there = Mechanism(points).at(z, 8.0), Mechanism(mirrored(points)).at(z, -8.0)
    assert here.valid.sum() >= 4
    assert (here.valid == there.valid).all()
    for name in ("wheel_centre", "contact", "rod_inboard", "damper_eye", "tie_outer", "rod_outboard"):
        assert there.point(name) * [1, -1, 1] == pytest.approx(here.point(name), abs=1e-9, nan_ok=True)
    for value in (
        "rocker_rad",
        "camber_deg",
        "toe_deg",
        "damper_mm",
        "dtheta_dz",
        "d2damper_dz2",
        "rod_to_arm_deg",
    ):
        assert getattr(there, value) == pytest.approx(
            getattr(here, value), rel=1e-9, abs=1e-10, nan_ok=True
        ), value


def test_moving_the_car_along_x_changes_nothing():
    points, z = random_corner(4), np.linspace(-30, 30, 7)
    moved = Mechanism(points.moved(**{n: (1800, 0, 0) for n in points.names if n != "axis"})).at(z)
    here = Mechanism(points).at(z)
    assert moved.rocker_rad == pytest.approx(here.rocker_rad, abs=1e-11)
    assert moved.point("contact") - [1800, 0, 0] == pytest.approx(here.point("contact"), abs=1e-8)


def test_a_batch_is_a_loop_of_singles():
    """Variations, poses and rack in one call give what each gives alone."""
    rng = np.random.default_rng(0)
    points = PULL.moved(**{n: rng.normal(0, 1, (5, 3)) for n in PULL.names if n != "axis"})
    z, rack = np.linspace(-40, 40, 9)[:, None], np.array([-15.0, 0.0, 15.0])
    batch = Mechanism(points).at(z, rack)
    assert batch.rocker_rad.shape == (5, 9, 3)
    for v in range(5):
        one = Mechanism(points.changed(**{n: getattr(points, n)[v] for n in points.names if n != "axis"}))
        for i in range(9):
            for j in range(3):
                pose = one.at(z[i, 0], rack[j])
                assert batch.rocker_rad[v, i, j] == pytest.approx(
                    float(pose.rocker_rad), rel=1e-11, abs=1e-13
                )
                assert batch.toe_deg[v, i, j] == pytest.approx(float(pose.toe_deg), rel=1e-11, abs=1e-12)
                assert batch.point("contact")[v, i, j] == pytest.approx(
                    pose.point("contact"), rel=1e-12, abs=1e-10
                )


def test_frames_are_rigid_and_carry_the_points():
    on = {
        "rocker": ("rod_inboard", "damper_eye"),
        "spring": ("rod_inboard",),
        "rod": ("rod_outboard", "rod_inboard"),
        "damper_body": ("damper_chassis",),
        "damper_shaft": ("damper_eye",),
        "upper_arm": ("upper_outer", "upper_front"),
        "lower_arm": ("lower_outer", "lower_rear"),
        "tie_rod": ("tie_inner", "tie_outer"),
        "rack": ("tie_inner",),
        "upright": ("wheel_centre", "tie_outer", "upper_outer"),
        "wheel": ("contact", "lower_outer"),
    }
    assert set(on) == set(BODIES)
    for seed in (0, 1, 2):
        points = random_corner(seed)
        poses = Mechanism(points).at(np.linspace(-30, 30, 7), 5.0)
        for body, names in (on | {points.rod_on: (*on[points.rod_on], "rod_outboard")}).items():
            frame = poses.frame(body)
            turn_ = frame[..., :3, :3]
            assert turn_ @ np.swapaxes(turn_, -1, -2) == pytest.approx(
                np.broadcast_to(np.eye(3), turn_.shape), abs=1e-13
            )
            assert np.linalg.det(turn_) == pytest.approx(np.ones(7), abs=1e-12)
            for name in names:
                assert turn_ @ getattr(points, name) + frame[..., :3, 3] == pytest.approx(
                    poses.point(name), abs=1e-9
                ), (body, name)


def test_velocities_match_positions():
    points = random_corner(7)
    m, z = Mechanism(points), np.linspace(-20, 20, 5)
    for name in ("upper_outer", "contact", "rod_outboard", "rod_inboard", "damper_eye", "tie_outer"):
        p = [m.at(z + k).point(name) for k in (-2, -1, 1, 2)]
        assert m.at(z).velocity(name) == pytest.approx((p[0] - 8 * p[1] + 8 * p[2] - p[3]) / 12, abs=2e-8)


# ends of travel


@pytest.mark.parametrize("seed", range(12))
def test_limits_are_exact(seed):
    """Just inside the limit the pose stands, just outside it does not, and inside the chain closes to
    rounding."""
    points = random_corner(seed)
    m = Mechanism(points)
    for end in reach(m.chain, m.rises[:, None]).wheel_mm[0]:
        inside, outside = end - 1e-5 * np.sign(end), end + 1e-5 * np.sign(end)
        pose = m.at([inside, outside, 0.0])
        assert pose.valid.tolist() == [True, False, True]
        assert pose.point("wheel_centre")[0, 2] - points.wheel_centre[2] == pytest.approx(inside, abs=1e-9)
        assert np.isnan(pose.rocker_rad[1])


@pytest.mark.parametrize("seed", [305, 310, 376, 1184, 1269, 1315])
def test_the_first_of_two_stops_in_one_step_is_the_end(seed):
    """Corners in which a second stop follows the first within 0.02 rad of the lower arm, or the wheel turns
    back just before one: the end is a number, a dense march of poses up to it stands whole, and nothing
    stands
    beyond it."""
    m = Mechanism(random_corner(seed))
    low, high = ends(m, 60, 60, 400, 200).closes_mm
    assert np.isfinite([low, high]).all()
    assert m.at(np.linspace(low + 1e-6, high - 1e-6, 401)).valid.all()
    assert not m.at([low - 1e-5, high + 1e-5]).valid.any()


def test_a_change_point_is_a_toggle():
    """Rocker and lower arm as a parallelogram: arm and rod come into one line together, where the loop may go
    on either way. By hand: the arm's 0.4 rad of turn lift the wheel by 300 sin 0.4."""
    hinge, arm = np.array([400.0, 100.0]), np.array([80.0, 0.0])
    pivot = hinge + 150 * np.array([np.cos(0.4), np.sin(0.4)])
    at = lambda p: (0, *p)  # noqa: E731
    points = planar(
        pivot=at(pivot),
        rod_outboard=at(hinge + arm),
        rod_inboard=at(pivot + arm),
        damper_eye=at(pivot + np.array([0, 50])),
        damper_chassis=at(pivot + np.array([-200, 60])),
    )
    m = Mechanism(points)
    found = ends(m, 40, 150, 400, 100)
    assert found.stops[1] == "rocker"
    assert found.closes_mm[1] == pytest.approx(300 * np.sin(0.4), abs=1e-4)
    assert found.toggle_mm[1] == found.closes_mm[1] and found.margin_deg == 0.0
    beyond = m.at([100.0, 300 * np.sin(0.4) + 0.01, 130.0])
    assert beyond.valid.tolist() == [True, False, False]


def test_tie_rod_that_stops_closing_is_named():
    """A short tie rod above level arms: it closes until it is in one line with the steering arm, found here
    by brentq."""
    points = planar(tie_inner=(120, 640, 260), tie_outer=(120, 700, 200))
    m = Mechanism(points)
    found = reach(m.chain, m.rises[:, None])
    assert "tie rod" in [STOPS[i] for i in found.stop[0]]
    side = [STOPS[i] for i in found.stop[0]].index("tie rod")

    def spare(
        z,
    ):  # farthest the tie rod may be asked to reach: joint on the circle of 120 mm about the vertical kingpin
        y = 400 + np.sqrt(300**2 - z**2)
        flat = np.hypot(120, y - 640)  # from the kingpin to the inner end, seen from above
        return np.array([(flat + 120) ** 2, (flat - 120) ** 2]) + (200 + z - 260) ** 2 - (60**2 + 60**2)

    z = found.wheel_mm[0, side]
    assert min(abs(spare(z))) < 1e-6


def test_margin_to_toggle_between_samples():
    """The least margin is no larger than at any of 20001 poses, and is met within rounding of the densest."""
    for points in (PUSH, PULL):
        m = Mechanism(points)
        margin, where = toggle_margin(m, -50, 55)
        angle = m.at(np.linspace(-50, 55, 20001)).rod_to_arm_deg
        assert margin <= np.minimum(angle, 180 - angle).min() + 1e-12
        angle = float(m.at(where).rod_to_arm_deg)
        assert min(angle, 180 - angle) == pytest.approx(margin, abs=1e-12)


def test_damper_travel():
    """The travel at which the damper has a given length, against brentq on the damper curve."""
    m = Mechanism(PULL)
    found = ends(m, 40, 55, 230.0, 190.0)
    for length, z in ((230.0, found.damper_longest_mm[0]), (190.0, found.damper_shortest_mm[1])):
        assert z == pytest.approx(
            brentq(lambda z, length=length: float(m.at(z).damper_mm) - length, -60, 60, xtol=1e-13), abs=1e-10
        )
    assert found.damper_longest_mm[1] is None


def test_a_pose_out_of_reach_spoils_no_other():
    m = Mechanism(PULL)
    alone, among = m.at([10.0]), m.at([10.0, 500.0, -400.0])
    assert among.valid.tolist() == [True, False, False]
    assert among.rocker_rad[0] == pytest.approx(alone.rocker_rad[0], rel=1e-13)
    assert np.isnan(among.point("contact")[1:]).all()


def test_nothing_is_trusted_beyond_a_gap():
    """A rod 0.1 mm too short at the farthest point of its path: the rocker closes on both sides of a gap,
    counted on one only.

    Distance from pivot to the rod's outboard end is 60 + 200 mm at most, where hinge and pivot are in line
    with it."""
    hinge, way = np.array([400, 100.0]), np.array([np.cos(0.075), np.sin(0.075)])
    pivot, arm, rod = hinge - 60 * way, 70.0, 260 - 70 - 0.1
    outboard = hinge + np.array([200, 0])
    far = np.linalg.norm(outboard - pivot)
    turned = np.arctan2(*(outboard - pivot)[::-1]) + np.arccos((arm**2 + far**2 - rod**2) / (2 * arm * far))
    at = lambda p: (0, *p)  # noqa: E731
    m = Mechanism(
        planar(
            pivot=at(pivot),
            rod_outboard=at(outboard),
            damper_eye=at(pivot + np.array([0, 50])),
            damper_chassis=at(pivot + np.array([-200, 60])),
            rod_inboard=at(pivot + arm * np.array([np.cos(turned), np.sin(turned)])),
        )
    )
    for z in (45.0, 60.0, 80.0):  # beyond the gap, each asked alone
        assert not m.at(z).valid
    assert m.at([-5.0, 0.0]).valid.all()


def test_jets_are_taylor_series():
    """Products, quotients and roots of series against closed forms: sqrt(1 + x)·1/(2 - x) at x = 0.3."""
    x = Jet([np.array(0.3), np.array(1.0), np.array(0.0)])
    f = (x + 1).sqrt() / (2 - x)
    g = lambda x: np.sqrt(1 + x) / (2 - x)  # noqa: E731
    h = 1e-3
    assert float(f.c[0]) == pytest.approx(g(0.3), rel=1e-15)
    assert float(f.c[1]) == pytest.approx(
        (g(0.3 - 2 * h) - 8 * g(0.3 - h) + 8 * g(0.3 + h) - g(0.3 + 2 * h)) / 12 / h, rel=1e-10
    )
    assert float(2 * f.c[2]) == pytest.approx((g(0.3 - h) - 2 * g(0.3) + g(0.3 + h)) / h**2, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"rod_on": "frame"}, "rod_on"),
        ({"side": "port"}, "side"),
        ({"pivot": (0, 1)}, "pivot"),
        ({"contact": (0, np.nan, 0)}, "contact"),
        ({"tie_outer": PULL.upper_outer}, "one line"),
    ],
)
def test_hard_points_that_make_no_corner(change, word):
    with pytest.raises(ValueError, match=word):
        Mechanism(PULL.changed(**change))


@pytest.mark.parametrize("top", [150.0, 30.0])
def test_a_toggle_margin_between_two_samples_is_met(top):
    """Rod and arm nearest to one line half a millimetre off every sample, from either side of a right angle:
    the parabola's own vertex, 30 deg at 0.5 mm."""
    sense = -1.0 if top > 90 else 1.0

    def at(z, _):
        off = np.asarray(z) - 0.5
        return SimpleNamespace(
            rod_to_arm_deg=top + sense * 0.9 * off**2, rod_to_arm_deg_per_mm=sense * 1.8 * off
        )

    assert toggle_margin(SimpleNamespace(at=at), -5.0, 5.0) == pytest.approx((30.0, 0.5), abs=1e-9)
