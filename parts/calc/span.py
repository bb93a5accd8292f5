"""A straight tube between two nodes under forces and moments from brackets: bending both ways, torsion, pull.

Pinned in bending and held in twist at both nodes, the force along it taken at the first one: a bound for the
tube by itself, which a continuous or a welded one stays under where the load is. Lengths mm, forces N,
moments N·mm; local axes: x and y across, z along the tube from the first node.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from parts.base.units import positive


class Load(NamedTuple):
    """At `at_mm` from the first node: force (k, 3) on the tube's axis and moment (k, 3) about that point."""

    at_mm: float
    force_n: np.ndarray
    moment_nmm: np.ndarray


class SpanForces(NamedTuple):
    """Bending about x and y, torque and force along the tube, one an entry."""

    bend_x_nmm: np.ndarray
    bend_y_nmm: np.ndarray
    torque_nmm: np.ndarray
    along_n: np.ndarray


def cut(length_mm: float, loads: list[Load], at_mm: float, before: bool) -> SpanForces:
    """What the tube carries just before or just after `at_mm`: reactions of the first node less the loads
    before the cut (statics). A force along the tube off its axis comes as a moment, which jumps there.

    Raises ValueError for a load or a cut outside the span."""
    positive(length_mm=length_mm)
    for place in (at_mm, *(p.at_mm for p in loads)):
        if not 0 <= place <= length_mm:
            raise ValueError(f"at_mm is {place}; it must lie on the span, 0 to {length_mm} mm")
    k = len(loads[0].force_n)
    bend_x, bend_y, torque, along = (np.zeros(k) for _ in range(4))
    for p in loads:
        (fx, fy, fz), (mx, my, mz) = p.force_n.T, p.moment_nmm.T
        share = p.at_mm / length_mm
        beyond = p.at_mm < at_mm or (p.at_mm == at_mm and not before)
        # the first node holds -F·(1 - a/L) and, of a couple, M/L; a force along y bends about x and the other
        # way round
        bend_x += (-fy * (1 - share) - mx / length_mm) * at_mm + beyond * (fy * (at_mm - p.at_mm) + mx)
        bend_y += (fx * (1 - share) - my / length_mm) * at_mm + beyond * (-fx * (at_mm - p.at_mm) + my)
        torque += mz * (-share if beyond else 1 - share)
        along += 0.0 if beyond else fz
    return SpanForces(bend_x, bend_y, torque, along)
