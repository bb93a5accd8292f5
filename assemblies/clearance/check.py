"""Every pair of bodies over the whole travel (and rack): the guaranteed gap, where it is, and whether it is enough.

Which pairs: every moving body against every member and against every other moving body. Not checked: two bodies of the
frame (welded together), the halves of one body, bodies that ride together. Joined bodies are checked too, less what lies
within each joint's own zone.
"""
from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from assemblies.clearance.bounds import Corner, carrier_index
from assemblies.clearance.pieces import Piece, outside, pieces
from assemblies.clearance.scene import Forest, Grid
from assemblies.clearance.search import Search
from parts.form import Form


@dataclass(frozen=True)
class Body:
    """Rigid forms, car coordinates at ride height, that move with `carrier` ("frame" does not move).

    Entries of one name are one body (a damper: body and shaft). `kind`: "moving", "fixed", "tyre" or a key of
    `Limits.others`. `margin_mm`: building tolerance, added to what its pairs need. `hollow` keeps the bores of round forms."""

    name: str
    carrier: str
    forms: tuple[Form, ...]
    kind: str = "moving"
    margin_mm: float = 0.0
    hollow: bool = False


@dataclass(frozen=True)
class Joint:
    """Bodies a and b meet at `point` (car coordinates at ride; it moves with both). What of either lies wholly within
    `radius_mm` of it belongs to the joint and is left out of their pair; infinite leaves the pair out altogether.
    `required_mm`: what the rest of the pair needs, where that is not the neighbour type's gap."""

    a: str
    b: str
    point: tuple[float, float, float]
    radius_mm: float
    required_mm: float | None = None


@dataclass(frozen=True)
class Limits:
    """Required gaps by neighbour type, mm (common practice): to a fixed part 8, between moving parts 12, tyre to anything
    20; `others` for further kinds. `flex` is added to all."""

    fixed: float = 8.0
    moving: float = 12.0
    tyre: float = 20.0
    flex: float = 0.0
    others: dict[str, float] = field(default_factory=lambda: {"hose": 15.0, "exhaust": 30.0})

    @staticmethod
    def of(clearance) -> Limits:
        return Limits(clearance.fixed, clearance.moving, clearance.tyre, clearance.flex)

    def required_mm(self, a: str, b: str) -> float:
        """The gap that bodies of kinds a and b need. Raises ValueError for a kind without a limit."""
        special = self.others | {"tyre": self.tyre}
        for kind in (a, b):
            if kind not in special and kind not in ("fixed", "moving"):
                raise ValueError(f"clearance: kind is {kind!r}; it must be fixed, moving or one of {', '.join(special)}")
        asked = [special[kind] for kind in (a, b) if kind in special]
        return (max(asked) if asked else self.fixed if "fixed" in (a, b) else self.moving) + self.flex


@dataclass(frozen=True)
class PairResult:
    """Bodies a and b over all poses. The true least gap lies between `gap_mm` (proven) and `found_gap_mm` (found at
    `at_wheel_mm`, `at_rack_mm`, between `point_a` and `point_b`); negative is depth. `under_mm`: from and to of the travel
    where the gap found is under what is required; `clash_mm` the same where the bodies overlap."""

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


def check(bodies, mechanism, travel_mm: tuple[float, float], rack_mm: float = 0.0, joints=(), limits: Limits = Limits(),
          tolerance_mm: float = 0.1) -> Report:
    """Check all pairs over wheel travel from `travel_mm[0]` to `[1]` and rack ±`rack_mm`.

    Raises ValueError for a travel the corner cannot reach, an unknown carrier or kind, a body without form, a joint of
    an unknown body."""
    if not (math.isfinite(travel_mm[0]) and travel_mm[0] < travel_mm[1]):
        raise ValueError(f"clearance: travel is {travel_mm}; its first value must be below its second")
    if not tolerance_mm > 0:
        raise ValueError(f"clearance: tolerance is {tolerance_mm} mm; it must be more than 0")
    bodies = sorted(bodies, key=lambda b: (b.name, b.carrier))
    names = sorted({b.name for b in bodies})
    for joint in joints:
        for name in (joint.a, joint.b):
            if name not in names:
                raise ValueError(f"clearance: a joint names body {name!r}; the bodies are {', '.join(names)}")
    plan = _Plan(bodies, names, joints, tolerance_mm)
    if not plan.pairs:
        return Report((), tuple(plan.skipped), 0, tolerance_mm)
    forest = plan.forest
    scene = forest.scene()
    rack = (-abs(float(rack_mm)), abs(float(rack_mm))) if rack_mm else None
    search = Search(scene, Grid(Corner(mechanism), tuple(map(float, travel_mm)), rack))
    beyond = np.array([scene.beyond[a].max() + scene.beyond[b].max() for a, b in plan.groups])
    found = search.run(plan.groups, tolerance_mm - beyond - 1e-5)
    need = np.array([plan.needed_mm(a, b, limits) for a, b in plan.pairs])
    under, clash = np.full((2, len(need), 2), np.nan)
    for which, below, out in ((found.high < need, need, under), (found.high < 0, np.zeros(len(need)), clash)):
        which = np.flatnonzero(which)
        if len(which):
            out[which] = search.stretch(which, below[which])
    results = []
    for k, (a, b) in enumerate(plan.pairs):
        results.append(PairResult(
            a, b, plan.kind[b] if plan.kind[a] == "moving" else plan.kind[a], float(found.low[k]),
            float(found.high[k] + scene.beyond[found.i[k]] + scene.beyond[found.j[k]]), float(need[k]),
            float(search.grid.wheel_mm(found.z[k])), float(search.grid.rack_mm(found.s[k])),
            tuple(map(float, found.a[k])), tuple(map(float, found.b[k])), _span(under[k]), _span(clash[k])))
    results.sort(key=lambda r: (r.gap_mm - r.required_mm, r.a, r.b))
    return Report(tuple(results), tuple(plan.skipped), search.library.queries, tolerance_mm)


def _span(edges: np.ndarray) -> tuple[float, float] | None:
    return None if np.isnan(edges).any() else (float(edges[0]), float(edges[1]))


class _Plan:
    """Which pieces meet which: bodies made into pieces, pairs chosen, joints cut out."""

    def __init__(self, bodies, names, joints, tolerance_mm: float):
        self.forest = Forest()
        self.kind = {b.name: b.kind for b in bodies}
        self.margin = {n: max(b.margin_mm for b in bodies if b.name == n) for n in names}
        own: dict[str, list[int]] = {n: [] for n in names}
        for body in bodies:
            made = [p for form in body.forms for p in pieces(form, tolerance_mm * (0.2 if body.hollow else 0.1), body.hollow)]
            if not made:
                raise ValueError(f"clearance: body {body.name!r} has no form")
            own[body.name] += self._add(made, carrier_index(body.carrier))
        carried = {n: {self.forest.carriers[i] for i in own[n]} for n in names}
        self.pairs: list[tuple[str, str]] = []
        self.groups: list[tuple[np.ndarray, np.ndarray]] = []
        self.skipped: list[tuple[str, str, str]] = []
        self.required: dict[tuple[str, str], float] = {}
        moving = [n for n in names if carried[n] != {0}]
        still = [n for n in names if carried[n] == {0}]
        if len(still) > 1:
            self.skipped.append(("members", "members", "the parts of the frame are welded together"))
        for a, b in [*combinations(moving, 2), *((m, s) for m in moving for s in still)]:
            between = [j for j in joints if {j.a, j.b} == {a, b}]
            if len(carried[a]) == 1 and carried[a] == carried[b]:
                self.skipped.append((a, b, "they ride together"))
                continue
            if any(math.isinf(j.radius_mm) for j in between):
                self.skipped.append((a, b, "joined over their whole length"))
                continue
            one, two = own[a], own[b]
            for joint in between:
                one, two = self._outside(one, joint), self._outside(two, joint)
                if joint.required_mm is not None:
                    self.required[a, b] = joint.required_mm
            if not one or not two:
                self.skipped.append((a, b, "nothing of one of them lies outside the joint's own zone"))
                continue
            self.pairs.append((a, b))
            self.groups.append((np.array(one), np.array(two)))

    def needed_mm(self, a: str, b: str, limits: Limits) -> float:
        own = self.required.get((a, b))
        least = limits.required_mm(self.kind[a], self.kind[b]) if own is None else own + limits.flex
        return least + self.margin[a] + self.margin[b]

    def _add(self, made: list[Piece], carrier: int, family: int | None = None) -> list[int]:
        return [self.forest.add(piece, carrier, family) for piece in made]

    def _outside(self, which: list[int], joint: Joint) -> list[int]:
        """What of the pieces lies outside a joint's zone: whole pieces and covers where they can stay whole."""
        kept = (self._one_outside(i, joint) for i in which)
        return [k for k in kept if k is not None]

    def _one_outside(self, i: int, joint: Joint) -> int | None:
        piece, forest = self.forest.pieces[i], self.forest
        if _box_distance(piece.points, joint.point) >= joint.radius_mm:
            return i
        if ((piece.points - np.asarray(joint.point, float)) ** 2).sum(1).max() <= joint.radius_mm**2:
            return None
        if piece.real:
            parts = outside(piece, tuple(joint.point), joint.radius_mm)
            return forest.cover(i, self._add(parts, forest.carriers[i], forest.family[i]))
        return forest.cover(i, self._outside(list(forest.kids[i]), joint))


def _box_distance(points: np.ndarray, to) -> float:
    apart = np.maximum(np.maximum(points.min(0) - to, to - points.max(0)), 0)
    return float(np.sqrt(apart @ apart))
