"""Which assumptions a job's reader has been told before, so that a second look tells only what is new."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path

from assemblies.results.travel import AssumedRow
from parts.files.cache import keep, kept

KIND = "told"


def _words(a: AssumedRow) -> str:
    return f"{a.key} = {a.value} {a.unit} ({a.why})"


def _name(file: Path) -> str:
    return hashlib.sha256(f"told|{file.resolve()}".encode()).hexdigest()


def untold(file: Path, rows: Iterable[AssumedRow]) -> list[AssumedRow]:
    """Those of `rows` that `tell` has not seen for this job file; all where nothing is kept between runs."""
    before = kept(_name(file), KIND)
    known = set(json.loads(before)) if before else set()
    return [a for a in rows if _words(a) not in known]


def tell(file: Path, rows: Iterable[AssumedRow]) -> None:
    """Remember that these were told."""
    keep(_name(file), KIND, json.dumps([_words(a) for a in rows], ensure_ascii=False).encode())
