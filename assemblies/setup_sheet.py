"""The set-up and check table: what to read off on the car at each wheel height, with room for what was measured."""
from __future__ import annotations

import csv
import math
from pathlib import Path

from assemblies.results import Results
from assemblies.summary import CAUTION

HEAD = ["wheel height, mm", "rocker angle, deg", "damper eye to eye, mm", "toe-in change, deg", "measured rocker", "measured damper", "measured toe"]
FIELDS = ("wheel_mm", "rocker_deg", "damper_mm", "toe_deg")
DECIMALS = (0, 1, 1, 2)


def rows(r: Results, step_mm: float = 10.0) -> list[list[str]]:
    """One row each `step_mm` of wheel height, both ends of travel included, read off the curves of `r.travel`."""
    t = r.travel
    low, high = t.wheel_mm[0], t.wheel_mm[-1]
    heights = sorted({low, high, *(step_mm * k for k in range(math.ceil(low / step_mm), math.floor(high / step_mm) + 1))})
    return [[*(f"{_read(t, f, z):+.{d}f}" if f != "damper_mm" else f"{_read(t, f, z):.{d}f}" for f, d in zip(FIELDS, DECIMALS, strict=True)),
             "", "", ""] for z in heights]


def _read(t, name: str, z: float) -> float:
    x, y = t.wheel_mm, getattr(t, name)
    i = max(k for k in range(len(x) - 1) if x[k] <= z + 1e-9)
    share = (z - x[i]) / (x[i + 1] - x[i])
    a, b = (math.nan if v is None else v for v in (y[i], y[i + 1]))
    return b if share > 1 - 1e-9 else a if share < 1e-9 else a + share * (b - a)


def notes(r: Results) -> list[str]:
    """What to set and what to expect, a sentence each."""
    s, e, c = r.spring, r.ends, r.clocking
    out = [f"All figures hold for the {r.side} side with the car at ride height, driver aboard. Wheel height is measured from there, bump positive. "
           "Rocker angle is right-handed about the axis as the job file gives it."]
    if s.ride_torque_nm is not None:
        out.append(f"At ride the spring carries {s.ride_torque_nm:.1f} N·m at {s.ride_twist_deg:.1f} deg of twist; it is slack with the rocker at "
                   f"{s.slack_rocker_deg:+.1f} deg.")
        out.append(f"At full droop {s.droop_twist_deg:.1f} deg of twist are left: wind them in before the pin goes in, against a droop stop that holds. "
                   "A wound spring can break bones: load and unload it only through the adjuster with the travel blocked.")
    else:
        out.append(f"At ride the coil carries {s.ride_force_n:.0f} N, {s.ride_compression_mm:.1f} mm short of free; {s.droop_compression_mm:.1f} mm are left at full droop.")
    for name, step in c.steps.items():
        out.append(f"One step of the {name}: {step:.3f} deg, {abs(c.ride_height_per_step_mm[name]):.1f} mm of ride height.")
    for text, z in (("The damper tops out", e.damper_tops_out_at_wheel_mm), ("The damper bottoms", e.damper_bottoms_at_wheel_mm),
                    ("The spring goes slack", e.spring_slack_at_wheel_mm)):
        if z is not None:
            out.append(f"{text} at wheel height {z:+.1f} mm.")
    out.append("If a reading is off by more than 0.5 deg or 1 mm (common practice), stop and find out why before going on.")
    return out


def write(r: Results, folder: Path) -> list[Path]:
    """check-table.csv and set-up.pdf in `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "check-table.csv"
    with table.open("w", newline="", encoding="utf-8") as f:
        csv.writer(f).writerows([HEAD, *rows(r)])
    return [table, _pdf(r, folder / "set-up.pdf")]


def _pdf(r: Results, path: Path) -> Path:
    from xml.sax.saxutils import escape

    from reportlab.lib import colors
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.lib.units import mm
    from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

    style = getSampleStyleSheet()
    body = [Paragraph(escape(f"{r.name}, {r.side}: set-up and check table"), style["Title"])]
    body += [Paragraph(escape(text), style["BodyText"]) for text in notes(r)]
    cells = [[Paragraph(escape(h), style["BodyText"]) for h in HEAD], *rows(r)]
    grid = Table(cells, repeatRows=1, colWidths=[24 * mm] * 4 + [26 * mm] * 3)
    grid.setStyle(TableStyle([("GRID", (0, 0), (-1, -1), 0.4, colors.grey), ("ALIGN", (0, 1), (3, -1), "RIGHT"),
                              ("BACKGROUND", (0, 0), (-1, 0), colors.whitesmoke), ("VALIGN", (0, 0), (-1, 0), "MIDDLE")]))
    body += [Spacer(1, 4 * mm), grid, Spacer(1, 4 * mm), Paragraph(escape(CAUTION), style["Italic"])]
    SimpleDocTemplate(str(path), pagesize=A4, topMargin=15 * mm, bottomMargin=15 * mm, leftMargin=12 * mm, rightMargin=12 * mm,
                      title=f"{r.name} set-up", author="rockershed", invariant=1).build(body)
    return path
