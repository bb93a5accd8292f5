"""From a nest to cuts: what is cut in which order, where the tool pierces, how it leads in, how far it
travels.

Order from inside out: the holes and windows of a blank before its outside, and a blank that lies in another's
window before that window; between those the nearest next. What a lead burns (its kerf, and a pierce's
blow-out three kerfs wide, common practice) touches no blank's metal, no old hole, edge or keep-out; a hole's
lead stays inside the hole.
"""

from __future__ import annotations

import math
from dataclasses import field
from typing import Any

import numpy as np

from assemblies.nesting.model import Nest, NestError, Placement, Remnant
from parts.base.frozen import dataclass
from parts.shape.offset import left_mm
from parts.shape.outline import Loop, Outline, OutlineError, Point, circle

LEAD_MM = 5.0  # a pierce at least 5 from the line (common practice for plasma)
TRIALS = 96
BLOW_OUT_KERFS = 3.0  # 2 to 3 kerfs wide, common practice
CHORD_MM = 0.005
FILED_MM = 0.05  # less left in a corner is not worth a word


@dataclass(frozen=True)
class Cut:
    """One closed path. `pierce` and `entry` are the ends of the lead-in (None without leads, or where none
    found room)."""

    number: int
    label: str
    what: str  # "hole" | "window" | "outside"
    path: Loop
    pierce: Point | None
    entry: Point | None

    @property
    def length_mm(self) -> float:
        return self.path.perimeter_mm + (
            math.dist(self.pierce, self.entry) if self.pierce and self.entry else 0.0
        )

    @property
    def number_place(self) -> Point:
        """Where its number is written: beyond the pierce, seen from the cut; without a lead where the path
        starts."""
        if not self.pierce or not self.entry:
            return _first(self.path)
        k = 1 + 2.0 / math.dist(self.pierce, self.entry)
        return self.entry[0] + k * (self.pierce[0] - self.entry[0]), self.entry[1] + k * (
            self.pierce[1] - self.entry[1]
        )


@dataclass(frozen=True)
class Plan:
    """The cuts of one remnant in order. `popped`: holes marked, not cut (label, x, y, diameter). `left_mm`:
    by blank, the most metal that the tool, too thick for them, leaves in hollow corners beside a compensated
    path; none is in it where all are cut true."""

    remnant: Remnant
    cuts: tuple[Cut, ...]
    popped: tuple[tuple[str, float, float, float], ...]
    compensation_mm: float
    left_mm: dict[str, float] = field(default_factory=dict)

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
    """The cuts of a remnant. Fitted holes (unless `cut_fitted`) and those under `smallest_hole_mm` are
    centre-popped.

    `compensation` moves every path half a kerf into the scrap: outsides grow, holes shrink, corners go round.
    A mere lead is left out where it finds no room: see `without_lead`. Raises NestError where the kerf leaves
    no room for the compensation."""
    from parts.files.blank import as_cut, compensated, hole_table

    half = nest.rules.kerf_mm / 2 if compensation else 0.0
    if compensation and half <= 0:
        raise NestError("compensation is asked for and kerf_mm is 0; give the kerf of the tool")
    popped, paths, true, left = [], [], [], {}
    for p in nest.on(remnant):
        rows = hole_table(p.outline, smallest_hole_mm, cut_fitted)
        popped += [(p.label, r.x_mm, r.y_mm, r.diameter_mm) for r in rows if r.made == "drill"]
        kept = as_cut(p.outline, rows)
        true.append(kept)
        try:
            paths.append((p, compensated(kept, half) if half else kept))
        except OutlineError as e:
            raise NestError(f"{p.label}: {e}") from e
        if half and p.blank.name not in left:
            pairs = zip((kept.outer, *kept.inner), (paths[-1][1].outer, *paths[-1][1].inner), strict=True)
            left[p.blank.name] = max(left_mm(old, path, half) for old, path in pairs)
    order = _order([o for _, o in paths])
    scrap = _Scrap(remnant, true, nest.rules.kerf_mm, half > 0)
    cuts: list[Cut] = []
    for k, what, loop in order:
        pierce, entry = scrap.lead(what, loop, lead_mm) if leads else (None, None)
        cuts.append(Cut(len(cuts) + 1, paths[k][0].label, what, loop, pierce, entry))
    return Plan(
        remnant,
        tuple(cuts),
        tuple(popped),
        half,
        {name: most for name, most in left.items() if most > FILED_MM},
    )


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
        inner = [("hole", circle(h.x, h.y, h.diameter_mm)) for h in o.holes] + [
            ("window", w) for w in o.inner
        ]
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
    """Where the tool may burn besides its cuts: on the plate, off every blank's metal, old hole and
    keep-out."""

    def __init__(self, remnant: Remnant, outlines: list[Outline], kerf_mm: float, on_its_path: bool) -> None:
        """`outlines`: true blanks; `on_its_path`: the cuts are the tool's own path, not the edge of the metal
        beside it."""
        from shapely import Point as Dot
        from shapely import Polygon, STRtree
        from shapely.ops import unary_union

        self.metal = [
            Polygon(
                o.outer.points(CHORD_MM),
                [w.points(CHORD_MM) for w in o.inner]
                + [circle(h.x, h.y, h.diameter_mm).points(CHORD_MM) for h in o.holes],
            )
            for o in outlines
        ]
        self.tree = STRtree(self.metal)
        taken = [Dot(h.x, h.y).buffer(h.diameter_mm / 2, 64) for h in remnant.holes]
        taken += [Polygon(k.points(CHORD_MM)) for k in remnant.keep_outs]
        self.plate = Polygon(remnant.outline.points(CHORD_MM)).difference(unary_union(taken))
        self.kerf_mm = kerf_mm
        self.pierced: list[Any] = []
        self.stand_off_mm = 0.0 if on_its_path else kerf_mm / 2

    def lead(self, what: str, loop: Loop, lead_mm: float) -> tuple[Point | None, Point | None]:
        """Pierce and entry of one path: the lead square to the line on its scrap side, where there is most
        room about it and no earlier pierce near.

        Where the full lead has no room a shorter one is tried, down to twice the kerf, then slanting ones;
        else (None, None)."""
        from shapely import MultiPolygon, box

        turn = 1.0 if loop.area_mm2 > 0 else -1.0
        side = turn if what == "outside" else -turn
        stations = list(_stations(loop, TRIALS))
        entry, normal = np.array([e for e, _ in stations]), side * np.array([n for _, n in stations])
        across = np.column_stack([-normal[:, 1], normal[:, 0]])
        near = MultiPolygon([self.metal[k] for k in self.tree.query(box(*loop.bounds).buffer(4 * lead_mm))])
        shortest = max(2 * self.kerf_mm, 0.2)
        for slant in (0.0, math.pi / 4, -math.pi / 4):
            away = math.cos(slant) * normal + math.sin(slant) * across
            for length in (lead_mm, 0.75 * lead_mm, 0.5 * lead_mm, shortest):
                if length < shortest:
                    continue
                room, pierce = self._room_mm(entry, away, length, near), entry + length * away
                apart = (
                    np.min([np.hypot(*(pierce - q).T) for q in self.pierced], axis=0) / 2
                    if self.pierced
                    else np.inf
                )
                best = int(np.argmax(np.where(room >= 0, np.round(np.minimum(room, apart), 6), -1.0)))
                if room[best] >= 0:
                    self.pierced.append(pierce[best])
                    (x, y), (u, v) = pierce[best], entry[best]
                    return (float(x), float(y)), (float(u), float(v))
        return None, None

    def _room_mm(self, entry, away, length_mm: float, metal):
        """Per lead, the distance from its blow-out to the nearest metal or edge of the plate; -1 where it, or
        the kerf of the line from there to the tool's path, touches either."""
        import shapely

        pierce = entry + length_mm * away
        end = entry + self.stand_off_mm * away
        dots, lines = shapely.points(pierce), shapely.linestrings(np.stack([pierce, end], axis=1))
        edge = self.plate.boundary
        room = (
            np.minimum(shapely.distance(dots, metal), shapely.distance(dots, edge))
            - BLOW_OUT_KERFS / 2 * self.kerf_mm
        )
        beside = (
            np.minimum(shapely.distance(lines, metal), shapely.distance(lines, edge))
            - self.kerf_mm / 2
            + 2 * CHORD_MM
        )
        return np.where(shapely.contains_xy(self.plate, pierce) & (beside >= 0), room, -1.0)


def _stations(loop: Loop, count: int):
    """Points along a loop and the normal to the right of the path there (away from the metal of an outer
    loop)."""
    share = loop.perimeter_mm / count
    for s in loop.segments:
        n = max(1, round(s.length / share))
        for k in range(n):
            a, b = s.at((k + 0.5) / n - 1e-4), s.at((k + 0.5) / n + 1e-4)
            d = math.dist(a, b)
            yield s.at((k + 0.5) / n), ((b[1] - a[1]) / d, -(b[0] - a[0]) / d)


__all__ = ["Cut", "Placement", "Plan", "plan"]
