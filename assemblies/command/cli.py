"""The command `rockershed`: new, check, build, fea, compare, watch, bench and the verbs of the workshop. Exit
status 0 all well, 1 a finding says it cannot work, 2 the job file is wrong."""

from __future__ import annotations

import atexit
import math
import os
import re
import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import (
    Change,
    JobFile,
    Paper,
    ScaleX,
    ScaleY,
    leave,
    load,
    plain,
    refuse,
    saved_on,
)
from assemblies.command.helping import ByWork
from assemblies.command.measuring import asbuilt, measure, tolerance
from assemblies.command.new import new
from assemblies.command.setting import clock, corners, correct
from assemblies.command.side import side
from assemblies.command.steer import steer
from assemblies.command.sweep import swept
from assemblies.command.swing import swing
from assemblies.results.faults import FAULT
from assemblies.results.terminal import Progress, styled

app = typer.Typer(
    cls=ByWork,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="From hard points on a mock-up to an inboard suspension corner you can cut, weld and set up. "
    "It assists; it approves nothing: follow local vehicle rules and have an engineer check.",
)


def _version(asked: bool) -> None:
    if asked:
        from parts.base.version import version

        typer.echo(f"rockershed {version()}")
        raise typer.Exit()


@app.callback()
def rockershed(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="say the version and end")
    ] = False,
) -> None:
    pass


@app.command()
def check(
    file: JobFile,
    change: Change = None,
    json: Annotated[
        bool, typer.Option("--json", help="print the content of results.json and nothing else")
    ] = False,
    interference: Annotated[
        bool, typer.Option("--interference/--no-interference", help="check gaps over the whole travel")
    ] = True,
    cures: Annotated[
        bool,
        typer.Option(
            "--cures",
            help="for each short gap work out the smallest shift of the member or trim of the rocker that "
            "cures it",
        ),
    ] = False,
    full: Annotated[
        bool, typer.Option("--full", help="every finding in full, all names, all assumptions")
    ] = False,
    assumed: Annotated[
        bool, typer.Option("--assumed", help="also the assumptions not told before for this job file")
    ] = False,
) -> None:
    """Numbers and interference, in a moment, without CAD; nothing is written."""
    from assemblies.making import inputs
    from parts.files.remembered import once

    progress = Progress()
    job = load(file, change, corner=False)

    def work():
        from assemblies.study import study
        from assemblies.study.kept import keep_made, made_last

        made = made_last(job)
        asked = dict(interference=interference, cures=cures, try_cures=True)
        results = study(job, progress=progress.step, made=made, **asked).results
        keep_made(job, made)
        return results

    name = inputs.name_of(job, (interference, cures))
    results = once("check", name, work, sound=_whole) if name else work()
    progress.end()
    sys.stdout.write(results.to_json() if json else _told(file, results, full, assumed))
    if cures and not json:
        from assemblies.gaps.cures.account import quoted, to_try

        given = " ".join(
            [
                str(file) if re.fullmatch(r"[\w./\\:-]+", str(file)) else quoted(str(file)),
                *(f"--change {quoted(c)}" for c in change or ()),
            ]
        )
        for options in to_try(results.clearance):
            typer.echo(f"Try: rockershed check {given} {options}")
    leave(results)


def _whole(results) -> bool:
    """Whether no room of the study fell by a fault, which may have been of this one run."""
    return all(f.code != FAULT for f in results.findings)


def _told(file: Path, results, full: bool, assumed: bool) -> str:
    """All in full; or the brief account, with the assumptions that were not told before where they are asked
    for."""
    from assemblies.results import summary
    from assemblies.results.told import tell, untold

    fresh = untold(file, results.assumed)
    if full or assumed:
        tell(file, results.assumed)
    if full:
        return summary.text(results)
    said = summary.assumed(fresh) if assumed else []
    count, new = len(results.assumed), "all" if len(fresh) == len(results.assumed) else len(fresh) or "none"
    hint = f"{count} values assumed, {new} new here (--assumed tells those, --full all)"
    return "\n".join(
        [*said, *([""] if said else []), summary.brief(results, "" if assumed else f"      {hint}")]
    )


@app.command()
def build(
    file: JobFile,
    change: Change = None,
    out: Annotated[Path, typer.Option("--out", help="folder that gets one folder a job")] = Path("outputs"),
    at: Annotated[
        list[float] | None,
        typer.Option(
            "--at", metavar="MM", help="also write the corner's STEP at this wheel height (may be repeated)"
        ),
    ] = None,
    paper: Paper = "A4",
    scale_x: ScaleX = 1.0,
    scale_y: ScaleY = 1.0,
    shrink: Annotated[
        float,
        typer.Option(
            "--shrink",
            metavar="MM",
            min=0.0,
            max=2.0,
            help="set the rocker jig's eyes out by this much for weld shrink",
        ),
    ] = 0.0,
    only: Annotated[
        str | None,
        typer.Option(
            "--only",
            metavar="KINDS",
            help="make just these besides the numbers: blanks, sheets, solids, pictures, nest, report, with "
            "commas between",
        ),
    ] = None,
) -> None:
    """Everything: numbers, blanks, sheets, solids, pictures and nest into a fresh folder that replaces the
    last good one."""
    from assemblies.making import inputs
    from assemblies.making.build import BuildError
    from assemblies.making.build import build as make
    from assemblies.making.sheets.paper import Printing, SheetError
    from assemblies.results.summary import brief

    progress = Progress()
    job = load(file, change, corner=False)
    try:
        folder, results = make(
            job,
            out,
            at_wheel_mm=tuple(at or ()),
            progress=progress.step,
            printing=Printing(paper, scale_x, scale_y, saved_on(file)),
            shrink_mm=shrink,
            kinds=inputs.kinds_of(only),
        )
    except (BuildError, SheetError) as e:
        progress.end()
        refuse(str(e))
    progress.end()
    typer.echo(brief(results, f"      all of it in full: {folder / 'summary.txt'}"))
    typer.echo(f"Written: {folder}")
    leave(results)


@app.command()
def nest(
    file: JobFile,
    change: Change = None,
    out: Annotated[Path, typer.Option("--out", help="folder that gets the folder of the nest")] = Path(
        "outputs"
    ),
    effort: Annotated[
        int, typer.Option("--effort", min=1, help="moves of the search: more packs tighter and takes longer")
    ] = 6000,
    seconds: Annotated[
        float | None,
        typer.Option(
            "--seconds",
            min=1.0,
            help="be done in this long, proof and pictures too, with the best nest so far",
        ),
    ] = None,
    seed: Annotated[
        int,
        typer.Option(
            "--seed", min=0, help="another seed tries another way; the same one gives the same nest"
        ),
    ] = 0,
) -> None:
    """Lay the blanks of both sides on the plates in hand ([stock]): drawing to cut from, picture, what finds
    no room."""
    from assemblies.nesting.model import NestError
    from assemblies.results.folder import FolderError, fresh
    from assemblies.results.terminal import paragraph
    from assemblies.study import study

    progress, begun = Progress(), time.monotonic() - time.process_time()  # its own start counts
    job = load(file, change)
    if not job.stock.plate:
        refuse(f"{file}: no plate in hand; add stock.plate with its thickness and outline")
    from assemblies.making.nest_job import nest_job
    from assemblies.making.sheets import letters

    layout = study(job, interference=False, progress=progress.step).layout
    if layout is None or not layout.flat:
        refuse(f"{file}: there is no blank to nest; see rockershed check {file}")
    target = out / f"{job.slug}-nest"
    try:
        with fresh(target) as folder, letters.letters(letters.of(job)):
            done = nest_job(layout, folder, effort, seed, progress.step, seconds or math.inf, begun)
    except (FolderError, NestError) as e:
        progress.end()
        refuse(str(e))
    progress.end()
    for f in done.findings:
        typer.echo(
            f"{styled(f.level.upper().rjust(4), f.level)}  "
            f"{styled(f.where, 'bold')}\n{paragraph(f.text, '      ')}"
        )
    typer.echo(f"Written: {target}")


@app.command()
def fea(
    file: JobFile,
    change: Change = None,
    out: Annotated[Path, typer.Option("--out", help="folder that gets one folder a job")] = Path("outputs"),
    size: Annotated[
        float,
        typer.Option("--size", metavar="MM", min=0.5, max=20, help="edge length of the mesh away from holes"),
    ] = 3.0,
) -> None:
    """The rocker plate by finite elements, as a check on the hand formulas: picture and table (needs
    scikit-fem)."""
    from assemblies.strength.fea.account import account
    from assemblies.study import study

    progress = Progress()
    job = load(file, change)
    s = study(job, interference=False, progress=progress.step)
    try:
        progress.step("finite elements")
        said, folder = account(s, out / f"{job.slug}-fea", size)
    except (ValueError, ImportError) as e:
        progress.end()
        refuse(str(e))
    progress.end()
    typer.echo(said)
    typer.echo(f"Written: {folder}")


@app.command()
def compare(
    file: JobFile,
    other: Annotated[
        Path | None, typer.Argument(help="the job file to compare it with; else give --change")
    ] = None,
    change: Change = None,
    out: Annotated[Path, typer.Option("--out", help="folder that gets the page of both")] = Path("outputs"),
    interference: Annotated[
        bool, typer.Option("--interference/--no-interference", help="check gaps over the whole travel")
    ] = True,
) -> None:
    """Two jobs, or one with other values of keys: what changes, the same curves over each other, which parts
    must be cut again."""
    from assemblies.making.compare import compare as run

    if other is None and not change:
        refuse("name a second job file, or give --change KEY=VALUE")
    a, b = load(file, None), load(other or file, change)
    progress = Progress()
    labels = (a.name, f"{b.name} with {', '.join(change)}") if change else None
    path, said, works = run(a, b, out, labels, interference, progress.step)
    progress.end()
    typer.echo(said)
    typer.echo(f"Written: {path}")
    raise typer.Exit(0 if works else 1)


@app.command()
def watch(
    file: JobFile,
    out: Annotated[Path, typer.Option("--out", help="folder that gets one folder a job")] = Path("outputs"),
    port: Annotated[
        int,
        typer.Option("--port", min=0, max=65535, help="port of the page on this machine; 0 takes a free one"),
    ] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="open the page")] = True,
) -> None:
    """Look at the job file as you edit it: numbers at once, gaps and solids when ready, in a page that
    reloads itself. Ctrl-C ends."""
    from assemblies.making.watch import watch as run

    try:
        run(file, out, port, browser, typer.echo)
    except OSError as e:
        refuse(f"the page cannot be served on port {port}: {e.strerror}; take another --port")


@app.command()
def bench(
    rooms: Annotated[
        list[str] | None,
        typer.Argument(metavar="ROOM", help="work, watching, motion, solids, clearance or nesting; else all"),
    ] = None,
) -> None:
    """Measure the project's speed as ratios side by side, the last runs' beside (all: some ten minutes)."""
    from assemblies.bench.runner import ROOMS, run

    if unknown := [r for r in rooms or () if r not in ROOMS]:
        refuse(f"bench {unknown[0]}: measures {', '.join(ROOMS)}; leave it out for all")
    raise typer.Exit(run(typer.echo, rooms or ROOMS))


for verb in (clock, correct, corners, tolerance, measure, side, asbuilt, swept, swing, new, steer):
    app.command()(verb)


def main() -> None:
    """The verb asked for; then the process ends at once: to take apart all it holds, piece by piece, costs a
    twentieth of a check."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    asked = [c for c in app.registered_commands if c.callback and [c.callback.__name__] == sys.argv[1:2]]
    app.registered_commands = asked or app.registered_commands  # to read every verb's options takes time
    status = 1
    try:
        try:
            app()
        finally:
            print(end="", flush=True)
    except SystemExit as end:
        status = int(end.code or 0)
    except BrokenPipeError:  # whoever read the output has seen enough
        pass
    except OSError as e:  # a file or folder that the system refuses, wherever it was met
        name = str(e.filename or "")
        typer.echo(
            f"error: {plain(name if len(name) < 300 else name[:120] + ' ...')}: {e.strerror or e}", err=True
        )
        status = 2
    atexit._run_exitfuncs()
    os._exit(status)


if __name__ == "__main__":
    main()
