"""Which bodies are looked at together, how near they can come at all, and the pieces that stand for them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from functools import cache, cached_property, lru_cache
from itertools import combinations

import numpy as np

from assemblies.clearance.bounds import carrier_index, carrier_name, sharpest
from assemblies.clearance.memory import recalled
from assemblies.clearance.outside import outside
from assemblies.clearance.pieces import Piece, leaves, pieces, real_pieces
from assemblies.clearance.scene import Forest, Grid, box_corners, spread
from assemblies.clearance.slack import ROOTS, SIDES
from parts.base.frozen import dataclass
from parts.shape.form import Form, Prism, Round, Vector, vector


@dataclass(frozen=True)
class Body:
    """Rigid forms, car coordinates at ride height, that move with `carrier` ("frame" does not move).

    Entries of one name are one body (a damper: body and shaft); `part` names an entry for the joints: an
    eye, a housing, a shank. `kind`: "moving", "fixed", "tyre" or a key of `Limits.others`. `margin_mm`:
    building tolerance, added to what its pairs need. `hollow` keeps the bores of round forms. `shells`:
    closed triangle meshes, (triangles, 3, 3) with outward faces, beside or in place of forms (see
    imported.py)."""

    name: str
    carrier: str
    forms: tuple[Form, ...]
    kind: str = "moving"
    margin_mm: float = 0.0
    hollow: bool = False
    shells: tuple = ()
    part: str = ""

    @cached_property
    def key(self) -> str:
        """A name for exactly this shape and motion."""
        return "|".join(
            (self.carrier, str(self.hollow), *map(form_key, self.forms), *(s.key for s in self.shells))
        )

    def key_of(self, which: int) -> str:
        """A name for exactly that one of its shapes, in the order of `boxes`."""
        forms = len(self.forms)
        return form_key(self.forms[which]) if which < forms else self.shells[which - forms].key

    @cached_property
    def boxes(self) -> np.ndarray:
        """(forms, 2, 3) low and high at ride."""
        return np.array([*map(form_box, self.forms), *(s.box for s in self.shells)]).reshape(-1, 2, 3)

    @cached_property
    def box(self) -> tuple[np.ndarray, np.ndarray]:
        """Low and high of all of it at ride."""
        boxes = self.boxes
        return boxes[:, 0].min(0), boxes[:, 1].max(0)

    def pieces(self, tolerance_mm: float) -> list[Piece]:
        """Convex pieces and covers for a check to a tolerance, of which they take a tenth (two, where bores
        are kept)."""
        return [p for k in range(len(self.forms) + len(self.shells)) for p in self.pieces_of(k, tolerance_mm)]

    def pieces_of(self, which: int, tolerance_mm: float) -> tuple[Piece, ...]:
        """Those of one of its forms, or after these of one of its shells: the order of `boxes`."""
        if which < len(self.forms):
            return pieces(self.forms[which], self._error_mm(tolerance_mm), self.hollow)
        return (self.shells[which - len(self.forms)].piece,)

    def real_of(self, which: int, tolerance_mm: float) -> list[Piece]:
        """The real pieces of `pieces_of`, without the covers over them."""
        if which < len(self.forms):
            return real_pieces(self.forms[which], self._error_mm(tolerance_mm), self.hollow)
        return leaves(self.shells[which - len(self.forms)].piece)

    def _error_mm(self, tolerance_mm: float) -> float:
        return tolerance_mm * (0.2 if self.hollow else 0.1)

    @property
    def a_point(self) -> np.ndarray:
        """Some point of its metal at ride."""
        return np.array(form_points(self.forms[0])[0] if self.forms else self.shells[0].point)


ANY = "*"  # in a joint's rows: every part of the body that has no row of its own


@dataclass(frozen=True)
class Joint:
    """Bodies a and b meet at `point` (car coordinates at ride; it moves with both).

    `rows`: (part of a, part of b, gap): these parts need that gap and no other, `ANY` stands for all parts
    without a row of their own; None: one turns in the other, up to its own size, and that pair of parts alone
    is left out. All else of the two bodies needs `required_mm` wherever it is, and what lies beyond
    `radius_mm` of the point also the neighbour type's gap (infinite: nothing does)."""

    a: str
    b: str
    point: tuple[float, float, float] = (0.0, 0.0, 0.0)
    radius_mm: float = math.inf
    required_mm: float = 0.0
    rows: tuple[tuple[str, str, float | None], ...] = ()

    def row(self, a: str, part_a: str, part_b: str) -> tuple[float | None] | None:
        """The gap of two parts, the first one of body `a`, in a tuple; None where the joint has no row for
        them."""
        one, two = (part_a, part_b) if a == self.a else (part_b, part_a)
        for key in ((one, two), (one, ANY), (ANY, two), (ANY, ANY)):
            for row in self.rows:
                if row[:2] == key:
                    return (row[2],)
        return None


def apart(a: str, b: str) -> Joint:
    """Two bodies that are not to be looked at together."""
    return Joint(a, b, rows=((ANY, ANY, None),))


TOGETHER = "they ride together"
ITSELF = "the joint itself"
STILL = "neither moves: no gap between them changes over the travel, and none is checked"


@lru_cache(maxsize=65536)
def form_key(form: Form) -> str:
    return form.key


@lru_cache(maxsize=65536)
def form_box(form: Form) -> tuple[Vector, Vector]:
    """Low and high corner of a box round the form, car coordinates; arcs and bars exactly, holes filled."""
    low, high = zip(*(_box_of(p) for p in form.pieces), strict=True)
    return vector(map(min, zip(*low, strict=True))), vector(map(max, zip(*high, strict=True)))


def _box_of(p: Prism | Round) -> tuple[list[float], list[float]]:
    low, high = [], []
    for x, y, z, origin in p.frame.matrix()[:3].tolist():
        if isinstance(p, Round):
            ends = origin, origin + p.length_mm * z
            across = p.diameter_mm / 2 * math.sqrt(max(1 - z**2, 0.0))
            low.append(min(ends) - across)
            high.append(max(ends) + across)
        else:
            x0, y0, x1, y1 = p.outline.bounds
            reach = [sorted(pair) for pair in ((x0 * x, x1 * x), (y0 * y, y1 * y), (0.0, p.thickness_mm * z))]
            low.append(origin + sum(pair[0] for pair in reach))
            high.append(origin + sum(pair[1] for pair in reach))
    return low, high


@lru_cache(maxsize=65536)
def form_points(form: Form) -> tuple:
    """A point of the surface of each of its pieces, car coordinates at ride."""
    out = []
    for p in form.pieces:
        at = (
            (p.diameter_mm / 2, 0.0)
            if isinstance(p, Round)
            else (p.outline.outer.vertices[0].x, p.outline.outer.vertices[0].y)
        )
        m = p.frame.matrix()
        out.append(tuple(m[:3, :3] @ (*at, 0.0) + m[:3, 3]))
    return tuple(out)


@dataclass(frozen=True)
class Pair:
    """Parts of two bodies to look at together for one gap: all of them, or those named.

    `zones`: joints of which only what lies beyond counts. `required_mm`: the gap they need where that is not
    the neighbour type's; `fixed`: that gap and nothing on top. Two bodies that are joined make several."""

    a: str
    b: str
    zones: tuple[Joint, ...] = ()
    required_mm: float | None = None
    fixed: bool = False
    parts_a: frozenset[str] | None = None
    parts_b: frozenset[str] | None = None

    def of(self, side: str, bodies: list[Body]) -> list[Body]:
        """The entries of a body that are looked at."""
        named = self.parts_a if side == "a" else self.parts_b
        return bodies if named is None else [b for b in bodies if b.part in named]


class Cast:
    """The bodies by name, and the pairs among them."""

    def __init__(self, bodies, joints, wanted=None):
        """`wanted`: pairs of names to look at; None takes all."""
        self.parts: dict[str, list[Body]] = {}
        for body in sorted(bodies, key=lambda b: (b.name, b.carrier, b.part)):
            if not body.forms and not body.shells:
                raise ValueError(f"clearance: body {body.name!r} has no form")
            carrier_index(body.carrier)
            self.parts.setdefault(body.name, []).append(body)
        met: dict[frozenset, list[Joint]] = {}
        for joint in joints:
            for name in (joint.a, joint.b):
                if name not in self.parts:
                    raise ValueError(
                        f"clearance: a joint names body {name!r}; the bodies are {', '.join(self.parts)}"
                    )
            met.setdefault(frozenset((joint.a, joint.b)), []).append(joint)
        self.kind = {n: parts[0].kind for n, parts in self.parts.items()}
        self.margin = {n: max(b.margin_mm for b in parts) for n, parts in self.parts.items()}
        carried = {n: {carrier_index(b.carrier) for b in parts} for n, parts in self.parts.items()}
        self.moving = [n for n in self.parts if carried[n] != {0}]
        self.still = [n for n in self.parts if carried[n] == {0}]
        self.pairs: list[Pair] = []
        self._turning: set[tuple[str, str, str, str]] = set()
        self.skipped: list[tuple[str, str, str]] = []
        if len(self.still) > 1 and wanted is None:
            self.skipped.append(("members", "members", STILL))
        for a, b in [*combinations(self.moving, 2), *((m, s) for m in self.moving for s in self.still)]:
            if wanted is not None and (a, b) not in wanted and (b, a) not in wanted:
                continue
            if len(carried[a] | carried[b]) == 1:
                self.skipped.append((a, b, TOGETHER))
                continue
            self._join(a, b, met.get(frozenset((a, b)), ()))
            self.skipped += [
                (
                    a,
                    b,
                    f"{TOGETHER} on the {carrier_name(k).replace('_', ' ')}; what moves between them is "
                    f"checked",
                )
                for k in sorted(carried[a] & carried[b])
            ]

    def _join(self, a: str, b: str, joints) -> None:
        """The pairs of two bodies: one, or where they are joined one for each gap that some of their parts
        need."""
        if not joints:
            self.pairs.append(Pair(a, b))
            return
        table: dict[float | None, dict[str, set[str]]] = {}  # by the gap they need; None: what the joint asks
        for one in dict.fromkeys(x.part for x in self.parts[a]):
            for two in dict.fromkeys(x.part for x in self.parts[b]):
                given = [r[0] for j in joints if (r := j.row(a, one, two)) is not None]
                if None in given:
                    self._turning.add((a, one, b, two))
                    continue
                table.setdefault(max(given) if given else None, {}).setdefault(one, set()).add(two)
        near = max(j.required_mm for j in joints)
        zones = () if any(math.isinf(j.radius_mm) for j in joints) else tuple(joints)
        own = []
        for gap, partners in table.items():
            for met in dict.fromkeys(map(frozenset, partners.values())):
                named = (frozenset(k for k, v in partners.items() if v == met), met)
                if gap is not None:
                    own.append(Pair(a, b, (), gap, True, *named))
                    continue
                own.append(Pair(a, b, (), near, False, *named))
                if zones:
                    own.append(Pair(a, b, zones, None, False, *named))
        self.pairs += [p for p in own if self.apart(p)]

    @property
    def names(self) -> list[str]:
        return list(self.parts)

    def apart(self, pair: Pair) -> list[tuple[Body, Body]]:
        """The parts of a pair that move against each other: those on one carrier ride together."""
        return [
            (a, b)
            for a in pair.of("a", self.parts[pair.a])
            for b in pair.of("b", self.parts[pair.b])
            if carrier_index(a.carrier) != carrier_index(b.carrier)
        ]

    @property
    def turning(self) -> list[tuple[str, str, str, str]]:
        """(body a, its part, body b, its part) of what is left out because one turns in the other."""
        return sorted(self._turning)

    def keys(self) -> list[str]:
        """A name for each pair's content: both shapes and motions, and the zones."""

        @cache
        def of(name: str, parts: frozenset[str] | None) -> str:
            own = [p.key for p in self.parts[name] if parts is None or p.part in parts]
            return hashlib.sha256(repr(own).encode()).hexdigest()

        return [
            f"{of(p.a, p.parts_a)}|{of(p.b, p.parts_b)}|{[(j.point, j.radius_mm) for j in p.zones]}"
            for p in self.pairs
        ]

    def far(self, pairs: list[Pair], grid: Grid, between_runs: bool) -> np.ndarray:
        """A proven gap of each pair from the boxes the bodies sweep: rough, but next to no work."""
        place = {n: k for k, n in enumerate(dict.fromkeys(n for p in pairs for n in (p.a, p.b)))}
        best_low, best_high = np.full((len(place), 3), np.inf), np.full((len(place), 3), -np.inf)
        own = [body for name in place for body in self.parts[name]]
        which, boxes = [place[b.name] for b in own], swept_boxes(own, grid, between_runs)
        np.minimum.at(best_low, which, boxes[:, 0])
        np.maximum.at(best_high, which, boxes[:, 1])
        a, b = (np.array([place[getattr(p, side)] for p in pairs], int) for side in "ab")
        apart = np.maximum(np.maximum(best_low[b] - best_high[a], best_low[a] - best_high[b]), 0)
        return np.sqrt((apart**2).sum(1))


def swept_boxes(bodies: Sequence[Body], grid: Grid, between_runs: bool) -> np.ndarray:
    """(bodies, 2, 3) low and high of each body's `swept_box`; of those that move kept by content, on disk
    `between_runs`."""
    moving = [k for k, body in enumerate(bodies) if body.carrier != "frame"]
    kept = recalled(
        f"swept boxes of {grid.content}",
        [bodies[k].key for k in moving],
        lambda fresh: [
            (vector(low), vector(high))
            for low, high in zip(*_swept([bodies[moving[n]] for n in fresh], grid), strict=True)
        ],
        between_runs,
    )
    out = np.array([body.box for body in bodies], float).reshape(-1, 2, 3)
    out[moving] = np.array(kept).reshape(-1, 2, 3)
    return out


def swept_box(body: Body, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """Low and high of a box that holds all of a body over all poses."""
    if body.carrier == "frame":
        return body.box
    low, high = _swept([body], grid)
    return low[0], high[0]


def _swept(bodies: Sequence[Body], grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """(bodies, 3) low and high of moving ones' boxes."""
    carrier = np.array([carrier_index(b.carrier) for b in bodies])
    corners = box_corners(*np.moveaxis(np.array([b.box for b in bodies]), 1, 0))
    edges = spread(grid.travel, ROOTS + 1)
    sides = spread(grid.rack, 2 * SIDES + 1) if grid.rack else np.zeros(1)
    from_reference = corners - grid.motion.references[carrier][:, None]
    bend = sharpest(*grid.motion.bends(edges, sides), carrier, from_reference).max((2, 3))
    slack = 0.5 * ((edges[1] - edges[0]) / 2) ** 2 * bend[0]
    slack += 0.5 * ((sides[1] - sides[0]) / 2) ** 2 * bend[1] if grid.rack else 0.0
    z = np.arange(ROOTS + 1) * (grid.FINE // ROOTS)
    s = np.arange(2 * SIDES + 1) * (grid.FINE // (2 * SIDES)) if grid.rack else np.array([grid.FINE // 2])
    f = grid.at(np.repeat(z, len(s)), np.tile(s, len(z)))[:, carrier]
    now = np.einsum("tbij,bnj->tbni", f[..., :3], corners) + f[:, :, None, :, 3]
    return now.min((0, 2)) - slack[:, None], now.max((0, 2)) + slack[:, None]


class Groups:
    """The pieces of the bodies that some pairs need, joints' zones cut out: two lists of roots a pair (empty:
    nothing left)."""

    def __init__(self, cast: Cast, pairs: list[Pair], tolerance_mm: float):
        self.forest = Forest()
        own: dict[int, list[int]] = {}
        for name in sorted({n for p in pairs for n in (p.a, p.b)}):
            for body in cast.parts[name]:
                own[id(body)] = self._add(body.pieces(tolerance_mm), carrier_index(body.carrier))
        self.groups = []
        for pair in pairs:
            one, two = (
                [i for body in pair.of(side, cast.parts[name]) for i in own[id(body)]]
                for side, name in (("a", pair.a), ("b", pair.b))
            )
            for joint in pair.zones:
                one, two = self._outside(one, joint), self._outside(two, joint)
            self.groups.append((one, two))

    def _add(self, made, carrier: int, family: int | None = None) -> list[int]:
        return [self.forest.add(piece, carrier, family) for piece in made]

    def _outside(self, which: list[int], joint: Joint) -> list[int]:
        """What of the pieces lies outside a joint's zone: whole pieces and covers where they can stay
        whole."""
        kept = (self._one_outside(i, joint) for i in which)
        return [k for k in kept if k is not None]

    def _one_outside(self, i: int, joint: Joint) -> int | None:
        piece, forest = self.forest.pieces[i], self.forest
        if _box_distance(piece, joint.point) >= joint.radius_mm:
            return i
        if ((piece.points - np.asarray(joint.point, float)) ** 2).sum(1).max() <= joint.radius_mm**2:
            return None
        if piece.real:
            parts = outside(piece, tuple(joint.point), joint.radius_mm)
            return forest.cover(i, self._add(parts, forest.carriers[i], forest.family[i]))
        return forest.cover(i, self._outside(list(forest.kids[i]), joint))


def _box_distance(piece: Piece, to) -> float:
    apart = np.maximum(np.maximum(piece.box[0] - to, to - piece.box[1]), 0)
    return float(np.sqrt(apart @ apart))
