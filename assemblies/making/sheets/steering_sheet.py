"""The steering's sheet: toe over travel and lock by strings and a plumb bob, with expected readings and room
for what was read; then what each number means."""

from __future__ import annotations

from pathlib import Path

from assemblies.making.sheets.book import Book
from assemblies.results.model import Results
from assemblies.results.summary import CAUTION
from assemblies.steering.strings import READ_MM, StringCheck
from assemblies.steering.words import definitions, lines


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


def write(r: Results, c: StringCheck, path: Path) -> Path:
    book = Book(f"{r.name}, {r.side} corner: steering")
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
                f"{x.wheel_mm:+.0f}",
                f"{x.ahead_mm:.1f}",
                f"{x.behind_mm:.1f}",
                f"{x.difference_mm:+.2f}",
                f"{x.toe_deg:+.3f}",
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
                    f"{x.rack_mm:+.1f}",
                    f"{x.ahead_mm:.1f}",
                    f"{x.behind_mm:.1f}",
                    f"{x.difference_mm:+.1f}",
                    f"{x.steer_deg:+.2f}",
                    "",
                    "",
                ]
                for x in c.lock
            ],
            [1] * 8,
        )
    book.heading("What the numbers mean")
    book.lines(definitions(r))
    return book.write(path)
