"""A corner and plain bodies for the clearance tests: points of a public check-row, straight bars, tubes,
boxes."""

from __future__ import annotations

import math

import corners
import numpy as np

from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline, rectangle

PUSH, PULL = ({n: getattr(c, n) for n in (*c.names, "rod_on")} for c in (corners.PUSH, corners.PULL))


def mechanism(points=PUSH, seed=None, spread_mm=6.0) -> Mechanism:
    """The corner, or a corner near it with every point moved at random."""
    p = HardPoints(**points)
    if seed is not None:
        rng = np.random.default_rng(seed)
        p = p.moved(**{n: rng.uniform(-spread_mm, spread_mm, 3) for n in p.names if n != "axis"})
    return Mechanism(p)


def bar(a, b, diameter_mm: float) -> Form:
    a, b = np.asarray(a, float), np.asarray(b, float)
    along = b - a
    return Form(
        (
            Round(
                diameter_mm,
                float(np.linalg.norm(along)),
                0.0,
                Frame.looking(a, along, np.eye(3)[np.argmin(np.abs(along))]),
            ),
        )
    )


def square_tube(a, b, size_mm: float, corner_mm: float) -> Form:
    a, b = np.asarray(a, float), np.asarray(b, float)
    h = size_mm / 2
    return Form(
        (
            Prism(
                Outline(rectangle(-h, -h, h, h, corner_mm)),
                math.dist(a, b),
                Frame.looking(a, b - a, np.eye(3)[np.argmin(np.abs(b - a))]),
            ),
        )
    )


def box(low, high) -> Form:
    (x0, y0, z0), (x1, y1, z1) = low, high
    return Form((Prism(Outline(rectangle(x0, y0, x1, y1)), z1 - z0, Frame((0.0, 0.0, z0))),))


class Still:
    """A motion that does not move."""

    references = np.zeros((2, 3))

    def frames(self, first, second):
        return np.tile(np.eye(4)[:3], (len(first), 2, 1, 1))

    def bends(self, first, second):
        return np.zeros((2, 1, 2, 12, len(first) - 1, max(1, len(second) - 1)))


class Turning(Still):
    """Carrier 1 turns about z through the origin by the first coordinate, in degrees. R'' = -R per rad²:
    exact bound."""

    def frames(self, first, second):
        out = super().frames(first, second)
        c, s = np.cos(np.radians(first)), np.sin(np.radians(first))
        out[:, 1, 0, 0], out[:, 1, 0, 1], out[:, 1, 1, 0], out[:, 1, 1, 1] = c, -s, s, c
        return out

    def bends(self, first, second):
        out = super().bends(first, second)
        middle, half = np.radians((first[1:] + first[:-1]) / 2), np.radians(np.diff(first) / 2)
        for row, value in (
            (0, np.cos(middle)),
            (1, -np.sin(middle)),
            (3, np.sin(middle)),
            (4, np.cos(middle)),
        ):
            out[0, 0, 1, row, :, 0] = -value * np.radians(1) ** 2
            out[1, 0, 1, row, :, 0] = half * np.radians(1) ** 2
        return tuple(out)
