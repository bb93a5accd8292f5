"""Pairs that were looked at before, by content: after one tube moved only its own pairs are looked at again.

In memory for the life of the process; between runs, where that is asked for, in one file a corner (its
points, travel, rack and tolerance), read once a process: of two processes at once the later one's file stays.
A name holds every number that went into the answer and this check's own source and of what runs it, so
nothing kept can be stale. Bodies at rest are kept alike, and what else a key names (`recalled`).
"""

from __future__ import annotations

import hashlib
import pickle
import platform
import sys
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import fcl
import numpy as np

from parts.files.cache import cache_folder, keep, kept
from parts.files.remembered import UNREADABLE, read

GRAIN_MM = 2.0**-20  # of a gap that is kept
REMEMBERED = 20_000  # pairs kept in memory
MOST_KEPT = 5_000  # pairs kept of one corner, and in its file

_memory: OrderedDict[str, dict[str, Any]] = OrderedDict()  # by corner, and in it by key, the latest last
_read: set[tuple[Path | None, str]] = set()  # files that this process knows


def in_grains(mm: np.ndarray | Sequence[float]) -> np.ndarray:
    """Lengths in whole grains: their last digits hang on what else was worked out in one array with them,
    and what is kept must say what it says anew, whatever is looked at beside it."""
    return np.rint(np.asarray(mm) / GRAIN_MM) * GRAIN_MM


def forget() -> None:
    """Drop all pairs remembered in this process."""
    _memory.clear()
    _read.clear()


def recall(corner: str, keys: Sequence[str], between_runs: bool) -> dict[str, Any]:
    """What is known of the keys: numbers, words, None and tuples of them."""
    own, short = _memory.get(corner, {}), {k: _short(k) for k in keys}
    if between_runs and not own.keys() >= set(short.values()):
        own = _with_file(corner)
    return {k: own[s] for k, s in short.items() if s in own}


def remember(corner: str, found: dict[str, Any], between_runs: bool) -> None:
    """Note what was found; `between_runs` also in the corner's file."""
    new = {_short(k): v for k, v in found.items()}
    old = _with_file(corner) if between_runs else _memory.get(corner, {})
    rows = [*((k, v) for k, v in old.items() if k not in new), *new.items()]
    _memory[corner] = dict(rows[-max(MOST_KEPT, len(new)) :])
    _memory.move_to_end(corner)
    while len(_memory) > 1 and sum(map(len, _memory.values())) > REMEMBERED:
        _memory.popitem(last=False)
    if between_runs and len(new) <= MOST_KEPT:
        keep(_name(corner), "gaps", pickle.dumps(_memory[corner], protocol=4))


def recalled(
    what: str, keys: Sequence[str], make: Callable[[list[int]], Sequence[Any]], between_runs: bool = True
) -> list:
    """What each key names, kept between runs: `make` gives what those not known name, by their numbers."""
    known = recall(what, keys, between_runs)
    fresh = {k: n for n, k in enumerate(keys) if k not in known}
    if fresh:
        known |= zip(fresh, make(list(fresh.values())), strict=True)
        remember(what, known, between_runs)
    return [known[k] for k in keys]


def _with_file(corner: str) -> dict[str, Any]:
    """What is known of a corner, with what its file holds."""
    name = _name(corner)
    if corner not in _memory or (cache_folder(), name) not in _read:
        _read.add((cache_folder(), name))
        stored: dict[str, Any] = {}
        if body := kept(name, "gaps"):
            with suppress(*UNREADABLE):
                stored = read(body)
        _memory[corner] = stored | _memory.get(corner, {})
    return _memory[corner]


def _short(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()[:32]


def _name(corner: str) -> str:
    return hashlib.sha256(f"{_source()}|{corner}".encode()).hexdigest()


@cache
def _source() -> str:
    """A digest of the code that the answers come from, and of what runs it."""
    here = Path(__file__).parent
    files = [
        *here.glob("*.py"),
        *(here.parent / "motion").glob("*.py"),
        *(here.parent.parent / "parts" / "shape").glob("*.py"),
        here.parent / "gaps" / "tool_access.py",
        *(here.parent.parent / "parts" / n for n in ("base/distinct.py", "fastener.py")),
    ]
    runs = f"{sys.version} {platform.machine()} {np.__version__} {fcl.__version__}\n".encode()
    return hashlib.sha256(b"".join([runs, *(f.read_bytes() for f in sorted(files))])).hexdigest()
