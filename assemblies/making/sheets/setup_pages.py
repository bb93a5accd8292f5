"""The set-up sheet of a corner, one or two pages: settings, preload, the check table with room for what was
measured, order of work, torque and lock list, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from assemblies.making.sheets import strip_pages
from assemblies.making.sheets.paper import NOMINAL, PAPERS, Printing
from assemblies.making.sheets.setup_sheet import HEAD, notes, rows, torque_list
from assemblies.results.faults import needed
from assemblies.results.findings import lacking
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.results.table_file import write_table
from assemblies.setup.clocking.drilling import drilling
from assemblies.setup.collar import short_of_free
from assemblies.setup.words import held, rise

Flow = list[Any]  # of reportlab's flowables
SMALL = ParagraphStyle("small", fontName="Helvetica", fontSize=7.2, leading=8.8)
BOLD = ParagraphStyle("bold", parent=SMALL, fontName="Helvetica-Bold")
HEADING = ParagraphStyle(
    "head", parent=BOLD, fontSize=9.5, keepWithNext=1, leading=12, spaceBefore=5, spaceAfter=1.5
)
TITLE = ParagraphStyle("title", parent=HEADING, fontSize=14, leading=17)
RULED = [
    ("GRID", (0, 0), (-1, -1), 0.3, colors.grey),
    ("BACKGROUND", (0, 0), (-1, 0), colors.whitesmoke),
    ("FONT", (0, 0), (-1, -1), "Helvetica", 7.2),
    ("LEADING", (0, 0), (-1, -1), 8.8),
    ("TOPPADDING", (0, 0), (-1, -1), 1.2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
]
STRENGTH = (
    "The strength is worked for the design setting: rockershed clock works it again for each setting it "
    "lists, correct for each move."
)
BANDS = (
    "±0.5",
    "±1",
    "±0.10",
)  # rocker deg, damper mm, toe deg: what a careful builder reads, common practice


def write(r: Results, folder: Path, done=None, printing: Printing = NOMINAL) -> list[Path]:
    """check-table.csv and set-up.pdf in `folder`; with the study also its torque list and the wrap strips of
    both hands."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "check-table.csv"
    write_table(table, HEAD, rows(r))
    out = [table, _pdf(r, folder / "set-up.pdf", done, printing)]
    if (
        done is not None
        and done.layout is not None
        and done.springing is not None
        and getattr(done.job.spring, "teeth", None) is not None
    ):
        drill = drilling(done.job, done.layout, done.springing.preload.sense)
        out += strip_pages.write(drill, r.name, folder, printing) if drill is not None else []
    return out


def _pdf(r: Results, path: Path, done, printing: Printing) -> Path:
    u = r.setup
    body = [_say(f"{r.name}, {r.side.upper()} side: set-up", TITLE)]
    body += [_say(text) for text in notes(r)[: 1 if u else None]]
    if u is not None:
        body += [_say("Settings", HEADING), _settings(r)]
        body += [*_clocking(r.clocking), *_collar(u), *_preload(u), *_adjusters(u)]
    body += _check_table(r)
    if u is not None:
        body += [*_slide(u), *_order(u)]
    if done is not None and done.layout is not None:
        body += _torques(done.layout)
    body += [Spacer(1, 2 * mm), _say(CAUTION, BOLD)]

    def foot(canvas, document) -> None:
        canvas.setFont("Helvetica", 7.2)
        by = f"{'; '.join(printing.made)}; page {document.page}"
        canvas.drawRightString((PAPERS[printing.paper][0] - 12) * mm, 6 * mm, by)

    SimpleDocTemplate(
        str(path),
        pagesize=tuple(v * mm for v in PAPERS[printing.paper]),
        topMargin=10 * mm,
        bottomMargin=10 * mm,
        leftMargin=11 * mm,
        rightMargin=11 * mm,
        title=f"{r.name} set-up",
        author="rockershed",
        invariant=1,
    ).build(body, onFirstPage=foot, onLaterPages=foot)
    return path


def _say(text: str, style: ParagraphStyle = SMALL) -> Paragraph:
    return Paragraph(escape(text), style)


def _grid(
    names: Sequence[str],
    lines: Sequence[Sequence[str]],
    widths_mm: Sequence[float],
    right: Iterable[int] = (),
) -> Table:
    """`right`: the columns whose numbers stand at the right."""
    wrapped = [[_say(c) if len(c) > 26 else c for c in line] for line in lines]
    table = Table(
        [[_say(n, BOLD) for n in names], *wrapped], repeatRows=1, colWidths=[w * mm for w in widths_mm]
    )
    table.setStyle(TableStyle([*RULED, *(("ALIGN", (i, 1), (i, -1), "RIGHT") for i in right)]))
    return table


def _columns(things: Iterable[Any], columns: dict[str, tuple[float, Any]], words: int = 0) -> Table:
    """A row a thing; each column by its name: width in mm, and what it says of a thing. The last `words` hold
    no numbers."""
    lines = [[say(x) for _, say in columns.values()] for x in things]
    return _grid(list(columns), lines, [w for w, _ in columns.values()], range(len(columns) - words))


# ------------------------------------------------------------------------------------------------ sections


def _settings(r: Results) -> Table:
    """The corner's figures at ride height with room for what was set."""
    s, t, c, setup = needed(r.spring), needed(r.travel), r.clocking, needed(r.setup)
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
            ["rocker where the spring is slack", f"{s.slack_rocker_deg:+z.1f} deg from ride", ""],
            ["one degree of wind", f"{_n(c.ride_height_per_deg_mm, 2)} mm of ride height", ""],
        ]
    else:
        lines += [
            [
                "coil at ride height",
                f"{s.ride_force_n:.0f} N, {short_of_free(needed(s.ride_compression_mm))}",
                "",
            ],
            *(
                [
                    "collar: seat to perch, damper off the car and pulled right out",
                    f"{c.seat_to_perch_mm:.1f} mm",
                    "",
                ]
                for c in setup.collar
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
    if setup.loading_turn:
        lines.append(
            [
                "loading sense, at the rocker, looking along the spring",
                "clockwise" if setup.loading_turn > 0 else "anticlockwise",
                "",
            ]
        )
    return _grid(["what", "design", "as set"], lines, (80, 60, 46))


def _clocking(c) -> Flow:
    if not c.settings:
        return []
    near = sorted(sorted(c.settings, key=lambda s: abs(s.angle_deg))[:5], key=lambda s: s.angle_deg)
    table = _columns(
        near,
        {
            "wind, deg": (16, lambda s: f"{s.angle_deg:+z.2f}"),
            "sleeve": (16, lambda s: f"{s.sleeve_teeth:+d}"),
            "anchor": (17, lambda s: f"{s.anchor_teeth:+d}"),
            "car rises, mm": (19, lambda s: f"{s.ride_height_mm:+z.1f}"),
            "N·m at ride": (18, lambda s: _n(s.torque_nm, 1)),
            "deg left at droop": (20, lambda s: _n(s.droop_twist_deg, 1)),
            "bolt the sleeve at": (40, lambda s: s.bolt.get("sleeve", "")),
            "bolt the anchor at": (42, lambda s: s.bolt.get("anchor", "")),
        },
        words=2,
    )
    wrong = [w for w in c.wrong_tooth if sum(map(abs, w.teeth.values())) == 1]
    turned = (f"{' '.join(f'{k} {v:+d}' for k, v in w.teeth.items() if v)}: {_stands(w)}" for w in wrong)
    return [
        _say("Clocking, teeth from the design setting, counted in the loading sense at both ends", HEADING),
        table,
        *(_say(f"Beware at {s.angle_deg:+z.2f} deg: {s.beyond}.") for s in near if s.beyond),
        _say(STRENGTH),
        _say(f"One tooth wrong: {'; '.join(turned)}."),
    ]


def _stands(w) -> str:
    """Where the car stands with a wrong tooth."""
    if w.ride_height_mm is None:
        return "the car cannot stand"
    return f"car {w.ride_height_mm:+z.0f} mm" + (f", {w.held}" if w.held else "")


def _collar(u) -> Flow:
    if not u.collar:
        return []
    beware = [(x.wind_mm, "; ".join(t for t in (x.held, x.beyond) if t)) for x in u.collar]
    return [
        _say("Collar; seat to perch with the damper off the car and pulled right out", HEADING),
        _columns(
            u.collar,
            {
                "wind, mm of collar": (32, lambda x: f"{x.wind_mm:+z.0f}" if x.wind_mm else "as designed"),
                "seat to perch, mm": (30, lambda x: f"{x.seat_to_perch_mm:.1f}"),
                "car rises, mm": (26, lambda x: rise(x.ride_height_mm)),
                "N at ride": (24, lambda x: _n(x.force_n, 0)),
                "mm short of free at droop": (40, lambda x: _n(x.droop_compression_mm, 1)),
            },
        ),
        *(_say(f"Beware at {wind:+z.0f} mm: {what}.") for wind, what in beware if what),
        _say(STRENGTH),
    ]


def _preload(u) -> Flow:
    linear = bool(u.winding) and u.winding[0].force_n is not None
    pose = {"pose": (46 if linear else 40, lambda w: w.pose)}
    pose |= {"wheel, mm": (24 if linear else 22, lambda w: f"{w.wheel_mm:+z.1f}")}
    if linear:
        columns = pose | {
            "compression, mm": (30, lambda w: _n(w.compression_mm, 1)),
            "N": (24, lambda w: _n(w.force_n, 0)),
            "J": (24, lambda w: _n(w.energy_j, 1)),
        }
    else:
        columns = pose | {
            "twist, deg": (22, lambda w: _n(w.twist_deg, 1)),
            "N·m": (22, lambda w: _n(w.torque_nm, 1)),
            "stored, J": (22, lambda w: _n(w.energy_j, 1)),
            "N at the lever": (28, lambda w: _n(w.lever_force_n, 0)),
            "hands move, mm": (30, lambda w: _n(w.lever_travel_mm, 0)),
        }
    lines = [[say(w) for _, say in columns.values()] for w in u.winding]
    widths = [width for width, _ in columns.values()]
    play = u.socket_slack_deg
    slack = f" The sockets' play adds {play:.1f} deg before the spring bears." if play else ""
    return [
        _say("Preload" if linear else f"Preload, lever {u.lever_mm:g} mm", HEADING),
        _grid(list(columns), lines, widths, range(1, len(columns))),
        _say(u.stop + slack),
        *(_say(f"CAUTION: {text}", BOLD) for text in u.cautions),
    ]


def _adjusters(u) -> Flow:
    lines = [[a.name, f"{a.up_mm:+z.2f}", f"{a.down_mm:+z.2f}"] for a in u.adjusters]
    said = [
        _say("Adjusters", HEADING),
        _grid(["one step of", "car up, mm", "car down, mm"], lines, (80, 24, 24), (1, 2)),
        *(_say(f"{a.name}: {held(a)}.") for a in u.adjusters if held(a)),
    ]
    return [KeepTogether(said)]


def _check_table(r: Results) -> Flow:
    names = [*HEAD[:4], *(f"{h}, pass {b}" for h, b in zip(HEAD[4:], BANDS, strict=True)), "tick"]
    lines = [[*row, ""] for row in rows(r)]
    said = [
        _say("Check table: no spring first, then with the spring; jack the wheel, read, compare", HEADING),
        _grid(names, lines, (22, 22, 26, 24, 28, 28, 26, 10), range(4)),
        _say(
            "A reading outside its pass band: stop and find out why before going on. Bands: common practice."
        ),
    ]
    return [KeepTogether(said)]


def _slide(u) -> Flow:
    if not u.slide:
        return []
    table = _columns(
        u.slide,
        {
            "slide to the rocker, mm": (26, lambda x: f"{x.slide_mm:+z.0f}"),
            "free length, mm": (22, lambda x: f"{x.free_length_mm:.0f}"),
            "rate, %": (18, lambda x: f"{x.rate_change_percent:+z.1f}"),
            "Hz": (16, lambda x: _n(x.ride_frequency_hz, 2)),
            "car rises, mm": (22, lambda x: f"{x.ride_height_mm:+z.1f}"),
            "wind back, deg": (22, lambda x: f"{x.wind_back_deg:+z.2f}"),
            "overlap, mm": (20, lambda x: f"{x.overlap_mm:.0f}"),
            "sticks out, mm": (22, lambda x: f"{x.protrusion_mm:.0f}"),
            "fits": (14, lambda x: "yes" if x.ok else "NO"),
        },
        words=1,
    )
    stands = (_say(f"At {x.slide_mm:+z.0f} mm the car {x.held}.") for x in u.slide if x.held)
    return [KeepTogether([_say("Sliding the pack, at the same clock setting", HEADING), table, *stands])]


def _order(u) -> Flow:
    if not u.order:
        return []
    return [
        _say("Order of work", HEADING),
        *(_say(f"{i}. {text}") for i, text in enumerate(u.order, 1)),
    ]


def _torques(layout) -> Flow:
    lines = [[*line, "", ""] for line in torque_list(layout)]
    return [
        _say("Torque and lock list", HEADING),
        _grid(["where", "bolt", "N·m", "lock", "done", "seen"], lines, (58, 28, 12, 62, 13, 13), (2,)),
        _say(
            "Torques: class 8.8 at most, less where the clamped part would crush (said beside it), dry, "
            "nut factor 0.2 (common practice; grease gives up to 1.7 times the force): guidance, the "
            "maker's figure comes first. Bolts through rubber are tightened at ride height. "
            "Paint a stripe across nut and plate; a second person reads the list aloud. Check stripes, "
            "weld toes and ride height again after 5, 50 and 200 km."
        ),
    ]


def _n(x: float | None, digits: int) -> str:
    return "-" if x is None else f"{x:.{digits}f}"
