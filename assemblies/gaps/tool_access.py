"""Whether each bolt can be got at: a socket or an open spanner on both its ends at one wheel height, and the
bolt drawn out.

The wheel is off, the rack straight ahead, all else in place. A wheel height at which a tool finds room is the
proof that there is one; that there is none is said after `FINE` heights over the travel. A socket needs
`ROOM_MM` all round, a spanner `SPANNER_ROOM_MM`. Their sizes are typical, from memory (`parts.fastener`), so
a missing one is a warning.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from assemblies.clearance import Body
from assemblies.clearance.memory import recalled
from assemblies.clearance.probe import Probe, ProbedBodies, Room
from assemblies.gaps.interference import Asked
from assemblies.job import Job
from assemblies.layout import bodies as neighbours
from assemblies.layout.fastener_bodies import ROOM_MM, drawn, side_of
from assemblies.layout.placing import Layout, Placed
from assemblies.motion.ends import Ends
from assemblies.results import gaps as rs
from assemblies.results.findings import Finding, guaranteed, lacking
from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.fastener import SWING_DEG, BoltAndNut, socket_form, spanner_form
from parts.shape.form import Form, Frame, Round

COARSE, FINE = 7, 33  # wheel heights over the travel
BEARINGS_DEG = tuple(range(0, 360, 15))  # in which a spanner is tried
SPANNER_ROOM_MM = 0.5  # it is led by hand
LIFT_MM = ROOM_MM / 2  # tools off the washer
DRIVE_MM = 15.0  # of a socket's length its square takes
HEAD, NUT = 0, 1
TOOLS = ("socket", "socket on an extension", "spanner", "spanner held still")  # the last turns nothing


@dataclass(frozen=True)
class Access:
    """What was found for one bolt. A tool is one of `TOOLS` or "" for none; a pose is a wheel height."""

    placed: Placed
    tools: tuple[str, str] = ("", "")
    tools_at_mm: float | None = None
    out_at_mm: float | None = None
    other_way_at_mm: float | None = None  # turned round it could be drawn out there, towards the nut's side
    blocked: tuple[str, ...] = ()  # what stands in the way, and by how much
    seats: tuple[str, ...] = ()  # what leaves no room for its head, its nut or their washers

    @property
    def ok(self) -> bool:
        return self.tools_at_mm is not None and self.out_at_mm is not None


def tools(job: Job, mechanism, ends: Ends, layout: Layout) -> tuple[list[rs.BoltAccess], list[Finding]]:
    """As results keep it, over the travel the corner reaches."""
    found, findings = access(
        layout,
        mechanism,
        Asked.of(job, ends, layout).travel_mm,
        lambda bolt: _if_turned(job, mechanism, ends, layout, bolt),
    )
    return rows(found, job.corner.side), findings


def _if_turned(job: Job, mechanism, ends: Ends, layout: Layout, bolt: Placed) -> str:
    """Which gap of a bolt is short once it is turned round and was not before; "" where none is. Those before
    are remembered; of those after, what boxes prove far is not looked at."""
    there = replace(bolt, frame=_turned(bolt))
    other = replace(layout, placed=[there if p is bolt else p for p in layout.placed])
    before, after = (Asked.of(job, ends, some) for some in (layout, other))
    try:
        told = before.check(mechanism), after.near(mechanism, only=bolt.body).check(mechanism, bolt.body)
    except ValueError as e:
        return str(e)
    was, now = (
        {frozenset((p.a, p.b)): p for p in report.pairs if not p.ok and bolt.body in (p.a, p.b)}
        for report in told
    )
    worse = [p for k, p in now.items() if k not in was or p.gap_mm < was[k].gap_mm - 0.1]
    if not worse:
        return ""
    p = min(worse, key=lambda p: p.gap_mm - p.required_mm)
    return f"{p.a} to {p.b} then keeps {guaranteed(p.gap_mm)} mm of {p.required_mm:g}"


def _turned(bolt: Placed) -> Frame:
    return Frame((0.0, 0.0, bolt.part.stack_mm), z=(0.0, 0.0, -1.0)).then(bolt.frame)


def access(
    layout: Layout,
    mechanism,
    travel_mm: tuple[float, float],
    if_turned: Callable[[Placed], str] | None = None,
) -> tuple[list[Access], list[Finding]]:
    """Every placed bolt, and a finding for each that cannot be got at or does not sit. `if_turned` says what
    speaks against a bolt's being put in from the other side."""
    bolts = [p for p in layout.placed if isinstance(p.part, BoltAndNut)]
    if not bolts:
        return [], []
    names = {p.body for p in bolts}
    bodies = [b for b in neighbours.bodies(layout) if b.name not in names and b.kind != "tyre"]
    bodies += [Body(p.name, p.carrier, (p.part.envelope().moved(p.frame),)) for p in bolts]
    around = ProbedBodies(bodies, mechanism, layout.job.clearance.tolerance)
    found = _tried(bolts, around, travel_mm)
    return found, [
        *(_unseated(a.placed, text) for a in found for text in a.seats),
        *(f for a in found if not a.seats for f in _findings(a, layout.job, if_turned)),
    ]


def _tried(bolts: Sequence[Placed], around: ProbedBodies, travel_mm: tuple[float, float]) -> list[Access]:
    """Every bolt at its seats, then with tools; what does not go in at all needs none. Most are got at with
    sockets at ride height: only what is not is looked at further."""
    seats = _seats(bolts, around, _heights(travel_mm, 1))
    found = {p.name: Access(p, blocked=texts[-1:], seats=texts) for p, texts in seats if texts}
    seated = [p for p, texts in seats if not texts]
    found |= {a.placed.name: a for a in _look(seated, around, _heights(travel_mm, 1), False, False)}
    closed = [p for p in seated if not found[p.name].ok]
    found |= {a.placed.name: a for a in _look(closed, around, _heights(travel_mm, COARSE), told=False)}
    untooled = [p for p in seated if found[p.name].tools_at_mm is None]
    found |= {a.placed.name: a for a in _look(untooled, around, _heights(travel_mm, FINE))}
    held = [found[p.name] for p in seated if found[p.name].out_at_mm is None]
    found |= {a.placed.name: a for a in _drawn_out(held, around, _heights(travel_mm, FINE))}
    return [found[p.name] for p in bolts]


def _heights(travel_mm, count: int) -> np.ndarray:
    """Ride height first, then others the nearer the sooner."""
    low, high = travel_mm
    z = distinct(
        [*np.linspace(low, high, count)[: count if count > 1 else 0], float(np.clip(0.0, low, high))]
    )
    return z[np.argsort(np.abs(z), kind="stable")]


# ------------------------------------------------------------ tools in place


def _frame(p: Placed, end: int) -> Frame:
    """At a seat, z away from the joint."""
    b: BoltAndNut = p.part
    z, seat = (-1.0, b.head_seat_mm - LIFT_MM) if end == HEAD else (1.0, b.nut_seat_mm + LIFT_MM)
    return Frame((0.0, 0.0, seat), z=(0.0, 0.0, z)).then(p.frame)


def _probe(p: Placed, form: Form, frame: Frame) -> Probe:
    return Probe(form, p.carrier, frozenset((p.name,)), frame)


def _socket(p: Placed, end: int, extension: bool) -> Probe:
    b: BoltAndNut = p.part
    over = b.hexagon.head_mm if end == HEAD else b.tip_mm - b.nut_seat_mm
    form = socket_form(b.hexagon.across_flats_mm, over + DRIVE_MM, extension)
    return _probe(p, form, _frame(p, end))


def _spanners(p: Placed, end: int, swing_deg: float, bearings_deg: Sequence[int]) -> list[Probe]:
    across_mm, frame = p.part.hexagon.across_flats_mm, _frame(p, end)
    return [_probe(p, spanner_form(across_mm, a, swing_deg), frame) for a in bearings_deg]


def _way_out(p: Placed, end: int) -> Probe:
    """As it is, or turned round."""
    return _probe(p, drawn(p.part), p.frame if end == HEAD else _turned(p))


def _tool(have: np.ndarray) -> str:
    """The first of the tools that do."""
    return TOOLS[int(have.argmax())]


def _look(
    bolts: Sequence[Placed],
    around: ProbedBodies,
    heights: np.ndarray,
    spanners: bool = True,
    told: bool = True,
) -> list[Access]:
    """All bolts at some heights; `told`: with what is in the way. One end must turn; the other may only be
    held."""
    n = len(bolts)
    if not n:
        return []
    ends = [(k, end) for k in range(n) for end in (HEAD, NUT)]
    first = [
        *(_way_out(p, HEAD) for p in bolts),
        *(_socket(bolts[k], end, extension) for extension in (False, True) for k, end in ends),
    ]
    room = _room(around, first, heights, ROOM_MM, ROOM_MM, told)
    free = room.gap_mm >= ROOM_MM
    out, have = free[:n], np.zeros((len(TOOLS), n, 2, len(heights)), bool)
    have[:2] = free[n:].reshape(2, n, 2, -1)
    wanted = [
        (k, end)
        for k, end in ends
        if spanners and not have[:2, k].any(0).all(0).any() and not have[:2, k, end].any(0).all()
    ]
    for tool, swing_deg in ((2, SWING_DEG), (3, 0.0)):
        for some in (slice(1), slice(1, None)):  # at ride, then where that does not do
            left = [(k, end) for k, end in wanted if not _both(have)[k].any()]
            have[tool, ..., some] = _any_bearing(bolts, left, around, heights[some], swing_deg)
    turns, both = np.any(have[:3], axis=0), _both(have)
    found = []
    for k, p in enumerate(bolts):
        at, away = _first(both[k]), _first(out[k])
        lacking = [end for end in (HEAD, NUT) if told and at is None and not turns[k, end].any()]
        found.append(
            Access(
                p,
                ("", "") if at is None else (_tool(have[:, k, HEAD, at]), _tool(have[:, k, NUT, at])),
                None if at is None else float(heights[at]),
                None if away is None else float(heights[away]),
                blocked=tuple(
                    _in_the_way(room, n + 2 * k + end, f"of the socket on the {('head', 'nut')[end]}")
                    for end in lacking
                ),
            )
        )
    return found


def _both(have: np.ndarray) -> np.ndarray:
    """(bolts, heights): one end turns while the other is held."""
    turns, holds = np.any(have[:3], axis=0), np.any(have, axis=0)
    return (turns[:, HEAD] & holds[:, NUT]) | (holds[:, HEAD] & turns[:, NUT])


def _drawn_out(held: list[Access], around: ProbedBodies, heights: np.ndarray) -> list[Access]:
    """The way out of each, as it is or turned round."""
    if not held:
        return []
    ways = [_way_out(a.placed, end) for a in held for end in (HEAD, NUT)]
    room, out = _room(around, ways, heights, ROOM_MM, ROOM_MM), []
    for k, a in enumerate(held):
        away, turned = (_first(row >= ROOM_MM) for row in room.gap_mm[2 * k : 2 * k + 2])
        if away is not None:
            out.append(replace(a, out_at_mm=float(heights[away])))
            continue
        other = None if turned is None else float(heights[turned])
        blocked = (_in_the_way(room, 2 * k, "on its way out"), *a.blocked)
        out.append(replace(a, other_way_at_mm=other, blocked=blocked))
    return out


def _room(
    around: ProbedBodies,
    probes: list[Probe],
    heights: np.ndarray,
    within_mm: float,
    enough_mm: float = -np.inf,
    told: bool = True,
) -> Room:
    """`ProbedBodies.room`, each probe kept by content: most that is near a bolt stays in a tweak."""
    rows = recalled(
        f"room for a probe, {enough_mm!r}, {told}, {len(heights)}",
        around.contents(probes, heights, within_mm),
        lambda fresh: _rows(around.room([probes[n] for n in fresh], heights, within_mm, enough_mm, told)),
    )
    shape = len(probes), len(heights)
    gaps, nearest = (np.array([row[side] for row in rows], kind) for side, kind in ((0, float), (1, object)))
    return Room(gaps.reshape(shape), nearest.reshape(shape))


def _rows(room: Room) -> list[tuple]:
    return [*zip(map(tuple, room.gap_mm.tolist()), map(tuple, room.nearest.tolist()), strict=True)]


def _any_bearing(bolts, wanted, around: ProbedBodies, heights, swing_deg: float) -> np.ndarray:
    """(bolts, ends, heights): a spanner finds room in some bearing; asked of the `wanted` ends only."""
    out = np.zeros((len(bolts), 2, len(heights)), bool)
    for bearings in (BEARINGS_DEG[::3], [b for n, b in enumerate(BEARINGS_DEG) if n % 3]):
        left = [(k, end) for k, end in wanted if not out[k, end].all()]
        if not left:
            break
        probes = [q for k, end in left for q in _spanners(bolts[k], end, swing_deg, bearings)]
        room = _room(around, probes, heights, SPANNER_ROOM_MM, SPANNER_ROOM_MM, told=False)
        free = (room.gap_mm >= SPANNER_ROOM_MM).reshape(len(left), len(bearings), -1)
        for (k, end), own in zip(left, free, strict=True):
            out[k, end] |= own.any(0)
    return out


def _first(free: np.ndarray) -> int | None:
    return int(free.argmax()) if free.any() else None


def _in_the_way(room: Room, row: int, what: str) -> str:
    best = int(room.gap_mm[row].argmax())
    short = lacking(ROOM_MM - room.gap_mm[row, best], 1)
    return f"{room.nearest[row, best]} stands {short} mm in the way {what}"


# ------------------------------------------------------------ findings, results


@lru_cache(maxsize=256)
def _seat(b: BoltAndNut, end: int) -> Form:
    """A washer as round as it is drawn, a hexagon at least as wide as its flats."""
    height, packing = (
        (b.hexagon.head_mm, b.ring.thickness_mm) if end == HEAD else (b.hexagon.nut_mm, b.packing_mm)
    )
    skin = 0.05  # off the plate
    pieces = (
        Round(b.ring.outer_mm, packing - skin, 0.0, Frame((0.0, 0.0, skin - packing))),
        Round(b.hexagon.across_flats_mm, height),
    )
    return Form(pieces)


def _seats(
    bolts: Sequence[Placed], around: ProbedBodies, ride: np.ndarray
) -> list[tuple[Placed, tuple[str, ...]]]:
    """What stands in the washers and hexagons of each bolt."""
    down = Frame((0.0, 0.0, -LIFT_MM))
    probes = [_probe(p, _seat(p.part, end), down.then(_frame(p, end))) for p in bolts for end in (HEAD, NUT)]
    room = _room(around, probes, ride, 0.05)
    gap, nearest = room.gap_mm.reshape(-1, 2), room.nearest.reshape(-1, 2)
    return [
        (
            p,
            tuple(
                f"There is no room for the {('head', 'nut')[end]} and its washer: {nearest[k, end]} reaches "
                f"{lacking(-gap[k, end])} mm into them. Move the eye or what stands beside it."
                for end in (HEAD, NUT)
                if gap[k, end] < -0.05  # more than what the pieces reach past their circles
            ),
        )
        for k, p in enumerate(bolts)
    ]


def _unseated(p: Placed, text: str) -> Finding:
    return Finding(level="stop", code="bolt-seat", where=p.name, text=text)


def _way(a: Access, job: Job, if_turned: Callable[[Placed], str] | None) -> str:
    """What would let a bolt out: turned round, where that was tried."""
    if a.other_way_at_mm is None:
        return "Nor from the other side. Move what stands there, or fit the bolt before it."
    comes = f"put in from the other side it comes out at wheel {a.other_way_at_mm:+z.0f} mm"
    against = if_turned(a.placed) if if_turned else "its gaps that way are not known"
    if against:
        return f"{comes[0].upper()}{comes[1:]}, but {against}."
    name, now = a.placed.name, job.clearance.turned
    asked = [n for n in now if n != name] if name in now else [*now, name]
    words = ", ".join(f'"{n}"' for n in asked)
    return f"Tried: clearance.turned = [{words}]: {comes}, and no gap of it gets short."


def _findings(a: Access, job: Job, if_turned: Callable[[Placed], str] | None) -> list[Finding]:
    p, b, side = a.placed, a.placed.part, job.corner.side
    out = []
    if a.out_at_mm is None:
        way = _way(a, job, if_turned)
        out.append(
            Finding(
                level="warn",
                code="bolt-out",
                where=p.name,
                text=(
                    f"The {b.size} x {b.length_mm:g} bolt cannot be drawn out to the "
                    f"{side_of(_head(p), side)} side at any wheel height with all else in place (wheel "
                    f"off): "
                    f"{a.blocked[0]}. {way}"
                ),
            )
        )
    if a.tools_at_mm is None:
        why = (
            "; ".join(a.blocked[a.out_at_mm is None :])
            or "each end finds a tool, but never both at one wheel height"
        )
        out.append(
            Finding(
                level="warn",
                code="bolt-tool",
                where=p.name,
                text=(
                    f"At no wheel height is there room for a tool on both ends of the {b.size} bolt (wheel "
                    f"off; a socket, or an open spanner with {SWING_DEG:g} deg of swing, "
                    f"in any direction): {why}. Move what stands there, or tighten the bolt before it is "
                    f"fitted."
                ),
            )
        )
    return out


def _head(p: Placed) -> np.ndarray:
    return -np.array(p.frame.z)


def rows(found: Sequence[Access], side: str) -> list[rs.BoltAccess]:
    """As results.json keeps them."""
    return [
        rs.BoltAccess(
            bolt=a.placed.name,
            size=a.placed.part.size,
            length_mm=a.placed.part.length_mm,
            head=side_of(_head(a.placed), side),
            head_tool=a.tools[HEAD] or None,
            nut_tool=a.tools[NUT] or None,
            tools_at_wheel_mm=a.tools_at_mm,
            out_at_wheel_mm=a.out_at_mm,
            in_the_way=list(a.blocked),
        )
        for a in found
    ]
