"""Whether a blank is its own mirror image: one file then serves both hands, and it may be laid either face
up."""

from __future__ import annotations

import math

from parts.shape.outline import Loop, Outline

SAME_MM = 0.001


def own_mirror(outline: Outline) -> bool:
    """True where some turn and shift lays the mirrored outline on the outline: loops, windows, holes and
    their fits.

    Marks do not count. Every turn that could do it takes one vertex of the mirrored outer loop to the first
    of the other."""
    cx, cy = outline.centroid
    a = outline.moved(-cx, -cy)
    b = a.mirrored()
    first = a.outer.vertices[0]
    reach = math.hypot(first.x, first.y)
    for v in b.outer.vertices:
        if abs(math.hypot(v.x, v.y) - reach) > SAME_MM:
            continue
        turn = math.atan2(first.y, first.x) - math.atan2(v.y, v.x)
        if _same(a, b.moved(turn_rad=turn)):
            return True
    return False


def _same(a: Outline, b: Outline) -> bool:
    if len(a.inner) != len(b.inner) or len(a.holes) != len(b.holes):
        return False
    holes = all(
        any(
            math.dist((h.x, h.y), (k.x, k.y)) < SAME_MM and h.diameter_mm == k.diameter_mm and h.fit == k.fit
            for k in b.holes
        )
        for h in a.holes
    )
    return (
        holes
        and _same_loop(a.outer, b.outer)
        and all(any(_same_loop(x, y) for y in b.inner) for x in a.inner)
    )


def _same_loop(a: Loop, b: Loop) -> bool:
    n = len(a.vertices)
    if len(b.vertices) != n:
        return False
    return any(
        all(
            math.dist((p.x, p.y), (q.x, q.y)) < SAME_MM and abs(p.bulge - q.bulge) < 1e-6
            for p, q in zip(a.vertices, b.vertices[k:] + b.vertices[:k], strict=True)
        )
        for k in range(n)
    )
