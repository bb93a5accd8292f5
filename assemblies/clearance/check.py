"""Every pair of bodies over the whole travel (and rack): the guaranteed gap, where it is, and whether it is enough.

Which pairs: every moving body against every member and against every other moving body. Not checked: two bodies of the
frame (welded together), the halves of one body, bodies that ride together. Joined bodies are checked too, less what lies
within each joint's own zone.
"""
from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field, fields
from typing import NamedTuple

import numpy as np

from assemblies.clearance.bounds import Corner, carrier_index
from assemblies.clearance.memory import recall, remember
from assemblies.clearance.plan import Cast, Groups, Pair, form_point
from assemblies.clearance.scene import Grid, both_ways
from assemblies.clearance.search import ARITHMETIC_MM, Search

FULL = 400  # up to so many pairs all are searched; beyond it
FAR_MM = 500.0  # bodies whose swept boxes are further apart than this are only bounded
SPOILT = {"damper"}  # bodies that an exhaust's heat spoils
ROUGH = 0.5  # of its depth: how nearly an overlap with an imported neighbour is known (thousands of triangles are about as deep)
LEAST_SHARE = 0.1  # of the tolerance: no pair is searched finer, however coarse an imported neighbour's triangles are


@dataclass(frozen=True)
class Limits:
    """Required gaps by neighbour type, mm (common practice): to a fixed part 8, between moving parts 12, tyre to anything
    20; `others` for further kinds. `flex` is added to all."""

    fixed: float = 8.0
    moving: float = 12.0
    tyre: float = 20.0
    flex: float = 0.0
    others: dict[str, float] = field(default_factory=lambda: {"hose": 15.0, "exhaust": 30.0})
    heat: float = 75.0  # an exhaust to what it spoils: a hose, a damper

    @staticmethod
    def of(clearance) -> Limits:
        return Limits(clearance.fixed, clearance.moving, clearance.tyre, clearance.flex, {k: getattr(clearance, k) for k in ("hose", "exhaust", "engine", "driver", "caliper")},
                      clearance.exhaust_heat)

    def required_mm(self, a: str, b: str) -> float:
        """The gap that bodies of kinds a and b need. Raises ValueError for a kind without a limit."""
        special = self.others | {"tyre": self.tyre}
        for kind in (a, b):
            if kind not in special and kind not in ("fixed", "moving"):
                raise ValueError(f"clearance: kind is {kind!r}; it must be fixed, moving or one of {', '.join(special)}")
        asked = [special[kind] for kind in (a, b) if kind in special] + [self.heat] * ({a, b} == {"exhaust", "hose"})
        return (max(asked) if asked else self.fixed if "fixed" in (a, b) else self.moving) + self.flex

    def of_pair(self, pair: Pair, cast: Cast) -> float:
        """What a pair needs: its joint's own requirement or its neighbour type's, with both bodies' margins."""
        own = pair.required_mm
        least = self.required_mm(cast.kind[pair.a], cast.kind[pair.b]) if own is None else own + self.flex
        if own is None and "exhaust" in (cast.kind[pair.a], cast.kind[pair.b]) and SPOILT & {pair.a, pair.b}:
            least = max(least, self.heat + self.flex)
        return least + cast.margin[pair.a] + cast.margin[pair.b]

    def kind_of(self, a: str, b: str) -> str:
        """The neighbour type of a pair: of two kinds the one that asks for more."""
        if "moving" in (a, b) and a != b:
            return b if a == "moving" else a
        return max((a, b), key=lambda kind: self.required_mm(kind, kind))


class Gap(NamedTuple):
    """A pair's least gap: proven, found, the pose and the points where it was found."""

    low_mm: float
    high_mm: float
    wheel_mm: float
    rack_mm: float
    point_a: tuple[float, float, float]
    point_b: tuple[float, float, float]


@dataclass(frozen=True)
class PairResult:
    """Bodies a and b over all poses (of more than FULL pairs those far apart are only bounded: a wide bracket). The true least gap lies between `gap_mm` (proven) and `found_gap_mm` (found at
    `at_wheel_mm`, `at_rack_mm`, between `point_a` and `point_b`); negative is depth. `under_mm`: from and to of the travel
    outside which the gap is proven to be enough; `clash_mm` the same for bodies that overlap."""

    a: str
    b: str
    kind: str
    gap_mm: float
    found_gap_mm: float
    required_mm: float
    at_wheel_mm: float
    at_rack_mm: float
    point_a: tuple[float, float, float]
    point_b: tuple[float, float, float]
    under_mm: tuple[float, float] | None = None
    clash_mm: tuple[float, float] | None = None
    at_other_wheel_mm: float | None = None  # of a pair of both sides: the other wheel's height
    margin_mm: float = 0.0  # building tolerance of both bodies, part of what is required

    @property
    def ok(self) -> bool:
        return self.gap_mm >= self.required_mm

    @property
    def clash(self) -> bool:
        return self.found_gap_mm < 0


@dataclass(frozen=True)
class Report:
    """Results, nearest to its limit first; what was not checked, and why; how many exact distances were asked."""

    pairs: tuple[PairResult, ...]
    not_checked: tuple[tuple[str, str, str], ...]
    queries: int
    tolerance_mm: float


def check(bodies, mechanism, travel_mm: tuple[float, float], rack_mm: float = 0.0, joints=(), limits: Limits | None = None,
          tolerance_mm: float = 0.1, between_runs: bool = False) -> Report:
    """Check all pairs over wheel travel from `travel_mm[0]` to `[1]` and rack ±`rack_mm`.

    Pairs are remembered by content for the life of the process, and `between_runs` on disk: after one tube moved, only its own
    pairs are looked at.
    Raises ValueError for a travel the corner cannot reach, an unknown carrier or kind, a body without form, a joint of
    an unknown body."""
    if not (math.isfinite(travel_mm[0]) and travel_mm[0] < travel_mm[1]):
        raise ValueError(f"clearance: travel is {travel_mm}; its first value must be below its second")
    if not tolerance_mm > 0:
        raise ValueError(f"clearance: tolerance is {tolerance_mm} mm; it must be more than 0")
    return look(Cast(bodies, joints), mechanism.points, lambda: Corner(mechanism), tuple(map(float, travel_mm)), both_ways(rack_mm), limits or Limits(), tolerance_mm, between_runs)


def look(cast: Cast, points, motion, travel: tuple[float, float], second: tuple[float, float] | None, limits: Limits, tolerance_mm: float,
         between_runs: bool) -> Report:
    """The pairs of a cast over travel and a second range of `motion()` (rack, or the other side's travel), which `points` determine."""
    need = [limits.of_pair(p, cast) for p in cast.pairs]
    content = [np.asarray(getattr(points, f.name)).tolist() for f in fields(points)]
    corner = hashlib.sha256(repr((content, travel, second, float(tolerance_mm), len(cast.pairs) > FULL)).encode()).hexdigest()
    keys = [f"{corner}|{key}|{least!r}" for key, least in zip(cast.keys(), need, strict=True)]
    known = recall(corner, keys, between_runs)
    fresh = [i for i, k in enumerate(keys) if k not in known]
    queries = 0
    if fresh:
        grid = Grid(motion(), travel, second)
        found, queries = _look([cast.pairs[i] for i in fresh], [need[i] for i in fresh], cast, grid, tolerance_mm)
        known |= {keys[i]: f for i, f in zip(fresh, found, strict=True)}
        remember(corner, known, between_runs)
    skipped, results = list(cast.skipped), []
    for pair, key, least in zip(cast.pairs, keys, need, strict=True):
        row, under, clash = known[key]
        gap = Gap(*row) if row is not None else None
        if gap is None:
            skipped.append((pair.a, pair.b, "nothing of one of them lies outside the joint's own zone"))
            continue
        if gap.low_mm < least and gap.high_mm - gap.low_mm > 2 * tolerance_mm and not any(b.shells for n in (pair.a, pair.b) for b in cast.parts[n]):
            skipped.append((pair.a, pair.b, f"known only between {gap.low_mm:.2f} and {gap.high_mm:.2f} mm: too many cells to say more"))
        kind = limits.kind_of(cast.kind[pair.a], cast.kind[pair.b])
        results.append(PairResult(pair.a, pair.b, kind, gap.low_mm, gap.high_mm, least, gap.wheel_mm, gap.rack_mm, gap.point_a,
                                  gap.point_b, under, clash, margin_mm=cast.margin[pair.a] + cast.margin[pair.b]))
    results.sort(key=lambda r: (r.gap_mm - r.required_mm, r.a, r.b))
    return Report(tuple(results), tuple(skipped), queries, tolerance_mm)


def _look(pairs: list[Pair], need: list[float], cast: Cast, grid: Grid, tolerance_mm: float) -> tuple[list[tuple], int]:
    """(gap, under, clash) of each pair, and the number of exact distances asked."""
    out: list[tuple] = [(None, None, None)] * len(pairs)
    far = cast.far(pairs, grid)
    bounded = (far > np.maximum(FAR_MM, need)) & (len(cast.pairs) > FULL)
    for k, gap in zip(np.flatnonzero(bounded), _bounded([pairs[k] for k in np.flatnonzero(bounded)], cast, grid, far[bounded]), strict=True):
        out[k] = gap, None, None
    near = np.flatnonzero(~bounded)
    made = Groups(cast, [pairs[k] for k in near], tolerance_mm)
    near = [(k, g) for k, g in zip(near, made.groups, strict=True) if g[0] and g[1]]
    if not near:
        return out, 0
    scene, least = made.forest.scene(), np.array([need[k] for k, _ in near])
    search = Search(scene, grid)
    beyond = np.array([scene.beyond[a].max() + scene.beyond[b].max() for _, (a, b) in near])
    short = np.array([sum(max(made.forest.pieces[i].short_mm for i in side) for side in g) for _, g in near])
    found = search.run([g for _, g in near], np.maximum(tolerance_mm - beyond - short - 1e-5, LEAST_SHARE * tolerance_mm), ROUGH * (short > 0))
    spans = []
    for below in (least + short, np.zeros(len(near))):
        span = [None] * len(near)
        which = np.flatnonzero(found.high < below)
        if len(which):
            for w, edges in zip(which, search.stretch(which, below[which]), strict=True):
                span[w] = (float(edges[0]), float(edges[1]))
        spans.append(span)
    for n, (k, _) in enumerate(near):
        high = float(found.high[n] + scene.beyond[found.i[n]] + scene.beyond[found.j[n]])
        if _shell_holds(pairs[k], cast, grid, found.z[n], found.s[n]) and high > 0:  # wholly inside, at every pose as at this one
            out[k] = Gap(-float(_depth_at_most(pairs[k], cast)), -max(float(found.low[n] - short[n]), 0.0), float(grid.wheel_mm(found.z[n])),
                         float(grid.rack_mm(found.s[n])), tuple(map(float, found.a[n])), tuple(map(float, found.b[n]))), grid.travel, grid.travel
            continue
        out[k] = (Gap(float(found.low[n] - short[n]), high, float(grid.wheel_mm(found.z[n])), float(grid.rack_mm(found.s[n])),
                      tuple(map(float, found.a[n])), tuple(map(float, found.b[n]))), spans[0][n], spans[1][n])
    return out, search.library.queries


def _shell_holds(pair: Pair, cast: Cast, grid: Grid, z, s) -> bool:
    """Whether some part of one body lies wholly inside a closed mesh of the other (their surfaces are apart)."""
    if not any(body.shells for name in (pair.a, pair.b) for body in cast.parts[name]):
        return False
    frames = grid.at(np.array([z]), np.array([s]))[0]
    for one, two in ((pair.a, pair.b), (pair.b, pair.a)):
        for body in cast.parts[one]:
            f = frames[carrier_index(body.carrier)]
            for other in cast.parts[two]:
                g = frames[carrier_index(other.carrier)]
                points = [*map(form_point, other.forms), *(x.point for x in other.shells)]
                own = [f[:, :3].T @ (g[:, :3] @ p + g[:, 3] - f[:, 3]) for p in points]
                if any(shell.holds(p) for shell in body.shells for p in own):
                    return True
    return False


def _depth_at_most(pair: Pair, cast: Cast) -> float:
    """No body is deeper in another than the smaller one's own size."""
    sizes = []
    for name in (pair.a, pair.b):
        boxes = np.concatenate([b.boxes for b in cast.parts[name]])
        sizes.append(np.sqrt(((boxes[:, 1].max(0) - boxes[:, 0].min(0)) ** 2).sum()))
    return float(min(sizes))


def _bounded(pairs: list[Pair], cast: Cast, grid: Grid, low_mm: np.ndarray) -> list[Gap]:
    """Far pairs: their proven gaps, and the distance of some two points in the middle of the travel."""
    if not pairs:
        return []
    middle = np.array([grid.FINE // 2])
    frames = grid.at(middle, middle)[0]
    place, point = {}, []
    for name in {n for p in pairs for n in (p.a, p.b)}:
        body = cast.parts[name][0]
        f = frames[carrier_index(body.carrier)]
        place[name] = len(point)
        point.append(f[:, :3] @ body.a_point + f[:, 3])
    point = np.array(point)
    a, b = (point[[place[getattr(p, side)] for p in pairs]] for side in "ab")
    high = np.sqrt(((b - a) ** 2).sum(1))
    wheel, rack = float(grid.wheel_mm(middle)[0]), float(grid.rack_mm(middle)[0])
    return [Gap(lo - ARITHMETIC_MM, hi, wheel, rack, tuple(p), tuple(q))
            for lo, hi, p, q in zip(low_mm.tolist(), high.tolist(), a.tolist(), b.tolist(), strict=True)]
