"""STEP of every part of a corner and of the whole, and what of them belongs in the results. Loads the CAD
kernel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from assemblies.job import slug
from assemblies.layout.placing import Layout, Placed, needed
from assemblies.making.drawn import drawn, solids
from assemblies.making.step import COLOURS, GAPS, Shown, colour_of, group_of, write_assembly
from assemblies.results.making import PartRow
from assemblies.study import Study
from parts.files.measured import centre_mm
from parts.files.step import StepPart, write_step
from parts.shape.form import Frame

Say = Callable[..., None]


def write(
    done: Study, folder: Path, at_wheel_mm: tuple[float, ...], shown: list, progress: Say
) -> list[PartRow]:
    """STEP of each part in its own axes, and of the whole corner at ride, with the marks of the gaps, and at
    each asked wheel height."""
    layout, job = needed(done.layout), done.job
    side, other = (job.corner.side, "right" if job.corner.side == "left" else "left")
    rows, shapes = [], solids(layout)
    for i, p in enumerate(layout.placed):
        progress(f"solid: {p.name}", i + 1, len(layout.placed))
        shape = shapes.get(p.name)
        path = None
        if shape is not None and p.mass_kg is not None and p.name not in layout.members:
            path = folder / "solids" / f"{slug(p.name)}-{side}.step"
            colour = colour_of(p.body, p.carrier)
            made = StepPart(f"{p.name} {side}", shape, colour, material=p.material)
            write_step(path, made.name, [made], as_assembly=False)
            # as its blank is: the mirror image across the part's own x
            twin = replace(made, name=f"{p.name} {other}", shape=shape.mirror("YZ"))
            write_step(path.with_name(f"{slug(p.name)}-{other}.step"), twin.name, [twin], False)
        rows.append(
            PartRow(
                name=p.name,
                body=p.body,
                count=1,
                material=p.material,
                mass_kg=p.mass_kg,
                centre_of_gravity_mm=_centre(p, shape),
                step=f"solids/{path.name}" if path else None,
                step_other=f"solids/{slug(p.name)}-{other}.step" if path else None,
            )
        )
    for z in (0.0, *at_wheel_mm):
        progress(f"corner at wheel {z:+g} mm")
        name = job.slug if z == 0 else f"{job.slug}-at-{z:+g}mm"
        marked = [Shown(m.name, m.solid(), Frame(), COLOURS["gap"], GAPS) for m in shown] if z == 0 else []
        write_assembly(
            folder / f"{name}.step",
            [
                *(
                    Shown(_named(d, layout, side), d.shape, d.where, d.colour, group_of(d.of), d.of.material)
                    for d in drawn(done, z)
                ),
                *marked,
            ],
        )
    progress(f"the {other} side")
    twins = [
        Shown(_named(d, layout, other), *d.twin(), d.colour, group_of(d.of), d.of.material)
        for d in drawn(done)
        if _named(d, layout, other) != d.name
    ]
    write_assembly(folder / f"{job.slug}-{other}-side.step", twins)
    return rows


def _centre(p: Placed, shape) -> list[float]:
    """Centre of gravity in the car: the part's own, or that of its solid where only the shape is known; of
    what has neither there is none."""
    if p.mass_kg is not None:
        return list(p.centre_of_gravity_mm)
    if shape is None:
        return []
    return [float(v) for v in (p.frame.matrix() @ (*centre_mm(shape), 1.0))[:3]]


def _named(d, layout: Layout, side: str) -> str:
    """A made or bought part is named with its side; a frame member keeps its own name."""
    given = {m.name for m in layout.job.member}
    return d.name if d.of.name in given else f"{d.name} {side}"
