"""Names on blanks: the roomiest spot of a blank as it lies, and a text broken and sized to stay inside it."""

from __future__ import annotations

import math

from assemblies.nesting.model import Placement
from parts.shape.outline import circle

LETTER = 0.8  # width of a letter over its height in the plain lettering of CAD programs
LINE = 1.5
LARGEST_MM = 5.0
SIZE_MM = 2.0  # letters of the size written at a hole that is drilled, up and right of its middle


def roomiest(p: Placement) -> tuple[float, float, float]:
    """Centre and radius (mm) of about the largest disc in the blank's metal, holes, their sizes and bend
    lines left clear."""
    from shapely import LineString, Polygon, box
    from shapely.algorithms.polylabel import polylabel
    from shapely.ops import unary_union

    o = p.outline
    voids = [w.points(0.2) for w in o.inner] + [circle(h.x, h.y, h.diameter_mm).points(0.2) for h in o.holes]
    metal = Polygon(o.outer.points(0.2), voids)
    taken = [LineString(m.points).buffer(0.5) for m in o.marks if m.kind == "line" and len(m.points) == 2]
    taken += [box(h.x + 1, h.y + 1, h.x + 3 + 4 * LETTER * SIZE_MM, h.y + 3 + SIZE_MM) for h in o.holes]
    pieces = metal.difference(unary_union(taken))
    piece = max(getattr(pieces, "geoms", [pieces]), key=lambda g: g.area)
    spot = polylabel(piece, 1.0)
    return spot.x, spot.y, piece.boundary.distance(spot)


def fitted(words: str, radius_mm: float) -> tuple[list[str], float]:
    """Lines of a text and the height of its letters, the largest up to 5 mm that keeps it in a disc."""
    best = ([words], 0.0)
    parts = words.split()
    for count in range(1, len(parts) + 1):
        lines = _broken(parts, count)
        wide, high = LETTER * max(map(len, lines)), LINE * len(lines)
        height = 2 * radius_mm / math.hypot(wide, high)
        if height > best[1] + 1e-9:
            best = (lines, height)
    return best[0], min(best[1], LARGEST_MM)


def _broken(parts: list[str], count: int) -> list[str]:
    """Words in `count` lines or fewer, the longest as short as it can be."""
    for width in range(max(map(len, parts)), len(" ".join(parts)) + 1):
        lines = [""]
        for w in parts:
            if lines[-1] and len(lines[-1]) + 1 + len(w) > width:
                lines.append(w)
            else:
                lines[-1] = f"{lines[-1]} {w}".strip()
        if len(lines) <= count:
            return lines
    return [" ".join(parts)]
