"""A drawing of each node of the frame: its tubes as cut, numbered in the order they are fitted, looked at
from a stated direction.

Drawn from the same curves as the strips, small facets painted from the farthest to the nearest. Not to scale.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np

from assemblies.layout.frame import sides
from assemblies.layout.junctions import Junctions, Node
from assemblies.layout.placing import Layout
from assemblies.making.sheets.drawing import FINE, Drawing, Path, Pen, Text, lettering
from assemblies.making.sheets.paper import NOMINAL, Printing, Sheet, wrapped
from assemblies.making.sheets.tube_ends import direction
from parts.files.remembered import once
from parts.tube_wall import breaks_mm, wall_points

SEEN_FROM = ("the front", "the rear", "the left", "the right", "outboard", "inboard", "above", "below")
CELL_MM = (88.0, 66.0)  # of a picture; words below it
COLUMNS = 2
BALLOON_MM = 5.6
LEADING_MM, WORDS_MM = 3.5, 2.5
STUB, STEPS, ROUND = 3.2, 8, 32  # length of a stub over the largest section; facets along it and round it
EDGE = Pen(0.25)
NEARER_MM = 0.6  # edges are painted over the facets they bound
LIGHT = np.array([0.35, 0.25, 0.9]) / math.sqrt(0.35**2 + 0.25**2 + 0.9**2)


def sheets(layout: Layout, printing: Printing = NOMINAL) -> list[tuple[str, Sheet]]:
    """Nodes two beside each other, as many rows as a page holds."""
    side = 1.0 if layout.job.side == "left" else -1.0
    side = 0.0 if sides(layout.job) == "both" else side
    given = (layout.junctions, side, printing.undated)
    return once("nodes", (given, lettering()), lambda: _sheets(*given))


def _sheets(made: Junctions, side: float, printing: Printing) -> list[tuple[str, Sheet]]:
    views = [best_view(made, node) for node in made.nodes]
    words = [_words(made, node) for node in made.nodes]
    pages: list[tuple[list[int], float, Drawing]] = []
    for k in range(0, len(made.nodes), COLUMNS):
        some = range(k, min(k + COLUMNS, len(made.nodes)))
        high = CELL_MM[1] + 18 + LEADING_MM * max(len(words[i]) for i in some)
        if not pages or pages[-1][1] + high > printing.window[3]:
            pages.append(([], 0.0, Drawing()))
        on, taken, d = pages[-1]
        for i in some:
            _cell(d, made, made.nodes[i], views[i], side, words[i], ((i - k) * (CELL_MM[0] + 4), -taken))
        pages[-1] = ([*on, *some], taken + high, d)
    return [
        (
            f"nodes-{on[0] + 1}-{on[-1] + 1}",
            Sheet(
                f"nodes {on[0] + 1} to {on[-1] + 1}" if len(on) > 1 else made.nodes[on[0]].name,
                "the frame's tubes in the order they are fitted, each cut to those before it - not to scale",
                d,
            ),
        )
        for on, _, d in pages
    ]


def seen_from(view: np.ndarray, side: float) -> str:
    """A direction in words: "above", "the front, inboard and above"."""
    names = {w: f"the {w}" for w in ("front", "rear", "left", "right")} | {"up": "above", "down": "below"}
    some = [names.get(w, w) for w in direction(view, side).split(" and ")]
    some.sort(key=SEEN_FROM.index)
    return " and ".join([", ".join(some[:-1]), some[-1]] if len(some) > 1 else some)


def _cell(
    d: Drawing,
    made: Junctions,
    node: Node,
    view: np.ndarray,
    side: float,
    words: list[str],
    at: tuple[float, float],
) -> None:
    x, y = at
    picture = draw(made, node, view)
    x0, y0, x1, y1 = picture.bounds
    scale = min((CELL_MM[0] - BALLOON_MM) / (x1 - x0), (CELL_MM[1] - BALLOON_MM) / (y1 - y0))
    dx, dy = x + CELL_MM[0] / 2 - scale * (x0 + x1) / 2, y + CELL_MM[1] / 2 - scale * (y0 + y1) / 2
    balloons = [i for i in picture.items if isinstance(i, Text)]
    d.add(*(Drawing([i for i in picture.items if isinstance(i, Path)]).moved(dx, dy, scale)).items)
    for b in balloons:  # keep their size
        cx, cy = scale * b.x + dx, scale * b.y + dy
        d.circle(cx, cy, BALLOON_MM, FINE, 1.0)
        d.text(cx, cy - 1.25, b.words, 3.4, "middle", bold=True)
    title = Text(x, y + CELL_MM[1] + 4, f"{node.name}, seen from {seen_from(view, side)}", 3.4, bold=True)
    d.add(replace(title, height_mm=3.4 * min(1.0, CELL_MM[0] / title.width_mm)))
    for n, line in enumerate(words):
        d.text(x, y - 5 - LEADING_MM * n, line, WORDS_MM)


def _words(made: Junctions, node: Node) -> list[str]:
    at = ", ".join(f"{v:.0f}" for v in node.point)
    order = "as the job gives it" if node.given else "by what passes, then the larger, then as listed"
    lines = [f"At ({at}). Order {order}."]
    for n, name in enumerate(node.members, 1):
        lines.append(f"{n}  {name}{_how(made, node, name)}")
    apart = [
        f"{node.members.index(p.a) + 1}-{node.members.index(p.b) + 1}: {p.angle_deg:.1f}"
        for p in made.pairs(node)
    ]
    lines.append("Angles, deg: " + ", ".join(apart))
    return wrapped(lines, CELL_MM[0], WORDS_MM)


def _how(made: Junctions, node: Node, name: str) -> str:
    end = node.end_of(name)
    if end is None:
        return ": passes"
    cut = made.ends.get((name, end))
    if cut is None or not cut.runs:
        return f", {end} end: square"
    on = ", ".join(str(node.members.index(r) + 1) for r in cut.runs if r in node.members)
    mitred = node.mitred and name in node.mitred
    return f", {end} end: {'mitred with' if mitred else 'on'} {on}" + (
        f", {cut.plane.from_square_deg:.1f} deg flat" if cut.plane is not None else ""
    )


# ------------------------------------------------------------------------------------------------ the picture


def best_view(made: Junctions, node: Node) -> np.ndarray:
    """Of the 26 directions of a cube's faces, edges and corners that where the tubes stand apart most: by the
    least angle between any two as seen, and how much of each is seen."""
    axes = [a for name in node.members for a in _ways(made, node, name)]

    def score(v: np.ndarray) -> float:
        right, up = _page(v)
        flat = [(float(a @ right), float(a @ up)) for a in axes]
        longs = [math.hypot(*f) for f in flat]
        if min(longs) < 1e-3:
            return -1.0
        turns = sorted(math.atan2(y, x) for x, y in flat)
        apart = (
            min(
                (b - a) % (2 * math.pi)
                for a, b in zip(turns, [*turns[1:], turns[0] + 2 * math.pi], strict=True)
            )
            if len(turns) > 1
            else 1.0
        )
        return min(apart, 0.6) * min(longs) + 0.02 * (v[2] >= 0) + 0.01 * float(np.sum(longs)) / len(longs)

    views = [np.array(v, float) / np.linalg.norm(v) for v in product((0, 1, -1), repeat=3) if any(v)]
    return max(views, key=score)


def _ways(made: Junctions, node: Node, name: str) -> list[np.ndarray]:
    away = made.away(node, name)
    return [away] if node.end_of(name) else [away, -away]


def _page(view: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Right and up on the page for an eye at `view`: up is up, seen from above or below it is the front."""
    up = np.array([0.0, 0.0, 1.0]) if abs(view[2]) < 0.99 else np.array([1.0, 0.0, 0.0])
    right = np.cross(up, view)
    right /= np.linalg.norm(right)
    return right, np.cross(view, right)


def draw(made: Junctions, node: Node, view: np.ndarray) -> Drawing:
    right, up = _page(view)
    stub = STUB * max(
        max(made.all[n].member.section.width_mm, made.all[n].member.section.height_mm) for n in node.members
    )
    flat = np.column_stack([right, up])
    items, words = list[tuple[float, Path]](), Drawing()
    for n, name in enumerate(node.members, 1):
        facets, edges, tips = _tube(made, node, name, stub)
        items += zip((facets @ view).mean(1).tolist(), _painted(facets, flat, view), strict=True)
        items += zip(
            ((edges @ view).max(1) + NEARER_MM).tolist(),
            (Path(tuple(a), ((tuple(b),),), EDGE) for a, b in (edges @ flat).tolist()),
            strict=True,
        )
        tip, way = max(tips, key=lambda t: float(t[0] @ view))  # the end nearer to the eye
        x, y = tip @ flat + 0.4 * made.all[name].half_mm * (way @ flat)
        words.text(float(x), float(y), str(n))
    items.sort(key=lambda i: i[0])
    return Drawing([*(p for _, p in items), *words.items])


def _painted(facets: np.ndarray, flat: np.ndarray, view: np.ndarray) -> list[Path]:
    """Quadrilaterals (n, 4, 3) as grey shapes on the page: lit from the outside, dark seen from within."""
    normals = np.cross(facets[:, 1] - facets[:, 0], facets[:, 3] - facets[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None]
    grey = np.where(normals @ view > 0, 0.62 + 0.33 * np.maximum(normals @ LIGHT, 0.0), 0.42).round(2)
    return [
        Path(tuple(a), tuple((tuple(p),) for p in rest), Pen(0.1, (), g), True, g)
        for (a, *rest), g in zip((facets @ flat).tolist(), grey.tolist(), strict=True)
    ]


def _tube(made: Junctions, node: Node, name: str, stub: float):
    """Facets (4, 3) and edges (2, 3) of a tube's stub, in the car's axes; where its number goes and which way
    from there."""
    m, end = made.all[name].member, node.end_of(name)
    s = _places(m.section)
    x, y, _ = wall_points(m.section, s)
    at = float((np.array(node.point) - m.from_) @ np.array(m.frame.z))
    cut = made.ends.get((name, end)) if end else None
    t = np.interp(s, cut.around_mm, cut.outer_mm) if cut is not None else np.zeros(len(s))
    if end is None:
        low, high = np.full(len(s), max(at - stub, 0.0)), np.full(len(s), min(at + stub, m.length_mm))
    elif end == "from":
        low, high = t, np.full(len(s), min(at + stub, m.length_mm))
    else:
        low, high = np.full(len(s), max(at - stub, 0.0)), m.length_mm - t
    frame = m.frame.matrix()
    shares = np.linspace(0, 1, STEPS + 1)[:, None]
    z = low * (1 - shares) + high * shares
    p = (
        frame[:3, 3] + x[:, None] * frame[:3, 0] + y[:, None] * frame[:3, 1] + z[..., None] * frame[:3, 2]
    )  # (step, place, 3)
    facets = np.stack([p[:-1, :-1], p[:-1, 1:], p[1:, 1:], p[1:, :-1]], axis=2).reshape(-1, 4, 3)
    ring = np.array([[r[i], r[i + 1]] for r in (p[0], p[-1]) for i in range(len(s) - 1)])
    folds = (
        [] if m.section.is_round else [np.stack([p[:-1, i], p[1:, i]], axis=1) for i in _folds(m.section, s)]
    )
    ends = {"from": [(p[0].mean(0), -frame[:3, 2])], "to": [(p[-1].mean(0), frame[:3, 2])]}
    return facets, np.concatenate([ring, *folds]), [t for e in ends if e != end for t in ends[e]]


def _places(section) -> np.ndarray:
    at = breaks_mm(section)
    return (
        np.linspace(0, at[-1], ROUND + 1)
        if section.is_round
        else np.unique(np.concatenate([at, (at[1:8:2] + at[2:9:2]) / 2]))
    )


def _folds(section, s: np.ndarray) -> list[int]:
    """Numbers of the places in the middle of each corner."""
    at = breaks_mm(section)
    return [int(np.abs(s - v).argmin()) for v in (at[1:8:2] + at[2:9:2]) / 2]
