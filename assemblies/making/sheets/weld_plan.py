"""Tack and weld order: every seam of the boxed rocker split into short runs, numbered so that heat goes from
place to place.

Seen along the pivot's axis each place is welded twice: on the near plate, then at once on the far one, so
that neither side pulls.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from assemblies.layout.account import Seam
from assemblies.making.sheets.drawing import BOLD, CUT, FAINT, SMALL_MM, Drawing
from parts.base.frozen import dataclass
from parts.rocker import BoxedRocker
from parts.shape.outline import Segment, circle

RUN_MM = 25.0  # 20 to 25 mm runs in 3 mm plate, common practice
TACK_PITCH_MM = 40.0  # 30 to 50 along 3 mm plate, common practice
MOST_TACK_MM = 50.0  # tack: the lesser of 4 t and 50 mm, EN 1090-2, tack weld clause (from memory)


@dataclass(frozen=True)
class WeldRun:
    """One place to weld: numbers on the near and the far plate, the seam, where it lies, its length and
    leg."""

    near: int
    far: int
    seam: str
    path: tuple[Segment, ...]
    leg_mm: float

    @property
    def length_mm(self) -> float:
        return sum(s.length for s in self.path)

    @property
    def middle(self) -> tuple[float, float]:
        return _at(self.path, self.length_mm / 2)


@dataclass(frozen=True)
class WeldPlan:
    """Steps in order, tacks along each seam, the numbered runs, and the other seams of the corner; drawn for
    one `hand`."""

    steps: tuple[str, ...]
    tacks: tuple[Seam, ...]
    runs: tuple[WeldRun, ...]
    others: tuple[Seam, ...]
    hand: str = "left"

    @property
    def other_hand(self) -> str:
        """What the plan is on the other side of the car."""
        return (
            f"The {'right' if self.hand == 'left' else 'left'} hand is the mirror image: the same "
            f"numbers, x with the opposite sign."
        )

    @property
    def length_mm(self) -> float:
        """Of all numbered runs, both plates."""
        return 2 * sum(r.length_mm for r in self.runs)


def rocker_plan(rocker: BoxedRocker, others: Sequence[Seam] = (), hand: str = "left") -> WeldPlan:
    """Plan of a boxed rocker of that hand. The leg is the plates' thickness (the rule the plate is laid out
    with)."""
    leg, t = rocker.plate.leg_mm, rocker.plate.thickness_mm
    seams = [("pivot tube", tuple(circle(0.0, 0.0, rocker.tube.outer_mm).segments))]
    seams += [(s.name, s.path) for s in rocker.strips]
    pieces = [(name, piece) for name, path in seams for piece in split(path)]
    order = spread([_at(p, sum(s.length for s in p) / 2) for _, p in pieces])
    runs = tuple(WeldRun(2 * k + 1, 2 * k + 2, *pieces[i], leg) for k, i in enumerate(order))
    tack = min(4 * t, MOST_TACK_MM)
    tacks = [Seam("pivot tube to each plate, a third of a turn apart", 3, tack, leg)]
    tacks += [
        Seam(
            f"{s.name} to each plate: middle first, then ends, then between",
            max(3, 1 + math.ceil(s_len / TACK_PITCH_MM)),
            tack,
            leg,
        )
        for s, s_len in ((s, sum(x.length for x in s.path)) for s in rocker.strips)
    ]
    inner = []
    if rocker.gusset:
        g = rocker.gusset
        inner = [
            Seam(
                "gusset to the pivot tube, both faces, before a strip hides it",
                2,
                g.width_mm - 2 * g.corner_mm,
                leg,
            ),
            Seam("gusset to each plate, the open face", 2, g.length_mm - 2 * g.corner_mm, leg),
        ]
    return WeldPlan(_steps(rocker), tuple(tacks), runs, (*inner, *others), hand)


def _steps(rocker: BoxedRocker) -> tuple[str, ...]:
    gusset = (
        [
            "Gusset: tack it to tube and plates, and weld it while it can still be reached, before the strip "
            "beside it goes in."
        ]
        if rocker.gusset
        else []
    )
    strips = (
        ["Box strips: tack at mid length, then at the ends, then between; 0.5 mm of gap at most."]
        if rocker.strips
        else []
    )
    return (
        "Springs, bushes, rod ends and dampers out of the shop corner; earth clamp on the jig's base.",
        "Plates on the jig's pins, spacers between, toggles down.",
        "Pivot tube: tack to both plates, three tacks each, opposite order on the far plate.",
        *gusset,
        *strips,
        "Check: a straight bar passes each pair of eyes by hand. Correct now; later is too late.",
        "If the box ends up closed all round, drill one 3 mm vent first.",
        f"Weld in runs of {RUN_MM:g} mm at most in the numbers' order: near plate, the same place on the far "
        f"plate, then the place furthest away. "
        "Cool to hand-warm whenever the next place is warmer than the hand bears.",
        "Leave the pins in till all is cold. "
        "Then ream both eyes in line and bore the pivot tube to its bush.",
        "Prove it: the straight pins of the finished size drop through both eyes on the jig.",
    )


def split(path: Sequence[Segment], most_mm: float = RUN_MM) -> list[tuple[Segment, ...]]:
    """A path in equal stretches no longer than `most_mm`."""
    total = sum(s.length for s in path)
    n = max(1, math.ceil(total / most_mm - 1e-9))
    return [_stretch(path, total * k / n, total * (k + 1) / n) for k in range(n)]


def _stretch(path: Sequence[Segment], low: float, high: float) -> tuple[Segment, ...]:
    out, start = [], 0.0
    for s in path:
        a, b = max(low, start), min(high, start + s.length)
        if b - a > 1e-6:
            out.append(s.part((a - start) / s.length, (b - start) / s.length))
        start += s.length
    return tuple(out)


def _at(path: Sequence[Segment], along: float) -> tuple[float, float]:
    for s in path:
        if along <= s.length + 1e-9:
            return s.at(min(1.0, along / s.length))
        along -= s.length
    return path[-1].end


def spread(points: Sequence[tuple[float, float]]) -> list[int]:
    """An order in which each place lies far from the one before: of every start's greedy walk the one whose
    shortest step is longest.

    >>> spread([(0, 0), (10, 0), (20, 0), (30, 0)])
    [1, 3, 0, 2]
    """

    def shortest(order: list[int]) -> float:
        return min(
            (math.dist(points[a], points[b]) for a, b in zip(order, order[1:], strict=False)), default=0.0
        )

    return max(
        (_walk(points, i) for i in range(len(points))),
        key=lambda o: (round(shortest(o), 6), -o[0]),
        default=[],
    )


def _walk(points: Sequence[tuple[float, float]], first: int) -> list[int]:
    """From `first` always to the place farthest from the last one, the one before it counting half."""
    left, order = [i for i in range(len(points)) if i != first], [first]
    while left:
        recent = [points[i] for i in order[-1:-3:-1]]
        best = max(
            left,
            key=lambda i: (
                round(sum(math.dist(points[i], p) / (k + 1) for k, p in enumerate(recent)), 6),
                -i,
            ),
        )
        left.remove(best)
        order.append(best)
    return order


def draw(rocker: BoxedRocker, plan: WeldPlan) -> Drawing:
    """The near plate with each run heavy, ended by ticks and numbered near/far, true size."""
    d = Drawing()
    o = rocker.plate.outline()
    d.loop(o.outer, FAINT)
    for h in o.holes:
        d.circle(h.x, h.y, h.diameter_mm, FAINT)
    for r in plan.runs:
        for s in r.path:
            d.segment(s, BOLD)
        for s, share in ((r.path[0], 0.0), (r.path[-1], 1.0)):
            _tick(d, s, share)
        x, y = r.middle
        nx, ny = _outward(r)
        d.text(x + 4.5 * nx, y + 4.5 * ny - 0.9, f"{r.near}/{r.far}", 2.6, "middle")
    if rocker.gusset:
        g = rocker.gusset
        a = math.radians(g.direction_deg)
        at = [
            (
                (g.start_mm + u) * math.cos(a) - v * math.sin(a),
                (g.start_mm + u) * math.sin(a) + v * math.cos(a),
            )
            for u, v in (
                (0, -g.thickness_mm / 2),
                (g.length_mm, -g.thickness_mm / 2),
                (g.length_mm, g.thickness_mm / 2),
                (0, g.thickness_mm / 2),
            )
        ]
        d.polyline([*at, at[0]], CUT)
        u = g.start_mm + g.length_mm / 2
        away = g.thickness_mm / 2 + 2.5
        d.text(
            u * math.cos(a) - away * math.sin(a),
            u * math.sin(a) + away * math.cos(a) - 0.8,
            "gusset, inside",
            SMALL_MM,
            "start" if math.sin(a) <= 0 else "end",
        )
    return d


def _tick(d: Drawing, s: Segment, share: float) -> None:
    x, y = s.at(share)
    nx, ny = _normal(s, share)
    d.line((x - 1.3 * nx, y - 1.3 * ny), (x + 1.3 * nx, y + 1.3 * ny), CUT)


def _normal(s: Segment, share: float) -> tuple[float, float]:
    """To the right of the way along: outward on a counter-clockwise edge."""
    if not s.bulge:
        return (s.end[1] - s.start[1]) / s.length, -(s.end[0] - s.start[0]) / s.length
    x, y = s.at(share)
    sign = 1.0 if s.bulge > 0 else -1.0
    return sign * (x - s.centre[0]) / s.radius, sign * (y - s.centre[1]) / s.radius


def _outward(r: WeldRun) -> tuple[float, float]:
    along, half = 0.0, r.length_mm / 2
    for s in r.path:
        if along + s.length >= half - 1e-9:
            return _normal(s, (half - along) / s.length)
        along += s.length
    return _normal(r.path[-1], 1.0)


def rows(plan: WeldPlan) -> list[list[str]]:
    """The plan as a table: hand, number, plate, seam, from, to, length, leg; then seams without a number."""
    out = []
    for r in plan.runs:
        (ax, ay), (bx, by) = r.path[0].start, r.path[-1].end
        for number, plate in ((r.near, "near"), (r.far, "far")):
            out.append(
                [
                    plan.hand,
                    str(number),
                    plate,
                    r.seam,
                    f"{ax:z.1f}",
                    f"{ay:z.1f}",
                    f"{bx:z.1f}",
                    f"{by:z.1f}",
                    f"{r.length_mm:z.1f}",
                    f"{r.leg_mm:g}",
                ]
            )
    out.sort(key=lambda row: int(row[1]))
    for s in plan.others:
        out.append(
            ["", "", "", f"{s.where}: {s.runs} runs", "", "", "", "", f"{s.length_mm:z.1f}", f"{s.leg_mm:g}"]
        )
    return out


HEAD = [
    "hand",
    "run",
    "plate",
    "seam",
    "from x, mm",
    "from y, mm",
    "to x, mm",
    "to y, mm",
    "length, mm",
    "leg, mm",
]
