"""Where everything of a corner that stands on the frame goes: for each bracket its tube, face, distances
along it from a named end, height, lean; the pivot, spring tube and anchor along the rocker's axis; what a
tape must read between bolt axes; the order of welding.

All lengths mm, at the frame's own tubes as the job gives them; x forward, y left, z up."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from assemblies.layout.fasteners import tab_gap_mm
from assemblies.layout.placing import Layout, Seat, needed
from assemblies.making.sheets.mounts import ANCHOR, HOUSING, RINGS, SPINDLE, MountStand, stands
from assemblies.making.sheets.tube_ends import direction
from parts.member import Member
from parts.shape.form import unit, vector

CONTACT_MM = 0.7  # a foot's edge no further off its tube than its fit-up stands on it
AXLE_MM = 40.0  # of a dummy axle beyond the outer tabs, for nuts and a tape's hook; common practice
TAPE_MM = 1.0  # what a tape between two axles may be off, common practice


@dataclass(frozen=True)
class TabPlace:
    """A tab's foot on its tube: `along_mm` its two edges from the named end, `across_mm` from the face's
    middle line (the sign as `OnTube.aside_mm`'s)."""

    name: str
    along_mm: tuple[float, float]
    across_mm: tuple[float, float]


@dataclass(frozen=True)
class OnTube:
    """A bolt axis on a tube. `along_mm` from the tube's named end as the job gives it (the node), `sawn_mm`
    from the long point of that end as it is sawn; `aside_mm` off the face's middle line towards `aside_to`;
    `height_mm` over the face. `lean_deg` of the tabs from square to the face, bolt end towards `lean_to`;
    `skew_deg` of the bolt from the tube's own direction, in the face."""

    what: str
    body: str  # that its bolt carries
    tube: str
    end: str  # from | to
    end_words: str
    node: str
    face: str
    along_mm: float
    sawn_mm: float
    aside_mm: float
    aside_to: str
    height_mm: float
    lean_deg: float
    lean_to: str
    skew_deg: float
    gap_mm: float
    tabs: tuple[TabPlace, ...]
    # for whoever draws it: car axes
    point: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 0.0))
    way: tuple[float, float, float] = field(repr=False, default=(1.0, 0.0, 0.0))  # along, from the named end
    normal: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 1.0))  # of the face


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

    @property
    def in_order(self) -> list[OnTube | MountStand]:
        """Everything with a sheet of its own, in the order of welding."""
        some: list[tuple[float, str, OnTube | MountStand]]
        some = [(_rank(b.body), b.what, b) for b in self.brackets]
        some += [(s.rank, s.what, s) for s in self.stands]
        return [item for *_, item in sorted(some, key=lambda t: t[:2])]


def work_out(layout: Layout) -> OnFrame:
    seats = sorted(layout.seats, key=lambda s: (_rank(s.body), s.bracket))
    stations = tuple(_stations(layout))
    standing = tuple(stands(layout))
    return OnFrame(
        layout.job.corner.side,
        tuple(on_tube(layout, s) for s in seats),
        stations,
        tuple(_tapes(layout, seats, standing)),
        tuple(_axles(layout)),
        tuple(_steps(layout, seats, standing)),
        standing,
    )


def _rank(body: str) -> int:
    """The lower arm first, for the rest is measured from it; what the rocker needs before what it moves."""
    order = ("lower_arm", "upper_arm", "tie_rod", "rocker", "damper")
    return order.index(body) if body in order else len(order)


# ------------------------------------------------------------ a bracket on its tube


def on_tube(layout: Layout, seat: Seat) -> OnTube:
    member, side = layout.members[seat.member], _side(layout)
    m = member.frame.matrix()
    eye = np.linalg.inv(m) @ (*seat.point, 1.0)
    end = "from" if eye[2] <= member.length_mm / 2 else "to"
    sign = 1.0 if end == "from" else -1.0
    normal, half = _face(member, eye[:2])
    across = np.array((-normal[1], normal[0]))
    across *= math.copysign(1.0, float(eye[:2] @ across) or sign)
    flat = np.array((*normal, 0.0))

    def car(v) -> np.ndarray:
        return m[:3, :3] @ np.asarray(v, float)

    low = seat.tabs[0].part
    toward = np.linalg.inv(m)[:3, :3] @ np.array(low.frame.x)  # from the bolt to the tube
    out = -toward - float(-toward @ flat) * flat
    lean = math.degrees(math.acos(max(-1.0, min(1.0, float(-toward @ flat)))))
    bolt = np.linalg.inv(m)[:3, :3] @ np.array(low.frame.z)
    in_face = bolt - float(bolt @ flat) * flat
    skew = math.degrees(math.acos(min(1.0, abs(float(unit(in_face)[2])))))
    along = float(eye[2]) if end == "from" else member.length_mm - float(eye[2])
    cut = layout.junctions.ends.get((seat.member, end))
    node = layout.junctions.node_of(seat.member, end)
    return OnTube(
        seat.bracket,
        seat.body,
        seat.member,
        end,
        _end_words(-sign * m[:3, 2], side),
        node.name if node else "",
        _face_words(member, normal, car(flat), side),
        along,
        along - (cut.long_mm if cut is not None and cut.line is not None else 0.0),
        round(float(eye[:2] @ across), 9),
        direction(car((*across, 0.0)), side),
        float(eye[:2] @ normal) - half,
        lean,
        direction(unit(car(out)), side) if lean > 0.05 else "",
        skew,
        tab_gap_mm(*(t.part for t in seat.tabs)),
        tuple(_tab(member, m, t, end, across) for t in seat.tabs),
        vector(seat.point),
        vector(sign * m[:3, 2]),
        vector(car(flat)),
    )


def _tab(member: Member, m: np.ndarray, tab, end: str, across: np.ndarray) -> TabPlace:
    """The part of a tab's rim that stands on its tube, both faces of the plate."""
    from shapely import Polygon, contains_xy

    rim = np.array(tab.part.outline().outer.points(0.02))
    fine = np.concatenate(
        [a + (b - a) * np.linspace(0, 1, 24)[:, None] for a, b in zip(rim, np.roll(rim, -1, 0), strict=True)]
    )
    there = np.linalg.inv(m) @ tab.part.frame.matrix()
    spots = np.concatenate(
        [
            np.column_stack((fine, np.full(len(fine), z), np.ones(len(fine)))) @ there.T
            for z in (0.0, tab.part.thickness_mm)
        ]
    )
    body = Polygon(member.section.outer().points(0.02)).buffer(CONTACT_MM)
    on = spots[contains_xy(body, spots[:, 0], spots[:, 1])]
    s = on[:, 2] if end == "from" else member.length_mm - on[:, 2]
    u = on[:, :2] @ across
    return TabPlace(tab.name, (float(s.min()), float(s.max())), (float(u.min()), float(u.max())))


def _face(member: Member, eye: np.ndarray) -> tuple[np.ndarray, float]:
    """Outward normal in the section of the face that looks at a bolt, and how far that face is from the
    middle."""
    s = member.section
    if s.is_round:
        return eye / math.hypot(*eye), s.width_mm / 2
    half = np.array((s.width_mm, s.height_mm)) / 2
    k = int(np.argmax(np.abs(eye) - half))
    normal = np.zeros(2)
    normal[k] = math.copysign(1.0, eye[k])
    return normal, float(half[k])


def _face_words(member: Member, normal: np.ndarray, car: np.ndarray, side: float) -> str:
    if not member.section.is_round:
        return f"{_faced(direction(car, side))} face"
    m = member.frame.matrix()[:3, :3]
    top, word = np.array((0.0, 0.0, 1.0)), "top"
    if abs(m[2, 2]) > 0.98:
        top, word = np.array((1.0, 0.0, 0.0)), "front"
    top = unit(top - float(top @ m[:, 2]) * m[:, 2])
    turn = math.acos(max(-1.0, min(1.0, float(car @ top))))
    beside = car - float(car @ top) * top
    to = direction(unit(beside), side) if turn > 1e-3 else ""
    arc = turn * member.section.width_mm / 2
    return f"round: {math.degrees(turn):.1f} deg from its {word}" + (
        f" to {to}, {arc:.1f} along the outside" if to else ""
    )


def _faced(words: str) -> str:
    return words.replace("up", "upper").replace("down", "lower").replace(" and ", " ")


def _end_words(v: np.ndarray, side: float) -> str:
    return f"{_faced(direction(v, side))} end"


def _side(layout: Layout) -> float:
    return 1.0 if layout.job.corner.side == "left" else -1.0


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
    named = {layout.pivot.member if layout.pivot is not None else "", _housing_member(layout)} - {""}
    tubes = {n: layout.members[n] for n in sorted(named) if n in layout.members}
    return [
        Station(
            what,
            at,
            vector(origin + at * way),
            "; ".join(_along_words(layout, n, t, origin + at * way) for n, t in tubes.items()),
        )
        for what, at in sorted(found, key=lambda f: f[1])
    ]


def _housing_member(layout: Layout) -> str:
    housing = getattr(layout.job.spring, "housing", None)
    return (housing is not None and getattr(housing, "member", None)) or ""


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
    start, axis, side = np.array(tube.from_), unit(np.subtract(tube.to, tube.from_)), _side(layout)
    s = float((point - start) @ axis)
    off = float(np.linalg.norm(point - start - s * axis))
    near = s <= tube.length_mm / 2
    words = _end_words(-axis if near else axis, side)
    at = s if near else tube.length_mm - s
    beyond = "beyond" if at < -1e-6 else "from"
    return f"{abs(at):.1f} {beyond} the {words} of {name}" + (
        f", {off:.1f} off its middle" if off > 0.05 else ""
    )


# ------------------------------------------------------------ tape, axles, order


def _tapes(layout: Layout, seats: Sequence[Seat], standing: Sequence[MountStand]) -> list[Tape]:
    """Every two bolt axes of this side, then each to its own mirror image and the arms' to each other's; what
    stands on the rocker's axis beyond the pivot to the lower arm's axles, to the pivot and crosswise."""
    spots = [(s.bracket, np.array(s.point)) for s in seats]
    if layout.eyes is not None:
        spots.append(("rocker pivot, middle plane", np.array(layout.eyes.frame.origin)))
    if layout.tie_rod is not None:
        spots.append(("tie rod, inner ball", np.array(layout.job.tie_rod.inner)))
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


def _steps(layout: Layout, seats: Sequence[Seat], standing: Sequence[MountStand]) -> list[str]:
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
        out.append(
            f"{what} on {rod.member or 'its tube'} (not drawn): inner ball at x {x:g}, y {y:g}, z {z:g}, "
            f"and as the tape list says."
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
    return [
        [
            b.what,
            b.tube,
            b.face,
            b.end_words + (f" ({b.node})" if b.node else ""),
            f"{b.along_mm:.1f}",
            f"{b.sawn_mm:.1f}",
            f"{b.aside_mm:.1f}",
            b.aside_to,
            f"{b.height_mm:.1f}",
            f"{b.lean_deg:.1f}",
            b.lean_to,
            f"{b.skew_deg:.1f}",
            f"{b.gap_mm:.2f}",
            t.name,
            *(f"{v:.1f}" for v in (*t.along_mm, *t.across_mm)),
        ]
        for b in found.brackets
        for t in b.tabs
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
