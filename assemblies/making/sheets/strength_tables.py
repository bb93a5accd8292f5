"""Strength as tables for a spreadsheet: use of each item, frame reactions, the rocker in each plate."""

from __future__ import annotations

import json
from pathlib import Path

from assemblies.results.model import Results
from assemblies.results.table_file import write_table
from assemblies.strength.table import size
from assemblies.study import Study
from assemblies.study.gauges import gauges
from parts.base.stock import PLATES_MM
from parts.files.cache import keep, kept, key

FRAME_HEAD = [
    "bracket",
    "on",
    "case",
    "wheel, mm",
    "rack, mm",
    "x, mm",
    "y, mm",
    "z, mm",
    "Fx, N",
    "Fy, N",
    "Fz, N",
    "Mx, N·m",
    "My, N·m",
    "Mz, N·m",
]
PATH_HEAD = [
    "part",
    "held on",
    "by",
    "carries forces along",
    "moments about",
    "state",
    "case",
    "wheel, mm",
    "force, N",
    "moment, N·m",
]
HEAD = ["use", "item", "check", "case", "wheel, mm", "asked", "there", "unit", "rule", "note", "cure"]


def write(r: Results, folder: Path, done: Study | None = None, progress=lambda *_: None) -> list[Path]:
    """use-of-each-item.csv: every check, worst first. frame-reactions.csv: vector and point, a bracket and a
    case a row. load-path.csv: every link from the tyre to the frame. plate-gauges.csv: the rocker in each
    plate (where the study is given)."""
    folder.mkdir(parents=True, exist_ok=True)
    table, frame = folder / "use-of-each-item.csv", folder / "frame-reactions.csv"
    checks = [
        [
            f"{size(c):.3f}",
            c.item,
            c.check,
            c.case,
            "" if c.at_wheel_mm is None else f"{c.at_wheel_mm:+z.1f}",
            f"{c.demand:.5g}",
            f"{c.resistance:.5g}",
            "" if c.unit == "-" else c.unit,
            c.source,
            c.note,
            c.cure,
        ]
        for c in sorted(r.strength.checks, key=size, reverse=True)
    ]
    write_table(table, HEAD, [*checks, *(["not checked", text] for text in r.strength.missing)])
    write_table(
        frame,
        FRAME_HEAD,
        [
            [
                p.name,
                p.on,
                p.case,
                f"{p.at_wheel_mm:+z.1f}",
                f"{p.at_rack_mm:+z.1f}",
                *(f"{v:z.1f}" for v in (*p.point_mm, *p.force_n, *p.moment_nm)),
            ]
            for p in r.strength.frame
        ],
    )
    way = folder / "load-path.csv"
    write_table(
        way,
        PATH_HEAD,
        [
            [
                w.part,
                w.on,
                w.by,
                w.forces,
                w.moments,
                w.state,
                w.case,
                f"{w.at_wheel_mm:+z.1f}",
                f"{w.force_n:.0f}",
                f"{w.moment_nm:.1f}",
            ]
            for w in r.strength.path
        ],
    )
    if done is None:
        return [table, frame, way]
    progress("plate gauges")
    plates = folder / "plate-gauges.csv"
    write_table(
        plates,
        ["plate, mm", "use", "item", "check", "rocker, kg"],
        [
            [
                f"{g['thickness_mm']:g}",
                "" if g["use"] is None else f"{g['use']:.3f}",
                g["item"],
                g["check"],
                "" if g["rocker_kg"] is None else f"{g['rocker_kg']:.3f}",
            ]
            for g in _gauges(
                done,
                [t for t in PLATES_MM if 2.0 <= t <= 8.0]
                + [t for t in (done.job.rocker.plate_thickness,) if t not in PLATES_MM],
            )
        ],
    )
    return [table, frame, way, plates]


def _gauges(done: Study, thicknesses_mm: list[float]) -> list[dict]:
    """`study.gauges`; of the job with a plate that was tried before only what was found then."""
    job, names = done.job, {}
    for t in thicknesses_mm:
        tried = job.changed({"rocker.plate_thickness": t})
        names[t] = key("gauge", tried.model_dump_json(by_alias=True), tried.assumed)
    rows = {t: json.loads(body) for t, name in names.items() if (body := kept(name, "gauge"))}
    new = [t for t in thicknesses_mm if t not in rows]
    for t, row in zip(new, gauges(job, new, done) if new else [], strict=True):
        rows[t] = row
        keep(names[t], "gauge", json.dumps(row).encode())
    return [rows[t] for t in thicknesses_mm]
