"""Whether a tube can be brought in where others stand already: straight, or one end first and then swung in.

A straight way is looked at over all of its length: every point of the metal is followed along it to where
it would enter another tube's outside (closed form); the points lie 4 mm apart along a tube and closer at
its ends, so that no more than about 2 mm of a corner could be missed. What is less than 0.25 mm deep only
touches. A swing is looked at in steps in which no point moves more than 1 mm. Lengths mm, car axes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np

from assemblies.layout.junctions.bodies import TubeInPlace
from parts.base.frozen import dataclass
from parts.shape.form import Vector, vector

SWINGS_DEG = (12.0, 25.0)
STEP_MM = 1.0
AT_ONCE = 4  # angles of a swing: most that are in the way are so early
SAME = 0.999  # cosine of directions that count as one


@dataclass(frozen=True)
class WayIn:
    """How a tube goes in: it comes from `way` (unit vector, from its place outwards); `swung_deg` other
    than 0: it is put in leaning so much, turned about `pivot` and `axis`, and swung home."""

    way: Vector
    swung_deg: float = 0.0
    axis: Vector = (0.0, 0.0, 1.0)
    pivot: Vector = (0.0, 0.0, 0.0)
    first: str = ""  # the end that goes in first

    @property
    def words(self) -> str:
        where = way_in_words(self.way)
        if not self.swung_deg:
            return f"straight from {where}"
        leaning = f"leaning {abs(self.swung_deg):.0f} deg"
        return f"its '{self.first}' end first, {leaning}, from {where}, then swung home"


def way_in_words(way) -> str:
    """
    >>> way_in_words((0, 0.7, 0.7)), way_in_words((-1, 0, 0))
    ('the left and above', 'the rear')
    """
    names = (("the front", "the rear"), ("the left", "the right"), ("above", "below"))
    some = [names[k][way[k] < 0] for k in range(3) if abs(way[k]) > 0.38]
    return " and ".join([", ".join(some[:-1]), some[-1]] if len(some) > 1 else some)


class Ways:
    """Which motions each tube has, and which other tubes are in the way of each; worked out when asked
    for."""

    def __init__(self, tubes: list[TubeInPlace]):
        self.tubes = {t.name: t for t in tubes}
        self._at = {t.name: k for k, t in enumerate(tubes)}
        self._blocked: dict[tuple, bool] = {}
        self._straight: dict[str, list[tuple[np.ndarray, list[bool]]]] = {}

    def free(self, name: str, there: set[str], swings: bool = False) -> WayIn | None:
        """The first motion by which a tube can leave (or come to) its place with the others there."""
        others = sorted(there - {name})
        for i, (way, beside) in enumerate(self._ways(name)):
            near = (o for o in others if not beside[self._at[o]])
            if not any(self._blocks(name, ("straight", i), way, other) for other in near):
                return WayIn(vector(way))
        if swings:
            for k, swing in enumerate(self._swings(name)):
                if not any(self._in_swing(name, k, swing, other) for other in others):
                    return swing
        return None

    def _ways(self, name: str) -> list[tuple[np.ndarray, list[bool]]]:
        """The car's axes first, then along and square to its own axis and those of the tubes it is joined
        to, then the diagonals; and which tubes each passes by."""
        if name not in self._straight:
            t = self.tubes[name]
            joined = [self.tubes[o] for o in self.tubes if o in t.cut_to or name in self.tubes[o].cut_to]
            found: list[np.ndarray] = [*np.eye(3)[[2, 1, 0]]]
            for o in joined:
                found += [o.axis, np.cross(t.axis, o.axis)]
            found += [np.cross(t.axis, f) for f in np.eye(3)] + [t.axis]
            found += [np.array(v, float) for v in product((-1, 0, 1), repeat=3) if np.abs(v).sum() > 1]
            out: list[np.ndarray] = []
            for f in found:
                size = float(np.linalg.norm(f))
                if size < 0.05:
                    continue
                for sign in (1.0, -1.0):
                    way = sign * f / size
                    if all(float(way @ w) < SAME for w in out):
                        out.append(way)
            beside = _passes_by(t, list(self.tubes.values()), np.array(out))
            self._straight[name] = list(zip(out, beside.tolist(), strict=True))
        return self._straight[name]

    def _blocks(self, name: str, key: tuple, way: np.ndarray, other: str) -> bool:
        known = (name, key, other)
        if known not in self._blocked:
            self._blocked[known] = _in_the_way(self.tubes[name], self.tubes[other], way)
        return self._blocked[known]

    # swings

    def _swings(self, name: str) -> Iterator[WayIn]:
        t = self.tubes[name]
        for k, end in enumerate(("from", "to")):
            out = (t.ends[1 - k] - t.ends[k]) / np.linalg.norm(t.ends[1] - t.ends[0])
            here = [self.tubes[r] for r in t.cut_to if r in self.tubes]
            near = [o for o in here if _distance(t.ends[k], o.ends) < _distance(t.ends[1 - k], o.ends)]
            axes = [(o.axis, _nearest(t.ends[k], o.ends)) for o in near]
            for f in np.eye(3):
                axis, half = np.cross(t.axis, f), max(t.section.width_mm, t.section.height_mm) / 2
                side = np.cross(axis, t.axis)
                size = float(np.linalg.norm(axis))
                if size > 0.4:  # about the middle of its end, and about either edge
                    axes += [(axis, t.ends[k] + off * half * side / size) for off in (0.0, 1.0, -1.0)]
            for axis, pivot in axes:
                axis = axis - float(axis @ out) * out
                size = float(np.linalg.norm(axis))
                for deg in SWINGS_DEG if size > 0.5 else ():
                    for sign in (1.0, -1.0):
                        way = _turned(np.array([out]), np.zeros(3), axis / size, sign * deg)[0]
                        yield WayIn(vector(way), sign * deg, vector(axis / size), vector(pivot), end)

    def _in_swing(self, name: str, k: int, m: WayIn, other: str) -> bool:
        known = (name, ("swing", k), other)
        if known not in self._blocked:
            self._blocked[known] = _in_the_swing(self.tubes[name], self.tubes[other], m)
        return self._blocked[known]


def _in_the_way(t: TubeInPlace, other: TubeInPlace, way: np.ndarray) -> bool:
    """Whether a tube that leaves along `way` enters another. The one that is cut to the other is the one
    whose points are followed: its hull would hold the other's metal."""
    if t.name in other.cut_to and other.name not in t.cut_to:
        return _enters(other.points, t, -way) is not False
    found = _enters(t.points, other, way)
    if found is None:
        found = _enters(other.points, t, -way)
    return found is not False


def _enters(points: np.ndarray, hull: TubeInPlace, way: np.ndarray) -> bool | None:
    """Whether a point that goes along `way` comes into a hull; None where some are in it from the start."""
    enter, leave = hull.met(points, way)
    ahead = leave > 1e-6
    if (ahead & (enter < -1e-6)).any():
        return None
    return bool(ahead.any())


def _passes_by(t: TubeInPlace, others: list[TubeInPlace], ways: np.ndarray) -> np.ndarray:
    """(ways, others): whether the two, seen along a way, are plainly beside each other: their axes farther
    apart than both are wide."""
    flat = np.eye(3) - ways[:, :, None] * ways[:, None]
    wide = [math.hypot(x.section.width_mm, x.section.height_mm) / 2 for x in (t, *others)]
    ends = np.array([o.ends for o in others]) @ flat[:, None]
    return _apart((t.ends @ flat)[:, None], ends) > wide[0] + np.array(wide[1:]) + 1.0


def _in_the_swing(t: TubeInPlace, other: TubeInPlace, m: WayIn) -> bool:
    axis, pivot = np.array(m.axis), np.array(m.pivot)
    follow = not (t.name in other.cut_to and other.name not in t.cut_to)
    points, hull = (t.points, other) if follow else (other.points, t)
    if follow and hull.holds(points).any():
        points, hull, follow = other.points, t, False
    far = float(np.linalg.norm(points - pivot, axis=1).max())
    if _distance(pivot, other.ends) > far + 60.0 and _passes_by(t, [other], np.array([m.way]))[0, 0]:
        return False
    count = max(2, math.ceil(math.radians(abs(m.swung_deg)) * far / STEP_MM))
    degrees = np.linspace(0.0, m.swung_deg if follow else -m.swung_deg, count + 1)
    for some in np.array_split(degrees, math.ceil(len(degrees) / AT_ONCE)):
        if hull.holds((pivot + (points - pivot) @ _turns(axis, some)).reshape(-1, 3)).any():
            return True
    if follow:
        moved, way = _turned(points, pivot, axis, m.swung_deg), np.array(m.way)
    else:  # the other tube, seen from the one that leans
        moved = _turned(points, pivot, axis, -m.swung_deg)
        way = -_turned(np.array([m.way]), np.zeros(3), axis, -m.swung_deg)[0]
    return _enters(moved, hull, way) is not False


def _turned(points: np.ndarray, pivot: np.ndarray, axis: np.ndarray, deg: float) -> np.ndarray:
    """Right-handed about an axis through a pivot."""
    return pivot + (points - pivot) @ _turns(axis, np.array([deg]))[0]


def _turns(axis: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    """(n, 3, 3) by which rows of points turn about the axis (Rodrigues)."""
    a = np.radians(degrees)[:, None, None]
    across = np.cross(axis, np.eye(3))
    return np.cos(a) * np.eye(3) + np.sin(a) * across + (1 - np.cos(a)) * np.outer(axis, axis)


def _nearest(point: np.ndarray, ends: np.ndarray) -> np.ndarray:
    d = ends[1] - ends[0]
    return ends[0] + float(np.clip((point - ends[0]) @ d / (d @ d), 0, 1)) * d


def _distance(point: np.ndarray, ends: np.ndarray) -> float:
    return float(np.linalg.norm(point - _nearest(point, ends)))


def _apart(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Least distance of segments (..., 2, 3), at least: from points along one to the other."""
    share = np.linspace(0, 1, 65)[:, None]
    first, d = b[..., :1, :], np.diff(b, axis=-2)
    p = a[..., :1, :] * (1 - share) + a[..., 1:, :] * share - first
    size = (d * d).sum(-1)
    t = np.clip((p * d).sum(-1) / np.where(size > 1e-9, size, np.inf), 0, 1)
    step = np.sqrt((np.diff(a, axis=-2) ** 2).sum(-1))[..., 0] / 64 / 2
    return np.sqrt(((p - t[..., None] * d) ** 2).sum(-1).min(-1)) - step
