"""The page put together: words and tables from results.json, drawings, the 3D scene, style and scripts in one
file.

Nothing in it asks for anything outside: the page's own rule (Content-Security-Policy) forbids it, and lets
run only the scripts and the style whose digests it names. All text is escaped on its way in.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from assemblies.making.report import steering as steered
from assemblies.making.report import strength_parts as strong
from assemblies.making.report.gap_maps import BANDS, maps
from assemblies.making.report.gaps import fields, gap_curves, live
from assemblies.making.report.rocker_plane import rocker_plane
from assemblies.making.report.scene import scene as staged
from assemblies.making.sheets.setup_sheet import notes
from assemblies.making.sheets.tube_ends import NEAR_FLAT_MM, SQUARE_MM, run_in_words
from assemblies.results import curves
from assemblies.results.findings import Finding, guaranteed, lacking, worst_first
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.results.words import unchecked, verdict
from assemblies.steering.words import lines
from assemblies.study import Study
from parts.shape import drawing as drawings

HERE = Path(__file__).parent
SCRIPTS = (
    "vendor/three.min.js",
    "motion.js",
    "view.js",
    "page.js",
    "gaps.js",
    "rocker.js",
    "tools.js",
    "steering.js",
)
NO_VIEW = ("motion.js", "page.js", "gaps.js", "rocker.js", "steering.js")  # enough for a page of curves
GAP_ROWS, FINDINGS, FIGURES, WORST = 8, 8, 4, 3  # shown at once, worst first
PLACES = {  # where a finding's subject stands in the page, by the longest of these that its code begins with
    "clash": "gaps",
    "gap": "gaps",
    "interference": "gaps",
    "cannot-close": "curve-rocker-angle",
    "swing": "curve-rocker-angle",
    "toggle": "curve-moment-arm",
    "damper": "curve-damper-length",
    "droop-stop": "curve-damper-length",
    "damper-ratio": "curve-damper-per-wheel",
    "damper-off-plane": "curve-tilts",
    "rod-tilt": "curve-tilts",
    "rod-off-plane": "curve-tilts",
    "rod-sense": "curve-rod-force",
    "unstable": "curve-wheel-rate",
    "falling-rate": "curve-wheel-rate",
    "rise": "curve-wheel-rate",
    "frequency": "curve-wheel-rate",
    "bump-steer": "curve-toe",
    "inner-joint-outboard": "curve-toe",
    "slack": "set-up",
    "preload": "set-up",
    "twist": "set-up",
    "spring": "set-up",
    "slide": "set-up",
    "coil": "set-up",
    "strength": "strength",
    "steel": "strength",
    "plate-grade": "strength",
    "thin-weld": "strength",
    "rod-lug": "strength",
    "load-case": "strength",
    "nest": "cut-list",
    "tube": "cut-list",
    "junction": "cut-list",
    "part": "parts",
    "rocker": "parts",
    "box-width": "parts",
    "bracket": "parts",
    "no-seat": "parts",
    "rod-adjustment": "parts",
    "tie-rod": "parts",
}
POSE = re.compile(r"wheel ([+-]?\d+(?:\.\d+)?) ?mm(?:, rack ([+-]?\d+(?:\.\d+)?) ?mm)?")
LEVELS = {"stop": "Stop", "warn": "Look at", "note": "Note"}


@dataclass(frozen=True)
class Told:
    """A finding with the place in the page and the pose it speaks of."""

    level: str
    word: str
    where: str
    text: str
    place: str | None
    wheel_mm: float | None
    rack_mm: float | None
    pair: str | None


def write(
    study: Study,
    results: Results,
    folder: Path,
    shapes: Mapping[str, object] | None = None,
    progress: Callable[..., None] = lambda *_: None,
) -> Path:
    """report.html in `folder`. `shapes`: solids by the names of the layout, in the part's own axes; None: no
    3D view."""
    progress("report")
    path = Path(folder) / "report.html"
    path.write_text(page(study, results, shapes, folder), encoding="utf-8")
    return path


def page(
    study: Study,
    results: Results,
    shapes: Mapping[str, object] | None = None,
    folder: Path | None = None,
    quick: bool = False,
) -> str:
    """The page's text. `folder`: what files there are to link to; `quick`: without pictures and curves of
    gaps, which take seconds."""
    from markupsafe import Markup

    from assemblies.making.report.pictures import gap_picture, pictures

    field = () if quick else fields(study, results)
    stands = study.layout is not None and results.travel is not None
    figures = curves.figures(results, study.job, () if quick else gap_curves(study, results))
    figures += steered.figures(results)
    scene, shots = None, []
    if stands and shapes:
        scene = staged(study, shapes)
        told_of = strong.of_parts(results, study.layout)
        for p in scene["parts"]:
            p["strength"] = told_of.get(p["name"])
        if results.steering and results.steering.zone:
            scene["zone"] = steered.zone_sheet(results.steering.zone)
        if not quick:
            heights = _three_heights(scene["motion"]["wheel_mm"])
            shots = list(
                zip(
                    ("full droop", "ride height", "full bump"),
                    heights,
                    pictures(study, shapes, heights),
                    strict=True,
                )
            )
    told = [_told(f, results) for f in worst_first(results.findings)]
    rocker = rocker_plane(study, results)
    data = {
        "rocker": rocker and rocker["moving"],
        "gaps": live(field),
        "lock": steered.lock(results),
        "figures": [
            {
                "key": f.key,
                "unit": f.unit,
                "decimals": f.decimals,
                "down": f.down,
                "curves": [_round(c.y) for c in f.curves],
            }
            for f in figures
        ],
        "x": list(figures[0].x) if figures else [],
        "travel": _readouts(results),
        "scene": scene,
        "pairs": [
            {
                "a": p.a,
                "b": p.b,
                "gap": floored(p.gap_mm),
                "wheel": p.at_wheel_mm,
                "rack": p.at_rack_mm,
                "from": p.point_a,
                "to": p.point_b,
                "ok": p.ok,
            }
            for p in results.clearance.pairs
        ],
    }
    return filled(
        "page.html.j2",
        data,
        r=results,
        job=study.job,
        told=told,
        worst=[f for f in told if f.level != "note"][:WORST],
        shown_findings=FINDINGS,
        shown_figures=FIGURES,
        verdict=verdict(results),
        unchecked=unchecked(results),
        facts=facts(results),
        figures=figures,
        gap_picture=gap_picture(folder),
        maps=[{**m, "svg": Markup(m["svg"])} for m in maps(field)],
        map_bands=[(Markup(gap_swatch(colour)), said) for _, colour, said in BANDS],
        bars=strong.bars(results, study.layout),
        bars_shown=strong.SHOWN,
        strength_key=[(Markup(gap_swatch(colour)), said) for colour, said in strong.legend()]
        if results.strength.checks
        else [],
        of_row=lambda c: strong.of_row(c.item, c.group, study.layout) if study.layout else [],
        rocker=rocker and {"svg": Markup(rocker["svg"])},
        steering=_steering(results),
        shots=shots,
        parts=parts(study, results),
        check_table=check_table(results),
        setup=_setup(results),
        files=_files(folder),
        cut_groups=cut_groups(results),
        tube_ends=tube_ends(results),
        caution=_caution(),
        gap_rows=GAP_ROWS,
        has_view=scene is not None,
        zone=results.steering and results.steering.zone,
        pairs=results.clearance.pairs[:8],
        before=False,
        rack=bool(scene and len(scene["motion"]["rack_mm"]) > 1),
    )


def gap_swatch(colour: str) -> str:
    square = f'<path d="M0 0H10V10H0Z" fill="{colour}"/>'
    return f'<svg class="box" viewBox="0 0 10 10" aria-hidden="true">{square}</svg>'


def _steering(r: Results) -> dict:
    from markupsafe import Markup

    zone = r.steering.zone if r.steering else None
    return {
        "lines": lines(r),
        "lock": steered.lock(r),
        "zone": Markup(steered.zone_svg(zone)) if zone else "",
        "seen": zone is not None and steered.present_seen(zone),
        "places": lambda unit: 4 if "/" in unit else 1,
    }


def filled(template: str, data: dict, **known) -> str:
    """A template with style, scripts and data put in, everything else escaped."""
    from markupsafe import Markup

    style = _read("page.css")
    scripts = [_read(s) for s in SCRIPTS if data["scene"] or s in NO_VIEW]
    return (
        _templates()
        .get_template(template)
        .render(
            style=Markup(style),
            scripts=[Markup(s) for s in scripts],
            data=Markup(_json(data)),
            svg=lambda f: Markup(curves.svg(f)),
            curves=curves,
            swatch=lambda k, other=False: Markup(curves.swatch(k, other)),
            policy=policy(style, scripts),
            **known,
        )
    )


@cache
def _templates():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters |= {
        "n": shown,
        "signed": signed,
        "slug": slug,
        "words": words,
        "short": short,
        "floored": floored,
        "margin": margin,
        "used": used,
    }
    return env


def policy(style: str, scripts: list[str]) -> str:
    """The page's rule: nothing from outside, only this style and these scripts, pictures only from within."""
    own = " ".join(f"'sha256-{_digest(s)}'" for s in scripts)
    return (
        f"default-src 'none'; img-src data:; style-src 'sha256-{_digest(style)}'; script-src {own}; "
        f"base-uri 'none'; form-action 'none'"
    )


def alive(text: str, version: int) -> str:
    """The page as the watch serves it: it asks its own server, and only that, whether there is something
    newer than its `version`."""
    script = _read("live.js")
    text = text.replace("script-src ", f"connect-src 'self'; script-src 'sha256-{_digest(script)}' ", 1)
    head, body, tail = text.rpartition("</body>")
    return (
        f'{head}<div id="live" role="status" data-version="{version}" '
        f"hidden></div>\n<script>{script}</script>\n{body}{tail}"
    )


def empty() -> str:
    """What the watch shows before the job file could be used for the first time."""
    style = _read("page.css")
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta '
        f'http-equiv="Content-Security-Policy" content="{policy(style, [])}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>rockershed</title><link '
        f'rel="icon" href="data:,"><style>{style}</style></head>'
        "<body><main><h1>Not ready yet</h1><p>This page fills itself as soon as the job file can be "
        "used.</p></main></body></html>"
    )


@cache
def _read(name: str) -> str:
    return (HERE / name).read_text(encoding="utf-8")


@cache
def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _json(data) -> str:
    """JSON that cannot end its own script element or open a comment."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


# ------------------------------------------------------------------------------------------------ words


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


def shown(v, decimals: int = 1) -> str:
    """A number for reading: fixed decimals, a true minus, a dash for nothing."""
    if v is None or (isinstance(v, float) and not math.isfinite(v)):
        return "–"
    text = f"{v:.{decimals}f}"
    return (text[1:] if text.startswith("-") and not text.strip("-0.") else text).replace("-", "−")


def floored(v) -> str:
    """A guaranteed gap as it is told everywhere."""
    return guaranteed(v).replace("-", "\u2212")


def margin(v, decimals: int = 1) -> str:
    """A margin, never rounded up."""
    step = 10.0**decimals
    return shown(None if v is None else math.floor(v * step + 1e-9) / step, decimals)


def used(v) -> str:
    """A use of strength, never rounded down."""
    return "no resistance" if v is None else lacking(v)


def short(v) -> str:
    """A number to three figures, for loads of any size."""
    return (
        "–"
        if v is None
        else f"{v:.3g}".replace("-", "−")
        if abs(v) < 1000
        else f"{v:,.0f}".replace(",", " ").replace("-", "−")
    )


def signed(v, decimals: int = 0) -> str:
    text = shown(v, decimals)
    return text if text[0] in "−–" or not text.strip("0.") else "+" + text


def words(name: str) -> str:
    """A body's name for reading: upper_arm is the upper arm."""
    return name.replace("_", " ")


def slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _told(f: Finding, r: Results) -> Told:
    place = next((PLACES[k] for k in sorted(PLACES, key=len, reverse=True) if f.code.startswith(k)), None)
    sections = {
        "strength": bool(r.strength.checks),
        "gaps": r.clearance.checked,
        "parts": bool(r.parts or r.blanks),
        "cut-list": bool(r.cut_list),
    }
    if place is not None and (not sections.get(place, r.travel is not None)):
        place = None
    pose = POSE.search(f.where) or POSE.search(f.text)
    wheel, rack = (float(x) if x else None for x in pose.groups()) if pose and r.travel else (None, None)
    pair = next((str(k) for k, p in enumerate(r.clearance.pairs) if f.where == f"{p.a} to {p.b}"), None)
    return Told(f.level, LEVELS[f.level], f.where, f.text, place, wheel, rack, pair)


# ------------------------------------------------------------------------------------------------ tables


def _round(values) -> list[float | None]:
    return [None if v is None else float(f"{v:.6g}") for v in values]


def _readouts(r: Results) -> list[dict]:
    """What the pose bar says beside the slider."""
    t = r.travel
    if t is None:
        return []
    rows = [
        ("rocker", "°", 1, t.rocker_deg),
        ("damper", "mm", 1, t.damper_mm),
        ("wheel rate", "N/mm", 1, t.wheel_rate_n_per_mm),
    ]
    return [{"label": a, "unit": u, "decimals": d, "y": _round(y)} for a, u, d, y in rows]


def _three_heights(wheel: list[float]) -> list[float]:
    return [wheel[0], min(wheel, key=abs), wheel[-1]]


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


def _setup(r: Results) -> list[str]:
    if r.travel is None or r.spring is None or r.ends is None:
        return []
    if r.setup is not None:
        return [r.setup.stop, *r.setup.cautions]

    return notes(r)


def _caution() -> str:
    return CAUTION


def _files(folder: Path | None) -> dict[str, list[str]]:
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
