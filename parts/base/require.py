"""Short guards for part numbers: each error names the field, its value, the limit and the unit."""

from __future__ import annotations

import math
from collections.abc import Collection


def positive(**fields: float) -> None:
    """Every keyword must be a finite number above zero; the keyword's ending is its unit (`wall_mm`)."""
    for name, value in fields.items():
        if not math.isfinite(value) or value <= 0:
            raise ValueError(
                f"{_label(name)} is {value:g} {_unit(name)}; it must be more than 0".replace("  ", " ")
            )


def not_negative(**fields: float) -> None:
    """Every keyword must be 0 or more."""
    for name, value in fields.items():
        if not value >= 0:
            raise ValueError(
                f"{_label(name)} is {value:g} {_unit(name)}; it must be at least 0".replace("  ", " ")
            )


def one_of(field: str, value, known: Collection[str]) -> None:
    """A word out of those there are."""
    if not isinstance(value, str) or value not in known:
        words = ", ".join(f'"{w}"' for w in known)
        raise ValueError(f"{field} is {value!r}; it must be one of {words}")


def at_least(field: str, value: float, limit: float, cure: str, slack: float = 1e-9) -> None:
    if not value >= limit - slack:
        raise ValueError(f"{_label(field)} is {value:.2f} {_unit(field)}; the least is {limit:.2f}: {cure}")


def at_most(field: str, value: float, limit: float, cure: str, slack: float = 1e-9) -> None:
    if not value <= limit + slack:
        raise ValueError(f"{_label(field)} is {value:.2f} {_unit(field)}; the most is {limit:.2f}: {cure}")


_UNITS = {"mm": "mm", "deg": "deg", "kg": "kg", "nm": "N·m", "n": "N"}


def _unit(name: str) -> str:
    return _UNITS.get(name.rsplit("_", 1)[-1], "")


def _label(name: str) -> str:
    stem, _, end = name.rpartition("_")
    return (stem if stem and end in _UNITS else name).replace("_", " ")
