"""What cures a node, solved for the node as a whole: other orders, mitres, longer tubes, rolls, each tried
on all the tubes that share a node with it before it is told."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from itertools import combinations

import numpy as np

from assemblies.layout.junctions import words
from assemblies.layout.junctions.fitting import Junctions, junctions
from assemblies.layout.junctions.meeting import IN_LINE_DEG, Tube
from assemblies.layout.junctions.order import Node
from assemblies.results.findings import Finding
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import vector
from parts.tube_end import angle_deg

CURED = ("tube-run-end", "tube-overhang", "tube-mitre", "tube-crossing")  # what a node's own keys can cure
LONGER_MM = 0.1  # steps of a longer tube
MOST_LONGER_MM = 60.0
MOST_TRIES = 150  # of a whole frame: some 8 ms each


@dataclass(frozen=True)
class Order:
    """A [[junction]] to be tried."""

    members: tuple[str, ...]
    mitre: bool = False
    at: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Remedy:
    """Keys as the file would say them, and what they make of tubes and junctions: `instead` of the node's
    own."""

    keys: tuple[str, ...]
    tubes: dict[str, Tube] = field(default_factory=dict)
    orders: tuple[Order, ...] = ()
    instead: bool = False

    def with_(self, other: Remedy) -> Remedy:
        return Remedy(
            self.keys + other.keys,
            self.tubes | other.tubes,
            self.orders + other.orders,
            self.instead or other.instead,
        )


def advised(made: Junctions) -> list[Finding]:
    """All findings; those that a node's keys can cure with the cure of their node as a whole, one for all
    that is wrong there. Each is tried with those of the nodes before it in place, so that all hold
    together."""
    cures: dict[str, str] = {}
    state = FrameState(made, dict(made.all), list(made.made_with[1]))
    for node in made.nodes:
        if any(n == node.name and _curable(f) for n, f in made.told):
            cures[node.name] = _cured(state, node)
    return [
        Finding(level=f.level, code=f.code, where=f.where, text=f"{f.text} {cures[node]}")
        if node in cures and _curable(f)
        else f
        for node, f in made.told
    ]


def _curable(f: Finding) -> bool:
    return f.code in CURED and f.level == "warn"


@dataclass
class FrameState:
    """A frame with the cures so far: its tubes and junctions; how many tries are left."""

    made: Junctions
    tubes: dict[str, Tube]
    asked: list
    tries: int = MOST_TRIES

    def around(self, node: Node) -> set[str]:
        """The tubes that share a node with one of this node's."""
        return {m for n in self.made.nodes if set(n.members) & set(node.members) for m in n.members}

    def again(self, names: set[str], tubes: dict[str, Tube], asked: Sequence) -> Junctions:
        within, _, mirrored = self.made.made_with
        some = [j for j in asked if set(j.members) <= names]
        return junctions([t for n, t in tubes.items() if n in names], within, some, mirrored)


def _cured(state: FrameState, node: Node) -> str:
    """In words: what was tried and helps, and what is left then; the state goes on with it."""
    names = state.around(node)
    now = state.again(names, state.tubes, state.asked)
    here = _same(now, node)
    if here is None or not _left(now, here):
        return f"The cures of the nodes before it cure {node.name} too."
    best: tuple[tuple[int, int], int, Remedy, Junctions] | None = None
    for i, remedy in enumerate(_remedies(now, here)):
        if state.tries <= 0:
            break
        state.tries -= 1
        try:
            then = state.again(names, state.tubes | remedy.tubes, _asked_then(state, here, remedy))
        except ValueError:
            continue
        left = _wrong(then)
        if left < _wrong(now) and (best is None or (left, i) < best[:2]):
            best = left, i, remedy, then
            if not _left(then, _same(then, node)) and left[0] == _wrong(now)[0] - _left(now, here):
                break
    if best is None:
        if state.tries <= 0:
            return f"No cure of {node.name} was looked for: cure the nodes before it first."
        tried = "other orders, mitres of any two, longer tubes and rolls were tried and none does better"
        return f"At {node.name} {tried}: close what is open with a plate, or move a tube's other end."
    _, _, remedy, then = best
    state.asked, state.tubes = _asked_then(state, here, remedy), state.tubes | remedy.tubes
    stays, was = _left(then, _same(then, node)), _left(now, here)
    rest = f"; {stays} of {was} warnings there stay" if stays else ""
    return f"Cure of {node.name} as a whole, tried: {' and '.join(remedy.keys)}{rest}."


def _asked_then(state: FrameState, node: Node, remedy: Remedy) -> list:
    kept = [j for j in state.asked if not (remedy.instead and _is_of(j, node))]
    return [*kept, *remedy.orders]


def _same(made: Junctions, node: Node) -> Node | None:
    """The node of another fitting that stands where this one does."""
    near = [n for n in made.nodes if set(n.members) & set(node.members)]
    return min(near, key=lambda n: math.dist(n.point, node.point), default=None)


def _left(made: Junctions, node: Node | None) -> int:
    """Warnings at a node."""
    return sum(node is not None and n == node.name and f.level == "warn" for n, f in made.told)


def _wrong(made: Junctions) -> tuple[int, int]:
    """(warnings, slight overhangs)."""
    return (
        sum(f.level == "warn" for f in made.findings),
        sum(f.level == "note" and f.code == "tube-overhang" for f in made.findings),
    )


def _is_of(junction, node: Node) -> bool:
    return set(junction.members) <= set(node.members)


# ------------------------------------------------------------ what can be tried


def _remedies(made: Junctions, node: Node) -> Iterator[Remedy]:
    """The simplest first."""
    longer, rolls = _longer(made, node), list(_rolls(made, node))
    orders, mitres = list(_orders(made, node)), list(_mitres(made, node))
    named = any(made.all[n].node(e) for n, e in node.ends)  # a longer tube leaves it
    ends = [longer] if longer else []
    yield from [*orders, *(mitres if named else ends), *(ends if named else mitres), *rolls]
    for mitre in mitres:
        yield from (mitre.with_(r) for r in rolls)
    for order in orders:
        yield from (order.with_(r) for r in rolls)
        if longer:
            yield order.with_(longer)
    if longer:
        yield from (longer.with_(r) for r in rolls)


def _said(order: Order) -> str:
    names = ", ".join(f'"{n}"' for n in order.members)
    at = f", at = {_point(order.at)}" if order.at else ""
    return f"[[junction]] members = [{names}]{', mitre = true' if order.mitre else ''}{at}"


def _asked(made: Junctions, node: Node, members: Sequence[str], mitre: bool = False) -> Remedy:
    twice = sum(set(members) <= set(n.members) for n in made.nodes) > 1
    order = Order(tuple(members), mitre, node.point if twice else None)
    given = " in place of what the job says of this node" if node.given else ""
    return Remedy((_said(order) + given,), orders=(order,), instead=True)


def _orders(made: Junctions, node: Node) -> Iterator[Remedy]:
    """Each tube that ends here fitted first of those."""
    passing = [n for n in node.members if node.end_of(n) is None]
    ending = [n for n in node.members if node.end_of(n)]
    for name in ending[1:]:
        yield _asked(made, node, [*passing, name, *(n for n in ending if n != name)])


def _mitres(made: Junctions, node: Node) -> Iterator[Remedy]:
    """Two of one section on the plane that halves their angle, those most in line first; rolled flush where
    they are not."""
    ending = [n for n in node.members if node.end_of(n)]
    pairs = [
        (a, b)
        for a, b in combinations(ending, 2)
        if made.all[a].member.section == made.all[b].member.section and set(node.mitred or ()) != {a, b}
    ]
    pairs.sort(key=lambda p: -angle_deg(made.away(node, p[0]), made.away(node, p[1])))
    for a, b in pairs:
        remedy = _asked(made, node, (a, b), True)
        yield remedy
        if made.all[a].member.section.is_round:
            continue
        off = words.flush_roll_deg(made.all, node, a, b)
        if abs(off) > words.ROLL_DEG:
            yield remedy.with_(_rolled(made.all[b], made.all[b].member.roll_deg + off))


def _longer(made: Junctions, node: Node) -> Remedy | None:
    """Every open run that something lands past, as long as the farthest of that asks: one end each."""
    need: dict[tuple[str, str], float] = {}
    for name in node.members:
        end = node.end_of(name)
        if end is None or ((cut := made.ends.get((name, end))) and cut.runs):
            continue
        run = made.all[name]
        for other in node.members:
            there = node.end_of(other)
            lies = angle_deg(run.away(end), made.away(node, other))
            if other == name or there is None or min(lies, 180 - lies) < IN_LINE_DEG:
                continue
            t = made.all[other]
            a = math.radians(lies)
            half = t.run().half_mm(run.away(end))
            foot = float((t.end(there) - run.end(end)) @ run.away(end))
            past = half / math.sin(a) + run.half_mm * abs(math.cos(a)) / math.sin(a) - foot
            need[name, end] = max(need.get((name, end), 0.0), past)
    out: Remedy | None = None
    for (name, end), mm in need.items():
        if 0 < mm <= MOST_LONGER_MM:
            one = _moved(made.all[name], end, LONGER_MM * math.ceil(mm / LONGER_MM - 1e-6))
            out = one if out is None else out.with_(one)
    return out


def _moved(tube: Tube, end: str, mm: float) -> Remedy:
    point = np.round(tube.end(end) - mm * tube.away(end), 2) + 0.0
    m = tube.member
    there = vector(point)
    made = replace(tube, member=replace(m, from_=there) if end == "from" else replace(m, to=there))
    said = np.round(point - tube.moved[0 if end == "from" else 1], 2) + 0.0
    leaves = f" (a point of its own, {mm:g} mm past node {tube.node(end)})" if tube.node(end) else ""
    return Remedy((f"{end} = {_point(said)} for '{tube.name}'{leaves}",), {tube.name: made})


def _rolls(made: Junctions, node: Node) -> Iterator[Remedy]:
    """Flat-sided tubes that end here, laid flush with another's faces or axis; a mitred one with its
    partner."""
    for name in node.members:
        tube = made.all[name]
        if tube.member.section.is_round or node.end_of(name) is None:
            continue
        if node.mitred and name == node.mitred[1]:
            off = words.flush_roll_deg(made.all, node, node.mitred[0], name)
            if abs(off) > words.ROLL_DEG:
                yield _rolled(tube, tube.member.roll_deg + off)
            continue
        frame = tube.member.frame.matrix()
        seen: list[float] = []
        for other in node.members:
            n = np.cross(frame[:3, 2], made.all[other].member.frame.z)
            if other == name or np.linalg.norm(n) < 0.1:
                continue
            turn = math.degrees(math.atan2(float(n @ frame[:3, 1]), float(n @ frame[:3, 0])))
            turn = (turn + 45) % 90 - 45
            if abs(turn) > words.ROLL_DEG and all(abs(turn - t) > words.ROLL_DEG for t in seen):
                seen.append(turn)
                yield _rolled(tube, tube.member.roll_deg + turn)


def _rolled(tube: Tube, roll_deg: float) -> Remedy:
    roll = round((roll_deg + 180) % 360 - 180, 2)
    made: Member = replace(tube.member, roll_deg=roll)
    return Remedy((f"roll = {roll:g} for '{tube.name}'",), {tube.name: replace(tube, member=made)})


def _point(p) -> str:
    return "[" + ", ".join(f"{v:.6g}" for v in p) + "]"
