"""Pieces in the bore of a ring that stands still, and before its ends: closed forms, and the ring's wedges
met one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from clearance_corner import Turning, bar, box

from assemblies.clearance.pieces import pieces
from assemblies.clearance.scene import Forest, Grid
from assemblies.clearance.search import Search
from parts.shape.form import Form, Frame, Prism, Round, unit
from parts.shape.outline import Loop, Outline, Vertex

ERROR_MM, WITHIN_MM = 0.01, 0.05
RING = Form((Round(40.0, 100.0, 30.0, Frame((0.0, 0.0, 0.0))),))


def searched(
    moving: Form, ring: Form = RING, by_bore: bool = True, travel=(0.0, 60.0)
) -> tuple[float, float, int]:
    """Least gap of a form that turns about z to a ring that stands: proven, found, and how often the distance
    library was asked."""
    forest = Forest()
    own = [forest.add(p, 1) for p in pieces(moving, ERROR_MM)]
    (whole,) = pieces(ring, ERROR_MM, hollow=True)
    assert whole.bore_mm == ring.pieces[0].bore_mm
    fixed = [forest.add(whole if by_bore else replace(whole, bore_mm=0.0), 0)]
    search = Search(forest.scene(), Grid(Turning(), travel))
    found = search.run([(own, fixed)], WITHIN_MM)
    return found.low[0], found.high[0], search.library.queries


@pytest.mark.parametrize(
    "moving, gap, most",
    [
        (bar((0, 0, 20), (0, 0, 80), 20), 5.0, 4),
        (bar((0, 0, -50), (0, 0, 150), 20), 5.0, 4),  # through it
        (bar((2, 0, 20), (2, 0, 80), 20), 3.0, 30),
        (bar((0, 0, 106), (0, 0, 150), 20), math.hypot(5, 6), 4),
        (bar((2, 0, -50), (2, 0, -4), 20), math.hypot(3, 4), 100),
        (box((-8, -6, 30), (8, 6, 50)), 5.0, 4),  # its corners are 10 from the axis
        (box((-8, -6, 112), (8, 6, 120)), math.hypot(5, 12), 4),
    ],
    ids=["about the axis", "through", "aside", "beyond", "beyond the other end", "square", "square beyond"],
)
def test_what_turns_in_a_bore_is_known_from_its_axis(moving, gap, most):
    """By hand: bore's radius 15 less the reach from the axis, and the way before the end square to it. What
    turns about the axis is known at once: met wedge by wedge the four before the ends and the square ones ask
    160 to 450 times."""
    low, high, queries = searched(moving)
    assert low <= gap + 2 * ERROR_MM and gap - 2 * ERROR_MM <= high + 1e-9
    assert high - low <= WITHIN_MM + 1e-9 and queries <= most


def a_piece(rng) -> Form:
    """A bar or a plate of four corners: in the ring, across its end, before it; half of them small ones
    before an end."""
    across, along, height = rng.uniform(-5, 5, 2), rng.uniform(-30, 130), rng.uniform(2, 40)
    if rng.random() < 0.5:
        height = rng.uniform(2, 6)
        along = rng.choice((104 + rng.uniform(0, 20), -4 - height - rng.uniform(0, 20)))
    frame = Frame.looking((*across, along), unit((*rng.uniform(-0.5, 0.5, 2), 1)), unit(rng.normal(size=3)))
    if rng.random() < 0.5:
        return Form((Round(rng.uniform(3, 14), height, 0.0, frame),))
    turns = np.arange(4) * math.pi / 2 + rng.uniform(0, 1, 4)
    corners = rng.uniform(3, 9) * np.stack([np.cos(turns), np.sin(turns)], 1)
    return Form((Prism(Outline(Loop(tuple(Vertex(float(x), float(y)) for x, y in corners))), height, frame),))


class Aside(Turning):
    """About the line through `at`, along z."""

    at = np.array([300.0, 280.0, 0.0])
    references = np.array([[0.0, 0.0, 0.0], at])

    def frames(self, first, second):
        out = super().frames(first, second)
        out[:, 1, :, 3] = self.at - out[:, 1, :, :3] @ self.at
        return out


def test_what_is_proven_of_the_halves_of_what_is_in_a_bore_is_measured_from_its_axis(monkeypatch):
    """An angle that turns aside of the ring's axis, far from the car's zero. By hand: nothing in the bore can
    be proven further from it than the bore's radius of 15."""
    proven = []
    whole = Search._halved

    def halved(search, nodes):
        out = whole(search, nodes)
        proven.extend(out.low[out.inside > 0].tolist())
        return out

    monkeypatch.setattr(Search, "_halved", halved)
    monkeypatch.setattr("test_clearance_bores.Turning", Aside)
    corners = ((-5, -5), (5, -5), (5, 0), (0, 0), (0, 5), (-5, 5))
    outline = Outline(Loop(tuple(Vertex(float(x), float(y)) for x, y in corners)))
    there = Frame((*Aside.at[:2], 1000.0))
    for off in (1.0, 3.0, 5.0):
        angle = Form((Prism(outline, 60.0, Frame((off, 0.0, 20.0))),)).moved(there)
        searched(angle, RING.moved(Frame((1.0, 2.0, 0.0))).moved(there))
    assert proven and max(proven) <= 15.0


@pytest.mark.slow
def test_a_bore_says_what_its_wedges_say():
    """Independent route: the same ring without its bore, each wedge met through the distance library. Both
    brackets hold the least gap; the ring stands anywhere, off the axis that the piece turns about."""
    rng = np.random.default_rng(5)
    for _ in range(40):
        at = Frame.looking(
            (rng.uniform(-4, 4), rng.uniform(-4, 4), 0.0), unit((*rng.uniform(-0.1, 0.1, 2), 1)), (1, 0, 0)
        )
        piece, ring = a_piece(rng), RING.moved(at)
        low, high, _ = searched(piece, ring)
        other_low, other_high, _ = searched(piece, ring, by_bore=False)
        assert max(low, other_low) <= min(high, other_high) + ERROR_MM  # by which wedges reach into the bore
        assert high - low <= WITHIN_MM + 1e-9 or high < 0
