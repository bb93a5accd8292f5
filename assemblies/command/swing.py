"""The verb `swing`: a rocker, or any part that turns, alone against what stands round it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import refuse
from assemblies.results.terminal import paragraph, styled


def swing(
    file: Annotated[Path, typer.Argument(help="the swing file (TOML)")],
    new: Annotated[
        bool, typer.Option("--new", help="write a commented file to start from; never overwrites")
    ] = False,
    numbers: Annotated[
        bool, typer.Option("--numbers", help="print the gaps only: no files, no CAD kernel")
    ] = False,
    out: Annotated[Path, typer.Option("--out", help="folder that gets the folder of the swing")] = Path(
        "outputs"
    ),
) -> None:
    """A rocker, or any part that turns, alone: its proven gaps over the swing, a picture, the silhouette to
    cut."""
    from assemblies.job import JobError, slug
    from assemblies.results.findings import stops
    from assemblies.results.folder import FolderError, fresh
    from assemblies.results.terminal import Progress
    from assemblies.swing.file import load, starter
    from assemblies.swing.swing import NOT_CHECKED

    if new:
        try:
            with file.open("x", encoding="utf-8") as f:
                f.write(starter())
        except FileExistsError:
            refuse(f"{file} exists already and is left as it is; name another file")
        except OSError as e:
            refuse(f"{file} cannot be written: {e.strerror}")
        typer.echo(f"{file} written. Put in your own numbers, then: rockershed swing {file}")
        return
    progress = Progress()
    try:
        made = load(file)
        if numbers:
            gaps, findings, target = made.gaps(), made.findings(), None
        else:
            from assemblies.making.swing_views import write

            target = out / f"{slug(made.name)}-swing"
            with fresh(target) as folder:
                gaps, findings = write(made, folder, progress.step)
    except JobError as e:
        progress.end()
        refuse(f"{file}:\n{e}")
    except (FolderError, ValueError) as e:
        progress.end()
        refuse(f"{file}: {e}")
    progress.end()
    typer.echo(styled(f"{made.name}: {made.from_deg:g} to {made.to_deg:g} deg", "bold"))
    for g in gaps:
        typer.echo(f"  {g}")
    for finding in findings:
        typer.echo(f"{styled(finding.level, finding.level)}  {finding.where}")
        typer.echo(paragraph(finding.text))
    typer.echo(NOT_CHECKED)
    if target:
        typer.echo(f"Written: {target}")
    raise typer.Exit(1 if stops(findings) else 0)
