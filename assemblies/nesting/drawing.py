"""The nested DXF: what is cut, what is marked, the leads and the remnant, each on its own layer; read back
when written.

Closed paths of lines and true arcs in mm. The remnant's outline, old holes and keep-outs are only for laying
the
sheet: they stand on REMNANT and are never cut.
"""

from __future__ import annotations

from pathlib import Path

from assemblies.nesting.cutting import Plan
from assemblies.nesting.labels import LINE, SIZE_MM, fitted, roomiest
from assemblies.nesting.model import Nest, Placement
from assemblies.nesting.proof import prove
from parts.base.frozen import dataclass
from parts.shape.outline import circle

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
    """Prove the nest on one remnant, write its drawing beside the place, read it back, then move it there.

    Raises ProofError or BlankError, and leaves no file, where either fails. The same nest gives the same
    bytes."""
    from parts.files import dxf

    prove(nest, (plan.remnant,))
    cut = dxf.write_sheet(path, _drawing(nest, plan))[dxf.CUT]
    return NestFile(
        Path(path), len(cut.areas_mm2), sum(cut.areas_mm2), plan.cut_length_mm, nest.use_percent(plan.remnant)
    )


def _drawing(nest: Nest, plan: Plan):
    from parts.files import dxf

    d = dxf.DxfDrawing(
        {dxf.CUT: dxf.WHITE, dxf.MARK: dxf.BLUE, LEAD: dxf.GREEN, REMNANT: dxf.GREY, dxf.NOTES: dxf.GREY}
    )
    remnant = plan.remnant
    for loop in (
        remnant.outline,
        *(circle(h.x, h.y, h.diameter_mm) for h in remnant.holes),
        *remnant.keep_outs,
    ):
        d.loop(REMNANT, loop)
    for cut in plan.cuts:  # in the order of cutting
        if cut.what == "hole":
            x0, y0, x1, y1 = cut.path.bounds
            d.circle(dxf.CUT, (x0 + x1) / 2, (y0 + y1) / 2, x1 - x0)
        else:
            d.loop(dxf.CUT, cut.path)
        if cut.pierce and cut.entry:
            d.line(LEAD, cut.pierce, cut.entry)
        x, y = cut.number_place
        d.text(LEAD, str(cut.number), x, y, 2.0, centred=True)
    for _, x, y, diameter in plan.popped:
        d.pop(dxf.MARK, x, y)
        d.text(dxf.NOTES, f"%%c{diameter:g}", x + 2, y + 2, SIZE_MM)  # %%c is DXF's diameter sign
    gone = {(round(x, 3), round(y, 3)) for _, x, y, _ in plan.popped}  # marked once
    for p in nest.on(remnant):
        _marks(d, p, dxf.MARK, gone | {(round(h.x, 3), round(h.y, 3)) for h in p.outline.holes})
    x0, y0 = remnant.outline.bounds[:2]
    size = f"COMPENSATED {plan.compensation_mm:g} mm a side" if plan.compensation_mm else "NOMINAL SIZE"
    d.foot(
        dxf.NOTES,
        x0,
        y0 - 15.0,
        (
            f"{remnant.name} - {remnant.thickness_mm:g} mm {remnant.material}",
            f"{size} - {plan.cut_length_mm:.0f} mm to cut - {nest.use_percent(remnant):.1f} % used",
            *(
                ()
                if not plan.without_lead or len(plan.without_lead) == len(plan.cuts)
                else (
                    f"no room for a lead: cut {', '.join(str(c.number) for c in plan.without_lead)} - drill "
                    f"a start hole",
                )
            ),
        ),
    )
    return d


def _marks(d, p: Placement, layer: str, gone: set[tuple[float, float]]) -> None:
    """Bend lines and pops of a blank as it lies, and its name where there is room in it."""
    for mark in p.outline.marks:
        if mark.kind == "pop":
            (x, y) = mark.points[0]
            if (round(x, 3), round(y, 3)) not in gone:
                d.pop(layer, x, y)
        elif mark.kind == "line":
            d.line(layer, *mark.points)
    name = p.blank.name + (f" no.{p.copy}" if p.blank.count > 1 else "")
    lines, height = fitted(name, (spot := roomiest(p))[2])
    for n, words in enumerate(lines):
        d.text(
            layer, words, spot[0], spot[1] + ((len(lines) - 1) / 2 - n) * LINE * height, height, centred=True
        )
