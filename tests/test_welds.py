"""Fillet welds and weld groups against the standard, a design handbook and numerical integration; the source
stands beside each check."""

import math

import numpy as np
import pytest

from parts.calc import welds
from parts.calc.weld_lines import LineWeld, circle_flow, polyline


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


def test_rectangular_run_as_a_line():
    """Row B12: Shigley's Mechanical Engineering Design, weld-group tables, J_u = (b + d)³/6, rel 1e-5."""
    w = polyline(np.array([(-30, -20, 0), (30, -20, 0), (30, 20, 0), (-30, 20, 0), (-30, -20, 0)], float))
    assert (w.length_mm, w.second_mm3[2, 2], w.second_mm3[0, 0]) == pytest.approx(
        (200, 166666.67, 58666.667), rel=1e-5
    )
    flow = w.worst_n_per_mm(np.zeros(3), np.array([0, 0, 600e3]), np.zeros(3))
    assert flow[0] / 3 == pytest.approx(43.266615, rel=1e-5)


def test_circular_run_round_a_tube():
    """Row B13: closed form (line weld), rel 1e-5; the line of 720 chords agrees, whichever way it bends."""
    assert circle_flow(42.4, 0, 500e3, 0, 0) / 3 == pytest.approx(59.019722, rel=1e-6)
    assert circle_flow(42.4, 0, 0, 0, 300e3) / 3 == pytest.approx(70.823666, rel=1e-6)
    assert circle_flow(42.4, 0, 500e3, 0, 300e3) / 3 == pytest.approx(
        math.hypot(59.019722, 70.823666), rel=1e-6
    )
    turn = np.linspace(0, 2 * math.pi, 721)
    ring = polyline(21.2 * np.column_stack([np.cos(turn), np.sin(turn), 0 * turn]))
    for way in (0.0, 0.7, 2.0):
        bent = ring.worst_n_per_mm(
            np.zeros(3), 300e3 * np.array([math.cos(way), math.sin(way), 0]), np.zeros(3)
        )
        assert bent[0] / 3 == pytest.approx(70.823666, rel=1e-4)


def test_force_and_overhang_on_a_ring():
    """Row P8: a housing welded all round, each part by itself: F/(2πr), F·e/(πr²), T/(2πr²)."""
    parts = [circle_flow(42, 9000, 0, 0, 0), circle_flow(42, 0, 0, 0, 225e3), circle_flow(42, 0, 120e3, 0, 0)]
    assert [float(p) for p in parts] == pytest.approx([68.209261, 162.403, 43.307468], rel=1e-5)


@pytest.mark.parametrize(
    "corners, length, i_x, j, centroid_y",
    [
        # Shigley's Mechanical Engineering Design, weld-group tables, with b along x and d along y (b = 50, d
        # = 80):
        ([(0, 0), (0, 80)], 80, 80**3 / 12, 80**3 / 12, 40),  # one run: d³/12
        # angle, J_u = ((b + d)⁴ - 6·b²·d²)/(12·(b + d)), foot at the bottom: ȳ from the foot d²/(2(b + d))
        ([(50, 0), (0, 0), (0, 80)], 130, None, (130**4 - 6 * 50**2 * 80**2) / (12 * 130), 80**2 / (2 * 130)),
        # channel of two b flanges and a web d: J_u = (8b³ + 6b·d² + d³)/12 - b⁴/(2b + d), I_u = d²/12·(6b +
        # d)
        (
            [(50, 0), (0, 0), (0, 80), (50, 80)],
            180,
            80**2 / 12 * (6 * 50 + 80),
            (8 * 50**3 + 6 * 50 * 80**2 + 80**3) / 12 - 50**4 / (2 * 50 + 80),
            40,
        ),
    ],
)
def test_groups_of_the_handbook(corners, length, i_x, j, centroid_y):
    g = polyline(np.array([(x, y, 0.0) for x, y in corners]))
    assert (g.length_mm, g.second_mm3[2, 2], g.centroid[1]) == pytest.approx(
        (length, j, centroid_y), rel=1e-12
    )
    if i_x is not None:
        assert g.second_mm3[0, 0] == pytest.approx(i_x, rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_traction_balances_the_load_and_the_ends_are_the_worst(seed):
    """Statics: force and moment of the traction, summed in small pieces, are the load's; no piece is worse
    than what is told, and the pieces at the ends come near it."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-50, 50, (5, 3))
    force, moment = rng.normal(size=3) * 5e3, rng.normal(size=3) * 2e5
    w = polyline(corners)
    s = (np.arange(4000) + 0.5) / 4000
    p = np.concatenate([a + s[:, None] * (b - a) for a, b in w.runs])
    ds = np.repeat(np.linalg.norm(w.runs[:, 1] - w.runs[:, 0], axis=1) / 4000, 4000)
    centre = (p * ds[:, None]).sum(0) / ds.sum()
    d = p - centre
    second = ((d**2).sum(1) * ds).sum() * np.eye(3) - np.einsum("ni,nj,n->ij", d, d, ds)
    field = force / ds.sum() + np.cross(np.linalg.solve(second, moment), d)
    assert (field * ds[:, None]).sum(0) == pytest.approx(force, rel=1e-6)
    assert (np.cross(d, field) * ds[:, None]).sum(0) == pytest.approx(moment, rel=1e-6)
    told = w.worst_n_per_mm(force, moment, centre)[0]
    assert told == pytest.approx(np.linalg.norm(field, axis=1).max(), rel=2e-3)


def test_a_force_off_the_centroid_brings_its_moment():
    """A bracket on two vertical runs: force times lever is the group's moment, in space as on paper."""
    w = LineWeld(np.array([[(0, -30, 0), (0, 30, 0)], [(0, -30, 8), (0, 30, 8)]], float))
    away = w.worst_n_per_mm(np.array([0, 1000.0, 0]), np.zeros(3), np.array([-50.0, 0, 4]))
    about = w.worst_n_per_mm(np.array([0, 1000.0, 0]), np.array([0, 0, -50e3]), np.array([0.0, 0, 4]))
    assert away == pytest.approx(about)


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
        (lambda: circle_flow(0, 1, 0, 0, 0), "diameter_mm is 0"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text):
        call()
