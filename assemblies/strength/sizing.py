"""What would bring a failing item under its limit: the next stocked plate, boss radius, weld leg, bolt, tube
or wall, as keys of the job with their values.

Each option is first put through the row's own law, then (`assemblies.strength.cures`) tried on the whole job
before it is printed. Where no key helps, words say what would.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any, NamedTuple

from parts.base.stock import PLATES_MM, ROUND_PRECISION_TUBES_MM, STEELS, THREADS, WALLS_MM, Steel
from parts.calc.bolts import Bolt

STRONG = STEELS["S355"]
MOST = 3  # options that a row offers
_COARSE = [t.name for t in sorted(THREADS.values(), key=lambda t: t.diameter_mm) if t.coarse]


class Option(NamedTuple):
    """A change of the job: `changes` as `Job.changed` takes them."""

    words: str
    changes: dict[str, Any]


Cure = Callable[[float], "Sequence[Option | str]"]  # from the use to options, and words where no key helps


def put(key: str, value, now=None, unit: str = "mm", **more) -> Option:
    """`key = value mm instead of now`; `more`: keys (dots written as __) that go with it.

    >>> put("rod.lug_diameter", 18, 16).words, put("rod.material", "S355").words
    ('rod.lug_diameter = 18 mm instead of 16', 'rod.material = "S355"')
    """
    changes = {key: value} | {k.replace("__", "."): v for k, v in more.items()}
    said = [f'{k} = "{v}"' if isinstance(v, str) else f"{k} = {v:g} {unit}" for k, v in changes.items()]
    was = "" if now is None else f" instead of {now if isinstance(now, str) else format(now, '.4g')}"
    return Option(said[0] + was + "".join(f", {s}" for s in said[1:]), changes)


def rated(key: str, need: float, unit: str = "N") -> Option:
    """Something bought that its maker rates so: rounded up to 100 N, or to a whole degree."""
    step = 100 if unit == "N" else 1
    return put(key, float(math.ceil(need / step - 1e-9) * step), unit=unit)


def next_up(need: float, sizes: Iterable[float]) -> float:
    """The least size of `sizes` not under `need`; a whole mm beyond them.

    >>> next_up(3.2, PLATES_MM), next_up(13.2, PLATES_MM)
    (4.0, 14.0)
    """
    return min((s for s in sizes if s >= need - 1e-9), default=float(math.ceil(need - 1e-9)))


def passing(options: Iterable[tuple[Option, Callable[[], float]]], *otherwise: str) -> list[Option | str]:
    """The first options whose use comes out at 1 or less, then `otherwise`."""
    found: list[Option | str] = []
    for option, use in options:
        if use() <= 1.0:
            found.append(option)
        if len(found) == MOST:
            break
    return [*found, *otherwise]


def sizes(key: str, now: float, stock: Iterable[float], use_at: Callable[[float], float], *otherwise) -> Cure:
    """The larger sizes of `stock` at which `use_at(size)` passes."""
    return lambda use: passing(
        ((put(key, s, now), partial(use_at, s)) for s in sorted(stock) if s > now + 1e-9), *otherwise
    )


def grown(key: str, now: float, stock: Iterable[float], power: float = 1.0, *otherwise: str) -> Cure:
    """Sizes of `stock` where the use falls with the size to `power`, and one more to be sure."""
    listed = sorted(stock)

    def cure(use: float) -> list[Option | str]:
        first = next_up(now * use ** (1 / power), listed)
        more = [s for s in listed if s > first][: MOST - 1]
        return [*(put(key, s, now) for s in (first, *more)), *otherwise]

    return cure


def plate(
    key: str, thickness_mm: float, steel: Steel | None = None, steel_key: str = "rocker.plate_material"
) -> Cure:
    """A thicker plate where the stress falls at least with its thickness, and the stronger steel where that
    does."""

    def cure(use: float) -> Sequence[Option | str]:
        options = grown(key, thickness_mm, PLATES_MM)(use)
        stronger = steel is not None and use * steel.yield_mpa <= STRONG.yield_mpa
        return [options[0], put(steel_key, STRONG.name), *options[1:]] if stronger else options

    return cure


def plate_tried(key: str, thickness_mm: float, use_at: Callable[[float], float]) -> Cure:
    """The next plates at which `use_at(thickness)` passes."""
    return sizes(key, thickness_mm, PLATES_MM, use_at, "a shorter bracket, closer to its member")


def leg(key: str, leg_mm: float, most_mm: float = math.inf, *otherwise: str) -> Cure:
    """A larger fillet by halves of a mm, up to `most_mm`: what the thinner part bears."""
    words = otherwise or ("more run of weld",)

    def cure(use: float) -> list[Option | str]:
        first = math.ceil(2 * leg_mm * use - 1e-9) / 2
        legs = [n for n in (first, first + 0.5) if n <= most_mm + 1e-9]
        return [*(put(key, n, leg_mm) for n in legs), *words]

    return cure


def bolt(size: str, grade: str, use_of: Callable[[Bolt], float], keys: tuple[str, ...] = ()) -> Cure:
    """A stronger class of the same size, else the next larger sizes, each tried. `keys` take the size, as
    "M12" or, where their name ends in `hole`, as its diameter; without them a size is only words."""

    def larger(name: str) -> Option:
        bore = THREADS[name].diameter_mm
        changes = {k: bore if k.endswith("hole") else name for k in keys}
        said = ", ".join(f"{k} = {f'{v:g} mm' if isinstance(v, float) else v}" for k, v in changes.items())
        return Option(f"{name} instead of {size} ({said})", changes)

    def cure(use: float) -> list[Option | str]:
        names = _COARSE[_COARSE.index(size.partition("x")[0]) + 1 :]
        options: list[tuple[Option, Callable[[], float]]] = []
        if grade != "10.9":
            options.append((put("bolts.grade", "10.9", grade), lambda: use_of(Bolt(size, "10.9"))))
        if not keys:
            return passing(options, "a larger bolt, more bolts, or less force on it")
        options += [(larger(n), partial(use_of, Bolt(n, grade))) for n in names]
        return passing(options, "more bolts, or less force on it")

    return cure


def radius(key: str, radius_mm: float, use_at: Callable[[float], float]) -> Cure:
    """Half millimetres of boss radius at which `use_at(radius)` passes."""
    start = math.floor(2 * radius_mm) + 1
    return sizes(
        key,
        radius_mm,
        [n / 2 for n in range(start, 6 * start)],
        use_at,
        "a thicker plate: no radius alone is enough",
    )


def tube(
    key: str,
    outer_key: str,
    outer_mm: float,
    wall_mm: float,
    use_at: Callable[[float, float, float], float],
    yield_mpa: float,
    steel_key: str,
) -> Cure:
    """Wall, then steel, then diameter: the first that pass `use_at(outer, wall, yield)`."""

    def cure(use: float) -> list[Option | str]:
        walls = [w for w in WALLS_MM if w > wall_mm and w < outer_mm / 3]
        options = [(put(key, w, wall_mm), (outer_mm, w, yield_mpa)) for w in walls]
        if yield_mpa < STRONG.yield_mpa:
            options += [
                (
                    Option(
                        f'{steel_key} = "{STRONG.name}"' + (f" with {key} = {w:g} mm" if w > wall_mm else ""),
                        {steel_key: STRONG.name, key: w},
                    ),
                    (outer_mm, w, STRONG.yield_mpa),
                )
                for w in (wall_mm, *walls)
            ]
        options += [
            (
                Option(
                    f"{outer_key} = {d:g} mm instead of {outer_mm:g}, {key} = {w:g} mm",
                    {outer_key: d, key: w},
                ),
                (d, w, yield_mpa),
            )
            for d in ROUND_PRECISION_TUBES_MM
            if d > outer_mm
            for w in (wall_mm, *walls)
        ]
        return passing(((option, partial(use_at, *size)) for option, size in options), "a larger tube")

    return cure
