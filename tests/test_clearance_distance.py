"""Distances and turning parts against closed forms (check-rows G1 to G9; an exact CAD kernel agrees on G1,
G5, G8)."""

from __future__ import annotations

import math
from types import SimpleNamespace

import fcl
import numpy as np
import pytest
from clearance_corner import Still, Turning, bar, box, square_tube

from assemblies.clearance.cells import box_gap
from assemblies.clearance.library import Library, convex
from assemblies.clearance.pieces import Piece, pieces, real_pieces
from assemblies.clearance.scene import Forest, Grid, Scene
from assemblies.clearance.search import Search
from assemblies.clearance.slack import Bends
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline, rectangle

NONE = np.zeros((0, 2), int)
SEGMENTS = [
    ((0, 0, 0), (100, 0, 0), (20, 30, 40), (80, 30, 40), 50.0),
    ((0, 0, 0), (100, 0, 0), (50, -60, 25), (50, 60, 25), 25.0),
    ((0, 0, 0), (100, 0, 0), (130, 40, 0), (200, 90, 10), 50.0),
    ((0, 0, 0), (100, 0, 0), (60, 20, 10), (150, 140, 90), 22.36068),
    ((0, 0, 0), (100, 100, 0), (100, 0, 10), (60, 39.99, 10), 17.326282),
    ((0, 0, 0), (0, 0, 0), (30, 40, 0), (30, 40, 0.5), 50.0),
]


def least(moving, fixed, motion, travel=(0.0, 1.0), within_mm=0.001, error_mm=1e-4):
    """Proven and found least gap, the pose, and the reach of the pieces past the metal."""
    forest = Forest()
    groups = []
    for what, carrier in ((moving, 1), (fixed, 0)):
        made = pieces(what, error_mm) if isinstance(what, Form) else [Piece(np.array(what, float), NONE, 0.0)]
        groups.append([forest.add(p, carrier) for p in made])
    search = Search(forest.scene(), Grid(motion, travel))
    found = search.run([tuple(groups)], within_mm)
    return found.low[0], found.high[0], float(search.grid.wheel_mm(found.z[0]))


@pytest.mark.parametrize("a, b, c, d, expected", SEGMENTS)
def test_segments_parallel_skew_and_at_their_ends(a, b, c, d, expected):
    """Check-row G1, closed form: parallel segments are singular, ends can be nearest, a segment can be a
    point."""
    low, high, _ = least((a, b), (c, d), Still(), within_mm=2e-6)
    assert low <= expected + 5e-7 and high >= expected - 5e-7
    assert high - low < 4e-6


def test_segments_are_not_infinite_lines():
    """Check-row G2, closed form: the lines are 19.6 apart, the segments 58.3."""
    d = np.array((1, 1, 0.2))
    low, high, _ = least(
        ((0, 0, 0), (20, 0, 0)), ((0, 50, 30), (0, 50, 30) + 40 * d), Still(), within_mm=2e-6
    )
    assert low == pytest.approx(58.309519, abs=1e-5) == high


@pytest.mark.parametrize("case, expected", [(0, 29.3), (1, 4.3), (2, 29.3), (3, 1.6606798)])
def test_rod_against_tube(case, expected):
    """Check-row G3, capsules of radii 8 and 12.7 (closed form). A round bar with flat ends lies within its
    capsule, so its gap is never less; they are equal where the nearest points lie between the ends (cases 1
    and 2)."""
    a, b, c, d, _ = SEGMENTS[case]
    low, high, _ = least(bar(a, b, 16), bar(c, d, 25.4), Still())
    assert high + 2e-4 >= expected - 1e-5
    if case < 2:
        assert low <= expected + 1e-5
        assert high - low < 0.002


def test_rod_into_tube_is_a_depth():
    """Check-row G3: case 2 with radii 15 and 12.7 overlaps by 2.7 mm (closed form)."""
    a, b, c, d, _ = SEGMENTS[1]
    low, high, _ = least(bar(a, b, 30), bar(c, d, 25.4), Still())
    assert low <= -2.7 + 1e-5 and high >= -2.7 - 5e-4 and high - low < 0.002


def test_boxes():
    """Check-row G4, closed form: an axis on which two boxes overlap adds nothing."""
    a = box((0, 0, 0), (40, 60, 3))
    for b, expected in (
        (box((50, 65, -10), (90, 100, -4)), 11.874342),
        (box((30, 20, 8), (60, 40, 20)), 5.0),
    ):
        low, high, _ = least(a, b, Still(), within_mm=2e-6)
        assert low <= expected + 1e-6 and high >= expected - 1e-6 and high - low < 4e-6


def test_turned_cube_against_a_wall():
    """Check-row G5, closed form: 31.715729 mm at 45 degrees, 40 mm unturned; over the turn it is the least
    that counts."""
    cube, wall = box((-20, -20, -20), (20, 20, 20)), box((60, -200, -200), (70, 200, 200))
    low, high, at = least(cube, wall, Turning(), (0.0, 90.0))
    assert low <= 31.715729 + 1e-6 and high >= 31.715729 - 1e-6 and high - low < 0.002
    assert at == pytest.approx(45, abs=1)
    low, high, _ = least(cube, wall, Turning(), (-1e-9, 1e-9), within_mm=2e-6)
    assert low == pytest.approx(40, abs=1e-5) == high


def test_square_tube_corner_against_a_round_tube():
    """Check-row G6, closed form: rounded corner 18.178178 mm, sharp corner 15.725341 mm."""
    tube = bar((38, 42, -100), (38, 42, 100), 25.4)
    for corner, expected in ((6.0, 18.178178), (0.0, 15.725341)):
        square = square_tube((0, 0, -100), (0, 0, 100), 40, corner)
        low, high, _ = least(square, tube, Still(), error_mm=1e-5, within_mm=2e-6)
        assert low <= expected + 1e-6 and high >= expected - 3e-5 and high - low < 5e-5


def test_turning_plate_past_a_tube():
    """Check-row G7, closed form: the least gap comes as each corner passes, not when the plate points at the
    tube."""
    plate = box((-20, -15, 0), (80, 15, 3))
    bearing = math.radians(70)
    tube = bar(
        (100 * math.cos(bearing), 100 * math.sin(bearing), -50),
        (100 * math.cos(bearing), 100 * math.sin(bearing), 50),
        25,
    )
    low, high, at = least(plate, tube, Turning(), (0.0, 90.0))
    assert low <= 6.105897 + 1e-4 and high >= 6.105897 - 2e-4 and high - low < 0.002
    assert min(abs(at - a) for a in (59.380345, 80.619655)) < 0.1
    low, high, at = least(plate, tube, Turning(), (0.0, 40.0))
    assert low <= 23.117321 + 1e-4 and high >= 23.117321 - 2e-4 and high - low < 0.002
    assert at == pytest.approx(40, abs=0.01)


def test_disc_swept_by_a_plate_against_a_tube_at_an_angle():
    """Check-row G8, closed form: a plate's thickness counts against an oblique tube."""
    disc = Form((Round(140, 3, 0.0, Frame.looking((-1.5, 0, 0), (1, 0, 0), (0, 1, 0))),))
    along = 400 * np.array((math.cos(math.radians(20)), 0, math.sin(math.radians(20))))
    tube = bar(np.array((0, 0, 100)) - along, np.array((0, 0, 100)) + along, 25)
    low, high, _ = least(disc, tube, Still())
    assert low <= 15.177748 + 1e-4 and high >= 15.177748 - 2e-4 and high - low < 0.002


@pytest.mark.parametrize("step_deg, miss", [(1, 0.0030461549), (5, 0.076142273), (10, 0.30442415)])
def test_what_a_stepped_sweep_would_miss_is_not_missed(step_deg, miss):
    """Check-row G9, closed form: a point at 80 mm misses rho·(1 - cos(step/2)) at a passing minimum half-way
    between steps; the proven bound allows for it and the search finds it."""
    point = ((80, 0, 0), (80, 0, 1))
    wall = box((82, -50, -5), (90, 50, 5))
    stepped = 82 - 80 * math.cos(math.radians(step_deg / 2))
    low, high, _ = least(point, wall, Turning(), (-step_deg / 2, step_deg / 2), within_mm=2e-6)
    assert low <= 2.0 + 1e-6 and high == pytest.approx(2.0, abs=2e-6)
    assert stepped - high == pytest.approx(miss, rel=1e-3)


def test_parallel_faces_at_a_constant_gap():
    """Two faces that slide along each other 3 mm apart: closed form, and nothing to get lost in."""
    low, high, _ = least(
        bar((0, 0, 0), (0, 0, 10), 80), box((-100, -100, 13), (100, 100, 20)), Turning(), (0.0, 90.0)
    )
    assert low <= 3.0 and high >= 3.0 - 1e-9 and high - low < 0.002


def test_touching_faces_are_neither_far_nor_deep():
    low, high, _ = least(
        bar((0, 0, 0), (0, 0, 10), 80), box((-100, -100, 10), (100, 100, 20)), Turning(), (0.0, 30.0)
    )
    assert -0.002 < low <= 1e-9 and abs(high) < 1e-6


def test_a_bolt_inside_a_tube_is_a_clash():
    """Wholly contained solids do not meet at any surface; tubes count as filled."""
    ring = Form((Round(60, 200, 54, Frame((0, 0, -100))),))
    _, high, _ = least(bar((0, 0, -5), (0, 0, 5), 8), ring, Still())
    assert high < -20


def test_edge_against_edge():
    """Two thin blades crossed at right angles 0.7 mm apart, edge to edge (closed form)."""
    blade = Form(
        (Prism(Outline(rectangle(-50, 0, 50, 20)), 0.5, Frame.looking((0, 0, 0), (0, 1, 0), (1, 0, 0))),)
    )
    other = Form(
        (Prism(Outline(rectangle(-50, 0, 50, 20)), 0.5, Frame.looking((0, 0, 0.7), (1, 0, 0), (0, -1, 0))),)
    )
    top = max(p.points[:, 2].max() for p in pieces(blade, 0.01))
    foot = min(p.points[:, 2].min() for p in pieces(other, 0.01))
    low, high, _ = least(blade, other, Still(), within_mm=2e-6)
    assert high == pytest.approx(foot - top, abs=1e-6) and low == pytest.approx(foot - top, abs=1e-5)


def test_plates_stacked_are_one_piece_only_where_they_touch_and_are_alike():
    """Three plates of 4 mm, turned and moved: as high as all of them where nothing is between; each by itself
    0.01 mm apart, of another outside, or shifted across."""
    plate, wider = Outline(rectangle(-10, -8, 10, 8)), Outline(rectangle(-10, -8, 10, 9))
    turned = Frame((30.0, 40.0, 50.0), (0.6, 0.0, 0.8), (0.8, 0.0, -0.6))

    def made(*places) -> list[Piece]:
        return list(
            pieces(Form(tuple(Prism(o, 4.0, Frame((x, 0.0, z))) for o, x, z in places)).moved(turned), 0.01)
        )

    (one,) = made((plate, 0, 0), (plate, 0, 4), (plate, 0, 8))
    along = one.points @ np.array(turned.z)
    assert np.ptp(along) == pytest.approx(12.0, abs=1e-9) and len(one.points) == 8
    for second in ((plate, 0, 4.01), (wider, 0, 4), (plate, 0.01, 4), (plate, 0, 3.99)):
        assert len(made((plate, 0, 0), second)) == 2


def test_two_pieces_may_stray_as_far_as_both_of_them():
    """Boxes whose furthest corners are 50 and 100 mm from the axis they turn about, over a cell of 1°: each
    point strays by at most r·(0.5°)²/2 from the straight line, and both bounds are for corners within 2%."""
    forest = Forest()
    one, two = (
        forest.add(p, 1)
        for what in (box((20, 0, 0), (40, 30, 10)), box((50, -80, 0), (60, 0, 10)))
        for p in pieces(what, 1e-3)
    )
    bends = Bends(forest.scene(), Grid(Turning(), (0.0, 16.0)))
    cell = (np.array([x]) for x in (0, Grid.FINE // 16, Grid.FINE // 2, Grid.FINE))
    (stray,) = bends.slack((np.array([one]), np.array([two])), *cell)
    expected = (50.0 + 100.0) * np.radians(0.5) ** 2 / 2
    assert expected <= stray[0] < 1.02 * expected


@pytest.mark.parametrize("order", ["C", "F"])
def test_a_hull_is_that_of_its_points_however_they_lie_in_memory(order):
    """A cube under a point, 3 over its middle, read only."""
    cube = np.array([(x, y, z) for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)], order=order)
    cube.flags.writeable = False
    request, result = fcl.DistanceRequest(enable_nearest_points=True), fcl.DistanceResult()
    point = np.array([(0.1, 0.2, 3.0)])
    gap = fcl.distance(*(fcl.CollisionObject(convex(p)) for p in (cube, point)), request, result)
    assert gap == pytest.approx(2.5, abs=1e-6)


def test_the_gap_of_boxes_is_their_distance_and_minus_the_depth():
    """By hand: 3, 4 and 12 apart along the axes; apart along one; overlapping by 5, 4 and 2; by z least."""
    low, high = np.zeros(3), np.full(3, 10.0)
    for at, gap in (((13, 14, 22), 13), ((0, 0, 17), 7), ((5, 6, 8), -2), ((8, 6, 5), -2), ((5, 8, 6), -2)):
        assert box_gap(low, high, low + at, high + at) == pytest.approx(gap)


@pytest.mark.parametrize("away", [(0.0, 0.0, 30.0), (300.0, 140.0, 30.0), (-290.0, 20.0, 30.0)])
def test_pieces_that_touch_have_the_direction_that_parts_them(away):
    """A block on a long plate, face on face: up, whatever way their middles lie."""
    whole = [*real_pieces(box((-400, -200, -10), (400, 200, 10)), 0.05)]
    whole += real_pieces(box((-20, -20, -20), (20, 20, 20)).moved(Frame(away)), 0.05)
    at_ride = np.tile(np.eye(3, 4), (1, 8, 1, 1))
    library = Library(Scene(whole, [0, 0], [(-1, -1)] * 2, [0, 1]), SimpleNamespace(frames=at_ride))
    gap, way, *_ = library.ask(*(np.array([k]) for k in (0, 1, 0)))
    assert gap[0] == pytest.approx(0, abs=1e-5) and way[0] == pytest.approx((0, 0, 1), abs=1e-4)
