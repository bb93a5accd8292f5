"""Outlines held against closed forms, and against shapely, a general geometry library that knows nothing of
arcs.

Where a test compares with shapely, the arcs are handed to it as many short chords placed by this file's own
formula (a rotation about the arc's centre by complex numbers), not by the code under test."""

import cmath
import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point as Dot
from shapely import Polygon
from shapely.ops import unary_union

from parts.shape.arcs import arced
from parts.shape.belt import Boss, belt, hull
from parts.shape.offset import grown, left_mm
from parts.shape.outline import (
    Hole,
    Loop,
    Mark,
    Outline,
    OutlineError,
    Segment,
    Vertex,
    circle,
    rectangle,
    rounded,
)

FINE = 720  # chords a full turn when shapely is asked


def chain(loop: Loop, per_turn: int = FINE) -> list[complex]:
    """The loop as a chain of chords, from vertices and bulges alone: centre = middle + i·chord·(1 -
    b²)/(4b)."""
    points = []
    vs = loop.vertices
    for v, w in zip(vs, vs[1:] + vs[:1], strict=True):
        a, b = complex(v.x, v.y), complex(w.x, w.y)
        points.append(a)
        if v.bulge:
            centre = (a + b) / 2 + 1j * (b - a) * (1 - v.bulge**2) / (4 * v.bulge)
            turn = 4 * math.atan(v.bulge)
            n = max(2, math.ceil(abs(turn) / (2 * math.pi) * per_turn))
            points += [centre + (a - centre) * cmath.exp(1j * turn * k / n) for k in range(1, n)]
    return points


def polygon(loop: Loop, per_turn: int = FINE) -> Polygon:
    return Polygon([(p.real, p.imag) for p in chain(loop, per_turn)])


def disc(b: Boss) -> Polygon:
    return Dot(b.x, b.y).buffer(b.radius_mm, quad_segs=FINE // 4)


# ------------------------------------------------------------------------------------- arcs and loops


@pytest.mark.parametrize(
    ("angle", "bulge", "sagitta", "radius"),
    [
        (30, 0.1316525, 0.65826249, 19.318517),
        (90, 0.41421356, 2.0710678, 7.0710678),
        (180, 1, 5, 5),
        (270, 2.4142136, 12.071068, 7.0710678),
    ],
)
def test_an_arc_is_its_bulge(angle, bulge, sagitta, radius):
    """Bulge = tan(angle/4), sagitta = bulge·chord/2, radius = chord·(1 + b²)/(4b), chord 10 mm: closed form,
    the public DXF reference; ezdxf agrees."""
    from ezdxf.math import bulge_center, bulge_radius

    b = math.tan(math.radians(angle) / 4)
    assert b == pytest.approx(bulge, rel=1e-6)
    s = Segment((0, 0), (10, 0), b)
    assert math.degrees(s.sweep) == pytest.approx(angle, rel=1e-12)
    assert s.radius == pytest.approx(radius, rel=1e-6)
    assert s.length == pytest.approx(radius * math.radians(angle), rel=1e-6)
    x, y = s.at(0.5)
    assert (x, -y) == pytest.approx(
        (5, sagitta), rel=1e-6
    )  # positive bulge: right of the chord, here below it
    assert s.centre == pytest.approx(tuple(bulge_center((0, 0), (10, 0), b))[:2], abs=1e-9)
    assert s.radius == pytest.approx(bulge_radius((0, 0), (10, 0), b), rel=1e-9)


def test_a_slot_of_two_bulges():
    """60 x 20 slot: 1514.1593 mm², 182.83185 mm; closed form 60·20 + π·10², 2·60 + 2π·10. The closing side is
    an arc too."""
    loop = Loop((Vertex(0, 0), Vertex(60, 0, 1), Vertex(60, 20), Vertex(0, 20, 1)))
    assert loop.area_mm2 == pytest.approx(1514.1593, rel=1e-6)
    assert loop.perimeter_mm == pytest.approx(182.83185, rel=1e-6)
    assert loop.bounds == pytest.approx((-10, 0, 70, 20), abs=1e-12)


def test_reversing_moves_every_bulge_and_flips_it():
    loop = belt([Boss(0, 0, 22), Boss(70, 20, 14), Boss(-30, 60, 12)], [None, 150, 80])
    back = loop.reversed()
    assert back.area_mm2 == pytest.approx(-loop.area_mm2, rel=1e-12)
    assert back.reversed() == loop or polygon(back.reversed()).equals_exact(polygon(loop), 1e-9)
    assert polygon(back).symmetric_difference(polygon(loop)).area < 1e-6


# ------------------------------------------------------------------------------------- belts


@pytest.mark.parametrize(
    ("ra", "rb", "gap", "perimeter", "area", "straight"),
    [(20, 20, 100, 325.66371, 5256.6371, 100), (30, 18, 120, 391.99745, 7711.4788, 119.39849)],
)
def test_belt_round_two_circles(ra, rb, gap, perimeter, area, straight):
    """Closed form; shapely's hull agrees."""
    loop = belt([Boss(0, 0, ra), Boss(gap, 0, rb)])
    assert loop.perimeter_mm == pytest.approx(perimeter, rel=1e-6)
    assert loop.area_mm2 == pytest.approx(area, rel=1e-6)
    assert [s.chord for s in loop.segments if not s.bulge] == pytest.approx([straight] * 2, rel=1e-6)


def test_belt_round_three_equal_bosses():
    """P = P_tri + 2πr, A = A_tri + P_tri·r + πr²: 352.60096 mm, 7732.156 mm² (closed form; shapely
    agrees)."""
    loop = belt([Boss(0, 0, 15), Boss(90, 0, 15), Boss(30, 70, 15)])
    assert loop.perimeter_mm == pytest.approx(352.60096, rel=1e-6)
    assert loop.area_mm2 == pytest.approx(7732.156, rel=1e-6)


def test_rocker_blank_round_three_different_bosses():
    """343.01003 mm, 7024.2814 mm² gross, 6125.7859 mm² net, 144.26226 g of 3 mm at 7850 kg/m³ (closed form;
    shapely agrees)."""
    bosses = [Boss(0, 0, 22), Boss(70, 20, 14), Boss(-30, 60, 12)]
    o = Outline(
        belt(bosses), holes=(Hole(0, 0, 30, "pivot"), Hole(70, 20, 12, "rod"), Hole(-30, 60, 10, "damper"))
    )
    o.check()
    assert o.outer.perimeter_mm == pytest.approx(343.01003, rel=1e-6)
    assert o.gross_area_mm2 == pytest.approx(7024.2814, rel=1e-6)
    assert o.area_mm2 == pytest.approx(6125.7859, rel=1e-6)
    assert o.area_mm2 * 3 * 7850e-6 == pytest.approx(144.26226, rel=1e-6)
    swallowed = hull([*bosses, Boss(5, 15, 6)])  # wholly inside the others' belt: it drops out
    assert swallowed.area_mm2 == pytest.approx(7024.2814, rel=1e-6)


def test_a_waist_touches_both_bosses_square_to_their_radii():
    """Tangent circles: the waist's centre lies r + w from each boss's centre; the depth is closed form."""
    a, b, w = Boss(0, 0, 20), Boss(100, 0, 20), 60
    loop = belt([a, b], [w, w])
    arcs = [s for s in loop.segments if s.bulge < 0]
    assert [s.radius for s in arcs] == pytest.approx([w, w], rel=1e-9)
    for s in arcs:
        for boss in (a, b):
            assert math.dist(s.centre, (boss.x, boss.y)) == pytest.approx(boss.radius_mm + w, rel=1e-12)
    neck = 2 * (math.sqrt(80**2 - 50**2) - 60)  # between the two hollows at mid length
    ys = sorted(s.at(0.5)[1] for s in arcs)
    assert ys[1] - ys[0] == pytest.approx(neck, rel=1e-9)


def test_a_boss_deep_inside_the_belt_of_its_neighbours_is_refused():
    """Where a boss lies inside, its belt would turn the wrong way there; a simple closed path turns by 2π in
    all."""
    with pytest.raises(OutlineError, match="leave it out"):
        belt([Boss(0, 0, 20), Boss(50, 30, 5), Boss(100, 0, 20), Boss(50, 100, 10)])
    with pytest.raises(OutlineError, match="leave it out"):
        belt([Boss(0, 0, 20), Boss(50, 3, 15), Boss(100, 0, 20), Boss(50, 100, 10)])


bosses = st.lists(
    st.builds(Boss, st.floats(-150, 150), st.floats(-150, 150), st.floats(4, 60)), min_size=1, max_size=7
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(bosses)
def test_a_hull_is_the_convex_hull_of_the_discs(some):
    """shapely's convex hull of finely chorded discs: inside ours, and never smaller than the chords can make
    it."""
    ours = hull(some)
    theirs = unary_union([disc(b) for b in some]).convex_hull
    assert ours.area_mm2 == pytest.approx(theirs.area, rel=2e-5)
    assert ours.perimeter_mm == pytest.approx(theirs.length, rel=2e-5)
    assert ours.bounds == pytest.approx(theirs.bounds, abs=60 * (1 - math.cos(math.pi / FINE)) + 1e-9)
    Outline(ours).check()


# bosses on whole numbers fall in line, touch and coincide, which free numbers never do
whole = st.lists(
    st.builds(
        Boss,
        st.integers(-3, 3).map(lambda v: 20.0 * v),
        st.integers(-3, 3).map(lambda v: 20.0 * v),
        st.sampled_from([5.0, 10.0, 20.0, 40.0]),
    ),
    min_size=1,
    max_size=8,
)


@pytest.mark.slow
@settings(max_examples=200, deadline=None, derandomize=True)
@given(whole)
def test_a_hull_of_bosses_in_line_or_touching_is_still_the_convex_hull(some):
    ours = hull(some)
    theirs = unary_union([disc(b) for b in some]).convex_hull
    assert ours.area_mm2 == pytest.approx(theirs.area, rel=2e-5)
    Outline(ours).check()


# ------------------------------------------------------------------------------------- rounded corners


def test_plate_with_rounded_corners_and_holes():
    """120 x 80, radius 10, holes 2 x 12.5 and 26: 8737.7932 mm², 205.77503 g at 3 mm, cut length 543.05308 mm
    (closed form)."""
    o = Outline(
        rectangle(0, 0, 120, 80, 10),
        holes=(Hole(20, 40, 12.5, "a"), Hole(100, 40, 12.5, "b"), Hole(60, 40, 26, "c")),
    )
    o.check()
    assert o.area_mm2 == pytest.approx(8737.7932, rel=1e-6)
    assert o.area_mm2 * 3 * 7850e-6 == pytest.approx(205.77503, rel=1e-6)
    assert o.cut_length_mm == pytest.approx(543.05308, rel=1e-6)


@pytest.mark.parametrize(
    ("corner", "tangent", "arc", "area", "bulge"),
    [
        (60, 13.856406, 16.755161, 43.830608, 0.57735027),
        (90, 8, 12.566371, 13.734518, 0.41421356),
        (120, 4.6188022, 8.3775804, 3.4400956, 0.26794919),
    ],
)
def test_a_fillet(corner, tangent, arc, area, bulge):
    """r = 8 mm in a corner of angle A: r/tan(A/2), r·(π - A), r²·(cot(A/2) - (π - A)/2), tan((π - A)/4);
    closed form."""
    a = math.radians(corner)
    triangle = [(0.0, 0.0), (100.0, 0.0), (100 * math.cos(a), 100 * math.sin(a))]
    sharp, filleted = rounded(triangle), rounded(triangle, [8, 0, 0])
    (rounding,) = [s for s in filleted.segments if s.bulge]
    assert sharp.area_mm2 - filleted.area_mm2 == pytest.approx(area, rel=1e-6)
    assert rounding.length == pytest.approx(arc, rel=1e-6)
    assert rounding.bulge == pytest.approx(bulge, rel=1e-6)
    assert math.hypot(*rounding.end) == pytest.approx(tangent, rel=1e-6)


def test_a_corner_needs_room_for_its_radius():
    """A 60 degree corner needs 1.73·r of each edge: 5.7 mm fits an edge of 20 mm twice, 5.8 mm does not
    (closed form)."""
    triangle = [(0.0, 0.0), (20.0, 0.0), (10.0, 10 * math.sqrt(3))]
    rounded(triangle, 5.77)
    with pytest.raises(OutlineError, match="smaller radius"):
        rounded(triangle, 5.78)
    with pytest.raises(OutlineError, match="radius"):
        rounded(triangle, -1)


# ------------------------------------------------------------------------------------- moments


def test_plate_swinging_about_a_hole():
    """150 x 50 x 3 plate, hole 30 on the long centre line 45 from the middle, 7850 kg/m³: 159.97849 g,
    centroid 49.682462 mm from the pivot, 723.76164 kg·mm² about it (closed form)."""
    o = Outline(rectangle(-30, -25, 120, 25), holes=(Hole(0, 0, 30, "pivot"),))
    density = 3 * 7850e-9
    m = o.moments
    assert m[0] * density * 1000 == pytest.approx(159.97849, rel=1e-5)
    assert o.centroid == pytest.approx((49.682462, 0), rel=1e-5, abs=1e-9)
    assert (m[3] + m[4]) * density == pytest.approx(723.76164, rel=1e-5)


def polygon_moments(p: Polygon) -> np.ndarray:
    """∫ of 1, x, y, x², y², xy by Gauss points (exact for quadratics) on shapely's own triangles of the
    polygon."""
    total = np.zeros(6)
    for t in shapely.constrained_delaunay_triangles(p).geoms:
        (x1, y1), (x2, y2), (x3, y3) = t.exterior.coords[:3]
        for x, y in (
            ((x1 + x2) / 2, (y1 + y2) / 2),
            ((x2 + x3) / 2, (y2 + y3) / 2),
            ((x3 + x1) / 2, (y3 + y1) / 2),
        ):
            total += t.area / 3 * np.array([1, x, y, x * x, y * y, x * y])
    return total


corner_lists = st.integers(3, 7).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0.5, 1.5), min_size=n, max_size=n),
        st.lists(st.floats(20, 120), min_size=n, max_size=n),
        st.lists(st.sampled_from([0.0, 2.0, 5.0, 9.0]), min_size=n, max_size=n),
    )
)


def star(shape) -> Loop:
    """A polygon seen whole from its middle, so that it is simple, with some corners rounded, convex and
    hollow."""
    steps, reach, radii = shape
    turns = np.cumsum(np.array(steps)) * 2 * math.pi / sum(steps)
    return rounded([(r * math.cos(a), r * math.sin(a)) for r, a in zip(reach, turns, strict=True)], radii)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(corner_lists, st.floats(-200, 200), st.floats(-200, 200), st.floats(-3, 3))
def test_moments_bounds_and_length_of_any_outline(shape, dx, dy, turn):
    """Against shapely and a quadrature over its triangles."""
    try:
        loop = star(shape).moved(dx, dy, turn)
    except OutlineError:
        assume(False)
    p = polygon(loop, 1200)
    assume(p.is_valid)
    size = math.hypot(dx, dy) + 120
    assert loop.perimeter_mm == pytest.approx(p.length, rel=5e-6)
    assert loop.bounds == pytest.approx(p.bounds, abs=1e-4)
    scale = p.area * np.array([1, size, size, size**2, size**2, size**2])
    assert (np.abs(np.array(loop.moments) - polygon_moments(p)) / scale).max() < 1e-5


@settings(max_examples=60, deadline=None, derandomize=True)
@given(corner_lists)
def test_the_other_hand_is_the_mirror_image(shape):
    """Mirrored twice is the same; mirrored once is shapely's reflection in the y axis; both run
    counter-clockwise."""
    try:
        o = Outline(star(shape), holes=(Hole(3, 1, 2, "a"),), marks=(Mark("pop", ((3.0, 1.0),)),))
    except OutlineError:
        assume(False)
    m = o.mirrored()
    assume(polygon(o.outer).is_valid)
    reflected = shapely.affinity.scale(polygon(o.outer), -1, 1, origin=(0, 0))
    assert polygon(m.outer).symmetric_difference(reflected).area < 1e-6 * reflected.area
    assert m.outer.area_mm2 == pytest.approx(o.outer.area_mm2, rel=1e-12)
    assert m.holes[0].x == -3 and m.marks[0].points == ((-3.0, 1.0),)
    assert polygon(m.mirrored().outer).symmetric_difference(polygon(o.outer)).area < 1e-9 * reflected.area


@pytest.mark.parametrize("sagitta", [2e-6, 1e-4, 1e-2, 0.2])
def test_a_nearly_straight_arc_keeps_its_figures(sagitta):
    """A flat cap is a parabola's segment to order (s/c)²: area 2cs/3, ∫u² = s·c³/30, ∫v = 4cs²/15, ∫v² =
    16cs³/105 (closed form), also far from the origin and at any angle; below the same-point distance it is a
    straight line."""
    c, turn = 100.0, 0.7
    cap = Loop((Vertex(-c / 2, 0, 2 * sagitta / c), Vertex(c / 2, 0)))
    rel = 20 * (sagitta / c) ** 2 + 1e-9
    area, x, y, xx, yy, xy = cap.moments
    assert (area, xx, -y, yy) == pytest.approx(
        (2 * c * sagitta / 3, sagitta * c**3 / 30, 4 * c * sagitta**2 / 15, 16 * c * sagitta**3 / 105),
        rel=rel,
    )
    assert (x, xy) == pytest.approx((0, 0), abs=1e-9 * area * c)
    far = cap.moved(300, -200, turn).moments
    lost = 1e-16 * 1e5 * 20 / area  # the chord's own triangle, 300 from the origin, leaves its rounding
    cx, cy = 300 + 0.4 * sagitta * math.sin(turn), -200 - 0.4 * sagitta * math.cos(turn)
    assert (far[0], far[1] / far[0], far[2] / far[0]) == pytest.approx((area, cx, cy), rel=1e-8 + lost)
    assert (
        Loop((Vertex(0, 0, 1e-9), Vertex(c, 0), Vertex(0, 50))).moments
        == Loop((Vertex(0, 0), Vertex(c, 0), Vertex(0, 50))).moments
    )


# ------------------------------------------------------------------------------------- chords


@pytest.mark.parametrize(
    ("radius", "turn", "error", "chords"), [(20, 360, 0.05, 45), (20, 360, 0.01, 100), (250, 30, 0.05, 14)]
)
def test_number_of_chords_within_an_error(radius, turn, error, chords):
    """n = angle / (2·acos(1 - e/r)), rounded up: 45, 100, 14 (closed form). Two half circles may round up
    twice."""
    if turn == 360:
        loop, extra = circle(0, 0, 2 * radius), 1
    else:
        a = math.radians(turn)
        loop, extra = (
            Loop(
                (
                    Vertex(radius, 0, math.tan(a / 4)),
                    Vertex(radius * math.cos(a), radius * math.sin(a)),
                    Vertex(0, 0),
                )
            ),
            0,
        )
    n = len(loop.points(error)) - (0 if turn == 360 else 2)
    assert chords <= n <= chords + extra


@pytest.mark.slow
@settings(max_examples=40, deadline=None, derandomize=True)
@given(bosses, st.sampled_from([0.001, 0.01, 0.1, 1.0, 5.0]), st.booleans())
def test_chords_keep_their_promised_error(some, error, waisted):
    """Chorded: within the error. Outside: nothing of the part beyond the polygon, and no corner farther off
    than the error."""
    loop = hull(some)
    if waisted and len(some) > 1:
        a, b = some[:2]
        assume(math.dist((a.x, a.y), (b.x, b.y)) > a.radius_mm + b.radius_mm + 1)
        loop = belt([a, b], [300, 400])
    true = polygon(loop, 8000)
    assume(true.is_valid)
    slack = 400 * (1 - math.cos(math.pi / 8000))  # sagitta of the fine chords themselves
    inner, outer = Polygon(loop.points(error)), Polygon(loop.points(error, outside=True))
    assert shapely.hausdorff_distance(inner.exterior, true.exterior) <= error + slack
    assert outer.buffer(slack).contains(true)
    assert max(true.exterior.distance(Dot(p)) for p in outer.exterior.coords) <= error + slack


# ------------------------------------------------------------------------------------- what cannot be made

PLATE = rectangle(0, 0, 100, 60)


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        (Outline(PLATE.reversed()), "counter-clockwise"),
        (
            Outline(Loop((Vertex(0, 0), Vertex(50, 50), Vertex(50, 0), Vertex(0, 60)))),
            "counter-clockwise|crosses itself",
        ),
        (Outline(Loop((Vertex(0, 0), Vertex(10, 0)))), "encloses nothing|counter-clockwise"),
        (Outline(Loop((Vertex(0, 0), Vertex(100, 0), Vertex(100, 0), Vertex(50, 60)))), "coincide"),
        (Outline(PLATE, holes=(Hole(98, 30, 10, "eye"),)), "'eye' is not wholly inside"),
        (Outline(PLATE, holes=(Hole(30, 30, 10, "a"), Hole(36, 30, 10, "b"))), "'a' runs into hole 'b'"),
        (Outline(PLATE, holes=(Hole(30, 30, 30, "a"), Hole(32, 30, 4, "b"))), "runs into"),
        (Outline(PLATE, inner=(rectangle(10, 10, 100, 50),)), "window 1 is not wholly inside"),
        (Outline(PLATE, inner=(rectangle(10, 10, 90, 50), rectangle(20, 20, 30, 30))), "runs into"),
        (Outline(PLATE, holes=(Hole(30, 30, 0, "a"),)), "diameter"),
        (Outline(PLATE, holes=(Hole(30, 30, -4, "a"),)), "diameter"),
        (Outline(Loop((Vertex(0, 0), Vertex(math.nan, 0), Vertex(50, 60)))), "finite"),
        (Outline(Loop((Vertex(0, 0), Vertex(math.inf, 0), Vertex(50, 60)))), "finite"),
        (Outline(belt([Boss(0, 0, 20), Boss(100, 0, 20)], [40, 40])), "crosses itself"),
    ],
)
def test_an_outline_that_cannot_be_cut_is_refused_with_a_reason(bad, word):
    with pytest.raises(OutlineError, match=word):
        bad.check()


# ------------------------------------------------------------------------------------- offsets


def test_offset_of_a_square_and_an_angle():
    """Square 100 and an L of 100 with 60 taken out, grown by 5 with round corners; square shrunk by 5 (closed
    form; shapely agrees). At the L's hollow corner the outline loses 2·d: P = 400 + 5·(π/2)·5 - 10."""
    square = rectangle(0, 0, 100, 100)
    angle = rounded([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    assert grown(square, 5).area_mm2 == pytest.approx(12078.54, rel=1e-5)
    assert grown(square, 5).perimeter_mm == pytest.approx(431.41593, rel=1e-5)
    assert grown(angle, 5).area_mm2 == pytest.approx(8473.1748, rel=1e-5)
    assert grown(angle, 5).perimeter_mm == pytest.approx(429.26991, rel=1e-5)
    assert grown(square, -5).area_mm2 == pytest.approx(8100, rel=1e-5)
    assert grown(square.reversed(), 5).area_mm2 == pytest.approx(-12078.54, rel=1e-5)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(bosses, st.floats(0.1, 5))
def test_a_convex_outline_grows_by_steiners_formula(some, d):
    """A + P·d + π·d² and P + 2π·d for a convex body (Steiner); and back again gives the outline it came
    from."""
    loop = hull(some)
    out = grown(loop, d)
    assert sorted(s.radius for s in out.segments if s.bulge) == pytest.approx(
        sorted(s.radius + d for s in loop.segments if s.bulge)
    )
    assert out.area_mm2 == pytest.approx(loop.area_mm2 + loop.perimeter_mm * d + math.pi * d * d, rel=1e-9)
    assert out.perimeter_mm == pytest.approx(loop.perimeter_mm + 2 * math.pi * d, rel=1e-9)
    assert grown(out, -d).area_mm2 == pytest.approx(loop.area_mm2, rel=1e-9)


@pytest.mark.slow
@settings(max_examples=150, deadline=None, derandomize=True)
@given(corner_lists, st.floats(0.1, 3), st.sampled_from([1, -1]))
def test_an_outline_of_lines_and_arcs_grows_as_shapelys_buffer_does(shape, d, sign):
    """Grown with round corners: shapely's buffer, join round. Shrunk: the same, negative. Refusals are clear
    errors."""
    try:
        loop = star(shape)
        Outline(loop).check()
        moved = grown(loop, sign * d)
        Outline(moved).check()
    except OutlineError:
        assume(False)
    theirs = polygon(loop).buffer(sign * d, quad_segs=180)
    assert theirs.geom_type == "Polygon"
    assert polygon(moved).symmetric_difference(theirs).area < 2e-5 * theirs.area


def test_a_hollow_too_tight_for_the_offset_is_refused():
    """A waist may close to a cusp, where the two bosses' circles cross: √((20 + d)² - 30²) from their line; a
    slot may not."""
    waisted = belt([Boss(0, 0, 20), Boss(60, 0, 20)], [15, 15])
    grown(waisted, 14)
    for d in (15, 16):
        assert min(abs(v.y) for v in grown(waisted, d).vertices if abs(v.x - 30) < 1e-6) == pytest.approx(
            math.sqrt((20 + d) ** 2 - 900), abs=1e-6
        )
    notch = rounded([(0, 0), (100, 0), (100, 60), (52, 60), (52, 20), (48, 20), (48, 60), (0, 60)])
    grown(notch, 1.9)
    with pytest.raises(OutlineError, match=r"too short|too narrow"):
        grown(notch, 2.1)
    with pytest.raises(OutlineError, match=r"leaves nothing|too narrow"):
        grown(circle(0, 0, 2), -1.1)


@pytest.mark.parametrize("d", [0.5, 0.75, 1.5])
def test_slivers_in_a_hollow_are_swallowed_as_in_the_true_offset(d):
    """A cope of chords 0.03 to 0.4 mm long, with a step and a nick at its ends: shapely's offset of the same
    polygon, whose own error is a hundredth of the distance. The path holds the part, and no point of it is
    further from the part than d."""
    cope = [(30 - 12 * math.cos(t), 40 - 12 * math.sin(t)) for t in (k * math.pi / 61 for k in range(1, 61))]
    points = [
        (0, 0),
        (60, 0),
        (60, 40),
        (42.2, 40),
        (42.15, 39.9),
        (42.16, 39.5),
        *reversed(cope),
        (17.9, 39.97),
        (17.8, 40),
        (17.75, 39.95),
        (0, 40),
    ]
    part = Loop(tuple(Vertex(*p) for p in points))
    path = grown(part, d)
    theirs, mine = polygon(part).buffer(d, quad_segs=180), polygon(path)
    assert mine.hausdorff_distance(theirs) < 0.02 * d and mine.contains(polygon(part))
    assert polygon(part).buffer(d + 1e-3, quad_segs=180).contains(mine)
    assert grown(part.reversed(), d).area_mm2 == pytest.approx(-path.area_mm2, rel=1e-9)


def test_metal_left_in_a_hollow():
    """A cutter of radius d leaves d·(1/sin(a/2) - 1) in a corner of angle a, (√2 - 1)·(d - r) in a square one
    of radius r < d."""
    angle = rounded([(0, 0), (90, 0), (90, 30), (30, 30), (30, 90), (0, 90)])
    for r, d, left in (
        (0, 0.75, (math.sqrt(2) - 1) * 0.75),
        (0.4, 1, (math.sqrt(2) - 1) * 0.6),
        (1, 1, 0),
        (2, 1, 0),
    ):
        window = rectangle(0, 0, 40, 30, r).reversed()
        assert left_mm(window, grown(window, -d), d) == pytest.approx(left, abs=1e-9)
    assert left_mm(angle, grown(angle, 2), 2) == pytest.approx((math.sqrt(2) - 1) * 2, abs=1e-9)
    vee = Loop(tuple(Vertex(*p) for p in ((0, 0), (60, 0), (60, 40), (30, 10), (0, 40))))
    assert left_mm(vee, grown(vee, 1), 1) == pytest.approx(math.sqrt(2) - 1, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_arcs_along_a_cut_through_a_round_corner_keep_to_it(seed):
    """The line in which a plane meets a tube's round corner is part of an ellipse between two straights; its
    fine steps become a few arcs within 0.02 mm of the true ellipse, and the straights stay."""
    rng = np.random.default_rng(seed)
    r, lean = rng.uniform(3, 9), rng.uniform(0, 0.9)
    turns = np.linspace(0, math.pi / 2, int(rng.integers(30, 50)))
    a = r / math.cos(lean)
    steps = [(a * math.sin(t) + 15, r * (1 - math.cos(t))) for t in turns]
    path = [Vertex(0, 0), *(Vertex(*p) for p in steps), Vertex(a + 15, r + 12)]
    found = arced(path)
    assert (found[0], found[-1]) == (path[0], path[-1])
    arcs = [
        Segment((u.x, u.y), (v.x, v.y), u.bulge) for u, v in zip(found, found[1:], strict=False) if u.bulge
    ]
    assert 1 <= len(arcs) <= 8 and len(found) <= len(arcs) + 3
    for s in arcs:
        for share in np.linspace(0, 1, 9):
            x, y = s.at(share)
            t = np.linspace(0, math.pi / 2, 4000)
            away = np.hypot(a * np.sin(t) + 15 - x, r * (1 - np.cos(t)) - y).min()
            chord = (
                (r * math.pi / 2 / (len(turns) - 1)) ** 2 / 8 / r * (a / r) ** 2
            )  # of the steps themselves
            assert away < 0.02 + chord + 1e-3
