"""What the job gives as frame and neighbours, and the brackets that sit on the frame."""

from __future__ import annotations

from functools import partial

import numpy as np

from assemblies.job.frame import RectangularBar, RoundBar, SquareBar
from assemblies.job.values import Standing
from assemblies.layout.account import (
    Checked,
    FlatPart,
    FromPlate,
    FromStock,
    Given,
    NoSeam,
    Seam,
    SeamOf,
    Seams,
    Unchecked,
    Unloaded,
)
from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.meeting import Tube
from assemblies.layout.members import member_part
from assemblies.layout.placing import Layout, Placed, Seat, put
from assemblies.layout.step_neighbours import placement
from assemblies.results.findings import Finding
from parts.bracket import BracketPair, NoSeat, in_reach
from parts.damper_bracket import damper_bracket
from parts.fastener import bolt_of
from parts.files.imported import Imported
from parts.member import STEEL_KG_MM3, Member
from parts.pickup_bracket import pickup_bracket
from parts.shape.form import Form, Frame, Prism, Vector
from parts.tab import Tab, fillet_leg_mm

FRAME = Unchecked(
    "frame tubes but for the walls under the feet and the spans that carry brackets: the frame's own design, "
    "from the frame's reactions"
)
MIDDLE_MM = 1.0  # nearer to the car's middle, a tube's end lies in it
NEIGHBOUR = Unloaded("a neighbour, asked for its gaps alone")


def place_members(out: Layout) -> None:
    """Frame members, their tubes cut to each other, and what else the job says stands near."""
    made: dict[str, Member | Imported] = {}
    for m in out.job.member:
        out.attempt(m.name, partial(_make, out, made, m))
    for m in out.job.member:
        part = made.get(m.name)
        if isinstance(part, Member) and _is_tube(m) and not m.moves_with:
            out.members[m.name] = part
    out.attempt("tube ends", lambda: _fit(out, made))
    for m in out.job.member:
        if m.name in made:
            out.attempt(m.name, partial(_member, out, m, made[m.name]))


def sides(job) -> str:
    """ "one": the tubes of one side stand for the other's mirror images too; "both": each stands once, as
    where the job says so or has tubes wholly on either side."""
    if job.frame.sides is not None:
        return job.frame.sides
    y = [(m.from_[1], m.to[1]) for m in job.member if _is_tube(m)]
    left, right = any(min(b) > MIDDLE_MM for b in y), any(max(b) < -MIDDLE_MM for b in y)
    return "both" if left and right else "one"


def of_car(job, member: Member) -> int:
    """How many of a tube both sides of the car take: one of a tube that crosses the middle or lies in it,
    or where each is listed."""
    a, b = member.from_[1], member.to[1]
    middle = max(abs(a), abs(b)) <= MIDDLE_MM
    return 1 if sides(job) == "both" or middle or (a * b < 0 and min(abs(a), abs(b)) > MIDDLE_MM) else 2


def named_at(point) -> str:
    """The name of the node at a point of a member, "" where it is none's."""
    return point.written if isinstance(point, Standing) and isinstance(point.written, str) else ""


def moved_by(point) -> Vector:
    """What a point written in this one's place is moved by."""
    return point.free if isinstance(point, Standing) else (0.0, 0.0, 0.0)


def _is_tube(m) -> bool:
    return m.shape in ("square", "rectangular") or (m.shape == "round" and bool(m.wall))


def _make(out: Layout, made: dict[str, Member | Imported], m) -> None:
    made[m.name] = Imported.of(m.file, m.mirrored) if m.shape == "step" else out.made(member_part, m)


def _fit(out: Layout, made: dict[str, Member | Imported]) -> None:
    """Cut the ends of the frame's tubes to each other. A solid round is no tube (a rack's housing, a pin)
    unless its `ends` say so."""
    tubes = []
    for m in out.job.member:
        part = made.get(m.name)
        if not isinstance(m, SquareBar | RectangularBar | RoundBar) or not isinstance(part, Member):
            continue
        bar = m.shape == "round" and not m.wall and m.ends == "fitted"
        if not m.moves_with and m.kind in (None, "fixed") and (m.name in out.members or bar):
            names = (named_at(m.from_), named_at(m.to))
            moved = (moved_by(m.from_), moved_by(m.to))
            tubes.append(Tube(m.name, part, m.ends != "square", names, moved))
    mirrored = sides(out.job) == "one"
    of = tuple(tubes), out.job.frame.join_within, tuple(out.job.junction), mirrored
    out.junctions = out.made(junctions, *of)


def _member(out: Layout, m, part: Member | Imported) -> None:
    tube = out.junctions.tubes.get(m.name)
    ours = m.name in out.members
    put(
        out,
        m.name,
        m.name,
        m.moves_with or "frame",
        part if isinstance(part, Imported) else (tube or part).form(),
        Frame.of(placement(m)) if isinstance(part, Imported) else part.frame,
        part if _is_tube(m) else None,
        source=FromStock((m.name,)) if ours else Given("a neighbour, as the job gives it"),
        weld=NoSeam("of the frame: its tubes are cut to each other and welded by the frame's own plan")
        if ours
        else NoSeam("a neighbour"),
        strength=FRAME if ours else NEIGHBOUR,
        centroid=tube.centroid if tube else None,
        mass_kg=tube.mass_kg if tube and ours else None,
    )


# ------------------------------------------------------------ brackets


def stand_bracket(out: Layout, name: str, body: str, carrier: str, pair: BracketPair) -> None:
    """Place a pair of tabs on the member that carries it and list its blanks."""
    low, high = pair.tabs
    asked = getattr(out.job, "pivot" if body == "rocker" else body).bracket_weld
    seam = Seam(  # the leg is what the strength counts
        f"{name} to {carrier}: outside, other outside, inside, other inside, round the ends",
        4,
        low.run_mm,
        fillet_leg_mm(low.thickness_mm, out.members[carrier].section.wall_mm, asked),
    )
    steel = out.job.rocker.plate_material
    thick = pair.thickness_mm
    first = FlatPart(f"{name} tab" if pair.alike else f"{name} tab 1", low.outline(), 1, thick, steel)
    second = first if pair.alike else FlatPart(f"{name} tab 2", high.outline(), 1, thick, steel)
    placed = (
        _tab(out, name, 1, low, first, Seams((seam,))),
        _tab(out, name, 2, high, second, SeamOf(f"{name} tab 1")),
    )
    zone_mm = max(pair.eye_radius_mm, pair.boss_mm) + pair.grip_mm / 2
    out.brackets[name] = Seat(name, carrier, body, pair.eye, zone_mm, placed)
    out.findings += [
        Finding(level="warn", code="bracket", where=name, text=w[:1].upper() + w[1:] + ".")
        for w in pair.warnings
    ]


def _tab(out: Layout, bracket: str, i: int, tab: Tab, blank: FlatPart, weld: Seams | SeamOf) -> Placed[Tab]:
    flat = Prism(tab.outline(), tab.thickness_mm)
    return put(
        out,
        f"{bracket} tab {i}",
        bracket,
        "frame",
        Form((flat,)),
        tab.frame,
        tab,
        source=FromPlate(blank),
        weld=weld,
        strength=Checked((bracket,)),
        material=blank.material,
        centroid=flat.centroid,
        mass_kg=flat.volume_mm3 * STEEL_KG_MM3,
    )


def place_damper_bracket(out: Layout) -> None:
    """The bracket of the damper's chassis eye. Needs the damper in place."""
    job = out.job
    d = job.damper
    line = np.subtract(job.rocker.damper_eye, d.chassis_eye)
    if out.damper is None:
        raise ValueError("the damper could not be made, so its bracket has nothing to hold")
    name = "damper bracket"
    carrier, pair = _seated(
        out,
        damper_bracket,
        out.damper,
        (out.damper.eye_width_mm, out.damper.eye_mm),
        d.chassis_eye,
        tuple(_bolt_axis(line, job.rocker.axis)),
        bolt=bolt_of(job.rocker.damper_hole),
        thickness_mm=d.bracket_thickness,
        purpose=name,
    )
    stand_bracket(out, name, "damper", carrier, pair)


def _seated(out: Layout, make, thing, sizes, eye, axis, **bracket) -> tuple[str, BracketPair]:
    """The bracket of a thing of which only `sizes` count, of the members in reach. Raises NoSeat, which is
    told of all members."""
    near = {n: m for n, m in out.members.items() if in_reach(m, eye)}
    given = sizes, eye, axis, near, bracket
    try:
        return out.made.once(make.__name__, given, lambda: make(thing, eye, axis, near, **bracket))
    except NoSeat:
        return make(thing, eye, axis, out.members, **bracket)


def _bolt_axis(line, axis) -> np.ndarray:
    """The bolt square to a damper's line and as near to the rocker's axis as that allows."""
    line, axis = np.asarray(line, float), np.asarray(axis, float)
    if abs(line @ axis) > 0.9 * np.linalg.norm(line) * np.linalg.norm(axis):
        return axis
    return axis / np.linalg.norm(axis)


def place_pickup(out: Layout, which: str, end: str) -> None:
    """A bracket of an arm's inner joint; `end` front or rear. Needs the arm in place."""
    arm = getattr(out.job, which)
    if which not in out.arms:
        raise ValueError(
            f"the {which.replace('_', ' ')} could not be made, so its bracket has nothing to hold"
        )
    name = f"{which.replace('_', ' ')} {end} bracket"
    part = out.arms[which].part
    carrier, pair = _seated(
        out,
        pickup_bracket,
        part,
        (part.housing_length_mm, part.housing_mm),
        getattr(arm, f"{end}_pivot"),
        tuple(np.subtract(arm.front_pivot, arm.rear_pivot)),
        bolt=arm.thread,
        thickness_mm=arm.bracket_thickness,
        purpose=name,
    )
    stand_bracket(out, name, which, carrier, pair)
