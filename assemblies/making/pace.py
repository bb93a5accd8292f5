"""How slow this machine is: how many times as long as counted a nest's pictures took here last. It decides
when a search that was given so many seconds ends, and nothing of what the nest says.
"""

from __future__ import annotations

import math
import platform
from contextlib import suppress

from parts.files.cache import keep, kept, key

QUICKEST, SLOWEST = 1.0, 10.0  # beyond them it was something else
FORGOTTEN = 0.9  # share that is left of it after a quicker nest


def last() -> float:
    """From 1 to 10; 1 where none was drawn here, or nothing is kept."""
    with suppress(ValueError):
        pace = float(kept(_name(), "pace") or b"")
        return min(max(pace, QUICKEST), SLOWEST) if math.isfinite(pace) else QUICKEST
    return QUICKEST


def note(pace: float) -> None:
    """What a nest took; a slow one counts for some nests on: a machine is busier now and then."""
    pace = max(pace, FORGOTTEN * last())
    keep(_name(), "pace", repr(pace).encode())


def _name() -> str:
    return key("nest pace", platform.node())
