"""What the rocker's pivot stands on: a spindle between two tabs, or a bar through a frame tube with the
rocker on its free end. A stub inside the spring tube stands in `assemblies.layout.stub`.

Stations are mm along the rocker's own axis (`eyes.frame.z`) from its middle plane.
"""

from __future__ import annotations

import numpy as np

from assemblies.layout.account import Bought, Checked, FromStock, NoSeam, Seam, Seams
from assemblies.layout.frame import stand_bracket
from assemblies.layout.pivot_mount import (
    IN_LINE_DEG,
    OFF_LINE_MM,
    WASHER_MM,
    PivotMount,
    bearing_width,
    thrust_outer_mm,
)
from assemblies.layout.placing import Layout, needed, put
from assemblies.results.findings import Finding
from parts.base.bearings import BearingSize, in_bore
from parts.base.stock import thread
from parts.bracket import seat
from parts.member import Member
from parts.pivot_ring import PivotRing
from parts.shape.form import Frame
from parts.tab import NoSeat

PIN_MM = 8.0  # of spindle beyond the last washer, for a pin or a ring
PROUD_MM = 3.0  # of a spindle beyond the far wall, for its fillet
RING_MM = 10.0  # a spacer's outside over the spindle
LEAST_WALL_MM = 2.0  # of the pivot tube round a bush, and of a sleeve round its bolt
BRACKET = "pivot bracket"
SPINDLE = "pivot spindle"


def place_pivot(out: Layout) -> None:
    """Place the mount of the job's [pivot]; a stub comes with its spring. ValueError names the key."""
    kind = out.job.pivot.kind
    if kind in (None, "stub"):
        return
    if out.rocker is None or out.eyes is None:
        raise ValueError("the rocker could not be made, so its pivot has nothing to hold")
    (_spindle if kind == "spindle" else _cantilever)(out)


def _in_tube(out: Layout) -> tuple[BearingSize, float, float]:
    """Bush or bearing that goes into the rocker's pivot tube, its width and the station of the outer ones'
    middles. Raises ValueError naming rocker.pivot_tube.wall."""
    job, tube = out.job, needed(out.rocker).tube
    try:
        found = in_bore(job.pivot.bearing, tube.outer_mm - 2 * tube.wall_mm)
    except ValueError as e:
        raise ValueError(f"rocker.pivot_tube.wall is {tube.wall_mm:g} mm: {e}") from None
    left = (tube.outer_mm - found.outside_mm) / 2
    if left < LEAST_WALL_MM:
        raise ValueError(
            f"the pivot tube is {left:.2f} mm thick round its {found.name}; the least is {LEAST_WALL_MM:g}: "
            "take a larger rocker.pivot_tube.outer"
        )
    width = bearing_width(found, job.pivot.bearing_width)
    if 2 * width > tube.length_mm:
        raise ValueError(
            f"two bearings {width:g} mm wide do not fit into a pivot tube of {tube.length_mm:g} mm: give "
            "pivot.bearing_width"
        )
    return found, width, tube.length_mm / 2 - width / 2


def _piece(out: Layout, name: str, body: str, carrier: str, part: PivotRing, station, z, **said) -> None:
    eyes = needed(out.eyes).frame
    at = Frame.looking(np.array(eyes.origin) + station * np.asarray(z), z, eyes.x)
    of = Bought("pivot bearing") if name.startswith("pivot bearing") else FromStock((name.rstrip(" 12"),))
    put(out, name, body, carrier, part.form(), at, part, source=of, **said)


def _rings(out: Layout, bearing: BearingSize, width: float, station: float) -> None:
    """The two bearings pressed into the rocker's tube."""
    ring = PivotRing(bearing.outside_mm, bearing.bore_mm, width)
    for n, s in ((1, -station), (2, station)):
        _piece(
            out,
            f"pivot bearing {n}",
            "rocker",
            "rocker",
            ring,
            s - width / 2,
            needed(out.eyes).frame.z,
            weld=NoSeam("pressed into the pivot tube after all welding, reamed in line"),
            strength=Checked(("pivot bearings",)),
            material="bronze",
        )


def _spindle(out: Layout) -> None:
    """Tabs on a frame tube, a sleeve clamped between them by a bolt, the rocker turning on the sleeve."""
    job, tube, eyes = out.job, needed(out.rocker).tube, needed(out.eyes)
    p = job.pivot
    bearing, width, station = _in_tube(out)
    bolt = thread(p.bolt).diameter_mm
    if (bearing.bore_mm - bolt) / 2 < LEAST_WALL_MM:
        raise ValueError(
            f"pivot.bolt is {p.bolt}: the sleeve that the rocker turns on is {bearing.bore_mm:g} mm over and "
            f"needs {LEAST_WALL_MM:g} mm of wall round it; take a smaller bolt or a larger pivot tube"
        )
    members = out.members
    if p.member is not None:
        members = {p.member: out.members[p.member]}
    name, pair = out.made(
        seat,
        members,
        job.rocker.pivot,
        eyes.frame.z,
        eye_width_mm=tube.length_mm,
        eye_radius_mm=tube.outer_mm / 2,
        bolt=p.bolt,
        thickness_mm=p.bracket_thickness,
        washer_mm=WASHER_MM + p.end_float / 2,
        purpose="pivot bolt",
    )
    stand_bracket(out, BRACKET, "rocker", name, pair)
    _rings(out, bearing, width, station)
    sleeve = PivotRing(bearing.bore_mm, bolt, pair.inside_gap_mm)
    _piece(
        out,
        "pivot sleeve",
        SPINDLE,
        "frame",
        sleeve,
        -sleeve.length_mm / 2,
        eyes.frame.z,
        weld=NoSeam("clamped between the tabs by the pivot's bolt"),
        strength=Checked((BRACKET,)),
        material=p.material,
    )
    half = (pair.inside_gap_mm + p.bracket_thickness) / 2
    out.pivot = PivotMount(
        "spindle", name, (-half, half), (-station, station), bearing, width, bolt, 0.0, False, p.material
    )


def _cantilever(out: Layout) -> None:
    """A bar through both walls of a frame tube, welded round at each; the rocker on its end between a collar
    and a washer with a pin."""
    job, tube, eyes = out.job, needed(out.rocker).tube, needed(out.eyes)
    p = job.pivot
    bearing, width, station = _in_tube(out)
    name = needed(p.member)
    near, far, wall = _walls(out.members[name], name, np.array(eyes.frame.origin), np.array(eyes.frame.z))
    sign = 1.0 if near > 0 else -1.0
    near, far = abs(near), abs(far)
    room = near - wall / 2 - tube.length_mm / 2
    if room < WASHER_MM:
        raise NoSeat(
            f'pivot.member "{name}" stands {room:.1f} mm beside the rocker\'s tube; a thrust '
            f"washer needs {WASHER_MM:g} mm: move it along the axis"
        )
    z = np.array(eyes.frame.z) * sign
    _rings(out, bearing, width, station)
    end = -tube.length_mm / 2 - WASHER_MM - p.end_float - PIN_MM
    bar = PivotRing(bearing.bore_mm, 0.0, far + wall / 2 + PROUD_MM - end)
    leg = min(PROUD_MM, 1.2 * wall)
    round_mm = np.pi * bearing.bore_mm / 4
    seam = Seam(f"pivot spindle to both walls of {name}, all round", 8, float(round_mm), leg)
    _piece(
        out,
        SPINDLE,
        SPINDLE,
        "frame",
        bar,
        end,
        z,
        weld=Seams((seam,)),
        strength=Checked((SPINDLE,)),
        material=p.material,
    )
    gap = room - p.end_float / 2
    for n, at, long in (
        (1, tube.length_mm / 2 + p.end_float / 2, gap),
        (2, -tube.length_mm / 2 - p.end_float / 2 - WASHER_MM, WASHER_MM),
    ):
        over = thrust_outer_mm(bearing, RING_MM)
        ring = PivotRing(over, bearing.bore_mm, long)
        _piece(
            out,
            f"pivot spacer {n}",
            SPINDLE,
            "frame",
            ring,
            at,
            z,
            weld=NoSeam("loose, shimmed to the end float"),
            strength=Checked((SPINDLE,)),
            material=p.material,
        )
    text = (
        f"The spindle stands out of one tube, {abs(near):.0f} mm to the rocker's middle from its near "
        f"wall: it "
        "and the tube bend with every bump, and the rocker leans. Hold its far end too, or take a "
        "stub in the "
        'spring tube (pivot.kind = "stub") or two tabs ("spindle").'
    )
    out.findings.append(Finding(level="warn", code="cantilever", where="rocker pivot", text=text))
    out.pivot = PivotMount(
        "cantilever",
        name,
        (sign * near, sign * far),
        (-station, station),
        bearing,
        width,
        bearing.bore_mm,
        0.0,
        False,
        p.material,
        wall,
    )


def _walls(member: Member, name: str, origin: np.ndarray, axis: np.ndarray) -> tuple[float, float, float]:
    """Stations of the middles of the two walls that the axis goes through, the nearer first, and the wall.
    Raises NoSeat where it does not go through the tube's middle, square to a flat wall or to a round."""
    m, s = member.frame.matrix(), member.section
    along = m[:3, 2]
    if abs(along @ axis) > np.sin(np.radians(IN_LINE_DEG)):
        raise NoSeat(
            f'pivot.member "{name}" is {np.degrees(np.arcsin(abs(along @ axis))):.1f} deg out of square '
            f"to the rocker's axis; the most is {IN_LINE_DEG:g}: a bar goes straight through it"
        )
    start = np.array(member.from_) - origin
    station = float(start @ axis)
    off = start - station * axis
    run = -float(off @ along)
    off = off + run * along
    if np.linalg.norm(off) > OFF_LINE_MM or not 0 <= run <= member.length_mm:
        raise NoSeat(
            f'pivot.member "{name}" passes the rocker\'s axis {np.linalg.norm(off):.1f} mm off its middle; '
            f"the most is {OFF_LINE_MM:g}: move it on to the axis"
        )
    if s.is_round:
        half = s.width_mm / 2
    else:
        square = [abs(float(m[:3, i] @ axis)) for i in range(2)]
        i = int(np.argmax(square))
        if square[i] < np.cos(np.radians(IN_LINE_DEG)):
            raise NoSeat(
                f'pivot.member "{name}" has no wall square to the rocker\'s axis: turn it by its roll'
            )
        half = (s.width_mm, s.height_mm)[i] / 2
    inner = half - s.wall_mm / 2
    first, second = sorted((station - inner, station + inner), key=abs)
    return first, second, s.wall_mm
