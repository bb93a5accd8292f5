"""A shape made by another program: the solids of a STEP file. Beside `Form` the other thing a placed part can
be made of."""

from __future__ import annotations

import hashlib
from functools import cached_property
from pathlib import Path

from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Imported:
    """All solids of a STEP file, in the file's own axes, mm; `mirrored` in its y. `digest` names the file's
    content.

    Make one with `of`, which raises ValueError for a file that cannot be read."""

    path: str
    digest: str
    mirrored: bool = False

    @staticmethod
    def of(path: str | Path, mirrored: bool = False) -> Imported:
        try:
            return Imported(str(path), hashlib.sha256(Path(path).read_bytes()).hexdigest(), mirrored)
        except OSError as e:
            raise ValueError(f"{Path(path).name} cannot be read: {e.strerror}") from None

    @cached_property
    def key(self) -> str:
        """A name for exactly this shape, wherever its file lies."""
        return hashlib.sha256(f"imported {self.digest} {self.mirrored}".encode()).hexdigest()
