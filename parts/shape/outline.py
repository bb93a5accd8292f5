"""A flat part's one truth: closed loops of lines and arcs, round holes, marks.

The blank (DXF), the area, the mass, the nest and the solid all come from the same `Outline`.
Lengths mm, areas mm², angles in radians unless a name says `_deg`. Part coordinates: x right, y up,
seen on the face that carries the marks; an outer loop runs counter-clockwise.

A segment starts at its vertex and carries that vertex's `bulge` = tan(included angle / 4), positive where
the path turns counter-clockwise (the arc then lies to the right of its chord). Source: public DXF reference,
LWPOLYLINE; check-rows D1 and D2 of the tests recompute it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field, replace
from functools import cached_property
from numbers import Real

from parts.base import require
from parts.base.fields import read_fields
from parts.base.frozen import dataclass

Point = tuple[float, float]
SAME_POINT_MM = 1e-6  # two corners nearer than this are one


class OutlineError(ValueError):
    """An outline that cannot be made; the text names the value and the limit."""


@dataclass(frozen=True)
class Vertex:
    """Start of a segment: position in mm and the bulge of the segment that leaves it."""

    x: float
    y: float
    bulge: float = 0.0


@dataclass(frozen=True)
class Segment:
    """A straight line (`radius` infinite) or circular arc from `start` to `end`; `sweep` in rad, + is
    counter-clockwise."""

    start: Point
    end: Point
    bulge: float

    @property
    def chord(self) -> float:
        return math.dist(self.start, self.end)

    @cached_property
    def sweep(self) -> float:
        return 4.0 * math.atan(self.bulge)

    @cached_property
    def radius(self) -> float:
        return math.inf if self.bulge == 0 else self.chord * (1 + self.bulge**2) / (4 * abs(self.bulge))

    @property
    def length(self) -> float:
        return self.chord if self.bulge == 0 else self.radius * abs(self.sweep)

    @cached_property
    def centre(self) -> Point:
        """Centre of the arc; undefined (ValueError) on a straight line."""
        if self.bulge == 0:
            raise ValueError("a straight segment has no centre")
        (x1, y1), (x2, y2) = self.start, self.end
        # distance of the centre from the chord's middle along the chord's left normal
        h = (1 - self.bulge**2) / (4 * self.bulge)
        return (x1 + x2) / 2 - h * (y2 - y1), (y1 + y2) / 2 + h * (x2 - x1)

    def at(self, share: float) -> Point:
        """Point at `share` (0 to 1) of the segment's length."""
        if self.bulge == 0:
            return (
                self.start[0] + share * (self.end[0] - self.start[0]),
                self.start[1] + share * (self.end[1] - self.start[1]),
            )
        # the chord to the point is 2r·sin(share·sweep/2), leaning back from the whole chord by half of what
        # is left
        lean, k = (share - 1) * self.sweep / 2, math.sin(share * self.sweep / 2) / math.sin(self.sweep / 2)
        dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
        c, n = k * math.cos(lean), k * math.sin(lean)
        return self.start[0] + c * dx - n * dy, self.start[1] + n * dx + c * dy

    def part(self, first: float, last: float) -> Segment:
        """The stretch between two shares (0 to 1) of the segment's length."""
        return Segment(self.at(first), self.at(last), math.tan((last - first) * self.sweep / 4))

    def distance_mm(self, x: float, y: float) -> float:
        """Least distance from a point, exact on lines and arcs."""
        (x1, y1), (x2, y2) = self.start, self.end
        if self.bulge == 0:
            dx, dy = x2 - x1, y2 - y1
            share = min(1.0, max(0.0, ((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy)))
            return math.hypot(x - x1 - share * dx, y - y1 - share * dy)
        cx, cy = self.centre
        turn = math.atan2(y - cy, x - cx) - math.atan2(y1 - cy, x1 - cx)
        if (turn if self.bulge > 0 else -turn) % (2 * math.pi) <= abs(self.sweep):
            return abs(math.hypot(x - cx, y - cy) - self.radius)
        return min(math.hypot(x - x1, y - y1), math.hypot(x - x2, y - y2))


@dataclass(frozen=True)
class Loop:
    """A closed path of lines and arcs; the last vertex's segment returns to the first."""

    vertices: tuple[Vertex, ...]

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        v = self.vertices
        pairs = zip(v, v[1:] + v[:1], strict=True)
        return tuple(_flattened(Segment((a.x, a.y), (b.x, b.y), a.bulge)) for a, b in pairs)

    @cached_property
    def moments(self) -> tuple[float, float, float, float, float, float]:
        """∫ of 1, x, y, x², y², xy over the enclosed area, signed (counter-clockwise positive). Closed
        form."""
        total = [0.0] * 6
        for s in self.segments:
            for i, value in enumerate(_triangle_moments(s.start, s.end)):
                total[i] += value
            if s.bulge:
                for i, value in enumerate(_cap_moments(s)):
                    total[i] += value
        a, b, c, d, e, f = total
        return a, b, c, d, e, f

    @property
    def area_mm2(self) -> float:
        """Signed area: positive where the loop runs counter-clockwise."""
        return self.moments[0]

    @property
    def perimeter_mm(self) -> float:
        return sum(s.length for s in self.segments)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(x min, y min, x max, y max), arcs included exactly."""
        xs, ys = [], []
        for s in self.segments:
            xs.append(s.start[0])
            ys.append(s.start[1])
            if s.bulge:
                (cx, cy), r = s.centre, s.radius
                a0 = math.atan2(s.start[1] - cy, s.start[0] - cx)
                quarters = sorted((a0 / (math.pi / 2), (a0 + s.sweep) / (math.pi / 2)))
                for k in range(math.floor(quarters[0]), math.ceil(quarters[1]) + 1):
                    a = k * math.pi / 2
                    along = (a - a0) / s.sweep
                    if 0 <= along <= 1:
                        xs.append(cx + r * math.cos(a))
                        ys.append(cy + r * math.sin(a))
        return min(xs), min(ys), max(xs), max(ys)

    def reversed(self) -> Loop:
        v = self.vertices
        return Loop(tuple(Vertex(v[i].x, v[i].y, -v[i - 1].bulge) for i in range(len(v) - 1, -1, -1)))

    def mirrored(self) -> Loop:
        """Mirrored in the y axis (x changes sign); runs the same way round as before."""
        return Loop(tuple(Vertex(-v.x, v.y, -v.bulge) for v in self.vertices)).reversed()

    def moved(self, dx: float = 0.0, dy: float = 0.0, turn_rad: float = 0.0) -> Loop:
        """Turned about the origin, then shifted."""
        c, s = math.cos(turn_rad), math.sin(turn_rad)
        return Loop(
            tuple(Vertex(c * v.x - s * v.y + dx, s * v.x + c * v.y + dy, v.bulge) for v in self.vertices)
        )

    def points(self, chord_error_mm: float = 0.01, outside: bool = False) -> list[Point]:
        """A polygon within `chord_error_mm` of the loop. With `outside`, no part of the region enclosed by a
        counter-clockwise loop lies outside the polygon (convex arcs are circumscribed, hollow arcs
        chorded)."""
        out: list[Point] = []
        for s in self.segments:
            out.append(s.start)
            if not s.bulge:
                continue
            r, sweep = s.radius, abs(s.sweep)
            round_it = (
                outside and s.bulge > 0
            )  # corners then stand off by r/cos(step/2) - r, a little more than the sagitta
            drop = chord_error_mm / (r + chord_error_mm) if round_it else min(chord_error_mm / r, 1.0)
            step_rad = 4 * math.asin(
                math.sqrt(drop / 2)
            )  # 2·acos(1 - drop), without its rounding for the flattest arcs
            n = max(math.ceil(sweep / step_rad), math.ceil(sweep / 1.6))
            if round_it:
                (cx, cy), step = s.centre, s.sweep / n
                a0 = math.atan2(s.start[1] - cy, s.start[0] - cx)
                reach = r / math.cos(step / 2)
                out += [
                    (
                        cx + reach * math.cos(a0 + (k + 0.5) * step),
                        cy + reach * math.sin(a0 + (k + 0.5) * step),
                    )
                    for k in range(n)
                ]
            else:
                out += [s.at(k / n) for k in range(1, n)]
        return out


FITS = ("clearance", "reamed", "jig", "vent", "weld")


@dataclass(frozen=True)
class Hole:
    """A round hole: centre and finished diameter in mm, what it is for, and how it is finished.

    `fit`: "clearance", "reamed", "jig", "vent" or "weld" (a hole that a welded tube fills). `over_mm`: how
    much larger than `diameter_mm` it is cut, so that what fills it goes in."""

    x: float
    y: float
    diameter_mm: float
    purpose: str
    fit: str = "clearance"
    over_mm: float = 0.0

    def __post_init__(self) -> None:
        read_fields(self, f"hole '{self.purpose}'")
        require.one_of("fit", self.fit, FITS)


@dataclass(frozen=True)
class Mark:
    """Something marked and never cut: `kind` "line" (a bend or datum line through `points`), "pop" (a centre
    pop at the one point) or "text" (`text` of `height_mm` at the point)."""

    kind: str
    points: tuple[Point, ...]
    text: str = ""
    height_mm: float = 5.0


TEXT_WIDTH = 0.65  # of its height, a letter of plain CAD lettering; common practice


def _mirrored_mark(m: Mark) -> Mark:
    """The mark on the other hand; a text starts where its mirrored end was, so that it keeps to its place on
    the part."""
    shift = TEXT_WIDTH * m.height_mm * len(m.text) if m.kind == "text" else 0.0
    return replace(m, points=tuple((-x - shift, y) for x, y in m.points))


@dataclass(frozen=True)
class Outline:
    """A flat part: one outer loop (counter-clockwise), inner loops (windows, clockwise), round holes,
    marks."""

    outer: Loop
    inner: tuple[Loop, ...] = ()
    holes: tuple[Hole, ...] = ()
    marks: tuple[Mark, ...] = field(default=(), compare=False)

    @cached_property
    def moments(self) -> tuple[float, ...]:
        """∫ of 1, x, y, x², y², xy over the material."""
        total = list(self.outer.moments)
        for loop in self.inner:
            sign = math.copysign(1.0, loop.area_mm2)
            total = [t - sign * m for t, m in zip(total, loop.moments, strict=True)]
        for h in self.holes:
            a = math.pi * h.diameter_mm**2 / 4
            q = a * h.diameter_mm**2 / 16
            hole = (a, a * h.x, a * h.y, a * h.x**2 + q, a * h.y**2 + q, a * h.x * h.y)
            total = [t - m for t, m in zip(total, hole, strict=True)]
        return tuple(total)

    @property
    def area_mm2(self) -> float:
        """Area of the material: holes and windows taken out."""
        return self.moments[0]

    @property
    def gross_area_mm2(self) -> float:
        return self.outer.area_mm2

    @property
    def centroid(self) -> Point:
        m = self.moments
        return m[1] / m[0], m[2] / m[0]

    @property
    def cut_length_mm(self) -> float:
        return (
            self.outer.perimeter_mm
            + sum(loop.perimeter_mm for loop in self.inner)
            + sum(math.pi * h.diameter_mm for h in self.holes)
        )

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        return self.outer.bounds

    def mirrored(self) -> Outline:
        """The other hand: mirrored in the y axis. Texts keep reading left to right."""
        return Outline(
            self.outer.mirrored(),
            tuple(loop.mirrored() for loop in self.inner),
            tuple(replace(h, x=-h.x) for h in self.holes),
            tuple(_mirrored_mark(m) for m in self.marks),
        )

    def moved(self, dx: float = 0.0, dy: float = 0.0, turn_rad: float = 0.0) -> Outline:
        c, s = math.cos(turn_rad), math.sin(turn_rad)

        def put(x: float, y: float) -> Point:
            return c * x - s * y + dx, s * x + c * y + dy

        return Outline(
            self.outer.moved(dx, dy, turn_rad),
            tuple(loop.moved(dx, dy, turn_rad) for loop in self.inner),
            tuple(replace(h, x=put(h.x, h.y)[0], y=put(h.x, h.y)[1]) for h in self.holes),
            tuple(replace(m, points=tuple(put(*p) for p in m.points)) for m in self.marks),
        )

    def check(self) -> None:
        """Raise OutlineError unless every loop is simple and every hole and window lies inside with metal
        round it.

        Uses shapely, so that the rule is not our own; call it before a blank or solid is made."""
        from shapely import Point as Dot
        from shapely import Polygon, prepare

        def polygon(loop: Loop, what: str) -> Polygon:
            for v in loop.vertices:
                if not all(isinstance(n, Real) and math.isfinite(n) for n in (v.x, v.y, v.bulge)):
                    raise OutlineError(f"{what}: a corner is {v}; it must be finite numbers")
            if len(loop.vertices) < (2 if any(v.bulge for v in loop.vertices) else 3):
                raise OutlineError(f"{what} has {len(loop.vertices)} corners and encloses nothing")
            for s in loop.segments:
                if s.chord < SAME_POINT_MM:
                    raise OutlineError(
                        f"{what}: two corners coincide at x {s.start[0]:.3f}, y {s.start[1]:.3f} mm"
                    )
            points = loop.points(0.002)
            p = Polygon(points if len(points) > 2 else ())
            if not p.is_valid or p.area < 1e-6:
                raise OutlineError(f"{what} crosses itself or encloses nothing")
            return p

        metal = polygon(self.outer, "the outer loop")
        if self.outer.area_mm2 <= 0:
            raise OutlineError(
                f"the outer loop must run counter-clockwise; its signed area is {self.outer.area_mm2:.3f} mm²"
            )
        for h in self.holes:
            if h.diameter_mm <= 0:
                raise OutlineError(
                    f"hole '{h.purpose}': diameter is {h.diameter_mm:g} mm; it must be more than 0"
                )
        voids = [(polygon(loop, f"window {i + 1}"), f"window {i + 1}") for i, loop in enumerate(self.inner)]
        voids += [
            (Dot(h.x, h.y).buffer(h.diameter_mm / 2, quad_segs=90), f"hole '{h.purpose}'") for h in self.holes
        ]
        prepare(metal)
        for shape, what in voids:
            if not metal.contains_properly(shape):
                raise OutlineError(f"{what} is not wholly inside the plate")
        for i, (a, what_a) in enumerate(voids):
            for b, what_b in voids[i + 1 :]:
                if a.intersects(b):
                    raise OutlineError(f"{what_a} runs into {what_b}")


# ---------------------------------------------------------------------------------------------- builders


def circle(x: float, y: float, diameter_mm: float) -> Loop:
    r = diameter_mm / 2
    return Loop((Vertex(x + r, y, 1.0), Vertex(x - r, y, 1.0)))


def rectangle(x0: float, y0: float, x1: float, y1: float, corner_radius_mm: float = 0.0) -> Loop:
    return rounded([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], corner_radius_mm)


def rounded(corners: Sequence[Point], radius_mm: float | Sequence[float] = 0.0) -> Loop:
    """A polygon (counter-clockwise or clockwise) with its corners rounded by true arcs.

    `radius_mm` one radius for all or one per corner (0 keeps it sharp). Raises OutlineError where a radius
    needs more edge than there is. Tangent length r/tan(A/2), closed form (check-row D8)."""
    n = len(corners)
    radii = [float(radius_mm)] * n if isinstance(radius_mm, int | float) else [float(r) for r in radius_mm]
    if n < 3 or len(radii) != n:
        raise OutlineError(f"a polygon needs at least 3 corners and as many radii; got {n} and {len(radii)}")
    if not all(math.isfinite(r) and r >= 0 for r in radii):
        raise OutlineError(f"corner radius list {radii} mm: each radius must be 0 or more")
    cuts: list[float] = []
    turns: list[float] = []
    for i, (x, y) in enumerate(corners):
        (px, py), (qx, qy) = corners[i - 1], corners[(i + 1) % n]
        ux, uy, vx, vy = x - px, y - py, qx - x, qy - y
        turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        turns.append(turn)
        cuts.append(radii[i] * abs(math.tan(turn / 2)))
    vertices: list[Vertex] = []
    for i, (x, y) in enumerate(corners):
        (px, py), (qx, qy) = corners[i - 1], corners[(i + 1) % n]
        before, after = math.dist((px, py), (x, y)), math.dist((x, y), (qx, qy))
        if cuts[i] + cuts[(i + 1) % n] > after + 1e-9:
            raise OutlineError(
                f"corner radius {radii[i]:g} mm at x {x:.2f}, y {y:.2f} needs "
                f"{cuts[i] + cuts[(i + 1) % n]:.2f} mm "
                f"of an edge {after:.2f} mm long; use a smaller radius"
            )
        if cuts[i] < 1e-12:
            vertices.append(Vertex(x, y))
            continue
        ta, tb = cuts[i] / before, cuts[i] / after
        vertices.append(Vertex(x + (px - x) * ta, y + (py - y) * ta, math.tan(turns[i] / 4)))
        vertices.append(Vertex(x + (qx - x) * tb, y + (qy - y) * tb))
    return Loop(without_repeats(vertices))


def without_repeats(vertices: list[Vertex]) -> tuple[Vertex, ...]:
    """Drop a vertex that repeats the next one (an arc or edge of no length)."""
    n = len(vertices)
    return tuple(
        v
        for i, v in enumerate(vertices)
        if math.hypot(v.x - vertices[(i + 1) % n].x, v.y - vertices[(i + 1) % n].y) > SAME_POINT_MM
    )


def _triangle_moments(a: Point, b: Point) -> tuple[float, ...]:
    """∫ of 1, x, y, x², y², xy over the signed triangle origin-a-b."""
    (x1, y1), (x2, y2) = a, b
    c = x1 * y2 - x2 * y1
    return (
        c / 2,
        c * (x1 + x2) / 6,
        c * (y1 + y2) / 6,
        c * (x1 * x1 + x1 * x2 + x2 * x2) / 12,
        c * (y1 * y1 + y1 * y2 + y2 * y2) / 12,
        c * (2 * x1 * y1 + x1 * y2 + x2 * y1 + 2 * x2 * y2) / 24,
    )


def _flattened(s: Segment) -> Segment:
    """An arc that rises less than the same-point distance is a straight line: its centre would be lost in
    rounding."""
    return replace(s, bulge=0.0) if s.bulge and abs(s.bulge) * s.chord / 2 < SAME_POINT_MM else s


def _cap_moments(s: Segment) -> tuple[float, ...]:
    """The same over the signed circular segment between an arc and its chord (sector less triangle, closed
    form)."""
    if abs(s.sweep) < 0.5:
        return _flat_cap_moments(s)
    (cx, cy), r, sweep = s.centre, s.radius, s.sweep
    a = math.atan2(s.start[1] - cy, s.start[0] - cx)
    b = a + sweep
    area = r * r * sweep / 2
    mx = r**3 / 3 * (math.sin(b) - math.sin(a))
    my = -(r**3) / 3 * (math.cos(b) - math.cos(a))
    q = r**4 / 8
    ixx = q * (sweep + (math.sin(2 * b) - math.sin(2 * a)) / 2)
    iyy = q * (sweep - (math.sin(2 * b) - math.sin(2 * a)) / 2)
    ixy = -q * (math.cos(2 * b) - math.cos(2 * a)) / 2
    t = _triangle_moments((s.start[0] - cx, s.start[1] - cy), (s.end[0] - cx, s.end[1] - cy))
    area, mx, my, ixx, iyy, ixy = area - t[0], mx - t[1], my - t[2], ixx - t[3], iyy - t[4], ixy - t[5]
    return (
        area,
        mx + area * cx,
        my + area * cy,
        ixx + 2 * cx * mx + cx * cx * area,
        iyy + 2 * cy * my + cy * cy * area,
        ixy + cx * my + cy * mx + cx * cy * area,
    )


# 8-point Gauss-Legendre rule on -1 to 1: places and weights (Abramowitz and Stegun, table 25.4; recomputed by
# numpy)
_GAUSS = (
    (0.18343464249564980, 0.36268378337836198),
    (0.52553240991632899, 0.31370664587788729),
    (0.79666647741362674, 0.22238103445337447),
    (0.96028985649753623, 0.10122853629037626),
)


def _flat_cap_moments(s: Segment) -> tuple[float, ...]:
    """The same for a flat arc, where sector less triangle would lose all figures: ∫ over the height above the
    chord.

    Along the chord u, the height is h(u) = (c²/4 - u²) / (√(r² - u²) + √(r² - c²/4)); Gauss quadrature over
    u."""
    c, r, sign = s.chord, s.radius, math.copysign(1.0, s.bulge)
    (x1, y1), (x2, y2) = s.start, s.end
    ux, uy = (x2 - x1) / c, (y2 - y1) / c
    nx, ny = sign * uy, -sign * ux  # towards the arc
    rest = math.sqrt(r * r - c * c / 4)
    total = [0.0] * 6
    for place, weight in _GAUSS:
        for u in (-place * c / 2, place * c / 2):
            h = (c * c / 4 - u * u) / (math.sqrt(r * r - u * u) + rest)
            x, y, w = (x1 + x2) / 2 + u * ux, (y1 + y2) / 2 + u * uy, sign * weight * c / 2
            for i, v in enumerate(
                (
                    h,
                    h * x + h * h / 2 * nx,
                    h * y + h * h / 2 * ny,
                    h * x * x + h * h * x * nx + h**3 / 3 * nx * nx,
                    h * y * y + h * h * y * ny + h**3 / 3 * ny * ny,
                    h * x * y + h * h / 2 * (x * ny + y * nx) + h**3 / 3 * nx * ny,
                )
            ):
                total[i] += w * v
    return tuple(total)
