"""Kinds of neighbours that need a gap of their own: one row each, all that is said of a kind.

The job's [clearance] keys with their defaults, the words of findings and what heat spoils follow from here.
"""

from __future__ import annotations

from parts.base.frozen import dataclass


@dataclass(frozen=True)
class NeighbourKind:
    """`word`: of `kind` in a [[member]] and key of [clearance]; `gap_mm` to anything, and why; `article`: as
    a finding calls it. `hot`: it needs `exhaust_heat` to what is `spoilt` by heat."""

    word: str
    gap_mm: float
    reason: str
    article: str
    hot: bool = False
    spoilt: bool = False


NEIGHBOUR_KINDS = (
    NeighbourKind("exhaust", 30.0, "exhaust to metal, common practice", "an exhaust", hot=True),
    NeighbourKind(
        "hose", 15.0, "hose, cable or wire to anything, common practice", "a hose or wire", spoilt=True
    ),
    NeighbourKind("engine", 20.0, "engine on soft mounts, common practice", "an engine on soft mounts"),
    NeighbourKind("driver", 25.0, "driver's feet and pedals, common practice", "the driver's feet"),
    NeighbourKind(
        "caliper", 8.0, "caliper or rim to an arm or rod end 5 to 8, common practice", "a caliper or rim"
    ),
)
WORDS = tuple(k.word for k in NEIGHBOUR_KINDS)
HEAT_MM = 75.0  # of a hot kind to a hose or a damper without a shield, common practice
SPOILT_BODIES = frozenset({"damper"})  # of the corner, by heat


def needs_heat(a: str, b: str) -> bool:
    """Whether one kind is hot and the other is spoilt by it."""
    kinds = {k.word: k for k in NEIGHBOUR_KINDS}
    one, two = kinds.get(a), kinds.get(b)
    return bool(one and two and ((one.hot and two.spoilt) or (two.hot and one.spoilt)))


def is_hot(kind: str) -> bool:
    return any(k.word == kind and k.hot for k in NEIGHBOUR_KINDS)
