"""What stands on the frame along the rocker's axis, each as the builder marks it out: the rings of the
pivot's bearings, a spindle through a tube's walls, the spring's own housing, the anchor.

All lengths mm, at the frame's own tubes as the job gives them; x forward, y left, z up."""

from __future__ import annotations

import math
from dataclasses import field

import numpy as np

from assemblies.layout.bodies import spring_tube
from assemblies.layout.placing import Layout, Placed, needed
from assemblies.layout.stub import PLUG_MM, PLUGS
from assemblies.making.sheets.on_tube import end_words_of, faced, side_of
from assemblies.making.sheets.tube_ends import direction
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import unit, vector

RINGS, SPINDLE, HOUSING, ANCHOR = (
    "pivot bearing rings",
    "pivot spindle",
    "spring housing",
    "anchor plate fixed",
)
RANKS = {RINGS: 3.2, SPINDLE: 3.2, HOUSING: 3.4, ANCHOR: 9.0}  # beside those of the brackets
LINE_MM, LINE_DEG = 0.5, 0.3  # of what shares the rocker's axis, common practice


@dataclass(frozen=True)
class MountStand:
    """One of them. `marks`: what, and how far from the named end of its tube (`tube` empty: from the rocker's
    middle plane); negative lies beyond that end. `turn_deg`: how its scribed line lies, clockwise from
    `top` for somebody who looks along `look`. `lines`: all of it in words."""

    what: str
    tube: str
    end_words: str
    marks: tuple[tuple[str, float], ...]
    turn_deg: float | None
    top: str
    lines: tuple[str, ...]
    # for whoever draws it: car axes
    parts: tuple[Placed, ...] = field(repr=False, default=())
    start: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 0.0))  # where marks count from
    way: tuple[float, float, float] = field(repr=False, default=(1.0, 0.0, 0.0))  # the way they count
    point: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 0.0))
    look: tuple[float, float, float] = field(repr=False, default=(1.0, 0.0, 0.0))  # of who sees it end on

    @property
    def rank(self) -> float:
        return RANKS[self.what]

    @property
    def short(self) -> str:
        """Its place in a line."""
        name, at = self.marks[0]
        of = f"{self.end_words} of {self.tube}" if self.tube else self.end_words
        return f"{self.what}: {name} {at:.1f} from the {of}"


def stands(layout: Layout) -> list[MountStand]:
    """Those that the corner has, in the order of welding."""
    if layout.eyes is None:
        return []
    found = [_rings(layout), _spindle(layout), _housing(layout), _anchor(layout)]
    return sorted((s for s in found if s is not None), key=lambda s: s.rank)


def top_of(way: np.ndarray) -> tuple[np.ndarray, str]:
    """What is up across an axis; the front where the axis itself stands upright."""
    top, word = np.array((0.0, 0.0, 1.0)), "straight up"
    if abs(way[2]) > 0.98:
        top, word = np.array((1.0, 0.0, 0.0)), "straight ahead"
    return unit(top - float(top @ way) * way), word


def clockwise_deg(v: np.ndarray, way: np.ndarray) -> float:
    """How far `v` lies clockwise from the top for somebody who looks along `way`, 0 to 360.

    >>> round(clockwise_deg(np.array((0.0, -1.0, 0.0)), np.array((1.0, 0.0, 0.0))))
    90
    """
    top, _ = top_of(way)
    return math.degrees(math.atan2(float(v @ np.cross(way, top)), float(v @ top))) % 360


def _axis(layout: Layout) -> tuple[np.ndarray, np.ndarray]:
    """The rocker's middle and the way the spring goes from it."""
    eyes = needed(layout.eyes).frame
    origin, own = np.array(eyes.origin), unit(eyes.z)
    way = unit(layout.job.spring_direction) if layout.pack is not None else own
    return origin, np.array(way)


def _end(layout: Layout, tube: Member, point: np.ndarray) -> tuple[np.ndarray, np.ndarray, str]:
    """The nearer end of a tube, the way from it to the tube's middle, and its words."""
    a, b = np.array(tube.from_), np.array(tube.to)
    start, far = (a, b) if np.linalg.norm(point - a) <= np.linalg.norm(point - b) else (b, a)
    way = np.array(unit(far - start))
    return start, way, end_words_of(-way, side_of(layout))


def _faces(p: Placed, long_mm: float) -> np.ndarray:
    m = p.frame.matrix()
    return np.array([(m @ (0.0, 0.0, z, 1.0))[:3] for z in (0.0, long_mm)])


def _rings(layout: Layout) -> MountStand | None:
    if layout.pivot is None or layout.pivot.kind != "stub":
        return None
    tube = layout.members[layout.pivot.member]
    rings = tuple(p for p in layout.placed if p.name.startswith("pivot bearing ring"))
    origin, _ = _axis(layout)
    start, way, words = _end(layout, tube, origin)
    marks: list[tuple[str, float]] = []
    edges = []
    for p in rings:
        a, b = sorted(float((f - start) @ way) for f in _faces(p, p.part.length_mm))
        number = p.name.rsplit(" ", 1)[-1]
        marks += [(f"ring {number}, near edge", a), (f"ring {number}, its plugs", (a + b) / 2)]
        marks.append((f"ring {number}, far edge", b))
        edges.append((a, b))
    plane = float((origin - start) @ way)
    (_, first), (second, _) = sorted(edges)
    ring, (_, top) = rings[0].part, top_of(way)
    lines = (
        f"Counted from the {words} of {layout.pivot.member}, sawn square. The rocker's middle plane lies "
        f"{abs(plane):.1f} {'before it' if plane < 0 else 'inside it'}, on the tube's axis.",
        "; ".join(f"{what} {at:.1f}" for what, at in marks) + ".",
        f"Plug holes: {PLUGS} of {PLUG_MM:g} round each ring, a quarter turn apart, the first {top}; drill "
        f"them through the tube's wall alone.",
        f"Rings: Ø{ring.outer_mm:g} to the tube's bore as measured, bored Ø{ring.bore_mm:g}; "
        f"{second - first:.1f} of free tube between them: the spacer of the mandrel (drawings.pdf) sets it.",
        f"Plug-weld with the mandrel through both rings; in line with the rocker's axis within {LINE_MM:g} "
        f"mm and {LINE_DEG:g} deg (common practice); bore both when cold, then press the bearings in.",
        "The mandrel's pin stands for the pivot's axis: hook the tape there, at the rocker's middle plane, "
        "for the readings of tape-checks.csv.",
    )
    middle = np.mean([_faces(p, p.part.length_mm).mean(0) for p in rings], 0)
    return _stand(RINGS, layout.pivot.member, words, marks, None, lines, rings, start, way, middle)


def _spindle(layout: Layout) -> MountStand | None:
    if layout.pivot is None or layout.pivot.kind != "cantilever":
        return None
    (bar,) = (p for p in layout.placed if p.name == SPINDLE)
    tube = layout.members[layout.pivot.member]
    origin, _ = _axis(layout)
    away = np.array(unit(bar.frame.z))  # from the free end into the tube
    near, far = (origin + s * np.array(needed(layout.eyes).frame.z) for s in layout.pivot.supports_mm)
    start, way, words = _end(layout, tube, near)
    along = float((near - start) @ way)
    wall = layout.pivot.wall_mm / 2
    plane = float((near - origin) @ away) - wall
    beyond = float((_faces(bar, bar.part.length_mm)[1] - far) @ away) - wall
    face = faced(direction(-away, side_of(layout)))
    lines = (
        f"Holes Ø{bar.part.outer_mm:g} through both walls, square to them, their middle {along:.1f} from the "
        f"{words} of {layout.pivot.member}, on the middle line of the {face} face and of "
        f"the one behind it. Drill both in one setting from that face; the spindle slides through.",
        f"The rocker's middle plane lies {plane:.1f} before that face: scribe it on the spindle, "
        f"{bar.part.length_mm - beyond - float((far - near) @ away) - 2 * wall - plane:.1f} from its free "
        f"end.",
        f"The spindle stands {beyond:.1f} out of the far wall for its fillet. Weld round both walls, a "
        f"quarter at a time, opposite quarter next, before the bushes go in.",
        "The spindle itself stands for the pivot's axis: hook the tape at its scribed line for the readings "
        "of tape-checks.csv.",
    )
    marks = [("middle of both holes", along)]
    return _stand(SPINDLE, layout.pivot.member, words, marks, None, lines, (bar,), start, way, near)


def _housing(layout: Layout) -> MountStand | None:
    if layout.housing is None:
        return None
    origin, way = _axis(layout)
    tube = layout.housing.part
    ends = sorted(float((np.array(e) - origin) @ way) for e in (tube.from_, tube.to))
    marks = [("near end", ends[0]), ("far end", ends[1])]
    lines = (
        f"Round {tube.section.width_mm:g} x {tube.section.wall_mm:g}, {ends[1] - ends[0]:.1f} long, on the "
        f"rocker's axis: near end {ends[0]:.1f} and far end {ends[1]:.1f} from the rocker's middle plane.",
        f"In line with the rocker's axis within {LINE_MM:g} mm and {LINE_DEG:g} deg (common practice): both "
        f"plugs of its jig (drawings.pdf) on the one straight bar that also stands for the pivot.",
        "Its brackets to the frame are not drawn: stand them on tubes that the load path names, tack, tape "
        "from the bar's ends to the arms' axles, then weld in short runs.",
    )
    near = origin + ends[0] * way
    words = "rocker's middle plane"
    return _stand(HOUSING, "", words, marks, None, lines, (layout.housing,), origin, way, near)


def _anchor(layout: Layout) -> MountStand | None:
    if layout.anchor_plates is None:
        return None
    fixed = layout.anchor_plates[1]
    origin, away = _axis(layout)
    faces = _faces(fixed, fixed.part.thickness_mm)
    stations = sorted(float((f - origin) @ away) for f in faces)
    near = origin + stations[0] * away
    name = spring_tube(layout) or ""
    if name:
        start, way, words = _end(layout, layout.members[name], near)
        at = float((near - start) @ way)
        marks = [("its near face", at)]
        held = f"its near face {abs(at):.1f} from the {words} of {name}" + (
            ", welded on that end" if abs(at) < 0.05 else ""
        )
    else:
        start, way, words = origin, away, "rocker's middle plane"
        marks = [("its near face", stations[0])]
        held = "on a mount of its own that is not drawn"
    line = np.array(fixed.frame.x)
    turn = clockwise_deg(line, -away)
    _, top = top_of(-away)
    lines = (
        f"Fixed plate {held}, {stations[0]:.1f} from the rocker's middle plane; its bore of "
        f"{fixed.part.bore_mm:g} on the rocker's axis within {LINE_MM:g} mm, square to it within "
        f"{LINE_DEG:g} deg (common practice).",
        f"Turn it so that its scribed line lies {turn:.1f} deg clockwise from {top}, for somebody behind the "
        f"anchor who looks towards the rocker, its marked face to him; as much anticlockwise on the other "
        f"side of the car, whose plate is the mirror image. {_tooth_0(fixed.part)}",
        "Hold it on its jig (drawings.pdf), set the angle with a level on a bar laid over two bolts straight "
        "across; four tacks, read the angle again, weld in quarters.",
        "Last of all: rocker and spring tube stand on their axis already. The spring is out of the car.",
    )
    return _stand(
        ANCHOR, name, words, marks, turn, lines, layout.anchor_plates[::-1], start, way, near, -away
    )


def _tooth_0(plates) -> str:
    """Where the bolts of the design setting stand."""
    first = min((abs((f + 180) % 360 - 180) for _, _, f in plates.bolts(0)), default=180.0)
    if first > 1e-6:
        return "The pair of holes for the design setting: set-up.pdf."
    return "Then the design setting, tooth 0, is the pair of holes on that line."


def _stand(what, tube, words, marks, turn, lines, parts, start, way, point, look=None) -> MountStand:  # noqa: PLR0913  # fields of a Stand
    look = way if look is None else look
    return MountStand(
        what,
        tube,
        words,
        tuple((w, round(float(v), 6) + 0.0) for w, v in marks),
        turn,
        top_of(np.asarray(look, float))[1],
        tuple(lines),
        tuple(parts),
        vector(start),
        vector(way),
        vector(point),
        vector(look),
    )
