"""A flat part's blank as DXF: closed lines and true arcs to cut on one layer, marks on another. Reads it back.

R2000, millimetres in the header ($INSUNITS 4, public DXF reference), nominal size unless a compensation is asked for.
Layer CUT holds closed LWPOLYLINEs and CIRCLEs, nothing else. Layer MARK is never cut: centre pops, bend lines, the
part's name and hand, and a line 100 mm long to lay a rule on. The same input gives the same bytes.
The only file that imports ezdxf.
"""
from __future__ import annotations

import math
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import ezdxf
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import ConstructionArc

from parts.offset import grown
from parts.outline import Hole, Outline, OutlineError

CUT, MARK = "CUT", "MARK"
MILLIMETRES = 4
FITTED = ("clearance", "reamed", "jig")  # holes that must be true to size: drilled, not burnt (common practice)
FREE = ("vent", "weld")
COMPENSATED = "-compensated"
SAME = 1e-6  # relative for areas, mm for places
TEXT_MM, LINE_GAP_MM, CLEAR_MM, CHECK_MM = 5.0, 8.0, 10.0, 100.0


class BlankError(ValueError):
    """A blank that could not be written as meant; no file of that name was left by this attempt."""


@dataclass(frozen=True)
class HoleRow:
    """One row of a blank's hole table: where, how big when finished, and whether it is cut or drilled."""

    number: int
    purpose: str
    x_mm: float
    y_mm: float
    from_left_mm: float
    from_bottom_mm: float
    diameter_mm: float
    fit: str
    made: str  # "cut" | "drill"


@dataclass(frozen=True)
class BlankFile:
    """A blank that has been written, read back and found right. Areas: of the finished part, and inside the cut lines."""

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
    hole_table: tuple[HoleRow, ...]
    extents_mm: tuple[float, float, float, float]
    compensation_mm: float | None


@dataclass(frozen=True)
class ReadBack:
    """What stands in a blank's file, measured from the file alone. `area_mm2`: the largest loop less all others."""

    units: int
    loops: int
    circles: tuple[tuple[float, float, float], ...]  # x, y, diameter
    area_mm2: float
    extents_mm: tuple[float, float, float, float]
    pops: tuple[tuple[float, float], ...]
    texts: tuple[str, ...]


def write_blank(path: str | Path, outline: Outline, *, part: str, hand: str, thickness_mm: float, material: str, count: int = 1,
                smallest_hole_mm: float = 0.0, cut_fitted: bool = False, compensation_mm: float | None = None) -> BlankFile:
    """Write the blank of one hand and read it back; the outline is drawn as given (mirror it for the other hand).

    A hole under `smallest_hole_mm`, and any fitted hole unless `cut_fitted` (laser or water jet), becomes a centre pop.
    `compensation_mm` is half the kerf: the outside grows and holes and windows shrink by it, the file's name ends in
    "-compensated" and a text in it says so. Raises OutlineError for an outline that cannot be cut, BlankError for a
    file that does not read back as meant; neither leaves a file."""
    path = Path(path)
    if hand not in ("left", "right", "either"):
        raise BlankError(f"hand is {hand!r}; it must be left, right or either")
    if not part.strip() or not (part + material).isprintable():
        raise BlankError(f"part {part!r} of material {material!r}: both must be plain text on one line, and the part must have a name")
    if not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise BlankError(f"thickness is {thickness_mm} mm; it must be above 0")
    if count < 1:
        raise BlankError(f"count is {count}; it must be 1 or more")
    if compensation_mm is not None and not (math.isfinite(compensation_mm) and compensation_mm > 0):
        raise BlankError(f"compensation is {compensation_mm} mm a side; it must be above 0, or None for nominal size")
    if path.stem.endswith(COMPENSATED) and compensation_mm is None:
        raise BlankError(f"{path.name}: the name promises a compensation and none is given")
    if compensation_mm is not None and not path.stem.endswith(COMPENSATED):
        path = path.with_stem(path.stem + COMPENSATED)
    outline.check()
    rows = hole_table(outline, smallest_hole_mm, cut_fitted)
    nominal = replace(outline, holes=tuple(h for h, row in zip(outline.holes, rows, strict=True) if row.made == "cut"))
    cut = compensated(nominal, compensation_mm) if compensation_mm else nominal
    cut.check()
    size = "NOMINAL SIZE - nothing taken or added for the cut" if compensation_mm is None else (
        f"COMPENSATED {compensation_mm:g} mm a side - do not compensate again at the machine")
    lines = (f"{part} - {hand.upper()} HAND", f"{count} off - {thickness_mm:g} mm {material}", size)
    wanted = ReadBack(MILLIMETRES, 1 + len(cut.inner) + len(cut.holes), tuple((h.x, h.y, h.diameter_mm) for h in cut.holes),
                      cut.area_mm2, cut.bounds, tuple((r.x_mm, r.y_mm) for r in rows if r.made == "drill")
                      + tuple(m.points[0] for m in outline.marks if m.kind == "pop"), lines)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(path.name + ".part")
    try:
        with _no_clock():
            _draw(cut, outline, rows, lines).saveas(beside)
        found = read_blank(beside)
        _compare(found, wanted, path.name)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return BlankFile(path, part, hand, material, thickness_mm, count, outline.area_mm2, found.area_mm2, cut.cut_length_mm,
                     found.loops, len(found.circles), rows, found.extents_mm, compensation_mm)


def hole_table(outline: Outline, smallest_hole_mm: float, cut_fitted: bool = False) -> tuple[HoleRow, ...]:
    """Every hole with its place from two edges of the blank's bounding box and how it is made."""
    if not smallest_hole_mm >= 0:
        raise BlankError(f"smallest hole is {smallest_hole_mm} mm; it must be 0 or more")
    for h in outline.holes:
        if h.fit not in FITTED + FREE:
            raise BlankError(f"hole '{h.purpose}': fit {h.fit!r} is not one of {', '.join(FITTED + FREE)}")
    x0, y0 = outline.bounds[:2]

    def made(h: Hole) -> str:
        return "drill" if h.diameter_mm < smallest_hole_mm or (h.fit in FITTED and not cut_fitted) else "cut"

    return tuple(HoleRow(i, h.purpose, h.x, h.y, h.x - x0, h.y - y0, h.diameter_mm, h.fit, made(h))
                 for i, h in enumerate(outline.holes, 1))


def compensated(outline: Outline, distance_mm: float) -> Outline:
    """The path of the cut's middle: the outside grown, holes and windows shrunk, by half the kerf. Corners go round."""
    holes = []
    for h in outline.holes:
        if h.diameter_mm <= 2 * distance_mm:
            raise OutlineError(f"hole '{h.purpose}' of {h.diameter_mm:g} mm is not larger than the kerf of {2 * distance_mm:g} mm; drill it")
        holes.append(replace(h, diameter_mm=h.diameter_mm - 2 * distance_mm))
    return Outline(grown(outline.outer, distance_mm), tuple(grown(w, -distance_mm) for w in outline.inner), tuple(holes))


# ---------------------------------------------------------------------------------------------- writing

def _draw(cut: Outline, marked: Outline, rows: tuple[HoleRow, ...], lines: tuple[str, ...]):
    document = ezdxf.new("R2000", units=MILLIMETRES)
    document.layers.add(CUT, color=7)
    document.layers.add(MARK, color=5)
    space = document.modelspace()
    on_cut, on_mark = {"layer": CUT}, {"layer": MARK}

    def text(words: str, x: float, y: float, height: float = TEXT_MM) -> None:
        space.add_text(words, height=height, dxfattribs=on_mark).set_placement((x, y))

    def pop(x: float, y: float) -> None:
        space.add_point((x, y), dxfattribs=on_mark)
        for ux, uy in ((1, 0), (0, 1), (-1, 0), (0, -1)):  # a cross with an open centre
            space.add_line((x + ux, y + uy), (x + 3 * ux, y + 3 * uy), dxfattribs=on_mark)

    for loop in (cut.outer, *cut.inner):
        space.add_lwpolyline([(*s.start, s.bulge) for s in loop.segments], format="xyb", close=True, dxfattribs=on_cut)
    for hole in cut.holes:
        space.add_circle((hole.x, hole.y), hole.diameter_mm / 2, dxfattribs=on_cut)
    for row in rows:
        if row.made == "drill":
            pop(row.x_mm, row.y_mm)
            text(f"{row.number}: %%c{row.diameter_mm:g}", row.x_mm + 3, row.y_mm + 3, 2.5)  # %%c is DXF's diameter sign
    for mark in marked.marks:
        if mark.kind == "pop":
            pop(*mark.points[0])
        elif mark.kind == "text":
            text(mark.text, *mark.points[0], mark.height_mm)
        else:
            for a, b in zip(mark.points, mark.points[1:], strict=False):
                space.add_line(a, b, dxfattribs=on_mark)
    x = cut.bounds[0]
    y = min([cut.bounds[1], *(p[1] for m in marked.marks for p in m.points)]) - CLEAR_MM
    space.add_line((x, y), (x + CHECK_MM, y), dxfattribs=on_mark)
    for end in (x, x + CHECK_MM):
        space.add_line((end, y - 2), (end, y + 2), dxfattribs=on_mark)
    for words in (f"{CHECK_MM:g} mm check line", *lines):
        y -= LINE_GAP_MM
        text(words, x, y)
    return document


@contextmanager
def _no_clock() -> Iterator[None]:
    """Neither time stamps nor random numbers in a new drawing, so that the same blank is the same file."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


# ---------------------------------------------------------------------------------------------- reading back

def read_blank(path: str | Path) -> ReadBack:
    """Measure a blank's file. Raises BlankError where it is damaged or CUT holds anything but closed lines and arcs."""
    path = Path(path)
    try:
        document = ezdxf.readfile(path)
    except (ezdxf.DXFError, OSError) as e:
        raise BlankError(f"{path.name}: cannot be read back: {e}") from e
    errors = document.audit()
    if errors.has_errors or errors.has_fixes:
        raise BlankError(f"{path.name}: the drawing has faults: {[e.message for e in (*errors.errors, *errors.fixes)]}")
    loops, circles, boxes = [], [], []
    for e in document.modelspace().query(f'*[layer=="{CUT}"]'):
        if e.dxftype() == "CIRCLE":
            x, y, _ = e.dxf.center
            circles.append((x, y, 2 * e.dxf.radius))
            loops.append(math.pi * e.dxf.radius**2)
            boxes += [(x - e.dxf.radius, y - e.dxf.radius), (x + e.dxf.radius, y + e.dxf.radius)]
        elif e.dxftype() == "LWPOLYLINE" and e.closed:
            loops.append(_area([tuple(map(float, p)) for p in e.get_points("xyb")]))
            boxes += _extremes(e)
        else:
            raise BlankError(f"{path.name}: layer {CUT} holds a {e.dxftype()} that is not a closed path of lines and arcs")
    if not loops:
        raise BlankError(f"{path.name}: layer {CUT} is empty")
    marks = document.modelspace().query(f'*[layer=="{MARK}"]')
    strangers = len(document.modelspace()) - len(loops) - len(marks)
    if strangers:
        raise BlankError(f"{path.name}: {strangers} entities lie on neither {CUT} nor {MARK}")
    xs, ys = zip(*boxes, strict=True)
    return ReadBack(document.header.get("$INSUNITS", 0), len(loops), tuple(circles), 2 * max(loops) - sum(loops),
                    (min(xs), min(ys), max(xs), max(ys)),
                    tuple((p.dxf.location.x, p.dxf.location.y) for p in marks.query("POINT")),
                    tuple(decode_dxf_unicode(t.dxf.text) for t in marks.query("TEXT")))


def _area(points: list[tuple[float, float, float]]) -> float:
    """Enclosed area of a closed path with bulges: trapezia under the chords, plus r²(a - sin a)/2 for each arc."""
    total = 0.0
    for (x1, y1, bulge), (x2, y2, _) in zip(points, points[1:] + points[:1], strict=True):
        total += (x1 - x2) * (y1 + y2) / 2
        if bulge:
            angle = 4 * math.atan(bulge)
            cap = angle - math.sin(angle) if abs(angle) > 0.01 else angle**3 / 6 * (1 - angle**2 / 20)  # series: no cancellation
            total += (math.hypot(x2 - x1, y2 - y1) / (2 * math.sin(angle / 2))) ** 2 * cap / 2
    return abs(total)


def _extremes(polyline) -> list[tuple[float, float]]:
    corners: list[tuple[float, float]] = []
    for part in polyline.virtual_entities():
        if part.dxftype() == "ARC":
            box = ConstructionArc(part.dxf.center, part.dxf.radius, part.dxf.start_angle, part.dxf.end_angle).bounding_box
            corners += [(p.x, p.y) for p in (box.extmin, box.extmax)]
        else:
            corners += [(p.x, p.y) for p in (part.dxf.start, part.dxf.end)]
    return corners


def _compare(found: ReadBack, wanted: ReadBack, file: str) -> None:
    def far(a, b) -> bool:
        return len(a) != len(b) or any(abs(p - q) > SAME for u, v in zip(a, b, strict=True) for p, q in zip(u, v, strict=True))

    faults = []
    if found.units != wanted.units:
        faults.append(f"unit code {found.units}, not {wanted.units}")
    if found.loops != wanted.loops:
        faults.append(f"{found.loops} closed loops, not {wanted.loops}")
    if abs(found.area_mm2 - wanted.area_mm2) > SAME * wanted.area_mm2:
        faults.append(f"area {found.area_mm2:.4f} mm², not {wanted.area_mm2:.4f}")
    if far([found.extents_mm], [wanted.extents_mm]):
        faults.append(f"extents {found.extents_mm}, not {wanted.extents_mm}")
    if far(found.circles, wanted.circles):
        faults.append(f"holes {found.circles}, not {wanted.circles}")
    if far(found.pops, wanted.pops):
        faults.append(f"centre pops {found.pops}, not {wanted.pops}")
    if missing := [t for t in wanted.texts if t not in found.texts]:
        faults.append(f"without the text {missing[0]!r}")
    if faults:
        raise BlankError(f"{file}: read back with " + "; ".join(faults))
