"""What holds a torsion spring's end: a stack of plates with a window.

The spring is never welded. A leaf pack ends in a rectangular window; a solid or hollow bar ends in a hexagon
head (upset or machined from larger stock) in a hexagonal window. The plates of a stack are alike. Each seam
between two is ground to a V all round and welded, for it carries the torque of the plates beyond it; then the
stack is welded to the sleeve or the anchor plate, all before the spring goes in. Local axes: origin on the
spring's axis at the mouth (the face the free length starts from), z into the socket, x along the leaves'
width (square to a flat of the hexagon).
"""

from __future__ import annotations

import math

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism, Vector
from parts.shape.outline import Loop, Mark, Outline, circle, rounded
from parts.shape.shapes import hexagon

LEAST_RIM_MM = 3.0  # metal outside the window's corners, common practice
PLATE_MM = 4.0  # of a socket's stack, common practice
SEAM_MM = 2.0  # two edges of such a plate each ground off half its thickness


@dataclass(frozen=True)
class SpringSocket(Flat):
    """`width_mm` x `height_mm` of the spring's end; height 0 is a hexagon, width its across flats.
    `outer_diameter_mm` of the round plates. `clearance_mm` window less spring, across each pair of sides.
    `corner_radius_mm` in the window's corners, `spring_corner_mm` the radius dressed on the spring's own
    edges. Depth: at least one width of full bearing.

    Raises ValueError where a corner would carry the spring, the rim is too thin, or a number is not
    positive."""

    width_mm: float
    height_mm: float
    outer_diameter_mm: float
    plate_thickness_mm: float = PLATE_MM
    clearance_mm: float = 0.4
    corner_radius_mm: float = 1.0
    spring_corner_mm: float = 0.5
    least_depth_mm: float = 0.0  # more plates where the pressure in the window asks for it
    seam_mm: float = SEAM_MM  # depth of the V ground round each seam between two plates and welded

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            width_mm=self.width_mm,
            outer_diameter_mm=self.outer_diameter_mm,
            clearance_mm=self.clearance_mm,
            plate_thickness_mm=self.plate_thickness_mm,
            corner_radius_mm=self.corner_radius_mm,
            seam_mm=self.seam_mm,
        )
        require.not_negative(
            height_mm=self.height_mm,
            spring_corner_mm=self.spring_corner_mm,
            least_depth_mm=self.least_depth_mm,
        )
        if self.plates > 1:
            require.at_most(
                "seam_mm",
                self.seam_mm,
                self.plate_thickness_mm / 2,
                "the Vs on both edges of a plate meet; spring.socket_plate or a shallower seam",
            )
        require.at_least(
            "clearance_mm",
            self.clearance_mm,
            self.least_clearance_mm,
            "the spring's edges would bear on the window's round corners; more clearance, a smaller corner "
            "radius "
            "or a larger radius on the spring's edges",
        )
        require.at_least(
            "outer_diameter_mm",
            self.outer_diameter_mm,
            2 * (self.reach_mm + LEAST_RIM_MM),
            f"{LEAST_RIM_MM:g} mm of rim outside the window's corners",
        )

    @staticmethod
    @reads
    def for_leaves(
        leaves: int, leaf_width_mm: float, leaf_thickness_mm: float, outer_diameter_mm: float, **more
    ) -> SpringSocket:
        require.positive(leaves=leaves)
        return SpringSocket(leaf_width_mm, leaves * leaf_thickness_mm, outer_diameter_mm, **more)

    @staticmethod
    @reads
    def for_hexagon(across_flats_mm: float, outer_diameter_mm: float, **more) -> SpringSocket:
        return SpringSocket(across_flats_mm, 0.0, outer_diameter_mm, **more)

    @property
    def is_hexagon(self) -> bool:
        return self.height_mm == 0

    @property
    def least_clearance_mm(self) -> float:
        """2·(r - rs)·(1 - sin(A/2)): a corner of inside angle A and radius r then stays off a spring edge of
        radius rs."""
        half = math.radians(60 if self.is_hexagon else 45)
        return 2 * max(self.corner_radius_mm - self.spring_corner_mm, 0.0) * (1 - math.sin(half))

    @property
    def reach_mm(self) -> float:
        """Axis to the window's sharp corner."""
        if self.is_hexagon:
            return (self.width_mm + self.clearance_mm) / math.sqrt(3)
        return math.hypot(self.width_mm + self.clearance_mm, self.height_mm + self.clearance_mm) / 2

    @property
    def plates(self) -> int:
        """How many give at least one strip width (across flats) of bearing, the rounded mouth not counted."""
        return math.ceil(
            max(self.width_mm + self.corner_radius_mm, self.least_depth_mm) / self.plate_thickness_mm - 1e-9
        )

    @property
    def depth_mm(self) -> float:
        return self.plates * self.plate_thickness_mm

    @property
    def slack_deg(self) -> float:
        """How far a sharp-edged spring turns from the middle before it bears, each way; about clearance/width
        rad.

        >>> round(SpringSocket(32, 16, 60).slack_deg, 2)
        0.72
        """
        b, h, c = self.width_mm, self.height_mm, self.clearance_mm
        if self.is_hexagon:
            return 30 - math.degrees(math.acos(min(1.0, (b + c) * math.sqrt(3) / (2 * b))))
        far, lean = math.hypot(b, h), math.atan2(h, b)
        # sides h: b·sin θ + h·cos θ = h + c; sides b: b·cos θ + h·sin θ = b + c, which may never come
        turns = [math.asin(min(1.0, (h + c) / far)) - lean if h + c < far else math.pi]
        turns.append(lean - math.acos((b + c) / far) if b + c < far else math.pi)
        return math.degrees(min(turns))

    def window(self) -> Loop:
        """Counter-clockwise; true arcs in the corners."""
        if self.is_hexagon:
            corners = [(v.x, v.y) for v in hexagon(self.width_mm + self.clearance_mm).vertices]
        else:
            x, y = (self.width_mm + self.clearance_mm) / 2, (self.height_mm + self.clearance_mm) / 2
            corners = [(-x, -y), (x, -y), (x, y), (-x, y)]
        return rounded(corners, self.corner_radius_mm)

    @property
    def thickness_mm(self) -> float:
        """Of one plate of the stack: the blank's."""
        return self.plate_thickness_mm

    def outline(self) -> Outline:
        """One plate of the stack."""
        return Outline(
            circle(0, 0, self.outer_diameter_mm),
            (self.window().reversed(),),
            marks=(Mark("line", ((-self.outer_diameter_mm / 2, 0.0), (self.outer_diameter_mm / 2, 0.0))),),
        )

    def form(self) -> Form:
        outline, thick = self.outline(), self.plate_thickness_mm
        return Form(tuple(Prism(outline, thick, Frame((0.0, 0.0, k * thick))) for k in range(self.plates)))

    @property
    def volume_mm3(self) -> float:
        """Disc less window; a corner of inside angle A gives back r²·(cot(A/2) - (π - A)/2)."""
        r = self.corner_radius_mm
        if self.is_hexagon:
            window = math.sqrt(3) / 2 * (self.width_mm + self.clearance_mm) ** 2 - r * r * (
                6 / math.sqrt(3) - math.pi
            )
        else:
            window = (self.width_mm + self.clearance_mm) * (self.height_mm + self.clearance_mm) - r * r * (
                4 - math.pi
            )
        return (math.pi / 4 * self.outer_diameter_mm**2 - window) * self.depth_mm

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, self.depth_mm / 2
