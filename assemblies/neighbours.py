"""Which bodies stand near each other and where they are joined: the layout as the interference check sees it."""
from __future__ import annotations

import math
from itertools import groupby

from assemblies.clearance import Body, Joint
from assemblies.layout import SWING_MARGIN_MM
from assemblies.placing import Layout
from assemblies.setup.slide import pack_end
from parts.form import Form, Round

MOVING = ("rocker", "rod", "rod end", "damper", "spring", "upper_arm", "lower_arm", "tie_rod")
PACKS = ("leaf pack", "torsion bar")
HOLLOW = ("wheel", "spring housing")  # bodies that others stand inside
BALL_JOINT_MM = 30.0  # round an outer ball joint: its housing and boot, common practice


def bodies(layout: Layout) -> list[Body]:
    """Every placed form, grouped by body and by the rigid motion that carries it."""
    def key(p):
        return p.body, p.carrier
    hollow = HOLLOW if layout.job.spring.kind != "coil-over" else (*HOLLOW, "spring")
    out = []
    pack = next((p for p in layout.placed if p.name in PACKS), None)
    if pack is not None:  # it turns about its own axis: what it sweeps is the round bar through its corners
        bar = Round(pack.part.circle_mm, pack.part.length_mm)
        end = pack_end(layout)  # what a pack that slides pushes through the rocker's socket
        out.append(Body("spring", "spring", (Form((bar,)).moved(pack.frame), *([end] if end else []))))
    rod = next((p for p in layout.placed if p.body == "rod"), None)
    if rod is not None:  # its outboard end lives between its carrier's tubes, so it is looked at on its own
        out += [Body("rod", "rod", (rod.part.rest().moved(rod.frame),)), Body("rod end", "rod", (rod.part.outboard_end().moved(rod.frame),))]
    for (body, carrier), group in groupby(sorted((p for p in layout.placed if p not in (pack, rod)), key=key), key=key):
        kind = "tyre" if body == "wheel" else "moving" if body in MOVING or carrier != "frame" else "fixed"
        out.append(Body(body, carrier, tuple(p.in_car for p in group), kind, hollow=body in hollow))
    return out


def joints(layout: Layout) -> list[Joint]:
    """Where bodies are meant to touch. A rod or damper in its own rocker keeps the margin its box strips were cut for."""
    job = layout.job
    present = {p.body for p in layout.placed} | ({"rod end"} if layout.rod else set())
    end = layout.rod.rod_end if layout.rod else None
    eye = job.damper.eye_diameter
    carrier = "wheel" if job.rod.on == "upright" else job.rod.on
    out = [Joint("damper", "rocker", job.rocker.damper_eye, eye / 2 + _boss(layout, "damper"), SWING_MARGIN_MM),
           Joint("upper_arm", "wheel", job.upper_arm.outer_joint, BALL_JOINT_MM),
           Joint("lower_arm", "wheel", job.lower_arm.outer_joint, BALL_JOINT_MM),
           Joint("tie_rod", "wheel", job.tie_rod.outer, BALL_JOINT_MM)]
    if end:
        reach = layout.rod.eye_to_face_mm + layout.rod.lip_mm
        out += [Joint("rod", "rocker", job.rod.inboard, reach, SWING_MARGIN_MM), Joint("rod end", carrier, job.rod.outboard, 0.0, SWING_MARGIN_MM),
                Joint("rod", carrier, job.rod.outboard, reach)]
    if "spring" in present and job.spring.kind == "coil-over":
        out += [Joint("spring", "damper", job.rocker.damper_eye, math.inf)]
    elif "spring" in present:
        out += [Joint("spring", other, job.rocker.pivot, math.inf) for other in ("rocker", "spring housing", "spring anchor") if other in present or other == "rocker"]
    for seat in layout.seats:
        out += [Joint(seat.body, seat.bracket, seat.point, seat.radius_mm), Joint(seat.body, seat.member, seat.point, seat.radius_mm)]
    return [j for j in out if j.a in present and j.b in present]


def _boss(layout: Layout, arm: str) -> float:
    return layout.rocker.plate.eye_boss(arm).radius_mm if layout.rocker else 20.0
