"""How dense the nesting is: `python -m assemblies.bench.nesting [effort] [seconds]`.

All cases have a true 2 mm between blanks and 2 mm to every edge and hole. "strip": twenty plate shapes on a
strip 300 wide, beside the general-purpose strip packer spyrrow where it is installed (optional; any number of
turns). "scrap": the same plates on a remnant with a cut corner and three holes. "scrap and small parts":
tabs, gussets and strips with them. "car": all blanks of both sides of a demo job and a spare of each, as if
of one thickness, on such a remnant. Density on a remnant is blanks over what lies left of the furthest blank:
over its usable metal (edge and hole distances off), and over all its metal. A strip packer knows no holes:
beside each remnant stands what it reaches with the same blanks on a plain strip as wide.
"""

from __future__ import annotations

import math
import sys
import time
from pathlib import Path

import numpy as np

from assemblies.bench.runner import Ratio
from assemblies.job import load
from assemblies.making.nest_job import blanks_of
from assemblies.nesting import Rules, remnant_of
from assemblies.nesting.budget import Budget
from assemblies.nesting.container import containers, usable
from assemblies.nesting.model import Blank, Remnant
from assemblies.study import study
from parts.shape.belt import Boss, belt, hull
from parts.shape.outline import Outline, rectangle, rounded

GAP = Rules(spacing_mm=2, edge_mm=2, torch_edge_mm=2, hole_mm=2)
WIDTH = 300.0
EFFORT, HOLED_EFFORT, SECONDS = 12000, 30000, 10
DEMO = Path(__file__).parents[1] / "jobs" / "heronbank-front.toml"


def plates() -> list[Blank]:
    """Ten made-up plates: rockers, waisted rockers, angles. Each is cut twice."""
    rng = np.random.default_rng(7)
    out = []
    for k in range(10):
        a, b, turn = rng.uniform(50, 110), rng.uniform(50, 110), math.radians(rng.uniform(60, 130))
        r = [rng.uniform(14, 24) for _ in range(3)]
        bosses = [Boss(0, 0, r[0]), Boss(a, 0, r[1]), Boss(b * math.cos(turn), b * math.sin(turn), r[2])]
        if k % 3 == 2:
            loop = rounded([(0, 0), (a, 0), (a, b * 0.3), (a * 0.35, b * 0.3), (a * 0.35, b), (0, b)], 4)
        else:
            loop = belt(bosses, [None, 160.0, None]) if k % 3 == 1 and k < 8 else hull(bosses)
        out.append(Blank(f"plate {k}", Outline(loop), 2))
    return out


def small_parts() -> list[Blank]:
    """Tabs, gussets and strips, as go with such plates: a fifth of their area."""
    return [
        Blank("tab", Outline(hull([Boss(0, 0, 13), Boss(24, 0, 9)])), 8),
        Blank("gusset", Outline(rounded([(0, 0), (36, 0), (36, 8), (8, 36), (0, 36)], 2)), 8),
        Blank("strip", Outline(rectangle(0, 0, 70, 20)), 6),
    ]


def car() -> list[Blank]:
    """Every blank of both sides of the demo job and a spare of each, thickness left out of account."""
    layout = study(load(DEMO), interference=False).layout
    if layout is None:
        raise ValueError("the demo's corner does not stand")
    return [Blank(b.name, b.outline, b.count + 1) for b in blanks_of(layout)]


def area_mm2(blanks: list[Blank]) -> float:
    return sum(b.count * b.outline.gross_area_mm2 for b in blanks)


def strip(length: float) -> Remnant:
    return remnant_of([(0, 0), (length, 0), (length, WIDTH), (0, WIDTH)], name="strip")


def scrap(length: float) -> Remnant:
    holes = [((200.0, 90.0), 50.0), ((380.0, 210.0), 60.0), ((520.0, 120.0), 40.0)]
    return remnant_of([(0, 0), (length, 0), (length, WIDTH), (60, WIDTH), (0, 240)], holes, name="scrap")


def ours(blanks: list[Blank], remnant: Remnant, effort: int, seed: int = 1):
    """(layout, processor seconds, moves): all blanks drawn towards x = 0, fine arcs at the end, nothing
    overlapping."""
    from assemblies.nesting.layout import Arrangement
    from assemblies.nesting.search import prepare, resolve
    from assemblies.nesting.stock import FINE_CHORD_MM, SEARCH_CHORD_MM, shape_of
    from assemblies.nesting.strip import refined, scattered, shorten

    prepare()
    start = time.process_time()
    rng, budget = np.random.default_rng(seed), Budget(effort)
    box = containers(remnant, GAP)[0]
    coarse, fine = (
        [shape_of(b, remnant, GAP, chord, math.inf) for b in blanks]
        for chord in (SEARCH_CHORD_MM, FINE_CHORD_MM)
    )
    kinds = [k for k, b in enumerate(blanks) for _ in range(b.count)]
    found = None
    for loose in (0.6, 0.5, 0.4):
        short = box.bounds[0] + area_mm2(blanks) / WIDTH / loose
        found = found or resolve(
            scattered(Arrangement.empty(coarse, box.cut_at(short)), kinds, rng), rng, budget
        )
    if found is None:
        raise ValueError("the blanks find no room on the strip")
    layout = refined(shorten(found.within(box), rng, budget), lambda: fine, budget)
    return layout, time.process_time() - start, budget.spent


def theirs(blanks: list[Blank], seconds: int) -> tuple[float, float, float] | None:
    """(strip length, least gap found, processor seconds) of the general packer, or None where it is not
    installed."""
    try:
        import spyrrow
    except ImportError:
        return None
    from shapely import Polygon
    from shapely.affinity import rotate, translate

    items = [
        spyrrow.Item(str(k), b.outline.outer.points(0.05, outside=True), b.count, None)
        for k, b in enumerate(blanks)
    ]
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=seconds,
        min_items_separation=2.0,
        seed=1,
        num_workers=1,
    )
    start = time.process_time()
    found = spyrrow.StripPackingInstance("plates", strip_height=WIDTH, items=items).solve(config)
    took = time.process_time() - start
    placed = [
        translate(
            rotate(Polygon(blanks[int(i.id)].outline.outer.points(0.05)), i.rotation, origin=(0, 0)),
            *i.translation,
        )
        for i in found.placed_items
    ]
    return found.width, min(a.distance(b) for k, a in enumerate(placed) for b in placed[:k]), took


def densities(layout, blanks: list[Blank], remnant: Remnant) -> tuple[float, float]:
    """Blanks over the usable metal, and over all the metal, that lies left of the furthest blank."""
    from shapely import Point, Polygon, box

    metal = Polygon(remnant.outline.points(0.05))
    for h in remnant.holes:
        metal = metal.difference(Point(h.x, h.y).buffer(h.diameter_mm / 2, quad_segs=64))
    end, area = layout.length_mm, area_mm2(blanks)
    left = usable(remnant, GAP).intersection(box(-1, -1, end, 1000)).area
    return area / left, area / metal.intersection(box(-1, -1, end + GAP.edge_mm, 1000)).area


def cases() -> dict[str, tuple[list[Blank], Remnant]]:
    some = plates()
    return {
        "strip": (some, strip(1600)),
        "scrap": (some, scrap(900)),
        "scrap and small parts": (some + small_parts(), scrap(1000)),
        "car": (car(), scrap(1600)),
    }


def bench() -> list[Ratio]:
    """Density against the strip packer on its own case (where it is installed) and on the remnant with three
    holes."""
    (some, plain), (_, holed) = cases()["strip"], cases()["scrap"]
    out, other = [], theirs(some, SECONDS)
    if other:
        mine = densities(ours(some, plain, EFFORT)[0], some, plain)[1]
        out.append(
            Ratio(
                "nesting, density on a strip / the strip packer's",
                mine / (area_mm2(some) / WIDTH / other[0]),
                0.97,
            )
        )
    of_usable = densities(ours(some, holed, HOLED_EFFORT)[0], some, holed)[0]
    return [*out, Ratio("nesting, blanks / usable metal of a remnant with three holes", of_usable, 0.77)]


def main() -> None:
    effort = int(sys.argv[1]) if len(sys.argv) > 1 else EFFORT
    seconds = int(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    for name, (blanks, remnant) in cases().items():
        layout, took, moves = ours(blanks, remnant, effort)
        of_usable, of_metal = densities(layout, blanks, remnant)
        print(
            f"{name}: {len(layout)} blanks, {of_metal:.4f} of the metal, {of_usable:.4f} of the usable; "
            f"{moves} moves in {took:.0f} s, {moves / took:.0f} a second",
            flush=True,
        )
        other = theirs(blanks, seconds)
        if other:
            dense = area_mm2(blanks) / WIDTH / other[0]
            print(
                f"  spyrrow on a plain strip: {dense:.4f} in {other[2]:.0f} s (least gap {other[1]:.3f} mm)",
                flush=True,
            )


if __name__ == "__main__":
    main()
