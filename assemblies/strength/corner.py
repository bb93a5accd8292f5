"""All strength checks of a laid-out corner, what is not checked, what the frame must bear, and the findings
from them."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field

import numpy as np

from assemblies.job import Job
from assemblies.layout.account import Checked, NotChecked
from assemblies.layout.placing import Layout, needed
from assemblies.layout.stub import FLANGE_WELD_MM
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from assemblies.results.faults import fault, is_refusal
from assemblies.results.findings import Finding, Level
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
    stops,
    tubes,
    welds,
)
from assemblies.strength.cures import Again, tried
from assemblies.strength.eyes_pins import Joint
from assemblies.strength.forces import Forces, corner_forces, rocker_forces
from assemblies.strength.load_cases import LoadCase, cases_of
from assemblies.strength.one_gone import one_gone
from assemblies.strength.reactions import Reaction, joints, reactions
from assemblies.strength.row import Check
from assemblies.strength.sizing import Option
from assemblies.strength.welds import weaker
from parts.base.stock import steel, thread
from parts.calc.bolts import Bolt
from parts.fastener import bolt_of
from parts.rod import Rod

NEAR = 0.9  # of a limit: worth a word


@dataclass
class Strength:
    """What the checks found, worst first; `missing`: what a drawing would need and is not checked here, with
    the reason."""

    cases: tuple[LoadCase, ...]
    checks: list[Check] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    frame: list[Reaction] = field(default_factory=list)
    joints: list[Reaction] = field(default_factory=list)
    path: list[path.Found] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    residual: float = 0.0
    virtual_work: float = 0.0


def strength(
    job: Job, mechanism: Mechanism, sprung: Springing, layout: Layout, again: Again | None = None
) -> Strength:
    """Every check of the corner. A part that could not be made has its checks listed as missing.

    `again`: the rows of the job with keys changed; with it each cure is tried before it is told."""
    out = Strength(cases_of(job, sprung))
    service = corner_forces(job, mechanism, sprung, out.cases)
    f = service.times(job.loads.safety)
    if not len(f.case):
        out.missing.append("everything: the linkage reaches no pose of any load case")
        return out
    out.residual, out.virtual_work = f.residual, f.virtual_work
    unit = corner_forces(
        job,
        mechanism,
        sprung,
        (LoadCase("one weight", (0.0, 0.0, job.corner.corner_mass * 9.80665), travel_mm=(0.0, 0.0)),),
        spring_takes_all=True,
    )
    rooms = (
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
    for room, name in rooms:
        try:
            room(out, job, layout, sprung, f, unit)
        except Exception as e:
            out.missing.append(f"{name}: not checked further: {e}")
            if not is_refusal(e):
                out.findings.append(fault(f"strength of the {name}", e))
    weight = Strength(out.cases)
    for room, _ in rooms:
        with suppress(Exception):  # told above
            room(weight, job, layout, sprung, unit, unit)
    out.checks += _fatigue(job, fatigue.of_welds(weight.checks))
    out.frame, out.joints = reactions(job, layout, service), joints(layout, service)
    thrown = stops.taut(job, mechanism, sprung)
    if thrown is not None:
        held, pulled = stops.on_frame(job, layout, thrown)
        if thrown.strap.on != "upright":
            out.checks += stops.on_arm(job, layout, thrown)
        if held.link.member:
            rows, words = stops.on_frame_tube(job, layout, thrown, f, held.link.member)
            out.checks += rows
            out.missing += words
    out.missing += stops.missing(job, mechanism, sprung, f, thrown)
    out.missing += _never_checked(job, layout) + _of_parts(layout, out)
    out.checks.sort(key=lambda c: (-round(c.use, 9), c.item, c.check))  # rounding decides no order
    if again is not None:
        out.checks = tried(out.checks, again)
    out.path = path.walk(job, layout, service)
    if thrown is not None:
        out.path.append(held)
        out.frame.append(pulled)
    out.missing += path.missing(out.path)
    out.findings += [
        *path.findings(job, layout, out.path),
        *_material(job, layout),
        *_uses(out.checks, again is not None),
        *_spring_care(job),
        one_gone(job),
    ]
    return out


# ------------------------------------------------------------------------------------------------ rooms


def _rocker(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    if layout.rocker is None or layout.eyes is None:
        out.missing.append("rocker: it could not be made, so nothing of it is checked")
        return
    made, plate = layout.rocker, layout.rocker.plate
    r, one = rocker_forces(f, layout.eyes), rocker_forces(unit, layout.eyes)
    metal = steel(job.rocker.plate_material)
    arms = {arm: rocker.cuts(made, arm) for arm in ("rod", "damper")}
    out.checks += rocker.checks(f, r, made, arms, metal, _into_the_plane(job, layout))
    for arm, force, hole, eye_mm in (
        ("rod", r.rod_n, job.rocker.rod_hole, job.rod.rod_end.ball_width),
        ("damper", r.damper_n, job.rocker.damper_hole, job.damper.eye_width),
    ):
        joint = Joint(
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
    out.checks += welds.checks(f, r, made, arms, metal, metal)
    out.checks += tubes.pivot_tube(f, r, made, metal)
    out.checks += _fatigue(job, _rocker_details(made, arms, one))
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


def _rocker_details(made, arms, one) -> list[fatigue.Detail]:
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


def _fatigue(job: Job, details: list[fatigue.Detail]) -> list[Check]:
    spectrum = job.fatigue
    return fatigue.checks(details, spectrum.ranges, spectrum.gamma, bool(spectrum.model_fields_set))


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
        out.checks += _fatigue(job, [stem])
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
            f"its ends it must bear {bears.min():+.0f} to {bears.max():+.0f} N "
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
        out.checks += tubes.arm(
            f,
            which,
            placed.part,
            placed.frame.matrix()[:3, :3],
            steel(getattr(job, which).material),
            job.rod.on == which,
        )


def _lug(out: Strength, job: Job, layout: Layout, sprung: Springing, f: Forces, unit: Forces) -> None:
    which, placed = job.rod.on, layout.rod_arm
    if layout.lug is None or placed is None:
        out.missing.append(
            f"rod's outboard lug on the {which.replace('_', ' ')}: not drawn here; the joint forces give "
            f"what it must bear"
        )
        return
    bolt = Bolt(bolt_of(job.rod.rod_end.bore), job.bolts.grade)
    out.checks += lug.checks(
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
    out.checks += _fatigue(
        job, spring.details(unit, layout.sleeve, job.bolts.threads_in_plane, job.pivot.kind == "stub")
    )
    out.checks += spring.ends(
        f,
        socket,
        layout.sleeve,
        layout.anchor,
        steel(job.rocker.plate_material),
        job.bolts.grade,
        job.bolts.threads_in_plane,
        stub=job.pivot.kind == "stub",
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
    out.checks += _fatigue(job, pivot.details(job, m, one))
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
        pair = brackets.Pair(
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
        out.checks += brackets.checks(f, pair)


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


# ------------------------------------------------------------ what is left open


def _never_checked(job: Job, layout: Layout) -> list[str]:
    out = [
        "tapers of the outer ball joints and the upright: bought; the joint forces give what they must bear",
        "side walls of a member under a saddle or a lapped foot, in shear; of these feet only what bends a "
        "wall is checked, and their welds are counted as if they bore evenly where nothing yields",
        "bushes and housings at the arms' pivots: bought or turned to them; the joint forces give what they "
        "must bear",
        "weight and inertia of the parts, friction, heat, rust and abuse beyond the load cases",
    ]
    if job.spring.kind != "coil-over":
        if job.pivot.kind != "stub":
            out.append("anchor plate to frame: not drawn here; the frame's reactions give the torque")
        out += [
            "rims of the socket's plates beside the window's corners",
            "fatigue of the spring's free length: no curve without its steel and surface",
        ]
    if layout.pivot is None:
        out.append(
            "rocker's pivot pin, bushes and their brackets on the frame: not drawn here; the frame's "
            "reactions "
            "give what they must bear"
        )
    if layout.rocker is not None and job.rocker.window:
        out.append("bending of the strips of metal beside the rocker's window each by itself")
    return out


def _of_parts(layout: Layout, found: Strength) -> list[str]:
    """What each placed part says of itself: why it is not checked, or the rows it should have and has not."""
    there = {c.item for c in found.checks}
    out: list[str] = []
    for p in layout.placed:
        if isinstance(p.strength, NotChecked):
            said = p.strength.why
            if not any(m.startswith(said) for m in [*found.missing, *out]):
                out.append(said)
        elif isinstance(p.strength, Checked):
            told = [i for i in p.strength.items if any(m.startswith(i) for m in found.missing)]
            out += [f"{p.name}: no row of {i}" for i in p.strength.items if i not in there and i not in told]
    return out


# ------------------------------------------------------------------------------------------------ findings


def _told(value: float, unit: str) -> str:
    """A row's number with its unit; a sum of shares has none ("-").

    >>> _told(1.0331, "-"), _told(214.53, "MPa"), _told(32473.1, "N")
    ('1.033', '214.5 MPa', '32470 N')
    """
    number = f"{float(f'{value:.4g}'):.12g}"  # four figures, and never with an exponent
    return number if unit == "-" else f"{number} {unit}"


def _uses(checks: list[Check], was_tried: bool) -> list[Finding]:
    """One finding an item: its worst check over the limit, and how many more of it are; says where its cure
    was not tried."""
    cure = "Cure" if was_tried else "Cure, not tried"
    found: list[Finding] = []
    over: dict[tuple[str, Level], list[Check]] = {}
    for c in checks:
        if not c.ok:
            over.setdefault((c.item, c.level), []).append(c)
    for (item, level), rows in over.items():
        c = max(rows, key=lambda r: r.use)
        more = (
            f" {len(rows) - 1} more of its checks are over: {', '.join(r.check for r in rows if r is not c)}."
            if len(rows) > 1
            else ""
        )
        breaks = "would break or yield" if level == "stop" else "is over its guide"
        at = f" at wheel {c.wheel_mm:+.1f} mm" if c.wheel_mm is not None and c.case != "spectrum" else ""
        found.append(
            Finding(
                level=level,
                code="strength",
                where=item,
                severity=c.use,
                text=(
                    f"{c.check[:1].upper() + c.check[1:]} {breaks}: {_told(c.demand, c.unit)} asked, "
                    f"{_told(c.resistance, c.unit)} there, use {c.use:.2f}, case {c.case}{at} "
                    f"({c.source}). "
                    f"{cure}: {c.cure or 'less load or more metal there'}.{more}"
                ),
            )
        )
    near = [c for c in checks if NEAR < c.use <= 1]
    if near:
        found.append(
            Finding(
                level="note",
                code="strength-near",
                where="strength",
                text=f"Over {100 * NEAR:.0f} % used: "
                + "; ".join(f"{c.item}, {c.check} {c.use:.2f}" for c in near[:6])
                + ".",
            )
        )
    return found


def _material(job: Job, layout: Layout) -> list[Finding]:
    """Unknown scrap counts as S235, and thin plate's welds lie outside the usual rules: both are said."""
    keys = [
        ("rocker.plate_material", job.rocker.plate_material),
        ("upper_arm.material", job.upper_arm.material),
        ("lower_arm.material", job.lower_arm.material),
        ("rod.material", job.rod.material),
    ]
    keys += [
        (f"member.{m.name}.material", m.material)
        for m in job.member
        if hasattr(m, "material") and m.name in {x.member for x in layout.seats}
    ]
    unknown = [k for k, v in keys if v == "unknown"]
    out = []
    if unknown:
        out.append(
            Finding(
                level="note",
                code="steel-unknown",
                where=", ".join(unknown),
                text="Steel not named: counted as S235 (yield 235, tensile 360 MPa), the weakest usual "
                "grade. "
                "Use plate of unknown origin for eyes and brackets only after a test or with its "
                "certificate.",
            )
        )
    if job.rocker.plate_thickness < 4:
        out.append(
            Finding(
                level="note",
                code="thin-weld",
                where="welds",
                text=f"The plate is {job.rocker.plate_thickness:g} mm: EN 1993-1-8 section 4 starts at 4 mm "
                f"and counts fillets from a throat of 3 mm "
                "and runs from 30 mm; the weld numbers are a first cut. Weld pieces of the same plate, saw "
                "them open and look (quality C of ISO 5817 at least, B at eyes and brackets).",
            )
        )
    return out


def _spring_care(job: Job) -> list[Finding]:
    if job.spring.kind == "coil-over":
        return []
    return [
        Finding(
            level="note",
            code="spring-care",
            where="spring",
            text=(
                "Never weld, heat or strike an arc on the spring, and cut strips cold: a blue edge or a dot "
                "of spatter is a crack. A new one settles, as a rule 1 to 3 % of its torque, "
                "2 to 6 mm of ride height in 200 km (from "
                "memory)"
                + (
                    "; it is pre-set in one sense: stamp its side and direction."
                    if job.spring.preset
                    else "."
                )
            ),
        )
    ]
