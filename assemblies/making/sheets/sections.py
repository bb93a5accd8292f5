"""The section of a tube or bar, as far as buying and sawing it goes. Lengths mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

SAME_MM = 0.05  # nearer than this, two sizes count as one


@dataclass(frozen=True)
class Section:
    """`shape` "round" or "rectangular" (a square one has equal sides), width not less than height; `wall_mm`
    None: solid."""

    shape: str
    width_mm: float
    height_mm: float
    wall_mm: float | None

    def same(self, other: Section) -> bool:
        sizes = [(s.width_mm, s.height_mm, s.wall_mm or math.inf) for s in (self, other)]
        return self.shape == other.shape and all(
            a == b or abs(a - b) < SAME_MM for a, b in zip(*sizes, strict=True)
        )

    def __str__(self) -> str:
        if self.shape == "round":
            return f"round {self.width_mm:g} x {self.wall_mm:g}" if self.wall_mm else f"bar {self.width_mm:g}"
        return f"{self.width_mm:g} x {self.height_mm:g}" + (f" x {self.wall_mm:g}" if self.wall_mm else "")


def round_tube(outer_mm: float, wall_mm: float | None) -> Section:
    """A wall of 0, None or half the diameter is solid."""
    return Section("round", outer_mm, outer_mm, wall_mm if wall_mm and 2 * wall_mm < outer_mm else None)


def rectangular(width_mm: float, height_mm: float, wall_mm: float | None) -> Section:
    a, b = sorted((width_mm, height_mm), reverse=True)
    return Section("rectangular", a, b, wall_mm if wall_mm and 2 * wall_mm < b else None)


def round_bar(diameter_mm: float) -> Section:
    """Solid; a bored piece of it is sawn solid too."""
    return Section("round", diameter_mm, diameter_mm, None)
