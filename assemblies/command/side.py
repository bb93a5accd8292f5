"""The verb `side`: a corner's job file for the other side of the car."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import (
    JobFile,
    load,
    or_refuse,
    refuse,
)


def side(
    file: JobFile,
    other: Annotated[Path, typer.Argument(help="where to put the other side's job file")],
) -> None:
    """The same corner on the other side of the car: every sign and axis turned, comments kept, in a new
    file."""
    from assemblies.job.rewrite import other_side

    job = load(file, None)
    text = or_refuse(lambda: other_side(file.read_text(encoding="utf-8-sig"), job))
    try:
        with other.open("x", encoding="utf-8") as f:
            f.write(text)
    except FileExistsError:
        refuse(f"{other} exists already and is left as it is; name another file")
    typer.echo(
        f"{other} written: the other side of {file}. A STEP file's path counts from the new file's folder."
    )
