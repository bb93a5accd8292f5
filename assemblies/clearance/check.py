"""Every pair of bodies over the whole travel (and rack): the guaranteed gap, where it is, and whether it is
enough.

Which pairs: every moving body against every member and against every other moving body. Not checked: two
bodies that stand still, the halves of one body, what rides together on one carrier (see rest.py). Joined
bodies are checked too, part by part: only what turns in the other is left out.

Depth is the shortest shift that parts two bodies. An imported neighbour is met by its surface alone, which
says little of how deep a body is in it: where surfaces meet, or a body is wholly inside, the depth is proven
by the boxes both sweep.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import field, fields, replace
from typing import NamedTuple

import numpy as np

from assemblies.clearance.bounds import OTHER, CornerBounds, carrier_index
from assemblies.clearance.cells import box_gap
from assemblies.clearance.memory import GRAIN_MM, in_grains, recall, remember
from assemblies.clearance.plan import ITSELF, Cast, Groups, Pair, form_points, swept_box
from assemblies.clearance.scene import Grid, both_ways, span
from assemblies.clearance.search import ARITHMETIC_MM, Search
from assemblies.clearance.straight import Straight
from assemblies.job import neighbours
from assemblies.motion.links import LINK
from parts.base.frozen import dataclass
from parts.shape.form import Frame, vector

FULL = 400  # up to so many pairs all are searched; beyond it
FAR_MM = 500.0  # bodies whose swept boxes are further apart than this are only bounded
# of its depth: how nearly an overlap with an imported neighbour is known (thousands of triangles are about as
# deep)
ROUGH = 0.5
Span = tuple[float, float] | None  # of travel
LEAST_TOLERANCE_MM = 0.001  # the distance library errs by up to 3e-4 mm
LEAST_SHARE = (
    0.1  # of the tolerance: no pair is searched finer, however coarse an imported neighbour's triangles are
)


@dataclass(frozen=True)
class Limits:
    """Required gaps by neighbour type, mm (common practice): to a fixed part 8, between moving parts 12, tyre
    to anything 20; `others` for further kinds. `flex` is added to all."""

    fixed: float = 8.0
    moving: float = 12.0
    tyre: float = 20.0
    flex: float = 0.0
    others: dict[str, float] = field(
        default_factory=lambda: {k.word: k.gap_mm for k in neighbours.NEIGHBOUR_KINDS}
    )
    heat: float = neighbours.HEAT_MM  # a hot kind to what it spoils

    @staticmethod
    def of(clearance) -> Limits:
        return Limits(
            clearance.fixed,
            clearance.moving,
            clearance.tyre,
            clearance.flex,
            {k: getattr(clearance, k) for k in neighbours.WORDS},
            clearance.exhaust_heat,
        )

    def required_mm(self, a: str, b: str) -> float:
        """The gap that bodies of kinds a and b need. Raises ValueError for a kind without a limit."""
        special = self.others | {"tyre": self.tyre}
        for kind in (a, b):
            if kind not in special and kind not in ("fixed", "moving"):
                raise ValueError(
                    f"clearance: kind is {kind!r}; it must be fixed, moving or one of {', '.join(special)}"
                )
        asked = [special[kind] for kind in (a, b) if kind in special]
        asked += [self.heat] * neighbours.needs_heat(a, b)
        return (max(asked) if asked else self.fixed if "fixed" in (a, b) else self.moving) + self.flex

    def of_pair(self, pair: Pair, cast: Cast) -> float:
        """What a pair needs: its joint's own requirement or its neighbour type's, with both bodies' margins;
        parts that a joint names need what it says."""
        own = pair.required_mm
        if pair.fixed and own is not None:
            return own + min(self.flex, 0.0)
        least = self.required_mm(cast.kind[pair.a], cast.kind[pair.b]) if own is None else own + self.flex
        if (
            own is None
            and any(neighbours.is_hot(cast.kind[x]) for x in (pair.a, pair.b))
            and neighbours.SPOILT_BODIES & {n.removeprefix(OTHER) for n in (pair.a, pair.b)}
        ):
            least = max(least, self.heat + self.flex)
        return least + cast.margin[pair.a] + cast.margin[pair.b]

    def kind_of(self, a: str, b: str) -> str:
        """The neighbour type of a pair: of two kinds the one that asks for more."""
        if "moving" in (a, b) and a != b:
            return b if a == "moving" else a
        return max((a, b), key=lambda kind: self.required_mm(kind, kind))


class LeastGap(NamedTuple):
    """A pair's least gap: proven, found, the pose and the points where it was found."""

    low_mm: float
    high_mm: float
    wheel_mm: float
    rack_mm: float
    point_a: tuple[float, float, float]
    point_b: tuple[float, float, float]


@dataclass(frozen=True)
class PairResult:
    """Bodies a and b over all poses (of more than FULL pairs those far apart are only bounded: a wide
    bracket). The true least gap lies between `gap_mm` (proven) and `found_gap_mm` (found at `at_wheel_mm`,
    `at_rack_mm`, between `point_a` and `point_b`); negative is depth. `under_mm`: from and to of the travel
    outside which the gap is proven to be enough; `clash_mm` the same for bodies that overlap.

    Of joined bodies the parts that lack most tell the row; `under_mm` and `clash_mm` are of all of them,
    `least_gap_mm` is what is proven of all that do not turn in one another."""

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
    least_gap_mm: float | None = None  # None: `gap_mm` is it

    @property
    def ok(self) -> bool:
        return self.gap_mm >= self.required_mm

    @property
    def clash(self) -> bool:
        return self.found_gap_mm < 0


@dataclass(frozen=True)
class Report:
    """Results, nearest to its limit first; what was not checked, and why; how many exact distances were
    asked."""

    pairs: tuple[PairResult, ...]
    not_checked: tuple[tuple[str, str, str], ...]
    queries: int
    tolerance_mm: float


def check(
    bodies,
    mechanism,
    travel_mm: tuple[float, float],
    rack_mm: float = 0.0,
    joints=(),
    limits: Limits | None = None,
    tolerance_mm: float = 0.1,
    between_runs: bool = False,
    only: str | None = None,
) -> Report:
    """Check all pairs over wheel travel from `travel_mm[0]` to `[1]` and rack ±`rack_mm`; `mechanism`: one,
    or its `bounds.Corner`. `only`: the pairs of that body alone.

    Pairs are remembered by content for the life of the process, and `between_runs` on disk: after one tube
    moved, only its own pairs are looked at. The finer the tolerance the longer it takes: cells of travel are
    cut till what a path bends in one (h²/2·sup|p''|) is less, even where the gap stays the same all along, as
    of parts that turn about one axis; at 0.001 mm some ten times as long as at 0.1 mm. Raises ValueError for
    a tolerance under `LEAST_TOLERANCE_MM`, a travel the corner cannot reach, an unknown carrier or kind, a
    body without form, a joint of an unknown body."""
    if not (math.isfinite(travel_mm[0]) and travel_mm[0] < travel_mm[1]):
        raise ValueError(f"clearance: travel is {travel_mm}; its first value must be below its second")
    if not tolerance_mm >= LEAST_TOLERANCE_MM:
        raise ValueError(
            f"clearance: tolerance is {tolerance_mm} mm; it must be {LEAST_TOLERANCE_MM} mm or more: finer "
            f"than that distances are not exact"
        )
    for body in bodies:
        _stands_in_the_car(body)
    wanted = None if only is None else {(only, b.name) for b in bodies}
    return look(
        Cast(bodies, joints, wanted),
        mechanism.points,
        lambda: CornerBounds.of(mechanism),
        span(travel_mm),
        both_ways(rack_mm),
        limits or Limits(),
        tolerance_mm,
        between_runs,
    )


def _stands_in_the_car(body) -> None:
    """Raises ValueError for a form that was never moved: a part's `form()` is in the part's own axes, so it
    would stand on the ground in the middle of the car, clear of everything."""
    pieces = [p for form in body.forms for p in form.pieces]
    if body.carrier == "frame" and pieces and all(p.frame == Frame() for p in pieces):
        raise ValueError(
            f"clearance: body {body.name!r} is in its part's own axes: bodies are given in car "
            f"coordinates. Put it where it stands: form.moved(frame), with member.frame "
            f"for a member"
        )


def look(
    cast: Cast,
    points,
    motion,
    travel: tuple[float, float],
    second: tuple[float, float] | None,
    limits: Limits,
    tolerance_mm: float,
    between_runs: bool,
) -> Report:
    """The pairs of a cast over travel and a second range of `motion()` (rack, or the other side's travel),
    which `points` determine."""
    need = [limits.of_pair(p, cast) for p in cast.pairs]
    content = [np.asarray(getattr(points, f.name)).tolist() for f in fields(points) if f.name != "links"]
    corner = hashlib.sha256(
        repr((content, travel, second, float(tolerance_mm), len(cast.pairs) > FULL)).encode()
    ).hexdigest()
    keys = [
        f"{corner}|{key}|{least!r}{_linked(pair, cast, points)}"
        for pair, key, least in zip(cast.pairs, cast.keys(), need, strict=True)
    ]
    known = recall(corner, keys, between_runs)
    fresh = [i for i, k in enumerate(keys) if k not in known]
    queries = 0
    if fresh:
        found, queries = _over_all(
            [cast.pairs[i] for i in fresh],
            [need[i] for i in fresh],
            cast,
            motion(),
            travel,
            second,
            tolerance_mm,
            between_runs,
        )
        known |= {
            keys[i]: (place and tuple(place), *more) for i, (place, *more) in zip(fresh, found, strict=True)
        }
        remember(corner, known, between_runs)
    skipped = [
        *cast.skipped,
        *(
            (a, b, f"{ITSELF}: {one or a} and {two or b} turn in one another")
            for a, one, b, two in cast.turning
        ),
    ]
    rows: dict[tuple[str, str], list[PairResult]] = {}
    for pair, key, least in zip(cast.pairs, keys, need, strict=True):
        place, under, clash = known[key]
        if place is None:  # nothing of one of them lies beyond the joint's zone: its own gap says all
            continue
        gap = LeastGap(*place)
        if _hardly_known(pair, gap, least, cast, tolerance_mm):
            between = f"{math.floor(100 * gap.low_mm) / 100:.2f} and {gap.high_mm:.2f} mm"
            skipped.append((pair.a, pair.b, f"known only between {between}: too many cells to say more"))
        row = PairResult(
            pair.a,
            pair.b,
            limits.kind_of(cast.kind[pair.a], cast.kind[pair.b]),
            gap.low_mm,
            gap.high_mm,
            least,
            gap.wheel_mm,
            gap.rack_mm,
            gap.point_a,
            gap.point_b,
            under,
            clash,
            margin_mm=0.0 if pair.fixed else cast.margin[pair.a] + cast.margin[pair.b],
        )
        rows.setdefault((pair.a, pair.b), []).append(row)
    results = [_told(some) for some in rows.values()]
    results.sort(key=lambda r: (r.gap_mm - r.required_mm, r.a, r.b))
    return Report(tuple(results), tuple(skipped), queries, tolerance_mm)


def _hardly_known(pair: Pair, gap: LeastGap, least_mm: float, cast: Cast, tolerance_mm: float) -> bool:
    """A gap that may be short and is told less nearly than asked, for want of cells and not of depth."""
    wide = gap.low_mm < least_mm and gap.high_mm - gap.low_mm > 2 * tolerance_mm
    return wide and not any(b.shells for n in (pair.a, pair.b) for b in cast.parts[n])


def _linked(pair: Pair, cast: Cast, points) -> str:
    """What carries the links among a pair's bodies: no other pair's gap hangs on it."""
    carriers = {b.carrier.removeprefix(OTHER) for n in (pair.a, pair.b) for b in cast.parts[n]}
    some = sorted(c for c in carriers if c.startswith(LINK))
    return "".join(f"|{points.links[int(c.removeprefix(LINK)) - 1]!r}" for c in some)


def _told(rows: list[PairResult]) -> PairResult:
    """Of the rows of two joined bodies the one to tell: a clash, else where most is lacking; with the travel
    over which any of them is short."""
    worst = min(rows, key=lambda r: (not r.clash, r.gap_mm - r.required_mm))
    if len(rows) == 1:
        return worst
    least = min(r.gap_mm for r in rows)
    under, clash = (
        _from_first_to_last(s) for s in zip(*((r.under_mm, r.clash_mm) for r in rows), strict=True)
    )
    return replace(
        worst, under_mm=under, clash_mm=clash, least_gap_mm=None if least >= worst.gap_mm else least
    )


def _from_first_to_last(spans: Iterable[Span]) -> Span:
    some = [s for s in spans if s]
    return (min(s[0] for s in some), max(s[1] for s in some)) if some else None


def _over_all(
    pairs: list[Pair],
    need: list[float],
    cast: Cast,
    motion,
    travel,
    second,
    tolerance_mm: float,
    between_runs: bool,
) -> tuple[list[tuple], int]:
    """(gap, under, clash) of each pair, and the number of exact distances asked; what the rack does not move
    over one axis only."""
    # of two sides either one's travel moves something of every pair
    steers = second and isinstance(motion, CornerBounds)
    straight = Straight.of(motion, travel, second, between_runs) if steers else None
    alike = {
        n
        for n, parts in cast.parts.items()
        if straight is not None and straight.stands_for(b.carrier for b in parts)
    }
    plain = np.array([p.a in alike and p.b in alike for p in pairs], bool)
    out: list[tuple] = [(None, None, None)] * len(pairs)
    queries = 0
    for which, along in ((~plain, None), (plain, straight)):
        some = [int(k) for k in np.flatnonzero(which)]
        if not some:
            continue
        grid = Grid(motion, travel, second) if along is None else Grid(motion, along.travel)
        found, asked = _look(
            [pairs[k] for k in some], [need[k] for k in some], cast, grid, tolerance_mm, between_runs
        )
        queries += asked
        for k, row in zip(some, found, strict=True):
            out[k] = row if along is None else along.told(*row)
    return out, queries


def _look(
    pairs: list[Pair], need: list[float], cast: Cast, grid: Grid, tolerance_mm: float, between_runs: bool
) -> tuple[list[tuple], int]:
    """(gap, under, clash) of each pair, and the number of exact distances asked."""
    out: list[tuple] = [(None, None, None)] * len(pairs)
    grid.at(np.array([0, 0, grid.FINE, grid.FINE]), np.array([0, grid.FINE] * 2))  # raises where out of reach
    far = cast.far(pairs, grid, between_runs) if len(cast.pairs) > FULL else np.zeros(len(pairs))
    bounded = far > np.maximum(FAR_MM, need)
    away = [int(k) for k in np.flatnonzero(bounded)]
    for k, gap in zip(away, _bounded([pairs[k] for k in away], cast, grid, far[bounded]), strict=True):
        out[k] = gap, None, None
    left = [int(k) for k in np.flatnonzero(~bounded)]
    made = Groups(cast, [pairs[k] for k in left], tolerance_mm)
    carriers = made.forest.carriers
    near = [
        (k, g)
        for k, g in zip(left, made.groups, strict=True)
        if len({carriers[i] for i in (*g[0], *g[1])}) > 1 and g[0] and g[1]
    ]
    if not near:
        return out, 0
    search = Search(made.forest.scene(), grid)
    some = [k for k, _ in near]
    rows = _searched(
        search, [g for _, g in near], [pairs[k] for k in some], [need[k] for k in some], cast, tolerance_mm
    )
    for k, row in zip(some, rows, strict=True):
        out[k] = row
    return out, search.library.queries


def _searched(
    search: Search,
    sides: list[tuple[list[int], list[int]]],
    pairs: list[Pair],
    need: list[float],
    cast: Cast,
    tolerance_mm: float,
) -> list[tuple]:
    """(gap, under, clash) of pairs by the pieces on their two sides. Pieces reach past the true bodies or
    fall short of them a little; what is told holds for the bodies."""
    scene, grid = search.scene, search.grid
    beyond = np.array([scene.beyond[a].max() + scene.beyond[b].max() for a, b in sides])
    short = np.array([sum(max(scene.pieces[i].short_mm for i in side) for side in both) for both in sides])
    meshed = np.array([any(b.shells for two in cast.apart(p) for b in two) for p in pairs])
    within = np.maximum(tolerance_mm - beyond - short - 1e-5, LEAST_SHARE * tolerance_mm)
    found = search.run(sides, within, ROUGH * meshed)
    under = _stretches(search, found.high, np.array(need) + short)
    clash = _stretches(search, found.high, np.zeros(len(pairs)))
    out = []
    for n, pair in enumerate(pairs):
        low = float(found.low[n] - short[n])
        high = float(found.high[n] + scene.beyond[found.i[n]] + scene.beyond[found.j[n]])
        z, s = int(found.z[n]), int(found.s[n])
        spans = under[n], clash[n]
        if meshed[n]:
            low, high, spans = _of_surfaces(pair, cast, grid, (low, high), spans, (z, s))
        place = float(grid.wheel_mm(z)), float(grid.rack_mm(s)), found.a[n], found.b[n]
        out.append((_grained(low, high, *place), *spans))
    return out


def _grained(low: float, high: float, wheel: float, rack: float, a: np.ndarray, b: np.ndarray) -> LeastGap:
    """A gap in whole grains, what is proven of it a grain lower."""
    (low, high), a, b = (in_grains(v) for v in ((low, high), a, b))
    return LeastGap(float(low) - GRAIN_MM, float(high), wheel, rack, vector(a), vector(b))


def _stretches(search: Search, gap_mm: np.ndarray, below_mm: np.ndarray) -> list[Span]:
    """The travel over which each pair's gap may be below a value; None where it never is."""
    out: list[Span] = [None] * len(gap_mm)
    which = np.flatnonzero(gap_mm < below_mm)
    if len(which):
        for n, edges in zip(which.tolist(), search.stretch(which, below_mm[which]), strict=True):
            out[n] = span(edges)
    return out


def _of_surfaces(
    pair: Pair,
    cast: Cast,
    grid: Grid,
    gap: tuple[float, float],
    spans: tuple[Span, Span],
    at: tuple[int, int],
) -> tuple[float, float, tuple[Span, Span]]:
    """Gap and stretches of a pair with an imported neighbour, whose surface alone was met."""
    (low, high), (z, s) = gap, at
    if high > 0 and _inside(pair, cast, grid, z, s):  # wholly, at every pose as at this one
        return _deepest(pair, cast, grid), -max(low, ARITHMETIC_MM), (grid.travel, grid.travel)
    if high > 0:
        return low, high, spans
    # beyond a stretch the surfaces are apart: as at its end of the travel
    ends = [_inside(pair, cast, grid, end, s) for end in (0, Grid.FINE)]
    longer = tuple(_lengthened(some, grid.travel, ends) for some in spans)
    return min(low, _deepest(pair, cast, grid)), high, (longer[0], longer[1])


def _inside(pair: Pair, cast: Cast, grid: Grid, z: int, s: int) -> bool:
    """Whether at a pose some piece of one body, the joints' zones aside, has a point inside a closed mesh of
    the other."""
    frames = grid.at(np.array([z]), np.array([s]))[0]
    for one, two in cast.apart(pair):
        for body, other in ((one, two), (two, one)):
            if not body.shells:
                continue
            f, g = (frames[carrier_index(x.carrier)] for x in (body, other))
            points = [
                *(p for form in other.forms for p in form_points(form)),
                *(x.point for x in other.shells),
            ]
            own = [
                f[:, :3].T @ (g[:, :3] @ p + g[:, 3] - f[:, 3])
                for p in points
                if all(math.dist(p, j.point) > j.radius_mm for j in pair.zones)
            ]
            if any(shell.holds(p) for shell in body.shells for p in own):
                return True
    return False


def _deepest(pair: Pair, cast: Cast, grid: Grid) -> float:
    """No gap to an imported neighbour is less than this, at any pose: shifted so far along some axis of the
    car, what both sweep lies in boxes that are apart."""
    return min(
        float(box_gap(*swept_box(a, grid), *swept_box(b, grid)))
        for a, b in cast.apart(pair)
        if a.shells or b.shells
    )


def _lengthened(span: Span, travel: tuple[float, float], ends: list[bool]) -> Span:
    """A stretch of travel, to the ends of the travel at which a body is inside the other."""
    return span and (travel[0] if ends[0] else span[0], travel[1] if ends[1] else span[1])


def _bounded(pairs: list[Pair], cast: Cast, grid: Grid, low_mm: np.ndarray) -> list[LeastGap]:
    """Far pairs: their proven gaps, and the distance of some two points in the middle of the travel."""
    if not pairs:
        return []
    middle = np.array([grid.FINE // 2])
    frames = grid.at(middle, middle)[0]
    place: dict[int, int] = {}
    at: list[np.ndarray] = []
    met = [cast.apart(p)[0] for p in pairs]
    for body in {id(body): body for two in met for body in two}.values():
        f = frames[carrier_index(body.carrier)]
        place[id(body)] = len(at)
        at.append(f[:, :3] @ body.a_point + f[:, 3])
    point = np.array(at)
    a, b = (point[[place[id(two[side])] for two in met]] for side in (0, 1))
    high = np.sqrt(((b - a) ** 2).sum(1))
    wheel, rack = float(grid.wheel_mm(middle)[0]), float(grid.rack_mm(middle)[0])
    return [
        _grained(lo - ARITHMETIC_MM, hi, wheel, rack, p, q)
        for lo, hi, p, q in zip(low_mm.tolist(), high.tolist(), a.tolist(), b.tolist(), strict=True)
    ]
