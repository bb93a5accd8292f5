"""Cures tried before they are printed: the job changed as an option says, the corner worked again, the row
looked up in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from assemblies.results.findings import use_of
from assemblies.strength.row import Check
from assemblies.strength.sizing import Option

MOST_TRIALS = 20  # of the whole corner, each about half a second; rows share them

Again = Callable[
    [Mapping[str, Any], Sequence[Check]], list[Check]
]  # the job so changed: its rows, at least those of the checks given; ValueError where it cannot be


def tried(checks: list[Check], again: Again) -> list[Check]:
    """The rows, those over their limit with the first of their options that clears them, or with what was
    tried in vain and the words beside it. The trials go to the first options of all rows before any second
    one, to the option that most rows ask for first: the worst row's would use them up in vain."""
    done: dict[str, dict[tuple[str, str], Check]] = {}
    asking: dict[str, list[Check]] = {}
    for c in checks:
        if not c.ok:
            for o in c.options:
                if isinstance(o, Option):
                    asking.setdefault(o.words, []).append(c)

    def rows(option: Option) -> dict[tuple[str, str], Check] | None:
        if option.words not in done and len(done) < MOST_TRIALS:
            try:
                done[option.words] = {
                    (c.item, c.check): c for c in again(option.changes, asking[option.words])
                }
            except ValueError:  # the job says why such a value cannot be
                done[option.words] = {}
        return done.get(option.words)

    over = [[o for o in c.options if isinstance(o, Option)] for c in checks if not c.ok]
    asked = Counter(options[0].words for options in over if options)
    for options in sorted(filter(None, over), key=lambda o: -asked[o[0].words]):
        rows(options[0])
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
            return f"{option.words} (tried: {use_of(after.use)})"
        vain.append(f"{option.words}: " + ("cannot be made" if after is None else use_of(after.use)))
    said = [o for o in c.options if isinstance(o, str)]
    perhaps = [f"perhaps {untried[0]} (not tried)"] if untried else []
    return "; ".join([*perhaps, *said, *([f"not enough by itself: {', '.join(vain)}"] if vain else [])])
