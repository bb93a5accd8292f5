"""Rod, tie rod, damper and wheel in their corner."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.job import Job
from assemblies.layout.account import (
    Bought,
    Checked,
    FromStock,
    Given,
    NoSeam,
    Seam,
    Seams,
    Unchecked,
)
from assemblies.layout.placing import SWING_CUT_MM, Layout, put
from assemblies.motion.chain import spin_axis
from assemblies.motion.hard_points import HardPoints
from assemblies.results.findings import Finding
from parts.base.stock import RodEnd, rod_end
from parts.bracket import BOSS_PER_HOLE, shank_mm
from parts.damper import NECK_MM, Damper
from parts.fastener import bolt_of
from parts.member import Member
from parts.rod import Rod
from parts.shape.form import Frame
from parts.wheel import Wheel

DAMPER = Unchecked("damper's body, shaft and eyes: its maker's; the joint forces give what they must bear")
COIL = Unchecked("coil spring: its own stress and solid length are its maker's")
TIE_ROD = Unchecked("tie rod: bought, as its wall and thread are not given (tie_rod.wall, tie_rod.thread)")
WHEEL = Unchecked("wheel, its bearing and its bolts: bought or the car's own")


def rod_end_in_hand(job: Job) -> RodEnd:
    """The rod end in hand: the job's sizes over the typical ones of its thread."""
    e = job.rod.rod_end
    return replace(
        rod_end(job.rod.thread),
        housing_diameter_mm=e.housing_diameter,
        housing_width_mm=e.housing_width,
        ball_width_mm=e.ball_width,
        bore_mm=e.bore,
    )


def place_rod(out: Layout) -> None:
    job = out.job
    d = job.rod
    line = np.subtract(d.inboard, d.outboard)
    frame = Frame.looking(d.outboard, line, _square_to(line, job.rocker.axis))
    m = frame.matrix()
    bolt = _square_to(line, outboard_bolt(job))
    turn = math.degrees(math.atan2(float(bolt @ m[:3, 1]), float(bolt @ m[:3, 0])))
    rod = Rod(
        math.dist(d.outboard, d.inboard),
        d.diameter,
        d.wall,
        d.thread,
        rod_end_in_hand(job),
        outboard_turn_deg=turn,
    )
    name = f"{d.kind} rod"
    out.rod_placed = put(
        out,
        name,
        "rod",
        "rod",
        rod.form(),
        frame,
        rod,
        source=FromStock((f"{name} tube", *([f"{name} insert"] if rod.wall_mm else []))),
        weld=Seams((_insert_seam(rod),)) if rod.wall_mm else NoSeam("one bar, threaded at both ends"),
        strength=Checked((name,)),
        material=d.material,
    )
    out.findings += [
        Finding(level="warn", code="rod-adjustment", where="rod", text=f"The rod's {w}.")
        for w in rod.warnings
    ]
    if d.on == "upright":
        out.findings.append(
            Finding(
                level="note",
                code="rod-lug",
                where="rod",
                text=(
                    "The lug that holds the rod's outboard bolt on the upright is not drawn: make it a pair "
                    "of tabs on the upright with the bolt along the rocker's axis."
                ),
            )
        )


def _insert_seam(rod: Rod) -> Seam:
    return Seam(
        "rod tube to each insert's collar, all round, rod ends out",
        4,
        math.pi * rod.diameter_mm / 4,
        rod.wall_mm,
    )


def outboard_bolt(job: Job) -> np.ndarray:
    """Direction of the rod's outboard bolt: along the hinge of the arm that carries it, on the upright along
    the rocker's axis."""
    if job.rod.on == "upright":
        return np.asarray(job.rocker.axis, float)
    arm = getattr(job, job.rod.on)
    return np.subtract(arm.front_pivot, arm.rear_pivot)


def place_tie_rod(out: Layout) -> None:
    job = out.job
    t = job.tie_rod
    length = math.dist(t.inner, t.outer)
    frame = Frame.looking(
        t.inner, np.subtract(t.outer, t.inner), _square_to(np.subtract(t.outer, t.inner), (0, 0, 1))
    )
    bar = Member.cylinder(t.inner, t.outer, t.diameter)
    out.tie_rod = put(
        out,
        "tie rod",
        "tie_rod",
        "tie_rod",
        bar.form(),
        frame,
        None,
        source=Given("the car's own steering: the job gives its points and its diameter"),
        weld=NoSeam("bought or of one piece"),
        strength=Checked(("tie rod",)) if t.wall and t.thread else TIE_ROD,
    )
    if length < 50:
        out.findings.append(
            Finding(
                level="warn",
                code="tie-rod",
                where="tie_rod",
                text=f"The tie rod is only {length:.0f} mm long: check both points.",
            )
        )


def _square_to(line, wanted) -> np.ndarray:
    """`wanted`, or another car axis where it lies along `line`."""
    line, wanted = np.asarray(line, float), np.asarray(wanted, float)
    share = abs(line @ wanted) / np.linalg.norm(line) / np.linalg.norm(wanted)
    return wanted if share < 0.9 else np.eye(3)[int(np.argmin(np.abs(line)))]


def damper_part(job: Job, boss_mm: float = 0.0) -> Damper:
    """The job's damper; where its body begins, unless given, just clear of what its eye sits between, whose
    boss is `boss_mm` in radius."""
    d = job.damper
    return Damper(
        d.longest,
        d.shortest,
        d.body_diameter,
        d.shaft_diameter,
        job.rocker.damper_hole,
        d.eye_width,
        d.eye_diameter,
        job.spring.seat if job.spring.kind == "coil-over" else None,
        max(d.eye_diameter / 2 + NECK_MM, boss_mm + SWING_CUT_MM)
        if d.body_from_eye is None
        else d.body_from_eye,
    )


def _boss_at_body_mm(out: Layout) -> float:
    """Radius of the tabs or plates that the eye at the damper's body sits between."""
    if out.job.damper.body_end == "rocker":
        return out.rocker.plate.eye_boss("damper").radius_mm if out.rocker else 0.0
    return BOSS_PER_HOLE * shank_mm(bolt_of(out.job.rocker.damper_hole))


def place_damper(out: Layout) -> None:
    """The damper's two ends, which slide on each other, and a coil on them where the job has one."""
    job = out.job
    part = damper_part(job, _boss_at_body_mm(out))
    chassis, eye = np.array(job.damper.chassis_eye), np.array(job.rocker.damper_eye)
    bolt = _square_to(eye - chassis, job.rocker.axis)
    at_chassis, at_rocker = (
        Frame.looking(chassis, eye - chassis, bolt),
        Frame.looking(eye, chassis - eye, bolt),
    )
    upright = job.damper.body_end == "chassis"  # carrier damper_body is the half on the chassis
    chassis_half, rocker_half = ("body", "shaft") if upright else ("shaft", "body")
    forms = {"body": part.body_form(), "shaft": part.shaft_form()}
    halves = [
        put(
            out,
            f"damper {half}",
            "damper",
            carrier,
            forms[half],
            frame,
            part,
            source=Bought("damper"),
            weld=NoSeam("bought"),
            strength=DAMPER,
        )
        for half, carrier, frame in (
            (chassis_half, "damper_body", at_chassis),
            (rocker_half, "damper_shaft", at_rocker),
        )
    ]
    out.damper_body, out.damper_shaft = halves if upright else halves[::-1]
    if job.spring.kind == "coil-over":
        length = min(job.spring.free_length, math.dist(chassis, eye) - part.cap_mm - part.shaft_cap_mm)
        out.coil = put(
            out,
            "coil spring",
            "spring",
            "damper_shaft" if upright else "damper_body",
            part.spring_form(math.dist(chassis, eye), job.spring.outer_diameter, length),
            at_rocker if upright else at_chassis,
            None,
            source=Bought("coil spring"),
            weld=NoSeam("bought"),
            strength=COIL,
        )


def place_wheel(out: Layout) -> None:
    w = out.job.wheel
    spin = np.reshape(spin_axis(HardPoints.of(out.job)), (-1, 3))[0]
    ring = Wheel(w.tyre_radius, w.tyre_width, w.rim_diameter, w.rim_thickness)
    out.wheel = put(
        out,
        "wheel",
        "wheel",
        "upright",
        ring.form(),
        Frame.looking(w.centre, spin, (1.0, 0.0, 0.0)),
        ring,
        source=Given("the car's own wheel and tyre"),
        weld=NoSeam("bought"),
        strength=WHEEL,
    )
