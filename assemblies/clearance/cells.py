"""Cells of travel and rack still open, the gaps found, picks among them by pair: what a search keeps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assemblies.clearance.scene import Grid


@dataclass
class Nodes:
    """Cells still open: pair of bodies, pieces, grid place and width in travel (z) and rack (s), bound,
    direction."""

    pair: np.ndarray
    i: np.ndarray
    j: np.ndarray
    z: np.ndarray
    wz: np.ndarray
    s: np.ndarray
    ws: np.ndarray
    low: np.ndarray
    n: np.ndarray  # (nodes, 3)
    asked: np.ndarray  # pose last asked for these pieces, -1 for none
    at: np.ndarray  # (nodes, corners) poses of the corners
    reach_i: np.ndarray  # (nodes, corners) how far i reaches along n at each corner
    reach_j: np.ndarray  # and j along -n
    slack: np.ndarray  # (nodes, 1 or 2) what the motion may bend towards each other, by travel and rack

    @property
    def room(self) -> np.ndarray:
        """(nodes, corners) room along n at each corner."""
        return -self.reach_i - self.reach_j

    def take(self, which) -> Nodes:
        return Nodes(*(getattr(self, f)[which] for f in self.__dataclass_fields__))

    def __len__(self) -> int:
        return len(self.pair)

    @staticmethod
    def joined(parts: list[Nodes]) -> Nodes:
        return Nodes(*(np.concatenate([getattr(p, f) for p in parts]) for f in Nodes.__dataclass_fields__))


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
    gap = np.sqrt((np.maximum(apart, 0) ** 2).sum(-1))
    return np.where(gap > 0, gap, apart.max(-1))


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
