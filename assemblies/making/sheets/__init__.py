"""Shop sheets: what the builder carries to the plate. True-size templates, hole tables, jigs, weld plan, cut
list, masses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from assemblies.layout.fasteners import fasteners
from assemblies.layout.frame import sides as frame_sides
from assemblies.layout.junctions import account
from assemblies.layout.junctions.assembly import Assembly, assembled
from assemblies.layout.placing import FlatPart, Layout, needed
from assemblies.making.sheets import (
    assembly_sheets,
    cut_list,
    cut_list_line,
    fitting_rows,
    frame_sheets,
    hole_table,
    jigs,
    lug_wrap,
    masses,
    mount_jigs,
    node_view,
    on_frame,
    part_sheets,
    sawing,
    spring_line,
    stock_sheets,
    template,
    tube_end_tables,
    tube_ends,
    tube_strips,
    turned,
    weld_plan,
    weldments,
)
from assemblies.making.sheets.blank import BlankSheet, blank_sheets
from assemblies.making.sheets.book import Book
from assemblies.making.sheets.drawing import to_svg
from assemblies.making.sheets.masses import BesideCoil, Masses
from assemblies.making.sheets.paper import NOMINAL, PAPERS, Printing, Sheet, SheetError, whole, write_pdf
from assemblies.motion.springing import Springing
from assemblies.results import making as rs
from assemblies.results.faults import looked
from assemblies.results.findings import Finding
from assemblies.results.summary import CAUTION
from assemblies.results.table_file import write_table
from parts.base.fields import LONGEST_MM
from parts.base.frozen import dataclass
from parts.files.remembered import once

__all__ = ["PAPERS", "Printing", "Shop", "work_out", "write"]


@dataclass(frozen=True)
class Shop:
    """Everything the sheets say, in numbers: rows of the cut list, masses and the comparison, blanks, jigs,
    weld plan."""

    rows: tuple[cut_list_line.CutListLine, ...]
    masses: Masses
    comparison: BesideCoil | None
    blanks: tuple[BlankSheet, ...]
    jigs: tuple[jigs.Jig, ...]
    welds: weld_plan.WeldPlan | None
    sawn: tuple[sawing.SectionPlan, ...] = ()
    tubes: tuple[tube_ends.TubePiece, ...] = ()
    places: on_frame.OnFrame | None = None
    fitting: Assembly | None = None  # the frame's order of fitting


def work_out(
    layout: Layout,
    sprung: Springing | None,
    smallest_hole_mm: Callable[[FlatPart], float],
    cut_fitted: bool,
    shrink_mm: float = 0.0,
) -> Shop:
    """The shop's numbers of one corner; a room that could not be laid out is left out."""
    bolted, open_ = fasteners(layout)
    weighed = masses.weigh(layout, bolted, open_)
    listed = tuple(cut_list.rows(layout))
    return Shop(
        listed,
        weighed,
        masses.compare(layout, sprung, weighed) if sprung is not None and layout.rocker is not None else None,
        tuple(
            blank_sheets(
                layout.flat,
                layout.job.corner.side,
                smallest_hole_mm,
                cut_fitted,
                layout.job.nest is not None and layout.job.nest.grain,
            )
        ),
        tuple(jigs.jigs(layout, shrink_mm)),
        weld_plan.rocker_plan(
            layout.rocker,
            layout.seams,
            layout.job.corner.side,
        )
        if layout.rocker is not None
        else None,
        tuple(sawing.plans(listed, layout.job)),
        tuple(tube_ends.pieces(layout)),
        places if (places := on_frame.work_out(layout)).in_order else None,
        once(
            "order of fitting",
            (layout.junctions, both := frame_sides(layout.job) == "one"),
            lambda: assembled(layout.junctions, both),
        ),
    )


def write(shop: Shop, layout: Layout, folder: Path, printing: Printing = NOMINAL) -> list[Finding]:
    """All sheets in `folder`: templates.pdf and an SVG a blank, jigs as templates and DXF, shop-book.pdf,
    tables as CSV. A slip in one is a finding and leaves the others."""
    folder.mkdir(parents=True, exist_ok=True)
    name = f"{layout.job.name}, {layout.job.corner.side}"
    slips: list[Finding] = []

    def sheet(what: str, make: Callable[[], object]) -> None:
        slips.extend(looked(what, lambda: (make(), []), None, passing=(SheetError,))[1])

    sheet("templates", lambda: _templates(shop, layout, folder, printing, name))
    sheet("tube ends", lambda: _tube_files(shop, layout, folder, printing, name))
    sheet("jigs", lambda: _jig_files(shop, folder / "jigs"))
    sheet("drawings", lambda: _drawings(shop, layout, folder / "drawings.pdf", printing, name))
    sheet("sheets of the frame", lambda: _frame_files(shop, layout, folder, printing, name))
    blanks = [*shop.blanks, *map(jigs.base_sheet, shop.jigs)]
    sheet("hole table", lambda: hole_table.write(folder, blanks, layout.sleeve))
    sheet("cut list", lambda: cut_list_line.write_csv(folder / "cut-list.csv", shop.rows))
    sheet("bar cutting", lambda: write_table(folder / "bar-cutting.csv", sawing.HEAD, sawing.rows(shop.sawn)))
    if (plan := shop.welds) is not None:
        rows = weld_plan.rows(plan)
        sheet("weld plan", lambda: write_table(folder / "weld-plan.csv", weld_plan.HEAD, rows))
    sheet("masses", lambda: write_table(folder / "masses.csv", MASS_HEAD, _mass_rows(shop.masses)))
    sheet("shop book", lambda: _book(shop, layout, name, folder / "shop-book.pdf", printing))
    return slips


def _templates(shop: Shop, layout: Layout, folder: Path, printing: Printing, name: str) -> None:
    """Blanks, jigs, the lug's wrap and the weld plan at true size, all in one PDF and each as SVG."""
    drawn = [(b.file_stem, template.sheet(b)) for b in shop.blanks]
    drawn += [(j.name.replace(" ", "-"), jigs.sheet(j)) for j in shop.jigs]
    if (wrap := lug_wrap.sheet(layout)) is not None:
        drawn.append(("rod-lug", wrap))
    if shop.welds is not None:
        drawn.append(("weld-plan", _weld_sheet(shop.welds, layout)))
    write_pdf(folder / "templates.pdf", [s for _, s in drawn], printing, f"{name}: templates")
    (folder / "templates").mkdir(exist_ok=True)
    for stem, sheet in drawn:
        svg = to_svg(whole(sheet), sheet.title)
        (folder / "templates" / f"{stem}.svg").write_text(svg, encoding="utf-8", newline="\n")


def _drawings(shop: Shop, layout: Layout, path: Path, printing: Printing, name: str) -> None:
    """Drawings of assemblies and of single parts."""
    numbers, lathe = cut_list_line.numbers(shop.rows), turned.pieces(layout)
    drawn = [
        *assembly_sheets.sheets(layout, shop.rows, printing),
        *weldments.sheets(layout, shop.rows, shop.welds, printing),
        *spring_line.sheet(layout, shop.rows, printing),
        *part_sheets.sheets(shop.blanks, lathe, numbers, printing),
        *stock_sheets.sheets(layout, shop.rows, {t.row for t in lathe}, printing),
        *mount_jigs.sheets(layout, printing),
    ]
    if drawn:
        part_sheets.write(path, drawn, name, printing, f"{name}: drawings")


def in_results(shop: Shop) -> dict[str, object]:
    """The keys of results.json that a build takes from the sheets."""
    m, c = shop.masses, shop.comparison
    return {
        **bars_in_results(shop.sawn),
        "cut_list": [cut_in_results(r) for r in shop.rows],
        "masses": rs.MassesRow(
            parts_kg=m.total_kg,
            sprung_kg=m.sprung_kg,
            unsprung_kg=m.unsprung_kg,
            centre_of_gravity_mm=list(m.centre_of_gravity_mm) if m.parts else [],
            frame_members_kg=m.frame_members_kg,
            missing=list(m.missing),
            over_plain_coil_over_kg=c.difference_kg if c else None,
            height_over_plain_mm=c.height_difference_mm if c else None,
            notes=list(c.notes) if c else [],
        ),
    }


def bars_in_results(sawn: Sequence[sawing.SectionPlan]) -> dict[str, object]:
    return {
        "sawing": [
            rs.BarRow(
                section=str(p.section),
                material=p.material,
                length_mm=b.length_mm,
                bought=b.bought,
                pieces=[q.name for q in b.pieces],
                piece_lengths_mm=[q.length_mm for q in b.pieces],
                offcut_mm=b.offcut_mm,
            )
            for p in sawn
            for b in p.plan.bars
        ],
        "bars_to_buy": [
            rs.BarsToBuy(
                section=str(p.section),
                material=p.material,
                length_mm=p.plan.buy_length_mm,
                count=p.plan.to_buy,
                at_least=p.plan.least_to_buy,
                proven=p.plan.proven,
                needed_mm=float(p.plan.needed_mm),
                by_the_metre=p.plan.by_the_metre,
            )
            for p in sawn
        ],
    }


def cut_in_results(r: cut_list_line.CutListLine) -> rs.CutRow:
    return rs.CutRow(
        group=r.group,
        item=r.item,
        count=r.count,
        stock=r.stock,
        length_mm=r.length_mm,
        material=r.material,
        mass_each_kg=r.each_kg,
        mass_kg=r.mass_kg,
        cost=r.cost,
        note=r.note,
    )


def _weld_sheet(plan: weld_plan.WeldPlan, layout: Layout) -> Sheet:
    return Sheet(
        f"weld plan, rocker - {plan.hand.upper()} HAND",
        f"runs numbered near plate / far plate - {len(plan.runs) * 2} runs, {plan.length_mm:.0f} mm, leg "
        f"{plan.runs[0].leg_mm:g} mm - near: the {_near_plate(layout)}",
        weld_plan.draw(needed(layout.rocker), plan),
        (*(f"{n}. {s}" for n, s in enumerate(plan.steps, 1)), plan.other_hand),
    )


def _near_plate(layout: Layout) -> str:
    """Name of the plate that the weld plan looks at: the one ahead along the axis as the job gives it."""
    return needed(layout.rocker_plates)[0].name


def _tube_files(shop: Shop, layout: Layout, folder: Path, printing: Printing, name: str) -> None:
    """Nodes and strips to wrap, and the list of all ends; nothing where no tube is cut to another."""
    drawn = [
        *node_view.sheets(layout, printing),
        *tube_strips.sheets(shop.tubes, layout.job.frame.paper, printing),
    ]
    if not drawn:
        return
    write_pdf(folder / "tube-ends.pdf", [s for _, s in drawn], printing, f"{name}: tube ends")
    write_table(folder / "tube-ends.csv", tube_end_tables.HEAD, tube_end_tables.rows(shop.tubes))
    if shop.fitting is not None:
        order = account.fitting_rows(shop.fitting)
        write_table(folder / "fitting-order.csv", fitting_rows.HEAD, fitting_rows.rows(order))


def _frame_files(shop: Shop, layout: Layout, folder: Path, printing: Printing, name: str) -> None:
    """Where everything goes on the frame: sheets, and the tables of places, stations and tape readings."""
    if (f := shop.places) is None:
        return
    drawn = [s for _, s in frame_sheets.sheets(f, layout)]
    write_pdf(folder / "where-on-frame.pdf", drawn, printing, f"{name}: on the frame")
    write_table(folder / "where-on-frame.csv", on_frame.HEAD, on_frame.rows(f))
    write_table(folder / "on-the-rockers-axis.csv", on_frame.STATION_HEAD, on_frame.station_rows(f))
    write_table(folder / "tape-checks.csv", on_frame.TAPE_HEAD, on_frame.tape_rows(f))


def _jig_files(shop: Shop, folder: Path) -> None:
    """A DXF a base, holes as centre pops, and the list of pins."""
    from parts.files.blank import write_blank

    if not shop.jigs:
        return
    folder.mkdir(exist_ok=True)
    for j in shop.jigs:
        b = jigs.base_sheet(j)
        write_blank(
            folder / f"{j.name.replace(' ', '-')}.dxf",
            b.outline,
            part=b.part,
            hand="either",
            thickness_mm=b.thickness_mm,
            material=b.material,
            smallest_hole_mm=LONGEST_MM,  # every pin a pop
        )
    write_table(folder / "pins.csv", jigs.PIN_HEAD, jigs.pin_rows(shop.jigs))


MASS_HEAD = ["part", "body", "mass, kg", "x, mm", "y, mm", "z, mm", "unsprung share"]


def _mass_rows(m: Masses) -> list[list[str]]:
    rows = [
        [p.name, p.body, f"{p.mass_kg:.3f}", *(f"{v:.1f}" for v in p.centre_mm), f"{p.unsprung:g}"]
        for p in m.parts
    ]
    return [
        *rows,
        [
            "corner, own parts",
            "",
            f"{m.total_kg:.3f}",
            *(f"{v:.1f}" for v in m.centre_of_gravity_mm),
            f"{m.unsprung_kg / m.total_kg if m.total_kg else 0:.3f}",
        ],
    ]


# ------------------------------------------------------------------------------------------------ the book


def _book(shop: Shop, layout: Layout, name: str, path: Path, printing: Printing) -> None:
    book = Book(f"{name}: shop book", printing.paper, "; ".join(printing.made))
    book.lines([CAUTION])
    book.heading("Cut list and bill of materials, one corner")
    numbered = [[str(n), *cut_list_line.cells(r)] for n, r in enumerate(shop.rows, 1)]
    book.table(["no.", *cut_list_line.HEAD], numbered, (2, 5, 16, 4, 14, 6, 6, 5, 5, 5, 30))
    book.heading("Plate by thickness")
    book.table(
        ["plate", "material", "net area, cm²", "mass, kg"],
        [[a, b, f"{c:.1f}", f"{d:.3f}"] for a, b, c, d in cut_list_line.plate_totals(shop.rows)],
        (3, 2, 2, 2),
    )
    _sawing(book, shop, layout)
    _tube_ends(book, shop)
    if shop.fitting is not None:
        order = account.fitting_rows(shop.fitting)
        book.heading("Frame: order of fitting and tacking")
        book.lines(fitting_rows.lines(order))
        book.table(fitting_rows.HEAD, fitting_rows.rows(order), fitting_rows.WIDTHS)
        book.new_page()
    book.heading("Masses")
    book.lines(_mass_lines(shop))
    book.new_page()
    book.heading("Hole table")
    book.lines(
        [
            "x from the left datum edge, y from the bottom one, as the template of that hand shows them. "
            "Limits: H7, ISO 286-2. Drills: common practice."
        ]
    )
    blanks = [*shop.blanks, *map(jigs.base_sheet, shop.jigs)]
    book.table(hole_table.HEAD, hole_table.rows(blanks), (15, 4, 3.4, 15, 5, 5, 6.6, 6, 11, 16, 15, 22, 8.6))
    if layout.sleeve is not None:
        book.heading("Sleeve: holes straight across")
        book.lines(
            [
                "Angles right-handed about the axis from rocker to spring, from the mark in line with the "
                "rod's arm; the arc runs along the outside of that tube. "
                "The other hand's angles have the opposite sign.",
                "The overlap is where the two tubes lie in each other. Its end at the rocker is no end of "
                "the inner tube where that is one piece with the pivot tube: "
                "measure the inner tube from its end at the spring.",
            ]
        )
        book.table(
            hole_table.SLEEVE_HEAD, hole_table.sleeve_rows(layout.sleeve), (2, 2, 2, 2, 4, 4, 3, 4, 3, 9)
        )
    book.new_page()
    if shop.welds is not None:
        book.heading(f"Tack and weld order, rocker, {shop.welds.hand} hand")
        book.lines(shop.welds.steps, numbered=True)
        book.table(
            ["tack", "tacks", "length, mm"],
            [[t.where, str(t.runs), f"{t.length_mm:g}"] for t in shop.welds.tacks],
            (8, 1, 1),
        )
        book.lines(
            [
                f"x and y from the pivot's centre, as the weld plan among the templates shows it. "
                f"{shop.welds.other_hand}"
            ]
        )
        book.table(weld_plan.HEAD, weld_plan.rows(shop.welds), (1, 1, 1, 8, 2, 2, 2, 2, 2, 1))
    if shop.places is not None:
        _places(book, shop.places)
    book.heading("Jigs")
    for j in shop.jigs:
        book.lines([f"{j.name}: {' '.join(j.notes)}"])
    book.table(jigs.PIN_HEAD, jigs.pin_rows(shop.jigs), (5, 1, 5, 2, 2, 3, 2, 2, 12))
    book.write(path)


def _places(book, f: on_frame.OnFrame) -> None:
    """Where everything goes on the frame."""
    book.new_page()
    book.heading(f"Where it goes on the frame, {f.side} side")
    book.lines(
        [
            "Along the tube from the named end as the job gives it (the node), and from the long point of "
            "that "
            "end as it is sawn; across from the face's middle line. Drawn at true size: where-on-frame.pdf."
        ]
    )
    book.table(
        [h.removesuffix(", mm") for h in on_frame.HEAD],
        on_frame.rows(f),
        (9, 7, 10, 8, 5, 6, 5, 6, 5, 5, 6, 5, 5, 9, 5, 5, 5, 5),
    )
    book.heading("On the rocker's axis")
    book.table(on_frame.STATION_HEAD, on_frame.station_rows(f), (10, 5, 3, 3, 3, 14))
    book.heading(f"Tape between bolt axes, {on_frame.TAPE_MM:g} mm (common practice)")
    book.table(on_frame.TAPE_HEAD, on_frame.tape_rows(f), (8, 8, 8, 3, 3, 3))
    book.heading("Order of welding on the frame")
    book.lines([*f.steps, *f.axles], numbered=True)
    book.new_page()


def _sawing(book, shop: Shop, layout: Layout) -> None:
    """Which piece of tube and rod comes from which bar."""
    if not shop.sawn:
        return
    process, sides = (
        layout.job.process,
        "both sides of the car"
        if sawing.sides_of(layout.job) == 2
        else f"the {needed(layout.job.nest).sides} side",
    )
    framed = (
        "; the frame's tubes among them (frame.sawn = false leaves them out)"
        if layout.job.frame.sawn and any(r.of_car for r in shop.rows)
        else ""
    )
    book.new_page()
    book.heading(f"Tube and rod: from which bar, {sides}")
    book.lines(
        [
            f"Saw: {process.saw}, {process.saw_kerf:g} mm a cut. Lengths are those of the cut list, turned "
            f"pieces {process.facing:g} mm longer for facing{framed}. {sawing.how_bought(layout.job)}"
            f"{'' if all(s.plan.proven for s in shop.sawn) else ' where nothing else is said'}."
        ]
    )
    book.drawings(sawing.strips(shop.sawn, book.room - 12))
    book.table(sawing.HEAD, sawing.rows(shop.sawn), (8, 5, 2, 5, 4, 50, 4))
    book.new_page()


def _tube_ends(book, shop: Shop) -> None:
    """Every end that is cut to another tube."""
    if not shop.tubes:
        return
    book.heading("Tube ends")
    book.lines(
        [
            "Tubes are sawn to their order length, from long point to long point; strips to wrap and "
            "pictures of the nodes: tube-ends.pdf. Lengths mm, angles deg. "
            f"A flat saw cut is given where it leaves no more than {tube_ends.NEAR_FLAT_MM:g} mm open beside "
            f"rounded corners; 'longer' names the side of the tube that reaches farther."
        ]
    )
    book.table(tube_end_tables.BOOK_HEAD, tube_end_tables.book_rows(shop.tubes), tube_end_tables.BOOK_WIDTHS)
    book.new_page()


def _mass_lines(shop: Shop) -> list[str]:
    m = shop.masses
    x, y, z = m.centre_of_gravity_mm
    lines = [
        f"Own parts of the corner {m.total_kg:.2f} kg, of it sprung {m.sprung_kg:.2f} and unsprung "
        f"{m.unsprung_kg:.2f} (half of arms and rod: common practice); "
        f"centre of gravity at ({x:.0f}, {y:.0f}, {z:.0f}). The frame's members given in the job: "
        f"{m.frame_members_kg:.2f} kg.",
        f"Without mass here: {'; '.join(m.missing)}.",
    ]
    costs = [r.cost for r in shop.rows if r.cost is not None]
    if costs:
        lines.append(
            f"Cost of the rows with a price: {sum(costs):.2f}; "
            f"{sum(r.cost is None and not r.of_the_frame and r.group != 'open' for r in shop.rows)} rows "
            f"have none."
        )
    return [*lines, *(shop.comparison.notes if shop.comparison else ())]
