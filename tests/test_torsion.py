"""Torsion against published tables, closed forms and general finite-element libraries; the source stands
beside each check."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from parts.calc import torsion

# Timoshenko & Goodier, Theory of Elasticity, 3rd ed., rectangular-bar table, recomputed from the Saint-Venant
# series
RATIOS = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, math.inf]
BETA = [
    0.14057701,
    0.19576071,
    0.22868168,
    0.24936507,
    0.26331693,
    0.28081296,
    0.29131675,
    0.29831951,
    0.30707296,
    0.31232504,
    0.33333333,
]
ALPHA = [
    0.20816526,
    0.23096913,
    0.24587834,
    0.25758994,
    0.26720805,
    0.28166567,
    0.2915002,
    0.29835854,
    0.3070747,
    0.31232511,
    0.33333333,
]
# the same table as printed, three figures (b/t 1, 1.5, 2, 2.5, 3, 4, 6, 10); 0.228 at 2 and 0.313 at 10 in
# some printings
PRINTED_BETA = {1: 0.141, 1.5: 0.196, 2: 0.229, 2.5: 0.249, 3: 0.263, 4: 0.281, 6: 0.299, 10: 0.312}


def by_degree(rate_nm_per_rad):
    return rate_nm_per_rad * math.pi / 180


def test_rectangle_constants_follow_the_published_table():
    """Rows T1, T2: rel 1e-4; abs 1e-3 against the printed three figures."""
    assert torsion.strip_beta(RATIOS) == pytest.approx(BETA, rel=1e-4)
    alpha = torsion.strip_beta(RATIOS) / torsion.strip_shear_factor(RATIOS)
    assert alpha == pytest.approx(ALPHA, rel=1e-4)
    assert torsion.strip_beta(list(PRINTED_BETA)) == pytest.approx(list(PRINTED_BETA.values()), abs=1e-3)


def test_series_has_converged_to_rounding():
    """The plain tanh and cosh series of Timoshenko & Goodier, summed to 20 000 terms in extended precision,
    closed form."""
    n = np.arange(1, 40_001, 2, dtype=np.longdouble)
    for r in (1.0, 1.3, 2.0, 7.7, 40.0):
        x = np.minimum(n * np.pi * r / 2, 5000)
        beta = (1 - 192 / np.pi**5 / r * np.sum(np.tanh(x) / n**5)) / 3
        k = 1 - 8 / np.pi**2 * np.sum(1 / (n**2 * np.cosh(x)))
        assert float(torsion.strip_beta(r)) == pytest.approx(float(beta), rel=1e-12)
        assert float(torsion.strip_shear_factor(r)) == pytest.approx(float(k), rel=1e-12)


def test_torsion_constant_of_rectangles_agrees_with_a_stress_function_solve():
    """scikit-fem, Prandtl stress function, quadratic elements: J = 4·∫φ and peak slope at mid long side (rows
    T1, T2)."""
    skfem = pytest.importorskip("skfem")
    from skfem.helpers import dot, grad

    @skfem.BilinearForm
    def stiffness(u, v, w):
        return dot(grad(u), grad(v))

    @skfem.LinearForm
    def load(v, w):
        return v

    for r in (1.0, 3.0, 8.0):
        mesh = skfem.MeshQuad.init_tensor(
            np.linspace(-r / 2, r / 2, int(24 * r) + 1), np.linspace(-0.5, 0.5, 25)
        )
        basis = skfem.Basis(mesh, skfem.ElementQuad2())
        a, b = stiffness.assemble(basis), load.assemble(basis)
        phi = skfem.solve(*skfem.condense(a, b, D=basis.get_dofs()))  # -∇²φ = 1, t = 1
        j = 4 * float(b @ phi)
        assert float(torsion.strip_beta(r)) * r == pytest.approx(j, rel=1e-4)
        h = 1e-4
        near = basis.probes(np.array([[0.0], [0.5 - h]])) @ phi
        shear_per_g_twist = 2 * float(near[0]) / h  # 2·φ,y at the edge
        assert float(torsion.strip_shear_factor(r)) == pytest.approx(shear_per_g_twist, rel=1e-3)


def test_round_bar():
    """Row T3: closed form, rel 1e-5."""
    j = torsion.round_constant_mm4(25)
    assert j == pytest.approx(38349.52, rel=1e-5)
    rate = torsion.round_rate_nm_per_rad(25, 1000, 80_000)
    assert by_degree(rate) == pytest.approx(53.546031, rel=1e-5)
    twist = 500 / rate
    assert math.degrees(twist) == pytest.approx(9.3377603, rel=1e-5)
    assert torsion.round_stress_mpa(twist, 25, 1000, 80_000) == pytest.approx(162.97466, rel=1e-5)


def test_torsion_tube():
    """Row T4: closed form, rel 1e-5."""
    assert torsion.round_constant_mm4(30, 3) == pytest.approx(46949.531, rel=1e-5)
    assert by_degree(torsion.round_rate_nm_per_rad(30, 800, 79_300, 3)) == pytest.approx(81.225395, rel=1e-5)


def test_leaf_pack_rate():
    """Row T5: closed form (series), rel 1e-4; the 1/3 shortcut is 6.7 % stiff."""
    rate = torsion.pack_rate_nm_per_rad(30, 3, 500, 80_000, leaves=5)
    assert rate == pytest.approx(202.38662, rel=1e-4)
    assert by_degree(rate) == pytest.approx(3.532313, rel=1e-4)
    assert 5 * 80_000 * 30 * 3**3 / 3 / 500 / 1000 / rate == pytest.approx(1.0672642, rel=1e-4)


def test_leaf_stress_follows_twist_by_both_routes():
    """Row T6: closed form (series), rel 1e-4."""
    twist = math.radians(30)
    assert torsion.strip_stress_mpa(twist, 40, 3, 600, 79_300) == pytest.approx(207.60691, rel=1e-4)
    torque = twist * torsion.pack_rate_nm_per_rad(40, 3, 600, 79_300)
    assert torque == pytest.approx(23.735234, rel=1e-4)


def test_handbook_stress_approximation_errs_from_the_series_as_published():
    """Row T7: Shigley's Mechanical Engineering Design, rectangular bar, T/(b·t²)·(3 + 1.8·t/b), abs 5e-4."""
    r = np.array([1.0, 2.0, 5.0, 10.0])
    approximate = 3 + 1.8 / r
    assert approximate * torsion.strip_beta(r) / torsion.strip_shear_factor(r) == pytest.approx(
        [0.99919325, 0.95892553, 0.97944069, 0.99319386], abs=5e-4
    )


def test_handbook_constant_approximation_errs_from_the_series_as_published():
    """Row T8: Roark's Formulas for Stress and Strain, torsion table, rectangle, abs 5e-4."""
    r = np.array([1.0, 2.0, 5.0, 10.0])
    approximate = 1 / 3 - 0.21 / r * (1 - 1 / (12 * r**4))
    assert approximate == pytest.approx([0.14083333, 0.22888021, 0.29133893, 0.31233351], abs=5e-4)
    assert approximate / torsion.strip_beta(r) == pytest.approx(
        [1.0018233, 1.0008682, 1.0000761, 1.0000271], abs=5e-4
    )


def test_square_against_round_of_the_same_area():
    """Row T9: closed form 2·π·β(1), rel 1e-4."""
    side = math.sqrt(math.pi / 4) * 20
    assert side == pytest.approx(17.724539, rel=1e-4)
    share = torsion.strip_constant_mm4(side, side) / torsion.round_constant_mm4(20)
    assert share == pytest.approx(0.88327143, rel=1e-4)
    assert 2 * math.pi * torsion.strip_beta(1) == pytest.approx(0.88327143, rel=1e-4)


def test_loose_pack_against_solid_block():
    """Row T10: closed form (series), rel 1e-4. The block is given short side first: the order must not
    matter."""
    loose, solid = 4 * torsion.strip_constant_mm4(25, 2.5), torsion.strip_constant_mm4(10, 25)
    assert loose == pytest.approx(488.00787, rel=1e-4)
    assert solid == pytest.approx(6234.1269, rel=1e-4)
    assert solid / loose == pytest.approx(12.774644, rel=1e-4)


INCH, PSI, LBF_IN = 25.4, 0.006894757293168, 0.1129848290276167  # mm, MPa, N·m: exact or by definition


def test_worked_example_closed_rectangular_tube():
    """Row T13: Shigley's Mechanical Engineering Design, thin-walled closed tube example; printed 23 730
    lbf·in at 11 500 psi, rel 2e-3. Row B21: 350 N·m round 60 x 60 mm flows at 48.611 N/mm."""
    assert torsion.closed_wall_flow_n_per_mm(350e3, 3600) == pytest.approx(48.611111, rel=1e-5)
    wall, enclosed = 0.125 * INCH, (2.5 - 0.125) * (3.6 - 0.125) * INCH**2
    assert enclosed / INCH**2 == pytest.approx(8.253125, rel=2e-3)
    flow = torsion.closed_wall_flow_n_per_mm(1e3 * 23_730 * LBF_IN, enclosed)
    assert flow / wall == pytest.approx(11_500 * PSI, rel=2e-3)


def test_worked_example_thin_strip():
    """Row T14: Shigley's Mechanical Engineering Design, thin strip example; printed 59.90, 5.5 deg, 55.72,
    5.6 deg, rel 3e-3. The book's torques come from its own thin and rectangle formulas (the latter 1 % off
    the series at b/t = 8, row T7)."""
    b, t, length, tau, g = 1 * INCH, 0.125 * INCH, 12 * INCH, 11_500 * PSI, 11.5e6 * PSI
    rate = torsion.pack_rate_nm_per_rad(b, t, length, g)
    assert rate / LBF_IN == pytest.approx(574.76222, rel=3e-3)
    book_torque = b * t**2 * tau / (3 + 1.8 * t / b) / 1000
    assert book_torque / LBF_IN == pytest.approx(55.717054, rel=3e-3)
    assert math.degrees(book_torque / rate) == pytest.approx(5.5542135, rel=3e-3)
    assert torsion.strip_stress_mpa(book_torque / rate, b, t, length, g) == pytest.approx(tau, rel=1e-2)
    # a very wide strip comes down to the thin formulas; per width they are the book's
    wide, thin_torque = 1e5 * b, b * t**2 * tau / 3 / 1000
    assert thin_torque / LBF_IN == pytest.approx(59.895833, rel=3e-3)
    thin_rate = torsion.pack_rate_nm_per_rad(wide, t, length, g) / 1e5
    assert thin_rate / LBF_IN == pytest.approx(623.91493, rel=3e-3)
    assert math.degrees(thin_torque / thin_rate) == pytest.approx(5.5003948, rel=3e-3)
    thin = torsion.strip_stress_mpa(thin_torque / thin_rate, wide, t, length, g)
    assert thin == pytest.approx(tau, rel=1e-5)


def test_clamped_ends_stiffen_a_strip():
    """Row T15: closed form (restrained warping), rel 1e-3."""
    free = torsion.pack_rate_nm_per_rad(40, 5, 400, 79_300)
    clamped = torsion.clamped_strip_rate_nm_per_rad(40, 5, 400, 79_300, 206_000)
    assert free == pytest.approx(304.38608, rel=1e-3)
    assert clamped == pytest.approx(319.89315, rel=1e-3)
    assert clamped / free == pytest.approx(1.0509454, rel=1e-3)
    assert torsion.warping_length_mm(40, 5, 79_300, 206_000) == pytest.approx(9.6951598, rel=1e-3)


def test_rigidly_held_leaves_bend_on_edge():
    """Row T16: closed form (beam with ends displaced e·θ), rel 1e-3; summed leaf by leaf beside it."""
    extra = torsion.edge_bending_rate_nm_per_rad(40, 5, 400, 206_000, leaves=4)
    assert extra == pytest.approx(128.75, rel=1e-3)
    by_leaf = sum(12 * 206_000 * (5 * 40**3 / 12) * e**2 / 400**3 / 1000 for e in (-7.5, -2.5, 2.5, 7.5))
    assert extra == pytest.approx(by_leaf, rel=1e-12)
    plain = torsion.pack_rate_nm_per_rad(40, 5, 400, 79_300, leaves=4)
    assert plain == pytest.approx(1217.5443, rel=1e-3)
    assert extra / plain == pytest.approx(0.10574564, rel=1e-3)
    assert torsion.edge_bending_rate_nm_per_rad(40, 5, 400, 206_000, leaves=1) == 0
    bounds = torsion.pack_bounds(40, 5, 400, 79_300, 206_000, leaves=4)
    assert bounds.free_nm_per_rad == pytest.approx(1217.5443, rel=1e-3)
    assert bounds.clamped_nm_per_rad == pytest.approx(4 * 319.89315, rel=1e-3)
    assert bounds.held_nm_per_rad == pytest.approx(4 * 319.89315 + 128.75, rel=1e-3)


@pytest.mark.slow
def test_end_terms_agree_with_a_solid_model():
    """Rows T15, T16: 3-D elastic solid in scikit-fem with both end faces held rigid; T15 within 1 %, an
    off-axis leaf's extra rate within 3 %."""
    skfem = pytest.importorskip("skfem")
    from scipy.sparse import bmat
    from scipy.sparse.linalg import splu

    b, t, length, e_mod, g_mod = 40.0, 5.0, 400.0, 206_000.0, 79_300.0
    lam = g_mod * (e_mod - 2 * g_mod) / (3 * g_mod - e_mod)
    s = np.linspace(0, 1, 17)  # finer near the clamps, where the warping dies out over 10 mm
    along = length * (s - 0.85 * np.sin(2 * np.pi * s) / (2 * np.pi))
    across = b / 2 * np.sin(np.pi / 2 * np.linspace(-1, 1, 7))
    mesh = skfem.MeshHex.init_tensor(along, across, np.linspace(-t / 2, t / 2, 3))
    basis = skfem.Basis(mesh, skfem.ElementHex2(), intorder=4)  # exact for bricks

    def derivatives(of_v, of_u):
        return skfem.BilinearForm(lambda u, v, w: u.grad[of_u] * v.grad[of_v]).assemble(basis)

    # isotropic elasticity by components: λ·u_j,j·v_i,i + μ·u_j,i·v_i,j + μ·δ_ij·u_,k·v_,k
    d = [[derivatives(i, j) for j in range(3)] for i in range(3)]
    shear = g_mod * (d[0][0] + d[1][1] + d[2][2])
    a = bmat(
        [
            [lam * d[i][j] + g_mod * d[j][i] + (shear if i == j else 0 * shear) for j in range(3)]
            for i in range(3)
        ]
    ).tocsc()
    x, n = basis.doflocs, basis.N
    end = np.isclose(x[0], 0) | np.isclose(x[0], length)
    inner = np.flatnonzero(~np.tile(end, 3))
    solver = splu(a[inner][:, inner].tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})

    def rate(offset):
        """Torque about an axis `offset` from the leaf per rad, N·m: twice the strain energy at one rad."""
        turn = np.isclose(x[0], length).astype(float)
        u = np.concatenate([np.zeros(n), -turn * (x[2] + offset), turn * x[1]])
        u[inner] = solver.solve(-(a @ u)[inner])
        return float(u @ (a @ u)) / 1000

    centred = rate(0.0)
    assert float(torsion.clamped_strip_rate_nm_per_rad(b, t, length, g_mod, e_mod)) == pytest.approx(
        centred, rel=0.01
    )
    extra = 12 * e_mod * (t * b**3 / 12) * 7.5**2 / length**3 / 1000
    assert rate(7.5) - centred == pytest.approx(extra, rel=0.03)


@given(st.floats(0.5, 60), st.floats(0.5, 60))
def test_strip_constant_lies_between_its_bounds(a, b):
    """Mathematics: a rectangle's J is below the thin-strip b·t³/3 and at least that of the inscribed
    ellipse."""
    long, short = max(a, b), min(a, b)
    j = float(torsion.strip_constant_mm4(a, b))
    assert j < long * short**3 / 3
    assert j > math.pi * (long / 2) ** 3 * (short / 2) ** 3 / ((long / 2) ** 2 + (short / 2) ** 2)


def test_arrays_broadcast_and_agree_with_single_calls():
    """A thousand packs in one call are the thousand packs one by one."""
    rng = np.random.default_rng(4)
    w, t, n = rng.uniform(20, 50, (1000, 1)), rng.uniform(2, 6, (1, 7)), np.arange(1, 8)
    rates = torsion.pack_rate_nm_per_rad(w, t, 600, 79_300, leaves=n)
    assert rates.shape == (1000, 7)
    one = torsion.pack_rate_nm_per_rad(float(w[123, 0]), float(t[0, 4]), 600, 79_300, leaves=5)
    assert rates[123, 4] == pytest.approx(float(one), rel=1e-14)


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: torsion.strip_beta(0.5), "width_over_thickness is 0.5; it must be 1 or more"),
        (lambda: torsion.strip_beta(math.nan), "width_over_thickness is nan"),
        (lambda: torsion.strip_constant_mm4(30, 0), "thickness_mm is 0"),
        (lambda: torsion.pack_rate_nm_per_rad(30, 3, -500, 80_000), "length_mm is -500"),
        (lambda: torsion.pack_rate_nm_per_rad(30, 3, 500, 80_000, leaves=0), "leaves is 0"),
        (lambda: torsion.strip_stress_mpa(math.nan, 30, 3, 500, 80_000), "twist_rad is nan"),
        (lambda: torsion.round_constant_mm4(20, 11), "wall_mm is 11; it must be at most half"),
        (lambda: torsion.closed_wall_flow_n_per_mm(100, 0), "enclosed_mm2 is 0"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text.replace("(", r"\(")):
        call()
