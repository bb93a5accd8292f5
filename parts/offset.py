"""A closed path of lines and arcs moved sideways by a fixed distance: arcs stay arcs, corners go round.

Used for cutting compensation only; a blank is nominal unless someone asks. Lengths mm.
"""
from __future__ import annotations

import math
from dataclasses import dataclass

from parts.outline import Loop, OutlineError, Point, Segment, Vertex

JOIN_MM = 1e-6  # ends closer than this are one point
AUDIT_MM = 1e-5


def grown(loop: Loop, distance_mm: float) -> Loop:
    """The loop with its enclosed region grown by `distance_mm` all round (negative shrinks it).

    Corners that open become arcs about the old corner; corners that close are trimmed to where the two moved sides
    meet. For a convex loop of area A and perimeter P growing by d the area is A + P·d + π·d² (Steiner), which the tests
    hold. Every result is audited: each of its points lies the distance away from the old path, no nearer and no
    farther. Raises OutlineError where a hollow is too tight or a side too short for the distance."""
    if distance_mm == 0:
        return loop
    right = distance_mm if loop.area_mm2 > 0 else -distance_mm  # to the right of the direction of travel
    moved = [_Side.of(s, right) for s in loop.segments]
    corners = []
    for i, side in enumerate(moved):
        after = moved[(i + 1) % len(moved)]
        corner = loop.segments[i].end
        turn = _turn(loop.segments[i], loop.segments[(i + 1) % len(moved)])
        if abs(turn * right) < JOIN_MM:
            side.end = after.start = ((side.end[0] + after.start[0]) / 2, (side.end[1] + after.start[1]) / 2)
            corners.append(None)
        elif turn * right > 0:
            corners.append(Vertex(*side.end, math.tan(turn / 4)))
        else:
            side.end = after.start = _meet(side, after, corner, distance_mm)
            corners.append(None)
    vertices = []
    for side, corner in zip(moved, corners, strict=True):
        vertices.append(side.vertex(distance_mm))
        if corner:
            vertices.append(corner)
    result = Loop(tuple(vertices))
    _audit(result, loop, abs(distance_mm))
    return result


@dataclass
class _Side:
    """A segment moved to the right by a distance, its ends still to be joined to its neighbours'."""

    old: Segment
    start: Point
    end: Point
    radius: float

    @staticmethod
    def of(s: Segment, right: float) -> _Side:
        (ax, ay), (bx, by) = _tangent(s, 0), _tangent(s, 1)
        radius = math.inf
        if s.bulge:
            radius = s.radius + math.copysign(right, right * s.bulge)
            if radius <= JOIN_MM:
                raise OutlineError(f"an arc of radius {s.radius:.3f} mm at x {s.start[0]:.2f}, y {s.start[1]:.2f} is too tight "
                                   f"for a compensation of {abs(right):g} mm; use a larger radius there")
        return _Side(s, (s.start[0] + right * ay, s.start[1] - right * ax),
                     (s.end[0] + right * by, s.end[1] - right * bx), radius)

    def vertex(self, distance_mm: float) -> Vertex:
        """Start of the side between its final ends; the sense of travel must be what it was."""
        s = self.old
        if not s.bulge:
            dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
            if dx * (s.end[0] - s.start[0]) + dy * (s.end[1] - s.start[1]) <= JOIN_MM * s.chord:
                raise _too_short(s, distance_mm)
            return Vertex(*self.start)
        cx, cy = s.centre
        a, b = (math.atan2(y - cy, x - cx) for x, y in (self.start, self.end))
        sweep = (b - a) % (2 * math.pi) if s.bulge > 0 else -((a - b) % (2 * math.pi))
        if abs(sweep) * self.radius < JOIN_MM or abs(sweep) > abs(s.sweep) + 1e-6:
            raise _too_short(s, distance_mm)
        return Vertex(*self.start, math.tan(sweep / 4))


def _too_short(s: Segment, distance_mm: float) -> OutlineError:
    return OutlineError(f"the side {s.length:.2f} mm long from x {s.start[0]:.2f}, y {s.start[1]:.2f} is too short for a compensation "
                        f"of {abs(distance_mm):g} mm; use a smaller one or a longer side")


def _tangent(s: Segment, share: int) -> Point:
    """Unit direction of travel at the start (0) or end (1)."""
    half = s.sweep / 2 * (1 if share else -1)
    ux, uy = (s.end[0] - s.start[0]) / s.chord, (s.end[1] - s.start[1]) / s.chord
    c, n = math.cos(half), math.sin(half)
    return ux * c - uy * n, ux * n + uy * c


def _turn(before: Segment, after: Segment) -> float:
    """Angle from the direction before a corner to the one after it, rad, + is counter-clockwise."""
    (ax, ay), (bx, by) = _tangent(before, 1), _tangent(after, 0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _meet(a: _Side, b: _Side, corner: Point, distance_mm: float) -> Point:
    """Where two moved sides cross, nearest to the old corner."""
    found = _crossings(a, b)
    if not found:
        raise _too_short(a.old if a.old.length < b.old.length else b.old, distance_mm)
    return min(found, key=lambda p: math.dist(p, corner))


def _crossings(a: _Side, b: _Side) -> list[Point]:
    if a.old.bulge and not b.old.bulge:
        return _crossings(b, a)
    if a.old.bulge:
        (x1, y1), (x2, y2) = a.old.centre, b.old.centre
        gap = math.hypot(x2 - x1, y2 - y1)
        if gap < JOIN_MM:
            return []
        along = (a.radius**2 - b.radius**2 + gap**2) / (2 * gap)
        rest = a.radius**2 - along**2
        ux, uy = (x2 - x1) / gap, (y2 - y1) / gap
        foot = (x1 + along * ux, y1 + along * uy)
    else:
        ux, uy = _tangent(a.old, 0)
        if not b.old.bulge:
            vx, vy = _tangent(b.old, 0)
            cross = ux * vy - uy * vx
            if abs(cross) < 1e-12:
                return []
            t = ((b.start[0] - a.start[0]) * vy - (b.start[1] - a.start[1]) * vx) / cross
            return [(a.start[0] + t * ux, a.start[1] + t * uy)]
        cx, cy = b.old.centre
        t = (cx - a.start[0]) * ux + (cy - a.start[1]) * uy
        foot = (a.start[0] + t * ux, a.start[1] + t * uy)
        rest = b.radius**2 - (foot[0] - cx) ** 2 - (foot[1] - cy) ** 2
        ux, uy = uy, -ux  # so that the step below runs along the line
    if rest < 0:
        return []
    h = math.sqrt(rest)
    return [(foot[0] - h * uy, foot[1] + h * ux), (foot[0] + h * uy, foot[1] - h * ux)]


def _audit(result: Loop, old: Loop, distance: float) -> None:
    for s in result.segments:
        for k in range(9):
            x, y = s.at(k / 8)
            gap = min(o.distance_mm(x, y) for o in old.segments)
            if abs(gap - distance) > AUDIT_MM:
                raise OutlineError(f"the compensated path at x {x:.2f}, y {y:.2f} is {gap:.3f} mm from the part line, not {distance:g}; "
                                   "a slot or hollow there is too narrow for this compensation")
