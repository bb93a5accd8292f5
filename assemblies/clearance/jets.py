"""Enclosures of smooth quantities over a box of one or two variables, tight because they carry their own
derivatives.

An `EnclosedJet` holds the Taylor coefficients (value, slopes, halved curvatures ... up to order `ORDER`) of a
quantity f at every point x of a box at once: coefficient k lies within `rad` of `mid`, where `mid` is its
value at the box's middle. Arrays are (coefficients, ..., boxes).

Every operation's result contains every result of members of its operands (ball arithmetic: |x - mid| <= rad).
After each one, all coefficients but the highest are narrowed by the mean value theorem: coefficient k changes
over the box by no more than its slope's greatest size (the next coefficients) times the box's half-widths. So
only the highest order suffers from one operand appearing twice, and its excess counts with a power of the
box's width.

Where an operation is not defined over the whole box (square root or reciprocal at zero) the result is NaN:
not bounded. Rounding is not carried; whoever uses a radius widens it (`WIDEN`), as doubles give these chains
nine figures and more.
"""

from __future__ import annotations

import numpy as np

ORDER = 3
WIDEN = 1 + 1e-6


class _Rule:
    """Index tables of the product rule and of the mean value theorem for n variables."""

    def __init__(self, n: int):
        powers = (
            [(i,) for i in range(ORDER + 1)]
            if n == 1
            else [(i - j, j) for i in range(ORDER + 1) for j in range(i + 1)]
        )
        place: dict[tuple[int, ...], int] = {p: k for k, p in enumerate(powers)}
        terms = [
            [
                (place[a], place[tuple(x - y for x, y in zip(p, a, strict=True))])
                for a in powers
                if all(x >= y for x, y in zip(p, a, strict=True))
            ]
            for p in powers
        ]
        self.left, self.right = (np.array(c) for c in zip(*(t for row in terms for t in row), strict=True))
        whose = np.repeat(np.arange(len(powers)), [len(row) for row in terms])
        self.sums = np.eye(len(powers))[:, whose]  # (coefficients, products) which of these add up to each
        self.place, self.size, self.n = place, len(powers), n
        # by order, highest first: coefficients, and for each variable the next ones and their weights
        self.narrow = []
        start = [place[next(p for p in powers if sum(p) == order)] for order in range(ORDER + 1)]
        for order in range(ORDER - 1, -1, -1):
            rows = [p for p in powers if sum(p) == order]
            nexts = [
                (
                    slice(start[order + 1] + v, start[order + 1] + v + len(rows)),
                    np.array([p[v] + 1.0 for p in rows]),
                )
                for v in range(n)
            ]
            self.narrow.append((slice(start[order], start[order] + len(rows)), nexts))


_RULES = {1: _Rule(1), 2: _Rule(2)}


class EnclosedJet:
    """An enclosed quantity and its Taylor coefficients; see the top of this file. `box`: half-widths
    (variables, boxes)."""

    __slots__ = ("box", "mid", "rad")
    __array_ufunc__ = None

    def __init__(self, mid: np.ndarray, rad: np.ndarray, box: np.ndarray):
        self.mid, self.rad, self.box = mid, rad, box

    @staticmethod
    def variables(middles, half_widths) -> list[EnclosedJet]:
        """The variables themselves over the boxes (one or two arrays of shape (boxes,))."""
        box = np.array(half_widths, float)
        rule = _RULES[len(box)]
        out = []
        for v, middle in enumerate(middles):
            jet = EnclosedJet(np.zeros((rule.size, box.shape[1])), np.zeros((rule.size, box.shape[1])), box)
            jet.mid[0], jet.rad[0], jet.mid[1 + v] = middle, box[v], 1.0
            out.append(jet)
        return out

    def constant(self, value) -> EnclosedJet:
        """A constant number or vector (n,) over the same boxes."""
        value = np.asarray(value, float)
        mid = np.zeros((len(self.mid), *value.shape, self.box.shape[1]))
        mid[0] = value[..., None]
        return EnclosedJet(mid, np.zeros_like(mid), self.box)

    def coefficient(self, *power: int) -> tuple[np.ndarray, np.ndarray]:
        """(mid, rad) of the Taylor coefficient of the given power of each variable."""
        k = _RULES[len(self.box)].place[power]
        return self.mid[k], self.rad[k]

    def _narrowed(self) -> EnclosedJet:
        size, flat = np.abs(self.mid), [1] * (self.mid.ndim - 1)
        for rows, nexts in _RULES[len(self.box)].narrow:
            change = 0.0
            for (up, weight), half in zip(nexts, self.box, strict=True):
                change = change + weight.reshape(-1, *flat) * half * (size[up] + self.rad[up])
            self.rad[rows] = np.fmin(self.rad[rows], change)
        return self

    def __getitem__(self, key) -> EnclosedJet:
        """Index the middle axes (components of a vector); coefficients and boxes stay."""
        return EnclosedJet(self.mid[:, key], self.rad[:, key], self.box)

    def __neg__(self) -> EnclosedJet:
        return EnclosedJet(-self.mid, self.rad, self.box)

    def __add__(self, other) -> EnclosedJet:
        if isinstance(other, EnclosedJet):
            return EnclosedJet(self.mid + other.mid, self.rad + other.rad, self.box)
        mid = self.mid.copy()
        mid[0] += other
        return EnclosedJet(mid, self.rad, self.box)

    __radd__ = __add__

    def __sub__(self, other) -> EnclosedJet:
        return self + (-other)

    def __rsub__(self, other) -> EnclosedJet:
        return -self + other

    def __mul__(self, other) -> EnclosedJet:
        if not isinstance(other, EnclosedJet):
            return EnclosedJet(self.mid * other, self.rad * np.abs(other), self.box)
        return _product(self, other)._narrowed()

    __rmul__ = __mul__

    def _through(self, derivatives) -> EnclosedJet:
        """f(self): sum of f⁽ᵐ⁾(value)/m!·(self - value)ᵐ, from (mid, rad) of f⁽ᵐ⁾/m! over the value's
        range."""
        rise = EnclosedJet(self.mid.copy(), self.rad.copy(), self.box)
        rise.mid[0] = rise.rad[0] = 0.0
        out = self.constant(np.zeros(self.mid.shape[1:-1]))
        for n, (mid, rad) in enumerate(reversed(derivatives)):
            out = _product(out, rise) if n else out
            out.mid[0] += mid
            out.rad[0] += rad
        return out._narrowed()

    def _range(self):
        return self.mid[0], self.mid[0] - self.rad[0], self.mid[0] + self.rad[0]

    def sqrt(self) -> EnclosedJet:
        """Square root; NaN where the value may be zero or negative."""
        x, low, high = self._range()
        low = np.where(low > 0, low, np.nan)
        return self._through(
            [
                _about(lambda t, m=m, e=e: m * t**e, x, low, high)
                for m, e in ((1, 0.5), (0.5, -0.5), (-0.125, -1.5), (0.0625, -2.5))
            ]
        )

    def reciprocal(self) -> EnclosedJet:
        """1 / self; NaN where the value may be zero."""
        x, low, high = self._range()
        low = np.where(low * high > 0, low, np.nan)
        return self._through(
            [_about(lambda t, m=m: (-1.0) ** m * t ** (-1.0 - m), x, low, high) for m in range(ORDER + 1)]
        )

    def turn(self) -> tuple[EnclosedJet, EnclosedJet]:
        """cos and sin of an angle (rad)."""
        a, r = self.mid[0], np.minimum(self.rad[0], 2.0)
        c, s = np.cos(a), np.sin(a)
        return (
            self._through([(c, r), (-s, r), (-c / 2, r / 2), (s / 6, r / 6)]),
            self._through([(s, r), (c, r), (-s / 2, r / 2), (-c / 6, r / 6)]),
        )


def _product(x: EnclosedJet, y: EnclosedJet) -> EnclosedJet:
    """Product without narrowing (the value's own coefficient is still to come)."""
    rule = _RULES[len(x.box)]
    a, ra, b, rb = x.mid[rule.left], x.rad[rule.left], y.mid[rule.right], y.rad[rule.right]
    mid, rad = (
        (rule.sums @ v.reshape(len(v), -1)).reshape(rule.size, *v.shape[1:])
        for v in (a * b, np.abs(a) * rb + ra * (np.abs(b) + rb))
    )
    return EnclosedJet(mid, rad, x.box)


def _about(f, x, low, high):
    """Value of a monotone f at x and its greatest deviation from it between low and high."""
    y = f(x)
    return y, np.maximum(np.abs(f(low) - y), np.abs(f(high) - y))


def stack(*items: EnclosedJet) -> EnclosedJet:
    """Scalar quantities (coefficients, boxes) as the components of a vector."""
    return EnclosedJet(np.stack([i.mid for i in items], 1), np.stack([i.rad for i in items], 1), items[0].box)


def joined(*vectors: EnclosedJet) -> EnclosedJet:
    """Vectors one after the other."""
    return EnclosedJet(
        np.concatenate([v.mid for v in vectors], 1),
        np.concatenate([v.rad for v in vectors], 1),
        vectors[0].box,
    )


def along(scalar: EnclosedJet, vector: EnclosedJet) -> EnclosedJet:
    """A scalar times a vector."""
    return EnclosedJet(scalar.mid[:, None], scalar.rad[:, None], scalar.box) * vector


def turned(matrix, vector: EnclosedJet) -> EnclosedJet:
    """A constant matrix (m, n) times a vector."""
    m = np.asarray(matrix, float)
    return EnclosedJet(m @ vector.mid, np.abs(m) @ vector.rad, vector.box)._narrowed()


def dot(u: EnclosedJet, v) -> EnclosedJet:
    """Scalar product of two vectors, the second a jet or constant."""
    if not isinstance(v, EnclosedJet):
        return turned(np.asarray(v, float)[None, :], u)[0]
    p = u * v
    return EnclosedJet(p.mid.sum(axis=1), p.rad.sum(axis=1), p.box)._narrowed()


def cross(u: EnclosedJet, v: EnclosedJet) -> EnclosedJet:
    p = u[[1, 2, 0]] * v[[2, 0, 1]] - u[[2, 0, 1]] * v[[1, 2, 0]]
    return p._narrowed()
