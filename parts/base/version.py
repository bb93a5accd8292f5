"""Which release made a file, and which libraries stand beside it."""

import os
import sys
from contextlib import suppress
from functools import cache


@cache
def version() -> str:
    """Of this project as installed; "unknown" where its files were only copied."""
    ours = [r for r in records() if r.startswith("rockershed-") and r.endswith(".dist-info")]
    return ours[0].removesuffix(".dist-info").partition("-")[2] if ours else "unknown"


def records() -> list[str]:
    """What is installed, first met first, as installers name their records: "numpy-2.4.6.dist-info" (PyPA's
    specification of recorded projects). `importlib.metadata` reads each: ten times as long."""
    found: dict[str, None] = {}
    for place in sys.path:
        with suppress(OSError):
            found |= dict.fromkeys(
                n for n in os.listdir(place or ".") if n.endswith((".dist-info", ".egg-info"))
            )
    return list(found)
