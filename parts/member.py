"""A frame member: tube, solid bar, plate or box from one point to another.

Local axes: origin on the centre line at `from_`, z along from -> to. Local x is z_car x axis (horizontal; car
y where the axis is within 1 degree of vertical), then turned by `roll_deg` right-handed about from -> to; so
the first pair of faces (normals ±local y) is parallel to that direction. `width_mm` lies along local x,
`height_mm` along local y.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from parts.base import require
from parts.base.fields import read_fields, reads
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3
from parts.part import Part
from parts.shape.form import Form, Frame, Prism, Round, Vector, vector
from parts.shape.outline import Loop, Outline, circle, rectangle

STEEL_KG_MM3 = DENSITY_KG_M3 * 1e-9
# of the nominal corner: the outside corners of a cold-formed section run from 1.6 to 2.4 t to 6 mm, 2 to 3 t
# to 10, 2.4 to 3.6 t above; EN 10219-2, external corner profile
SHARPEST = 0.8
_NEAR_VERTICAL = math.sin(math.radians(1.0))


def corner_radius_mm(wall_mm: float) -> float:
    """Outer corner radius of a cold-formed hollow section for its wall: 2·t to 6 mm, 2.5·t to 10 mm, 3·t
    above.

    The inner radius is one wall less. Source: EN 10219-2, annex for nominal section properties.

    >>> corner_radius_mm(2.0), corner_radius_mm(8.0)
    (4.0, 20.0)
    """
    return wall_mm * (2.0 if wall_mm <= 6 else 2.5 if wall_mm <= 10 else 3.0)


def member_frame(from_: Vector, to: Vector, roll_deg: float = 0.0) -> Frame:
    """The member's local frame in car axes, by the rule at the top of this file.

    Raises ValueError where the ends coincide.

    >>> member_frame((0, 0, 0), (100, 0, 0)).x, member_frame((0, 0, 0), (0, 0, 100)).x
    ((0.0, 1.0, 0.0), (0.0, 1.0, 0.0))
    """
    axis = np.asarray(to, float) - np.asarray(from_, float)
    length = float(np.linalg.norm(axis))
    if not length > 1e-6:
        raise ValueError(
            f"a member from {tuple(from_)} to {tuple(to)} has length {length:g} mm; its ends must differ"
        )
    axis /= length
    upright = math.hypot(axis[0], axis[1]) <= _NEAR_VERTICAL
    near = np.array((0.0, 1.0, 0.0) if upright else (0.0 - axis[1], axis[0], 0.0))
    square = Frame.looking(from_, axis, near)
    if not roll_deg:
        return square
    m, c, s = square.matrix(), math.cos(math.radians(roll_deg)), math.sin(math.radians(roll_deg))
    return Frame(square.origin, vector(c * m[:3, 0] + s * m[:3, 1]), square.z)


@dataclass(frozen=True)
class Section:
    """Cross-section, centred on the axis. `wall_mm` 0 is solid; `corner_mm` None takes the cold-formed radius
    (sharp where solid). A round section has width = height = outside diameter.

    Raises ValueError with field, value and limit where the wall or the corner does not fit."""

    width_mm: float
    height_mm: float
    wall_mm: float = 0.0
    corner_mm: float | None = None
    is_round: bool = False

    def __post_init__(self) -> None:
        read_fields(self, "section")
        require.positive(width_mm=self.width_mm, height_mm=self.height_mm)
        least = min(self.width_mm, self.height_mm)
        if not 0 <= self.wall_mm < least / 2:
            raise ValueError(
                f"wall is {self.wall_mm:g} mm; it must be at least 0 and less than half of {least:g} mm"
            )
        if self.is_round and self.width_mm != self.height_mm:
            raise ValueError(
                f"a round section has one diameter; got {self.width_mm:g} and {self.height_mm:g} mm"
            )
        if not self.is_round and not 0 <= self.outer_corner_mm < least / 2:
            raise ValueError(
                f"corner radius is {self.outer_corner_mm:g} mm; it must be at least 0 and less than half of "
                f"{least:g} mm"
            )

    def shrunk(self, by_mm: float) -> Section:
        """Its outside, full, `by_mm` smaller all round."""
        corner = max(self.outer_corner_mm - by_mm, 0.0)
        return Section(self.width_mm - 2 * by_mm, self.height_mm - 2 * by_mm, 0.0, corner, self.is_round)

    @cached_property
    def outer_corner_mm(self) -> float:
        if self.is_round:
            return self.width_mm / 2
        return (
            self.corner_mm
            if self.corner_mm is not None
            else corner_radius_mm(self.wall_mm)
            if self.wall_mm
            else 0.0
        )

    @property
    def sharpest_corner_mm(self) -> float:
        """The least outside corner radius the section may have: that of its standard, or the one given."""
        known = self.is_round or self.corner_mm is not None
        return self.outer_corner_mm * (1.0 if known else SHARPEST)

    def outer(self) -> Loop:
        return self._outer

    def hull(self) -> Loop:
        """What no metal of it reaches past: corners as sharp as they may be."""
        if self.is_round:
            return self._outer
        x, y = self.width_mm / 2, self.height_mm / 2
        return rectangle(-x, -y, x, y, self.sharpest_corner_mm)

    @cached_property
    def _outer(self) -> Loop:
        if self.is_round:
            return circle(0, 0, self.width_mm)
        x, y = self.width_mm / 2, self.height_mm / 2
        return rectangle(-x, -y, x, y, self.outer_corner_mm)

    def outline(self) -> Outline:
        """The metal: x along the width, y along the height."""
        return self._outline

    @cached_property
    def _outline(self) -> Outline:
        if not self.wall_mm:
            return Outline(self.outer())
        if self.is_round:
            return Outline(self.outer(), (circle(0, 0, self.width_mm - 2 * self.wall_mm).reversed(),))
        x, y = self.width_mm / 2 - self.wall_mm, self.height_mm / 2 - self.wall_mm
        return Outline(
            self.outer(), (rectangle(-x, -y, x, y, max(self.outer_corner_mm - self.wall_mm, 0.0)).reversed(),)
        )


@dataclass(frozen=True)
class Member(Part):
    """A straight member with square ends. Make one with `square`, `rectangular`, `tube`, `plate`, `box` or
    `cylinder`.

    `from_`, `to`: centres of the end faces in car axes, mm. `roll_deg`: right-handed about from -> to."""

    section: Section
    from_: Vector
    to: Vector
    roll_deg: float = 0.0
    density_kg_mm3: float = STEEL_KG_MM3

    def __post_init__(self) -> None:
        super().__post_init__()
        require.not_negative(density_kg_mm3=self.density_kg_mm3)
        _ = self.frame

    @staticmethod
    @reads
    def square(
        from_: Vector,
        to: Vector,
        size_mm: float,
        wall_mm: float,
        roll_deg: float = 0.0,
        corner_mm: float | None = None,
    ) -> Member:
        return Member(Section(size_mm, size_mm, wall_mm, corner_mm), from_, to, roll_deg)

    @staticmethod
    @reads
    def rectangular(
        from_: Vector,
        to: Vector,
        width_mm: float,
        height_mm: float,
        wall_mm: float,
        roll_deg: float = 0.0,
        corner_mm: float | None = None,
    ) -> Member:
        """`width_mm` is the breadth of the first pair of faces (horizontal at roll 0), `height_mm` of the
        second."""
        return Member(Section(width_mm, height_mm, wall_mm, corner_mm), from_, to, roll_deg)

    @staticmethod
    @reads
    def tube(from_: Vector, to: Vector, diameter_mm: float, wall_mm: float | None = None) -> Member:
        """Round tube; no wall is a solid bar (or a housing of unknown inside)."""
        return Member(Section(diameter_mm, diameter_mm, wall_mm or 0.0, is_round=True), from_, to)

    @staticmethod
    @reads
    def cylinder(from_: Vector, to: Vector, diameter_mm: float) -> Member:
        return Member.tube(from_, to, diameter_mm)

    @staticmethod
    @reads
    def plate(
        from_: Vector, to: Vector, width_mm: float, thickness_mm: float, roll_deg: float = 0.0
    ) -> Member:
        """Flat bar: its broad faces are the first pair (level at roll 0 on a level axis)."""
        return Member(Section(width_mm, thickness_mm), from_, to, roll_deg)

    @staticmethod
    @reads
    def box(centre: Vector, size: Vector) -> Member:
        """Solid box with its edges along the car's axes; `size` along x, y, z."""
        require.positive(size_x_mm=size[0], size_y_mm=size[1], size_z_mm=size[2])
        x, y, z = centre
        # an upright axis has local x along car y and local y along -x
        return Member(Section(size[1], size[0]), (x, y, z - size[2] / 2), (x, y, z + size[2] / 2))

    @cached_property
    def frame(self) -> Frame:
        """Of its local axes, in car axes."""
        return member_frame(self.from_, self.to, self.roll_deg)

    @property
    def length_mm(self) -> float:
        return math.dist(self.from_, self.to)

    def outline(self) -> Outline:
        """The cross-section's metal."""
        return self.section.outline()

    def form(self) -> Form:
        """In local axes; place it with `frame()`."""
        s = self.section
        if s.is_round:
            return Form(
                (Round(s.width_mm, self.length_mm, s.width_mm - 2 * s.wall_mm if s.wall_mm else 0.0),)
            )
        return Form((Prism(s.outline(), self.length_mm),))

    def hull_form(self, sharp: bool = False) -> Form:
        """The envelope with the bore filled: what a moving part can touch from outside. `sharp`: with corners
        as sharp as they may be."""
        s = self.section
        if s.is_round:
            return Form((Round(s.width_mm, self.length_mm),))
        return Form((Prism(Outline(s.hull() if sharp else s.outer()), self.length_mm),))

    @property
    def volume_mm3(self) -> float:
        return self.section.outline().area_mm2 * self.length_mm

    @property
    def mass_kg(self) -> float:
        """At `density_kg_mm3` (steel unless given); for a tank or a housing it means nothing."""
        return self.volume_mm3 * self.density_kg_mm3

    @property
    def centroid(self) -> Vector:
        """In local axes: half way along."""
        return 0.0, 0.0, self.length_mm / 2
