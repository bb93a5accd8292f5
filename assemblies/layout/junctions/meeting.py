"""Which end of which tube meets which other tube, from the places and sections alone. Numbers only; lengths
mm, car axes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, lru_cache

import numpy as np

from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import Vector
from parts.skin import Run
from parts.tube_end import angle_deg
from parts.tube_wall import breaks_mm, wall_points

ENDS = ("from", "to")
IN_LINE_DEG = (
    10.0  # axes nearer to one line than this take no cope: it would be longer than six times the tube
)
TOUCH_MM = 0.2  # tubes that overlap by less only touch


@dataclass(frozen=True)
class Tube:
    """A tube of the frame that others may be cut to; `free`: its own ends are cut to others; `nodes`: the
    names of the job's nodes at its ends, "" where none; `moved`: what a point written at either end is
    moved by (groups)."""

    name: str
    member: Member
    free: bool = True
    nodes: tuple[str, str] = ("", "")
    moved: tuple[Vector, Vector] = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))

    def run(self, low_mm: float = -math.inf, high_mm: float = math.inf) -> Run:
        return Run(self.name, self.member.section, self.member.frame, low_mm, high_mm)

    @cached_property
    def lines(self) -> np.ndarray:
        """Starts of lines along the tube: its axis, then some round its outside."""
        at = breaks_mm(self.member.section)
        x, y, _ = wall_points(self.member.section, distinct(np.concatenate([at, (at[:-1] + at[1:]) / 2])))
        f = self.member.frame.matrix()
        return np.vstack([f[:3, 3], f[:3, 3] + np.outer(x, f[:3, 0]) + np.outer(y, f[:3, 1])])

    @cached_property
    def shrunk(self) -> Run:
        """Its outside, less what only touches."""
        less = self.member.section.shrunk(TOUCH_MM)
        return replace(self.run(0.0, self.member.length_mm), section=less)

    @property
    def half_mm(self) -> float:
        return max(self.member.section.width_mm, self.member.section.height_mm) / 2

    def end(self, which: str) -> np.ndarray:
        return np.array(self.member.from_ if which == "from" else self.member.to, float)

    def node(self, which: str) -> str:
        return self.nodes[ENDS.index(which)]

    def away(self, which: str) -> np.ndarray:
        """Unit vector from an end along the tube."""
        z = np.array(self.member.frame.z)
        return z if which == "from" else -z


@dataclass(frozen=True)
class Meeting:
    """An end that meets another tube: `foot_mm` is where along that tube their axes are nearest, `off_mm` how
    far apart they are there, `angle_deg` between the axes (0 to 90), `butts` the end of that tube it meets
    face to face."""

    tube: str
    end: str
    other: str
    foot_mm: float
    off_mm: float
    angle_deg: float
    butts: str | None = None


@dataclass(frozen=True)
class Beside:
    """Two tubes that overlap where neither is cut: `kind` "crossing" (through each other), "along" (side by
    side) or "short" (an end that stops short, by `mm`)."""

    kind: str
    tube: str
    end: str
    other: str
    mm: float
    angle_deg: float


def meetings(tubes: Sequence[Tube], within_mm: float) -> tuple[list[Meeting], list[Beside]]:
    """Every end that meets a tube, and what lies wrong beside that.

    An end meets a tube where its axis, from `within_mm` beyond the end to `within_mm` before it, meets that
    tube's outside (made longer by as much), or where its own outside overlaps it at the end."""
    met, beside = [], []
    for i, j in _near(tubes, within_mm):
        found = [_ends(tubes[a], tubes[b], within_mm) for a, b in ((i, j), (j, i))]
        met += [m for f in found for m in f[0]]
        wrong = [b for f in found for b in f[1]]
        if any(f[0] for f in found):
            wrong = [b for b in wrong if b.kind == "along" and not any(m.butts for f in found for m in f[0])]
        beside += wrong[:1]
    return met, beside


def _near(tubes: Sequence[Tube], within_mm: float) -> list[tuple[int, int]]:
    """Pairs whose axes come within reach of each other: the least distance of two segments, all pairs at
    once."""
    if len(tubes) < 2:
        return []
    i, j = np.triu_indices(len(tubes), 1)
    p = np.array([t.member.from_ for t in tubes])
    u = np.array([t.member.to for t in tubes]) - p
    grow = np.array([math.sqrt(2) * t.half_mm for t in tubes])
    w, a, b, c = p[i] - p[j], (u[i] ** 2).sum(1), (u[i] * u[j]).sum(1), (u[j] ** 2).sum(1)
    d, e = (u[i] * w).sum(1), (u[j] * w).sum(1)
    slant = a * c - b * b
    s = np.clip(
        np.where(slant > 1e-9 * a * c, (b * e - c * d) / np.where(slant > 1e-9 * a * c, slant, 1.0), 0.0),
        0,
        1,
    )
    for _ in range(2):  # each in turn, the other held: the ends are then right too
        t = np.clip((b * s + e) / c, 0, 1)
        s = np.clip((b * t - d) / a, 0, 1)
    gap = np.linalg.norm(w + s[:, None] * u[i] - t[:, None] * u[j], axis=1)
    near = gap < grow[i] + grow[j] + 3 * within_mm
    return list(zip(i[near].tolist(), j[near].tolist(), strict=True))


@lru_cache(4096)
def _ends(tube: Tube, other: Tube, within_mm: float) -> tuple[list[Meeting], list[Beside]]:
    """The ends of `tube` that meet `other`. Remembered: a layout is made anew for every change of one
    part."""
    m = tube.member
    long = m.length_mm
    between = angle_deg(m.frame.z, other.member.frame.z)
    lean = min(between, 180 - between)
    foot, off = _foot(m, other.member)
    if lean < IN_LINE_DEG:
        met = [
            Meeting(
                tube.name, end, other.name, 0.0 if butt == "from" else other.member.length_mm, off, lean, butt
            )
            for end in ENDS
            if (butt := _butted(tube, end, other, within_mm)) is not None
        ]
        if met or off > 1.5 * (tube.half_mm + other.half_mm):
            return met, []
    axis = np.array(m.frame.z)
    enter, leave = other.shrunk.span(tube.lines, axis)
    inside = (leave > np.maximum(enter, 0) + TOUCH_MM) & (
        enter < long - TOUCH_MM
    )  # for each line of the tube
    if lean < IN_LINE_DEG:
        return [], [Beside("along", tube.name, "", other.name, off, lean)] if inside.any() else []
    (a,), (b,) = other.run(-within_mm, other.member.length_mm + within_mm).span(tube.lines[:1], axis)
    met = []
    for end in ENDS:
        first, last = (a, b) if end == "from" else (long - b, long - a)  # from this end inwards
        starts, stops = (enter, leave) if end == "from" else (long - leave, long - enter)
        if (first <= within_mm and last >= -within_mm) or (
            inside & (starts <= TOUCH_MM) & (stops > TOUCH_MM)
        ).any():
            met.append(Meeting(tube.name, end, other.name, foot, off, lean))
    if met:
        return met, []
    if inside.any():
        past = min(float(enter[inside].min()), long - float(leave[inside].max()))
        return [], [Beside("crossing", tube.name, "", other.name, past, lean)]
    gaps = {end: -(b if end == "from" else long - a) for end in ENDS} if b >= a else {}
    short = [(gap, end) for end, gap in gaps.items() if within_mm < gap <= 3 * within_mm]
    return [], [Beside("short", tube.name, min(short)[1], other.name, min(short)[0], lean)] if short else []


def _butted(tube: Tube, end: str, other: Tube, within_mm: float) -> str | None:
    """The end of `other` that this end meets face to face: in line, on its far side, and one over the
    other."""
    point, away = tube.end(end), tube.away(end)
    for which in ENDS:
        step = other.end(which) - point
        gap = float(step @ -away)
        beside = step + gap * away
        if (
            float(away @ other.away(which)) < 0
            and abs(gap) <= within_mm
            and np.linalg.norm(beside) < max(tube.half_mm, other.half_mm)
        ):
            return which
    return None


def _foot(m: Member, other: Member) -> tuple[float, float]:
    """Where along `other`'s axis that of `m` is nearest, both endless, and how far apart they are there."""
    (a, b, c), (u, v, w) = m.frame.z, other.frame.z
    x, y, z = (p - q for p, q in zip(m.from_, other.from_, strict=True))
    lean, mine, its = a * u + b * v + c * w, x * a + y * b + z * c, x * u + y * v + z * w
    free = 1 - lean * lean
    s = (lean * its - mine) / free if free > 1e-12 else 0.0  # along m, from its `from`
    along = its + s * lean
    return along, math.hypot(x + s * a - along * u, y + s * b - along * v, z + s * c - along * w)
