"""A tube with both ends cut to fit: its lengths, its metal, its form and its envelope. Lengths mm."""

from __future__ import annotations

from functools import cached_property, lru_cache

import numpy as np

from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.member import Member, Section
from parts.part import Part
from parts.shape.form import Form, Frame, Prism, Round, Vector
from parts.shape.outline import Outline
from parts.tube_end import PROUD_MM, TubeEnd, tube_end, wall_faces

MARGIN_MM = 0.01  # the envelope's over the long point: what lies between the lines


@dataclass(frozen=True, eq=False)
class Fitted(Part):
    """A member with both ends cut. `from_cut` and `to_cut` are square ends where nothing is met."""

    member: Member
    from_cut: TubeEnd
    to_cut: TubeEnd

    @property
    def section(self) -> Section:
        return self.member.section

    @property
    def length_mm(self) -> float:
        """What to saw off the bar: from the long point of one end to the long point of the other, along the
        axis."""
        return self.member.length_mm - self.from_cut.long_mm - self.to_cut.long_mm

    @property
    def short_mm(self) -> float:
        """Between the short points."""
        return self.member.length_mm - self.from_cut.short_mm - self.to_cut.short_mm

    @cached_property
    def generators_mm(self) -> tuple[float, float]:
        """The longest and the shortest line along the outside."""
        a, b = self.from_cut, self.to_cut
        s = distinct(np.concatenate([a.around_mm, b.around_mm]))
        t = (
            self.member.length_mm
            - np.interp(s, a.around_mm, a.outer_mm)
            - np.interp(s, b.around_mm, b.outer_mm)
        )
        return float(t.max()), float(t.min())

    @property
    def crossed(self) -> bool:
        """Whether some line's cuts at the two ends pass each other: no tube is left there."""
        return self.short_mm <= 0 and self.generators_mm[1] <= 0

    @cached_property
    def volume_mm3(self) -> float:
        return self.member.volume_mm3 - self.from_cut.lost_mm3 - self.to_cut.lost_mm3

    @property
    def mass_kg(self) -> float:
        return self.volume_mm3 * self.member.density_kg_mm3

    @property
    def centroid(self) -> Vector:
        """In the member's local axes."""
        a, b, long = self.from_cut.moments, self.to_cut.moments, self.member.length_mm
        z = self.member.volume_mm3 * long / 2 - (long * b[0] - b[1]) - a[1]
        v = self.volume_mm3
        return (-(a[2] + b[2]) / v, -(a[3] + b[3]) / v, z / v)

    @property
    def frame(self) -> Frame:
        return self.member.frame

    def outline(self) -> Outline:
        return self.member.outline()

    def form(self) -> Form:
        """The metal, in the member's local axes: a tube between the long points, the runs taken out of it."""
        return self._form

    @cached_property
    def _form(self) -> Form:
        low, high = (
            c.long_mm - (PROUD_MM if c.runs and not c.missing else 0.0) for c in (self.from_cut, self.to_cut)
        )
        high = self.member.length_mm - high
        s = self.section
        frame = Frame((0.0, 0.0, low))
        body = (
            Round(s.width_mm, high - low, s.width_mm - 2 * s.wall_mm if s.wall_mm else 0.0, frame)
            if s.is_round
            else Prism(s.outline(), high - low, frame)
        )
        wall = s.wall_mm / 2 if s.wall_mm else s.width_mm / 2
        heart = (
            s.width_mm / 2 - wall,
            0.0,
            (self.from_cut.short_mm + self.member.length_mm - self.to_cut.short_mm) / 2,
        )
        return Form(
            (body,),
            tuple(
                p
                for name, end in (("from", self.from_cut), ("to", self.to_cut))
                for p in self._cuts(name, end)
            ),
            heart,
            self.volume_mm3,
        )

    def hull_form(self, sharp: bool = False) -> Form:
        """The envelope with the bore filled, square at the long points: it holds all the metal. `sharp`: with
        corners as sharp as they may be."""
        low, high = (c.long_mm - (MARGIN_MM if c.runs else 0.0) for c in (self.from_cut, self.to_cut))
        high = self.member.length_mm - high
        s, frame = self.section, Frame((0.0, 0.0, low))
        return Form(
            (
                Round(s.width_mm, high - low, frame=frame)
                if s.is_round
                else Prism(Outline(s.hull() if sharp else s.outer()), high - low, frame),
            )
        )

    def _cuts(self, name: str, end: TubeEnd) -> list:
        m = self.member.frame.matrix()
        turn, at = m[:3, :3], m[:3, 3]
        _, x, y = wall_faces(self.section)
        z = [
            (t if name == "from" else self.member.length_mm - t)
            for t in (end.long_mm, max(end.short_mm, float(np.nanmax(end.first[1]))))
        ]
        near = np.concatenate([np.column_stack([x, y, np.full(len(x), v)]) for v in z]) @ turn.T + at
        outwards = -turn[:, 2] if name == "from" else turn[:, 2]
        home = Frame.of(np.linalg.inv(m))
        pieces = [
            p
            for c, swept in zip(end.cutters, end.swept, strict=True)
            for p in c.pieces(near, outwards * (abs(z[1] - z[0]) + 1.0) if swept else None)
        ]
        trimmed = [x.piece(name, self.member.length_mm, end.long_mm) for x in end.trims]
        return [*Form(tuple(pieces)).moved(home).pieces, *trimmed]


def fitted(member: Member, from_cut: TubeEnd | None = None, to_cut: TubeEnd | None = None) -> Fitted:
    """A member with its ends as cut; None is square at the given end."""
    return _fitted(member, from_cut, to_cut)


@lru_cache(512)
def _fitted(member: Member, from_cut: TubeEnd | None, to_cut: TubeEnd | None) -> Fitted:
    return Fitted(member, from_cut or tube_end(member, "from"), to_cut or tube_end(member, "to"))
