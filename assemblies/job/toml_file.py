"""The tables of a small TOML file of the builder's own, with one clear error where it cannot be read."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

from parts.base.units import comma_hint, length_mm

FAR_MM = 20_000.0  # no place on a car is further from its zero


def tables(path: str | Path) -> dict[str, Any]:
    """What the file holds. Raises ValueError where it cannot be read or is not TOML."""
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except OSError as e:
        raise ValueError(f"{path} cannot be read: {e.strerror}") from e
    except UnicodeDecodeError as e:
        raise ValueError(f"{path} is not TOML: {e}") from e
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        at = re.search(r"at line (\d+)", str(e))
        hint = comma_in(text.split("\n")[int(at[1]) - 1]) if at else ""
        raise ValueError(f"{path} is not TOML: {e}{hint and '; ' + hint}") from e


def comma_in(line: str) -> str:
    """A hint where a line that is no TOML holds a number with a decimal comma."""
    found = re.search(r"=\s*([+-]?\d+),(\d+)", line)
    return f"a decimal comma? write {found[1]}.{found[2]}" if found else ""


def rows(path: str | Path, given: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """The tables [[key]] of the file. Raises ValueError where `key` is anything else."""
    found = given.get(key, [])
    if not isinstance(found, list) or not all(isinstance(r, dict) for r in found):
        raise ValueError(f"{path}: {key} must be a list of tables; write [[{key}]] with its keys below")
    return found


def number(path: str | Path, where: str, value: Any) -> float:
    """A plain number. Raises ValueError naming `where`."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        hint = comma_hint(value)
        raise ValueError(f"{path}: {where} is {value!r}; it must be a plain number{hint and '; ' + hint}")
    return float(value)


def length(path: str | Path, where: str, value: Any) -> float:
    """A length in mm, perhaps text with its unit. Raises ValueError naming `where`."""
    try:
        mm = length_mm(value)
    except (ValueError, OverflowError) as e:
        raise ValueError(f"{path}: {where} {e}") from None
    if not abs(mm) <= FAR_MM:
        limit = f"it must be within ±{FAR_MM:g} mm: check the digits and the unit"
        raise ValueError(f"{path}: {where} is {mm:g} mm; {limit}")
    return mm
