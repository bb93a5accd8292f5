"""Pull rod, push rod or tie rod: a tube with a threaded insert and a male rod end at each end.

Local axes: origin at the outboard ball centre, z to the inboard ball centre, x along the bolts. One end is
right-handed, the other left-handed, so that turning the tube changes the length by two pitches a turn.
"""

from __future__ import annotations

import math
from functools import cached_property

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import Hexagon, RodEnd, Thread, rod_end, thread
from parts.base.stock import hexagon as hexagon_of
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Piece, Prism, Round, Vector
from parts.shape.outline import Outline
from parts.shape.shapes import hexagon, saddle_volume_mm3

ENGAGEMENT_PER_DIAMETER = 1.5  # least thread engagement in steel, common practice
LIP_MM = 3.0  # the insert's collar outside the tube, welded round; common practice
LEAST_INSERT_WALL_MM = 1.5  # metal between thread and tube bore; common practice
LEAST_ADJUSTMENT_MM = 5.0  # each way after setting, common practice


@dataclass(frozen=True)
class Rod(SteelPart):
    """`length_mm` between ball centres with the adjustment at mid range; `wall_mm` 0 is a solid bar tapped at
    both ends (no inserts). `end` is the rod end; typical sizes of the thread unless the one in hand is given.

    Raises ValueError where the rod is too short for its ends, the thread too large for the tube, the stem too
    short to engage, or the rod end's housing narrower than its stem."""

    length_mm: float
    diameter_mm: float
    wall_mm: float
    thread: str
    end: RodEnd | None = None
    left_hand_end: str = "inboard"
    outboard_turn_deg: float = 0.0  # of the outboard bolt from local x, right-handed about z

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(length_mm=self.length_mm, diameter_mm=self.diameter_mm)
        if not 0 <= self.wall_mm < self.diameter_mm / 2:
            raise ValueError(
                f"wall is {self.wall_mm:g} mm; it must be at least 0 and less than half of "
                f"{self.diameter_mm:g} mm"
            )
        if self.left_hand_end not in ("inboard", "outboard"):
            raise ValueError(f'left hand end is "{self.left_hand_end}"; it must be "inboard" or "outboard"')
        d = self.screw.diameter_mm
        require.at_least(
            "tube_bore_mm" if self.wall_mm else "diameter_mm",
            self.bore_mm or self.diameter_mm,
            d + 2 * LEAST_INSERT_WALL_MM,
            f"{self.thread} needs {LEAST_INSERT_WALL_MM:g} mm of metal round it; a larger tube or a smaller "
            f"thread",
        )
        require.at_least(
            "stem_thread_length_mm",
            self.rod_end.thread_length_mm,
            self.least_engagement_mm + self.jam_nut.jam_nut_mm,
            "1.5 diameters in the insert and the jam nut must fit on the stem",
        )
        require.at_least(
            "rod_end_housing_width_mm",
            self.rod_end.housing_width_mm,
            d,
            "the stem must not be wider than the eye",
        )
        require.at_least(
            "length_mm",
            self.length_mm,
            self.least_length_mm,
            "the ends do not fit; move the points apart or use a smaller thread",
        )

    @cached_property
    def screw(self) -> Thread:
        return thread(self.thread)

    @cached_property
    def rod_end(self) -> RodEnd:
        return self.end or rod_end(self.thread)

    @cached_property
    def jam_nut(self) -> Hexagon:
        return hexagon_of(self.thread)

    @property
    def bore_mm(self) -> float:
        return self.diameter_mm - 2 * self.wall_mm if self.wall_mm else 0.0

    @property
    def lip_mm(self) -> float:
        return LIP_MM if self.wall_mm else 0.0

    @property
    def least_engagement_mm(self) -> float:
        return ENGAGEMENT_PER_DIAMETER * self.screw.diameter_mm

    @property
    def most_engagement_mm(self) -> float:
        """All of the stem's thread but the jam nut."""
        return self.rod_end.thread_length_mm - self.jam_nut.jam_nut_mm

    @property
    def engagement_mm(self) -> float:
        """As built: half way between the least and the most."""
        return (self.least_engagement_mm + self.most_engagement_mm) / 2

    @property
    def tapped_mm(self) -> float:
        """Length of thread in the insert (or the bar): the most engagement and two pitches, so that no stem
        bottoms."""
        return self.most_engagement_mm + 2 * self.screw.pitch_mm

    @property
    def adjustment_mm(self) -> float:
        """How much the ball centres can be moved apart, or together, from the built length: both ends turning
        at once."""
        return self.most_engagement_mm - self.least_engagement_mm

    @property
    def eye_to_face_mm(self) -> float:
        """Ball centre to the insert's outer face (the bar's end) as built."""
        return self.rod_end.eye_to_end_mm - self.engagement_mm

    @property
    def cut_length_mm(self) -> float:
        """Length to cut the tube or bar to, ends square."""
        return self.length_mm - 2 * (self.eye_to_face_mm + self.lip_mm)

    @property
    def least_length_mm(self) -> float:
        """Ball centres at which both tapped lengths just meet."""
        return 2 * (self.eye_to_face_mm + self.tapped_mm)

    @property
    def hands(self) -> tuple[str, str]:
        """Thread hand outboard, inboard."""
        return ("left", "right") if self.left_hand_end == "outboard" else ("right", "left")

    @property
    def warnings(self) -> tuple[str, ...]:
        if self.adjustment_mm < LEAST_ADJUSTMENT_MM:
            return (
                f"adjustment is {self.adjustment_mm:.1f} mm each way; "
                f"{LEAST_ADJUSTMENT_MM:g} mm should be left after setting",
            )
        return ()

    def form(self) -> Form:
        """Both rod ends, jam nuts, inserts and the tube; threads are shown at their full diameter and bungs
        solid."""
        return Form((*self.outboard_end().pieces, *self.rest().pieces))

    def outboard_end(self) -> Form:
        """The outboard rod end with its nut and insert, its bolt turned by `outboard_turn_deg`."""
        turn = math.radians(self.outboard_turn_deg)
        return Form(tuple(self._end_pieces())).moved(
            Frame((0.0, 0.0, 0.0), (math.cos(turn), math.sin(turn), 0.0))
        )

    def rest(self) -> Form:
        """The tube and the inboard end."""
        tube = Round(
            self.diameter_mm,
            self.cut_length_mm,
            self.bore_mm,
            Frame((0.0, 0.0, self.eye_to_face_mm + self.lip_mm)),
        )
        flip = Frame((0.0, 0.0, self.length_mm), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0))
        return Form((tube, *Form(tuple(self._end_pieces())).moved(flip).pieces))

    @property
    def end_pieces(self) -> int:
        """How many pieces of `outboard_end` and, the last ones, of `rest` are an end: housing, ball ..."""
        return 6 if self.wall_mm else 4

    def _end_pieces(self) -> list[Piece]:
        """One end, its ball centre at the origin and the rod along +z."""
        e, d, face = self.rod_end, self.screw.diameter_mm, self.eye_to_face_mm
        across = Frame((-e.housing_width_mm / 2, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
        ball = Frame((-e.ball_width_mm / 2, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
        stem = math.sqrt((e.housing_diameter_mm / 2) ** 2 - (d / 2) ** 2) - 0.5
        nut = self.jam_nut.jam_nut_mm
        pieces: list[Piece] = [
            Round(e.housing_diameter_mm, e.housing_width_mm, e.bore_mm, across),
            Round(self._ball_flat_mm, e.ball_width_mm, e.bore_mm, ball),
            Round(d, face - nut - stem, 0.0, Frame((0.0, 0.0, stem))),
            Prism(Outline(hexagon(self.jam_nut.across_flats_mm)), nut, Frame((0.0, 0.0, face - nut))),
        ]
        if self.wall_mm:
            pieces += [
                Round(self.diameter_mm, self.lip_mm, 0.0, Frame((0.0, 0.0, face))),
                Round(self.bore_mm, self.tapped_mm - self.lip_mm, 0.0, Frame((0.0, 0.0, face + self.lip_mm))),
            ]
        return pieces

    @property
    def _ball_flat_mm(self) -> float:
        """Diameter of the flats at the ball's two sides."""
        e = self.rod_end
        flat = math.sqrt(max(e.ball_diameter_mm**2 - e.ball_width_mm**2, 0.0))
        return max(flat, e.bore_mm + 1.0)

    @property
    def volume_mm3(self) -> float:
        """Of the form, by hand: eye, ball sides, stem coped to the eye, nut, insert, tube."""
        e, d = self.rod_end, self.screw.diameter_mm
        nut, face = self.jam_nut.jam_nut_mm, self.eye_to_face_mm
        disc = math.pi / 4
        eye = disc * (e.housing_diameter_mm**2 - e.bore_mm**2) * e.housing_width_mm
        sides = disc * (self._ball_flat_mm**2 - e.bore_mm**2) * (e.ball_width_mm - e.housing_width_mm)
        stem = disc * d**2 * (face - nut) - saddle_volume_mm3(d / 2, e.housing_diameter_mm / 2)
        hexa = math.sqrt(3) / 2 * self.jam_nut.across_flats_mm**2 * nut
        lip = disc * self.diameter_mm**2 * self.lip_mm
        body = disc * self.bore_mm**2 * (self.tapped_mm - self.lip_mm) if self.wall_mm else 0.0
        tube = disc * (self.diameter_mm**2 - self.bore_mm**2) * self.cut_length_mm
        return 2 * (eye + sides + stem + hexa + lip + body) + tube

    @property
    def centroid(self) -> Vector:
        """Both ends are alike, so half way along."""
        return 0.0, 0.0, self.length_mm / 2
