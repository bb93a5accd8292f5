"""Verbs of measuring: tolerance, measure, asbuilt."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import (
    Change,
    JobFile,
    Paper,
    load,
    numbers,
    or_refuse,
    printed,
    refuse,
    study_of,
)


def tolerance(
    file: JobFile,
    change: Change = None,
    builds: Annotated[
        int, typer.Option("--builds", min=100, max=200_000, help="how many corners to build")
    ] = 10_000,
    point: Annotated[
        float,
        typer.Option("--point", metavar="MM", min=0.0, max=25.0, help="how well points are measured, ±"),
    ] = 2.0,
    seed: Annotated[int, typer.Option("--seed", min=0, help="of the random numbers")] = 1,
    gap: Annotated[
        bool, typer.Option("--gap", help="also the smallest gap's sensitivity (checks interference first)")
    ] = False,
    worst: Annotated[
        bool, typer.Option("--worst", help="also the worst case: everything off the bad way at once")
    ] = False,
) -> None:
    """What errors of measuring and building do, and which dimensions to measure twice."""
    from assemblies.tolerances.bands import Errors, lines, monte_carlo

    numbers(point=point)
    s = study_of(file, change, gap)
    found = or_refuse(
        lambda: monte_carlo(s.job, s.springing, Errors(point_mm=point, pivot_mm=point), builds, seed)
    )
    printed(
        f"{s.job.name}, {s.job.corner.side} corner: {builds} builds, points measured to ±{point:g} mm",
        [*lines(found, worst), *(_gap(s, found) if gap else [])],
    )


def _gap(s, found) -> list[tuple[str, list[str]]]:
    from assemblies.results.findings import guaranteed, lacking
    from assemblies.setup import words
    from assemblies.tolerances.gap_tolerance import gap_band

    band = gap_band(s, list(found.dimensions))
    if band is None:
        return [("Smallest gap", ["  none found, or its bodies overlap: see check"])]
    rows = [[name, f"{slope:+z.2f} mm", f"{share * 100:.0f} %"] for name, slope, share in band.top]
    return [
        (
            f"Smallest gap, {band.a} to {band.b} at wheel {band.at_wheel_mm:+z.0f} mm: "
            f"{guaranteed(band.gap_mm)} of {band.required_mm:g} mm, "
            f"±{lacking(2 * band.sigma_mm, 1)} mm (95 %)",
            words.table(["dimension", "gap per 1 mm (deg)", "share of variance"], rows),
        )
    ]


def measure(
    file: Annotated[
        Path, typer.Argument(help="a file of points and tape distances (TOML), or the sheet (PDF) to print")
    ],
    side: Annotated[
        str | None,
        typer.Option(
            "--side", help="side of the corner; unless given that of JOB or of the points, else left"
        ),
    ] = None,
    paper: Paper = "A4",
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="JOB", help="write the points into this job file; its comments stay"),
    ] = None,
) -> None:
    """Print a measuring sheet (name a .pdf), or work out points from tape distances (name a .toml)."""
    from assemblies.tolerances import measuring

    if file.suffix.lower() == ".pdf":
        if file.exists():
            refuse(f"{file} exists already and is left as it is; name another file")
        from assemblies.making.sheets.letters import letters

        with letters(()):
            made = or_refuse(lambda: measuring.sheet(file, side or "left", paper))
        typer.echo(f"Written: {made}")
        return
    if side not in (None, "left", "right"):
        refuse(f'--side is "{side}"; it must be left or right')
    found = or_refuse(lambda: measuring.read(file))
    job = load(into, None) if into is not None else None
    if job is not None and side not in (None, job.corner.side):
        refuse(f"--side is {side}, but {into} is a {job.corner.side} corner: leave --side out")
    side = job.corner.side if job is not None else side
    printed(f"Points from {file.name}", measuring.lines(found, side))
    if into is not None and job is not None:
        _into(into, job, or_refuse(lambda: measuring.for_job(found, job.corner.side)))
    raise typer.Exit(1 if any(p.bad for p in found.points) else 0)


def _into(file: Path, job, points: dict[str, list[float]]) -> None:
    from assemblies.job import JobError
    from assemblies.job.rewrite import rewritten

    try:
        text = rewritten(file.read_text(encoding="utf-8-sig"), job.changed(points))
    except (JobError, ValueError) as e:
        refuse(f"{file} is left as it is: {e}")
    beside = file.with_name(file.name + ".part")
    beside.write_text(text, encoding="utf-8")
    beside.replace(file)
    typer.echo(f"{file}: {len(points)} points written in.")


def asbuilt(
    file: JobFile,
    readings: Annotated[Path, typer.Argument(help="what was measured on the welded corner (TOML)")],
    change: Change = None,
) -> None:
    """From readings on the welded corner: what differs from the job, how sure that is, and the correction."""
    from assemblies.tolerances import as_built, as_built_words
    from assemblies.tolerances.readings import read

    s = study_of(file, change)
    given = or_refuse(lambda: read(readings))
    found = or_refuse(lambda: as_built.estimate(s.job, s.springing, given))
    printed(
        f"{s.job.name}, {s.job.corner.side} corner: as built", as_built_words.lines(s.job, s.springing, found)
    )
