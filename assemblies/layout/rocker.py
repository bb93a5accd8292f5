"""The rocker in its corner: its pieces, what swings between its plates, and whether both joints fit."""

from __future__ import annotations

from typing import Any

import numpy as np

from assemblies.layout.account import (
    ROCKER_PLAN,
    Checked,
    FlatPart,
    FromPlate,
    FromStock,
    SeamOf,
    Source,
    Strength,
    Unchecked,
)
from assemblies.layout.placing import SWING_CUT_MM, Layout, Placed, needed, put
from assemblies.layout.rods import rod_end_in_hand
from assemblies.results.findings import Finding
from parts.base.stock import RodEnd, hexagon
from parts.box_strip import SweptDisc
from parts.damper import NECK_MM
from parts.rocker import LocalEyes, boxed_rocker, local
from parts.rocker_plate import RockerPlate
from parts.shape.form import Vector

PLATE_ITEMS = ("rocker plates, rod arm", "rocker plates, damper arm", "rocker, rod eye", "rocker, damper eye")
GUSSET = Unchecked("gusset of the rocker: counted on nowhere, so neither it nor its welds are checked")


def place_rocker(out: Layout, poses, rod_force_n: float, damper_force_n: float) -> None:
    """Place the rocker's pieces, sized for the two forces; `poses` are those its swings are read from."""
    job = out.job
    r = job.rocker
    eyes = out.eyes = local(r.pivot, r.axis, job.rod.inboard, r.damper_eye)
    end = rod_end_in_hand(job)
    rod_eye_mm, damper_eye_mm = end.housing_diameter_mm, job.damper.eye_diameter
    given: dict[str, Any] = {
        k: v
        for k, v in (
            ("pivot_boss_radius_mm", r.pivot_boss_radius),
            ("rod_boss_radius_mm", r.rod_boss_radius),
            ("damper_boss_radius_mm", r.damper_boss_radius),
            ("waist_radius_mm", r.waist_radius),
            ("weld_leg_mm", r.weld_leg),
            ("tube_measured_mm", r.pivot_tube_measured),
        )
        if v is not None
    }
    shaft = job.damper.shaft_diameter if job.damper.body_end == "chassis" else job.damper.body_diameter
    plate = out.made(
        RockerPlate,
        eyes.rod_eye,
        eyes.damper_eye,
        r.plate_thickness,
        r.pivot_tube.outer,
        r.rod_hole,
        r.damper_hole,
        material=r.plate_material,
        hand=job.corner.side,
        rod_force_n=rod_force_n,
        damper_force_n=damper_force_n,
        safety=job.loads.safety,
        jig_hole_mm=r.jig_hole,
        window=r.window,
        **given,
    )
    made = out.rocker = out.made(
        boxed_rocker,
        plate,
        box_width_mm=r.box_width,
        tube_wall_mm=r.pivot_tube.wall,
        rod_swing=_swing(
            eyes,
            poses,
            "rod_inboard",
            "rod_outboard",
            (rod_eye_mm, end.housing_width_mm),
            max(job.rod.diameter, end.housing_width_mm, hexagon(job.rod.thread).across_corners_mm) / 2,
        ),
        damper_swing=_swing(
            eyes,
            poses,
            "damper_eye",
            "damper_chassis",
            (damper_eye_mm, job.damper.eye_width),
            shaft / 2,
            (damper_eye_mm / 2 + NECK_MM, damper_eye_mm / 2),
        ),
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
    plates = [_plate(out, ahead) for ahead in (True, False)]
    out.rocker_plates = plates[0], plates[1]
    steel = r.plate_material
    tube = Checked(("pivot tube", "pivot tube to rocker plates"))
    _piece(out, "pivot tube", made.tube, FromStock(("pivot tube",)), tube)
    for s in made.strips:
        flat = FlatPart(f"rocker {s.name}", s.outline(), 1, s.thickness_mm, steel)
        _piece(out, s.name, s, FromPlate(flat), Checked(("box strips to rocker plates",)))
    if made.gusset:
        flat = FlatPart("rocker gusset", made.gusset.outline(), 1, made.gusset.thickness_mm, steel)
        _piece(out, "gusset", made.gusset, FromPlate(flat), GUSSET)


def _plate(out: Layout, ahead: bool) -> Placed:
    """One of the two plates, at +z of the rocker's system where `ahead`."""
    made, eyes, job = needed(out.rocker), needed(out.eyes), out.job
    x, y, _ = made.plate.centroid
    away = (made.box_width_mm + made.plate.thickness_mm) / 2
    blank = FlatPart(
        "rocker plate", made.plate.outline(), 1, made.plate.thickness_mm, job.rocker.plate_material
    )
    return put(
        out,
        f"rocker {_side(ahead, eyes.frame.z)} plate",
        "rocker",
        "rocker",
        made.plate_form(ahead),
        eyes.frame,
        made.plate,
        source=FromPlate(blank),
        weld=SeamOf(ROCKER_PLAN),
        strength=Checked(PLATE_ITEMS),
        material=job.rocker.plate_material,
        centroid=(x, y, away if ahead else -away),
    )


def _piece(out: Layout, name: str, part: Any, source: Source, strength: Strength) -> None:
    """A piece that has one place only in the rocker."""
    put(
        out,
        f"rocker {name}",
        "rocker",
        "rocker",
        part.form(),
        needed(out.eyes).frame,
        part,
        source=source,
        weld=SeamOf(ROCKER_PLAN),
        strength=strength,
        material=out.job.rocker.plate_material,
    )


def _side(ahead: bool, axis: Vector) -> str:
    """A plate's name by where it lies in the car: front, rear, left, right, upper or lower."""
    i = int(np.argmax(np.abs(axis)))
    return (("front", "rear"), ("left", "right"), ("upper", "lower"))[i][(axis[i] > 0) != ahead]


def _swing(
    eyes: LocalEyes,
    poses,
    eye: str,
    other: str,
    housing_mm: tuple[float, float],
    half_width_mm: float,
    root_mm: tuple[float, float] | None = None,
) -> SweptDisc:
    """What a rod or damper sweeps about its eye, seen in the rocker, over all poses. `housing_mm`: diameter
    and width of its eye, which leans with it; `root_mm`: length and half width of the eye's neck."""
    to_rocker = np.linalg.inv(poses.frame("rocker") @ eyes.frame.matrix())
    near, far = (
        np.einsum("...ij,...j->...i", to_rocker[..., :3, :3], poses.point(n)) + to_rocker[..., :3, 3]
        for n in (eye, other)
    )
    line = far - near
    angles = np.degrees(np.arctan2(line[..., 1], line[..., 0]))
    angles = angles[np.isfinite(angles)]
    angles = angles[0] + (angles - angles[0] + 180.0) % 360.0 - 180.0
    centre = eyes.rod_eye if eye == "rod_inboard" else eyes.damper_eye
    across, width = housing_mm
    lean = float(np.nanmax(np.abs(line[..., 2]) / np.linalg.norm(line, axis=-1)))  # its sine
    return SweptDisc(
        centre,
        across / 2 + lean * width / 2 + SWING_CUT_MM,
        half_width_mm + SWING_CUT_MM,
        float(angles.min()),
        float(angles.max()),
        *((root_mm[0] + SWING_CUT_MM, root_mm[1] + SWING_CUT_MM) if root_mm else ()),
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
                        f"The {what} is {width:g} mm wide and stands {offset:+z.1f} mm along the axis from "
                        f"the plates' middle: it needs a gap of "
                        f"{2 * abs(offset) + width:.1f} mm between the plates and has {gap:g} mm. Widen "
                        f"rocker.box_width or move the {key} along the axis."
                    ),
                )
            )
