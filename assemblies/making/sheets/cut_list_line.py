"""One line of the cut list: what it holds, what it costs, how it is told, its number on the drawings.

Lengths mm, masses kg; a mass of None: bought, weigh it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from assemblies.making.sheets.sections import StockSection, in_inches
from assemblies.results.table_file import write_table
from parts.base.frozen import dataclass

HEAD = [
    "group",
    "item",
    "count",
    "stock",
    "cut length, mm",
    "material",
    "mass each, kg",
    "mass, kg",
    "cost",
    "note",
]


@dataclass(frozen=True)
class CutListLine:
    """One line of the list; `length_mm` to cut (None: no length), `area_cm2` of plate, `price` the key of
    [prices] that buys it, `section` of the tube or bar it is sawn from; `faced` after sawing to that length;
    `of_car` of the frame's: how many both sides take, 0 where it is not sawn; `if_in_hand`: sawn only from a
    bar the job names."""

    group: str
    item: str
    count: int
    stock: str
    length_mm: float | None = None
    material: str = ""
    each_kg: float | None = None
    note: str = ""
    price: str = ""
    area_cm2: float | None = None
    cost: float | None = None
    of_the_frame: bool = False
    section: StockSection | None = None
    faced: bool = False
    of_car: int = 0
    if_in_hand: bool = False

    @property
    def mass_kg(self) -> float | None:
        return None if self.each_kg is None else self.each_kg * self.count


def plate_totals(listed: Sequence[CutListLine]) -> list[tuple[str, str, float, float]]:
    """(stock, material, net area in cm², mass in kg) by thickness and material."""
    sums: dict[tuple[str, str], list[float]] = {}
    for r in listed:
        if r.group == "plate":
            total = sums.setdefault((r.stock.split(",")[0], r.material), [0.0, 0.0])
            total[0] += r.area_cm2 or 0.0
            total[1] += r.mass_kg or 0.0
    return [(stock, material, area, kg) for (stock, material), (area, kg) in sums.items()]


PER_KG, PER_METRE = ("plate", "bar", "spring_steel"), ("tube",)


def priced(listed: list[CutListLine], prices) -> list[CutListLine]:
    """Rows with their cost where [prices] has a figure: plate, bar and spring steel by the kg, tube by the
    metre, the rest each."""
    if prices is None:
        return listed

    def cost(r: CutListLine) -> float | None:
        each = getattr(prices, r.price, None) if r.price and not r.of_the_frame else None
        much: float | None = r.count
        if r.price in PER_KG:
            much = r.mass_kg
        elif r.price in PER_METRE:
            much = None if r.length_mm is None else r.length_mm * r.count / 1000
        return None if each is None or much is None else each * much

    return [replace(r, cost=cost(r)) for r in listed]


def total_kg(listed: Sequence[CutListLine]) -> float:
    """Of all rows with a mass but the frame's members."""
    return sum(r.mass_kg or 0.0 for r in listed if not r.of_the_frame)


def numbers(listed: Sequence[CutListLine]) -> dict[str, str]:
    """Number of each item, as drawings name it: its place in the list."""
    out: dict[str, str] = {}
    for n, r in enumerate(listed, 1):
        out.setdefault(r.item, str(n))
    return out


def cells(r: CutListLine) -> list[str]:
    def number(v: float | None, digits: int) -> str:
        return "" if v is None else f"{v:.{digits}f}"

    return [
        r.group,
        r.item,
        str(r.count),
        r.stock + (in_inches(*r.section.sizes_mm) if r.section else ""),
        number(r.length_mm, 1),
        r.material,
        number(r.each_kg, 3),
        number(r.mass_kg, 3),
        number(r.cost, 2),
        r.note,
    ]


def write_csv(path: Path, listed: Sequence[CutListLine]) -> Path:
    rows = ([*cells(r), str(n)] for n, r in enumerate(listed, 1))
    return write_table(path, [*HEAD, "no. on drawings"], rows)
