"""What is costly to make, kept between runs: bytes under a name that says exactly what they are.

The name is a digest of all that went into the making, so nothing kept can be stale. Each file opens with the
digest of its name and of what follows; a damaged file counts as none. A full or locked disk only costs the
saving. The folder: environment variable ROCKERSHED_CACHE ("off" for none), else the user's cache folder of
the platform.
"""

from __future__ import annotations

import hashlib
import os
import platform
import sys
import tempfile
from functools import cache
from pathlib import Path

from parts.base.version import records

MOST_FILES, MOST_BYTES = 3000, 400_000_000  # of one kind kept on disk; the oldest go first
THIN_AT = "00"  # what a name begins with at which the folder is looked through: one in 256, since a look
# takes as long as keeping fifty


def cache_folder() -> Path | None:
    """Where things are kept between runs; None where the user has switched it off."""
    chosen = os.environ.get("ROCKERSHED_CACHE", "")
    if chosen.lower() == "off":
        return None
    if chosen:
        return Path(chosen)
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "rockershed"


def kept(name: str, kind: str) -> bytes | None:
    """What was kept under a name; None where there is nothing, or nothing sound."""
    folder = cache_folder()
    try:
        data = (folder / f"{name}.{kind}").read_bytes() if folder else b""
    except OSError:
        return None
    sound = len(data) > 32 and hashlib.sha256(name.encode() + data[32:]).digest() == data[:32]
    return data[32:] if sound else None


def keep(name: str, kind: str, body: bytes) -> None:
    """Keep bytes under a name: written beside and renamed, so that no reader sees half a file."""
    folder = cache_folder()
    if folder is None:
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, suffix=".part", delete=False) as f:
            f.write(hashlib.sha256(name.encode() + body).digest() + body)
        os.replace(f.name, folder / f"{name}.{kind}")
        if name.startswith(THIN_AT):
            _thin(folder)
    except OSError:
        return


def _thin(folder: Path) -> None:
    """Drop the oldest of each kind of which there are too many or too much."""
    kinds: dict[str, list[tuple[float, int, str]]] = {}
    for e in os.scandir(folder):
        is_ = e.stat()
        kinds.setdefault(e.name.rpartition(".")[2], []).append((is_.st_mtime, is_.st_size, e.path))
    for found in kinds.values():
        room = MOST_BYTES
        for n, (_, size, path) in enumerate(sorted(found, reverse=True)):
            room -= size
            if n >= MOST_FILES or (room < 0 and n):
                Path(path).unlink(missing_ok=True)


def key(*given: object) -> str:
    """A name for what is made of just these, by this tool and these libraries."""
    return hashlib.sha256("|".join((tool(), *map(repr, given))).encode()).hexdigest()


@cache
def tool() -> str:
    """This tool's files, what runs it and every library beside it, by version."""
    whole = hashlib.sha256(f"{sys.version} {sys.platform} {platform.machine()}\n".encode())
    whole.update("\n".join(sorted(records())).encode())
    root = str(Path(__file__).parents[2])
    for path in sorted(_files(f"{root}/assemblies") + _files(f"{root}/parts")):
        with open(path, "rb", buffering=0) as f:
            body = f.read()
        whole.update(f"{path[len(root) :]} {len(body)}\n".encode())
        whole.update(body)
    return whole.hexdigest()


def _files(room: str) -> list[str]:
    found: list[str] = []
    for e in os.scandir(room):
        if not e.is_dir():
            found.append(e.path)
        elif e.name not in ("jobs", "__pycache__"):
            found += _files(e.path)
    return found
