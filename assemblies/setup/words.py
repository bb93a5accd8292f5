"""Set-up numbers as lines of plain text for the terminal; each function gives a list of lines."""

from __future__ import annotations

import textwrap

from assemblies.results.setting import Clocking, ClockingSetting, CollarRow, SetUp, WrongTooth
from assemblies.results.terminal import paragraph, styled, width

LONG, LEAST = 20, 16  # a cell of more letters is words, told below its row; the first column is not narrower


def table(head: list[str], rows: list[list[str]], indent: str = "  ") -> list[str]:
    """Columns set right, the first one left, within the terminal's width: where they do not fit, words are
    told below their row, heads and the first column go over several lines."""
    room = width() - len(indent)
    every = range(len(head))
    widths = [max(len(r[i]) for r in [head, *rows]) for i in every]
    if sum(widths) + 2 * len(widths) - 2 <= room:
        return _columns(head, rows, widths, indent)
    words = [i for i in every[1:] if max((len(r[i]) for r in rows), default=0) > LONG]
    kept = [i for i in every if i not in words]
    data = [max([0, *(len(r[i]) for r in rows)]) for i in kept]
    heads = [
        textwrap.wrap(head[i], max([w, 1, *map(len, head[i].split())]))
        for i, w in zip(kept, data, strict=True)
    ]
    widths = [max([w, *map(len, h)]) for h, w in zip(heads, data, strict=True)]
    widths[0] = min(widths[0], max(LEAST, room - sum(widths[1:]) - 2 * len(widths) + 2))
    deep = max(map(len, heads))
    stacked = [[*[""] * (deep - len(h)), *h] for h in heads]
    tops = [[h[k] for h in stacked] for k in range(deep)]
    out = [styled(x, "dim") for top in tops for x in _columns(top, [], widths, indent)]
    for r in rows:
        first = textwrap.wrap(r[kept[0]], widths[0]) or [""]
        out += _columns([first[0], *(r[i] for i in kept[1:])], [], widths, indent)
        out += [f"{indent}{more}" for more in first[1:]]
        told = [f"{head[i]}{': ' * bool(head[i])}{r[i]}" for i in words if r[i]]
        out += [y for x in told for y in paragraph(x, f"{indent}    ", "  ").splitlines()]
    return out


def _columns(head: list[str], rows: list[list[str]], widths: list[int], indent: str) -> list[str]:
    def line(cells: list[str]) -> str:
        told = (c.rjust(w) if i else c.ljust(w) for i, (c, w) in enumerate(zip(cells, widths, strict=True)))
        return indent + "  ".join(told)

    return [styled(line(head), "dim") if rows else line(head), *map(line, rows)]


def steps(c: Clocking) -> list[str]:
    if not c.steps and c.ride_height_per_deg_mm is None:
        return []
    if not c.steps:
        free = f" One degree of the sleeve is {c.ride_height_per_deg_mm:.2f} mm of ride height."
        return [paragraph(f"No clocking steps on this corner.{free}", "  ")]
    rows = [
        [name, f"{deg:.3f}", rise(c.ride_height_per_step_mm.get(name), 2), c.held_per_step.get(name, "")]
        for name, deg in c.steps.items()
    ]
    return table(["one step of", "deg", "ride height, mm", ""], rows)


def rise(mm: float | None, digits: int = 1) -> str:
    return "cannot stand" if mm is None else f"{mm:+.{digits}f}"


def settings(listed: list[ClockingSetting]) -> list[str]:
    said = any(s.beyond for s in listed)
    rows = [
        [
            f"{s.angle_deg:+z.2f}",
            f"{s.sleeve_teeth:+d}",
            f"{s.anchor_teeth:+d}",
            f"{s.ride_height_mm:+z.1f}",
            _n(s.torque_nm, 1),
            _n(s.twist_deg, 1),
            _n(s.droop_twist_deg, 1),
            _n(s.bump_stress_mpa, 0),
            *([s.beyond] if said else []),
            s.bolt.get("sleeve", ""),
            s.bolt.get("anchor", ""),
        ]
        for s in listed
    ]
    return (
        table(
            [
                "wind, deg",
                "sleeve",
                "anchor",
                "rises, mm",
                "N·m",
                "twist",
                "at droop",
                "MPa bump",
                *(["beware"] if said else []),
                "bolt the sleeve at",
                "and the anchor at",
            ],
            rows,
        )
        if rows
        else []
    )


def collar(rows: list[CollarRow]) -> list[str]:
    """Settings of a coil-over's collar."""
    beware = ["; ".join(t for t in (r.held, r.beyond) if t) for r in rows]
    said = ["beware"] if any(beware) else []
    head = ["wind, mm", "seat to perch, mm", "car rises, mm", "N at ride", "mm left at droop", *said]
    text = [
        [
            f"{r.wind_mm:+z.1f}",
            f"{r.seat_to_perch_mm:.1f}",
            rise(r.ride_height_mm),
            _n(r.force_n, 0),
            _n(r.droop_compression_mm, 1),
            *([b] if said else []),
        ]
        for r, b in zip(rows, beware, strict=True)
    ]
    return table(head, text) if text else []


def moves(rows, joints, present: dict[str, int], drill, beware: list[str]) -> list[str]:
    """Moves from the present setting, in `beware` what each takes the car or its spring to, and the pairs of
    holes they lead to."""
    names = [j.name for j in joints if j.stepped]
    out: list[list[str]] = []
    for r in rows:
        new = {n: present.get(n, 0) + k for n, k in zip(names, r.teeth, strict=True)}
        out.append(
            [
                f"{r.wind_deg:+z.2f}",
                *(f"{k:+d}" for k in r.teeth),
                f"{r.left_mm:+z.1f}",
                *([beware[len(out)]] if any(beware) else []),
                *(drill.pair(n, new[n]) if drill else "" for n in names),
            ]
        )
    head = ["wind, deg", *names, "then too high by, mm", *(["beware"] if any(beware) else [])]
    return table([*head, *(f"bolt the {n} at" for n in names)], out)


def wrong(rows: list[WrongTooth]) -> list[str]:
    text = [
        [
            "  ".join(f"{k} {v:+d}" for k, v in r.teeth.items() if v),
            f"{r.angle_deg:+z.2f}",
            rise(r.ride_height_mm),
            r.held,
        ]
        for r in rows
    ]
    return table(["teeth out", "wind, deg", "car rises, mm", ""], text) if text else []


def winding(u: SetUp) -> list[str]:
    rotary = any(w.torque_nm is not None for w in u.winding)
    if rotary:
        head = [
            "pose",
            "wheel, mm",
            "twist, deg",
            "N·m",
            "J",
            f"N at {u.lever_mm:g} mm lever",
            "its hand moves, mm",
        ]
        rows = [
            [
                w.pose,
                f"{w.wheel_mm:+z.1f}",
                _n(w.twist_deg, 1),
                _n(w.torque_nm, 1),
                _n(w.energy_j, 1),
                _n(w.lever_force_n, 0),
                _n(w.lever_travel_mm, 0),
            ]
            for w in u.winding
        ]
    else:
        head = ["pose", "wheel, mm", "compression, mm", "N", "J"]
        rows = [
            [w.pose, f"{w.wheel_mm:+z.1f}", _n(w.compression_mm, 1), _n(w.force_n, 0), _n(w.energy_j, 1)]
            for w in u.winding
        ]
    out = table(head, rows)
    if u.socket_slack_deg:
        out.append(
            paragraph(
                f"The sockets' play adds up to {u.socket_slack_deg:.1f} deg of lever before the spring "
                "bears.",
                "  ",
            )
        )
    return [*out, paragraph(u.stop, "  "), *(paragraph(c, "  ") for c in u.cautions)]


def slide(u: SetUp) -> list[str]:
    if not u.slide:
        return []
    rows = [
        [
            f"{r.slide_mm:+z.0f}",
            f"{r.free_length_mm:.0f}",
            f"{r.rate_change_percent:+z.1f}",
            f"{r.wheel_rate_n_per_mm:.2f}",
            _n(r.ride_frequency_hz, 2),
            f"{r.ride_height_mm:+z.1f}",
            f"{r.wind_back_deg:+z.2f}",
            f"{r.overlap_mm:.0f}",
            f"{r.protrusion_mm:.0f}",
            "; ".join(t for t in ("" if r.ok else "does not fit", r.held) if t),
        ]
        for r in u.slide
    ]
    return table(
        [
            "slide, mm",
            "free",
            "rate, %",
            "N/mm wheel",
            "Hz",
            "rises, mm",
            "wind back, deg",
            "overlap",
            "sticks out",
            "",
        ],
        rows,
    )


def adjusters(u: SetUp) -> list[str]:
    return table(
        ["one step of", "up, mm", "down, mm", ""],
        [[a.name, f"{a.up_mm:+z.2f}", f"{a.down_mm:+z.2f}", held(a)] for a in u.adjusters],
    )


def held(a) -> str:
    """What holds the car after a step of an adjuster, beside its spring."""
    return "; ".join(f"{way} it {t}" for way, t in (("up", a.up_held), ("down", a.down_held)) if t)


def _n(x: float | None, digits: int) -> str:
    return "-" if x is None else f"{x:.{digits}f}"
