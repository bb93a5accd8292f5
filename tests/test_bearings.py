"""Pivots: two supports, a stub's stress, bushes, rolling bearings, a press fit; against rows P1 to P7 and P11
of the handbooks and standards named in each."""

import math

import numpy as np
import pytest

from parts.base import bearings as stock
from parts.calc import bearings as calc

NONE = [(0.0, 0.0, 0.0)]


def test_overhung_stub_in_two_bearings():
    """Row P1: Shigley, beam with an overhanging load: the near bearing bears more than the load."""
    near, far = calc.two_supports([(6000.0, 0, 0)], NONE, 30, 80)
    assert np.linalg.norm(near[0]) == pytest.approx(9600, rel=1e-6)
    assert np.linalg.norm(far[0]) == pytest.approx(3600, rel=1e-6)
    assert near[0, 0] < 0 < far[0, 0]  # they pull against each other
    stress = calc.tube_stress(20, 0, 180e3, 0, 0)
    assert float(stress.fibre_mpa) == pytest.approx(229.18312, rel=1e-6)


def test_rod_and_damper_in_different_planes_of_the_pivot():
    """Row P11: statics in two planes; half the resultant each would be 2500 N."""
    forces = np.array([(6500.0, 0, 0), (-2500, 3000, 0)])
    at = np.array([(0, 0, 12.0), (0, 0, 38)])
    first, second = calc.two_supports(forces.sum(0), np.cross(at, forces).sum(0), 0, 60)
    assert first[:2] == pytest.approx([-4283.3333, -1100], rel=1e-6)
    assert second[:2] == pytest.approx([283.33333, -1900], rel=1e-6)
    assert np.linalg.norm(first) == pytest.approx(4422.3234, rel=1e-6)
    assert np.linalg.norm(second) == pytest.approx(1921.0096, rel=1e-6)


def test_two_supports_balance_any_load():
    """Statics: forces and moments sum to nothing, for supports either side or both on one."""
    rng = np.random.default_rng(5)
    f, m = rng.normal(size=(40, 3)), rng.normal(size=(40, 3))
    f[:, 2] = m[:, 2] = 0
    for a, b in ((30, 80), (-26, 31), (-80, -30)):
        one, two = calc.two_supports(f, m, a, b)
        assert np.abs(f + one + two).max() < 1e-12
        about = m + np.cross((0, 0, a), one) + np.cross((0, 0, b), two)
        assert np.abs(about[:, :2]).max() < 1e-12
    with pytest.raises(ValueError, match="hold no moment"):
        calc.two_supports(f, m, 30, 30)


def test_hollow_stub_at_its_fibre_and_its_neutral_axis():
    """Row P2: closed form; a short stub is worst where torsion and shear add."""
    s = calc.tube_stress(40, 30, 300e3, 350e3, 6e3)
    assert float(s.bending_mpa) == pytest.approx(69.846284, rel=1e-5)
    assert float(s.torsion_mpa) == pytest.approx(40.743665, rel=1e-5)
    assert float(s.shear_mpa) == pytest.approx(21.535937, rel=1e-5)
    assert float(s.fibre_mpa) == pytest.approx(99.290695, rel=1e-5)
    assert float(s.neutral_mpa) == pytest.approx(107.87144, rel=1e-5)
    assert float(s.worst_mpa) == float(s.neutral_mpa)
    assert float(calc.tube_stress(40, 0, 300e3, 350e3, 6e3).fibre_mpa) == pytest.approx(67.874499, rel=1e-5)


def test_plain_bush():
    """Row P4: projected area; the edge's pressure."""
    assert float(calc.bush_pressure_mpa(6000, 20, 20)) == pytest.approx(15)
    assert float(calc.bush_pressure_mpa(6000, 20, 20, 2)) == pytest.approx(24)
    with pytest.raises(ValueError, match="an edge lifts"):
        calc.bush_pressure_mpa(6000, 20, 20, 4)


def test_static_load_of_rolling_bearings_is_never_under_the_radial_one():
    """Row P5: ISO 76."""
    assert calc.static_load_n("ball", [4000, 2000], [2000, 3000]).tolist() == pytest.approx([4000, 2700])
    assert calc.static_load_n("needle", 9600) == 9600
    s0 = [5000 / 4000, 5000 / 2700, 24000 / 9600]
    assert s0 == pytest.approx([1.25, 1.8518519, 2.5], rel=1e-6)
    with pytest.raises(ValueError, match="must be"):
        calc.static_load_n("bush", 1)


def test_life_of_a_swing_takes_the_whole_sweep():
    """Row P6: ISO 281; 180/phi with phi the whole sweep."""
    needle, ball = (calc.life_revolutions(k, c, 4000) for k, c in (("needle", 16800), ("ball", 9950)))
    assert [needle / 1e6, ball / 1e6] == pytest.approx([119.5357, 15.391795], rel=1e-6)
    assert calc.life_swings(needle, 16) == pytest.approx(1.3447766e9, rel=1e-6)
    assert calc.life_swings(ball, 16) == pytest.approx(1.7315769e8, rel=1e-6)


def test_every_size_has_a_ring_and_a_source():
    """Geometry: a wrapped bush of ISO 3547 is 1, 1.5, 2 or 2.5 mm thick; a bearing's ring needs more."""
    for s in stock.SIZES:
        wall = (s.outside_mm - s.bore_mm) / 2
        assert wall in (1, 1.5, 2, 2.5) if s.kind == "bush" else 2.9 < wall < 14
        assert s.widths_mm == tuple(sorted(s.widths_mm)) and "memory" in s.source
        assert stock.size(s.kind, s.bore_mm, s.widths_mm[0]).bore_mm == s.bore_mm
    assert stock.in_bore("bush", 28).bore_mm == 25
    with pytest.raises(ValueError, match="no bush has a bore of 31 mm; there are 12"):
        stock.size("bush", 31)
    with pytest.raises(ValueError, match="is not 11 mm wide; there are 15, 20"):
        stock.size("bush", 25, 11)
    with pytest.raises(ValueError, match=r"the nearest, 25 x 28, needs 27\.4 to 28"):
        stock.in_bore("bush", 27.3)
    assert math.isclose(stock.in_bore("bush", 27.5).outside_mm, 28)
