"""The DXF of every flat part, and what of it belongs in the results."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from assemblies.job import slug
from assemblies.layout.placing import FlatPart, Layout
from assemblies.making.holes import smallest_hole_mm
from assemblies.making.sheets.blank import car_count, counted, hands
from assemblies.results.faults import looked
from assemblies.results.findings import Finding
from assemblies.results.making import BlankRow, HoleRow
from parts.base.stock import DENSITY_KG_M3

Say = Callable[..., None]


def write(layout: Layout, folder: Path, progress: Say) -> tuple[list[BlankRow], list[Finding]]:
    """A DXF a flat part and hand; a blank that is its own mirror image gets one file for either hand."""
    rows, findings = [], []
    for i, flat in enumerate(layout.flat):
        progress("blanks", i + 1, len(layout.flat))
        made, found = looked(
            f"blank {flat.name}", partial(_found_blank, layout, flat, folder), list[BlankRow]()
        )
        rows += made
        findings += found
    return rows, findings


def _found_blank(layout: Layout, flat: FlatPart, folder: Path) -> tuple[list[BlankRow], list[Finding]]:
    return _blank(layout, flat, folder), []


def _blank(layout: Layout, flat: FlatPart, folder: Path) -> list[BlankRow]:
    from parts.files.blank import write_blank

    process = layout.job.process
    rows = []
    for hand, outline in hands(flat, layout.job.corner.side):
        file = write_blank(
            folder / f"{slug(flat.name)}{'' if hand == 'either' else '-' + hand}.dxf",
            outline,
            part=flat.name,
            hand=hand,
            thickness_mm=flat.thickness_mm,
            material=flat.material,
            count=flat.count,
            counted=counted(flat.count, hand),
            smallest_hole_mm=smallest_hole_mm(layout.job, flat.thickness_mm),
            cut_fitted=process.cutting in ("laser", "waterjet"),
            compensation_mm=process.kerf / 2 if process.compensation else None,
        )
        rows.append(_blank_row(flat, outline, hand, file))
    return rows


def _blank_row(flat: FlatPart, outline, hand: str, file) -> BlankRow:
    return BlankRow(
        name=file.path.stem,
        part=flat.name,
        hand=hand,
        count=flat.count,
        material=flat.material,
        thickness_mm=flat.thickness_mm,
        area_mm2=outline.area_mm2,
        cut_length_mm=file.cut_length_mm,
        mass_kg=outline.area_mm2 * flat.thickness_mm * DENSITY_KG_M3 * 1e-9,
        holes=[
            HoleRow(
                number=h.number,
                purpose=h.purpose,
                x_mm=h.from_left_mm,
                y_mm=h.from_bottom_mm,
                diameter_mm=h.diameter_mm,
                fit=h.fit,
                made=h.made,
                cut_mm=h.cut_mm,
            )
            for h in file.hole_table
        ],
        dxf=f"blanks/{file.path.name}",
        count_car=car_count(flat.count, hand),
    )
