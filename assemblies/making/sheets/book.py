"""The shop book: cut list, masses, hole tables, jigs and weld plan as tables on plain pages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from assemblies.making.sheets.drawing import text_width_mm
from assemblies.making.sheets.paper import NOMINAL, PAPERS

Cells = Sequence[Sequence[str]]
PADDING = 1.6  # points


class Book:
    """Collects headings, lines and tables, then writes them; every text is escaped here."""

    def __init__(self, title: str, paper: str = "A4", made: str = ""):
        from reportlab.lib.styles import ParagraphStyle
        from reportlab.lib.units import mm

        self.title, self.made, self.mm = title, made or NOMINAL.made[0], mm
        self.page = tuple(v * mm for v in PAPERS[paper][::-1])  # tables want the long side level
        self.head = ParagraphStyle(
            "head",
            fontName="Helvetica-Bold",
            fontSize=12,
            leading=15,
            spaceBefore=4 * mm,
            spaceAfter=1.5 * mm,
        )
        self.line = ParagraphStyle(
            "line", fontName="Helvetica", fontSize=8.5, leading=11, spaceAfter=0.8 * mm
        )
        self.cell = ParagraphStyle("cell", fontName="Helvetica", fontSize=7.5, leading=9)
        self.cell_head = ParagraphStyle("cell head", parent=self.cell, fontName="Helvetica-Bold")
        self.body: list = []
        self.heading(title)

    def heading(self, words: str) -> None:
        from reportlab.platypus import Paragraph

        self.body.append(Paragraph(escape(words), self.head))

    def lines(self, words: Sequence[str], numbered: bool = False) -> None:
        from reportlab.platypus import Paragraph

        self.body += [
            Paragraph(escape(f"{n}. {w}" if numbered else w), self.line) for n, w in enumerate(words, 1)
        ]

    @property
    def room(self) -> float:
        """Width of what stands on a page, points."""
        return self.page[0] - 24 * self.mm

    def drawings(self, some: Sequence) -> None:
        """Drawings under each other, each on one page whole."""
        from reportlab.platypus import Spacer

        for d in some:
            self.body += [d, Spacer(1, 2 * self.mm)]

    def new_page(self) -> None:
        from reportlab.platypus import PageBreak

        self.body.append(PageBreak())

    def table(self, head: Sequence[str], cells: Cells, shares: Sequence[float]) -> None:
        """Columns as wide as their `shares` of the page's width; the head comes again on every page.

        Only a cell too long for one line becomes a paragraph: those cost most of the time."""
        from reportlab.lib import colors
        from reportlab.platypus import LongTable, Paragraph, TableStyle

        widths = [self.room * s / sum(shares) for s in shares]
        fits = [(w - 2 * PADDING - 0.5) / self.cell.fontSize for w in widths]

        def cell(words: str, column: int, style):
            return words if text_width_mm(words, 1.0) <= fits[column] else Paragraph(escape(words), style)

        rows = [
            [Paragraph(escape(h), self.cell_head) for h in head],
            *([cell(c, k, self.cell) for k, c in enumerate(row)] for row in cells),
        ]
        table = LongTable(rows, repeatRows=1, colWidths=widths, spaceAfter=3 * self.mm)
        table.setStyle(
            TableStyle(
                [
                    ("GRID", (0, 0), (-1, -1), 0.25, colors.grey),
                    ("BACKGROUND", (0, 0), (-1, 0), colors.whitesmoke),
                    ("VALIGN", (0, 0), (-1, -1), "TOP"),
                    ("FONT", (0, 1), (-1, -1), self.cell.fontName, self.cell.fontSize, self.cell.leading),
                    *(
                        (f"{side}PADDING", (0, 0), (-1, -1), PADDING)
                        for side in ("TOP", "BOTTOM", "LEFT", "RIGHT")
                    ),
                ]
            )
        )
        self.body.append(table)

    def write(self, path: Path) -> Path:
        from reportlab.platypus import SimpleDocTemplate

        def foot(canvas, document) -> None:
            canvas.setFont("Helvetica", 7.5)
            canvas.drawString(12 * self.mm, 7 * self.mm, self.title)
            canvas.drawRightString(
                self.page[0] - 12 * self.mm,
                7 * self.mm,
                f"{self.made}; page {document.page}",
            )

        SimpleDocTemplate(
            str(path),
            pagesize=self.page,
            topMargin=11 * self.mm,
            bottomMargin=12 * self.mm,
            leftMargin=12 * self.mm,
            rightMargin=12 * self.mm,
            title=self.title,
            author="rockershed",
            invariant=1,
        ).build(self.body, onFirstPage=foot, onLaterPages=foot)
        return path
