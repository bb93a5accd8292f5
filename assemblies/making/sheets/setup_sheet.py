"""The set-up sheet of a corner, one or two pages: settings, preload, the check table with room for what was
measured, order of work, torque and lock list, cautions."""

from __future__ import annotations

import math
from pathlib import Path
from xml.sax.saxutils import escape

from assemblies.layout.fasteners import fastener, joints
from assemblies.making.sheets import strip_pages
from assemblies.making.sheets.paper import NOMINAL, PAPERS, Printing
from assemblies.results.findings import lacking
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.results.table_file import write_table
from assemblies.setup.clocking.drilling import drilling
from assemblies.setup.collar import short_of_free
from assemblies.setup.words import held, rise
from assemblies.strength.clamped import CROSS_BOLT, tightenings
from parts.base.stock import thread
from parts.calc.bolts import preload_n, tightening_torque_nm

HEAD = [
    "wheel height, mm",
    "rocker angle, deg",
    "damper eye to eye, mm",
    "toe-in change, deg",
    "measured rocker",
    "measured damper",
    "measured toe",
]
FIELDS = ("wheel_mm", "rocker_deg", "damper_mm", "toe_deg")
DECIMALS = (0, 1, 1, 2)
STRENGTH = (
    "The strength is worked for the design setting: rockershed clock works it again for each setting it "
    "lists, correct for each move."
)
BANDS = (
    "±0.5",
    "±1",
    "±0.10",
)  # rocker deg, damper mm, toe deg: what a careful builder reads, common practice


def rows(r: Results, step_mm: float = 10.0) -> list[list[str]]:
    """One row each `step_mm` of wheel height, both ends of travel included, read off the curves of
    `r.travel`."""
    t = r.travel
    low, high = t.wheel_mm[0], t.wheel_mm[-1]
    heights = sorted(
        {low, high, *(step_mm * k for k in range(math.ceil(low / step_mm), math.floor(high / step_mm) + 1))}
    )

    def shown(f, d, z):
        value = round(_read(t, f, z), d) + 0.0  # no minus zero
        return f"{value:.{d}f}" if f == "damper_mm" or value == 0 else f"{value:+.{d}f}"

    return [[*(shown(f, d, z) for f, d in zip(FIELDS, DECIMALS, strict=True)), "", "", ""] for z in heights]


def _read(t, name: str, z: float) -> float:
    x, y = t.wheel_mm, getattr(t, name)
    i = max(k for k in range(len(x) - 1) if x[k] <= z + 1e-9)
    share = (z - x[i]) / (x[i + 1] - x[i])
    a, b = (math.nan if v is None else v for v in (y[i], y[i + 1]))
    return b if share > 1 - 1e-9 else a if share < 1e-9 else a + share * (b - a)


def notes(r: Results) -> list[str]:
    """What to set and what to expect, a sentence each."""
    s, e, c = r.spring, r.ends, r.clocking
    out = [
        f"All figures hold for the {r.side} side with the car at ride height, driver aboard. Wheel height is "
        f"measured from there, bump positive. "
        "Rocker angle is right-handed about the axis as the job file gives it."
    ]
    if s.ride_torque_nm is not None:
        out.append(
            f"At ride the spring carries {s.ride_torque_nm:.1f} N·m at {s.ride_twist_deg:.1f} deg of twist; "
            f"it is slack with the rocker at "
            f"{s.slack_rocker_deg:+.1f} deg."
        )
        out.append(
            f"At full droop {s.droop_twist_deg:.1f} deg of twist are left: wind them in before the pin goes "
            f"in, against a droop stop that holds. "
            "A wound spring can break bones: load and unload it only through the adjuster with the travel "
            "blocked."
        )
    else:
        out.append(
            f"At ride the coil carries {s.ride_force_n:.0f} N, {short_of_free(s.ride_compression_mm)}; "
            f"at full droop it is {short_of_free(s.droop_compression_mm)}."
        )
    for name, step in c.steps.items():
        out.append(f"One step of the {name}: {step:.3f} deg, {_risen(c, name)}.")
    for text, z in (
        ("The damper tops out", e.damper_tops_out_at_wheel_mm),
        ("The damper bottoms", e.damper_bottoms_at_wheel_mm),
        ("The spring goes slack", e.spring_slack_at_wheel_mm),
    ):
        if z is not None:
            out.append(f"{text} at wheel height {z:+.1f} mm.")
    out.append(
        "If a reading is off by more than 0.5 deg or 1 mm (common practice), stop and find out why before "
        "going on."
    )
    return out


def _risen(c, name: str) -> str:
    mm, by = c.ride_height_per_step_mm.get(name), c.held_per_step.get(name)
    if mm is None:
        return "on which the car cannot stand"
    return f"{abs(mm):.1f} mm of ride height" + (f": the car then {by}" if by else "")


def _stands(w) -> str:
    """Where the car stands with a wrong tooth."""
    if w.ride_height_mm is None:
        return "the car cannot stand"
    return f"car {w.ride_height_mm:+.0f} mm" + (f", {w.held}" if w.held else "")


def write(r: Results, folder: Path, done=None, printing: Printing = NOMINAL) -> list[Path]:
    """check-table.csv and set-up.pdf in `folder`; with the study also its torque list and the wrap strips of
    both hands."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "check-table.csv"
    write_table(table, HEAD, rows(r))
    out = [table, _pdf(r, folder / "set-up.pdf", done, printing.paper)]
    if (
        done is not None
        and done.layout is not None
        and done.springing is not None
        and getattr(done.job.spring, "teeth", None) is not None
    ):
        drill = drilling(done.job, done.layout, done.springing.preload.sense)
        out += strip_pages.write(drill, r.name, folder, printing) if drill is not None else []
    return out


def torque_list(layout) -> list[list[str]]:
    """Where, bolt, tightening torque and what sets it, how it is locked; then what is not laid out. Guidance:
    T = K·F·d, K = 0.2, F the less of the class's preload and what the clamped parts bear."""
    open_ = joints(layout)[1]
    out = []
    for tight in tightenings(layout):
        j = tight.joint
        try:
            length = f"x {fastener(j).length_mm:g}"
        except ValueError:
            length = "length?"
        pivoting = any(w in j.name for w in ("rod", "damper", "bracket"))
        lock = "all-metal lock nut, plain shank in both plates" if pivoting else "lock nut, reamed hole"
        if tight.limited:
            lock += f"; no more: {tight.weakest.what} bears {tight.weakest.bears_n / 1e3:.1f} kN"
            lock += ", snug" if j.name == CROSS_BOLT else ""
        out.append([j.name, f"{j.count} {j.size} {length}", f"{tight.torque_nm}", lock])
    rod = layout.job.rod.thread
    t = thread(rod)
    out.append(
        [
            "rod's two jam nuts",
            f"2 {rod}",
            f"{tightening_torque_nm(preload_n(t.stress_area_mm2, '8.8'), t.diameter_mm) / 2:.0f}",
            "paint stripe; thread seen in the witness hole; both balls free",
        ]
    )
    return [*out, *([text, "", "", "yours: write bolt and torque"] for text in open_)]


def _pdf(r: Results, path: Path, done=None, paper: str = "A4") -> Path:
    from reportlab.lib import colors
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.lib.units import mm
    from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

    small = ParagraphStyle("small", fontName="Helvetica", fontSize=7.2, leading=8.8)
    bold = ParagraphStyle("bold", parent=small, fontName="Helvetica-Bold")
    head = ParagraphStyle(
        "head",
        parent=small,
        fontName="Helvetica-Bold",
        fontSize=9.5,
        keepWithNext=1,
        leading=12,
        spaceBefore=5,
        spaceAfter=1.5,
    )
    title = ParagraphStyle("title", parent=head, fontSize=14, leading=17)
    ruled = [
        ("GRID", (0, 0), (-1, -1), 0.3, colors.grey),
        ("BACKGROUND", (0, 0), (-1, 0), colors.whitesmoke),
        ("FONT", (0, 0), (-1, -1), "Helvetica", 7.2),
        ("LEADING", (0, 0), (-1, -1), 8.8),
        ("TOPPADDING", (0, 0), (-1, -1), 1.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ]

    def say(text, style=small):
        return Paragraph(escape(text), style)

    def grid(names, lines, widths, right=()):
        t = Table(
            [
                [say(n, bold) for n in names],
                *([say(c) if len(c) > 26 else c for c in line] for line in lines),
            ],
            repeatRows=1,
            colWidths=[w * mm for w in widths],
        )
        t.setStyle(TableStyle([*ruled, *(("ALIGN", (i, 1), (i, -1), "RIGHT") for i in right)]))
        return t

    u, c = r.setup, r.clocking
    body = [say(f"{r.name}, {r.side.upper()} side: set-up", title)]
    body += [say(text) for text in notes(r)[: 1 if u else None]]
    if u is not None:
        body += [say("Settings", head), grid(*_settings(r))]
        if c.settings:
            names = [
                "wind, deg",
                "sleeve",
                "anchor",
                "car rises, mm",
                "N·m at ride",
                "deg left at droop",
                "bolt the sleeve at",
                "bolt the anchor at",
            ]
            near = sorted(sorted(c.settings, key=lambda s: abs(s.angle_deg))[:5], key=lambda s: s.angle_deg)
            lines = [
                [
                    f"{s.angle_deg:+.2f}",
                    f"{s.sleeve_teeth:+d}",
                    f"{s.anchor_teeth:+d}",
                    f"{s.ride_height_mm:+.1f}",
                    _n(s.torque_nm, 1),
                    _n(s.droop_twist_deg, 1),
                    s.bolt.get("sleeve", ""),
                    s.bolt.get("anchor", ""),
                ]
                for s in near
            ]
            body += [
                say(
                    "Clocking, teeth from the design setting, counted in the loading sense at both ends", head
                ),
                grid(names, lines, (16, 13, 13, 19, 18, 20, 42, 45), range(6)),
                *(say(f"Beware at {s.angle_deg:+.2f} deg: {s.beyond}.") for s in near if s.beyond),
            ]
            body.append(say(STRENGTH))
            wrong = [w for w in c.wrong_tooth if sum(map(abs, w.teeth.values())) == 1]
            body.append(
                say(
                    "One tooth wrong: "
                    + "; ".join(
                        f"{' '.join(f'{k} {v:+d}' for k, v in w.teeth.items() if v)}: {_stands(w)}"
                        for w in wrong
                    )
                    + "."
                )
            )
        if u.collar:
            head_ = [
                "wind, mm of collar",
                "seat to perch, mm",
                "car rises, mm",
                "N at ride",
                "mm short of free at droop",
            ]
            lines = [
                [
                    f"{x.wind_mm:+.0f}" if x.wind_mm else "as designed",
                    f"{x.seat_to_perch_mm:.1f}",
                    rise(x.ride_height_mm),
                    _n(x.force_n, 0),
                    _n(x.droop_compression_mm, 1),
                ]
                for x in u.collar
            ]
            body += [
                say("Collar; seat to perch with the damper off the car and pulled right out", head),
                grid(head_, lines, (32, 30, 26, 24, 40), range(5)),
                *(
                    say(f"Beware at {x.wind_mm:+.0f} mm: {'; '.join(t for t in (x.held, x.beyond) if t)}.")
                    for x in u.collar
                    if x.held or x.beyond
                ),
                say(STRENGTH),
            ]
        body += [
            say(
                "Preload"
                if u.winding and u.winding[0].force_n is not None
                else f"Preload, lever {u.lever_mm:g} mm",
                head,
            ),
            _winding(u, grid),
        ]
        slack = (
            f" The sockets' play adds {u.socket_slack_deg:.1f} deg before the spring bears."
            if u.socket_slack_deg
            else ""
        )
        body.append(say(u.stop + slack))
        body += [say(f"CAUTION: {text}", bold) for text in u.cautions]
        body += [
            KeepTogether(
                [
                    say("Adjusters", head),
                    grid(
                        ["one step of", "car up, mm", "car down, mm"],
                        [[a.name, f"{a.up_mm:+.2f}", f"{a.down_mm:+.2f}"] for a in u.adjusters],
                        (80, 24, 24),
                        (1, 2),
                    ),
                    *(say(f"{a.name}: {held(a)}.") for a in u.adjusters if held(a)),
                ]
            )
        ]
    names = [*HEAD[:4], *(f"{h}, pass {b}" for h, b in zip(HEAD[4:], BANDS, strict=True)), "tick"]
    body += [
        KeepTogether(
            [
                say(
                    "Check table: no spring first, then with the spring; jack the wheel, read, compare", head
                ),
                grid(names, [[*row, ""] for row in rows(r)], (22, 22, 26, 24, 28, 28, 26, 10), range(4)),
                say(
                    "A reading outside its pass band: stop and find out why before going on. Bands: common "
                    "practice."
                ),
            ]
        )
    ]
    if u is not None and u.slide:
        names = [
            "slide to the rocker, mm",
            "free length, mm",
            "rate, %",
            "Hz",
            "car rises, mm",
            "wind back, deg",
            "overlap, mm",
            "sticks out, mm",
            "fits",
        ]
        lines = [
            [
                f"{x.slide_mm:+.0f}",
                f"{x.free_length_mm:.0f}",
                f"{x.rate_change_percent:+.1f}",
                _n(x.ride_frequency_hz, 2),
                f"{x.ride_height_mm:+.1f}",
                f"{x.wind_back_deg:+.2f}",
                f"{x.overlap_mm:.0f}",
                f"{x.protrusion_mm:.0f}",
                "yes" if x.ok else "NO",
            ]
            for x in u.slide
        ]
        body.append(
            KeepTogether(
                [
                    say("Sliding the pack, at the same clock setting", head),
                    grid(names, lines, (26, 22, 18, 16, 22, 22, 20, 22, 14), range(8)),
                    *(say(f"At {x.slide_mm:+.0f} mm the car {x.held}.") for x in u.slide if x.held),
                ]
            )
        )
    if u is not None and u.order:
        body += [say("Order of work", head), *(say(f"{i}. {text}") for i, text in enumerate(u.order, 1))]
    if done is not None and done.layout is not None:
        body += [
            say("Torque and lock list", head),
            grid(
                ["where", "bolt", "N·m", "lock", "done", "seen"],
                [[*line, "", ""] for line in torque_list(done.layout)],
                (58, 28, 12, 62, 13, 13),
                (2,),
            ),
            say(
                "Torques: class 8.8 at most, less where the clamped part would crush (said beside it), dry, "
                "nut factor 0.2 (common practice; grease gives up to 1.7 times the force): guidance, the "
                "maker's figure comes first. Bolts through rubber are tightened at ride height. "
                "Paint a stripe across nut and plate; a second person reads the list aloud. Check stripes, "
                "weld toes and ride height again after 5, 50 and 200 km."
            ),
        ]
    body += [Spacer(1, 2 * mm), say(CAUTION, bold)]
    SimpleDocTemplate(
        str(path),
        pagesize=tuple(v * mm for v in PAPERS[paper]),
        topMargin=10 * mm,
        bottomMargin=10 * mm,
        leftMargin=11 * mm,
        rightMargin=11 * mm,
        title=f"{r.name} set-up",
        author="rockershed",
        invariant=1,
    ).build(body)
    return path


def _settings(r: Results):
    """Heads, one row a line, widths: the corner's figures at ride height with room for what was set."""
    s, t, c = r.spring, r.travel, r.clocking
    ride = min(range(len(t.wheel_mm)), key=lambda i: abs(t.wheel_mm[i]))
    lines = [
        ["damper eye to eye at ride height", f"{t.damper_mm[ride]:.1f} mm", ""],
        [
            "ride frequency, wheel rate",
            f"{_n(s.ride_frequency_hz, 2)} Hz, {_n(t.wheel_rate_n_per_mm[ride], 2)} N/mm",
            "",
        ],
    ]
    if s.ride_torque_nm is not None:
        lines += [
            ["spring at ride height", f"{s.ride_torque_nm:.1f} N·m, {s.ride_twist_deg:.1f} deg", ""],
            ["rocker where the spring is slack", f"{s.slack_rocker_deg:+.1f} deg from ride", ""],
            ["one degree of wind", f"{_n(c.ride_height_per_deg_mm, 2)} mm of ride height", ""],
        ]
    else:
        lines += [
            [
                "coil at ride height",
                f"{s.ride_force_n:.0f} N, {short_of_free(s.ride_compression_mm)}",
                "",
            ],
            *(
                [
                    "collar: seat to perch, damper off the car and pulled right out",
                    f"{c.seat_to_perch_mm:.1f} mm",
                    "",
                ]
                for c in r.setup.collar
                if c.wind_mm == 0
            ),
        ]
    lines += [
        [
            f"{x.name}, at ride height: its sliding joint can still go",
            f"{lacking(x.plunge_in_mm, 1)} mm in, {lacking(x.plunge_out_mm, 1)} mm out",
            "",
        ]
        for x in r.links
        if x.plunge_limit_mm != 0
    ]
    if r.setup.loading_turn:
        lines.append(
            [
                "loading sense, at the rocker, looking along the spring",
                "clockwise" if r.setup.loading_turn > 0 else "anticlockwise",
                "",
            ]
        )
    return ["what", "design", "as set"], lines, (80, 60, 46)


def _winding(u, grid):
    if u.winding and u.winding[0].force_n is not None:
        return grid(
            ["pose", "wheel, mm", "compression, mm", "N", "J"],
            [
                [w.pose, f"{w.wheel_mm:+.1f}", _n(w.compression_mm, 1), _n(w.force_n, 0), _n(w.energy_j, 1)]
                for w in u.winding
            ],
            (46, 24, 30, 24, 24),
            range(1, 5),
        )
    return grid(
        ["pose", "wheel, mm", "twist, deg", "N·m", "stored, J", "N at the lever", "hands move, mm"],
        [
            [
                w.pose,
                f"{w.wheel_mm:+.1f}",
                _n(w.twist_deg, 1),
                _n(w.torque_nm, 1),
                _n(w.energy_j, 1),
                _n(w.lever_force_n, 0),
                _n(w.lever_travel_mm, 0),
            ]
            for w in u.winding
        ],
        (40, 22, 22, 22, 22, 28, 30),
        range(1, 7),
    )


def _n(x: float | None, digits: int) -> str:
    return "-" if x is None else f"{x:.{digits}f}"
