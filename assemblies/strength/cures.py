"""Cures tried before they are printed: the job changed as an option says, the corner worked again, the row
looked up in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from assemblies.strength.row import Check
from assemblies.strength.sizing import Option

MOST_TRIALS = 12  # of the whole corner, each about half a second; rows share them

Again = Callable[
    [Mapping[str, Any]], list[Check]
]  # the rows of the job so changed; ValueError where it cannot be


def tried(checks: list[Check], again: Again) -> list[Check]:
    """The rows, those over their limit with the first of their options that clears them, or with what was
    tried in vain and the words beside it."""
    done: dict[str, dict[tuple[str, str], Check] | None] = {}

    def rows(option: Option) -> dict[tuple[str, str], Check] | None:
        if option.words not in done and len(done) < MOST_TRIALS:
            try:
                done[option.words] = {(c.item, c.check): c for c in again(option.changes)}
            except ValueError:  # the job says why such a value cannot be
                done[option.words] = None
        return done.get(option.words)

    return [c if c.ok else replace(c, cure=_words(c, rows)) for c in checks]


def _words(c: Check, rows: Callable[[Option], dict[tuple[str, str], Check] | None]) -> str:
    vain, untried = [], []
    for option in (o for o in c.options if isinstance(o, Option)):
        found = rows(option)
        if found is None:
            untried.append(option.words)
            continue
        after = found.get((c.item, c.check))
        if after is not None and after.ok:
            return f"{option.words} (tried: use {after.use:.2f})"
        vain.append(f"{option.words}: " + ("cannot be made" if after is None else f"{after.use:.2f}"))
    said = [o for o in c.options if isinstance(o, str)]
    if untried and not vain:
        return "; ".join([f"perhaps {untried[0]} (not tried)", *said])
    return "; ".join([*said, *([f"not enough by itself: {', '.join(vain)}"] if vain else [])])
