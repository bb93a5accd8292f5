"""The verb `swept`: the room that each moving body takes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import (
    Change,
    JobFile,
    Paper,
    ScaleX,
    ScaleY,
    refuse,
    saved_on,
    study_of,
)


def swept(
    file: JobFile,
    change: Change = None,
    body: Annotated[
        list[str] | None,
        typer.Option("--body", metavar="NAME", help="only this moving body (may be repeated)"),
    ] = None,
    error: Annotated[
        float,
        typer.Option(
            "--error",
            metavar="MM",
            min=0.2,
            max=50.0,
            help="how far the meshes may reach beyond the true sweep",
        ),
    ] = 2.0,
    paper: Paper = "A4",
    scale_x: ScaleX = 1.0,
    scale_y: ScaleY = 1.0,
    out: Annotated[Path, typer.Option("--out", help="folder that gets the folder of the sweep")] = Path(
        "outputs"
    ),
) -> None:
    """The room each moving body sweeps over travel and rack: STL, one STEP, and the rocker's silhouette (DXF,
    PDF)."""
    from assemblies.making.sheets import letters
    from assemblies.making.sheets.paper import Printing, SheetError
    from assemblies.making.sweeping import swept as run
    from assemblies.results.folder import FolderError, fresh
    from assemblies.results.terminal import Progress

    s = study_of(file, change)
    progress = Progress()
    target = out / f"{s.job.slug}-swept"
    try:
        with fresh(target) as folder, letters.letters(letters.of(s.job)):
            printing = Printing(paper, scale_x, scale_y, saved_on(file))
            done = run(s, folder, tuple(body or ()), error, printing, progress.step)
    except (FolderError, SheetError, ValueError) as e:
        progress.end()
        refuse(str(e))
    progress.end()
    for d in done:
        typer.echo(
            f"{d.name:12} {d.mesh.volume_mm3 / 1e6:9.3f} l, {len(d.mesh.faces)} triangles, at most "
            f"{d.mesh.error_mm:.1f} mm beyond the true sweep"
        )
    typer.echo(f"Written: {target}")
