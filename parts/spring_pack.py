"""Torsion springs as bodies: a pack of flat leaves, a solid bar, a tube. Rates and stresses live with the
section formulas.

Local axes: origin on the axis where the free length starts, z along the free length toward the far anchor, x
along the leaves' width. The ends that sit in the sockets reach `end_mm` beyond the free length both ways.
"""

from __future__ import annotations

import math

from parts.base import require
from parts.base.frozen import dataclass
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Prism, Round, Vector
from parts.shape.outline import Hole, Outline, rectangle
from parts.shape.shapes import hexagon

HEAD_PER_DIAMETER = 1.25  # hexagon across flats to bar diameter, common practice
SPANNERS_MM = (
    10.0,
    13.0,
    16.0,
    17.0,
    18.0,
    19.0,
    21.0,
    22.0,
    24.0,
    27.0,
    30.0,
    32.0,
    36.0,
    41.0,
    46.0,
    50.0,
    55.0,
    60.0,
)


@dataclass(frozen=True)
class LeafPack(SteelPart):
    """`leaves` strips of `width_mm` x `thickness_mm`, `length_mm` free between the sockets. `end_mm` in each
    socket, one width unless given. The strips lie on each other along y, free to slide."""

    leaves: int
    width_mm: float
    thickness_mm: float
    length_mm: float
    end_mm: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            leaves=self.leaves,
            width_mm=self.width_mm,
            thickness_mm=self.thickness_mm,
            length_mm=self.length_mm,
            end_mm=self.socket_mm,
        )
        if self.thickness_mm > self.width_mm:
            raise ValueError(
                f"leaf thickness is {self.thickness_mm:g} mm; it must not exceed the width, "
                f"{self.width_mm:g} mm"
            )

    @property
    def socket_mm(self) -> float:
        return self.end_mm if self.end_mm is not None else self.width_mm

    @property
    def strip_length_mm(self) -> float:
        """To cut each strip to."""
        return self.length_mm + 2 * self.socket_mm

    @property
    def circle_mm(self) -> float:
        """Diameter the pack sweeps: its diagonal. A housing's bore must be larger."""
        return math.hypot(self.width_mm, self.leaves * self.thickness_mm)

    def form(self) -> Form:
        """One prism a strip, touching."""
        low = -self.leaves * self.thickness_mm / 2
        x = self.width_mm / 2
        return Form(
            tuple(
                Prism(
                    Outline(rectangle(-x, low + k * self.thickness_mm, x, low + (k + 1) * self.thickness_mm)),
                    self.strip_length_mm,
                    Frame((0.0, 0.0, -self.socket_mm)),
                )
                for k in range(self.leaves)
            )
        )

    @property
    def volume_mm3(self) -> float:
        return self.leaves * self.width_mm * self.thickness_mm * self.strip_length_mm

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, self.length_mm / 2


@dataclass(frozen=True)
class TorsionBar(SteelPart):
    """Round bar (`wall_mm` 0) or tube with a hexagon head at each end. `length_mm` free between the heads;
    heads `head_mm` across flats (the spanner size at or above 1.25 diameters unless given) and as long as
    that."""

    diameter_mm: float
    length_mm: float
    wall_mm: float = 0.0
    head_mm: float | None = None
    end_mm: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(diameter_mm=self.diameter_mm, length_mm=self.length_mm)
        if not 0 <= self.wall_mm < self.diameter_mm / 2:
            raise ValueError(
                f"wall is {self.wall_mm:g} mm; it must be at least 0 and less than half of "
                f"{self.diameter_mm:g} mm"
            )
        require.at_least(
            "head_across_flats_mm",
            self.across_flats_mm,
            self.diameter_mm,
            "a head thinner than the bar breaks first",
        )
        require.positive(end_mm=self.socket_mm)

    @property
    def across_flats_mm(self) -> float:
        if self.head_mm is not None:
            return self.head_mm
        least = HEAD_PER_DIAMETER * self.diameter_mm
        return next((s for s in SPANNERS_MM if s >= least - 1e-9), math.ceil(least))

    @property
    def socket_mm(self) -> float:
        return self.end_mm if self.end_mm is not None else self.across_flats_mm

    @property
    def circle_mm(self) -> float:
        """Diameter that a housing's bore must pass: across the head's corners."""
        return self.across_flats_mm * 2 / math.sqrt(3)

    @property
    def bore_mm(self) -> float:
        return self.diameter_mm - 2 * self.wall_mm if self.wall_mm else 0.0

    def form(self) -> Form:
        holes = (Hole(0.0, 0.0, self.bore_mm, "bore"),) if self.bore_mm else ()
        head = Outline(hexagon(self.across_flats_mm), holes=holes)
        return Form(
            (
                Prism(head, self.socket_mm, Frame((0.0, 0.0, -self.socket_mm))),
                Round(self.diameter_mm, self.length_mm, self.bore_mm),
                Prism(head, self.socket_mm, Frame((0.0, 0.0, self.length_mm))),
            )
        )

    @property
    def volume_mm3(self) -> float:
        bore = math.pi / 4 * self.bore_mm**2
        head = math.sqrt(3) / 2 * self.across_flats_mm**2 - bore
        return 2 * head * self.socket_mm + (math.pi / 4 * self.diameter_mm**2 - bore) * self.length_mm

    @property
    def centroid(self) -> Vector:
        return 0.0, 0.0, self.length_mm / 2
