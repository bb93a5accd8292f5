"""A blank's file: what is cut, popped and noted, its hole table, its compensation; read back before it
counts.

A blank has CUT, MARK (centre pops, bend lines, the part's own texts) and, outside the part, NOTES: name,
hand, counts, its holes and a line 100 mm long to lay a rule on. Its drawing's origin is the datum of its hole
table, the lower left corner of the box round it; nominal size unless a compensation is asked for.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from parts.base.fields import length
from parts.base.frozen import dataclass
from parts.files.dxf import CLEAR_MM, CUT, MARK, NOTES, BlankError, DxfDrawing, read_sheet, write_sheet
from parts.shape.offset import grown
from parts.shape.outline import Hole, Outline, OutlineError

FITTED = ("clearance", "reamed", "jig")  # holes true to size: drilled, not burnt (common practice)
UNDER_MM = 0.5  # a reamed hole is cut so much small: the drill takes the hard, tapered edge, common practice
COMPENSATED = "-compensated"


@dataclass(frozen=True)
class CutHole:
    """One row of a blank's hole table: where, how big when finished, and whether it is cut or drilled.
    `cut_mm`: what the cutter makes of it, 0 where it is drilled."""

    number: int
    purpose: str
    x_mm: float
    y_mm: float
    from_left_mm: float
    from_bottom_mm: float
    diameter_mm: float
    fit: str
    made: str  # "cut" | "drill"
    cut_mm: float = 0.0


@dataclass(frozen=True)
class BlankFile:
    """A blank that has been written, read back and found right. Areas: of the finished part, and inside the
    cut lines."""

    path: Path
    part: str
    hand: str
    material: str
    thickness_mm: float
    count: int
    area_mm2: float
    cut_area_mm2: float
    cut_length_mm: float
    cut_loops: int
    holes_cut: int
    hole_table: tuple[CutHole, ...]
    extents_mm: tuple[float, float, float, float]
    compensation_mm: float | None


@dataclass(frozen=True)
class ReadBack:
    """What stands in a blank's file, measured from the file alone. `area_mm2`: the largest loop less all
    others."""

    units: int
    loops: int
    circles: tuple[tuple[float, float, float], ...]  # x, y, diameter
    area_mm2: float
    extents_mm: tuple[float, float, float, float]
    pops: tuple[tuple[float, float], ...]
    texts: tuple[str, ...]


def write_blank(  # noqa: PLR0913  # a script's door, by name
    path: str | Path,
    outline: Outline,
    *,
    part: str,
    hand: str,
    thickness_mm: float,
    material: str,
    count: int = 1,
    counted: str = "",
    smallest_hole_mm: float = 0.0,
    cut_fitted: bool = False,
    compensation_mm: float | None = None,
) -> BlankFile:
    """Write the blank of one hand and read it back; the outline is drawn as given (mirror it for the other
    hand) and shifted so that its datum, the lower left corner of the box round it, is 0, 0. `counted`: how
    many, for what, in words; none: `count` off.

    A hole under `smallest_hole_mm`, and any fitted hole unless `cut_fitted` (laser or water jet), becomes a
    centre pop; with `cut_fitted` a reamed one is cut `UNDER_MM` small, and one that a welded tube fills is
    cut as much over as its `over_mm` says. `compensation_mm` is half the kerf: the outside grows and holes
    and windows shrink by it, the file's name ends in "-compensated" and a text in it says so. Raises
    OutlineError for an outline that cannot be cut, BlankError for a file that does not read back as meant;
    neither leaves a file."""
    path = Path(path)
    try:
        thickness_mm = length("thickness_mm", thickness_mm)
        smallest_hole_mm = length("smallest_hole_mm", smallest_hole_mm)
        if compensation_mm is not None:
            compensation_mm = length("compensation_mm", compensation_mm)
    except ValueError as e:
        raise BlankError(str(e)) from None
    if hand not in ("left", "right", "either"):
        raise BlankError(f"hand is {hand!r}; it must be left, right or either")
    if not part.strip() or not (part + material).isprintable():
        raise BlankError(
            f"part {part!r} of material {material!r}: both must be plain text on one line, and the part must "
            f"have a name"
        )
    if not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise BlankError(f"thickness is {thickness_mm} mm; it must be above 0")
    if count < 1:
        raise BlankError(f"count is {count}; it must be 1 or more")
    if compensation_mm is not None and not (math.isfinite(compensation_mm) and compensation_mm > 0):
        raise BlankError(
            f"compensation is {compensation_mm} mm a side; it must be above 0, or None for nominal size"
        )
    if path.stem.endswith(COMPENSATED) and compensation_mm is None:
        raise BlankError(f"{path.name}: the name promises a compensation and none is given")
    if compensation_mm is not None and not path.stem.endswith(COMPENSATED):
        path = path.with_stem(path.stem + COMPENSATED)
    outline.check()
    x0, y0, *_ = outline.bounds
    outline = outline.moved(-x0, -y0)
    rows = hole_table(outline, smallest_hole_mm, cut_fitted)
    nominal = as_cut(outline, rows)
    cut = compensated(nominal, compensation_mm) if compensation_mm else nominal
    cut.check()
    size = (
        "NOMINAL SIZE - nothing taken or added for the cut"
        if compensation_mm is None
        else (f"COMPENSATED {compensation_mm:g} mm a side - do not compensate again at the machine")
    )
    lines = (
        f"{part} - {hand.upper()} HAND",
        f"{counted or f'{count} off'} - {thickness_mm:g} mm {material}",
        size,
        *_hole_notes(rows),
    )
    found = write_sheet(path, _blank_drawing(cut, outline, rows, lines))[CUT]
    return BlankFile(
        path,
        part,
        hand,
        material,
        thickness_mm,
        count,
        outline.area_mm2,
        found.net_area_mm2,
        cut.cut_length_mm,
        len(found.areas_mm2),
        len(found.circles),
        rows,
        found.extents_mm,
        compensation_mm,
    )


def hole_table(outline: Outline, smallest_hole_mm: float, cut_fitted: bool = False) -> tuple[CutHole, ...]:
    """Every hole with its place from two edges of the blank's bounding box and how it is made."""
    if not smallest_hole_mm >= 0:
        raise BlankError(f"smallest hole is {smallest_hole_mm} mm; it must be 0 or more")
    x0, y0 = outline.bounds[:2]

    def made(h: Hole) -> str:
        return "drill" if h.diameter_mm < smallest_hole_mm or (h.fit in FITTED and not cut_fitted) else "cut"

    def cut_mm(h: Hole) -> float:
        if made(h) == "drill":
            return 0.0
        return h.diameter_mm + h.over_mm - (UNDER_MM if h.fit == "reamed" else 0.0)

    return tuple(
        CutHole(i, h.purpose, h.x, h.y, h.x - x0, h.y - y0, h.diameter_mm, h.fit, made(h), cut_mm(h))
        for i, h in enumerate(outline.holes, 1)
    )


def as_cut(outline: Outline, rows: tuple[CutHole, ...]) -> Outline:
    """The outline with the holes that are cut, as large as they are cut."""
    pairs = zip(outline.holes, rows, strict=True)
    return replace(
        outline, holes=tuple(replace(h, diameter_mm=r.cut_mm) for h, r in pairs if r.made == "cut")
    )


def _hole_notes(rows: tuple[CutHole, ...]) -> list[str]:
    """Every hole in a line: what the cutter leaves of it, and where; alike ones together."""
    alike: dict[tuple, list[CutHole]] = {}
    for r in rows:
        alike.setdefault((r.made, r.cut_mm, r.diameter_mm, r.fit), []).append(r)
    out = []
    for (made, cut_mm, size, fit), same in alike.items():
        numbers = ", ".join(str(r.number) for r in same[:12]) + (" ..." if len(same) > 12 else "")
        if made == "drill":
            later = f"reamed to {size:g} H7" if fit == "reamed" else f"drilled to {size:g}"
            how = f"popped, not cut: {later} later"
        elif fit == "reamed":
            how = f"cut {cut_mm:g}, reamed to {size:g} H7 after cutting"
        elif fit == "weld":
            how = f"cut {cut_mm:g} for a tube of {size:g}: measure the tube in hand first"
        else:
            how = f"cut {cut_mm:g}"
        out.append(f"hole {numbers}: {how}")
    return out


def compensated(outline: Outline, distance_mm: float) -> Outline:
    """The path of the cut's middle: the outside grown, holes and windows shrunk, by half the kerf. Corners go
    round."""
    holes = []
    for h in outline.holes:
        if h.diameter_mm <= 2 * distance_mm:
            raise OutlineError(
                f"hole '{h.purpose}' of {h.diameter_mm:g} mm is not larger than the kerf of "
                f"{2 * distance_mm:g} mm; drill it"
            )
        holes.append(replace(h, diameter_mm=h.diameter_mm - 2 * distance_mm))
    return Outline(
        grown(outline.outer, distance_mm), tuple(grown(w, -distance_mm) for w in outline.inner), tuple(holes)
    )


def _blank_drawing(
    cut: Outline, marked: Outline, rows: tuple[CutHole, ...], lines: tuple[str, ...]
) -> DxfDrawing:
    d = DxfDrawing()
    for loop in (cut.outer, *cut.inner):
        d.loop(CUT, loop)
    for hole in cut.holes:
        d.circle(CUT, hole.x, hole.y, hole.diameter_mm)
    for row in rows:
        if row.made == "drill":
            d.pop(MARK, row.x_mm, row.y_mm)
    popped = {(round(r.x_mm, 3), round(r.y_mm, 3)) for r in rows}
    for mark in marked.marks:
        if mark.kind == "pop":
            (x, y) = mark.points[0]
            if (round(x, 3), round(y, 3)) not in popped:  # a hole's own, or cut out
                d.pop(MARK, x, y)
        elif mark.kind == "text":
            d.text(MARK, mark.text, *mark.points[0], mark.height_mm)
        else:
            d.line(MARK, *mark.points)
    d.foot(
        NOTES,
        cut.bounds[0],
        min([cut.bounds[1], *(p[1] for m in marked.marks for p in m.points)]) - CLEAR_MM,
        lines,
    )
    return d


def read_blank(path: str | Path) -> ReadBack:
    """Measure a blank's file. Raises BlankError where it is damaged or CUT holds anything but closed lines
    and arcs."""
    units, found = read_sheet(path, (CUT, MARK, NOTES))
    cut, mark = found[CUT], found[MARK]
    return ReadBack(
        units,
        len(cut.areas_mm2),
        cut.circles,
        cut.net_area_mm2,
        cut.extents_mm,
        mark.pops,
        (*mark.texts, *found[NOTES].texts),
    )
