"""The steering's sheet: toe over travel and lock by strings and a plumb bob, with expected readings and room
for what was read; then what each number means."""

from __future__ import annotations

from pathlib import Path

from assemblies.making.sheets.book import Book
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.steering.strings import READ_MM, StringCheck
from assemblies.steering.words import definitions, lines
from parts.base.stock import thread
from parts.rack_extension import RackExtension


def how(c: StringCheck) -> list[str]:
    """The work in order, a sentence each."""
    return [
        "Car on a level floor at ride height, driver aboard or his weight on the seat, tyres at "
        "pressure, rack centred "
        "and locked there.",
        "Drop a plumb bob from the frame's middle at both ends of the car and join the marks: that "
        "is the car's middle.",
        f"Stretch a string along each side, level with the wheel centres, {c.string_mm:.0f} mm from "
        f"the car's middle at "
        f"both ends of the car. Measure it at the ends, not at the wheels.",
        f"Read from the string square to the rim's edge ahead of the hub and behind it, at the "
        f"hub's height. The rim is "
        f"taken as {c.rim_mm:g} mm across: measure yours between the same edges; differences go with it.",
        f"Ahead less behind is toe: more ahead is toe-in. One tenth of a degree is "
        f"{c.per_tenth_mm:.2f} mm here. Read to "
        f"{READ_MM:g} mm (common practice); turn the wheel half round and take the mean, so that a "
        f"bent rim does not count.",
        "Over travel: springs out or slack, a jack under the wheel, frame on stands. Never under a "
        "car held by a jack alone.",
        "At lock: plumb the rim's two edges to the floor and measure the marks to the string's own "
        "plumb line.",
    ]


def extension_drawing(e: RackExtension):
    """The extension side on, not to scale across its length, with the sizes it is turned to."""
    from reportlab.graphics.shapes import Drawing, Line, Rect, String
    from reportlab.lib import colors

    size = thread(e.thread).diameter_mm
    wide, tall, x0, x1, x2 = 480, 120, 60.0, 130.0, 400.0
    scale = 40.0 / e.diameter_mm
    middle, half, male = 60.0, 20.0, size * scale / 2
    out, ink = Drawing(wide, tall), colors.black
    out.add(Rect(x1, middle - half, x2 - x1, 2 * half, fillColor=None, strokeColor=ink))
    out.add(Rect(x0, middle - male, x1 - x0, 2 * male, fillColor=None, strokeColor=ink))
    for y in (middle - male, middle + male):
        out.add(Line(x2 - 70, y, x2, y, strokeColor=ink, strokeDashArray=[3, 2]))
    out.add(Line(x2 - 70, middle - male, x2 - 70, middle + male, strokeColor=ink, strokeDashArray=[3, 2]))
    for from_, to, text in (
        (x0, x1, f"{e.engagement_mm:g}"),
        (x1, x2, f"{e.length_mm:.1f} shoulder to shoulder"),
        (x2 - 70, x2, f"{e.engagement_mm:g} deep"),
    ):
        y = middle + (34 if to == x2 and from_ == x2 - 70 else -36)
        out.add(Line(from_, y, to, y, strokeColor=ink, strokeWidth=0.5))
        out.add(String((from_ + to) / 2, y + 3, text, fontSize=8, textAnchor="middle"))
    out.add(String(x0 - 6, middle - 3, e.thread, fontSize=8, textAnchor="end"))
    out.add(String(x2 + 6, middle - 3, f"{e.thread}, diameter {e.diameter_mm:g}", fontSize=8))
    return out


def write(
    r: Results, c: StringCheck, path: Path, extension: RackExtension | None = None, paper: str = "A4"
) -> Path:
    book = Book(f"{r.name}, {r.side} corner: steering", paper)
    book.lines([*lines(r), CAUTION])
    book.heading("Strings and plumb bob")
    book.lines(how(c), numbered=True)
    book.heading("Toe over travel, rack straight ahead, mm from the string")
    book.table(
        [
            "wheel height",
            "rim ahead",
            "rim behind",
            "ahead less behind",
            "toe-in, deg",
            "read ahead",
            "read behind",
        ],
        [
            [
                f"{x.wheel_mm:+z.0f}",
                f"{x.ahead_mm:.1f}",
                f"{x.behind_mm:.1f}",
                f"{x.difference_mm:+z.2f}",
                f"{x.toe_deg:+z.3f}",
                "",
                "",
            ]
            for x in c.travel
        ],
        [1] * 7,
    )
    if c.lock:
        book.heading("Lock at ride height, both wheels, mm from the string of that side")
        book.table(
            [
                "wheel",
                "rack, + to the car's left",
                "rim ahead",
                "rim behind",
                "ahead less behind",
                "steer angle, deg, + left",
                "read ahead",
                "read behind",
            ],
            [
                [
                    x.wheel,
                    f"{x.rack_mm:+z.1f}",
                    f"{x.ahead_mm:.1f}",
                    f"{x.behind_mm:.1f}",
                    f"{x.difference_mm:+z.1f}",
                    f"{x.steer_deg:+z.2f}",
                    "",
                    "",
                ]
                for x in c.lock
            ],
            [1] * 8,
        )
    if extension is not None and r.steering is not None and (k := r.steering.rack) is not None:
        book.heading("Rack extension")
        sides = (
            f"this side {k.extension_mm:.1f} mm, the other {k.other_extension_mm:.1f} mm shoulder to shoulder"
        )
        book.lines(
            [
                f"{sides}; sawn {extension.cut_length_mm:.1f} mm long with its thread, one jam nut "
                f"each against the bar.",
                "Drawn for this side, not to scale. Break all edges, leave a radius at the thread's "
                "root; no weld.",
            ]
        )
        book.drawings([extension_drawing(extension)])
    book.heading("What the numbers mean")
    book.lines(definitions(r))
    return book.write(path)
