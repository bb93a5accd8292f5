"""The rows of results.json on what is made and bought: blanks, parts, cut list, nest and bars. Units are in
the names."""

from dataclasses import field

from assemblies.results.row import Row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class HoleRow(Row):
    number: int
    purpose: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    fit: str
    made: str
    cut_mm: float = 0.0  # what the cutter makes of it; 0: drilled


@dataclass(frozen=True)
class BlankRow(Row):
    name: str
    part: str
    hand: str
    count: int  # a side that uses it
    material: str
    thickness_mm: float
    area_mm2: float
    cut_length_mm: float
    mass_kg: float
    holes: list[HoleRow]
    dxf: str | None = None
    count_car: int | None = None  # of this file for both sides of the car


@dataclass(frozen=True)
class PartRow(Row):
    name: str
    body: str
    count: int
    material: str
    mass_kg: float | None  # null: bought, weigh it
    centre_of_gravity_mm: list[float]
    step: str | None = None
    step_other: str | None = None  # of the other side's, its mirror image


@dataclass(frozen=True)
class CutRow(Row):
    """A line of the cut list and bill of materials; `cost` where [prices] has a figure for it."""

    # plate | tube | bar | spring | fastener | bought | open (not laid out) | frame (the job's own members)
    group: str
    item: str
    count: int
    stock: str
    length_mm: float | None
    material: str
    mass_each_kg: float | None  # null: bought, weigh it
    mass_kg: float | None
    cost: float | None
    note: str


@dataclass(frozen=True)
class MassesRow(Row):
    """The corner's own parts, half of arms and rod unsprung; frame members apart; and over a plain coil-over
    corner."""

    parts_kg: float
    sprung_kg: float
    unsprung_kg: float
    centre_of_gravity_mm: list[float]
    frame_members_kg: float
    missing: list[str]
    over_plain_coil_over_kg: float | None = None
    height_over_plain_mm: float | None = None
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class NestedPlate(Row):
    """A plate in hand with blanks laid on it; `use_percent`: blanks' gross area over the plate's metal."""

    plate: str
    thickness_mm: float
    material: str
    blanks: int
    use_percent: float
    cut_length_mm: float
    cuts: int
    without_lead: int
    dxf: str | None = None
    picture: str | None = None


@dataclass(frozen=True)
class MissingBlank(Row):
    blank: str
    count: int
    thickness_mm: float
    material: str
    why: str


@dataclass(frozen=True)
class PlateWanted(Row):
    """A plate that would take what is missing of its thickness."""

    thickness_mm: float
    material: str
    length_mm: float
    width_mm: float


@dataclass(frozen=True)
class Nesting(Row):
    """The blanks of the sides that are built, on the plates in hand."""

    spacing_mm: float
    plates: list[NestedPlate] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    missing: list[MissingBlank] = field(default_factory=list)
    wanted: list[PlateWanted] = field(default_factory=list)


@dataclass(frozen=True)
class BarRow(Row):
    """One bar of tube or rod and the pieces sawn from it, in order."""

    section: str
    material: str
    length_mm: float
    bought: bool
    pieces: list[str]
    piece_lengths_mm: list[float]
    offcut_mm: float


@dataclass(frozen=True)
class BarsToBuy(Row):
    """`at_least`: the bound by length; `proven`: `count` is the fewest there can be; `needed_mm`: what is
    used of them, `by_the_metre` what is ordered."""

    section: str
    material: str
    length_mm: float
    count: int
    at_least: int
    proven: bool
    needed_mm: float
    by_the_metre: bool = False
