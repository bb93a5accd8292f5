"""A build's folder: made fresh beside the old one and swapped in at the end, so that a build that fails or is
interrupted leaves the last good one as it was. What the user put there is carried over: files, links, empty
folders, and files of the build that he changed."""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import time
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

# names what the build made, with digests: all else, and what has changed since, is the user's
MADE = "made-by-rockershed.txt"
HEAD = "# "
LITTER_S = 3600.0  # a half-made folder that old is nobody's, where one cannot ask for the process


class FolderError(ValueError):
    """The output folder cannot be used; the text says why and what to do."""


@contextmanager
def fresh(target: Path, said: str = "") -> Generator[Path]:
    """Yield an empty folder; when the block ends well it becomes `target`, else it is removed. `said`: a line
    for the record of what was made, found again by `head`.

    Raises FolderError: before anything is made, where `target` is a file or a folder no build made; and
    whenever the disk refuses (full, no rights, a name too long). The old folder is whole in any case."""
    try:
        if target.is_symlink():  # the user keeps it elsewhere
            target = Path(os.path.realpath(target))
        _usable(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        tidy(target)
        new = target.with_name(f".{target.name}.new-{os.getpid()}")
        shutil.rmtree(new, ignore_errors=True)
        new.mkdir()
    except OSError as e:
        raise FolderError(
            f"{_short(target)} cannot be written to: {e.strerror}; name another folder with --out"
        ) from e
    try:
        yield new
        made = sorted(p for p in new.rglob("*") if p.is_file())
        (new / MADE).write_text(
            f"{HEAD}{said}\n" * bool(said)
            + "".join(f"{_digest(p)}  {p.relative_to(new).as_posix()}\n" for p in made),
            encoding="utf-8",
        )
        if target.exists():
            _carry_over(target, new)
        _swap(new, target)
    except OSError as e:
        raise FolderError(
            f"{_short(target)} could not be written: {e.strerror or e}"
            f"{f' ({Path(e.filename).name})' if isinstance(e.filename, str) else ''}; what was there is "
            f"as it was. "
            "Make room or mend the rights, or name another folder with --out"
        ) from e
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _short(path: Path) -> str:
    text = str(path)
    return text if len(text) <= 200 else f"{text[:120]} ... ({len(text)} characters)"


def _usable(target: Path) -> None:
    try:
        mode = os.stat(target).st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISDIR(mode):
        raise FolderError(f"{_short(target)} is a file; name another output folder with --out")
    if any(target.iterdir()) and not (target / MADE).is_file():
        raise FolderError(
            f"{_short(target)} holds files that no build made; move them away or name another folder with "
            f"--out"
        )


def tidy(target: Path) -> None:
    """Clear what killed builds of this folder left beside it; an old folder that was just being swapped out
    comes
    back."""
    for path in sorted(target.parent.iterdir()):
        kind = next((k for k in ("old", "new") if path.name.startswith(f".{target.name}.{k}-")), None)
        if kind is None or not _left_behind(path):
            continue
        if kind == "old" and not target.exists():
            path.rename(target)
        else:
            shutil.rmtree(path, ignore_errors=True)


def _left_behind(path: Path) -> bool:
    number = path.name.rpartition("-")[2]
    if not number.isdigit():
        return False
    if os.name != "posix":  # there, asking for a process would end it
        return time.time() - path.stat().st_mtime > LITTER_S
    try:
        os.kill(int(number), 0)
    except (ProcessLookupError, OverflowError):
        return True
    except PermissionError:
        return False
    return int(number) == os.getpid()


# ------------------------------------------------------------------------------------------------ the user's


def _carry_over(old: Path, new: Path) -> None:
    """Copy what the user added to the old folder or changed in it; where the new build uses the name too, the
    user's gets `.kept`, or `.kept-2` where that is another one's."""
    mine, theirs, changed = made(old), [], []
    for at, folders, files in os.walk(old):
        here = Path(at)
        linked = [n for n in folders if (here / n).is_symlink()]
        folders[:] = sorted(set(folders) - set(linked))
        if not folders and not files and not linked and here != old:
            theirs.append(here)
        for name in sorted([*files, *linked]):
            path = here / name
            place = path.relative_to(old).as_posix()
            if place == MADE:
                continue
            if place not in mine or path.is_symlink():
                theirs.append(path)
            elif mine[place] != _digest(path):
                changed.append(path)
    for path in [*theirs, *changed]:  # names of their own first: a file changed later must not take one
        goal = new / path.relative_to(old)
        if path.is_dir() and not path.is_symlink():
            goal.mkdir(parents=True, exist_ok=True)
            continue
        if _same(path, goal):
            continue
        if os.path.lexists(goal):
            free = _beside(path, goal)
            if free is None:
                continue
            goal = free
        goal.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(path, goal, follow_symlinks=False)


def made(folder: Path) -> dict[str, str]:
    """Digests of the files that the folder's build made, by place; empty where none did."""
    pairs = (line.partition("  ") for line in _record(folder) if not line.startswith(HEAD))
    return {place: digest for digest, _, place in pairs}


def untouched(folder: Path) -> bool:
    """Whether every file that the folder's build made is there as it was made."""
    return all(
        (folder / place).is_file() and _digest(folder / place) == digest
        for place, digest in made(folder).items()
    )


def head(folder: Path) -> str:
    """The line that the folder's build had to say of itself; "" where it had none."""
    return next((line.removeprefix(HEAD) for line in _record(folder) if line.startswith(HEAD)), "")


def _record(folder: Path) -> list[str]:
    try:
        return (folder / MADE).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:  # none there: nothing was made yet
        return []


def _beside(path: Path, goal: Path) -> Path | None:
    """A free name beside `goal`; None where the same content is kept already."""
    n = 1
    while True:
        name = goal.with_name(goal.name + (".kept" if n == 1 else f".kept-{n}"))
        if not os.path.lexists(name):
            return name
        if _same(path, name):
            return None
        n += 1


def _same(a: Path, b: Path) -> bool:
    if a.is_symlink() or b.is_symlink():
        return a.is_symlink() and b.is_symlink() and os.readlink(a) == os.readlink(b)
    return a.is_file() and b.is_file() and _digest(a) == _digest(b)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


# ------------------------------------------------------------------------------------------------ the swap


def _swap(new: Path, target: Path) -> None:
    """Put `new` in the place of `target`; on failure the old one is put back."""
    if not target.exists():
        _rename(new, target)
        return
    old = target.with_name(f".{target.name}.old-{os.getpid()}")
    shutil.rmtree(old, ignore_errors=True)
    _rename(target, old)
    try:
        _rename(new, target)
    except (OSError, FolderError):
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
