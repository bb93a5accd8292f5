"""The side of a convex path that faces -x, read by height: pieces in order of rising y."""

from __future__ import annotations

import math

from parts.shape.outline import Loop, Point, Segment, Vertex

SAME_CORNER_MM = 1e-5  # corners of a hull nearer than this are one


def rising(loop: Loop) -> list[Segment]:
    """The pieces of a convex loop's boundary that face -x, in order of rising y."""
    parts = [s for whole in loop.reversed().segments for s in monotone(whole) if s.end[1] - s.start[1] > 1e-9]
    return sorted(parts, key=lambda s: s.start[1])


def between(side: list[Segment], low: float, high: float) -> list[Vertex]:
    """The stretch of `side` from y = `low` to y = `high`, held to its ends."""
    path = []
    for s in side:
        if s.end[1] > low + SAME_CORNER_MM and s.start[1] < high - SAME_CORNER_MM:
            a, b = share_at(s, low), share_at(s, high)
            path.append((s.at(a), s.at(b), math.tan(s.sweep * (b - a) / 4)))
    return [Vertex(*a, bulge) for a, _, bulge in path] + [Vertex(*path[-1][1])] if path else []


def at_height(side: list[Segment], y: float) -> tuple[Point, Point] | None:
    """Point of `side` at height y and the direction of rising y there; None beyond its ends."""
    for s in side:
        if s.start[1] <= y <= s.end[1]:
            x, y = s.at(share_at(s, y))
            if not s.bulge:
                return (x, y), (s.end[0] - s.start[0], s.end[1] - s.start[1])
            hand = math.copysign(1.0, s.bulge)
            return (x, y), (-hand * (y - s.centre[1]), hand * (x - s.centre[0]))
    return None


def monotone(s: Segment) -> list[Segment]:
    """The segment split where its arc is level with its centre's top or bottom, so that y only rises or only
    falls."""
    if not s.bulge:
        return [s]
    start = math.atan2(s.start[1] - s.centre[1], s.start[0] - s.centre[0])
    turns = sorted(
        t for t in (((k + 0.5) * math.pi - start) / s.sweep for k in range(-5, 6)) if 1e-9 < t < 1 - 1e-9
    )
    cuts = [0.0, *turns, 1.0]
    return [
        Segment(s.at(a), s.at(b), math.tan(s.sweep * (b - a) / 4))
        for a, b in zip(cuts, cuts[1:], strict=False)
    ]


def share_at(s: Segment, y: float) -> float:
    """Where along a rising segment y is met, held to 0 to 1."""
    if not s.start[1] < y < s.end[1]:
        return 0.0 if y <= s.start[1] else 1.0
    if not s.bulge:
        return (y - s.start[1]) / (s.end[1] - s.start[1])
    start = math.atan2(s.start[1] - s.centre[1], s.start[0] - s.centre[0])
    lean = math.asin(max(-1.0, min(1.0, (y - s.centre[1]) / s.radius)))
    shares = [(a + 2 * math.pi * k - start) / s.sweep for a in (lean, math.pi - lean) for k in (-1, 0, 1)]
    return min(shares, key=lambda t: max(-t, t - 1, 0.0))


def within_x(loop: Loop, limit: float) -> list[Vertex]:
    """The part of a convex loop's boundary with x below `limit`, from its low-y end to its high-y end."""
    turned = loop.moved(turn_rad=math.pi / 2)  # x becomes y
    pieces = [s for whole in turned.reversed().segments for s in monotone(whole)]
    kept = []
    for s in pieces:
        low = min(s.start[1], s.end[1])
        if low >= limit - 1e-9:
            continue
        flip = s if s.end[1] >= s.start[1] else Segment(s.end, s.start, -s.bulge)
        top = share_at(flip, limit) if abs(s.end[1] - s.start[1]) > 1e-9 else 1.0
        a, b = (0.0, top) if flip is s else (1.0 - top, 1.0)
        kept.append((s.at(a), s.at(b), math.tan(s.sweep * (b - a) / 4)))
    first = next(i for i in range(len(kept)) if math.dist(kept[i - 1][1], kept[i][0]) > 1e-6)
    kept = kept[first:] + kept[:first]
    path = [Vertex(y, -x, bulge) for (x, y), _, bulge in kept]
    x, y = kept[-1][1]
    return [*path, Vertex(y, -x)]
