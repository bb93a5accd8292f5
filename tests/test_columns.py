"""Rods and tubes in compression against closed forms, the standard and a beam eigenvalue model; the source
stands beside each check."""

import itertools
import math

import numpy as np
import pytest

from parts.base.stock import thread
from parts.calc import columns
from parts.calc.sections import round_tube


def test_push_rod_euler():
    """Row C1: closed form, rel 1e-5."""
    s = round_tube(20, 2)
    assert (s.area_mm2, s.i_y_mm4) == pytest.approx((113.09734, 4636.9908), rel=1e-5)
    assert columns.euler_load_n(s.i_y_mm4, 450) == pytest.approx(47460.274, rel=1e-5)


@pytest.mark.parametrize(
    "curve, expected",
    [
        ("a0", (0.95132117, 0.72534422, 0.39533598, 0.23229851)),
        ("a", (0.92427264, 0.66560306, 0.37243723, 0.22289484)),
        ("b", (0.8842154, 0.59702319, 0.34223461, 0.20946113)),
        ("c", (0.84299103, 0.53993903, 0.31453502, 0.19618362)),
        ("d", (0.77931996, 0.4670914, 0.27657034, 0.17663258)),
    ],
)
def test_reduction_factor(curve, expected):
    """Row C4: EN 1993-1-1:2005 6.3.1.2, abs 1e-4; 1 up to 0.2 and never above."""
    assert [columns.reduction_factor(x, curve) for x in (0.5, 1.0, 1.5, 2.0)] == pytest.approx(
        expected, abs=1e-4
    )
    assert [columns.reduction_factor(x, curve) for x in (0, 0.1, 0.2)] == [1, 1, 1]
    assert columns.reduction_factor(0.2001, curve) <= 1


def test_frame_tube_buckling_resistance():
    """Row C5: EN 1993-1-1:2005 6.3.1, Tables 6.1 and 6.2, rel 1e-4."""
    s = round_tube(33.7, 2.6)
    cold = columns.buckling_resistance(s.area_mm2, s.i_y_mm4, 1200, 355, "c")
    hot = columns.buckling_resistance(s.area_mm2, s.i_y_mm4, 1200, 355, "a")
    assert (cold.relative_slenderness, cold.euler_n) == pytest.approx((1.4233382, 44513.911), rel=1e-4)
    assert (cold.resistance_n, hot.resistance_n) == pytest.approx((30724.825, 36675.283), rel=1e-4)


def test_rod_end_thread():
    """Row C7: closed form; d3 = d - 1.22687·P (ISO 898-1), A_s by formula 84.27 mm²."""
    m12 = thread("M12")
    axial, bending = columns.stem_stress_mpa(m12, -15_000), columns.stem_stress_mpa(m12, 0, 500 * 18)
    assert (axial, bending) == pytest.approx((177.93594, 95.837873), rel=1e-3)
    assert columns.stem_stress_mpa(m12, 15_000, -9000) == pytest.approx(axial + bending, rel=1e-12)


STUB = math.pi / 64 * 9.853**4


def test_push_rod_with_threaded_stubs():
    """Row C8: closed form, rel 1e-4."""
    tube = round_tube(20, 2).i_y_mm4
    load = columns.stepped_strut_load_n(40, STUB, tube, 450)
    assert load == pytest.approx(43081.929, rel=1e-4)
    assert load / columns.euler_load_n(tube, 450) == pytest.approx(0.90774715, rel=1e-4)


@pytest.mark.parametrize(
    "stub, stub_i, tube_i, length",
    [(40, STUB, 4637, 450), (60, 300, 20_000, 320), (5, 50, 9000, 700), (30, 8000, 3000, 400)],
)
def test_stepped_strut_agrees_with_a_beam_eigenvalue_model(stub, stub_i, tube_i, length):
    """Row C8: cubic beam elements with the consistent geometric matrix, least eigenvalue by scipy, rel
    1e-4."""
    from scipy.linalg import eigh

    edges = np.concatenate(
        [
            np.linspace(0, stub, 13),
            np.linspace(stub, length - stub, 41)[1:],
            np.linspace(length - stub, length, 13)[1:],
        ]
    )
    n = len(edges)
    k, g = np.zeros((2 * n, 2 * n)), np.zeros((2 * n, 2 * n))
    for e, (x0, x1) in enumerate(itertools.pairwise(edges)):
        h = x1 - x0
        ei = 210_000 * (stub_i if min(x1, length - x0) <= stub + 1e-9 else tube_i)
        at = slice(2 * e, 2 * e + 4)
        k[at, at] += (
            ei
            / h**3
            * np.array(
                [
                    [12, 6 * h, -12, 6 * h],
                    [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                    [-12, -6 * h, 12, -6 * h],
                    [6 * h, 2 * h * h, -6 * h, 4 * h * h],
                ]
            )
        )
        g[at, at] += (
            1
            / (30 * h)
            * np.array(
                [
                    [36, 3 * h, -36, 3 * h],
                    [3 * h, 4 * h * h, -3 * h, -h * h],
                    [-36, -3 * h, 36, -3 * h],
                    [3 * h, -h * h, -3 * h, 4 * h * h],
                ]
            )
        )
    free = [i for i in range(2 * n) if i not in (0, 2 * n - 2)]
    inverse_load = eigh(g[np.ix_(free, free)], k[np.ix_(free, free)], eigvals_only=True)[-1]
    assert columns.stepped_strut_load_n(stub, stub_i, tube_i, length) == pytest.approx(
        1 / inverse_load, rel=1e-4
    )


def test_stepped_strut_without_a_step_is_euler():
    """Closed form: no stub, a stub as stiff as the tube, and a rod that is all stub give π²·E·I/L²."""
    for stub, stub_i, tube_i in ((0, 300, 5000), (70, 5000, 5000), (225, 5000, 900)):
        assert columns.stepped_strut_load_n(stub, stub_i, tube_i, 450) == pytest.approx(
            columns.euler_load_n(5000, 450), rel=1e-12
        )


def test_section_class_of_round_tubes():
    """Row C9: EN 1993-1-1:2005 Table 5.2, rel 1e-5."""
    assert columns.tube_class(33.7, 2.6, 235).limits == pytest.approx((50, 70, 90), rel=1e-5)
    thick, thin = columns.tube_class(33.7, 2.6, 355), columns.tube_class(76.1, 1.5, 355)
    assert thick.limits == pytest.approx((33.098592, 46.338028, 59.577465), rel=1e-5)
    assert (thick.ratio, thin.ratio) == pytest.approx((12.961538, 50.733333), rel=1e-5)
    assert (thick.number, thin.number) == (1, 3)
    assert columns.tube_class(100, 1.5, 355).number == 4
    assert columns.tube_class(50, 1.25, 355).number == 2


def test_moment_grows_under_compression():
    """Rows C10, C14: closed form; without bound from the critical load up, untouched by tension."""
    assert columns.amplified_moment_nmm(12_000 * 1.5, 12_000, 40_000) == pytest.approx(25714.286, rel=1e-6)
    i = round_tube(25, 2).i_y_mm4
    grown = columns.amplified_moment_nmm(225e3, [5000, 0, 1e6], columns.euler_load_n(i, 320))
    assert grown[0] == pytest.approx(230924.84, rel=1e-5)
    assert grown[1] == 225e3 and math.isinf(grown[2])


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: columns.euler_load_n(1000, 0), "length_mm is 0"),
        (lambda: columns.reduction_factor(1, "e"), 'curve is "e"; known: a0, a, b, c, d'),
        (lambda: columns.reduction_factor(-1, "c"), "relative_slenderness is -1"),
        (
            lambda: columns.stepped_strut_load_n(226, 300, 5000, 450),
            "stub_mm is 226; two of them must fit in the length, 450 mm",
        ),
        (lambda: columns.stepped_strut_load_n(40, math.nan, 5000, 450), "stub_i_mm4 is nan"),
        (lambda: columns.amplified_moment_nmm(1, -1, 40_000), "load_n is -1"),
        (lambda: columns.tube_class(30, 0, 355), "wall_mm is 0"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text):
        call()
