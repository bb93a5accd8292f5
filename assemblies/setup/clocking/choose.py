"""Tooth or hole counts for a wanted step, from what fits the tubes and plates; and the angle a loose hole
loses."""

from __future__ import annotations

from assemblies.setup.clocking.joints import settings_a_turn
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.frozen import dataclass
from parts.spring_socket import SpringSocket

COUNTS = range(6, 61)


@dataclass(frozen=True)
class Choice:
    """A pair of counts that fits: hole edge and spacing as the parts' own rules ask (EN 1993-1-8 Table
    3.3)."""

    sleeve: int
    anchor: int
    step_deg: float
    coarse_deg: float  # the smaller of the two ends' own steps
    holes: int  # hole mouths to drill in all
    overlap_mm: float  # of the sleeve's tubes
    plate_mm: float  # diameter of the anchor plates
    bolts_in_line: int  # at the anchor, the fewest


def choose(
    wanted_step_deg: float,
    inner_mm: float,
    inner_wall_mm: float,
    socket: SpringSocket,
    bolt: str = "M8",
    most_overlap_mm: float = 200.0,
    most_plate_mm: float = 160.0,
    count: int = 8,
) -> list[Choice]:
    """The pairs of counts with a step of at most `wanted_step_deg` that fit, fewest holes first.

    Raises ValueError where none fits, naming the finest step that does."""
    if not wanted_step_deg > 0:
        raise ValueError(f"wanted_step_deg is {wanted_step_deg}; it must be above 0")
    sleeves = {
        n: s
        for n in COUNTS
        if n % 2 == 0
        and (s := _try(lambda n=n: AdjusterSleeve.around(inner_mm, inner_wall_mm, n, bolt)))
        and s.length_mm <= most_overlap_mm + 1e-9
    }
    anchors = {
        n: a
        for n in COUNTS
        if (a := _try(lambda n=n: AnchorPlates(socket, n, bolt, most_diameter_mm=most_plate_mm)))
    }
    both = [(360 / settings_a_turn((n, k)), n, k) for n in sleeves for k in anchors]
    fits = [b for b in both if b[0] <= wanted_step_deg + 1e-9]
    if not fits:
        finest = f"; the finest that fits is {min(both)[0]:.3g} deg" if both else ""
        raise ValueError(
            f"no pair of counts from {COUNTS.start} to {COUNTS.stop - 1} gives {wanted_step_deg:g} deg with "
            f"{bolt} bolts on a {inner_mm:g} mm tube within "
            f"{most_overlap_mm:g} mm of overlap and plates of {most_plate_mm:g} mm{finest}: use a smaller "
            f"bolt or allow more room"
        )
    out = []
    for step, n, k in fits:
        s, a = sleeves[n], anchors[k]
        plates = sum(
            h.purpose.startswith("clocking") for which in ("fixed", "turning") for h in a.outline(which).holes
        )
        out.append(
            Choice(
                n,
                k,
                step,
                min(s.step_deg, 360 / k),
                2 * (len(s.holes("inner")) + len(s.holes("outer"))) + plates,
                s.length_mm,
                a.diameter_mm,
                a.bolts_in_line,
            )
        )
    return sorted(out, key=lambda c: (c.holes, c.plate_mm, c.sleeve, c.anchor))[:count]


def _try(make):
    try:
        return make()
    except ValueError:
        return None
