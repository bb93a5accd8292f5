"""How far the triangles of a face and the true face are apart at most: proven, not sampled.

A face is its surface over a region of parameters within trimming curves; the mesh's triangles have corners in
the parameters too, and its rim joins places on the trimming curves by chords.

1. A triangle of parameters is cut in small ones. Over each the surface lies within a stated limit
(surface_bend.py) of the flat
   triangle through its corners' points, and distance from a convex thing is convex: so no point of the
   surface over the triangle is further from the mesh's triangle than the furthest of the corners, plus that
   limit.
2. What lies in the region, but under no triangle, lies between a chord and its curve: within the hull of the
curve's control
   points and of their feet on the chord, for which the same holds.
3. The other way round. Move each point of the surface over a triangle to the nearest of the mesh's triangle.
On the rim the nearest
   point of the side itself is at most the rim's distance from the side away. So the movement covers the whole
   triangle, but for what lies between the two (a continuous map of a disc that is near the identity on its
   rim): no point of the mesh is further from the surface than what 1. says, that distance, found like 1., and
   the corners' own. Where a chord lies outside the region, the surface's point there is no further from the
   face than the curve is from the chord, times the surface's slope, which is added.

That triangles cover the region, once, is looked up: their sides pair off, but for the rim's chords; none is
turned over.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.Geom2dAdaptor import Geom2dAdaptor_Curve
from OCP.GeomAbs import (
    GeomAbs_BezierCurve,
    GeomAbs_BSplineCurve,
    GeomAbs_Circle,
    GeomAbs_Ellipse,
    GeomAbs_Line,
)
from OCP.gp import gp_Pnt
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FORWARD
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Face

from parts.base.frozen import dataclass
from parts.files.surface_bend import BendLimits, bend_of

SHARE = 0.15  # of the error asked: as small the limit between the places looked at is made
MOST_CUTS = 24  # of a triangle's side
MOST_HALVES = 7  # of a stretch of rim
EDGE = 1e-7  # of the range of a spline's parameters: as much past its end is rounding


@dataclass(frozen=True)
class FaceError:
    """`off_mm`: distance of face and triangles at most. `why`: what of it could not be proven, None where all
    is."""

    off_mm: float
    why: str | None = None


def face_error(
    shape: TopoDS_Face, made, where, points: np.ndarray, corners: np.ndarray, error_mm: float
) -> FaceError:
    """Of a face's triangulation `made` at `where`; `points` (n, 3) its nodes as they stand, `corners` (m, 3)
    node numbers."""
    if not len(corners):
        return FaceError(0.0, "a face without triangles")
    face = TopoDS.Face_s(shape.Oriented(TopAbs_FORWARD))
    surface = BRepAdaptor_Surface(face, False)
    bend = bend_of(surface)
    if bend is None:
        return FaceError(0.0, "a surface of a kind that cannot be bounded")
    nodes = (made.UVNode(i) for i in range(1, made.NbNodes() + 1))
    uv = np.array([(p.X(), p.Y()) for p in nodes])
    rim = _Rim(face, made, where, uv, corners)
    why = rim.why or _past(bend, uv)
    work = _Work(surface, bend, points, corners, uv, error_mm, rim.poles)
    inside = work.triangles()
    between, cut_off, strayed = work.stretches(rim)
    return FaceError(max(inside + cut_off, between), why or strayed)


def _past(bend, uv: np.ndarray) -> str | None:
    """Whether places lie past the ends of a spline, where nothing is known of it."""
    if not hasattr(bend, "low"):
        return None
    spare = EDGE * np.where(np.isfinite(bend.high), bend.high - bend.low, 0)
    return (
        "parameters past the end of a spline"
        if (uv < bend.low - spare).any() or (uv > bend.high + spare).any()
        else None
    )


class _Work:
    """One face's measuring."""

    def __init__(self, surface, bend, points, corners, uv, error_mm, poles):
        self.surface, self.bend, self.uv, self.corners, self.small = (
            surface,
            bend,
            uv,
            corners,
            SHARE * error_mm,
        )
        self.flat, self.poles = points[corners], poles

    def at(self, uv: np.ndarray) -> np.ndarray:
        put, p, places = self.surface.D0, gp_Pnt(), []  # one point for all: half the time
        for u, v in uv.reshape(-1, 2).tolist():
            put(u, v, p)
            places.append(p.Coord())
        return np.array(places).reshape(*uv.shape[:-1], 3)

    def triangles(self) -> float:
        uv, flat, sides = _fanned(self.uv[self.corners], self.flat, self.poles[self.corners])
        own = self.at(uv)
        centre = own.mean(1)
        reach = np.sqrt(((own - centre[:, None]) ** 2).sum(2)).max(1)
        bends: BendLimits = self.bend(uv.min(1), uv.max(1), centre)
        cuts = np.clip(np.ceil(np.sqrt(bends.off(reach) / self.small)), 1, MOST_CUTS).astype(int)
        worst = 0.0
        for n in np.unique(cuts):
            on, share = np.flatnonzero(cuts == n), _grid(n)
            true = self.at(np.einsum("gk,nkx->ngx", share, uv[on]))
            reach = np.sqrt(((true - centre[on, None]) ** 2).sum(2)).max(1)
            away = off_triangles(true, flat[on]).max(1)
            for k in range(3):
                ends = flat[on[:, None], sides[on, k]]
                apart = off_line(true[:, share[:, k] == 0], ends[:, 0], ends[:, 1]).max(1)
                away = np.where(sides[on, k, 0] >= 0, np.maximum(away, apart), away)
            worst = max(worst, float((away + bends.some(on).off(reach, n)).max()))
        return max(worst, float(np.sqrt(((self.at(self.uv)[self.corners] - self.flat) ** 2).sum(2)).max()))

    def stretches(self, rim: _Rim) -> tuple[float, float, str | None]:
        """What lies between chords and curves: its distance from the triangles, how far chords lie outside
        the face at most."""
        left, worst, outside, why = rim.stretches, 0.0, 0.0, None
        for halved in range(MOST_HALVES + 1):
            if not left:
                break
            ragged = [s.curve.poles(s.start, s.end) for s in left]
            most = max(map(len, ragged))
            poles = np.array([np.concatenate([p, np.repeat(p[-1:], most - len(p), 0)]) for p in ragged])
            on = np.array([s.triangle for s in left])
            a, b = (self.uv[[getattr(s, k) for s in left]] for k in ("a", "b"))
            along = (b - a) / np.maximum(np.sqrt(((b - a) ** 2).sum(1)), 1e-300)[:, None]
            normal = np.stack([-along[:, 1], along[:, 0]], 1)
            height = ((poles - a[:, None]) * normal[:, None]).sum(2)
            region = np.concatenate([poles, poles - height[..., None] * normal[:, None]], 1)
            why = why or _past(self.bend, region.reshape(-1, 2))
            true = self.at(region)
            centre = true.mean(1)
            reach = np.sqrt(((true - centre[:, None]) ** 2).sum(2)).max(1)
            bends: BendLimits = self.bend(region.min(1), region.max(1), centre)
            more = bends.off(reach)
            bulge = off_line(true[:, :most], true[:, 0], true[:, 1]).max(1)
            done = (np.maximum(more, bulge) <= self.small) | (halved == MOST_HALVES)
            apex = ((self.uv[self.corners[on]].mean(1) - a) * normal).sum(1)
            depth = np.maximum((height * np.sign(apex)[:, None]).max(1), 0)
            across = depth * bends.slope(normal)
            if done.any():
                worst = max(
                    worst, float((off_triangles(true[done], self.flat[on[done]]).max(1) + more[done]).max())
                )
                outside = max(outside, float(across[done].max()))
            left = [half for s, ready in zip(left, done, strict=True) if not ready for half in s.halves()]
        return worst, outside, why


def _fanned(uv: np.ndarray, flat: np.ndarray, pole: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Triangles of parameters (n, 3, 2), the mesh's triangle of each, and which two of its corners the side
    opposite each corner belongs to (-1: none).

    At a pole, a whole line of parameters is one point. `pole` (n, 3): 0, or 1 or 2 where a corner is on such
    a line of constant u or v: of such a triangle all between its other side and the line counts as its own,
    as two triangles; one with two corners there is none."""
    plain = np.array([(1, 2), (2, 0), (0, 1)])
    count = (pole > 0).sum(1)
    usual = count == 0
    out = [(uv[usual], flat[usual], np.broadcast_to(plain, (usual.sum(), 3, 2)))]
    for k in range(3):
        on = (count == 1) & (pole[:, k] > 0)
        if not on.any():
            continue
        a, b = (k + 1) % 3, (k + 2) % 3
        along = (pole[on, k] == 1)[:, None] == np.array(
            [True, False]
        )  # the coordinate that is constant along the line
        at_a, at_b = (np.where(along, uv[on, k], uv[on, c]) for c in (a, b))
        out.append(
            (
                np.stack([uv[on, a], uv[on, b], at_b], 1),
                flat[on],
                np.broadcast_to(np.array([(b, k), (-1, -1), (a, b)]), (on.sum(), 3, 2)),
            )
        )
        out.append(
            (
                np.stack([uv[on, a], at_b, at_a], 1),
                flat[on],
                np.broadcast_to(np.array([(k, k), (a, k), (-1, -1)]), (on.sum(), 3, 2)),
            )
        )
    first, second, third = (np.concatenate(x) for x in zip(*out, strict=True))
    return first, second, third


def _grid(steps: int) -> np.ndarray:
    """Shares (n, 3) of a triangle's corners at the places of a grid."""
    return np.array([(i, j, steps - i - j) for i in range(steps + 1) for j in range(steps + 1 - i)]) / steps


def off_line(p: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Distance of points (n, m, 3) from the stretches a to b (n, 3)."""
    along, a = (b - a)[:, None], a[:, None]
    share = np.clip(((p - a) * along).sum(2) / np.maximum((along**2).sum(2), 1e-300), 0, 1)
    return np.sqrt(((p - a - share[..., None] * along) ** 2).sum(2))


def off_triangles(p: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """Distance of points (n, m, 3) from the triangles (n, 3, 3), each from its own."""
    n = np.cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    size = np.sqrt((n * n).sum(1))
    n = (n / np.maximum(size, 1e-300)[:, None])[:, None]
    height = ((p - flat[:, None, 0]) * n).sum(2)
    within, side = np.broadcast_to((size > 0)[:, None], height.shape).copy(), np.full(height.shape, np.inf)
    for k in range(3):
        a, b = flat[:, k], flat[:, (k + 1) % 3]
        within &= (np.cross((b - a)[:, None], p - a[:, None]) * n).sum(2) >= 0
        side = np.minimum(side, off_line(p, a, b))
    return np.where(within, np.abs(height), side)


# ------------------------------------------------------------------------------------------------ the rim


class _Curve:
    """A trimming curve: control points whose hull holds a stretch of it."""

    def __init__(self, curve):
        self.own = Geom2dAdaptor_Curve(curve)
        self.kind = self.own.GetType()
        self.known = self.kind in (
            GeomAbs_Line,
            GeomAbs_Circle,
            GeomAbs_Ellipse,
            GeomAbs_BezierCurve,
            GeomAbs_BSplineCurve,
        )

    def _at(self, t: float) -> tuple[float, float]:
        p = self.own.Value(t)
        return p.X(), p.Y()

    def from_(self, start: float) -> np.ndarray:
        return np.array(self._at(start))

    def poles(self, start: float, end: float) -> np.ndarray:
        """The stretch's ends first."""
        ends = np.array([self._at(start), self._at(end)])
        if self.kind in (GeomAbs_Circle, GeomAbs_Ellipse):  # where the tangents meet
            c = (self.own.Circle() if self.kind == GeomAbs_Circle else self.own.Ellipse()).Location()
            c, half = np.array([c.X(), c.Y()]), abs(end - start) / 2
            if half > 1.5:
                return np.concatenate(
                    [ends, self.poles(start, (start + end) / 2), self.poles((start + end) / 2, end)]
                )
            return np.array([*ends, c + (np.array(self._at((start + end) / 2)) - c) / np.cos(half)])
        if self.kind in (GeomAbs_BezierCurve, GeomAbs_BSplineCurve) and start != end:
            part = (self.own.Bezier() if self.kind == GeomAbs_BezierCurve else self.own.BSpline()).Copy()
            part.Segment(min(start, end), max(start, end))
            poles = (part.Pole(i) for i in range(1, part.NbPoles() + 1))
            return np.concatenate([ends, [(p.X(), p.Y()) for p in poles]])
        return ends


@dataclass(frozen=True)
class _Stretch:
    """A piece of a trimming curve between two parameters, over the chord from node a to node b, a side of the
    triangle."""

    curve: _Curve
    start: float
    end: float
    a: int
    b: int
    triangle: int

    def halves(self) -> list[_Stretch]:
        middle = (self.start + self.end) / 2
        same = [getattr(self, f.name) for f in fields(self)][3:]
        return [
            _Stretch(self.curve, self.start, middle, *same),
            _Stretch(self.curve, middle, self.end, *same),
        ]


class _Rim:
    """The stretches of a face's rim; `why` where triangles and rim do not fit each other as they should."""

    def __init__(self, face, made, where, uv, corners):
        self.why: str | None = None
        self.uv, self.corners = uv, corners
        self.poles = np.zeros(
            len(uv), int
        )  # of each node: 1 or 2 where it is a pole, by the way that is left
        self.pole_of = np.full(len(uv), -1)  # of each node: the first node of the pole it belongs to
        self.stretches: list[_Stretch] = []
        self._sides = self._bare_sides()
        self._met: set[tuple[int, int]] = set()
        seek = TopExp_Explorer(face, TopAbs_EDGE)
        while seek.More():
            self._follow(TopoDS.Edge_s(seek.Current()), face, made, where)
            seek.Next()
        if len(self._met) < len(self._sides):
            self._fault("triangles that end elsewhere than at the rim")
        self._check_poles()
        self._check_turn()

    def _fault(self, why: str) -> None:
        """The first one found is told."""
        self.why = self.why or why

    def _bare_sides(self) -> dict[tuple[int, int], int]:
        """Sides of triangles with no neighbour, nodes in order, and whose they are: they make the rim."""
        owner: dict[tuple[int, int], int | None] = {}
        for n, t in enumerate(self.corners.tolist()):
            for side in zip(t, (*t[1:], t[0]), strict=True):
                owner[side] = None if side in owner else n
        if None in owner.values():
            self._fault("triangles that do not fit each other")
        return {(min(s), max(s)): n for s, n in owner.items() if n is not None and s[::-1] not in owner}

    def _follow(self, edge, face, made, where) -> None:
        """Take in an edge of the face: a stretch of its curve for each side of a triangle that lies on it."""
        path = BRep_Tool.PolygonOnTriangulation_s(edge, made, where)
        both = edge, TopoDS.Edge_s(edge.Reversed())  # a seam has a curve on either side of the region
        curves = [BRep_Tool.CurveOnSurface_s(e, face, 0.0, 0.0) for e in both]
        if path is None or None in curves:
            self._fault("an edge without a curve")
            return
        nodes = [path.Node(i) - 1 for i in range(1, path.NbNodes() + 1)]
        start = self.uv[nodes[0]]
        curve = min(map(_Curve, curves), key=lambda c: np.abs(c.from_(path.Parameter(1)) - start).max())
        if not curve.known:
            self._fault("an edge of a kind that cannot be bounded")
        if BRep_Tool.Degenerated_s(edge):
            self._pole(nodes)
        for i, (a, b) in enumerate(zip(nodes, nodes[1:], strict=False), 1):
            side = min(a, b), max(a, b)
            if a == b:
                continue
            if side not in self._sides or side in self._met:
                self._fault("triangles that do not end at the rim")
                continue
            self._met.add(side)
            ends = path.Parameter(i), path.Parameter(i + 1)
            self.stretches.append(_Stretch(curve, *ends, a, b, self._sides[side]))

    def _pole(self, nodes: list[int]) -> None:
        """An edge that is one point in space: a line of the surface's parameters."""
        spread = np.ptp(self.uv[nodes], axis=0)
        self.poles[nodes] = 1 if spread[0] < spread[1] else 2
        self.pole_of[nodes] = nodes[0]
        if spread.min() > EDGE * spread.max():
            self._fault("a pole that is no line of parameters")

    def _check_poles(self) -> None:
        """The sides of the fan round a pole run straight to it, and no triangle spans from pole to pole."""
        span = EDGE * np.ptp(self.uv, axis=0).max()
        for a, b in self._sides:
            pole = max(self.poles[a], self.poles[b])
            one_end = pole and not (self.poles[a] and self.poles[b])
            if one_end and abs(self.uv[a] - self.uv[b])[2 - pole] > span:
                self._fault("a pole that the rim leaves askew")
        low, middle, high = np.sort(self.pole_of[self.corners], 1).T
        if ((low >= 0) & (middle >= 0) & (low != middle) | (middle >= 0) & (middle != high)).any():
            self._fault("a triangle from pole to pole")

    def _check_turn(self) -> None:
        """All triangles turn the same way round."""
        first, second, third = (self.uv[self.corners[:, k]] for k in range(3))
        e, f = second - first, third - first
        twice_area = e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0]
        least = 1e-9 * np.abs(twice_area).max()
        if twice_area.min() < -least and twice_area.max() > least:
            self._fault("triangles turned over")
