"""One list of all ends of the tubes: the file for a spreadsheet, and its shorter form for the book."""

from __future__ import annotations

from collections.abc import Sequence

from assemblies.making.sheets.tube_ends import (
    ENDS,
    LEVEL_DEG,
    TubePiece,
    has_saw_cut,
    run_in_words,
    saw_cut,
    setting,
    size,
)

HEAD = [
    "tube",
    "end",
    "section",
    "for the car",
    "order length, mm",
    "at",
    "fitted no.",
    "cut to, in order",
    "long point, mm",
    "short point, mm",
    "between short points, mm",
    "index line faces",
    "saw: on the table",
    "mitre, deg",
    "mitre, longer side",
    "tilt, deg",
    "tilt, longer side",
    "open at the corners, mm",
    "from square, deg",
    "saw cut in from the long point, mm",
    "weld, mm",
    "note",
]


def rows(found: Sequence[TubePiece]) -> list[list[str]]:
    """A row an end. Long and short point: from the given end towards the tube's middle, negative is
    longer."""
    return [_row(p, end) for p in found for end in ENDS]


def _row(p: TubePiece, end: str) -> list[str]:
    cut, t = p.cut(end), p.tube
    saw = [""] * 8
    if has_saw_cut(cut):
        f, gap = saw_cut(cut)
        table, mitre, x, tilt, y = setting(cut, end)
        saw = (
            ["", "", "", "", ""]
            if cut.section.is_round
            else [
                p.faces(table),
                f"{mitre:.2f}",
                p.faces(x) if mitre > LEVEL_DEG else "",
                f"{tilt:.2f}",
                p.faces(y) if tilt > LEVEL_DEG else "",
            ]
        )
        saw += [f"{gap:.2f}", f"{f.from_square_deg:.2f}", f"{cut.flat_in_mm:.2f}"]
    note = "part of it meets nothing" if cut.missing else "" if cut.runs else "square"
    return [
        p.name,
        end,
        size(t.section),
        str(p.of_car),
        f"{t.length_mm:.1f}",
        p.places[end],
        str(p.order[end] or ""),
        "; ".join(map(run_in_words, cut.runs)),
        f"{cut.long_mm:.2f}",
        f"{cut.short_mm:.2f}",
        f"{t.short_mm:.1f}",
        p.faces(0),
        *saw,
        f"{cut.weld_mm:.0f}" if cut.runs else "",
        " ".join([*([note] if note else []), *p.notes] if end == "to" else [note]),
    ]


BOOK_HEAD = [
    "tube",
    "end",
    "at",
    "order length",
    "cut to, in order",
    "short point in",
    "saw: on the table",
    "mitre",
    "longer",
    "tilt",
    "longer",
    "open",
    "in from long point",
    "note",
]
BOOK_WIDTHS = (12, 4, 8, 6, 18, 5, 10, 5, 10, 5, 10, 5, 6, 14)


def book_rows(found: Sequence[TubePiece]) -> list[list[str]]:
    out = []
    for p in found:
        for end in ENDS:
            r, cut = _row(p, end), p.cut(end)
            out.append(
                [
                    r[0],
                    r[1],
                    r[5] + (f", no. {r[6]}" if r[6] else ""),
                    r[4],
                    r[7].replace("; ", ", "),
                    f"{cut.short_mm - cut.long_mm:.1f}",
                    *r[12:18],
                    f"{cut.flat_in_mm:.1f}" if r[19] else "",
                    r[21].split(",")[0],
                ]
            )
    return out
