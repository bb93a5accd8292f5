"""The tables of a small TOML file of the builder's own, with one clear error where it cannot be read."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any


def tables(path: str | Path) -> dict[str, Any]:
    """What the file holds. Raises ValueError where it cannot be read or is not TOML."""
    try:
        return tomllib.loads(Path(path).read_text(encoding="utf-8-sig"))
    except OSError as e:
        raise ValueError(f"{path} cannot be read: {e.strerror}") from e
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as e:
        raise ValueError(f"{path} is not TOML: {e}") from e


def rows(path: str | Path, given: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """The tables [[key]] of the file. Raises ValueError where `key` is anything else."""
    found = given.get(key, [])
    if not isinstance(found, list) or not all(isinstance(r, dict) for r in found):
        raise ValueError(f"{path}: {key} must be a list of tables; write [[{key}]] with its keys below")
    return found


def number(path: str | Path, where: str, value: Any) -> float:
    """A plain number. Raises ValueError naming `where`."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{path}: {where} is {value!r}; it must be a plain number")
    return float(value)
