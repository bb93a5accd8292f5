"""What every verb needs: a job read or refused in one line, a change given as KEY=VALUE, the exit status."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from assemblies.job.values import plain
from assemblies.results.terminal import Progress, paragraph, styled

JobFile = Annotated[Path, typer.Argument(help="the job file (TOML)")]
Change = Annotated[
    list[str] | None,
    typer.Option(
        "--change",
        metavar="KEY=VALUE",
        help="try another value of a key, e.g. rocker.plate_thickness=4 (may be repeated)",
    ),
]

Paper = Annotated[str, typer.Option("--paper", help="paper of the sheets: A4, A3 or Letter")]
ScaleX = Annotated[
    float,
    typer.Option(
        "--scale-x", metavar="FACTOR", help="nominal/measured of the level check bar on a test print"
    ),
]
ScaleY = Annotated[
    float,
    typer.Option(
        "--scale-y", metavar="FACTOR", help="nominal/measured of the upright check bar on a test print"
    ),
]


def load(file: Path, change: list[str] | None, corner: bool = True):
    """The job of a file; `corner`: one with members only is refused."""
    from assemblies.job import FrameJob, JobError, load

    try:
        job = load(file)
        if corner and isinstance(job, FrameJob):
            refuse(
                f"{file}: has members only, and this verb needs a corner: check and build take a frame alone"
            )
        if change:
            job = job.changed(dict(pair(c) for c in change))
        if any(m.shape == "step" for m in job.member):
            from assemblies.layout import step_neighbours as imports

            progress = Progress()
            imports.read(job, progress.step)
            progress.end()
        return job
    except JobError as e:
        refuse(f"{file}:\n{e}")


def saved_on(file: Path) -> str:
    """The day a job file was last saved, as its sheets say it: year-month-day."""
    from datetime import date

    return date.fromtimestamp(file.stat().st_mtime).isoformat()


def pair(text: str) -> tuple[str, object]:
    """KEY=VALUE with the value read as TOML reads it; a bare word is a text."""
    import tomllib

    key, eq, value = text.partition("=")
    if not eq or not key.strip() or not value.strip():
        refuse(f"--change {text}: write KEY=VALUE, for example rocker.plate_thickness=4")
    try:
        return key.strip(), tomllib.loads(f"v = {value}")["v"]
    except tomllib.TOMLDecodeError:
        return key.strip(), value.strip()


def numbers(**options: float | int | None) -> None:
    """Refuse an option that is no finite number of a size anything here has."""
    for name, value in options.items():
        if value is not None and not abs(value) < 1e6:
            refuse(f"--{name} is {value:g}; it must be a plain number below a million: check the digits")


def refuse(message: str) -> NoReturn:
    said = "\n".join(map(plain, message.split("\n")))
    typer.echo(f"{styled('error', 'stop', sys.stderr)}: {said}", err=True)
    raise typer.Exit(2)


def leave(results) -> None:
    from assemblies.results.findings import stops

    raise typer.Exit(1 if stops(results.findings) else 0)


def study_of(file: Path, change: list[str] | None, interference: bool = False):
    """The corner's numbers, as a rule without the gaps; refuses one that cannot stand."""
    from assemblies.study import study

    s = study(load(file, change), interference=interference)
    if s.springing is None:
        refuse(f"{file}: {s.results.findings[0].text}")
    return s


def or_refuse(make):
    try:
        return make()
    except ValueError as e:
        refuse(str(e))


def printed(title: str, blocks: list[tuple[str, list[str]]]) -> None:
    from assemblies.results.summary import CAUTION

    out = [styled(title, "bold")]
    for head, lines in blocks:
        if lines:
            out += [*([styled(head, "bold")] if head else []), *lines, ""]
    typer.echo("\n".join([*out, paragraph(CAUTION, "")]))
