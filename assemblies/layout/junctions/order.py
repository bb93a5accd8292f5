"""Ends that meet in one place make a node; its tubes in the order they are fitted, each cut to all before
it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assemblies.layout.junctions.meeting import ENDS, Meeting, Tube
from parts.base.frozen import dataclass
from parts.shape.form import vector

Key = tuple[str, str]  # a tube's name and which of its ends


@dataclass(frozen=True)
class Node:
    """Tubes that meet: `members` in the order of fitting, `ends` those that end here (a tube that is not
    among them passes), `mitred` the two that share their bisecting plane, `given` where the job says the
    order."""

    name: str
    point: tuple[float, float, float]
    members: tuple[str, ...]
    ends: tuple[Key, ...]
    mitred: tuple[str, str] | None = None
    given: bool = False

    def end_of(self, name: str) -> str | None:
        return next((e for n, e in self.ends if n == name), None)

    def mitred_end(self, name: str) -> str:
        """The end of one of the two tubes that are mitred here."""
        return next(e for n, e in self.ends if n == name)


def nodes(
    tubes: Sequence[Tube], met: Sequence[Meeting], asked: Sequence, within_mm: float
) -> tuple[list[Node], list[tuple[str, str]]]:
    """The nodes from front to rear, and what of the job's junctions could not be followed: (where, why).

    `asked`: the job's [[junction]] tables. Order: a tube that another one's end meets goes before it; else
    the larger section, then the longer tube, then by name (never the order of the file); a junction's own
    order before all that."""
    by_name = {t.name: t for t in tubes}
    places = [(_members(group, met), group) for group in _groups(by_name, met, within_mm)]
    points = [_named_point(by_name, g) or _point(by_name, names, g) for names, g in places]
    wanted, wrong = _matched(asked, places, points)
    out = []
    for i in sorted(range(len(places)), key=lambda k: _from_the_front(points[k])):
        names, group = places[i]
        orders = [asked[k] for k in wanted.get(i, ())]
        out.append(
            Node(
                "",
                points[i],
                _ordered(names, group, met, by_name, orders),
                tuple(sorted(group)),
                next((j.members for j in orders if j.mitre), None),
                bool(orders),
            )
        )
    names = _names(by_name, out)
    return [replace(n, name=name) for n, name in zip(out, names, strict=True)], wrong


def _names(tubes: dict[str, Tube], found: Sequence[Node]) -> list[str]:
    """The job's own names of its nodes; the others are numbered."""
    out: list[str] = []
    for k, n in enumerate(found, 1):
        given = " and ".join(dict.fromkeys(name for t, e in n.ends if (name := tubes[t].node(e))))
        out.append(given if given and given not in out else f"node {k}")
    return out


def _groups(tubes: dict[str, Tube], met: Sequence[Meeting], within_mm: float) -> list[frozenset[Key]]:
    """Ends of one node: they meet each other, or the same tube at the same place of it."""
    parent: dict[Key, Key] = {(m.tube, m.end): (m.tube, m.end) for m in met}

    def root(k: Key) -> Key:
        while parent[k] != k:
            k = parent[k]
        return k

    def join(a: Key, b: Key) -> None:
        if b in parent and a in parent:
            parent[root(b)] = root(a)

    for m in met:
        reach = _spread(tubes, m)
        for end in ENDS:  # the other tube ends here too
            there = 0.0 if end == "from" else tubes[m.other].member.length_mm
            if (
                m.butts == end
                or any(o.tube == m.other and o.end == end and o.other == m.tube for o in met)
                or abs(m.foot_mm - there) < reach
            ):
                join((m.tube, m.end), (m.other, end))
        for o in met:
            if (
                o.other == m.other
                and (o.tube, o.end) != (m.tube, m.end)
                and abs(o.foot_mm - m.foot_mm) < reach + _spread(tubes, o)
            ):
                join((m.tube, m.end), (o.tube, o.end))
    groups: dict[Key, set[Key]] = {}
    for k in parent:
        groups.setdefault(root(k), set()).add(k)
    return [frozenset(g) for g in groups.values()]


def _spread(tubes: dict[str, Tube], m: Meeting) -> float:
    """Half of what the tube covers of the other one's length."""
    a = math.radians(m.angle_deg)
    half, other = tubes[m.tube].half_mm, tubes[m.other].half_mm
    return half if m.butts else min((half + other * math.cos(a)) / math.sin(a), 3 * (half + other))


def _members(group: frozenset[Key], met: Sequence[Meeting]) -> list[str]:
    return sorted({n for n, _ in group} | {m.other for m in met if (m.tube, m.end) in group})


def _point(tubes: dict[str, Tube], names: Sequence[str], group: frozenset[Key]) -> tuple[float, float, float]:
    """The point nearest to all axes (least squares); where they are parallel, the middle of the ends."""
    total, right = np.zeros((3, 3)), np.zeros(3)
    for n in names:
        d = np.array(tubes[n].member.frame.z)
        off = np.eye(3) - np.outer(d, d)
        total += off
        right += off @ tubes[n].member.from_
    middle = np.mean([tubes[n].end(e) for n, e in sorted(group)], axis=0)
    point = middle + np.linalg.lstsq(total, right - total @ middle, rcond=1e-2)[0]
    return vector(np.round(point, 6) + 0.0)


def _named_point(tubes: dict[str, Tube], group: frozenset[Key]) -> tuple[float, float, float] | None:
    """Where the one named node of these ends is."""
    at = {vector(tubes[n].end(e)) for n, e in group if tubes[n].node(e)}
    return at.pop() if len(at) == 1 else None


def _from_the_front(point) -> tuple[float, ...]:
    """Front to rear, from the side inwards, from the top: the same in the mirror."""
    x, y, z = (round(v, 3) for v in point)
    return -x, -abs(y), -z, -y


def _matched(
    asked: Sequence, places: list, points: list
) -> tuple[dict[int, list[int]], list[tuple[str, str]]]:
    """Which node each of the job's junctions is about."""
    out: dict[int, list[int]] = {}
    wrong = []
    for k, junction in enumerate(asked):
        label = "junction " + ", ".join(junction.members)
        fits = [i for i, (names, _) in enumerate(places) if set(junction.members) <= set(names)]
        if junction.at is not None and len(fits) > 1:
            fits = [min(fits, key=lambda i: math.dist(points[i], junction.at))]
        if not fits:
            wrong.append(
                (
                    label,
                    "these tubes do not all meet in one place: move their ends together or widen "
                    "frame.join_within",
                )
            )
        for i in fits:
            here = {n for n, _ in places[i][1]}
            passing = [n for n in junction.members if n not in here]
            if junction.mitre and passing:
                wrong.append(
                    (
                        label,
                        f"'{passing[0]}' passes here, and only a tube that ends can be mitred: cut it in two "
                        f"or take mitre out",
                    )
                )
            elif late := [
                n for n in passing if any(o in here for o in junction.members[: junction.members.index(n)])
            ]:
                wrong.append(
                    (label, f"'{late[0]}' passes here and cannot be cut to another tube: name it first")
                )
            else:
                out.setdefault(i, []).append(k)
    return out, wrong


def _ordered(
    names: list[str],
    group: frozenset[Key],
    met: Sequence[Meeting],
    by_name: dict[str, Tube],
    asked: Sequence,
) -> tuple[str, ...]:
    ends = {n for n, _ in group}
    meets = {(m.tube, m.other) for m in met if (m.tube, m.end) in group}
    before = {(b, a) for a, b in meets if (b, a) not in meets}  # b, then a that ends on it
    for junction in asked:
        chain = [(a, b) for i, a in enumerate(junction.members) for b in junction.members[i + 1 :]]
        before = {(a, b) for a, b in before if (b, a) not in chain} | set(chain)

    def rank(n: str):
        s = by_name[n].member.section
        size = (round(s.width_mm * s.height_mm, 6), s.wall_mm)
        return n in ends, tuple(-v for v in size), -round(by_name[n].member.length_mm, 3), n

    out: list[str] = []
    left = set(names)
    while left:
        ready = [n for n in left if not any(b == n and a in left for a, b in before)] or list(
            left
        )  # a ring of tubes: by rank
        out.append(min(ready, key=rank))
        left.remove(out[-1])
    return tuple(out)
