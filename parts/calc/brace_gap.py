"""Two braces on one face of a chord: the gap between their toes from the eccentricity of the node.

Both from the edges of the braces where they meet the chord's face, in the plane of the three axes; lengths
mm, angles between brace and chord in deg. Closed form; e counts from the chord's axis, positive beyond it,
away from
the braces."""

from __future__ import annotations

import math


def gap_mm(
    chord_mm: float, brace1_mm: float, angle1_deg: float, brace2_mm: float, angle2_deg: float, off_mm: float
) -> float:
    """Along the chord's face, from toe to toe; negative is overlap. Sizes are heights in the plane.

    >>> round(gap_mm(40, 25, 50, 25, 40, 0.0), 4)
    4.8529
    """
    spread, feet = _spread(angle1_deg, angle2_deg), _feet(brace1_mm, angle1_deg, brace2_mm, angle2_deg)
    return (off_mm + chord_mm / 2) * spread - feet


def _spread(a_deg: float, b_deg: float) -> float:
    """How far apart along the face two lines meet it, for each mm of their crossing's depth below it."""
    a, b = math.radians(a_deg), math.radians(b_deg)
    return math.sin(a + b) / (math.sin(a) * math.sin(b))


def _feet(h1_mm: float, a_deg: float, h2_mm: float, b_deg: float) -> float:
    return h1_mm / (2 * math.sin(math.radians(a_deg))) + h2_mm / (2 * math.sin(math.radians(b_deg)))
