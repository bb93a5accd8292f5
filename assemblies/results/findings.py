"""What is wrong, doubtful or worth knowing, worst first: one `Finding` each with number, limit, pose and
cure."""

import math
from typing import Literal

from assemblies.results.row import Row
from parts.base.frozen import dataclass

Level = Literal["stop", "warn", "note"]
_RANK = {"stop": 0, "warn": 1, "note": 2}


@dataclass(frozen=True)
class Finding(Row):
    """`stop`: it cannot work or would break or clash. `warn`: outside good practice or under the required
    gap. `note`: worth knowing. `where` names the pose, part or pair; `text` holds number, limit and cure."""

    level: Level
    code: str
    where: str
    text: str
    severity: float = 1.0  # how far past its limit, as demand over resistance; 1 where no number says


def worst_first(findings) -> tuple[Finding, ...]:
    """By level, and within a level by how far past its limit; alike as found."""
    return tuple(sorted(findings, key=lambda f: (_RANK[f.level], -f.severity)))


def stops(findings) -> bool:
    return any(f.level == "stop" for f in findings)


def guaranteed(gap_mm: float, places: int = 2) -> str:
    """A guaranteed gap, or another margin, in words, never rounded up.

    >>> guaranteed(7.9995), guaranteed(-0.001), guaranteed(19.95, 1)
    ('7.99', '-0.01', '19.9')
    """
    return f"{math.floor(10**places * gap_mm + 1e-6) / 10**places:.{places}f}"


def lacking(mm: float, places: int = 2) -> str:
    """What a gap lacks in words, never rounded down.

    >>> lacking(0.001), lacking(11.04, 1)
    ('0.01', '11.1')
    """
    return f"{math.ceil(10**places * mm - 1e-6) / 10**places:.{places}f}"


def use_of(use: float | None) -> str:
    """A use of strength in words, never rounded down: what is over 1 never reads 1.00.

    >>> use_of(1.0001), use_of(None)
    ('use 1.01', 'no resistance')
    """
    return "no resistance" if use is None or math.isinf(use) else f"use {lacking(use)}"
