"""Closed forms a linkage is made of: a point on a circle held by a rod, a point held by three rods, rigid
combinations.

Every formula is written once and takes plain arrays or `Jet`s (truncated Taylor series), so that derivatives
are exact: the chain rule carried along, no differences. Arrays of points are laid out (..., 3, poses).
"""

from __future__ import annotations

from typing import Any

import numpy as np

Series = Any  # an array, or a Jet of arrays: the formulas take either


class Jet:
    """A quantity with its Taylor coefficients f, f', f''/2 ... in one variable; plain numbers are constants.

    >>> x = Jet([np.array(2.0), np.array(1.0), np.array(0.0)])
    >>> [float(c) for c in (x * x / 2).c]
    [2.0, 2.0, 0.5]
    """

    __slots__ = ("c",)
    __array_ufunc__ = None  # numpy hands operators over to the methods below

    def __init__(self, coefficients: list):
        self.c = coefficients

    def __getitem__(self, key) -> Jet:
        return Jet([c[key] for c in self.c])

    def __neg__(self) -> Jet:
        return Jet([-c for c in self.c])

    def __add__(self, other) -> Jet:
        if type(other) is Jet:
            return Jet([a + b for a, b in zip(self.c, other.c, strict=True)])
        return Jet([self.c[0] + other, *self.c[1:]])

    __radd__ = __add__

    def __sub__(self, other) -> Jet:
        if type(other) is Jet:
            return Jet([a - b for a, b in zip(self.c, other.c, strict=True)])
        return Jet([self.c[0] - other, *self.c[1:]])

    def __rsub__(self, other) -> Jet:
        return -self + other

    def __mul__(self, other) -> Jet:
        if type(other) is Jet:
            return Jet([_folded(self.c, other.c, 0, k) for k in range(len(self.c))])
        return Jet([c * other for c in self.c])

    __rmul__ = __mul__

    def __truediv__(self, other) -> Jet:
        if type(other) is not Jet:
            return Jet([c / other for c in self.c])
        q = [self.c[0] / other.c[0]]
        for k in range(1, len(self.c)):
            q.append((self.c[k] - _folded(q, other.c, 0, k - 1, k)) / other.c[0])
        return Jet(q)

    def __rmatmul__(self, matrix) -> Jet:
        return Jet([matrix @ c for c in self.c])

    def sqrt(self) -> Jet:
        r = [np.sqrt(self.c[0])]
        for k in range(1, len(self.c)):
            rest = self.c[k] if k == 1 else self.c[k] - _folded(r, r, 1, k - 1, k)
            r.append(rest / (2 * r[0]))
        return Jet(r)

    def angle_of(self, sine: Jet) -> Jet:
        """The angle whose cosine and sine are `self` and `sine` (their squares summing to one), by its
        derivative."""
        out = [np.arctan2(sine.c[0], self.c[0])]
        for k in range(1, len(self.c)):  # angle' = cos·sin' - sin·cos'
            out.append(
                sum((k - i) * (self.c[i] * sine.c[k - i] - sine.c[i] * self.c[k - i]) for i in range(k)) / k
            )
        return Jet(out)


def _folded(a: list, b: list, first: int, last: int, order: int | None = None):
    """Sum of a[i]·b[order - i] for i from `first` to `last` (the order where none is given)."""
    order = last if order is None else order
    out = a[first] * b[order - first]
    for i in range(first + 1, last + 1):
        out = out + a[i] * b[order - i]
    return out


def turn(angle, order: int = 0):
    """cos and sin of an angle (rad): arrays, or Jets in that angle when order > 0."""
    c, s = np.cos(angle), np.sin(angle)
    if not order:
        return c, s
    scale = [1.0, 1.0, 0.5, 1 / 6][: order + 1]
    return (
        Jet([f * w for f, w in zip((c, -s, -c, s), scale, strict=False)]),
        Jet([f * w for f, w in zip((s, c, -s, -c), scale, strict=False)]),
    )


def sqrt(x):
    return x.sqrt() if isinstance(x, Jet) else np.sqrt(x)


def rows(*items):
    """Quantities (..., poses) stacked as rows (..., n, poses); the last has the full shape, plain numbers may
    come before it."""
    last = items[-1]
    if type(last) is Jet:
        return Jet(
            [rows(*(i.c[k] if type(i) is Jet else i * (k == 0) for i in items)) for k in range(len(last.c))]
        )
    out = np.empty((*last.shape[:-1], len(items), last.shape[-1]))
    for n, item in enumerate(items):
        out[..., n, :] = item
    return out


def cross(a, b):
    """Vector product of (..., 3, poses) arrays or Jets."""
    ax, ay, az = a[..., 0, :], a[..., 1, :], a[..., 2, :]
    bx, by, bz = b[..., 0, :], b[..., 1, :], b[..., 2, :]
    return rows(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)


def held_on_circle(a, b, c, flat=None):
    """cos and sin of the angle t with a·cos t + b·sin t = c and a·sin t > b·cos t, and the discriminant a² +
    b² - c².

    A point on a circle held by a rod: a, b = rod's far end in the circle's plane (along the zero direction
    and square to it), c = (distance² from the circle's centre + radius² - rod²)/(2·radius). The discriminant
    is zero where rod and arm are in line (projected). The other assembly is had by turning the sense of t;
    `flat` = 0 is the one pose between the two.
    """
    q = a * a + b * b
    left = q - c * c
    root = sqrt(left if flat is None else left * flat)
    return (a * c - b * root) / q, (b * c + a * root) / q, left
