"""A frame's tubes as they stand, for motions and torches: points all over the metal of each, and its hull;
the mirror images of the other side among them. Lengths mm, car axes."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from assemblies.layout.junctions.fitting import OTHER, Junctions
from assemblies.layout.junctions.meeting import ENDS, Tube
from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.fitted_tube import Fitted, fitted
from parts.member import Section
from parts.skin import Face, Run
from parts.tube_end import TubeEnd
from parts.tube_wall import breaks_mm, wall_points

OTHER_SIDE = " other side"
TOUCH_MM = 0.25  # what is less deep only touches: fit-up
MIDDLE_MM = 1.0
AROUND, APART_MM = 32, 4.0  # points round the tube, and along it between its ends
NEAR_END_MM = np.array([0.0, 0.5, 1.0, 2.0, 3.0, 4.5, 6.5, 9.0])
MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False)
class TubeInPlace:
    """One tube in its place: `cut_to` the tubes its ends are cut to, `rank` its place in the order of
    fitting."""

    name: str
    tube: Fitted
    cut_to: frozenset[str]
    rank: int
    mirrored: bool = False

    @property
    def section(self) -> Section:
        return self.tube.section

    @cached_property
    def axis(self) -> np.ndarray:
        return self.in_car(np.eye(3)[2:], turn=True)[0]

    @cached_property
    def ends(self) -> np.ndarray:
        """Its two long points on the axis: (2, 3)."""
        t = self.tube
        z = [t.from_cut.long_mm, t.member.length_mm - t.to_cut.long_mm]
        return self.in_car(np.array([[0.0, 0.0, z[0]], [0.0, 0.0, z[1]]]))

    def in_car(self, local: np.ndarray, turn: bool = False) -> np.ndarray:
        m = self.tube.frame.matrix()
        out = local @ m[:3, :3].T + (0.0 if turn else m[:3, 3])
        return out * MIRROR if self.mirrored else out

    @cached_property
    def points(self) -> np.ndarray:
        """All over its outside and along the edges of its bore: (n, 3)."""
        t, long = self.tube, self.tube.member.length_mm
        girth = t.from_cut.around_mm[-1]
        corners = () if t.section.is_round else breaks_mm(t.section)
        s = distinct(np.concatenate([np.linspace(0, girth, AROUND, endpoint=False), corners]))
        s = s[s < girth - 1e-9]
        out = []
        for wall, depth in (("outer_mm", 0.0), ("inner_mm", t.section.wall_mm)):
            x, y, _ = wall_points(t.section, s, depth)
            low = np.interp(s, t.from_cut.around_mm, getattr(t.from_cut, wall))
            high = long - np.interp(s, t.to_cut.around_mm, getattr(t.to_cut, wall))
            z = [low + v for v in NEAR_END_MM] + [high - v for v in NEAR_END_MM]
            if not depth:
                first, last = NEAR_END_MM[-1], max(long - NEAR_END_MM[-1], NEAR_END_MM[-1] + 1.0)
                between = np.arange(first, last, APART_MM)
                z += [np.clip(np.full(len(s), v), low, high) for v in between]
            for v in z:
                kept = (v >= low - 1e-9) & (v <= high + 1e-9)
                out.append(np.column_stack([x, y, v])[kept])
        return self.in_car(np.concatenate(out))

    @cached_property
    def hull(self) -> tuple[Run, tuple[Face, ...]]:
        """Its outside between the long points, less what only touches, and the planes it is cut on."""
        t, m = self.tube, self.tube.member
        low, high = t.from_cut.long_mm + TOUCH_MM, m.length_mm - t.to_cut.long_mm - TOUCH_MM
        run = Run(self.name, self.section.shrunk(TOUCH_MM), m.frame, low, max(high, low + 0.1))
        planes = [c for cut in (t.from_cut, t.to_cut) for c in cut.cutters if isinstance(c, Face)]
        if self.mirrored:
            return run.mirrored(self.name), tuple(p.mirrored(p.name) for p in planes)
        return run, tuple(planes)

    def met(self, points: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where lines from points enter and leave its hull: inf, -inf for a miss."""
        enter, leave = np.full(len(points), np.inf), np.full(len(points), -np.inf)
        near = self._near(points, direction)
        if near.any():
            enter[near], leave[near] = self._met(points[near], direction)
        return enter, leave

    def _near(self, points: np.ndarray, direction: np.ndarray) -> np.ndarray:
        """Which lines pass its axis nearer than its corners are."""
        a, e = self.ends[0], self.ends[1] - self.ends[0]
        q, e = points - a, e - float(e @ direction) * direction
        q = q - (q @ direction)[:, None] * direction
        t = np.clip(q @ e / max(float(e @ e), 1e-9), 0, 1)[:, None]
        return ((q - t * e) ** 2).sum(1) <= self._round_mm**2

    @cached_property
    def _round_mm(self) -> float:
        """From its axis to its corners."""
        return math.hypot(self.section.width_mm, self.section.height_mm) / 2

    def _met(self, points: np.ndarray, direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        run, planes = self.hull
        enter, leave = run.span(points, direction)
        for plane in planes:
            n, q = np.array(plane.normal), np.array(plane.point)
            rate, off = float(n @ direction), (points - q) @ n - TOUCH_MM
            if abs(rate) < 1e-9:
                enter = np.where(off < 0, np.inf, enter)
            else:
                at = -off / rate
                enter, leave = (np.maximum(enter, at), leave) if rate > 0 else (enter, np.minimum(leave, at))
        missed = enter >= leave
        return np.where(missed, np.inf, enter), np.where(missed, -np.inf, leave)

    def holds(self, points: np.ndarray) -> np.ndarray:
        """Which points lie in its hull."""
        off, long = points - self.ends[0], float(np.linalg.norm(self.ends[1] - self.ends[0]))
        along = off @ self.axis
        inside = np.einsum("ij,ij->i", off, off) - along * along <= self._round_mm**2
        inside &= (along > 0) & (along < long)
        if inside.any():
            enter, leave = self._met(points[inside], self.axis)
            inside[inside] = (enter < 0) & (leave > 0)
        return inside

    def stands_as(self, run: str) -> str:
        """The name in the whole frame of a tube that this one is cut to."""
        if run.startswith(OTHER):
            return run.removeprefix(OTHER) + OTHER_SIDE
        return run + OTHER_SIDE if self.mirrored and run + OTHER_SIDE in self.cut_to else run

    def cuts(self) -> list[tuple[str, TubeEnd]]:
        return [(e, c) for e, c in zip(ENDS, (self.tube.from_cut, self.tube.to_cut), strict=True) if c.runs]


def standing(made: Junctions, both_sides: bool) -> list[TubeInPlace]:
    """Every tube; with `both_sides` the mirror images of those of one side too."""
    rank: dict[str, int] = {}
    for node in made.nodes:
        for i, name in enumerate(node.members):
            rank[name] = max(rank.get(name, 0), i)
    out = []
    for name, t in made.all.items():
        tube = made.tubes.get(name) or fitted(t.member)
        runs = frozenset(r for cut in (tube.from_cut, tube.to_cut) for r in cut.runs)
        across = frozenset(r.removeprefix(OTHER) + OTHER_SIDE for r in runs if r.startswith(OTHER))
        to = frozenset(r for r in runs if not r.startswith(OTHER)) | across
        out.append(TubeInPlace(name, tube, to, rank.get(name, 0)))
        if both_sides and _has_twin(t):
            twins = frozenset(r + OTHER_SIDE if _has_twin(made.all[r]) else r for r in runs if r in made.all)
            out.append(TubeInPlace(name + OTHER_SIDE, tube, twins, rank.get(name, 0), True))
    return out


def _has_twin(t: Tube) -> bool:
    a, b = float(t.end("from")[1]), float(t.end("to")[1])
    return max(abs(a), abs(b)) > MIDDLE_MM and not (a * b < 0 and min(abs(a), abs(b)) > MIDDLE_MM)
