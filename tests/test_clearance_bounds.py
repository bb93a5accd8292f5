"""The proven bounds of motion against the mechanism itself, which solves the corner by other code."""

from __future__ import annotations

import numpy as np
import pytest
from clearance_corner import PULL, PUSH, mechanism

from assemblies.clearance.bounds import CornerBounds, carrier_index, carrier_name, sharpest
from assemblies.clearance.jets import EnclosedJet, cross, dot
from assemblies.motion.links import Link

SHAFT = Link((5, 120, 240), "frame", (0, 560, 235), "upright")
DROP = Link((20, 430, 130), "lower_arm", (60, 300, 380), "rocker", "from")
STAY = Link((40, 300, 140), "tie_rod", (-20, 420, 340), "upper_arm")

CORNERS = (
    [(PUSH, s) for s in (None, 1, 2, 3)]
    + [(PULL, s) for s in (None, 4, 5)]
    + [(PUSH | {"rod_on": "upright"}, s) for s in (None, 6)]
    + [(PULL | {"links": (SHAFT, DROP, STAY)}, 7)]
)


def body_points(corner: CornerBounds) -> np.ndarray:
    """(carriers, 5, 3) points within 200 mm of each body's reference, car coordinates at ride."""
    rng = np.random.default_rng(7)
    return corner.references[:, None] + rng.uniform(-200, 200, (len(corner.references), 5, 3))


def placed(frames, points):
    return np.einsum("tcij,cnj->tcni", frames[..., :3], points) + frames[:, :, None, :, 3]


@pytest.mark.parametrize("points, seed", CORNERS)
@pytest.mark.parametrize("cells", [4, 32])
def test_paths_stay_within_the_bound_of_straight_lines(points, seed, cells):
    """Linear interpolation's error is at most h²/2·sup|p''|: sampled 40 times within every cell it is, and
    the bound is not so wide as to be useless (the worst cell uses more than half of it)."""
    corner = CornerBounds(mechanism(points, seed))
    q = body_points(corner)
    edges = np.linspace(-40, 40, cells + 1)
    mid, rad = corner.bends(edges, np.zeros(1))
    bound = sharpest(mid, rad, np.arange(len(corner.references)), q - corner.references[:, None])[0, :, :, 0]
    assert np.isfinite(bound).all()
    ends = placed(corner.frames(edges, 0 * edges), q)
    for k in range(cells):
        share = np.linspace(0, 1, 42)[1:-1]
        z = edges[k] + share * (edges[k + 1] - edges[k])
        now = placed(corner.frames(z, 0 * z), q)
        line = ends[k] + share[:, None, None, None] * (ends[k + 1] - ends[k])
        off = np.sqrt(((now - line) ** 2).sum(-1)).max((0, 2))
        allowed = bound[:, k] * (edges[k + 1] - edges[k]) ** 2 / 8
        assert (off <= allowed + 1e-9).all(), (carrier_name(int((off - allowed).argmax())), off, allowed)
        if cells == 32:
            used = [carrier_index(n) for n in ("rod", *corner.links)]
            assert (off[used] > 0.3 * allowed[used]).any() and allowed[used].all()


@pytest.mark.parametrize("points, seed", CORNERS)
def test_second_derivatives_lie_in_their_enclosures(points, seed):
    """Central differences of the mechanism's own frames, at every cell's middle and near its ends."""
    corner = CornerBounds(mechanism(points, seed))
    edges = np.linspace(-40, 40, 17)
    mid, rad = corner.bends(edges, np.zeros(1))
    h = 0.05
    for share in (0.02, 0.5, 0.98):
        z = edges[:-1] + share * np.diff(edges)
        f = [corner.frames(z + d, 0 * z) for d in (-h, 0.0, h)]
        bend = (f[0] - 2 * f[1] + f[2]) / h**2
        turn, way = bend[..., :3].reshape(len(z), len(corner.references), 9), bend[..., 3]
        way = way + np.einsum("tcij,cj->tci", bend[..., :3], corner.references)  # of the reference point
        for value, rows, noise in ((turn, slice(0, 9), 1e-8), (way, slice(9, 12), 1e-5)):
            m, r = (np.moveaxis(x[0, :, rows, :, 0], -1, 0) for x in (mid, rad))
            assert (np.abs(value - m) <= r + noise + 1e-3 * np.abs(m)).all()


@pytest.mark.parametrize(
    "points, seed",
    [(PUSH, None), (PULL | {"links": (SHAFT, DROP, STAY)}, 8), (PUSH | {"rod_on": "upright"}, 9)],
)
def test_rectangles_of_travel_and_rack(points, seed):
    """Bilinear interpolation of four corners errs by at most the sum of both directions' terms."""
    corner = CornerBounds(mechanism(points, seed))
    q = body_points(corner)
    z, s = np.linspace(-40, 40, 9), np.linspace(-30, 30, 7)
    bound = sharpest(*corner.bends(z, s), np.arange(len(corner.references)), q - corner.references[:, None])
    assert np.isfinite(bound).all()
    share = np.linspace(0, 1, 7)
    for i in range(8):
        for j in range(6):
            u, v = (g.ravel() for g in np.meshgrid(share, share))
            now = placed(corner.frames(z[i] + u * 10, s[j] + v * 10), q)
            c = placed(corner.frames(z[[i, i, i + 1, i + 1]], s[[j, j + 1, j, j + 1]]), q)
            w = np.stack([(1 - u) * (1 - v), (1 - u) * v, u * (1 - v), u * v], 1)
            off = np.sqrt(((now - np.einsum("tk,kcni->tcni", w, c)) ** 2).sum(-1)).max((0, 2))
            assert (off <= (bound[0, :, i, j] + bound[1, :, i, j]) * 100 / 8 + 1e-9).all()


def test_near_toggle_the_bound_grows_and_holds():
    """Up to 0.1 mm short of where the corner stops closing."""
    m = mechanism(PULL)
    z = np.linspace(0, 200, 2001)
    last = z[np.isfinite(m.at(z).rocker_rad)].max()
    corner = CornerBounds(m)
    q = body_points(corner)
    edges = np.linspace(last - 2.0, last - 0.1, 65)
    bound = sharpest(
        *corner.bends(edges, np.zeros(1)), np.arange(len(corner.references)), q - corner.references[:, None]
    )[0, :, :, 0]
    assert np.isfinite(bound).all() and bound[1, -1] > 5 * bound[1, 0]
    f = placed(corner.frames(np.sort(np.r_[edges, (edges[1:] + edges[:-1]) / 2]), np.zeros(129)), q)
    off = np.sqrt((((f[:-2:2] + f[2::2]) / 2 - f[1::2]) ** 2).sum(-1)).max(2).T
    assert (off <= bound * (edges[1] - edges[0]) ** 2 / 8 + 1e-9).all()


def test_a_box_that_is_too_wide_is_not_bounded():
    """Rather no bound than a wrong one."""
    bound = CornerBounds(mechanism()).bends(np.array([-200.0, 200.0]), np.zeros(1))
    assert not np.isfinite(bound[1]).all()


@pytest.mark.parametrize("variables", [1, 2])
def test_jets_enclose_a_function_and_its_derivatives(variables):
    """f = sqrt(1 + x·y²)/(2 + cos x), g = (f, x, y) × (y, f, 1): coefficients by differences of plain numbers
    at random points of random boxes."""
    rng = np.random.default_rng(3)
    middle, half = rng.uniform(0.3, 1.0, (variables, 50)), rng.uniform(0, 0.2, (variables, 50))

    def plain(x, y):
        return np.sqrt(1 + x * y * y) / (2 + np.cos(x))

    v = EnclosedJet.variables(middle, half)
    x = v[0]
    y = v[1] if variables == 2 else x * 0.0 + 0.7
    f = (x * y * y + 1.0).sqrt() * (x.turn()[0] + 2.0).reciprocal()
    at = middle + rng.uniform(-1, 1, (20, variables, 50)) * half
    px, py = at[:, 0], at[:, 1] if variables == 2 else np.full((20, 50), 0.7)
    h = 1e-4
    truth = {
        (0, 0): plain(px, py),
        (1, 0): (plain(px + h, py) - plain(px - h, py)) / (2 * h),
        (2, 0): (plain(px + h, py) - 2 * plain(px, py) + plain(px - h, py)) / h**2 / 2,
    }
    if variables == 2:
        truth |= {
            (0, 2): (plain(px, py + h) - 2 * plain(px, py) + plain(px, py - h)) / h**2 / 2,
            (1, 1): (
                plain(px + h, py + h) - plain(px - h, py + h) - plain(px + h, py - h) + plain(px - h, py - h)
            )
            / (4 * h * h),
        }
    for power, value in truth.items():
        mid, rad = f.coefficient(*power[:variables])
        assert (np.abs(value - mid) <= rad + 1e-6).all(), power
    stacked = EnclosedJet(np.stack([f.mid, x.mid, y.mid], 1), np.stack([f.rad, x.rad, y.rad], 1), f.box)
    other = EnclosedJet(
        np.stack([y.mid, f.mid, (x * 0.0 + 1.0).mid], 1), np.stack([y.rad, f.rad, 0 * f.rad], 1), f.box
    )
    zero = dot(cross(stacked, other), stacked)
    assert (np.abs(zero.mid[0]) <= zero.rad[0] + 1e-12).all()


def test_a_root_of_what_may_be_negative_is_not_a_number():
    x = EnclosedJet.variables([np.array([0.1])], [np.array([0.2])])[0]
    assert np.isnan(x.sqrt().rad[0]).all() and np.isnan(x.reciprocal().rad[0]).all()
