"""The pages of the wrap strips: each at 1:1 on the smallest sheet that holds it, with check bars, and a table
of all holes."""

from __future__ import annotations

from math import radians
from pathlib import Path

from assemblies.making.sheets.paper import NOMINAL, PAPERS, Printing
from assemblies.setup.clocking.drilling import Drilling
from assemblies.setup.clocking.strips import MARGIN_MM, WrapStrip, mirrored, strips

LARGER_MM = {"A4": PAPERS["A3"], "Letter": (279.4, 431.8)}  # for a strip too long for the paper; 11 x 17 in
TITLE_MM, FOOT_MM, BAR_ROOM_MM = 42.0, 20.0, 16.0
BARS_MM = (200.0, 150.0, 100.0, 50.0)


def sheet_mm(strip: WrapStrip, printing: Printing = NOMINAL) -> tuple[float, float]:
    """The chosen paper, upright or lying, or the next larger one, whichever first holds the strip with its
    title, foot and bars at that scale; else a page of its own size."""
    sizes = [s for s in (PAPERS[printing.paper], LARGER_MM.get(printing.paper)) if s]
    sheets = [s for w, h in sizes for s in ((w, h), (h, w))]
    wide = max(strip.width_mm + BAR_ROOM_MM, 150.0) + 2 * MARGIN_MM
    high = strip.length_mm + TITLE_MM + FOOT_MM + 2 * MARGIN_MM
    wide, high = wide * printing.scale_x, high * printing.scale_y
    return next((s for s in sheets if s[0] >= wide - 1e-9 and s[1] >= high - 1e-9), (wide, high))


def pdf(
    strips: list[WrapStrip], drill: Drilling, name: str, path: Path, printing: Printing = NOMINAL
) -> Path:
    """One page a strip, then the hole table."""
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    page, scale = Canvas(str(path), invariant=1), (printing.scale_x, printing.scale_y)
    page.setTitle(f"{name}: wrap strips, {strips[0].hand}")
    page.setAuthor("rockershed")
    for s in strips:
        sheet = sheet_mm(s, printing)
        page.setPageSize((sheet[0] * mm, sheet[1] * mm))
        page.scale(*scale)
        wide, high = sheet[0] / scale[0], sheet[1] / scale[1]
        _title(page, s, name, wide, high, mm)
        _bars(page, wide, high, mm)
        page.saveState()
        page.translate(MARGIN_MM * mm, (MARGIN_MM + FOOT_MM) * mm)
        _strip(page, s, mm)
        page.restoreState()
        page.showPage()
    _table(page, strips, drill, name, PAPERS[printing.paper], mm)
    page.save()
    return path


def _title(page, s: WrapStrip, name: str, wide: float, high: float, mm: float) -> None:
    page.setFont("Helvetica-Bold", 12)
    page.drawString(
        MARGIN_MM * mm,
        (high - MARGIN_MM - 5) * mm,
        f"{name}: {s.part}, {s.hand.upper()} HAND, wrap strip 1:1",
    )
    page.setFont("Helvetica", 7.5)
    lines = [
        f"For a tube of {s.diameter_mm:g} mm outside; strip {s.width_mm:.1f} x {s.length_mm:.1f} mm. Print "
        f"at 100 %, check both bars with a steel rule (within 0.25 %), cut on the outline.",
        "Wrap with the print outside, ROCKER END towards the rocker, SPRING END flush with the tube's spring "
        "end; the edges just meet. The datum line",
        "lies on the line scribed along the tube in line with the rod's eye. Pop every cross, drill each "
        "mouth on its own, square to the surface.",
        "The arrow shows the loading sense, the way bump turns the rocker. Never drill with the spring "
        "loaded.",
    ]
    for i, text in enumerate(lines):
        page.drawString(MARGIN_MM * mm, (high - MARGIN_MM - 11 - 4 * i) * mm, text)


def _bars(page, wide: float, high: float, mm: float) -> None:
    page.setLineWidth(0.2 * mm)
    page.setFont("Helvetica", 7)
    across = next(b for b in BARS_MM if b <= wide - 2 * MARGIN_MM)
    y = MARGIN_MM + 4
    _bar(page, MARGIN_MM, y, across, 0.0, mm)
    page.drawString((MARGIN_MM + 2) * mm, (y + 1.5) * mm, f"{across:g} mm")
    up = next((b for b in BARS_MM if b <= high - 2 * MARGIN_MM - TITLE_MM), 50.0)
    x = wide - MARGIN_MM - 3
    _bar(page, x, MARGIN_MM, 0.0, up, mm)
    page.saveState()
    page.translate((x - 1.5) * mm, (MARGIN_MM + 22) * mm)
    page.rotate(90)
    page.drawString(0, 0, f"{up:g} mm")
    page.restoreState()


def _bar(page, x: float, y: float, dx: float, dy: float, mm: float) -> None:
    page.line(x * mm, y * mm, (x + dx) * mm, (y + dy) * mm)
    for a, b in ((x, y), (x + dx, y + dy)):
        page.line(
            (a - (2 if dy else 0)) * mm,
            (b - (2 if dx else 0)) * mm,
            (a + (2 if dy else 0)) * mm,
            (b + (2 if dx else 0)) * mm,
        )


def _strip(page, s: WrapStrip, mm: float) -> None:
    w, h = s.width_mm, s.length_mm
    page.setLineWidth(0.2 * mm)
    page.rect(0, 0, w * mm, h * mm)
    clip = page.beginPath()
    clip.rect(0, 0, w * mm, h * mm)
    page.saveState()
    page.clipPath(clip, stroke=0, fill=0)
    page.setStrokeGray(0.7)
    page.setLineWidth(0.1 * mm)
    for y in sorted({round(k.y_mm, 6) for k in s.spots}):
        page.line(0, y * mm, w * mm, y * mm)
    page.setStrokeGray(0)
    page.setLineWidth(0.18 * mm)
    for k in s.spots:
        for x in (k.x_mm - w, k.x_mm, k.x_mm + w):  # a hole on the seam shows at both edges
            page.circle(x * mm, k.y_mm * mm, k.hole.diameter_mm / 2 * mm)
    page.setStrokeColorRGB(1, 0, 0)
    for k in s.spots:
        page.line((k.x_mm - 2) * mm, k.y_mm * mm, (k.x_mm + 2) * mm, k.y_mm * mm)
        page.line(k.x_mm * mm, (k.y_mm - 2) * mm, k.x_mm * mm, (k.y_mm + 2) * mm)
    page.setStrokeGray(0)
    page.restoreState()
    page.setFont("Helvetica", 7)
    for k in s.spots:
        right = k.x_mm < w - 14
        text = f"{k.hole.row}: {k.hole.angle_deg:.4g}°"
        put = page.drawString if right else page.drawRightString
        put((k.x_mm + (1 if right else -1) * (k.hole.diameter_mm / 2 + 0.8)) * mm, (k.y_mm + 0.7) * mm, text)
    _datum_and_arrow(page, s, mm)


def _datum_and_arrow(page, s: WrapStrip, mm: float) -> None:
    x, w, h = s.x_mm(0.0), s.width_mm, s.length_mm
    page.setLineWidth(0.4 * mm)
    page.setDash(6, 2)
    page.line(x * mm, 0, x * mm, h * mm)
    page.setDash()
    page.setFont("Helvetica-Bold", 7)
    put = page.drawString if x < w - 15 else page.drawRightString
    put((x + (1 if x < w - 15 else -1)) * mm, 1.2 * mm, "DATUM")
    page.drawCentredString(w * 0.25 * mm, 1.2 * mm, f"ROCKER END - {s.hand.upper()}")
    middle, half, y = w * 0.7, 10.0, h - 4.0
    tip = middle + half * s.loading
    page.line((middle - half * s.loading) * mm, y * mm, tip * mm, y * mm)
    for dy in (1.5, -1.5):
        page.line((tip - 3 * s.loading) * mm, (y + dy) * mm, tip * mm, y * mm)
    page.drawCentredString(middle * mm, (y + 1.0) * mm, "LOADING")
    page.drawCentredString(w * 0.25 * mm, (h - 4.5) * mm, "SPRING END")


def _table(page, strips: list[WrapStrip], drill: Drilling, name: str, paper, mm: float) -> None:
    """Every hole of one hand: angle from the datum line, arc along the outside (plates: along the hole
    circle). Drawn for A4 and fitted to the paper: a table need not be true to size."""
    fit = min(paper[0] / PAPERS["A4"][0], paper[1] / PAPERS["A4"][1])
    flip = strips[0].hand != drill.side
    rows = []
    for h in drill.holes():
        radius = h.arc_mm / _radians(h.angle_deg) if h.angle_deg > 1e-9 else 0.0
        m = mirrored(h, 2 * radius) if flip and radius else h
        rows.append((m.part, m.row, m.along_mm, m.angle_deg, m.arc_mm, m.diameter_mm))
    rows.sort(key=lambda r: (r[0].startswith("anchor"), r[0], r[1], r[3]))
    per_column, columns = 68, 2
    for start in range(0, len(rows), per_column * columns):
        page.setPageSize((paper[0] * mm, paper[1] * mm))
        page.scale(fit, fit)
        page.setFont("Helvetica-Bold", 12)
        page.drawString(10 * mm, 282 * mm, f"{name}: holes to drill, {strips[0].hand.upper()} HAND")
        page.setFont("Helvetica", 7)
        page.drawString(
            10 * mm,
            277 * mm,
            "Angles from the datum line, right-handed about the direction from the rocker towards the spring "
            "(clockwise looking that way).",
        )
        page.drawString(
            10 * mm,
            273.5 * mm,
            "Arcs along the bare tube's outside; on the anchor plates along the hole circle. Every hole is "
            "reamed "
            "to its bolt at the setting used.",
        )
        for i, row in enumerate(rows[start : start + per_column * columns]):
            x, y = 10 + 97 * (i // per_column), 263 - 3.6 * (i % per_column)
            if i % per_column == 0:
                page.setFont("Helvetica-Bold", 7)
                _cells(page, x, y + 4.4, ("part", "row", "along", "deg", "arc mm", "ø"), mm)
                page.setFont("Helvetica", 7)
            _cells(
                page,
                x,
                y,
                (row[0], str(row[1]), f"{row[2]:.1f}", f"{row[3]:.2f}", f"{row[4]:.1f}", f"{row[5]:g}"),
                mm,
            )
        page.showPage()


def _cells(page, x: float, y: float, texts, mm: float) -> None:
    page.drawString(x * mm, y * mm, texts[0])
    for at, text in zip((38, 51, 64, 78, 88), texts[1:], strict=True):
        page.drawRightString((x + at) * mm, y * mm, text)


def _radians(deg: float) -> float:
    return radians(deg)


def write(drill: Drilling, name: str, folder: Path, printing: Printing = NOMINAL) -> list[Path]:
    """wrap-left.pdf, wrap-right.pdf and a DXF a strip and hand, in `folder`; the DXF stays true whatever the
    printer."""
    from parts.files.blank import write_blank

    folder.mkdir(parents=True, exist_ok=True)
    out = []
    for hand in ("left", "right"):
        made = strips(drill, hand)
        if not made:
            continue
        out.append(pdf(made, drill, name, folder / f"wrap-{hand}.pdf", printing))
        for s in made:
            path = folder / f"wrap-{s.part.replace(' ', '-')}-{hand}.dxf"
            out.append(
                write_blank(
                    path,
                    s.outline(),
                    part=f"wrap strip {s.part}",
                    hand=hand,
                    thickness_mm=s.paper_mm,
                    material="paper",
                ).path
            )
    return out
