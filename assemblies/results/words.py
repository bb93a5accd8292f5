"""The verdict in words: does it work, as far as was checked, and what was not."""

from __future__ import annotations

from assemblies.results.model import Results
from assemblies.results.not_checked import names

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def tally(r: Results) -> str:
    """The verdict in figures: stops, what to look at, what was not checked.

    >>> from types import SimpleNamespace as Some
    >>> found, gaps = [Some(level="stop"), Some(level="note")], Some(checked=True)
    >>> tally(Some(findings=found, not_checked=[1, 2, 3], clearance=gaps))
    'does not work yet, 1 stop, 0 to look at, 3 not checked'
    """
    stop, warn = (sum(f.level == level for f in r.findings) for level in ("stop", "warn"))
    n = len(r.not_checked)
    word = "does not work yet" if stop else "no all-clear" if n or warn else "nothing found stops it"
    gaps = "" if r.clearance.checked else ", gaps among them"
    return (
        f"{word}, {stop} stop{'' if stop == 1 else 's'}, {warn} to look at, {n or 'none'} not checked{gaps}"
    )


def verdict(r: Results) -> str:
    """One sentence. It never says that nothing stops the corner while anything was not looked at; gaps left
    out are named in it."""
    stop, warn = (sum(f.level == level for f in r.findings) for level in ("stop", "warn"))
    left = len(r.not_checked)
    if stop:
        said = [f"{count(stop, 'thing')} must be put right first"]
        said += [f"{count(warn, 'more thing')} should be looked at"] if warn else []
        said += [_left_out(r, left)] if left else []
        *first, last = said
        return f"This {r.what} does not work yet: {', '.join(first)}{', and ' if first else ''}{last}."
    if left:
        rest = (
            f"In what was checked {count(warn, 'thing')} should be looked at before cutting."
            if warn
            else "What was checked is within good practice."
        )
        return f"No all-clear: {_left_out(r, left)}. {rest}"
    if warn:
        return (
            f"Nothing found stops this {r.what}; {count(warn, 'thing')} should be looked at before cutting."
        )
    return f"Nothing found stops this {r.what}, and all of it is within good practice."


def _left_out(r: Results, n: int) -> str:
    were = "was" if n == 1 else "were"
    if not r.clearance.checked:
        return f"no gap was checked, {count(n, 'thing')} in all {were} not"
    return f"{count(n, 'thing')} {were} not checked"


def unchecked(r: Results) -> str:
    """The count and the names of what was not checked; empty where nothing was left out."""
    left = r.not_checked
    return f"Not checked, {len(left)}: {'; '.join(names(left))}." if left else ""


def count(n: int, word: str) -> str:
    """
    >>> count(1, "thing"), count(3, "thing"), count(12, "thing")
    ('one thing', 'three things', '12 things')
    """
    return f"{_NUMBERS[n] if n < len(_NUMBERS) else n} {word}{'' if n == 1 else 's'}"
