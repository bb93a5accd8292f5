"""Hole tables: every hole of every blank, and of the sleeve's two tubes, with places, drills in order, reamer
and company."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from assemblies.making.sheets.blank import BlankSheet, steps
from assemblies.results.table_file import write_table
from parts.adjuster_sleeve import AdjusterSleeve

HEAD = [
    "blank",
    "hand",
    "hole",
    "purpose",
    "x, mm",
    "y, mm",
    "diameter, mm",
    "fit",
    "limits, mm",
    "order",
    "held",
    "when",
    "from side",
]
SLEEVE_HEAD = [
    "hand",
    "tube",
    "hole",
    "row",
    "from the overlap's end at the rocker, mm",
    "from the tube's end at the spring, mm",
    "angle, deg",
    "along the outside, mm",
    "diameter, mm",
    "order",
]


def rows(blanks: Sequence[BlankSheet]) -> list[list[str]]:
    """x from the left datum edge, y from the bottom one, of the blank as its own hand's template shows it."""
    return [
        [
            b.part,
            b.hand,
            str(h.number),
            h.purpose,
            f"{h.x_mm:.2f}",
            f"{h.y_mm:.2f}",
            f"{h.diameter_mm:g}",
            h.fit,
            f"{h.limits_mm[0]:.3f} to {h.limits_mm[1]:.3f}" if h.limits_mm else "",
            h.order,
            h.stack,
            h.when,
            h.side,
        ]
        for b in blanks
        for h in b.holes
    ]


def sleeve_rows(sleeve: AdjusterSleeve) -> list[list[str]]:
    """Holes straight across both walls. Angles right-handed about the axis looking from rocker to spring
    (clockwise as seen from the rocker), from the mark in line with the rod's arm. Both tubes end together at
    the spring; at the rocker the inner one may go on as its pivot tube, so that only the other end can be
    measured from."""
    drills, last, _ = steps(sleeve.hole_mm, "reamed", "drill")
    order = f"drill {', '.join(f'{d:g}' for d in drills)}; {last}, straight across both walls"
    return [
        [
            sleeve.hand,
            tube,
            str(n),
            str(h.row),
            f"{h.z_mm:.2f}",
            f"{sleeve.length_mm - h.z_mm:.2f}",
            f"{h.angle_deg:.2f}",
            f"{h.arc_mm:.2f}",
            f"{sleeve.hole_mm:g}",
            order,
        ]
        for tube in ("inner", "outer")
        for n, h in enumerate(sleeve.holes(tube), 1)
    ]


def write(folder: Path, blanks: Sequence[BlankSheet], sleeve: AdjusterSleeve | None) -> list[Path]:
    """hole-table.csv, and sleeve-holes.csv where there is a sleeve."""
    out = [write_table(folder / "hole-table.csv", HEAD, rows(blanks))]
    if sleeve is not None:
        out.append(write_table(folder / "sleeve-holes.csv", SLEEVE_HEAD, sleeve_rows(sleeve)))
    return out
