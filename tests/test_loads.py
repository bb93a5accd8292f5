"""Forces in the corner against an independent equilibrium, virtual work and each body's balance."""

import numpy as np
import pytest
from corners import PULL, PUSH, random_corner

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Preload, Spring
from assemblies.strength.loads import LoadCase, loads

# check rows N7 and N8: 8 x 8 equilibrium in numpy, rocker torque by virtual work on independent kinematics


def test_pull_rod_corner():
    cases = [
        LoadCase("up", (0, 0, 3000)),
        LoadCase("corner", (0, -2500, 3500)),
        LoadCase("brake", (-3200, 0, 3600)),
    ]
    f = loads(Mechanism(PULL).at(0.0), cases)
    assert f.rod_n == pytest.approx([5529.5973, 6105.8084, 6568.8134], rel=1e-7)
    assert f.tie_rod_n == pytest.approx([-375.99789, 428.86362, 1255.4205], rel=1e-7)
    assert f.rocker_torque_nm == pytest.approx([359.38176, 396.8311, 426.92291], rel=1e-7)
    assert f.upper_joint_n[0] == pytest.approx([196.77397, 1484.5236, -3019.361], rel=1e-6)
    assert f.lower_joint_n[0] == pytest.approx([-202.95309, -1860.4199, 25.540101], rel=1e-6)
    assert f.upper_joint_n[2] == pytest.approx([-1942.2812, 2016.8943, -3757.414], rel=1e-6)
    assert f.lower_joint_n[2] == pytest.approx([5162.9127, -761.81288, 136.78256], rel=1e-6)


def test_push_rod_corner():
    f = loads(Mechanism(PUSH).at(0.0), [LoadCase("up", (0, 0, 3000)), LoadCase("both", (-2000, -2000, 4000))])
    assert f.rod_n == pytest.approx([-4712.5622, -6126.2575], rel=1e-7)
    assert f.tie_rod_n == pytest.approx([-274.2776, 1090.554], rel=1e-6)
    assert f.rocker_torque_nm == pytest.approx([326.45115, 424.38141], rel=1e-7)
    assert f.upper_joint_n == pytest.approx(
        np.array([[-86.063997, 875.49641, 41.310191], [-1501.479, -72.882466, -85.693425]]), rel=1e-6
    )
    assert f.lower_joint_n == pytest.approx(
        np.array([[81.532202, -1149.67, -3035.2678], [3519.4978, 3163.0229, -3938.3317]]), rel=1e-6
    )


@pytest.mark.parametrize(("at", "moment_nm"), [("contact", -880.0), ("wheel_centre", 0.0)])
def test_outboard_and_inboard_brakes(at, moment_nm):
    """N9: 3200 N at a loaded radius of 275 put 880 N·m on the upright with outboard brakes, none with inboard
    ones.

    The moment is what the joints take about the wheel centre, less sign."""
    points = PULL.changed(wheel_centre=(0, 618, 240), contact=(0, 618, -35))
    pose = Mechanism(points).at(0.0)
    f = loads(pose, [LoadCase("brake", (3200, 0, 0), at)])
    centre = points.wheel_centre
    tie = (
        f.tie_rod_n[0]
        * (points.tie_inner - points.tie_outer)
        / np.linalg.norm(points.tie_inner - points.tie_outer)
    )
    taken = (
        np.cross(points.upper_outer - centre, f.upper_joint_n[0])
        + np.cross(points.lower_outer - centre, f.lower_joint_n[0])
        + np.cross(points.tie_outer - centre, tie)
    )
    assert -taken[1] / 1000 == pytest.approx(moment_nm, abs=1e-9)


# properties on random corners

CASES = [
    LoadCase("up", (0, 0, 3000)),
    LoadCase("brake", (-3200, 0, 3600)),
    LoadCase("corner", (0, -2500, 3500)),
    LoadCase("drive", (1500, 300, 1200), "wheel_centre"),
]


@pytest.mark.parametrize("seed", range(12))
def test_virtual_work_and_balance(seed):
    """The load's work over a small travel is the rod's on the rocker; every body balances; residual is
    rounding."""
    m = Mechanism(random_corner(seed))
    poses = m.at([-20.0, 0.0, 25.0], 6.0)
    poses = m.at(np.array([-20.0, 0.0, 25.0])[poses.valid], 6.0)
    f = loads(poses, CASES)
    assert f.residual.max() < 1e-12
    for k, case in enumerate(CASES):
        work = poses.velocity(case.at) @ np.array(case.force_n, float)
        assert work == pytest.approx(1000 * f.rocker_torque_nm[:, k] * poses.dtheta_dz, rel=1e-9, abs=1e-6)
    p = {
        n: poses.point(n)[:, None, :]
        for n in (
            "upper_outer",
            "lower_outer",
            "tie_outer",
            "tie_inner",
            "rod_outboard",
            "rod_inboard",
            "contact",
            "wheel_centre",
            "upper_front",
            "upper_rear",
            "lower_front",
            "lower_rear",
        )
    }
    unit = lambda v: v / np.linalg.norm(v, axis=-1, keepdims=True)  # noqa: E731
    tie = f.tie_rod_n[..., None] * unit(p["tie_inner"] - p["tie_outer"])
    rod = f.rod_n[..., None] * unit(p["rod_inboard"] - p["rod_outboard"])
    on = m.points.rod_on
    for k, case in enumerate(CASES):
        pushes = [
            (p["upper_outer"], f.upper_joint_n),
            (p["lower_outer"], f.lower_joint_n),
            (p["tie_outer"], tie),
        ]
        pushes += [(p["rod_outboard"], rod)] if on == "upright" else []
        force = sum(x[:, k] for _, x in pushes) + case.force_n
        moment = sum(np.cross(at[:, 0], x[:, k]) for at, x in pushes) + np.cross(
            p[case.at][:, 0], np.array(case.force_n, float)
        )
        assert abs(force).max() < 1e-7
        assert abs(moment).max() < 1e-3  # N·mm, of some 1e6
    for arm in ("upper_arm", "lower_arm"):
        a, side = f.arm(arm), arm[:5]
        carried = rod if on == arm else np.zeros_like(rod)
        assert abs(a.outer_n + a.front_n + a.rear_n + carried).max() < 1e-7
        moment = (
            np.cross(p[f"{side}_outer"], a.outer_n)
            + np.cross(p[f"{side}_front"], a.front_n)
            + np.cross(p[f"{side}_rear"], a.rear_n)
            + np.cross(p["rod_outboard"], carried)
        )
        assert abs(moment).max() < 1e-3


def test_force_balance_gives_the_springs_wheel_force():
    """Wheel rate from virtual work against the force balance: a load equal to the wheel force gives the
    spring's torque back."""
    for points in (PULL, PUSH):
        m = Mechanism(points)
        poses = m.at(np.linspace(-40, 40, 9))
        c = Preload.for_weight(Spring("solid-bar", 350.0), m, 2400.0).curves(poses)
        f = loads(poses, [LoadCase("one", (0, 0, 1.0), "wheel_centre")])
        assert c.wheel_force_n * f.rod_n[:, 0] == pytest.approx(c.rod_force_n, rel=1e-10)
        coil = Preload.for_weight(Spring("coil-over", 45.0), m, 2400.0).curves(poses)
        assert coil.wheel_force_n * f.rod_n[:, 0] == pytest.approx(coil.rod_force_n, rel=1e-10)


def test_variations_and_poses_in_one_call():
    rng = np.random.default_rng(3)
    points = PUSH.moved(upper_outer=rng.normal(0, 1, (4, 3)), rod_outboard=rng.normal(0, 1, (4, 3)))
    f = loads(Mechanism(points).at(np.linspace(-30, 30, 5)), CASES)
    assert f.rod_n.shape == (4, 5, 4)
    for v in range(4):
        one = points.changed(upper_outer=points.upper_outer[v], rod_outboard=points.rod_outboard[v])
        g = loads(Mechanism(one).at(np.linspace(-30, 30, 5)), CASES)
        assert f.rod_n[v] == pytest.approx(g.rod_n, rel=1e-11)
        assert f.arm("lower_arm").rear_n[v] == pytest.approx(g.arm("lower_arm").rear_n, rel=1e-10, abs=1e-7)


def test_a_pose_that_does_not_stand_carries_nothing_known():
    f = loads(Mechanism(PULL).at([0.0, 500.0]), CASES)
    assert np.isfinite(f.rod_n[0]).all()
    assert np.isnan(f.rod_n[1]).all()


@pytest.mark.parametrize("bad", [dict(at="hub"), dict(force_n=(0, np.nan, 1))])
def test_bad_case(bad):
    with pytest.raises(ValueError, match="load case"):
        LoadCase(**{"name": "x", "force_n": (0, 0, 1), **bad})
