"""Where everything of a corner that stands on the frame goes: for each bracket its tube, face, distances
along it from a named end, height, lean; the pivot, spring tube and anchor along the rocker's axis; what a
tape must read between bolt axes; the order of welding.

All lengths mm, at the frame's own tubes as the job gives them; x forward, y left, z up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from assemblies.layout.bodies import spring_tube
from assemblies.layout.fasteners import tab_gap_mm
from assemblies.layout.placing import Layout, Seat, needed
from assemblies.making.sheets.mounts import ANCHOR, HOUSING, RINGS, SPINDLE, MountStand, stands
from assemblies.making.sheets.on_tube import OnTube, end_words_of, on_tube, side_of
from assemblies.making.sheets.undrawn import TOE_LINK, undrawn
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import unit, vector

AXLE_MM = 40.0  # of a dummy axle beyond the outer tabs, for nuts and a tape's hook; common practice
LAST = 10  # after the anchor: nothing is measured from it
TAPE_MM = 1.0  # what a tape between two axles may be off, common practice


@dataclass(frozen=True)
class Station:
    """Something on the rocker's axis: `station_mm` from the middle plane of the rocker along the spring's
    way, `point` in the car, `on` how far along which tube."""

    what: str
    station_mm: float
    point: tuple[float, float, float]
    on: str = ""


@dataclass(frozen=True)
class Tape:
    """What a tape reads between two bolt axes, middle to middle; `other_side`: the second one is the mirror
    image on the other side of the car, so that both diagonals must read alike."""

    a: str
    b: str
    mm: float
    other_side: bool


@dataclass(frozen=True)
class OnFrame:
    """All of it, for one side; the other is its mirror image."""

    side: str
    brackets: tuple[OnTube, ...]
    stations: tuple[Station, ...]
    tapes: tuple[Tape, ...]
    axles: tuple[str, ...]
    steps: tuple[str, ...]
    stands: tuple[MountStand, ...] = ()  # on the rocker's axis
    undrawn: tuple[OnTube, ...] = ()  # what stands on the frame and has no part of the job's

    @property
    def in_order(self) -> list[OnTube | MountStand]:
        """Everything with a sheet of its own, in the order of welding."""
        some: list[tuple[float, str, OnTube | MountStand]]
        some = [(_rank(b.body), b.what, b) for b in (*self.brackets, *self.undrawn)]
        some += [(s.rank, s.what, s) for s in self.stands]
        return [item for *_, item in sorted(some, key=lambda t: t[:2])]


def work_out(layout: Layout) -> OnFrame:
    seats = sorted(layout.seats, key=lambda s: (_rank(s.body), s.bracket))
    stations = tuple(_stations(layout))
    standing, yours = tuple(stands(layout)), tuple(undrawn(layout))
    return OnFrame(
        layout.job.corner.side,
        tuple(on_tube(layout, s) for s in seats),
        stations,
        tuple(_tapes(layout, seats, standing, yours)),
        tuple(_axles(layout)),
        tuple(_steps(layout, seats, standing, yours)),
        standing,
        yours,
    )


def _rank(body: str) -> int:
    """The lower arm first, for the rest is measured from it; what the rocker needs before what it moves."""
    order = ("lower_arm", "upper_arm", "tie_rod", "rocker", "damper")
    if body == "droop strap":
        return LAST
    return order.index(body) if body in order else len(order)


# ------------------------------------------------------------ on the rocker's axis


def _stations(layout: Layout) -> list[Station]:
    """Pivot, spring tube or housing, mounts and anchor from the rocker's middle plane, the spring's way."""
    if layout.eyes is None:
        return []
    origin, own = np.array(layout.eyes.frame.origin), unit(layout.eyes.frame.z)
    way = unit(layout.job.spring_direction) if layout.pack is not None else own
    turn = 1.0 if float(way @ own) > 0 else -1.0
    found: list[tuple[str, float]] = [("rocker's middle plane, pivot axis", 0.0)]
    if (p := layout.pivot) is not None and p.kind != "spindle":
        what = {
            "stub": "pivot bearing {} in its tube, middle",
            "cantilever": "pivot spindle, middle of wall {}",
        }
        found += [(what[p.kind].format(n), turn * s) for n, s in enumerate(p.supports_mm, 1)]
    if (h := layout.housing) is not None:
        ends = sorted(float((np.array(e) - origin) @ way) for e in (h.part.from_, h.part.to))
        found += [("spring housing, near end", ends[0]), ("spring housing, far end", ends[1])]
    if layout.anchor_plates is not None:
        turning, fixed = layout.anchor_plates
        found.append(("anchor plate turning, its far face", _far(turning, origin, way)))
        found.append(("anchor plate fixed, its near face", _near(fixed, origin, way)))
    named = {spring_tube(layout), layout.pivot.member if layout.pivot is not None else None}
    tubes = {n: layout.members[n] for n in sorted(n for n in named if n) if n in layout.members}
    return [
        Station(
            what,
            at,
            vector(origin + at * way),
            "; ".join(_along_words(layout, n, t, origin + at * way) for n, t in tubes.items()),
        )
        for what, at in sorted(found, key=lambda f: f[1])
    ]


def _faces(placed, origin: np.ndarray, way: np.ndarray) -> tuple[float, float]:
    f = placed.frame.matrix()
    ends = [(f @ (0.0, 0.0, z, 1.0))[:3] for z in (0.0, placed.part.thickness_mm)]
    a, b = sorted(float((e - origin) @ way) for e in ends)
    return a, b


def _near(placed, origin: np.ndarray, way: np.ndarray) -> float:
    return _faces(placed, origin, way)[0]


def _far(placed, origin: np.ndarray, way: np.ndarray) -> float:
    return _faces(placed, origin, way)[1]


def _along_words(layout: Layout, name: str, tube: Member, point: np.ndarray) -> str:
    """How far along a tube a point is from its nearer end, and how far off its middle."""
    start, axis, side = np.array(tube.from_), unit(np.subtract(tube.to, tube.from_)), side_of(layout)
    s = float((point - start) @ axis)
    off = float(np.linalg.norm(point - start - s * axis))
    near = s <= tube.length_mm / 2
    words = end_words_of(-axis if near else axis, side)
    at = s if near else tube.length_mm - s
    beyond = "beyond" if at < -1e-6 else "from"
    return f"{abs(at):.1f} {beyond} the {words} of {name}" + (
        f", {off:.1f} off its middle" if off > 0.05 else ""
    )


# ------------------------------------------------------------ tape, axles, order


def _tapes(
    layout: Layout, seats: Sequence[Seat], standing: Sequence[MountStand], yours: Sequence[OnTube]
) -> list[Tape]:
    """Every two bolt axes of this side, then each to its own mirror image and the arms' to each other's; what
    stands on the rocker's axis beyond the pivot to the lower arm's axles, to the pivot and crosswise."""
    spots = [(s.bracket, np.array(s.point)) for s in seats]
    if layout.eyes is not None:
        spots.append(("rocker pivot, middle plane", np.array(layout.eyes.frame.origin)))
    if layout.tie_rod is not None:
        spots.append(("tie rod, inner ball", np.array(layout.job.tie_rod.inner)))
    spots += [(b.what, np.array(b.point)) for b in yours if b.what != TOE_LINK]  # that is the ball's own
    out = [Tape(a, b, float(np.linalg.norm(p - q)), False) for (a, p), (b, q) in combinations(spots, 2)]
    mirror = np.array((1.0, -1.0, 1.0))
    arms = [s.bracket for s in seats if s.body in ("lower_arm", "upper_arm")]
    return (
        out
        + [
            Tape(a, b, float(np.linalg.norm(p - q * mirror)), True)
            for i, (a, p) in enumerate(spots)
            for b, q in spots[i:]
            if a == b or {a, b} <= set(arms)
        ]
        + list(_axis_tapes(layout, seats, standing))
    )


def _axis_tapes(layout: Layout, seats: Sequence[Seat], standing: Sequence[MountStand]) -> Iterator[Tape]:
    mirror, pivot = np.array((1.0, -1.0, 1.0)), "rocker pivot, middle plane"
    lower = [(s.bracket, np.array(s.point)) for s in seats if s.body == "lower_arm"]
    for s in standing:
        if s.what not in (ANCHOR, HOUSING):
            continue
        p, name = np.array(s.point), f"{s.what}, {s.marks[0][0].removeprefix('its ')}, on its axis"
        origin = np.array(needed(layout.eyes).frame.origin)
        for other, q in ((pivot, origin), *lower):
            yield Tape(name, other, float(np.linalg.norm(p - q)), False)
        for other, q in ((name, p), (pivot, origin)):
            yield Tape(name, other, float(np.linalg.norm(p - q * mirror)), True)


def _axles(layout: Layout) -> list[str]:
    """The bar through both brackets of an arm that keeps them in line while they are tacked."""
    out = []
    for arm in layout.arms:
        name = arm.replace("_", " ")
        both = (layout.brackets.get(f"{name} {end} bracket") for end in ("front", "rear"))
        pair = [s for s in both if s is not None]
        if len(pair) < 2:
            continue
        a, b = (np.array(s.point) for s in pair)
        outer = sum(tab_gap_mm(*(t.part for t in s.tabs)) / 2 + s.tabs[0].part.thickness_mm for s in pair)
        bolt = pair[0].tabs[0].part.outline().holes[0].diameter_mm
        apart = float(np.linalg.norm(a - b))
        out.append(
            f"{name}: a straight bar of {bolt:g} mm through both brackets, bolt middles {apart:.1f} apart, "
            f"{apart + outer + 2 * AXLE_MM:.0f} long."
        )
    return out


def _steps(
    layout: Layout, seats: Sequence[Seat], standing: Sequence[MountStand], yours: Sequence[OnTube]
) -> list[str]:
    out = [
        "Scribe every place on its tube before the frame is welded, from the long point of the end as it is "
        "sawn; weld the frame's own tubes, let them cool, measure again: what moved counts as it is now.",
    ]
    for body, words in (
        ("lower_arm", "Lower arm's brackets, both on one dummy axle: everything else is measured from it"),
        ("upper_arm", "Upper arm's brackets, both on one dummy axle"),
        ("tie_rod", "Tie rod's bracket"),
    ):
        if some := [s.bracket for s in seats if s.body == body]:
            out.append(f"{words}: {', '.join(some)}. Tack, tape, then the other side, then the diagonals.")
    if layout.tie_rod is not None:
        rod = layout.job.tie_rod
        what = "Rack: its clamps" if rod.rack_travel else "Toe link: its bracket"
        x, y, z = rod.inner
        by_sheet = ": by its sheet" if any(b.body == "tie_rod" for b in yours) else ""
        out.append(
            f"{what} on {rod.member or 'its tube'} (no part given{by_sheet}): inner ball at x {x:g}, "
            f"y {y:g}, z {z:g}, and as the tape list says."
        )
    there = {s.what for s in standing}
    if some := [s.bracket for s in seats if s.body == "rocker"]:
        out.append(f"Rocker's pivot: {', '.join(some)}, with the pivot's own bolt and sleeve as dummy axle.")
    elif RINGS in there:
        out.append(
            f"Pivot bearing rings in {needed(layout.pivot).member}, on the mandrel: plug-weld, then bore in "
            f"line; the mandrel stands for the rocker's pivot."
        )
    elif SPINDLE in there:
        out.append(
            f"Pivot spindle through {needed(layout.pivot).member}: it stands for the rocker's pivot itself."
        )
    if HOUSING in there:
        out.append(
            "Spring housing, on its plugs and the bar through the pivot: in line within 0.5 mm and 0.3 deg "
            "(common practice)."
        )
    if some := [s.bracket for s in seats if s.body == "damper"]:
        out.append(f"{', '.join(some)}, with the rocker on its pivot and a dummy damper at its ride length.")
    if ANCHOR in there:
        out.append(
            "Anchor's fixed plate last, on the same mandrel or bar: its face and its angle by its sheet, "
            "then the tape from the middle of its bore."
        )
    if any(b.body == "droop strap" for b in yours):
        strap = next(b for b in yours if b.body == "droop strap")
        out.append(f"Droop strap's frame end on {strap.tube} (no part given: by its sheet).")
    elif layout.job.droop_strap is not None:
        x, y, z = layout.job.droop_strap.frame
        out.append(f"Droop strap's frame end at x {x:g}, y {y:g}, z {z:g}: no tube is near enough for a lug.")
    out.append(
        "Tack all, take every reading of the tape list on both sides, then weld in short runs, one on this "
        "side, one on the other, axles in place till cold. Ream through both tabs last."
    )
    return out


# ------------------------------------------------------------ tables

HEAD = [
    "bracket",
    "tube",
    "face",
    "from its",
    "bolt axis along, mm",
    "from the sawn long point, mm",
    "bolt aside, mm",
    "towards",
    "bolt over the face, mm",
    "tabs lean, deg",
    "bolt end towards",
    "bolt to tube, deg",
    "gap between tabs, mm",
    "tab",
    "tab's near edge along, mm",
    "tab's far edge along, mm",
    "tab across from, mm",
    "tab across to, mm",
]
STATION_HEAD = ["what", "from the rocker's middle plane, mm", "x, mm", "y, mm", "z, mm", "on its tube"]
TAPE_HEAD = ["from", "to", "on", "reads, mm", "read here", "read there"]


def rows(found: OnFrame) -> list[list[str]]:
    """Of brackets a row a tab, then what has no part, its lean, gap and tabs empty."""
    return [
        [
            *_axis_cells(b),
            f"{b.lean_deg:.1f}",
            b.lean_to,
            f"{b.skew_deg:.1f}",
            f"{b.gap_mm:.2f}",
            t.name,
            *(f"{v:.1f}" for v in (*t.along_mm, *t.across_mm)),
        ]
        for b in found.brackets
        for t in b.tabs
    ] + [
        [*_axis_cells(b), "", "", f"{b.skew_deg:.1f}" if any(b.bolt) else "", *[""] * 6]
        for b in found.undrawn
    ]


def _axis_cells(b: OnTube) -> list[str]:
    """Where a bolt's axis lies on its tube."""
    return [
        b.what,
        b.tube,
        b.face,
        b.end_words + (f" ({b.node})" if b.node else ""),
        f"{b.along_mm:.1f}",
        f"{b.sawn_mm:.1f}",
        f"{b.aside_mm:.1f}",
        b.aside_to,
        f"{b.height_mm:.1f}",
    ]


def station_rows(found: OnFrame) -> list[list[str]]:
    return [[s.what, f"{s.station_mm:.1f}", *(f"{v:.1f}" for v in s.point), s.on] for s in found.stations]


def tape_rows(found: OnFrame) -> list[list[str]]:
    other = {"left": "right", "right": "left"}[found.side]
    return [
        [
            t.a,
            t.b,
            f"{found.side} to {other}, and {other} to {found.side}" if t.other_side else "one side",
            f"{t.mm:.1f}",
            "",
            "",
        ]
        for t in found.tapes
    ]
