"""Proof that a nest can be cut: no part of the placer is used, only the outlines as placed and a geometry
library.

Outlines are tessellated so that the polygons cover the metal, plates so that they do not; a distance that
holds for the polygons then holds for the true shapes. Proven to `TOLERANCE_MM`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from assemblies.nesting.model import Nest, NestError, Placement, Remnant

TOLERANCE_MM = 1e-6
CHORD_MM = 0.002


class ProofError(NestError):
    """A nest that breaks its own rules; nothing may be written from it."""


def prove(nest: Nest, plates: Sequence[Remnant] | None = None) -> dict[str, float]:
    """Least distances found (mm) between blanks, to edges, holes and keep-outs (infinite where there is
    none), on all plates or those given; that each copy is there once is looked at of all.

    Raises ProofError naming the two things, the distance and the rule where one is broken."""
    least = {"between": math.inf, "edge_over_rule": math.inf, "hole": math.inf, "keep_out": math.inf}
    if len({(p.blank.name, p.copy) for p in nest.placements}) != len(nest.placements):
        raise ProofError("a copy of a blank is placed twice")
    blanks = {p.blank.name: p.blank for p in nest.placements} | {m.blank.name: m.blank for m in nest.missing}
    for b in blanks.values() if nest.placements else ():
        count = sum(p.blank.name == b.name for p in nest.placements) + sum(
            m.count for m in nest.missing if m.blank.name == b.name
        )
        if count != b.count:
            raise ProofError(f'blank "{b.name}": {count} copies placed or missing, {b.count} asked for')
    for remnant in nest.remnants if plates is None else plates:
        some = nest.on(remnant)
        metal = [_metal(p) for p in some]
        for i, p in enumerate(some):
            if abs(p.blank.thickness_mm - remnant.thickness_mm) > 1e-6:
                raise ProofError(
                    f"{p.label} is {p.blank.thickness_mm:g} mm thick, {remnant.name} "
                    f"{remnant.thickness_mm:g} mm"
                )
            for j in range(i):
                gap = _gap(metal[i], metal[j])
                least["between"] = min(least["between"], gap)
                _hold(gap, nest.rules.spacing_mm, p.label, some[j].label)
            _prove_in_plate(p, metal[i], remnant, nest, least)
    return least


def _metal(p: Placement):
    """The blank's metal as placed, windows and holes open (a small blank may lie in a large hole)."""
    from shapely import Polygon

    o = p.outline
    rings = [
        (loop if loop.area_mm2 < 0 else loop.reversed()).points(CHORD_MM, outside=True) for loop in o.inner
    ]
    for h in o.holes:  # an inscribed ring: the metal covers more than the true metal
        n = max(8, math.ceil(math.pi / math.acos(max(0.0, 1 - CHORD_MM / max(h.diameter_mm / 2, CHORD_MM)))))
        rings.append(
            [
                (
                    h.x + h.diameter_mm / 2 * math.cos(2 * math.pi * k / n),
                    h.y + h.diameter_mm / 2 * math.sin(2 * math.pi * k / n),
                )
                for k in range(n)
            ]
        )
    return Polygon(o.outer.points(CHORD_MM, outside=True), rings)


def _gap(a, b) -> float:
    return -a.intersection(b).area if a.intersects(b) else a.distance(b)


def _hold(gap: float, rule: float, a: str, b: str) -> None:
    if gap < 0:
        raise ProofError(f"{a} and {b} overlap by {-gap:.3f} mm²")
    if gap < rule - TOLERANCE_MM:
        raise ProofError(f"{a} lies {gap:.6f} mm from {b}; the rule is {rule:g} mm")


def _prove_in_plate(p: Placement, metal, remnant: Remnant, nest: Nest, least: dict[str, float]) -> None:
    from shapely import LineString, Point, Polygon

    loop = remnant.outline if remnant.outline.area_mm2 > 0 else remnant.outline.reversed()
    plate = Polygon([q for s in loop.segments for q in _chords(s)])
    if not plate.buffer(TOLERANCE_MM, join_style="mitre").contains(metal):
        raise ProofError(f"{p.label} reaches over the edge of {remnant.name}")
    body = Polygon(metal.exterior)
    for side, s in enumerate(remnant.outline.segments):
        rule = remnant.distance_mm(side, nest.rules)
        sag = 0.0 if not s.bulge else s.radius * (1 - math.cos(abs(s.sweep) / 400))
        gap = (
            metal.distance(
                LineString([s.at(k / (200 if s.bulge else 1)) for k in range((200 if s.bulge else 1) + 1)])
            )
            - sag
        )
        least["edge_over_rule"] = min(least["edge_over_rule"], gap - rule)
        _hold(max(gap, 0.0), rule, p.label, f"side {side} of {remnant.name}")
    for k, h in enumerate(remnant.holes):
        gap = body.distance(Point(h.x, h.y)) - h.diameter_mm / 2
        least["hole"] = min(least["hole"], gap)
        _hold(max(gap, 0.0), nest.rules.hole_mm, p.label, f"old hole {k + 1} of {remnant.name}")
        if body.contains(Point(h.x, h.y)):
            raise ProofError(f"{p.label} lies over old hole {k + 1} of {remnant.name}")
    for k, keep in enumerate(remnant.keep_outs):
        keep = keep if keep.area_mm2 > 0 else keep.reversed()
        gap = _gap(body, Polygon(keep.points(CHORD_MM, outside=True)))
        if -TOLERANCE_MM < gap < 0:
            gap = 0.0
        least["keep_out"] = min(least["keep_out"], gap)
        _hold(gap, nest.rules.keep_out_mm, p.label, f"keep-out {k + 1} of {remnant.name}")


def _chords(s) -> list:
    """Points of one side of the plate, never outside it: an outward arc by chords, a hollow one by
    tangents."""
    if s.bulge >= 0:
        n = 1 if not s.bulge else 200
        return [s.at(k / n) for k in range(n)]
    (cx, cy), n = s.centre, 200
    a0, step = math.atan2(s.start[1] - cy, s.start[0] - cx), s.sweep / n
    reach = s.radius / math.cos(step / 2)
    return [s.start] + [
        (cx + reach * math.cos(a0 + (k + 0.5) * step), cy + reach * math.sin(a0 + (k + 0.5) * step))
        for k in range(n)
    ]
