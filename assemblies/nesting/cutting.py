"""From a nest to cuts: what is cut in which order, where the tool pierces, how it leads in, how far it travels.

Order from inside out: the holes and windows of a blank before its outside, and a blank that lies in another's window
before that window; between those the nearest next. A pierce lies in scrap, clear of every other blank.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from assemblies.nesting.model import Nest, NestError, Placement, Remnant
from parts.outline import Loop, Outline, Point, circle

LEAD_MM = 5.0  # a pierce at least 5 from the line (common practice for plasma)
TRIALS = 96


@dataclass(frozen=True)
class Cut:
    """One closed path. `pierce` and `entry` are the ends of the lead-in (None without leads, or where none found room)."""

    number: int
    label: str
    what: str  # "hole" | "window" | "outside"
    path: Loop
    pierce: Point | None
    entry: Point | None

    @property
    def length_mm(self) -> float:
        return self.path.perimeter_mm + (math.dist(self.pierce, self.entry) if self.pierce else 0.0)


@dataclass(frozen=True)
class Plan:
    """The cuts of one remnant in order. `popped`: holes marked, not cut (label, x, y, diameter)."""

    remnant: Remnant
    cuts: tuple[Cut, ...]
    popped: tuple[tuple[str, float, float, float], ...]
    compensation_mm: float

    @property
    def cut_length_mm(self) -> float:
        return sum(c.length_mm for c in self.cuts)

    @property
    def without_lead(self) -> tuple[Cut, ...]:
        return tuple(c for c in self.cuts if c.pierce is None)


def plan(
    nest: Nest,
    remnant: Remnant,
    *,
    leads: bool = True,
    lead_mm: float = LEAD_MM,
    compensation: bool = False,
    smallest_hole_mm: float = 0.0,
    cut_fitted: bool = False,
) -> Plan:
    """The cuts of a remnant. Fitted holes (unless `cut_fitted`) and those under `smallest_hole_mm` are centre-popped.

    `compensation` moves every path half a kerf into the scrap: outsides grow, holes shrink, corners go round.
    Raises NestError where the kerf leaves no room for that."""
    from parts.dxf import compensated, hole_table

    half = nest.rules.kerf_mm / 2 if compensation else 0.0
    if compensation and half <= 0:
        raise NestError("compensation is asked for and kerf_mm is 0; give the kerf of the tool")
    popped, paths = [], []
    for p in nest.on(remnant):
        rows = hole_table(p.outline, smallest_hole_mm, cut_fitted)
        popped += [(p.label, r.x_mm, r.y_mm, r.diameter_mm) for r in rows if r.made == "drill"]
        kept = replace(p.outline, holes=tuple(h for h, r in zip(p.outline.holes, rows, strict=True) if r.made == "cut"))
        paths.append((p, compensated(kept, half) if half else kept))
    order = _order([o for _, o in paths])
    scrap = _Scrap(remnant, [o for _, o in paths])
    cuts: list[Cut] = []
    for k, what, loop in order:
        pierce, entry = scrap.lead(k, what, loop, lead_mm, nest.rules.kerf_mm) if leads else (None, None)
        cuts.append(Cut(len(cuts) + 1, paths[k][0].label, what, loop, pierce, entry))
    return Plan(remnant, tuple(cuts), tuple(popped), half)


def _order(outlines: list[Outline]) -> list[tuple[int, str, Loop]]:
    """(which outline, what, loop) from inside out, nearest first among those that may come next."""
    from shapely import Point as Dot
    from shapely import Polygon

    outsides = [Polygon(o.outer.points(0.05)) for o in outlines]
    within = {
        k: [
            j
            for j, big in enumerate(outsides)
            if j != k and big.contains(Dot(outlines[k].outer.vertices[0].x, outlines[k].outer.vertices[0].y))
        ]
        for k in range(len(outlines))
    }
    todo, out, at = set(range(len(outlines))), [], (0.0, 0.0)
    while todo:
        free = [k for k in todo if not any(k in within[j] for j in todo)]
        k = min(free, key=lambda q: (math.dist(at, outlines[q].centroid), q))
        o = outlines[k]
        inner = [("hole", circle(h.x, h.y, h.diameter_mm)) for h in o.holes] + [("window", w) for w in o.inner]
        while inner:
            n = min(range(len(inner)), key=lambda q: (math.dist(at, _first(inner[q][1])), q))
            out.append((k, *inner[n]))
            at = _first(inner.pop(n)[1])
        out.append((k, "outside", o.outer))
        at = _first(o.outer)
        todo.remove(k)
    return out


def _first(loop: Loop) -> Point:
    return loop.vertices[0].x, loop.vertices[0].y


class _Scrap:
    """Where a pierce may lie."""

    def __init__(self, remnant: Remnant, outlines: list[Outline]) -> None:
        from shapely import Point as Dot
        from shapely import Polygon, STRtree

        voids = [
            [w.points(0.05) for w in o.inner] + [circle(h.x, h.y, h.diameter_mm).points(0.05) for h in o.holes] for o in outlines
        ]
        self.metal = [Polygon(o.outer.points(0.05), v) for o, v in zip(outlines, voids, strict=True)]
        self.tree = STRtree(self.metal)
        self.plate = Polygon(remnant.outline.points(0.05))
        for h in remnant.holes:
            self.plate = self.plate.difference(Dot(h.x, h.y).buffer(h.diameter_mm / 2))

    def lead(self, k: int, what: str, loop: Loop, lead_mm: float, kerf_mm: float) -> tuple[Point | None, Point | None]:
        """Pierce and entry of one path: square to the line, on the scrap side, the pierce as far from other blanks as it
        can be. Where the full lead has no room a shorter one is tried, down to twice the kerf; else (None, None)."""
        from shapely import LineString
        from shapely import Point as Dot

        turn = 1.0 if loop.area_mm2 > 0 else -1.0
        side = turn if what == "outside" else -turn
        for length in (lead_mm, 0.75 * lead_mm, 0.5 * lead_mm, 2 * kerf_mm):
            if length <= 0:
                continue
            best = None
            for entry, (nx, ny) in _stations(loop, TRIALS):
                pierce = entry[0] + side * length * nx, entry[1] + side * length * ny
                dot, line = Dot(pierce), LineString([pierce, entry])
                own = self.metal[k].distance(dot)
                if own < 0.9 * length or not self.plate.contains(dot):
                    continue
                others = [self.metal[j].distance(line) for j in self.tree.query(line.buffer(3 * lead_mm)) if j != k]
                gap = min([self.plate.exterior.distance(dot), *others])
                if gap < kerf_mm:
                    continue
                if best is None or gap > best[0] + 1e-9:
                    best = gap, pierce, entry
            if best:
                return best[1], best[2]
        return None, None


def _stations(loop: Loop, count: int):
    """Points along a loop and the normal to the right of the path there (away from the metal of an outer loop)."""
    share = loop.perimeter_mm / count
    for s in loop.segments:
        n = max(1, round(s.length / share))
        for k in range(n):
            a, b = s.at((k + 0.5) / n - 1e-4), s.at((k + 0.5) / n + 1e-4)
            d = math.dist(a, b)
            yield s.at((k + 0.5) / n), ((b[1] - a[1]) / d, -(b[0] - a[0]) / d)


__all__ = ["Cut", "Placement", "Plan", "plan"]
