"""How far a corner moves from ride height on its own assembly branch, and the careful search for poses near
the ends.

Everything is followed outward from ride along the lower arm's angle until the first of a set of functions,
positive while all is well, comes to zero: the discriminants of the three loops, the wheel's rise per angle,
or a damper length.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from assemblies.motion.chain import Chain
from assemblies.motion.linkage import Jet, rows, turn

STEP_RAD = 0.02  # of the outward scan; each step is also tested for a dip between its ends
ROUNDING = 4e-15  # of an angle
TOUCHES = 1e-12  # share of a discriminant's largest: the sine of the angle from one line is the root of it
CHANGE_RAD = 1e-6  # nearer to a change point nothing else is told apart from it
STOPS = ("upper arm", "tie rod", "rocker", "wheel height", "damper")


KEPT_RANGES, MOST_KEPT = 16, 1000  # rows of one question whose ranges are kept, and of all questions


class Reach(NamedTuple):
    """Ends of motion, (rows, 2): towards negative and positive lower-arm angle."""

    angle_rad: np.ndarray
    wheel_mm: np.ndarray
    stop: np.ndarray  # index into STOPS


def watched(chain: Chain, a, rack, rises, damper2=None, sense=None) -> Jet:
    """The functions that must stay positive, as first-order series in a, (R, functions, n)."""
    c, s = turn(a, 2)
    u = chain.upright(c, s, rack)
    z, u = u.wheel_z.c, type(u)(*(Jet(f.c[:2]) for f in u))  # the wheel's climb alone needs the third term
    cos, sin, rocker_left = chain.turn_rocker(chain.rod_outboard(u))
    climb = Jet([z[1] * rises, 2 * z[2] * rises])
    found = [u.upper_left, u.tie_left, rocker_left, climb]
    if damper2 is not None:
        eyes = chain.eyes[:, 6:7] @ rows(1.0, cos, sin)
        found.append((eyes[..., 0, :] - damper2) * sense)
    return rows(*found)


def reach(chain: Chain, rises, rack=None, damper_mm=None) -> Reach:
    """Follow every row (a corner at a rack displacement, (R, 1) mm) both ways from ride to the first stop.

    The scan ends at half a turn; before that the wheel's height always turns back. With `damper_mm` the
    damper reaching that length from the side it has at ride counts as a stop too.
    """
    count = len(chain.size)
    damper2 = sense = None
    if damper_mm is not None:
        damper2 = np.broadcast_to(np.asarray(damper_mm, float).reshape(-1, 1) ** 2, (count, 1))
        at_ride = watched(chain, np.zeros((count, 1)), rack, rises, damper2, 1.0).c[0][:, -1]
        sense = np.where(at_ride < 0, -1.0, 1.0)

    def look(a):
        return watched(chain, a, rack, rises, damper2, sense).c

    with np.errstate(all="ignore"):
        n = int(np.pi / STEP_RAD)
        out = np.arange(1, n + 1) * STEP_RAD
        grid = np.concatenate([-out[::-1], [0.0], out])
        values, slopes = look(np.broadcast_to(grid, (count, len(grid))))
        loops = np.arange(values.shape[1]) < len(STOPS) - 2
        small = np.where(loops, TOUCHES * np.nanmax(abs(values), -1, initial=0.0), 0.0)
        sound = (values > small[..., None]).all(1)
        hollows = dips(values, slopes, STEP_RAD)
        good, bad = np.empty((count, 2)), np.empty((count, 2))
        touch = np.full((count, 2), np.inf)  # where a function comes to zero and rises again: a change point
        touching = np.zeros((count, 2), int)
        for side, sign in enumerate((-1, 1)):
            along = sound[:, n::sign]
            hollow = hollows[:, n:] if sign > 0 else hollows[:, n - 1 :: -1]
            doubtful = hollow & np.logical_and.accumulate(along, 1)[:, 1:]
            for row in np.nonzero(doubtful.any(1))[0]:  # rare: look closer at each
                one = _alone(chain, row, rack, rises, damper2, sense)
                for i in np.nonzero(doubtful[row])[0]:
                    x, which = _lowest(one, sign * i * STEP_RAD, sign * (i + 1) * STEP_RAD, small[row])
                    if which >= 0:
                        along[row, i + 1] = False
                        touch[row, side], touching[row, side] = x, which
                        break
            first = np.where(along.all(1), along.shape[1] - 1, np.argmin(along, 1))
            bad[:, side] = sign * first * STEP_RAD
            good[:, side] = sign * np.maximum(first - 1, 0) * STEP_RAD
        return _refine(chain, look, good, bad, rack, ~sound[:, n], touch, touching, small)


def _alone(chain, row, rack, rises, damper2, sense):
    """The watched functions and their slopes of one row, by angle: (functions, n) each."""
    given = [None if x is None else x[row : row + 1] for x in (rack, rises, damper2, sense)]
    one = chain.take(slice(row, row + 1))

    def look(a):
        return [c[0] for c in watched(one, np.asarray(a)[None], *given).c]

    return look


def _lowest(look, start, end, small):
    """Of the functions that fall and rise again on the way: where the first of them comes to zero, and which;
    (nan, -1) where none does. `small` (functions) counts as zero: rod and arm in one line."""
    a = np.linspace(start, end, 33)
    slopes = look(a)[1]
    slopes = slopes * np.sign(end - start)
    found = (np.nan, -1)
    for k, i in zip(*np.nonzero((slopes[:, :-1] < 0) & ~(slopes[:, 1:] <= 0)), strict=True):
        low, high = a[i], a[i + 1]
        for _ in range(60):
            x = (low + high) / 2
            value, slope = (c[k, 0] for c in look([x]))
            if not value > 0:
                break
            low, high = (x, high) if slope * np.sign(end - start) < 0 else (low, x)
        if not value > small[k] and not abs(x) >= abs(found[0]):
            found = (x, k)
    return found


def dips(values, slopes, step):
    """Grid intervals where some function (R, functions, n) falls, then rises, and its end tangents meet below
    zero: (R, n - 1)."""
    f0, f1, g0, g1 = values[..., :-1], values[..., 1:], slopes[..., :-1], slopes[..., 1:]
    meet = (f1 - f0 - g1 * step) / (g0 - g1)
    return ((g0 < 0) & (g1 > 0) & (f0 + g0 * meet < 0)).any(1)


def _refine(chain, look, good, bad, rack, hopeless, touch, touching, small) -> Reach:
    """Newton on whichever function comes to zero first, held in the bracket and halving it where Newton
    leaves it."""
    x, outward = good.copy(), np.array([-1.0, 1.0])
    met = np.isfinite(touch)
    bad = np.where(met, touch, bad)
    at, before = (look(np.where(met, t, good))[0] for t in (touch, touch - outward * CHANGE_RAD))
    least = np.take_along_axis(at + small[..., None], touching[:, None], 1)[:, 0]
    change = met & (before > 0).all(1) & (least >= 0)
    good = np.where(change, touch, good)  # nothing else stops it before
    wide = far = abs(bad - good)
    done = np.zeros(x.shape, bool)
    for turn_ in range(200):
        values, slopes = look(x)
        fine = (values > 0).all(1)
        good, bad = np.where(fine, x, good), np.where(fine, bad, x)
        # where all is well, on to the nearest zero ahead; where not, back to the furthest of those behind
        step = np.where((values > 0) == fine[:, None], -values / slopes * outward, np.nan)
        ahead = np.where(step > 0, step, np.inf).min(1)
        back = np.where(step < 0, step, 0.0).min(1)
        first = np.where(fine, ahead, back)
        found = np.isfinite(first) & ((first != 0) | (values >= 0).all(1))  # or on the very zero
        tight = ROUNDING * (1 + abs(x))
        # a zero met from beyond may hide another before it: only what stands just inside is an end
        first = np.where(fine, first, np.minimum(first, -tight))
        new = x + first * outward
        held = found & ((new - good) * outward >= 0) & ((new - bad) * outward <= 0)
        there, closed = held & fine & (abs(new - x) <= tight), abs(bad - good) <= tight
        if turn_ % 4 == 3:  # brackets shrink, or Newton's steps do, whatever the functions' shape
            held &= (abs(bad - good) < wide / 4) | (abs(first) < far / 16)
            wide, far = abs(bad - good), abs(first)
        new = np.where(closed, good, np.where(held | there, new, (good + bad) / 2))
        x = np.where(done, x, new)
        done |= there | closed
        if done.all():
            break
    values, slopes = look(x)
    left = np.where(values > 0, -values / slopes * outward, 0.0)
    stop = np.argmin(np.where(left >= 0, left, np.inf), 1)
    x, stop = np.where(change, touch, x), np.where(change, touching, stop)
    x = np.where(hopeless[:, None], np.nan, x)
    wheel = np.empty_like(x)
    for side in (0, 1):  # at the very end the stopped loop is flat: its square root is exactly zero
        flat = tuple(1.0 * (stop[:, side, None] != loop) for loop in (0, 1))
        wheel[:, side] = chain.upright(*turn(x[:, side, None]), rack, flat).wheel_z[:, 0]
        both = chain.upright(*turn(x[:, side, None]), rack, (0.0, 0.0)).wheel_z[:, 0]  # two stops in one
        wheel[:, side] = np.where(np.isnan(wheel[:, side]), both, wheel[:, side])
    return Reach(x, wheel, stop)


def bracketed(chain: Chain, a, good, z, rack, rises, known: dict | None = None):
    """Lower-arm angles of the poses not yet found, by Newton held in the corner's exact range; NaN beyond it.
    `known` keeps the ranges of the same chain between calls, as far as they are few."""
    v, j = np.nonzero(~good)
    rack_j = np.zeros(len(j)) if rack is None else rack[j]
    keys, which = np.unique(np.stack([v, rack_j], -1), axis=0, return_inverse=True)
    row = keys[:, 0].astype(int)
    end = _ends(chain, row, rises, None if rack is None else keys[:, 1:], {} if known is None else known)
    which = which.ravel()
    up = rises[v] > 0
    lo, hi = np.where(up, 0, 1), np.where(up, 1, 0)
    target = z[j]
    inside = (target >= end.wheel_mm[which, lo]) & (target <= end.wheel_mm[which, hi])
    low, high = end.angle_rad[which, lo], end.angle_rad[which, hi]  # wheel low, wheel high
    out = np.full(len(v), np.nan)
    keep = np.nonzero(inside)[0]
    if len(keep):
        out[keep] = _between(
            chain.take(v[keep]),
            low[keep, None],
            high[keep, None],
            target[keep, None],
            None if rack is None else rack_j[keep, None],
        )[:, 0]
    a = a.copy()
    a[v, j] = out
    return a


def _ends(chain: Chain, row, rises, rack, known: dict) -> Reach:
    """The range of each row at its rack, (R,) and (R, 1) mm or None; of few rows what is known is not worked
    out again."""

    def look(which) -> Reach:
        return reach(chain.take(row[which]), rises[row[which], None], None if rack is None else rack[which])

    if len(row) > KEPT_RANGES:
        return look(slice(None))
    keys = [(int(r), 0.0 if rack is None else float(rack[k, 0])) for k, r in enumerate(row)]
    new = np.array([k for k, key in enumerate(keys) if key not in known], int)
    if len(new):
        if len(known) > MOST_KEPT:
            known.clear()
            new = np.arange(len(keys))
        for k, *values in zip(new, *look(new), strict=True):
            known[keys[k]] = values
    return Reach(*(np.array([known[key][part] for key in keys]) for part in range(3)))


def _between(chain, low, high, target, rack):
    """Root of wheel_z(a) = target between `low` (wheel below) and `high` (wheel above): Newton, halved where
    it leaves."""
    least, most = np.minimum(low, high), np.maximum(low, high)
    x = (low + high) / 2
    done = np.zeros(x.shape, bool)
    for _ in range(100):
        c, s = turn(x, 1)
        z, slope = chain.upright(c, s, rack).wheel_z.c
        lost = np.isnan(z)  # only within rounding of an end: the end's side is where it lies
        low = np.where((z <= target) | (lost & (abs(x - low) < abs(x - high))), x, low)
        high = np.where((z > target) | (lost & (abs(x - low) > abs(x - high))), x, high)
        step = (target - z) / slope
        new = np.where((x + step - low) * (x + step - high) < 0, x + step, (low + high) / 2)
        done |= (abs(step) <= 1e-15 * (1 + abs(x))) | (abs(new - x) <= 4e-16 * (1 + abs(x)))
        x = np.where(done, x, new)
        if done.all():
            break
    clear = 5 * ROUNDING * (1 + abs(x))
    return np.clip(x, least + clear, most - clear)
