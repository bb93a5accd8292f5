"""Verbs of the workshop: clock, correct, corners, tolerance, measure, side, asbuilt, swept, and with them
swing.
`add(app)` hangs them on the command."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import load, numbers, refuse
from assemblies.command.swing import swing
from assemblies.results.terminal import paragraph, styled

JobFile = Annotated[Path, typer.Argument(help="the job file (TOML)")]
Change = Annotated[
    list[str] | None,
    typer.Option("--change", metavar="KEY=VALUE", help="try another value of a key (may be repeated)"),
]

Paper = Annotated[str, typer.Option("--paper", help="paper of the sheets: A4, A3 or Letter")]


def add(app: typer.Typer) -> None:
    for verb in (clock, correct, corners, tolerance, measure, side, asbuilt, swept, swing):
        app.command()(verb)


def clock(
    file: JobFile,
    change: Change = None,
    wind: Annotated[
        float,
        typer.Option(
            "--wind",
            metavar="DEG",
            help="list settings round this wind from the design setting, + raises the car (coil-over: mm)",
        ),
    ] = 0.0,
    count: Annotated[int, typer.Option("--count", min=1, max=200, help="how many settings")] = 9,
    step: Annotated[
        float | None,
        typer.Option("--step", metavar="DEG", help="also list hole counts that give a step this fine"),
    ] = None,
    bolt: Annotated[str, typer.Option("--bolt", help="bolt for --step")] = "M8",
    lever: Annotated[
        float | None,
        typer.Option("--lever", metavar="MM", help="length of the winding lever, 600 unless given"),
    ] = None,
    sheets: Annotated[
        Path | None, typer.Option("--sheets", metavar="DIR", help="write the wrap strips of both hands here")
    ] = None,
    paper: Paper = "A4",
) -> None:
    """Clocking: settings, preload to wind in, what a wrong tooth does, slide and adjusters."""
    from assemblies.setup import collar, preload, words
    from assemblies.setup.account import set_up
    from assemblies.setup.clocking import clocking
    from assemblies.setup.clocking.drilling import drilling
    from assemblies.setup.standing import Standing
    from assemblies.study.wound import breaks

    numbers(wind=wind, step=step, lever=lever)
    s = _study(file, change)
    linear = s.springing.spring.linear
    if linear and lever is not None:
        refuse("--lever: a coil-over is not wound by a lever; its collar squeezes the coil")
    lever_mm = preload.LEVER_MM if lever is None else lever
    base, u, found = _or_refuse(lambda: set_up(s.job, s.springing, s.layout, lever_mm))
    drill = drilling(s.job, s.layout, s.springing.preload.sense)
    c = clocking(s.job, s.springing, drill, wind, count) if base.steps and (wind or count != 9) else base
    collars = collar.settings(Standing(s.job, s.springing), s.layout, wind, count) if linear else []

    def broken(rows, winds):
        told = zip(rows, breaks(s, winds), strict=True)
        return [r.changed(beyond="; ".join(t for t in (r.beyond, said) if t)) for r, said in told]

    turned = broken(c.settings, [r.angle_deg for r in c.settings])
    collars = broken(collars, [r.wind_mm for r in collars])
    blocks = [
        ("Steps", words.steps(c)),
        (
            f"Settings nearest to {wind:+g} deg of wind, teeth in the loading sense at both ends",
            words.settings(turned),
        ),
        (
            f"Collar round {wind:+g} mm of wind; seat to perch with the damper off the car, pulled right out",
            words.collar(collars),
        ),
        ("One tooth wrong", words.wrong(c.wrong_tooth)),
        ("Preload", words.winding(u)),
        ("Sliding the pack towards the rocker (+) or away", words.slide(u)),
        ("Adjusters, car up and down", words.adjusters(u)),
        ("Order of work", [paragraph(f"{i}. {t}", "  ") for i, t in enumerate(u.order, 1)]),
        ("Findings", [paragraph(f"{f.level}: {f.text}", "  ") for f in found]),
    ]
    _print(f"{s.job.name}, {s.job.corner.side} corner: {'collar' if linear else 'clocking'}", blocks)
    if step is not None:
        _choices(s, step, bolt)
    if sheets is not None:
        if drill is None or drill.sleeve is None or s.job.spring.teeth is None:
            refuse("there is no drilled sleeve on this corner, so there are no wrap strips to write")
        from assemblies.making.sheets.paper import Printing
        from assemblies.making.sheets.strip_pages import write

        printing = _or_refuse(lambda: Printing(paper))
        for path in write(drill, s.job.name, sheets, printing):
            typer.echo(f"Written: {path}")


def _choices(s, step: float, bolt: str) -> None:
    from assemblies.setup import words
    from assemblies.setup.clocking.choose import choose

    if s.layout.socket is None or s.layout.rocker is None:
        refuse("there is no rotary spring on this corner to choose hole counts for")
    tube = s.layout.rocker.tube
    found = _or_refuse(lambda: choose(step, tube.outer_mm, tube.wall_mm, s.layout.socket.part, bolt))
    rows = [
        [
            f"{c.sleeve} and {c.anchor}",
            f"{c.step_deg:.3f}",
            f"{c.coarse_deg:.2f}",
            str(c.holes),
            f"{c.overlap_mm:.0f}",
            f"{c.plate_mm:.0f}",
            str(c.bolts_in_line),
        ]
        for c in found
    ]
    typer.echo(
        "\n".join(
            [
                styled(f"Hole counts for {step:g} deg with {bolt} bolts, fewest holes first", "bold"),
                *words.table(
                    [
                        "sleeve and anchor",
                        "step, deg",
                        "coarse, deg",
                        "holes",
                        "overlap, mm",
                        "plates, mm",
                        "bolts in line",
                    ],
                    rows,
                ),
                "",
            ]
        )
    )


def correct(
    file: JobFile,
    change: Change = None,
    low: Annotated[
        float,
        typer.Option(
            "--low",
            metavar="MM",
            help="how much too low the car stands at this wheel, driver aboard; negative: too high",
        ),
    ] = 0.0,
    weighed: Annotated[
        float | None, typer.Option("--weighed", metavar="KG", help="this corner's scale reading")
    ] = None,
    sleeve: Annotated[
        int,
        typer.Option(
            "--sleeve",
            metavar="TEETH",
            help="present setting of the sleeve, teeth from the design setting, loading sense +",
        ),
    ] = 0,
    anchor: Annotated[
        int, typer.Option("--anchor", metavar="TEETH", help="present setting of the anchor, likewise")
    ] = 0,
    within: Annotated[
        float, typer.Option("--within", metavar="MM", help="how well the height was measured")
    ] = 2.0,
) -> None:
    """From the ride height as it stands to the setting that corrects it."""
    from assemblies.setup import words
    from assemblies.setup.adjusters import adjusters, moves
    from assemblies.setup.clocking import recognise, wrong
    from assemblies.setup.clocking.drilling import drilling
    from assemblies.setup.clocking.joints import chain, wind_of
    from assemblies.setup.limits import beyond
    from assemblies.setup.ride_height import correction
    from assemblies.setup.standing import Standing
    from assemblies.study.wound import breaks

    numbers(low=low, weighed=weighed, sleeve=sleeve, anchor=anchor, within=within)
    s = _study(file, change)
    if s.springing.spring.linear and (sleeve or anchor):
        refuse(
            "--sleeve and --anchor count teeth of a rotary spring; this corner has a coil-over and its collar"
        )
    unsprung = s.job.corner.unsprung_mass
    if weighed is not None and weighed <= unsprung:
        refuse(f"--weighed is {weighed:g} kg; it must be more than the unsprung mass, {unsprung:g} kg")
    c = _or_refuse(
        lambda: correction(s.springing, low, sprung_kg=None if weighed is None else weighed - unsprung)
    )
    unit = "mm of collar" if s.springing.spring.linear else "deg"

    def over(wound_deg: float) -> str:
        return beyond(s.job.spring, s.springing, wound_deg)

    causes = [
        f"If only the setting is off: wind {c.wind_clock:+.2f} {unit}.",
        f"If only the load is off ({c.load_kg + unsprung:.1f} kg on this wheel instead of "
        f"{s.job.corner.corner_mass:g}): wind {c.wind_load:+.2f} {unit}"
        + (f"; BEWARE: {past}." if (past := over(c.wind_load)) else "."),
    ]
    causes.append(
        "One height cannot tell the two apart: weigh the corner (--weighed) where they differ by more than a "
        "step. Below, the setting is taken to be off."
        if weighed is None
        else f"With {weighed:g} kg weighed: wind {c.wind:+.2f} {unit}. That is what is used below."
    )
    blocks = [
        (
            f"The car stands {abs(low):g} mm too {'low' if low >= 0 else 'high'}",
            [paragraph(t, "  ") for t in causes],
        )
    ]
    joints, on = chain(s.job), Standing(s.job, s.springing)
    if any(j.stepped for j in joints):
        drill = drilling(s.job, s.layout, s.springing.preload.sense)
        near, present = moves(on, joints, c, 5), {"sleeve": sleeve, "anchor": anchor}
        by_teeth = wind_of(joints, present)
        beware = []
        broken_at = breaks(s, [move.from_design_deg for move in near])
        for move, broken in zip(near, broken_at, strict=True):
            ways = [("", move.from_design_deg)]
            ways += [("if the load is off: ", move.wind_deg)] if weighed is None else []
            ways += [("by its teeth: ", by_teeth + move.wind_deg)] if by_teeth else []
            past = next((way + said for way, deg in ways if (said := over(deg))), "")
            beware.append([move.held, past, broken])
        blocks.append(
            (
                "Moves from the present setting; teeth in the loading sense +",
                words.moves(near, joints, present, drill, ["; ".join(t for t in b if t) for b in beware]),
            )
        )
        found = recognise(wrong(on, joints), -low, within)
        blocks.append(
            (
                f"A mistake of one tooth that shows like this, to within {within:g} mm",
                words.wrong(found) or ["  none"],
            )
        )
    rows = [
        [a.name, f"{low / a.up_mm if low >= 0 else -low / a.down_mm:+.2f}"]
        for a in adjusters(on, {})
        if not (a.up_held if low >= 0 else a.down_held) and (a.up_mm if low >= 0 else a.down_mm)
    ]
    blocks.append(
        (
            "Or about this many steps of one adjuster, + the way that raises the car",
            words.table(["one step of", "steps"], rows),
        )
    )
    blocks.append(
        (
            "",
            [
                paragraph(
                    "Correct left and right alike; one corner alone shifts load to its diagonal. "
                    "Read again after rolling and pressing: friction leaves a dead band of a few "
                    "millimetres.",
                    "  ",
                )
            ],
        )
    )
    _print(f"{s.job.name}, {s.job.corner.side} corner: ride height", blocks)


def corners(
    front: Annotated[Path, typer.Argument(help="job file of a front corner")],
    rear: Annotated[Path, typer.Argument(help="job file of a rear corner")],
    front_left: Annotated[float, typer.Argument(metavar="FL", help="scale readings, kg")],
    front_right: Annotated[float, typer.Argument(metavar="FR")],
    rear_left: Annotated[float, typer.Argument(metavar="RL")],
    rear_right: Annotated[float, typer.Argument(metavar="RR")],
    cross: Annotated[
        float, typer.Option("--cross", metavar="PERCENT", help="cross weight wanted: front right + rear left")
    ] = 50.0,
) -> None:
    """Corner weights: from four scale readings to the change at each corner's spring."""
    from assemblies.setup import words
    from assemblies.setup.corner_weights import CORNERS, corner_weights, load_changes_n, wind_for_load
    from assemblies.setup.limits import beyond

    ends = [_study(f, None) for f in (front, rear)]
    front_track, rear_track = (2 * abs(s.job.wheel.contact[1]) for s in ends)
    readings = [front_left, front_right, rear_left, rear_right]
    now = _or_refuse(lambda: corner_weights(readings))
    change = _or_refuse(lambda: load_changes_n(readings, front_track, rear_track, cross / 100))
    rows = []
    for i, name in enumerate(CORNERS):
        s = ends[i // 2].springing
        w = float(wind_for_load(s, change[i]))
        rows.append(
            [
                name,
                f"{readings[i]:.1f}",
                f"{readings[i] + change[i] / 9.80665:.1f}",
                f"{change[i] / 9.80665:+.1f}",
                f"{w:+.2f} {'mm of collar' if s.spring.linear else 'deg of wind'}",
                beyond(ends[i // 2].job.spring, s, w),
            ]
        )
    said = [
        f"Total {now.total_kg:.1f} kg, front {now.front_share * 100:.1f} %, left {now.left_share * 100:.1f} "
        f"%, cross weight {now.cross_share * 100:.1f} % (front right + rear left).",
        f"For {cross:g} % make all four changes; the car then stays where it stands. Springs cannot change "
        f"the total, the front share or the balance from side to side: move masses for that.",
    ]
    _print(
        "Corner weights",
        [
            ("", [paragraph(t, "  ") for t in said]),
            (
                "Change at each corner",
                words.table(
                    [
                        "corner",
                        "reads, kg",
                        "wanted, kg",
                        "change, kg",
                        "at the spring",
                        "beware" if any(r[-1] for r in rows) else "",
                    ],
                    rows,
                ),
            ),
            (
                "",
                [
                    paragraph(
                        "Scales level within 1 mm, tyre pressures set, driver aboard, steering straight, "
                        "anti-roll bars off, car rolled and pressed before each reading (common "
                        "practice).",
                        "  ",
                    )
                ],
            ),
        ],
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
    s = _study(file, change, gap)
    found = _or_refuse(
        lambda: monte_carlo(s.job, s.springing, Errors(point_mm=point, pivot_mm=point), builds, seed)
    )
    _print(
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
    rows = [[name, f"{slope:+.2f} mm", f"{share * 100:.0f} %"] for name, slope, share in band.top]
    return [
        (
            f"Smallest gap, {band.a} to {band.b} at wheel {band.at_wheel_mm:+.0f} mm: "
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
        typer.echo(f"Written: {_or_refuse(lambda: measuring.sheet(file, side or 'left', paper))}")
        return
    if side not in (None, "left", "right"):
        refuse(f'--side is "{side}"; it must be left or right')
    found = _or_refuse(lambda: measuring.read(file))
    job = load(into, None) if into is not None else None
    if job is not None and side not in (None, job.corner.side):
        refuse(f"--side is {side}, but {into} is a {job.corner.side} corner: leave --side out")
    side = job.corner.side if job is not None else side
    _print(f"Points from {file.name}", measuring.lines(found, side))
    if into is not None and job is not None:
        _into(into, job, _or_refuse(lambda: measuring.for_job(found, job.corner.side)))
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


def side(
    file: JobFile,
    other: Annotated[Path, typer.Argument(help="where to put the other side's job file")],
) -> None:
    """The same corner on the other side of the car: every sign and axis turned, comments kept, in a new
    file."""
    from assemblies.job.rewrite import other_side

    job = load(file, None)
    text = _or_refuse(lambda: other_side(file.read_text(encoding="utf-8-sig"), job))
    try:
        with other.open("x", encoding="utf-8") as f:
            f.write(text)
    except FileExistsError:
        refuse(f"{other} exists already and is left as it is; name another file")
    typer.echo(
        f"{other} written: the other side of {file}. A STEP file's path counts from the new file's folder."
    )


def asbuilt(
    file: JobFile,
    readings: Annotated[Path, typer.Argument(help="what was measured on the welded corner (TOML)")],
    change: Change = None,
) -> None:
    """From readings on the welded corner: what differs from the job, how sure that is, and the correction."""
    from assemblies.tolerances import as_built

    s = _study(file, change)
    given = _or_refuse(lambda: as_built.read(readings))
    found = _or_refuse(lambda: as_built.estimate(s.job, s.springing, given))
    _print(f"{s.job.name}, {s.job.corner.side} corner: as built", as_built.lines(s.job, s.springing, found))


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
    scale_x: Annotated[
        float,
        typer.Option(
            "--scale-x", metavar="FACTOR", help="nominal/measured of the level check bar on a test print"
        ),
    ] = 1.0,
    scale_y: Annotated[
        float,
        typer.Option(
            "--scale-y", metavar="FACTOR", help="nominal/measured of the upright check bar on a test print"
        ),
    ] = 1.0,
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

    s = _study(file, change)
    progress = Progress()
    target = out / f"{s.job.slug}-swept"
    try:
        with fresh(target) as folder, letters.letters(letters.of(s.job)):
            done = run(s, folder, tuple(body or ()), error, Printing(paper, scale_x, scale_y), progress.step)
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


def _study(file: Path, change: list[str] | None, interference: bool = False):
    """The corner's numbers, as a rule without the gaps; refuses one that cannot stand."""
    from assemblies.study import study

    s = study(load(file, change), interference=interference)
    if s.springing is None:
        refuse(f"{file}: {s.results.findings[0].text}")
    return s


def _or_refuse(make):
    try:
        return make()
    except ValueError as e:
        refuse(str(e))


def _print(title: str, blocks: list[tuple[str, list[str]]]) -> None:
    from assemblies.results.summary import CAUTION

    out = [styled(title, "bold")]
    for head, lines in blocks:
        if lines:
            out += [*([styled(head, "bold")] if head else []), *lines, ""]
    typer.echo("\n".join([*out, paragraph(CAUTION, "")]))
