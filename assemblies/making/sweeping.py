"""The room that moving bodies sweep, as files: meshes, STEP, and the rocker's flat silhouette to cut from
cardboard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from assemblies.clearance.swept import Envelope, envelope, plane, silhouette, write_stl
from assemblies.job import Job, slug
from assemblies.layout import bodies as neighbours
from assemblies.layout.placing import needed
from assemblies.making.sheets import drawing as sheet
from assemblies.making.sheets.paper import Printing, Sheet, write_pdf
from assemblies.study import Study
from parts.base.frozen import dataclass
from parts.shape.form import Frame
from parts.shape.outline import Outline

ERROR_MM = 2.0  # of the meshes; the silhouette's is a tenth
SWEPT = "SWEPT"


@dataclass(frozen=True)
class Sweep:
    """What was written for a body."""

    name: str
    mesh: Envelope
    path: Path


def moving(done: Study) -> list[str]:
    """Names of the bodies that move."""
    return sorted(
        {b.name for b in neighbours.bodies(needed(done.layout)) if b.carrier != "frame" and b.forms}
    )


def swept(
    done: Study,
    folder: Path,
    names: Sequence[str] = (),
    error_mm: float = ERROR_MM,
    printing: Printing | None = None,
    progress: Callable[..., None] = lambda *_: None,
) -> list[Sweep]:
    """STL and STEP of each body's sweep over travel and rack, and the rocker's silhouette as
    DXF and PDF. A rod comes with its outboard end, which is a body of its own.

    Raises ValueError for a body that is not there or does not move."""
    from assemblies.making.step import colour_of, write_assembly
    from parts.files.shapes import faceted

    job, bodies, known = done.job, neighbours.bodies(needed(done.layout)), moving(done)
    for name in names:
        if name not in known:
            raise ValueError(f"--body {name}: no body of that name moves; these do: {', '.join(known)}")
    names = tuple(
        dict.fromkeys(
            part
            for name in names
            for part in ((name, "rod end") if name == "rod" and "rod end" in known else (name,))
        )
    )
    travel = _travel(job, done)
    out, solids = [], []
    for name in names or known:
        mesh = envelope(name, bodies, done.mechanism, travel, job.tie_rod.rack_travel, error_mm, progress)
        out.append(
            Sweep(
                name,
                mesh,
                write_stl(folder / f"{slug(name)}-swept.stl", mesh.triangles, f"{job.name} {name} swept"),
            )
        )
        progress(f"swept: {name}, solid")
        carrier = next(b.carrier for b in bodies if b.name == name)
        solids.append(
            (
                f"{name} swept {job.corner.side}",
                faceted(mesh.corners, mesh.faces),
                Frame(),
                colour_of(name, carrier),
            )
        )
    progress("swept: STEP")
    for name, solid in zip(names or known, solids, strict=True):
        write_assembly(folder / f"{slug(name)}-swept.step", [solid])
    if "rocker" in (names or known):
        progress("swept: silhouette")
        flat = silhouette(
            "rocker",
            bodies,
            done.mechanism,
            job.rocker.pivot,
            job.rocker.axis,
            travel,
            job.tie_rod.rack_travel,
            error_mm / 10,
        )
        write_silhouette(job, flat, folder / f"rocker-swept-{job.corner.side}", printing or Printing())
    return out


def _travel(job: Job, done: Study) -> tuple[float, float]:
    """What the check goes over: the job's travel, as far as the corner closes."""
    closes = needed(done.springing).ends.closes_mm
    return max(-job.corner.droop, closes[0] + 0.01), min(job.corner.bump, closes[1] - 0.01)


def write_silhouette(job: Job, outlines: Sequence[Outline], path: Path, printing: Printing) -> list[Path]:
    """DXF (layer SWEPT) and 1:1 pages of the rocker's sweep, the pivot at 0, 0, seen from the tip of its
    axis."""
    words = (
        f"rocker, all it sweeps - {job.corner.side.upper()} corner",
        f"{seen_from(job.rocker.pivot, job.rocker.axis)} - pop: pivot centre",
        "from outside: holes filled, nothing taken off",
    )
    silhouette_dxf(path.with_suffix(".dxf"), outlines, words)
    paper = silhouette_paper(outlines, job.rocker.pivot_tube.outer)
    area = sum(o.area_mm2 for o in outlines) / 100
    legend = (
        "The cross is the pivot's centre, the dashed circle its tube. Nothing may stand inside the line in "
        "the rocker's width, and what the table of gaps asks must stay free round it.",
        f"The line lies outside the true sweep; holes and windows count as filled. Swept over "
        f"{-job.corner.droop:g} to {job.corner.bump:+g} mm of wheel travel and the whole rack.",
    )
    write_pdf(
        path.with_suffix(".pdf"),
        [
            Sheet(
                words[0],
                f"{words[1].split(' - ')[0]} - {area:.0f} cm² - "
                "cut from cardboard and hold it on the mock-up",
                paper,
                legend,
            )
        ],
        printing,
        f"{job.name}: the rocker's sweep",
    )
    return [path.with_suffix(".dxf"), path.with_suffix(".pdf")]


def seen_from(pivot, axis) -> str:
    """From where a silhouette is seen, and which way is up in it."""
    return f"seen from the tip of its axis, y {'up' if abs(plane(pivot, axis).z[2]) < 0.99 else 'forward'}"


def silhouette_dxf(path: Path, outlines: Sequence[Outline], words: tuple[str, ...]) -> None:
    """The outlines on layer SWEPT, the pivot at 0, 0 and the words on MARK."""
    from parts.files import dxf

    d = dxf.DxfDrawing({SWEPT: 3, dxf.MARK: 5})
    for o in outlines:
        for loop in (o.outer, *o.inner):
            d.loop(SWEPT, loop)
    d.pop(dxf.MARK, 0.0, 0.0)
    d.foot(
        dxf.MARK, min(o.bounds[0] for o in outlines), min(o.bounds[1] for o in outlines) - dxf.CLEAR_MM, words
    )
    dxf.write_sheet(path, d)


def silhouette_paper(outlines: Sequence[Outline], pivot_mm: float = 0.0):
    """The same at true size: a cross at the pivot, a dashed circle of its tube where a diameter is given."""
    paper = sheet.Drawing()
    for o in outlines:
        for loop in (o.outer, *o.inner):
            paper.loop(loop, sheet.CUT)
    paper.cross(0.0, 0.0, 8.0, 1.0)
    if pivot_mm:
        paper.circle(0.0, 0.0, pivot_mm, sheet.DRILLED)
    return paper
