"""Which bodies stand near each other and where they are joined: the layout as the interference check sees
it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import groupby

import numpy as np

from assemblies.clearance import Body, Joint
from assemblies.clearance.imported import read_step
from assemblies.clearance.plan import ANY
from assemblies.job import Job
from assemblies.layout import links
from assemblies.layout.pack_slide import pack_end
from assemblies.layout.placing import SWING_MARGIN_MM, Layout, Placed, Seat
from assemblies.layout.rack import END, INNER_JOINT, joint_zone_mm
from assemblies.layout.rack import HOUSING as RACK_HOUSING
from assemblies.layout.rods import outboard_bolt
from assemblies.layout.step_neighbours import error_mm
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import G_M_S2, Preload, Spring
from parts.arm import Arm
from parts.bracket import BracketPair
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.member import Member
from parts.shape.form import Form, Frame, Round

MOVING = ("rocker", "rod", "rod end", "damper", "spring", "upper_arm", "lower_arm", "tie_rod")
HOLLOW = ("wheel", "spring housing")  # bodies that others stand inside
ROCKER_BOLTS = "rocker bolts"
PIVOT_BEARINGS, PIVOT_SPINDLE = "pivot bearings", "pivot spindle"
# parts of bodies that joints name
PACK, PLATES, HOUSING, BALL, SHANK, ENDS = "pack", "plates", "housing", "ball", "shank", "ends"
TUBES = "tubes"
EYES = {"damper_body": "chassis eye", "damper_shaft": "rocker eye"}  # of the damper, by what carries it
PLAY_MM = 0.5  # an eye to what it sits between: less is no room for a washer, common practice
BALL_JOINT_MM = 30.0  # round an outer ball joint only the rim's gap is asked, not the tyre's; common practice


def bodies(layout: Layout) -> list[Body]:
    """Every placed form, grouped by body, by the rigid motion that carries it and by its part for the
    joints."""
    return list(layout.once(_bodies))


def _bodies(layout: Layout) -> tuple[Body, ...]:
    out = []
    pack, coil, rod = layout.pack, layout.coil, layout.rod_placed
    if pack is not None:  # it turns about its own axis: what it sweeps is the round bar through its corners
        bar = Round(pack.part.circle_mm, pack.part.length_mm)
        end = pack_end(layout)  # what a pack that slides pushes through the rocker's socket
        out.append(
            Body("spring", "spring", (Form((bar,)).moved(pack.frame), *([end] if end else [])), part=PACK)
        )
    if coil is not None:
        out += _coil(layout.job, coil)
    if rod is not None:
        out += _rod(layout, rod)
    looked_at = [p for p in _looked_at(layout) if p not in (pack, coil, rod)]
    rows = sorted(
        (p.body, p.carrier, part, i)
        for i, p in enumerate(looked_at)
        for part in ([""] if isinstance(p.form, Imported) else split(layout, p))
    )
    for (body, carrier, part), group in groupby(rows, key=lambda row: row[:3]):
        kind = "tyre" if body == "wheel" else "moving" if body in MOVING or carrier != "frame" else "fixed"
        stood = [looked_at[i] for *_, i in group]
        forms = tuple(split(layout, p)[part] for p in stood if isinstance(p.form, Form))
        shells = tuple(s for p in stood if isinstance(p.form, Imported) for s in shells_of(layout.job, p))
        hollow = body in HOLLOW or body == spring_tube(layout)
        out.append(Body(body, carrier, forms, kind, hollow=hollow, shells=shells, part=part))
    return tuple(asking(layout.job, b) for b in out)


def spring_tube(layout: Layout) -> str | None:
    """The member of the frame that the spring lives in."""
    return getattr(getattr(layout.job.spring, "housing", None), "member", None)


def _on_spring_tube(layout: Layout) -> list[str]:
    """What is welded on the outside of the tube that the stub and the spring live in: its wall is between
    them. All of "spring" is in that tube or in the rocker's own."""
    tube = spring_tube(layout)
    if tube is None or layout.pivot is None or layout.pivot.kind != "stub":
        return []
    tubes = {m for n in layout.junctions.nodes if tube in n.members for m in n.members} - {tube}
    return [*sorted(tubes), *(s.bracket for s in layout.seats if s.member == tube)]


def _coil(job: Job, p: Placed) -> list[Body]:
    """A coil from its seat on the shaft to its perch on the body, which come nearer in bump: two rings of its
    least length, one on either, that together are as long as it ever is."""
    ride, least, most = coil_mm(job)
    (ring,) = p.own_form.pieces
    assert isinstance(ring, Round)
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
    travel = np.linspace(-job.corner.droop, job.corner.bump, 101)
    length = job.coil.free_length - preload.curves(mechanism.at(travel)).compression_mm
    return (
        job.coil.free_length - preload.ride_deflection,
        float(np.nanmin(length)),
        float(np.nanmax(length)),
    )


def shells_of(job: Job, p: Placed) -> tuple:
    """An imported neighbour's triangles, near enough to its surface for the job's tolerance. Raises
    ValueError."""
    if not isinstance(p.form, Imported):
        raise TypeError(f"{p.name} is not read from a STEP file")
    return read_step(p.form.path, p.frame.matrix(), error_mm(job), p.form.mirrored)


def asking(job: Job, body: Body, name: str | None = None) -> Body:
    """The body with the kind and the building tolerance the job gives it, or the body called `name`."""
    name = name or body.name
    given = job.member_by_name.get(name) or next((x for x in job.link if x.name == name), None)
    if given is None:
        return replace(body, margin_mm=(job.clearance.margins or {}).get(name, 0.0))
    return replace(body, kind=given.kind or body.kind, margin_mm=given.margin or 0.0)


def _looked_at(layout: Layout) -> list[Placed]:
    """What is placed, without the bolts where the job leaves them out."""
    return [p for p in layout.placed if layout.job.clearance.fasteners or not isinstance(p.part, BoltAndNut)]


def split(layout: Layout, p: Placed) -> dict[str, Form]:
    """What is placed as one or more parts by name, car axes at ride: an arm's housings beside its tubes, a
    damper's eye beside its body, a bolt's shank between its ends; of each placed thing worked once.

    A bolt counts as the round through its hexagons' corners: how they are turned is not known. A tube that is
    cut to others as its envelope, square at its long points: no metal of it lies outside. A square tube's
    corners are as sharp as they may be."""
    known = layout.split.get(p.name)
    if known is None or known[0] is not p:
        known = layout.split[p.name] = p, _split(layout, p)
    return known[1]


def _split(layout: Layout, p: Placed) -> dict[str, Form]:
    tube = layout.junctions.tubes.get(p.name) if p.carrier == "frame" else None
    if tube is not None and p.name != spring_tube(layout):
        return {"": tube.hull_form(sharp=True).moved(p.frame)}
    if isinstance(p.part, Member) and p.body not in (*HOLLOW, spring_tube(layout)):
        return {"": p.part.hull_form(sharp=True).moved(p.frame)}
    form = p.own_form
    if isinstance(p.part, BoltAndNut):
        bolt, shank = p.part, p.part.shank()
        ends = Form((*bolt.head_envelope().pieces, *bolt.nut_envelope().pieces))
        named = {f"{p.name} {SHANK}": shank, f"{p.name} {ENDS}": ends}
    elif isinstance(p.part, Arm):
        named = {}
        for part, piece in zip(Arm.PARTS, form.pieces, strict=True):
            named[part] = Form((*(named[part].pieces if part in named else ()), piece))
    elif p.body == "damper":
        eye, *rest = form.pieces
        named = {EYES[p.carrier]: Form((eye,)), "": Form(tuple(rest))}
    elif (of_link := links.parts_of(layout, p)) is not None:
        named = of_link
    elif p.body == "rocker":
        named = {PLATES if p.name.endswith(" plate") else "": form}
    elif p.body == END:
        named = {INNER_JOINT if p.name == INNER_JOINT else "": form}
    else:
        named = {"": form}
    return {part: f.moved(p.frame) for part, f in named.items()}


def _rod(layout: Layout, p: Placed) -> list[Body]:
    """The tube with its inboard end, and the outboard end, which lives between its carrier's tubes, as a body
    of its own. A ball stays with its bolt, along which it lies; its housing tilts with the rod."""
    job, rod = layout.job, p.part
    out = []
    for body, form, at, carrier, along in (
        ("rod", rod.rest(), job.rod.inboard, "rocker", job.rocker.axis),
        ("rod end", rod.outboard_end(), job.rod.outboard, bolt_carrier(job), outboard_bolt(job)),
    ):
        housing, ball, *rest = form.pieces[-rod.end_pieces :]
        rest = (*form.pieces[: -rod.end_pieces], *rest)
        lying = Frame.looking(at, along, np.eye(3)[int(np.argmin(np.abs(along)))])
        middle = Frame((0.0, 0.0, -ball.length_mm / 2))
        out += [
            Body(body, "rod", (Form(rest).moved(p.frame),)),
            Body(body, "rod", (Form((housing,)).moved(p.frame),), part=HOUSING),
            Body(body, carrier, (Form((replace(ball, frame=middle),)).moved(lying),), part=BALL),
        ]
    return out


def bolt_carrier(job: Job) -> str:
    """What the rod's outboard bolt moves with."""
    return "wheel" if job.rod.on == "upright" else job.rod.on


def joints(layout: Layout) -> list[Joint]:
    """Where bodies are meant to touch: what turns in what, and what gap the rest of them keeps."""
    job = layout.job
    present = {p.body for p in _looked_at(layout)} | ({"rod end"} if layout.rod else set())
    out = [
        *_in_the_rocker(layout),
        *_on_the_arm(layout),
        *(
            Joint(body, "wheel", point, BALL_JOINT_MM, job.clearance.caliper)
            for body, point in (
                ("upper_arm", job.upper_arm.outer_joint),
                ("lower_arm", job.lower_arm.outer_joint),
                ("tie_rod", job.tie_rod.outer),
            )
        ),
        *(j for seat in layout.seats for j in _seated(seat)),
    ]
    if job.rack is not None:
        out += [
            Joint(
                "tie_rod",
                END,
                job.tie_rod.inner,
                joint_zone_mm(job),
                SWING_MARGIN_MM,
                ((ANY, INNER_JOINT, None),),
            ),
            Joint(END, RACK_HOUSING, rows=((ANY, ANY, None),)),  # it slides in it
        ]
    if job.spring.kind == "coil-over":
        # coil, body and shaft share one line and only slide along it: the part itself keeps the coil off them
        out.append(Joint("spring", "damper", rows=((ANY, "", None), (ANY, ANY, PLAY_MM))))
    else:
        out += [
            Joint("spring", "spring anchor", required_mm=SWING_MARGIN_MM, rows=((PACK, ANY, None),)),
            Joint("spring", "spring housing", rows=((ANY, ANY, PLAY_MM),)),
            Joint("spring", "anchor plates bolt", required_mm=SWING_MARGIN_MM),
            Joint("spring", PIVOT_BEARINGS, rows=((ANY, ANY, None),)),  # the stub turns in them
            *(Joint("spring", n, rows=((ANY, ANY, None),)) for n in _on_spring_tube(layout)),
        ]
        if tube := spring_tube(layout):
            out.append(Joint("spring", tube, rows=((ANY, ANY, PLAY_MM),)))
    out += links.joints(layout)
    out.append(Joint("rocker", PIVOT_SPINDLE, rows=((ANY, ANY, None),)))  # it turns on it
    return [j for j in out if j.a in present and j.b in present]


def _in_the_rocker(layout: Layout) -> list[Joint]:
    """A rod or damper in its own rocker keeps the margin its box strips were cut for; an eye that fills the
    gap between the plates is clamped there."""
    job = layout.job
    clamped = layout.eyes is not None and (
        job.rocker.box_width / 2 - abs(layout.eyes.damper_offset_mm) - job.damper.eye_width / 2 < PLAY_MM
    )
    out = []
    for body, eye, side, bolt in (
        ("damper", EYES["damper_shaft"], None if clamped else PLAY_MM, "damper to rocker bolt"),
        ("rod", HOUSING, PLAY_MM, "rod to rocker bolt"),
    ):
        out += [
            Joint(body, "rocker", required_mm=SWING_MARGIN_MM, rows=((eye, PLATES, side),)),
            Joint(body, ROCKER_BOLTS, required_mm=SWING_MARGIN_MM, rows=_on_its_bolt(eye, bolt)),
        ]
    return out


def _on_the_arm(layout: Layout) -> list[Joint]:
    """The rod's outboard end on its carrier and on what holds its bolt there."""
    job = layout.job
    if layout.rod is None:
        return []
    carrier = bolt_carrier(job)
    reach = layout.rod.eye_to_face_mm + layout.rod.lip_mm
    return [
        Joint("rod", "rod end", rows=((ANY, ANY, PLAY_MM),)),
        Joint("rod end", carrier, required_mm=SWING_MARGIN_MM),
        Joint("rod", carrier, job.rod.outboard, reach, SWING_MARGIN_MM),
        Joint("rod end", "rod lug", required_mm=SWING_MARGIN_MM, rows=((HOUSING, ANY, PLAY_MM),)),
        Joint(
            "rod end",
            "rod lug bolt",
            required_mm=SWING_MARGIN_MM,
            rows=_on_its_bolt(HOUSING, "rod lug bolt"),
        ),
    ]


def _seated(seat: Seat) -> list[Joint]:
    """An arm's housing, a damper's eye or the rocker's tube between its bracket's tabs, on their bolt, before
    their member."""
    eye = EYES["damper_body"] if seat.body == "damper" else f"{seat.bracket.split()[-2]} housing"
    if seat.body == "rocker":
        eye = ""
    bolt = f"{seat.bracket} bolt"
    return [
        Joint(seat.body, seat.bracket, required_mm=SWING_MARGIN_MM, rows=((eye, ANY, PLAY_MM),)),
        Joint(
            seat.body,
            bolt,
            required_mm=SWING_MARGIN_MM,  # the housing's bore is cut through the end of its tube, too
            rows=(
                *_on_its_bolt(eye, bolt),
                (TUBES, f"{bolt} {SHANK}", None),
                *(((PLATES, f"{bolt} {SHANK}", None),) if seat.body == "rocker" else ()),
            ),
        ),
        Joint(
            seat.body,
            seat.member,
            seat.point,
            seat.radius_mm,
            SWING_MARGIN_MM,
            ((eye, ANY, BracketPair.swing_mm),),
        ),
    ]


def _on_its_bolt(eye: str, bolt: str):
    """An eye turns on the shank and keeps off head, nut and washers."""
    return ((eye, f"{bolt} {SHANK}", None), (eye, f"{bolt} {ENDS}", PLAY_MM))
