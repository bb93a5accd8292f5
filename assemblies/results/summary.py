"""What the builder reads on the terminal: a short account of the corner, then the findings worst first."""

from __future__ import annotations

from assemblies.results.findings import guaranteed, worst_first
from assemblies.results.model import Results
from assemblies.results.terminal import paragraph, styled
from assemblies.results.words import unchecked, verdict

CAUTION = (
    "Suspension is safety-critical. These are first-cut numbers to assist a builder: they approve nothing. "
    "Local vehicle rules come first; have an engineer and a qualified welder check before anyone drives."
)


def _at(curve: list, index: int) -> str:
    value = curve[index]
    if value is None:
        return "-"
    digits = 3 if abs(value) < 1 else 2 if abs(value) < 10 else 1
    return f"{round(value, digits) + 0.0:.{digits}f}"


def account(r: Results) -> list[str]:
    """The numbers, one idea a line."""
    lines = [styled(f"{r.name}, {r.side} corner", "bold"), paragraph(verdict(r), "  ")]
    if r.not_checked:
        lines.append(styled(paragraph(unchecked(r), "  "), "warn"))
    t, s, e = r.travel, r.spring, r.ends
    if t is None or s is None or e is None:
        return lines
    ride = min(range(len(t.wheel_mm)), key=lambda i: abs(t.wheel_mm[i]))
    lines.append(f"  {'':24}{'droop':>10}{'ride':>10}{'bump':>10}")
    rows = [
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
    spring = (
        f"rate {s.rate_nm_per_deg:.3g} N·m/deg, {s.ride_torque_nm:.1f} N·m and {s.ride_twist_deg:.1f} deg at "
        f"ride, "
        f"{s.stress_max_mpa:.0f} MPa at bump"
        if s.rate_nm_per_deg is not None
        else f"rate {s.rate_n_per_mm:g} N/mm, {s.ride_force_n:.0f} N at ride"
    )
    lines.append(
        f"  {s.kind}: {spring}; ride frequency {s.ride_frequency_hz:.2f} Hz, rise {s.rise_percent:+.0f} %"
    )
    if r.clearance.checked and r.clearance.pairs:
        p = min(r.clearance.pairs, key=lambda q: q.gap_mm - q.required_mm)
        lines.append(
            f"  tightest pair: {p.a} to {p.b}, {guaranteed(p.gap_mm)} mm of {p.required_mm:g} mm asked, at "
            f"wheel {p.at_wheel_mm:+.1f} mm; "
            f"{sum(q.ok for q in r.clearance.pairs)} of {len(r.clearance.pairs)} pairs clear"
        )
    if r.access:
        tools, out = (
            sum(getattr(b, key) is None for b in r.access) for key in ("tools_at_wheel_mm", "out_at_wheel_mm")
        )
        lines.append(
            f"  bolts: {len(r.access)}, "
            + (
                f"{tools} without room for a tool on both ends, {out} that cannot be drawn out"
                if tools or out
                else "each with room for a tool on both ends and for its way out"
            )
        )
    if r.strength.checks:
        c = r.strength.checks[0]
        over = sum(not x.ok for x in r.strength.checks)
        lines.append(
            f"  strength: most used is {c.item}, {c.check.lower()}, "
            f"{'no resistance' if c.use is None else f'use {c.use:.2f}'} in {c.case}; {over or 'none'} "
            f"of {len(r.strength.checks)} checks over 1"
        )
    if r.parts:
        lines.append(
            f"  {len(r.parts)} parts and envelopes, {sum((p.mass_kg or 0.0) * p.count for p in r.parts):.2f} "
            f"kg of steel with the given members; {len(r.blanks)} blanks to cut"
        )
    if r.nest is not None:
        on = (
            ", ".join(f"{p.blanks} on {p.plate} ({p.use_percent:.0f} % of it)" for p in r.nest.plates)
            or "none"
        )
        lines.append(
            f"  blanks on the plate in hand: {on}; {sum(m.count for m in r.nest.missing) or 'none'} without "
            f"a place"
        )
    if r.bars_to_buy:
        buy = ", ".join(
            f"{b.count} x {b.section} ({b.needed_mm / 1000:.2f} m)" for b in r.bars_to_buy if b.count
        )
        lines.append(
            paragraph(
                f"tube and rod to buy, bars of {r.bars_to_buy[0].length_mm:g} mm (used of them): "
                f"{buy or 'none'}",
                "  ",
            )
        )
    return lines


def found(r: Results) -> list[str]:
    lines = []
    for f in worst_first(r.findings):
        lines.append(f"{styled(f.level.upper().rjust(4), f.level)}  {styled(f.where, 'bold')}")
        lines.append(paragraph(f.text, "      "))
    return lines


def assumed(r: Results) -> list[str]:
    """Every default taken; the same one taken in several tables stands on one line."""
    alike: dict[tuple, list[str]] = {}
    for a in r.assumed:
        table, _, key = a.key.rpartition(".")
        alike.setdefault(
            (key, f"{a.value:g}" if isinstance(a.value, float) else str(a.value), a.unit, a.why), []
        ).append(table)
    lines = []
    for (key, value, unit, why), tables in alike.items():
        said = "not given" if value in ("None", "()") else f"{value} {unit}".strip()
        where = (
            f"{tables[0]}.{key}".removeprefix(".")
            if len(tables) == 1
            else f"{key} of {', '.join(t.removeprefix('member.') for t in tables)}"
        )
        lines.append(styled(paragraph(f"{where}: {said} ({why})", "  "), "dim"))
    return [styled("Assumed, because the job file does not say:", "bold"), *lines] if lines else []


def text(r: Results) -> str:
    return "\n".join([*account(r), "", *found(r), "", *assumed(r), "", paragraph(CAUTION, ""), ""])
