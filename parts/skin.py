"""The outside of a tube as other tubes meet it: where straight lines enter and leave it, in closed form.

A `Run` is a hull, its bore filled: a rounded rectangle (two boxes and four corner discs) or a disc, drawn out
along an axis from `low_mm` to `high_mm`, both infinite where nothing is said. A `Face` is a half space.
Lengths mm.
"""

from __future__ import annotations

import itertools
import math
from functools import cached_property, reduce

import numpy as np

from parts.base.frozen import dataclass
from parts.member import Section
from parts.shape.belt import Boss, hull
from parts.shape.form import Form, Frame, Prism, Round, Vector, vector
from parts.shape.outline import Outline, circle, rectangle

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
        enter = reduce(np.minimum, [f[0].min(0) for f in found])
        leave = reduce(np.maximum, [f[1].max(0) for f in found])
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
                out.append(Face(self.name, vector(m[:3, 3] + half * n), vector(n)))
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

    def pieces(self, near: np.ndarray, sweep: np.ndarray | None = None) -> list[Prism | Round]:
        """The hull round all points `near`, to be taken out of a solid; with `sweep` (a vector) also all it
        passes moved along it. Nothing where it ends before it comes near.

        Every line along `sweep` that meets the hull meets its end faces or the flat piece of it between its
        two edges as they are seen along `sweep`: these, drawn out along it, are the hull's shadow."""
        reach = 0.0 if sweep is None else abs(float(self._turn[2] @ sweep))
        z = self.along_mm(near)
        low = max(float(z.min()) - 1.0 - reach, self.low_mm)
        high = min(float(z.max()) + 1.0 + reach, self.high_mm)
        if high <= low:
            return []
        s = self.section
        outline = Outline(circle(0, 0, s.width_mm) if s.is_round else s.outer())
        base = Frame((0.0, 0.0, low)).then(self.frame)
        out: list[Prism | Round] = [
            Round(s.width_mm, high - low, frame=base) if s.is_round else Prism(outline, high - low, base)
        ]
        if sweep is None:
            return out
        x, y, along = self._turn @ sweep
        ends = [at for at in (low, high) if at in (self.low_mm, self.high_mm)]
        if not ends:
            return [self._passed(x, y, high - low, base)]
        if math.hypot(x, y) > _ALONG * abs(along):
            edge = self._edge(-y, x)
            half = float(np.hypot(*edge))
            u, v = edge / half
            middle = Outline(rectangle(-half, 0.0, half, high - low))
            out.append(drawn_out(middle, Frame((0.0, 0.0, low), (u, v, 0.0), (v, -u, 0.0)), (x, y, along)))
        if abs(along) > _ALONG:
            out += [drawn_out(outline, Frame((0.0, 0.0, at)), (x, y, along)) for at in ends]
        return [out[0], *Form(tuple(out[1:])).moved(self.frame).pieces]

    def _passed(self, x: float, y: float, length_mm: float, base: Frame) -> Prism:
        """What a hull without ends passes, moved by (x, y) of its section."""
        s, c = self.section, self.section.outer_corner_mm
        half = s.width_mm / 2, s.height_mm / 2
        corners = map(tuple, self._discs.tolist()) if c else itertools.product(*((-h, h) for h in half))
        moved = [(a + float(u), b + float(v)) for a, b in corners for u, v in ((0.0, 0.0), (x, y))]
        return Prism(Outline(hull([Boss(a, b, c or 1e-3) for a, b in moved])), length_mm, base)

    def _edge(self, x: float, y: float) -> np.ndarray:
        """The place of the section that lies farthest along (x, y)."""
        s = self.section
        unit = np.array([x, y]) / math.hypot(x, y)
        if s.is_round:
            return unit * s.width_mm / 2
        c = s.outer_corner_mm
        corner = np.array([s.width_mm / 2 - c, s.height_mm / 2 - c])
        return np.where(unit < 0, -corner, corner) + c * unit

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

    def pieces(self, near: np.ndarray, sweep: np.ndarray | None = None) -> list[Prism | Round]:
        """A block on the far side of the plane that holds all points `near` beyond it."""
        n = np.asarray(self.normal, float)
        frame = Frame.looking(self.point, -n, np.eye(3)[int(np.argmin(np.abs(n)))])
        reach = (
            2.0
            + float(np.linalg.norm(np.asarray(near) - self.point, axis=1).max())
            + (0.0 if sweep is None else float(np.linalg.norm(sweep)))
        )
        return [Prism(Outline(rectangle(-reach, -reach, reach, reach)), reach, frame)]


def drawn_out(outline: Outline, frame: Frame, sweep) -> Prism:
    """A flat outline, in `frame`'s x and y, drawn out along `sweep`; all in the same axes."""
    x, y, z = frame.matrix()[:3, :3].T @ sweep
    if z < 0:  # the frame turned over about its y
        (a, b, c), (u, v, w) = frame.x, frame.z
        frame, outline, x, z = Frame(frame.origin, (-a, -b, -c), (-u, -v, -w)), outline.mirrored(), -x, -z
    return Prism(outline, float(z), frame, lean_mm=(float(x), float(y)))


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
