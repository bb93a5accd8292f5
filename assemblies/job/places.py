"""Where the points of a file stand once its nodes and groups are followed.

A member's `from` or `to` may be the name of a [[node]]; a [[group]] moves members, nodes and points by one
vector. `standing` puts the points in their places as `Standing` tuples, which remember what the file says;
`put_at` is the way back: which key to change for a point to stand somewhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from assemblies.job.problem import Problem
from assemblies.job.values import Coordinates, Standing, nearest, shown

ENDS = ("from", "to")
PLACES = (*ENDS, "centre", "at")  # of a member
NO_PLACE = ("axis", "size", "turn", "move", "offset", "moment", "force")  # three numbers that are no point
Vector = tuple[float, float, float]
NOWHERE: Vector = (0.0, 0.0, 0.0)


def standing(given: Mapping[str, Any]) -> tuple[dict[str, Any], list[Problem]]:
    """The tables with every point where it stands, and what of names is wrong. What cannot be read is left
    as it is, for its own error."""
    nodes, groups, members = (_named(given.get(k)) for k in ("node", "group", "member"))
    naming = any(isinstance(t.get(e), str) for t in members.values() for e in ENDS)
    if not (nodes or groups or naming):
        return dict(given), []
    out = _copied(given)
    problems = [*_twice("node", given), *_twice("group", given), *_unknown(nodes, groups, members)]
    moved: dict[tuple[str, ...], Vector] = {}  # by place in the tables: ("node", "A", "at")
    for name, group in groups.items():
        move = _read(group.get("move", NOWHERE))
        if move is None:
            continue
        keys = dict.fromkeys(_of_group(group, nodes, members))
        for i, key in enumerate(_names(group.get("points"))):
            try:
                keys |= dict.fromkeys(_points_of(given, key, members))
            except KeyError as e:
                problems.append(Problem(f"group.{name}.points", f"names '{key}', number {i + 1}", *e.args))
        for place in keys:
            moved[place] = _sum(moved.get(place, NOWHERE), move)
    for place, by in moved.items():
        table, last = _table(out, place), place[-1]
        if table is not None and place[0] != "node" and (point := _read(table.get(last))) is not None:
            table[last] = Standing(_sum(point, by), table[last], "", by, by)
    for name, table in _named(out.get("member")).items():
        for end in ENDS:
            if (node := nodes.get(table.get(end)) if isinstance(table.get(end), str) else None) is None:
                continue
            at, offset = _read(node.get("at")), _read(node.get("offset", NOWHERE))
            if at is None or offset is None:
                problems.append(
                    Problem(f"member.{name}.{end}", f"names '{table[end]}'", "its point is wrong")
                )
                continue
            by = _sum(
                moved.get(("node", table[end], "at"), NOWHERE),
                NOWHERE if name in _names(node.get("chords")) else offset,
            )
            free = moved.get(("member", name, end), NOWHERE)
            table[end] = Standing(_sum(at, by), table[end], f"node.{table[end]}.at", by, free)
    return out, problems


def put_at(
    key: str, now: Sequence[float], point: Sequence[float], off_node: bool = False
) -> tuple[str, list]:
    """The key to change, and its value, for what `key` says (it stands at `now`) to stand at `point`: a
    node's own point where the end names one, unless it is taken `off_node`."""
    if not isinstance(now, Standing):
        return key, _rounded(point)
    if now.key and not off_node:
        return now.key, _rounded([p - m for p, m in zip(point, now.moved, strict=True)])
    return key, _rounded([p - m for p, m in zip(point, now.free, strict=True)])


def _rounded(point: Sequence[float]) -> list[float]:
    return [round(float(v), 4) + 0.0 for v in point]


# ------------------------------------------------------------ what a group moves


def _of_group(group: Mapping, nodes: Mapping, members: Mapping) -> Iterator[tuple[str, ...]]:
    """Places of its nodes, of its members' points, and of the nodes that its members name."""
    for name in _names(group.get("nodes")):
        yield "node", name, "at"
    for name in _names(group.get("members")):
        for last in PLACES:
            value = members.get(name, {}).get(last)
            if isinstance(value, str) and value in nodes:
                yield "node", value, "at"
            if value is not None:
                yield "member", name, last


def _points_of(given: Mapping, key: str, members: Mapping) -> Iterator[tuple[str, ...]]:
    """Places of the points a key names: its own, or all those of a table. Raises KeyError(limit, cure)."""
    table, _, rest = key.partition(".")
    place: tuple[str, ...]
    if isinstance(given.get(table), list):
        names = _named(given[table])
        name = max((n for n in names if rest == n or rest.startswith(n + ".")), key=len, default=None)
        if name is None:
            raise KeyError(
                f"must name a point of the file, and there is no such {table}", nearest(rest, names)
            )
        place, rest = (table, name), rest[len(name) + 1 :]
    else:
        place = (table,)
    holder = _table(given, (*place, ""))
    if holder is None:
        known = [k for k, v in given.items() if isinstance(v, dict | list)]
        raise KeyError("must be the key of a point, or a table", nearest(table, known))
    if rest:
        if isinstance(holder.get(rest), str) and place[0] == "member":
            raise KeyError(f"that end is at node '{holder[rest]}'", "name the node in nodes")
        if rest in NO_PLACE or _read(holder.get(rest)) is None:
            points = [k for k, v in holder.items() if k not in NO_PLACE and _read(v) is not None]
            raise KeyError(
                "must be the key of a point", nearest(rest, points) or "known: " + ", ".join(points)
            )
        yield (*place, rest)
        return
    for last, value in holder.items():
        if last not in NO_PLACE and _read(value) is not None:
            yield (*place, last)


# ------------------------------------------------------------ names


def _unknown(nodes: Mapping, groups: Mapping, members: Mapping) -> Iterator[Problem]:
    """Names of nodes and members that are not there."""
    for name, table in members.items():
        for end in ENDS:
            value = table.get(end)
            if isinstance(value, str) and value not in nodes:
                all_of = "known: " + (", ".join(nodes) or "none, add [[node]] with name and at")
                yield Problem(
                    f"member.{name}.{end}",
                    f"is {shown(value)}",
                    "must be a point [x, y, z] or the name of a node",
                    nearest(value, nodes) or all_of,
                )
    wanted = [
        *((f"node.{n}.chords", t.get("chords"), members, "member") for n, t in nodes.items()),
        *((f"group.{n}.members", t.get("members"), members, "member") for n, t in groups.items()),
        *((f"group.{n}.nodes", t.get("nodes"), nodes, "node") for n, t in groups.items()),
    ]
    for key, names, known, what in wanted:
        for name in _names(names):
            if name not in known:
                yield Problem(
                    key,
                    f"names '{name}'",
                    f"must name a {what} of the job",
                    nearest(name, known) or "known: " + (", ".join(known) or "none"),
                )
    for name, node in nodes.items():
        for chord in _names(node.get("chords")):
            if chord in members and name not in [members[chord].get(e) for e in ENDS]:
                yield Problem(
                    f"node.{name}.chords",
                    f"names '{chord}', which does not end there",
                    "must name members whose from or to is this node",
                    "take it out: a tube that passes needs no word",
                )


def _twice(kind: str, given: Mapping) -> Iterator[Problem]:
    names = [t.get("name") for t in given.get(kind) or () if isinstance(t, Mapping)]
    for name in dict.fromkeys(n for n in names if isinstance(n, str) and names.count(n) > 1):
        count = names.count(name)
        yield Problem(
            f"{kind}.{name}", f"{count} {kind}s have this name", "each needs its own", "number them"
        )


def _named(tables: Any) -> dict[str, Any]:
    """The tables of a list that have a name."""
    some = tables if isinstance(tables, list | tuple) else ()
    return {t["name"]: t for t in some if isinstance(t, dict) and isinstance(t.get("name"), str)}


def _names(value: Any) -> list[str]:
    return [n for n in value if isinstance(n, str)] if isinstance(value, list | tuple) else []


def _table(tables: Mapping, place: tuple[str, ...]) -> dict | None:
    """The table that holds a place."""
    if len(place) == 3:
        return _named(tables.get(place[0])).get(place[1])
    found = tables.get(place[0])
    return found if isinstance(found, dict) else None


def _copied(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _copied(v) for k, v in value.items()}
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        return [_copied(v) for v in value]
    return value


def _read(value: Any) -> Vector | None:
    if isinstance(value, str) or value is None:
        return None
    try:
        x, y, z = Coordinates().read(value)
    except PydanticCustomError:
        return None
    return x, y, z


def _sum(a: Vector, b: Vector) -> Vector:
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]
