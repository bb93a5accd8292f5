"""What would cure a clash or a short gap: the smallest shift of the body that stands in the way."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np

from assemblies.clearance.check import Limits, PairResult, check
from assemblies.clearance.plan import Body
from parts.base.frozen import dataclass
from parts.shape.form import Frame, vector

AXES = {
    "forward": (1, 0, 0),
    "back": (-1, 0, 0),
    "left": (0, 1, 0),
    "right": (0, -1, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}
FURTHEST_MM = 150.0  # no longer shift is looked for
STEPS = 12  # of marching towards the gap that is needed
ASKS = 30  # places of a body asked before no further direction is tried
ENOUGH = 1.1  # a shift within this of what none can beat ends the search
ALONG = 0.7  # a direction with more of it than this along a bar moves the bar along itself
_QUIET_MM = 1e6


@dataclass(frozen=True)
class Shift:
    """Move `body` by `distance_mm` along `direction` (car axes, unit; `words` where it is one of them): all
    its pairs then have what they need, proven. No shift shorter than `least_mm` can do that, whichever way it
    goes."""

    body: str
    direction: tuple[float, float, float]
    words: str
    distance_mm: float
    least_mm: float = 0.0

    @property
    def vector_mm(self) -> np.ndarray:
        return self.distance_mm * np.array(self.direction)


class Surroundings:
    """A fixed body among all that moves: what its pairs lack when it is shifted, each gap that was ever asked
    remembered.

    A shift by s changes a gap by s at most (the distance of two bodies is that far from any other place of
    one of them), so a pair is only asked where no earlier place proves it. Joints of the body stay where they
    are; the frame is left alone. Raises ValueError for a body that is not there or moves."""

    def __init__(
        self,
        name: str,
        bodies,
        mechanism,
        travel_mm,
        rack_mm=0.0,
        joints=(),
        limits: Limits | None = None,
        tolerance_mm: float = 0.1,
        pairs=None,
    ):
        self.name, self.mechanism, self.travel, self.rack, self.tolerance = (
            name,
            mechanism,
            travel_mm,
            rack_mm,
            tolerance_mm,
        )
        self.own = [b for b in bodies if b.name == name]
        if not self.own or any(b.carrier != "frame" for b in self.own):
            raise ValueError(f"clearance: body {name!r} is not one that stands on the frame")
        self.moving: dict[str, list[Body]] = {}
        for b in sorted((b for b in bodies if b.name != name), key=lambda b: (b.name, b.carrier)):
            self.moving.setdefault(b.name, []).append(b)
        self.moving = {
            n: parts for n, parts in self.moving.items() if any(b.carrier != "frame" for b in parts)
        }
        self.joints = [j for j in joints if name in (j.a, j.b) and {j.a, j.b} - {name} <= set(self.moving)]
        self.limits = limits or Limits()
        if pairs is None:
            pairs = self._checked(np.zeros(3), list(self.moving), self.limits)
        rest = {self._other(r): r for r in pairs if name in (r.a, r.b)}
        self.need = {n: r.required_mm for n, r in rest.items()}  # a pair left out of the check has none
        self.seen: list[tuple[np.ndarray, dict[str, PairResult]]] = [(np.zeros(3), rest)]

    def _other(self, r: PairResult) -> str:
        return r.b if r.a == self.name else r.a

    def _checked(self, by: np.ndarray, which: list[str], limits: Limits):
        """The body's pairs with some of what moves, shifted."""
        bodies = [b for n in which for b in self.moving[n]] + [moved(b, by) for b in self.own]
        joints = [j for j in self.joints if ({j.a, j.b} - {self.name}) <= set(which)]
        return check(
            bodies,
            self.mechanism,
            self.travel,
            self.rack,
            joints,
            limits,
            self.tolerance,
            only=self.name,
        ).pairs

    def _proven(self, by: np.ndarray, other: str) -> float:
        return max(rows[other].gap_mm - math.dist(at, by) for at, rows in self.seen if other in rows)

    def spare_mm(self, by: np.ndarray) -> float:
        """What every pair is proven to have over its need at a shift, or less."""
        return min((self._proven(by, n) - need for n, need in self.need.items()), default=math.inf)

    def short(self, by, room_mm: float = 0.0) -> list[tuple[float, np.ndarray]]:
        """(what is lacking, direction in which the body gains most there) of each pair that is short at a
        shift.

        A pair proven to have `room_mm` more than its need is not asked again."""
        by = np.asarray(by, float)
        asked = [n for n in self.need if self._proven(by, n) < self.need[n] + room_mm]
        known = [rows for at, rows in self.seen if np.array_equal(at, by)]
        fresh = [n for n in asked if not any(n in rows for rows in known)]
        if fresh:
            rows = {self._other(r): r for r in self._checked(by, fresh, quiet(self.limits))}
            self.seen.append((by, rows))
            known.append(rows)
        out = []
        for n in asked:
            r = next(rows[n] for rows in known if n in rows)
            if r.gap_mm < self.need[n]:
                out.append((self.need[n] - r.gap_mm, self._away(r)))
        return sorted(out, key=lambda s: (-s[0], *s[1]))

    def _away(self, r: PairResult) -> np.ndarray:
        """Unit vector from the other body's nearest point to this body's; zero where they just touch."""
        way = (
            np.subtract(r.point_b, r.point_a)
            * (-1.0 if r.clash else 1.0)
            * (1.0 if r.b == self.name else -1.0)
        )
        size = float(np.sqrt(way @ way))
        return way / size if size > 1e-6 else np.zeros(3)

    # ------------------------------------------------------------------------------------------ the search

    def smallest(self, square_to=None) -> Shift | None:
        """The smallest shift found that leaves no pair short.

        First by planes: each pair's gap grows along its nearest points' line, so the least vector that
        satisfies all these lines is tried, and what is still short there adds another. What is lacking at
        rest is the least any shift can be; an answer within `ENOUGH` of that is taken. Otherwise the car's
        axes, the lines of the pairs that are short and the ways square to a bar are marched too, and the
        planes tried again from the best."""
        lacking = self.short(np.zeros(3))
        if not lacking:
            return Shift(self.name, (0.0, 0.0, 0.0), "", 0.0)
        least, basis = self._least_mm(), _basis(square_to)
        best = self._by_planes(np.zeros(3), basis)
        if best is None or _size(best) > ENOUGH * least + self.tolerance:
            for way in self._ways(lacking, square_to, basis):
                if len(self.seen) > ASKS:
                    break
                far = self.march(
                    way, least, _size(best) - self.tolerance if best is not None else FURTHEST_MM
                )
                best = far * way if far is not None else best
            again = self._by_planes(0.9 * best, basis) if best is not None else None
            best = again if again is not None and _size(again) < _size(best) else best
        best = self.confirmed(best) if best is not None else None
        if best is None:
            return None
        size = _size(best)
        way = best / size
        words = next((w for w, v in AXES.items() if np.allclose(way, v, atol=1e-3)), "")
        return Shift(self.name, vector(way), words, size, least)

    def _least_mm(self) -> float:
        """What is lacking at rest for certain: to an imported neighbour much more may be asked to be sure of
        the gap."""
        known = {n: rows[n] for at, rows in self.seen if not at.any() for n in rows}
        known = {n: r for n, r in known.items() if r.gap_mm < self.need.get(n, -math.inf)}
        return max(
            self.need[n] - (r.found_gap_mm if r.found_gap_mm - r.gap_mm > 2 * self.tolerance else r.gap_mm)
            for n, r in known.items()
        )

    def _ways(self, lacking, square_to, basis: np.ndarray) -> list[np.ndarray]:
        """Unit vectors to march along: car axes, away from each pair that is short, and round a bar."""
        ways = [np.array(v, float) for v in AXES.values()] + [n for _, n in lacking]
        if square_to is not None:
            axis = np.asarray(square_to, float) / _size(square_to)
            turns = np.arange(8) * math.pi / 4
            ways = [w for w in ways if abs(w @ axis) < ALONG] + [
                math.cos(a) * basis[0] + math.sin(a) * basis[1] for a in turns
            ]
        out: list[np.ndarray] = []
        for w in ways:
            if _size(w) > 0.5 and all(w @ v < 0.999 for v in out):
                out.append(w)
        return out

    def _by_planes(self, start: np.ndarray, basis: np.ndarray) -> np.ndarray | None:
        at: np.ndarray | None = start
        planes: list[tuple[np.ndarray, float]] = []
        for _ in range(STEPS):
            assert at is not None
            short = self.short(at)
            if not short:
                return self._drawn_back(at)
            planes += [(n, float(n @ at) + max(lack, self.tolerance / 4)) for lack, n in short if n.any()]
            at = least_vector(planes, basis)
            if at is None or _size(at) > FURTHEST_MM:
                return None
        return None

    def march(self, way, least_mm: float, most_mm: float) -> float | None:
        """How far along a direction the body must go till no pair is short, from `least_mm`; None where that
        is over `most_mm`, or the body stands in the way of something there."""
        far, way = least_mm, np.asarray(way, float)
        if far > most_mm or (most_mm < FURTHEST_MM and self.short(most_mm * way)):
            return None
        under, lacking = 0.0, math.inf
        for _ in range(STEPS):
            if far > most_mm:
                return None
            short = self.short(far * way)
            if not short:
                return self._narrowed(way, (under, lacking), far)
            under, lacking = far, short[0][0]
            far += max(max(lack / max(float(n @ way), 0.3) for lack, n in short), self.tolerance / 2)
        return None

    def _narrowed(self, way: np.ndarray, under: tuple[float, float], far: float) -> float:
        """The place between one that is short (`under`: where and by what) and one that is clear, drawn back
        from the clear side."""
        for _ in range(3):
            spare = self.spare_mm(far * way)
            if spare < self.tolerance or not math.isfinite(under[1]):
                break
            middle = under[0] + (far - under[0]) * under[1] / (under[1] + spare)
            short = self.short(middle * way)
            under, far = ((middle, short[0][0]), far) if short else (under, middle)
        return _size(self._drawn_back(far * way))

    def confirmed(self, at) -> np.ndarray | None:
        """A shift that clears by proof from its neighbours, made to clear by a check of its own: a check may
        find a gap less by the tolerance than another from which it was proven."""
        at = np.asarray(at, float)
        for _ in range(4):
            short = self.short(at, self.tolerance)
            if not short:
                return at
            at = at * (1 + (short[0][0] + self.tolerance / 10) / _size(at))
        return None

    def _drawn_back(self, at: np.ndarray) -> np.ndarray:
        """A shift that clears, made smaller by what every pair has to spare: going back so far cannot take
        more."""
        spare, size = self.spare_mm(at), _size(at)
        return at * (1 - spare / size) if 0 < spare < size else at


def least_vector(planes, basis=None) -> np.ndarray | None:
    """The shortest vector x in the span of `basis` (rows, unit and square to each other; None: all of space)
    with n·x >= c for all (n, c), or None.

    The shortest vector lies on as many of the planes as carry it, three at most: all sets of so many are
    tried."""
    basis = np.eye(3) if basis is None else np.asarray(basis, float)
    if not planes:
        return np.zeros(3)
    n = np.array([p for p, _ in planes]) @ basis.T
    c = np.array([v for _, v in planes])
    best = np.zeros(len(basis)) if (c <= 0).all() else None
    for count in range(1, len(basis) + 1):
        sets = np.array(list(combinations(range(len(c)), count)), int).reshape(-1, count)
        rows, wanted = n[sets], c[sets]
        gram = rows @ rows.swapaxes(1, 2)
        sound = np.abs(np.linalg.det(gram)) > 1e-9
        if not sound.any():
            continue
        x = np.einsum(
            "sij,si->sj", rows[sound], np.linalg.solve(gram[sound], wanted[sound][:, :, None])[:, :, 0]
        )
        holds = (x @ n.T >= c - 1e-9).all(1)
        if holds.any():
            found = x[holds][(x[holds] ** 2).sum(1).argmin()]
            best = found if best is None or found @ found < best @ best else best
    return None if best is None else best @ basis


def _basis(square_to) -> np.ndarray:
    """Two unit vectors square to an axis and to each other; all three of space where there is none."""
    if square_to is None:
        return np.eye(3)
    axis = np.asarray(square_to, float) / _size(square_to)
    one = np.cross(axis, np.eye(3)[int(np.abs(axis).argmin())])
    one /= _size(one)
    return np.stack([one, np.cross(axis, one)])


def _size(v) -> float:
    return float(np.sqrt(np.dot(v, v)))


def quiet(limits: Limits) -> Limits:
    """Limits so far down that gaps alone are looked for, and not the travel over which they are short as
    well."""
    return replace(limits, flex=limits.flex - _QUIET_MM)


def moved(body: Body, by) -> Body:
    """The body somewhere else, by a shift in car axes, mm."""
    frame = Frame(vector(by))
    return replace(
        body,
        forms=tuple(f.moved(frame) for f in body.forms),
        shells=tuple(s.moved(np.asarray(by, float)) for s in body.shells),
    )
