"""How dense the nesting is: `python -m assemblies.bench_nesting [effort] [seconds]`.

Two cases with a true 2 mm between blanks and 2 mm to every edge. "strip": twenty plate shapes on a strip 300 wide, beside
the general-purpose strip packer spyrrow where it is installed (optional; any number of turns). "scrap": the same plates on a
remnant with a cut corner and three holes; density there is blanks over the usable metal left of the furthest blank.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np

from assemblies.nesting import Rules, remnant_of
from assemblies.nesting.container import containers, usable
from assemblies.nesting.layout import Layout
from assemblies.nesting.model import Blank
from assemblies.nesting.pack import FINE_CHORD_MM, SEARCH_CHORD_MM, shape_of
from assemblies.nesting.search import Budget, part, resolve, settle_up
from assemblies.nesting.settle import compact, deepest_mm, length_mm
from assemblies.nesting.strip import scattered, shorten
from parts.belt import Boss, belt, hull
from parts.outline import Outline, rounded

GAP = Rules(spacing_mm=2, edge_mm=2, torch_edge_mm=2, hole_mm=2)
WIDTH = 300.0


def plates() -> list[Outline]:
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
        out.append(Outline(loop))
    return out


def ours(remnant, area_mm2: float, effort: int, seed: int):
    """(layout, seconds): all plates drawn towards x = 0, fine arcs at the end, nothing overlapping."""
    start = time.perf_counter()
    blanks = [Blank(f"plate {k}", o, 2) for k, o in enumerate(plates())]
    rng, budget = np.random.default_rng(seed), Budget(effort)
    box = containers(remnant, GAP)[0]
    shapes = [shape_of(b, remnant, GAP, SEARCH_CHORD_MM, math.inf) for b in blanks]
    kinds = [k for k in range(len(blanks)) for _ in range(2)]
    short = box.bounds[0] + area_mm2 / WIDTH / 0.6
    first = resolve(scattered(Layout.empty(shapes, box.cut_at(short)), kinds, rng), rng, own := part(budget, effort))
    settle_up(budget, own)
    if first is None:
        return None, time.perf_counter() - start
    first.container = box
    found = shorten(first, rng, budget)
    fine = Layout(
        [shape_of(b, remnant, GAP, FINE_CHORD_MM, math.inf) for b in blanks], box, found.kind, found.r, found.x, found.y
    )
    if deepest_mm(fine) <= 1e-7:
        found = compact(fine, 2.0)[0]
    return found, time.perf_counter() - start


def theirs(seconds: int) -> tuple[float, float] | None:
    """(strip length, least gap found) of the general packer, or None where it is not installed."""
    try:
        import spyrrow
    except ImportError:
        return None
    from shapely import Polygon
    from shapely.affinity import rotate, translate

    shapes = plates()
    items = [spyrrow.Item(str(k), o.outer.points(0.05, outside=True), 2, None) for k, o in enumerate(shapes)]
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=seconds, min_items_separation=2.0, seed=1, num_workers=1
    )
    found = spyrrow.StripPackingInstance("plates", strip_height=WIDTH, items=items).solve(config)
    placed = [
        translate(rotate(Polygon(shapes[int(i.id)].outer.points(0.05)), i.rotation, origin=(0, 0)), *i.translation)
        for i in found.placed_items
    ]
    return found.width, min(a.distance(b) for k, a in enumerate(placed) for b in placed[:k])


def main() -> None:
    effort = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    seconds = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    area = 2 * sum(o.gross_area_mm2 for o in plates())
    strip = remnant_of([(0, 0), (1600, 0), (1600, WIDTH), (0, WIDTH)], name="strip")
    layout, took = ours(strip, area, effort, 1)
    mine = area / WIDTH / (length_mm(layout) + GAP.edge_mm) if layout else 0.0
    print(f"strip: ours {mine:.4f} in {took:.0f} s ({effort} moves)")
    other = theirs(seconds)
    if other:
        dense, gap = area / WIDTH / other[0], other[1]
        print(f"strip: spyrrow {dense:.4f} in {seconds} s (least gap {gap:.3f}); ours is {mine / dense:.3f} of it")
    scrap = remnant_of(
        [(0, 0), (900, 0), (900, 300), (60, 300), (0, 240)], [((200, 90), 50), ((380, 210), 60), ((520, 120), 40)], name="scrap"
    )
    layout, took = ours(scrap, area * 1.05, effort, 1)
    if layout:
        from shapely import box

        free = usable(scrap, GAP)
        metal = free.intersection(box(-1, -1, length_mm(layout), 1000)).area
        whole = _metal(scrap).intersection(box(-1, -1, length_mm(layout) + 2, 1000)).area
        print(f"scrap with three holes: {area / whole:.4f} of the metal, {area / metal:.4f} of the usable, in {took:.0f} s")


def _metal(remnant):
    from shapely import Point, Polygon

    out = Polygon(remnant.outline.points(0.05))
    for h in remnant.holes:
        out = out.difference(Point(h.x, h.y).buffer(h.diameter_mm / 2, quad_segs=64))
    return out


if __name__ == "__main__":
    main()
