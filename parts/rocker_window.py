"""Room inside a plate, and the lightening window of a rocker plate: as large as the metal left round it
allows.

Lengths mm. Points come as arrays (n, 2)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from parts.shape.outline import Hole, Loop, OutlineError, Point, Segment, rounded

CORNER_MM = 6.0  # re-entrant corners need 5 mm (EN 1090-2, cut-outs); drilled 12 mm corners, common practice
RIM_MM = 0.05  # metal between the 24 points of a side on which the room is measured
LEAST_AREA_MM2 = 250.0  # a smaller window is not worth its cutting; common practice


def segment_distance_mm(s: Segment, xy: np.ndarray) -> np.ndarray:
    """Least distance from each point to a line or arc, exact."""
    start, end = np.array(s.start), np.array(s.end)
    if not s.bulge:
        along = end - start
        share = np.clip((xy - start) @ along / (along @ along), 0.0, 1.0)
        return np.hypot(*(xy - start - share[:, None] * along).T)
    centre = np.array(s.centre)
    out = xy - centre
    turn = np.arctan2(out[:, 1], out[:, 0]) - math.atan2(start[1] - centre[1], start[0] - centre[0])
    facing = np.mod(turn if s.bulge > 0 else -turn, 2 * math.pi) <= abs(s.sweep)
    return np.where(
        facing,
        np.abs(np.hypot(*out.T) - s.radius),
        np.minimum(np.hypot(*(xy - start).T), np.hypot(*(xy - end).T)),
    )


def edge_distance_mm(loop: Loop, xy: np.ndarray) -> np.ndarray:
    """Least distance from each point to a loop's lines and arcs, exact; negative outside the loop (its arcs
    taken as chords within 0.1 mm for that question)."""
    least = np.minimum.reduce([segment_distance_mm(s, xy) for s in loop.segments])
    return np.where(_inside(loop, xy), least, -least)


def room_mm(outer: Loop, voids: Sequence[Loop], holes: Sequence[Hole], xy: np.ndarray) -> np.ndarray:
    """Distance from each point to the nearest edge of plate, void or hole; negative where there is no
    metal."""
    xy = np.atleast_2d(np.asarray(xy, float))
    room = edge_distance_mm(outer, xy)
    for loop in voids:
        room = np.minimum(room, -edge_distance_mm(loop, xy))
    for h in holes:
        room = np.minimum(room, np.hypot(xy[:, 0] - h.x, xy[:, 1] - h.y) - h.diameter_mm / 2)
    return room


def _inside(loop: Loop, xy: np.ndarray) -> np.ndarray:
    """Even-odd rule on a polygon within 0.1 mm of the loop."""
    a = np.array(loop.points(0.1))
    b = np.roll(a, -1, axis=0)
    x, y = xy[:, :1], xy[:, 1:]
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crosses = ((a[:, 1] > y) != (b[:, 1] > y)) & (x < a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0]))
    return crosses.sum(axis=1) % 2 == 1


def largest_window(outer: Loop, holes: Sequence[Hole], a: Point, b: Point, ligament_mm: float) -> Loop | None:
    """Largest rounded triangle, shaped as pivot (origin), `a`, `b`, that leaves `ligament_mm` to every edge
    and hole.

    Runs clockwise; each corner is a true arc of `CORNER_MM`. Found by bisection of its size, its place by a
    pattern search. None where no window of `LEAST_AREA_MM2` fits."""
    turn = a[0] * b[1] - a[1] * b[0]
    if abs(turn) < 1.0:
        return None
    corners = np.array([(0.0, 0.0), b, a] if turn > 0 else [(0.0, 0.0), a, b])
    middle = corners.mean(axis=0)

    def shape(size: float) -> Loop:
        return rounded([(float(x), float(y)) for x, y in size * (corners - middle)], CORNER_MM)

    def rim_of(loop: Loop, count: int) -> np.ndarray:
        return np.array([s.at(k / count) for s in loop.segments for k in range(count)])

    def place(loop: Loop, at: np.ndarray) -> tuple[float, np.ndarray]:
        """(least room, centre) of the best place found for this window."""
        rim = rim_of(loop, 8)
        best, step = room_mm(outer, (), holes, rim + at).min(), 8.0
        while step > 0.2:
            tries = [
                at + step * np.array(d) for d in ((1, 0), (-1, 0), (0, 1), (0, -1), (0.7, 0.7), (-0.7, 0.7))
            ]
            rooms = (
                room_mm(outer, (), holes, np.concatenate([rim + p for p in tries]))
                .reshape(len(tries), -1)
                .min(axis=1)
            )
            i = int(rooms.argmax())
            if rooms[i] > best + 1e-6:
                best, at = rooms[i], tries[i]
            else:
                step /= 2
        return float(room_mm(outer, (), holes, rim_of(loop, 24) + at).min()), at

    low, high, window, at = 0.0, 1.0, None, middle
    while high - low > 0.01:
        size = (low + high) / 2
        try:
            loop = shape(size)
        except OutlineError:  # too small for its corners
            low = size
            continue
        room, p = place(loop, at)
        if room >= ligament_mm + RIM_MM:
            low, at, window = size, p, loop.moved(float(p[0]), float(p[1]))
        else:
            high = size
    return window if window is not None and abs(window.area_mm2) >= LEAST_AREA_MM2 else None
