"""The checks of each part of a corner, in one signature: rows and words added to what was found.

Every function here takes what there is to know of a corner, asks the file that holds its part's formulas, and
adds rows, and in `missing` what a drawing would need and is not checked. `EACH_PART` lists them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from assemblies.job import Job
from assemblies.layout.placing import Layout, needed
from assemblies.layout.stub import FLANGE_WELD_MM
from assemblies.motion.springing import Springing
from assemblies.strength import (
    bought,
    brackets,
    clamped,
    eyes_pins,
    fatigue,
    frame_tubes,
    lug,
    path,
    pivot,
    rack,
    rocker,
    rods,
    sizing,
    spring,
    tubes,
    welds,
)
from assemblies.strength.eyes_pins import EyeJoint
from assemblies.strength.forces import Forces, rocker_forces
from assemblies.strength.found import Strength
from assemblies.strength.row import Check
from assemblies.strength.sizing import Option
from assemblies.strength.welds import weaker
from parts.base.stock import steel, thread
from parts.calc.bolts import Bolt
from parts.fastener import bolt_of
from parts.rod import Rod


def _rocker(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    if layout.rocker is None or layout.eyes is None:
        out.missing.append("rocker: it could not be made, so nothing of it is checked")
        return
    made, plate = layout.rocker, layout.rocker.plate
    r, one = rocker_forces(f, layout.eyes), rocker_forces(unit, layout.eyes)
    metal = steel(job.rocker.plate_material)
    arms = {arm: layout.made(rocker.cuts, made, arm) for arm in ("rod", "damper")}
    out.checks += welds.checks(f, r, made, arms, metal, metal)
    out.checks += tubes.pivot_tube(f, r, made, metal)
    if f.welds_only:
        return
    out.checks += rocker.checks(f, r, made, arms, metal, _into_the_plane(job, layout))
    for arm, force, hole, eye_mm in (
        ("rod", r.rod_n, job.rocker.rod_hole, job.rod.rod_end.ball_width),
        ("damper", r.damper_n, job.rocker.damper_hole, job.damper.eye_width),
    ):
        joint = EyeJoint(
            f"rocker, {arm} eye",
            plate.thickness_mm,
            hole,
            plate.eye_boss(arm).radius_mm,
            metal,
            Bolt(bolt_of(hole), job.bolts.grade),
            eye_mm,
            max((job.rocker.box_width - eye_mm) / 2, 0.0),
            "rocker.plate_thickness",
            f"rocker.{arm}_boss_radius",
            job.bolts.threads_in_plane,
            ("rod.thread", "rocker.rod_hole") if arm == "rod" else ("rocker.damper_hole",),
        )
        out.checks += eyes_pins.checks(f, joint, np.hypot(force[:, 0], force[:, 1]), force[:, 2])
    out.details += rocker_details(made, arms, one)
    if job.rod.rod_end.bore < job.rocker.rod_hole - 1e-9 or job.rod.rod_end.bore > job.rocker.rod_hole + 1e-9:
        out.missing.append(
            f"rocker, rod eye: the rod end's bore of {job.rod.rod_end.bore:g} mm and the plates' hole of "
            f"{job.rocker.rod_hole:g} mm differ; bush or sleeve between them is not checked"
        )


def _into_the_plane(job: Job, layout: Layout) -> Option | None:
    """The damper's eye moved along the axis into the plates' middle plane, where it stands out of it."""
    off = needed(layout.eyes).damper_offset_mm
    if abs(off) < 1.0:
        return None
    axis = np.asarray(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    point = [round(float(v), 2) for v in np.asarray(job.rocker.damper_eye) - off * axis]
    words = f"rocker.damper_eye = {point}, in the plates' middle plane: it stands {abs(off):.1f} mm out of it"
    return Option(words, {"rocker.damper_eye": point})


def rocker_details(made, arms, one) -> list[fatigue.Detail]:
    pairs = ((one.rod_n, one.rod_eye), (one.damper_n, one.damper_eye))
    details = []
    plate = made.plate
    thicker = sizing.plate("rocker.plate_thickness", plate.thickness_mm)
    for arm, c in arms.items():
        s = rocker.stresses(made, arm, c, pairs)
        stress = s.in_plane_mpa.max(0) + s.out_mpa.max(0)
        details.append(
            fatigue.Detail(
                f"rocker plates, {arm} arm",
                "cut edge",
                125.0,
                float(stress.max()),
                "Table 8.1 detail 5 (from memory), edge dressed, no plasma skin left",
                cure=thicker,
            )
        )
        toe = c.at_mm >= plate.pivot_tube_outer_mm / 2 + plate.leg_mm - 1e-6
        details.append(
            fatigue.Detail(
                f"rocker plates, {arm} arm",
                "toe of the pivot tube's weld",
                71.0,
                float(stress[toe].max()),
                "Table 8.5 detail 1, toe, attachment of 50 to 80 mm",
                cure=thicker,
            )
        )
        force = (one.rod_n if arm == "rod" else one.damper_n)[0]
        net = 2 * plate.thickness_mm * (2 * plate.eye_boss(arm).radius_mm - plate.hole_mm(arm))
        details.append(
            fatigue.Detail(
                f"rocker, {arm} eye",
                "net section at the hole",
                90.0,
                float(np.hypot(*force[:2])) / net,
                "Table 8.1 detail 11 (from memory), reamed hole",
                cure=thicker,
            )
        )
    return details


def _rods(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    if layout.rod is None:
        out.missing.append("rod: it could not be made, so nothing of it is checked")
    else:
        out.checks += rods.checks(
            f,
            f"{job.rod.kind} rod",
            layout.rod,
            f.rod_n,
            steel(job.rod.material),
            "rod",
            job.rod.rod_end.static_rating,
            job.rod.rod_end.stem_yield,
            ("rod.thread", "rocker.rod_hole"),
        )
        stress = abs(float(unit.rod_n[0])) / layout.rod.screw.stress_area_mm2
        stem = fatigue.Detail(
            f"{job.rod.kind} rod",
            "thread of the stem",
            50.0,
            stress,
            "Table 8.1 detail 14 (from memory), thread in tension",
            cure=spring.larger_bolt(job.rod.thread, ("rod.thread", "rocker.rod_hole")),
        )
        out.details.append(stem)
        if not job.rod.rod_end.static_rating:
            out.missing.append(
                "rod ends: no maker's static rating given (rod.rod_end.static_rating); the largest force is "
                f"{np.abs(f.service(f.rod_n)).max():.0f} N before any safety factor"
            )
    t = job.tie_rod
    if t.wall and t.thread:
        made = Rod(float(np.linalg.norm(np.subtract(t.outer, t.inner))), t.diameter, t.wall, t.thread)
        out.checks += rods.checks(
            f, "tie rod", made, f.tie_rod_n, steel(t.material), "tie_rod", keys=("tie_rod.thread",)
        )
    else:
        bears = f.service(f.tie_rod_n)
        out.missing.append(
            f"tie rod: bought, as its wall and thread are not given (tie_rod.wall, tie_rod.thread); between "
            f"its ends it must bear {bears.min():+z.0f} to {bears.max():+z.0f} N "
            "(tension positive) before any safety factor"
        )


def _bought(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    travel = float(f.wheel_mm.min()), float(f.wheel_mm.max())
    rows, words = bought.checks(job, sprung.mechanism, f, travel)
    out.checks += rows
    out.missing += words
    if job.rod.on == "upright":
        most = float(np.abs(f.service(f.rod_n)).max())
        out.missing.append(
            f"rod's lug on the upright: the upright is not modelled; two ears round the rod end must bear "
            f"{most:.0f} N along the rod before any safety factor, {most / 2:.0f} N an ear"
        )


def _rack(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    out.checks += rack.checks(job, layout, f)


def _arms(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    for which in ("upper_arm", "lower_arm"):
        placed = layout.arms.get(which)
        if placed is None:
            out.missing.append(
                f"{which.replace('_', ' ')}: it could not be made, so nothing of it is checked"
            )
            continue
        axes, metal = placed.frame.matrix()[:3, :3], steel(getattr(job, which).material)
        given = which, placed.part, axes, metal, job.rod.on == which
        out.checks += _once(layout, "rows of an arm", tubes.arm, f, *given)


def _lug(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    which, placed = job.rod.on, layout.rod_arm
    if layout.lug is None or placed is None:
        out.missing.append(
            f"rod's outboard lug on the {which.replace('_', ' ')}: not drawn here; the joint forces give "
            f"what it must bear"
        )
        return
    bolt = Bolt(bolt_of(job.rod.rod_end.bore), job.bolts.grade)
    out.checks += _once(
        layout,
        "rows of a rod's lug",
        partial(lug.checks, drilled=partial(layout.made, lug.drilled_section)),
        f,
        which,
        placed.part,
        layout.lug,
        placed.frame.matrix()[:3, :3],
        bolt,
        job.rod.rod_end.ball_width,
        steel(getattr(job, which).material),
        steel(job.rocker.plate_material),
        job.bolts.threads_in_plane,
    )


def _spring(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    if sprung.spring.linear:
        out.missing.append("coil spring: its own stress and solid length are its maker's")
        return
    if job.spring.kind == "leaf-pack":
        ends = {"ride": 0.0, "droop": -job.corner.droop, "bump": job.corner.bump}
        out.checks += spring.leaf_edges(job.spring, sprung.twist_deg, ends)
        one = abs(float(unit.spring_nm[0])) / sprung.spring.rate
        out.missing.append(spring.leaf_ends_tire(job.spring, one))
    out.checks += spring.stress(
        f, job.spring, sprung.stress_mpa, {"ride": 0.0, "droop": -job.corner.droop, "bump": job.corner.bump}
    )
    socket = None if layout.socket is None else layout.socket.part
    if layout.sleeve is None or socket is None or layout.anchor is None:
        out.missing.append("sleeve, sockets, anchor plates: they could not be made, so they are not checked")
        return
    out.details += spring.details(unit, layout.sleeve, job.bolts.threads_in_plane, job.pivot.kind == "stub")
    out.checks += _once(
        layout,
        "rows of the spring's ends",
        spring.ends,
        f,
        socket,
        layout.sleeve,
        layout.anchor,
        steel(job.rocker.plate_material),
        job.bolts.grade,
        job.bolts.threads_in_plane,
        job.pivot.kind == "stub",
    )


def _pivot(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    m = layout.pivot
    if m is None or layout.eyes is None:
        return
    r, one = rocker_forces(f, layout.eyes), rocker_forces(unit, layout.eyes)
    steels = {x.name: steel(getattr(x, "material", "unknown")) for x in job.member}
    node = path.nearest_node(layout, m.member)
    carrier = (layout.members[m.member], steels[m.member], node)
    out.checks += pivot.checks(f, job, m, r, steel(m.material), carrier)
    angles = np.degrees(sprung.poses.rocker_rad)
    out.checks += pivot.life(job, m, one, float(np.nanmax(angles) - np.nanmin(angles)))
    out.details += pivot.details(job, m, one)
    most = float(np.linalg.norm(f.service(r.pivot_n), axis=1).max())
    out.missing += pivot.missing(job, m, node, most)
    if m.kind == "stub" and layout.anchor is not None:
        plate, metal = layout.anchor, steel(job.rocker.plate_material)
        out.checks += pivot.anchor_weld(
            f, carrier[0], weaker(metal, steels[m.member]), plate.thickness_mm, FLANGE_WELD_MM, m.member
        )


def _brackets(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    members = {m.name: getattr(m, "material", "unknown") for m in job.member}
    for name, force, size, eye_mm, table in bracket_forces(job, layout, f):
        seat = layout.brackets.get(name)
        if seat is None:
            out.missing.append(f"{name}: not drawn, so not checked; its forces are in the frame's reactions")
            continue
        pair = brackets.LoadedBracket(
            name,
            (seat.tabs[0].part, seat.tabs[1].part),
            layout.members[seat.member],
            force,
            Bolt(size, job.bolts.grade),
            eye_mm,
            steel(job.rocker.plate_material),
            steel(members.get(seat.member, "unknown")),
            f"{table}.bracket_thickness",
            seat.member,
            job.bolts.threads_in_plane,
            getattr(job, table).bracket_weld,
            {"damper": ("rocker.damper_hole",), "pivot": ("pivot.bolt",)}.get(table, (f"{table}.thread",)),
        )
        out.checks += _once(layout, "rows of a bracket", brackets.checks, f, pair)


def _clamped(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    out.checks += clamped.checks(layout)


def _frame_tubes(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    steels = {m.name: steel(getattr(m, "material", "unknown")) for m in job.member}
    pulls = [
        frame_tubes.Pull(name, layout.brackets[name].member, np.array(layout.brackets[name].point), force)
        for name, force, *_ in bracket_forces(job, layout, f)
        if name in layout.brackets
    ] + _through(layout, f)
    rows, words = frame_tubes.checks(f, layout, pulls, steels)
    out.checks += rows
    out.missing += words


def _through(layout: Layout, f: Forces) -> list[frame_tubes.Pull]:
    """A cantilever spindle pulls on both walls of the tube that it goes through."""
    m = layout.pivot
    if m is None or m.kind != "cantilever" or layout.eyes is None:
        return []
    axes, at = layout.eyes.frame.matrix()[:3, :3], np.array(layout.eyes.frame.origin)
    walls = pivot.on_member(f, m, rocker_forces(f, layout.eyes), axes)
    return [
        frame_tubes.Pull("pivot spindle", m.member, at + station * axes[:, 2], force)
        for station, force in zip(m.supports_mm, walls, strict=True)
    ]


def bracket_forces(job: Job, layout: Layout, f: Forces):
    """(bracket, force on it in car axes, bolt, width of the eye between its tabs, its table in the job) of
    every bracket."""
    yield (
        "damper bracket",
        f.damper_on_rocker_n,
        bolt_of(job.rocker.damper_hole),
        job.damper.eye_width,
        "damper",
    )
    if layout.pivot is not None and layout.pivot.kind == "spindle" and layout.eyes is not None:
        yield (
            "pivot bracket",
            pivot.bracket_force(layout.pivot, rocker_forces(f, layout.eyes), -f.pivot_n),
            job.pivot.bolt,
            needed(layout.rocker).tube.length_mm,
            "pivot",
        )
    for which in ("upper_arm", "lower_arm"):
        for end in ("front", "rear"):
            if arm := layout.arms.get(which):
                yield (
                    f"{which.replace('_', ' ')} {end} bracket",
                    -getattr(f.arm(which), f"{end}_n"),
                    thread(getattr(job, which).thread).nominal,
                    arm.part.housing_length_mm,
                    which,
                )


def _once(layout: Layout, what: str, rows: Callable[..., list[Check]], f: Forces, *of: Any) -> list[Check]:
    """`rows(f, *of)`, taken over while forces and sizes stay. What gives a row's cures for another use, which
    fatigue alone asks for and of welds alone, is made anew where it does."""
    known = layout.made.once(what, (f.content, of), lambda: [replace(c, remedy=None) for c in rows(f, *of)])
    if not f.welds_only:
        return known
    return [replace(c, remedy=partial(_cures, rows, f, of, n)) for n, c in enumerate(known)]


def _cures(
    rows: Callable[..., list[Check]], f: Forces, of: tuple, n: int, use: float
) -> Sequence[Option | str]:
    """Of row `n` of `rows(f, *of)`."""
    remedy = rows(f, *of)[n].remedy
    return remedy(use) if remedy else ()


EACH_PART = (
    (_rocker, "rocker"),
    (_rods, "rod"),
    (_rack, "rack"),
    (_arms, "arms"),
    (_bought, "bought joints"),
    (_lug, "rod lug"),
    (_spring, "spring"),
    (_pivot, "rocker's pivot"),
    (_brackets, "brackets"),
    (_clamped, "what bolts clamp"),
    (_frame_tubes, "frame tubes"),
)
