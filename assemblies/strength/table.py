"""Strength as rows: for results.json, for the terminal, and as the one-page table "use of each item", worst first."""
from __future__ import annotations

import csv
import math
from pathlib import Path

from assemblies import results as rs
from assemblies.strength import sizing
from assemblies.strength.corner import Strength
from assemblies.strength.row import Check
from parts.stock import PLATES_MM

FRAME_HEAD = ["bracket", "on", "case", "wheel, mm", "rack, mm", "x, mm", "y, mm", "z, mm", "Fx, N", "Fy, N", "Fz, N", "Mx, N·m", "My, N·m", "Mz, N·m"]
HEAD = ["use", "item", "check", "case", "wheel, mm", "asked", "there", "unit", "rule", "note", "cure"]


def rows(s: Strength) -> rs.Strength:
    """The content of `strength` in results.json."""
    return rs.Strength(
        checks=[_check(c) for c in s.checks], missing=list(s.missing), residual=s.residual, virtual_work=s.virtual_work,
        cases=[rs.LoadCaseRow(name=c.name, force_n=list(map(float, c.force_n)), moment_nm=list(map(float, c.moment_nm)), at=c.at, from_wheel_mm=c.travel_mm[0] if c.travel_mm else None,
                              to_wheel_mm=c.travel_mm[1] if c.travel_mm else None, full_lock=c.full_lock, rare=c.rare) for c in s.cases],
        frame=[_reaction(r) for r in s.frame], joints=[_reaction(r) for r in s.joints])


def _check(c: Check) -> rs.StrengthCheck:
    return rs.StrengthCheck(item=c.item, case=c.case, check=c.check, demand=c.demand, resistance=c.resistance, unit=c.unit, use=c.use if math.isfinite(c.use) else None, source=c.source,
                            ok=c.ok, at_wheel_mm=c.wheel_mm, at_rack_mm=c.rack_mm, note=c.note, cure=c.cure, level=c.level, damage=c.damage)


def _reaction(r) -> rs.Reaction:
    return rs.Reaction(name=r.name, on=r.on, case=r.case, at_wheel_mm=r.wheel_mm, at_rack_mm=r.rack_mm, point_mm=list(r.point_mm), force_n=list(r.force_n), moment_nm=list(r.moment_nm),
                       own_n=None if r.own_n is None else list(r.own_n))


def by_item(r: rs.Results) -> list[rs.StrengthCheck]:
    """The worst check of each item, worst first."""
    worst: dict[str, rs.StrengthCheck] = {}
    for c in r.strength.checks:
        if c.item not in worst or _size(c) > _size(worst[c.item]):
            worst[c.item] = c
    return sorted(worst.values(), key=lambda c: -_size(c))


def _size(c: rs.StrengthCheck) -> float:
    return math.inf if c.use is None else c.use


def gauges(job, progress=lambda *_: None) -> list[dict]:
    """Use of the rocker with each plate a builder can get: see `sizing.gauges`."""
    progress("plate gauges")
    return sizing.gauges(job, [t for t in PLATES_MM if 2.0 <= t <= 8.0] + [t for t in (job.rocker.plate_thickness,) if t not in PLATES_MM])


def write(r: rs.Results, folder: Path, job=None, progress=lambda *_: None) -> list[Path]:
    """use-of-each-item.csv: every check, worst first. frame-reactions.csv: vector and point, a bracket and a case a row.
    plate-gauges.csv: the rocker in each plate (where `job` is given)."""
    folder.mkdir(parents=True, exist_ok=True)
    table, frame = folder / "use-of-each-item.csv", folder / "frame-reactions.csv"
    checks = [[f"{_size(c):.3f}", c.item, c.check, c.case, "" if c.at_wheel_mm is None else f"{c.at_wheel_mm:+.1f}", f"{c.demand:.5g}", f"{c.resistance:.5g}", c.unit, c.source, c.note, c.cure]
              for c in sorted(r.strength.checks, key=_size, reverse=True)]
    _csv(table, HEAD, [*checks, *(["not checked", text] for text in r.strength.missing)])
    _csv(frame, FRAME_HEAD, [[p.name, p.on, p.case, f"{p.at_wheel_mm:+.1f}", f"{p.at_rack_mm:+.1f}", *(f"{v:.1f}" for v in (*p.point_mm, *p.force_n, *p.moment_nm))] for p in r.strength.frame])
    if job is None:
        return [table, frame]
    plates = folder / "plate-gauges.csv"
    _csv(plates, ["plate, mm", "use", "item", "check", "rocker, kg"],
         [[f"{g['thickness_mm']:g}", "" if g["use"] is None else f"{g['use']:.3f}", g["item"], g["check"], "" if g["rocker_kg"] is None else f"{g['rocker_kg']:.3f}"] for g in gauges(job, progress)])
    return [table, frame, plates]


def _csv(path: Path, head: list[str], rows: list[list[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as f:
        csv.writer(f).writerows([head, *rows])
