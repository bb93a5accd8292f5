"""What carries the rod's outboard bolt on an arm, in double shear: a bolt sleeve on each of the arm's two
tubes.

A bolt along the arm's hinge stands between or just over the arm's tubes, where head or nut would strike them
beside a pair of plates. So each tube gets a sleeve, bored to the bolt and long enough that head and nut seat
beyond the tube: over it, coped to its outside and welded all round the saddle, or through it, in a hole
drilled along the bolt and welded all round on both sides. A drilled tube gets a fin: a plate that stands on
it edgewise, beside the hole, on the side away from the rod.

All in the arm's local axes. Frames of sleeves: origin on the bolt at the end beside the ball, z along the
bolt away from it, x toward the arm's plane.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import replace
from functools import cached_property

import numpy as np

from parts.arm import Arm
from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import hexagon, washer
from parts.member import Member
from parts.member_shadow import nearest, region
from parts.part import Flat, Part, SteelPart
from parts.shape.form import Form, Frame, Prism, Round, Vector, unit, vector
from parts.shape.outline import Loop, Mark, Outline, Vertex
from parts.tab import LEAST_RUN_MM, NoSeat

WALL_THROUGH_MM, WALL_OVER_MM = 3.0, 4.0  # of a sleeve, common practice
# its free edge stays stiff by itself to a thickness of 1/14 of it in S235, EN 1993-1-1 Table 5.2 class 3
FIN_HEIGHT_MM = 10.0
FIN_TIP_MM = 3.0  # left at a fin's ends, so that it fades out instead of ending in a notch; common practice
CROWN_MM = 0.3  # between the bore and a tube below it, so that the reamer does not meet the tube
COPE_MM = 1.0  # a sleeve let in less than this rests on a line
EDGE_MM = 0.5  # of the tube left beside a sleeve that goes through it
ROOM_MM = 1.0  # round head, nut and washers beside a tube, common practice
MOST_BEYOND_MM = 60.0  # from where bolt and tube cross to the sleeve's end: more is a lever


@dataclass(frozen=True)
class LugSleeve(SteelPart):
    """One sleeve in its own axes: `tube_mm` of the arm passes `offset_mm` along x and `along_mm` along z from
    the origin, in the direction (0, sin, cos) of `angle_deg`. `through`: it stands in a hole of the tube,
    else it is coped over it.

    Raises NoSeat where it neither stands free in the tube nor clears it with its bore, or where it is too
    short for its seam."""

    outer_mm: float
    bore_mm: float
    length_mm: float
    tube_mm: float
    tube_wall_mm: float
    offset_mm: float
    along_mm: float
    angle_deg: float
    through: bool

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            bore_mm=self.bore_mm,
            length_mm=self.length_mm,
            tube_mm=self.tube_mm,
            tube_wall_mm=self.tube_wall_mm,
        )
        require.at_least(
            "lug_diameter_mm", self.outer_mm, self.bore_mm + 3.0, "1.5 mm of wall round the bolt"
        )
        low, high = (float(f(loop[:, 2])) for f, loop in ((np.min, self.seams[0]), (np.max, self.seams[-1])))
        if low < 0.5 or high > self.length_mm - 0.5:
            raise NoSeat(
                f"the weld round the tube lies {low:.1f} to {high:.1f} mm along a sleeve of "
                f"{self.length_mm:.1f} mm: "
                "the rod end's ball or the bolt's end is in its way; move rod.outboard inboard along the "
                "arm, where the tubes are wider apart"
            )
        if self.run_mm < LEAST_RUN_MM:
            raise NoSeat(
                f"the weld round the sleeve's seat is {self.run_mm:.1f} mm; the least is {LEAST_RUN_MM:g} "
                f"mm: use a larger rod.lug_diameter"
            )

    def form(self) -> Form:
        bar = Round(self.outer_mm, self.length_mm, self.bore_mm)
        return Form((bar,)) if self.through else Form((bar,), (self.tube(),))

    def tube(self) -> Round:
        """The arm's tube, bore filled, as far as the sleeve can meet it."""
        a = math.radians(self.angle_deg)
        half = 2 * (self.outer_mm + self.tube_mm) / math.sin(a)
        u = (0.0, math.sin(a), math.cos(a))
        return Round(
            self.tube_mm,
            2 * half,
            0.0,
            Frame((self.offset_mm, -half * u[1], self.along_mm - half * u[2]), (1.0, 0.0, 0.0), u),
        )

    @cached_property
    def seams(self) -> tuple[np.ndarray, ...]:
        """Where sleeve and tube meet outside, closed loops of points (n, 3): one round a saddle, one at each
        side of a hole."""
        r, near = self.outer_mm / 2, (self.offset_mm - self.tube_mm / 2) / (self.outer_mm / 2)
        if self.through:
            turn = np.linspace(-math.pi, math.pi, 121)
            return tuple(
                np.stack([r * np.cos(turn), r * np.sin(turn), z], 1) for z in self._crossing(r, turn)
            )
        most = math.acos(min(near, 1.0))
        turn = most * np.sin(np.linspace(-math.pi / 2, math.pi / 2, 61))  # dense where the curve turns back
        low, high = (np.stack([r * np.cos(turn), r * np.sin(turn), z], 1) for z in self._crossing(r, turn))
        return (np.concatenate([low, high[::-1], low[:1]]),)

    def _crossing(self, radius, turn, diameter_mm: float | None = None) -> tuple[np.ndarray, np.ndarray]:
        """z where a line along the bolt enters and leaves the tube of that diameter; both the middle where it
        misses."""
        a, big = math.radians(self.angle_deg), (diameter_mm or self.tube_mm) / 2
        half = np.sqrt(np.maximum(big**2 - (radius * np.cos(turn) - self.offset_mm) ** 2, 0.0)) / math.sin(a)
        middle = self.along_mm + radius * np.sin(turn) / math.tan(a)
        return middle - half, middle + half

    @property
    def run_mm(self) -> float:
        """Length of the shortest closed run of weld."""
        return min(float(np.linalg.norm(np.diff(s, axis=0), axis=1).sum()) for s in self.seams)

    @property
    def lever_mm(self) -> float:
        """From the end beside the ball to where the tube takes hold: its near wall round a hole, the middle
        of a saddle."""
        return float(self.seams[0][:-1, 2].mean()) if self.through else self.along_mm

    def _within(self, low_mm: float, high_mm: float, diameter_mm: float) -> float:
        """Volume between two radii of the sleeve and within the tube of that diameter; midpoints, 1e-4 of
        itself."""
        radius = low_mm + (np.arange(80) + 0.5) / 80 * (high_mm - low_mm)
        turn = (np.arange(360) + 0.5) * math.tau / 360
        low, high = self._crossing(radius[:, None], turn, diameter_mm)
        chord = np.clip(high, 0.0, self.length_mm) - np.clip(low, 0.0, self.length_mm)
        return float((chord * radius[:, None]).sum() * (high_mm - low_mm) / 80 * math.tau / 360)

    @cached_property
    def volume_mm3(self) -> float:
        whole = Round(self.outer_mm, self.length_mm, self.bore_mm).volume_mm3
        return whole - (
            0.0 if self.through else self._within(self.bore_mm / 2, self.outer_mm / 2, self.tube_mm)
        )

    @cached_property
    def drilled_mm3(self) -> float:
        """What the hole takes from the tube's walls."""
        if not self.through:
            return 0.0
        return self._within(0.0, self.outer_mm / 2, self.tube_mm) - self._within(
            0.0, self.outer_mm / 2, self.tube_mm - 2 * self.tube_wall_mm
        )

    @property
    def centroid(self) -> Vector:
        """Half way along; what a cope takes on one side moves it by a fraction of a mm."""
        return 0.0, 0.0, self.length_mm / 2


@dataclass(frozen=True)
class LugFin(Flat):
    """A plate edgewise on a tube: origin in the middle of its foot, x along the tube, y away from it,
    `thickness_mm` along z from 0.

    Its foot is straight; on a tube of diameter D its two edges stand off D/2 - √(D² - t²)/2, 0.1 mm at 3 mm
    on 22 mm."""

    length_mm: float
    thickness_mm: float
    height_mm: float = FIN_HEIGHT_MM

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(thickness_mm=self.thickness_mm, height_mm=self.height_mm)
        require.at_least(
            "length_mm",
            self.length_mm,
            2 * (self.height_mm + LEAST_RUN_MM / 2),
            "a fin fades out at both ends and needs a run of weld",
        )

    def outline(self) -> Outline:
        end, top = self.length_mm / 2, self.length_mm / 2 - 2 * (self.height_mm - FIN_TIP_MM)
        corners = (
            (-end, 0.0),
            (end, 0.0),
            (end, FIN_TIP_MM),
            (top, self.height_mm),
            (-top, self.height_mm),
            (-end, FIN_TIP_MM),
        )
        return Outline(
            Loop(tuple(Vertex(x, y) for x, y in corners)),
            marks=(Mark("line", ((0.0, 0.0), (0.0, self.height_mm))),),
        )

    @property
    def prism(self) -> Prism:
        return Prism(self.outline(), self.thickness_mm)

    def form(self) -> Form:
        return Form((self.prism,))

    @property
    def volume_mm3(self) -> float:
        return self.prism.volume_mm3

    @property
    def centroid(self) -> Vector:
        return self.prism.centroid


@dataclass(frozen=True)
class RodLug(Part):
    """Both sleeves of a lug, the one against the bolt's direction first; `frames` theirs in the arm's axes;
    `gap_mm` between them: the ball and a washer each side; `tubes` of the arm (0 front, 1 rear) that each
    stands on."""

    sleeves: tuple[LugSleeve, LugSleeve]
    frames: tuple[Frame, Frame]
    gap_mm: float
    tubes: tuple[int, int]
    fins: tuple[tuple[LugFin, Frame], ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        require.not_negative(gap_mm=self.gap_mm)

    @property
    def forms(self) -> dict[str, Form]:
        """In the arm's axes."""
        sleeves = zip(self.sleeves, self.frames, strict=True)
        named = {f"sleeve {n}": s.form().moved(f) for n, (s, f) in enumerate(sleeves, 1)}
        return named | {f"fin {n}": s.form().moved(f) for n, (s, f) in enumerate(self.fins, 1)}

    def form(self) -> Form:
        return Form(tuple(p for f in self.forms.values() for p in f.pieces))

    @property
    def _each(self) -> list[tuple[LugSleeve | LugFin, Frame]]:
        return [*zip(self.sleeves, self.frames, strict=True), *self.fins]

    @property
    def volume_mm3(self) -> float:
        return sum(p.volume_mm3 for p, _ in self._each)

    @property
    def mass_kg(self) -> float:
        """In steel, sleeves and fins as cut; what they take from the tubes is `drilled_mm3`."""
        return sum(p.mass_kg for p, _ in self._each)

    @property
    def centroid(self) -> Vector:
        moment = sum(p.volume_mm3 * (f.matrix() @ (*p.centroid, 1.0))[:3] for p, f in self._each)
        return vector(moment / self.volume_mm3)

    @property
    def through(self) -> bool:
        return self.sleeves[0].through

    @property
    def holes(self) -> tuple[Round, ...]:
        """To drill through the arm's tubes, in its axes."""
        return tuple(
            Round(s.outer_mm, s.length_mm, 0.0, f)
            for s, f in zip(self.sleeves, self.frames, strict=True)
            if s.through
        )

    @property
    def height_mm(self) -> float:
        """Of the bolt over the tubes' middle; where there are fins, + toward them."""
        z = self.frames[0].origin[2]
        return z * math.copysign(1.0, self.fins[0][1].origin[2]) if self.fins else abs(z)

    @property
    def drilled_mm3(self) -> float:
        return sum(s.drilled_mm3 for s in self.sleeves)


def rod_lug(
    arm: Arm,
    point: Vector,
    axis: Vector,
    eye_width_mm: float,
    bolt: str,
    outer_mm: float | None = None,
    washer_mm: float = 1.0,
    fin_mm: float = 3.0,
    rod_up: bool = False,
) -> RodLug:
    """The lug for a bolt through `point` along `axis`, both in the arm's local axes, `eye_width_mm` of the
    rod end's ball. `outer_mm` of a sleeve: the bolt and 4 mm of wall over the tubes, 3 mm through them,
    unless given. `fin_mm`: thickness of the fins beside drilled holes; `rod_up`: the rod leaves on the +z
    side of the arm, so that they stand on the other.

    Raises NoSeat with value, limit and cure where none can be made."""
    require.positive(eye_width_mm=eye_width_mm)
    along, size = unit(axis), float(bolt.partition("x")[0][1:])
    if abs(along[2]) > 1e-6:
        raise NoSeat(
            f"the bolt leaves the arm's plane by {math.degrees(math.asin(abs(along[2]))):.2f} deg; it must "
            f"lie along the arm's hinge"
        )
    height, r, gap = abs(point[2]), arm.tube_diameter_mm / 2, eye_width_mm + 2 * washer_mm
    outer = float(
        outer_mm if outer_mm is not None else size + 2 * (WALL_THROUGH_MM if height < r else WALL_OVER_MM)
    )
    if point[0] < arm.boss_mm / 2 + outer / 2 + ROOM_MM:
        raise NoSeat(
            f"the bolt is {point[0]:.1f} mm from the outer joint's axis; its boss and the lug need "
            f"{arm.boss_mm / 2 + outer / 2 + ROOM_MM:.1f} mm: "
            "move rod.outboard inboard along the arm"
        )
    through = bool(height + outer / 2 <= r - EDGE_MM + 1e-9)
    most = r + outer / 2 - COPE_MM
    if not through and not r + size / 2 + CROWN_MM <= height <= most:
        raise NoSeat(
            f"the bolt passes {height:.1f} mm from the plane of the arm's tubes; a sleeve of {outer:g} mm "
            f"goes over them at {r + size / 2 + CROWN_MM:.1f} to {most:.1f} mm"
            + (
                f" and through them at up to {r - EDGE_MM - outer / 2:.1f} mm"
                if r - EDGE_MM > outer / 2
                else ""
            )
            + ": move rod.outboard, or change rod.lug_diameter"
        )
    lug = _sleeves(arm, point, along, gap, bolt, outer, through)
    return (
        replace(lug, fins=tuple(_fin(arm, lug, i, fin_mm, -1.0 if rod_up else 1.0) for i in (0, 1)))
        if through
        else lug
    )


def _fin(arm: Arm, lug: RodLug, i: int, thickness: float, side: float) -> tuple[LugFin, Frame]:
    """A fin over the hole, as long as the longer of both holes, its own ends and a run of weld on each side
    of it."""
    sleeve, pivot = lug.sleeves[i], (arm.front_pivot, arm.rear_pivot)[lug.tubes[i]]
    u = unit((*pivot, 0.0))
    middle = (lug.frames[i].matrix() @ (0.0, 0.0, sleeve.along_mm, 1.0))[:3] @ u * u
    hole = max(s.outer_mm / math.sin(math.radians(s.angle_deg)) for s in lug.sleeves)
    fin = LugFin(math.ceil(hole + 2 * (FIN_HEIGHT_MM + LEAST_RUN_MM / 2)), thickness)
    start = float(middle @ u) - fin.length_mm / 2
    if start < arm.boss_mm / 2 + ROOM_MM:
        raise NoSeat(
            f"the fin beside the tube's hole would start {start:.1f} mm from the outer joint's axis; its "
            f"boss needs {arm.boss_mm / 2 + ROOM_MM:.1f} mm: "
            "move rod.outboard inboard along the arm"
        )
    up, across = np.array((0.0, 0.0, side)), np.cross(u, (0.0, 0.0, side))
    return fin, Frame.looking(middle + arm.tube_diameter_mm / 2 * up - thickness / 2 * across, across, u)


def _sleeves(
    arm: Arm, point: Vector, along: np.ndarray, gap: float, bolt: str, outer: float, through: bool
) -> RodLug:
    tubes, size = arm.tubes(), float(bolt.partition("x")[0][1:])
    down = -1.0 if point[2] > 0 else 1.0
    sleeves, frames, on = [], [], []
    for side in (-1.0, 1.0):
        z = side * along
        frame = Frame.looking(np.asarray(point, float) + gap / 2 * z, z, (0.0, 0.0, down))
        back = np.linalg.inv(frame.matrix())
        crossings = [_cross(back, t) for t in tubes]
        which = int(np.argmax([c[0] for c in crossings]))  # each side its own tube
        at, angle = crossings[which]
        if at <= 0 or crossings[1 - which][0] > 0:
            raise NoSeat(
                f"the rod's ball at {point[1]:.1f} mm off the arm's middle line is not between its tubes; "
                f"move rod.outboard between them"
            )
        sleeves.append(
            LugSleeve(
                outer,
                size,
                _reach(tubes, frame, at, bolt),
                arm.tube_diameter_mm,
                arm.tube_wall_mm,
                float(abs(point[2])),
                at,
                angle,
                through,
            )
        )
        frames.append(frame)
        on.append(which)
    return RodLug((sleeves[0], sleeves[1]), (frames[0], frames[1]), gap, (on[0], on[1]))


def _cross(back: np.ndarray, tube: Member) -> tuple[float, float]:
    """Along the bolt, where a tube's centre line crosses it as seen square to the arm; the angle between
    them, deg, 0 to 180."""
    a, b = ((back @ (*p, 1.0))[:3] for p in (tube.from_, tube.to))
    u = (b - a) / np.linalg.norm(b - a)
    u = u if u[1] > 0 else -u
    if u[1] < math.sin(math.radians(20)):
        raise NoSeat(
            f"a tube of the arm lies within {math.degrees(math.asin(abs(u[1]))):.0f} deg of the rod's bolt; "
            f"the least is 20 deg"
        )
    return float(a[2] - a[1] / u[1] * u[2]), math.degrees(math.acos(u[2]))


def _reach(tubes: tuple[Member, Member], frame: Frame, at: float, bolt: str) -> float:
    """The sleeve's length, the next half millimetre at which washer, head or nut stand clear of both
    tubes."""
    ring, deep = washer(bolt).outer_mm / 2, hexagon(bolt).nut_mm + washer(bolt).thickness_mm

    def clear(
        n: int,
    ) -> (
        bool
    ):  # once so, so further out: what of a tube stands beside the bolt only draws away from where they cross
        sides = [region(t, frame, n / 2, n / 2 + deep) for t in tubes]
        return all(not s or math.hypot(*nearest(s)) >= ring + ROOM_MM for s in sides)

    halves = range(math.ceil(2 * at), math.ceil(2 * (at + MOST_BEYOND_MM)))
    n = bisect_left(halves, True, key=clear)
    if n < len(halves):
        return halves[n] / 2
    raise NoSeat(
        f"head or nut would still strike the arm's tube {MOST_BEYOND_MM:g} mm beyond where the bolt crosses "
        f"it; move rod.outboard inboard along the arm"
    )
