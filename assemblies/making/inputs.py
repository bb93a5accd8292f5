"""What a build is made of, as one name; which kinds of files it makes; whether a folder holds them already.

The name is a digest of the job's every value and assumption, of the neighbours' STEP files, of what the build
was asked, of this tool's own files and of every installed library's version. A folder made under the same
name, each of its files as it was made, is what a build would make again: nothing of it can be stale.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from assemblies.job import FrameJob, Job
from assemblies.job.values import nearest
from assemblies.results.folder import FolderError, head, made, untouched
from parts.files.cache import cache_folder, tool

KINDS = ("blanks", "sheets", "solids", "pictures", "nest", "report")  # in the order they are made
PLACES = {
    "blanks": "blanks",
    "sheets": "sheets",
    "plots": "pictures",
    "nest": "nest",
    "report.html": "report",
}
ALWAYS = ("results.json", "summary.txt")


def kinds_of(words: str | None) -> tuple[str, ...]:
    """The kinds asked for, "blanks,solids"; None is all of them, "results" none. Raises FolderError for a
    word that is no kind."""
    if words is None:
        return KINDS
    asked = [w.strip().lower() for w in words.split(",")]
    unknown = [w for w in asked if w not in (*KINDS, "results")]
    if unknown:
        known = ("results", *KINDS)
        cure = nearest(unknown[0], known) or "write some of these with commas between"
        raise FolderError(f"--only {words}: {unknown[0]!r} is none of {', '.join(known)}; {cure}")
    return tuple(k for k in KINDS if k in asked)


def name_of(job: Job | FrameJob, asked: Iterable[object] = ()) -> str | None:
    """The name of all that goes into a build; None where nothing is to be kept between builds
    (ROCKERSHED_CACHE=off), or where a name needs letters from whatever font is installed."""
    text = job.model_dump_json(by_alias=True) + repr(job.assumed)
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return None
    if cache_folder() is None:
        return None
    whole = hashlib.sha256(f"{tool()}|{text}|{[*map(repr, asked)]}".encode())
    for m in job.member:
        if m.shape == "step":
            whole.update(hashlib.sha256(Path(m.file).read_bytes()).digest())
    return whole.hexdigest()


def line(name: str | None, kinds: Iterable[str]) -> str:
    """What the folder's own record opens with."""
    return f"made of {name} as {','.join(kinds) or 'results'}" if name else ""


def there(target: Path, name: str | None) -> tuple[str, ...] | None:
    """The kinds a folder holds that was made of just that, every file as it was made; None for any other."""
    of, _, kinds = head(target).removeprefix("made of ").partition(" as ")
    if name is None or of != name or not untouched(target):
        return None
    return tuple(k for k in KINDS if k in kinds.split(","))


def older(target: Path) -> tuple[str, ...]:
    """The kinds of which the folder's build made any file."""
    found = {PLACES.get(place.split("/")[0], "solids") for place in made(target) if place not in ALWAYS}
    return tuple(k for k in KINDS if k in found)
