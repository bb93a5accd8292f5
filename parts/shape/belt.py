"""Outlines round discs: belts of true tangent lines and hollow arcs, and the hull that leaves out what lies
inside.

Lengths mm. Closed form; the rows of the tests on outlines round two and three discs gate it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from parts.base.frozen import dataclass
from parts.shape.outline import SAME_POINT_MM, Loop, OutlineError, Point, Vertex, circle, without_repeats


@dataclass(frozen=True)
class Boss:
    """A disc that a belt runs round: centre and radius in mm."""

    x: float
    y: float
    radius_mm: float


def belt(bosses: Sequence[Boss], waists_mm: Sequence[float | None] | None = None) -> Loop:
    """Outline round bosses given in counter-clockwise order, each side a true tangent line or a waist.

    `waists_mm[i]` joins boss i to the next one: None is the outer tangent line; a radius is a hollow arc of
    that radius tangent to both bosses. Raises OutlineError where a boss lies inside its neighbours' belt
    (leave it out: see `hull`), where a boss swallows another or where a waist is too small to reach both.
    Closed form; check-rows D3 to D6 gate it."""
    n = len(bosses)
    waists = list(waists_mm) if waists_mm is not None else [None] * n
    if n < 2 or len(waists) != n:
        raise OutlineError(
            f"a belt needs at least 2 bosses and one waist entry a side; got {n} and {len(waists)}"
        )
    following = [*range(1, n), 0]
    sides = [_side(bosses[i], bosses[k], w) for i, k, w in zip(range(n), following, waists, strict=True)]
    leave = [start for start, _ in sides]
    arrive = [sides[i - 1][1] for i in range(n)]
    vertices: list[Vertex] = []
    sweeps: list[float] = []
    hollow = 0.0
    for i, boss in enumerate(bosses):
        sweeps.append(_sweep(boss, arrive[i], leave[i]))
        turn = _hollow(leave[i], sides[i][1], waists[i])
        vertices += [Vertex(*arrive[i], math.tan(sweeps[i] / 4)), Vertex(*leave[i], 0.0 - math.tan(turn / 4))]
        hollow += turn
    # a simple closed path turns once round; more means one turned back
    if sum(sweeps) - hollow > 2 * math.pi + 1e-6:
        boss = bosses[sweeps.index(max(sweeps))]
        raise OutlineError(
            f"boss of radius {boss.radius_mm:g} mm at x {boss.x:.2f}, y {boss.y:.2f} lies within the belt of "
            f"its "
            "neighbours; leave it out or make it larger, and give the bosses in counter-clockwise order"
        )
    return Loop(without_repeats(vertices))


def _side(a: Boss, b: Boss, waist_mm: float | None) -> tuple[Point, Point]:
    """Where the side from one boss to the next leaves it and arrives: tangent line, or hollow arc."""
    gap = math.dist((a.x, a.y), (b.x, b.y))
    if gap <= abs(a.radius_mm - b.radius_mm) + SAME_POINT_MM / 2:
        raise OutlineError(
            f"boss of radius {min(a.radius_mm, b.radius_mm):g} mm lies inside its neighbour of radius "
            f"{max(a.radius_mm, b.radius_mm):g} mm, {gap:.2f} mm away"
        )
    dx, dy = (b.x - a.x) / gap, (b.y - a.y) / gap
    if waist_mm is None:
        lean = (a.radius_mm - b.radius_mm) / gap
        side = math.sqrt(1 - lean**2)
        nx, ny = dx * lean + dy * side, dy * lean - dx * side
        return (a.x + a.radius_mm * nx, a.y + a.radius_mm * ny), (
            b.x + b.radius_mm * nx,
            b.y + b.radius_mm * ny,
        )
    to_a, to_b = a.radius_mm + waist_mm, b.radius_mm + waist_mm  # from the waist's centre
    along = (to_a**2 - to_b**2 + gap**2) / (2 * gap)
    across2 = to_a**2 - along**2
    if waist_mm <= 0 or across2 <= 0:
        least = (gap - a.radius_mm - b.radius_mm) / 2
        raise OutlineError(
            f"waist radius {waist_mm:g} mm cannot touch both bosses; it must be over {max(least, 0):.2f} mm"
        )
    across = math.sqrt(across2)
    cx, cy = a.x + along * dx + across * dy, a.y + along * dy - across * dx
    return (
        (a.x + (cx - a.x) * a.radius_mm / to_a, a.y + (cy - a.y) * a.radius_mm / to_a),
        (b.x + (cx - b.x) * b.radius_mm / to_b, b.y + (cy - b.y) * b.radius_mm / to_b),
    )


def _sweep(boss: Boss, arrive: Point, leave: Point) -> float:
    """Angle of the arc round a boss, rad; a whole turn is none."""
    start, end = (math.atan2(y - boss.y, x - boss.x) for x, y in (arrive, leave))
    sweep = (end - start) % (2 * math.pi)
    return 0.0 if sweep > 2 * math.pi - 1e-9 else sweep


def _hollow(leave: Point, arrive: Point, waist_mm: float | None) -> float:
    """Angle of a waist's arc, rad; none of a straight side."""
    if waist_mm is None:
        return 0.0
    half = math.dist(leave, arrive) / 2
    if half > waist_mm:
        raise OutlineError(f"waist radius {waist_mm:g} mm is shorter than half its own chord, {half:.2f} mm")
    return 2 * math.asin(half / waist_mm)


def hull_order(bosses: Iterable[Boss]) -> list[Boss]:
    """The bosses a tight belt touches, counter-clockwise; a disc inside the hull of the others drops out,
    and one that the belt touches on two sides comes twice."""
    left = list(bosses)
    kept = [
        b
        for i, b in enumerate(left)
        if not any(
            (o.radius_mm, -j) > (b.radius_mm, -i)
            and math.dist((b.x, b.y), (o.x, o.y)) + b.radius_mm <= o.radius_mm + SAME_POINT_MM
            for j, o in enumerate(left)
        )
    ]
    if len(kept) == 1:
        return kept
    # march round by support direction: the boss that reaches furthest along each outward normal
    order: list[int] = []
    for angle in sorted(_support_turns(kept)):
        i = _furthest(kept, angle)
        if not order or order[-1] != i:
            order.append(i)
    if len(order) > 1 and order[0] == order[-1]:
        order.pop()
    return [kept[i] for i in order]


def hull(bosses: Iterable[Boss]) -> Loop:
    """Tight belt round any set of discs; a disc inside the hull of the others drops out."""
    order = hull_order(bosses)
    if len(order) == 1:
        return circle(order[0].x, order[0].y, 2 * order[0].radius_mm)
    return belt(order)


def _support_turns(bosses: list[Boss]) -> list[float]:
    """A normal direction just inside each stretch between directions at which two bosses reach equally
    far."""
    edges = []
    for i, a in enumerate(bosses):
        for b in bosses[i + 1 :]:
            gap = math.dist((a.x, a.y), (b.x, b.y))
            if gap <= abs(a.radius_mm - b.radius_mm):
                continue
            base = math.atan2(b.y - a.y, b.x - a.x)
            half = math.acos((a.radius_mm - b.radius_mm) / gap)
            edges += [(base + half) % (2 * math.pi), (base - half) % (2 * math.pi)]
    edges.sort()
    return [
        ((a + b) / 2) % (2 * math.pi)
        for a, b in zip(edges, [*edges[1:], edges[0] + 2 * math.pi], strict=True)
    ]


def _furthest(bosses: list[Boss], angle: float) -> int:
    c, s = math.cos(angle), math.sin(angle)
    return max(range(len(bosses)), key=lambda i: bosses[i].x * c + bosses[i].y * s + bosses[i].radius_mm)
