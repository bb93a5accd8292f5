"""Pairs that were looked at before, by content: after one tube moved only its own pairs are looked at again.

In memory for the life of the process; between runs, where that is asked for, in one file a corner (its
points, travel, rack and tolerance). A name holds every number that went into the answer and this check's own
source and of what runs it, so nothing kept can be stale. Bodies at rest are kept alike (`recalled`).
"""

from __future__ import annotations

import hashlib
import json
import platform
import sys
from collections import OrderedDict
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import fcl
import numpy as np

from parts.files.cache import keep, kept

REMEMBERED = 20_000  # pairs kept in memory
MOST_KEPT = 5_000  # pairs kept in a corner's file

_memory: OrderedDict[str, tuple] = OrderedDict()


def forget() -> None:
    """Drop all pairs remembered in this process."""
    _memory.clear()


def recall(corner: str, keys: list[str], between_runs: bool) -> dict[str, tuple]:
    """What is known of the keys: (gap fields or None, under, clash)."""
    known = {k: _memory[k] for k in keys if k in _memory}
    if between_runs and len(known) < len(keys):
        stored = _stored(corner)
        known |= {k: _tuples(stored[_short(k)]) for k in keys if k not in known and _short(k) in stored}
    return known


def remember(corner: str, found: dict[str, tuple], between_runs: bool) -> None:
    """Note what was found; `between_runs` also in the corner's file."""
    for key, value in found.items():
        _memory[key] = value
        _memory.move_to_end(key)
    while len(_memory) > max(REMEMBERED, len(found)):
        _memory.popitem(last=False)
    if between_runs and len(found) <= MOST_KEPT:
        new = {_short(k): v for k, v in found.items()}
        old = {k: v for k, v in _stored(corner).items() if k not in new}
        room = MOST_KEPT - len(new)
        rows = dict(list(old.items())[-room:] if room else []) | new
        keep(_name(corner), "gaps", json.dumps(rows).encode())


def recalled(what: str, keys: list[str], make: Callable[[int], Any]) -> list:
    """What each key names, kept between runs: `make(n)` of those not known makes key number n's. Numbers,
    tuples of them, None."""
    keys = [f"{what}|{k}" for k in keys]
    known = recall(what, keys, between_runs=True)
    fresh = {k: make(n) for n, k in enumerate(keys) if k not in known}
    if fresh:
        known |= fresh
        remember(what, known, between_runs=True)
    return [known[k] for k in keys]


def _stored(corner: str) -> dict[str, list]:
    body = kept(_name(corner), "gaps")
    return json.loads(body) if body else {}


def _tuples(value):
    return tuple(map(_tuples, value)) if isinstance(value, list) else value


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
        *(here.parent / "motion" / f"{n}.py" for n in ("chain", "linkage", "mechanism", "poses", "reach")),
        *(here.parent.parent / "parts" / "shape" / f"{n}.py" for n in ("form", "outline")),
        here.parent.parent / "parts" / "base" / "distinct.py",
    ]
    runs = f"{sys.version} {platform.machine()} {np.__version__} {fcl.__version__}\n".encode()
    return hashlib.sha256(b"".join([runs, *(f.read_bytes() for f in sorted(files))])).hexdigest()
