"""Forces of the whole corner against an independent solver, their balance, virtual work, and the reactions on
the frame."""

from pathlib import Path

import demos
import numpy as np
import pytest
from corners import random_corner

from assemblies.motion.mechanism import Mechanism
from assemblies.strength.forces import corner_forces, rocker_forces
from assemblies.strength.load_cases import LoadCase, load_cases
from assemblies.strength.loads import loads
from assemblies.study import design_forces

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")
CASES = [
    LoadCase("up", (0, 0, 3000)),
    LoadCase("brake", (-3200, 0, 3600)),
    LoadCase("corner", (0, -2500, 3500)),
    LoadCase("hub", (1500, 300, 1200), "wheel_centre"),
    LoadCase("scrub", (0, 0, 1500), moment_nm=(0, 0, 40)),
]


@pytest.fixture(scope="module", params=DEMOS)
def corner(request):
    s = demos.corner(request.param)
    return s, corner_forces(s.job, s.mechanism, s.springing, load_cases(s.job))


@pytest.mark.parametrize("seed", range(30))
def test_residual_is_rounding(seed):
    poses = Mechanism(random_corner(seed)).at(np.linspace(-20, 25, 7), np.array([[-8.0], [0.0], [8.0]]))
    f = loads(poses, CASES)
    assert np.nanmax(f.residual) < 1e-9


def _lever(p):
    """Matrix of p × ..."""
    x, y, z = p
    return np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])


def _whole_corner(p, on, case, spring_nm, axis):
    """All bodies at once: upright, both arms, rocker. Unknown: joint forces at both outer joints, all four
    arm pivots (3 each), tie rod, rod, damper, pivot force (3) and its two moments. Least-norm solution by
    singular values; what statics fixes comes out unique."""
    unit = lambda v: v / np.linalg.norm(v)  # noqa: E731
    tie, rod, damper = (
        unit(p["tie_inner"] - p["tie_outer"]),
        unit(p["rod_inboard"] - p["rod_outboard"]),
        unit(p["damper_chassis"] - p["damper_eye"]),
    )
    axis = unit(axis)
    square = np.linalg.svd(axis[None])[2][1:]
    names = ["upper", "lower", "uf", "ur", "lf", "lr", "pivot", "moment", "tie", "rod", "damper"]
    widths = [3, 3, 3, 3, 3, 3, 3, 2, 1, 1, 1]
    at = dict(zip(names, np.cumsum([0, *widths[:-1]]), strict=True))
    a, b = np.zeros((24, sum(widths))), np.zeros(24)
    bodies = {"upright": 0, "upper_arm": 6, "lower_arm": 12, "rocker": 18}

    def push(body, point, name, directions, sign=1.0):
        row, d = bodies[body], sign * np.asarray(directions, float).reshape(-1, 3).T
        a[row : row + 3, at[name] : at[name] + d.shape[1]] += d
        a[row + 3 : row + 6, at[name] : at[name] + d.shape[1]] += _lever(point) @ d

    for which in ("upper", "lower"):
        push("upright", p[f"{which}_outer"], which, np.eye(3))
        push(f"{which}_arm", p[f"{which}_outer"], which, np.eye(3), -1)
        push(f"{which}_arm", p[f"{which}_front"], f"{which[0]}f", np.eye(3))
        push(f"{which}_arm", p[f"{which}_rear"], f"{which[0]}r", np.eye(3))
    push("upright", p["tie_outer"], "tie", tie)
    push(on, p["rod_outboard"], "rod", rod)
    push("rocker", p["rod_inboard"], "rod", rod, -1)
    push("rocker", p["damper_eye"], "damper", damper)
    push("rocker", p["pivot"], "pivot", np.eye(3))
    a[21:24, at["moment"] : at["moment"] + 2] += square.T
    b[0:3] -= case.force_n
    b[3:6] -= np.cross(p[case.at], case.force_n) + 1e3 * np.array(case.moment_nm)
    b[21:24] -= 1e3 * spring_nm * axis
    from scipy.linalg import lstsq

    scale = np.tile([1, 1, 1, 1e-2, 1e-2, 1e-2], 4)
    x = lstsq(a * scale[:, None], b * scale, lapack_driver="gelsd")[0]
    assert abs((a @ x - b) * scale).max() < 1e-6
    return {n: x[i : i + w] for (n, i), w in zip(at.items(), widths, strict=True)}


def test_against_an_independent_solver_of_all_bodies(corner):
    """scipy's least squares on the balance of four bodies with 24 equations, at poses of every load case."""
    s, f = corner
    rng = np.random.default_rng(3)
    where = [int(rng.choice(f.entries_of(i))) for i in range(len(f.cases)) for _ in range(2)]
    for k in where:
        poses = s.mechanism.at([f.wheel_mm[k]], [f.rack_mm[k]])
        p = {
            n: poses.point(n)[0]
            for n in (
                "upper_outer",
                "lower_outer",
                "tie_outer",
                "tie_inner",
                "rod_outboard",
                "rod_inboard",
                "damper_eye",
                "damper_chassis",
                "pivot",
                "upper_front",
                "upper_rear",
                "lower_front",
                "lower_rear",
                "contact",
                "wheel_centre",
            )
        }
        x = _whole_corner(p, s.job.rod.on, f.cases[f.case[k]], f.spring_nm[k], np.array(s.job.rocker.axis))
        for name, mine in (
            ("upper", f.upper_joint_n[k]),
            ("lower", f.lower_joint_n[k]),
            ("tie", f.tie_rod_n[k]),
            ("rod", f.rod_n[k]),
            ("damper", f.damper_n[k]),
            ("pivot", f.pivot_n[k]),
        ):
            assert mine == pytest.approx(x[name] if len(x[name]) > 1 else x[name][0], rel=1e-6, abs=1e-3), (
                name,
                f.name(k),
            )
        for arm in (
            "upper",
            "lower",
        ):  # square to the hinge each pivot's force is fixed; along it only their sum
            h = p[f"{arm}_rear"] - p[f"{arm}_front"]
            h = h / np.linalg.norm(h)
            mine = f.arm(f"{arm}_arm")
            for end, own in (("f", mine.front_n[k]), ("r", mine.rear_n[k])):
                other = x[f"{arm[0]}{end}"]
                assert own - (own @ h) * h == pytest.approx(other - (other @ h) * h, rel=1e-6, abs=1e-3)
            assert (mine.front_n[k] + mine.rear_n[k]) @ h == pytest.approx(
                (x[f"{arm[0]}f"] + x[f"{arm[0]}r"]) @ h, rel=1e-6, abs=1e-3
            )


def test_balance_is_told_and_small(corner):
    s, f = corner
    assert f.residual < 1e-9
    assert f.virtual_work < 1e-9
    told = s.results.strength
    assert told.residual < 1e-9
    assert told.virtual_work < 1e-9


def test_an_arm_without_a_rod_is_a_truss(corner):
    """Its pivots push along its tubes only."""
    s, f = corner
    for which in {"upper_arm", "lower_arm"} - {s.job.rod.on}:
        side, a = which.removesuffix("_arm"), f.arm(which)
        for end, force in (("front", a.front_n), ("rear", a.rear_n)):
            tube = f.points[f"{side}_outer"] - f.points[f"{side}_{end}"]
            assert np.linalg.norm(np.cross(force, tube), axis=1) == pytest.approx(
                0, abs=1e-5 * np.linalg.norm(force, axis=1).max() * np.linalg.norm(tube[0])
            )


def test_the_frame_holds_the_whole_corner(corner):
    """What is published: the reactions of the static case, one pose, sum to the load on the wheel, forces and
    moments about the origin (statics)."""
    s, f = corner
    rows = [r for r in s.results.strength.frame if r.case == "static"]
    assert {r.name for r in rows} >= {
        "upper arm front bracket",
        "lower arm rear bracket",
        "damper bracket",
        "rocker pivot",
        "tie rod, inner end",
    }
    k = next(k for k in range(len(f.case)) if f.name(k) == "static")
    applied = np.array(f.cases[f.case[k]].force_n)
    assert sum(np.array(r.force_n) for r in rows) == pytest.approx(applied, abs=1e-6)
    about = sum(np.cross(r.point_mm, r.force_n) + 1e3 * np.array(r.moment_nm) for r in rows)
    at = f.points["wheel_centre"][k] if f.cases[f.case[k]].at == "wheel_centre" else s.job.wheel.contact
    assert about == pytest.approx(np.cross(at, applied), abs=1.0)  # N·mm, of some 1e5


def test_design_forces_are_the_largest_of_the_case_they_name(corner):
    """`loads.vertical_g` at the contact patch over all of the travel, by the 8 x 8 equilibrium: rod force,
    and what the spring's torque leaves to the damper; the study finds both by virtual work."""
    s, _ = corner
    weight = s.job.loads.vertical_g * s.job.corner.corner_mass * 9.80665
    g = corner_forces(s.job, s.mechanism, s.springing, [LoadCase("up", (0, 0, weight), "contact")])
    wished = design_forces(s.job, s.springing)
    assert wished.rod_n == pytest.approx(np.abs(g.rod_n).max(), rel=1e-3)
    assert wished.damper_n == pytest.approx(np.abs(g.damper_n).max(), rel=1e-3)


def test_rocker_turns_under_no_torque_left_over(corner):
    s, f = corner
    r = rocker_forces(f, s.layout.eyes)
    about = np.cross(r.rod_eye, r.rod_n)[:, 2] + np.cross(r.damper_eye, r.damper_n)[:, 2] + 1e3 * r.spring_nm
    assert about == pytest.approx(0, abs=1e-5)
    assert np.linalg.norm(r.pivot_n, axis=1) == pytest.approx(np.linalg.norm(f.pivot_n, axis=1))


def test_each_case_keeps_to_its_travel_and_lock(corner):
    s, f = corner
    for i, c in enumerate(f.cases):
        k = f.entries_of(i)
        assert len(k)
        if c.travel_mm:
            assert f.wheel_mm[k].min() >= c.travel_mm[0] - 1e-6
            assert f.wheel_mm[k].max() <= c.travel_mm[1] + 1e-6
        else:
            assert (f.wheel_mm[k].min(), f.wheel_mm[k].max()) == pytest.approx(
                (-s.job.corner.droop, s.job.corner.bump)
            )
        assert set(np.abs(f.rack_mm[k])) == ({s.job.tie_rod.rack_travel} if c.full_lock else {0.0})


def test_a_slow_load_is_the_springs_alone():
    """`spring_takes_all`: the damper carries nothing; by virtual work the torque is F·dz/dθ."""
    s = demos.corner("heronbank-front")
    f = corner_forces(
        s.job,
        s.mechanism,
        s.springing,
        [LoadCase("one", (0, 0, 1000.0), "wheel_centre", travel_mm=(0, 0))],
        spring_takes_all=True,
    )
    assert f.damper_n == pytest.approx(0, abs=1e-9)
    assert abs(f.spring_nm[0]) == pytest.approx(1 / abs(float(s.mechanism.at(0.0).dtheta_dz)), rel=1e-9)
