"""Numbers beside a picture, each on a line to its part: to the middle of what is seen of it; to where it
stands, dashed, where nothing of it is seen."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from assemblies.making.picture import View
from assemblies.making.sheets.drawing import CUT, FINE, Drawing, Pen
from parts.base.frozen import dataclass

BALLOON_MM = 6.4
DOT_MM, SEEN_MM = 0.9, 0.3  # a dot's diameter; seen is what holds a disc of this radius
HIDDEN, GROUND = Pen(0.18, (1.2, 0.8)), Pen(0.6, (), 1.0)
ASIDE_MM = 10.0


@dataclass(frozen=True)
class End:
    """Where a line ends, mm from the picture's lower left corner; no edge of what is seen of the part is
    nearer than `clear_mm`, 0: nothing of it is seen there. `seen_mm2` of it is seen in the picture."""

    x: float
    y: float
    clear_mm: float = 0.0
    seen_mm2: float = 0.0

    def scaled(self, by: float) -> End:
        return End(self.x * by, self.y * by, self.clear_mm * by, self.seen_mm2 * by**2)


def seen_ends(view: View, numbers: Sequence[int]) -> dict[int, End]:
    """The middle of the widest seen patch of each number, in mm of the car; `numbers`: of each item of the
    picture, 0 none."""
    shown = np.append(numbers, 0)[view.shown]
    out = {}
    for n in {*shown.ravel().tolist()} - {0}:
        rows, columns = np.nonzero(shown == n)
        patch = shown[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1] == n
        row, column, clear = _middle(patch)
        x, y = float(columns.min() + column), float(len(shown) - rows.min() - row)
        out[n] = End(x, y, clear, float(len(rows))).scaled(1 / view.scale)
    return out


def _middle(patch: np.ndarray) -> tuple[int, int, float]:
    """Row and column of the point of a patch of pixels that is farthest from its edge, of equals the middle
    one; and how far, in pixels: rim after rim is taken off, by turns of 4 and 8 neighbours."""
    clear, inner = 0.0, np.pad(patch, 1)
    while inner.any():
        last = inner
        inner = last.copy()
        inner[1:] &= last[:-1]
        inner[:-1] &= last[1:]
        wide = inner if int(clear) % 2 else last
        inner = inner.copy()
        inner[:, 1:] &= wide[:, :-1]
        inner[:, :-1] &= wide[:, 1:]
        clear += 1
    at = np.argwhere(last)
    row, column = at[((at - at.mean(0)) ** 2).sum(1).argmin()]
    return int(row) - 1, int(column) - 1, clear - 0.5


def balloons(d: Drawing, wide_mm: float, high_mm: float, ends: Mapping[int, End]) -> None:
    """A balloon each beside a picture of that size, no line across another."""
    across = sorted(ends, key=lambda n: ends[n].x)
    least = len(across) // 3  # on either side; the rest where they are nearer
    half = min(max(sum(end.x < wide_mm / 2 for end in ends.values()), least), len(across) - least)
    slots, held = [], []
    for x, some in ((-ASIDE_MM, across[:half]), (wide_mm + ASIDE_MM, across[half:])):
        some.sort(key=lambda n: ends[n].y)
        slots += [(x, y) for y in _spread([ends[n].y for n in some], high_mm)]
        held += some
    held = _uncrossed(slots, held, ends)
    for ground in (True, False):  # all white grounds first: none lies on another's line
        for (x, y), n in zip(slots, held, strict=True):
            end, start = ends[n], (x + math.copysign(BALLOON_MM / 2, wide_mm / 2 - x), y)
            dot = min(DOT_MM, 1.6 * end.clear_mm)
            d.line(start, (end.x, end.y), GROUND if ground else FINE if dot else HIDDEN)
            if ground:
                d.circle(end.x, end.y, dot, GROUND)
                continue
            if dot:
                d.circle(end.x, end.y, dot, CUT, 0.0)
            d.circle(x, y, BALLOON_MM, FINE, 1.0)
            d.text(x, y - 1.0, str(n), 3.0, "middle", bold=True)


def _uncrossed(slots: Sequence[tuple[float, float]], held: list[int], ends: Mapping[int, End]) -> list[int]:
    """Which number is held at each slot, changed two by two as long as that makes the lines shorter: two that
    cross are longer than the two they change to."""
    far = {(k, n): math.hypot(x - ends[n].x, y - ends[n].y) for k, (x, y) in enumerate(slots) for n in held}
    changed = True
    while changed:
        changed = False
        for i, j in combinations(range(len(slots)), 2):
            a, b = held[i], held[j]
            if far[i, b] + far[j, a] < far[i, a] + far[j, b] - 1e-9:
                held[i], held[j], changed = b, a, True
    return held


def _spread(wanted: Sequence[float], room: float) -> list[float]:
    """Places near the wanted ones, a balloon and a little apart, from below."""
    if not wanted:
        return []
    least, out = BALLOON_MM * 1.12, list[float]()
    for y in wanted:
        out.append(max(y, out[-1] + least) if out else max(y, 0.0))
    top = max(room, least * (len(out) - 1))
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], top)
        top = out[k] - least
    return out
