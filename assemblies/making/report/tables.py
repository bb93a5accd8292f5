"""The page's tables, each from results.json alone or with the layout's drawings."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from assemblies.making.report.numbers import floored, shown, signed, words
from assemblies.making.sheets.tube_ends import NEAR_FLAT_MM, SQUARE_MM, run_in_words
from assemblies.results.model import Results
from assemblies.study import Study
from parts.shape import drawing as drawings


def facts(r: Results) -> list[tuple[str, str, str]]:
    """The numbers that are asked for first: name, value, unit."""
    t, s = r.travel, r.spring
    if t is None or s is None:
        return []
    ride = min(range(len(t.wheel_mm)), key=lambda i: abs(t.wheel_mm[i]))
    rows = [
        ("Wheel travel", f"{signed(t.wheel_mm[0])} to {signed(t.wheel_mm[-1])}", "mm"),
        ("Wheel rate at ride", shown(t.wheel_rate_n_per_mm[ride], 1), "N/mm"),
        ("Ride frequency", shown(s.ride_frequency_hz, 2), "Hz"),
        ("Rate rise to bump", signed(s.rise_percent, 0), "%"),
        ("Damper per wheel at ride", shown(t.damper_per_wheel[ride], 2), "mm/mm"),
    ]
    if r.clearance.checked and r.clearance.pairs:
        p = min(r.clearance.pairs, key=lambda q: q.gap_mm - q.required_mm)
        rows.append(
            (
                f"Least to spare: {words(p.a)} to {words(p.b)}",
                f"{floored(p.gap_mm)} of {p.required_mm:g}",
                "mm",
            )
        )
    if r.masses is not None:
        rows.append(("Parts to make, without the frame", shown(r.masses.parts_kg, 1), "kg"))
    return rows


def parts(study: Study, r: Results) -> dict:
    """Blanks with their drawings, and the other parts; each with the use of its strength where that is
    known."""
    from markupsafe import Markup

    flat = {f.name: f for f in study.layout.flat} if study.layout else {}
    side = r.side
    rows = []
    for name, f in flat.items():
        made = [b for b in r.blanks if b.part == name]
        own = next((b for b in made if b.hand in (side, "either")), None)
        other = next((b for b in made if b is not own), None)
        rows.append(
            {
                "name": name,
                "count": f.count,
                "material": f.material,
                "thickness_mm": f.thickness_mm,
                "area_mm2": f.outline.area_mm2,
                "own": own,
                "other": other,
                "mass_kg": own.mass_kg if own else None,
                "holes": own.holes if own else (),
                "strength": _use(name, r),
                "drawing": Markup(drawings.drawing(name, f.outline, own.holes if own else ())),
            }
        )
    solids = [{"row": p, "strength": _use(p.name, r), "body": p.body} for p in r.parts]
    return {"blanks": rows, "all": solids}


def _use(name: str, r: Results):
    """The strength check of a part that is nearest to its limit."""
    own = [
        c
        for c in r.strength.checks
        if c.item == name
        or c.item.startswith(name + " ")
        or c.item.startswith(name + ",")
        or c.item.startswith(name + ":")
    ]
    return max(own, key=lambda c: math.inf if c.use is None else c.use, default=None)


def check_table(r: Results, step_mm: float = 10.0) -> list[list[str]]:
    """Wheel height, rocker, damper, camber, toe at every `step_mm` and at both ends of travel."""
    t = r.travel
    if t is None:
        return []
    x = np.array(t.wheel_mm, float)
    inner = np.arange(math.ceil(x[0] / step_mm), math.floor(x[-1] / step_mm) + 1) * step_mm
    heights = sorted({float(x[0]), float(x[-1]), *map(float, inner)})

    def at(y, z):
        return float(np.interp(z, x, np.array([math.nan if v is None else v for v in y])))

    return [
        [
            signed(z, 0 if z == round(z) else 1),
            signed(at(t.rocker_deg, z), 1),
            shown(at(t.damper_mm, z), 1),
            signed(at(t.camber_deg, z), 2),
            signed(at(t.toe_deg, z), 2),
        ]
        for z in heights
    ]


def cut_groups(r: Results) -> list[tuple[str, list]]:
    """The cut list by group, in the order in which the groups first come."""
    found: dict[str, list] = {}
    for row in r.cut_list:
        found.setdefault(row.group, []).append(row)
    return list(found.items())


def tube_ends(r: Results) -> list[tuple]:
    """Cut ends of the frame's tubes: (row, length to saw off, cut to, how)."""
    found = r.junctions
    if found is None:
        return []

    lengths = {t.member: t.length_mm for t in found.tubes}
    return [
        (e, lengths[e.member], ", ".join(map(run_in_words, e.runs)), _cut(e))
        for e in found.ends
        if e.member in lengths and e.runs
    ]


def _cut(e) -> str:
    part = "" if e.whole else "; part of it meets nothing"
    if e.short_mm - e.long_mm <= SQUARE_MM:
        return "square" + part
    if e.whole and e.from_square_deg is not None and (e.flat_gap_mm or 0.0) <= NEAR_FLAT_MM:
        return f"one saw cut, {e.from_square_deg:.1f} deg from square"
    return "strip to wrap" + part


def files_of(folder: Path | None) -> dict[str, list[str]]:
    """Files of the build to link to, by their folder; paths from the page's own place."""
    if folder is None:
        return {}
    found: dict[str, list[str]] = {}
    for p in sorted(Path(folder).rglob("*")):
        place = p.relative_to(folder)
        if (
            p.is_file()
            and p.name != "report.html"
            and p.suffix.lower() in (".dxf", ".step", ".pdf", ".csv", ".svg", ".json", ".txt")
            and place.parts[0] != "plots"
        ):
            found.setdefault(place.parts[0] if len(place.parts) > 1 else "", []).append(place.as_posix())
    return found
