"""Welding jigs as drilling plans: a base plate, the pins in it, spacers, and clamps out of the welding way.

Base plate: origin where the part's own is (pivot, bolt, spring axis), x and y in its upper face, z up from
that face. What locates the work are its finished eyes: every base hole stands at a finished eye's centre,
none at a pilot or jig hole. A pin has a spigot in the base and, above it, the diameter that fits the eye as
it is when welded. Base plates are drilled through: turned over, with the pins put in from the other face, the
same plate serves the other hand. Lengths mm; forces none.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import REAMERS_MM, clearance_hole_mm, reaming_drill_mm
from parts.part import Flat
from parts.rocker import BoxedRocker
from parts.rocker_plate import ARMS
from parts.shape.form import Form, Frame, Prism
from parts.shape.outline import Hole, Mark, Outline, Point, Segment, circle, rectangle
from parts.tab import Tab

BASE_MM = 10.0  # plate of the base, common practice
EDGE_MM = 20.0  # base beyond the outermost hole
PROUD_MM = 5.0  # pin above the work
ARM_HALF_MM = 10.0  # half the breadth of a toggle's arm, common practice
FENCE_MM = 6.0
BENCH = "M8"


@dataclass(frozen=True)
class Pin:
    """`spigot_mm` in the base, `diameter_mm` above it (less a sliding 0.02 to 0.05; of a pin with a `section`
    the circle round it), `height_mm` over the base's face."""

    number: int
    purpose: str
    x: float
    y: float
    spigot_mm: float
    diameter_mm: float
    height_mm: float
    note: str = ""
    section: str = ""  # of a pin that is not round above the base

    @property
    def above(self) -> str:
        """What stands over the base, in words: its section, or its diameter."""
        return self.section or f"Ø{self.diameter_mm:.4g}"


@dataclass(frozen=True)
class JigSpacer:
    """A tube or washer on a pin: `length_mm` to be faced to 0.05."""

    purpose: str
    length_mm: float
    inner_mm: float
    outer_mm: float
    count: int


@dataclass(frozen=True)
class Toggle:
    """A clamp that presses at `pad`, its body bolted to the base at `foot`; `clear_mm` from its arm to the
    nearest weld."""

    number: int
    pad: Point
    foot: Point
    pad_height_mm: float
    clear_mm: float


@dataclass(frozen=True)
class Jig(Flat):
    """A base plate, which is its form, and what stands on it. `shrink_mm`: how much further from the pivot
    the eyes stand than finished (0: none)."""

    name: str
    base: Outline
    pins: tuple[Pin, ...]
    spacers: tuple[JigSpacer, ...]
    toggles: tuple[Toggle, ...]
    notes: tuple[str, ...]
    thickness_mm: float = BASE_MM
    shrink_mm: float = 0.0
    side: str = "left"  # the side of the car it is drawn for

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(thickness_mm=self.thickness_mm)
        require.not_negative(shrink_mm=self.shrink_mm)

    def outline(self) -> Outline:
        return self.base

    def form(self) -> Form:
        return Form((Prism(self.base, self.thickness_mm, Frame((0.0, 0.0, -self.thickness_mm))),))

    def turned_over(self) -> Jig:
        """The same base seen on its other face: x changes sign."""

        def at(p: Point) -> Point:
            return -p[0], p[1]

        return replace(
            self,
            base=self.base.mirrored(),
            pins=tuple(replace(p, x=-p.x) for p in self.pins),
            toggles=tuple(replace(t, pad=at(t.pad), foot=at(t.foot)) for t in self.toggles),
        )


def rocker_jig(rocker: BoxedRocker, shrink_mm: float = 0.0) -> Jig:
    """Jig of a boxed rocker: pins in pivot tube and both eyes, spacers of the box's width, toggles on the eye
    pins.

    `shrink_mm` moves both eyes out along their arms by that much: an explicit option, 0 unless asked for. The
    eyes are drilled to the reamer's drill when welded and reamed when cold; a straight pin of the finished
    size then proves the jig. Raises ValueError for a shrink allowance under 0 or over 2 mm."""
    if not 0 <= shrink_mm <= 2:
        raise ValueError(
            f"shrink_mm is {shrink_mm:g}; it must be 0 to 2 mm (0.3 to 0.8 eye to eye is usual without pins)"
        )
    p, tube, t = rocker.plate, rocker.tube, rocker.plate.thickness_mm
    spigot = max((d for d in REAMERS_MM if d <= max(p.rod_hole_mm, p.damper_hole_mm)), default=REAMERS_MM[0])
    stack = tube.ends_mm + 2 * t + rocker.box_width_mm
    pins = [
        Pin(
            1,
            "pivot tube",
            0.0,
            0.0,
            spigot,
            tube.bore_mm,
            stack + tube.ends_mm,
            "plug turned to the tube's bore; take it out while the tube can still be turned by hand",
        )
    ]
    spacers: list[JigSpacer] = []
    toggles: list[Toggle] = []
    welds = weld_lines(rocker)
    for n, arm in enumerate(ARMS, 2):
        x, y = p.eye(arm)
        grow = 1 + shrink_mm / math.hypot(x, y)
        x, y = x * grow, y * grow
        hole = p.hole_mm(arm)
        pins.append(
            Pin(
                n,
                f"{arm} eye",
                x,
                y,
                spigot,
                reaming_drill_mm(hole),
                stack + PROUD_MM,
                f"reaming drill's size for welding; after reaming a straight pin of {hole:g} proves the eye",
            )
        )
        toggles.append(_toggle(n - 1, (x, y), p.eye_boss(arm).radius_mm + 45.0, stack + PROUD_MM + 10, welds))
        tubing = (pins[-1].diameter_mm, math.ceil(pins[-1].diameter_mm + 8))
        spacers += [
            JigSpacer(
                f"pin {n}, under the lower plate: the pivot tube's end then stands on the base",
                tube.ends_mm,
                *tubing,
                1,
            ),
            JigSpacer(f"pin {n}, between the plates", rocker.box_width_mm, *tubing, 1),
            JigSpacer(f"pin {n}, collar under the toggle's pad", 10.0 + PROUD_MM, *tubing, 1),
        ]
    traced = Mark("line", tuple([*p.outer.points(0.05), p.outer.segments[0].start]))
    notes = [
        "The eyes locate, not the small jig holes: those only hold the stack while it is drilled.",
        "Turn each pin 0.02 to 0.05 under the size given, so that it slides; base holes are the reamer's "
        "size.",
        "Tube's long end up, where it has one. Turn the base over and put the pins in from its other face "
        "for the other hand.",
        f"Shrink allowance {shrink_mm:g} mm on each arm."
        if shrink_mm
        else "No shrink allowance: pins stay in till all is cold.",
    ]
    return Jig(
        "rocker jig base",
        _base(pins, toggles, (traced,), p.outer.bounds),
        tuple(pins),
        tuple(spacers),
        tuple(toggles),
        tuple(notes),
        shrink_mm=shrink_mm,
    )


def weld_lines(rocker: BoxedRocker) -> tuple[Segment, ...]:
    """Where a torch goes, seen along the pivot's axis: round the pivot tube and along the strips' outer
    faces."""
    return (
        *circle(0.0, 0.0, rocker.tube.outer_mm).segments,
        *(s for strip in rocker.strips for s in strip.path),
    )


def _toggle(number: int, pad: Point, reach_mm: float, height_mm: float, welds: tuple[Segment, ...]) -> Toggle:
    """The direction, of 72, in which the arm from pad to foot stays furthest from every weld."""
    best = -math.inf, 0.0
    for k in range(72):
        a = 2 * math.pi * k / 72
        on = [(pad[0] + s * math.cos(a), pad[1] + s * math.sin(a)) for s in np.linspace(0, reach_mm, 13)]
        clear = min(w.distance_mm(*q) for w in welds for q in on) - ARM_HALF_MM
        if clear > best[0] + 1e-9:
            best = clear, a
    clear, a = best
    return Toggle(
        number, pad, (pad[0] + reach_mm * math.cos(a), pad[1] + reach_mm * math.sin(a)), height_mm, clear
    )


def bracket_jig(name: str, low: Tab, high: Tab, inside_gap_mm: float, bolt_mm: float) -> Jig:
    """Jig of a pair of tabs on a dummy axle: the axle through both eyes, a spacer of the gap between, two
    fence pins at the flanks.

    The base lies on the first tab's outer face and ends short of the member, so that the pair is offered to
    the tube with it on."""
    t = low.thickness_mm
    height = 2 * t + inside_gap_mm
    pins = [
        Pin(
            1,
            "dummy axle",
            0.0,
            0.0,
            bolt_mm,
            bolt_mm,
            height + 15.0,
            "a bar of the bolt's size, threaded at its end for a nut; both ears stay in line",
        )
    ]
    limit = low.reach_mm - 4.0
    for n, (x, y) in enumerate(_fence(low.outline(), limit - FENCE_MM), 2):
        pins.append(
            Pin(n, "fence at the flank", x, y, FENCE_MM, FENCE_MM, height, "keeps both tabs turned alike")
        )
    same = all(
        min(s.distance_mm(x, y) for s in high.outline().outer.segments) < FENCE_MM / 2 + 0.3
        for x, y in [(q.x, q.y) for q in pins[1:]]
    )
    spacers = (JigSpacer("between the tabs, on the axle", inside_gap_mm, bolt_mm, math.ceil(bolt_mm + 8), 1),)
    x0, y0, _, y1 = low.outline().outer.bounds
    traced = Mark("line", tuple([*low.outline().outer.points(0.05), low.outline().outer.segments[0].start]))
    lowest = min([y0, *(q.y for q in pins)])
    highest = max([y1, *(q.y for q in pins)])
    box = rectangle(x0 - 30.0, lowest - 15.0, limit, highest + 15.0)
    holes = tuple(_pin_hole(q) for q in pins)
    notes = [
        "Nut up hand-tight on the spacer, offer the pair with its base to the tube, tack, check the axle's "
        "place from the datum, tack the rest.",
        "Tack only to a tube whose own welds are done and cold; the axle stays in till the bracket is cold, "
        "then ream through both tabs.",
    ]
    if len(pins) < 3:
        notes.append(
            "No room for fence pins short of the member: turn both tabs alike by eye, flanks in line with a "
            "straightedge."
        )
    if not same:
        notes.append("The second tab is cut differently: only the axle and its own foot hold it.")
    return Jig(
        f"{name} jig base", Outline(box, holes=holes, marks=(traced,)), tuple(pins), spacers, (), tuple(notes)
    )


def _fence(outline: Outline, most_x: float) -> list[Point]:
    """Centres of pins that touch the straight flanks either side of the boss, as far from it as a third of
    the flank and `most_x` allow; a flank that begins beyond `most_x` gets none."""
    segments = outline.outer.segments
    i = next((k for k, s in enumerate(segments) if s.bulge > 0 and math.hypot(*s.centre) < 1e-6), None)
    if i is None:
        return []
    out = []
    for s, away in ((segments[i - 1], True), (segments[(i + 1) % len(segments)], False)):
        if s.bulge or s.length < 2:
            continue
        nx, ny = (
            (s.end[1] - s.start[1]) / s.length,
            -(s.end[0] - s.start[0]) / s.length,
        )  # outward: to the right of the way round
        touching = [s.at(1 - k / 60 if away else k / 60) for k in range(1, 21)]
        fitting = [
            (x + FENCE_MM / 2 * nx, y + FENCE_MM / 2 * ny)
            for x, y in touching
            if x + FENCE_MM / 2 * nx <= most_x
        ]
        out += fitting[-1:]
    return out


def sleeve_jig(sleeve, socket, mandrel: str) -> Jig:
    """Jig of the sleeve's outer tube on its socket: the stack lies on the base, mouth down, the tube stands
    on it.

    Seen from above the tube's z points down, so its angles run clockwise here. `mandrel` says what fills the
    window."""
    outer = sleeve.outer_mm
    reach = (max(outer, socket.outer_diameter_mm) + 8.0) / 2
    pins = [
        Pin(
            1,
            "mandrel in the window",
            0.0,
            0.0,
            10.0,
            2 * socket.reach_mm - 1.0,
            socket.depth_mm + 5.0,
            "on a spigot; a mild bar, never the spring",
            mandrel,
        )
    ]
    height = socket.depth_mm + 60.0
    pins += [
        Pin(n, "fence round tube and stack", reach * math.cos(a), reach * math.sin(a), 8.0, 8.0, height, "")
        for n, a in ((k + 2, math.radians(90 + 120 * k)) for k in range(3))
    ]
    first = sleeve.holes("outer")[0]
    a = -math.radians(first.angle_deg)
    far = reach + 12.0
    marks = [Mark("line", ((-far, 0.0), (far, 0.0))), Mark("text", ((far - 22.0, 1.5),), "window x", 2.5)]
    if abs(math.sin(a)) > 1e-3:
        marks += [
            Mark("line", ((-far * math.cos(a), -far * math.sin(a)), (far * math.cos(a), far * math.sin(a)))),
            Mark("text", ((far * math.cos(a), far * math.sin(a)),), "hole", 2.5),
        ]
    notes = [
        "Lay the window's scribed line on the line marked here; tack between the fences, lift off, weld "
        "round in four runs, opposite run next.",
        f"Before welding pass a straight bar through the tube's first hole, {first.z_mm:.1f} mm from its "
        f"rocker end: it must lie over the line "
        f"at {first.angle_deg:.1f} deg from the window's x (clockwise seen from above).",
        "For the other hand turn the base over: the hole's angle changes its sign.",
        "Never use the spring itself as mandrel: one spatter dot is a crack seed.",
    ]
    side = far + 8.0
    holes = tuple(_pin_hole(q) for q in pins)
    return Jig(
        "sleeve jig base",
        Outline(rectangle(-side, -side, side, side), holes=holes, marks=tuple(marks)),
        tuple(pins),
        (),
        (),
        tuple(notes),
    )


def _pin_hole(q: Pin) -> Hole:
    return Hole(q.x, q.y, q.spigot_mm, f"pin {q.number}, {q.purpose}", "reamed")


def _base(
    pins: list[Pin], toggles: list[Toggle], marks: tuple[Mark, ...], work: tuple[float, float, float, float]
) -> Outline:
    """A rectangle round everything, up to whole 5 mm, bolted to the bench at its corners."""
    xs = [
        work[0],
        work[2],
        *(p.x for p in pins),
        *(t.foot[0] + s * EDGE_MM for t in toggles for s in (-1, 1)),
    ]
    ys = [
        work[1],
        work[3],
        *(p.y for p in pins),
        *(t.foot[1] + s * EDGE_MM for t in toggles for s in (-1, 1)),
    ]
    x0, y0 = (5 * math.floor((min(v) - EDGE_MM) / 5) for v in (xs, ys))
    x1, y1 = (5 * math.ceil((max(v) + EDGE_MM) / 5) for v in (xs, ys))
    bench = clearance_hole_mm(BENCH)
    corners = tuple(
        Hole(x, y, bench, "to the bench", "clearance")
        for x in (x0 + 12.0, x1 - 12.0)
        for y in (y0 + 12.0, y1 - 12.0)
    )
    arms = tuple(
        m
        for t in toggles
        for m in (
            Mark("line", (t.pad, t.foot)),
            Mark("pop", (t.foot,)),
            Mark("text", ((t.foot[0] + 3, t.foot[1] + 3),), f"toggle {t.number}", 3.0),
        )
    )
    return Outline(
        rectangle(x0, y0, x1, y1), holes=(*(_pin_hole(p) for p in pins), *corners), marks=(*marks, *arms)
    )
