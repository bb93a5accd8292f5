"""Cut list and bill of materials of one corner: plate, tube, bar, strip, fasteners, bought parts, each with
size, count, mass and cost.

Masses are of the finished parts as laid out (kg, steel 7850 kg/m³); None: bought, weigh it. Lengths mm.
"""

from __future__ import annotations

from dataclasses import replace

from assemblies.layout.fasteners import fasteners
from assemblies.layout.frame import of_car
from assemblies.layout.placing import Layout
from assemblies.making.sheets import tube_ends
from assemblies.making.sheets.bought_rows import bought, fastener_rows
from assemblies.making.sheets.cut_list_line import CutListLine, priced
from assemblies.making.sheets.made_rows import member_row, plates, spring_steel, tubes
from parts.member import Member


def frame_rows(layout: Layout) -> list[CutListLine]:
    """The tubes of a frame alone."""
    return priced(_members(layout), layout.job.prices)


def rows(layout: Layout) -> list[CutListLine]:
    """Every row, in the order of the shop: plate, tube and bar, spring, fasteners, bought; then the frame's
    members as they are cut."""
    bolted, open_ = fasteners(layout)
    listed = [
        *plates(layout),
        *tubes(layout),
        *spring_steel(layout),
        *fastener_rows(layout, bolted),
        *bought(layout),
        *(CutListLine("open", words, 1, "") for words in open_),
        *_members(layout),
    ]
    return priced(listed, layout.job.prices)


def _members(layout: Layout) -> list[CutListLine]:
    return [_framed(layout, name, m) for name, m in layout.members.items()]


def _framed(layout: Layout, name: str, m: Member) -> CutListLine:
    """A member of the frame: one with a cut end from long point to long point."""
    row = member_row(name, m, "frame, centre line's length; ends square", True)
    made, steel = (
        layout.junctions,
        getattr(next((g for g in layout.job.member if g.name == name), None), "material", ""),
    )
    if name in made.all:
        row = replace(row, of_car=of_car(layout.job, m), material="" if steel == "unknown" else steel)
    if (tube := made.tubes.get(name)) is None:
        return row
    ends = "; ".join(
        f"{e} end {tube_ends.kind(cut)}" for e, cut in (("from", tube.from_cut), ("to", tube.to_cut))
    )
    flat = f", {tube_ends.flat_words(tube)}" if tube_ends.flat_words(tube) else ""
    note = f"frame, long point to long point{flat}; {ends}"
    return replace(row, length_mm=tube.length_mm, each_kg=tube.mass_kg, note=note)
