"""The steering rack: its housing on the frame, and this side's end of the bar, which moves with the rack,
with the extension that reaches the tie rod."""

from __future__ import annotations

import math

from assemblies.job.rack import extensions, place
from assemblies.layout.account import Checked, FromStock, Given, NoSeam, Unchecked
from assemblies.layout.placing import Layout, put
from parts.member import Member
from parts.rack_extension import RackExtension

HOUSING, END = "rack housing", "rack end"
INNER_JOINT = "rack inner joint"
BALL_SHARE = 1.4  # of the bar's diameter: the inner joint's housing, usual
SEAM_MM = 1.0  # an end no longer than this is none
BOUGHT = Given("the car's own steering: the job gives its sizes")
ALONE = NoSeam("screwed, of one piece or bought")


def place_rack(out: Layout) -> None:
    """Place the housing with ears and pinion ("frame") and this side's end with its inner joint ("rack").

    The end starts where the housing covers it at its furthest out: what is left of the bar stays inside at
    any lock. Raises ValueError where the extension cannot be made."""
    job = out.job
    rack, inner = job.rack, job.tie_rod.inner
    if rack is None:
        return
    x, y, z = place(rack, inner)
    half = rack.housing_length / 2
    solid = Member.cylinder((x, y - half, z), (x, y + half, z), rack.housing_diameter)
    envelopes = [
        (HOUSING, solid),
        *((f"rack ear {n}", Member.box(e.centre, e.size)) for n, e in enumerate(rack.ear, 1)),
    ]
    if (p := rack.pinion) is not None:
        envelopes.append(("rack pinion", Member.cylinder(p.from_, p.to, p.diameter)))
    for name, part in envelopes:
        put(
            out,
            name,
            HOUSING,
            "frame",
            part.form(),
            part.frame,
            None,
            source=BOUGHT,
            weld=ALONE,
            strength=Unchecked(
                "rack housing and its mounts: bought; the tie rods' forces are in the table of joints"
            ),
        )

    side = 1.0 if inner[1] > 0 else -1.0
    length, _ = extensions(rack.length, y, inner[1])
    shoulder = inner[1] - side * rack.joint_reach
    root, start = shoulder - side * max(length, 0.0), y + side * max(half - rack.stroke, SEAM_MM)
    ball = BALL_SHARE * rack.bar_diameter
    pieces = [(INNER_JOINT, shoulder, inner[1] + side * ball / 2, ball)]
    if side * (root - start) > SEAM_MM:
        pieces.append(("rack bar", start, root, rack.bar_diameter))
    for name, from_, to, diameter in pieces:
        part = Member.cylinder((x, from_, z), (x, to, z), diameter)
        put(
            out,
            name,
            END,
            "rack",
            part.form(),
            part.frame,
            None,
            source=BOUGHT,
            weld=ALONE,
            strength=Checked(("rack bar",))
            if name == "rack bar"
            else Unchecked("rack's inner joint: bought; its maker's rating"),
        )
    if length > SEAM_MM:
        made = RackExtension(length, rack.extension_diameter, rack.thread, rack.engagement)
        part = Member.cylinder((x, root, z), (x, shoulder, z), rack.extension_diameter)
        out.rack_extension = put(
            out,
            "rack extension",
            END,
            "rack",
            part.form(),
            part.frame,
            made,
            source=FromStock(("rack extension",)),
            weld=ALONE,
            strength=Checked(("rack extension",)),
            material=rack.extension_material,
            centroid=(0.0, 0.0, length / 2),
        )


def joint_zone_mm(job) -> float:
    """Radius round the inner joint's ball within which tie rod and rack end keep a joint's gap only."""
    ball = BALL_SHARE * job.rack.bar_diameter
    return math.hypot(max(job.rack.joint_reach, ball / 2), ball / 2) + 1.0
