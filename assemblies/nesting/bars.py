"""Tube and rod cut from bars, one section at a time: as little bought as can be, and what is in hand used up
before, or spared where it saves no bar.

n pieces leave a bar with n - 1 saw cuts between them, and one more where an offcut remains. Every way to fill
a bar (a pattern) is listed and the best choice of patterns found exactly by integer programming (HiGHS, in
scipy), one aim after the other; where there are more patterns than `MOST_PATTERNS`, the longest pieces go
first, each into the fullest bar that still takes it, and the plan says that it is not proven. The bound by
length stands beside either. Lengths mm.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from parts.base.frozen import dataclass
from parts.files.remembered import once

MOST_PATTERNS = 4000
SLACK_MM = 1e-6


@dataclass(frozen=True)
class BarPiece:
    name: str
    length_mm: float


@dataclass(frozen=True)
class Sawn:
    """One bar and what is cut from it, in order."""

    length_mm: float  # of one bought by the metre: what is ordered
    bought: bool
    pieces: tuple[BarPiece, ...]
    kerf_mm: float

    @property
    def offcut_mm(self) -> float:
        """What is left after the last cut; 0 where the last piece ends with the bar, or less than a cut
        remains."""
        return max(0.0, self.length_mm - sum(p.length_mm + self.kerf_mm for p in self.pieces))


@dataclass(frozen=True)
class BarPlan:
    """`least_to_buy`: no plan can do with fewer, by length alone; `proven`: this plan is the best there
    is."""

    bars: tuple[Sawn, ...]
    too_long: tuple[BarPiece, ...]
    buy_length_mm: float
    least_to_buy: int
    proven: bool
    by_the_metre: bool = False

    @property
    def to_buy(self) -> int:
        return sum(b.bought for b in self.bars)

    @property
    def needed_mm(self) -> float:
        """Length of bought bar that is used, saw cuts in: all that is needed where a shop sells by length."""
        return sum(b.length_mm - b.offcut_mm for b in self.bars if b.bought)


def cut_bars(
    pieces: Sequence[BarPiece],
    in_hand: Sequence[float],
    buy_length_mm: float,
    kerf_mm: float,
    hand_first: bool = True,
    by_the_metre: bool = False,
) -> BarPlan:
    """Which piece comes from which bar: bars in hand (their lengths), and bars to buy of one length.

    Fewest bars are bought. `hand_first`: then as much as can be comes from those in hand, so that what is
    bought is left whole; else bars in hand are taken only where they save a bought one. `by_the_metre`: a
    shop that cuts off what is asked, up to `buy_length_mm`: as little as can be is bought, or, not
    `hand_first`, all of it. Raises ValueError for a length or kerf that cannot be."""
    for p in pieces:
        if not (math.isfinite(p.length_mm) and p.length_mm > 0):
            raise ValueError(f'piece "{p.name}" is {p.length_mm:g} mm long; it must be more than 0')
    if not (math.isfinite(buy_length_mm) and min([buy_length_mm, *in_hand]) > 0):
        raise ValueError("a bar's length must be more than 0 mm")
    if not (math.isfinite(kerf_mm) and kerf_mm >= 0):
        raise ValueError(f"the saw's kerf is {kerf_mm:g} mm; it must be 0 or more")
    longest = max([buy_length_mm, *in_hand]) + SLACK_MM
    too_long = tuple(p for p in pieces if p.length_mm > longest)
    todo = sorted((p for p in pieces if p.length_mm <= longest), key=lambda p: (-p.length_mm, p.name))
    least = least_to_buy([p.length_mm for p in todo], in_hand, buy_length_mm, kerf_mm)
    spared = by_the_metre and not hand_first
    hand = [] if spared and all(p.length_mm <= buy_length_mm for p in todo) else sorted(in_hand)
    given = (todo, hand, buy_length_mm, kerf_mm, hand_first, by_the_metre)
    filled = once("bars", given, lambda: _best(*given))
    proven = filled is not None
    if filled is None:
        filled = longest_first(todo, hand, buy_length_mm, kerf_mm)
        proven = not hand and len(filled) == least
    bars = [
        Sawn(_ordered(some, kerf_mm) if by_the_metre and bought else length, bought, tuple(some), kerf_mm)
        for length, bought, some in filled
        if some
    ]
    return BarPlan(
        tuple(sorted(bars, key=lambda b: (b.bought, -b.length_mm, b.offcut_mm))),
        too_long,
        buy_length_mm,
        least,
        proven,
        by_the_metre,
    )


def _ordered(pieces: Sequence[BarPiece], kerf_mm: float) -> float:
    """What is asked of a shop that sells by the metre: a saw cut to each piece, the end it comes with
    squared."""
    return sum(p.length_mm + kerf_mm for p in pieces)


def least_to_buy(
    lengths: Sequence[float], in_hand: Sequence[float], buy_length_mm: float, kerf_mm: float
) -> int:
    """Lower bound by length: ceil of what the bars in hand cannot hold over what one bought bar holds, a kerf
    added to each piece and each bar. The ratio is rounded before it is rounded up, so that an exact fit stays
    one."""
    over = sum(length + kerf_mm for length in lengths) - sum(length + kerf_mm for length in in_hand)
    return max(0, math.ceil(round(over / (buy_length_mm + kerf_mm), 9)))


def longest_first(
    pieces: Sequence[BarPiece], in_hand: Sequence[float], buy_length_mm: float, kerf_mm: float
) -> list:
    """(length, bought, pieces) a bar: longest pieces first, each into the bar with least room that still
    takes it."""
    bars: list[tuple[float, bool, list[BarPiece]]] = [(length, False, []) for length in in_hand]
    for p in sorted(pieces, key=lambda p: -p.length_mm):
        open_ = [b for b in bars if _room(b[0], b[2], kerf_mm) >= p.length_mm - SLACK_MM]
        if not open_:
            bars.append((buy_length_mm, True, []))
            open_ = bars[-1:]
        min(open_, key=lambda b: _room(b[0], b[2], kerf_mm))[2].append(p)
    return bars


def _room(length_mm: float, pieces: Sequence[BarPiece], kerf_mm: float) -> float:
    return length_mm - sum(p.length_mm + kerf_mm for p in pieces)


def _best(
    pieces: Sequence[BarPiece],
    in_hand: Sequence[float],
    buy_length_mm: float,
    kerf_mm: float,
    hand_first: bool,
    by_the_metre: bool,
) -> list | None:
    """The best plan, proven, or None where it is too large to prove."""
    if not pieces:
        return []
    kinds: dict[float, list[BarPiece]] = {}
    for p in pieces:
        kinds.setdefault(round(p.length_mm, 6), []).append(p)
    lengths, demand = list(kinds), [len(some) for some in kinds.values()]
    stock = [(length, False, count) for length, count in sorted(Counter(in_hand).items())] + [
        (buy_length_mm, True, len(pieces))
    ]
    columns, whose = [], []
    for k, (length, _, _) in enumerate(stock):
        for pattern in _patterns(lengths, demand, length, kerf_mm):
            columns.append(pattern)
            whose.append(k)
            if len(columns) > MOST_PATTERNS:
                return None
    found = _chosen(columns, whose, demand, stock, [v + kerf_mm for v in lengths], hand_first, by_the_metre)
    if found is None:
        return None
    often, from_hand = found
    left, out = {k: list(v) for k, v in kinds.items()}, []
    hand = {k: [v.pop(0) for _ in range(n)] for (k, v), n in zip(left.items(), from_hand, strict=True)}
    for pattern, k, n in zip(columns, whose, often, strict=True):
        source = left if stock[k][1] else hand
        for _ in range(n):
            some = [
                source[length].pop(0)
                for length, count in zip(lengths, pattern, strict=True)
                for _ in range(min(count, len(source[length])))
            ]
            out.append((stock[k][0], stock[k][1], some))
    return out


def _chosen(
    columns: list[tuple[int, ...]],
    whose: list[int],
    demand: list[int],
    stock: list,
    taken_mm: list[float],
    hand_first: bool,
    by_the_metre: bool,
) -> tuple[list[int], list[int]] | None:
    """How often each pattern is cut, and how many of each length come from bars in hand. One aim after the
    other, each held by those that follow."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    owner, cut = np.array(whose), np.array(columns, float).T
    n, kinds = len(columns), len(demand)
    bought = np.array([b for _, b, _ in stock])[owner]
    length_m = np.array([length for length, _, _ in stock])[owner] / 1000

    def row(patterns: np.ndarray, of_hand=0.0) -> np.ndarray:
        return np.append(patterns.astype(float), np.full(kinds, of_hand))

    most_of_hand = np.append(np.zeros(n), -np.array(taken_mm) / 1000)
    bars, hand_m, hands = row(bought), row(length_m * ~bought), row(~bought)
    use_up = [most_of_hand] if hand_first else []
    aims = [*use_up, bars, hand_m, hands] if by_the_metre else [bars, *use_up, hand_m, hands]
    aims = aims if (~bought).any() else [bars]
    eye = np.eye(kinds)
    limits = [
        LinearConstraint(np.hstack([cut * bought, eye]), lb=demand),  # bought and from hand: all of them
        LinearConstraint(np.hstack([cut * ~bought, -eye]), lb=0),  # what comes from hand is cut there
        LinearConstraint(
            np.hstack(
                [(owner == np.arange(len(stock))[:, None]).astype(float), np.zeros((len(stock), kinds))]
            ),
            ub=[count for _, _, count in stock],
        ),
    ]
    high = np.append(np.array([count for _, _, count in stock])[owner], demand)
    best = np.zeros(n + kinds)
    for aim in aims:
        found = milp(
            aim,
            integrality=np.ones(n + kinds),
            bounds=Bounds(0, high),
            constraints=limits,
            options={"mip_rel_gap": 0.0, "node_limit": 100_000},
        )
        if found.status != 0:
            return None
        best = np.round(found.x)
        limits.append(LinearConstraint(aim[None], ub=float(aim @ best) + 1e-6))
    whole = best.astype(int).tolist()
    return whole[:n], whole[n:]


def _patterns(
    lengths: list[float], demand: list[int], bar_mm: float, kerf_mm: float
) -> Iterator[tuple[int, ...]]:
    """Every way to fill a bar so that no further piece of those asked for fits. Lengths fall from the first
    on."""
    room = bar_mm + kerf_mm + SLACK_MM

    def fill(k: int, room: float, taken: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if k == len(lengths):
            if any(taken) and not any(
                n < d and length + kerf_mm <= room
                for n, d, length in zip(taken, demand, lengths, strict=True)
            ):
                yield taken
            return
        for n in range(min(demand[k], int(room / (lengths[k] + kerf_mm))), -1, -1):
            yield from fill(k + 1, room - n * (lengths[k] + kerf_mm), (*taken, n))

    yield from fill(0, room, ())
