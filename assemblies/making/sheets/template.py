"""One blank at true size: the cut line, holes as crosses, fold and datum lines, centre of gravity, datum
edges, legend."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from assemblies.making.sheets.blank import BlankSheet, HoleLine, counted
from assemblies.making.sheets.drawing import (
    CUT,
    DRILLED,
    FAINT,
    FINE,
    SCRIBED,
    SMALL_MM,
    Drawing,
    Path,
    Text,
    lettering,
)
from assemblies.making.sheets.paper import Sheet
from assemblies.making.sheets.sections import in_inches
from assemblies.making.sheets.taken import Taken
from parts.files.remembered import once
from parts.shape.outline import Mark, circle

DATUM_GAP_MM = 4.0
TOLD = 8  # a blank with no more holes than this has their sizes beside them
BIG_MM = 14.0  # a hole this large carries its number inside
CLEAR_MM = 0.5  # between words and lines


def sheet(b: BlankSheet) -> Sheet:
    """Drawing and legend of a blank."""
    return once("template", (b, lettering()), lambda: _sheet(b))


def _sheet(b: BlankSheet) -> Sheet:
    hand = "either hand" if b.hand == "either" else f"{b.hand.upper()} HAND"
    thick = f"{b.thickness_mm:g} mm{in_inches(b.thickness_mm)}"
    return Sheet(
        f"{b.part} - {hand}",
        f"{counted(b.count, b.hand)} - {thick} {b.material} - {b.mass_kg:.3f} kg each - marked face",
        draw(b),
        legend(b),
    )


def draw(b: BlankSheet, gravity: bool = True) -> Drawing:
    d = Drawing()
    o = b.outline
    x0, y0, x1, y1 = o.bounds
    _datum(d, x0, y0, x1, y1)
    for loop in (o.outer, *o.inner):
        d.loop(loop, CUT)
    _marks(d, b)
    for h in b.holes:
        x, y, r = x0 + h.x_mm, y0 + h.y_mm, h.diameter_mm / 2
        d.circle(x, y, h.cut_mm or h.diameter_mm, CUT if h.made == "cut" else DRILLED)
        d.cross(x, y, r + 2.0 if h.diameter_mm < BIG_MM else r + 1.0, 0.8 if r > 1.6 else 0.4)
    if gravity:
        d.circle(*o.centroid, 4.0, FINE)
        d.cross(*o.centroid, 3.5, 0.5)
    _words(d, b, gravity)
    if b.folds and b.grain:
        start = max(x0 + 2, x1 - 22)
        d.arrow((start, y1 + 4), (x1 - 2, y1 + 4), FINE)
        d.text(start, y1 + 5.4, "grain", 2.5)
    return d


def _datum(d: Drawing, x0: float, y0: float, x1: float, y1: float) -> None:
    """The two datum edges: left and bottom of the blank's box, from which the hole table counts."""
    g = DATUM_GAP_MM
    d.arrow((x0 - g, y0), (min(x1 + g, x0 + 60), y0), FAINT)
    d.arrow((x0, y0 - g), (x0, min(y1 + g, y0 + 60)), FAINT)


def _axes(x0: float, y0: float, x1: float, y1: float) -> tuple[list[Text], list[Text]]:
    """Places for the names of the datum edges: at the arrows' tips, or else farther out from them."""
    along = min(x1 + DATUM_GAP_MM, x0 + 60), min(y1 + DATUM_GAP_MM, y0 + 60)
    out = (0.0, 1.5, 3.0, 4.5, 6.0)
    return (
        [Text(along[0] + 1, y0 - 3.0 - o, "x", 2.8) for o in out],
        [Text(x0 - 3.4 - o, along[1] - 0.5, "y", 2.8) for o in out],
    )


def _marks(d: Drawing, b: BlankSheet) -> None:
    for m in b.outline.marks:
        if m.kind == "line":
            d.polyline(m.points, SCRIBED)
        elif m.kind == "pop":
            d.cross(*m.points[0], 2.0, 0.5)


def _words(d: Drawing, b: BlankSheet, gravity: bool) -> None:
    """Every word at its place, or at the nearest one clear of all lines and other words: hole labels round
    their hole, texts in the metal near their mark, else below the blank."""
    from shapely import MultiLineString, Polygon, box, prepare

    o = b.outline
    x0, y0, x1, y1 = o.bounds
    metal = Polygon(
        o.outer.points(0.1),
        [w.points(0.1) for w in o.inner] + [circle(h.x, h.y, h.diameter_mm).points(0.1) for h in o.holes],
    )
    drawn = [i.points + [i.start] * i.closed for i in d.items if isinstance(i, Path)]
    taken = Taken(
        MultiLineString([p for p in drawn if len(p) > 1])
        .buffer(CLEAR_MM)
        .union(metal.boundary.buffer(CLEAR_MM))
    )
    prepare(metal)

    def put(places: Iterable[Text], otherwise: Text, inside: bool = True) -> Text:
        """Words at the first of places that is free; what was written."""
        fitting = (
            t
            for t in places
            if not taken.meets(shape := box(*Drawing([t]).bounds)) and (not inside or metal.contains(shape))
        )
        words = next(fitting, otherwise)
        taken.add(box(*Drawing([words]).bounds).buffer(CLEAR_MM))
        d.add(words)
        return words

    for some in _axes(x0, y0, x1, y1):
        put(some, some[0], inside=False)
    if gravity:
        cx, cy = o.centroid
        some = [Text(x, y - 0.8, "CG", SMALL_MM, side) for x, y, side in _round_about(cx, cy, 3.0)]
        put(some, some[0], inside=False)
    for h in b.holes:
        some = _labels(x0 + h.x_mm, y0 + h.y_mm, h, len(b.holes) <= TOLD)
        put(some, some[0], inside=False)
    spots = [
        (x0 + 3 * i, y0 + 3 * k)
        for i in range(int((x1 - x0) // 3) + 1)
        for k in range(int((y1 - y0) // 3) + 1)
    ]
    below = y0 - 9.0
    texts = [m for m in o.marks if m.kind == "text"] or [
        Mark("text", (((x0 + x1) / 2, (y0 + y1) / 2),), b.file_stem.replace("-", " "), SMALL_MM)
    ]
    for m in texts:
        fold = m.text.endswith((" up", " down"))  # a bend's radius and angle, written at the bend's middle
        words = Text(*m.points[0], m.text, m.height_mm, "middle" if fold else "start")
        near = [p for _, p in sorted((math.dist(p, (words.x, words.y)), p) for p in spots)]
        written = put(
            (replace(words, x=x, y=y) for x, y in [(words.x, words.y), *near]),
            Text(x0, below, m.text, m.height_mm),
        )
        below -= 4.0 if written.y < y0 else 0.0


def _labels(x: float, y: float, h: HoleLine, told: bool) -> list[Text]:
    """A hole's number, with `told` its size and fit: inside a large one, else round it, the nearest places
    first."""
    words = f"{h.number}: Ø{h.diameter_mm:g}{' H7' if h.limits_mm else ''}" if told else f"{h.number}"
    r = h.diameter_mm / 2
    if h.diameter_mm >= BIG_MM:
        inside = [
            Text(x + 1.6 * sx, y + (1.6 if sy > 0 else -3.6), words, 2.6, "start" if sx > 0 else "end")
            for sy in (1, -1)
            for sx in (1, -1)
        ]
        return inside + [Text(u, v - 0.9, words, 2.6, side) for u, v, side in _round_about(x, y, r + 1.0)]
    around = list(_round_about(x, y, r + 1.0))
    said = (words, f"{h.number}")  # where the whole has no room, its number: the legend says the rest
    return [Text(u, v - 0.8, w, SMALL_MM, side) for w in said for u, v, side in around]


def _round_about(x: float, y: float, reach_mm: float):
    """Places for a word round a mark, and the side of it that is nearest: up right, up left, down right, down
    left, then farther out."""
    for off in (reach_mm, reach_mm + 2.5, reach_mm + 5.0, reach_mm + 8.0):
        for deg in (45, 135, -45, -135, 20, 160, -20, -160, 70, 110, -70, -110):
            u, v = math.cos(math.radians(deg)), math.sin(math.radians(deg))
            yield x + off * u, y + off * v + math.copysign(0.8, v), "start" if u > 0 else "end"


def legend(b: BlankSheet) -> tuple[str, ...]:
    x0, y0 = b.outline.bounds[:2]
    cx, cy = b.outline.centroid
    lines = [
        "Cut outside the thin line, file to it. Dashed circles are drilled, never burnt. Dash-dot lines "
        "(folds, datum lines) are scribed, never cut."
    ]
    if b.folds:
        lines.append(
            "A fold's words, as you look at the marked face, the outer one when bent: R inside radius, mm; "
            "degrees bent; up: the ends come towards you, "
            "down: they go away. The bend lies between the fold lines about its words, or up to the end of "
            "the strip."
        )
    lines.append(
        "Grain (rolling direction) along the arrow, so that the folds cross it."
        if b.folds and b.grain
        else "Grain: any way, as it is nested"
        + (" (nest.grain = true lays the folds across it)." if b.folds else ".")
    )
    lines.append(
        f"x and y from the two thin datum lines, left and bottom. Centre of gravity at x {cx - x0:.1f}, y "
        f"{cy - y0:.1f}."
    )
    for group in _alike(b.holes):
        first = group[0]
        numbers = f"{first.number}" if len(group) == 1 else f"{first.number} to {group[-1].number}"
        size = f" ({first.limits_mm[0]:.3f} to {first.limits_mm[1]:.3f})" if first.limits_mm else ""
        place = f", x {first.x_mm:.2f} y {first.y_mm:.2f}" if len(group) == 1 else " (places: hole table)"
        lines.append(
            f"{numbers} {first.purpose}{place}: Ø{first.diameter_mm:g} {first.fit}{size}; {first.order}; "
            f"{first.stack}; {first.when}."
        )
    return tuple(lines)


def _alike(holes: tuple[HoleLine, ...]) -> list[list[HoleLine]]:
    """Neighbours in the table that are made alike for the same purpose."""
    return [
        list(g)
        for _, g in groupby(holes, key=lambda h: (h.purpose, h.diameter_mm, h.fit, h.order, h.stack, h.when))
    ]
