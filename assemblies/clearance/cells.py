"""Cells of travel and rack still open, the gaps found, picks among them by pair: what a search keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assemblies.clearance.scene import Grid, length


def _column(table: str, first: int, last: int | None = None) -> property:
    """Some columns of a table by a name of their own."""
    place = first if last is None else slice(first, last)

    def put(nodes, values) -> None:
        getattr(nodes, table)[:, place] = values

    return property(lambda nodes: getattr(nodes, table)[:, place], put)


class Nodes:
    """Cells still open, one a row of two tables, of whole numbers and of real ones.

    In columns: the pair of bodies; pieces i and j; grid place and width in travel (z, wz) and rack (s, ws);
    `asked`: the pose last asked for these pieces, -1 for none; `inside`: 1 where j is a ring that i is inside
    of (bores.py), -1 where its bore is not what is nearest; `at`: the poses of the cell's corners, two or
    with a rack four. And `low`: what is proven; `n` (3): the direction along which it is; `slack` (1 or 2):
    what the motion may bend towards each other, by travel and rack; `reach_i`, `reach_j`: how far i reaches
    along n, and j along -n, at each corner; of i inside of j how far i reaches from its axis, and minus the
    radius of its bore."""

    whole: np.ndarray
    reals: np.ndarray
    pair, i, j, z, wz, s, ws, asked, inside = (_column("whole", k) for k in range(9))
    at = _column("whole", 9, 13)
    low, n = _column("reals", 0), _column("reals", 1, 4)

    def __init__(self, whole: np.ndarray, reals: np.ndarray):
        self.whole, self.reals = whole, reals
        self.corners = whole.shape[1] - 9

    @staticmethod
    def of(columns: Sequence[np.ndarray | int], low: np.ndarray, corners: int) -> Nodes:
        """Nodes from pair, i, j, z, wz, s and ws, and what is proven of them; all else is not known."""
        whole = np.zeros((len(low), 9 + corners), np.int64)
        reals = np.full((len(low), 4 + corners // 2 + 2 * corners), np.nan)
        for k, column in enumerate(columns):
            whole[:, k] = column
        whole[:, 7], reals[:, 0], reals[:, 1 : 4 + corners // 2] = -1, low, 0.0
        return Nodes(whole, reals)

    @property
    def slack(self) -> np.ndarray:
        return self.reals[:, 4 : 4 + self.corners // 2]

    @property
    def reach_i(self) -> np.ndarray:
        return self.reals[:, -2 * self.corners : -self.corners]

    @property
    def reach_j(self) -> np.ndarray:
        return self.reals[:, -self.corners :]

    @property
    def room(self) -> np.ndarray:
        """(nodes, corners) room along n at each corner."""
        return -self.reach_i - self.reach_j

    def take(self, which: np.ndarray) -> Nodes:
        """Some of them, by number or by yes and no."""
        if which.dtype == bool:
            which = which.nonzero()[0]
        return Nodes(self.whole.take(which, 0), self.reals.take(which, 0))

    def first(self, count: int) -> Nodes:
        """The first of them themselves: what is put in them is put in these."""
        return Nodes(self.whole[:count], self.reals[:count])

    def put(self, which: np.ndarray, nodes: Nodes) -> None:
        """Others in place of some of them, by number."""
        self.whole[which], self.reals[which] = nodes.whole, nodes.reals

    def copy(self) -> Nodes:
        return Nodes(self.whole.copy(), self.reals.copy())

    def __len__(self) -> int:
        return len(self.whole)

    @staticmethod
    def joined(parts: list[Nodes]) -> Nodes:
        return Nodes(np.concatenate([p.whole for p in parts]), np.concatenate([p.reals for p in parts]))


@dataclass
class Found:
    """Least gap of each pair: proven from below, found from above, with its grid place, pieces and points."""

    low: np.ndarray
    high: np.ndarray
    z: np.ndarray
    s: np.ndarray
    i: np.ndarray
    j: np.ndarray
    a: np.ndarray
    b: np.ndarray


def box_gap(low_a, high_a, low_b, high_b) -> np.ndarray:
    """Gap of boxes; where they overlap, minus the depth (the greatest room along an axis)."""
    apart = np.maximum(low_b - high_a, low_a - high_b)
    gap = length(np.maximum(apart, 0))
    x, y, z = apart[..., 0], apart[..., 1], apart[..., 2]
    return np.where(gap > 0, gap, np.maximum(np.maximum(x, y), z))


def least_of_each(who: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Index of the least value of each group that occurs (the first of equals)."""
    order = np.lexsort((value, who))
    first = np.ones(len(order), bool)
    first[1:] = who[order][1:] != who[order][:-1]
    return order[first]


def lowest_of_each(who: np.ndarray, value: np.ndarray, count: int) -> np.ndarray:
    """Indices of the `count` least values of each group."""
    order = np.lexsort((value, who))
    sorted_who = who[order]
    start = np.searchsorted(sorted_who, sorted_who)
    return order[np.arange(len(order)) - start < count]


def nearest_of_group(who: np.ndarray, z: np.ndarray, whose: np.ndarray, to: np.ndarray) -> np.ndarray:
    """For each of (whose, to) the index of the entry of the same group nearest in z; every group occurs."""
    order = np.lexsort((z, who))
    key, wanted = who[order] * float(4 * Grid.FINE) + z[order], whose * float(4 * Grid.FINE) + to
    right = np.searchsorted(key, wanted)
    ends = np.concatenate([[-np.inf], key, [np.inf]])  # so that a group at an end is served as one between
    return order[np.where(wanted - ends[right] <= ends[right + 1] - wanted, right - 1, right)]
