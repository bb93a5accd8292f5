"""The whole corner as one STEP file: every part named, coloured by its body, standing in car coordinates.

Car coordinates: x forward, y left, z up, mm. The parts stand where their frames say: at ride height, or at
any pose.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from assemblies.making.colours import COLOURS, GAPS, colour_of, group_of
from parts.files.imported import Imported
from parts.files.solid import Colour, SolidError, placed, solid
from parts.files.step import StepPart, write_step
from parts.shape.form import Form, Frame

__all__ = ["COLOURS", "GAPS", "Shown", "colour_of", "group_of", "write_assembly"]


class Shown(NamedTuple):
    """A thing of an assembly; `group`: its branch of the tree."""

    name: str
    what: object  # form or shape
    where: Frame | np.ndarray
    colour: Colour
    group: str = ""
    material: str = ""


def write_assembly(
    path: str | Path,
    items: Iterable[Shown | tuple[str, object, Frame | np.ndarray, Colour]],
    title: str = "",
) -> Path:
    """STEP file of (name, form or shape, frame or 4 x 4 motion, colour), in car coordinates; a `Shown` also
    says its group in the tree and its material.

    A name stands for one part only (rocker left, rocker right). The file is read back, and names, volumes and
    places compared, before it takes its name. Raises SolidError for a name that is empty or given
    twice, for a part that cannot be made (it is named) and for a file that does not read back as meant."""
    items = list(items)
    if not items:
        raise SolidError("an assembly needs at least one part")
    repeated = sorted(
        name for name, n in Counter(item[0] for item in items).items() if n > 1 or not name.strip()
    )
    if repeated:
        raise SolidError(
            f"every part of an assembly needs a name of its own; given twice or empty: "
            f"{', '.join(map(repr, repeated))}"
        )
    return write_step(
        path,
        title or Path(path).stem,
        [
            StepPart(i.name, _standing(i.name, i.what, i.where), i.colour, i.group, i.material)
            for i in (item if isinstance(item, Shown) else Shown(*item) for item in items)
        ],
    )


def _standing(name: str, what, where: Frame | np.ndarray):
    try:
        return placed(solid(what) if isinstance(what, Form | Imported) else what, where)
    except ValueError as e:
        raise SolidError(f"{name}: {e}") from e
