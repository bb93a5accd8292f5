"""Parts for a script's own shapes: plates of many eyes, corner gussets, forks, spacers, the other hand.

Areas by hand formulas of plane geometry; masses against the kernel's volume; limits of EN 1993-1-8."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parts.clevis import Clevis
from parts.corner_gusset import CornerGusset
from parts.dxf import read_blank
from parts.eye_plate import Eye, EyePlate
from parts.files.measured import common_volume_mm3
from parts.files.solid import placed, solid
from parts.member import Member
from parts.other_hand import other_hand, pair
from parts.part import Flat
from parts.rocker_plate import RockerPlate
from parts.spacer import Spacer

STEEL = 7850e-9  # kg/mm³
FLOOR, WALL, END = ((0, 0, 0), (0, 0, 1)), ((0, 0, 0), (1, 0, 0)), ((0, 0, 0), (0, 1, 0))


def test_a_belt_round_four_equal_bosses_has_the_area_of_its_polygon_rim_and_disc():
    """A rectangle a by b of equal discs r under a tight belt: ab + 2(a + b)·r + π·r², less the holes; a fifth
    eye inside is only a hole."""
    corners = ((0, 0), (90, 0), (90, 60), (0, 60))
    eyes = tuple(Eye(p, 10, f"eye {k}", radius_mm=18) for k, p in enumerate(corners))
    plate = EyePlate((*eyes, Eye((45, 30), 12, "middle")), 4)
    area = 90 * 60 + 2 * 150 * 18 + math.pi * (18**2 - 4 * 25 - 36)
    assert plate.outline().area_mm2 == pytest.approx(area, rel=1e-9)
    assert plate.mass_kg == pytest.approx(area * 4 * STEEL, rel=1e-9)
    assert plate.solid().Volume() == pytest.approx(area * 4, rel=1e-6)


def test_two_eyes_and_a_pivot_are_the_rocker_plate():
    """The same belt by another route: the rocker plate's own, with its sized bosses and straight sides."""
    rocker = RockerPlate((92, 0), (-9.5, 69.3), 4, 38, 10, 10, waist_radius_mm=math.inf, jig_hole_mm=0)
    eyes = tuple(
        Eye((b.x, b.y), hole, radius_mm=b.radius_mm, fit=fit)
        for b, hole, fit in (
            (rocker.pivot_boss, 38, "weld"),
            (rocker.eye_boss("rod"), 10, "reamed"),
            (rocker.eye_boss("damper"), 10, "reamed"),
        )
    )
    assert EyePlate(eyes, 4).outline().area_mm2 == pytest.approx(rocker.outline().area_mm2, rel=1e-9)


def test_bosses_follow_the_force():
    """EN 1993-1-8 Tables 3.9 and 3.3 by hand: 6000·1.5/(2·6·275) + 2·10/3 + 5 = 14.39 mm for 10 mm holes in
    two plates of 3 mm. Round a welded tube of 38 mm in 4 mm plate 19 + 4 + 4."""
    rod, pivot = Eye((90, 0), 10, force_n=6000), Eye((0, 0), 38, fit="weld")
    assert EyePlate((rod, pivot), 3, plates=2).least_radius_mm(rod) == pytest.approx(14.394, abs=1e-3)
    assert EyePlate((rod, pivot), 4).least_radius_mm(pivot) == 27
    with pytest.raises(ValueError, match=r"least is 14\.39"):
        Clevis(22, 40, thickness_mm=3, hole_mm=10, radius_mm=14.3, force_n=6000)


@pytest.mark.parametrize(
    "wrong, said",
    (
        (lambda: EyePlate((Eye((0, 0), 10), Eye((20, 0), 10)), 4), r"apart; the least is 22.00 mm"),
        (lambda: EyePlate((Eye((0, 0), 10, "rod", radius_mm=11), Eye((60, 0), 10)), 4), "rod's radius is 11"),
        (lambda: EyePlate((Eye((0, 0), 10),), 4), "it needs at least 2"),
        (lambda: EyePlate((Eye((0, 0), 38, "pivot", fit="weld"), Eye((90, 0), 10)), 4, 1), "waist radius 1"),
        (
            lambda: EyePlate(
                (*(Eye((x, 0), 10, radius_mm=18) for x in (0, 90)), Eye((45, 0), 10, "mid")), 4, 60
            ),
            "comes within .* of mid's centre; the least is",
        ),
        (lambda: CornerGusset((FLOOR, FLOOR), (60, 60), 3), "0.0 deg from lying along each other"),
        (lambda: CornerGusset((FLOOR, WALL), (60,), 3), "2 planes and 1 legs"),
        (lambda: CornerGusset((FLOOR, WALL), (60, 15), 3), "leg 2 is 15 mm; the least is 22"),
        (lambda: CornerGusset((FLOOR, WALL, END), (24, 24, 24), 3), "give longer legs"),
        (lambda: CornerGusset((FLOOR, WALL), (60, 60), 3, relief="square"), 'relief is "square"'),
        (lambda: Clevis(20, 8), "reach is 8.00 mm"),
        (lambda: Clevis(20, 40, radius_mm=10), "radius is 10 mm; the least is"),
        (lambda: Spacer.of("M11", 10), "M11"),
    ),
)
def test_what_cannot_be_made_says_which_value_and_limit(wrong, said):
    with pytest.raises(ValueError, match=said):
        wrong()


def test_a_web_in_a_square_corner():
    """By hand: the polygon (0, 0), (60, 0), (60, 6), (6, 50), (0, 50) holds 1812 mm², the relief of 10 mm
    takes a quarter of π·10²; straight it takes 50."""
    web = CornerGusset((FLOOR, WALL), (60, 50), 3, gap_mm=0)
    assert web.outline().area_mm2 == pytest.approx(1812 - math.pi * 25, rel=1e-9)
    straight = CornerGusset((FLOOR, WALL), (60, 50), 3, gap_mm=0, relief="straight")
    assert straight.outline().area_mm2 == pytest.approx(1812 - 50, rel=1e-9)
    box = web.solid().BoundingBox()
    assert [box.xmin, box.xmax, box.ymin, box.ymax] == pytest.approx([0, 60, -1.5, 1.5], abs=1e-6)
    assert [box.zmin, box.zmax] == pytest.approx([0, 50], abs=1e-6)
    assert web.outline().bounds == pytest.approx((0, -50, 60, 0), abs=1e-9)  # x along the first edge
    assert web.seam_deg == pytest.approx((90, 90)) and web.stand_off_mm == pytest.approx((0, 0), abs=1e-9)


def test_a_plate_across_three_square_planes():
    """Legs L cut an equilateral triangle of side L·√2 out of the mid plane; it meets each plane at
    arccos(1/√3), so either face ends t/2·cot short of or past the mid plane's line, and the blank is the
    smaller triangle: its inradius less by t/(2·√2). The reliefs take three triangles of 10 mm."""
    across = CornerGusset((FLOOR, WALL, END), (80, 80, 80), 3, gap_mm=0)
    inradius = 80 * math.sqrt(2) * math.sqrt(3) / 6 - 3 / 2 / math.sqrt(2)
    area = 3 * math.sqrt(3) * inradius**2 - 3 * math.sqrt(3) / 4 * 100
    assert across.outline().area_mm2 == pytest.approx(area, rel=1e-9)
    assert across.seam_deg == pytest.approx([math.degrees(math.acos(1 / math.sqrt(3)))] * 3)
    box = across.solid().BoundingBox()
    assert min(box.xmin, box.ymin, box.zmin) == pytest.approx(0, abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(
    lean=st.floats(40, 140),
    turn=st.floats(-180, 180),
    legs=st.tuples(st.floats(40, 120), st.floats(40, 120)),
    thickness=st.floats(1, 8),
    gap=st.floats(0, 1),
)
def test_a_web_touches_neither_plane_whatever_the_corner(lean, turn, legs, thickness, gap):
    """Every corner stands the gap or more off both planes; those that reach it are the leg less the relief
    apart."""
    a, b = math.radians(turn), math.radians(turn + 180 - lean)
    planes = tuple(((3, 4, 5), (math.cos(w), 0, math.sin(w))) for w in (a, b))
    web = CornerGusset(planes, legs, thickness, gap_mm=gap, toe_mm=3)
    flat = np.array([(v.x, v.y, z, 1) for v in web.outline().outer.vertices for z in (0, thickness)])
    corners = (flat @ web.frame.matrix().T)[:, :3]
    for (p, n), leg in zip(planes, legs, strict=True):
        off = (corners - p) @ np.array(n)
        on = corners[abs(off - gap) < 1e-6]
        assert off.min() == pytest.approx(gap, abs=1e-6)
        assert len(on) == 4  # the seam's two ends on both faces
        assert np.ptp(on, axis=0)[[0, 2]] @ np.ptp(on, axis=0)[[0, 2]] == pytest.approx((leg - 10) ** 2)
    assert math.dist(web.corner, (3, 4, 5)) < 1e-9


def test_a_web_is_cut_round_a_tube_in_its_way():
    """A tube of 30 mm square through the web on the corner's line: a quarter of a disc of 15.5 mm goes. One
    aslant: the kernel finds no metal in common and the gap, square to the tube, a little under 0.5."""
    upright = Member.tube((0, -50, 0), (0, 50, 0), 30, 2)
    bare = CornerGusset((FLOOR, WALL), (60, 50), 3, relief_mm=0, gap_mm=0.5)
    coped = CornerGusset((FLOOR, WALL), (60, 50), 3, relief_mm=0, gap_mm=0.5, round_=(upright,))
    lost = math.pi / 4 * 15.5**2 - 2 * 0.5 * 15.5 + 0.25  # less what the gaps to both planes left out
    assert bare.outline().area_mm2 - coped.outline().area_mm2 == pytest.approx(lost, abs=0.1)
    aslant = Member.tube((0, -50, 0), (40, 50, 30), 30, 2)
    web = CornerGusset((FLOOR, WALL), (60, 50), 3, round_=(aslant,))
    tube = placed(solid(aslant.hull_form()), aslant.frame)
    assert common_volume_mm3(web.solid(), tube) == 0
    assert 0.4 < web.solid().distance(tube) <= 0.5


def test_a_fork_weighs_its_plates_and_its_cheeks_stand_the_gap_apart(tmp_path):
    """A cheek by hand: a foot 2r wide, straight to the disc: 2r·reach + π·r²/2 less the hole; the base is
    grip by 2r. Boss 16 mm."""
    fork = Clevis(22, 40, "M10", 4, radius_mm=16)
    cheek = 32 * 40 + math.pi * 16**2 / 2 - math.pi * 5.5**2
    assert fork.cheek.outline().area_mm2 == pytest.approx(cheek, rel=1e-9)
    assert fork.mass_kg == pytest.approx((2 * cheek + 30 * 32) * 4 * STEEL, rel=1e-9)
    one, two, base = fork.solid().Solids()
    assert one.distance(two) == pytest.approx(22, abs=1e-6)
    assert one.distance(base) == pytest.approx(0, abs=1e-6) and common_volume_mm3(one, base) == 0
    drilled = math.pi * 5.5**2  # marked, not cut
    blank = read_blank(fork.cheek.blank(tmp_path / "cheek.dxf", count=2).path)
    assert blank.area_mm2 == pytest.approx(cheek + drilled, rel=1e-6)


def test_a_spacer_is_as_large_as_its_washer():
    """ISO 7089: 20 mm for M10; ISO 273 fine: 10.5 mm."""
    ring = Spacer.of("M10", 12)
    assert ring.mass_kg == pytest.approx(math.pi / 4 * (20**2 - 10.5**2) * 12 * STEEL, rel=1e-12)


def test_the_other_hand_is_the_mirror_image_and_of_that_the_first(tmp_path):
    left, right = pair(RockerPlate((92, 0), (-9.5, 69.3), 4, 38, 10, 10))
    assert isinstance(right, Flat) and (left.hand, right.hand) == ("left", "right")
    x, y, _ = left.centroid
    assert right.solid().Center().toTuple()[:2] == pytest.approx((x, -y), abs=1e-6)
    assert right.outline() == right.form().pieces[0].outline != left.outline()
    assert right.centroid[1] == -y and right.mass_kg == left.mass_kg == pytest.approx(
        right.solid().Volume() * STEEL, rel=1e-6
    )
    assert right.blank(tmp_path / "r.dxf").area_mm2 == pytest.approx(left.outline().area_mm2)
    again = other_hand(right)
    assert again.solid().Center().toTuple() == pytest.approx(left.solid().Center().toTuple(), abs=1e-6)
    fork = other_hand(Clevis(22, 40))
    assert len(fork.solid().Solids()) == 3 and fork.centroid[1] == -Clevis(22, 40).centroid[1]
