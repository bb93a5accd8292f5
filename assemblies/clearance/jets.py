"""Numbers with a proven error that carry their own derivatives: balls (middle, radius) in second-order Taylor form.

A `Jet` encloses a smooth quantity and its derivatives up to the second order in one or two variables over a whole box of
those variables at once. Its arrays are (coefficients, ..., boxes); coefficients are value, first derivatives, second
derivatives: (f, f_a, f_aa) or (f, f_a, f_s, f_aa, f_as, f_ss).

Ball arithmetic: {x: |x - mid| <= rad}; every operation's result contains every result of members of its operands.
Rounding: each operation widens its radius by `ROUND` times the size of its result; the radii themselves are sums and
products of numbers that are not negative, so that `SLACK` at the end covers the rounding of fewer than 2,000 operations.
An operation that is not defined over the whole box (square root or reciprocal at zero) gives NaN: not bounded.
"""
from __future__ import annotations

import numpy as np

ROUND = 4.5e-16  # twice the unit roundoff and a little, for sums of up to a few terms
SLACK = 1 + 1e-12

# (left coefficient, right coefficient, weight) of the product rule, by result coefficient
_ONE = [[(0, 0, 1)], [(0, 1, 1), (1, 0, 1)], [(0, 2, 1), (1, 1, 2), (2, 0, 1)]]
_TWO = [[(0, 0, 1)], [(0, 1, 1), (1, 0, 1)], [(0, 2, 1), (2, 0, 1)], [(0, 3, 1), (1, 1, 2), (3, 0, 1)],
        [(0, 4, 1), (1, 2, 1), (2, 1, 1), (4, 0, 1)], [(0, 5, 1), (2, 2, 2), (5, 0, 1)]]


def _tables(rule):
    flat = [t for terms in rule for t in terms]
    left, right, weight = (np.array(c) for c in zip(*flat, strict=True))
    starts = np.cumsum([0] + [len(terms) for terms in rule[:-1]])
    return left, right, weight.astype(float), starts


_PRODUCT = {3: _tables(_ONE), 6: _tables(_TWO)}
_FIRST = {3: slice(1, 2), 6: slice(1, 3)}
_PAIRS = {3: ([1], [1]), 6: ([1, 1, 2], [1, 2, 2])}  # which first derivatives meet in each second one


class Jet:
    """An enclosed quantity with its derivatives; see the top of this file."""

    __slots__ = ("mid", "rad")
    __array_ufunc__ = None

    def __init__(self, mid: np.ndarray, rad: np.ndarray):
        self.mid, self.rad = mid, rad

    @staticmethod
    def variables(middles, radii) -> list[Jet]:
        """The variables themselves over boxes middle ± radius: one jet for each (n arrays of shape (boxes,))."""
        n, boxes = len(middles), len(middles[0])
        out = []
        for i, (m, r) in enumerate(zip(middles, radii, strict=True)):
            jet = Jet(np.zeros((3 if n == 1 else 6, boxes)), np.zeros((3 if n == 1 else 6, boxes)))
            jet.mid[0], jet.rad[0], jet.mid[1 + i] = m, r, 1.0
            out.append(jet)
        return out

    def __getitem__(self, key) -> Jet:
        """Index the middle axes (a component of a vector); the coefficient and box axes stay."""
        return Jet(self.mid[:, key], self.rad[:, key])

    def __neg__(self) -> Jet:
        return Jet(-self.mid, self.rad)

    def __add__(self, other) -> Jet:
        if not isinstance(other, Jet):
            mid = self.mid.copy() if np.ndim(other) == 0 else np.array(np.broadcast_to(
                self.mid, np.broadcast_shapes(self.mid.shape, np.shape(other))))
            mid[0] += other
            return Jet(mid, self.rad + ROUND * np.abs(mid))
        mid = self.mid + other.mid
        return Jet(mid, self.rad + other.rad + ROUND * np.abs(mid))

    __radd__ = __add__

    def __sub__(self, other) -> Jet:
        return self + (-other)

    def __rsub__(self, other) -> Jet:
        return -self + other

    def __mul__(self, other) -> Jet:
        if not isinstance(other, Jet):
            mid = self.mid * other
            return Jet(mid, self.rad * np.abs(other) + ROUND * np.abs(mid))
        left, right, weight, starts = _PRODUCT[len(self.mid)]
        a, ra, b, rb = self.mid[left], self.rad[left], other.mid[right], other.rad[right]
        w = weight.reshape(-1, *[1] * (max(a.ndim, b.ndim) - 1))
        a = a * w
        ra = ra * w
        prod = a * b
        size = np.abs(prod)
        rad = np.abs(a) * rb + ra * (np.abs(b) + rb) + 4 * ROUND * size
        return Jet(np.add.reduceat(prod, starts, axis=0), np.add.reduceat(rad, starts, axis=0))

    __rmul__ = __mul__

    def _through(self, f0, f1, f2) -> Jet:
        """f(self) from the enclosures (mid, rad) of f, f', f'' over the range of the value (chain rule)."""
        n = len(self.mid)
        mid, rad = np.empty_like(self.mid), np.empty_like(self.mid)
        mid[0], rad[0] = f0
        first = _FIRST[n]
        rest = slice(1, None)
        mid[rest], rad[rest] = _mul(f1, (self.mid[rest], self.rad[rest]))
        i, j = _PAIRS[n]
        square = _mul((self.mid[i], self.rad[i]), (self.mid[j], self.rad[j]))
        bend = _mul(f2, square)
        second = slice(first.stop, None)
        mid[second] += bend[0]
        rad[second] += bend[1] + ROUND * np.abs(mid[second])
        return Jet(mid, rad)

    def sqrt(self) -> Jet:
        """Square root; NaN where the value may be zero or negative."""
        low, high = self.mid[0] - self.rad[0], self.mid[0] + self.rad[0]
        low = np.where(low > 0, low, np.nan)
        r0, r1 = np.sqrt(low), np.sqrt(high)
        return self._through(_between(r0, r1), _between(0.5 / r1, 0.5 / r0), _between(-0.25 / (low * r0), -0.25 / (high * r1)))

    def reciprocal(self) -> Jet:
        """1 / self; NaN where the value may be zero."""
        low, high = self.mid[0] - self.rad[0], self.mid[0] + self.rad[0]
        apart = low * high > 0
        i0, i1 = 1 / np.where(apart, low, np.nan), 1 / np.where(apart, high, np.nan)
        near, far = np.where(np.abs(i0) < np.abs(i1), i0, i1), np.where(np.abs(i0) < np.abs(i1), i1, i0)
        return self._through(_between(i0, i1), _between(-near * near, -far * far),
                             _between(2 * near**3, 2 * far**3))

    def __truediv__(self, other) -> Jet:
        return self * other.reciprocal() if isinstance(other, Jet) else self * (1 / other)


def _mul(x, y):
    mid = x[0] * y[0]
    return mid, np.abs(x[0]) * y[1] + x[1] * (np.abs(y[0]) + y[1]) + ROUND * np.abs(mid)


def _between(a, b):
    """The ball of the numbers between a and b (either order)."""
    mid = 0.5 * (a + b)
    return mid, 0.5 * np.abs(b - a) + 4 * ROUND * np.abs(mid)


def turn(angle: Jet) -> tuple[Jet, Jet]:
    """cos and sin of a variable."""
    a, r = angle.mid[0], angle.rad[0]
    c, s = (np.cos(a), np.minimum(r, 2.0) + ROUND), (np.sin(a), np.minimum(r, 2.0) + ROUND)
    minus = lambda x: (-x[0], x[1])  # noqa: E731
    return angle._through(c, minus(s), minus(c)), angle._through(s, c, minus(s))


def stack(*items) -> Jet:
    """Scalar quantities (coefficients, boxes) as the components of a vector; plain numbers are constants."""
    like = next(i for i in items if isinstance(i, Jet))
    mid, rad = (np.zeros((like.mid.shape[0], len(items), like.mid.shape[-1])) for _ in range(2))
    for k, item in enumerate(items):
        if isinstance(item, Jet):
            mid[:, k], rad[:, k] = item.mid, item.rad
        else:
            mid[0, k] = item
    return Jet(mid, rad)


def along(scalar: Jet, vector) -> Jet:
    """A scalar times a vector: a jet (coefficients, n, boxes) or a constant one (n,)."""
    lifted = Jet(scalar.mid[:, None], scalar.rad[:, None])
    return lifted * (vector if isinstance(vector, Jet) else np.asarray(vector, float)[:, None])


def turned(matrix, vector: Jet) -> Jet:
    """A constant matrix (m, n) times a vector."""
    m = np.asarray(matrix, float)
    mid = m @ vector.mid
    size = np.abs(m) @ np.abs(vector.mid)
    return Jet(mid, np.abs(m) @ vector.rad + 2 * ROUND * size)


def dot(u: Jet, v) -> Jet:
    if not isinstance(v, Jet):
        one = turned(np.asarray(v, float)[None, :], u)
        return Jet(one.mid[:, 0], one.rad[:, 0])
    p = u * v
    return Jet(p.mid.sum(axis=1), p.rad.sum(axis=1) + 2 * ROUND * np.abs(p.mid).sum(axis=1))


def cross(u: Jet, v: Jet) -> Jet:
    return u[[1, 2, 0]] * v[[2, 0, 1]] - u[[2, 0, 1]] * v[[1, 2, 0]]
