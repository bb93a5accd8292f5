"""A wishbone: two round tubes from the outer joint's boss to a bush housing at each inner pivot.

Local axes: origin at the outer joint, x toward the middle of the inner pivots, z square to the arm's plane
(upward in the car). The tubes are coped to boss and housings. Joints and bushes are bought and have no mass
here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.fitted_tube import Fitted, fitted
from parts.member import Member, Section
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Round, Vector
from parts.shape.outline import Point
from parts.shape.shapes import saddle_volume_mm3
from parts.skin import Run
from parts.tube_end import TubeEnd, tube_end
from parts.tube_wall import wall_points

SLEEVE_WALL_MM = 3.0  # inner sleeve between bolt and bush, clamped by the bolt, common practice
BUSH_WALL_MM = 2.0  # bush that turns on the sleeve, common practice
HOUSING_WALL_MM = 4.0  # left round a bush, common practice
BESIDE_MM = (
    3.0  # between a tube and the tab beside its housing: the weld's toe and side play; common practice
)
CLEAR_MM = 0.02  # of a cut from rounds it would only touch, where the kernel fails
SPARE_MM = 0.1  # a little more, for what a check rounds off
HOUSING_LENGTH_MM, MOST_HOUSING_MM = 36.0, 90.0  # usual, and the longest that is made to carry an aslant tube


@dataclass(frozen=True)
class Arm(SteelPart):
    """`front_pivot`, `rear_pivot`: inner joint centres in the arm's plane (local x, y), mm. The housings lie
    along the line through both; the boss along local z. Diameters None: 8 mm over the tube (housing), 10 mm
    over it (boss).

    Raises ValueError where the points are in one line or a joint is smaller than the tube that meets it."""

    front_pivot: Point
    rear_pivot: Point
    tube_diameter_mm: float
    tube_wall_mm: float = 2.0
    housing_diameter_mm: float | None = None
    housing_length_mm: float = HOUSING_LENGTH_MM
    housing_bore_mm: float = 10.0
    boss_diameter_mm: float | None = None
    boss_bore_mm: float = 12.0

    PARTS = (
        "boss",
        "front housing",
        "tubes",
        "rear housing",
        "tubes",
    )  # of the form's pieces, in their order

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            tube_diameter_mm=self.tube_diameter_mm,
            tube_wall_mm=self.tube_wall_mm,
            boss_bore_mm=self.boss_bore_mm,
            housing_length_mm=self.housing_length_mm,
            housing_bore_mm=self.housing_bore_mm,
        )
        if self.tube_wall_mm >= self.tube_diameter_mm / 2:
            raise ValueError(
                f"tube wall is {self.tube_wall_mm:g} mm; it must be less than half of "
                f"{self.tube_diameter_mm:g} mm"
            )
        for name, outer, bore in (
            ("housing", self.housing_mm, self.housing_bore_mm),
            ("boss", self.boss_mm, self.boss_bore_mm),
        ):
            require.at_least(
                f"{name}_diameter_mm",
                outer,
                self.tube_diameter_mm + 1,
                "a tube cannot be coped to a smaller round",
            )
            require.at_least(
                f"{name}_diameter_mm", outer, bore + 4, f"too thin a wall round a bore of {bore:g} mm"
            )
        (ax, ay), (bx, by) = self.front_pivot, self.rear_pivot
        apart, area = math.dist(self.front_pivot, self.rear_pivot), abs(ax * by - ay * bx)
        require.at_least(
            "pivot_spacing_mm", apart, self.housing_length_mm, "the two bush housings run into each other"
        )
        require.at_least(
            "distance_of_outer_joint_from_pivot_axis_mm",
            area / max(apart, 1e-9),
            (self.boss_mm + self.housing_mm) / 2 + 5,
            "no room for the tubes",
        )
        for pivot in (self.front_pivot, self.rear_pivot):
            sine = area / (apart * math.hypot(*pivot))
            require.at_least(
                "angle_between_tube_and_pivot_axis_deg",
                math.degrees(math.asin(min(sine, 1.0))),
                20.0,
                "the tube would lie along its own housing",
            )
        least = self.housing_length_mm + max(map(self._towards_other, (self.front_pivot, self.rear_pivot)))
        require.at_least("pivot_spacing_mm", apart, least, "a tube so flat runs into the other housing")

    @staticmethod
    @reads
    def between(
        front: Vector,
        rear: Vector,
        outer: Vector,
        tube_diameter_mm: float,
        tube_wall_mm: float = 2.0,
        **sizes: float,
    ) -> tuple[Arm, Frame]:
        """The arm through three points in car axes, and its frame there (z up). Raises ValueError for points
        in one line."""
        f, r, o = (np.asarray(p, float) for p in (front, rear, outer))
        normal = np.cross(f - o, r - o)
        if np.linalg.norm(normal) < 1e-6:
            raise ValueError(
                f"the arm's points {front}, {rear}, {outer} lie in one line; an arm needs a triangle"
            )
        up = normal * (-1.0 if normal[2] < 0 else 1.0)
        frame = Frame.looking(o, up, (f + r) / 2 - o)
        local = np.linalg.inv(frame.matrix())
        (ax, ay), (bx, by) = ((local @ (*p, 1.0))[:2] for p in (f, r))
        front_pivot, rear_pivot = (float(ax), float(ay)), (float(bx), float(by))
        return Arm(front_pivot, rear_pivot, tube_diameter_mm, tube_wall_mm, **sizes), frame

    @reads
    def between_tabs(self, boss_mm: float, washer_mm: float = 1.0) -> Arm:
        """With housings so long that both tubes, aslant as they lie, pass the tabs beside them, of `boss_mm`
        round the bolt and a washer away, with `BESIDE_MM`; at most `MOST_HOUSING_MM`.

        A tube's edge lies y = (r + x·cos)/sin along the hinge at x from it, so it passes a tab's rim at x =
        boss with (y_tab - y)·sin."""
        half = self.housing_length_mm / 2
        for pivot in (self.front_pivot, self.rear_pivot):
            sine = self._sine(pivot)
            edge = (self.tube_diameter_mm / 2 + boss_mm * math.sqrt(1 - sine**2)) / sine
            half = max(half, edge + (BESIDE_MM + SPARE_MM) / sine - washer_mm)
        length = min(2.0 * math.ceil(half), MOST_HOUSING_MM)
        return replace(self, housing_length_mm=max(length, self.housing_length_mm))

    @staticmethod
    @reads
    def bushed(bolt_mm: float, tube_diameter_mm: float) -> dict[str, float]:
        """Sizes of a housing whose bush turns on an inner sleeve round the bolt: keywords for `between`."""
        bore = bolt_mm + 2 * (SLEEVE_WALL_MM + BUSH_WALL_MM)
        return {
            "housing_bore_mm": bore,
            "housing_diameter_mm": max(tube_diameter_mm + 8, bore + 2 * HOUSING_WALL_MM),
        }

    @property
    def bush_bore_mm(self) -> float:
        """Inside of a bush of `BUSH_WALL_MM` in the housing: the inner sleeve's outside."""
        return self.housing_bore_mm - 2 * BUSH_WALL_MM

    @property
    def housing_mm(self) -> float:
        return self.housing_diameter_mm if self.housing_diameter_mm is not None else self.tube_diameter_mm + 8

    @property
    def boss_mm(self) -> float:
        return self.boss_diameter_mm if self.boss_diameter_mm is not None else self.tube_diameter_mm + 10

    @property
    def boss_height_mm(self) -> float:
        return self.tube_diameter_mm + 4

    def tubes(self) -> tuple[Member, Member]:
        """Front and rear tube from the outer joint's centre to the pivot's, in local axes: what a lug is
        coped to."""
        size = self.tube_diameter_mm, self.tube_wall_mm
        front, rear = (
            Member.tube((0.0, 0.0, 0.0), (*p, 0.0), *size) for p in (self.front_pivot, self.rear_pivot)
        )
        return front, rear

    def coped(self) -> tuple[Fitted, Fitted]:
        """`tubes` with their ends cut: to the boss, the rear one also to the front one beside it; to the bush
        housing, as if that went on past its ends."""
        front, rear = self.tubes()
        boss = Run("boss", Section(self.boss_mm, self.boss_mm, is_round=True), Frame())
        beside = Run("front tube", front.section, front.frame, low_mm=0.0)
        one, two = (
            fitted(t, tube_end(t, "from", cutters), tube_end(t, "to", [self._housing(p)]))
            for t, p, cutters in ((front, self.front_pivot, [boss]), (rear, self.rear_pivot, [boss, beside]))
        )
        return one, two

    def past_housing_mm(self) -> tuple[float, float]:
        """How far the front and the rear tube reach past the end of their housing; negative where they stand
        on it all round."""
        front, rear = self.coped()
        return self._past(front.to_cut, self.front_pivot), self._past(rear.to_cut, self.rear_pivot)

    def _housing(self, pivot: Point) -> Run:
        return Run(
            "bush housing",
            Section(self.housing_mm, self.housing_mm, is_round=True),
            Frame((*pivot, 0.0), (0.0, 0.0, 1.0), (*self._axis, 0.0)),
        )

    def _past(self, cut: TubeEnd, pivot: Point) -> float:
        x, y, _ = wall_points(cut.section, cut.around_mm)
        assert cut.line is not None  # both ends are cut to something
        points = cut.line.points(x, y) + np.outer(cut.outer_mm, cut.line.inwards)
        return float(np.abs(self._housing(pivot).along_mm(points)).max()) - self.housing_length_mm / 2

    def form(self) -> Form:
        axis = self._axis
        rounds = [Round(self.boss_mm, self.boss_height_mm, 0.0, Frame((0.0, 0.0, -self.boss_height_mm / 2)))]
        cuts = [
            Round(
                self.boss_bore_mm,
                self.boss_height_mm + 2,
                0.0,
                Frame((0.0, 0.0, -self.boss_height_mm / 2 - 1)),
            )
        ]
        for pivot in (self.front_pivot, self.rear_pivot):
            half = self.housing_length_mm / 2

            def along(start: float, p: Point = pivot) -> Frame:
                return Frame(
                    (p[0] + axis[0] * start, p[1] + axis[1] * start, 0.0), (0.0, 0.0, 1.0), (*axis, 0.0)
                )

            rounds += [Round(self.housing_mm, 2 * half, 0.0, along(-half)), self._tube(pivot)]
            cuts.append(Round(self.housing_bore_mm, 2 * half + 2, 0.0, along(-half - 1)))
            low, high = self._beyond(pivot)
            if low:
                cuts.append(Round(self.housing_mm, low, 0.0, along(-half - low)))
            if high:
                cuts.append(Round(self.housing_mm, high, 0.0, along(half)))
        return Form(tuple(rounds), (*cuts, *self._opened()))

    def _beyond(self, pivot: Point) -> tuple[float, float]:
        """How far beyond either end of its housing a tube could stand where the housing, gone on past that
        end, copes it; 0 where it ends on the housing."""
        lean = self._lean(pivot)
        return self._past_end(pivot, -lean), self._past_end(pivot, lean)

    def _lean(self, pivot: Point) -> float:
        """Cosine of the angle between the pivot axis and a tube, seen from its pivot."""
        x, y = self._axis
        return -(pivot[0] * x + pivot[1] * y) / math.hypot(*pivot)

    def _past_end(self, pivot: Point, lean: float) -> float:
        """How far, and 1 mm, a tube's edge stands past the end of its housing that it leans to by `lean`."""
        edge = (self.tube_diameter_mm + max(lean, 0.0) * self.housing_mm) / 2 / self._sine(pivot)
        return edge - self.housing_length_mm / 2 + 1.0 if edge > self.housing_length_mm / 2 else 0.0

    def _towards_other(self, pivot: Point) -> float:
        low, high = self._beyond(pivot)
        return high if pivot == self.front_pivot else low

    def _opened(self) -> tuple[Round, ...]:
        """The front tube's bore where the rear one, coped round it, would stand in it; from the boss on, so
        that a sliver of it beside the boss's round is left."""
        one, other = (math.atan2(y, x) for x, y in (self.front_pivot, self.rear_pivot))
        bore, start = self.tube_diameter_mm - 2 * self.tube_wall_mm, self.boss_mm / 2 + CLEAR_MM
        met = self.tube_diameter_mm / math.sin(abs(one - other)) if abs(one - other) < math.pi / 2 else 0.0
        reach, sine = math.hypot(*self.front_pivot), self._sine(self.front_pivot)
        end = min(met, reach - (self.housing_mm + self.tube_diameter_mm) / 2 / sine)
        if end <= start or self._shared_mm3 == 0.0:
            return ()
        x, y = math.cos(one), math.sin(one)
        return (
            Round(bore, end - start, 0.0, Frame((x * start, y * start, 0.0), (0.0, 0.0, 1.0), (x, y, 0.0))),
        )

    def _tube(self, pivot: Point) -> Round:
        """A square-ended tube let into boss and housing just far enough to be coped all round."""
        reach, sine, r = math.hypot(*pivot), self._sine(pivot), self.tube_diameter_mm / 2
        start = math.sqrt((self.boss_mm / 2) ** 2 - r**2) - 0.2
        # its end, square to it at s from the hinge's axis, lies in the housing's round: s² + r² ≤ R² where
        # the farthest place is beside the tube's middle, else s·sin + r·cos ≤ R
        big = self.housing_mm / 2
        short = math.sqrt(big**2 - r**2)
        if short > r * math.tan(math.asin(sine)):
            short = (big - r * math.sqrt(1 - sine**2)) / sine
        short -= 0.2
        ux, uy = pivot[0] / reach, pivot[1] / reach
        frame = Frame((ux * start, uy * start, 0.0), (0.0, 0.0, 1.0), (ux, uy, 0.0))
        return Round(
            self.tube_diameter_mm, reach - start - short, self.tube_diameter_mm - 2 * self.tube_wall_mm, frame
        )

    @property
    def _axis(self) -> Point:
        (ax, ay), (bx, by) = self.front_pivot, self.rear_pivot
        n = math.dist(self.front_pivot, self.rear_pivot)
        return (bx - ax) / n, (by - ay) / n

    def _sine(self, pivot: Point) -> float:
        """Sine of the angle between a tube and the pivot axis."""
        x, y = self._axis
        return min(abs(pivot[0] * y - pivot[1] * x) / math.hypot(*pivot), 1.0)

    def _tube_volume(self, pivot: Point) -> float:
        def solid(radius: float) -> float:
            return (
                math.pi * radius**2 * math.hypot(*pivot)
                - saddle_volume_mm3(radius, self.boss_mm / 2)
                - saddle_volume_mm3(radius, self.housing_mm / 2, math.asin(self._sine(pivot)))
            )

        r = self.tube_diameter_mm / 2
        return solid(r) - solid(r - self.tube_wall_mm)

    @cached_property
    def _shared_mm3(self) -> float:
        """Metal of the rear tube that its cope round the front one takes: its wall within the front one's
        outside, beyond the boss's round, summed over slices along the boss and directions round it (1e-3 of
        itself)."""
        angles = [math.atan2(y, x) for x, y in (self.front_pivot, self.rear_pivot)]
        low, high = max(angles) - math.pi / 2, min(angles) + math.pi / 2  # where both tubes are
        if low >= high:
            return 0.0
        way = low + (np.arange(800) + 0.5) / 800 * (high - low)
        r = self.tube_diameter_mm / 2
        off = np.array([np.abs(np.sin(way - a)) for a in angles])
        off = off[:, r / off.max(0) > self.boss_mm / 2]  # elsewhere the tubes part within the boss
        slices = (np.arange(200) + 0.5) / 200 * r
        halves = [np.sqrt(np.maximum(x**2 - slices**2, 0.0)) for x in (r, r - self.tube_wall_mm)]

        def within(first: np.ndarray, second: np.ndarray) -> float:
            """Common to a strip round each tube's axis, of those half widths in each slice."""
            reach = np.minimum(first[:, None] / off[0], second[:, None] / off[1])
            area = np.maximum(reach**2 - (self.boss_mm / 2) ** 2, 0.0).sum(1) / 2 * (high - low) / 800
            return 2 * float(area.sum()) * r / 200

        outer, bore = halves
        return within(outer, outer) - within(outer, bore)

    @cached_property
    def volume_mm3(self) -> float:
        """Boss, housings and tubes, each coped to boss and housing, the rear one also round the front one.

        The solid keeps a sliver of the rear tube beside the boss's round where both tubes meet there: up to
        0.1 per cent more; else both agree to 1e-5."""
        disc = math.pi / 4
        boss = disc * (self.boss_mm**2 - self.boss_bore_mm**2) * self.boss_height_mm
        housing = disc * (self.housing_mm**2 - self.housing_bore_mm**2) * self.housing_length_mm
        tubes = self._tube_volume(self.front_pivot) + self._tube_volume(self.rear_pivot)
        return boss + 2 * housing + tubes - self._shared_mm3

    @cached_property
    def centroid(self) -> Vector:
        """Volume-weighted, each coped tube taken at the middle of its length between boss and housing."""
        disc = math.pi / 4
        housing = disc * (self.housing_mm**2 - self.housing_bore_mm**2) * self.housing_length_mm
        total = np.zeros(2)
        for pivot in (self.front_pivot, self.rear_pivot):
            reach = math.hypot(*pivot)
            middle = (self.boss_mm / 2 + reach - self.housing_mm / 2 / self._sine(pivot)) / 2 / reach
            total += np.array(pivot) * (housing + middle * self._tube_volume(pivot))
        return float(total[0] / self.volume_mm3), float(total[1] / self.volume_mm3), 0.0
