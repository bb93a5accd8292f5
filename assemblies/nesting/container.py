"""Where a blank may lie: the convex hull of the usable plate, less convex obstacles (notches, old holes,
keep-outs)."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from assemblies.nesting.model import NestError, Remnant, Rules
from assemblies.nesting.polygons import ConvexPiece, convex_pieces, grown
from parts.base.frozen import dataclass


@dataclass(frozen=True, eq=False)
class Container:
    """`hull` keeps blanks in; each group of `obstacles` keeps them out. `length_mm` limits x further (a
    strip's end)."""

    hull: ConvexPiece
    obstacles: tuple[tuple[ConvexPiece, ...], ...]
    length_mm: float
    area_mm2: float

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        (x0, y0), (x1, y1) = self.hull.points.min(axis=0), self.hull.points.max(axis=0)
        return float(x0), float(y0), float(min(x1, self.length_mm)), float(y1)

    @cached_property
    def hull_rows(self) -> tuple[np.ndarray, np.ndarray]:
        """Outward normals of the hull and its support along them."""
        return self.hull.normals, self.hull.support(self.hull.normals)

    def cut_at(self, length_mm: float) -> Container:
        return Container(self.hull, self.obstacles, length_mm, self.area_mm2)


def usable(remnant: Remnant, rules: Rules):
    """The part of the remnant a blank may touch (shapely, perhaps several pieces): each side, hole and
    keep-out takes its own distance. Arcs are taken on the safe side."""
    import shapely
    from shapely import LineString, Point, Polygon

    loop = remnant.outline
    loop = loop if loop.area_mm2 > 0 else loop.reversed()
    # an arc that bulges out is chorded by `points`, one that bulges in must be cut deep: mirror the roles by
    # reversing
    inside = Polygon(loop.reversed().points(0.05, outside=True))
    taken = []
    for side, s in enumerate(remnant.outline.segments):
        n = 1 if not s.bulge else max(2, int(abs(s.sweep) / 0.05) + 1)
        line = LineString([s.at(k / n) for k in range(n + 1)])
        d = remnant.distance_mm(side, rules)
        slack = s.radius * (1 - np.cos(abs(s.sweep) / n / 2)) if s.bulge else 0.0
        if d > 0:
            taken.append(_along(line, d + slack))
    for h in remnant.holes:
        r = h.diameter_mm / 2 + rules.hole_mm
        taken.append(Point(h.x, h.y).buffer(r / np.cos(np.pi / 48), quad_segs=12))
    for k in remnant.keep_outs:
        k = k if k.area_mm2 > 0 else k.reversed()
        taken.append(grown(Polygon(k.points(0.05, outside=True)), rules.keep_out_mm, 8))
    return shapely.difference(inside, shapely.union_all(taken)) if taken else inside


def _along(line, distance_mm: float):
    """All within the distance of a side: straight sides exact, ends (and the joints of an arc)
    circumscribed."""
    import shapely

    ends = [shapely.Point(p).buffer(distance_mm / np.cos(np.pi / 32), quad_segs=8) for p in line.coords]
    flat = [
        shapely.LineString(pair).buffer(distance_mm, cap_style="flat")
        for pair in zip(line.coords, line.coords[1:], strict=False)
    ]
    return shapely.union_all(ends + flat)


def containers(remnant: Remnant, rules: Rules) -> list[Container]:
    """One container a connected usable piece, largest first. Raises NestError where nothing is left of the
    remnant."""
    free = usable(remnant, rules)
    parts = [g for g in getattr(free, "geoms", [free]) if g.geom_type == "Polygon" and g.area > 1.0]
    if not parts:
        raise NestError(
            f'remnant "{remnant.name}": the edge distances leave nothing of it to cut from; leave it out or '
            f"lessen nest.edge, nest.torch_edge, nest.hole or nest.keep_out"
        )
    return [container_of(p) for p in sorted(parts, key=lambda g: -g.area)]


def container_of(polygon) -> Container:
    """A container from a shapely polygon (holes become obstacles)."""
    from shapely import Polygon
    from shapely.geometry.polygon import orient

    hull = orient(polygon.convex_hull)
    corners = np.array(hull.exterior.coords)[:-1]
    groups = []
    pockets = hull.difference(Polygon(polygon.exterior))
    for g in getattr(pockets, "geoms", [pockets]):
        if g.geom_type == "Polygon" and g.area > 1e-6:
            groups.append(tuple(_open_at(p, corners) for p in convex_pieces(g)))
    for ring in polygon.interiors:
        groups.append(tuple(ConvexPiece(p) for p in convex_pieces(Polygon(ring))))
    return Container(ConvexPiece(corners), tuple(groups), float("inf"), polygon.area)


def _open_at(points: np.ndarray, hull: np.ndarray) -> ConvexPiece:
    """A notch's piece, its edges that lie on the hull left open: beyond them nothing may lie anyway."""
    mid = (points + np.roll(points, -1, axis=0)) / 2
    d = np.roll(hull, -1, axis=0) - hull
    n = np.stack([d[:, 1], -d[:, 0]], axis=1) / np.hypot(d[:, 0], d[:, 1])[:, None]
    gap = ((hull * n).sum(axis=1)[None, :] - mid @ n.T).min(axis=1)
    return ConvexPiece(points, gap < 1e-6)
