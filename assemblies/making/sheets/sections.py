"""The section of a tube or bar, as far as buying and sawing it goes. Lengths mm."""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.base.units import inches

SAME_MM = 0.05  # nearer than this, two sizes count as one


@dataclass(frozen=True)
class StockSection:
    """`shape` "round" or "rectangular" (a square one has equal sides), width not less than height; `wall_mm`
    None: solid."""

    shape: str
    width_mm: float
    height_mm: float
    wall_mm: float | None

    def same(self, other: StockSection) -> bool:
        sizes = [(s.width_mm, s.height_mm, s.wall_mm or math.inf) for s in (self, other)]
        return self.shape == other.shape and all(
            a == b or abs(a - b) < SAME_MM for a, b in zip(*sizes, strict=True)
        )

    def __str__(self) -> str:
        if self.shape == "round":
            return f"round {self.width_mm:g} x {self.wall_mm:g}" if self.wall_mm else f"bar {self.width_mm:g}"
        return f"{self.width_mm:g} x {self.height_mm:g}" + (f" x {self.wall_mm:g}" if self.wall_mm else "")

    @property
    def sizes_mm(self) -> tuple[float, ...]:
        own = (self.width_mm,) if self.shape == "round" else (self.width_mm, self.height_mm)
        return (*own, self.wall_mm) if self.wall_mm else own

    @property
    def told(self) -> str:
        """In mm, and in inches beside where a size was given in them."""
        return f"{self}{in_inches(*self.sizes_mm)}"


def in_inches(*sizes_mm: float) -> str:
    """What stands behind sizes in mm of which some are whole parts of an inch; "" where none is.

    >>> in_inches(25.4, 1.651), in_inches(25.4, 2), in_inches(30, 2)
    (' (1 in x 0.065 in)', ' (1 in x 2 mm)', '')
    """
    if not any(inches(v) for v in sizes_mm):
        return ""
    return f" ({' x '.join(inches(v) or f'{v:g} mm' for v in sizes_mm)})"


def round_tube(outer_mm: float, wall_mm: float | None) -> StockSection:
    """A wall of 0, None or half the diameter is solid."""
    return StockSection("round", outer_mm, outer_mm, wall_mm if wall_mm and 2 * wall_mm < outer_mm else None)


def rectangular(width_mm: float, height_mm: float, wall_mm: float | None) -> StockSection:
    a, b = sorted((width_mm, height_mm), reverse=True)
    return StockSection("rectangular", a, b, wall_mm if wall_mm and 2 * wall_mm < b else None)


def round_bar(diameter_mm: float) -> StockSection:
    """Solid; a bored piece of it is sawn solid too."""
    return StockSection("round", diameter_mm, diameter_mm, None)
