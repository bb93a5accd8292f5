"""Least gap of many pairs of bodies over all travel (and rack): branch and bound with proven lower bounds.

For a fixed direction n, the room along n between two convex pieces, least(n·b) - greatest(n·a), never exceeds
their gap (nor minus their depth, where they overlap). Over a cell of travel the pieces' points stay within B
= h²/2·sup|p''| of the straight line between their places at the cell's ends (bounds.py), and the room along n
of points on straight lines is concave in
travel: so the gap anywhere in the cell is at least the lesser of the room at the two ends, less both pieces'
B. On a rectangle of travel and rack: the least of four corners, less both directions' B. The proof needs
nothing of n; the distance library only proposes it, and gives the gaps found.

A cell that cannot hold a gap smaller than the least one found, less the tolerance, is closed; others are
asked at their worst corner, then halved, and halved again. Boxes round the swept pieces close most pairs of
pieces before that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from assemblies.clearance import bores
from assemblies.clearance.cells import Found, Nodes, box_gap, least_of_each, lowest_of_each, nearest_of_group
from assemblies.clearance.library import Library
from assemblies.clearance.scene import Grid, Scene, placed, seen
from assemblies.clearance.slack import ROOTS, SIDES, Bends

ARITHMETIC_MM = 1e-6  # taken off every bound: far above the rounding of poses and projections (about 1e-10)
FIRST, FIRST_SIDES = 64, 8  # cells of travel and rack whose poses are worked out at once: most are asked for
WHOLE = 4  # cells of travel that every pair of pieces begins with
START_SLACK_MM = 8.0  # more slack than this is cut before anything is asked
SMALLEST_MM = 1e-4  # a cell of travel shorter than this is closed as it is
SAMPLES = 33  # places along the travel looked at before a stretch is searched
FEW = 128  # nodes whose room is worked out at all corners at once
CUTS = 2  # times that what is left is halved before it is asked again
MOST = 2_000_000  # cells looked at for one pair
SHORT = 1 / 1024  # share of the travel to which the ends of a stretch are found


class Search:
    """Pieces, poses and bounds of one corner, ready to be searched for pairs of groups of pieces."""

    def __init__(self, scene: Scene, grid: Grid):
        self.scene, self.grid = scene, grid
        self.bends = Bends(scene, grid)
        self.library = Library(scene, grid)
        self._noted: Callable[..., None] | None = None
        places, sides = (np.arange(n + 1) * (Grid.FINE // n) for n in (FIRST, FIRST_SIDES))
        at_side = sides if grid.rack else np.array([Grid.FINE // 2])
        grid.index(np.repeat(places, len(at_side)), np.tile(at_side, len(places)))

    # ------------------------------------------------------------------------------------------ boxes

    def _swept(self, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Boxes (root cells, pieces, 3), low and high, that hold each piece over a root cell of travel and
        all rack."""
        fine, steers = Grid.FINE, bool(self.grid.rack)
        z = np.arange(ROOTS + 1) * (fine // ROOTS)
        s = np.arange(SIDES + 1) * (fine // SIDES) if steers else np.array([fine // 2])
        zz, ss = np.meshgrid(z, s, indexing="ij")
        at = self.grid.index(zz.ravel(), ss.ravel())
        low, high = (b.reshape(len(z), len(s), -1, 3) for b in self.scene.boxes(which, self.grid.frames[at]))
        shape = ROOTS, max(1, len(s) - 1), len(which)
        wide = [np.full(shape, w) for w in (fine // ROOTS, fine // SIDES if steers else fine)]
        along, *across = self.bends.slack(
            (np.broadcast_to(which, shape),),
            np.broadcast_to(z[:-1, None, None], shape),
            wide[0],
            np.broadcast_to(s[: shape[1], None], shape),
            wide[1],
        )
        slack = (along + across[0] if across else along)[..., None]
        low, high = np.minimum(low[:-1], low[1:]), np.maximum(high[:-1], high[1:])
        if steers:
            low, high = np.minimum(low[:, :-1], low[:, 1:]), np.maximum(high[:, :-1], high[:, 1:])
        return (low - slack).min(1), (high + slack).max(1)

    # ------------------------------------------------------------------------------------------ bounds

    def _corners(self, nodes: Nodes) -> np.ndarray:
        """Poses of each node's corners (nodes, corners): travel, and within it rack."""
        z = [nodes.z, nodes.z + nodes.wz]
        s = [nodes.s, nodes.s + nodes.ws] if self.grid.rack else [nodes.s]
        zz = np.concatenate([a for a in z for _ in s])
        ss = np.concatenate([b for _ in z for b in s])
        return self.grid.index(zz, ss).reshape(len(z) * len(s), -1).T

    def bound(self, nodes: Nodes, n: np.ndarray, likely: bool = False) -> None:
        """Try a direction for each node; it is kept where it proves more, as it is `likely` to or not."""
        m, fresh = nodes.corners, np.isnan(nodes.reach_i[:, 0])
        hopeful = nodes.inside <= 0
        if len(nodes) > FEW and not (likely or fresh.all()):  # most fail where there was least room before
            worst = np.where(fresh, 0, nodes.room.argmin(1))
            at_worst = nodes.at[np.arange(len(nodes)), worst]
            room = self.library.room(nodes.i, nodes.j, at_worst, n)
            hopeful &= fresh | (self._proven(room[:, None], nodes.slack, n) > nodes.low)
        some = hopeful.nonzero()[0]
        i, j, many = (np.repeat(x[some], m, 0) for x in (nodes.i, nodes.j, n))
        reach_i, reach_j = (
            x.reshape(-1, m) for x in self.library.reaches(i, j, nodes.at[some].ravel(), many)
        )
        low = self._proven(-reach_i - reach_j, nodes.slack[some], n[some])
        better = low > nodes.low[some]
        nodes.low[some[better]] = low[better]
        better |= fresh[some]
        some = some[better]
        nodes.n[some], nodes.reach_i[some], nodes.reach_j[some] = n[some], reach_i[better], reach_j[better]

    @staticmethod
    def _proven(room: np.ndarray, slack: np.ndarray, n: np.ndarray) -> np.ndarray:
        """What the room along n at a node's corners proves of its gap."""
        low = room.min(1, initial=np.inf) - slack.sum(1) - ARITHMETIC_MM
        low[np.abs((n * n).sum(1) - 1) > 1e-9] = -np.inf  # no direction proves nothing
        return low

    def _in_bores(self, nodes: Nodes) -> None:
        """What the bore of a ring that stands still proves of the nodes whose first piece is inside it."""
        scene = self.scene
        rings = (scene.bore_mm[nodes.j] > 0) & (scene.carrier[nodes.j] == 0)
        some = (rings & (nodes.inside >= 0)).nonzero()[0]
        if not len(some):
            return
        part = nodes.take(some)
        frames = self.grid.frames[part.at, scene.carrier[part.i][:, None]]
        reach_i, reach_j, way, within = bores.reaches(scene, part.i, part.j, frames)
        inside = (within | (part.inside > 0)).nonzero()[0]
        part = part.take(inside)
        part.inside, part.n = 1, way[inside]
        part.reach_i[:], part.reach_j[:] = reach_i[inside], reach_j[inside, None]
        part.low = np.maximum(part.low, self._proven(part.room, part.slack, part.n))
        nodes.put(some[inside], part)

    def _slack(self, nodes: Nodes) -> None:
        both = self.bends.slack((nodes.i, nodes.j), nodes.z, nodes.wz, nodes.s, nodes.ws)
        for k, slack in enumerate(both):
            nodes.slack[:, k] = slack

    # ------------------------------------------------------------------------------------------ the search

    def run(self, pairs: Sequence[tuple[Sequence[int], Sequence[int]]], within_mm, share=0.0) -> Found:
        """Least gap of each pair of lists of trees (some of them on different carriers); found and proven
        differ by at most `within_mm` (pairs,), those of an overlap by `share` of its depth where that is
        more."""
        count = len(pairs)
        self.found = Found(
            np.full(count, np.inf),
            np.full(count, np.inf),
            np.zeros(count, np.int64),
            np.zeros(count, np.int64),
            np.full(count, -1),
            np.full(count, -1),
            np.full((count, 3), np.nan),
            np.full((count, 3), np.nan),
        )
        self.best_n = np.zeros((count, 3))
        within = np.broadcast_to(np.asarray(within_mm, float), (count,))
        self._goal = lambda: self.found.high - np.maximum(within, share * -self.found.high)
        self._closed = lambda nodes, which: np.minimum.at(self.found.low, nodes.pair[which], nodes.low[which])
        self._left = self._closed
        self._settled = lambda nodes: np.zeros(len(nodes), bool)
        self.pairs = pairs
        self._descend(self._roots(pairs))
        self.found.low = np.minimum(self.found.low, self.found.high)
        return self.found

    def stretch(self, which: np.ndarray, below_mm: np.ndarray) -> np.ndarray:
        """After `run`: (n, 2) first and last wheel travel at which the gap of the given pairs may be below a
        value.

        Outside it the gap is proven to be at least that; its ends are the last cells of `SHORT` of the travel
        that could not be cleared. The pair's least gap must have been found below the value."""
        count = len(self.pairs)
        goal, fine = np.full(count, -np.inf), Grid.FINE
        goal[which] = below_mm
        seen = np.stack([self.found.z, self.found.z])  # grid places of the first and last gap found below
        may = np.stack(
            [np.full(count, fine), np.zeros(count, np.int64)]
        )  # the same for cells that were not cleared

        def left(nodes, which):
            np.minimum.at(may[0], nodes.pair[which], nodes.z[which])
            np.maximum.at(may[1], nodes.pair[which], (nodes.z + nodes.wz)[which])

        def settled(nodes):
            short = nodes.wz <= SHORT * fine
            left(nodes, short)
            return short | ((nodes.z >= seen[0][nodes.pair]) & (nodes.z + nodes.wz <= seen[1][nodes.pair]))

        def note(who, gap, z):
            under = gap < goal[who]
            np.minimum.at(seen[0], who[under], z[under])
            np.maximum.at(seen[1], who[under], z[under])

        self._goal, self._closed, self._left, self._settled, self._noted = (
            lambda: goal,
            lambda nodes, which: None,
            left,
            settled,
            note,
        )
        self._sampled(which)
        open_ = [p if k in set(which.tolist()) else ((), ()) for k, p in enumerate(self.pairs)]
        self._descend(self._roots(open_, first=False))
        self._noted = None
        edges = np.stack([np.minimum(may[0], seen[0]), np.maximum(may[1], seen[1])], 1)[which]
        return self.grid.wheel_mm(edges)

    def _sampled(self, which: np.ndarray) -> None:
        """Note the gap of each pair's nearest pieces at many places, so that most of a stretch is known
        before it is searched."""
        fine = Grid.FINE
        z, s = (
            np.linspace(0, fine, SAMPLES).astype(np.int64),
            np.array([0, fine // 2, fine] if self.grid.rack else [fine // 2]),
        )
        zz, ss = (a.ravel() for a in np.meshgrid(z, s, indexing="ij"))
        zz, ss = np.tile(zz, (len(which), 1)), np.tile(ss, (len(which), 1))
        if self.grid.rack:  # and along the travel at the rack where the least gap was found
            zz = np.concatenate([zz, np.tile(z, (len(which), 1))], 1)
            ss = np.concatenate([ss, np.repeat(self.found.s[which, None], len(z), 1)], 1)
        who = np.repeat(which, zz.shape[1])
        gap, *_ = self.library.ask(
            self.found.i[who], self.found.j[who], self.grid.index(zz.ravel(), ss.ravel())
        )
        if self._noted:
            self._noted(who, gap, zz.ravel())

    def _descend(self, nodes: Nodes) -> None:
        """Level by level until all is closed; a pair that takes more than `MOST` cells is left as far as it
        is proven."""
        spent = np.zeros(len(self.pairs), np.int64)
        while len(nodes):
            spent += np.bincount(nodes.pair, minlength=len(spent))
            over = spent[nodes.pair] > MOST
            if over.any():
                self._left(nodes, over)
                nodes = nodes.take(~over)
            nodes = self._level(nodes)
            for _ in range(CUTS):
                nodes = self._close(self._halved(nodes))

    def _roots(self, pairs, first=True) -> Nodes:
        """Pairs of trees over the root cells that the boxes leave open; those on one carrier ride together
        and are none."""
        who = np.array([k for k, (a, b) in enumerate(pairs) for _ in range(len(a) * len(b))])
        i = np.array([x for a, b in pairs for x in a for _ in b])
        j = np.array([y for a, b in pairs for _ in a for y in b])
        who, i, j = (x[self.scene.carrier[i] != self.scene.carrier[j]] for x in (who, i, j))
        which, place = np.unique(np.concatenate([i, j]), return_inverse=True)
        low, high = self._swept(which)
        at_i, at_j = place[: len(i)], place[len(i) :]
        gap = box_gap(low[:, at_i], high[:, at_i], low[:, at_j], high[:, at_j])
        if first:
            self._first(who, i, j, gap, (low + high) / 2, at_i, at_j)
        near = gap < self._goal()[who]
        if first:
            far = np.where(near, np.inf, gap).min(0, initial=np.inf)
            np.minimum.at(self.found.low, who, far - ARITHMETIC_MM)
        wide = Grid.FINE // WHOLE
        cells = near.reshape(WHOLE, ROOTS // WHOLE, -1)
        least = np.where(cells, gap.reshape(cells.shape), np.inf).min(1)
        cell, k = np.nonzero(cells.any(1))
        steers = bool(self.grid.rack)
        columns = who[k], i[k], j[k], cell * wide, wide, 0 if steers else Grid.FINE // 2, Grid.FINE
        nodes = self._divided(Nodes.of(columns, least[cell, k] - ARITHMETIC_MM, 4 if steers else 2))
        nodes.at = self._corners(nodes)
        self.bound(nodes, self.best_n[nodes.pair])
        self._in_bores(nodes)
        return nodes

    def _divided(self, nodes: Nodes) -> Nodes:
        """Root cells cut across travel or rack until their slack is of a like size for all."""
        while True:
            self._slack(nodes)
            worst = nodes.slack.argmax(1)
            wide = nodes.slack.max(1, initial=0) > START_SLACK_MM
            wide &= np.where(worst == 0, nodes.wz, nodes.ws) > Grid.FINE // 256
            if not wide.any():
                return nodes
            low, high = nodes.take(wide), nodes.take(wide)
            across = worst[wide] == 1
            low.wz = high.wz = np.where(across, low.wz, low.wz // 2)
            low.ws = high.ws = np.where(across, low.ws // 2, low.ws)
            high.z, high.s = (
                np.where(across, high.z, high.z + high.wz),
                np.where(across, high.s + high.ws, high.s),
            )
            nodes = Nodes.joined([nodes.take(~wide), low, high])

    def _first(self, who, i, j, gap, middle, at_i, at_j) -> None:
        """A first gap for every pair: of its nearest boxes the pieces that reach out furthest, at one end of
        the cell."""
        best = least_of_each(who, gap.min(0))
        who, i, j, cell = who[best], i[best], j[best], gap[:, best].argmin(0)
        away = middle[cell, at_j[best]] - middle[cell, at_i[best]]
        n = away / np.maximum(np.sqrt((away**2).sum(1)), 1e-12)[:, None]
        z, s = cell * (Grid.FINE // ROOTS), np.full(len(cell), Grid.FINE // 2)
        at = self.grid.index(z, s)
        self._take(who, *self._furthest(i, j, at, n), z, s, at)

    def _take(self, who, i, j, z, s, pose):
        """Ask, and keep the least gaps; returns gaps and directions."""
        gap, n, a, b = self.library.ask(i, j, pose)
        if self._noted:
            self._noted(who, gap, z)
        best = least_of_each(who, gap)
        best = best[gap[best] < self.found.high[who[best]]]
        w = who[best]
        f = self.found
        self.best_n[w] = n[best]
        f.high[w], f.z[w], f.s[w], f.i[w], f.j[w], f.a[w], f.b[w] = (
            gap[best],
            z[best],
            s[best],
            i[best],
            j[best],
            a[best],
            b[best],
        )
        return gap, n

    def _open(self, nodes: Nodes) -> np.ndarray:
        """Which nodes are left when those are closed that are proven, too short to matter, or settled
        otherwise."""
        shut = (nodes.low >= self._goal()[nodes.pair]) | (nodes.wz * self.bends.half_z * 2 < SMALLEST_MM)
        self._closed(nodes, shut)
        return ~(shut | self._settled(nodes))

    def _close(self, nodes: Nodes) -> Nodes:
        """The nodes that are left open."""
        left = self._open(nodes)
        return nodes if left.all() else nodes.take(left)

    def _level(self, nodes: Nodes) -> Nodes:
        """Ask every open node once, at its worst corner, the most promising of each pair first; each
        direction found is tried on the pair's other nodes too, and what that proves is closed."""
        self._across(nodes)
        nodes = self._close(nodes)
        done, batch = [], 1
        while len(nodes):
            # halving is what helps where the direction is good enough (only the slack is too much), and
            # covers
            real = self.scene.real
            loose = (nodes.room.min(1) >= self._goal()[nodes.pair]) | ~(
                real[nodes.i] & (real[nodes.j] | (nodes.inside > 0))
            )
            if batch > 1 and loose.any():
                done.append(nodes.take(loose))
                nodes = nodes.take(~loose)
                if not len(nodes):
                    break
            now = lowest_of_each(nodes.pair, nodes.low, batch)
            batch *= 4
            rest = np.ones(len(nodes), bool)
            rest[now] = False
            nodes, count = nodes.take(np.concatenate([now, rest.nonzero()[0]])), len(now)
            n = self._ask_worst(nodes.first(count))
            (whose, others), (z, others_z) = (np.split(x, [count]) for x in (nodes.pair, nodes.z))
            self.bound(nodes, np.concatenate([n, n[nearest_of_group(whose, z, others, others_z)]]))
            left = self._open(nodes)
            done.append(nodes.take(left[:count].nonzero()[0]))
            nodes = nodes.take(count + left[count:].nonzero()[0])
        return self._close(Nodes.joined(done)) if done else nodes

    def _across(self, nodes: Nodes) -> None:
        """Try the way from middle to middle, at the worst corner, where the direction is not good enough: of
        pieces that are small for how far they are apart, covers above all, it is nearly the best."""
        room = nodes.room
        some = np.flatnonzero(room.min(1) < self._goal()[nodes.pair])
        if not len(some):
            return
        part, worst = nodes.take(some), room[some].argmin(1)
        pose = part.at[np.arange(len(some)), worst]
        one, two = (self.library.middles(which, pose) for which in (part.i, part.j))
        away = two - one
        self.bound(part, away / np.maximum(np.sqrt((away**2).sum(1)), 1e-12)[:, None], likely=True)
        nodes.put(some, part)

    def _ask_worst(self, nodes: Nodes) -> np.ndarray:
        """Ask each node at the corner with the least room (its middle, where that was asked before); of
        covers, the pieces in them that reach out furthest there. Returns the directions."""
        worst, sides = nodes.room.argmin(1), 2 if self.grid.rack else 1
        z, s = nodes.z + worst // sides * nodes.wz, nodes.s + worst % sides * nodes.ws
        at = nodes.at[np.arange(len(nodes)), worst]
        again = at == nodes.asked
        if again.any():
            z = np.where(again, nodes.z + nodes.wz // 2, z)
            s = np.where(again & (sides > 1), nodes.s + nodes.ws // 2, s)
            at[again] = self.grid.index(z[again], s[again])
        gap, n = self._take(nodes.pair, *self._furthest(nodes.i, nodes.j, at, nodes.n), z, s, at)
        nodes.asked = at
        within = self.found.high - self._goal()
        far = (nodes.inside > 0) & ~again & (gap - nodes.room.min(1) > within[nodes.pair] / 2)
        nodes.inside[far] = -1  # across the ring's end, or tilted: another part of it is nearest
        nodes.reach_i[far] = np.nan
        return n

    def _furthest(self, i, j, pose, n) -> tuple[np.ndarray, np.ndarray]:
        """Of covers, the pieces within that reach out furthest at poses: of i along n, of j along -n."""
        scene, which = self.scene, np.concatenate([i, j])
        left = (~scene.real[which]).nonzero()[0]
        frames = placed(self.grid.frames, np.concatenate([pose, pose])[left], scene.carrier[which[left]])
        along = seen(frames, np.concatenate([n, -n])[left])
        while len(left):
            kids = scene.kids[which[left]]
            one, two = scene.reach_along(kids.T.ravel(), np.concatenate([along, along])).reshape(2, -1)
            which[left] = np.where(one >= two, kids[:, 0], kids[:, 1])
            more = ~scene.real[which[left]]
            left, along = left[more], along[more]
        return which[: len(i)], which[len(i) :]

    def _halved(self, nodes: Nodes) -> Nodes:
        """Each node cut in two: a cover into what it holds, a long piece that half a cell did not close into
        its halves; otherwise, or where the room changes by more than their size, the cell, across travel or
        rack, whichever costs more."""
        if not len(nodes):
            return nodes
        scene = self.scene
        can = [
            np.where(
                ~scene.real[w] | ((scene.kids[w, 0] >= 0) & (nodes.wz < Grid.FINE // ROOTS)),
                scene.size[w],
                -1.0,
            )
            for w in (nodes.i, nodes.j)
        ]
        can[1][nodes.inside > 0] = -1.0  # the bore proves more than its wedges
        covers = [np.where(scene.real[w], 0.0, 1e9) for w in (nodes.i, nodes.j)]  # covers before long pieces
        gain = [scene.parting[w] + c for w, c in zip((nodes.i, nodes.j), covers, strict=True)]
        by_i = (can[0] >= 0) & ((can[1] < 0) | (gain[0] >= gain[1]))
        by_j = (can[1] >= 0) & ~by_i
        across, room = np.zeros(len(nodes), bool), nodes.room
        half = room.shape[1] // 2
        rise = np.abs(room[:, half:] - room[:, :half]).max(1) + nodes.slack[:, 0]
        if self.grid.rack:
            rise_s = np.abs(room[:, 1::2] - room[:, ::2]).max(1) + nodes.slack[:, 1]
            across = rise_s > rise
            rise = np.maximum(rise, rise_s)
        quick = rise > np.where(by_i, can[0], can[1])  # it moves by more than the size of what might be split
        by_i, by_j = by_i & ~quick, by_j & ~quick
        whole = ~by_i & ~by_j
        if (
            self._noted
        ):  # the ends of a stretch lie along the travel: the rack need not be cut finer than they
            across &= nodes.ws > SHORT * Grid.FINE
        half_z = np.where(whole & ~across, nodes.wz // 2, nodes.wz)
        half_s = np.where(whole & across, nodes.ws // 2, nodes.ws)
        out = []
        for k in (0, 1):
            part = nodes.copy()
            part.i = np.where(by_i, scene.kids[nodes.i, k], nodes.i)
            part.j = np.where(by_j, scene.kids[nodes.j, k], nodes.j)
            part.asked = np.where(whole, nodes.asked, -1)
            part.inside = np.where(by_i, np.maximum(nodes.inside, 0), nodes.inside)
            part.z = nodes.z + np.where(whole & ~across, k * half_z, 0)
            part.s = nodes.s + np.where(whole & across, k * half_s, 0)
            part.wz, part.ws = half_z, half_s
            out.append(part)
        self._reaches_of_kids(nodes, out, by_i, by_j)
        self._reaches_of_cells(nodes, out, whole, across)
        both = Nodes.joined(out)
        self._slack(both)
        self._in_bores(both)  # before anything is said of their room: it was worked out along n
        both.low = np.maximum(both.low, self._proven(both.room, both.slack, both.n))
        return both

    def _reaches_of_kids(self, nodes: Nodes, out: list[Nodes], by_i: np.ndarray, by_j: np.ndarray) -> None:
        """At the same poses, along the same direction, only what was split reaches otherwise than before."""
        i, j, m = np.flatnonzero(by_i), np.flatnonzero(by_j), nodes.corners
        rows = np.concatenate([i, j])
        kids = [np.repeat(np.concatenate([part.i[i], part.j[j]]), m) for part in out]
        frames = placed(self.grid.frames, nodes.at[rows].ravel(), self.scene.carrier[kids[0]])
        along = seen(frames, np.repeat(np.concatenate([nodes.n[i], -nodes.n[j]]), m, 0))
        reach = self.scene.reach_along(np.concatenate(kids), np.concatenate([along, along]))
        for part, own in zip(out, reach.reshape(2, -1, m), strict=True):
            part.reach_i[i], part.reach_j[j] = own[: len(i)], own[len(i) :]

    def _reaches_of_cells(self, nodes: Nodes, out: list[Nodes], cut: np.ndarray, across: np.ndarray) -> None:
        """Halves of a cell, cut across travel or rack, share the poses in its middle; those at its ends are
        known."""
        rows = cut.nonzero()[0]
        if not len(rows):
            return
        z, wz, s, ws = nodes.z[rows], nodes.wz[rows], nodes.s[rows], nodes.ws[rows]
        if self.grid.rack:
            by_s = across[rows, None]
            zz = np.where(by_s, np.stack([z, z + wz], 1), (z + wz // 2)[:, None])
            ss = np.where(by_s, (s + ws // 2)[:, None], np.stack([s, s + ws], 1))
            low, high = (np.where(by_s, *columns) for columns in (((0, 2), (0, 1)), ((1, 3), (2, 3))))
        else:
            zz, ss = (z + wz // 2)[:, None], s[:, None]
            low, high = np.zeros((len(rows), 1), int), np.ones((len(rows), 1), int)
        at, m = self.grid.index(zz.ravel(), ss.ravel()), zz.shape[1]
        i, j, n = (np.repeat(x[rows], m, 0) for x in (nodes.i, nodes.j, nodes.n))
        fresh = at, *self.library.reaches(i, j, at, n)
        rows = rows[:, None]
        for part, keep, put in zip(out, (low, high), (high, low), strict=True):
            for field, values in zip(("at", "reach_i", "reach_j"), fresh, strict=True):
                getattr(part, field)[rows, put] = values.reshape(-1, m)
                getattr(part, field)[rows, keep] = getattr(nodes, field)[rows, keep]
