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

from assemblies.layout.placing import Placed
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.files.solid import Colour, SolidError, placed, solid
from parts.files.step import StepPart, write_step
from parts.shape.form import Form, Frame
from parts.tab import Tab

# Quiet colours told apart also by eyes that lack red or green: least CIE Lab difference of any two, seen by
# normal,
# red-blind and green-blind eyes, is over 20 (tests/test_step.py holds it).
COLOURS: dict[str, Colour] = {
    "frame": (0.63, 0.63, 0.66),
    "wheel": (0.30, 0.27, 0.30),
    "rocker": (0.93, 0.81, 0.51),
    "rod": (0.15, 0.27, 0.51),
    "damper_body": (0.33, 0.48, 0.63),
    "damper_shaft": (0.84, 0.84, 0.72),
    "upper_arm": (0.48, 0.60, 0.42),
    "lower_arm": (0.36, 0.27, 0.15),
    "tie_rod": (0.69, 0.72, 0.93),
    "spring": (0.54, 0.42, 0.15),
    "gap": (0.87, 0.0, 0.87),  # marks, no part
}


def colour_of(body: str, carrier: str) -> Colour:
    """A part's colour: its body's own, else that of what carries it; the frame's for members and brackets."""
    return COLOURS.get(body) or COLOURS.get(carrier) or COLOURS["wheel" if carrier == "upright" else "frame"]


class Shown(NamedTuple):
    """A thing of an assembly; `group`: its branch of the tree."""

    name: str
    what: object  # form or shape
    where: Frame | np.ndarray
    colour: Colour
    group: str = ""
    material: str = ""


GAPS = "gap marks"
GROUPS = {
    "rocker": "rocker",
    "rod": "rod",
    "damper_body": "damper",
    "damper_shaft": "damper",
    "upper_arm": "arms",
    "lower_arm": "arms",
    "tie_rod": "steering",
    "rack housing": "steering",
    "rack end": "steering",
    "wheel": "wheel",
    "spring": "spring",
    "spring anchor": "spring",
    "spring housing": "spring",
    "pivot spindle": "spring",
}


def group_of(p: Placed) -> str:
    """The branch of the corner's tree that a placed part hangs on."""
    if isinstance(p.part, BoltAndNut):
        return "fasteners"
    if isinstance(p.part, Tab):
        return "brackets"
    return GROUPS.get(p.body) or ("frame" if p.carrier == "frame" else GROUPS.get(p.carrier, "neighbours"))


def write_assembly(
    path: str | Path, items: Iterable[tuple[str, object, Frame | np.ndarray, Colour]], title: str = ""
) -> Path:
    """STEP file of (name, form or shape, frame or 4 x 4 motion, colour), in car coordinates; a `Shown` also
    says its group in the tree and its material.

    A name stands for one part only (rocker left, rocker right). The file is read back, and names, volumes and
    places compared, before it takes its name. Raises SolidError for a name that is empty or given twice, for
    a part that cannot be made (it is named) and for a file that does not read back as meant."""
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
            for i in (Shown(*item) for item in items)
        ],
    )


def _standing(name: str, what, where: Frame | np.ndarray):
    try:
        return placed(solid(what) if isinstance(what, Form | Imported) else what, where)
    except ValueError as e:
        raise SolidError(f"{name}: {e}") from e
