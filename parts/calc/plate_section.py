"""Straight cuts through a flat plate: where they leave it and what is left of them beside holes and windows.
Lengths mm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from parts.shape.outline import Loop, Outline, OutlineError


class NetSection(NamedTuple):
    """A cut through one plate square to an arm, `at_mm` from the pivot towards the eye; holes and window
    taken out.

    `low_mm`, `high_mm`: where the cut leaves the plate, measured from the arm's line, + to its left."""

    at_mm: float
    width_mm: float
    low_mm: float
    high_mm: float
    area_mm2: float
    centre_mm: float
    inertia_mm4: float
    modulus_mm3: float


def cut(
    outline: Outline, thickness_mm: float, foot: tuple[float, float], along: tuple[float, float], at_mm: float
) -> NetSection:
    """The cut through `foot`, square to the unit direction `along`, as far as the metal hangs together across
    it."""
    (x, y), (ux, uy) = foot, along
    meets = crossings(outline.outer, x, y, -uy, ux)
    below, above = [v for v in meets if v <= 0], [v for v in meets if v >= 0]
    if not below or not above:
        raise OutlineError(f"the cut at x {x:.2f}, y {y:.2f} mm lies outside the plate")
    voids = []
    for h in outline.holes:
        across = h.diameter_mm**2 / 4 - ((h.x - x) * ux + (h.y - y) * uy) ** 2
        if across > 0:
            middle, half = (h.y - y) * ux - (h.x - x) * uy, math.sqrt(across)
            voids.append((middle - half, middle + half))
    for loop in outline.inner:
        if len(meets := crossings(loop, x, y, -uy, ux)) > 1:
            voids.append((min(meets), max(meets)))
    return net_section(at_mm, max(below), min(above), voids, thickness_mm)


def crossings(loop: Loop, x: float, y: float, nx: float, ny: float) -> list[float]:
    """Where the line through (x, y) along the unit (nx, ny) meets a loop, as signed distances along it."""
    found = []
    for s in loop.segments:
        (x1, y1), (x2, y2) = s.start, s.end
        if not s.bulge:
            side1, side2 = (x1 - x) * ny - (y1 - y) * nx, (x2 - x) * ny - (y2 - y) * nx
            if side1 * side2 <= 0 and side1 != side2:
                share = side1 / (side1 - side2)
                found.append((x1 + share * (x2 - x1) - x) * nx + (y1 + share * (y2 - y1) - y) * ny)
            continue
        (cx, cy), r = s.centre, s.radius
        across = (cx - x) * ny - (cy - y) * nx
        if abs(across) > r:
            continue
        middle, half = (cx - x) * nx + (cy - y) * ny, math.sqrt(r * r - across * across)
        found += [v for v in (middle - half, middle + half) if s.distance_mm(x + v * nx, y + v * ny) < 1e-6]
    return found


def least_widths_mm(outline: Outline, at_mm: np.ndarray, along: tuple[float, float]) -> np.ndarray:
    """Of cuts square to the unit `along`, `at_mm` from the origin, what `cut` leaves of each at least, within
    1e-5 mm: every void is taken off whole, also where two overlap. Nothing where a cut misses the plate."""
    (ux, uy), none = along, np.full(len(at_mm), np.nan)
    meets = np.stack([none, *_meets(outline.outer, at_mm, along)])
    width = np.where(meets >= 0, meets, np.inf).min(0) - np.where(meets <= 0, meets, -np.inf).max(0)
    for h in outline.holes:
        width -= 2 * np.sqrt(np.maximum(h.diameter_mm**2 / 4 - (h.x * ux + h.y * uy - at_mm) ** 2, 0.0))
    for loop in outline.inner:
        meets = np.stack([none, *_meets(loop, at_mm, along)])
        width -= np.nan_to_num(np.fmax.reduce(meets) - np.fmin.reduce(meets))
    return np.where(np.isfinite(width), width, 0.0)


def _meets(loop: Loop, at_mm: np.ndarray, along: tuple[float, float]) -> Iterator[np.ndarray]:
    """Where the cuts meet each segment of a loop, from the arm's line to its left; nan where they do not. An
    arc is all on one side of its chord."""
    ux, uy = along
    for s in loop.segments:
        (a1, v1), (a2, v2) = ((x * ux + y * uy, y * ux - x * uy) for x, y in (s.start, s.end))
        if not s.bulge:
            with np.errstate(all="ignore"):
                share = (at_mm - a1) / (a2 - a1)
            yield np.where((at_mm - a1) * (at_mm - a2) <= 0, v1 + share * (v2 - v1), np.nan)
            continue
        cx, cy = s.centre
        off = at_mm - (cx * ux + cy * uy)
        half = np.sqrt(np.where(np.abs(off) <= s.radius, s.radius**2 - off**2, np.nan))
        for v in (cy * ux - cx * uy - half, cy * ux - cx * uy + half):
            left = (a2 - a1) * (v - v1) - (v2 - v1) * (at_mm - a1)
            yield np.where(np.sign(s.bulge) * left <= 1e-6 * s.chord, v, np.nan)


def net_section(
    at: float, low: float, high: float, voids: list[tuple[float, float]], thickness: float
) -> NetSection:
    """Net section of the strip low..high less voids: A, I about its own centroid, W to its furthest edge."""
    edges = [(low, high, 1.0)]
    reach = low
    for a, b in sorted(voids):
        a, b = max(a, reach), min(b, high)
        if b > a:
            edges.append((a, b, -1.0))
            reach = b
    width = sum(k * (b - a) for a, b, k in edges)
    if width < 1e-9:
        return NetSection(at, 0.0, low, high, 0.0, (low + high) / 2, 0.0, 1e-12)
    first = sum(k * (b * b - a * a) for a, b, k in edges) / 2
    second = sum(k * (b**3 - a**3) for a, b, k in edges) / 3
    centre = first / width
    inertia = (second - first * centre) * thickness
    return NetSection(
        at, width, low, high, width * thickness, centre, inertia, inertia / max(high - centre, centre - low)
    )
