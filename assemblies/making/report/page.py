"""The page put together: words and tables from results.json, drawings, the 3D scene, for its template."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from assemblies.layout.placing import needed
from assemblies.making.report import steering as steered
from assemblies.making.report import strength_parts as strong
from assemblies.making.report.filling import filled
from assemblies.making.report.gap_maps import BANDS, maps
from assemblies.making.report.gaps import fields, gap_curves, live
from assemblies.making.report.numbers import floored
from assemblies.making.report.rocker_plane import rocker_plane
from assemblies.making.report.scene import scene as staged
from assemblies.making.report.tables import check_table, cut_groups, facts, files_of, parts, tube_ends
from assemblies.making.report.told import told_on_page
from assemblies.making.sheets.setup_sheet import notes
from assemblies.results import curves
from assemblies.results.findings import worst_first
from assemblies.results.gaps import PairRow
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.results.words import unchecked, verdict
from assemblies.steering.words import lines
from assemblies.study import Study

GAP_ROWS, FINDINGS, FIGURES, WORST = 8, 8, 4, 3  # shown at once, worst first


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
    lacks: Mapping[str, str] | None = None,
) -> str:
    """The page's text. `folder`: what files there are to link to; `quick`: without pictures, and with maps
    and curves of gaps only where they are known, which else take seconds. `lacks`: what is said in the place
    of what follows: `gaps`, `maps`, `view` (after the names of the parts that are not in it), `files`."""
    from markupsafe import Markup

    field = fields(study, results, known=quick)
    stands = study.layout is not None and results.travel is not None
    figures = curves.figures(results, study.job, gap_curves(field, results))
    figures += steered.figures(results)
    scene = _view(study, results, shapes, known=quick) if stands and shapes else None
    shots, gap_picture = [], None
    if not quick:
        from assemblies.making.report import pictures  # loads the CAD kernel

        gap_picture = pictures.gap_picture(folder)
        if scene and shapes:
            heights = _three_heights(scene["motion"]["wheel_mm"])
            drawn = pictures.pictures(study, shapes, heights)
            shots = list(zip(("full droop", "ride height", "full bump"), heights, drawn, strict=True))
    shown = {p["name"] for p in scene["parts"]} if scene else set()
    undrawn = [p.name for p in study.layout.placed if p.name not in shown] if study.layout else []
    told = [told_on_page(f, results) for f in worst_first(results.findings)]
    rocker = rocker_plane(study, results)
    data = {
        "rocker": rocker and rocker["moving"],
        "gaps": live(field),
        "lock": steered.lock(results),
        "figures": [_figure(f) for f in figures],
        "x": list(figures[0].x) if figures else [],
        "travel": _readouts(results),
        "scene": scene,
        "pairs": [_pair(p) for p in results.clearance.pairs],
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
        gap_picture=gap_picture,
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
        files=files_of(folder),
        cut_groups=cut_groups(results),
        tube_ends=tube_ends(results),
        caution=CAUTION,
        gap_rows=GAP_ROWS,
        has_view=scene is not None,
        lacks=defaultdict(str, lacks or {}),
        undrawn=undrawn,
        zone=results.steering and results.steering.zone,
        pairs=results.clearance.pairs[:8],
        before=False,
        rack=bool(scene and len(scene["motion"]["rack_mm"]) > 1),
    )


def _view(study: Study, results: Results, shapes: Mapping[str, object], known: bool) -> dict[str, Any]:
    """What the view in space moves, with the strength of each part and what the steering needs in front."""
    scene = staged(study, shapes, known=known)
    told_of = strong.of_parts(results, needed(study.layout))
    for p in scene["parts"]:
        p["strength"] = told_of.get(p["name"])
    if results.steering and results.steering.zone:
        scene["zone"] = steered.zone_sheet(results.steering.zone)
    return scene


def _figure(f: curves.Figure) -> dict[str, Any]:
    return {
        "key": f.key,
        "unit": f.unit,
        "decimals": f.decimals,
        "down": f.down,
        "curves": [_round(c.y) for c in f.curves],
    }


def _pair(p: PairRow) -> dict[str, Any]:
    return {
        "a": p.a,
        "b": p.b,
        "gap": floored(p.gap_mm),
        "wheel": p.at_wheel_mm,
        "rack": p.at_rack_mm,
        "from": p.point_a,
        "to": p.point_b,
        "ok": p.ok,
    }


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


def _setup(r: Results) -> list[str]:
    if r.travel is None or r.spring is None or r.ends is None:
        return []
    if r.setup is not None:
        return [r.setup.stop, *r.setup.cautions]

    return notes(r)
