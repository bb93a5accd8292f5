"""A stub in two bearings inside the spring tube, the rocker's tube slid over it and bolted through, and the
spring that goes on behind it to an anchor on the spring tube's end. The spring tube is a member of the frame.

From the rocker along the spring, stations in mm from the rocker's middle plane: before it, on its free side,
the sleeve (the rocker's tube over the stub, with the clocking holes); the rocker's tube; a spacer shimmed to
the end float; the tube's nose with the first bearing's ring; the second ring; a thrust washer; the socket on
the stub's end; the spring's free length; the far socket and the fixed plate, welded on the tube's far end.
The bearings are as far apart as the tube's length leaves.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.layout.account import Bought, Checked, FromStock, NoSeam, Seam, SeamOf, Seams
from assemblies.layout.pivot_mount import (
    IN_LINE_DEG,
    OFF_LINE_MM,
    WASHER_MM,
    PivotMount,
    bearing_width,
    thrust_outer_mm,
)
from assemblies.layout.placing import Layout, needed, put
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.bearings import BearingSize, size
from parts.base.frozen import dataclass
from parts.member import Member
from parts.pivot_ring import PivotRing
from parts.shape.form import Frame
from parts.spring_socket import SpringSocket

BODY = "pivot bearings"
SLIDE_MM = 0.1  # the rocker's tube is bored this much over the stub, common practice
LIP_MM = 2.0  # the first ring stands so far inside the nose, for a seal
THRUST_MM = 3.0  # washer between the second ring and the socket
LEAST_SPREAD = 1.5  # of the bearings' middles, in shaft diameters; common practice
STOCK_SHARE = 0.25  # a stub's wall over its diameter, where none is given
FLANGE_WELD_MM = 4.0  # leg of the fixed plate's fillet round the spring tube
RING_ROOM_MM = 2.0  # least wall of the ring between a bearing and the spring tube
SPACER_MM = 6.0  # a spacer's outside over the stub it is on
PLUG_MM = 10.0  # holes of the plug welds; common practice
PLUGS = 4  # of them round a ring
TUBE_ROOM_MM = 1.0  # between the stub's socket and the spring tube's bore, across


@dataclass(frozen=True)
class Stub:
    """Numbers of a stub and what stands on its axis; stations along the spring, mm."""

    member: str
    tube: Member
    outer_mm: float
    wall_mm: float
    sleeve: AdjusterSleeve
    bearing: BearingSize
    width_mm: float
    half_mm: float  # of the rocker's tube
    nose_mm: float
    end_mm: float  # the spring tube's far end
    first_mm: float
    second_mm: float
    mouth_mm: float  # of the stub's socket
    anchor_mouth_mm: float
    float_mm: float

    @property
    def bore_mm(self) -> float:
        return self.outer_mm - 2 * self.wall_mm

    @property
    def front_mm(self) -> float:
        """Free end of stub and rocker's tube, before the rocker."""
        return -(self.half_mm + self.sleeve.length_mm)

    @property
    def housing_bore_mm(self) -> float:
        return self.tube.section.width_mm - 2 * self.tube.section.wall_mm

    @property
    def spacer_mm(self) -> float:
        """Between the rocker's tube and the first bearing."""
        return self.nose_mm + LIP_MM - self.half_mm - self.float_mm

    def mount(self, sign: float, material: str) -> PivotMount:
        """In stations along the rocker's own axis: `sign` is +1 where the spring lies that way."""
        supports = (sign * self.first_mm, sign * self.second_mm)
        return PivotMount(
            "stub",
            self.member,
            supports,
            supports,
            self.bearing,
            self.width_mm,
            self.outer_mm,
            self.bore_mm,
            True,
            material,
            self.tube.section.wall_mm,
        )


def stub_sleeve(out: Layout) -> tuple[AdjusterSleeve, float]:
    """The rocker's tube over the stub, as long as its holes need, and the stub's wall. ValueError names what
    does not fit."""
    job, tube = out.job, needed(out.rocker).tube
    p, spec = job.pivot, job.torsion
    if spec.sleeve is not None:
        raise ValueError(
            'spring.sleeve is given, but with pivot.kind = "stub" the rocker\'s own tube is the sleeve: '
            "leave spring.sleeve out"
        )
    bore = tube.outer_mm - 2 * tube.wall_mm
    d = p.diameter if p.diameter is not None else bore
    if not -0.5 <= d - bore <= 1.0:
        raise ValueError(
            f"pivot.diameter is {d:g} mm; the rocker's tube is bored {bore:g} and slides over the "
            f"stub: change "
            "rocker.pivot_tube or pivot.diameter so that they agree within 1 mm"
        )
    wall = p.wall if p.wall is not None else round(STOCK_SHARE * d * 2) / 2
    over = (tube.outer_mm - d - SLIDE_MM) / 2
    positions = spec.teeth.sleeve if spec.teeth else 2
    made = AdjusterSleeve(d, wall, tube.outer_mm, over, positions, spec.sleeve_bolt)
    return replace(made, hand=job.corner.side), wall


def stub_of(out: Layout, socket_of, anchor_of, length_mm: float) -> tuple[Stub, SpringSocket, AnchorPlates]:
    """The stub that fits the job's spring tube. `socket_of(diameter)`: the spring's socket at least as large
    as a tube; `anchor_of(socket, around_mm)`. Raises ValueError naming what does not fit and the key."""
    job, tube = out.job, needed(out.rocker).tube
    name = needed(needed(job.torsion.housing).member)
    key = f'spring.housing.member "{name}"'
    housing: Member = out.members[name]
    nose, end = along(out, housing, name)
    sleeve, wall = stub_sleeve(out)
    d, bore = sleeve.inner_mm, housing.section.width_mm - 2 * housing.section.wall_mm
    bearing = size(job.pivot.bearing, d, job.pivot.bearing_width)
    width = bearing_width(bearing, job.pivot.bearing_width)
    if bearing.outside_mm + 2 * RING_ROOM_MM > bore:
        raise ValueError(
            f"{bearing.name} needs {bearing.outside_mm + 2 * RING_ROOM_MM:g} mm of bore in {key}, which has "
            f"{bore:g}: take a larger tube"
        )
    socket = socket_of(d)
    if socket.outer_diameter_mm + TUBE_ROOM_MM > bore:
        raise ValueError(
            f"the spring's socket is {socket.outer_diameter_mm:g} mm over and the bore of {key} {bore:g}: "
            "take a larger tube or a narrower spring"
        )
    anchor = anchor_of(socket, housing.section.width_mm + 2 * FLANGE_WELD_MM)
    half = tube.length_mm / 2
    if nose + LIP_MM - half - job.pivot.end_float < WASHER_MM:
        raise ValueError(
            f"{key} begins {nose:.1f} mm behind the rocker's middle; the rocker's tube ends at "
            f"{half:.1f} and "
            f"a thrust ring needs {WASHER_MM:g}: move its end away along the axis"
        )
    first = nose + LIP_MM + width / 2
    anchor_mouth = end - anchor.face_mm("fixed")
    mouth = anchor_mouth - length_mm
    second = mouth - socket.depth_mm - THRUST_MM - width / 2
    if second - first < LEAST_SPREAD * d:
        raise ValueError(
            f"the bearings would stand {second - first:.1f} mm apart in {key}; the "
            f"least is {LEAST_SPREAD * d:g} ({LEAST_SPREAD:g} stub diameters): make the tube "
            f"{LEAST_SPREAD * d - second + first:.0f} mm longer or the spring so much shorter"
        )
    made = Stub(
        name,
        housing,
        d,
        wall,
        sleeve,
        bearing,
        width,
        half,
        nose,
        end,
        first,
        second,
        mouth,
        anchor_mouth,
        job.pivot.end_float,
    )
    return made, socket, anchor


def along(out: Layout, housing: Member, name: str) -> tuple[float, float]:
    """Stations of the spring tube's ends along the spring, the nearer first. Raises ValueError where it does
    not lie on the rocker's axis, behind the rocker."""
    origin, away = np.array(needed(out.eyes).frame.origin), np.array(out.job.spring_direction)
    ends = [np.array(e) - origin for e in (housing.from_, housing.to)]
    near, far = sorted(float(e @ away) for e in ends)
    turn = math.degrees(math.acos(min(1.0, abs(float(np.array(housing.frame.z) @ away)))))
    off = max(float(np.linalg.norm(e - (e @ away) * away)) for e in ends)
    if turn > IN_LINE_DEG or off > OFF_LINE_MM or near <= 0:
        raise ValueError(
            f'spring.housing.member "{name}" lies {off:.2f} mm and {turn:.2f} deg off the rocker\'s axis, '
            f"from {near:.1f} to {far:.1f} mm along the spring; it must lie on it within "
            f"{OFF_LINE_MM:g} mm and "
            f"{IN_LINE_DEG:g} deg, behind the rocker: give it the rocker's own line"
        )
    return near, far


def place_stub(out: Layout, s: Stub, socket: SpringSocket) -> None:
    """Stub, spacer, bearings, their rings and the thrust washer, on the rocker's axis."""
    d, b, back = s.outer_mm, s.width_mm, s.mouth_mm - socket.depth_mm
    metal = out.job.pivot.material
    origin, away = np.array(needed(out.eyes).frame.origin), np.array(out.job.spring_direction)

    def one(name: str, body: str, carrier: str, part: PivotRing, station: float, weld, what: str, of: str):
        at = Frame.looking(origin + station * away, away, needed(out.eyes).frame.x)
        bought = name in ("pivot bearing 1", "pivot bearing 2")
        source = Bought("pivot bearing") if bought else FromStock((name.rstrip(" 12"),))
        put(
            out,
            name,
            body,
            carrier,
            part.form(),
            at,
            part,
            source=source,
            weld=weld,
            strength=Checked((what,)),
            material=of,
        )

    stub = PivotRing(d, s.bore_mm, back + s.half_mm)
    one("pivot stub", "spring", "rocker", stub, -s.half_mm, SeamOf("spring socket"), "pivot stub", metal)
    loose = NoSeam("between the rocker's tube and the bearing, shimmed to the end float")
    spacer = PivotRing(thrust_outer_mm(s.bearing, SPACER_MM), d, s.spacer_mm)
    one("pivot spacer", "spring", "rocker", spacer, s.half_mm, loose, "pivot bearing rings", metal)
    ring = PivotRing(s.housing_bore_mm, s.bearing.outside_mm, b)
    bush = PivotRing(s.bearing.outside_mm, s.bearing.bore_mm, b)
    plugs = Seam(
        f"pivot bearing rings into {s.member}: {PLUGS} plug welds through holes of {PLUG_MM:g} each, "
        "before the bearings are pressed in",
        8,
        math.pi * PLUG_MM,
        min(4.0, s.tube.section.wall_mm),
    )
    for n, at in ((1, s.first_mm - b / 2), (2, s.second_mm - b / 2)):
        weld = Seams((plugs,)) if n == 1 else SeamOf("pivot bearing ring 1")
        one(f"pivot bearing ring {n}", BODY, "frame", ring, at, weld, "pivot bearing rings", metal)
        pressed = NoSeam("pressed in after all welding, reamed in line")
        one(f"pivot bearing {n}", BODY, "frame", bush, at, pressed, "pivot bearings", "bronze")
    over = thrust_outer_mm(s.bearing, 2 * SPACER_MM, s.housing_bore_mm - 2.0)
    washer = PivotRing(over, d, THRUST_MM)
    one(
        "pivot thrust washer",
        BODY,
        "frame",
        washer,
        s.second_mm + b / 2,
        NoSeam("loose, hard or bronze"),
        "pivot bearing rings",
        metal,
    )
