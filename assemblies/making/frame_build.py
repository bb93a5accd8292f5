"""Everything a build makes of a frame alone: cut list, bars, strips and nodes on paper, STEP of the whole, a
picture."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from assemblies.layout.frame import of_car, sides
from assemblies.layout.placing import Layout, Placed
from assemblies.making.drawn import Drawn
from assemblies.making.drawn import solids as shapes_of
from assemblies.making.picture import Camera, Facets, mesh_of, view
from assemblies.making.sheets import (
    cut_list,
    cut_list_line,
    fitting_rows,
    frame_book,
    node_view,
    sawing,
    tube_end_tables,
    tube_ends,
    tube_strips,
)
from assemblies.making.sheets.paper import Printing, write_pdf
from assemblies.results.findings import Finding
from assemblies.results.making import PartRow
from assemblies.results.model import Results
from assemblies.results.table_file import write_table
from assemblies.study import FrameStudy

KINDS = ("sheets", "solids", "pictures")  # of inputs.KINDS: a frame alone has no blanks to nest
SLIGHT = 0.01  # of the smaller one's metal: what two tubes of a node may share, as elsewhere
LEAST_MM3 = 1.0
Say = Callable[..., None]


def sheets(done: FrameStudy, results: Results, folder: Path, printing: Printing, progress: Say) -> Results:
    """All sheets in `folder`; the results with cut list and bars."""
    progress("shop sheets")
    folder.mkdir(parents=True, exist_ok=True)
    layout = done.layout
    listed = tuple(cut_list.frame_rows(layout))
    sawn = tuple(sawing.plans(listed, layout.job))
    pieces = tuple(tube_ends.pieces(layout))
    drawn = [
        *node_view.sheets(layout, printing),
        *tube_strips.sheets(pieces, layout.job.frame.paper, printing),
    ]
    if drawn:
        write_pdf(
            folder / "tube-ends.pdf", [s for _, s in drawn], printing, f"{layout.job.name}: nodes and strips"
        )
        write_table(folder / "tube-ends.csv", tube_end_tables.HEAD, tube_end_tables.rows(pieces))
    cut_list_line.write_csv(folder / "cut-list.csv", listed)
    write_table(folder / "bar-cutting.csv", sawing.HEAD, sawing.rows(sawn))
    if results.junctions is not None and results.junctions.fitting is not None:
        order = results.junctions.fitting
        write_table(folder / "fitting-order.csv", fitting_rows.HEAD, fitting_rows.rows(order))
    frame_book.write(folder / "frame-book.pdf", layout, results, listed, sawn, pieces, printing.paper)
    return results.grown(sawing.findings(sawn), **frame_book.in_results(listed, sawn))


# ------------------------------------------------------------ solids


def standing(layout: Layout) -> list[Drawn]:
    """Every member's solid where it stands; of those that the CAD kernel makes one of."""
    shapes = shapes_of(layout)
    return [
        Drawn(p.name, shapes[p.name], p.frame.matrix(), p, "frame") for p in layout.placed if p.name in shapes
    ]


def solids(done: FrameStudy, results: Results, folder: Path, progress: Say) -> Results:
    """STEP of the frame as listed, and of the mirror images that the other side takes; metal that two members
    share is told."""
    from assemblies.making.step import write_assembly

    progress("solids")
    layout = done.layout
    things = standing(layout)
    job = layout.job
    write_assembly(folder / f"{job.slug}.step", [(d.name, d.shape, d.where, d.colour) for d in things])
    twins = [
        (f"{d.name} other side", *d.twin(), d.colour)
        for d in things
        if sides(job) == "one" and _has_twin(job, d.of)
    ]
    if twins:
        write_assembly(folder / f"{job.slug}-other-side.step", twins)
    progress("shared metal")
    found = _shared(layout, things)
    rows = [
        PartRow(
            name=p.name,
            body=p.body,
            count=of_car(job, layout.members[p.name]) if p.name in layout.members else 1,
            material=p.material,
            mass_kg=p.mass_kg,
            centre_of_gravity_mm=list(p.centre_of_gravity_mm),
        )
        for p in layout.placed
    ]
    return results.grown(found, parts=rows)


def _has_twin(job, p: Placed) -> bool:
    m = job.member_by_name[p.name]
    if getattr(m, "from_", None) is None:
        return False
    return max(abs(m.from_[1]), abs(m.to[1])) > 1.0 and not m.from_[1] * m.to[1] < 0


def _shared(layout: Layout, things: Sequence[Drawn]) -> list[Finding]:
    """Metal that two solids share, by the CAD kernel: nothing cut out, nothing filled."""
    from assemblies.making.gap_views.whole import Looker
    from parts.files.measured import volume_mm3

    nodes = [set(n.members) for n in layout.junctions.nodes]
    looker, out = Looker(), []
    for s in looker.at(things, 0.0, 0.0):
        names = f"'{s.a.name}' and '{s.b.name}'"
        where = f"{s.a.name} and {s.b.name}"
        if s.unknown:
            text = (
                f"The CAD kernel could not tell whether {names} share metal: look at them in the STEP file."
            )
            out.append(Finding(level="warn", code="shared-metal", where=where, text=text))
            continue
        if s.common_mm3 <= LEAST_MM3:
            continue
        share = s.common_mm3 / min(volume_mm3(s.a.shape), volume_mm3(s.b.shape))
        slight = share <= SLIGHT and any({s.a.name, s.b.name} <= n for n in nodes)
        out.append(
            Finding(
                level="warn" if slight else "stop",
                code="shared-metal",
                where=where,
                text=f"By the CAD kernel {names} share {s.common_mm3:.0f} mm³ of metal, "
                f"{100 * share:.2g} % of the smaller one. Move one of them, or let one end on the "
                "other; what little tubes of a "
                "node keep is "
                "dressed on fitting.",
            )
        )
    if looker.left:
        text = f"{looker.left} pairs of solids were not looked at for shared metal: too many in one build."
        out.append(Finding(level="warn", code="shared-metal", where="shared metal", text=text))
    return out


# ------------------------------------------------------------ picture


def picture(done: FrameStudy, path: Path, progress: Say) -> Path:
    """PNG of the frame from ahead and outside, its other side's mirror images in a lighter grey."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    progress("picture")
    path.parent.mkdir(parents=True, exist_ok=True)
    items: list[Facets] = []
    for d in standing(done.layout):
        mesh = mesh_of(d.shape, d.where)
        items.append((mesh, None, d.colour))
        if sides(done.job) == "one" and _has_twin(done.job, d.of):
            twin = (mesh * np.array([1.0, -1.0, 1.0]))[:, ::-1]
            items.append((twin, None, tuple(0.5 + c / 2 for c in d.colour)))
    plt.imsave(path, view(items, Camera.usual(done.job.side)).image, metadata={"Software": None})
    return path
