"""The jigs of a corner: which there are, their bases as blanks, their lists of pins, spacers and clamps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from assemblies.layout.fasteners import tab_gap_mm
from assemblies.layout.placing import FlatPart, Layout, needed
from assemblies.making.sheets import template
from assemblies.making.sheets.blank import BlankSheet, blank_sheets
from assemblies.making.sheets.paper import Sheet
from parts.jig import Jig, bracket_jig, rocker_jig, sleeve_jig
from parts.spring_pack import LeafPack

PIN_HEAD = ["jig", "pin", "holds", "x, mm", "y, mm", "in the base, mm", "above, mm", "height, mm", "note"]
MATERIAL = "S235"


def jigs(layout: Layout, shrink_mm: float = 0.0) -> list[Jig]:
    """Rocker, every bracket's pair of tabs, sleeve: those that are laid out. The rocker's is seen with its
    tube's long end up."""
    out = []
    job = layout.job
    if layout.rocker is not None:
        made = rocker_jig(layout.rocker, shrink_mm)
        up = (
            sum(a * b for a, b in zip(job.spring_direction, needed(layout.eyes).frame.z, strict=True))
            if layout.sleeve is not None
            else 1.0
        )
        out.append(made if up > 0 else made.turned_over())
    for name, seat in sorted(layout.brackets.items()):
        low, high = (p.part for p in seat.tabs)
        out.append(bracket_jig(name, low, high, tab_gap_mm(low, high), low.outline().holes[0].diameter_mm))
    if layout.sleeve is not None and layout.socket is not None and layout.pack is not None:
        spring = layout.pack.part
        mandrel = (
            f"bar {spring.width_mm:g} x {spring.leaves * spring.thickness_mm:g}"
            if isinstance(spring, LeafPack)
            else f"hexagon {spring.across_flats_mm:g} across flats"
        )
        out.append(sleeve_jig(layout.sleeve, layout.socket.part, mandrel))
    return [replace(j, side=job.corner.side) for j in out]


def flat_parts(made: Sequence[Jig]) -> list[FlatPart]:
    return [FlatPart(j.name, j.outline(), 1, j.thickness_mm, MATERIAL) for j in made]


def base_sheet(j: Jig) -> BlankSheet:
    """The base as a blank of the hand it is drawn for."""
    (flat,) = flat_parts([j])
    found = blank_sheets([flat], j.side, lambda _: math.inf, False)
    return next(b for b in found if b.hand in ("either", j.side))


def sheet(j: Jig) -> Sheet:
    """The base at true size, with its pins, spacers, clamps and notes in the legend."""
    b = base_sheet(j)
    x0, y0 = j.outline().bounds[:2]
    lines = [
        f"Base {j.thickness_mm:g} mm plate, drilled through, pins square to it. x and y from the thin datum "
        f"lines, left and bottom."
    ]
    lines += [
        f"Pin {p.number}, {p.purpose}: x {p.x - x0:.2f} y {p.y - y0:.2f}, Ø{p.spigot_mm:g} in the base "
        f"({_order(b, k)}), {p.above} above, {p.height_mm:.1f} high" + (f"; {p.note}" if p.note else "") + "."
        for k, p in enumerate(j.pins)
    ]
    lines += [
        f"Spacer, {s.purpose}: {s.length_mm:.2f} long, bored {s.inner_mm:g}, {s.outer_mm:g} over, {s.count} "
        f"off."
        for s in j.spacers
    ]
    lines += [
        f"Toggle {t.number}: pad at x {t.pad[0] - x0:.1f} y {t.pad[1] - y0:.1f}, {t.pad_height_mm:.0f} over "
        f"the base; body at x {t.foot[0] - x0:.1f} y {t.foot[1] - y0:.1f}, "
        f"holes to the clamp in hand; its arm stays {t.clear_mm:.0f} mm off every weld."
        for t in j.toggles
    ]
    return Sheet(
        j.name,
        f"drawn for the {j.side.upper()} HAND, seen from above - {j.thickness_mm:g} mm plate - origin of x "
        f"and y at the datum lines - dash-dot: the work's outline, clamps",
        template.draw(b, gravity=False),
        (*lines, *j.notes),
    )


def _order(b: BlankSheet, k: int) -> str:
    return b.holes[k].order


def pin_rows(made: Sequence[Jig]) -> list[list[str]]:
    """x and y from the base's left and bottom edges."""
    return [
        [
            j.name,
            str(p.number),
            p.purpose,
            f"{p.x - j.outline().bounds[0]:.2f}",
            f"{p.y - j.outline().bounds[1]:.2f}",
            f"{p.spigot_mm:g}",
            p.above.removeprefix("Ø"),
            f"{p.height_mm:.1f}",
            p.note,
        ]
        for j in made
        for p in j.pins
    ]
