"""A telescopic damper as two envelopes, body and shaft, and a coil spring round it where there is one.

Each envelope has its own local axes: origin at its own eye's centre, z toward the other eye, x along the
eye's bolt. The body is taken as long as the shortest length allows, so a gap found to it holds for any real
body of that diameter. The damper is bought: its mass is what you weighed.
"""

from __future__ import annotations

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.part import Part
from parts.shape.form import Form, Frame, Piece, Prism, Round
from parts.shape.outline import Hole, Outline, Vertex
from parts.shape.shapes import boss_on_foot

NECK_MM = 3.0  # eye's edge to the end cap or perch; common practice
INSIDE_MM = 5.0  # of the shaft still in the body when fully drawn out; common practice
LEAST_GUIDE_MM = 10.0  # body longer than the stroke by at least this much; common practice


@dataclass(frozen=True)
class Damper(Part):
    """`longest_mm`, `shortest_mm` eye to eye; `eye_bore_mm` the bolt's hole; `eye_diameter_mm` over the eye,
    2.2 bores unless given; `eye_width_mm` along the bolt.

    Raises ValueError where the lengths, diameters or the room for the body do not fit together."""

    longest_mm: float
    shortest_mm: float
    body_diameter_mm: float
    shaft_diameter_mm: float = 14.0
    eye_bore_mm: float = 10.0
    eye_width_mm: float = 20.0
    eye_diameter_mm: float | None = None
    seat_mm: float | None = None  # shaft eye's centre to a coil's seat on the shaft; None: no coil
    body_from_eye_mm: float | None = None  # body eye's centre to where the body begins; None: its neck
    mass_kg: float | None = None  # as weighed

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            longest_mm=self.longest_mm,
            shortest_mm=self.shortest_mm,
            body_diameter_mm=self.body_diameter_mm,
            shaft_diameter_mm=self.shaft_diameter_mm,
            eye_bore_mm=self.eye_bore_mm,
            eye_width_mm=self.eye_width_mm,
        )
        require.not_negative(seat_mm=self.seat_mm or 0.0)
        if self.mass_kg is not None:
            require.positive(mass_kg=self.mass_kg)
        if self.longest_mm <= self.shortest_mm:
            raise ValueError(
                f"longest is {self.longest_mm:g} mm; it must be more than shortest, {self.shortest_mm:g} mm"
            )
        if self.eye_mm <= self.eye_bore_mm + 2:
            raise ValueError(
                f"eye diameter is {self.eye_mm:g} mm; it must be more than the bore and 2 mm, "
                f"{self.eye_bore_mm + 2:g} mm"
            )
        require.at_least(
            "body_from_eye_mm", self.cap_mm, self.eye_mm / 2, "the body would begin inside its own eye"
        )
        if self.shaft_diameter_mm >= self.body_diameter_mm - 2:
            raise ValueError(
                f"shaft diameter is {self.shaft_diameter_mm:g} mm; it must be less than the body's less 2 "
                f"mm, "
                f"{self.body_diameter_mm - 2:g} mm"
            )
        if self.shaft_diameter_mm > self.eye_mm:
            raise ValueError(
                f"shaft diameter is {self.shaft_diameter_mm:g} mm; it must not exceed the eye's, "
                f"{self.eye_mm:g} mm"
            )
        require.at_least(
            "shortest_mm",
            self.shortest_mm,
            self.cap_mm + self.shaft_cap_mm + self.stroke_mm + LEAST_GUIDE_MM + 1,
            "a body this short cannot hold its own stroke between the eyes",
        )

    @property
    def stroke_mm(self) -> float:
        return self.longest_mm - self.shortest_mm

    @property
    def eye_mm(self) -> float:
        return self.eye_diameter_mm if self.eye_diameter_mm is not None else 2.2 * self.eye_bore_mm

    @property
    def neck_mm(self) -> float:
        """Eye centre to where the eye ends, towards the other eye."""
        return self.eye_mm / 2 + NECK_MM

    @property
    def cap_mm(self) -> float:
        """Body eye's centre to the body's end cap."""
        return self.neck_mm if self.body_from_eye_mm is None else self.body_from_eye_mm

    @property
    def shaft_cap_mm(self) -> float:
        """Shaft eye's centre to what the body meets first when shut: the coil's seat, or the eye's neck."""
        return max(self.neck_mm, self.seat_mm or 0.0)

    @property
    def body_length_mm(self) -> float:
        """End cap to the shaft's guide: the longest that stays 1 mm clear of the shaft's neck or seat when
        fully shut."""
        return self.shortest_mm - self.cap_mm - self.shaft_cap_mm - 1.0

    @property
    def shaft_length_mm(self) -> float:
        """From the shaft eye's neck into the body, still `INSIDE_MM` inside when fully drawn out."""
        return self.longest_mm - self.cap_mm - self.neck_mm - self.body_length_mm + INSIDE_MM

    @property
    def forms(self) -> dict[str, Form]:
        """Body and shaft, the damper pulled right out: the body's eye at the origin, the shaft's on z."""
        away = Frame.looking((0.0, 0.0, self.longest_mm), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0))
        return {"body": self.body_form(), "shaft": self.shaft_form().moved(away)}

    def body_form(self) -> Form:
        """Eye, and the body as a cup open toward the shaft."""
        body = Round(self.body_diameter_mm, self.body_length_mm, 0.0, Frame((0.0, 0.0, self.cap_mm)))
        depth = INSIDE_MM + self.stroke_mm + 1
        inside = Round(
            self.shaft_diameter_mm + 1.0,
            depth,
            0.0,
            Frame((0.0, 0.0, self.cap_mm + self.body_length_mm - depth)),
        )
        return Form((self._eye(self.cap_mm), body), (inside,))

    def shaft_form(self) -> Form:
        return Form(
            (
                self._eye(self.neck_mm),
                Round(self.shaft_diameter_mm, self.shaft_length_mm, 0.0, Frame((0.0, 0.0, self.neck_mm))),
            )
        )

    @reads
    def spring_form(self, eye_to_eye_mm: float, outer_diameter_mm: float, spring_length_mm: float) -> Form:
        """The coil's envelope in the shaft's local axes: a ring from the shaft's seat, `spring_length_mm`
        toward the body.

        Raises ValueError where the coil does not pass over the body or reaches past the body's end cap."""
        inside = self.body_diameter_mm + 2
        if outer_diameter_mm <= inside + 4:
            raise ValueError(
                f"spring outer diameter is {outer_diameter_mm:g} mm; it must be more than {inside + 4:g} mm "
                f"to pass "
                f"over a body of {self.body_diameter_mm:g} mm"
            )
        require.positive(spring_length_mm=spring_length_mm)
        require.at_most(
            "spring_length_mm",
            spring_length_mm,
            eye_to_eye_mm - self.cap_mm - self.shaft_cap_mm,
            "the coil does not fit between the perches; a shorter spring or a longer damper",
        )
        return Form(
            (Round(outer_diameter_mm, spring_length_mm, inside, Frame((0.0, 0.0, self.shaft_cap_mm))),)
        )

    def _eye(self, to_mm: float) -> Piece:
        half = min(self.eye_mm, self.body_diameter_mm) / 2
        # outline x is local z, outline y is local y, the prism's thickness runs along -x: centred on the eye
        foot = (Vertex(to_mm, -half), Vertex(to_mm, half))
        lug = Outline(
            boss_on_foot(self.eye_mm / 2, foot),
            holes=(Hole(0.0, 0.0, self.eye_bore_mm, "damper eye", "reamed"),),
        )
        return Prism(
            lug,
            self.eye_width_mm,
            Frame((self.eye_width_mm / 2, 0.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0)),
        )
