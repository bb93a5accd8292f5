"""Parts of the corner other than the rocker: bodies, brackets, sleeve, sockets. Outside sources stand beside
each check."""

from __future__ import annotations

import math
import random
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.arm import Arm
from parts.base.stock import RodEnd
from parts.bracket import BracketPair, seat
from parts.damper import Damper
from parts.damper_bracket import damper_bracket
from parts.hole_rings import least_angle_deg, rings, settings
from parts.member import Member, Section, member_frame
from parts.member_shadow import convex
from parts.pickup_bracket import pickup_bracket
from parts.rod import Rod
from parts.shape.form import Form, Frame, Round
from parts.shape.outline import OutlineError, Vertex
from parts.shape.shapes import boss_on_foot, hexagon, saddle_volume_mm3
from parts.spring_pack import LeafPack, TorsionBar
from parts.spring_socket import SpringSocket
from parts.tab import NoSeat, rolled_to
from parts.wheel import Wheel


def made(form: Form, many: bool = False):
    """The kernel's solid, its volume and centre."""
    from parts.files.measured import volume_mm3
    from parts.files.solid import solid

    s = solid(form, allow_many=many)
    assert s.isValid()
    return s, volume_mm3(s), np.array(s.Center().toTuple())


def test_numbers_import_no_cad_and_no_slow_library():
    """Every part's numbers, brackets included, in a fresh interpreter: nothing heavy is loaded."""
    code = (
        "import sys\n"
        "from parts.damper import Damper\nfrom parts.damper_bracket import damper_bracket\nfrom parts.member "
        "import Member\n"
        "import parts.adjuster_sleeve, parts.arm, parts.pickup_bracket, parts.rod, parts.spring_pack, "
        "parts.spring_socket\n"
        "import parts.wheel\n"
        "damper_bracket(Damper(285, 225, 46), (1748, 34, 252), (1, 0, 0),"
        " {'post': Member.square((1748, 0, 90), (1748, 0, 362), 30, 2)})[1].mass_kg\n"
        "heavy = {'cadquery', 'OCP', 'shapely', 'scipy', 'ezdxf', 'matplotlib'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


# ------------------------------------------------------------------------------------------------ shapes


def test_bar_coped_to_an_equal_bar_takes_half_of_two_crossing_cylinders():
    """Common volume of equal crossing cylinders: 18000 mm³ at r = 15, 20784.61 at 60 deg (closed form
    16·r³/3, kernel agrees)."""
    assert 2 * saddle_volume_mm3(15, 15) == pytest.approx(18000.0, rel=1e-5)
    assert 2 * saddle_volume_mm3(15, 15, math.radians(60)) == pytest.approx(20784.61, rel=1e-5)
    with pytest.raises(ValueError, match=r"16 mm.*15 mm"):
        saddle_volume_mm3(16, 15)


@pytest.mark.parametrize("bar, run", [(3, 16), (5, 14), (11, 15)])
def test_coped_bar_against_a_plain_double_integral(bar, run):
    """∫∫ √(R² - y²) over the bar's section, by scipy's adaptive quadrature."""
    from scipy.integrate import dblquad

    value = dblquad(
        lambda z, y: math.sqrt(run**2 - y**2),
        -bar,
        bar,
        lambda y: -math.sqrt(max(bar**2 - y**2, 0)),
        lambda y: math.sqrt(max(bar**2 - y**2, 0)),
    )[0]
    assert saddle_volume_mm3(bar, run) == pytest.approx(value, rel=1e-8)


def test_boss_sides_are_tangents():
    """A tangent stands square to the radius and one radius from the centre: plane geometry."""
    loop = boss_on_foot(15, (Vertex(40, -20), Vertex(38, 25)))
    lines = [s for s in loop.segments if not s.bulge]
    for s in (lines[1], lines[2]):
        (x1, y1), (x2, y2) = s.start, s.end
        assert abs(x1 * y2 - x2 * y1) / s.chord == pytest.approx(15, abs=1e-9)
    arc = next(s for s in loop.segments if s.bulge)
    assert arc.radius == pytest.approx(15) and np.allclose(arc.centre, 0, atol=1e-9)
    with pytest.raises(OutlineError, match="within the boss"):
        boss_on_foot(15, (Vertex(10, -5), Vertex(40, 5)))


def test_hexagon_area():
    """Regular hexagon of across flats s: √3/2·s²."""
    assert hexagon(17).area_mm2 == pytest.approx(math.sqrt(3) / 2 * 289)


# ------------------------------------------------------------------------------------------------ member


@pytest.mark.parametrize(
    "width, height, wall, area_cm2",
    [(40, 40, 3, 4.20823), (50, 50, 3, 5.40823), (50, 30, 3, 4.20823), (80, 40, 3, 6.60823)],
)
def test_hollow_section_area(width, height, wall, area_cm2):
    """EN 10219-2 annex, cold formed: areas of SHS 40x40x3, 50x50x3, RHS 50x30x3, 80x40x3."""
    assert Section(width, height, wall).outline().area_mm2 / 100 == pytest.approx(area_cm2, rel=2e-3)


def test_member_lies_with_its_first_faces_level():
    """z x axis is level and square to the axis; a level rectangular member is as high as its height (design
    conventions)."""
    flat = Member.rectangular((0, 0, 0), (300, 400, 0), 50, 30, 3)
    s, volume, _ = made(flat.form().moved(flat.frame))
    box = s.BoundingBox()
    assert (box.zmin, box.zmax) == pytest.approx((-15, 15), abs=1e-6)
    assert volume == pytest.approx(flat.volume_mm3, rel=1e-9)
    rng = np.random.default_rng(3)
    for _ in range(50):
        a, b = rng.uniform(-500, 500, (2, 3))
        m = member_frame(a, b).matrix()
        assert m[2, 0] == pytest.approx(0, abs=1e-12)  # local x level
        assert np.cross((0, 0, 1), b - a) @ m[:3, 0] > 0


def test_member_roll_and_the_upright_rule():
    """Roll is right-handed about from -> to; within 1 degree of vertical local x is car y."""
    assert np.allclose(member_frame((0, 0, 0), (100, 0, 0), 90).matrix()[:3, 0], (0, 0, 1))
    assert np.allclose(member_frame((0, 0, 0), (0, 0, 9)).matrix()[:3, 0], (0, 1, 0))
    lean = math.tan(math.radians(0.9)), math.tan(math.radians(1.1))
    assert np.allclose(member_frame((0, 0, 0), (0, lean[0], 1)).matrix()[:3, 0], (0, 1, -lean[0]), atol=2e-4)
    assert np.allclose(member_frame((0, 0, 0), (0, lean[1], 1)).matrix()[:3, 0], (-1, 0, 0), atol=1e-9)


def test_box_stands_in_car_axes():
    box = Member.box((1840, 150, 300), (120, 160, 90))
    s, volume, centre = made(box.form().moved(box.frame))
    b = s.BoundingBox()
    assert (b.xmin, b.xmax, b.ymin, b.ymax, b.zmin, b.zmax) == pytest.approx(
        (1780, 1900, 70, 230, 255, 345), abs=1e-6
    )
    assert volume == pytest.approx(120 * 160 * 90) and np.allclose(centre, (1840, 150, 300))


def test_envelope_fills_the_bore():
    tube = Member.tube((0, 0, 0), (0, 0, 100), 38, 2.5)
    assert made(tube.hull_form())[1] == pytest.approx(math.pi * 19**2 * 100)
    assert made(tube.form())[1] == pytest.approx(math.pi * (19**2 - 16.5**2) * 100)
    assert tube.mass_kg == pytest.approx(math.pi * (19**2 - 16.5**2) * 100 * 7.85e-6)


@pytest.mark.parametrize(
    "make, text",
    [
        (lambda: Member.square((0, 0, 0), (0, 0, 0), 30, 2), "length 0 mm"),
        (lambda: Member.square((0, 0, 0), (9, 0, 0), 30, 15), "wall is 15 mm.*half of 30"),
        (lambda: Member.square((0, 0, 0), (9, 0, 0), -30, 2), "width is -30 mm"),
        (lambda: Member.square((0, 0, 0), (9, 0, 0), 30, 2, corner_mm=15), "corner radius is 15 mm"),
        (lambda: Member.box((0, 0, 0), (10, 0, 5)), "size y is 0 mm"),
        (lambda: Wheel(150, 185, 330), "tyre radius is 150.00 mm; the least is 165.00"),
        (lambda: Rod(90, 20, 2.5, "M10"), "length is 90.00 mm; the least is 111.00"),
        (lambda: Rod(300, 14, 2.5, "M10"), "tube bore is 9.00 mm; the least is 13.00"),
        (lambda: Rod(300, 20, 2.5, "M10", left_hand_end="both"), 'left hand end is "both"'),
        (
            lambda: Rod(300, 20, 2.5, "M10", end=RodEnd("M10", 10, 14, 19, 28, 10.5, 15, 36, 13)),
            "stem thread length is 15.00 mm",
        ),
        (lambda: Damper(225, 285, 46), "longest is 225 mm.*285"),
        (lambda: Damper(285, 120, 46), "shortest is 120.00 mm"),
        (lambda: Damper(285, 225, 46, eye_diameter_mm=11), "eye diameter is 11 mm"),
        (lambda: Damper(285, 225, 46).spring_form(260, 50, 100), "spring outer diameter is 50 mm"),
        (
            lambda: Damper(285, 225, 46).spring_form(260, 70, 240),
            "spring length is 240.00 mm; the most is 232.00",
        ),
        (lambda: Arm.between((0, 0, 0), (100, 0, 0), (300, 0, 0), 22), "one line"),
        (
            lambda: Arm((300, 100), (300, -100), 22, housing_diameter_mm=20),
            "housing diameter is 20.00 mm; the least is 23.00",
        ),
        (lambda: Arm((300, 10), (300, -10), 22), "pivot spacing is 20.00 mm; the least is 36.00"),
        (lambda: AdjusterSleeve(38, 3, 42, 2, 40), "sliding clearance is 0.00 mm"),
        (lambda: AdjusterSleeve(38, 3, 48.3, 2, 40), "sliding clearance is 6.30 mm"),
        (lambda: AdjusterSleeve.around(38, 3, 37, "M8"), "37 settings in 180 deg do not fit in 12 rings"),
        (lambda: AdjusterSleeve.around(20, 2, 40, "M10"), "half the inner tube, 10 mm"),
        (lambda: SpringSocket(32, 16, 38), "outer diameter is 38.00 mm; the least is"),
        (lambda: SpringSocket(32, 16, 60, corner_radius_mm=3), "clearance is 0.40 mm; the least is 1.46"),
        (
            lambda: AnchorPlates(SpringSocket(32, 16, 60), 44, "M12", most_diameter_mm=100),
            "44 settings for pairs of M12 bolts.*100 mm",
        ),
        (lambda: LeafPack(4, 4, 32, 600), "leaf thickness is 32 mm"),
        (lambda: TorsionBar(13, 900, head_mm=10), "head across flats is 10.00 mm; the least is 13.00"),
    ],
)
def test_an_error_names_field_value_and_limit(make, text):
    with pytest.raises(ValueError, match=text):
        make()


# ------------------------------------------------------------ wheel, rod, damper, arm


def test_wheel_is_a_ring_with_room_for_the_joints():
    """14 in rim: 355.6/2 - 12 = 165.8 mm inside; hand formula of a ring."""
    wheel = Wheel(265, 185, 14 * 25.4)
    _, volume, centre = made(wheel.form())
    assert wheel.inside_radius_mm == pytest.approx(165.8)
    assert volume == pytest.approx(math.pi * (265**2 - 165.8**2) * 185) and np.allclose(centre, 0, atol=1e-6)
    assert made(wheel.form(grown_mm=3))[0].BoundingBox().xlen == pytest.approx(536, abs=1e-6)


@pytest.mark.parametrize(
    "length, diameter, wall, thread",
    [
        (326.5, 20, 2.5, "M10"),
        (403, 25, 2.5, "M12"),
        (331, 20, 2, "M10"),
        (368, 16, 0, "M8"),
        (124.5, 25, 2, "M12"),
    ],
)
def test_rod_is_one_solid_of_the_hand_formula(length, diameter, wall, thread):
    rod = Rod(length, diameter, wall, thread)
    s, volume, centre = made(rod.form())
    assert s.ShapeType() == "Solid" and volume == pytest.approx(rod.volume_mm3, rel=2e-6)
    assert np.allclose(centre, rod.centroid, atol=1e-3)
    box = s.BoundingBox()
    r = rod.rod_end.housing_diameter_mm / 2
    assert (box.zmin, box.zmax) == pytest.approx((-r, length + r), abs=1e-4)


def test_rod_lengths_close_and_threads_stay_engaged():
    """Ball to ball = both eyes to face, both collars and the cut tube; 1.5·d in at the longest, the jam nut
    still on at the shortest (common practice), for a typical M10 end: 48 mm to the stem's end, 29 mm of
    thread, 5 mm nut."""
    rod = Rod(326.5, 20, 2.5, "M10")
    assert rod.engagement_mm == pytest.approx((15 + 24) / 2)
    assert rod.cut_length_mm == pytest.approx(326.5 - 2 * (48 - 19.5 + 3))
    assert rod.adjustment_mm == pytest.approx(9) and not rod.warnings
    assert rod.engagement_mm - rod.adjustment_mm / 2 == pytest.approx(15)
    assert rod.tapped_mm > rod.engagement_mm + rod.adjustment_mm / 2  # no stem bottoms
    assert rod.hands == ("right", "left")


def test_rod_travel_per_turn():
    """M12 x 1.75, opposite hands at the two ends: 3.5 mm a turn (closed form)."""


@pytest.mark.parametrize(
    "damper", [Damper(285, 225, 46), Damper(336, 270, 50, eye_bore_mm=12), Damper(255, 188, 42)]
)
def test_damper_envelopes(damper):
    """Shut, the body clears the shaft's eye; drawn out, the shaft is still in the body."""
    body, _, _ = made(damper.body_form())
    shaft, _, _ = made(damper.shaft_form())
    from parts.files.solid import placed

    def facing(length: float):
        return placed(shaft, Frame((0.0, 0.0, length), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)))

    shut, out = facing(damper.shortest_mm), facing(damper.longest_mm)
    assert shut.intersect(body).Volume() == pytest.approx(0, abs=1e-6) and shut.distance(body) > 0.4
    assert out.BoundingBox().zmin < damper.cap_mm + damper.body_length_mm - 4.9


def test_coil_spring_envelope_passes_over_the_body():
    form = Damper(336, 270, 50, eye_bore_mm=12).spring_form(305, 84, 150)
    assert made(form)[1] == pytest.approx(math.pi / 4 * (84**2 - 52**2) * 150)


ARMS = [
    ((1870, 385, 338), (1640, 385, 330), (1745, 683, 352), 22),
    ((1890, 330, 152), (1600, 330, 146), (1757, 723, 148), 25),
    ((-430, 310, 168), (-760, 310, 160), (-592, 735, 152), 25),
    ((130, -300, 355), (-120, -300, 345), (-8, -555, 362), 19.05),
]


@pytest.mark.parametrize("front, rear, outer, tube", ARMS)
def test_arm_is_one_solid_through_its_points(front, rear, outer, tube):
    arm, frame = Arm.between(front, rear, outer, tube)
    for local, point in ((arm.front_pivot, front), (arm.rear_pivot, rear), ((0, 0), outer)):
        assert np.allclose(frame.matrix() @ (*local, 0, 1), (*point, 1), atol=1e-9)
    assert frame.z[2] > 0.9 and arm.front_pivot[0] + arm.rear_pivot[0] > 0
    s, volume, centre = made(arm.form())
    # a sliver of a tube past a housing's end is left out
    assert s.ShapeType() == "Solid" and -3e-4 < arm.volume_mm3 / volume - 1 < 1e-5
    assert np.allclose(centre, arm.centroid, atol=0.5)


def test_coped_tube_volume_is_exact_where_tubes_stay_apart():
    """A wide wishbone, tubes 90 deg apart: the kernel's volume to 2e-5."""
    arm = Arm((250, 250), (250, -250), 22, boss_diameter_mm=60, housing_length_mm=90)
    assert made(arm.form())[1] == pytest.approx(arm.volume_mm3, rel=2e-5)


# ------------------------------------------------------------------------------------------------ brackets

POST = Member.square((1748, 0, 90), (1748, 0, 362), 30, 2)
RAIL = Member.square((1450, 315, 90), (2000, 315, 90), 30, 2)
RAIL_25 = Member.square((1450, 355, 370), (1950, 355, 370), 25, 2)
EYE = {"eye_width_mm": 20, "eye_radius_mm": 11}
TILTED = (0, 0.575, 0.818)


def sits(pair: BracketPair) -> None:
    """The kernel's word: both tabs valid, of the hand volume, touching the member (within 0.02 mm) and not in
    it, but for what a short edge left out may enter: 0.01 mm³, a tenth of a micrometre under a foot of 35
    mm."""
    s, volume, centre = made(pair.form(), many=True)
    assert len(s.Solids()) == 2 and volume == pytest.approx(pair.volume_mm3, rel=1e-9)
    assert np.allclose(centre, pair.centroid, atol=1e-6)
    member, _, _ = made(pair.member.hull_form().moved(pair.member.frame))
    for tab in pair.tabs:
        tab.outline().check()
        plate, _, _ = made(Form((tab.prism,)))
        assert plate.distance(member) < 0.02
        assert sum(x.Volume() for x in plate.intersect(member).Solids()) < 1e-2
        eye = np.array(pair.eye)
        assert np.linalg.norm(np.cross(eye - tab.frame.origin, tab.frame.z)) < 1e-9  # hole on the bolt's axis


def test_damper_bracket_on_the_post():
    """Eye 34 mm from the middle of a 30 mm post: 19 mm to its face. A 20 mm eye between 3 mm tabs would stand
    on the corner's radius (4 mm, EN 10219-2), so the tabs lie on the side walls with (30 - 20)/2 = 5 mm
    spacers."""
    name, pair = damper_bracket(
        Damper(285, 225, 46), (1748, 34, 252), (1, 0, 0), {"rail": RAIL, "post": POST}
    )
    assert name == "post" and [t.foot for t in pair.tabs] == ["lap", "lap"] and pair.alike
    assert (pair.reach_mm, pair.inside_gap_mm, pair.spacer_mm, pair.grip_mm) == pytest.approx((19, 30, 5, 36))
    assert not pair.warnings
    sits(pair)


def test_narrow_eye_stands_on_the_flat():
    pair = BracketPair(POST, (1748, 34, 252), (1, 0, 0), 12, 11)
    assert [t.foot for t in pair.tabs] == ["butt", "butt"] and pair.inside_gap_mm == pytest.approx(14)
    assert pair.tabs[0].run_mm == pytest.approx(35) and pair.tabs[0].stand_off_mm == pytest.approx(
        0, abs=1e-6
    )
    sits(pair)


def test_tab_on_a_corner_says_how_far_it_stands_off():
    """Tab from 11 to 14 mm off the middle of a post whose flat ends at 11: at 14 the 4 mm corner has fallen
    4 - √(4² - 3²) = 1.354 mm (circle)."""
    pair = BracketPair(POST, (1748, 34, 252), (1, 0, 0), 20, 11, foot="butt")
    assert pair.tabs[0].stand_off_mm == pytest.approx(4 - math.sqrt(7), abs=0.012)
    assert "dress its edge" in pair.warnings[0]
    sits(pair)


def test_cope_on_a_square_round_tube_is_one_true_arc():
    """A tab square to a round tube follows the tube's own circle: radius 20, centred on the tube."""
    tube = Member.tube((-50, 50, 0), (50, 50, 0), 40, 2)
    pair = BracketPair(tube, (0, 0, 0), (1, 0, 0), 20, 11)
    arcs = [s for s in pair.tabs[0].outline().outer.segments if s.bulge < 0]
    assert arcs and all(s.radius == pytest.approx(20, abs=1e-9) for s in arcs)
    assert pair.reach_mm == pytest.approx(30, abs=0.011)
    sits(pair)


@pytest.mark.parametrize(
    "member, eye, axis",
    [
        (RAIL_25, (1870, 385, 338), (-230, 0, -8)),  # on the corner of a rail, axis 2 deg aslant
        (RAIL, (1890, 330, 152), (-290, 0, -6)),  # notched over the rail
        (
            Member.square((-170, 200, 444), (-170, 400, 444), 30, 2),
            (-220, 277.7, 444.3),
            TILTED,
        ),  # oblique cut, 35 deg
        (Member.square((-170, 277, 300), (-170, 277, 600), 30, 2), (-220, 277.7, 444.3), TILTED),
        (Member.tube((-180, 200, 400), (-170, 400, 490), 38, 2.5), (-220, 277.7, 444.3), TILTED),
    ],
)
def test_brackets_sit_on_members_at_any_angle(member, eye, axis):
    pair = BracketPair(member, eye, axis, **EYE)
    assert min(t.run_mm for t in pair.tabs) >= 0.75 * 30
    sits(pair)


def test_pickup_bracket_takes_the_arms_bush():
    arm, _ = Arm.between(*ARMS[0])
    name, pair = pickup_bracket(arm, (1870, 385, 338), (-230, 0, -8), {"far": RAIL, "near": RAIL_25})
    assert name == "near" and pair.inside_gap_mm == pytest.approx(arm.housing_length_mm + 2)
    assert pair.bolt_hole_mm == 10  # the bolt's, M10 unless another is asked
    sits(pair)


@pytest.mark.parametrize(
    "eye, text",
    [
        ((1748, 10, 252), "inside the member"),
        ((1748, 22, 252), "the member's surface is 7.00 mm from the eye's centre.*13.00"),
        ((1748, 28.5, 252), "the least is the boss radius"),
        ((1748, 300, 252), "the most is 90 mm"),
        ((1748, 34, 500), "does not cross|surface is"),
    ],
)
def test_bracket_says_why_it_cannot_sit(eye, text):
    with pytest.raises(NoSeat, match=text):
        BracketPair(POST, eye, (1, 0, 0), foot="butt", **EYE)


def test_a_member_across_the_bolt_is_told_in_degrees():
    """Its run along the bolt is nothing: no quotient of it is printed."""
    with pytest.raises(NoSeat, match=r"slants by 90\.0 deg from the bolt's line.*is 18\.4 deg"):
        BracketPair(POST, (1748, 40, 326), (1, 0, 0), foot="saddle", **EYE)


def test_a_member_turned_to_the_bolt_is_told_its_roll():
    """Rolled by what is said, its walls lie square to the bolt."""
    turned = replace(RAIL, roll_deg=RAIL.roll_deg + 17.0)
    eye, along = np.add(RAIL.from_, np.subtract(RAIL.to, RAIL.from_) / 2), np.subtract(RAIL.to, RAIL.from_)
    bolt = np.cross(along, (0, 0, 1.0))
    other = rolled_to(turned, Frame.looking(tuple(eye), tuple(bolt), tuple(along)))
    assert other.roll_deg != turned.roll_deg
    walls = [np.array(other.frame.matrix())[:3, i] @ bolt / np.linalg.norm(bolt) for i in (0, 1)]
    assert max(map(abs, walls)) > math.cos(math.radians(0.1))


@pytest.mark.parametrize("seed", range(20))
def test_a_hull_keeps_the_ends_of_an_upright_side(seed):
    """Sides of a rectangle with points along them, each off by a float's noise: its four corners."""
    rng = np.random.default_rng(seed)
    k = np.linspace(0, 1, 9)[:, None]
    corners = np.array([(5.6, -61.2), (35.7, -61.2), (35.7, -38.7), (5.6, -38.7)])
    points = np.concatenate([a + k * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)])
    points = np.concatenate([points, points])
    hull = np.array(convex(rng.permutation(points + rng.choice([-7e-15, 0, 7e-15], points.shape))))
    assert len(hull) == 4
    assert sorted(map(tuple, hull.round(6))) == sorted(map(tuple, corners))


def test_no_member_in_reach_lists_the_nearest():
    with pytest.raises(NoSeat, match=r'no member carries the bracket.*"rail"'):
        seat({"rail": RAIL}, (1748, -200, 500), (1, 0, 0), **EYE)


@pytest.mark.slow
def test_seeded_sweep_of_brackets_sits_or_says_why():
    """120 members and bolts at random: a bracket that sits, by the kernel's word, or NoSeat; nothing else."""
    rng, sat = random.Random(20), 0
    for n in range(120):
        axis = (1.0, rng.uniform(-0.3, 0.3), rng.uniform(-0.3, 0.3))
        to = [rng.uniform(-1, 1) for _ in range(3)]
        size, away, turn = rng.choice((20, 25, 30, 40)), rng.uniform(30, 60), rng.uniform(0, 2 * math.pi)
        middle = np.array((0.0, away * math.cos(turn), away * math.sin(turn)))
        half = 150 * np.array(to) / np.linalg.norm(to)
        ends = tuple(middle - half), tuple(middle + half)
        member = (
            Member.tube(*ends, size, 2) if n % 4 == 0 else Member.square(*ends, size, 2, rng.uniform(0, 90))
        )
        try:
            pair = BracketPair(member, (0.0, 0.0, 0.0), axis, 14, 11, thickness_mm=rng.choice((3, 4)))
        except NoSeat:
            continue
        sat += 1
        try:
            sits(pair)
        except Exception as e:
            raise AssertionError(f"sample {n}: {e}") from e
    assert sat >= 10


# ------------------------------------------------------------------------------------------------ clocking


def test_vernier_of_hole_circles():
    """8 and 9 holes: 5 deg steps, one pair in line at each setting (closed form, enumeration)."""
    found = rings(72, 360.0, 360 / 8, 360 / 9, 1)
    assert sorted((len(found[0].first), len(found[0].second))) == [8, 9]
    assert np.allclose(settings(found, 360), np.arange(72) * 5)


def test_hole_circle_chord():
    """R = 30 mm, 12 holes: chord 15.529143 mm (2·R·sin(π/n))."""
    assert least_angle_deg(30, 15.529143 / 2.2) == pytest.approx(30, abs=1e-5)


def test_rings_give_every_setting_and_keep_holes_apart():
    """Seeded sweep: enumerated settings are all of 0, p/n, 2p/n ...; no two holes of a ring nearer than
    asked."""
    rng, fitted = random.Random(7), 0
    for _ in range(150):
        n, period = rng.randint(1, 60), rng.choice((180.0, 360.0))
        gaps = rng.uniform(10, 60), rng.uniform(10, 60)
        try:
            found = rings(n, period, *gaps, 8)
        except ValueError as e:
            assert f"{n} settings" in str(e)
            continue
        fitted += 1
        reached = np.array(settings(found, period))
        assert len(reached) == n and np.allclose(reached, np.arange(n) * period / n, atol=1e-5)
        for ring in found:
            for holes, gap in ((ring.first, gaps[0]), (ring.second, gaps[1])):
                if len(holes) > 1:
                    order = sorted(holes)
                    assert min(np.diff([*order, order[0] + period])) >= gap - 1e-6
    assert fitted > 80


def test_a_skipped_ring_has_as_few_holes_as_any_that_keeps_them_apart():
    """Counts that do not factor: every step u and every share of the holes, each tried on the circle itself,
    and none with fewer holes gives every setting."""

    def round_the_circle(marks) -> float:
        marks = np.sort(np.array(marks) % 360)
        return float(np.diff(np.append(marks, marks[0] + 360)).min()) if len(marks) > 1 else math.inf

    for n, first_gap, second_gap in ((29, 62.0, 37.2), (41, 43.8, 35.0), (43, 66.9, 25.0)):
        (found,) = rings(n, 360.0, first_gap, second_gap, 1)
        step, fewest = 360 / n, math.inf
        for a in range(1, int(360 / first_gap) + 1):
            b = math.ceil(n / a)
            for u in range(1, n if b * second_gap <= 360 else 1):
                first, second = [-i * b * u * step for i in range(a)], [j * u * step for j in range(b)]
                if round_the_circle(first) > first_gap and round_the_circle(second) > second_gap:
                    fewest = min(fewest, a + b)
        assert len(found.first) + len(found.second) == fewest
        assert len(settings((found,), 360)) == n


SLEEVES = [
    AdjusterSleeve.around(38, 3, 40, "M5"),
    AdjusterSleeve.around(38, 3, 40, "M6"),
    AdjusterSleeve.around(32, 3, 36, "M6"),
    AdjusterSleeve.around(38, 3, 37, "M6"),
]


@pytest.mark.parametrize("sleeve", SLEEVES)
def test_sleeve_tubes_and_hole_rules(sleeve):
    """Hand volumes; chord between neighbours at the bore >= 2.2·d0, rows >= 2.2·d0, ends >= 1.2·d0 (EN
    1993-1-8 Table 3.3)."""
    d = sleeve.hole_mm
    for form, volume in (
        (sleeve.inner_form(), sleeve.inner_volume_mm3),
        (sleeve.outer_form(), sleeve.outer_volume_mm3),
    ):
        s, got, _ = made(form)
        assert s.ShapeType() == "Solid" and got == pytest.approx(volume, rel=1e-7)
    for tube, bore in (
        ("inner", sleeve.inner_mm - 2 * sleeve.inner_wall_mm),
        ("outer", sleeve.outer_mm - 2 * sleeve.outer_wall_mm),
    ):
        table = sleeve.holes(tube)
        points = [
            (bore / 2 * math.cos(a), bore / 2 * math.sin(a), h.z_mm)
            for h in table
            for a in (math.radians(h.angle_deg), math.radians(h.angle_deg) + math.pi)
        ]
        assert min(math.dist(p, q) for i, p in enumerate(points) for q in points[:i]) >= 2.2 * d - 1e-6
        assert (
            min(h.z_mm for h in table) >= 1.2 * d
            and sleeve.length_mm - max(h.z_mm for h in table) >= 1.2 * d - 1e-9
        )
    assert sleeve.steps % sleeve.positions == 0


@pytest.mark.slow
def test_a_bolt_passes_both_tubes_at_every_setting():
    """Kernel: with the outer tube turned back by the setting, a bolt through the named holes meets no
    metal."""
    from parts.files.solid import placed

    sleeve = SLEEVES[1]
    inner, outer = made(sleeve.inner_form())[0], made(sleeve.outer_form())[0]
    for k in (0, 1, 7, 13, 19):
        row, first, _ = sleeve.setting(k)
        back, a = math.radians(-k * sleeve.step_deg), math.radians(first)
        z = next(h.z_mm for h in sleeve.holes("inner") if h.row == row)
        bolt = Round(
            sleeve.hole_mm - 0.02,
            60,
            0.0,
            Frame(
                (-30 * math.cos(a), -30 * math.sin(a), z), (0.0, 0.0, 1.0), (math.cos(a), math.sin(a), 0.0)
            ),
        )
        shape = made(Form((bolt,)))[0]
        turned = placed(outer, Frame((0.0, 0.0, 0.0), (math.cos(back), math.sin(back), 0.0)))
        assert shape.distance(turned) > 0.005 and shape.distance(inner) > 0.005


def test_cross_bolt_torque():
    """M10 8.8, thread in plane, 22.272 kN a plane, interface 25 mm: 556.8 N·m (EN 1993-1-8 Table 3.4 and
    statics)."""
    assert AdjusterSleeve(25, 3, 30, 2.4, 12, "M5").torque_nm(22272) == pytest.approx(556.8, rel=3e-3)


# ------------------------------------------------------------ springs and sockets


@pytest.mark.parametrize(
    "socket",
    [
        SpringSocket.for_leaves(4, 32, 4, 54),
        SpringSocket.for_leaves(1, 40, 5, 60, clearance_mm=0.8),
        SpringSocket.for_hexagon(17, 40),
    ],
)
def test_socket_window_holds_the_spring(socket):
    """Deep enough (one width), true arcs of 1 mm or more in the corners; by shapely: the spring with dressed
    edges goes in."""
    from shapely import Polygon

    s, volume, _ = made(socket.form())
    assert s.ShapeType() == "Solid" and volume == pytest.approx(socket.volume_mm3, rel=1e-9)
    assert socket.depth_mm >= socket.width_mm
    assert all(seg.radius >= 1 - 1e-9 for seg in socket.window().segments if seg.bulge)
    window = Polygon(socket.window().points(0.0005))
    if socket.is_hexagon:
        sharp = Polygon([(v.x, v.y) for v in hexagon(socket.width_mm).vertices])
    else:
        x, y = socket.width_mm / 2, socket.height_mm / 2
        sharp = Polygon([(-x, -y), (x, -y), (x, y), (-x, y)])
    dressed = sharp.buffer(-socket.spring_corner_mm, join_style="mitre").buffer(
        socket.spring_corner_mm, quad_segs=64
    )
    assert window.contains(dressed)


@pytest.mark.parametrize(
    "socket",
    [
        SpringSocket.for_leaves(4, 32, 4, 54),
        SpringSocket.for_leaves(1, 40, 5, 60),
        SpringSocket.for_hexagon(17, 40),
    ],
)
def test_socket_slack_is_where_the_spring_bears(socket):
    """shapely: a sharp spring turned by the slack just fits the sharp window and 0.02 deg more does not;
    0.4 mm over 32 mm is about 0.7 deg (arithmetic c/b)."""
    from shapely import Polygon
    from shapely.affinity import rotate

    def shape(extra: float) -> Polygon:
        if socket.is_hexagon:
            return Polygon([(v.x, v.y) for v in hexagon(socket.width_mm + extra).vertices])
        x, y = (socket.width_mm + extra) / 2, (socket.height_mm + extra) / 2
        return Polygon([(-x, -y), (x, -y), (x, y), (-x, y)])

    window, spring = shape(socket.clearance_mm), shape(0.0)
    assert window.contains(rotate(spring, socket.slack_deg - 0.01, origin=(0, 0)))
    assert not window.contains(rotate(spring, socket.slack_deg + 0.01, origin=(0, 0)))
    if not socket.is_hexagon:
        assert socket.slack_deg == pytest.approx(math.degrees(0.4 / socket.width_mm), rel=0.02)


@pytest.mark.parametrize(
    "socket, positions", [(SpringSocket.for_leaves(4, 32, 4, 54), 44), (SpringSocket.for_hexagon(17, 40), 37)]
)
@pytest.mark.parametrize("bolt", ["M6", "M8", "M10"])
def test_anchor_plates_clock_every_tooth(socket, positions, bolt):
    """Enumerated settings; holes 2.2·d0 apart and 1.2·d0 or more from the edge (EN 1993-1-8 Table 3.3); valid
    blanks."""
    plates = AnchorPlates(socket, positions, bolt)
    reached = set()
    turning, fixed = plates.outline("turning"), plates.outline("fixed")
    groups = {}
    for name, outline in (("turning", turning), ("fixed", fixed)):
        outline.check()
        holes = [h for h in outline.holes if h.purpose.startswith("clocking")]
        for i, h in enumerate(holes):
            assert all(math.hypot(h.x - o.x, h.y - o.y) >= 2.2 * h.diameter_mm - 1e-6 for o in holes[:i])
            assert plates.diameter_mm / 2 - math.hypot(h.x, h.y) >= 1.2 * h.diameter_mm
            groups.setdefault((name, h.purpose), []).append(math.degrees(math.atan2(h.y, h.x)))
    for (name, ring), angles in groups.items():
        if name == "turning":
            reached |= {
                round((t - f) % 360 / (360 / positions), 6) % positions
                for t in angles
                for f in groups["fixed", ring]
            }
    assert set(range(positions)) <= reached
    for k in range(positions):  # two holes straight across the axis, at every setting
        places = plates.places_mm(k)
        assert len(places) == 2 and np.allclose(places.sum(0), 0, atol=1e-9)
        assert min(np.hypot(*places.T)) >= plates.circles_mm[0] - 1e-9
    assert plates.bolts_in_line == 2
    assert plates.torque_nm(10000) == pytest.approx(2 * 10 * plates.circles_mm[0])  # T = 2·F·r
    assert plates.outline("fixed").holes[0].diameter_mm == socket.outer_diameter_mm + 0.2  # the spigot
    _, volume, centre = made(plates.form())
    assert volume == pytest.approx(plates.volume_mm3, rel=1e-9) and np.allclose(
        centre, plates.centroid, atol=1e-6
    )


def test_spring_bodies():
    """Strips: n·b·t·(free + both ends); bar and tube: round and two hexagon heads √3/2·s² long as their
    flats."""
    pack = LeafPack(4, 32, 4, 600)
    assert made(pack.form())[1] == pytest.approx(4 * 32 * 4 * 664) and pack.strip_length_mm == 664
    assert pack.circle_mm == pytest.approx(math.hypot(32, 16))
    bar = TorsionBar(13, 900)
    s, volume, _ = made(bar.form())
    assert bar.across_flats_mm == 17 and s.ShapeType() == "Solid"
    assert (
        volume
        == pytest.approx(math.pi / 4 * 169 * 900 + 2 * math.sqrt(3) / 2 * 289 * 17)
        == pytest.approx(bar.volume_mm3)
    )
    tube = TorsionBar(30, 800, wall_mm=3)
    assert made(tube.form())[1] == pytest.approx(tube.volume_mm3)
    assert SpringSocket.for_leaves(4, 32, 4, 54).depth_mm >= 32 and pack.mass_kg == pytest.approx(
        339968 * 7.85e-6
    )


def test_rod_with_its_outboard_bolt_turned_a_little_is_one_solid():
    """Bug: merging faces failed where the turned end's seams lay 1.5 deg from the tube's."""
    from parts.files.measured import volume_mm3
    from parts.files.solid import solid

    rod = Rod(334.9, 20, 2.5, "M10", outboard_turn_deg=1.528669766324758)
    made = solid(rod.form())
    assert made.isValid() and volume_mm3(made) == pytest.approx(rod.volume_mm3, rel=1e-6)
