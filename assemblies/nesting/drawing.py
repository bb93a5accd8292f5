"""The nested DXF: what is cut, what is marked, the leads and the remnant, each on its own layer; read back when written.

Closed paths of lines and true arcs in mm. The remnant's outline, old holes and keep-outs are only for laying the
sheet: they stand on REMNANT and are never cut.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path

from assemblies.nesting.cutting import Plan
from assemblies.nesting.model import Nest, NestError
from assemblies.nesting.proof import prove
from parts.outline import Loop, circle

REMNANT, LEAD = "REMNANT", "LEAD"


@dataclass(frozen=True)
class NestFile:
    """A nested DXF that has been written and read back."""

    path: Path
    loops: int
    cut_area_mm2: float
    cut_length_mm: float
    use_percent: float


def write(path: str | Path, nest: Nest, plan: Plan) -> NestFile:
    """Prove the nest, write one remnant's drawing beside the place, read it back, then move it there.

    Raises ProofError or NestError, and leaves no file, where either fails. The same nest gives the same bytes."""
    from parts import dxf

    prove(nest)
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(path.name + ".part")
    try:
        with dxf._no_clock():
            _document(nest, plan).saveas(beside)
        loops, area = _read(beside)
        wanted = sum(abs(c.path.area_mm2) for c in plan.cuts)
        if loops != len(plan.cuts) or abs(area - wanted) > 1e-6 * max(1.0, wanted):
            raise NestError(
                f"{path.name}: read back {loops} closed paths of {area:.3f} mm², meant {len(plan.cuts)} of {wanted:.3f}"
            )
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return NestFile(path, loops, area, plan.cut_length_mm, nest.use_percent(plan.remnant))


def _document(nest: Nest, plan: Plan):
    from parts import dxf

    document = dxf.ezdxf.new("R2000", units=dxf.MILLIMETRES)
    for layer, colour in ((dxf.CUT, 7), (dxf.MARK, 5), (LEAD, 3), (REMNANT, 8)):
        document.layers.add(layer, color=colour)
    space = document.modelspace()

    def loop(path: Loop, layer: str) -> None:
        space.add_lwpolyline([(v.x, v.y, v.bulge) for v in path.vertices], format="xyb", close=True, dxfattribs={"layer": layer})

    def text(words: str, x: float, y: float, height: float, layer: str = dxf.MARK) -> None:
        space.add_text(words, height=height, dxfattribs={"layer": layer}).set_placement((x, y))

    remnant = plan.remnant
    loop(remnant.outline, REMNANT)
    for h in remnant.holes:
        loop(circle(h.x, h.y, h.diameter_mm), REMNANT)
    for k in remnant.keep_outs:
        loop(k, REMNANT)
    for cut in plan.cuts:  # in the order of cutting
        loop(cut.path, dxf.CUT)
        if cut.pierce:
            space.add_line(cut.pierce, cut.entry, dxfattribs={"layer": LEAD})
            text(str(cut.number), cut.pierce[0] + 1, cut.pierce[1] + 1, 2.5, LEAD)
    for _, x, y, d in plan.popped:
        space.add_point((x, y), dxfattribs={"layer": dxf.MARK})
        for ux, uy in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            space.add_line((x + ux, y + uy), (x + 3 * ux, y + 3 * uy), dxfattribs={"layer": dxf.MARK})
        text(f"%%c{d:g}", x + 3, y + 3, 2.5)  # %%c is DXF's diameter sign
    for p in nest.on(remnant):
        _marks(space, p, text)
    x0, y0 = remnant.outline.bounds[:2]
    y = y0 - 15.0
    space.add_line((x0, y), (x0 + 100.0, y), dxfattribs={"layer": dxf.MARK})
    for end in (x0, x0 + 100.0):
        space.add_line((end, y - 2), (end, y + 2), dxfattribs={"layer": dxf.MARK})
    size = f"COMPENSATED {plan.compensation_mm:g} mm a side" if plan.compensation_mm else "NOMINAL SIZE"
    for n, words in enumerate(
        (
            "100 mm check line",
            f"{remnant.name} - {remnant.thickness_mm:g} mm {remnant.material}",
            f"{size} - {plan.cut_length_mm:.0f} mm to cut - {nest.use_percent(remnant):.1f} % used",
        )
    ):
        text(words, x0, y - 8.0 * (n + 1), 5.0)
    return document


def _marks(space, p, text) -> None:
    from assemblies.nesting.picture import _label_place
    from parts import dxf

    for mark in p.outline.marks:
        if mark.kind == "pop":
            space.add_point(mark.points[0], dxfattribs={"layer": dxf.MARK})
        elif mark.kind == "text":
            text(mark.text, *mark.points[0], mark.height_mm)
        else:
            for a, b in zip(mark.points, mark.points[1:], strict=False):
                space.add_line(a, b, dxfattribs={"layer": dxf.MARK})
    x, y = _label_place(p)
    text(p.label + (f" {p.blank.hand}" if p.blank.hand else ""), x - 8, y, 3.0)


def _read(path: Path) -> tuple[int, float]:
    """Closed paths on the cut layer and the sum of their areas, from the file alone."""
    from parts import dxf

    try:
        document = dxf.ezdxf.readfile(path)
    except (dxf.ezdxf.DXFError, OSError) as e:
        raise NestError(f"{path.name}: cannot be read back: {e}") from e
    if document.header.get("$INSUNITS", 0) != dxf.MILLIMETRES or document.audit().has_errors:
        raise NestError(f"{path.name}: not a sound drawing in mm")
    count, area = 0, 0.0
    for e in document.modelspace().query(f'*[layer=="{dxf.CUT}"]'):
        if e.dxftype() != "LWPOLYLINE" or not e.closed:
            raise NestError(f"{path.name}: {e.dxftype()} on {dxf.CUT} is not a closed path")
        points = [tuple(map(float, q)) for q in e.get_points("xyb")]
        area += dxf._area(points)
        count += 1
    if not math.isfinite(area):
        raise NestError(f"{path.name}: read back an area that is no number")
    return count, area
