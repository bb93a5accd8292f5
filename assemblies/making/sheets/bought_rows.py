"""What is bought for a corner as lines of the cut list: bolts, nuts, washers, rod ends, damper, bushes."""

from __future__ import annotations

import math

from assemblies.layout.fasteners import SLEEVE, Fastener, spacers
from assemblies.layout.placing import Layout
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.made_rows import ADVICE
from parts.base.stock import DENSITY_KG_M3


def fastener_rows(layout: Layout, bolted: list[Fastener]) -> list[CutListLine]:
    """Joints with the same bolt on the same stack share their rows."""
    alike: dict[tuple, list[Fastener]] = {}
    for f in bolted:
        alike.setdefault(
            (f.joint.size, tuple((x.what, round(x.thickness_mm, 3)) for x in f.joint.layers)), []
        ).append(f)
    out = []
    for f, *others in alike.values():
        j = f.joint
        n = j.count + sum(o.joint.count for o in others)
        names = ", ".join(o.joint.name for o in (f, *others))
        packed = f"grip {f.grip_mm:.1f}: stack {j.stack_mm:.1f}, {f.washers} washers" + (
            f", collar {f.collar_mm:g}" if f.collar_mm else ""
        )
        plane = f"plain shank at least {f.plain_mm:.1f}, last shear plane at {f.last_plane_mm:.1f}"
        on = (
            f"; up to {f.thread_in_last_plate_mm:.1f} mm of the last plate may bear on thread"
            if f.thread_in_last_plate_mm
            else ""
        )
        saddles = "; filed to saddles where they sit on the tube" if "sleeve" in j.name else ""
        out += [
            CutListLine(
                "fastener",
                f"bolt: {names}",
                n,
                f"{j.size} x {f.length_mm:g} ISO 4014-{layout.job.bolts.grade}",
                f.length_mm,
                "",
                f.bolt_kg,
                f"{packed}; {plane}{on}; thread {f.thread_mm:g} ({ADVICE})",
                "bolt",
            ),
            CutListLine(
                "fastener", f"lock nut: {names}", n, j.size, None, "", f.nut_kg, "mass of a plain nut", "nut"
            ),
            CutListLine(
                "fastener",
                f"washer: {names}",
                n * f.washers,
                f"{j.size} ISO 7089",
                None,
                "",
                f.washer_kg,
                f"one under the head, {f.nut_washers} under the nut{saddles}",
                "washer",
            ),
        ]
        if f.collar_mm:
            out.append(
                CutListLine(
                    "fastener",
                    f"collar: {names}",
                    n,
                    f"bored {j.size}",
                    f.collar_mm,
                    "mild steel",
                    f.collar_kg,
                    "under the nut, so that it tightens before the thread ends",
                    "tube",
                )
            )
    if layout.rod is not None:
        nut = layout.rod.jam_nut
        d = layout.rod.screw.diameter_mm
        each = (
            (math.sqrt(3) / 2 * nut.across_flats_mm**2 - math.pi / 4 * d**2)
            * nut.jam_nut_mm
            * DENSITY_KG_M3
            * 1e-9
        )
        out += [
            CutListLine(
                "fastener",
                f"jam nut, rod {where}",
                1,
                f"{layout.rod.screw.name} thin, {hand} hand",
                None,
                "",
                each,
                "",
                "nut",
            )
            for where, hand in zip(("outboard", "inboard"), layout.rod.hands, strict=True)
        ]
    return out


def bought(layout: Layout) -> list[CutListLine]:
    job, out = layout.job, []
    if layout.rod is not None:
        e, d = layout.rod.rod_end, layout.rod.screw.diameter_mm
        disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
        eye = disc * (
            (e.housing_diameter_mm**2 - e.bore_mm**2) * e.housing_width_mm
            + d**2 * (e.eye_to_end_mm - e.housing_diameter_mm / 2)
        )
        out += [
            CutListLine(
                "bought",
                f"rod end, rod {where}",
                1,
                f"{layout.rod.screw.name} {hand} hand, bore {e.bore_mm:g}, ball {e.ball_width_mm:g} wide",
                None,
                "",
                eye,
                f"mass from its sizes; {e.source}",
                "rod_end",
            )
            for where, hand in zip(("outboard", "inboard"), layout.rod.hands, strict=True)
        ]
    out.append(
        CutListLine(
            "bought",
            "damper",
            1,
            f"{job.damper.longest:g} to {job.damper.shortest:g} eye to eye, bore {job.rocker.damper_hole:g}",
            note="weigh it",
            price="damper",
        )
    )
    if job.bump_stop is not None:
        stop = job.bump_stop
        press = f"{stop.curve[-1][1]:.0f} N at {stop.curve[-1][0]:g} mm pressed"
        size = f"{stop.free_length:g} long, bore {job.damper.shaft_diameter:g}, {press}"
        out.append(CutListLine("bought", "bump stop", 1, size, note="on the damper's shaft"))
    if job.droop_strap is not None:
        strap = job.droop_strap
        size = f"{strap.length:g} taut, {strap.stiffness:g} N/mm"
        size += f", breaks at {strap.breaking_load:g} N or more" if strap.breaking_load else ""
        out.append(
            CutListLine("bought", "droop strap", 1, size, note=f"frame to {strap.on.replace('_', ' ')}")
        )
    if job.spring.kind == "coil-over":
        out.append(
            CutListLine(
                "bought",
                "coil spring",
                1,
                f"{job.spring.rate:g} N/mm, free {job.spring.free_length:g}, {job.spring.outer_diameter:g} "
                f"over",
                note="weigh it",
                price="coil",
            )
        )
    if layout.rocker is not None and layout.pivot is None:  # a pivot that is laid out has its own row
        out.append(
            CutListLine(
                "bought",
                "bushes for the rocker's pivot",
                2,
                f"outside {layout.rocker.tube.bore_mm:g} after boring",
                note="not laid out; p6 in H7 is the usual press fit",
                price="bush",
            )
        )
    for arm in layout.arms.values():
        which, a = arm.name, arm.part
        sleeve = min(
            (
                layer.thickness_mm
                for j, layer, _ in spacers(layout)
                if layer.what == SLEEVE and j.name.startswith(which)
            ),
            default=None,
        )
        room = (
            f"; {(sleeve - a.housing_length_mm) / 2:g} mm each side to the tabs: flange or thrust washer"
            if sleeve
            else ""
        )
        out.append(
            CutListLine(
                "bought",
                f"bushes, {which}",
                2,
                f"inside {a.bush_bore_mm:g}, outside {a.housing_bore_mm:g}, {a.housing_length_mm:g} long",
                note=f"turns on the inner sleeve of {a.bush_bore_mm:g}; housing bored to the bush in "
                f"hand{room}",
                price="bush",
            )
        )
    return out
