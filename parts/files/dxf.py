"""Flat drawings as DXF: closed lines and true arcs to cut on one layer, marks on others. Reads each back
before it counts.

R2000, millimetres in the header ($INSUNITS 4, public DXF reference). Layer CUT holds closed LWPOLYLINEs and
CIRCLEs, nothing else; the others are never cut. The same input gives the same bytes. The only file that
imports ezdxf.
"""

from __future__ import annotations

import math
import os
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import field
from pathlib import Path

import ezdxf
from ezdxf.enums import TextEntityAlignment as Align
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import ConstructionArc

from parts.base.frozen import dataclass
from parts.base.version import version
from parts.files.remembered import once
from parts.shape.outline import Loop, Point

CUT, MARK, NOTES = "CUT", "MARK", "NOTES"
MILLIMETRES = 4
SAME = 1e-6  # relative for areas, mm for places
WHITE, GREEN, BLUE, GREY = 7, 3, 5, 8  # colours of the public DXF reference
TEXT_MM, LINE_GAP_MM, CLEAR_MM, CHECK_MM = 5.0, 8.0, 10.0, 100.0


class BlankError(ValueError):
    """A drawing that could not be written as meant; no file of that name was left by this attempt."""


@dataclass
class DxfDrawing:
    """A drawing in mm, filled item by item: `layers` and their colours, and on them what the methods add."""

    layers: dict[str, int] = field(default_factory=lambda: {CUT: WHITE, MARK: BLUE, NOTES: GREY})
    items: list[tuple[str, str, tuple]] = field(default_factory=list)  # kind, layer, what

    def loop(self, layer: str, path: Loop) -> None:
        """A closed path of lines and true arcs."""
        self.items.append(("loop", layer, (path,)))

    def circle(self, layer: str, x: float, y: float, diameter_mm: float) -> None:
        self.items.append(("circle", layer, (x, y, diameter_mm)))

    def line(self, layer: str, *points: Point) -> None:
        """A line through points, open; two or more."""
        self.items += [("line", layer, pair) for pair in zip(points, points[1:], strict=False)]

    def pop(self, layer: str, x: float, y: float) -> None:
        """A centre pop: a point in a cross with an open centre."""
        self.items.append(("pop", layer, (x, y)))
        for ux, uy in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            self.line(layer, (x + ux, y + uy), (x + 3 * ux, y + 3 * uy))

    def text(
        self, layer: str, words: str, x: float, y: float, height_mm: float = TEXT_MM, centred: bool = False
    ) -> None:
        """A line of text that starts at a point, or has its middle there."""
        self.items.append(("text", layer, (words, x, y, height_mm, centred)))

    def foot(self, layer: str, x: float, y: float, lines: tuple[str, ...]) -> None:
        """A check line to lay a rule on, from a point to the right, and lines of text under it."""
        self.line(layer, (x, y), (x + CHECK_MM, y))
        for end in (x, x + CHECK_MM):
            self.line(layer, (end, y - 2), (end, y + 2))
        for n, words in enumerate((f"{CHECK_MM:g} mm check line", *lines), 1):
            self.text(layer, words, x, y - n * LINE_GAP_MM)

    def layer(self, name: str) -> DxfLayer:
        """What a file of this drawing must hold on one layer, worked out from the outlines alone."""
        of = {
            kind: [what for k, on, what in self.items if k == kind and on == name]
            for kind in ("loop", "circle", "line", "pop", "text")
        }
        areas = [abs(path.area_mm2) for (path,) in of["loop"]] + [
            math.pi * d**2 / 4 for *_, d in of["circle"]
        ]
        boxes = [path.bounds for (path,) in of["loop"]] + [
            (x - d / 2, y - d / 2, x + d / 2, y + d / 2) for x, y, d in of["circle"]
        ]
        return DxfLayer(
            tuple(areas),
            tuple(of["circle"]),
            _round_all(boxes),
            tuple(of["pop"]),
            tuple(t for t, *_ in of["text"]),
            sum(math.dist(a, b) for a, b in of["line"]),
        )


@dataclass(frozen=True)
class DxfLayer:
    """What stands on one layer: areas of its closed paths (circles last), circles (x, y, diameter), the box
    round both, points, texts, and the length of its open lines."""

    areas_mm2: tuple[float, ...] = ()
    circles: tuple[tuple[float, float, float], ...] = ()
    extents_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    pops: tuple[Point, ...] = ()
    texts: tuple[str, ...] = ()
    lines_mm: float = 0.0

    @property
    def net_area_mm2(self) -> float:
        """The largest path less all others: the metal of one blank."""
        return 2 * max(self.areas_mm2) - sum(self.areas_mm2)


# ---------------------------------------------------------------------------------------------- writing


def write_sheet(path: str | Path, drawing: DxfDrawing) -> dict[str, DxfLayer]:
    """Write a drawing beside its place, read it back layer by layer, then move it there; gives what was read.
    What was written of the same drawing and read back before is put there again.

    Raises BlankError, and leaves no file of this attempt, where the file does not hold what the drawing
    does."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(path.name + ".part")
    try:
        body, found = once("dxf", drawing, lambda: _written(beside, drawing))
        beside.write_bytes(body)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return found


def _written(beside: Path, drawing: DxfDrawing) -> tuple[bytes, dict[str, DxfLayer]]:
    """The file's bytes and what they hold, by layer."""
    with _no_clock():
        _draw(drawing).saveas(beside)
    # group 999 is a comment in the public DXF reference
    beside.write_bytes(f"999\nrockershed {version()}\n".encode() + beside.read_bytes())
    units, found = read_sheet(beside, tuple(drawing.layers))
    faults = [f"unit code {units}, not {MILLIMETRES}"] if units != MILLIMETRES else []
    for name in drawing.layers:
        faults += _differences(found[name], drawing.layer(name))
    if faults:
        raise BlankError(f"{beside.stem}: read back with " + "; ".join(faults))
    return beside.read_bytes(), found


def _draw(drawing: DxfDrawing):
    document = ezdxf.new("R2000", units=MILLIMETRES)
    for name, colour in drawing.layers.items():
        document.layers.add(name, color=colour)
    space = document.modelspace()
    for kind, layer, what in drawing.items:
        on = {"layer": layer}
        if kind == "loop":
            space.add_lwpolyline(
                [(*s.start, s.bulge) for s in what[0].segments], format="xyb", close=True, dxfattribs=on
            )
        elif kind == "circle":
            space.add_circle(what[:2], what[2] / 2, dxfattribs=on)
        elif kind == "line":
            space.add_line(what[0], what[1], dxfattribs=on)
        elif kind == "pop":
            space.add_point(what, dxfattribs=on)
        else:
            space.add_text(what[0], height=what[3], dxfattribs=on).set_placement(
                what[1:3], align=Align.MIDDLE_CENTER if what[4] else Align.LEFT
            )
    return document


@contextmanager
def _no_clock() -> Generator[None]:
    """Neither time stamps nor random numbers in a new drawing, so that the same blank is the same file."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


# ---------------------------------------------------------------------------------------------- reading back


def read_sheet(path: str | Path, layers: tuple[str, ...]) -> tuple[int, dict[str, DxfLayer]]:
    """Unit code and what stands on each layer, measured from the file alone.

    Raises BlankError where it is damaged, holds anything on another layer, or CUT anything but closed lines
    and arcs."""
    path = Path(path)
    try:
        document = ezdxf.readfile(path)
    except (ezdxf.DXFError, OSError) as e:
        raise BlankError(f"{path.name}: cannot be read back: {e}") from e
    errors = document.audit()
    if errors.has_errors or errors.has_fixes:
        raise BlankError(
            f"{path.name}: the drawing has faults: {[e.message for e in (*errors.errors, *errors.fixes)]}"
        )
    space, found = document.modelspace(), {}
    for name in layers:
        found[name] = _read_layer(space.query(f'*[layer=="{name}"]'), name, path.name)
    if strangers := sum(e.dxf.layer not in layers for e in space):
        raise BlankError(f"{path.name}: {strangers} entities lie on neither {' nor '.join(layers)}")
    return document.header.get("$INSUNITS", 0), found


def _read_layer(entities, name: str, file: str) -> DxfLayer:
    areas, rounds, circles, boxes, pops, texts, lines = [], [], [], [], [], [], 0.0
    for e in entities:
        kind = e.dxftype()
        if kind == "CIRCLE":
            x, y, _ = e.dxf.center
            circles.append((x, y, 2 * e.dxf.radius))
            rounds.append(math.pi * e.dxf.radius**2)
            boxes.append((x - e.dxf.radius, y - e.dxf.radius, x + e.dxf.radius, y + e.dxf.radius))
        elif kind == "LWPOLYLINE" and e.closed:
            areas.append(_area([(float(x), float(y), float(b)) for x, y, b in e.get_points("xyb")]))
            boxes.append(_extremes(e))
        elif name == CUT or kind not in ("LINE", "POINT", "TEXT"):
            raise BlankError(
                f"{file}: layer {name} holds a {kind} that is not a closed path of lines and arcs"
            )
        elif kind == "LINE":
            lines += e.dxf.start.distance(e.dxf.end)
        elif kind == "POINT":
            pops.append((e.dxf.location.x, e.dxf.location.y))
        else:
            texts.append(decode_dxf_unicode(e.dxf.text))
    if name == CUT and not boxes:
        raise BlankError(f"{file}: layer {CUT} is empty")
    return DxfLayer((*areas, *rounds), tuple(circles), _round_all(boxes), tuple(pops), tuple(texts), lines)


def _round_all(boxes: list) -> tuple[float, float, float, float]:
    """The box round boxes; zeros round none."""
    if not boxes:
        return 0.0, 0.0, 0.0, 0.0
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _area(points: list[tuple[float, float, float]]) -> float:
    """Enclosed area of a closed path with bulges: trapezia under the chords, plus r²(a - sin a)/2 for each
    arc."""
    total = 0.0
    for (x1, y1, bulge), (x2, y2, _) in zip(points, points[1:] + points[:1], strict=True):
        total += (x1 - x2) * (y1 + y2) / 2
        if bulge:
            angle = 4 * math.atan(bulge)
            cap = (
                angle - math.sin(angle) if abs(angle) > 0.01 else angle**3 / 6 * (1 - angle**2 / 20)
            )  # series: no cancellation
            total += (math.hypot(x2 - x1, y2 - y1) / (2 * math.sin(angle / 2))) ** 2 * cap / 2
    return abs(total)


def _extremes(polyline) -> tuple[float, float, float, float]:
    corners: list[tuple[float, float]] = []
    for part in polyline.virtual_entities():
        if part.dxftype() == "ARC":
            box = ConstructionArc(
                part.dxf.center, part.dxf.radius, part.dxf.start_angle, part.dxf.end_angle
            ).bounding_box
            corners += [(p.x, p.y) for p in (box.extmin, box.extmax)]
        else:
            corners += [(p.x, p.y) for p in (part.dxf.start, part.dxf.end)]
    xs, ys = zip(*corners, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _differences(found: DxfLayer, wanted: DxfLayer) -> list[str]:
    def far(a, b) -> bool:
        return len(a) != len(b) or any(
            abs(p - q) > SAME for u, v in zip(a, b, strict=True) for p, q in zip(u, v, strict=True)
        )

    faults = []
    if len(found.areas_mm2) != len(wanted.areas_mm2):
        faults.append(f"{len(found.areas_mm2)} closed loops, not {len(wanted.areas_mm2)}")
    else:
        faults += [
            f"area {a:.4f} mm², not {b:.4f}"
            for a, b in zip(found.areas_mm2, wanted.areas_mm2, strict=True)
            if abs(a - b) > SAME * b
        ]
    if far([found.extents_mm], [wanted.extents_mm]):
        faults.append(f"extents {found.extents_mm}, not {wanted.extents_mm}")
    if far(found.circles, wanted.circles):
        faults.append(f"holes {found.circles}, not {wanted.circles}")
    if far(found.pops, wanted.pops):
        faults.append(f"centre pops {found.pops}, not {wanted.pops}")
    if found.texts != wanted.texts:
        missing = [t for t in wanted.texts if t not in found.texts]
        faults.append(
            f"without the text {missing[0]!r}" if missing else f"texts {found.texts}, not {wanted.texts}"
        )
    if abs(found.lines_mm - wanted.lines_mm) > SAME * max(1.0, wanted.lines_mm):
        faults.append(f"lines {found.lines_mm:.4f} mm long, not {wanted.lines_mm:.4f}")
    return faults
