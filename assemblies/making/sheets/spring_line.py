"""The line from the rocker to the anchor as it is put together: sleeve, sockets, spring and clocking plates,
each from where to where along the rocker's axis; what of it is welded and what never is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assemblies.layout.placing import Layout, Placed, needed
from assemblies.making.sheets.assembly_sheets import triangles
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.drawing import BOLD, FINE, SCRIBED, Drawing
from assemblies.making.sheets.paper import Printing
from assemblies.making.sheets.part_sheets import PartSheet, fitting_scale, level, of_steel, room_mm
from assemblies.making.sheets.weldments import count_of, label, numbers_in, seams_of, weld_lines
from parts.shape.form import unit

HEAD = ("", "from", "to", "across", "of what")


def pieces(layout: Layout) -> list[Placed]:
    """What lies on that line, from the rocker on; none without a spring that is twisted."""
    if layout.pack is None or layout.eyes is None:
        return []
    some = (layout.sleeve_inner, layout.sleeve_outer, layout.socket, layout.pack, layout.anchor_socket)
    return [p for p in (*some, *(layout.anchor_plates or ())) if p is not None]


def stations(layout: Layout, p: Placed) -> tuple[float, float, float]:
    """From the rocker's middle plane the spring's way: where a piece begins and ends; how far it reaches
    across, twice its farthest metal from the axis."""
    way = np.array(unit(layout.job.spring_direction))
    spots = triangles(p.in_car).reshape(-1, 3) - np.array(needed(layout.eyes).frame.origin)
    along = spots @ way
    off = np.linalg.norm(spots - np.outer(along, way), axis=1)
    return float(along.min()), float(along.max()), 2 * float(off.max())


def sheet(layout: Layout, rows: Sequence[CutListLine], printing: Printing) -> list[PartSheet]:
    some = pieces(layout)
    if not some:
        return []
    found = [stations(layout, p) for p in some]
    end, over = max(b for _, b, _ in found), max(o for *_, o in found)
    scale = fitting_scale(end - min(0.0, *(a for a, *_ in found)), over, room_mm(printing))
    d = Drawing()
    for a, b, across in found:
        half = scale * across / 2
        d.box(scale * a, -half, scale * b, half, BOLD)
    high = scale * over / 2
    d.line((0.0, -high - 4), (0.0, high + 4), FINE)
    d.line((-4.0, 0.0), (scale * end + 4, 0.0), SCRIBED)
    level(d, 0.0, scale * end, -high - 9, f"{end:.1f}", -high - 3)
    letters = "ABCDEFGH"
    for letter, (a, b, across) in zip(letters, found, strict=False):
        label(d, (scale * (a + b) / 2, scale * across / 2), letter)
    table = [
        (letter, f"{a:.1f}", f"{b:.1f}", f"{across:.1f}", f"{p.name}, {of_steel(p.material)}")
        for letter, p, (a, b, across) in zip(letters, some, found, strict=False)
    ]
    notes = [
        "From the rocker's middle plane, at 0, along the pivot's axis towards the anchor; across: over the "
        "farthest metal, corners of a hexagon or of leaves too. All in line within 0.5, common practice.",
        *weld_lines(seams_of(some)),
        "The spring itself is never welded, nor anything while it is in a socket: weld with a dummy in the "
        "window. The sleeve's cross holes: by their table in the shop book.",
    ]
    return [
        PartSheet(
            "sleeve and spring, put together",
            numbers_in(some, rows) or "see its parts",
            "see the cut list",
            count_of(layout),
            d,
            scale,
            (HEAD, *table),
            tuple(notes),
        )
    ]
