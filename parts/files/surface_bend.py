"""How far a curved surface can be from flat over a piece of its parameters: proven, from second derivatives.

Let x = Σ λᵢ·xᵢ be a convex combination of places in the plane of parameters, within a box l₁ by l₂. Taylor's
formula from x to each xᵢ, weighted by λᵢ, gives |f(x) - Σ λᵢ·f(xᵢ)| <= ⅛·(l₁²·sup|f_uu| + 2·l₁·l₂·sup|f_uv| +
l₂²·sup|f_vv|), since a quantity within a range l has no more variance than l²/4 (D. Filip, R. Magedson, R.
Markot, Surface algorithms using bounds on derivatives, CAGD 3, 1986). Where the slope jumps by J across a
line of parameters there comes ¼·l·|J|, since the mean of what lies beyond it is at most l/4.

A rational surface is f/w, of numerator and weight: taken about a point c, with q a convex combination of the
surface's points and |q - c| <= r, it lies within (|error of f| + r·|error of w|)/min w of q. Hence in words:
the surface over the places' hull lies within `Bend.off(...)` of the hull of the surface's points at them.

Suprema: in closed form for planes, cylinders, cones, spheres and tori, and for lines, circles and ellipses
drawn along or turned; for splines, extruded ones among them, from the Bézier net of each smooth patch, whose
derivatives lie in the hull of its differences; for a turned spline from those of the curve.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.Geom import Geom_BSplineCurve, Geom_BSplineSurface
from OCP.GeomAbs import (
    GeomAbs_BezierCurve,
    GeomAbs_BezierSurface,
    GeomAbs_BSplineCurve,
    GeomAbs_BSplineSurface,
    GeomAbs_Circle,
    GeomAbs_Cone,
    GeomAbs_Cylinder,
    GeomAbs_Ellipse,
    GeomAbs_Line,
    GeomAbs_Plane,
    GeomAbs_Sphere,
    GeomAbs_SurfaceOfExtrusion,
    GeomAbs_SurfaceOfRevolution,
    GeomAbs_Torus,
)
from OCP.GeomConvert import GeomConvert

from parts.base.frozen import dataclass


@dataclass(frozen=True, eq=False)
class BendLimits:
    """Limits over n pieces: of the numerator's and the weight's errors, from bending (shrinking with the
    square of the piece) and from kinks (with its size), of the weight from below, and of the surface's own
    slopes."""

    bend: np.ndarray
    kink: np.ndarray
    weight_bend: np.ndarray
    weight_kink: np.ndarray
    weight: np.ndarray
    slope_u: np.ndarray
    slope_v: np.ndarray
    square: bool = False  # the parameters' lines meet at right angles

    def slope(self, way: np.ndarray) -> np.ndarray:
        """Of the surface along unit vectors (n, 2) of the parameters, at most."""
        own = np.abs(way) * np.stack([self.slope_u, self.slope_v], 1)
        return np.sqrt((own**2).sum(1)) if self.square else own.sum(1)

    def off(self, reach, cuts=1):
        """Distance from the hull of the points, at most: for points within `reach` of the centre, the piece's
        sides cut in `cuts`."""
        return (
            (self.bend + reach * self.weight_bend) / cuts**2 + (self.kink + reach * self.weight_kink) / cuts
        ) / self.weight

    def some(self, which) -> BendLimits:
        return replace(self, **{f.name: getattr(self, f.name)[which] for f in fields(self)[:-1]})


def bend_of(surface: BRepAdaptor_Surface):
    """A function (low (n, 2), high (n, 2), centre (n, 3)) -> Bend for pieces within boxes of parameters; None
    for a kind of surface that cannot be bounded here (then make splines of it first)."""
    kind = surface.GetType()
    if kind in _CLOSED_FORM:
        return _CLOSED_FORM[kind](surface)
    if kind == GeomAbs_BSplineSurface:
        return _net(surface.BSpline())
    if kind == GeomAbs_BezierSurface:
        return _net(GeomConvert.SurfaceToBSplineSurface_s(surface.Bezier()))
    if kind == GeomAbs_SurfaceOfExtrusion:
        return _extrusion(surface)
    if kind == GeomAbs_SurfaceOfRevolution:
        return _revolution(surface)
    return None


def _smooth(derivatives):
    """From a function of the boxes that gives sup |S_u|, |S_v|, |S_uu|, |S_uv|, |S_vv|."""

    def found(low, high, centre):
        su, sv, uu, uv, vv = (np.broadcast_to(np.asarray(d, float), len(low)) for d in derivatives(low, high))
        l1, l2 = (high - low).T
        none = np.zeros(len(low))
        return BendLimits(
            (l1**2 * uu + 2 * l1 * l2 * uv + l2**2 * vv) / 8,
            none,
            none,
            none,
            np.ones(len(low)),
            su,
            sv,
            square=True,
        )

    return found


def _plane(surface):
    return _smooth(lambda low, high: (1, 1, 0, 0, 0))


def _cylinder(surface):
    r = surface.Cylinder().Radius()
    return _smooth(lambda low, high: (r, 1, r, 0, 0))


def _cone(surface):
    s = surface.Cone()
    slope, r = abs(np.sin(s.SemiAngle())), s.RefRadius()

    def derivatives(low, high):
        widest = r + np.maximum(np.abs(low[:, 1]), np.abs(high[:, 1])) * slope
        return widest, 1, widest, slope, 0

    return _smooth(derivatives)


def _sphere(surface):
    r = surface.Sphere().Radius()

    def derivatives(low, high):
        across = r * np.cos(np.clip(_nearest_nought(low[:, 1], high[:, 1]), -np.pi / 2, np.pi / 2))
        mixed = r * np.sin(np.minimum(np.maximum(np.abs(low[:, 1]), np.abs(high[:, 1])), np.pi / 2))
        return across, r, across, mixed, r

    return _smooth(derivatives)


def _nearest_nought(low, high):
    return np.where((low <= 0) & (high >= 0), 0.0, np.minimum(np.abs(low), np.abs(high)))


def _torus(surface):
    s = surface.Torus()
    big, small = s.MajorRadius(), s.MinorRadius()
    return _smooth(lambda low, high: (big + small, small, big + small, small, small))


_CLOSED_FORM = {
    GeomAbs_Plane: _plane,
    GeomAbs_Cylinder: _cylinder,
    GeomAbs_Cone: _cone,
    GeomAbs_Sphere: _sphere,
    GeomAbs_Torus: _torus,
}


# ------------------------------------------------------------ curves drawn along or turned


def _xyz(p) -> np.ndarray:
    return np.array([p.X(), p.Y(), p.Z()])


def _largest(curve) -> float | None:
    """Of a circle or an ellipse the (greater) radius: neither its first nor its second derivative is more."""
    kind = curve.GetType()
    return (
        curve.Circle().Radius()
        if kind == GeomAbs_Circle
        else curve.Ellipse().MajorRadius()
        if kind == GeomAbs_Ellipse
        else None
    )


def _spline(curve) -> Geom_BSplineCurve | None:
    kind = curve.GetType()
    if kind == GeomAbs_BezierCurve:
        return GeomConvert.CurveToBSplineCurve_s(curve.Bezier())
    return curve.BSpline() if kind == GeomAbs_BSplineCurve else None


def _extrusion(surface):
    """S = C(u) + v·d."""
    curve = surface.BasisCurve()
    if curve.GetType() == GeomAbs_Line:
        return _loosely(_smooth(lambda low, high: (1, 1, 0, 0, 0)))
    if (r := _largest(curve)) is not None:
        return _loosely(_smooth(lambda low, high: (r, 1, r, 0, 0)))
    spline = _spline(curve)
    if spline is None:
        return None
    knots, arcs, around = _arcs(spline)
    ends = np.array([surface.FirstVParameter(), surface.LastVParameter()])
    cut = np.repeat(arcs[:, None, :, None], 2, 3)  # [span, 1, pole, end, 4]
    cut[..., :3] += (ends[:, None] * _xyz(surface.Direction())) * arcs[:, None, :, None, 3:]
    net = Net([knots, ends], cut, (arcs.shape[1] - 1, 1), (around, False))
    net.low[1], net.high[1] = -np.inf, np.inf  # straight that way: the same beyond
    return net


def _revolution(surface):
    """S = C(v) turned by u about an axis: |S_u| = |S_uu| is the distance from the axis, |S_uv| <= |C'|,
    |S_vv| = |C''|."""
    curve, axis = surface.BasisCurve(), surface.AxeOfRevolution()
    origin, way = _xyz(axis.Location()), _xyz(axis.Direction())

    def from_axis(p):
        return np.sqrt((np.cross(p - origin, way) ** 2).sum(-1))

    if curve.GetType() == GeomAbs_Line:
        start, along = _xyz(curve.Line().Location()), _xyz(curve.Line().Direction())

        def turned(low, high):
            r = np.maximum(*(from_axis(start + x[:, 1:] * along) for x in (low, high)))
            return r, 1, r, 1, 0

        return _loosely(_smooth(turned))
    if (a := _largest(curve)) is not None:
        middle = (curve.Circle() if curve.GetType() == GeomAbs_Circle else curve.Ellipse()).Location()
        r = float(from_axis(_xyz(middle))) + a
        return _loosely(_smooth(lambda low, high: (r, a, r, a, a)))
    spline = _spline(curve)
    return None if spline is None else _Turned(*_arcs(spline), from_axis)


def _loosely(found):
    """The parameters' lines need not meet at right angles."""
    return lambda *boxes: replace(found(*boxes), square=False)


def _arcs(curve: Geom_BSplineCurve) -> tuple[np.ndarray, np.ndarray, bool]:
    """Knots and Bézier arcs [span, pole, (x·w, y·w, z·w, w)] of a spline, and whether it goes round (then
    three times)."""
    s = curve.Copy()
    around = s.IsPeriodic()
    if around:
        s.SetNotPeriodic()
    if s.FirstUKnotIndex() != 1 or s.LastUKnotIndex() != s.NbKnots():
        s.Segment(s.FirstParameter(), s.LastParameter())
    for i in range(2, s.NbKnots()):
        s.IncreaseMultiplicity(i, s.Degree())
    w = np.array([s.Weight(i) if s.IsRational() else 1.0 for i in range(1, s.NbPoles() + 1)])
    poles = np.concatenate(
        [np.array([_xyz(s.Pole(i)) for i in range(1, s.NbPoles() + 1)]) * w[:, None], w[:, None]], 1
    )
    return (
        np.array([s.Knot(i) for i in range(1, s.NbKnots() + 1)]),
        poles[_spans(s.NbKnots(), s.Degree())],
        around,
    )


def _spans(knots: int, degree: int) -> np.ndarray:
    return np.arange(knots - 1)[:, None] * degree + np.arange(degree + 1)


class _Turned:
    """A spline turned about an axis."""

    def __init__(self, knots, arcs, around, from_axis):
        if around:
            knots, arcs = _thrice(knots), np.concatenate([arcs] * 3)
        self.knots, p = knots, arcs.shape[1] - 1
        self.low, self.high = np.array([-np.inf, knots[0]]), np.array([np.inf, knots[-1]])
        w, step = arcs[..., 3:], np.diff(knots)[:, None]
        points = arcs[..., :3] / w
        self.radius, least = from_axis(points).max(1), w.min((1, 2))
        centre = points.mean(1, keepdims=True)
        numerator = arcs[..., :3] - centre * w
        reach = _size(points - centre)
        first = (
            _size(np.diff(numerator, 1, 1)) * p / step[:, 0],
            np.abs(np.diff(w, 1, 1)).max((1, 2)) * p / step[:, 0],
        )
        second = [np.zeros(len(arcs))] * 2
        if p > 1:
            second = [_size(np.diff(x, 2, 1)) * p * (p - 1) / step[:, 0] ** 2 for x in (numerator, w)]
        self.slope = (first[0] + reach * first[1]) / least  # C' = (N' - C·w')/w, about the arc's own centre
        self.curl = (second[0] + 2 * self.slope * first[1] + reach * second[1]) / least
        start, end = (
            p / step * (points[:, 1] - points[:, 0]) * w[:, 1] / w[:, 0],
            p / step * (points[:, -1] - points[:, -2]) * w[:, -2] / w[:, -1],
        )
        self.jump = np.sqrt(((start[1:] - end[:-1]) ** 2).sum(1))

    def __call__(self, low, high, centre) -> BendLimits:
        first = np.clip(np.searchsorted(self.knots, low[:, 1], "right") - 1, 0, len(self.knots) - 2)
        last = np.clip(np.searchsorted(self.knots, high[:, 1], "left") - 1, first, len(self.knots) - 2)
        radius, slope, curl = np.zeros((3, len(low)))
        for k in range(len(self.slope)):
            on = (first <= k) & (k <= last)
            for most, own in ((radius, self.radius), (slope, self.slope), (curl, self.curl)):
                most[on] = np.maximum(most[on], own[k])
        inner = (low[:, 1:] < self.knots[1:-1]) & (high[:, 1:] > self.knots[1:-1])
        found = _smooth(lambda *_: (radius, slope, radius, slope, curl))(low, high, centre)
        return replace(found, kink=(high - low)[:, 1] * (inner * self.jump).sum(1) / 4, square=False)


def _size(vectors: np.ndarray) -> np.ndarray:
    """Of each row of vectors the longest."""
    return np.sqrt((vectors**2).sum(2)).max(1)


def _thrice(knots: np.ndarray) -> np.ndarray:
    once = knots[-1] - knots[0]
    return np.concatenate([knots[:-1] - once, knots, knots[1:] + once])


# ------------------------------------------------------------------------------------------------ splines


def _net(surface: Geom_BSplineSurface) -> Net:
    s = surface.Copy()
    around = s.IsUPeriodic(), s.IsVPeriodic()
    if around[0]:
        s.SetUNotPeriodic()
    if around[1]:
        s.SetVNotPeriodic()
    p, q = s.UDegree(), s.VDegree()
    if (
        s.FirstUKnotIndex() != 1
        or s.FirstVKnotIndex() != 1
        or s.LastUKnotIndex() != s.NbUKnots()
        or s.LastVKnotIndex() != s.NbVKnots()
    ):
        s.Segment(*s.Bounds())  # ends that run on past its range
    for i in range(2, s.NbUKnots()):
        s.IncreaseUMultiplicity(i, p)
    for i in range(2, s.NbVKnots()):
        s.IncreaseVMultiplicity(i, q)
    knots = [
        np.array([s.UKnot(i) for i in range(1, s.NbUKnots() + 1)]),
        np.array([s.VKnot(i) for i in range(1, s.NbVKnots() + 1)]),
    ]
    weighted, net = s.IsURational() or s.IsVRational(), np.empty((s.NbUPoles(), s.NbVPoles(), 4))
    for i in range(net.shape[0]):
        for j in range(net.shape[1]):
            w = s.Weight(i + 1, j + 1) if weighted else 1.0
            net[i, j, :3], net[i, j, 3] = _xyz(s.Pole(i + 1, j + 1)) * w, w
    cut = net[_spans(len(knots[0]), p)][:, :, _spans(len(knots[1]), q)].transpose(0, 2, 1, 3, 4)
    return Net(knots, cut, (p, q), around)


class Net:
    """A spline surface as Bézier patches, in homogeneous coordinates: [patch u, patch v, row, column, (x·w,
    y·w, z·w, w)]. Nothing is known of it beyond `low` and `high`."""

    def __init__(self, knots, cut, degrees, around):
        self.knots, self.cut, self.degrees = list(knots), cut, degrees
        for axis in (0, 1):
            if around[axis]:  # three times round: a face may lie across the seam
                self.knots[axis], self.cut = _thrice(self.knots[axis]), np.concatenate([self.cut] * 3, axis)
        self.low, self.high = (np.array([k[end] for k in self.knots]) for end in (0, -1))
        if degrees == (1, 1) and self.cut.shape[:2] == (1, 1) and np.ptp(self.cut[..., 3]) == 0:
            self.low, self.high = np.full(2, -np.inf), np.full(2, np.inf)

    def __call__(self, low, high, centre) -> BendLimits:
        n = len(low)
        first = [
            np.clip(np.searchsorted(k, low[:, a], "right") - 1, 0, len(k) - 2)
            for a, k in enumerate(self.knots)
        ]
        last = [
            np.clip(np.searchsorted(k, high[:, a], "left") - 1, f, len(k) - 2)
            for a, (k, f) in enumerate(zip(self.knots, first, strict=True))
        ]
        sides = high - low
        out = {name: np.zeros(n) for name in ("bend", "weight_bend", "slope_u", "slope_v")}
        weight = np.full(n, np.inf)
        second = np.zeros((3, 2, n))
        for a in range(self.cut.shape[0]):
            for b in range(self.cut.shape[1]):
                on = np.flatnonzero((first[0] <= a) & (a <= last[0]) & (first[1] <= b) & (b <= last[1]))
                if len(on):
                    found, least, slopes = self._patch(a, b, centre[on])
                    second[:, :, on] = np.maximum(second[:, :, on], found)
                    weight[on] = np.minimum(weight[on], least)
                    for name, s in zip(("slope_u", "slope_v"), slopes, strict=True):
                        out[name][on] = np.maximum(out[name][on], s)
        l1, l2 = sides.T
        bend, weight_bend = np.einsum("kxn,kn->xn", second, np.stack([l1**2, 2 * l1 * l2, l2**2])) / 8
        kink, weight_kink = np.zeros(n), np.zeros(n)
        for axis in (0, 1):
            for k in range(1, len(self.knots[axis]) - 1):
                on = np.flatnonzero(
                    (low[:, axis] < self.knots[axis][k]) & (high[:, axis] > self.knots[axis][k])
                )
                if len(on):
                    jump = self._jump(axis, k).reshape(-1, 4)
                    f, w = _sizes(jump, centre[on])
                    kink[on] += sides[on, axis] * f / 4
                    weight_kink[on] += sides[on, axis] * w / 4
        return BendLimits(bend, kink, weight_bend, weight_kink, weight, out["slope_u"], out["slope_v"])

    def _patch(self, a: int, b: int, centre: np.ndarray):
        """Greatest second derivatives (uu, uv, vv) of numerator and weight about the centres, least weight,
        greatest slopes."""
        net, (p, q) = self.cut[a, b], self.degrees
        du, dv = (self.knots[axis][k + 1] - self.knots[axis][k] for axis, k in ((0, a), (1, b)))
        uu, vv = np.diff(net, 2, 0) * p * (p - 1) / du**2, np.diff(net, 2, 1) * q * (q - 1) / dv**2
        uv = np.diff(np.diff(net, 1, 0), 1, 1) * p * q / (du * dv)
        found = np.array([np.broadcast_arrays(*_sizes(d.reshape(-1, 4), centre)) for d in (uu, uv, vv)])
        least = net[..., 3].min()
        reach = np.sqrt((((net[..., :3] / net[..., 3:]).reshape(-1, 1, 3) - centre) ** 2).sum(2)).max(0)
        slopes = [
            (f + reach * w) / least
            for f, w in (
                _sizes(d.reshape(-1, 4), centre)
                for d in (np.diff(net, 1, 0) * p / du, np.diff(net, 1, 1) * q / dv)
            )
        ]
        return found, least, slopes

    def _jump(self, axis: int, k: int) -> np.ndarray:
        """Jump of the first derivative across the k-th knot line."""
        net, knots, degree = (
            self.cut.swapaxes(0, 1).swapaxes(2, 3) if axis else self.cut,
            self.knots[axis],
            self.degrees[axis],
        )
        after = (net[k][:, 1] - net[k][:, 0]) / (knots[k + 1] - knots[k])
        before = (net[k - 1][:, -1] - net[k - 1][:, -2]) / (knots[k] - knots[k - 1])
        return degree * (after - before)


def _sizes(d: np.ndarray, centre: np.ndarray) -> tuple[np.ndarray, float]:
    """Greatest |d - c·d_w| of homogeneous differences (m, 4) for each centre (n, 3), and greatest |d_w|."""
    if not len(d):
        return np.zeros(len(centre)), 0.0
    w = np.abs(d[:, 3]).max()
    if w == 0:
        return np.full(len(centre), np.sqrt((d[:, :3] ** 2).sum(1)).max()), 0.0
    return np.sqrt(((d[:, None, :3] - centre * d[:, None, 3:]) ** 2).sum(2)).max(0), w
