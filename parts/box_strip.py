"""Closing strips between the two plates of a rocker, their outer face flush with the plates' edge.

They leave the rod end and the damper's eye room to swing. Lengths mm, directions in degrees in the plates'
plane.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism
from parts.shape.outline import Loop, Mark, Outline, OutlineError, Point, Segment, Vertex, rectangle

SHORTEST_MM = 12.0  # a shorter strip is left out: not worth its weld; common practice
STEP_MM = 0.25


@dataclass(frozen=True)
class SweptDisc:
    """What a joint between the plates sweeps, seen along the pivot's axis: a disc about the eye (housing
    radius and margin) and, where a body leaves the eye, a bar of `half_width_mm` turning from `from_deg` to
    `to_deg` (counter-clockwise; directions from the eye along the body, relative to the rocker); up to
    `root_mm` from the eye the bar is `root_half_mm` wide each side: an eye's neck."""

    eye: Point
    radius_mm: float
    half_width_mm: float = 0.0
    from_deg: float = 0.0
    to_deg: float = 0.0
    root_mm: float = 0.0
    root_half_mm: float = 0.0

    def __post_init__(self) -> None:
        numbers = (
            *self.eye,
            self.radius_mm,
            self.half_width_mm,
            self.from_deg,
            self.to_deg,
            self.root_mm,
            self.root_half_mm,
        )
        if (
            not all(map(math.isfinite, numbers))
            or self.radius_mm < 0
            or self.half_width_mm < 0
            or self.to_deg < self.from_deg
        ):
            raise OutlineError(
                f"swing about {self.eye}: radius {self.radius_mm:g} mm, half width {self.half_width_mm:g} "
                f"mm, "
                f"{self.from_deg:g} to {self.to_deg:g} deg; they must be finite, not negative, and from <= to"
            )

    def clears(self, xy: np.ndarray) -> np.ndarray:
        """Whether each point (n, 2) lies outside everything swept. Exact: a point at distance d meets the bar
        of half width b where its direction is within asin(b/d) of a direction the bar takes."""
        out = xy - np.array(self.eye)
        far = np.hypot(*out.T)
        clear = far >= self.radius_mm
        middle = math.radians(self.from_deg + self.to_deg) / 2
        turn = min(math.radians(self.to_deg - self.from_deg) / 2, math.pi)
        off = np.abs((np.arctan2(out[:, 1], out[:, 0]) - middle + math.pi) % (2 * math.pi) - math.pi)
        for half, length in (
            (self.half_width_mm, math.inf),
            (self.root_half_mm, math.hypot(self.root_mm, self.root_half_mm)),
        ):
            if half:
                reach = np.where(
                    far > half,
                    np.arcsin(np.clip(half / np.maximum(far, 1e-9), 0, 1)),
                    math.pi,
                )  # within half a width of the eye: the rounded end
                clear &= (off > turn + reach) | (far > length)
        return clear


@dataclass(frozen=True)
class BoxStrip(Flat):
    """One strip. Its `path` is the outer face, on the plates' edge, in the rocker's plane (metal to the
    left).

    Blank: x along the strip from the path's start, y across, seen on the outer face; bend lines on the mark
    layer.
    Form: the bent band in the rocker's system, between the plates, z from -width/2 to width/2; its outer face
    is flush with the plates' edge, its long edges touch the plates' inner faces. Raises OutlineError where a
    bend is too tight."""

    path: tuple[Segment, ...]
    thickness_mm: float
    width_mm: float  # the gap between the plates
    k_factor: float = (
        0.5  # neutral line from the inside of a bend, in thicknesses; 0.5 for rolling round many thicknesses
    )
    material: str = "S275"
    name: str = "box strip"
    hand: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.path:
            raise OutlineError(f"{self.name}: path is empty; a strip needs at least one line or arc")
        for field in ("thickness_mm", "width_mm"):
            if not (math.isfinite(v := getattr(self, field)) and v > 0):
                raise OutlineError(f"{self.name}: {field} is {v:g}; it must be finite and over 0")
        if not 0.3 <= self.k_factor <= 0.5:
            raise OutlineError(f"{self.name}: k_factor is {self.k_factor:g}; it lies between 0.3 and 0.5")
        for s in self.path:
            if s.bulge and self.inside_radius_mm(s) < self.thickness_mm - 1e-9:
                raise OutlineError(
                    f"{self.name}: bend of inside radius {self.inside_radius_mm(s):.2f} mm; cold "
                    f"bending needs one "
                    f"thickness, {self.thickness_mm:g} mm, at least (common practice): make the boss larger"
                )

    def inside_radius_mm(self, arc: Segment) -> float:
        """Inside radius of a bend: the strip lies within the plates' edge, so a boss bends it outer face
        outwards."""
        return arc.radius - self.thickness_mm if arc.bulge > 0 else arc.radius

    def developed_mm(self, s: Segment) -> float:
        """Flat length: a line's own; of an arc angle·(inside radius + K·t) (bend allowance, closed form)."""
        return (
            s.chord
            if not s.bulge
            else abs(s.sweep) * (self.inside_radius_mm(s) + self.k_factor * self.thickness_mm)
        )

    @property
    def length_mm(self) -> float:
        return sum(map(self.developed_mm, self.path))

    def outline(self) -> Outline:
        """The flat blank, developed length x width, with a bend line where each arc begins and ends."""
        x, marks = 0.0, []
        for s in self.path:
            x0, x = x, x + self.developed_mm(s)
            if not s.bulge:
                continue
            marks += [
                Mark("line", ((v, 0.0), (v, self.width_mm)))
                for v in (x0, x)
                if 0.5 < v < self.length_mm - 0.5
            ]
            way = "down" if s.bulge > 0 else "up"
            marks.append(
                Mark(
                    "text",
                    (((x0 + x) / 2, 0.25 * self.width_mm),),
                    f"R{self.inside_radius_mm(s):.1f} {math.degrees(abs(s.sweep)):.1f} deg {way}",
                    3.0,
                )
            )
        marks.append(
            Mark("text", ((2.0, 0.6 * self.width_mm),), " ".join(t for t in (self.name, self.hand) if t), 3.0)
        )
        return Outline(rectangle(0, 0, self.length_mm, self.width_mm), marks=tuple(marks))

    @cached_property
    def band(self) -> Outline:
        """The bent strip seen along the pivot's axis: the path and its parallel, one thickness inside."""
        inner = [_inset(s, self.thickness_mm) for s in self.path]
        vertices = [Vertex(*s.start, s.bulge) for s in self.path] + [Vertex(*self.path[-1].end)]
        vertices += [Vertex(*s.end, -s.bulge) for s in reversed(inner)] + [Vertex(*inner[0].start)]
        return Outline(Loop(tuple(vertices)))

    def form(self) -> Form:
        return Form((Prism(self.band, self.width_mm, Frame((0.0, 0.0, -self.width_mm / 2))),))

    @property
    def volume_mm3(self) -> float:
        """Volume of the bent band: mid-line length x thickness x width (arcs at their middle radius)."""
        return self.band.area_mm2 * self.width_mm

    @property
    def centroid(self) -> tuple[float, float, float]:
        return (*self.band.centroid, 0.0)

    @property
    def inertia_kg_mm2(self) -> float:
        """Mass moment about the pivot's axis."""
        m = self.band.moments
        return DENSITY_KG_M3 * 1e-9 * self.width_mm * (m[3] + m[4])


def _along(s: Segment, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points at shares of a segment's length and the unit normals to its left there, each (n, 2)."""
    start, end = np.array(s.start), np.array(s.end)
    if not s.bulge:
        normal = np.array([start[1] - end[1], end[0] - start[0]]) / s.chord
        return start + shares[:, None] * (end - start), np.tile(normal, (len(shares), 1))
    centre = np.array(s.centre)
    angle = math.atan2(*(start - centre)[::-1]) + shares * s.sweep
    out = np.column_stack([np.cos(angle), np.sin(angle)])
    return centre + s.radius * out, out if s.bulge < 0 else -out


def _inset(s: Segment, by: float) -> Segment:
    """The parallel of a segment, `by` to its left."""
    on, left = _along(s, np.array([0.0, 1.0]))
    a, b = on + by * left
    return Segment((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), s.bulge)


def free_paths(
    outer: Loop, thickness_mm: float, swings: Sequence[SweptDisc], tightest_mm: float | None = None
) -> list[tuple[Segment, ...]]:
    """The stretches of a plate's edge along which a strip of this thickness lies clear of every swing.

    A stretch runs on over tangent segments; those shorter than `SHORTEST_MM` are left out. Arcs with an
    inside radius under `tightest_mm` (one thickness unless given) carry none. The edge is tested across the
    strip each `STEP_MM` and the last clear place kept: a strip ends up to `STEP_MM` early, and no part of it
    reaches 0.01 mm into a disc of 15 mm."""
    tightest = thickness_mm if tightest_mm is None else tightest_mm
    pieces: list[Segment] = []
    free: list[np.ndarray] = []
    for s in outer.segments:
        count = max(2, math.ceil(s.length / STEP_MM) + 1)
        shares = np.linspace(0, 1, count)
        on, left = _along(s, shares)
        across = np.linspace(0, thickness_mm, 5)[:, None, None]
        band = (on + across * left).reshape(-1, 2)
        clear = np.logical_and.reduce([w.clears(band) for w in swings] or [np.ones(len(band), bool)])
        clear = clear.reshape(5, count).all(axis=0)
        inside = s.radius - thickness_mm if s.bulge > 0 else s.radius
        if inside < tightest:
            clear[:] = False
        pieces.append(s)
        free.append(clear)
    runs: list[list[Segment]] = []
    joined = False  # whether the last run reaches the present segment's start
    for s, clear in zip(pieces, free, strict=True):
        n = len(clear) - 1
        k = 0
        reached = False
        while k <= n:
            if not clear[k]:
                k += 1
                continue
            last = k
            while last < n and clear[last + 1]:
                last += 1
            if last > k:
                stretch = s if (k, last) == (0, n) else s.part(k / n, last / n)
                if k == 0 and joined:
                    runs[-1].append(stretch)
                else:
                    runs.append([stretch])
                reached = last == n
            k = last + 1
        joined = reached
    if joined and len(runs) > 1 and free[0][0] and math.dist(runs[0][0].start, runs[-1][-1].end) < 1e-9:
        runs[0] = runs.pop() + runs[0]
    for r in runs:
        if math.dist(r[0].start, r[-1].end) < 1e-9:  # all round: leave its ends 1 mm apart
            r[-1] = r[-1].part(0.0, max(0.5, 1 - 1.0 / r[-1].length))
    return [tuple(r) for r in runs if sum(s.length for s in r) >= SHORTEST_MM]
