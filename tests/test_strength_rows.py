"""Rows of the strength table worked by hand, or by a second route, so that a wrong factor fails. Sources
stand beside each; what is "statics" or a closed form is derived in the test itself."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from corners import planar
from entries import entries
from rockers import boxed as boxed_of

from assemblies.motion.mechanism import Mechanism
from assemblies.strength import bought, brackets, fatigue, frame_tubes, lug, rods, spring, tubes, welds
from assemblies.strength import rocker as plates
from assemblies.strength.eyes_pins import EyeJoint, checks
from assemblies.strength.forces import RockerForces
from assemblies.strength.loads import ArmForces
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.arm import Arm
from parts.base.stock import STEELS, thread
from parts.calc import hollow
from parts.calc.bolts import Bolt, thread_strip_n
from parts.calc.columns import buckling_resistance, reduction_factor
from parts.calc.sections import rectangular_tube, round_tube
from parts.calc.span import Load, cut
from parts.member import Member
from parts.rod import Rod
from parts.rod_lug import LugSleeve
from parts.shape.form import Frame
from parts.shape.outline import Hole, Outline, rectangle
from parts.spring_socket import SpringSocket
from parts.tab import Tab

S235 = STEELS["S235"]
F_VW = 360 / (math.sqrt(3) * 0.8 * 1.25)  # row B9: 207.85 MPa


def by_name(rows):
    return {r.check: r for r in rows}


# ------------------------------------------------------------ the torsion spring's chain


@pytest.fixture(scope="module")
def chain():
    """350 N·m, safety 1, through a socket of 4 mm plates 60 over, a sleeve 38 x 3 in 45 x 3 with an M8, an
    anchor."""
    socket = SpringSocket.for_leaves(4, 32, 4, 60)
    sleeve = AdjusterSleeve(38, 3, 45, 3.1, 40, "M8")
    f = entries(spring_nm=[-350.0])
    rows = spring.ends(f, socket, sleeve, AnchorPlates(socket, 44), S235, "8.8", True)
    return socket, sleeve, {(r.item, r.check): r for r in rows}


def test_cross_bolt_of_the_sleeve(chain):
    """Row B22: T/D = 9210.5 N a plane against one of an M8 8.8 (row B1: 14 054 N); bearing T/(D - t)."""
    rows = chain[2]
    bolt = rows["sleeve", "cross bolt in shear"]
    assert (bolt.demand, bolt.resistance) == pytest.approx((9210.5263, 14054.4), rel=3e-3)
    assert rows["sleeve", "bearing of the cross bolt, inner tube"].demand == pytest.approx(10_000, rel=1e-6)
    assert rows["sleeve", "bearing of the cross bolt, outer tube"].demand == pytest.approx(
        350e3 / (45 - 3.1), rel=1e-6
    )
    wide = 2.5 * 360 * 8 * 3 / 1.25  # row B5 with alpha_b = 1 and k1 = min(2.8·1.5 - 1.7, 2.5)
    assert rows["sleeve", "bearing of the cross bolt, inner tube"].resistance == pytest.approx(wide, rel=1e-6)


def test_sleeve_in_torsion_at_its_holes(chain):
    """T/W_t (closed form) over the wall that a row leaves: two places a hole, 8 mm each, of the mid girth."""
    _, sleeve, rows = chain
    holes = max(len(r.first) for r in sleeve.rows)
    left = 1 - holes * 16 / (math.pi * 35)
    tau = 350e3 * 19 / (math.pi / 32 * (38**4 - 32**4)) / left
    row = rows["sleeve", "torsion at the holes, inner tube"]
    assert (row.demand, row.resistance) == pytest.approx((tau, 235 / math.sqrt(3)), rel=1e-6)


def test_seams_of_the_sockets(chain):
    """Row B21 (a), a closed round seam, at the middle of a V 2 mm deep in plates 60 over: T/(2·π·29²) against
    207.85·2; sleeve's seam at its tube, anchor's round the plates, leg a wall or a plate."""
    rows = chain[2]
    row = rows["spring socket", "weld between its plates"]
    assert (row.demand, row.resistance) == pytest.approx((350e3 / (2 * math.pi * 29**2), 2 * F_VW), rel=1e-6)
    row = rows["spring socket", "weld to the sleeve"]
    assert row.demand == pytest.approx(350e3 / (2 * math.pi * 22.5**2), rel=1e-6)
    assert row.resistance == pytest.approx(F_VW * 3.1 / math.sqrt(2), rel=1e-6)
    row = rows["anchor socket", "weld to the turning plate"]
    assert row.demand == pytest.approx(61.893589, rel=1e-6)
    assert row.resistance == pytest.approx(F_VW * 4 / math.sqrt(2), rel=1e-6)


def test_one_thick_plate_has_no_seam():
    socket = SpringSocket.for_leaves(4, 32, 4, 60, plate_thickness_mm=34)
    sleeve = AdjusterSleeve(38, 3, 45, 3.1, 40, "M8")
    f = entries(spring_nm=[350.0])
    rows = spring.ends(f, socket, sleeve, AnchorPlates(socket, 44), S235, "8.8", True)
    assert socket.plates == 1 and not [r for r in rows if "between its plates" in r.check]
    with pytest.raises(ValueError, match=r"seam is 3\.00 mm; the most is 2\.00"):
        SpringSocket.for_leaves(4, 32, 4, 60, seam_mm=3)


def test_fatigue_of_bolt_and_holes(chain):
    """EN 1993-1-9: under one corner weight, T/D over the stress area of an M8 (36.6 mm²); at a hole 4/3·τ."""
    _, sleeve, rows = chain
    found = {d.detail: d for d in spring.details(entries(spring_nm=[350.0]), sleeve, True)}
    assert found["cross bolt"].stress_mpa == pytest.approx(9210.5263 / 36.6, rel=2e-3)
    assert found["cross bolt"].shear
    tau = rows["sleeve", "torsion at the holes, inner tube"].demand
    assert found["holes of the inner tube"].stress_mpa == pytest.approx(4 / 3 * tau, rel=1e-9)


# ------------------------------------------------------------ fatigue of welds


def test_shear_has_one_slope():
    """Row W1: cycles of shear category 80 at 200, 100, 60, 40 MPa; nothing below 0.457 of it."""
    for size, n in ((200, 20480), (100, 655360), (60, 8427983.5), (40, 64e6)):
        assert fatigue.damage([size], [n], 80.0, 1.0, True) == pytest.approx(1, rel=1e-6)
    assert fatigue.damage([0.457 * 80], [1e12], 80.0, 1.0, True) == 0


def test_the_jobs_spectrum():
    """Row W2: the stress a corner weight that makes the sum 1, gamma 1.35; categories 36, 71 and shear 80."""
    ranges, counts = np.array([2.5, 1.5, 1.0, 0.5]), np.array([1e3, 2e4, 2e5, 2e6])
    category, shear = np.array([36.0, 71.0, 80.0]), np.array([False, False, True])
    stress = np.array([[10.0], [10.0], [10.0]]) * ranges
    scale = fatigue.allowed_scale(stress, counts, category, 1.35, shear)
    assert 10 * scale == pytest.approx([41.435163, 81.719349, 77.822096], rel=1e-5)
    assert fatigue.damage(20 * ranges, counts, 36.0, 1.35) == pytest.approx(0.05972168, rel=1e-5)


def test_a_welds_row_becomes_a_detail():
    """Flow over the throat: 60 N/mm on a = 3/√2 mm; along the run shear 80."""
    f = entries()
    row = welds.round_weld(f, "x", 40, 3, 3, S235, in_plane_n=60 * 40 * math.pi)
    twisted = welds.round_weld(f, "x", 40, 3, 3, S235, torque_nmm=1e5)
    one, two = fatigue.of_welds(row + twisted)
    assert row[0].demand == pytest.approx(60)
    assert (one.stress_mpa, one.category_mpa, one.shear) == (
        pytest.approx(60 * math.sqrt(2) / 3),
        36.0,
        False,
    )
    assert (two.category_mpa, two.shear) == (80.0, True)


# ------------------------------------------------------------ rods


def test_bow_of_a_push_rod():
    """Rows C8, C12: tube 20 x 2 with M12 stems, bow L/200 (EN 1993-1-1 Table 5.1, curve c elastic) grown by
    1/(1 - N/N_cr); in the stem on its root at the insert's face, a half sine."""
    made = Rod(450, 20, 2, "M12")
    stub, tube, root = made.eye_to_face_mm, round_tube(20, 2), made.screw.root_mm
    from parts.calc.columns import stepped_strut_load_n

    critical = stepped_strut_load_n(stub, math.pi / 64 * root**4, tube.i_y_mm4, 450)  # row C8 holds it
    rows = by_name(rods.checks(entries(), "rod", made, np.array([-9000.0]), STEELS["S355"], "rod", None, 400))
    moment = 9000 * 450 / 200 / (1 - 9000 / critical)
    assert rows["bowed strut, tube"].demand == pytest.approx(
        9000 / 113.09734 + moment * 10 / 4636.9908, rel=1e-6
    )
    at_face = moment * math.sin(math.pi * stub / 450)
    assert rows["bowed strut, stem"].demand == pytest.approx(
        9000 / made.screw.stress_area_mm2 + 32 * at_face / (math.pi * root**3), rel=1e-6
    )
    assert rows["stem in tension"].demand == pytest.approx(9000 / 84.27, rel=1e-3)
    assert rows["weld of the insert"].demand == pytest.approx(9000 / (math.pi * 20), rel=1e-9)


# ------------------------------------------------------------ eyes


def test_bolt_bearing_of_two_plates():
    """Row B5, third: d 10 in 11, t 3, fu 360: 21.6 kN a plate."""
    rows = by_name(
        checks(
            entries(),
            EyeJoint("x", 3, 11, 40, S235, Bolt("M10"), 14, 0, "t", "r"),
            np.array([15e3]),
            np.array([0.0]),
        )
    )
    assert (rows["bolt bearing"].demand, rows["bolt bearing"].resistance) == pytest.approx((15e3, 43.2e3))


# ------------------------------------------------------------ welds round tubes


def test_round_weld_with_every_force():
    """Row B13's closed form by parts: F/2πr and T/2πr² along, N/2πr and M/πr² square to the plate."""
    r = 20.0
    row = welds.round_weld(entries(), "x", 2 * r, 3, 3, S235, 1000.0, 50e3, 2000.0, 30e3)[0]
    along = 1000 / (2 * math.pi * r) + 50e3 / (2 * math.pi * r * r)
    off = 2000 / (2 * math.pi * r) + 30e3 / (math.pi * r * r)
    assert (row.demand, row.resistance) == pytest.approx((math.hypot(along, off), F_VW * 3 / math.sqrt(2)))


# ------------------------------------------------------------ the rocker out of its plane


SIZES = dict(
    thickness_mm=3.0,
    box_width_mm=40,
    tube_outer_mm=34.0,
    tube_wall_mm=3,
    rod_hole_mm=10,
    damper_hole_mm=10,
    rod_force_n=6000,
    damper_force_n=4000,
)


@pytest.fixture(scope="module")
def made():
    """Arms of 90 and 70 mm, 95 deg apart; 3 mm plates 40 apart."""
    turn = math.radians(95)
    return boxed_of(
        (90.0, 0.0),
        (70 * math.cos(turn), 70 * math.sin(turn)),
        **SIZES,
    )


ALONG = 500.0  # N along the axis at the rod's eye


def along_the_axis(made):
    eye, none = np.array([*made.plate.rod_eye, 0.0]), np.zeros((1, 3))
    damper = np.array([*made.plate.damper_eye, 0.0])
    force = np.array([[0.0, 0.0, ALONG]])
    moment = -np.cross(eye, force)
    moment[:, 2] = 0
    return RockerForces(force, none, -force, moment, np.zeros(1), eye, damper)


def test_a_force_along_the_axis_bends_the_open_legs(made):
    """Two plates as legs of a frame, fixed at both ends: M = F/2·L/2 in each over W = b·t²/6; the couple that
    is left at the cut pulls one plate and presses the other, ±M/((gap + t)·A) (statics)."""
    r, c = along_the_axis(made), plates.cuts(made, "rod")
    s = plates.stresses(made, "rod", c, ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)))
    outer = ~c.boxed & ~c.inner
    assert outer.any()
    leg = ALONG / 2 * c.open_mm / 2 / (c.area_mm2 * 3 / 6)
    couple = ALONG * c.open_mm / 2 / (43 * c.area_mm2)
    assert s.out_mpa[0][outer] == pytest.approx((leg + couple)[outer], rel=1e-9)


def test_the_box_beside_it_bends_as_a_box(made):
    """σ = M·c/I with the plates as flanges 43 mm apart: I = 2·(A·21.5² + own), c = 23."""
    r, c = along_the_axis(made), plates.cuts(made, "rod")
    s = plates.stresses(made, "rod", c, ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)))
    own = c.area_mm2 * 3**2 / 12
    want = ALONG * (90 - c.at_mm) * 23 / (2 * (c.area_mm2 * 21.5**2 + own))
    assert c.boxed.any()
    assert s.out_mpa[0][c.boxed] == pytest.approx(want[c.boxed], rel=1e-9)


def test_a_cut_in_the_plane_is_balanced_by_what_stands_beyond_it(made):
    """Statics: 4000 N along and 3000 N square to the arm at its eye, 90 mm out on the arm's line, make at a
    cut N, V and M = V·(90 - a) less N times the eye's way off the cut's centre; stress N/A + M·c/I of both
    plates (beam theory). The same force at an eye 10 mm along the axis twists by 3000·10: the box takes
    T/(2·A_m·t), the strips F/(2·gap·t) of what is across."""
    c, eye = plates.cuts(made, "rod"), np.array([*made.plate.rod_eye, 0.0])
    force = np.array([[4000.0, 3000.0, 0.0]])
    none = np.zeros((1, 3)), np.array([*made.plate.damper_eye, 0.0])
    s = plates.stresses(made, "rod", c, ((force, eye), none))
    moment = 3000 * (90 - c.at_mm) + 4000 * c.centre_mm
    for edge, got in ((c.low_mm, s.low_mpa[0]), (c.high_mm, s.high_mpa[0])):
        want = 4000 / (2 * c.area_mm2) - moment * (edge - c.centre_mm) / (2 * c.inertia_mm4)
        assert got == pytest.approx(want, rel=1e-9)
    assert s.shear_mpa[0] == pytest.approx(1.5 * 3000 / (2 * c.area_mm2), rel=1e-9)
    strip = made.strips[0].thickness_mm
    inside = 43 * (c.high_mm - c.low_mm - strip)
    tilted = plates.stresses(made, "rod", c, ((force, eye + np.array([0.0, 0.0, 10.0])), none))
    assert tilted.twist_mpa[0][c.boxed] == pytest.approx((30e3 / (2 * inside * 3))[c.boxed], rel=1e-9)
    across = plates.stresses(made, "rod", c, ((np.array([[0.0, 0.0, ALONG]]), eye), none))
    twist = ALONG * np.abs(c.centre_mm) / (2 * inside * 3) + ALONG / (2 * 40 * strip)
    assert across.twist_mpa[0][c.boxed] == pytest.approx(twist[c.boxed], rel=1e-9)


def test_flow_along_the_strips(made):
    """Bredt and statics: a force along the axis flows down both strips, F/(2·depth), and its twist about the
    cut's centre round the box, T/(2·43·(depth - strip))."""
    r = along_the_axis(made)
    arms = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    (row,) = [x for x in welds.checks(entries(), r, made, arms, S235, S235) if "edge" in x.check]
    c, strip = arms["rod"], made.strips[0].thickness_mm
    depth = (c.high_mm - c.low_mm)[c.boxed]
    twist = ALONG * np.abs(c.centre_mm[c.boxed]).max()
    want = ALONG / (2 * depth) + twist / (2 * 43 * (depth - strip))
    assert row.demand == pytest.approx(want.max(), rel=1e-9)


def test_shear_flow_of_a_force_in_the_plane(made):
    """V·Q/(2·I) of the box: one strip's first moment over both edges of it (beam theory)."""
    eye, none = np.array([*made.plate.rod_eye, 0.0]), np.zeros((1, 3))
    force = np.array([[0.0, 3000.0, 0.0]])
    r = RockerForces(force, none, -force, none, np.zeros(1), eye, np.array([*made.plate.damper_eye, 0.0]))
    arms = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    (row,) = [x for x in welds.checks(entries(), r, made, arms, S235, S235) if "edge" in x.check]
    c, strip = arms["rod"], made.strips[0].thickness_mm
    lever = ((c.high_mm - c.low_mm)[c.boxed] - strip) / 2
    inertia = 2 * c.inertia_mm4[c.boxed] + 2 * 40 * strip * lever**2
    assert row.demand == pytest.approx((3000 * 40 * strip * lever / (2 * inertia)).max(), rel=1e-9)


def test_pivot_tube_and_its_welds(made):
    """σ = M/W with M = R·(gap + t)/4 + the moment square to the axis, τ = T/W_t; one fillet a plate with half
    of force and torque, and the moment as a couple of the two plates (statics)."""
    eye = np.array([*made.plate.rod_eye, 0.0])
    none = np.zeros((1, 3))
    r = RockerForces(
        none,
        none,
        np.array([[3000.0, 4000.0, 600.0]]),
        np.array([[43e3, 0.0, 0.0]]),
        np.array([300.0]),
        eye,
        eye,
    )
    w = math.pi / 32 * (34**4 - 28**4) / 34
    bending, twist = (5000 * 43 / 4 + 43e3) / w, 300e3 / (2 * w)
    row = tubes.pivot_tube(entries(), r, made, S235)[0]
    assert (row.demand, row.resistance) == pytest.approx((math.sqrt(bending**2 + 3 * twist**2), 235))
    arms = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    row = welds.checks(entries(), r, made, arms, S235, S235)[0]
    turn = 2 * math.pi * 17
    along = (2500 + 1000) / turn + 150e3 / (turn * 17)
    assert row.demand == pytest.approx(math.hypot(along, 300 / turn), rel=1e-6)


# ------------------------------------------------------------ frame tubes between their nodes

UP, ALONG_TUBE = np.array([0.0, 60.0, 0.0]), 200.0


def test_a_tube_under_a_bracket_that_stands_off_it():
    """Row R1: SHS 25 x 25 x 3, 500 mm; 400 sideways, 1000 up, 800 N along, 60 mm above the axis at 200 mm."""
    force = np.array([[400.0, 1000.0, 800.0]])
    load = Load(ALONG_TUBE, force, np.cross(UP, force))
    before, after = (cut(500, [load], ALONG_TUBE, b) for b in (True, False))
    assert [abs(c.bend_x_nmm[0]) / 1e3 for c in (before, after)] == pytest.approx([139.2, 91.2], rel=1e-6)
    assert abs(before.bend_y_nmm[0]) == pytest.approx(48e3)
    assert [abs(c.torque_nmm[0]) / 1e3 for c in (before, after)] == pytest.approx([14.4, 9.6], rel=1e-6)
    shs = rectangular_tube(25, 25, 3)
    assert frame_tubes.stress_mpa(shs, False, before) == pytest.approx([130.89348], rel=1e-4)


def test_a_moment_jumps_where_it_comes_in():
    """Row R2, single span of 400 mm: 200 N·m at 150 mm bends 75 before and 125 after."""
    load = Load(150.0, np.zeros((1, 3)), np.array([[200e3, 0.0, 0.0]]))
    found = [abs(cut(400, [load], 150, b).bend_x_nmm[0]) / 1e3 for b in (True, False)]
    assert found == pytest.approx([75, 125])
    with pytest.raises(ValueError, match="at_mm is 500"):
        cut(400, [load], 500, True)


# ------------------------------------------------------------ threads, leaves, bought joints


def test_threads_strip_where_the_handbook_says():
    """Row C11: the engagement at which M12, M10 of 800 MPa breaks first in steel of 800 and of 360 MPa; shear
    half of the tensile strength."""
    for size, nut, length in (("M12", 800, 7.078043), ("M12", 360, 11.353596), ("M10", 360, 9.3758277)):
        screw = thread(size)
        strips = thread_strip_n(screw, length, 400, nut / 2)
        assert strips == pytest.approx(800 * screw.stress_area_mm2, rel=2e-3)


def test_thread_in_the_insert_of_a_rod():
    """0.75·π·D1·L of the stem at 235/√3 (D1 10.106 of M12, ISO 724), L the engagement less two pitches."""
    made = Rod(450, 20, 2, "M12")
    rows = by_name(rods.checks(entries(), "rod", made, np.array([9000.0]), STEELS["S355"], "rod"))
    length = made.engagement_mm - 3.5
    want = 0.75 * math.pi * 10.106 * length * 235 / math.sqrt(3)
    row = rows["thread in the insert"]
    assert (row.demand, row.resistance) == pytest.approx((9000, want), rel=1e-4)


def test_nut_and_pull_of_a_bolt():
    """M10 8.8: nut 8.4 high (ISO 4032) less two pitches, 0.75·π·8.376 at 800/2/1.25; pull 33 408 N (B4)."""
    joint = EyeJoint("x", 3, 10, 40, S235, Bolt("M10"), 14, 0, "t", "r")
    rows = by_name(checks(entries(), joint, np.array([1e4]), np.array([-3000.0])))
    assert rows["thread of the nut"].demand == rows["pull in the bolt"].demand == pytest.approx(3000)
    assert rows["thread of the nut"].resistance == pytest.approx(0.75 * math.pi * 8.376 * 5.4 * 320, rel=1e-3)
    assert rows["pull in the bolt"].resistance == pytest.approx(33_408, rel=3e-3)


def test_edges_of_a_leaf_that_cannot_warp():
    """Row T19: 32 x 4 mm, 480 mm, 22 deg: 702.58 MPa at the mouth; 0.9 of a known tensile strength."""
    spec = SimpleNamespace(
        kind="leaf-pack",
        leaves=5,
        leaf_width=32.0,
        leaf_thickness=4.0,
        length=480.0,
        shear_modulus=79_300.0,
        tensile_strength=None,
    )
    row = spring.leaf_edges(spec, {"ride": 5.0, "bump": -22.0, "damper_top_out": 40.0}, {"bump": 55.0})[0]
    assert (row.demand, row.resistance, row.level) == (pytest.approx(702.58363, rel=1e-6), 1100.0, "warn")
    spec.tensile_strength = 700.0
    row = spring.leaf_edges(spec, {"bump": 22.0}, {})[0]
    assert row.resistance == pytest.approx(630)
    assert row.options[0].changes == {"spring.length": 550.0, "spring.leaves": 6}  # its rate stays
    spec.length = 550.0
    assert spring.leaf_edges(spec, {"bump": 22.0}, {})[0].ok


def test_how_far_bought_joints_swing():
    """Parallel equal arms of 300 mm, kingpin upright: over 50 mm each way both arms and the tie rod swing
    asin(50/300) (row K9's corner); the tie rod as much off the rack's line."""
    none = SimpleNamespace(joint_rating=None, joint_swing=None)
    job = SimpleNamespace(
        upper_arm=SimpleNamespace(joint_rating=2000.0, joint_swing=9.0),
        lower_arm=none,
        tie_rod=SimpleNamespace(rack_travel=1e-6, **vars(none)),
        rod=SimpleNamespace(kind="push", rod_end=SimpleNamespace(static_rating=None, swing=None)),
    )
    f = entries(upper_joint_n=[[0.0, 900.0, 1200.0]], tie_rod_n=[-700.0])
    rows, words = bought.checks(job, Mechanism(planar()), f, (-50.0, 50.0))
    found = {(r.item, r.check): r for r in rows}
    swing = math.degrees(math.asin(50 / 300))
    assert found["upper ball joint", "swing"].demand == pytest.approx(swing, rel=1e-6)
    assert (found["upper ball joint", "swing"].resistance, found["upper ball joint", "swing"].ok) == (
        9,
        False,
    )
    assert found["upper ball joint", "swing"].options[0].changes == {"upper_arm.joint_swing": 10.0}
    rating = found["upper ball joint", "rating"]
    assert (rating.demand, rating.resistance) == pytest.approx((1500, 2000))
    told = " ".join(words)
    for item in ("lower ball joint", "tie rod, outer end", "tie rod, inner end"):
        assert f"{item}: bought; it must swing {swing:.1f} deg" in told
    assert "bear 700 N before" in told


# ------------------------------------------------------------ feet of brackets


def test_wall_under_a_foot():
    """Row B23: yield lines of a face, 20 x 20 on 40 x 40 x 3, 40 x 40 x 2 and 25 x 25 x 3, fy 235; a plate
    standing across a round tube, (4 + 20·β²)·fy·t², along it 5·(1 + η/4)·fy·t² (EN 1993-1-8 Table 7.3)."""
    found = [hollow.face_resistance(t, b, 20, 20, 235).force_n for t, b in ((3, 40), (2, 40), (3, 25))]
    assert found == pytest.approx([16194.247, 7197.443, 35837.135], rel=1e-5)
    across = hollow.round_resistance(2, 40, 20, 5, 235, False)
    assert across == pytest.approx((940 * 9, 940 * 9 * 2.5, 940 * 9 * 10))
    assert hollow.round_resistance(2, 40, 5, 40, 235, True).force_n == pytest.approx(940 * 6.25)


def test_face_in_bending_is_the_handbook_row():
    """EN 1993-1-8 Table 7.14, β = η = 0.5, unit fy·t² = 2115: along 20·(1 + 2/√0.5 + 1), across 20·1.5 +
    √(2·40·20·3)."""
    r = hollow.face_resistance(3, 40, 20, 20, 235)
    assert r.along_nmm == pytest.approx(2115 * 20 * (2 + 2 * math.sqrt(2)), rel=1e-9)
    assert r.across_nmm == pytest.approx(2115 * (30 + math.sqrt(4800)), rel=1e-9)


def test_what_a_face_holds_of_a_plate_across_it():
    """EN 1993-1-8 Table 7.13 by hand: 10·3/40·(235·3)/(275·5)·30 = 11.536 mm; never more than the plate."""
    assert hollow.held_width_mm(30, 40, 3, 235, 5, 275) == pytest.approx(11.5364, rel=1e-5)
    assert hollow.held_width_mm(30, 40, 8, 355, 3, 235) == 30


def test_the_weld_of_a_standing_foot():
    """Row B25, simplified: run 60 less 2·3, lines 6 mm apart, 40 mm under the bolt; use 0.21577 of 623.54."""
    tab = SimpleNamespace(thickness_mm=6.0, run_mm=54.0, reach_mm=40.0, foot="butt")
    weld = brackets.foot_weld(tab)
    assert weld.length_mm == 108
    flow = weld.worst_n_per_mm(np.array([-1500.0, 2000.0, 300.0]), np.zeros(3), np.array([0.0, 0.0, 3.0]))
    sigma = 133.23045, 2.7777778, 18.518519
    assert flow[0] == pytest.approx(math.sqrt(sum(x * x for x in sigma)), rel=1e-4)
    assert flow[0] / (3 * F_VW) == pytest.approx(0.21576859, rel=1e-4)
    assert brackets.foot_weld(tab, None, 20.0).runs[:, :, 1].ravel() == pytest.approx(
        [-27, -17, -27, -17, 17, 27, 17, 27]
    )


@pytest.fixture(scope="module")
def pair():
    """Two tabs 5 mm thick, 20 mm from middle to middle, plates 40 wide, bolt 40 mm before a 40 x 40 x 3 tube
    that runs along the feet; (1000, 600, 400) N on the eye."""
    plate = Outline(rectangle(-20, -20, 40, 20), holes=(Hole(0, 0, 10, "eye"),))

    def tab(z):
        return Tab(plate, 5.0, Frame((0.0, 0.0, z), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)), "butt", 40.0, 40.0)

    member = Member.square((60, -200, 2.5), (60, 200, 2.5), 40, 3)
    force = np.array([[1000.0, 600.0, 400.0]])
    return brackets.LoadedBracket(
        "b", (tab(-10.0), tab(10.0)), member, force, Bolt("M10"), 14, S235, S235, "x.plate"
    )


def test_tabs_of_a_bracket(pair):
    """Half the force each; along the bolt legs of a frame with the point of no moment half way: 4000 N·mm at
    the foot, and 400 N of pull in one and push in the other (statics). σ = N/A + M/W 0.25 mm before the
    foot, A = 200, W = 5·40²/6; out of the plane W = 40·5²/6."""
    rows = by_name(brackets._plate(entries(), pair, pair.tabs[0], pair.local(pair.tabs[0])))
    assert rows["tabs, in their plane"].demand == pytest.approx(900 / 200 + 300 * 39.75 / (5 * 40**2 / 6))
    assert rows["tabs, out of their plane"].demand == pytest.approx(
        4000 * (2 * 39.75 / 40 - 1) / (40 * 25 / 6)
    )


def test_the_tube_under_a_bracket(pair):
    """900/N + 300·40/M_along + 4000/M_across by row B23's yield lines, foot 40 along, 5 across the face; of
    M_along 0.7 counts: solid elements, `assemblies.bench.elements`."""
    (row,) = brackets._wall(entries(), pair, pair.tabs[0], pair.local(pair.tabs[0]))
    r = hollow.face_resistance(3, 40, 5, 40, 235)
    want = 900 / r.force_n + 12_000 / (0.7 * r.along_nmm) + 4000 / r.across_nmm
    assert row.demand == pytest.approx(want, rel=1e-9)


def test_the_weld_of_a_brackets_foot(pair):
    """Two lines of 40 less two throats, 5 mm apart; at their middle 900, 300, 200 N, 4000 N·mm across and
    12 000 in the plane: the worst end by hand (row B25's way)."""
    (row,) = brackets._foot(entries(), pair)
    run = 40 - 2 * 3 / math.sqrt(2)
    off = 900 / (2 * run) + 4000 / (5 * run) + 12_000 * 3 / run**2
    want = math.sqrt(off**2 + (300 / (2 * run)) ** 2 + (200 / (2 * run)) ** 2)
    assert (row.demand, row.resistance) == pytest.approx((want, F_VW * 3 / math.sqrt(2)), rel=1e-6)
    ends = 2.25 * 3  # of the whole run, what counts where nothing yields: solid elements
    off = 900 / (2 * ends) + 4000 / (5 * ends) + 12_000 * 20 / ((40**3 - (40 - ends) ** 3) / 6)
    stiff = math.sqrt(off**2 + (300 / (2 * ends)) ** 2 + (200 / (2 * ends)) ** 2)
    (detail,) = fatigue.of_welds([row])
    assert detail.stress_mpa == pytest.approx(stiff / (3 / math.sqrt(2)), rel=1e-6)


def test_an_arms_tube_with_the_rod_on_it():
    """Row C14's way: 5000 N along the tube from (300, 115), 300 N across it, the rod's bolt 60 mm along the
    arm: N/N_b,Rd + M/(1 - N/N_cr)/(W·fy); its weld at the pivot F/2πr across, N/2πr + F·e/πr² along. Of the
    joint's 200 N and 600 N each tube has half, at half the boss."""
    part = Arm((300.0, 115.0), (300.0, -115.0), 22.0, 3.0)
    u = np.array([300.0, 115.0, 0.0]) / math.hypot(300, 115)
    none = np.zeros((1, 3))
    force = (-5000 * u + [0, 0, 300])[None]
    f = replace(
        entries(),
        upper_arm=ArmForces(np.array([[0.0, 200.0, 600.0]]), force, none),
        turns={"upper_arm": np.eye(3)[None]},
        points={"rod_outboard": np.array([[60.0, 0, 0]]), "upper_outer": none},
    )
    rows = {(r.item, r.check): r for r in tubes.arm(f, "upper_arm", part, np.eye(3), S235, True)}
    length, s = math.hypot(300, 115), round_tube(22, 3)
    strut = buckling_resistance(s.area_mm2, s.i_y_mm4, length, 235, "c")
    moment = 300 * (length - 60 * u[0]) / (1 - 5000 / strut.euler_n)
    want = 5000 / strut.resistance_n + moment / (s.w_el_y_mm3 * 235)
    assert rows["upper arm, front tube", "strut or tie with bending"].demand == pytest.approx(want, rel=1e-9)
    turn = 2 * math.pi * 11
    off = 5000 / turn + 300 * part.housing_mm / 2 / (math.pi * 121)
    weld = rows["upper arm, front tube", "weld at the pivot's housing"]
    assert weld.demand == pytest.approx(math.hypot(300 / turn, off), rel=1e-9)
    assert weld.resistance == pytest.approx(F_VW * 3 / math.sqrt(2)) and weld.seam.category_mpa == 36.0
    boss = rows["upper arm, front tube", "weld at the joint's boss"]
    off = 5000 / turn + 300 * part.boss_mm / 2 / (math.pi * 121)
    assert boss.demand == pytest.approx(math.hypot(math.hypot(100, 300) / turn, off), rel=1e-9)


def test_twist_of_an_arms_tube_by_its_lug():
    """A sleeve square through a 22 x 3 tube, 40 mm off its middle and 3 mm over its axis: 1000·40 + 500·3."""
    sleeve = LugSleeve(12.0, 4.0, 80.0, 22.0, 3.0, 3.0, 40.0, 90.0, True)
    arm = Arm((300.0, 115.0), (300.0, -115.0), 22.0, 3.0)
    row = lug._tube(entries(), "upper_arm", arm, sleeve, np.array([[1000.0, 0.0, 500.0]]), S235)[0]
    c_t = math.pi / 16 * (22**4 - 16**4) / 22
    assert row.demand == pytest.approx((1000 * sleeve.along_mm + 500 * 3) / c_t, rel=1e-9)


def test_shear_and_twist_of_the_rockers_plates(made):
    """3000 N in the plane at an eye 6 mm out of the middle: 1.5·V/A over both plates (rectangle); the twist
    T = 18 N·m in each open plate b·t²/3 (Saint-Venant, thin), round the box T/(2·A·t) (Bredt)."""
    c, eye = plates.cuts(made, "rod"), np.array([*made.plate.rod_eye, 6.0])
    none, damper = np.zeros((1, 3)), np.array([*made.plate.damper_eye, 0.0])
    s = plates.stresses(made, "rod", c, ((np.array([[0.0, 3000.0, 0.0]]), eye), (none, damper)))
    assert s.shear_mpa[0] == pytest.approx(1.5 * 3000 / (2 * c.area_mm2))
    open_, strip = ~c.boxed, made.strips[0].thickness_mm
    assert s.twist_mpa[0][open_] == pytest.approx((18e3 / (2 * c.area_mm2 * 3 / 3))[open_], rel=1e-9)
    round_ = 18e3 / (2 * 43 * (c.high_mm - c.low_mm - strip) * min(3, strip))
    assert s.twist_mpa[0][c.boxed] == pytest.approx(round_[c.boxed], rel=1e-9)


def test_a_free_edge_is_a_strut_of_the_plates_thickness():
    """EN 1993-1-1 6.3.1, curve c, λ̄ = L·√12/t·√(fy/E)/π, L the length of edge without a strip: a rocker
    without strips."""
    bare = boxed_of((110.0, 0.0), (-20.0, 70.0), strip_mm=0.0, gusset_mm=0.0, **SIZES)
    eye, none = np.array([*bare.plate.rod_eye, 0.0]), np.zeros((1, 3))
    force = np.array([[0.0, 3000.0, 0.0]])
    r = RockerForces(force, none, -force, none, np.zeros(1), eye, np.array([*bare.plate.damper_eye, 0.0]))
    arms = {"rod": plates.cuts(bare, "rod")}
    (row,) = [x for x in plates.checks(entries(), r, bare, arms, S235) if "free edge" in x.check]
    length = float(row.note.split(" ")[0])
    slender = length * math.sqrt(12) / 3 * math.sqrt(235 / 210_000) / math.pi
    assert slender > 0.8
    assert row.resistance == pytest.approx(reduction_factor(slender, "c") * 235, rel=0.02)
    c = arms["rod"]
    pressed = 3000 * (110 - c.at_mm) * (c.high_mm - c.centre_mm) / (2 * c.inertia_mm4)
    assert row.demand == pytest.approx(pressed.max(), rel=1e-6)


def test_the_row_of_a_frame_tube():
    """Row R1 in the car's axes: a rail along x, the eye 60 mm over it; M, T and von Mises as there."""
    rail = Member.square((-100, 0, 0), (700, 0, 0), 25, 3)
    pull = frame_tubes.Pull("b", "rail", np.array([100.0, 0, 60]), np.array([[800.0, 400, 1000]]))
    (row,) = frame_tubes._span(entries(), rail, "rail", 0.0, 500.0, [pull], S235)
    assert (row.demand, row.resistance, row.level) == (pytest.approx(130.89348, rel=1e-4), 235, "warn")
    assert "500 mm between nodes, M 147" in row.note  # 139.2 and 48 N·m as a vector


def test_net_section_of_an_eye_in_fatigue(made):
    """F over both plates' metal beside the hole, 2·3·(2·R - 10)."""
    from assemblies.strength.by_part import rocker_details

    eye, none = np.array([*made.plate.rod_eye, 0.0]), np.zeros((1, 3))
    force = np.array([[3000.0, 0.0, 0.0]])
    r = RockerForces(force, none, -force, none, np.zeros(1), eye, np.array([*made.plate.damper_eye, 0.0]))
    arms = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    found = {(d.item, d.detail): d for d in rocker_details(made, arms, r)}
    net = 6 * (2 * made.plate.eye_boss("rod").radius_mm - 10)
    assert found["rocker, rod eye", "net section at the hole"].stress_mpa == pytest.approx(3000 / net)


# ------------------------------------------------------------ the rest of the table, each value once


def test_a_rods_strut_tie_stem_and_welds():
    """Row C8's elastic load and EN 1993-1-1 6.3.1 curve c written out: λ̄ = √(A·fy/N_cr), φ = (1 + 0.49·(λ̄ -
    0.2) + λ̄²)/2, χ = 1/(φ + √(φ² - λ̄²)). Tube 20 x 2 of S355: A 113.09734; stems M12, 84.27 mm², of 400 MPa
    as given; the insert's fillet as thick as the wall; a maker's rating of 12 kN."""
    from parts.calc.columns import stepped_strut_load_n

    made = Rod(450, 20, 2, "M12")
    critical = stepped_strut_load_n(
        made.eye_to_face_mm, math.pi / 64 * made.screw.root_mm**4, round_tube(20, 2).i_y_mm4, 450
    )
    squash = 113.09734 * 355
    slender = math.sqrt(squash / critical)
    phi = (1 + 0.49 * (slender - 0.2) + slender**2) / 2
    chi = 1 / (phi + math.sqrt(phi**2 - slender**2))
    push = by_name(rods.checks(entries(), "rod", made, np.array([-9000.0]), STEELS["S355"], "rod", 12e3, 400))
    pull = by_name(rods.checks(entries(), "rod", made, np.array([9000.0]), STEELS["S355"], "rod", 12e3, 400))
    assert (push["strut"].demand, push["strut"].resistance) == pytest.approx((9000, chi * squash), rel=1e-6)
    assert (pull["tie, tube"].demand, pull["tie, tube"].resistance) == pytest.approx((9000, squash))
    assert (push["tie, tube"].demand, pull["strut"].demand) == (0, 0)
    assert (push["rod end"].demand, push["rod end"].resistance) == (9000, 12_000)
    for check, limit in (("bowed strut, tube", 355), ("bowed strut, stem", 400), ("stem in tension", 400)):
        assert push[check].resistance == limit
    s355 = 470 / (math.sqrt(3) * 0.9 * 1.25)  # EN 10025-2:2019
    assert push["weld of the insert"].resistance == pytest.approx(s355 * 2 / math.sqrt(2), rel=1e-6)
    weak = by_name(rods.checks(entries(), "rod", made, np.array([-30e3]), STEELS["S355"], "rod", 12e3, 400))
    assert weak["rod end"].options[0].changes == {"rod.rod_end.static_rating": 30_000.0}


def test_metal_round_an_eye():
    """Row L3 doubled, N_d 1 here: tension 2·2·9.7963911, splitting 2·2·10.475212 kN; tear-out at a round end:
    row L6 takes off what the round end lacks. EN 1993-1-8 Table 3.9 type A by hand: (16 - 2·17/3)·2·6·235."""
    joint = EyeJoint("x", 3, 17, 24.5, S235, Bolt("M16"), 16, 0, "t", "r")
    rows = by_name(checks(entries(), joint, np.array([7e3]), np.array([0.0])))
    beyond = (16 - 2 * 17 / 3) * 2 * 6 * 235
    for check, resistance in (
        ("net section beside the hole", 4 * 9796.3911),
        ("splitting behind the hole", 4 * 10475.212),
        ("metal beyond the hole", beyond),
    ):
        assert (rows[check].demand, rows[check].resistance) == pytest.approx((7000, resistance), rel=1e-6)
    half = 8 * math.sin(math.radians(51.764706))
    lost = 24.5 - math.sqrt(24.5**2 - half**2)
    torn = 4 * 12000.782 * (1 - 2 * 3 * lost / 114.29317)  # two planes, each shorter by what is lost
    assert (rows["tear-out"].demand, rows["tear-out"].resistance) == pytest.approx((7000, torn), rel=2e-3)


def test_clocking_bolts_and_the_sockets_window(chain):
    """Two bolts straight across at the circle's radius: T/(2·r) (row B18) against an M8 8.8 (row B1), bearing
    α·k1·fu·d·t/1.25 with e1 = e2 = 1.5·d0, α 0.5, k1 2.5 (row B5's way); pressure 6·T/(32²·depth) (row
    B26); outer tube of the sleeve: α = e1/(3·d0), e1 round its middle to the next hole's edge, and its
    torsion at the holes."""
    socket, sleeve, rows = chain
    (radius, *_) = AnchorPlates(socket, 44).circles_mm
    row = rows["anchor plates", "clocking bolts in shear"]
    assert row.demand == pytest.approx(350e3 / (2 * radius))
    assert row.resistance == pytest.approx(14054.4, rel=3e-3)
    row = rows["anchor plates", "bearing of the clocking bolts"]
    assert (row.demand, row.resistance) == pytest.approx(
        (350e3 / (2 * radius), 0.5 * 2.5 * 360 * 8 * 6 / 1.25)
    )
    row = rows["spring socket", "pressure in the window"]
    assert (row.demand, row.resistance) == pytest.approx((6 * 350e3 / (32**2 * socket.depth_mm), 235))
    row = rows["sleeve", "bearing of the cross bolt, outer tube"]
    gaps = []
    for ring in sleeve.rows:
        places = sorted((a + half) % 360 for a in ring.second for half in (0, 180))
        gaps += [b - a for a, b in zip(places, [*places[1:], places[0] + 360], strict=True)]
    ahead = math.radians(min(gaps)) * (45 - 3.1) / 2 - 4
    assert ahead / 24 < 1
    assert row.resistance == pytest.approx(ahead / 24 * 2.5 * 360 * 8 * 3.1 / 1.25)
    left = 1 - max(len(r.second) for r in sleeve.rows) * 16 / (math.pi * (45 - 3.1))
    tau = 350e3 * 22.5 / (math.pi / 32 * (45**4 - 38.8**4)) / left
    row = rows["sleeve", "torsion at the holes, outer tube"]
    assert (row.demand, row.resistance) == pytest.approx((tau, 235 / math.sqrt(3)), rel=1e-6)
    found = {d.detail: d for d in spring.details(entries(spring_nm=[350.0]), sleeve, True)}
    assert found["holes of the outer tube"].stress_mpa == pytest.approx(4 / 3 * tau, rel=1e-6)
    categories = {k: (d.category_mpa, d.shear) for k, d in found.items()}
    assert categories == {
        "holes of the inner tube": (90.0, False),
        "holes of the outer tube": (90.0, False),
        "cross bolt": (100.0, True),
    }


def test_shear_of_the_springs_bar_at_its_worst_end():
    """What the spring's twist makes, at the greater end, against 0.5·Rm (EN 13906-1 as an analogue)."""
    spec = SimpleNamespace(tensile_strength=1200.0, preset=False, kind="solid-bar", length=500.0)
    stress_mpa = {"ride": 300.0, "droop": -120.0, "bump": 660.0, "damper_top_out": 900.0}
    (row,) = spring.stress(entries(), spec, stress_mpa, {"bump": 55.0})
    assert (row.demand, row.resistance, row.wheel_mm) == (660.0, 600.0, 55.0)
    assert row.options[0].changes == {"spring.length": 570.0}  # 500·1.1 and 2 per cent to be sure


def plate_rows(made, force, eye):
    none, damper = np.zeros((1, 3)), np.array([*made.plate.damper_eye, 0.0])
    force = np.array([force], float)
    moment = -np.cross(eye, force)
    moment[:, 2] = 0
    r = RockerForces(force, none, -force, moment, np.zeros(1), np.array(eye), damper)
    rows = plates.checks(entries(), r, made, {"rod": plates.cuts(made, "rod")}, S235)
    return {x.check: x for x in rows}


def test_rows_of_the_rockers_plates(made):
    """By the sections of the arm: N/A + M/W at the worse edge of both plates, 1.5·V/(2·A); out of the plane
    and twisted as the tests above hold them; all together √((σ + σ)² + 3·(τ + τ)²); fy and fy/√3."""
    c, eye = plates.cuts(made, "rod"), (*made.plate.rod_eye, 6.0)
    rows = plate_rows(made, (800.0, 3000.0, 400.0), eye)
    far = 3000 * (90 - c.at_mm) + 800 * c.centre_mm  # about the section's own centre
    edges = np.maximum(
        np.abs(800 / (2 * c.area_mm2) + far * (c.low_mm - c.centre_mm) / (2 * c.inertia_mm4)),
        np.abs(800 / (2 * c.area_mm2) + far * (c.high_mm - c.centre_mm) / (2 * c.inertia_mm4)),
    )
    other = np.maximum(
        np.abs(800 / (2 * c.area_mm2) - far * (c.low_mm - c.centre_mm) / (2 * c.inertia_mm4)),
        np.abs(800 / (2 * c.area_mm2) - far * (c.high_mm - c.centre_mm) / (2 * c.inertia_mm4)),
    )
    plane = rows["tension and bending in the plane"]
    assert plane.demand == pytest.approx(max(edges.max(), other.max()), rel=0.02)
    assert rows["shear in the plane"].demand == pytest.approx(1.5 * 3000 / (2 * c.area_mm2.min()))
    none, damper = np.zeros((1, 3)), np.array([*made.plate.damper_eye, 0.0])
    pairs = ((np.array([[800.0, 3000.0, 400.0]]), np.array(eye)), (none, damper))
    s = plates.stresses(made, "rod", c, pairs)
    both = (s.in_plane_mpa + s.out_mpa) ** 2 + 3 * (s.shear_mpa + s.twist_mpa) ** 2
    assert rows["all together"].demand == pytest.approx(math.sqrt(both.max()))
    assert rows["bending out of the plane"].demand == pytest.approx(s.out_mpa.max())
    assert rows["twist"].demand == pytest.approx(s.twist_mpa.max())
    for check in ("tension and bending in the plane", "bending out of the plane", "all together"):
        assert rows[check].resistance == 235
    for check in ("shear in the plane", "twist"):
        assert rows[check].resistance == pytest.approx(235 / math.sqrt(3))


def test_edge_of_the_hollow_by_a_second_route():
    """Winkler and Bach on cuts square to the hollow's edge, sections read off a polygon by shapely (an
    outside library), times 1.3 beside the tube, a bound of finite elements (tests/test_fea.py)."""
    import shapely

    made = boxed_of((90.0, 0.0), (-10.0, 70.0), waist_radius_mm=60.0, **SIZES)
    plate, arc = made.plate, made.plate.waist_arc
    ring = [s.at(k / 60) for s in plate.outline().outer.segments for k in range(60)]
    metal, force, most = shapely.Polygon(ring), np.array([500.0, 3000.0]), 0.0
    for share in np.linspace(0.02, 0.98, plates.HOLLOW_CUTS):
        p, centre = np.array(arc.at(float(share))), np.array(arc.centre)
        into = (p - centre) / math.dist(p, centre)
        across = np.array([-into[1], into[0]])
        across = across if (np.array(plate.rod_eye) - p) @ across > 0 else -across
        if p @ across < 17 or (np.array(plate.damper_eye) - p) @ across > 0:
            continue
        line = shapely.LineString([p, p + 200 * into]).intersection(metal)
        pieces = getattr(line, "geoms", [line])
        depth = next(g for g in pieces if g.distance(shapely.Point(p)) < 0.1).length
        r, middle = arc.radius, p + depth / 2 * into
        neutral = depth / math.log((r + depth) / r)
        arm = np.array(plate.rod_eye) - middle
        moment = arm[0] * force[1] - arm[1] * force[0]
        turn = across[0] * into[1] - across[1] * into[0]
        # Winkler and Bach: σ = M·(r_n - r_i)/(A·e·r_i) at the inner edge
        bent = moment * turn * (neutral - r) / (3 * depth * (r + depth / 2 - neutral) * r)
        most = max(most, 1.3 * abs(force @ across / (6 * depth) + bent / 2))
    row = plate_rows(made, (500.0, 3000.0, 0.0), (*plate.rod_eye, 0.0))["edge stress"]
    assert (row.demand, row.resistance) == (pytest.approx(most, rel=0.01), 235)


def test_fatigue_of_the_rockers_details(made):
    """The worst cut of an arm in its plane and out of it at category 125, from the weld's toe on at 71; the
    holes at 90, stems at 50 over the stress area (EN 1993-1-9 Tables 8.1 and 8.5)."""
    from assemblies.strength.by_part import rocker_details

    eye, none = np.array([*made.plate.rod_eye, 0.0]), np.zeros((1, 3))
    force = np.array([[700.0, 1500.0, 200.0]])
    r = RockerForces(force, none, -force, none, np.zeros(1), eye, np.array([*made.plate.damper_eye, 0.0]))
    arms = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    found = {(d.item, d.detail): d for d in rocker_details(made, arms, r)}
    c = arms["rod"]
    s = plates.stresses(made, "rod", c, ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)))
    sigma = s.in_plane_mpa[0] + s.out_mpa[0]
    toe = c.at_mm >= 17 + made.plate.leg_mm - 1e-6
    edge = found["rocker plates, rod arm", "cut edge"]
    weld = found["rocker plates, rod arm", "toe of the pivot tube's weld"]
    assert (edge.stress_mpa, edge.category_mpa) == (pytest.approx(sigma.max()), 125.0)
    assert (weld.stress_mpa, weld.category_mpa) == (pytest.approx(sigma[toe].max()), 71.0)
    assert found["rocker, rod eye", "net section at the hole"].category_mpa == 90.0


def test_the_seams_of_each_row(chain, made, pair):
    """Category 36 where a seam is pulled or bent (EN 1993-1-9 Table 8.5 detail 3), 80 with one slope where it
    is twisted or sheared along its run alone (detail 8), on the throat of the row's resistance."""
    arm = {arm: plates.cuts(made, arm) for arm in ("rod", "damper")}
    rod = Rod(450, 20, 2, "M12")
    rows = [
        *chain[2].values(),
        *welds.checks(entries(), along_the_axis(made), made, arm, S235, S235),
        *rods.checks(entries(), "rod", rod, np.array([9000.0]), S235, "rod"),
        *brackets._foot(entries(), pair),
    ]
    seams = {r.check: r.seam for r in rows if r.seam}
    along = {
        "weld between its plates",
        "weld to the sleeve",
        "weld to the turning plate",
        "weld along the edge",
    }
    assert {k for k, s in seams.items() if s.shear} == along
    for r in rows:
        if r.seam:
            assert (r.seam.category_mpa, r.seam.shear) in ((36.0, False), (80.0, True))
            assert r.resistance == pytest.approx(F_VW * r.seam.throat_mm, rel=1e-6)
    assert {"weld all round", "weld of the insert", "weld of the foot"} <= seams.keys() - along
    arm_rows = arm_rows_by_hand()
    boss = arm_rows["upper arm, front tube", "weld at the joint's boss"]
    assert boss.seam.category_mpa == 36.0 and boss.resistance == pytest.approx(F_VW * 3 / math.sqrt(2))


def arm_rows_by_hand():
    part = Arm((300.0, 115.0), (300.0, -115.0), 22.0, 3.0)
    u = np.array([300.0, 115.0, 0.0]) / math.hypot(300, 115)
    v = np.array([-u[1], u[0], 0.0])
    none = np.zeros((1, 3))
    f = replace(
        entries(),
        upper_arm=ArmForces(none, (4000 * u + 50 * v)[None], none),
        turns={"upper_arm": np.eye(3)[None]},
        points={"rod_outboard": none, "upper_outer": none},
    )
    return {(r.item, r.check): r for r in tubes.arm(f, "upper_arm", part, np.eye(3), S235, False)}


def test_the_weld_at_an_arms_joint():
    """4000 N along the tube and 50 N across it at the pivot, 321.3 mm away: N/2πr + 50·321.3/πr² off, 50/2πr
    along; the thicker wall that cures it is a key."""
    row = arm_rows_by_hand()["upper arm, front tube", "weld at the joint's boss"]
    off = 4000 / (22 * math.pi) + 50 * math.hypot(300, 115) / (math.pi * 121)
    assert row.demand == pytest.approx(math.hypot(off, 50 / (22 * math.pi)), rel=1e-6)
    assert row.remedy(1.2)[0].changes == {"upper_arm.tube_wall": 4.0}


def test_tabs_all_together(pair):
    """√((N/A + M/W + M/W out of the plane)² + 3·(1.5·V/A)²) at the worst of seven cuts from the hole to 0.25
    mm before the foot, 40 x 5 mm less the hole of 10: by hand at the foot, where this load is worst."""
    rows = by_name(brackets._plate(entries(), pair, pair.tabs[0], pair.local(pair.tabs[0])))
    sigma = 900 / 200 + 300 * 39.75 / (5 * 40**2 / 6) + 4000 * (2 * 39.75 / 40 - 1) / (40 * 25 / 6)
    tau = 1.5 * 300 / 200
    row = rows["tabs, all together"]
    assert row.demand == pytest.approx(math.sqrt(sigma**2 + 3 * tau**2))
    assert {r.resistance for r in rows.values()} == {235}
