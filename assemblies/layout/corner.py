"""From a job to its parts: which parameter sets there are, where each stands at ride height and what it moves
with.

Numbers only: nothing here needs the CAD kernel. A part that cannot be made becomes a finding, and the rest
goes on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from assemblies.job import Job
from assemblies.layout.fastener_bodies import place_bolts
from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.meeting import Tube
from assemblies.layout.members import member_part
from assemblies.layout.placing import SWING_MARGIN_MM, FlatPart, Layout, Seat, put
from assemblies.layout.spring import place_spring
from assemblies.layout.step_neighbours import placement
from assemblies.motion.mechanism import Mechanism
from assemblies.results.findings import Finding
from parts.arm import Arm
from parts.base.stock import RodEnd, rod_end, thread
from parts.box_strip import Swing
from parts.bracket import BracketPair
from parts.damper import Damper
from parts.damper_bracket import damper_bracket
from parts.fastener import bolt_of
from parts.files.imported import Imported
from parts.member import STEEL_KG_MM3, Member
from parts.pickup_bracket import pickup_bracket
from parts.rocker import BoxedRocker, LocalEyes, boxed_rocker, local
from parts.rod import Rod
from parts.rod_lug import RodLug, rod_lug
from parts.shape.form import Form, Frame, Prism, Vector
from parts.wheel import Wheel


@dataclass(frozen=True)
class DesignForces:
    """The worst forces the plates are sized for, over the whole travel, N (see assemblies.strength.loads and
    the job's [loads])."""

    rod_n: float
    damper_n: float
    spring_nm: float = 0.0  # torque of a rotary spring at full bump


def lay_out(
    job: Job,
    mechanism: Mechanism,
    travel_mm: np.ndarray,
    forces: DesignForces,
    slack_rocker_deg: float | None = None,
) -> Layout:
    """Place every part of the corner. `travel_mm` are the poses the swings are read from."""
    out = Layout(job, slack_rocker_deg=slack_rocker_deg)
    poses = mechanism.at(travel_mm)
    out.attempt("frame members", lambda: _members(out))
    out.attempt("rocker", lambda: _rocker(out, poses, forces))
    out.attempt("rod", lambda: _rod(out))
    out.attempt("tie rod", lambda: _tie_rod(out))
    out.attempt("damper", lambda: _damper(out))
    for which in ("upper_arm", "lower_arm"):
        out.attempt(which, lambda which=which: _arm(out, which))
    out.attempt("wheel", lambda: _wheel(out))
    if job.spring.kind != "coil-over":
        out.attempt("spring", lambda: place_spring(out, forces.spring_nm))
    out.attempt("damper bracket", lambda: _damper_bracket(out))
    for which in ("upper_arm", "lower_arm"):
        for end in ("front", "rear"):
            out.attempt(f"{which} {end} bracket", lambda which=which, end=end: _pickup(out, which, end))
    out.attempt("bolts", lambda: place_bolts(out, mechanism, travel_mm))
    return out


# ------------------------------------------------------------ rocker and rods


def _rocker(out: Layout, poses, forces: DesignForces) -> None:
    job = out.job
    r = job.rocker
    eyes = out.eyes = local(r.pivot, r.axis, job.rod.inboard, r.damper_eye)
    end = _rod_end(job)
    rod_eye_mm, damper_eye_mm = end.housing_diameter_mm, job.damper.eye_diameter
    given = {
        k: v
        for k, v in (
            ("pivot_boss_radius_mm", r.pivot_boss_radius),
            ("rod_boss_radius_mm", r.rod_boss_radius),
            ("damper_boss_radius_mm", r.damper_boss_radius),
            ("waist_radius_mm", r.waist_radius),
            ("weld_leg_mm", r.weld_leg),
        )
        if v is not None
    }
    shaft = job.damper.shaft_diameter if job.damper.body_end == "chassis" else job.damper.body_diameter
    made = out.rocker = boxed_rocker(
        eyes.rod_eye,
        eyes.damper_eye,
        thickness_mm=r.plate_thickness,
        box_width_mm=r.box_width,
        tube_outer_mm=r.pivot_tube.outer,
        tube_wall_mm=r.pivot_tube.wall,
        rod_hole_mm=r.rod_hole,
        damper_hole_mm=r.damper_hole,
        rod_swing=_swing(
            eyes,
            poses,
            "rod_inboard",
            "rod_outboard",
            rod_eye_mm / 2,
            max(job.rod.diameter, end.housing_width_mm) / 2,
        ),
        damper_swing=_swing(
            eyes,
            poses,
            "damper_eye",
            "damper_chassis",
            damper_eye_mm / 2,
            max(shaft, damper_eye_mm * 0.5) / 2,
        ),
        material=r.plate_material,
        hand=job.corner.side,
        rod_force_n=forces.rod_n,
        damper_force_n=forces.damper_n,
        safety=job.loads.safety,
        jig_hole_mm=r.jig_hole,
        window=r.window,
        **given,
    )
    _box_room(out, eyes, end)
    out.findings += [
        Finding(
            level="note",
            code="rocker",
            where="rocker",
            text=n[:1].upper() + n[1:] + ("" if n.endswith(".") else "."),
        )
        for n in made.notes
    ]
    shift = (r.box_width + r.plate_thickness) / 2
    for piece, part in _rocker_parts(made):
        x, y, z = part.centroid
        z = {"plate +z": shift, "plate -z": -shift}.get(piece, z)
        put(
            out,
            f"rocker {_side_of(piece, eyes.frame.z)}",
            "rocker",
            "rocker",
            made.forms[piece],
            eyes.frame,
            part,
            r.plate_material,
            (x, y, z),
        )
    out.flat.append(FlatPart("rocker plate", made.plate.outline(), 2, r.plate_thickness, r.plate_material))
    for s in made.strips:
        out.flat.append(FlatPart(f"rocker {s.name}", s.outline(), 1, s.thickness_mm, r.plate_material))
    if made.gusset:
        out.flat.append(
            FlatPart("rocker gusset", made.gusset.outline(), 1, made.gusset.thickness_mm, r.plate_material)
        )


def _side_of(piece: str, axis: Vector) -> str:
    """A plate's name by where it lies in the car: front, rear, left, right, upper or lower plate; other
    pieces keep theirs."""
    if not piece.startswith("plate"):
        return piece
    i = int(np.argmax(np.abs(axis)))
    ahead = (axis[i] > 0) == piece.endswith("+z")
    return f"{(('front', 'rear'), ('left', 'right'), ('upper', 'lower'))[i][not ahead]} plate"


def _rocker_parts(made: BoxedRocker):
    parts = {"plate +z": made.plate, "plate -z": made.plate, "pivot tube": made.tube, "gusset": made.gusset}
    parts |= {f"box strip {i + 1}": s for i, s in enumerate(made.strips)}
    return [(piece, parts[piece]) for piece in made.forms]


def _swing(eyes: LocalEyes, poses, eye: str, other: str, housing_mm: float, half_width_mm: float) -> Swing:
    """What a rod or damper sweeps about its eye, seen in the rocker, over all poses."""
    to_rocker = np.linalg.inv(poses.frame("rocker") @ eyes.frame.matrix())
    near, far = (
        np.einsum("...ij,...j->...i", to_rocker[..., :3, :3], poses.point(n)) + to_rocker[..., :3, 3]
        for n in (eye, other)
    )
    line = far - near
    angles = np.degrees(np.unwrap(np.arctan2(line[..., 1], line[..., 0])))
    angles = angles[np.isfinite(angles)]
    centre = eyes.rod_eye if eye == "rod_inboard" else eyes.damper_eye
    return Swing(
        centre,
        housing_mm + SWING_MARGIN_MM,
        half_width_mm + SWING_MARGIN_MM,
        float(angles.min()),
        float(angles.max()),
    )


def _box_room(out: Layout, eyes: LocalEyes, end: RodEnd) -> None:
    """Both joints must fit between the plates where they stand along the axis."""
    gap = out.job.rocker.box_width
    for what, offset, width, key in (
        ("rod end", eyes.rod_offset_mm, end.ball_width_mm, "rod"),
        ("damper eye", eyes.damper_offset_mm, out.job.damper.eye_width, "damper_eye"),
    ):
        room = gap / 2 - abs(offset) - width / 2
        if room < 0:
            out.findings.append(
                Finding(
                    level="stop",
                    code="box-width",
                    where="rocker",
                    text=(
                        f"The {what} is {width:g} mm wide and stands {offset:+.1f} mm along the axis from "
                        f"the plates' middle: it needs a gap of "
                        f"{2 * abs(offset) + width:.1f} mm between the plates and has {gap:g} mm. Widen "
                        f"rocker.box_width or move the {key} along the axis."
                    ),
                )
            )


def _rod_end(job: Job) -> RodEnd:
    """The rod end in hand: the job's sizes over the typical ones of its thread."""
    e = job.rod.rod_end
    return replace(
        rod_end(job.rod.thread),
        housing_diameter_mm=e.housing_diameter,
        housing_width_mm=e.housing_width,
        ball_width_mm=e.ball_width,
        bore_mm=e.bore,
    )


def _rod(out: Layout) -> None:
    job = out.job
    d = job.rod
    line = np.subtract(d.inboard, d.outboard)
    frame = Frame.looking(d.outboard, line, _square_to(line, job.rocker.axis))
    m = frame.matrix()
    bolt = _square_to(line, _outboard_bolt(job))
    turn = math.degrees(math.atan2(float(bolt @ m[:3, 1]), float(bolt @ m[:3, 0])))
    out.rod = rod = Rod(
        math.dist(d.outboard, d.inboard), d.diameter, d.wall, d.thread, _rod_end(job), outboard_turn_deg=turn
    )
    put(out, f"{d.kind} rod", "rod", "rod", rod.form(), frame, rod, d.material)
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


def _outboard_bolt(job: Job) -> np.ndarray:
    """Direction of the rod's outboard bolt: along the hinge of the arm that carries it, on the upright along
    the rocker's axis."""
    if job.rod.on == "upright":
        return np.asarray(job.rocker.axis, float)
    arm = getattr(job, job.rod.on)
    return np.subtract(arm.front_pivot, arm.rear_pivot)


def _tie_rod(out: Layout) -> None:
    job = out.job
    t = job.tie_rod
    length = math.dist(t.inner, t.outer)
    frame = Frame.looking(
        t.inner, np.subtract(t.outer, t.inner), _square_to(np.subtract(t.outer, t.inner), (0, 0, 1))
    )
    bar = Member.cylinder(t.inner, t.outer, t.diameter)
    put(out, "tie rod", "tie_rod", "tie_rod", bar.form(), frame)
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


# ------------------------------------------------------------ damper, arms, wheel


def damper_part(job: Job) -> Damper:
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
    )


def _damper(out: Layout) -> None:
    job = out.job
    part = out.damper = damper_part(job)
    chassis, eye = np.array(job.damper.chassis_eye), np.array(job.rocker.damper_eye)
    bolt = _square_to(eye - chassis, job.rocker.axis)
    at_chassis, at_rocker = (
        Frame.looking(chassis, eye - chassis, bolt),
        Frame.looking(eye, chassis - eye, bolt),
    )
    chassis_form, rocker_form = part.body_form(), part.shaft_form()
    if job.damper.body_end == "rocker":
        chassis_form, rocker_form = rocker_form, chassis_form
    names = ("body", "shaft") if job.damper.body_end == "chassis" else ("shaft", "body")
    put(out, f"damper {names[0]}", "damper", "damper_body", chassis_form, at_chassis)
    put(out, f"damper {names[1]}", "damper", "damper_shaft", rocker_form, at_rocker)
    if job.spring.kind == "coil-over":
        length = min(job.spring.free_length, math.dist(chassis, eye) - part.cap_mm - part.shaft_cap_mm)
        shaft_frame, carrier = (
            (at_rocker, "damper_shaft") if job.damper.body_end == "chassis" else (at_chassis, "damper_body")
        )
        put(
            out,
            "coil spring",
            "spring",
            carrier,
            part.spring_form(math.dist(chassis, eye), job.spring.outer_diameter, length),
            shaft_frame,
        )


def _arm(out: Layout, which: str) -> None:
    a = getattr(out.job, which)
    arm, frame = Arm.between(
        a.front_pivot,
        a.rear_pivot,
        a.outer_joint,
        a.tube_diameter,
        a.tube_wall,
        **Arm.bushed(thread(a.thread).diameter_mm, a.tube_diameter),
    )
    form, name = arm.form(), which.replace("_", " ")
    lug = out.lug = _rod_lug(out, arm, frame) if out.job.rod.on == which else out.lug
    holes = lug.holes if lug and out.job.rod.on == which else ()
    put(
        out,
        name,
        which,
        which,
        replace(form, cuts=(*form.cuts, *holes)),
        frame,
        arm,
        a.material,
        mass_kg=arm.mass_kg - (lug.drilled_mm3 * STEEL_KG_MM3 if holes else 0.0),
    )
    if lug and out.job.rod.on == which:
        for i, (sleeve, at) in enumerate(zip(lug.sleeves, lug.frames, strict=True), 1):
            put(
                out,
                f"rod lug sleeve {i}",
                "rod lug",
                which,
                sleeve.form(),
                at.then(frame),
                sleeve,
                a.material,
            )
        for i, (fin, at) in enumerate(lug.fins, 1):
            put(
                out,
                f"rod lug fin {i}",
                "rod lug",
                which,
                fin.form(),
                at.then(frame),
                fin,
                out.job.rocker.plate_material,
            )
        if lug.fins:
            fin = lug.fins[0][0]
            out.flat.append(
                FlatPart("rod lug fin", fin.outline(), 2, fin.thickness_mm, out.job.rocker.plate_material)
            )


def _rod_lug(out: Layout, arm: Arm, frame: Frame) -> RodLug | None:
    """What carries the rod's outboard bolt on this arm; one that cannot be made is said and left out."""
    rod = out.job.rod
    back = np.linalg.inv(frame.matrix())
    try:
        return rod_lug(
            arm,
            tuple(map(float, (back @ (*rod.outboard, 1.0))[:3])),
            tuple(map(float, back[:3, :3] @ _outboard_bolt(out.job))),
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


def _wheel(out: Layout) -> None:
    w = out.job.wheel
    from assemblies.motion.chain import spin_axis
    from assemblies.motion.hard_points import HardPoints

    spin = np.reshape(spin_axis(HardPoints.of(out.job)), (-1, 3))[0]
    ring = Wheel(w.tyre_radius, w.tyre_width, w.rim_diameter, w.rim_thickness)
    put(out, "wheel", "wheel", "upright", ring.form(), Frame.looking(w.centre, spin, (1.0, 0.0, 0.0)))


# ------------------------------------------------------------ frame and brackets


def _members(out: Layout) -> None:
    for m in out.job.member:
        out.attempt(m.name, lambda m=m: _member(out, m))
    out.attempt("tube ends", lambda: _fit(out))


def _fit(out: Layout) -> None:
    """Cut the ends of the frame's tubes to each other. A solid round is no tube (a rack's housing, a pin)
    unless its `ends` say so."""
    job, tubes = out.job, []
    for m in job.member:
        part = out.members.get(m.name)
        if m.shape == "round" and not m.wall and m.ends == "fitted" and not m.moves_with:
            part = next(
                (p.part or Member.tube(m.from_, m.to, m.size) for p in out.placed if p.name == m.name), None
            )
        if part is not None and m.kind in (None, "fixed"):
            tubes.append(Tube(m.name, part, m.ends != "square"))
    made = out.junctions = junctions(tubes, job.frame.join_within, job.junction)
    for i, p in enumerate(out.placed):
        tube = made.tubes.get(p.name)
        if tube is not None and p.carrier == "frame":
            out.placed[i] = replace(
                p, form=tube.form(), mass_kg=p.mass_kg and tube.mass_kg, centroid=tube.centroid
            )


def _member(out: Layout, m) -> None:
    if m.shape == "step":
        put(
            out,
            m.name,
            m.name,
            m.moves_with or "frame",
            Imported.of(m.file, m.mirrored),
            Frame.of(placement(m)),
        )
        return
    part = member_part(m)
    tube = m.shape in ("square", "rectangular") or (m.shape == "round" and m.wall)
    put(out, m.name, m.name, m.moves_with or "frame", part.form(), part.frame(), part if tube else None)
    if tube and not m.moves_with:
        out.members[m.name] = part


def _bracket(out: Layout, name: str, body: str, carrier: str, pair: BracketPair) -> None:
    """Place a pair of tabs on the member that carries it and list its blanks."""
    for i, tab in enumerate(pair.tabs, 1):
        flat = Prism(tab.outline, tab.thickness_mm)
        put(
            out,
            f"{name} tab {i}",
            name,
            "frame",
            Form((flat,)),
            tab.frame,
            tab,
            out.job.rocker.plate_material,
            flat.centroid,
            flat.volume_mm3 * STEEL_KG_MM3,
        )
    out.seats.append(
        Seat(name, carrier, body, pair.eye, max(pair.eye_radius_mm, pair.boss_mm) + pair.grip_mm / 2)
    )
    steel = out.job.rocker.plate_material
    low, high = pair.tabs
    if pair.alike:
        out.flat.append(FlatPart(f"{name} tab", low.outline, 2, pair.thickness_mm, steel))
    else:
        out.flat += [
            FlatPart(f"{name} tab 1", low.outline, 1, pair.thickness_mm, steel),
            FlatPart(f"{name} tab 2", high.outline, 1, pair.thickness_mm, steel),
        ]
    out.findings += [
        Finding(level="warn", code="bracket", where=name, text=w[:1].upper() + w[1:] + ".")
        for w in pair.warnings
    ]


def _damper_bracket(out: Layout) -> None:
    job = out.job
    d = job.damper
    line = np.subtract(job.rocker.damper_eye, d.chassis_eye)
    name = "damper bracket"
    _bracket(
        out,
        name,
        "damper",
        *damper_bracket(
            out.damper,
            d.chassis_eye,
            tuple(_bolt_axis(line, job.rocker.axis)),
            out.members,
            bolt=bolt_of(job.rocker.damper_hole),
            thickness_mm=d.bracket_thickness,
            purpose=name,
        ),
    )


def _bolt_axis(line, axis) -> np.ndarray:
    """The bolt square to a damper's line and as near to the rocker's axis as that allows."""
    line, axis = np.asarray(line, float), np.asarray(axis, float)
    if abs(line @ axis) > 0.9 * np.linalg.norm(line) * np.linalg.norm(axis):
        return axis
    return axis / np.linalg.norm(axis)


def _pickup(out: Layout, which: str, end: str) -> None:
    arm = getattr(out.job, which)
    part = next(p.part for p in out.placed if p.body == which)
    point = getattr(arm, f"{end}_pivot")
    axis = np.subtract(arm.front_pivot, arm.rear_pivot)
    name = f"{which.replace('_', ' ')} {end} bracket"
    _bracket(
        out,
        name,
        which,
        *pickup_bracket(
            part,
            point,
            tuple(axis),
            out.members,
            bolt=arm.thread,
            thickness_mm=arm.bracket_thickness,
            purpose=name,
        ),
    )
