"""Which bodies stand near each other and where they are joined: the layout as the interference check sees
it."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

import numpy as np

from assemblies.clearance import Body, Joint
from assemblies.job import Job
from assemblies.layout.pack_slide import pack_end
from assemblies.layout.placing import SWING_MARGIN_MM, Layout, Placed
from assemblies.layout.step_neighbours import error_mm
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import G_M_S2, Preload, Spring
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.shape.form import Form, Frame, Round

MOVING = ("rocker", "rod", "rod end", "damper", "spring", "upper_arm", "lower_arm", "tie_rod")
HOLLOW = ("wheel", "spring housing")  # bodies that others stand inside
ROCKER_BOLTS = "rocker bolts"
EYE_MM = 0.5  # round an eye on its bolt: what the pieces that stand for it reach past it, and a little
BALL_JOINT_MM = 30.0  # round an outer ball joint: its housing and boot, common practice


def bodies(layout: Layout) -> list[Body]:
    """Every placed form, grouped by body and by the rigid motion that carries it."""

    def key(p):
        return p.body, p.carrier

    out = []
    pack, coil, rod = layout.pack, layout.coil, layout.rod_placed
    if pack is not None:  # it turns about its own axis: what it sweeps is the round bar through its corners
        bar = Round(pack.part.circle_mm, pack.part.length_mm)
        end = pack_end(layout)  # what a pack that slides pushes through the rocker's socket
        out.append(Body("spring", "spring", (Form((bar,)).moved(pack.frame), *([end] if end else []))))
    if coil is not None:
        out += _coil(layout.job, coil)
    if rod is not None:  # its outboard end lives between its carrier's tubes, so it is looked at on its own
        out += [
            Body("rod", "rod", (rod.part.rest().moved(rod.frame),)),
            Body("rod end", "rod", (rod.part.outboard_end().moved(rod.frame),)),
        ]
    for (body, carrier), group in groupby(
        sorted((p for p in _looked_at(layout) if p not in (pack, coil, rod)), key=key), key=key
    ):
        kind = "tyre" if body == "wheel" else "moving" if body in MOVING or carrier != "frame" else "fixed"
        group = list(group)
        forms = tuple(_form(layout, p) for p in group if isinstance(p.form, Form))
        shells = tuple(s for p in group if isinstance(p.form, Imported) for s in shells_of(layout.job, p))
        out.append(Body(body, carrier, forms, kind, hollow=body in HOLLOW, shells=shells))
    members = {m.name: m for m in layout.job.member}
    return [_asking(layout.job, members, b) for b in out]


def _coil(job: Job, p: Placed) -> list[Body]:
    """A coil from its seat on the shaft to its perch on the body, which come nearer in bump: two rings of its
    least length, one on either, that together are as long as it ever is."""
    ride, least, most = coil_mm(job)
    (ring,) = p.form.pieces
    length = max(least, most / 2)
    other = "damper_body" if p.carrier == "damper_shaft" else "damper_shaft"
    return [
        Body(
            "spring",
            carrier,
            (Form((replace(ring, length_mm=length, frame=Frame((0.0, 0.0, at))),)).moved(p.frame),),
            hollow=True,
        )
        for carrier, at in ((p.carrier, ring.frame.origin[2]), (other, ring.frame.origin[2] + ride - length))
    ]


@lru_cache(maxsize=64)
def coil_mm(job: Job) -> tuple[float, float, float]:
    """Seat to perch of a coil-over's spring at ride height, and the least and the most over the travel."""
    spring, mechanism = Spring.of(job.spring), Mechanism(HardPoints.of(job))
    preload = Preload.for_weight(
        spring, mechanism, (job.corner.corner_mass - job.corner.unsprung_mass) * G_M_S2
    )
    length = (
        job.spring.free_length
        - preload.curves(mechanism.at(np.linspace(-job.corner.droop, job.corner.bump, 101))).compression_mm
    )
    return (
        job.spring.free_length - preload.ride_deflection,
        float(np.nanmin(length)),
        float(np.nanmax(length)),
    )


def shells_of(job: Job, p: Placed) -> tuple:
    """An imported neighbour's triangles, near enough to its surface for the job's tolerance. Raises
    ValueError."""
    from assemblies.clearance.imported import read_step

    return read_step(p.form.path, p.frame.matrix(), error_mm(job), p.form.mirrored)


def _asking(job: Job, members: dict, body: Body) -> Body:
    """The body with the kind and the building tolerance the job gives it."""
    margins = job.clearance.margins or {}
    given = members.get(body.name)
    kind, margin = (
        (given.kind or body.kind, given.margin or 0.0) if given else (body.kind, margins.get(body.name, 0.0))
    )
    return replace(body, kind=kind, margin_mm=margin)


def _looked_at(layout: Layout) -> list[Placed]:
    """What is placed, without the bolts where the job leaves them out."""
    return [p for p in layout.placed if layout.job.clearance.fasteners or not isinstance(p.part, BoltAndNut)]


def _form(layout: Layout, p: Placed) -> Form:
    """A bolt as the round through its hexagons' corners: how they are turned is not known. A tube that is cut
    to others as its envelope, square at its long points: no metal of it lies outside."""
    tube = layout.junctions.tubes.get(p.name) if p.carrier == "frame" else None
    if tube is not None:
        return tube.hull_form().moved(p.frame)
    return p.part.envelope().moved(p.frame) if isinstance(p.part, BoltAndNut) else p.in_car


def joints(layout: Layout) -> list[Joint]:
    """Where bodies are meant to touch. A rod or damper in its own rocker keeps the margin its box strips were
    cut for."""
    job = layout.job
    present = {p.body for p in _looked_at(layout)} | ({"rod end"} if layout.rod else set())
    end = layout.rod.rod_end if layout.rod else None
    eye = job.damper.eye_diameter
    carrier = "wheel" if job.rod.on == "upright" else job.rod.on
    out = [
        Joint("damper", "rocker", job.rocker.damper_eye, eye / 2 + _boss(layout, "damper"), SWING_MARGIN_MM),
        Joint("upper_arm", "wheel", job.upper_arm.outer_joint, BALL_JOINT_MM),
        Joint("lower_arm", "wheel", job.lower_arm.outer_joint, BALL_JOINT_MM),
        Joint("tie_rod", "wheel", job.tie_rod.outer, BALL_JOINT_MM),
    ]
    if end:
        reach = layout.rod.eye_to_face_mm + layout.rod.lip_mm
        out += [
            Joint("rod", "rocker", job.rod.inboard, reach, SWING_MARGIN_MM),
            Joint("rod end", carrier, job.rod.outboard, 0.0, SWING_MARGIN_MM),
            Joint("rod", carrier, job.rod.outboard, reach),
        ]
    if "spring" in present and job.spring.kind == "coil-over":
        out += [Joint("spring", "damper", job.rocker.damper_eye, math.inf)]
    elif "spring" in present:
        out += [
            Joint("spring", other, job.rocker.pivot, math.inf)
            for other in ("rocker", "spring housing", "spring anchor")
            if other in present or other == "rocker"
        ]
    for seat in layout.seats:
        out += [
            Joint(seat.body, seat.bracket, seat.point, seat.radius_mm),
            Joint(seat.body, seat.member, seat.point, seat.radius_mm),
        ]
    out += _bolted(layout)
    return [j for j in out if j.a in present and j.b in present]


def _bolted(layout: Layout) -> list[Joint]:
    """What turns on a bolt keeps the margin of a joint to it; within the zone lies just its eye or bush."""
    job, d = layout.job, layout.damper
    out = [Joint("spring", "anchor plates bolt", job.rocker.pivot, math.inf)]
    radius = {}
    if d is not None:
        radius["damper"] = (
            math.dist((0, 0, 0), (d.cap_mm, min(d.eye_mm, d.body_diameter_mm) / 2, d.eye_width_mm / 2))
            + EYE_MM
        )
        out.append(Joint("damper", ROCKER_BOLTS, job.rocker.damper_eye, radius["damper"], SWING_MARGIN_MM))
    if layout.rod is not None:
        e = layout.rod.rod_end
        out.append(
            Joint(
                "rod",
                ROCKER_BOLTS,
                job.rod.inboard,
                math.hypot(e.housing_diameter_mm, max(e.housing_width_mm, e.ball_width_mm)) / 2 + EYE_MM,
                SWING_MARGIN_MM,
            )
        )
        reach = math.hypot(e.housing_diameter_mm, max(e.housing_width_mm, e.ball_width_mm)) / 2 + EYE_MM
        out += [
            Joint("rod end", b, job.rod.outboard, reach, SWING_MARGIN_MM) for b in ("rod lug", "rod lug bolt")
        ]
    for which, arm in layout.arms.items():
        radius[which] = math.hypot(arm.part.housing_mm, arm.part.housing_length_mm) / 2 + EYE_MM
    out += [
        Joint(s.body, f"{s.bracket} bolt", s.point, radius[s.body], SWING_MARGIN_MM)
        for s in layout.seats
        if s.body in radius
    ]
    return out


def _boss(layout: Layout, arm: str) -> float:
    return layout.rocker.plate.eye_boss(arm).radius_mm if layout.rocker else 20.0
