"""How many moves a search may make, and the clock that may end it before."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np


@dataclass(eq=False)
class Budget:
    """Moves left, a clock that may end all early, and who wants to hear of progress (share 0 to 1, text)."""

    moves: int
    limit_s: float = np.inf
    progress: Callable[[float, str], None] | None = None
    spent: int = 0
    hit_limit: bool = False
    start: float = field(default_factory=time.monotonic)

    def take(self, moves: int = 1) -> bool:
        """Spend moves; False when there are none left."""
        if self.hit_limit or self.spent >= self.moves:
            return False
        self.spent += moves
        return not self.out()

    def out(self) -> bool:
        """Whether the clock has ended it."""
        self.hit_limit = self.hit_limit or time.monotonic() - self.start > self.limit_s
        return self.hit_limit

    def tell(self, text: str) -> None:
        if self.progress:
            self.progress(min(1.0, self.spent / max(1, self.moves)), text)


def part(budget: Budget, moves: int) -> Budget:
    """A budget of at most `moves` out of another: give it back with `settle_up`."""
    return Budget(
        min(moves, budget.moves - budget.spent), budget.limit_s, None, 0, budget.hit_limit, budget.start
    )


def settle_up(budget: Budget, used: Budget) -> None:
    budget.spent += used.spent
    budget.hit_limit = budget.hit_limit or used.hit_limit
