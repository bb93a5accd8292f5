"""The hot loop of the search, compiled: how deep copies overlap, and where one of them overlaps least.

Two convex pieces overlap by the least shift that parts them, found along the outward normals of both
(separating axes). Shapes of several pieces take the greatest of their pairs: exact as a yes or no, as a depth
an upper bound. Plain numbers in flat arrays and a generator of its own: the same seed takes the same steps.
Everything compiled stands in this one file, since the compiled code that is kept on disk is only renewed when
its own file changes.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numba import njit

THE_PLATE, THE_END = -1.0, -2.0  # stand for a copy in the rows of `contacts`
NONE, ONE = np.int64(0), np.int64(1)  # a number written in place is a type of its own: all compiled twice

_njit: Any = njit  # its types leave two of its options out
# called from compiled code alone
compiled = _njit(no_cpython_wrapper=True, no_cfunc_wrapper=True, error_model="numpy")


def entry(f):
    """`f` in machine code, kept on disk for the next run where there is a folder to keep it in."""
    try:
        return _njit(cache=True, no_cfunc_wrapper=True, error_model="numpy")(f)
    except RuntimeError:  # neither the package's folder nor the user's can be written
        return _njit(no_cfunc_wrapper=True, error_model="numpy")(f)


class Pieces(NamedTuple):
    """Convex pieces of a row of things: piece p has the corners first[p]:first[p + 1], thing k the pieces
    of[k]:of[k + 1].

    `corner` holds x, y, outward normal x, y of the side that leaves it, and 0 (infinity at the end of an open
    side, which bounds nothing); `reach` the support along that normal (infinite on an open side); `disc`
    centre x, y and radius round each piece."""

    corner: np.ndarray
    reach: np.ndarray
    first: np.ndarray
    disc: np.ndarray
    of: np.ndarray


class Lying(NamedTuple):
    """One convex piece as it lies, of a copy or of what keeps copies out: its turned corners
    corner[begin:end], reach[shift + k] of the side that leaves corner k, its disc."""

    owner: int
    corner: np.ndarray
    begin: int
    end: int
    reach: np.ndarray
    shift: int
    disc: np.ndarray


class PlateArrays(NamedTuple):
    """Half-planes (normal x, y, support) that keep copies in, groups of pieces that keep them out, the box
    round it all."""

    hull: np.ndarray
    out: Pieces
    box: np.ndarray


class Kinds(NamedTuple):
    """All kinds of blank: pieces with half the spacing round them, pieces without; the allowed turns of kind
    k are turns[turn_of[k]:turn_of[k + 1]], or any where `free`; `size` its greatest radius."""

    near: Pieces
    bare: Pieces
    turns: np.ndarray
    turn_of: np.ndarray
    free: np.ndarray
    size: np.ndarray


class Copies(NamedTuple):
    """The state: kind, turn in radians, x, y of each copy."""

    kind: np.ndarray
    turn: np.ndarray
    x: np.ndarray
    y: np.ndarray


class TurnedCopies(NamedTuple):
    """Corners, discs and boxes of every copy as it is turned, about its own origin."""

    corner: np.ndarray
    disc: np.ndarray
    box: np.ndarray


@compiled
def rand(state):
    """Uniform in [0, 1) from a 64 bit word (splitmix64; Steele, Lea & Flood 2014)."""
    state[0] += np.uint64(0x9E3779B97F4A7C15)
    z = state[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return np.float64(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@compiled
def cosine_sine(turn):
    """Quarter turns are exact, so that squares lie square."""
    quarter = turn / (0.5 * math.pi)
    near = math.floor(quarter + 0.5)
    if abs(quarter - near) < 1e-12:
        k = int(near) % 4
        return (1.0 - k if k < 3 else 0.0), (2.0 - k if k > 0 else 0.0)
    return math.cos(turn), math.sin(turn)


@compiled
def turn_into(pieces, kind, turn, corner, disc, box):
    """Write the corners and discs of a kind, turned, and its box."""
    c, s = cosine_sine(turn)
    p0, p1 = pieces.of[kind], pieces.of[kind + 1]
    k0, k1 = pieces.first[p0], pieces.first[p1]
    box[0] = box[1] = np.inf
    box[2] = box[3] = -np.inf
    for k in range(k0, k1):
        x, y, u, v, w = pieces.corner[k]
        x, y, u, v = c * x - s * y, s * x + c * y, c * u - s * v, s * u + c * v
        corner[k - k0, 0], corner[k - k0, 1], corner[k - k0, 2], corner[k - k0, 3], corner[k - k0, 4] = (
            x,
            y,
            u,
            v,
            w,
        )
        box[0], box[1], box[2], box[3] = min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)
    for p in range(p0, p1):
        x, y, r = pieces.disc[p]
        disc[p - p0, 0], disc[p - p0, 1], disc[p - p0, 2] = c * x - s * y, s * x + c * y, r


@compiled
def room_for(pieces, count):
    """Empty arrays for `count` turned copies of any kind."""
    corners = parts = 0
    for k in range(len(pieces.of) - 1):
        p0, p1 = pieces.of[k], pieces.of[k + 1]
        parts = max(parts, p1 - p0)
        corners = max(corners, pieces.first[p1] - pieces.first[p0])
    return TurnedCopies(np.empty((count, corners, 5)), np.empty((count, parts, 3)), np.empty((count, 4)))


@compiled
def turn_all(pieces, copies):
    out = room_for(pieces, len(copies.kind))
    for i in range(len(copies.kind)):
        turn_into(pieces, copies.kind[i], copies.turn[i], out.corner[i], out.disc[i], out.box[i])
    return out


@compiled
def along_sides(a, a0, a1, reach, r0, b, b0, b1, dx, dy, floor):  # noqa: PLR0913  # hot loop
    """Least, over the sides of piece a, of how far piece b (shifted by dx, dy) reaches behind the side; and
    that side. The corner of b that reaches furthest goes round b as the sides go round a. Ends early at
    `floor` or below."""
    least, best = np.inf, -1
    j = b0
    low = a[a0, 2] * b[b0, 0] + a[a0, 3] * b[b0, 1]
    for k in range(b0 + 1, b1):
        d = a[a0, 2] * b[k, 0] + a[a0, 3] * b[k, 1]
        if d < low:
            low, j = d, k
    for k in range(a0, a1):
        u, v = a[k, 2], a[k, 3]
        low = u * b[j, 0] + v * b[j, 1]
        for _ in range(b0, b1):
            after = j + 1 if j + 1 < b1 else b0
            d = u * b[after, 0] + v * b[after, 1]
            if d > low:
                break
            low, j = d, after
        depth = reach[r0 + k - a0] + b[j, 4] - low - u * dx - v * dy
        if depth < least:
            least, best = depth, k
            if least <= floor:
                break
    return least, best


@compiled
def depth(pieces, ka, ca, da, kb, cb, db, dx, dy, floor):  # noqa: PLR0913  # hot loop
    """How deep a copy of kind ka, turned, lies in one of kb at a distance (dx, dy) from it: at most `floor`
    where less.

    ca, da and cb, db are the turned corners and discs."""
    deepest = floor
    pa, pb = pieces.of[ka], pieces.of[kb]
    fa, fb = pieces.first[pa], pieces.first[pb]
    for p in range(pa, pieces.of[ka + 1]):
        xa, ya, ra = da[p - pa]
        xa += dx
        ya += dy
        a0, a1 = pieces.first[p] - fa, pieces.first[p + 1] - fa
        for q in range(pb, pieces.of[kb + 1]):
            xb, yb, rb = db[q - pb]
            near = ra + rb - deepest
            if near <= 0 or (xa - xb) ** 2 + (ya - yb) ** 2 > near * near:
                continue
            b0, b1 = pieces.first[q] - fb, pieces.first[q + 1] - fb
            d, _ = along_sides(cb, b0, b1, pieces.reach, fb + b0, ca, a0, a1, dx, dy, deepest)
            if d > deepest:
                e, _ = along_sides(ca, a0, a1, pieces.reach, fa + a0, cb, b0, b1, -dx, -dy, deepest)
                deepest = max(deepest, min(d, e))
    return deepest


@compiled
def in_walls(bare, kind, corner, disc, plate, x, y, floor):
    """How deep a copy at (x, y) lies in the walls: beyond the hull, plus in each group of obstacles (floors
    counted)."""
    p0, p1 = bare.of[kind], bare.of[kind + 1]
    f = bare.first[p0]
    total = 0.0
    deepest = floor
    for h in range(len(plate.hull)):
        u, v, reach = plate.hull[h]
        for p in range(p0, p1):
            if u * (disc[p - p0, 0] + x) + v * (disc[p - p0, 1] + y) + disc[p - p0, 2] - reach > deepest:
                for k in range(bare.first[p] - f, bare.first[p + 1] - f):
                    deepest = max(deepest, u * (corner[k, 0] + x) + v * (corner[k, 1] + y) - reach)
    total += deepest
    out = plate.out
    for g in range(len(out.of) - 1):
        deepest = floor
        for p in range(p0, p1):
            xa, ya, ra = disc[p - p0]
            a0, a1 = bare.first[p] - f, bare.first[p + 1] - f
            for q in range(out.of[g], out.of[g + 1]):
                xb, yb, rb = out.disc[q]
                near = ra + rb - deepest
                if near <= 0 or (xa + x - xb) ** 2 + (ya + y - yb) ** 2 > near * near:
                    continue
                b0, b1 = out.first[q], out.first[q + 1]
                d, _ = along_sides(out.corner, b0, b1, out.reach, b0, corner, a0, a1, x, y, deepest)
                if d > deepest:
                    e, _ = along_sides(
                        corner, a0, a1, bare.reach, f + a0, out.corner, b0, b1, -x, -y, deepest
                    )
                    deepest = max(deepest, min(d, e))
        total += deepest
    return total


@entry
def overlaps(kinds, plate, copies):
    """Depth of each pair of copies (n x n, symmetric) and of each copy in its walls (n)."""
    n = len(copies.kind)
    near, bare = turn_all(kinds.near, copies), turn_all(kinds.bare, copies)
    pair, wall = np.zeros((n, n)), np.zeros(n)
    for i in range(n):
        ki, x, y = copies.kind[i], copies.x[i], copies.y[i]
        wall[i] = in_walls(kinds.bare, ki, bare.corner[i], bare.disc[i], plate, x, y, 0.0)
        for j in range(i):
            pair[i, j] = pair[j, i] = depth(
                kinds.near,
                ki,
                near.corner[i],
                near.disc[i],
                copies.kind[j],
                near.corner[j],
                near.disc[j],
                x - copies.x[j],
                y - copies.y[j],
                0.0,
            )
    return pair, wall


class Trial(NamedTuple):
    """One copy i to be laid somewhere else: the others, the weights, its own corners at the turn on trial."""

    i: int
    kinds: Kinds
    plate: PlateArrays
    copies: Copies
    near: TurnedCopies  # of all copies; row i is the one on trial
    bare: TurnedCopies  # one row
    pair_w: np.ndarray
    wall_w: np.ndarray


@compiled
def turn_trial(t, turn):
    kind = t.copies.kind[t.i]
    turn_into(t.kinds.near, kind, turn, t.near.corner[t.i], t.near.disc[t.i], t.near.box[t.i])
    turn_into(t.kinds.bare, kind, turn, t.bare.corner[0], t.bare.disc[0], t.bare.box[0])


@compiled
def cost(t, x, y, limit):
    """Weighted depths of the copy on trial at (x, y); ends early once at `limit` or above."""
    kinds, copies, i = t.kinds, t.copies, t.i
    kind = copies.kind[i]
    total = t.wall_w[i] * in_walls(kinds.bare, kind, t.bare.corner[0], t.bare.disc[0], t.plate, x, y, 0.0)
    box = t.near.box[i]
    for j in range(len(copies.kind)):
        if total >= limit:
            break
        dx, dy = x - copies.x[j], y - copies.y[j]
        other = t.near.box[j]
        if j == i or (
            box[0] + dx >= other[2]
            or box[2] + dx <= other[0]
            or box[1] + dy >= other[3]
            or box[3] + dy <= other[1]
        ):
            continue
        total += t.pair_w[i, j] * depth(
            kinds.near,
            kind,
            t.near.corner[i],
            t.near.disc[i],
            copies.kind[j],
            t.near.corner[j],
            t.near.disc[j],
            dx,
            dy,
            0.0,
        )
    return total


@compiled
def some_turn(kinds, kind, state):
    """Any allowed turn; a free kind lies as often at one of its favourite turns as anywhere."""
    if kinds.free[kind] and rand(state) < 0.5:
        return rand(state) * 2 * math.pi
    a, b = kinds.turn_of[kind], kinds.turn_of[kind + 1]
    return kinds.turns[a + int(rand(state) * (b - a))]


@compiled
def somewhere(low, high, state):
    return low + rand(state) * (high - low) if high > low else 0.5 * (low + high)


@compiled
def tried(t, at, turn, x, y, limit, lean):
    """Cost of the copy on trial at (x, y), `lean` included; written to `at` (cost, turn, x, y) where below
    `limit`."""
    c = cost(t, x, y, limit - lean * x) + lean * x
    if c < limit:
        at[0], at[1], at[2], at[3] = c, turn, x, y
    return c < limit


@compiled
def descend(t, at, step, least, lean, state):
    """Pattern search (Hooke & Jeeves 1961) from at = (cost, turn, x, y), which is changed: steps along random
    lines and turns, longer after a gain, shorter after none, down to `least` mm."""
    kind = t.copies.kind[t.i]
    size = t.kinds.size[kind]
    twist = step if t.kinds.free[kind] else 0.0
    turned = at[1]
    turn_trial(t, turned)
    while max(step, twist) > least and at[0] > lean * at[2]:
        twisting = twist > least and (step <= least or rand(state) < 0.35)
        a = rand(state) * 2 * math.pi
        u, v, w = (0.0, 0.0, twist / size) if twisting else (step * math.cos(a), step * math.sin(a), 0.0)
        gained = False
        for _ in range(2):
            if turned != at[1] + w:
                turned = at[1] + w
                turn_trial(t, turned)
            gained = tried(t, at, turned, at[2] + u, at[3] + v, at[0], lean)
            if gained:
                break
            u, v, w = -u, -v, -w
        if twisting:
            twist *= 1.1 if gained else 0.5
        else:
            step *= 1.1 if gained else 0.7


@compiled
def best_place(t, samples, about, heads, lean, state):
    """Lay the copy on trial where it costs least: of `samples` places over the plate and `about` places round
    where it is the best `heads`, and where it is, are followed downhill. `lean` > 0 prefers a small x. Gives
    the cost."""
    kinds, copies, i = t.kinds, t.copies, t.i
    kind, size, plate = copies.kind[i], kinds.size[copies.kind[i]], t.plate.box
    found = np.full((heads + 1, 4), np.inf)
    here = copies.turn[i]
    turn_trial(t, here)
    tried(t, found[heads], here, copies.x[i], copies.y[i], np.inf, lean)
    for s in range(samples + about):
        turn = here
        if s < samples:
            turn = some_turn(kinds, kind, state)
        elif kinds.free[kind]:
            turn += (rand(state) - 0.5) * 0.5
        turn_trial(t, turn)
        if s < samples:
            box = t.bare.box[0]
            x, y = (
                somewhere(plate[0] - box[0], plate[2] - box[2], state),
                somewhere(plate[1] - box[1], plate[3] - box[3], state),
            )
        else:
            x, y = copies.x[i] + (rand(state) - 0.5) * size, copies.y[i] + (rand(state) - 0.5) * size
        k = heads - 1
        if tried(t, found[k], turn, x, y, found[k, 0], lean):
            while k > 0 and found[k, 0] < found[k - 1, 0]:
                for q in range(4):
                    found[k - 1, q], found[k, q] = found[k, q], found[k - 1, q]
                k -= 1
    best = heads
    for k in range(heads, -1, -1):
        if found[k, 0] < np.inf and found[best, 0] > lean * found[best, 2]:
            descend(t, found[k], 0.1 * size, 0.01 * size, lean, state)
            if found[k, 0] < found[best, 0]:
                best = k
    descend(t, found[best], 0.01 * size, 1e-4 * size, lean, state)
    at = found[best]
    copies.turn[i], copies.x[i], copies.y[i] = at[1], at[2], at[3]
    turn_trial(t, at[1])
    return at[0]


@entry
def place_one(i, kinds, plate, copies, samples, heads, lean, state):
    """Lay copy i where it overlaps least among the others as they lie; gives the cost."""
    n = len(copies.kind)
    t = Trial(
        i,
        kinds,
        plate,
        copies,
        turn_all(kinds.near, copies),
        room_for(kinds.bare, ONE),
        np.ones((n, n)),
        np.ones(n),
    )
    return best_place(t, samples, NONE, heads, lean, state)


@entry
def sweep(kinds, plate, copies, pair_w, wall_w, samples, about, heads, state):
    """Every copy that overlaps, in random order, goes where it costs least; gives the number of moves."""
    n = len(copies.kind)
    near = turn_all(kinds.near, copies)
    order = np.arange(n)
    for k in range(n - 1, 0, -1):
        q = int(rand(state) * (k + 1))
        order[k], order[q] = order[q], order[k]
    moves = 0
    bare = room_for(kinds.bare, ONE)
    for i in order:
        t = Trial(int(i), kinds, plate, copies, near, bare, pair_w, wall_w)
        turn_trial(t, copies.turn[i])
        if cost(t, copies.x[i], copies.y[i], np.inf) > 0:
            best_place(t, samples, about, heads, 0.0, state)
            moves += 1
    return moves


@compiled
def append(rows, count, row):
    """One row of 8 more in `rows`, which may have to be made longer; count[0] of them are in use."""
    n = count[0]
    if n == len(rows):
        longer = np.empty((2 * n, 8))
        for k in range(n):
            for q in range(8):
                longer[k, q] = rows[k, q]
        rows = longer
    for q in range(8):
        rows[n, q] = row[q]
    count[0] = n + 1
    return rows


@compiled
def lying(owner, pieces, first, p, corner, disc):
    """Piece p of `pieces`; `corner` and `disc`, turned, begin with those of piece `first`."""
    shift = pieces.first[first]
    begin, end = pieces.first[p] - shift, pieces.first[p + 1] - shift
    return Lying(owner, corner, begin, end, pieces.reach, shift, disc[p - first])


@compiled
def parting(a, b, dx, dy):
    """How deep b, shifted, lies behind the side of a that parts them best, and that side."""
    reach, first = a.reach, a.shift + a.begin
    return along_sides(a.corner, a.begin, a.end, reach, first, b.corner, b.begin, b.end, dx, dy, -np.inf)


@compiled
def side_rows(rows, count, own, side, other, dx, dy, within, lowest_only):
    """Append, for each corner of piece `other` near a side of `own`, (contact, own, other, n x, n y, gap, own
    lever, other lever): own's outward normal n, the corner's distance before it, and how turning either (rad)
    changes that. The corners lie at (dx, dy) from the side's owner."""
    u, v, reach = own.corner[side, 2], own.corner[side, 3], own.reach[own.shift + side]
    corner, least = other.corner, np.inf
    for k in range(other.begin, other.end):
        least = min(least, u * (corner[k, 0] + dx) + v * (corner[k, 1] + dy) - reach)
    for k in range(other.begin, other.end):
        x, y = corner[k, 0], corner[k, 1]
        gap = u * (x + dx) + v * (y + dy) - reach
        if gap <= (least if lowest_only else within):
            levers = u * (y + dy) - v * (x + dx), v * x - u * y
            who = float(count[1]), float(own.owner), float(other.owner)
            rows = append(rows, count, (*who, u, v, gap, *levers))
    return rows


@compiled
def near_rows(rows, count, a, b, dx, dy, within, lowest_only):
    """Rows of the side that parts piece a best from piece b, (dx, dy) from it, where they come within reach
    of each other: a contact more in count[1]."""
    (xa, ya, ra), (xb, yb, rb) = a.disc, b.disc
    if (xb + dx - xa) ** 2 + (yb + dy - ya) ** 2 >= (ra + rb + within) ** 2:
        return rows
    behind_a, side_a = parting(a, b, dx, dy)
    behind_b, side_b = parting(b, a, -dx, -dy)
    if min(behind_a, behind_b) <= -within or min(behind_a, behind_b) == np.inf:
        return rows
    count[1] += 1
    if behind_a > behind_b:
        return side_rows(rows, count, b, side_b, a, -dx, -dy, within, lowest_only)
    return side_rows(rows, count, a, side_a, b, dx, dy, within, lowest_only)


@compiled
def edge_rows(rows, count, i, corner, furthest, x, y, plate, within):
    """Rows of the corners of copy i, which lies at x, y, near the plate's edges; and of those `within` of its
    furthest, which must stay short of the plate's end."""
    for k in range(len(corner)):
        cx, cy = corner[k, 0], corner[k, 1]
        for h in range(len(plate.hull)):
            u, v = plate.hull[h, 0], plate.hull[h, 1]
            gap = plate.hull[h, 2] - u * (x + cx) - v * (y + cy)
            if gap < within:
                count[1] += 1
                lever = u * cy - v * cx
                rows = append(rows, count, (float(count[1]), THE_PLATE, float(i), -u, -v, gap, 0.0, lever))
        if cx > furthest - within:
            count[1] += 1
            lead = -(x + cx)
            rows = append(rows, count, (float(count[1]), THE_END, float(i), -1.0, 0.0, lead, 0.0, cy))
    return rows


@entry
def contacts(kinds, plate, copies, within, lowest_only):
    """Conditions for all copies to stay apart, in the plate and short of its end: the rows of `side_rows`;
    own or other is -1 for the plate, own -2 for the end (its gap is less the end's x)."""
    near, bare, out = turn_all(kinds.near, copies), turn_all(kinds.bare, copies), plate.out
    rows, count = np.empty((512, 8)), np.zeros(2, np.int64)
    for i in range(len(copies.kind)):
        x, y, kind = copies.x[i], copies.y[i], copies.kind[i]
        first, after = kinds.near.of[kind], kinds.near.of[kind + 1]
        for j in range(i):
            first_j, after_j = kinds.near.of[copies.kind[j]], kinds.near.of[copies.kind[j] + 1]
            dx, dy = copies.x[j] - x, copies.y[j] - y
            for p in range(first, after):
                a = lying(i, kinds.near, first, p, near.corner[i], near.disc[i])
                for q in range(first_j, after_j):
                    b = lying(j, kinds.near, first_j, q, near.corner[j], near.disc[j])
                    rows = near_rows(rows, count, a, b, dx, dy, within, lowest_only)
        first, after = kinds.bare.of[kind], kinds.bare.of[kind + 1]
        for p in range(first, after):
            a = lying(i, kinds.bare, first, p, bare.corner[i], bare.disc[i])
            for q in range(len(out.first) - 1):
                b = lying(np.int64(THE_PLATE), out, out.of[0], q, out.corner, out.disc)
                rows = near_rows(rows, count, a, b, -x, -y, within, lowest_only)
        corner = bare.corner[i, : kinds.bare.first[after] - kinds.bare.first[first]]
        rows = edge_rows(rows, count, i, corner, bare.box[i, 2], x, y, plate, within)
    return rows[: count[0]]
