"""Solids made once, then looked up.

A solid is filed under the SHA-256 of every number of its form together with the source text of the files that
make solids, of parts/shape/form.py and of parts/shape/outline.py and the versions of the kernel. Change a
number, a line of the making or the kernel and the name changes: an old solid is then never asked for, so none
can be stale. Two spellings of one number (0.0 and -0.0, 3 and 3.0) get two names, which costs a rebuild and
no more. On disk each file opens with the digest of what follows; a damaged file is not read by the kernel but
made again. The folder: environment variable ROCKERSHED_CACHE ("off" for none), else the user's cache folder
of the platform.
"""

from __future__ import annotations

import hashlib
import inspect
from collections.abc import Callable
from functools import cache
from io import BytesIO
from pathlib import Path

import OCP

import parts.shape.form
import parts.shape.outline
from parts.files.cache import keep, kept
from parts.files.imported import Imported
from parts.files.kernel import cq
from parts.shape.form import Form

# what says how a solid is made: another line in one of these is another name
MAKERS = (
    *(
        Path(__file__).with_name(f"{name}.py")
        for name in ("solid_cache", "solid", "shapes", "measured", "boolean", "kernel", "stranger", "facets")
    ),
    Path(parts.shape.form.__file__),
    Path(parts.shape.outline.__file__),
)
memory: dict[str, cq.Shape] = {}  # by name, of this run


def cache_key(form: Form | Imported) -> str:
    """The form's every number, how solids are made, and by which kernel, as one name; one that was held
    against a volume has a name of its own."""
    held = "" if isinstance(form, Imported) or form.volume_mm3 is None else " held"
    return hashlib.sha256((salt() + form.key + held).encode()).hexdigest()


@cache
def salt() -> str:
    h = hashlib.sha256(f"cadquery {cq.__version__} OCP {OCP.__version__}\n".encode())
    for file in MAKERS:
        h.update(hashlib.sha256(file.read_bytes()).digest())
    return h.hexdigest()


def once(said: str, make: Callable[[], cq.Shape]) -> cq.Shape:
    """A shape that is no form, filed like one: `said` holds all that goes into it besides the file that
    `make` stands in."""
    name = hashlib.sha256(f"{salt()}|{_digest(inspect.getfile(make))}|{said}".encode()).hexdigest()
    shape = from_disk(name)
    return to_disk(name, make()) if shape is None else shape


@cache
def _digest(file: str) -> str:
    return hashlib.sha256(Path(file).read_bytes()).hexdigest()


def forget() -> None:
    """Drop the solids held in memory; those on disk stay."""
    memory.clear()


def from_disk(name: str) -> cq.Shape | None:
    body = kept(name, "solid")
    return cq.Shape.importBin(BytesIO(body)) if body else None


def to_disk(name: str, shape: cq.Shape) -> cq.Shape:
    """Keep a shape; gives it back as it will be read, so that what follows does not depend on what was
    kept."""
    body = BytesIO()
    shape.exportBin(body)
    keep(name, "solid", body.getvalue())
    return cq.Shape.importBin(BytesIO(body.getvalue()))
