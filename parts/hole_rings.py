"""Rings of holes in two parts that turn on one axis, so that one of `positions` equal settings can always be
bolted.

A ring holds a holes in the first part and b in the second; every pair gives one setting. Two patterns: the
vernier (both evenly spaced, lcm(a, b) settings), and for counts that do not factor a skipped one: hole j of
the second at j·u steps, hole i of the first at -i·b·u steps, u prime to the count, which meets all a·b runs
of u once. Angles deg.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Ring:
    """Angles of the holes in the first and the second part, deg, within one period."""

    first: tuple[float, ...]
    second: tuple[float, ...]


def least_angle_deg(radius_mm: float, hole_mm: float, spacing: float = 2.2) -> float:
    """Angle between holes whose centres are `spacing` diameters apart along the chord, 2·r·sin(φ/2) = p.

    Spacing p >= 2.2·d0: EN 1993-1-8 Table 3.3. Infinite where the chord exceeds the diameter.

    >>> round(least_angle_deg(30.0, 7.0586, 2.2), 3)
    30.0
    """
    half = spacing * hole_mm / 2 / radius_mm
    return math.inf if half > 1 else math.degrees(2 * math.asin(half))


Pattern = list[tuple[list[float], list[float]]]  # holes of each ring in steps


@lru_cache(maxsize=512)
def rings(
    positions: int, period_deg: float, first_gap_deg: float, second_gap_deg: float, most_rings: int
) -> tuple[Ring, ...]:
    """The fewest rings that give `positions` equal settings within `period_deg`: a vernier where one fits,
    else a skipped pattern, with the fewest holes.

    `first_gap_deg`, `second_gap_deg`: least angle between two holes of one ring. Raises ValueError where more
    than `most_rings` would be needed."""
    if positions < 1:
        raise ValueError(f"positions is {positions}; it must be at least 1")
    step = period_deg / positions
    gaps = (
        math.ceil(first_gap_deg / step - 1e-9) if first_gap_deg < math.inf else 10**9,
        math.ceil(second_gap_deg / step - 1e-9) if second_gap_deg < math.inf else 10**9,
    )
    for count in range(1, most_rings + 1):
        best = _vernier(positions, count, period_deg, first_gap_deg, second_gap_deg) or _skipped(
            positions, count, gaps
        )
        if best:
            return tuple(Ring(tuple(i * step for i in a), tuple(j * step for j in b)) for a, b in best)
    raise ValueError(
        f"{positions} settings in {period_deg:g} deg do not fit in {most_rings} rings with holes at least "
        f"{first_gap_deg:.1f} and {second_gap_deg:.1f} deg apart; "
        "use a smaller bolt, a larger diameter or fewer teeth"
    )


def mirrored(found: tuple[Ring, ...], period_deg: float) -> tuple[Ring, ...]:
    """The same rings for the other hand: every angle turns sign."""
    return tuple(Ring(*(tuple(-a % period_deg for a in side) for side in (r.first, r.second))) for r in found)


def settings(found: tuple[Ring, ...], period_deg: float) -> list[float]:
    """Every relative angle, second less first, at which some pair of holes is in line; deg, sorted, within
    the period."""
    angles = {round((s - f) % period_deg, 6) % period_deg for r in found for f in r.first for s in r.second}
    return sorted(angles)


def _vernier(
    positions: int, count: int, period: float, first_gap: float, second_gap: float
) -> Pattern | None:
    """Evenly spaced holes, ring k turned by k steps; in steps, which need not be whole."""
    if positions % count:
        return None
    wanted = positions // count
    divisors = [n for n in range(1, wanted + 1) if wanted % n == 0]
    pairs = [
        (a, b)
        for a in divisors
        if a == 1 or period / a >= first_gap - 1e-9
        for b in divisors
        if (b == 1 or period / b >= second_gap - 1e-9) and math.lcm(a, b) == wanted
    ]
    if not pairs:
        return None
    a, b = min(pairs, key=lambda p: (sum(p), p))
    return [
        ([i * positions / a for i in range(a)], [j * positions / b + k for j in range(b)])
        for k in range(count)
    ]


def _skipped(positions: int, count: int, gaps: tuple[int, int]) -> Pattern | None:
    best: Pattern | None = None
    steps = np.arange(1, positions + 1)
    steps = steps[np.gcd(steps, positions) == 1]
    for a in range(1, max(positions // max(gaps[0], 1), 1) + 1):
        b = math.ceil(positions / (count * a))
        too_near = b > 1 and b * gaps[1] > positions
        if too_near or (best and a + b >= len(best[0][0]) + len(best[0][1])):
            continue
        fit = _apart(b * steps, a, positions, gaps[0]) & _apart(steps, b, positions, gaps[1])
        if fit.any():
            u = int(steps[fit.argmax()])
            first: list[float] = [-i * b * u % positions for i in range(a)]
            second: list[float] = [j * u % positions for j in range(b)]
            best = [(first, [(s + k * a * b * u) % positions for s in second]) for k in range(count)]
    return best


def _apart(steps: np.ndarray, count: int, positions: int, gap: int) -> np.ndarray:
    """For each step (n,), whether `count` marks, each one step after the last, lie at least `gap` apart round
    a ring of `positions`: two of them are as far apart as some d steps lie from none."""
    far = np.arange(1, count)[:, None] * steps % positions
    return np.all((far >= gap) & (far <= positions - gap), axis=0)
