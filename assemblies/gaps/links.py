"""Shafts and links between two bodies: how far each slides over all travel and rack, how far its joints bend,
and whether that is more than they can. A cure moves a joint that is on the frame, and was tried."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np

from assemblies.clearance.hose import reach
from assemblies.job import Job
from assemblies.job.link import LinkTable
from assemblies.motion.chain import spin_axis
from assemblies.motion.ends import Ends
from assemblies.motion.links import Link as Ride
from assemblies.motion.mechanism import Mechanism
from assemblies.results import gaps as rs
from assemblies.results.findings import Finding, Level, lacking
from parts.base.frozen import dataclass
from parts.shape.form import vector

RIGID_MM = 0.5  # a link that slides nowhere may change by what its bushes give, common practice
ACROSS = math.cos(math.radians(45.0))  # a line to the wheel nearer to y than this is a half shaft's
WHEEL = ("upright", "wheel")
HEIGHTS, RACKS = 241, 17  # poses at which the joints' angles are read
ROUGH = 13, 3  # and those at which a move is tried before it is tried at all
ENDS = ("from", "to")
STEP_MM, MOST_MM = 5.0, 60.0  # moves of a joint on the frame that are tried
SPARE_MM = 0.2  # a move is read at the poses above: not proven as the row is


@dataclass(frozen=True)
class Bend:
    """A joint's greatest angle, deg, and where; `axis` in words."""

    deg: float
    ride_deg: float
    wheel_mm: float
    rack_mm: float
    axis: str


def links(job: Job, mechanism: Mechanism, ends: Ends) -> tuple[list[rs.Linked], list[Finding]]:
    """A row and a finding for each link of the job, over the travel the corner can reach and the rack."""
    travel = ends.within(job.corner.droop, job.corner.bump)
    rows, findings = [], []
    for x, ride in zip(job.link, mechanism.points.links, strict=True):
        try:
            far = reach(mechanism, x.from_on, x.from_, x.to_on, x.to, travel, job.tie_rod.rack_travel)
        except ValueError as e:
            findings.append(
                Finding(
                    level="stop", code="link", where=x.name, text=f"How far it slides cannot be said: {e}."
                )
            )
            continue
        fine, rough = (
            _Swept(mechanism, travel, job.tie_rod.rack_travel, *some) for some in ((HEIGHTS, RACKS), ROUGH)
        )
        bends = {end: fine.bend(x, ride, end) for end in ENDS}
        row = _row(x, math.dist(x.from_, x.to), far, bends)
        rows.append(row)
        findings.append(_finding(x, row, bends, partial(_moved, x, ride, (rough, fine))))
    return rows, findings


class _Swept:
    """The poses at which angles are read."""

    def __init__(self, mechanism: Mechanism, travel, rack_mm: float, heights: int, racks: int):
        low, high = travel
        self.mechanism, self.heights = mechanism, np.linspace(low, high, heights)
        self.racks = np.linspace(-rack_mm, rack_mm, racks) if rack_mm else np.zeros(1)
        self.poses, self.still = mechanism.at(self.heights[:, None], self.racks), mechanism.at(0.0)

    def bend(self, x: LinkTable, ride: Ride, end: str) -> Bend:
        """Of a joint: the angle of the link's line to the joint's own axis."""
        on = getattr(x, f"{end}_on")
        axis, word = _axis(x, end, self.mechanism)
        angle = _angle(self.poses, ride, on, axis)
        angle = np.where(np.isfinite(angle), angle, -1.0)
        k = np.unravel_index(int(np.argmax(angle)), angle.shape)
        at_ride = float(_angle(self.still, ride, on, axis))
        return Bend(float(angle[k]), at_ride, float(self.heights[k[0]]), float(self.racks[k[1]]), word)

    def slides(self, ride: Ride) -> float:
        """From the nearest to the furthest its ends come, mm."""
        a, b = ride.ends(self.poses)
        apart = np.linalg.norm(b - a, axis=-1)
        return float(np.nanmax(apart) - np.nanmin(apart))


def _angle(poses, ride: Ride, on: str, axis: np.ndarray) -> np.ndarray:
    a, b = ride.ends(poses)
    line = (b - a) / np.linalg.norm(b - a, axis=-1, keepdims=True)
    along = axis if on == "frame" else poses.frame(on)[..., :3, :3] @ axis
    across = np.linalg.norm(np.cross(line, along), axis=-1)
    return np.degrees(np.arctan2(across, np.abs((line * along).sum(-1))))


def _moved(x: LinkTable, ride: Ride, swept: tuple[_Swept, ...]) -> str:
    """The smallest move of a joint on the frame, in x and z, with which nothing is asked too much; "" where
    there is none."""
    end = next((e for e in ENDS if getattr(x, f"{e}_on") == "frame"), None)
    if end is None:
        return ""
    steps = np.arange(-MOST_MM, MOST_MM + 1, STEP_MM)
    for dx, dz in sorted(product(steps, steps), key=lambda d: math.hypot(*d)):
        old = x.from_ if end == "from" else x.to
        place = vector([round(float(v), 3) + 0.0 for v in np.add(old, (dx, 0.0, dz))])
        tried = x.model_validate(x.model_dump(by_alias=True) | {end: place})
        there = replace(ride, from_point=place) if end == "from" else replace(ride, to_point=place)
        if all(_holds(tried, there, some) for some in swept):
            fine = swept[-1]
            bent = [lacking(fine.bend(tried, there, e).deg, 1) for e in ENDS]
            return (
                f" Tried: link.{x.name}.{end} = [{place[0]:g}, {place[1]:g}, {place[2]:g}] gives "
                f"{lacking(fine.slides(there) + SPARE_MM, 1)} mm of slide, {bent[0]} and {bent[1]} deg"
            )
    return f" No move of link.{x.name}.{end} by up to {MOST_MM:g} mm in x and z cures it"


def _holds(x: LinkTable, ride: Ride, swept: _Swept) -> bool:
    way = RIGID_MM if x.slides == "none" else math.inf if x.plunge is None else x.plunge
    return swept.slides(ride) + SPARE_MM <= way and all(
        swept.bend(x, ride, e).deg <= (getattr(x, f"{e}_angle") or 180.0) for e in ENDS
    )


def _axis(x: LinkTable, end: str, mechanism: Mechanism) -> tuple[np.ndarray, str]:
    """Unit direction of a joint's own shaft at ride, and what it is."""
    given, on = getattr(x, f"{end}_axis"), getattr(x, f"{end}_on")
    line = np.subtract(x.to, x.from_) / math.dist(x.from_, x.to)
    if given is not None:
        return np.asarray(given, float) / np.linalg.norm(given), f"{end}_axis"
    shaft = {x.from_on, x.to_on} & set(WHEEL) and abs(line[1]) > ACROSS
    if shaft and on in WHEEL:
        return np.reshape(spin_axis(mechanism.points), (-1, 3))[0], "the wheel's spindle"
    if shaft and on == "frame":
        return np.array([0.0, 1.0, 0.0]), "a shaft straight across the car"
    return line, "its own line at ride"


def _row(x: LinkTable, length: float, far, bends: dict[str, Bend]) -> rs.Linked:
    return rs.Linked(
        name=x.name,
        length_mm=length,
        plunge_in_mm=max(length - far.shortest_mm, 0.0),
        plunge_in_at_wheel_mm=far.shortest_at_wheel_mm,
        plunge_in_at_rack_mm=far.shortest_at_rack_mm,
        plunge_out_mm=max(far.longest_mm - length, 0.0),
        plunge_out_at_wheel_mm=far.at_wheel_mm,
        plunge_out_at_rack_mm=far.at_rack_mm,
        plunge_limit_mm=0.0 if x.slides == "none" else x.plunge,
        from_angle_deg=bends["from"].deg,
        from_angle_ride_deg=bends["from"].ride_deg,
        from_angle_at_wheel_mm=bends["from"].wheel_mm,
        from_angle_at_rack_mm=bends["from"].rack_mm,
        from_angle_limit_deg=x.from_angle,
        to_angle_deg=bends["to"].deg,
        to_angle_ride_deg=bends["to"].ride_deg,
        to_angle_at_wheel_mm=bends["to"].wheel_mm,
        to_angle_at_rack_mm=bends["to"].rack_mm,
        to_angle_limit_deg=x.to_angle,
    )


def _finding(x: LinkTable, r: rs.Linked, bends: dict[str, Bend], moved: Callable[[], str]) -> Finding:
    """One of a link: a stop where a joint would be pulled apart, bottom or bind."""
    said, keys = [], []
    level: Level = "note"
    slid = r.plunge_in_mm + r.plunge_out_mm
    near = _pose(r.plunge_in_at_wheel_mm, r.plunge_in_at_rack_mm)
    far = _pose(r.plunge_out_at_wheel_mm, r.plunge_out_at_rack_mm)
    into, out = lacking(r.plunge_in_mm, 1), lacking(r.plunge_out_mm, 1)
    way = f"{into} mm in (at {near}) and {out} mm out (at {far}) from ride"
    if x.slides == "none":
        off = max(r.plunge_in_mm, r.plunge_out_mm)
        said.append(f"It slides nowhere, and its ends move {way}")
        if off > RIGID_MM:
            level = "stop"
            said[-1] += (
                f": more than the {RIGID_MM:g} mm that bushes give (common practice), so it would bend or "
                f"hold the wheel. Give it a joint that slides (link.{x.name}.slides), or move an end"
            )
    elif x.plunge is None:
        said.append(f"Its joint at {x.slides} slides {way}: {lacking(slid, 1)} mm in all")
        keys.append("plunge")
    elif slid > x.plunge:
        level = "stop"
        said.append(
            f"Its joint at {x.slides} slides {way}: {lacking(slid, 1)} mm in all, and it has {x.plunge:g} "
            f"mm: it would be pulled apart or bottom. Take one that slides "
            f"{lacking(slid, 0)} mm, or move an end"
        )
    else:
        said.append(
            f"Its joint at {x.slides} slides {way}, {lacking(slid, 1)} mm of the {x.plunge:g} mm it has: "
            f"fit it so that at ride it can still go {into} mm in and {out} mm out"
        )
    for end, limit in (("from", x.from_angle), ("to", x.to_angle)):
        b = bends[end]
        bent = (
            f"its joint at {end} bends up to {lacking(b.deg, 1)} deg from {b.axis}, at "
            f"{_pose(b.wheel_mm, b.rack_mm)} ({b.ride_deg:.1f} deg at ride)"
        )
        if limit is None:
            keys.append(f"{end}_angle")
        elif b.deg > limit:
            level = "stop"
            bent += (
                f", and can take {limit:g} deg: it would bind and break. Take a joint for "
                f"{lacking(b.deg, 0)} deg, or move an end"
            )
        else:
            bent += f", {limit:g} deg allowed"
        said.append(bent[:1].upper() + bent[1:])
    if keys:
        said.append(f"Give {', '.join(f'link.{x.name}.{k}' for k in keys)} to hold it against its maker's")
    cure = moved() if level == "stop" else ""
    return Finding(level=level, code="link", where=x.name, text=". ".join(said) + "." + (cure and cure + "."))


def _pose(wheel_mm: float, rack_mm: float) -> str:
    return f"wheel {wheel_mm:+z.1f} mm" + (f", rack {rack_mm:+z.1f} mm" if rack_mm else "")
