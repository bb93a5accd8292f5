"""Trees of convex pieces: what a node reaches is what its halves together reach (the support function of a
union is the greater of the two); a cover reaches as far as the real pieces in it, each under one node."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from assemblies.clearance.outside import outside
from assemblies.clearance.pieces import _hull, convex_parts, pieces
from assemblies.clearance.scene import Forest
from parts.shape.form import Form, Frame, Prism, Round, vector
from parts.shape.outline import Loop, Outline, Vertex

SKEW = Frame.looking((100.0, -50.0, 30.0), (0.3, -0.5, 0.8), (1.0, 0.0, 0.2))
NOTCHED = Loop(
    tuple(Vertex(*v) for v in ((0, 0), (120, 0, 0.4), (120, 80), (80, 80, -0.9), (40, 80), (0, 80)))
)
FORMS = {
    "a long ring": Form((Round(60.0, 1300.0, 50.0, SKEW),)),
    "a wide ring": Form((Round(600.0, 150.0, 380.0, SKEW),)),
    "a long bar": Form((Round(20.0, 900.0, 0.0, SKEW),)),
    "a notched plate": Form((Prism(Outline(NOTCHED), 500.0, SKEW),)),
}


@pytest.mark.parametrize("name", FORMS)
def test_a_node_reaches_as_far_as_what_it_splits_into(name):
    error_mm = 0.02
    forest = Forest()
    (root,) = [forest.add(p, 1) for p in pieces(FORMS[name], error_mm, hollow=True)]
    scene = forest.scene()
    count, some = len(scene.pieces), 12
    direction = np.random.default_rng(1).normal(size=(some, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    which, still = np.repeat(np.arange(count), some), np.broadcast_to(np.eye(3, 4), (some * count, 3, 4))
    reach = scene.reach(which, still, np.tile(direction, (count, 1))).reshape(count, some)
    split = scene.kids[:, 0] >= 0
    assert split.any()
    halved = scene.kids[split & scene.real]
    assert np.abs(reach[halved].max(1) - reach[split & scene.real]).max(initial=0.0) < 1e-9
    within = reach.copy()  # of the real pieces under each node; covers come before what they hold
    for i in np.flatnonzero(~scene.real)[::-1]:
        within[i] = within[scene.kids[i]].max(0)
    assert (reach >= within - error_mm).all()  # discs are round, the pieces in them have corners
    assert (np.bincount(scene.kids[split].ravel(), minlength=count) == (np.arange(count) != root)).all()
    assert (scene.parting[split] > 1e-3).all()
    for i in range(0, count, max(1, count // 50)):  # made when asked for, as laid out
        points = scene.pieces[i].points
        assert np.abs([points.min(0) - scene.low[i], points.max(0) - scene.high[i]]).max() < 1e-9


def test_edges_of_what_is_cut_out_of_a_piece_lie_on_its_surface():
    (piece,) = pieces(Form((Round(30.0, 200.0, 0.0, SKEW),)), 0.5)
    cut = outside(piece, vector(piece.points.mean(0) + np.array((3.0, 5.0, 40.0))), 45.0)
    assert len(cut) > 1
    for part in cut:
        faces = ConvexHull(part.points).equations
        middle = part.points[part.edges].mean(1)
        assert np.abs((middle @ faces[:, :3].T + faces[:, 3]).max(1)).max() < 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_an_outline_is_cut_into_convex_parts_that_fill_it(seed):
    """A star of random reach about its middle: the parts turn left all round, and their areas are its own."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * np.pi, 40))
    star = rng.uniform(20, 100, (40, 1)) * np.stack([np.cos(turns), np.sin(turns)], 1)
    parts = convex_parts(star)
    assert 1 < len(parts) < 38
    for part in parts:
        edge = np.roll(part, -1, 0) - part
        after = np.roll(edge, -1, 0)
        assert (edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]).min() > -1e-9

    def area(p):
        return (p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1)).sum() / 2

    assert sum(map(area, parts)) == pytest.approx(area(star), rel=1e-12)


def test_the_hull_of_points_is_that_of_another_library_some_given_twice():
    points = np.random.default_rng(3).normal(size=(60, 2))
    corners = _hull(list(map(tuple, [*points, *points[::2], *points[ConvexHull(points).vertices]])))
    assert sorted(corners) == sorted(map(tuple, points[ConvexHull(points).vertices]))
