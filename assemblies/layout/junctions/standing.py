"""What of a frame stands on nothing: tubes that no weld ties to the rest, ends that meet nothing, nodes
whose tubes do not meet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from assemblies.layout.junctions.fitting import Junctions
from assemblies.layout.junctions.meeting import ENDS, Tube
from assemblies.results.findings import Finding, lacking

MIDDLE_MM = 1.0


def groups(names: Iterable[str], made: Junctions) -> list[frozenset[str]]:
    """Tubes in groups that are welded to each other, the largest first; a tube that meets none is a group
    of its own."""
    group = {name: name for name in names}

    def root(n: str) -> str:
        while group[n] != n:
            n = group[n]
        return n

    for node in made.nodes:
        here = [n for n in node.members if n in group]
        for n in here[1:]:
            group[root(n)] = root(here[0])
    found: dict[str, set[str]] = {}
    for n in group:
        found.setdefault(root(n), set()).add(n)
    return sorted((frozenset(s) for s in found.values()), key=lambda s: (-len(s), min(s)))


def loose(made: Junctions, goes_on: Sequence[str], nodes: Sequence[str], one_side: bool) -> list[Finding]:
    """What to say of a frame alone. `goes_on`: tubes that go on into a frame beyond it; `nodes`: the job's
    named nodes; `one_side`: the other side is its mirror image."""
    apart = groups(made.all, made)
    out = [_apart(made, g, apart[0]) for g in apart[1:] if not g & set(goes_on)]
    if one_side and not any(_reaches_middle(t) for t in made.all.values()):
        out.append(
            _warn(
                "the two sides",
                "No tube crosses the middle of the car or ends in it: nothing ties this side to its mirror "
                'image. Add [[member]] tubes across, or write frame.sides = "both" where each tube is '
                "listed.",
            )
        )
    open_ends = [
        f"'{n}' {e}"
        for n, t in made.all.items()
        for e in ENDS
        if made.node_of(n, e) is None and (n, e) not in made.images and not (one_side and _in_middle(t, e))
    ]
    if open_ends:
        many = f"{len(open_ends)} tube ends meet" if len(open_ends) > 1 else "One tube end meets"
        text = f"{many} nothing and stay square: {', '.join(open_ends)}. Close them with a cap against water."
        out.append(Finding(level="note", code="frame-open-end", where="open ends", text=text))
    return out + [f for name in nodes for f in _node(made, name)]


def _apart(made: Junctions, group: frozenset[str], main: frozenset[str]) -> Finding:
    gap, name, other, end = min(_gap(made.all[n], made.all[m]) for n in group for m in main)
    first = next(iter(sorted(group)))
    who = f"'{first}' meets no other tube" if len(group) == 1 else f"{_list(group)} meet only each other"
    reach = f"{lacking(gap)} mm" if gap > 0 else "beside it, uncut"
    return _warn(
        name,
        f"{who}: nothing ties {'it' if len(group) == 1 else 'them'} to the rest of the frame. Nearest: "
        f"the {end} end of "
        f"'{name}' to '{other}', {reach}. Give both one node (from or to = its name), or name it in "
        "frame.goes_on where "
        "it goes on into a frame beyond this one.",
    )


def _gap(tube: Tube, other: Tube) -> tuple[float, str, str, str]:
    """(from an end to the other tube's outside, at the most; tube, other, which end)."""
    a, b = other.end("from"), other.end("to")
    found = []
    for end in ENDS:
        p = tube.end(end)
        share = float(np.clip((p - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1))
        away = float(np.linalg.norm(p - a - share * (b - a)))
        found.append((max(away - other.half_mm, 0.0), tube.name, other.name, end))
    return min(found)


def _node(made: Junctions, name: str) -> list[Finding]:
    """A named node that is no node."""
    ends = [(t.name, e) for t in made.all.values() for e in ENDS if t.node(e) == name]
    where = f"node {name}"
    if not ends:
        return [
            _warn(
                where, "No tube names this node. Write from or to = its name in a [[member]], or take it out."
            )
        ]
    here = {n.name for t, e in ends if (n := made.node_of(t, e))}
    alone = [t for t, e in ends if made.node_of(t, e) is None]
    if alone:
        said = f"'{alone[0]}' names this node and meets nothing there"
        return [_warn(where, f"{said}: name it in another tube too, or move node.{name}.at onto one.")]
    if len(here) > 1:
        return [
            _warn(where, f"Its tubes meet in {len(here)} places, not in one: make node.{name}.offset less.")
        ]
    return []


def _reaches_middle(tube: Tube) -> bool:
    a, b = (float(tube.end(e)[1]) for e in ENDS)
    return min(abs(a), abs(b)) <= MIDDLE_MM or a * b < 0


def _in_middle(tube: Tube, end: str) -> bool:
    return abs(float(tube.end(end)[1])) <= MIDDLE_MM


def _list(group: frozenset[str]) -> str:
    names = [f"'{n}'" for n in sorted(group)]
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _warn(where: str, text: str) -> Finding:
    return Finding(level="warn", code="frame-loose", where=where, text=text)
