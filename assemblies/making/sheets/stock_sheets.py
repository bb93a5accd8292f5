"""Drawings of what is sawn and no more: the tubes of the frame, of the arms, of the rod, of the pivot and the
sleeve, the leaves; and the torsion bar.

A long piece is broken in its middle, both ends to one scale. What a strip to wrap says stands there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets import hole_table, tube_ends
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.drawing import BOLD, DRILLED, FAINT, FINE, SCRIBED, Drawing
from assemblies.making.sheets.on_tube import faced
from assemblies.making.sheets.paper import NOMINAL, Printing
from assemblies.making.sheets.part_sheets import PartSheet, level, of_steel, room_mm, turned_sheet, upright
from assemblies.making.sheets.turned import Step, Turned
from parts.member import Section
from parts.spring_pack import TorsionBar
from parts.tube_end import TubeEnd
from parts.tube_wall import wall_points

SCALES = (2.0, 1.0, 0.5, 0.2)
HIGH_MM = 34.0  # of a view on the paper
SHOWN_MM = 26.0  # least of a broken piece beyond its short point, on the paper
BREAK_MM = 9.0  # between its two ends, on the paper
WAVE_MM = 2.0


def sheets(
    layout: Layout, listed: Sequence[CutListLine], drawn: set[str], printing: Printing = NOMINAL
) -> list[PartSheet]:
    """Of every line of the cut list that is sawn and is not in `drawn` already, in its order."""
    pieces = {p.name: p for p in tube_ends.pieces(layout)}
    out = []
    for n, r in enumerate(listed, 1):
        if r.item in drawn or not r.length_mm:
            continue
        if r.item == "torsion bar" and isinstance(bar := needed(layout.pack).part, TorsionBar):
            out.append(turned_sheet(_bar(bar, r), str(n), printing))
        elif r.section is not None:
            out.append(_sheet(r, str(n), pieces.get(r.item), layout, printing))
    return out


def _bar(bar: TorsionBar, r: CutListLine) -> Turned:
    head = Step(bar.socket_mm, bar.across_flats_mm, f"hexagon, {bar.across_flats_mm:g} across flats")
    body = Step(bar.length_mm, bar.diameter_mm, f"Ø{bar.diameter_mm:g}")
    bore = (Step(bar.length_mm + 2 * bar.socket_mm, bar.bore_mm, f"Ø{bar.bore_mm:g}"),) if bar.bore_mm else ()
    return Turned(r.item, r.item, r.count, r.material, (head, body, head), bore, notes=(f"{r.note}.",))


# ------------------------------------------------------------ a piece, two views


def _sheet(
    r: CutListLine, number: str, p: tube_ends.TubePiece | None, layout: Layout, printing: Printing
) -> PartSheet:
    s = p.tube.section if p is not None else _section(r)
    room = room_mm(printing)[0] + 20.0
    long = float(needed(r.length_mm))
    scale = _scale(s, long, p, room)
    d, width = Drawing(), 0.0
    for k, quarter in enumerate((1, 0)):  # local +y face, below it what is seen from above: the +x face
        view = Drawing()
        width = _view(view, s, long, p, quarter, scale, room)
        half = scale * _breadth(s, quarter) / 2
        upright(view, -half, half, -8.0, f"{_breadth(s, quarter):g}", 0.0)
        if p is not None:
            view.text(0.0, half + 3.0, f"square on the {_faced(p, quarter)} face, from end left", 2.7)
        if k == 1:
            _lengths(view, p, long, width, scale, -half - 7.0)
        top = view.bounds[3]
        d.add(*view.moved(0.0, (d.bounds[1] - 9.0 - top) if d.items else 0.0).items)
        if p is None and s.width_mm == s.height_mm:
            if k == 0:
                _lengths(d, p, long, width, scale, -half - 7.0)
            break
    return PartSheet(
        r.item,
        number,
        f"{tube_ends.size(s) if s.wall_mm else r.stock}, {of_steel(r.material)}",
        _count(r, p),
        d,
        scale,
        _table(r, layout),
        tuple(_notes(r, p)),
    )


def _faced(p: tube_ends.TubePiece, quarter: int) -> str:
    return faced(p.faces(quarter))


def _section(r: CutListLine) -> Section:
    s = needed(r.section)
    return Section(s.width_mm, s.height_mm, s.wall_mm or 0.0, is_round=s.shape == "round")


def _breadth(s: Section, quarter: int) -> float:
    """What is seen across, looking square on a quarter's face."""
    return s.width_mm if quarter % 2 else s.height_mm


def _depths(p: tube_ends.TubePiece | None) -> tuple[float, float]:
    """How far the short point lies in from the long one, at each end."""
    if p is None:
        return 0.0, 0.0
    left, right = (p.cut(e).short_mm - p.cut(e).long_mm for e in tube_ends.ENDS)
    return left, right


def _scale(s: Section, long: float, p, room: float) -> float:
    deep = max(_depths(p))
    for scale in SCALES:
        if scale * max(s.width_mm, s.height_mm) > HIGH_MM:
            continue
        if scale * long <= room or scale * deep + SHOWN_MM <= (room - BREAK_MM) / 2:
            return scale
    return SCALES[-1]


def _view(d: Drawing, s: Section, long: float, p, quarter: int, scale: float, room: float) -> float:
    """One view from the long point of the from end, its middle line on y 0; its width on the paper."""
    whole = scale * long <= room
    shown = scale * long if whole else room
    half = scale * _breadth(s, quarter) / 2
    cuts = [(p.cut(e) if p is not None else None) for e in tube_ends.ENDS]
    edges = []
    for k, cut in enumerate(cuts):
        sign, at = (1.0, 0.0) if k == 0 else (-1.0, shown)
        edges.append(_end(d, s, cut, quarter, scale, at, sign, half))
    (a_low, a_high), (b_low, b_high) = edges
    parts = [(a_low, b_low, -half), (a_high, b_high, half)]
    if whole:
        for a, b, y in parts:
            d.line((a, y), (b, y), BOLD)
    else:
        stops = (shown - BREAK_MM) / 2, (shown + BREAK_MM) / 2
        for a, b, y in parts:
            d.line((a, y), (stops[0], y), BOLD)
            d.line((stops[1], y), (b, y), BOLD)
        t = np.linspace(-1, 1, 25)
        for x in stops:
            wave = x + WAVE_MM * np.sin(np.pi * t)
            d.polyline([(float(u), float(v)) for u, v in zip(wave, half * t, strict=True)], FINE)
    if s.wall_mm:
        w = scale * s.wall_mm
        inner = (max(a_low, a_high), min(b_low, b_high))
        for y in (half - w, w - half):
            spans = (inner,) if whole else ((inner[0], stops[0]), (stops[1], inner[1]))
            for a, b in spans:
                d.line((a, y), (b, y), DRILLED)
    d.line((-3.0, 0.0), (shown + 3.0, 0.0), SCRIBED)
    return shown


def _end(
    d: Drawing, s: Section, cut: TubeEnd | None, quarter: int, scale: float, at: float, sign: float, half
) -> tuple[float, float]:
    """The rim of an end as it is seen, what lies behind dashed; where the lower and the upper edge begin."""
    if cut is None or not cut.runs:
        d.line((at, -half), (at, half), BOLD)
        return at, at
    around, outer = cut.around_mm, cut.outer_mm
    x, y, _ = wall_points(s, around)
    across = {0: -y, 1: x, 2: y, 3: -x}[quarter]
    front = {0: x, 1: y, 2: -x, 3: -y}[quarter] >= -1e-9
    level_ = at + sign * scale * (outer - cut.long_mm)
    for seen, pen in ((~front, FAINT), (front, BOLD)):
        for run in np.split(np.arange(len(around)), np.flatnonzero(np.diff(seen.astype(int))) + 1):
            if len(run) > 1 and seen[run[0]]:
                d.polyline([(float(level_[i]), float(scale * across[i])) for i in run], pen)
    out = []
    for low in (True, False):
        edge = across.min() if low else across.max()
        on = np.abs(across - edge) < 1e-6 * max(1.0, abs(edge)) + 1e-6
        ends = level_[on]
        out.append(float(ends.min() if sign > 0 else ends.max()))
    return out[0], out[1]


def _lengths(d: Drawing, p, long: float, width: float, scale: float, y: float) -> None:
    """Long point to long point, and each short point from its long one."""
    level(d, 0.0, width, y, f"{long:.1f}", y + 6.0)
    for k, deep in enumerate(_depths(p)):
        if deep > 0.05:
            a, b = (0.0, scale * deep) if k == 0 else (width - scale * deep, width)
            level(d, a, b, y - 7.0 - 6.0 * k, f"{deep:.1f}", y)


# ------------------------------------------------------------ words


def _count(r: CutListLine, p) -> str:
    if r.of_the_frame:
        if r.of_car == 1 or (p is not None and p.of_car == 1):
            return "make 1 for the car: it serves both sides"
        n = r.of_car or 2
        return (
            f"make {n} for the car: 1 as drawn, 1 its mirror image" if p else f"make {n} for the car, alike"
        )
    alike = "1 as drawn, 1 its mirror image" if p else f"{r.count} a side, the same for left and right"
    return f"make {2 * r.count} for the car: {alike}"


def _notes(r: CutListLine, p) -> list[str]:
    out = []
    if p is not None:
        flat = tube_ends.flat_words(p.tube)
        out.append(
            f"Saw to {r.length_mm:.1f}, long point to long point" + (f"; {flat}" if flat else "") + ". Index "
            f"line: the middle of the {_faced(p, 0)} face."
        )
        out += [tube_ends.end_in_words(p, e) for e in tube_ends.ENDS]
        out += [f"To end: {n}" for n in p.notes]
        if any(tube_ends.needs_strip(p.cut(e)) for e in tube_ends.ENDS):
            out.append("Curves: the strips to wrap in tube-ends.pdf, which rule.")
    else:
        out.append("Ends square within 0.5 deg." if r.group != "spring" else "Ends square.")
        if r.note:
            out.append(f"{r.note[0].upper()}{r.note[1:]}.")
    if r.group != "spring":
        out.append("Deburr inside and outside; bright metal 20 mm from every end that is welded.")
    return out


def _table(r: CutListLine, layout: Layout) -> tuple[tuple[str, ...], ...]:
    """Cross holes of a tube that is part of the sleeve."""
    s = layout.sleeve
    stub = layout.pivot is not None and layout.pivot.kind == "stub"
    which = {"pivot tube": "outer" if stub else "inner", "sleeve outer tube": "outer"}.get(r.item)
    if s is None or which is None:
        return ()
    from_spring = r.item == "pivot tube" and not stub
    where = "its end at the spring" if from_spring else "its free end" if stub else "its end at the rocker"
    rows = [row for row in hole_table.sleeve_rows(s) if row[1] == which]
    head = ("hole across", f"from {where}", "angle, deg", "arc, mm", "finished", "how")
    return (head, *((q[2], q[5] if from_spring else q[4], q[6], q[7], f"Ø{q[8]}", q[9]) for q in rows))
