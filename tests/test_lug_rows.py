"""Rows of the rod's lug worked by hand: what each sleeve bears, its weld, the arm's tube under it. "Statics",
"beam theory" and closed forms are derived in the tests themselves."""

import math
from dataclasses import replace

import numpy as np
import pytest
from entries import entries

from assemblies.strength import lug
from assemblies.strength.loads import ArmForces
from parts.arm import Arm
from parts.base.stock import STEELS
from parts.calc.bolts import Bolt
from parts.rod_lug import LugSleeve, rod_lug

S235, S355 = STEELS["S235"], STEELS["S355"]
F_VW = 360 / (math.sqrt(3) * 0.8 * 1.25)  # row B9: 207.85 MPa
ARM = Arm((300.0, 115.0), (300.0, -115.0), 22.0, 3.0)
LENGTH = math.hypot(300, 115)
AREA, SECOND = math.pi / 4 * (22**2 - 16**2), math.pi / 64 * (22**4 - 16**4)
THROUGH = LugSleeve(16.0, 10.0, 70.0, 22.0, 3.0, 2.0, 40.0, 90.0, True)
SADDLE = LugSleeve(18.0, 10.0, 70.0, 22.0, 3.0, 17.5, 40.0, 90.0, False)
TURN = np.linspace(0, math.tau, 200_001)


def forces(pull_n=0.0, flat_n=0.0, lift_n=0.0, rod_n=0.0, up=(0.0, 0.0, 1.0)):
    """On the front pivot: along its tube, across it in the arm's plane and square to that; the rod's force
    along `up` at (66, 1, -2)."""
    u = np.array([300.0, 115.0, 0.0]) / LENGTH
    v = np.array([-u[1], u[0], 0.0])
    none = np.zeros((1, 3))
    spot = np.array([[66.0, 1.0, -2.0]])
    return replace(
        entries(rod_n=[rod_n]),
        upper_arm=ArmForces(none, (pull_n * u + flat_n * v + [0, 0, lift_n])[None], none),
        turns={"upper_arm": np.eye(3)[None]},
        points={
            "rod_outboard": spot,
            "rod_inboard": spot + 200 * np.array(up),
            "upper_outer": none,
            "lower_outer": none,
        },
    )


LEVER = LENGTH - (66 * 300 + 115) / LENGTH  # from the pivot to the rod's bolt, along the tube


def by_name(rows):
    return {r.check: r for r in rows}


def steps(inside=lambda x: 1.0):
    """Greatest of `inside` times |dx/ds| round the hole of `THROUGH`, whose edge lies 8 mm from the bolt and
    11 mm from the tube's axis, 2 mm beside it."""
    x = 8 * np.cos(TURN)
    along = (x - 2) * 8 * np.sin(TURN) / np.sqrt(121 - (x - 2) ** 2)
    return float((inside(x) * np.abs(8 * np.sin(TURN)) / np.hypot(8, along)).max())


def test_each_sleeve_bears_half():
    """9 kN square to the bolt: 4.5 kN a sleeve. Bolt (EN 1993-1-8 3.13): F/8·(b + 4c + 2a), b 14, c 1, one
    diameter of each sleeve a = 10: 42.75 N·m; bearing 1.5·t·d·fy of 2·10 mm, in service 0.6; beside the bolt
    F/2 = 2·3·10·fy in each (statics)."""
    made = rod_lug(ARM, (66.0, 1.0, -2.0), (0.0, 1.0, 0.0), 14.0, "M10")
    f = forces(rod_n=9000.0)
    rows = by_name(lug.checks(f, "upper_arm", ARM, made, np.eye(3), Bolt("M10"), 14.0, S235, S235, True))
    assert rows["bending of the bolt"].demand == pytest.approx(42.75)
    assert (rows["shear of the bolt"].demand, rows["pull in the bolt"].demand) == pytest.approx((9000, 0))
    for check, resistance in (
        ("bearing of the pin", 1.5 * 20 * 10 * 235),
        ("bearing in service", 0.6 * 20 * 10 * 235),
        ("wall beside the bolt", 4 * 3 * 10 * 235),
    ):
        assert (rows[check].demand, rows[check].resistance) == pytest.approx((9000, resistance))
    far = max(made.sleeves, key=lambda s: s.lever_mm)
    bent = 4500 * far.lever_mm * 8 / (math.pi / 64 * (16**4 - 10**4))
    shear = 2 * 4500 / (math.pi / 4 * (16**2 - 10**2))
    row = rows["sleeve as a cantilever"]
    assert (row.demand, row.resistance) == pytest.approx((math.hypot(bent, math.sqrt(3) * shear), 235))
    along = by_name(
        lug.checks(
            forces(rod_n=9000.0, up=(0.0, 0.6, 0.8)),
            "upper_arm",
            ARM,
            made,
            np.eye(3),
            Bolt("M10"),
            14.0,
            S235,
            S235,
            True,
        )
    )
    assert along["pull in the bolt"].demand == pytest.approx(5400)
    assert along["shear of the bolt"].demand == pytest.approx(7200)


@pytest.mark.parametrize(("sleeve", "outer"), [(THROUGH, 16), (SADDLE, 18)])
def test_a_sleeve_as_a_cantilever(sleeve, outer):
    """1300 N square to it and 300 N along it, from its end to the middle of a saddle, 40 mm, or to the near
    edge of a hole, 40 mm less the mean half chord of the tube: M/W + N/A and 2V/A (thin ring), von Mises."""
    chord = np.sqrt(121 - (8 * np.cos(TURN[:-1]) - 2) ** 2).mean()
    lever = 40 - chord if sleeve.through else 40.0
    (row,) = lug._sleeve(entries(), sleeve, np.array([[1200.0, 500.0, -300.0]]), S235)
    area = math.pi / 4 * (outer**2 - 100)
    bent = 1300 * lever * outer / 2 / (math.pi / 64 * (outer**4 - 10**4)) + 300 / area
    assert row.demand == pytest.approx(math.hypot(bent, math.sqrt(3) * 2600 / area), rel=1e-3)


def test_the_weld_of_a_hole_also_leads_the_tubes_own_force_round_it():
    """σ·t·|dx/ds| on the edge: 12 kN in the tube, 90 N·m in the arm's plane, and 60 N·m square to it, whose σ
    grows with the height over the tube's middle. Throat the wall, 3 mm."""
    args = "upper_arm", ARM, THROUGH, np.zeros((1, 3)), 0, np.eye(3), S235
    for f, want in (
        (forces(pull_n=12e3), 3 * 12e3 / AREA * steps()),
        (forces(flat_n=90e3 / LEVER), 3 * 90e3 * 11 / SECOND * steps()),
        (forces(lift_n=60e3 / LEVER), 3 * 60e3 / SECOND * steps(lambda x: np.abs(x - 2))),
    ):
        (row,) = lug._weld(f, *args)
        assert (row.demand, row.resistance) == pytest.approx((want, 3 * F_VW), rel=3e-3)
        assert (row.seam.throat_mm, row.seam.category_mpa) == (3.0, 36.0)


def test_the_weld_of_a_saddle():
    """A force along the bolt through the saddle's middle would be even, F/L; it stands 40 mm before it in z
    and in the bolt's line, so it turns the seam as well: elastic line by hand from the seam's own points."""
    (row,) = lug._weld(entries(), "upper_arm", ARM, SADDLE, np.array([[0.0, 0.0, 800.0]]), 0, np.eye(3), S235)
    seam = SADDLE.seams[0]
    a, b = seam[:-1], seam[1:]
    size = np.linalg.norm(b - a, axis=1)
    middle = size @ ((a + b) / 2) / size.sum()
    r = (a + b) / 2 - middle
    inertia = np.einsum("i,ij,ik->jk", size, r, r)
    second = np.trace(inertia) * np.eye(3) - inertia
    theta = np.linalg.solve(second, np.cross(-middle, [0, 0, 800.0]))
    flow = np.array([0, 0, 800 / size.sum()]) + np.cross(theta, seam - middle)
    assert row.demand == pytest.approx(np.linalg.norm(flow, axis=1).max(), rel=2e-3)
    assert row.resistance == pytest.approx(F_VW * 3 / math.sqrt(2))  # the leg is the arm's wall


def test_the_wall_under_a_saddle():
    """EN 1993-1-8:2005 Table 7.3 (from memory): fy·t²·(4 + 20·β²) across, 5·fy·t²·(1 + η/4) along, and half
    the seam's extent times it in bending; the seam is 2·√(11² - 8.5²) wide and 2·9·√(1 - (6.5/9)²) long."""
    wide, long = 2 * math.sqrt(11**2 - 8.5**2), 18 * math.sqrt(1 - (6.5 / 9) ** 2)
    across = 235 * 9 * (4 + 20 * (wide / 22) ** 2)
    along = 235 * 9 * 5 * (1 + 0.25 * long / 22)
    rows = by_name(lug._tube(entries(), "upper_arm", ARM, SADDLE, np.array([[700.0, 400.0, 300.0]]), S235))
    want = 700 / across + (700 * 40 + 300 * 6.5) / (wide / 2 * across) + 400 * 6.5 / (long / 2 * along)
    assert rows["wall of the arm's tube under the saddle"].demand == pytest.approx(want, rel=2e-3)
    c_t = 2 * SECOND / 11
    assert rows["twist of the arm's tube"].demand == pytest.approx((700 * 40 + 300 * 17.5) / c_t, rel=1e-6)
    assert rows["twist of the arm's tube"].resistance == pytest.approx(235 / math.sqrt(3))


def test_a_drilled_tube_and_its_fin():
    """12 kN, 90 and 60 N·m at the hole: N/A + M/W of both ways over fy, N/A + M/W at the fin's tip, and all
    of the fin at that stress over half of its two runs; least sections as `drilled_section` has them, which
    tests of its own hold. Fin 3 x 10 of S355 on an arm of S235: the weld by the weaker, throat 3/√2."""
    made = rod_lug(ARM, (66.0, 1.0, -2.0), (0.0, 1.0, 0.0), 14.0, "M10")
    d = lug.drilled_section(22.0, 3.0, 16.0, 10.0, made.height_mm, 3.0, 10.0)
    f = forces(pull_n=12e3, flat_n=90e3 / LEVER, lift_n=60e3 / LEVER)
    rows = by_name(lug._net(f, "upper_arm", ARM, made, made.tubes.index(0), np.eye(3), S235, S355))
    hole = rows["arm's tube at its hole"]
    assert hole.demand == pytest.approx((12e3 / d.area_mm2 + 90e3 / d.flat_mm3 + 60e3 / d.tube_mm3) / 235)
    tip = 12e3 / d.area_mm2 + 60e3 / d.fin_mm3
    fin = rows["fin beside the hole, its tip"]
    assert (fin.demand, fin.resistance) == pytest.approx((tip, 355))
    weld, length = rows["weld of the fin"], made.fins[0][0].length_mm
    assert (weld.demand, weld.resistance) == pytest.approx((tip * 30 / length, F_VW * 3 / math.sqrt(2)))
    assert weld.seam.throat_mm == pytest.approx(3 / math.sqrt(2))
