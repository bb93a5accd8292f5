"""Motion of one corner in closed form: double wishbone, tie rod, rod, rocker, damper; one pose or a million.

`Mechanism(points).at(wheel_mm, rack_mm)` returns `Poses`. The chain from the lower arm's angle a to every
point is closed form (chain.py); a itself is found from the wheel's height by a predictor (Hermite
interpolation of a(z) through five stations of each corner) and secant steps, to rounding.

Conventions: mm; car axes of ISO 8855; travel = rise of the wheel centre, bump positive, ride = 0; rocker
angle right-handed about the axis as given; camber positive with the top outward, toe positive toe-in, both
relative to ride plus static values.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.at_ride import AtRide
from assemblies.motion.chain import Chain
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.linkage import rows, turn
from assemblies.motion.poses import N_ROWS, Poses
from assemblies.motion.reach import bracketed, dips

__all__ = ["HardPoints", "Mechanism", "Poses"]

STATIONS_RAD = np.array([-0.30, -0.15, 0.0, 0.15, 0.30])  # lower-arm angles the predictor passes through
SHARES = (
    1.0,
    0.8,
    0.6,
    0.45,
    0.3,
    0.2,
)  # of them, tried in turn where a corner does not stand at all of them
CHUNK = 2048  # poses worked on at a time, so that temporaries stay in the processor's cache
CLOSED = 1e-12  # the wheel's height is met within this share of the upright's length
STEPS = 8  # secant steps before a pose is handed to the bracketed search


class Mechanism(AtRide):
    """One corner, or a batch of as-built variations of it, ready to be posed."""

    def __init__(self, points: HardPoints):
        super().__init__(points)
        self._ends: dict[int, dict] = {}  # exact ranges that were asked for, by chunk of the batch
        self._predictor()

    def _predictor(self) -> None:
        """Stations of each corner, as wide as it stands at all of them: see `_stations`."""
        count = len(self.chain.size)
        self.predictor, self.rises, self.span = (
            np.empty((count, 2, 2 * len(STATIONS_RAD))),
            np.empty(count),
            np.empty((count, 2)),
        )
        todo = np.arange(count)
        for share in SHARES:
            chain = self.chain if len(todo) == count else self.chain.take(todo)
            self.predictor[todo], self.rises[todo], self.span[todo], ok = _stations(
                chain, share * STATIONS_RAD
            )
            todo = todo[~ok]
            if not len(todo):
                break

    def keep_range(self, *ends: np.ndarray) -> None:
        """The exact range of a single corner, its rack straight ahead, that `reach` was asked for."""
        self._ends.setdefault(0, {})[0, 0.0] = list(ends)

    def at(self, wheel_mm, rack_mm=0.0) -> Poses:
        """Poses at wheel travel and rack displacement (mm, +y), which broadcast together to a shape S.

        Every result has the shape batch + S (+ (3,) for points). Poses that the corner cannot reach from ride
        height on its own assembly branch are NaN and `valid` is False; they never disturb others.

        Between the outermost stations (0.3 rad of the lower arm, less where it does not stand so far) the
        branch is trusted where all five stations and the poses themselves stand and the rocker's discriminant
        shows no dip between stations; otherwise, and beyond them, the exact ends of motion decide (reach.py).
        """
        z, rack = np.broadcast_arrays(np.asarray(wheel_mm, float), np.asarray(rack_mm, float))
        shape, z = z.shape, z.ravel()
        moves = rack.any()
        rack = rack.ravel()
        count, n = len(self.chain.size), len(z)
        state = np.empty((count, N_ROWS, n))
        wide = max(1, min(n, CHUNK))
        tall = max(1, CHUNK // wide)
        with np.errstate(all="ignore"):
            for i in range(0, count, tall):
                part = slice(i, i + tall)
                chain = self.chain if count <= tall else self.chain.take(part)
                for j in range(0, n, wide):
                    poses = slice(j, j + wide)
                    self._pose(chain, part, z[poses], rack[poses] if moves else None, state[part, :, poses])
        return Poses(self, shape, rack if moves else None, state)

    def _pose(self, chain: Chain, part: slice, z, rack, out, doubtful=None) -> None:
        a, c, s, u, good = self._solve(chain, part, z, rack)
        if doubtful is not None:
            good &= ~doubtful
        if not good.all():
            a = bracketed(chain, a, good, z, rack, self.rises[part], self._ends.setdefault(part.start, {}))
            c, s = turn(a)
            u = chain.upright(c, s, rack)
        out[:, 0], out[:, 1] = c, s
        out[:, 2:4] = u.v[..., 3:5, :]
        k, m, n = chain.basis(u)
        lo = chain.lower @ u.v[..., 0:3, :]
        out[:, 6:9], out[:, 9:12], out[:, 12:15], out[:, 15:18] = lo, k, m, n
        body = (chain.body @ out[:, 9:18].reshape(len(c), 3, -1)).reshape(len(c), 5, 3, -1)
        outboard = lo + body[:, 4] if chain.on_upright else chain.rod @ u.v
        cos, sin, _ = chain.turn_rocker(outboard)
        out[:, 4], out[:, 5] = cos, sin
        out[:, 18:21] = outboard
        out[:, 21:28] = chain.eyes @ rows(1.0, cos, sin)
        out[:, 28:31], out[:, 31:34], out[:, 34:37], out[:, 37:40] = (
            lo + body[:, 0],
            lo + body[:, 1],
            body[:, 2],
            lo + body[:, 3],
        )
        dead = np.isnan(cos)
        if dead.any():
            np.copyto(out, np.nan, where=dead[:, None])
            if (
                doubtful is None and (dead & good).any()
            ):  # the rocker does not close on the way: what lies beyond it counts no more
                self._pose(chain, part, z, rack, out, (dead & good).any(1)[:, None])

    def _solve(self, chain: Chain, part: slice, z, rack):
        powers = np.empty((self.predictor.shape[-1], len(z)))
        powers[0], powers[1:] = 1.0, z
        guess = self.predictor[part] @ np.multiply.accumulate(powers, out=powers)
        a, slope = guess[:, 0], guess[:, 1]
        tolerance, before, change = CLOSED * chain.size, None, None
        for step in range(STEPS):
            c, s = np.cos(a), np.sin(a)
            u = chain.upright(c, s, rack)
            miss = z - u.wheel_z
            close = abs(miss) <= tolerance
            if close.all():
                break
            if step:
                rise = u.wheel_z - before
                slope = np.where(abs(rise) > 1e3 * tolerance, change / rise, slope)
            before, change = u.wheel_z, miss * slope
            a = a + change
        span = self.span[part]
        good = close & (z >= span[:, :1]) & (z <= span[:, 1:]) & (slope * self.rises[part, None] > 0)
        return a, c, s, u, good


def _stations(chain: Chain, stations_rad: np.ndarray):
    """Polynomials a(z) and da/dz with the right value and slope at every station (Newton's divided
    differences), the sense in which the wheel rises at ride, the travel between the outermost stations, and
    whether the corner stands all along it."""
    count = len(stations_rad)
    with np.errstate(all="ignore"):
        u = chain.upright(*turn(np.broadcast_to(stations_rad, (len(chain.size), count)), 1))
        z, slope = u.wheel_z.c
        t = np.repeat(z.T, 2, 0)
        table = np.repeat(stations_rad, 2)[:, None] + 0 * t
        newton = [table[0]]
        for k in range(1, 2 * count):
            gap, rise = t[k:] - t[:-k], table[1:] - table[:-1]
            if k == 1:
                gap[::2], rise[::2] = slope.T, 1.0
            table = rise / gap
            newton.append(table[0])
        poly = np.zeros_like(t)
        for k in reversed(range(2 * count)):  # to powers of z
            poly[1:] = poly[:-1] - t[k] * poly[1:]
            poly[0] = newton[k] - t[k] * poly[0]
        rocker = chain.turn_rocker(chain.rod_outboard(u))
        left, left_slope = rows(u.upper_left, u.tie_left, rocker[2]).c
    poly = poly.T
    predictor = np.stack([poly, np.roll(poly * np.arange(2 * count), -1, -1)], 1)
    rises = np.where(slope[:, count // 2] < 0, -1.0, 1.0)
    span = np.sort(z[:, [0, -1]], -1)
    ok = (
        (left > 0).all((1, 2))
        & (slope * rises[:, None] > 0).all(-1)
        & ~dips(left, left_slope, stations_rad[1] - stations_rad[0]).any(-1)
    )
    span[~ok] = np.nan  # nothing is taken for granted: such a corner is posed by the bracketed search
    return predictor, rises, span, ok
