"""Tolerances against closed forms of stacks, exact quantiles of a bent response, one exact corner at a time,
and the linear estimate."""

import math
import time
from functools import cache
from pathlib import Path

import demos
import numpy as np
import pytest
from corners import PULL, PUSH

from assemblies.job import load
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.motion.springing import springing
from assemblies.tolerances.bands import (
    Dimension,
    Errors,
    dimensions,
    lines,
    monte_carlo,
    outputs,
    sensitivities,
    stack,
)
from assemblies.tolerances.variations import rocker_turned, turned, vary
from parts.base.units import G_M_S2
from tests.settled import settle_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
NONE = dict(
    point_mm=0,
    pivot_mm=0,
    eye_mm=0,
    axis_deg=0,
    rod_mm=0,
    hole_play_mm=0,
    weld_pull_mm=0,
    thickness_mm=0,
    length_mm=0,
    modulus_percent=0,
    mass_kg=0,
)
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")


@cache
def corner(name):
    job = load(JOBS / f"{name}.toml")
    return job, springing(job, Mechanism(HardPoints.of(job)))


# ------------------------------------------------------------------------------------------------ stacks


def test_root_sum_square():
    """V6, closed form: four at ±0.2 and one at ±0.5."""
    sizes = [0.2, 0.2, 0.2, 0.2, 0.5]
    total, share = stack([1, -1, 1, -1, 1], sizes)
    assert (
        total == pytest.approx(0.64031242, rel=1e-7)
        and share.sum() == pytest.approx(1)
        and share[-1] == pytest.approx(0.25 / 0.41)
    )


def test_sum_of_three_uniform_errors():
    """V7, closed form: σ = 0.1 (half width a has a/√3), P(|sum| > 0.2) = 1/24; a sample within 4 of its own
    sampling errors."""
    d = Dimension("x", "mm", 0.1, "uniform")
    assert stack([1, 1, 1], [d.sigma] * 3)[0] == pytest.approx(0.1, rel=1e-12)
    rng, n = np.random.default_rng(7), 200_000
    total = sum(d.draw(rng, n) for _ in range(3))
    p = 1 / 24
    assert abs((np.abs(total) > 0.2).mean() - p) < 4 * math.sqrt(p * (1 - p) / n)
    assert total.std() == pytest.approx(0.1, abs=4 * 0.1 / math.sqrt(2 * n)) and np.abs(total).max() < 0.3


@pytest.mark.parametrize("spread", ["normal", "uniform", "inward"])
def test_a_dimension_draws_what_it_says(spread):
    d, n = Dimension("x", "mm", 0.8, spread), 100_000
    x = d.draw(np.random.default_rng(1), n)
    assert x.mean() == pytest.approx(d.mean, abs=4 * d.sigma / math.sqrt(n))
    assert x.std() == pytest.approx(d.sigma, rel=4 / math.sqrt(n))
    if spread == "normal":
        assert (np.abs(x) <= 0.8).mean() == pytest.approx(0.9545, abs=0.003)  # ± is two standard deviations
    else:
        assert x.max() <= 0.8 and x.min() >= (-0.8 if spread == "uniform" else 0)


# ------------------------------------------------------------ one built corner


@pytest.mark.parametrize("points", [PUSH, PULL], ids=["push", "pull"])
def test_the_rocker_takes_up_a_rods_length(points):
    """Turned so, eye and outboard end are just the rod's length apart, eyes stay on their circles; no change
    for the rod's own length."""
    rod = np.linalg.norm(points.rod_outboard - points.rod_inboard)
    angle = rocker_turned(points, rod + np.array([-4.0, 0.0, 3.0]))
    for a, extra in zip(angle, (-4.0, 0.0, 3.0), strict=True):
        p = turned(points, np.asarray(a))
        assert np.linalg.norm(p.rod_outboard - p.rod_inboard) == pytest.approx(rod + extra, abs=1e-9)
        for eye in ("rod_inboard", "damper_eye"):
            rel, old = getattr(p, eye) - p.pivot, getattr(points, eye) - points.pivot
            assert rel @ p.axis == pytest.approx(old @ p.axis, abs=1e-9) and np.linalg.norm(
                rel
            ) == pytest.approx(np.linalg.norm(old))
    assert angle[1] == pytest.approx(0, abs=1e-12)
    assert np.isnan(rocker_turned(points, 5000.0))


@pytest.mark.parametrize("name", DEMOS)
def test_curves_through_nodes_are_the_exact_ones(name):
    """Chebyshev curves against exact poses between the nodes; settled height against a root find on the exact
    corner."""
    job, s = corner(name)
    v = vary(s, s.mechanism.points, clock=np.array([0.0, 0.02]) * (100 if s.spring.linear else 1))
    z = np.linspace(-job.corner.droop, job.corner.bump, 37)
    exact = s.preload.curves(s.mechanism.at(z))
    force, rate = v.forces(z)
    assert force[0] == pytest.approx(exact.wheel_force_n, rel=1e-5)
    assert rate[0] == pytest.approx(exact.wheel_rate_n_per_mm, rel=2e-4)
    assert v.at(v.damper_mm, z)[0] == pytest.approx(s.mechanism.at(z).damper_mm, abs=1e-5)
    weight = s.sprung_mass_kg * G_M_S2
    found = v.settle()
    assert found[0] == pytest.approx(0, abs=1e-4)
    assert found[1] == pytest.approx(
        settle_mm(s.preload, s.mechanism, weight, 2.0 if s.spring.linear else 0.02), abs=1e-4
    )
    assert v.wind_to_ride() == pytest.approx([0, -2.0 if s.spring.linear else -0.02], abs=1e-6)


def test_a_build_with_a_moved_point_by_hand():
    """One corner whose pivot stands 1.5 mm off: its rocker goes with it, the rod keeps its length; settled by
    a root find of its own."""
    job, s = corner("heronbank-front")
    dims = dimensions(job, Errors())
    values = np.zeros((1, len(dims)))
    values[0, [d.name for d in dims].index("pivot.y")] = 1.5
    out = outputs(job, s, dims, values)
    p = s.mechanism.points
    moved = p.moved(pivot=(0, 1.5, 0), rod_inboard=(0, 1.5, 0), damper_eye=(0, 1.5, 0))
    rod = np.linalg.norm(p.rod_outboard - p.rod_inboard)

    def miss(angle):  # the rocker's turn that brings eye and rod end to the rod's length
        q = turned(moved, np.asarray(angle))
        return np.linalg.norm(q.rod_outboard - q.rod_inboard) - rod

    a, b = -0.1, 0.1
    assert miss(a) * miss(b) < 0
    for _ in range(60):
        c = (a + b) / 2
        a, b = (c, b) if miss(a) * miss(c) > 0 else (a, c)
    m = Mechanism(turned(moved, np.asarray(a)))
    z = settle_mm(s.preload, m, s.sprung_mass_kg * G_M_S2, s.preload.sense * a)
    assert out["ride_height_mm"][0] == pytest.approx(-z, abs=1e-4)
    assert out["damper_bottom_margin_mm"][0] == pytest.approx(
        float(m.at(55.0).damper_mm) - job.damper.shortest, abs=1e-4
    )
    toe = m.at(np.linspace(-45, 55, 41)).toe_deg
    assert out["toe_change_deg"][0] == pytest.approx(np.ptp(toe), abs=1e-4)


# ------------------------------------------------------------------------------------------------ Monte Carlo


@pytest.mark.parametrize("name", DEMOS)
def test_small_errors_agree_with_the_linear_estimate(name):
    """Where everything is nearly linear (points to ±0.1 mm) both must tell the same spread: within the
    sample's own error, 4/√(2n)."""
    job, s = corner(name)
    t = monte_carlo(
        job,
        s,
        Errors(
            point_mm=0.1,
            pivot_mm=0.1,
            eye_mm=0.05,
            axis_deg=0.02,
            rod_mm=0.05,
            hole_play_mm=0.01,
            weld_pull_mm=0.05,
            thickness_mm=0.005,
            length_mm=0.1,
            modulus_percent=0.1,
            mass_kg=0.2,
        ),
        builds=4000,
    )
    for b in t.bands:
        if b.name != "toe_change_deg":  # largest less least is bent at zero
            assert b.sigma == pytest.approx(b.linear_sigma, rel=4 / math.sqrt(2 * 4000) + 0.01), b.name
            assert b.mean == pytest.approx(
                b.linear_mean, abs=4 * b.sigma / math.sqrt(4000) + 0.02 * b.sigma
            ), b.name
            assert b.high - b.low == pytest.approx(2 * 1.96 * b.sigma, rel=0.08)
        assert sum(share for *_, share in b.top) <= 1 + 1e-9 and b.failed == 0


def test_a_bent_response_has_its_exact_quantiles_and_not_the_linear_ones():
    """The wind that corrects a spring of other thickness alone is in closed form θ_ride·(K/K' - 1), K' by the
    series of a rectangle, and falls steadily: quantiles of the thickness go through it to quantiles of the
    wind. The linear estimate fails there and is said to."""
    job, s = corner("heronbank-front")
    a, n = 0.5, 6000
    t = monte_carlo(job, s, Errors(**NONE | dict(thickness_mm=a)), builds=n, seed=3)

    def wind(off):
        from parts.calc.torsion import pack_rate_nm_per_rad

        spec = job.spring
        rate = [
            float(
                pack_rate_nm_per_rad(
                    spec.leaf_width, spec.leaf_thickness + x, spec.length, spec.shear_modulus, spec.leaves
                )
            )
            for x in (0, off)
        ]
        return s.twist_deg["ride"] * (rate[0] / rate[1] - 1)

    b = t.band("wind_deg")
    err = 4 * math.sqrt(0.025 * 0.975 / n) * 2 * a  # of the quantile, in mm of thickness
    assert wind(0.95 * a + err) < b.low < wind(0.95 * a - err)
    assert wind(-0.95 * a + err) < b.high < wind(-0.95 * a - err)
    grid = np.array([wind(x) for x in np.linspace(-a, a, 401)])
    mean = np.trapezoid(grid, dx=1 / 400)
    sigma = math.sqrt(np.trapezoid((grid - mean) ** 2, dx=1 / 400))
    skew = np.trapezoid((grid - mean) ** 3, dx=1 / 400) / sigma**3
    sampling = 4 * sigma / math.sqrt(n)
    assert b.mean == pytest.approx(mean, abs=sampling) and b.skew == pytest.approx(skew, abs=0.15)
    assert abs(mean - b.linear_mean) > sampling and skew > 0.3 and not b.linear_holds
    assert (b.worst_low, b.worst_high) == (
        pytest.approx(wind(a), abs=1e-4),
        pytest.approx(wind(-a), abs=1e-4),
    )


def test_a_squared_response_is_seen_to_be_skewed():
    """Toe change at a corner without bump steer grows like the size of the error, both ways: nothing linear
    about it."""
    job, s = corner("tarnside-front")
    b = monte_carlo(job, s, builds=2000).band("toe_change_deg")
    assert not b.linear_holds and b.mean > b.nominal + b.sigma and b.skew > 0.3


def test_sensitivities_are_slopes():
    """By 1 mm of one point at a time, differenced here over ±0.5 mm; of the strip by K ~ t³ (closed form for
    a thin strip, 3/t within 10 %)."""
    job, s = corner("heronbank-front")
    dims = dimensions(job, Errors())
    names = [d.name for d in dims]
    nominal, slopes = sensitivities(job, s, dims)
    for name in ("rod_outboard.y", "upper_front.z"):
        i = names.index(name)
        step = np.zeros((2, len(dims)))
        step[:, i] = 0.5, -0.5
        out = outputs(job, s, dims, step)
        for k in ("ride_height_mm", "wheel_rate_n_per_mm", "damper_top_margin_mm"):
            assert slopes[k][i] == pytest.approx(out[k][0] - out[k][1], rel=0.02, abs=1e-4)
    t = slopes["droop_twist_deg"][names.index("strip thickness")]
    assert t == pytest.approx(0, abs=1e-9)  # twist does not know of the rate
    i = names.index("strip thickness")
    rate = slopes["wheel_rate_n_per_mm"][i] / nominal["wheel_rate_n_per_mm"]
    spring_share = float(s.curves.rate_spring_n_per_mm[45] / s.curves.wheel_rate_n_per_mm[45])
    assert rate == pytest.approx(3 / 4 * spring_share, rel=0.1)


def test_ten_thousand_builds_take_seconds_and_repeat():
    job, s = corner("heronbank-front")
    start = time.process_time()
    a = monte_carlo(job, s, builds=10_000, seed=5)
    assert time.process_time() - start < 20
    assert a.builds == 10_000 and all(len(b.top) == 5 for b in a.bands)
    b, c = monte_carlo(job, s, builds=500, seed=5), monte_carlo(job, s, builds=500, seed=5)
    assert b == c and monte_carlo(job, s, builds=500, seed=6) != b
    assert any("worst" in line for _, block in lines(a, worst=True) for line in block)


def test_errors_are_named_with_their_limit():
    job, s = corner("heronbank-front")
    with pytest.raises(ValueError, match="point_mm is -1"):
        Errors(point_mm=-1)
    with pytest.raises(ValueError, match="knuckle"):
        dimensions(job, Errors(points_mm={"knuckle": 1.0}))
    with pytest.raises(ValueError, match="builds is 1"):
        monte_carlo(job, s, builds=1)
    assert {
        d.size
        for d in dimensions(job, Errors(points_mm={"tie_inner": 0.3}))
        if d.name.startswith("tie_inner")
    } == {0.3}


def test_the_gap_follows_the_rigid_rocker():
    """Rocker over a rail: its nearest point carried rigidly (best fit of the three joints, scipy) from the
    nominal to the moved corner."""
    from types import SimpleNamespace as Spec

    from scipy.spatial.transform import Rotation

    from assemblies.tolerances.gap_tolerance import gap_band, gap_slopes

    done = demos.known(corner("heronbank-front")[0], interference=False)
    m, z, a = done.mechanism, -45.0, np.array([1725.8, 330.1, 109.4])
    pair = Spec(
        a="rocker",
        b="lower rail",
        gap_mm=5.3,
        required_mm=12.0,
        at_wheel_mm=z,
        at_rack_mm=0.0,
        point_a=list(a),
        point_b=list(a + np.array([0, -2.4, -4.9])),
    )
    dims = [
        Dimension("pivot.z", "mm", 0.4),
        Dimension("rod_outboard.y", "mm", 0.4),
        Dimension("wheel", "mm", 0.4),
    ]
    found = gap_slopes(done, pair, dims)
    p, names = m.points, ("pivot", "rod_inboard", "damper_eye")
    rod = np.linalg.norm(p.rod_outboard - p.rod_inboard)
    line = np.array([0, -2.4, -4.9]) / math.hypot(2.4, 4.9)

    def carried(**offsets):
        q = p.moved(**offsets)
        pose = Mechanism(turned(q, rocker_turned(q, rod))).at(z)
        here, there = (np.stack([x.point(n) for n in names]) for x in (m.at(z), pose))
        turn, _ = Rotation.align_vectors(there - there.mean(0), here - here.mean(0))
        return turn.apply(a - here.mean(0)) + there.mean(0)

    up = dict(pivot=(0, 0, 0.2), rod_inboard=(0, 0, 0.2), damper_eye=(0, 0, 0.2))
    for i, offsets in enumerate((up, dict(rod_outboard=(0, 0.2, 0)))):
        down = {k: tuple(-x for x in v) for k, v in offsets.items()}
        assert found[i] == pytest.approx(-(carried(**offsets) - carried(**down)) @ line / 0.4, rel=0.02)
    assert found[2] == 0

    checked = Spec(clearance=Spec(pairs=[pair]))
    told = gap_band(
        Spec(results=checked, layout=done.layout, springing=done.springing, mechanism=m),
        [*dims, Dimension("rod_inboard.x", "mm", 1e-4)],
        99,
    )
    assert {name for name, *_ in told.top} == {"pivot.z", "rod_outboard.y"}  # not what does not move it
