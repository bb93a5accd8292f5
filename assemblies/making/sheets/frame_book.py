"""The shop book of a frame alone: cut list, bars, order of fitting, tube ends, nodes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from assemblies.layout.placing import Layout
from assemblies.making.sheets import (
    bars_in_results,
    cut_in_results,
    cut_list_line,
    fitting_rows,
    sawing,
    tube_end_tables,
    tube_ends,
)
from assemblies.making.sheets.book import Book
from assemblies.results.making import MassesRow
from assemblies.results.model import Results
from assemblies.results.words import verdict

CAUTION = (
    "First-cut numbers to assist a builder: they approve nothing. Welding burns, blinds and fumes: "
    "weld with the usual "
    "protection. Local vehicle rules come first; have an engineer and a qualified welder check before "
    "anyone drives."
)


def write(
    path: Path,
    layout: Layout,
    results: Results,
    listed: Sequence[cut_list_line.CutListLine],
    sawn: Sequence[sawing.SectionPlan],
    pieces: Sequence[tube_ends.TubePiece],
    paper: str,
) -> Path:
    book = Book(f"{layout.job.name}: frame book", paper)
    book.lines([CAUTION, verdict(results)])
    book.heading("Cut list, tubes as listed in the file")
    cells = [
        [
            r.item,
            str(_count(r)),
            *cut_list_line.cells(r)[3:6],
            f"{r.each_kg:.3f}",
            cut_list_line.cells(r)[8],
            r.note,
        ]
        for r in listed
    ]
    book.table(
        ["tube", "for the car", "stock", "saw to, mm", "material", "each, kg", "cost, each", "ends"],
        cells,
        (16, 4, 16, 6, 6, 5, 5, 32),
    )
    whole = sum((r.each_kg or 0.0) * _count(r) for r in listed)
    book.lines([f"Both sides of the car: {sum(map(_count, listed))} tubes, {whole:.2f} kg."])
    _nodes(book, results)
    if results.junctions is not None and results.junctions.fitting is not None:
        order = results.junctions.fitting
        book.new_page()
        book.heading("Order of fitting and tacking")
        book.lines(fitting_rows.lines(order))
        book.table(fitting_rows.HEAD, fitting_rows.rows(order), fitting_rows.WIDTHS)
    if sawn:
        book.new_page()
        book.heading("Tubes: from which bar")
        book.lines(
            [
                f"Saw: {layout.job.process.saw}, {layout.job.process.saw_kerf:g} mm a cut. "
                f"{sawing.how_bought(layout.job)}"
                f"{'' if all(s.plan.proven for s in sawn) else ' where nothing else is said'}."
            ]
        )
        book.drawings(sawing.strips(sawn, book.room - 12))
        book.table(sawing.HEAD, sawing.rows(sawn), (8, 5, 2, 5, 4, 50, 4))
    if pieces:
        book.new_page()
        book.heading("Tube ends")
        book.lines(
            [
                "Saw each tube to its order length, from long point to long point; strips to wrap and "
                "pictures of "
                "the nodes: tube-ends.pdf. Lengths mm, angles deg."
            ]
        )
        book.table(tube_end_tables.BOOK_HEAD, tube_end_tables.book_rows(pieces), tube_end_tables.BOOK_WIDTHS)
    if results.findings:
        book.heading("To look at")
        book.lines([f"{f.level.upper()}  {f.where}: {f.text}" for f in results.findings])
    return book.write(path)


def _count(r: cut_list_line.CutListLine) -> int:
    return r.of_car or 1


def _nodes(book: Book, results: Results) -> None:
    if results.junctions is None:
        return
    book.heading("Nodes")
    book.table(
        ["node", "at x, y, z, mm", "tubes in the order they are cut", "passing", "mitred"],
        [
            [
                n.name,
                ", ".join(f"{v:.1f}" for v in n.point_mm),
                ", ".join(n.members),
                ", ".join(n.passing),
                " and ".join(n.mitred),
            ]
            for n in results.junctions.nodes
        ],
        (8, 10, 30, 14, 12),
    )


def in_results(
    listed: Sequence[cut_list_line.CutListLine], sawn: Sequence[sawing.SectionPlan]
) -> dict[str, object]:
    """Cut list, bars and the frame's mass, as results.json has them."""
    kg = sum((r.each_kg or 0.0) * _count(r) for r in listed)
    return {
        **bars_in_results(sawn),
        "cut_list": [cut_in_results(r) for r in listed],
        "masses": MassesRow(
            parts_kg=0.0,
            sprung_kg=0.0,
            unsprung_kg=0.0,
            centre_of_gravity_mm=[],
            frame_members_kg=kg,
            missing=[],
        ),
    }
