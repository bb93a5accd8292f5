"""The jigs of what stands on the rocker's axis: mandrel, spacer, plugs, as turned pieces. One of each serves
both sides of the car."""

from __future__ import annotations

import numpy as np

from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.mounts import ANCHOR, HOUSING, RINGS, MountStand, stands
from assemblies.making.sheets.paper import NOMINAL, Printing
from assemblies.making.sheets.part_sheets import PartSheet, turned_sheet
from assemblies.making.sheets.turned import Step, Turned, ring

COLLAR_MM, PIN_MM, HOOK_MM = 8.0, 16.0, 15.0  # of a mandrel: its stop, its pin, the pin past the middle plane
SEAT_MM = 10.0  # of a mandrel beyond what it holds
PLUG_LONG_MM = 25.0
FREE_MM = 1.0  # of a shoulder or spacer in the tube's bore, across
SLIDE_MM = 0.2  # of what slides on a mandrel; all common practice
FIT = "less 0.02 to 0.05, to slide"
MATERIAL = "mild steel"


def pieces(layout: Layout) -> list[Turned]:
    found = {s.what: s for s in stands(layout)}
    if RINGS in found:
        return _mandrel(layout, found[RINGS], found.get(ANCHOR))
    if ANCHOR in found or HOUSING in found:
        return _plugs(layout, found)
    return []


def sheets(layout: Layout, printing: Printing = NOMINAL) -> list[PartSheet]:
    return [
        turned_sheet(t, "none: a jig", printing, f"make {t.count}: the same for both sides of the car")
        for t in pieces(layout)
    ]


def _mandrel(layout: Layout, rings: MountStand, anchor: MountStand | None) -> list[Turned]:
    """Through both rings, against the tube's end, to the anchor's bore where that tube holds it."""
    at = dict(rings.marks)
    one, bore = rings.parts[0].part, rings.parts[0].part.bore_mm
    numbers = sorted({w.split(",")[0] for w in at}, key=lambda n: at[f"{n}, near edge"])
    lip, end = at[f"{numbers[0]}, near edge"], at[f"{numbers[1]}, far edge"]
    between = at[f"{numbers[1]}, near edge"] - at[f"{numbers[0]}, far edge"]
    plane = -float((np.array(needed(layout.eyes).frame.origin) - np.array(rings.start)) @ np.array(rings.way))
    tube = layout.members[rings.tube]
    body, far = Step(end + SEAT_MM - lip, bore, f"Ø{bore:g} {FIT}"), []
    out = []
    notes = [
        f"Groove round the pin at {HOOK_MM:g} from its end: the rocker's middle plane, where the tape hooks.",
        f"Collar hard against the tube's end; then ring, spacer, ring on the Ø{bore:g}, clamped by a washer "
        f"and a nut on M10 tapped into the far end, or by a clamp. It comes out towards the rocker.",
    ]
    if anchor is not None and anchor.tube == rings.tube:
        plate = anchor.parts[0].part
        long, seat = tube.length_mm, plate.thickness_mm + SEAT_MM
        notes.append(
            "Only the seats in the rings and in the anchor's fixed plate must be true: a straight tube with "
            "turned ends does as well as a bar."
        )
        if plate.bore_mm < bore - SLIDE_MM:
            body = Step(long - lip, bore, body.words)
            far = [Step(seat, plate.bore_mm, f"Ø{plate.bore_mm:g} {FIT}")]
        else:
            body = Step(long - lip + seat, bore, body.words)
            name = "jig: ring for the anchor's fixed plate"
            out.append(_ring(name, plate.bore_mm, bore, seat, "Slid on the mandrel's far end from behind."))
    shoulder = one.outer_mm - FREE_MM
    steps = (
        Step(HOOK_MM + plane - COLLAR_MM, PIN_MM, f"Ø{PIN_MM:g}"),
        Step(COLLAR_MM, tube.section.width_mm, f"Ø{tube.section.width_mm:g}"),
        Step(lip, shoulder, f"Ø{shoulder:g}"),
        body,
        *far,
    )
    mandrel = Turned("jig: mandrel of the spring tube", "", 1, MATERIAL, steps, notes=tuple(notes))
    spacer = _ring("jig: spacer between the rings", shoulder, bore, between, "Ends square within 0.05.")
    return [mandrel, spacer, *out]


def _ring(name: str, outer: float, bore: float, long: float, *notes: str, count: int = 1) -> Turned:
    return ring(name, "", count, MATERIAL, outer, bore + SLIDE_MM, long, *notes)


def _plugs(layout: Layout, found: dict[str, MountStand]) -> list[Turned]:
    """A straight bar through the pivot, a plug on it for each end of the housing and for the anchor."""
    tube = needed(layout.rocker).tube
    bar = layout.pivot.shaft_mm if layout.pivot is not None else tube.outer_mm - 2 * tube.wall_mm
    origin, far, out = np.array(needed(layout.eyes).frame.origin), 0.0, []
    if (housing := found.get(HOUSING)) is not None:
        s = housing.parts[0].part.section
        far = max(at for _, at in housing.marks)
        if (inside := s.width_mm - 2 * s.wall_mm) > bar + 2.0:
            name = "jig: plug of the spring housing"
            out.append(_ring(name, inside, bar, PLUG_LONG_MM, "One in each end, on the bar.", count=2))
    if (anchor := found.get(ANCHOR)) is not None:
        plate = anchor.parts[0].part
        far = max(far, float(np.linalg.norm(np.array(anchor.point) - origin)))
        if plate.bore_mm > bar + 2.0:
            name = "jig: plug of the anchor's fixed plate"
            out.append(_ring(name, plate.bore_mm, bar, PLUG_LONG_MM, "On the bar, in the plate's bore."))
    held = "the pivot's own supports" if layout.pivot is not None else "the rocker's tube"
    before = tube.length_mm / 2 + SEAT_MM
    note = (
        f"Straight within 0.2; it lies in {held} and stands for the axis. Scribe the rocker's middle plane "
        f"round it, {before:.1f} from its end: the tape is held there."
    )
    long = before + far + PLUG_LONG_MM
    return [ring("jig: bar of the rocker's axis", "", 1, MATERIAL, bar, 0.0, long, note), *out]
