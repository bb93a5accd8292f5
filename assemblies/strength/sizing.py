"""What would bring a failing item under its limit: the next stocked plate, boss radius, weld leg, bolt, tube
or wall, in words.

A cure is tried before it is named: either the law is exact (stress of a plate by 1/t, a weld by 1/a) or the
check itself is run with the larger size. `gauges` runs the whole job with each plate a builder can get.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from parts.base.stock import PLATES_MM, ROUND_PRECISION_TUBES_MM, STEELS, THREADS, WALLS_MM, Steel
from parts.calc.bolts import Bolt

Cure = Callable[[float], str]
STRONG = STEELS["S355"]
_COARSE = [t.name for t in sorted(THREADS.values(), key=lambda t: t.diameter_mm) if t.coarse]


def next_up(need: float, sizes: Iterable[float]) -> float:
    """The least size of `sizes` not under `need`; a whole mm beyond them.

    >>> next_up(3.2, PLATES_MM), next_up(13.2, PLATES_MM)
    (4.0, 14.0)
    """
    return min((s for s in sizes if s >= need - 1e-9), default=float(math.ceil(need - 1e-9)))


def first_that_cures(options: Iterable[tuple[str, Callable[[], float]]], otherwise: str) -> str:
    """The words of the first option whose use comes out at 1 or less."""
    return next((words for words, use in options if use() <= 1.0), otherwise)


def plate(
    key: str, thickness_mm: float, steel: Steel | None = None, steel_key: str = "rocker.plate_material"
) -> Cure:
    """A thicker plate where the stress falls at least with its thickness, and the stronger steel where that
    does."""

    def cure(use: float) -> str:
        text = f"{key} = {next_up(thickness_mm * use, PLATES_MM):g} mm instead of {thickness_mm:g}"
        stronger = steel is not None and use * steel.yield_mpa <= STRONG.yield_mpa
        return f"{text}, or {steel_key} = {STRONG.name}" if stronger else text

    return cure


def plate_tried(key: str, thickness_mm: float, use_at: Callable[[float], float]) -> Cure:
    """The next plate at which `use_at(thickness)` passes."""

    def cure(use: float) -> str:
        options = (
            (f"{key} = {t:g} mm instead of {thickness_mm:g}", lambda t=t: use_at(t))
            for t in PLATES_MM
            if t > thickness_mm
        )
        return first_that_cures(options, "a shorter bracket, closer to its member")

    return cure


def leg(key: str, leg_mm: float) -> Cure:
    return lambda use: (
        f"{key} = {math.ceil(2 * leg_mm * use - 1e-9) / 2:g} mm leg instead of {leg_mm:.3g}, as far as the "
        f"thinner part bears it, or more run"
    )


def bolt(size: str, grade: str, use_of: Callable[[Bolt], float]) -> Cure:
    """A stronger class of the same size, else the next larger size, each tried."""

    def cure(use: float) -> str:
        larger = _COARSE[_COARSE.index(size.partition("x")[0]) + 1 :]
        options = [(f'bolts.grade = "10.9", {size}', Bolt(size, "10.9"))] if grade != "10.9" else []
        options += [(f"{name} instead of {size}, class {grade}", Bolt(name, grade)) for name in larger]
        return first_that_cures(
            ((words, lambda b=b: use_of(b)) for words, b in options), "more bolts, or less force on it"
        )

    return cure


def radius(key: str, radius_mm: float, use_at: Callable[[float], float]) -> Cure:
    """The next half millimetre of boss radius at which `use_at(radius)` passes."""

    def cure(use: float) -> str:
        start = math.floor(2 * radius_mm) + 1
        options = (
            (f"{key} = {n / 2:g} mm instead of {radius_mm:g}", lambda n=n: use_at(n / 2))
            for n in range(start, 6 * start)
        )
        return first_that_cures(options, "a thicker plate: no radius alone is enough")

    return cure


def tube(
    key: str,
    outer_key: str,
    outer_mm: float,
    wall_mm: float,
    use_at: Callable[[float, float, float], float],
    yield_mpa: float,
    steel_key: str,
) -> Cure:
    """Wall, then steel, then diameter: the first that passes `use_at(outer, wall, yield)`."""

    def cure(use: float) -> str:
        walls = [w for w in WALLS_MM if w > wall_mm and w < outer_mm / 3]
        options = [(f"{key} = {w:g} mm instead of {wall_mm:g}", (outer_mm, w, yield_mpa)) for w in walls]
        if yield_mpa < STRONG.yield_mpa:
            options += [
                (
                    f'{steel_key} = "{STRONG.name}"' + (f" with {key} = {w:g} mm" if w > wall_mm else ""),
                    (outer_mm, w, STRONG.yield_mpa),
                )
                for w in (wall_mm, *walls)
            ]
        options += [
            (f"{outer_key} = {d:g} mm instead of {outer_mm:g}, {key} = {w:g} mm", (d, w, yield_mpa))
            for d in ROUND_PRECISION_TUBES_MM
            if d > outer_mm
            for w in (wall_mm, *walls)
        ]
        return first_that_cures(((words, lambda o=o: use_at(*o)) for words, o in options), "a larger tube")

    return cure
