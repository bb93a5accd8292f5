"""The part of a member's envelope between two planes, as its shadow on them."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from parts.base.distinct import distinct
from parts.member import Member, Section
from parts.shape.form import Frame
from parts.shape.outline import Point
from parts.shape.rising import SAME_CORNER_MM

CUT_ERROR_MM = 0.01  # an oblique cut through a round corner is a fine polygon this close to it, outside it,
# before true arcs are laid along it


def region(member: Member, frame: Frame, low_mm: float, high_mm: float) -> list[Point]:
    """Shadow on the plane of `frame` of the part of the member's envelope with local z between `low_mm` and
    `high_mm`.

    Convex polygon, counter-clockwise, no smaller than the true shape and within 0.01 mm of it across a round
    corner; empty where the slab misses the member. Equal limits give the section by that plane."""
    corners = _corners(member.section)
    rel = np.linalg.inv(frame.matrix()) @ member.frame.matrix()
    base = corners @ rel[:3, :2].T + rel[:3, 3]
    tip = base + rel[:3, 2] * member.length_mm
    heights = np.concatenate((base[:, 2], tip[:, 2]))
    if heights.max() < low_mm - 1e-9 or heights.min() > high_mm + 1e-9:
        return []
    p = np.concatenate((base, base, tip))
    d = np.concatenate((tip, np.roll(base, -1, 0), np.roll(tip, -1, 0))) - p
    rise = np.where(np.abs(d[:, 2]) < 1e-12, 1e-12, d[:, 2])
    a, b = (low_mm - 1e-9 - p[:, 2]) / rise, (high_mm + 1e-9 - p[:, 2]) / rise
    first, last = np.maximum(np.minimum(a, b), 0.0), np.minimum(np.maximum(a, b), 1.0)
    keep = first <= last
    p, d, first, last = p[keep], d[keep], first[keep], last[keep]
    return convex(np.concatenate((p + first[:, None] * d, p + last[:, None] * d))[:, :2])


@lru_cache(256)
def _corners(section: Section) -> np.ndarray:
    return np.array(section.outer().points(CUT_ERROR_MM, outside=True))


def convex(points: np.ndarray) -> list[Point]:
    """Convex hull, counter-clockwise, by the monotone chain; points on a side drop out. Rounded, so that
    noise does not shuffle the points of an upright side: the chain would turn back on it and lose its end."""
    points = distinct(points.round(7), rows=True)

    def half(run: list[Point]) -> list[Point]:
        out: list[Point] = []
        for px, py in run:
            while len(out) > 1:
                (ax, ay), (bx, by) = out[-2], out[-1]
                ux, uy = px - ax, py - ay
                side = (bx - ax) * uy - (by - ay) * ux
                if side > 0 and side * side > 1e-14 * max(
                    ux * ux + uy * uy, 1e-6
                ):  # further off the side than 1e-7 mm
                    break
                out.pop()
            out.append((px, py))
        return out[:-1]

    if len(points) < 3:
        return [(x, y) for x, y in points.tolist()]
    (ax, ay), (bx, by) = points[[0, -1]].tolist()
    over = (bx - ax) * (points[:, 1] - ay) - (by - ay) * (points[:, 0] - ax)  # the line from first to last
    hull = half(_undented(points[over <= 0]).tolist()) + half(_undented(points[over >= 0][::-1]).tolist())
    apart = [a for a, b in zip(hull, hull[1:] + hull[:1], strict=True) if math.dist(a, b) > SAME_CORNER_MM]
    return apart if len(apart) > 2 else hull


def _undented(run: np.ndarray) -> np.ndarray:
    """Points (n >= 2, 2) in order along a side of a hull, most of those that lie within it left out: what
    lies within the line between its neighbours."""
    for _ in range(3):
        step = np.diff(run, axis=0)
        turns = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
        run = run[np.concatenate(([True], turns >= 0, [True]))]
    return run


def nearest(polygon: list[Point]) -> Point:
    """The polygon's point nearest the origin; the origin itself where the polygon holds it."""
    best, inside = (math.inf, math.inf), True
    for (ax, ay), (bx, by) in zip(polygon, polygon[1:] + polygon[:1], strict=True):
        ux, uy = bx - ax, by - ay
        share = min(max(-(ax * ux + ay * uy) / max(ux * ux + uy * uy, 1e-18), 0.0), 1.0)
        q = ax + share * ux, ay + share * uy
        inside = inside and ax * by - ay * bx > 0
        if math.hypot(*q) < math.hypot(*best):
            best = q
    return (0.0, 0.0) if inside and len(polygon) > 2 else best
