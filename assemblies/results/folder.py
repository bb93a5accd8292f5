"""A build's folder: made fresh beside the old one and swapped in at the end, so that a build that fails or is
interrupted leaves the last good one as it was. Files the user put there are carried over."""

from __future__ import annotations

import hashlib
import os
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# names what the build made, with digests: all else, and what has changed since, is the user's
MADE = "made-by-rockershed.txt"


class FolderError(ValueError):
    """The output folder cannot be used; the text says why and what to do."""


@contextmanager
def fresh(target: Path) -> Iterator[Path]:
    """Yield an empty folder; when the block ends well it becomes `target`, else it is removed.

    Raises FolderError, before anything is made, where `target` is a file or a folder no build made."""
    if target.exists() and not target.is_dir():
        raise FolderError(f"{target} is a file; name another output folder with --out")
    if target.is_dir() and any(target.iterdir()) and not (target / MADE).is_file():
        raise FolderError(
            f"{target} holds files that no build made; move them away or name another folder with --out"
        )
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        new = target.with_name(f".{target.name}.new-{os.getpid()}")
        shutil.rmtree(new, ignore_errors=True)
        new.mkdir()
    except OSError as e:
        raise FolderError(
            f"{target.parent} cannot be written to: {e.strerror}; name another folder with --out"
        ) from e
    try:
        yield new
        made = sorted(p for p in new.rglob("*") if p.is_file())
        (new / MADE).write_text(
            "".join(f"{_digest(p)}  {p.relative_to(new).as_posix()}\n" for p in made), encoding="utf-8"
        )
        if target.exists():
            _carry_over(target, new)
        _swap(new, target)
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _carry_over(old: Path, new: Path) -> None:
    """Copy what the user added to the old folder or changed in it; where the new build uses the name too, the
    user's gets `.kept`."""
    made = {
        place: digest
        for digest, _, place in (
            line.partition("  ") for line in (old / MADE).read_text(encoding="utf-8").splitlines()
        )
    }
    for path in sorted(old.rglob("*")):
        place = path.relative_to(old)
        if not path.is_file() or place.as_posix() == MADE or made.get(place.as_posix()) == _digest(path):
            continue
        goal = new / place
        if goal.exists():
            goal = goal.with_name(goal.name + ".kept")
        goal.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(path, goal)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _swap(new: Path, target: Path) -> None:
    """Put `new` in the place of `target`; on failure the old one is put back."""
    if not target.exists():
        _rename(new, target)
        return
    old = target.with_name(f".{target.name}.old-{os.getpid()}")
    _rename(target, old)
    try:
        _rename(new, target)
    except OSError:
        _rename(old, target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _rename(a: Path, b: Path, tries: int = 5) -> None:
    """Rename, patiently: on Windows a virus scanner or a viewer may hold a file for a moment."""
    for left in range(tries - 1, -1, -1):
        try:
            a.rename(b)
            return
        except PermissionError as e:
            if not left:
                raise FolderError(
                    f"{a.name} cannot be put in place: {e.strerror}; close programs that have its files open"
                ) from e
            time.sleep(0.2)
