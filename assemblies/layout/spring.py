"""Where a torsion spring and what turns or holds its ends stand along the rocker's axis.

From the rocker outward: the pivot tube's end, the sleeve (inner tube one piece with the pivot tube, outer
tube turning on it), the socket on the outer tube's end, the spring's free length, the far socket, the
clocking plates. The far window stands at the angle the rocker has when the spring carries nothing, so a
straight pack goes in with the rocker held there.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES
from assemblies.layout.account import (
    Checked,
    FlatPart,
    FromPlate,
    FromStock,
    NoSeam,
    Seam,
    SeamOf,
    Seams,
    Unchecked,
    Weld,
)
from assemblies.layout.placing import Layout, Placed, needed, put
from assemblies.layout.stub import FLANGE_WELD_MM, TUBE_ROOM_MM, along, place_stub, stub_of
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.stock import steel as grade
from parts.member import STEEL_KG_MM3, Member
from parts.shape.form import Form, Frame, Prism, vector
from parts.spring_pack import LeafPack, TorsionBar
from parts.spring_socket import SpringSocket

LEAST_RIM_MM = 3.0
HOUSING_GAP_MM = 5.0  # bare sleeve between the cross bolts' rows and the housing, for a spanner
ANCHOR_GAP_MM = (
    30.0  # bare socket before the clocking plates, for their bolts' nuts and thread ends; common practice
)
HOUSING = Unchecked("spring housing: carries only what its own brackets bring, which are not drawn here")
Account = tuple[FromStock, SeamOf, str]  # of a tube: its stock, the seam it is welded by, its steel
NO_TEETH = 2  # settings a turn of a sleeve drilled on assembly: one hole straight across


def spring_part(spec) -> LeafPack | TorsionBar:
    """The spring of a job's [spring] table as a body. Raises ValueError where its numbers do not fit."""
    if spec.kind == "leaf-pack":
        return LeafPack(spec.leaves, spec.leaf_width, spec.leaf_thickness, spec.length)
    if spec.kind == "solid-bar":
        return TorsionBar(spec.diameter, spec.length)
    return TorsionBar(spec.outer, spec.length, spec.wall)


def _socket(part: LeafPack | TorsionBar, over_mm: float, depth_mm: float, spec) -> SpringSocket:
    """The smallest socket round the spring's end that is at least as large as the tube it is welded to and
    `depth_mm` deep."""
    stack = dict(least_depth_mm=depth_mm, plate_thickness_mm=spec.socket_plate, seam_mm=spec.socket_seam)
    if isinstance(part, LeafPack):

        def make(d):
            return SpringSocket.for_leaves(part.leaves, part.width_mm, part.thickness_mm, d, **stack)
    else:

        def make(d):
            return SpringSocket.for_hexagon(part.across_flats_mm, d, **stack)

    reach = make(1e4).reach_mm
    return make(max(over_mm, math.ceil(2 * (2 * (reach + LEAST_RIM_MM))) / 2))


def depth_for(torque_nm: float, width_mm: float, yield_mpa: float, safety: float) -> float:
    """Depth of window that carries a torque: pressure falling linearly from the corners to the middle,
    6·T/(b²·depth) <= fy.

    Statics of a flat end turning in a slot, both sides bearing over half their width; yield of the plates."""
    return 6e3 * torque_nm * safety / (width_mm**2 * yield_mpa)


def place_spring(out: Layout, torque_nm: float) -> None:
    """Place sleeve, sockets, spring, housing and clocking plates; list their blanks. Needs the rocker in
    place."""
    job, spec = out.job, out.job.torsion
    if out.rocker is None or out.eyes is None:
        raise ValueError("the rocker could not be made, so the spring has nothing to turn")
    part = spring_part(spec)
    width = part.width_mm if isinstance(part, LeafPack) else part.across_flats_mm
    depth = depth_for(torque_nm, width, grade(job.rocker.plate_material).yield_mpa, job.loads.safety)
    on = _on_stub if job.pivot.kind == "stub" else _on_sleeve
    on(out, part, lambda over: _socket(part, over, depth, spec))


def _anchor(out: Layout, socket: SpringSocket, around_mm: float = 0.0) -> AnchorPlates:
    spec, hand = out.job.torsion, out.job.corner.side
    teeth = spec.teeth
    return out.made(
        AnchorPlates,
        socket,
        teeth.anchor if teeth else NO_TEETH,
        spec.anchor_bolt,
        spec.anchor_plate,
        hand=hand,
        around_mm=around_mm,
    )


# ------------------------------------------------------------ pivot tube inside, sleeve outside


def _on_sleeve(out: Layout, part, socket_of) -> None:
    """The pivot tube goes on as the sleeve's inner tube; the outer one carries the spring's socket."""
    job, spec, tube = out.job, out.job.torsion, needed(out.rocker).tube
    positions = spec.teeth.sleeve if spec.teeth else NO_TEETH
    if spec.sleeve:
        sleeve = AdjusterSleeve(
            tube.outer_mm, tube.wall_mm, spec.sleeve.outer, spec.sleeve.wall, positions, spec.sleeve_bolt
        )
    else:
        sleeve = AdjusterSleeve.around(tube.outer_mm, tube.wall_mm, positions, spec.sleeve_bolt)
    sleeve = replace(sleeve, hand=job.corner.side)
    socket = socket_of(sleeve.outer_mm)
    anchor = _anchor(out, socket)
    start = tube.length_mm / 2
    behind = start + sleeve.length_mm + HOUSING_GAP_MM
    mouth = start + sleeve.length_mm + socket.depth_mm
    end = mouth + spec.length
    _sleeve_tubes(out, sleeve, start)
    _chain(out, part, socket, anchor, mouth, end, "the sleeve's outer tube", sleeve.outer_wall_mm)
    housing = getattr(spec, "housing", None)
    if housing is None:
        return
    if housing.member is None:
        far = end + anchor.face_mm("fixed") - ANCHOR_GAP_MM - getattr(spec, "slide", 0.0)
        _housing(out, housing, socket, behind, far)
    else:
        _round_the_spring(out, housing.member, socket, behind)


def _round_the_spring(out: Layout, name: str, socket: SpringSocket, behind: float) -> None:
    """A frame tube round a spring whose rocker stands on something else: it begins behind the sleeve's bolts.
    Raises ValueError."""
    tube = out.members[name]
    near, _ = along(out, tube, name)
    bore, needed = tube.section.width_mm - 2 * tube.section.wall_mm, socket.outer_diameter_mm + TUBE_ROOM_MM
    if bore < needed or near < behind:
        raise ValueError(
            f'spring.housing.member "{name}" begins {near:.1f} mm behind the rocker\'s middle with a '
            f"bore of "
            f"{bore:g} mm; the sleeve's bolts need {behind:.1f} or more and the socket {needed:g}: "
            f"move its end "
            "or take a larger tube"
        )


def _sleeve_tubes(out: Layout, sleeve: AdjusterSleeve, start: float) -> None:
    """Both tubes of the sleeve from a station on. One goes on from the rocker's tube; the other carries the
    spring: the outer one over a pivot tube, the inner one where the rocker's tube slides over a stub."""
    job, stub = out.job, out.job.pivot.kind == "stub"
    away, steel = np.array(job.spring_direction), job.rocker.plate_material
    eyes = needed(out.eyes).frame
    at = Frame.looking(np.array(eyes.origin) + start * away, away, eyes.x)
    middle = (0.0, 0.0, sleeve.length_mm / 2)
    of_rocker: Account = (FromStock(("pivot tube",)), SeamOf("rocker pivot tube"), steel)
    of_spring: Account = (
        (FromStock(("pivot stub",)), SeamOf("spring socket"), job.pivot.material)
        if stub
        else (FromStock(("sleeve outer tube",)), SeamOf("spring socket"), steel)
    )
    inner, outer = (of_spring, of_rocker) if stub else (of_rocker, of_spring)
    bodies = ("spring", "rocker") if stub else ("rocker", "spring")
    out.sleeve_inner = put(
        out,
        "sleeve inner tube",
        bodies[0],
        "rocker",
        sleeve.inner_form(),
        at,
        sleeve,
        source=inner[0],
        weld=inner[1],
        strength=Checked(("sleeve",)),
        material=inner[2],
        centroid=middle,
        mass_kg=sleeve.inner_volume_mm3 * STEEL_KG_MM3,
    )
    out.sleeve_outer = put(
        out,
        "sleeve outer tube",
        bodies[1],
        "rocker",
        sleeve.outer_form(),
        at,
        sleeve,
        source=outer[0],
        weld=outer[1],
        strength=Checked(("sleeve",)),
        material=outer[2],
        centroid=middle,
        mass_kg=sleeve.outer_volume_mm3 * STEEL_KG_MM3,
    )


# ------------------------------------------------------------ the rocker's tube goes over a stub


def _on_stub(out: Layout, part, socket_of) -> None:
    """A stub turns in the spring tube and carries the spring's socket; the rocker's tube goes over it."""
    job, eyes = out.job, needed(out.eyes)
    length = job.torsion.length
    stub, socket, anchor = stub_of(out, socket_of, lambda s, around: _anchor(out, s, around), length)
    away = np.array(job.spring_direction)
    out.pivot = stub.mount(math.copysign(1.0, float(away @ np.array(eyes.frame.z))), job.pivot.material)
    _sleeve_tubes(out, stub.sleeve, stub.front_mm)
    place_stub(out, stub, socket)
    _chain(
        out,
        part,
        socket,
        anchor,
        stub.mouth_mm,
        stub.anchor_mouth_mm,
        "the stub",
        stub.wall_mm,
        stub.member,
    )


# ------------------------------------------------------------ socket to socket


def _chain(
    out: Layout,
    part: LeafPack | TorsionBar,
    near: SpringSocket,
    anchor: AnchorPlates,
    mouth: float,
    end: float,
    carrier: str,
    carrier_wall_mm: float,
    spring_tube: str = "",
) -> None:
    """Socket, spring, far socket and clocking plates. `mouth` and `end`: where the free length begins and
    ends, stations along the spring. `carrier`: what the near socket is welded to; `spring_tube`: the member
    whose end the fixed plate is welded on."""
    steel = out.job.rocker.plate_material
    eyes = needed(out.eyes).frame
    origin, away, x = np.array(eyes.origin), np.array(out.job.spring_direction), np.array(eyes.x)
    x_free = _turned(x, np.array(eyes.z), math.radians(out.slack_rocker_deg or 0.0))

    def at(station: float, direction=away, across=x) -> Frame:
        return Frame.looking(origin + station * away, direction, across)

    plates = FlatPart("spring socket plate", near.outline(), near.plates, near.plate_thickness_mm, steel)
    rim = math.pi * near.outer_diameter_mm / 4, near.plate_thickness_mm
    each = (
        ()
        if near.plates == 1
        else (
            Seam(
                f"each of {2 * (near.plates - 1)} seams between the sockets' plates: ground to a V "
                f"{near.seam_mm:g} mm deep, clamped with the spring's dummy in the window, all round",
                4,
                rim[0],
                near.seam_mm,
            ),
        )
    )
    # a leg is at most 1.2 of the thinner wall, common practice
    to_carrier = Seam(f"spring socket to {carrier}, all round", 4, rim[0], min(rim[1], 1.2 * carrier_wall_mm))
    out.socket = put(
        out,
        "spring socket",
        "spring",
        "rocker",
        near.form(),
        at(mouth, -away),
        near,
        source=FromPlate(plates),
        weld=Seams((*each, to_carrier)),
        strength=Checked(("spring socket",)),
        material=steel,
    )
    leaves = isinstance(part, LeafPack)
    out.pack = put(
        out,
        "leaf pack" if leaves else "torsion bar",
        "spring",
        "frame",
        part.form(),
        at(mouth, away, x_free),
        part,
        source=FromStock(("leaf" if leaves else "torsion bar",)),
        weld=NoSeam("never weld a spring"),
        strength=Checked(("spring",)),
        material="spring steel",
    )
    out.anchor_socket = put(
        out,
        "anchor socket",
        "spring anchor",
        "frame",
        near.form(),
        at(end, away, x_free),
        near,
        source=FromPlate(plates),
        weld=Seams((Seam("anchor socket through the turning plate, all round outside", 4, *rim),)),
        strength=Checked(("anchor socket",)),
        material=steel,
    )
    held: Weld = NoSeam("to the frame: its mount is not drawn")
    if spring_tube:
        s = out.members[spring_tube].section
        leg = min(FLANGE_WELD_MM, 1.2 * s.wall_mm)
        run = math.pi * s.width_mm / 4
        held = Seams((Seam(f"anchor plate fixed to {spring_tube}, all round outside", 4, run, leg),))

    def anchor_plate(which: str, weld: Weld) -> Placed[AnchorPlates]:
        return _anchor_plate(out, anchor, which, at(end + anchor.face_mm(which), away, x_free), weld)

    turning = anchor_plate("turning", SeamOf("anchor socket"))
    out.anchor_plates = turning, anchor_plate("fixed", held)


def _anchor_plate(
    out: Layout, anchor: AnchorPlates, which: str, frame: Frame, weld: Weld
) -> Placed[AnchorPlates]:
    plate, steel = Prism(anchor.outline(which), anchor.thickness_mm), out.job.rocker.plate_material
    return put(
        out,
        f"anchor plate {which}",
        "spring anchor",
        "frame",
        Form((plate,)),
        frame,
        anchor,
        source=FromPlate(FlatPart(f"anchor plate {which}", plate.outline, 1, anchor.thickness_mm, steel)),
        weld=weld,
        strength=Checked((ANCHOR_PLATES,)),
        material=steel,
        centroid=plate.centroid,
        mass_kg=plate.volume_mm3 * STEEL_KG_MM3,
    )


def _housing(out: Layout, housing, socket: SpringSocket, low: float, high: float) -> None:
    """The chassis tube round the spring: a fixed body of its own."""
    origin, away = np.array(needed(out.eyes).frame.origin), np.array(out.job.spring_direction)
    bore = housing.outer - 2 * housing.wall
    if socket.outer_diameter_mm > bore:
        raise ValueError(
            f"the socket is {socket.outer_diameter_mm:g} mm over and the housing's bore {bore:g} mm: take a "
            f"larger housing or a narrower spring"
        )
    tube = Member.tube(vector(origin + low * away), vector(origin + high * away), housing.outer, housing.wall)
    out.housing = put(
        out,
        "spring housing",
        "spring housing",
        "frame",
        tube.form(),
        tube.frame,
        tube,
        source=FromStock(("spring housing",)),
        weld=NoSeam("its brackets are not drawn"),
        strength=HOUSING,
    )


def _turned(v: np.ndarray, axis: np.ndarray, angle: float) -> np.ndarray:
    """`v` turned right-handed about a unit axis square to it."""
    return math.cos(angle) * v + math.sin(angle) * np.cross(axis, v)
