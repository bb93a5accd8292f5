"""The sleeve between the rocker's pivot tube and the spring: one tube sliding in another, locked by a cross
bolt.

Local axes: origin on the axis at the end of the overlap nearest the rocker, z along the axis toward the
spring, angles from local x right-handed about z. Both tubes carry rows of holes straight across; turning the
outer tube by the setting's angle brings one pair of holes in line. Nothing is welded till ride height is set.
"""

from __future__ import annotations

import math
from functools import cached_property

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.base.stock import (
    ROUND_INCH_TUBES_MM,
    ROUND_PRECISION_TUBES_MM,
    ROUND_TUBES_MM,
    WALLS_MM,
    thread,
)
from parts.base.units import finite
from parts.hole_rings import Ring, least_angle_deg, mirrored, rings
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Round, Vector
from parts.shape.shapes import saddle_volume_mm3

SPACING = 2.2  # hole centres apart, in hole diameters; EN 1993-1-8 Table 3.3
EDGE = 1.5  # end hole's centre from the tube's end, in hole diameters: the table's floor is 1.2
# bore less tube for a sliding fit of tube as it is drawn: outside and bore may each be 0.15 mm off their
# nominal (EN 10305-1, from memory), so that less need not go together
SLIDE_MM = (0.3, 0.8)
BORED_SLIDE_MM = 0.2  # where the outer tube is bored to suit
LEAST_WALL_MM = 2.0
MOST_ROWS = 12


@dataclass(frozen=True)
class CrossHole:
    """One hole straight across a tube: row, z, angle of its axis, and arc from local x along the tube's
    outside."""

    row: int
    z_mm: float
    angle_deg: float
    arc_mm: float


@dataclass(frozen=True)
class AdjusterSleeve(SteelPart):
    """`inner_mm`, `inner_wall_mm`: the pivot tube's. `outer_mm`, `outer_wall_mm`: the sleeve's. `positions`:
    settings a turn asked for (the tooth count). The hole is reamed to the bolt: its clearance would be lost
    angle.

    An odd count gives twice as many settings, for a bolt straight across comes round twice a turn.
    Raises ValueError where the tubes do not slide, or the holes do not fit in 12 rows."""

    inner_mm: float
    inner_wall_mm: float
    outer_mm: float
    outer_wall_mm: float
    positions: int
    bolt: str = "M8"
    hand: str = "left"  # "right": the mirrored pattern, every hole's angle turned in sign

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            inner_mm=self.inner_mm,
            inner_wall_mm=self.inner_wall_mm,
            outer_mm=self.outer_mm,
            outer_wall_mm=self.outer_wall_mm,
            positions=self.positions,
        )
        if self.inner_wall_mm >= self.inner_mm / 2 or self.outer_wall_mm >= self.outer_mm / 2:
            raise ValueError(
                f"walls are {self.inner_wall_mm:g} and {self.outer_wall_mm:g} mm; each must be less than "
                f"half of "
                f"its tube, {self.inner_mm:g} and {self.outer_mm:g} mm"
            )
        require.at_least(
            "sliding_clearance_mm", self.slide_mm, 0.05, "the outer tube does not go over the inner one"
        )
        require.at_most(
            "sliding_clearance_mm",
            self.slide_mm,
            1.0,
            "the sleeve would rock; choose tubes nearer in size or bore it",
        )
        if self.hole_mm >= self.inner_mm / 2:
            raise ValueError(
                f"bolt is {self.bolt}; its hole must be under half the inner tube, {self.inner_mm / 2:g} mm"
            )
        _ = self.rows

    @staticmethod
    @reads
    def around(inner_mm: float, inner_wall_mm: float, positions: int, bolt: str = "M8") -> AdjusterSleeve:
        """The sleeve with the stock tube that slides most closely over the pivot tube, else the smallest one
        bored to suit."""
        sizes = sorted({*ROUND_TUBES_MM, *ROUND_PRECISION_TUBES_MM, *ROUND_INCH_TUBES_MM})
        slides = [
            (outer - 2 * wall - inner_mm, outer, wall)
            for outer in sizes
            for wall in WALLS_MM
            if wall >= LEAST_WALL_MM
        ]
        fits = [s for s in slides if SLIDE_MM[0] - 1e-9 <= s[0] <= SLIDE_MM[1]]
        if fits:
            _, outer, wall = min(fits)
            return AdjusterSleeve(inner_mm, inner_wall_mm, outer, wall, positions, bolt)
        bored = [(outer, (outer - inner_mm - BORED_SLIDE_MM) / 2) for outer in sizes]
        bored = [b for b in bored if b[1] >= LEAST_WALL_MM]
        if not bored:
            raise ValueError(
                f"inner tube is {inner_mm:g} mm; the largest stock tube that could be bored over it "
                f"is {sizes[-1]:g} mm"
            )
        return AdjusterSleeve(inner_mm, inner_wall_mm, *min(bored), positions, bolt)

    @property
    def slide_mm(self) -> float:
        return self.outer_mm - 2 * self.outer_wall_mm - self.inner_mm

    @property
    def hole_mm(self) -> float:
        return thread(self.bolt).diameter_mm

    @property
    def _across(self) -> int:
        """Settings in half a turn."""
        return self.positions // 2 if self.positions % 2 == 0 else self.positions

    @property
    def steps(self) -> int:
        """Settings a turn the sleeve really has."""
        return 2 * self._across

    @property
    def step_deg(self) -> float:
        return 360 / self.steps

    @cached_property
    def rows(self) -> tuple[Ring, ...]:
        """Angles of the holes' axes in inner and outer tube, row by row, within half a turn."""
        inside = least_angle_deg(self.inner_mm / 2 - self.inner_wall_mm, self.hole_mm, SPACING)
        outside = least_angle_deg(self.outer_mm / 2 - self.outer_wall_mm, self.hole_mm, SPACING)
        if max(inside, outside) > 180:
            raise ValueError(
                f"a {self.bolt} bolt's holes leave no metal between them round tubes of {self.inner_mm:g} "
                f"and "
                f"{self.outer_mm:g} mm; use a smaller bolt"
            )
        found = rings(self._across, 180.0, inside, outside, MOST_ROWS)
        return found if self.hand == "left" else mirrored(found, 180.0)

    @property
    def row_pitch_mm(self) -> float:
        return math.ceil(2 * SPACING * self.hole_mm - 1e-9) / 2

    @property
    def length_mm(self) -> float:
        """Overlap of the two tubes, both cut to it or longer."""
        return 2 * EDGE * self.hole_mm + (len(self.rows) - 1) * self.row_pitch_mm

    def holes(self, tube: str) -> tuple[CrossHole, ...]:
        """Hole table of the "inner" or "outer" tube: drill straight through at each line."""
        require.one_of("tube", tube, ("inner", "outer"))
        across = self.inner_mm if tube == "inner" else self.outer_mm
        return tuple(
            CrossHole(k + 1, self._z(k), angle, math.radians(angle) * across / 2)
            for k, ring in enumerate(self.rows)
            for angle in (ring.first if tube == "inner" else ring.second)
        )

    @reads
    def setting(self, number: int) -> tuple[int, float, float]:
        """Row, inner hole angle and outer hole angle to bolt at setting `number` (0 to steps - 1), for the
        outer tube turned -number·step_deg from the mark (right hand: +number·step_deg): the bolt passes where
        the outer angle so turned meets the inner angle."""
        want = number % self._across * self.step_deg * (1 if self.hand == "left" else -1)
        for k, ring in enumerate(self.rows):
            for f in ring.first:
                for s in ring.second:
                    if abs((s - f - want + 90) % 180 - 90) < 1e-6:
                        return k + 1, f, s
        raise ValueError(f"setting {number} has no pair of holes in line")

    def torque_nm(self, shear_per_plane_n: float) -> float:
        """Torque the cross bolt carries, T = F·D: two planes at the radius where the tubes meet.

        >>> AdjusterSleeve(25, 3, 30, 2.4, 12, "M5").torque_nm(22272)
        556.8
        """
        finite(shear_per_plane_n=shear_per_plane_n)
        return shear_per_plane_n * self.inner_mm / 1000

    @property
    def forms(self) -> dict[str, Form]:
        """Both tubes, each with its own holes, at setting 0."""
        return {"inner tube": self.inner_form(), "sleeve": self.outer_form()}

    def inner_form(self) -> Form:
        return self._form(self.inner_mm, self.inner_wall_mm, "inner")

    def outer_form(self) -> Form:
        return self._form(self.outer_mm, self.outer_wall_mm, "outer")

    @property
    def inner_volume_mm3(self) -> float:
        return self._volume(self.inner_mm, self.inner_wall_mm, len(self.holes("inner")))

    @property
    def outer_volume_mm3(self) -> float:
        return self._volume(self.outer_mm, self.outer_wall_mm, len(self.holes("outer")))

    @property
    def volume_mm3(self) -> float:
        return self.inner_volume_mm3 + self.outer_volume_mm3

    @property
    def centroid(self) -> Vector:
        """On the axis; z is the tubes' less the holes', row by row."""
        total = 0.0
        for name, outer, wall in (
            ("inner", self.inner_mm, self.inner_wall_mm),
            ("outer", self.outer_mm, self.outer_wall_mm),
        ):
            hole = self._hole_volume(outer, wall)
            plain = self._volume(outer, wall, 0)
            total += plain * self.length_mm / 2 - hole * sum(h.z_mm for h in self.holes(name))
        return 0.0, 0.0, total / self.volume_mm3

    def _z(self, row: int) -> float:
        return EDGE * self.hole_mm + row * self.row_pitch_mm

    def _form(self, outer: float, wall: float, tube: str) -> Form:
        cuts, inside = [], outer / 2 - wall
        start = (
            math.sqrt(inside**2 - self.hole_mm**2 / 4) - 0.5
        )  # one short cut a wall: they must not meet in the middle
        for h in self.holes(tube):
            for angle in (math.radians(h.angle_deg), math.radians(h.angle_deg) + math.pi):
                c, s = math.cos(angle), math.sin(angle)
                cuts.append(
                    Round(
                        self.hole_mm,
                        outer / 2 + 1 - start,
                        0.0,
                        Frame((start * c, start * s, h.z_mm), (0.0, 0.0, 1.0), (c, s, 0.0)),
                    )
                )
        held = self._volume(outer, wall, len(self.holes(tube)))
        return Form((Round(outer, self.length_mm, outer - 2 * wall),), tuple(cuts), volume_mm3=held)

    def _hole_volume(self, outer: float, wall: float) -> float:
        """One hole straight across: out of both walls, a bar coped to the outside less one coped to the
        bore."""
        return 2 * (
            saddle_volume_mm3(self.hole_mm / 2, outer / 2)
            - saddle_volume_mm3(self.hole_mm / 2, outer / 2 - wall)
        )

    def _volume(self, outer: float, wall: float, holes: int) -> float:
        tube = math.pi * wall * (outer - wall) * self.length_mm
        return tube - holes * self._hole_volume(outer, wall)
