"""How far a part's numbers may go, found by trial: what a part refuses, it refuses by its own rules, so these
cannot fall behind them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from parts.base.fields import LONGEST_MM
from parts.part import Flat

STEPS = 9  # halvings: three digits


def accepted(part: Any, name: str) -> tuple[float | None, float | None]:
    """Least and most of a number of a part, all else as it is; None where nothing stops it within 20 m."""
    here = getattr(part, name)

    def fits(value: float) -> bool:
        try:
            made = replace(part, **{name: value})
            _ = made.forms
            if isinstance(made, Flat):
                made.outline().check()
        except ValueError:
            return False
        return True

    whole = isinstance(here, int) and not name.endswith("_mm")
    return _last(fits, here, -LONGEST_MM, whole), _last(fits, here, LONGEST_MM, whole)


def _last(fits: Callable[[float], bool], good: float, far: float, whole: bool) -> float | None:
    """The last value that fits on the way from a good one to one far off."""
    kind = int if whole else float
    if fits(kind(far)):
        return None
    if far < 0 < good:  # down to nought first
        if fits(kind(0)):
            good, bad = kind(0), kind(far)
            if not fits(kind(-1) if whole else -1e-3):
                return good
        else:
            bad = kind(0)
    else:
        step = max(abs(good), 1.0)
        while fits(kind(good + math.copysign(step, far))):
            good = kind(good + math.copysign(step, far))
            step *= 2
        bad = kind(good + math.copysign(step, far))
    for _ in range(STEPS):
        middle: Any = (good + bad) // 2 if whole else (good + bad) / 2
        if middle in (good, bad):
            break
        good, bad = (middle, bad) if fits(middle) else (good, middle)
    return good


def told(here: float, least: float | None, most: float | None) -> str:
    """The two in words, to three digits towards what fits; `here` is the value as drawn."""
    if least is None and most is None:
        return ""
    if least is None:
        low = ""
    elif least and abs(least) < 1e-2 * here:
        low = "over 0"
    else:
        low = _digits(least, 1)
    high = "" if most is None else f"{_digits(most, -1)}"
    if low and high:
        return f"{low} to {high}"
    return low if low.startswith("over") else f"from {low}" if low else f"up to {high}"


def _digits(value: float, way: int) -> str:
    """Three digits, rounded the way of what fits."""
    if not value or isinstance(value, int):
        return f"{value:g}"
    size = 10.0 ** (len(f"{abs(value):.0f}") - 3) if abs(value) >= 1 else 1e-2
    return f"{(-(-value // size) if way > 0 else value // size) * size:.4g}"
