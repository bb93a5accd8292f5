"""Wrap strips at 1:1: hole centres of a tube on paper to wrap round it, for either hand, as PDF and DXF.

A strip lies flat as seen from outside the tube: up is towards the spring, to the right is right-handed about
that direction. Paper wrapped on a tube lies at D + its own thickness, so the strip is π·(D + paper) wide and
every arc grows alike.
"""

from __future__ import annotations

import math

from assemblies.setup.clocking.drilling import DrillHole, Drilling
from parts.base.frozen import dataclass
from parts.shape.outline import Mark, Outline, rectangle

PAPER_MM = 0.1  # 80 g/m²
MARGIN_MM = 10.0


@dataclass(frozen=True)
class Spot:
    """A hole's centre on the strip, mm from its lower left corner."""

    x_mm: float
    y_mm: float
    hole: DrillHole


@dataclass(frozen=True)
class WrapStrip:
    """One tube's strip. `loading` is +1 where the loading sense runs to the right."""

    part: str
    hand: str
    diameter_mm: float
    length_mm: float
    loading: int
    seam_deg: float  # angle at the left edge
    holes: tuple[DrillHole, ...]
    paper_mm: float = PAPER_MM
    foot: str = "ROCKER END"  # which end of the tube is down

    @property
    def width_mm(self) -> float:
        return math.pi * (self.diameter_mm + self.paper_mm)

    def x_mm(self, angle_deg: float) -> float:
        """Place of an angle across the strip."""
        return (angle_deg - self.seam_deg) % 360 / 360 * self.width_mm

    @property
    def spots(self) -> tuple[Spot, ...]:
        return tuple(Spot(self.x_mm(h.angle_deg), h.along_mm, h) for h in self.holes)

    def outline(self) -> Outline:
        """The paper's edge to cut, everything else as marks."""
        w, h, x = self.width_mm, self.length_mm, self.x_mm(0.0)
        tip = w / 2 + 12 * self.loading
        marks = [
            Mark("line", ((x, 0.0), (x, h))),
            Mark("text", ((x + 1, 1.0),), "DATUM", 3.0),
            Mark("line", ((w / 2 - 12 * self.loading, h - 4), (tip, h - 4))),
            Mark("line", ((tip - 4 * self.loading, h - 2), (tip, h - 4), (tip - 4 * self.loading, h - 6))),
            Mark("text", ((2.0, h - 5),), "LOADING", 3.0),
            Mark("text", ((w * 0.6, 1.0),), f"{self.foot} {self.hand.upper()}", 3.0),
        ]
        marks += [Mark("pop", ((s.x_mm, s.y_mm),)) for s in self.spots]
        return Outline(rectangle(0.0, 0.0, w, h), marks=tuple(marks))


def strips(drill: Drilling, hand: str) -> list[WrapStrip]:
    """Strips of the pivot tube's inner and the sleeve's outer tube for "left" or "right"."""
    if hand not in ("left", "right"):
        raise ValueError(f'hand is "{hand}"; it must be left or right')
    if drill.sleeve is None:
        return []
    flip = hand != drill.side
    out = []
    for which, diameter in (("inner", drill.sleeve.inner_mm), ("outer", drill.sleeve.outer_mm)):
        part = f"sleeve {which} tube"
        holes = tuple(mirrored(h, diameter) if flip else h for h in drill.holes() if h.part == part)
        out.append(
            WrapStrip(
                part,
                hand,
                diameter,
                drill.sleeve.length_mm,
                -drill.turn if flip else drill.turn,
                _seam(holes),
                holes,
                foot="FREE END" if drill.stub else "ROCKER END",
            )
        )
    return out


def mirrored(h: DrillHole, diameter_mm: float) -> DrillHole:
    """The same hole for the other hand: its angle turns sign."""
    angle = -h.angle_deg % 360
    return DrillHole(
        h.joint, h.part, h.row, h.along_mm, angle, math.radians(angle) * diameter_mm / 2, h.diameter_mm
    )


def _seam(holes: tuple[DrillHole, ...]) -> float:
    """The middle of the widest gap between hole angles, so that the seam misses centres; of several the one
    furthest from the datum."""
    angles = sorted({round(h.angle_deg % 360, 6) for h in holes} | {0.0})
    gaps = [((b - a) % 360 or 360.0, a) for a, b in zip(angles, [*angles[1:], angles[0]], strict=True)]
    widest = max(round(g[0], 4) for g in gaps)
    middles = [(a + g / 2) % 360 for g, a in gaps if round(g, 4) == widest]
    return min(middles, key=lambda m: (round(abs(m - 180), 6), m))
