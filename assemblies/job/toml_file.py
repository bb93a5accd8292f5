"""The tables of a small TOML file of the builder's own, with one clear error where it cannot be read."""

from __future__ import annotations

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
