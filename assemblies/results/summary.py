"""A corner in words: the few lines of a terminal (`brief`), and all of it for a file (`text`)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from assemblies.results.findings import Finding, guaranteed, lacking, use_of, worst_first
from assemblies.results.model import Results
from assemblies.results.terminal import paragraph, spoken, styled
from assemblies.results.travel import AssumedRow
from assemblies.results.words import tally, unchecked, verdict

CAUTION = (
    "Suspension is safety-critical. These are first-cut numbers to assist a builder: they approve nothing. "
    "Local vehicle rules come first; have an engineer and a qualified welder check before anyone drives."
)
MOST_LINES = {"stop": 4, "warn": 2}  # of one finding in the brief account
ROOM = 22  # lines of stops and warnings in the brief account
NAMED = 3  # lines of names of what was not checked, and of findings left out, in the brief account
WHOLE = 60  # lines of all of it


def _at(curve: Sequence[float | None], index: int) -> str:
    value = curve[index]
    if value is None:
        return "-"
    digits = 3 if abs(value) < 1 else 2 if abs(value) < 10 else 1
    return f"{round(value, digits) + 0.0:.{digits}f}"


def _given(value: float | None, form: str, unit: str) -> str:
    """A number with its unit; a dash where the corner does not get that far."""
    return "-" if value is None or not math.isfinite(value) else f"{value:{form}} {unit}"


def _line(text: str) -> str:
    return paragraph(text, "  ", "  ")


def account(r: Results) -> list[str]:
    """The numbers, one idea a line."""
    what = "frame" if r.what == "frame" else f"{r.side} corner"
    lines = [styled(_line(f"{r.name}, {what}: {tally(r)}")[2:], "bold")]
    if r.what == "frame":
        return [*lines, *map(_line, (*_framed(r), *_made(r)))]
    t, s, e = r.travel, r.spring, r.ends
    if t is None or s is None or e is None:
        return lines
    heights = [abs(z) for z in t.wheel_mm]
    ride = heights.index(min(heights))
    lines.append(f"  {'':24}{'droop':>10}{'ride':>10}{'bump':>10}")
    rows: list[tuple[str, Sequence[float | None]]] = [
        ("wheel height, mm", t.wheel_mm),
        ("rocker, deg", t.rocker_deg),
        ("damper eye to eye, mm", t.damper_mm),
        ("damper per wheel", t.damper_per_wheel),
        ("wheel rate, N/mm", t.wheel_rate_n_per_mm),
        ("wheel force, N", t.wheel_force_n),
        ("rod force, N", t.rod_force_n),
        ("rod to arm, deg", t.rod_to_arm_deg),
        ("camber, deg", t.camber_deg),
        ("toe-in, deg", t.toe_deg),
    ]
    lines += [f"  {name:24}{_at(c, 0):>10}{_at(c, ride):>10}{_at(c, -1):>10}" for name, c in rows]
    rotary = s.rate_nm_per_deg is not None
    spring = (
        f"rate {s.rate_nm_per_deg:.3g} N·m/deg, {s.ride_torque_nm:.1f} N·m and {s.ride_twist_deg:.1f} deg at "
        f"ride, {_given(s.stress_max_mpa, '.0f', 'MPa')} at bump"
        if rotary
        else f"rate {s.rate_n_per_mm:g} N/mm, {s.ride_force_n:.0f} N at ride"
    )
    lines.append(
        _line(
            f"{s.kind}: {spring}; ride frequency {_given(s.ride_frequency_hz, '.2f', 'Hz')}, "
            f"rise {_given(s.rise_percent, '+z.0f', '%')}"
        )
    )
    return [*lines, *map(_line, (*_steered(r), *_linked(r), *_checked(r), *_made(r)))]


def _framed(r: Results) -> Iterable[str]:
    """Nodes, cut ends, tubes, mass."""
    j = r.junctions
    if j is None:
        yield "no tube meets another"
        return
    cut = sum(bool(e.runs) for e in j.ends)
    both = {"both": "both sides as listed", "one": "one side, the other its mirror image"}[r.side]
    kg = sum(t.mass_kg for t in j.tubes)
    said = f"{len(j.nodes)} nodes, {cut} cut ends of {len(j.tubes)} tubes, {kg:.2f} kg of them as listed"
    yield f"{said}; {both}"


def _steered(r: Results) -> Iterable[str]:
    """Lock, bump steer straight ahead (never rounded down), roll centre."""
    s, g = r.steering, r.geometry
    if s is None or g is None:
        return
    said = []
    if s.inner_lock_deg is not None and s.outer_lock_deg is not None:
        said.append(f"inner wheel {s.inner_lock_deg:.1f} deg, outer {s.outer_lock_deg:.1f} deg at lock")
    straight = next((b.worst_deg for b in s.bump if b.rack_mm == 0 and b.worst_deg is not None), None)
    if straight is not None:
        said.append(f"toe within {lacking(abs(straight), 3)} deg over the travel")
    roll = next((x.value for x in g.rows if x.key == "roll_centre_mm" and x.value is not None), None)
    if roll is not None:
        said.append(f"roll centre {roll:.0f} mm over the ground")
    if said:
        yield f"steering: {'; '.join(said)}"


def _linked(r: Results) -> Iterable[str]:
    """Shafts and links between two bodies: what their joints do, never rounded down."""
    for x in r.links:
        yield (
            f"{x.name}: slides {lacking(x.plunge_in_mm, 1)} mm in and {lacking(x.plunge_out_mm, 1)} out from "
            f"ride, joints bend {lacking(x.from_angle_deg, 1)} and {lacking(x.to_angle_deg, 1)} deg"
        )


def _checked(r: Results) -> Iterable[str]:
    """Tightest gap, bolts' room, most used part."""
    if r.clearance.checked and r.clearance.pairs:
        p = min(r.clearance.pairs, key=lambda q: q.gap_mm - q.required_mm)
        clear = sum(q.ok for q in r.clearance.pairs)
        yield (
            f"tightest pair: {p.a} to {p.b}, {guaranteed(p.gap_mm)} mm of {p.required_mm:g} mm asked, at "
            f"wheel {p.at_wheel_mm:+z.1f} mm; {clear} of {len(r.clearance.pairs)} pairs clear"
        )
    if r.stops is not None:
        b, d = r.stops.bump, r.stops.droop
        low = r.stops.ground[0] if r.stops.ground else None
        ground = f"; {low.body} then {guaranteed(low.least_mm)} mm over the ground" if low else ""
        yield f"stopped by: {b.by} at wheel {b.wheel_mm:+z.1f} mm, {d.by} at {d.wheel_mm:+z.1f} mm{ground}"
    if r.access:
        tools = sum(b.tools_at_wheel_mm is None for b in r.access)
        out = sum(b.out_at_wheel_mm is None for b in r.access)
        room = (
            f"{tools} without room for a tool on both ends, {out} that cannot be drawn out"
            if tools or out
            else "each with room for a tool on both ends and for its way out"
        )
        yield f"bolts: {len(r.access)}, {room}"
    if r.strength.checks:
        c = r.strength.checks[0]
        over = sum(not x.ok for x in r.strength.checks)
        yield (
            f"strength: most used is {c.item}, {c.check.lower()}, {use_of(c.use)} in {c.case}; "
            f"{over or 'none'} of {len(r.strength.checks)} checks over 1"
        )


def _made(r: Results) -> Iterable[str]:
    """What a build adds: parts, mass, blanks, nest, bars."""
    if r.parts:
        mass = sum((p.mass_kg or 0.0) * p.count for p in r.parts)
        yield (
            f"{len(r.parts)} parts and envelopes, {mass:.2f} kg of steel with the given members; "
            f"{len(r.blanks)} blanks to cut"
        )
    if r.nest is not None:
        plates = (f"{p.blanks} on {p.plate} ({p.use_percent:.0f} % of it)" for p in r.nest.plates)
        missing = sum(m.count for m in r.nest.missing)
        on = ", ".join(plates) or "none"
        of = ", ".join(f"{t:g}" for t in sorted({m.thickness_mm for m in r.nest.missing}))
        yield f"blanks on the plate in hand: {on}; " + (
            f"{missing} without a place, of {of} mm" if missing else "none without a place"
        )
    if r.bars_to_buy:
        buy = [f"{b.count} x {b.section} ({b.needed_mm / 1000:.2f} m)" for b in r.bars_to_buy if b.count]
        long = r.bars_to_buy[0].length_mm
        if r.bars_to_buy[0].by_the_metre:
            metres = [f"{b.section} {b.needed_mm / 1000:.2f} m" for b in r.bars_to_buy if b.count]
            yield f"tube and rod to buy by the metre, saw cuts in: {', '.join(metres) or 'none'}"
            return
        yield f"tube and rod to buy, bars of {long:g} mm (used of them): {', '.join(buy) or 'none'}"


def found(r: Results) -> list[str]:
    """Every finding in full, worst first."""
    lines = []
    for f in worst_first(r.findings):
        lines.append(styled(f"{f.level.upper():4}  {spoken(f.where)}", f.level))
        lines.append(paragraph(f.text, "      "))
    return lines


def found_in_brief(r: Results, notes_room: int = NAMED) -> list[str]:
    """Stops and warnings, worst first, as far as `ROOM` lines go, the rest by name; a line a note, as far as
    `notes_room` lines go."""
    lines: list[str] = []
    left: list[Finding] = []
    notes = [f for f in r.findings if f.level == "note"]
    for f in worst_first(r.findings):
        if f.level == "note":
            continue
        said = paragraph(f"{f.where}: {f.text}", "      ", most_lines=MOST_LINES[f.level]).splitlines()
        if left or len(lines) + len(said) > ROOM:
            left.append(f)
            continue
        lines.append(styled(f.level.upper().ljust(4), f.level) + said[0][4:])
        lines += said[1:]
    if left:
        names = "; ".join(dict.fromkeys(f.where for f in left))
        stops = sum(f.level == "stop" for f in left)
        more = f"and {len(left)} more{f', {stops} of them stops' if stops else ''}"
        lines.append(paragraph(f"{more}: {names}", "      ", most_lines=NAMED))
    shown = notes if len(notes) <= max(1, notes_room) else notes[: max(0, notes_room - 1)]
    for f in shown:
        line = paragraph(f"{f.where}: {f.text}", "      ", most_lines=1)
        lines.append(styled("NOTE", "note") + line[4:])
    if rest := len(notes) - len(shown):
        lines.append(f"      and {rest} {'more ' if shown else ''}note{'' if rest == 1 else 's'}: --full")
    return lines


def assumed(rows: Iterable[AssumedRow]) -> list[str]:
    """Defaults taken; the same one taken in several tables stands on one line."""
    alike: dict[tuple, list[str]] = {}
    for a in rows:
        table, _, key = a.key.rpartition(".")
        value = f"{a.value:g}" if isinstance(a.value, float) else str(a.value)
        alike.setdefault((key, value, a.unit, a.why), []).append(table)
    lines = []
    for (key, value, unit, why), tables in alike.items():
        said = "not given" if value in ("None", "()") else f"{value} {unit}".strip()
        where = (
            f"{tables[0]}.{key}".removeprefix(".")
            if len(tables) == 1
            else f"{key} of {', '.join(t.removeprefix('member.') for t in tables)}"
        )
        lines.append(styled(_line(f"{where}: {said} ({why})"), "dim"))
    return [styled("Assumed, because the job file does not say:", "bold"), *lines] if lines else []


def ending(r: Results, names: int | None = None) -> list[str]:
    """The verdict, what was not checked (at most `names` lines of it), the caution: the last lines."""
    lines = [styled(paragraph(verdict(r), ""), "bold")]
    if left := unchecked(r):
        lines.append(styled(paragraph(left, "", "  ", most_lines=names), "warn"))
    if r.not_made:
        lines.append(styled(paragraph(not_made(r), "", "  "), "warn"))
    return [*lines, paragraph(CAUTION, "")]


def not_made(r: Results) -> str:
    """What a build was not asked for, what of an older build went for it, and what the CAD kernel was not
    asked."""
    said = f"Not made in this build: {', '.join(r.not_made)}"
    if r.taken_out:
        said += f"; the older {', '.join(r.taken_out)} showed another state and are taken out"
    if r.clearance.checked and r.clearance.whole_at is None:
        said += "; the CAD kernel has not looked at the gaps again"
    return said + ". A build without --only makes all."


def brief(r: Results, hint: str = "") -> str:
    """What a terminal shows: numbers, findings worst first, and the verdict as the last lines."""
    before, after = [*account(r), ""], [*([hint] if hint else []), "", *ending(r, NAMED), ""]
    taken = sum(part.count("\n") + 1 for part in (*before, *found_in_brief(r, 0), *after))
    return "\n".join([*before, *found_in_brief(r, WHOLE - taken), *after])


def text(r: Results) -> str:
    """All of it, verdict first: numbers, every finding in full, every assumption."""
    return "\n".join(
        [
            *ending(r),
            "",
            *account(r),
            "",
            *found(r),
            "",
            *assumed(r.assumed),
            "",
            f"Made by rockershed {r.version}.",
            "",
        ]
    )
