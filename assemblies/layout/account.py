"""What every placed part gives account of: what it is cut or bought from, which seam holds it, where its
strength is checked. None of it can be left out: `placing.put` asks for all.
"""

from __future__ import annotations

from parts.base.frozen import dataclass
from parts.shape.outline import Outline

# ------------------------------------------------------------ what it is made of


@dataclass(frozen=True)
class FlatPart:
    """A blank to cut for one corner: its outline as it is drawn for this side, how many, of what."""

    name: str
    outline: Outline
    count: int
    thickness_mm: float
    material: str


@dataclass(frozen=True)
class FromPlate:
    """Cut from plate: `blank` with as many as this one placed part takes."""

    blank: FlatPart


@dataclass(frozen=True)
class FromStock:
    """Sawn from tube, bar or strip: the rows of the cut list, each by a part of its item."""

    rows: tuple[str, ...]


@dataclass(frozen=True)
class Bought:
    """A row of the cut list that is bought, by a part of its item."""

    row: str


@dataclass(frozen=True)
class Given:
    """Not of this corner's making: the car has it, or the builder brings it. `why` in a few words."""

    why: str


Source = FromPlate | FromStock | Bought | Given

# ------------------------------------------------------------ how it is held


@dataclass(frozen=True)
class Seam:
    """A weld that is made without a number on the drawing: where, how many runs of what length, leg."""

    where: str
    runs: int
    length_mm: float
    leg_mm: float


@dataclass(frozen=True)
class Seams:
    """Welds of the part's own, for the weld plan."""

    seams: tuple[Seam, ...]

    def __post_init__(self) -> None:
        if not self.seams:
            raise TypeError("Seams() without a seam: say NoSeam and why")


@dataclass(frozen=True)
class SeamOf:
    """The welds that hold it are listed with another placed part, or in the rocker's numbered plan."""

    part: str


@dataclass(frozen=True)
class NoSeam:
    """Nothing welds it: `why`."""

    why: str


Weld = Seams | SeamOf | NoSeam
ROCKER_PLAN = "rocker's weld plan"

# ------------------------------------------------------------ where its strength is looked at


@dataclass(frozen=True)
class Checked:
    """Rows of the strength table, each by its whole item."""

    items: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.items:
            raise TypeError("Checked() without an item: say NotChecked and why")


@dataclass(frozen=True)
class Unchecked:
    """It carries load and nothing of it is checked: `why` is told with the strength, once for parts alike."""

    why: str


@dataclass(frozen=True)
class Unloaded:
    """It carries nothing of the corner's load: `why`."""

    why: str


Strength = Checked | Unchecked | Unloaded
