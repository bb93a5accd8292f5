"""How the end of a tube is cut to fit the tubes it meets: the curve round it, its length, its flat saw cut
where one does.

A straight line along the tube's wall is cut where, coming from the tube's middle, it first enters a run's
outside: the last place where it leaves any of the runs, seen from the end (closed form in
`parts.skin`). Against several runs the cut is so the union of several copes. What is too narrow to stand is
trimmed (`parts.tube_trim`). Lengths mm, angles deg.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property, lru_cache

import numpy as np

from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.member import Member, Section
from parts.skin import Cutter, Run
from parts.tube_trim import Trim, trims
from parts.tube_wall import breaks_mm, wall_points

GENERATORS = 72  # least round the tube
JUMP_MM, FINER = 1.0, (8, 2)  # over so much a cell of the wall is cut into so many, round it and into it
CURVE_ERROR_MM = 0.01  # straight lines between the curve's points keep to it this near
LEAST_STEP_MM, EDGE_STEP_MM = (
    0.01,
    1e-5,
)  # points come no closer round the tube, and where lines begin to miss all runs
TOOTH_SHARE = 8  # where several runs cut, the long point is looked for in steps so much smaller
NEAR_MM = 0.5  # of a long or short point: other places that may be it
BEHIND_MM = 0.3  # a run that lies this far behind the others everywhere cuts nothing
# a solid's tube before it is cut, over the long point: a face that just touches a run has made the kernel
# miss the whole cut
PROUD_MM = 0.03
FLAT_MM = 0.005  # off one plane: still one saw cut
# four-point Gauss rule of Legendre over 0 to 1: closed form (numpy.polynomial takes time to load)
_NEAR, _FAR = (math.sqrt(3 / 7 + way * 2 / 7 * math.sqrt(6 / 5)) for way in (-1, 1))
_DEPTHS = (np.array([-_FAR, -_NEAR, _NEAR, _FAR]) + 1) / 2
_SHARES = np.array([18 + way * math.sqrt(30) for way in (-1, 1, 1, -1)]) / 72
_PAIR = (0.5 - math.sqrt(1 / 12), 0.5 + math.sqrt(1 / 12))  # two-point Gauss rule


def angle_deg(a, b) -> float:
    """Angle between two directions, 0 to 180: atan2 of cross and dot product, which keeps small angles and
    opposite directions.

    >>> angle_deg((1, 2, 3), (-1, -2, -3))
    180.0
    """
    (x, y, z), (u, v, w) = map(float, a), map(float, b)
    return math.degrees(
        math.atan2(math.hypot(y * w - z * v, z * u - x * w, x * v - y * u), x * u + y * v + z * w)
    )


def parting_mm(half_mm: float, other_half_mm: float, apart_deg: float) -> float:
    """How far along a member from the point where two axes meet its outside leaves the other's: (r2 + r1·cos
    A)/sin A.

    `half_mm`: outside radius of the member the length is measured on. Infinite for axes in line. Closed
    form."""
    s = math.sin(math.radians(apart_deg))
    return (other_half_mm + half_mm * math.cos(math.radians(apart_deg))) / s if s > 1e-9 else math.inf


@dataclass(frozen=True)
class SawCut:
    """One flat cut. In the tube's own axes, u along local x (mirrored at the `to` end, so that u, v, away
    from the node are right-handed) and v along local y: `mitre_deg` is the trace on the face with normal v,
    from square; `tilt_deg` the blade's lean with that face on the table, asin(n·v); `side_deg` the trace on
    the face with normal u (a check, not a setting). n is the plane's normal with its share along the tube
    away from the node. Signs: of atan(n·u/n·d), asin(n·v), atan(n·v/n·d)."""

    mitre_deg: float
    tilt_deg: float
    side_deg: float
    from_square_deg: float

    @staticmethod
    def of(slope_u: float, slope_v: float) -> SawCut:
        """From how far the cut moves away from the node for each mm along u and along v."""
        long = math.sqrt(1 + slope_u**2 + slope_v**2)
        angles = (-math.atan(slope_u), -math.asin(slope_v / long), -math.atan(slope_v), math.acos(1 / long))
        return SawCut(*(math.degrees(a) + 0.0 for a in angles))


Curve = tuple[
    np.ndarray, np.ndarray, np.ndarray
]  # along the outside; cut of the outside and of the bore (2, n); what cuts the outside


@dataclass(frozen=True, eq=False)
class TubeEnd:
    """One end, cut. Arrays round the tube, closed: the last entry repeats the first one's place. What only
    templates need is worked out when it is asked for. `line` None: square at the given end. `first`: the
    curve at `generators_mm`, NaN where nothing is met."""

    section: Section
    line: Lines | None
    first: Curve

    @cached_property
    def curve(self) -> Curve:
        """Points enough that straight lines between them keep within `CURVE_ERROR_MM`, on the outside and at
        the bore."""
        s, t, rule = self._fine
        return s, np.where(np.isnan(t), self.long_mm, t), rule

    @cached_property
    def _fine(self) -> Curve:
        return _refined(self.line, self.first) if self.line else self.first

    @property
    def around_mm(self) -> np.ndarray:
        """Along the outside from the index line (middle of the local +x face), right-handed about from ->
        to."""
        return self.curve[0]

    @property
    def outer_mm(self) -> np.ndarray:
        """Where the outside is cut there, from the given end towards the tube's middle; negative is
        longer."""
        return self.curve[1][0]

    @property
    def inner_mm(self) -> np.ndarray:
        """The same at the bore, at the same place of its loop; the outside's where there is no bore."""
        return self.curve[1][1]

    @property
    def ruled_by(self) -> np.ndarray:
        """Number in `runs` of the one that cuts there, -1 where none does and the tube ends on the plane of
        its long point; as many as there are runs, or more, where it is trimmed."""
        return self.curve[2]

    @cached_property
    def _extremes(self) -> tuple[float, float]:
        """Least of all the wall's cut, and the most of the outside's."""
        if self.line is None:
            return 0.0, 0.0
        s, t, _ = self.first
        if np.isnan(t).any():
            s, t, _ = _refined(self.line, self.first, edges=True)
        fine = _zoomed(self.line, s, t)
        return float(min(np.nanmin(t), np.nanmin(fine))), float(max(np.nanmax(t[0]), np.nanmax(fine[0])))

    @property
    def cutters(self) -> tuple[Cutter, ...]:
        return self.line.cutters if self.line else ()

    @property
    def trims(self) -> tuple[Trim, ...]:
        """What is taken off besides, in the order of the numbers after the runs'."""
        return self.line.trims if self.line else ()

    @property
    def runs(self) -> tuple[str, ...]:
        """Names it is cut to, in order."""
        return tuple(c.name for c in self.cutters)

    @cached_property
    def long_mm(self) -> float:
        """The long point: where the metal reaches farthest, on the outside or within the wall. The bar is
        sawn there, the strip's free edge and the solid's end lie there: one plane for all three."""
        return self._extremes[0]

    @cached_property
    def short_mm(self) -> float:
        return self._extremes[1]

    @property
    def cut_mm(self) -> np.ndarray:
        """Cut square to the wall along this line and no metal stands proud of the outside's or the bore's
        curve."""
        return np.maximum(self.outer_mm, self.inner_mm)

    @property
    def moments(self) -> tuple[float, float, float, float]:
        """∫ of t, t²/2, x·t, y·t over the section, t the metal taken off a tube that ends square at the given
        end."""
        return self._integrals

    @property
    def lost_mm3(self) -> float:
        """Metal taken off; negative where the tube is longer than given."""
        return self.moments[0]

    @property
    def missing(self) -> bool:
        """Whether part of the end meets none of its runs."""
        return self.line is not None and bool((self.first[2] < 0).any())

    @cached_property
    def plane(self) -> SawCut | None:
        """The one flat saw cut that makes this end, None where the curve lies on no plane."""
        fit = self._flat(*self.first[:2])
        if fit is None or (fit := self._flat(*self.curve[:2])) is None:
            return None
        mirrored = self.line is not None and self.line.sign < 0
        return SawCut.of(-float(fit[1]) if mirrored else float(fit[1]), float(fit[2]))

    @cached_property
    def flat(self) -> tuple[SawCut, float] | None:
        """A saw cut on the face of the one flat-sided run it lands on, and the most that is open then beside
        the run's rounded corners, along the tube: near enough where the weld fills it. None on a round, or on
        several runs."""
        return self._flat_cut and self._flat_cut[:2]

    @cached_property
    def flat_in_mm(self) -> float:
        """How far in from the long point of the curve the flat cut's own lies: beside rounded corners the
        curve reaches farther, so a tube sawn flat is so much shorter at this end. 0 without a flat cut."""
        return self._flat_cut[2] - self.long_mm if self._flat_cut else 0.0

    @cached_property
    def _flat_cut(self) -> tuple[SawCut, float, float] | None:
        """`flat`, and its long point from the given end."""
        if self.plane is not None:
            return self.plane, 0.0, self.long_mm
        line = self.line
        if line is None or len(self.cutters) != 1 or self.trims:
            return None
        if not isinstance(self.cutters[0], Run) or self.cutters[0].section.is_round:
            return None
        (_, x, y), t = wall_faces(self.section), self.first[1]
        points, best = line.points(x, y), None
        for face in self.cutters[0].faces():
            if float(np.dot(face.normal, line.inwards)) < 0.1:
                continue
            on = face.span(points, line.inwards)[1]
            gap = float(np.nanmax(on - t.ravel()))
            if best is None or gap < best[1]:
                x, y, z = line.axes.T @ face.normal
                best = SawCut.of(-x / z, -line.sign * y / z), gap, float(np.nanmin(on))
        return best

    def _flat(self, s: np.ndarray, t: np.ndarray) -> np.ndarray | None:
        """Height and slopes of the plane through all points, None where they lie on none."""
        if np.isnan(t).any():
            return None
        x, y, _ = wall_points(self.section, np.tile(s, 2), np.repeat([0.0, self.section.wall_mm], len(s)))
        design = np.column_stack([np.ones(len(x)), x, y])
        fit = np.linalg.solve(design.T @ design, design.T @ t.ravel())
        return fit if np.abs(design @ fit - t.ravel()).max() <= FLAT_MM else None

    @cached_property
    def weld_mm(self) -> float:
        """Length of the joint's line on the outside: ∫ sqrt(ds² + dt²) where a run is met, extrapolated from
        steps and half steps (Richardson)."""
        if self.line is None:
            return 0.0
        s, rule = self.around_mm, self.ruled_by
        t, ruled = self.line.cut((s[:-1] + s[1:]) / 2)
        on = [(r >= 0) & (r < len(self.runs)) for r in (rule[:-1], rule[1:], ruled)]
        met = on[0] & on[1] & on[2]
        ds, whole = np.diff(s)[met], np.diff(self.outer_mm)[met]
        first = t[met] - self.outer_mm[:-1][met]
        coarse, fine = (
            np.hypot(ds, whole).sum(),
            (np.hypot(ds / 2, first) + np.hypot(ds / 2, whole - first)).sum(),
        )
        return float((4 * fine - coarse) / 3)

    @cached_property
    def swept(self) -> tuple[bool, ...]:
        """For each cutter: metal would be left behind it, so all behind it is taken out too."""
        if self.line is None:
            return ()
        spans = self.line.spans(*wall_faces(self.section)[1:])
        start = self.long_mm - PROUD_MM  # where a solid begins
        return tuple(bool(((enter > start - 1e-3) & (enter < math.inf)).any()) for enter, _ in spans)

    @cached_property
    def _integrals(self) -> tuple[float, float, float, float]:
        return self.line.moments(self.first[0], self.long_mm) if self.line else (0.0, 0.0, 0.0, 0.0)


def tube_end(member: Member, end: str, cutters: Sequence[Cutter] = ()) -> TubeEnd:
    """The end "from" or "to" of a member cut to runs and faces, all in car axes; square at its given end
    without any.

    A cutter that lies behind the others everywhere drops out. Remembered by content, so that a frame of which
    one tube moved is soon fitted again. Raises ValueError where no line along the tube meets any of the
    cutters."""
    return _tube_end(member, end, tuple(cutters))


@lru_cache(1024)
def _tube_end(member: Member, end: str, cutters: tuple[Cutter, ...]) -> TubeEnd:
    s, x, y = wall_faces(member.section)
    if not cutters:
        return TubeEnd(member.section, None, (s, np.zeros((2, len(s))), np.full(len(s), -1)))
    line = Lines(member, end, cutters)
    leaves = np.array([leave for _, leave in line.spans(x, y)])
    best = leaves.max(0)
    if not np.isfinite(best[: len(s)]).any():
        raise ValueError("no part of the tube meets " + ", ".join(c.name for c in cutters))
    counts = [i for i, leave in enumerate(leaves) if (np.isfinite(leave) & (leave > best - BEHIND_MM)).any()]
    line = Lines(member, end, tuple(cutters[i] for i in counts))
    if found := trims(line, member.section):
        line = Lines(member, end, line.cutters, found)
        return TubeEnd(member.section, line, line.curve_at(_with_edges(s, found)))
    t, rule = line.first(leaves[counts])
    return TubeEnd(member.section, line, (s, t.reshape(2, -1), rule[: len(s)]))


def _with_edges(s: np.ndarray, found: Sequence[Trim]) -> np.ndarray:
    """Places round the tube with the sides of the trims, where the curve jumps, a hair to either side."""
    edges = np.array([e + d for x in found for e in x.edges_mm for d in (-1e-6, 1e-6)])
    return distinct(np.concatenate([s, edges % s[-1]]))


def generators_mm(section: Section) -> np.ndarray:
    """Where lines along the outside lie to begin with: even steps, and where flats and rounds change."""
    at = breaks_mm(section)
    return distinct(np.concatenate([np.linspace(0, at[-1], GENERATORS, endpoint=False), at]))


@lru_cache(256)
def wall_faces(section: Section) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """`generators_mm`, and x and y of their places on the outside and then at the bore."""
    s = generators_mm(section)
    x, y, _ = wall_points(section, np.tile(s, 2), np.repeat([0.0, section.wall_mm], len(s)))
    return s, x, y


def _refined(line: Lines, first: Curve, edges: bool = False) -> Curve:
    """Points added where straight lines between them leave the curve; with `edges` only where lines begin to
    miss all runs."""
    s, t, rule = first
    kept = [first]
    low, high, t_low, t_high = s[:-1], s[1:], t[:, :-1], t[:, 1:]
    shares = np.linspace(0, 1, 11 if edges else 5)[1:-1]
    while len(low):
        step = high - low
        at = low[:, None] + step[:, None] * shares
        got, ruled = line.both(at.ravel())
        got = got.reshape(2, -1, len(shares))
        straight = t_low[:, :, None] + (t_high - t_low)[:, :, None] * shares
        off = np.nan_to_num(np.abs(got - straight)).max((0, 2))
        jumps = (np.isnan(got) != np.isnan(t_low)[:, :, None]).any((0, 2)) | (
            np.isnan(t_low) != np.isnan(t_high)
        ).any(0)  # here lines begin to miss
        split = jumps & (step > EDGE_STEP_MM)
        if not edges:
            split |= (off > CURVE_ERROR_MM) & (step > LEAST_STEP_MM)
        kept.append(
            (at[split].ravel(), got[:, split].reshape(2, -1), ruled.reshape(-1, len(shares))[split].ravel())
        )
        sides, ends = (
            np.column_stack([low, at, high])[split],
            np.concatenate([t_low[:, :, None], got, t_high[:, :, None]], axis=2)[:, split],
        )
        low, high = sides[:, :-1].ravel(), sides[:, 1:].ravel()
        t_low, t_high = ends[:, :, :-1].reshape(2, -1), ends[:, :, 1:].reshape(2, -1)
    s, t, rule = (np.concatenate([k[i] for k in kept], axis=-1) for i in range(3))
    order = np.argsort(s, kind="stable")
    return s[order], t[:, order], rule[order]


def _zoomed(line: Lines, s: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Cuts round the outside's least and most and the bore's least, and other places near them, in small
    steps to either side: on the outside, in the middle of the wall and at the bore (where two runs meet the
    metal may reach farthest within the wall, and in a tooth no wider than the steps)."""
    wall, several = line.section.wall_mm, len(line.cutters) > 1
    depths = [0.0, wall / 2, wall] if several else [0.0, wall]
    step = s[-1] / GENERATORS
    if several:
        step /= TOOTH_SHARE
        s = distinct(np.concatenate([s[:-1], np.arange(0.0, s[-1], step)]))
        t = _cuts(line, s, [0.0, wall])
        s = np.append(s, s[0] + float(breaks_mm(line.section)[-1]))
        t = np.column_stack([t, t[:, 0]])
    places = []
    for f in (
        np.where(np.isnan(t[0]), math.inf, t[0]),
        np.where(np.isnan(t[0]), math.inf, -t[0]),
        np.where(np.isnan(t[1]), math.inf, t[1]),
    ):
        low = (f <= np.roll(f, 1)) & (f <= np.roll(f, -1)) & (f <= f.min() + NEAR_MM)
        found = np.flatnonzero(low)
        places.append(found[np.argsort(f[found], kind="stable")][:3])  # flat stretches have many alike
    at = s[distinct(np.concatenate(places))]
    rows: list[np.ndarray] = []
    for _ in range(3 if several else 1):
        along = (at[:, None] + np.linspace(-step, step, 17)).ravel() % s[-1]
        rows.append(_cuts(line, along, depths))
        best = [np.argmin(np.where(np.isnan(row), math.inf, row)) for row in rows[-1]]
        best.append(np.argmax(np.where(np.isnan(rows[-1][0]), -math.inf, rows[-1][0])))
        at, step = along[distinct(best)], step / 8
    return np.concatenate(rows, axis=1)


def _cuts(line: Lines, along: np.ndarray, depths: list[float]) -> np.ndarray:
    """(depths, along) of where the metal is cut."""
    return line.cut(np.tile(along, len(depths)), np.repeat(depths, len(along)))[0].reshape(len(depths), -1)


class Lines:
    """Lines along a tube's wall from one end inwards, against its cutters."""

    def __init__(self, member: Member, end: str, cutters: tuple[Cutter, ...], trims: tuple[Trim, ...] = ()):
        m = member.frame.matrix()
        self.section, self.cutters, self.trims = member.section, cutters, trims
        self.axes, self.sign = m[:3, :3], 1.0 if end == "from" else -1.0
        self.origin = m[:3, 3] + (0.0 if end == "from" else member.length_mm) * m[:3, 2]
        self.inwards = self.sign * m[:3, 2]

    def cut(self, along_mm: np.ndarray, depth_mm: np.ndarray | float = 0.0) -> tuple[np.ndarray, np.ndarray]:
        """Where each line is cut, NaN where none of the cutters meets it, and the number of the one that
        cuts."""
        x, y, _ = wall_points(self.section, along_mm, depth_mm)
        return self.cut_at(x, y)

    def cut_at(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The same of lines through places of the section."""
        return self.first(self._leaves(x, y))

    def both(self, along_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The cuts (2, n) of the outside and of the bore, and what cuts the outside."""
        if not self.section.wall_mm:
            t, rule = self.cut(along_mm)
            return np.array([t, t]), rule
        t, rule = self.cut(np.tile(along_mm, 2), np.repeat([0.0, self.section.wall_mm], len(along_mm)))
        return t.reshape(2, -1), rule[: len(along_mm)]

    def curve_at(self, along_mm: np.ndarray) -> Curve:
        t, rule = self.both(along_mm)
        return along_mm, t, rule

    def spans(self, x: np.ndarray, y: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Where lines through places of the section enter and leave each cutter."""
        points = self.points(x, y)
        return [c.span(points, self.inwards) for c in self.cutters]

    def moments(self, s: np.ndarray, stop: float) -> tuple[float, float, float, float]:
        """∫ of t, t²/2, x·t, y·t over the metal by Gauss's rule, four points through the wall and two a step
        round it, finer where the cut jumps: within 1e-4 of a tube of 300 mm against the CAD kernel, mostly
        1e-5."""
        wall = self.section.wall_mm or self.section.height_mm / 2
        step, deep = np.diff(s), np.full(len(s) - 1, wall)
        t, found = self._summed(s[:-1], step, np.zeros_like(deep), deep, stop)
        jumps = np.ptp(t, axis=1) > JUMP_MM
        if jumps.any():  # where one cutter ends, or another takes over, a cell is many
            n, m = FINER
            along = s[:-1][jumps, None, None] + step[jumps, None, None] / n * np.arange(n)[:, None]
            depth = np.broadcast_to(wall / m * np.arange(m), (*along.shape[:2], m))
            along = np.broadcast_to(along, depth.shape).ravel()
            finer = np.repeat(step[jumps] / n, n * m), np.full(along.size, wall / m)
            _, split = self._summed(along, finer[0], depth.ravel(), finer[1], stop)
            found = np.concatenate([found[~jumps], split])
        a, b, c, d = found.sum(0).tolist()
        return a, b, c, d

    def _summed(self, s, step, depth, deep, stop: float) -> tuple[np.ndarray, np.ndarray]:
        """Of cells of the wall from `s` round it and `depth` into it: where they are cut, (cells, 8), and the
        four integrals, (cells, 4)."""
        along = np.repeat(s[:, None] + step[:, None] * _PAIR, 4, axis=1)
        x, y, weight = wall_points(self.section, along, np.tile(depth[:, None] + deep[:, None] * _DEPTHS, 2))
        area = weight * (step * deep / 2)[:, None] * np.tile(_SHARES, 2)
        t = self.cut_at(x.ravel(), y.ravel())[0].reshape(area.shape)
        t = np.where(np.isnan(t), stop, t)
        return t, np.stack([(area * v).sum(1) for v in (t, t * t / 2, x * t, y * t)], 1)

    def points(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return self.origin + np.column_stack([x, y]) @ self.axes[:, :2].T

    def _leaves(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        points = self.points(x, y)
        found = [c.span(points, self.inwards)[1] for c in self.cutters]
        return np.array([*found, *(t.leaves(x, y) for t in self.trims)])

    @staticmethod
    def first(leaves: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        rule = leaves.argmax(0)
        best = leaves[rule, np.arange(len(rule))]
        hit = best > -math.inf
        return np.where(hit, best, math.nan), np.where(hit, rule, -1)
