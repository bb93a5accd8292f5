"""The outside of a tube as other tubes meet it: where straight lines enter and leave it, in closed form.

A `Run` is a hull, its bore filled: a rounded rectangle (two boxes and four corner discs) or a disc, drawn out
along an axis from `low_mm` to `high_mm`, both infinite where nothing is said. A `Face` is a half space.
Lengths mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from parts.member import Section
from parts.shape.belt import Boss, hull
from parts.shape.form import Frame, Prism, Round, Vector
from parts.shape.outline import Outline, rectangle

TOUCH_MM = 1e-7  # a line this far outside still touches
_ALONG = 1e-6  # a share of a line's direction that counts as none


@dataclass(frozen=True)
class Run:
    """A tube that another one is cut to: its outside only. `frame`: its axis along z, its section about
    it."""

    name: str
    section: Section
    frame: Frame
    low_mm: float = -math.inf
    high_mm: float = math.inf

    def span(self, points: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where lines point + t·direction (unit) enter and leave the hull: two arrays of t; inf, -inf for a
        miss."""
        turn, d = self._turn, self._turn @ np.asarray(direction, float)
        p = (np.asarray(points, float) - self.frame.origin) @ turn.T
        x, y = p[:, 0], p[:, 1]
        found = []
        if len(self._boxes):
            found.append(_both(_slab(x, d[0], self._boxes[:, :1]), _slab(y, d[1], self._boxes[:, 1:])))
        if len(self._discs):
            found.append(
                _disc(x - self._discs[:, :1], y - self._discs[:, 1:], d, self.section.outer_corner_mm)
            )
        enter = np.min([f[0].min(0) for f in found], axis=0)
        leave = np.max([f[1].max(0) for f in found], axis=0)
        if math.isinf(self.low_mm) and math.isinf(self.high_mm):
            return enter, leave
        return _both((enter, leave), _ends(p[:, 2], d[2], self.low_mm, self.high_mm))

    def mirrored(self, name: str) -> Run:
        """Its mirror image in the plane y = 0, under a name. A section is its own image; the axis keeps its
        sense."""
        (ox, oy, oz), (x, y, z), (u, v, w) = self.frame.origin, self.frame.x, self.frame.z
        return Run(
            name,
            self.section,
            Frame((ox, 0.0 - oy, oz), (x, 0.0 - y, z), (u, 0.0 - v, w)),
            self.low_mm,
            self.high_mm,
        )

    def faces(self) -> list[Face]:
        """The four flats of a rectangular section, outwards."""
        m, s = self.frame.matrix(), self.section
        out = []
        for axis, half in ((0, s.width_mm / 2), (1, s.height_mm / 2)):
            for way in (1.0, -1.0):
                n = way * m[:3, axis]
                out.append(Face(self.name, tuple(map(float, m[:3, 3] + half * n)), tuple(map(float, n))))
        return out

    def along_mm(self, points: np.ndarray) -> np.ndarray:
        """Places of points along the axis, from the frame's origin."""
        return (np.asarray(points, float) - self.frame.origin) @ self._turn[2]

    def half_mm(self, direction: np.ndarray) -> float:
        """Half the section's extent in a direction square to the axis."""
        x, y, _ = np.abs(self._turn @ np.asarray(direction, float))
        c = self.section.outer_corner_mm
        return float(
            (self.section.width_mm / 2 - c) * x + (self.section.height_mm / 2 - c) * y + c * math.hypot(x, y)
        )

    def piece(self, near: np.ndarray, sweep: np.ndarray | None = None) -> Prism | Round:
        """The hull round all points `near`, to be taken out of a solid; with `sweep` (a vector) also all it
        passes moved along it."""
        reach = 0.0 if sweep is None else abs(float(self._turn[2] @ sweep))
        z = self.along_mm(near)
        low, high = (
            max(float(z.min()) - 1.0 - reach, self.low_mm),
            min(float(z.max()) + 1.0 + reach, self.high_mm),
        )
        frame = Frame((0.0, 0.0, low)).then(self.frame)
        s = self.section
        if sweep is None:
            if s.is_round:
                return Round(s.width_mm, high - low, frame=frame)
            return Prism(Outline(s.outer()), high - low, frame)
        x, y, c = s.width_mm / 2, s.height_mm / 2, s.outer_corner_mm
        dx, dy = (self._turn @ sweep)[:2]
        corners = map(tuple, self._discs.tolist()) if c else ((x, y), (-x, y), (-x, -y), (x, -y))
        moved = [(a + float(u), b + float(v)) for a, b in corners for u, v in ((0.0, 0.0), (dx, dy))]
        return Prism(Outline(hull([Boss(a, b, c or 1e-3) for a, b in moved])), high - low, frame)

    @cached_property
    def _turn(self) -> np.ndarray:
        return self.frame.matrix()[:3, :3].T.copy()

    @cached_property
    def _boxes(self) -> np.ndarray:
        """Half sizes, one box a row."""
        s, c = self.section, self.section.outer_corner_mm
        x, y = s.width_mm / 2, s.height_mm / 2
        return np.array([] if s.is_round else [(x, y - c), (x - c, y)] if c else [(x, y)])

    @cached_property
    def _discs(self) -> np.ndarray:
        """Centres, one disc a row."""
        s, c = self.section, self.section.outer_corner_mm
        x, y = s.width_mm / 2 - c, s.height_mm / 2 - c
        return np.array([(0.0, 0.0)] if s.is_round else [(x, y), (-x, y), (-x, -y), (x, -y)] if c else [])


@dataclass(frozen=True)
class Face:
    """A plane through `point` that a tube is cut on; `normal` points to the metal that stays."""

    name: str
    point: Vector
    normal: Vector

    def span(self, points: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """As `Run.span`: a line is within from without end to the plane. Raises ValueError where the plane
        lies along the lines."""
        n = np.asarray(self.normal, float)
        rate = float(n @ direction)
        if rate < 1e-3:
            raise ValueError(f"the plane at {self.name} lies along the tube it should cut")
        leave = (np.asarray(self.point, float) - points) @ n / rate
        return np.full(len(leave), -math.inf), leave

    def mirrored(self, name: str) -> Face:
        (x, y, z), (u, v, w) = self.point, self.normal
        return Face(name, (x, 0.0 - y, z), (u, 0.0 - v, w))

    def piece(self, near: np.ndarray, sweep: np.ndarray | None = None) -> Prism:
        """A block on the far side of the plane that holds all points `near` beyond it."""
        n = np.asarray(self.normal, float)
        frame = Frame.looking(self.point, -n, np.eye(3)[int(np.argmin(np.abs(n)))])
        reach = (
            2.0
            + float(np.linalg.norm(np.asarray(near) - self.point, axis=1).max())
            + (0.0 if sweep is None else float(np.linalg.norm(sweep)))
        )
        return Prism(Outline(rectangle(-reach, -reach, reach, reach)), reach, frame)


Cutter = Run | Face
Lines = tuple[np.ndarray, np.ndarray]


def _slab(p: np.ndarray, d: float, half: np.ndarray) -> Lines:
    """Within ±half, for each half (a column) and each line."""
    if abs(d) < _ALONG:
        inside = np.abs(p) <= half + TOUCH_MM
        return np.where(inside, -math.inf, math.inf), np.where(inside, math.inf, -math.inf)
    middle, reach = -p / d, half / abs(d)
    return middle - reach, middle + reach


def _ends(p: np.ndarray, d: float, low: float, high: float) -> Lines:
    if abs(d) < _ALONG:
        inside = (p >= low - TOUCH_MM) & (p <= high + TOUCH_MM)
        return np.where(inside, -math.inf, math.inf), np.where(inside, math.inf, -math.inf)
    a, b = (low - p) / d, (high - p) / d
    return (a, b) if d > 0 else (b, a)


def _disc(x: np.ndarray, y: np.ndarray, d: np.ndarray, radius: float) -> Lines:
    a = math.hypot(d[0], d[1])
    if a < _ALONG:
        inside = np.hypot(x, y) <= radius + TOUCH_MM
        return np.where(inside, -math.inf, math.inf), np.where(inside, math.inf, -math.inf)
    off = np.abs(x * d[1] - y * d[0]) / a
    middle = -(x * d[0] + y * d[1]) / a**2
    half = np.sqrt(np.maximum(radius**2 - off**2, 0.0)) / a
    hit = off <= radius + TOUCH_MM
    return np.where(hit, middle - half, math.inf), np.where(hit, middle + half, -math.inf)


def _both(one: Lines, other: Lines) -> Lines:
    """Within both; a line that touches in a point counts."""
    enter, leave = np.maximum(one[0], other[0]), np.minimum(one[1], other[1])
    hit = enter <= leave + TOUCH_MM
    return np.where(hit, enter, math.inf), np.where(hit, leave, -math.inf)
