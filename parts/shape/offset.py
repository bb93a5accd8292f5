"""A closed path of lines and arcs moved sideways by a fixed distance: arcs stay arcs, corners go round.

Used for cutting compensation only; a blank is nominal unless someone asks. Lengths mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from parts.shape.outline import Loop, OutlineError, Point, Segment, Vertex

JOIN_MM = 1e-6  # ends closer than this are one point
AUDIT_MM = 1e-5
SQUARE = math.sqrt(
    2.0
)  # a sharp square hollow lies this many distances from the path: metal left there is 0.41 of one


def grown(loop: Loop, distance_mm: float) -> Loop:
    """The loop with its enclosed region grown by `distance_mm` all round (negative shrinks it).

    Corners that open become arcs about the old corner; corners that close are trimmed to where the two moved
    sides meet, and a side too short for its neighbours' trims is swallowed, as in the true offset. For a
    convex loop of area A and perimeter P growing by d the area is A + P·d + π·d² (Steiner), which the tests
    hold. Every result is audited: each of its points lies the distance away from the old path, no nearer and
    no farther, and no swallowed side lies further from it than the tip of a sharp square hollow. Raises
    OutlineError where a slot or hollow is too narrow for that."""
    if distance_mm == 0:
        return loop
    right = distance_mm if loop.area_mm2 > 0 else -distance_mm  # to the right of the direction of travel
    sides, swallowed = _moved(loop, right)
    while gone := _joined(sides, right):
        swallowed.append(gone.old)
        sides.remove(gone)
    result = Loop(tuple(s.vertex for s in sides))
    _audit(result, loop, abs(distance_mm))
    for old in swallowed:
        if max(_away(result, old.at(k / 4)) for k in range(5)) > SQUARE * abs(distance_mm) + AUDIT_MM:
            raise _too_narrow(old, distance_mm)
    return result


def left_mm(loop: Loop, path: Loop, distance_mm: float) -> float:
    """Most metal (across) that a cutter of radius `distance_mm`, its middle on `path`, leaves outside `loop`
    in its hollows.

    In a sharp corner of inside angle a it is d·(1/sin(a/2) - 1), in a hollow arc of radius r < d in a square
    corner (√2 - 1)·(d - r); looked at in every corner and in the middle of every side."""
    spots = [s.at(share) for s in loop.segments for share in (0.0, 0.5)]
    return max(0.0, max(_away(path, p) for p in spots) - abs(distance_mm))


def _away(path: Loop, spot: Point) -> float:
    return min(s.distance_mm(*spot) for s in path.segments)


@dataclass(eq=False)
class _Side:
    """A segment moved to the right by a distance, or the arc round a corner that opens, on to where it meets
    its neighbours.

    `first`, `last`: its own ends; `start`, `end`: where it is trimmed to; `radius` is infinite on a line."""

    old: Segment
    first: Point
    last: Point
    radius: float = math.inf
    centre: Point = (0.0, 0.0)
    sweep: float = 0.0
    start: Point = (0.0, 0.0)
    end: Point = (0.0, 0.0)

    @staticmethod
    def of(s: Segment, right: float) -> _Side:
        (ax, ay), (bx, by) = _tangent(s, 0), _tangent(s, 1)
        first, last = (
            (s.start[0] + right * ay, s.start[1] - right * ax),
            (s.end[0] + right * by, s.end[1] - right * bx),
        )
        if not s.bulge:
            return _Side(s, first, last)
        return _Side(s, first, last, s.radius + math.copysign(right, right * s.bulge), s.centre, s.sweep)

    @property
    def way_mm(self) -> float:
        """Length between the trimmed ends; below 0 where they have passed each other."""
        if self.radius == math.inf:
            ux, uy = _tangent(self.old, 0)
            return (self.end[0] - self.start[0]) * ux + (self.end[1] - self.start[1]) * uy
        return abs(self.turn) * self.radius if abs(self.turn) <= abs(self.sweep) + 1e-6 else -1.0

    @property
    def turn(self) -> float:
        """Angle of an arc between its trimmed ends, in its own sense, rad."""
        (cx, cy), hand = self.centre, math.copysign(1.0, self.sweep)
        a, b = (math.atan2(y - cy, x - cx) for x, y in (self.start, self.end))
        return hand * ((hand * (b - a)) % (2 * math.pi))

    def heading(self, spot: Point) -> Point:
        """Direction of travel at a point on the side's line or circle; not of unit length on an arc."""
        if self.radius == math.inf:
            return _tangent(self.old, 0)
        dx, dy = spot[0] - self.centre[0], spot[1] - self.centre[1]
        return (-dy, dx) if self.sweep > 0 else (dy, -dx)

    @property
    def vertex(self) -> Vertex:
        return Vertex(*self.start, 0.0 if self.radius == math.inf else math.tan(self.turn / 4))


def _moved(loop: Loop, right: float) -> tuple[list[_Side], list[Segment]]:
    """The sides moved, with arcs where corners open; and what vanishes at once: hollow arcs no larger than
    the distance."""
    sides, swallowed, segments = [], [], loop.segments
    for s, after in zip(segments, segments[1:] + segments[:1], strict=True):
        side = _Side.of(s, right)
        if side.radius > JOIN_MM:
            sides.append(side)
        else:
            swallowed.append(s)
        turn = _turn(s, after)
        if turn * right > JOIN_MM:
            sides.append(
                _Side(
                    Segment(s.end, s.end, 0.0),
                    side.last,
                    _Side.of(after, right).first,
                    abs(right),
                    s.end,
                    turn,
                )
            )
    return sides, swallowed


def _joined(sides: list[_Side], right: float) -> _Side | None:
    """Trims every side to its neighbours; gives the shortest one that finds no room between them, None where
    all do."""
    if len(sides) < 2:
        raise OutlineError(
            f"a compensation of {abs(right):g} mm leaves nothing of the outline; use a smaller one"
        )
    gone = []
    for a, b in zip(sides, sides[1:] + sides[:1], strict=True):
        spot = _meet(a, b, right)
        if spot:
            a.end = b.start = spot
        else:
            gone.append(min(a, b, key=lambda s: s.old.length))
    gone = gone or [s for s in sides if s.way_mm < JOIN_MM]
    return min(gone, key=lambda s: s.old.length, default=None)


def _too_narrow(s: Segment, distance_mm: float) -> OutlineError:
    what = (
        f"an arc of radius {s.radius:.3f} mm is too tight"
        if s.bulge
        else f"the side {s.length:.2f} mm long is too short"
    )
    return OutlineError(
        f"at x {s.start[0]:.2f}, y {s.start[1]:.2f} {what}, or the hollow there too narrow, for a "
        f"compensation of "
        f"{abs(distance_mm):g} mm; use a smaller one, a larger radius or a wider hollow"
    )


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


def _meet(a: _Side, b: _Side, right: float) -> Point | None:
    """Where a side runs into the next: their common end, else where they cross in a corner that closes,
    nearest to the old one."""
    if math.dist(a.last, b.first) < 2 * JOIN_MM:
        return (a.last[0] + b.first[0]) / 2, (a.last[1] + b.first[1]) / 2
    corner = (a.old.end[0] + b.old.start[0]) / 2, (a.old.end[1] + b.old.start[1]) / 2
    closing = [p for p in _crossings(a, b) if _cross(a.heading(p), b.heading(p)) * right <= 0]
    return min(closing, key=lambda p: math.dist(p, corner), default=None)


def _cross(u: Point, v: Point) -> float:
    return u[0] * v[1] - u[1] * v[0]


def _crossings(a: _Side, b: _Side) -> list[Point]:
    if math.isfinite(a.radius) and not math.isfinite(b.radius):
        return _crossings(b, a)
    if math.isfinite(a.radius):
        (x1, y1), (x2, y2) = a.centre, b.centre
        gap = math.hypot(x2 - x1, y2 - y1)
        if gap < JOIN_MM:
            return []
        along = (a.radius**2 - b.radius**2 + gap**2) / (2 * gap)
        rest = a.radius**2 - along**2
        ux, uy = (x2 - x1) / gap, (y2 - y1) / gap
        foot = (x1 + along * ux, y1 + along * uy)
    else:
        ux, uy = _tangent(a.old, 0)
        if not math.isfinite(b.radius):
            vx, vy = _tangent(b.old, 0)
            cross = _cross((ux, uy), (vx, vy))
            if abs(cross) < 1e-12:
                return []
            t = ((b.first[0] - a.first[0]) * vy - (b.first[1] - a.first[1]) * vx) / cross
            return [(a.first[0] + t * ux, a.first[1] + t * uy)]
        cx, cy = b.centre
        t = (cx - a.first[0]) * ux + (cy - a.first[1]) * uy
        foot = (a.first[0] + t * ux, a.first[1] + t * uy)
        rest = b.radius**2 - (foot[0] - cx) ** 2 - (foot[1] - cy) ** 2
        ux, uy = uy, -ux  # so that the step below runs along the line
    if rest < 0:
        return []
    h = math.sqrt(rest)
    return [(foot[0] - h * uy, foot[1] + h * ux), (foot[0] + h * uy, foot[1] - h * ux)]


def _audit(result: Loop, old: Loop, distance: float) -> None:
    """Every point of the path is the distance from the old one, and nothing of the old one is nearer."""
    for s in result.segments:
        for k in range(9):
            x, y = s.at(k / 8)
            if abs(_away(old, (x, y)) - distance) > AUDIT_MM:
                raise _uneven(x, y, _away(old, (x, y)), distance)
    for s in old.segments:
        for k in range(4):
            x, y = s.at(k / 4)
            if _away(result, (x, y)) < distance - AUDIT_MM:
                raise _uneven(x, y, _away(result, (x, y)), distance)


def _uneven(x: float, y: float, gap: float, distance: float) -> OutlineError:
    return OutlineError(
        f"at x {x:.2f}, y {y:.2f} the compensated path and the part line are {gap:.3f} mm apart, not "
        f"{distance:g}; "
        "a slot or hollow there is too narrow for this compensation"
    )
