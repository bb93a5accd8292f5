"""The verb `steer`: what the rack does, where the wheel stands and rolls, and the sheet for strings and
plumb bob."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import leave, load, refuse
from assemblies.results.terminal import Progress, paragraph, styled


def steer(
    file: Annotated[Path, typer.Argument(help="the job file (TOML)")],
    other: Annotated[
        Path | None,
        typer.Argument(help="the job file of the axle's other side; else it is this one's mirror image"),
    ] = None,
    change: Annotated[
        list[str] | None,
        typer.Option("--change", metavar="KEY=VALUE", help="try another value of a key (may be repeated)"),
    ] = None,
    out: Annotated[Path, typer.Option("--out", help="folder that gets the folder of the sheet")] = Path(
        "outputs"
    ),
    interference: Annotated[
        bool, typer.Option("--interference/--no-interference", help="check gaps, for the lock they allow")
    ] = True,
    room: Annotated[
        bool,
        typer.Option("--room", help="also look for room on a grid of places for the rack (half a minute)"),
    ] = False,
) -> None:
    """Steering and corner geometry: lock, Ackermann, circle, bump steer, roll centre, and a sheet to check
    them by strings."""
    from assemblies.making.sheets import steering_sheet
    from assemblies.results.folder import FolderError, fresh
    from assemblies.steering.strings import string_check
    from assemblies.steering.words import definitions, lines
    from assemblies.study import study

    progress = Progress()
    job = load(file, change)
    across = load(other, None) if other is not None else None
    if across is not None and across.corner.side == job.corner.side:
        refuse(f'{other}: corner.side is "{job.corner.side}", as in {file}; name the other side\'s job')
    done = study(job, interference=interference, progress=progress.step)
    progress.end()
    r = with_places(done, room, progress.step)
    if across is not None and r.geometry is not None and done.springing is not None:
        r = with_other_side(r, done, across, other)
    progress.end()
    if r.steering is None or r.geometry is None or done.springing is None:
        refuse(f"{file}: the corner does not stand at ride height; see rockershed check {file}")
    typer.echo(styled(f"{r.name}, {r.side} corner: steering", "bold"))
    for line in lines(r):
        typer.echo(paragraph(line, "  "))
    for f in r.findings:
        if f.code in CODES:
            typer.echo(f"{styled(f.level.upper().rjust(4), f.level)}  {styled(f.where, 'bold')}")
            typer.echo(paragraph(f.text, "      "))
    typer.echo(styled("What the numbers mean:", "bold"))
    for line in definitions(r):
        typer.echo(styled(paragraph(line, "  "), "dim"))
    target = out / f"{job.slug}-steer"
    try:
        with fresh(target) as folder:
            reach = done.springing.ends.within(job.corner.droop, job.corner.bump)
            check = string_check(job, done.mechanism, reach)
            made = done.layout.rack_extension if done.layout is not None else None
            steering_sheet.write(r, check, folder / "steering.pdf", None if made is None else made.part)
    except FolderError as e:
        refuse(str(e))
    typer.echo(f"Written: {target / 'steering.pdf'}")
    leave(r)


def with_other_side(r, done, job, file):
    """The results with the axle made of both jobs."""
    import numpy as np

    from assemblies.steering.account import axle
    from assemblies.steering.geometry import corner
    from assemblies.study import study

    there = study(job, interference=False)
    if there.springing is None:
        refuse(f"{file}: the corner does not stand at ride height; see rockershed check {file}")
    at_ride = corner(done.mechanism.at(np.zeros(1)))
    both = axle(done.job, done.mechanism, done.springing, at_ride, (job, there.springing))
    return replace(r, geometry=replace(r.geometry, axle=both))


def with_places(done, grid: bool, progress):
    """The results with the zone of the inner joint, and the lock that the gaps allow where they were
    checked."""
    from assemblies.steering.lock import lock_by_gaps_mm
    from assemblies.steering.places import zone_row

    r = done.results
    if r.steering is None or done.springing is None or done.layout is None:
        return r
    progress("places of the rack")
    ends = done.springing.ends
    found = zone_row(done.job, done.layout, ends, r.clearance.checked, grid, progress)
    r = replace(r, steering=replace(r.steering, zone=found))
    progress("lock that the gaps allow")
    try:
        lock = lock_by_gaps_mm(done.job, done.mechanism, ends, done.layout, r.clearance)
    except ValueError:
        return r
    return replace(r, steering=replace(r.steering, lock_by_gaps_mm=lock))


CODES = ("lock-stop", "bump-steer", "inner-joint-outboard", "tie-rod-tilt", "steering-toggle", "rack-reach")
