"""The arms in their corner, and on one of them what carries the rod's outboard bolt."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.layout.account import Checked, FlatPart, FromPlate, FromStock, Seam, Seams
from assemblies.layout.placing import Layout, put
from assemblies.layout.rods import outboard_bolt
from assemblies.results.findings import Finding
from parts.arm import Arm
from parts.base.stock import thread
from parts.bracket import BOSS_PER_HOLE
from parts.fastener import bolt_of
from parts.member import STEEL_KG_MM3
from parts.rod_lug import LugFin, LugSleeve, RodLug, rod_lug
from parts.shape.form import Frame, vector

ENDS = ("front", "rear")


def place_arm(out: Layout, which: str) -> None:
    """Place `upper_arm` or `lower_arm`, drilled for the rod's lug where that goes through it, and the lug."""
    a = getattr(out.job, which)
    arm, frame = out.made(
        Arm.between,
        a.front_pivot,
        a.rear_pivot,
        a.outer_joint,
        a.tube_diameter,
        a.tube_wall,
        **Arm.bushed(thread(a.thread).diameter_mm, a.tube_diameter),
    )
    arm = out.made(arm.between_tabs, BOSS_PER_HOLE * thread(a.thread).diameter_mm)
    form, name = arm.form(), which.replace("_", " ")
    lug = _rod_lug(out, arm, frame) if out.job.rod.on == which else None
    drilled_kg = lug.drilled_mm3 * STEEL_KG_MM3 if lug and lug.holes else 0.0
    out.arms[which] = put(
        out,
        name,
        which,
        which,
        replace(form, cuts=(*form.cuts, *(lug.holes if lug else ()))),
        frame,
        arm,
        source=FromStock((*(f"{name} {end} tube" for end in ENDS), f"{name} boss", f"{name} bush housing")),
        weld=Seams(_arm_seams(name, arm)),
        strength=Checked(tuple(f"{name}, {end} tube" for end in ENDS)),
        material=a.material,
        mass_kg=arm.mass_kg - drilled_kg,
    )
    if lug:
        _place_lug(out, which, lug, frame)


def _arm_seams(name: str, arm: Arm) -> tuple[Seam, ...]:
    """Round its copes: no shorter than round the tube cut square."""
    quarter = math.pi * arm.tube_diameter_mm / 4
    return (
        Seam(f"{name}: both tubes to the boss, all round the cope", 8, quarter, arm.tube_wall_mm),
        Seam(
            f"{name}: each tube to its bush housing, all round the cope, bush out",
            8,
            quarter,
            arm.tube_wall_mm,
        ),
    )


def _place_lug(out: Layout, which: str, lug: RodLug, frame: Frame) -> None:
    """Its sleeves, and its fins where there are any, on the arm that stands in `frame`."""
    job = out.job
    arm, name = out.arms[which].part, which.replace("_", " ")
    strength = Checked(("rod lug",))
    sleeves = []
    for i, (sleeve, at, tube) in enumerate(zip(lug.sleeves, lug.frames, lug.tubes, strict=True), 1):
        sleeves.append(
            put(
                out,
                f"rod lug sleeve {i}",
                "rod lug",
                which,
                sleeve.form(),
                at.then(frame),
                sleeve,
                source=FromStock((f"rod lug sleeve {i}",)),
                weld=Seams((_sleeve_seam(i, sleeve, arm, f"{name}'s {ENDS[tube]} tube"),)),
                strength=strength,
                material=getattr(job, which).material,
            )
        )
    fins = []
    for i, ((fin, at), tube) in enumerate(zip(lug.fins, lug.tubes, strict=False), 1):
        blank = FlatPart("rod lug fin", fin.outline(), 1, fin.thickness_mm, job.rocker.plate_material)
        fins.append(
            put(
                out,
                f"rod lug fin {i}",
                "rod lug",
                which,
                fin.form(),
                at.then(frame),
                fin,
                source=FromPlate(blank),
                weld=Seams((_fin_seam(i, fin, arm, f"{name}'s {ENDS[tube]} tube"),)),
                strength=strength,
                material=job.rocker.plate_material,
            )
        )
    out.lug, out.lug_sleeves, out.lug_fins = lug, tuple(sleeves), tuple(fins)


def _sleeve_seam(i: int, s: LugSleeve, arm: Arm, on: str) -> Seam:
    """With a straight bar through both sleeves."""
    how = (
        "round the hole on both sides, its edge bevelled, through the wall"
        if s.through
        else "all round the saddle"
    )
    return Seam(
        f"rod lug sleeve {i} to the {on}, a straight bar through both sleeves: {how}",
        4 if s.through else 2,
        s.run_mm / 2,
        min((s.outer_mm - s.bore_mm) / 2, arm.tube_wall_mm),
    )


def _fin_seam(i: int, fin: LugFin, arm: Arm, on: str) -> Seam:
    return Seam(
        f"rod lug fin {i} to the {on}, after the sleeves: both faces, from the middle to each end, round the "
        f"ends",
        4,
        fin.length_mm / 2,
        min(fin.thickness_mm, arm.tube_wall_mm),
    )


def _rod_lug(out: Layout, arm: Arm, frame: Frame) -> RodLug | None:
    """What carries the rod's outboard bolt on this arm; one that cannot be made is said and left out."""
    rod = out.job.rod
    back = np.linalg.inv(frame.matrix())
    try:
        return out.made(
            rod_lug,
            arm,
            vector((back @ (*rod.outboard, 1.0))[:3]),
            vector(back[:3, :3] @ outboard_bolt(out.job)),
            rod.rod_end.ball_width,
            bolt_of(rod.rod_end.bore),
            rod.lug_diameter,
            fin_mm=rod.lug_thickness or out.job.rocker.plate_thickness,
            rod_up=bool((back[:3, :3] @ np.subtract(rod.inboard, rod.outboard))[2] > 0),
        )
    except ValueError as e:
        out.findings.append(
            Finding(
                level="warn",
                code="rod-lug",
                where="rod lug",
                text=(
                    f"The lug for the rod's outboard bolt is not drawn: {e}. Until then nothing of it is "
                    f"checked."
                ),
            )
        )
        return None
