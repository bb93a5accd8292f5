"""The verb `new`: a commented job file of the kind that is wanted, or the file of tapes or of readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import refuse


def new(
    file: Annotated[Path, typer.Argument(help="where to put the commented file")],
    axle: Annotated[str, typer.Option("--axle", help='"front" (a rack steers it) or "rear"')] = "front",
    spring: Annotated[
        str, typer.Option("--spring", help='"leaf-pack", "solid-bar" or "coil-over"')
    ] = "leaf-pack",
    rod: Annotated[
        str | None,
        typer.Option("--rod", help='"pull" or "push"; left out: pull, but push with a coil-over'),
    ] = None,
    side: Annotated[str, typer.Option("--side", help='"left" or "right"')] = "left",
    tapes: Annotated[
        bool, typer.Option("--tapes", help="the file of tape distances for `measure` instead")
    ] = False,
    readings: Annotated[
        bool, typer.Option("--readings", help="the file of readings for `asbuilt` instead")
    ] = False,
) -> None:
    """Write a commented job file, of the kind you name; an existing file is never overwritten."""
    from assemblies import tolerances
    from assemblies.job.kinds import written

    if tapes and readings:
        refuse("--tapes and --readings are two files: write one, then the other")
    kind = (axle, spring, rod, side) != ("front", "leaf-pack", None, "left")
    if kind and (tapes or readings):
        refuse(
            f"{'--tapes' if tapes else '--readings'} writes the same file for every kind: leave the kind out"
        )
    if tapes or readings:
        beside = Path(tolerances.__file__).with_name("tapes.toml" if tapes else "readings.toml")
        text = beside.read_text(encoding="utf-8")
        then = f"measure {file}" if tapes else f"asbuilt JOB {file}"
    else:
        try:
            text, then = written(axle, spring, rod, side), f"check {file}"
        except ValueError as e:
            refuse(str(e))
    try:
        with file.open("x", encoding="utf-8") as f:
            f.write(text)
    except FileExistsError:
        refuse(f"{file} exists already and is left as it is; name another file")
    except (OSError, ValueError) as e:
        refuse(f"{file} cannot be written: {getattr(e, 'strerror', None) or e}")
    typer.echo(
        f"{file} written. Put in your own {'readings' if readings else 'points'}, then: rockershed {then}"
    )
