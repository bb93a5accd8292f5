"""Where to drill: hole rows of each adjustable joint as angles from the datum line and arcs round the tube,
and which pair to bolt.

The datum line is scribed along the tubes in line with the rod's eye on the rocker (for the anchor plates:
with the line the straight pack has while the rocker is held at its slack angle). Angles are right-handed
about the direction from the rocker towards the spring: clockwise for somebody who stands at the rocker and
looks along the spring, on either side of the car. The other hand of the car has every angle negative.
"""

from __future__ import annotations

import math

import numpy as np

from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class DrillHole:
    """A hole centre on a tube's outside (`mm` = arc from the datum line) or on a plate (`mm` = radius of its
    circle)."""

    joint: str
    part: str
    row: int
    along_mm: float  # from the tube's end nearest the rocker (over a stub: from the free end); 0 on plates
    angle_deg: float
    arc_mm: float  # from the datum line along the outside; on plates along the hole circle
    diameter_mm: float


@dataclass(frozen=True)
class Drilling:
    """Everything the clocking joints of one corner need drilled. `turn` is +1 where the loading sense is
    right-handed about the direction from the rocker towards the spring."""

    side: str
    turn: int
    sleeve: AdjusterSleeve | None
    anchor: AnchorPlates | None
    stub: bool = False  # the sleeve's outer tube is the rocker's, its inner one the stub

    def holes(self) -> list[DrillHole]:
        """Every hole; across a tube both its mouths, angles 0 to 360."""
        return [*self._tube("inner"), *self._tube("outer"), *self._plate("fixed"), *self._plate("turning")]

    def _tube(self, which: str) -> list[DrillHole]:
        if self.sleeve is None:
            return []
        s = self.sleeve
        across = s.inner_mm if which == "inner" else s.outer_mm
        both = ((h, a) for h in s.holes(which) for a in (h.angle_deg, h.angle_deg + 180))
        return [
            DrillHole(
                "sleeve",
                f"sleeve {which} tube",
                h.row,
                h.z_mm,
                a % 360,
                math.radians(a % 360) * across / 2,
                s.hole_mm,
            )
            for h, a in both
        ]

    def _plate(self, which: str) -> list[DrillHole]:
        if self.anchor is None:
            return []
        out = []
        for h in self.anchor.outline(which).holes:
            if not h.purpose.startswith("clocking"):
                continue
            angle = math.degrees(math.atan2(h.y, h.x)) % 360
            angle = 0.0 if angle > 360 - 1e-9 else angle
            radius = math.hypot(h.x, h.y)
            out.append(
                DrillHole(
                    "anchor",
                    f"anchor plate {which}",
                    int(h.purpose.split()[1]),
                    0.0,
                    angle,
                    math.radians(angle) * radius,
                    h.diameter_mm,
                )
            )
        return out

    def pair(self, joint: str, teeth: int) -> str:
        """Which holes to bolt after turning a joint by `teeth` in the loading sense."""
        if joint == "sleeve" and self.sleeve is not None:
            turned = teeth * self.turn * (1 if self.stub else -1)  # of the outer tube on the inner one
            row, inner, outer = self.sleeve.setting(turned * (1 if self.sleeve.hand == "left" else -1))
            return f"row {row}: inner {inner % 180:g}, outer {outer % 180:g} deg"
        if joint == "anchor" and self.anchor is not None:
            return self._anchor_pair(self.anchor, teeth)
        return ""

    def _anchor_pair(self, plates: AnchorPlates, teeth: int) -> str:
        """The turning plate's holes that meet the fixed one's when it has turned by `teeth` steps: a pair and
        its twin straight across."""
        turned = teeth * self.turn
        if not plates.holds(turned):
            raise ValueError(f"anchor: no bolts that hold a torque after {teeth} teeth")
        (circle, t, f), (_, t2, f2) = plates.bolts(turned)
        t, t2 = (0.0 if a > 360 - 1e-9 else a for a in (t, t2))
        across = f"turning {t2:.4g}, fixed {f2:.4g} deg"
        return f"circle {circle}: turning {t:.4g}, fixed {f:.4g} deg; and across: {across}"


def drilling(job, layout, sense: float) -> Drilling | None:
    """The drilling of a laid-out corner; None for a coil-over or where the spring could not be placed.
    `sense`: rocker angle times sense grows in bump."""
    if job.spring.kind == "coil-over" or layout is None or layout.sleeve is None:
        return None
    anchor = layout.anchor
    loading = np.asarray(job.rocker.axis, float) * sense
    turn = 1 if loading @ np.asarray(job.spring_direction) > 0 else -1
    toothed = job.spring.teeth is not None
    stub = job.pivot.kind == "stub"
    return Drilling(job.corner.side, turn, layout.sleeve, anchor if toothed else None, stub)


PLANS = {
    "weld now": (
        "Weld the pivot tube and box of the rocker, the socket plates to the sleeve's outer tube, the anchor "
        "socket through its turning plate and the fixed plate to the frame, all with the spring out "
        "of the car: "
        "heat ruins it."
    ),
    "leave free": (
        "Leave the sleeve's outer tube free to turn on the pivot tube till the ride height is set. Nothing "
        "on the adjustment chain is welded after the spring is in."
    ),
}
ON_A_STUB = {
    "weld now": (
        "Weld the rocker on its own tube, the socket plates to the stub, the bearing rings and the anchor's "
        "fixed plate to the spring tube, the anchor socket through its turning plate; then bore the rings in "
        "line and press the bearings in, all with the spring out of the car: heat ruins it."
    ),
    "leave free": (
        "Leave the rocker's tube free to turn on the stub till the ride height is set. Nothing on the "
        "adjustment chain is welded after the spring is in."
    ),
}


def order(job, drill: Drilling | None) -> list[str]:
    """Order of work at the adjustment chain, a sentence each."""
    if drill is None:
        return []
    view = "clockwise" if drill.turn > 0 else "anticlockwise"
    plan = ON_A_STUB if drill.stub else PLANS
    out = [
        plan["weld now"],
        plan["leave free"],
        "Scribe the datum line along pivot tube and sleeve in line with the rod's eye; on the anchor plates "
        "along the straight pack's width with the rocker at its slack angle.",
        f"The loading sense, the way bump turns the rocker, is {view} for somebody at the rocker looking "
        f"along the spring. Count teeth of both ends in that sense.",
    ]
    if drill.anchor is not None:
        out += [
            "Wrap each strip round its own tube, datum on datum, arrow on the loading sense; pop every "
            "centre, then take the strip off and measure two arcs with a tape.",
            "Drill each tube on its own, straight across its axis and square to the surface, 0.3 under size; "
            "ream both tubes together at the setting used, so that the bolt takes torque without play.",
        ]
    else:
        out += [
            "Set the ride height with the sleeve clamped, mark across both tubes, unload the spring through "
            "the lever, then drill one hole straight across both and ream it to the bolt."
        ]
    out += [
        "Drill with the spring out or unloaded: never drill, heat, grind or weld a loaded spring.",
        "Settle the car (roll 2 m back and forth, press each end), read the ride height, turn to the setting "
        "that corrects it, and read again after the first full-travel presses.",
    ]
    return out
