"""What is wrong with a job, in four parts."""

from __future__ import annotations

from assemblies.job.values import plain
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a job: the key, what it is, what it must be, what to do about it."""

    key: str
    value: str
    limit: str = ""
    cure: str = ""

    def __str__(self) -> str:
        return plain(
            f"{self.key}: " + "; ".join(part for part in (self.value, self.limit, self.cure) if part)
        )


def place(point) -> str:
    return "[" + ", ".join(f"{v:.6g}" for v in point) + "]"
