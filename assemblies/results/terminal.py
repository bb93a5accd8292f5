"""How the command speaks: colour and progress on a terminal, plain text in a pipe."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
import time

_BODIES = re.compile(r"(?<![\w.'\"\[])(upper_arm|lower_arm|tie_rod)(?![\w'\"\]]|\.\w)")
_COLOURS = {"stop": "1;31", "warn": "33", "note": "36", "good": "32", "bold": "1", "dim": "2"}


def styled(text: str, style: str, stream=None) -> str:
    """`text` in colour where the stream is a terminal that wants it (NO_COLOR is honoured)."""
    stream = stream or sys.stdout
    if not stream.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return f"\x1b[{_COLOURS[style]}m{text}\x1b[0m"


def spoken(text: str) -> str:
    """Bodies as one says them; keys of the job file stay as they are written there.

    >>> spoken("upper_arm to rod: thicken lower_arm.tube_wall; rod.on = 'upper_arm'")
    "upper arm to rod: thicken lower_arm.tube_wall; rod.on = 'upper_arm'"
    """
    return _BODIES.sub(lambda m: m[0].replace("_", " "), text)


def width() -> int:
    """Columns to write in: the terminal's own, 80 in a pipe (COLUMNS says otherwise); lines longer than 120
    tire the eye."""
    return max(40, min(shutil.get_terminal_size((80, 24)).columns, 120))


def paragraph(text: str, indent: str = "    ", hanging: str = "", most_lines: int | None = None) -> str:
    """`text`, bodies `spoken`, in the width there is; `hanging` is more indent from the second line on. What
    is over `most_lines` is cut, and three dots say so."""
    return textwrap.fill(
        spoken(text),
        width(),
        initial_indent=indent,
        subsequent_indent=indent + hanging,
        break_long_words=False,
        break_on_hyphens=False,
        max_lines=most_lines,
        placeholder=" ...",
    )


class Progress:
    """One line that grows on a terminal (on stderr), silence in a pipe."""

    def __init__(self) -> None:
        self.live = sys.stderr.isatty()
        self.start = time.monotonic()

    def step(self, what: str, done: int | None = None, of: int | None = None) -> None:
        if not self.live:
            return
        count = f" {done}/{of}" if of else ""
        sys.stderr.write(f"\r\x1b[K  {time.monotonic() - self.start:5.1f} s  {what}{count}")
        sys.stderr.flush()

    def end(self) -> None:
        if self.live:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
