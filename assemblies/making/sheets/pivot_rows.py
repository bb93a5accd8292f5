"""The turned and bought pieces of a rocker's pivot as rows of the cut list."""

from __future__ import annotations

from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.sections import round_bar
from parts.base.bearings import CARE
from parts.pivot_ring import PivotRing

NOTES = {
    "pivot stub": "turned: bearing seats to the bearing's fit (f7 for a bush); cross holes: see hole "
    "table of the "
    "sleeve",
    "pivot spacer": "thrust side, faced square; shim to the end float",
    "pivot bearing ring": "turned to the spring tube's bore, plug-welded in it, both bored in line "
    "after welding",
    "pivot thrust washer": "hard or bronze, faced square",
    "pivot sleeve": "clamped between the tabs, ground or bright; the rocker's bushes turn on it",
    "pivot spindle": "through both walls of its tube, welded round at each before the bushes go in; "
    "a pin or a "
    "ring beyond the last washer",
}


def pieces(layout: Layout) -> list[CutListLine]:
    """A line for every sort of piece."""
    m = layout.pivot
    if m is None:
        return []
    sorts: dict[str, list] = {}
    for p in layout.placed:
        if isinstance(p.part, PivotRing):
            key = p.name if p.name.startswith("pivot spacer") else p.name.rstrip(" 12")
            sorts.setdefault(key, []).append(p)
    out = []
    for name, same in sorts.items():
        ring, each = same[0].part, same[0].mass_kg
        if name == "pivot bearing":
            out.append(
                CutListLine(
                    group="bought",
                    item=f"pivot bearing, {m.bearing.name} x {m.width_mm:g}",
                    count=len(same),
                    stock=f"{m.bearing.source}",
                    each_kg=each,
                    note=f"mass from its sizes, as of steel; {CARE[m.bearing.kind]}",
                    price="bush",
                )
            )
            continue
        length, note = ring.length_mm, NOTES[name.rstrip(" 12")]
        if name == "pivot stub" and layout.sleeve_inner is not None:
            sleeve = layout.sleeve_inner
            length, each = length + sleeve.part.length_mm, each + needed(sleeve.mass_kg)
        if name.startswith("pivot spacer"):
            note += f" of {layout.job.pivot.end_float:g} mm"
        bored = f" bored {ring.bore_mm:g}" if ring.bore_mm else ""
        out.append(
            CutListLine(
                group="bar",
                item=name,
                count=len(same),
                stock=f"bar {ring.outer_mm:g}{bored}",
                length_mm=length,
                material=same[0].material,
                each_kg=each,
                note=note,
                price="bar",
                section=round_bar(ring.outer_mm),
                faced=True,
            )
        )
    return out
