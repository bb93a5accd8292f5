"""Verbs of setting up: clock, correct, corners."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from assemblies.command.common import (
    Change,
    JobFile,
    Paper,
    numbers,
    or_refuse,
    printed,
    refuse,
    saved_on,
    study_of,
)
from assemblies.results.terminal import paragraph, styled


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
    from assemblies.setup.standing import OnStops
    from assemblies.study.wound import breaks

    numbers(wind=wind, step=step, lever=lever)
    s = study_of(file, change)
    linear = s.springing.spring.linear
    if linear and lever is not None:
        refuse("--lever: a coil-over is not wound by a lever; its collar squeezes the coil")
    lever_mm = preload.LEVER_MM if lever is None else lever
    base, u, found = or_refuse(lambda: set_up(s.job, s.springing, s.layout, lever_mm))
    drill = drilling(s.job, s.layout, s.springing.preload.sense)
    c = clocking(s.job, s.springing, drill, wind, count) if base.steps and (wind or count != 9) else base
    collars = collar.settings(OnStops(s.job, s.springing), s.layout, wind, count) if linear else []

    def broken(rows, winds):
        told = zip(rows, breaks(s, winds), strict=True)
        return [replace(r, beyond="; ".join(t for t in (r.beyond, said) if t)) for r, said in told]

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
    printed(f"{s.job.name}, {s.job.corner.side} corner: {'collar' if linear else 'clocking'}", blocks)
    if step is not None:
        _choices(s, step, bolt)
    if sheets is not None:
        if drill is None or drill.sleeve is None or s.job.spring.teeth is None:
            refuse("there is no drilled sleeve on this corner, so there are no wrap strips to write")
        from assemblies.making.sheets.paper import Printing
        from assemblies.making.sheets.strip_pages import write

        printing = or_refuse(lambda: Printing(paper, dated=saved_on(file)))
        for path in write(drill, s.job.name, sheets, printing):
            typer.echo(f"Written: {path}")


def _choices(s, step: float, bolt: str) -> None:
    from assemblies.setup import words
    from assemblies.setup.clocking.choose import choose

    if s.layout.socket is None or s.layout.rocker is None:
        refuse("there is no rotary spring on this corner to choose hole counts for")
    tube = s.layout.rocker.tube
    found = or_refuse(lambda: choose(step, tube.outer_mm, tube.wall_mm, s.layout.socket.part, bolt))
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
    from assemblies.setup.ride_height import correction
    from assemblies.setup.standing import OnStops
    from assemblies.study.wound import breaks

    numbers(low=low, weighed=weighed, sleeve=sleeve, anchor=anchor, within=within)
    s = study_of(file, change)
    if s.springing.spring.linear and (sleeve or anchor):
        refuse(
            "--sleeve and --anchor count teeth of a rotary spring; this corner has a coil-over and its collar"
        )
    unsprung = s.job.corner.unsprung_mass
    if weighed is not None and weighed <= unsprung:
        refuse(f"--weighed is {weighed:g} kg; it must be more than the unsprung mass, {unsprung:g} kg")
    c = or_refuse(
        lambda: correction(s.springing, low, sprung_kg=None if weighed is None else weighed - unsprung)
    )
    joints, on = chain(s.job), OnStops(s.job, s.springing)
    blocks = [
        (
            f"The car stands {abs(low):g} mm too {'low' if low >= 0 else 'high'}",
            [paragraph(t, "  ") for t in _causes(s, c, weighed)],
        )
    ]
    if any(j.stepped for j in joints):
        near = moves(on, joints, c, 5)
        drill = drilling(s.job, s.layout, s.springing.preload.sense)
        by_teeth = wind_of(joints, {"sleeve": sleeve, "anchor": anchor})
        beware = _beware(s, near, by_teeth, breaks(s, [m.from_design_deg for m in near]), weighed is None)
        found = recognise(wrong(on, joints), -low, within)
        blocks += [
            (
                "Moves from the present setting; teeth in the loading sense +",
                words.moves(near, joints, {"sleeve": sleeve, "anchor": anchor}, drill, beware),
            ),
            (
                f"A mistake of one tooth that shows like this, to within {within:g} mm",
                words.wrong(found) or ["  none"],
            ),
        ]
    rows = [
        [a.name, f"{low / a.up_mm if low >= 0 else -low / a.down_mm:+z.2f}"]
        for a in adjusters(on, {})
        if not (a.up_held if low >= 0 else a.down_held) and (a.up_mm if low >= 0 else a.down_mm)
    ]
    steps = "Or about this many steps of one adjuster, + the way that raises the car"
    alike = (
        "Correct left and right alike; one corner alone shifts load to its diagonal. Read again after "
        "rolling and pressing: friction leaves a dead band of a few millimetres."
    )
    blocks += [(steps, words.table(["one step of", "steps"], rows)), ("", [paragraph(alike, "  ")])]
    printed(f"{s.job.name}, {s.job.corner.side} corner: ride height", blocks)


def _causes(s, c, weighed: float | None) -> list[str]:
    """What the height may come from, and what each asks of the spring."""
    from assemblies.setup.limits import beyond

    unit = "mm of collar" if s.springing.spring.linear else "deg"
    past = beyond(s.job.spring, s.springing, c.wind_load)
    return [
        f"If only the setting is off: wind {c.wind_clock:+z.2f} {unit}.",
        f"If only the load is off ({c.load_kg + s.job.corner.unsprung_mass:.1f} kg on this wheel instead of "
        f"{s.job.corner.corner_mass:g}): wind {c.wind_load:+z.2f} {unit}"
        + (f"; BEWARE: {past}." if past else "."),
        "One height cannot tell the two apart: weigh the corner (--weighed) where they differ by more than a "
        "step. Below, the setting is taken to be off."
        if weighed is None
        else f"With {weighed:g} kg weighed: wind {c.wind:+z.2f} {unit}. That is what is used below.",
    ]


def _beware(s, near, by_teeth: float, broken_at: list[str], load_unknown: bool) -> list[str]:
    """Of each move what it would break, reckoned from the design setting, from the load and from the teeth
    that are in now."""
    from assemblies.setup.limits import beyond

    out = []
    for move, broken in zip(near, broken_at, strict=True):
        ways = [("", move.from_design_deg)]
        ways += [("if the load is off: ", move.wind_deg)] if load_unknown else []
        ways += [("by its teeth: ", by_teeth + move.wind_deg)] if by_teeth else []
        past = (way + said for way, deg in ways if (said := beyond(s.job.spring, s.springing, deg)))
        out.append("; ".join(t for t in (move.held, next(past, ""), broken) if t))
    return out


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

    ends = [study_of(f, None) for f in (front, rear)]
    front_track, rear_track = (2 * abs(s.job.wheel.contact[1]) for s in ends)
    readings = [front_left, front_right, rear_left, rear_right]
    now = or_refuse(lambda: corner_weights(readings))
    change = or_refuse(lambda: load_changes_n(readings, front_track, rear_track, cross / 100))
    rows = []
    for i, name in enumerate(CORNERS):
        s = ends[i // 2].springing
        w = float(wind_for_load(s, change[i]))
        rows.append(
            [
                name,
                f"{readings[i]:.1f}",
                f"{readings[i] + change[i] / 9.80665:.1f}",
                f"{change[i] / 9.80665:+z.1f}",
                f"{w:+z.2f} {'mm of collar' if s.spring.linear else 'deg of wind'}",
                beyond(ends[i // 2].job.spring, s, w),
            ]
        )
    said = [
        f"Total {now.total_kg:.1f} kg, front {now.front_share * 100:.1f} %, left {now.left_share * 100:.1f} "
        f"%, cross weight {now.cross_share * 100:.1f} % (front right + rear left).",
        f"For {cross:g} % make all four changes; the car then stays where it stands. Springs cannot change "
        f"the total, the front share or the balance from side to side: move masses for that.",
    ]
    printed(
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
