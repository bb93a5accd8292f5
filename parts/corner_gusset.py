"""A gusset that stands in the corner of two planes at any angle, or closes the corner of three; its edges end
a fit-up gap before them, it is coped round tubes in its way and relieved at the corner's own weld.

A plane is a point on it and the direction out of its metal. Lengths mm, in the axes the planes are given in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from parts.base import require
from parts.base.frozen import dataclass
from parts.member import Member
from parts.member_shadow import region
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism, Vector, unit, vector
from parts.shape.outline import Loop, Outline, OutlineError, Point, Vertex, without_repeats

FIT_UP_MM = 0.5  # widest gap a fillet bridges well; common practice
RELIEF_MM, TOE_MM = 10.0, 6.0  # clear of the corner's own weld; no feather edge at a toe; common practice
LEAST_MM = 12.0  # shortest edge worth a weld; common practice
LEAST_DEG = 30.0  # between gusset and plane, or between two edges: below it no torch gets in


@dataclass(frozen=True)
class CornerGusset(Flat):
    """`planes`: two or three of (point on it, direction out of its metal).

    Two: the web stands square to both, its mid plane through `at` (a point on or near the corner's line;
    None: the first plane's point), `legs_mm` long along each. Three: it lies across the corner and meets the
    three edges in which the planes meet `legs_mm` from the corner (of planes 1 and 2, of 2 and 3, of 3 and
    1).

    `round_`: tubes it is cut round with the fit-up gap. `relief`: "round" (a hole on the corner, through
    which a weld runs on) or "straight". Blank: x along the first plane's edge. Raises OutlineError with
    value and limit."""

    planes: tuple[tuple[Vector, Vector], ...]
    legs_mm: tuple[float, ...]
    thickness_mm: float
    at: Vector | None = None
    relief_mm: float = RELIEF_MM
    relief: str = "round"
    toe_mm: float = TOE_MM
    gap_mm: float = FIT_UP_MM
    round_: tuple[Member, ...] = ()
    material: str = "S275"
    name: str = "corner gusset"

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(thickness_mm=self.thickness_mm)
        if len(self.planes) not in (2, 3) or len(self.legs_mm) != len(self.planes):
            raise OutlineError(
                f"{self.name}: {len(self.planes)} planes and {len(self.legs_mm)} legs; it wants two or three "
                f"planes and a leg for each"
            )
        if self.relief not in ("round", "straight"):
            raise OutlineError(f'{self.name}: relief is "{self.relief}"; it must be "round" or "straight"')
        for field in ("relief_mm", "toe_mm", "gap_mm"):
            if not 0 <= getattr(self, field) < math.inf:
                raise OutlineError(f"{self.name}: {field} is {getattr(self, field):g}; it must be 0 or more")
        for k, leg in enumerate(self.legs_mm, 1):
            if not LEAST_MM + self.relief_mm <= leg < math.inf:
                raise OutlineError(
                    f"{self.name}: leg {k} is {leg:g} mm; the least is {LEAST_MM + self.relief_mm:g}, a seam "
                    f"of {LEAST_MM:g} mm beside the relief"
                )
        for angle in self.seam_deg:
            if angle < LEAST_DEG:
                raise OutlineError(
                    f"{self.name}: it leans to {angle:.1f} deg of a plane; the least that can be welded is "
                    f"{LEAST_DEG:g}"
                )
        self.outline().check()

    @cached_property
    def _normals(self) -> np.ndarray:
        try:
            return np.array([unit(n) for _, n in self.planes])
        except ValueError as e:
            raise OutlineError(f"{self.name}: a plane's direction has no length") from e

    @cached_property
    def corner(self) -> Vector:
        """Where the planes meet: of two the point nearest to `at`."""
        n = self._normals
        own = [float(m @ np.asarray(p, float)) for m, (p, _) in zip(n, self.planes, strict=True)]
        if len(n) == 2:
            line = self._edge(0, 1)
            n = np.vstack((n, line))
            own.append(float(line @ np.asarray(self.at if self.at is not None else self.planes[0][0], float)))
        elif abs(np.linalg.det(n)) < 0.05:
            raise OutlineError(f"{self.name}: the three planes do not meet in one corner")
        return vector(np.linalg.solve(n, np.array(own)))

    def _edge(self, i: int, j: int) -> np.ndarray:
        """Direction of the line in which two planes meet."""
        across = np.cross(self._normals[i], self._normals[j])
        if np.linalg.norm(across) < math.sin(math.radians(LEAST_DEG)):
            between = math.degrees(math.asin(min(float(np.linalg.norm(across)), 1.0)))
            raise OutlineError(
                f"{self.name}: planes {i + 1} and {j + 1} are {between:.1f} deg from lying along each other; "
                f"the least that can be welded is {LEAST_DEG:g}"
            )
        return unit(across)

    @cached_property
    def frame(self) -> Frame:
        """Of the blank: in its lower face, on the corner (of three planes amidst), z through the plate."""
        n, corner, half = self._normals, np.array(self.corner), self.thickness_mm / 2
        if len(n) == 2:
            z = self._edge(0, 1)
            return Frame.looking(corner - half * z, z, np.cross(n[0], z) * self._sense(z))
        ends = np.array([corner + leg * e for leg, e in zip(self.legs_mm, self._edges, strict=True)])
        z = unit(np.cross(ends[1] - ends[0], ends[2] - ends[0]))
        z = z if float(z @ n.sum(0)) > 0 else -z
        middle = ends.mean(0)
        return Frame.looking(middle - half * z, z, np.cross(n[0], z))

    def _sense(self, z: np.ndarray) -> float:
        """Along the first plane, away from the second's metal."""
        return 1.0 if float(np.cross(self._normals[0], z) @ self._normals[1]) > 0 else -1.0

    @cached_property
    def _edges(self) -> list[np.ndarray]:
        """Directions of the three edges of the corner, away from the metal of the plane that is not in
        them."""
        out = []
        for i, j, other in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
            e = self._edge(i, j)
            out.append(e if float(e @ self._normals[other]) > 0 else -e)
        return out

    @property
    def seam_deg(self) -> tuple[float, ...]:
        """Angle between the gusset and each plane. Under 60 a fillet counts as a partial penetration butt
        weld (EN 1993-1-8 4.3.2.1)."""
        z = self.frame.matrix()[:3, 2]
        return tuple(90.0 - math.degrees(math.asin(min(abs(float(n @ z)), 1.0))) for n in self._normals)

    @property
    def stand_off_mm(self) -> tuple[float, ...]:
        """Gap of each edge's farther face from its plane where the edge is cut square: grind a bevel where it
        is more than a weld bridges."""
        return tuple(self.gap_mm + self.thickness_mm * math.cos(math.radians(a)) for a in self.seam_deg)

    @cached_property
    def _lines(self) -> list[tuple[Point, Point]]:
        """A point and the direction of each edge's line on the blank, the metal on its left."""
        m = self.frame.matrix()
        out = []
        for n, (p, _) in zip(self._normals, self.planes, strict=True):
            x, y, z = (float(n @ m[:3, k]) for k in range(3))
            flat = math.hypot(x, y)
            # n·(origin + x·u + y·v + w·z) ≥ gap for every w from 0 to the thickness
            away = (
                float(n @ (np.asarray(p, float) - m[:3, 3])) + self.gap_mm - min(0.0, self.thickness_mm * z)
            )
            out.append(((x * away / flat**2, y * away / flat**2), (y / flat, -x / flat)))
        return out

    def outline(self) -> Outline:
        return self._outline

    @cached_property
    def _outline(self) -> Outline:
        loop = self._between_two() if len(self.planes) == 2 else self._across_three()
        return Outline(_coped(loop, self.round_, self.frame, self.thickness_mm, self.gap_mm, self.name))

    def _between_two(self) -> Loop:
        (p, u), (q, v) = self._lines
        at, legs = _meet(p, u, q, v), self.legs_mm
        if v[0] * u[1] - v[1] * u[0] < 0:  # the path comes in along the first edge and leaves on the second
            u, v, legs = v, u, legs[::-1]
        v = (-v[0], -v[1])  # now both lead away from the corner
        turn = math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])
        a, b = _along(at, u, legs[0]), _along(at, v, legs[1])
        toe = min(self.toe_mm, *(leg * math.tan(turn / 2) for leg in legs))
        a2, b2 = _along(a, (-u[1], u[0]), toe), _along(b, (v[1], -v[0]), toe)
        r = self.relief_mm
        corners = [Vertex(*_along(at, u, r)), Vertex(*a), Vertex(*a2), Vertex(*b2), Vertex(*b)]
        if r:
            hollow = -math.tan(turn / 4) if self.relief == "round" else 0.0
            corners.append(Vertex(*_along(at, v, r), hollow))
        return Loop(without_repeats(corners))

    def _across_three(self) -> Loop:
        lines = self._lines
        if lines[0][1][0] * lines[1][1][1] - lines[0][1][1] * lines[1][1][0] < 0:
            lines = lines[::-1]
        corners = [_meet(*lines[k - 1], *lines[k]) for k in range(3)]
        out = []
        for k, at in enumerate(corners):
            before, after = corners[k - 1], corners[(k + 1) % 3]
            for other in (before, after):
                side = math.dist(at, other)
                if side < LEAST_MM + 2 * self.relief_mm:
                    raise OutlineError(
                        f"{self.name}: an edge is {side:.1f} mm long; the least is "
                        f"{LEAST_MM + 2 * self.relief_mm:g}, a seam of {LEAST_MM:g} mm between two reliefs: "
                        f"give longer legs"
                    )
                out.append(_along(at, _direction(at, other), self.relief_mm))
        return Loop(without_repeats([Vertex(*p) for p in out]))

    def form(self) -> Form:
        """In the axes of the planes."""
        return Form((Prism(self.outline(), self.thickness_mm, self.frame),))


def _along(at: Point, way: Point, far: float) -> Point:
    return at[0] + far * way[0], at[1] + far * way[1]


def _direction(a: Point, b: Point) -> Point:
    gap = math.dist(a, b)
    return (b[0] - a[0]) / gap, (b[1] - a[1]) / gap


def _meet(p: Point, u: Point, q: Point, v: Point) -> Point:
    """Where two lines cross, each a point and a direction."""
    share = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / (u[0] * v[1] - u[1] * v[0])
    return _along(p, u, share)


def _coped(
    loop: Loop, tubes: Sequence[Member], frame: Frame, thickness_mm: float, gap_mm: float, name: str
) -> Loop:
    """The loop less the shadow of each tube through the plate's thickness and the gap round it. Arcs that a
    cope reaches become fine polygons."""
    if not tubes:
        return loop
    from shapely import Polygon, box  # only a coped gusset waits for it

    left = Polygon(loop.points(0.005))
    for tube in tubes:
        shadow = region(tube, frame, 0.0, thickness_mm)
        if len(shadow) > 2:
            left = left.difference(Polygon(shadow).buffer(gap_mm, 64) if gap_mm else Polygon(shadow))
    whole = box(*Polygon(loop.points(0.005)).bounds)
    if (
        left.is_empty
        or left.geom_type != "Polygon"
        or left.interiors
        or not whole.contains(left.buffer(-1e-6))
    ):
        raise OutlineError(
            f"{name}: a tube in its way cuts it in two, or takes all of it; move it or the tube"
        )
    if left.equals(Polygon(loop.points(0.005))):
        return loop
    return Loop(
        without_repeats(
            [Vertex(x, y) for x, y in left.simplify(0.002).normalize().reverse().exterior.coords[:-1]]
        )
    )
