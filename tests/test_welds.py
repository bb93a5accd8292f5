"""Fillet welds and weld groups against the standard, a design handbook and numerical integration; the source
stands beside each check."""

import math

import numpy as np
import pytest

from parts.calc import welds
from parts.calc.welds import Arc, Straight, WeldGroup, circle_run, polygon_run, rectangle_run


def test_design_shear_strength():
    """Row B9: EN 1993-1-8:2005 4.5.3.3 and Table 4.1, abs 0.1 MPa."""
    steels = [(360, 0.80), (410, 0.85), (430, 0.85), (470, 0.90), (490, 0.90), (510, 0.90)]
    assert [welds.weld_strength_mpa(*s) for s in steels] == pytest.approx(
        [207.8461, 222.78928, 233.65705, 241.20411, 251.46812, 261.73212], abs=0.1
    )


def test_simplified_strength_per_mm():
    """Row B10: EN 1993-1-8:2005 4.5.3.3, rel 1e-4; a 3 mm leg is a 2.12 mm throat."""
    found = [welds.weld_resistance_n_per_mm(a, 360, 0.8) for a in (2, 3, 4, welds.throat_mm(3))]
    assert found == pytest.approx([415.69219, 623.53829, 831.38439, 440.90815], rel=1e-4)


def test_directional_method_across_the_run():
    """Row B11: EN 1993-1-8:2005 4.5.3.2, rel 1e-4."""
    stress = welds.transverse_stress_mpa(40_000, 3, 120)
    assert stress == pytest.approx(78.56742, rel=1e-4)
    d = welds.directional(stress, stress, 0, 360, 0.8)
    assert (d.equivalent_mpa, d.limit_mpa, d.use) == pytest.approx((157.13484, 360, 0.43648567), rel=1e-4)
    simplified = 40_000 / 120 / welds.weld_resistance_n_per_mm(3, 360, 0.8)
    assert simplified == pytest.approx(0.53458358, rel=1e-4)
    assert simplified / d.use == pytest.approx(1.2247449, rel=1e-4)


def test_directional_method_along_the_run_gains_nothing():
    """EN 1993-1-8:2005 4.5.3: on a longitudinal weld both methods agree (closed form); σ⊥ has its own limit
    0.9·fu/gamma_M2."""
    along = 40_000 / (3 * 120)
    assert welds.directional(0, 0, along, 360, 0.8).use == pytest.approx(
        along / welds.weld_strength_mpa(360, 0.8), rel=1e-12
    )
    assert welds.directional(-300, 0, 0, 360, 0.9).use == pytest.approx(300 / (0.9 * 360 / 1.25), rel=1e-12)


def test_rectangular_run_as_a_line():
    """Row B12: Shigley's Mechanical Engineering Design, weld-group tables, rel 1e-5."""
    g = rectangle_run(60, 40)
    assert g.j_mm3 == pytest.approx(166666.67, rel=1e-5)
    assert g.i_x_mm3 == pytest.approx(58666.667, rel=1e-5)
    assert g.length_mm == pytest.approx(200, rel=1e-12)
    worst = g.worst(3, moment_nmm=(0, 0, 600_000))
    assert math.hypot(*worst.at) == pytest.approx(36.055513, rel=1e-5)
    assert worst.resultant_mpa == pytest.approx(43.266615, rel=1e-5)


def test_circular_run_round_a_tube():
    """Row B13: closed form (line weld), rel 1e-5."""
    g = circle_run(42.4)
    assert g.worst(3, moment_nmm=(0, 0, 500_000)).resultant_mpa == pytest.approx(59.019722, rel=1e-5)
    for turn in (0.0, 0.7, 2.0):  # whichever way it bends
        bent = g.worst(3, moment_nmm=(300_000 * math.cos(turn), 300_000 * math.sin(turn), 0))
        assert bent.resultant_mpa == pytest.approx(70.823666, rel=1e-5)
    both = g.worst(3, moment_nmm=(300_000, 0, 500_000))
    assert both.resultant_mpa == pytest.approx(math.hypot(59.019722, 70.823666), rel=1e-5)


@pytest.mark.parametrize(
    "corners, closed, length, i_x, j, centroid_y",
    [
        # Shigley's Mechanical Engineering Design, weld-group tables, with b along x and d along y (b = 50, d
        # = 80):
        ([(0, 0), (0, 80)], False, 80, 80**3 / 12, 80**3 / 12, 40),  # one run: d³/12
        # angle, J_u = ((b + d)⁴ - 6·b²·d²)/(12·(b + d)), foot at the bottom: ȳ from the foot d²/(2(b + d))
        (
            [(50, 0), (0, 0), (0, 80)],
            False,
            130,
            None,
            (130**4 - 6 * 50**2 * 80**2) / (12 * 130),
            80**2 / (2 * 130),
        ),
        # channel of two b flanges and a web d: J_u = (8b³ + 6b·d² + d³)/12 - b⁴/(2b + d), I_u = d²/12·(6b +
        # d)
        (
            [(50, 0), (0, 0), (0, 80), (50, 80)],
            False,
            180,
            80**2 / 12 * (6 * 50 + 80),
            (8 * 50**3 + 6 * 50 * 80**2 + 80**3) / 12 - 50**4 / (2 * 50 + 80),
            40,
        ),
    ],
)
def test_groups_of_the_handbook(corners, closed, length, i_x, j, centroid_y):
    g = polygon_run(corners, closed)
    assert (g.length_mm, g.j_mm3, g.centroid[1]) == pytest.approx((length, j, centroid_y), rel=1e-12)
    if i_x is not None:
        assert g.i_x_mm3 == pytest.approx(i_x, rel=1e-12)


def sampled(runs, n=200_001):
    """Points and lengths of short pieces along the runs, by the midpoint rule: independent of the closed
    forms."""
    points, lengths = [], []
    for r in runs:
        s = (np.arange(n) + 0.5) / n
        if isinstance(r, Straight):
            a, b = np.array(r.start), np.array(r.end)
            points.append(a + s[:, None] * (b - a))
            lengths.append(np.full(n, np.hypot(*(b - a)) / n))
        else:
            angle = r.start_rad + s * r.sweep_rad
            points.append(np.array(r.centre) + r.radius_mm * np.column_stack((np.cos(angle), np.sin(angle))))
            lengths.append(np.full(n, r.radius_mm * r.sweep_rad / n))
    return np.concatenate(points), np.concatenate(lengths)


def odd_group():
    return WeldGroup(
        (
            Straight((12, -7), (61, 20)),
            Arc((15, 40), 22, 0.4, 2.1),
            Straight((-30, 5), (-30, -25)),
            Arc((-5, -20), 9, 5.1, 3.3),
        )
    )


def test_properties_of_any_group_agree_with_numerical_integration():
    """Midpoint rule over a lop-sided set of runs and arcs."""
    g = odd_group()
    p, w = sampled(g.runs)
    middle = (p * w[:, None]).sum(axis=0) / w.sum()
    d = p - middle
    assert g.centroid == pytest.approx(tuple(middle), rel=1e-8)
    assert g.length_mm == pytest.approx(w.sum(), rel=1e-8)
    assert (g.i_x_mm3, g.i_y_mm3, g.i_xy_mm3) == pytest.approx(
        ((d[:, 1] ** 2 * w).sum(), (d[:, 0] ** 2 * w).sum(), (d[:, 0] * d[:, 1] * w).sum()), rel=1e-8
    )


@pytest.mark.parametrize("seed", range(12))
def test_worst_point_balances_the_load_and_is_the_worst(seed):
    """Statics: the linear stress field that gives the worst point is in equilibrium with the load over the
    whole group (integrated numerically), and no sampled point is worse."""
    rng = np.random.default_rng(seed)
    force, moment = rng.uniform(-5000, 5000, 3), rng.uniform(-2e5, 2e5, 3)
    g, a = odd_group(), 3.0
    p, w = sampled(g.runs, 20_001)
    d = p - np.array(g.centroid)
    # field by least squares from its own definition: equilibrium of six resultants with fields linear in
    # position
    length, j = w.sum(), (d**2 * w[:, None]).sum()
    inertia = np.einsum("ni,nj,n->ij", d, d, w)
    slope = np.linalg.solve(inertia, [-moment[1], moment[0]])
    field = (
        np.column_stack(
            (
                force[0] / length - moment[2] / j * d[:, 1],
                force[1] / length + moment[2] / j * d[:, 0],
                force[2] / length + d @ slope,
            )
        )
        / a
    )
    assert (field * (a * w)[:, None]).sum(axis=0) == pytest.approx(force, rel=1e-6)
    arms = np.column_stack((d, np.zeros(len(d))))
    assert (np.cross(arms, field) * (a * w)[:, None]).sum(axis=0) == pytest.approx(moment, rel=1e-6)
    sizes = np.sqrt((field**2).sum(axis=1))
    worst = g.worst(a, force, moment)
    assert worst.resultant_mpa == pytest.approx(sizes.max(), rel=2e-4)
    assert worst.resultant_mpa >= sizes.max() * (1 - 1e-9)


def test_one_straight_run_bends_about_its_normal_only():
    """Statics: σ = 6·M/(a·L²) at the ends of a run (closed form); about its own line it carries nothing."""
    run = polygon_run([(0, 0), (0, 60)], closed=False)
    assert run.worst(3, moment_nmm=(50_000, 0, 0)).resultant_mpa == pytest.approx(
        6 * 50_000 / (3 * 60**2), rel=1e-9
    )
    with pytest.raises(ValueError, match="carry no moment about that line"):
        run.worst(3, moment_nmm=(0, 50_000, 0))


def test_effective_length():
    """EN 1993-1-8:2005 cl. 4.5.1: overall less 2·a; below 30 mm or 6·a a run carries nothing."""
    assert welds.effective_length_mm(60, 3) == 54
    assert welds.effective_length_mm(60, 3, full_size_ends=True) == 60
    assert welds.effective_length_mm(35.9, 3) == 0
    assert welds.effective_length_mm(36, 3) == 30
    assert welds.effective_length_mm(55, 7) == 0  # 41 < 42


def test_scope_of_the_rules():
    """EN 1993-1-8:2005 cl. 4.1(1): section 4 starts at 4 mm plate; cl. 4.5.1 and 4.5.2: throat 3 mm, run 30
    mm or 6·a."""
    assert welds.scope_notes(4, 3, 30) == ()
    thin = welds.scope_notes(3.9, 2.1, 29)
    assert len(thin) == 3
    assert "EN 1993-1-3 cl. 8.5" in thin[0] and "4.5.2" in thin[1] and "4.5.1" in thin[2]
    assert len(welds.scope_notes(6, 6, 35)) == 1


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: welds.throat_mm(0), "leg_mm is 0"),
        (lambda: welds.weld_strength_mpa(360, -0.8), "beta_w is -0.8"),
        (lambda: welds.scope_notes(math.nan), "plate_mm is nan"),
        (lambda: welds.directional(math.inf, 0, 0, 360, 0.8), "sigma_perp_mpa is inf"),
        (lambda: Straight((1, 1), (1, 1)), "needs a length"),
        (lambda: Arc((0, 0), 5, 0, 7), "sweep_rad is 7; it must be at most a full turn"),
        (lambda: Arc((0, 0), -5), "radius_mm is -5"),
        (lambda: WeldGroup(()), "runs is empty"),
        (lambda: circle_run(20).worst(3, (1, 2)), "need three numbers each"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text):
        call()
