"""What each number of a corner is called, how it is defined, what is usual and what it feels like.

Every "usual" is common practice on light cars, nothing that a number is judged by here.
"""

from __future__ import annotations

from typing import NamedTuple


class UsualNumber(NamedTuple):
    key: str
    name: str
    unit: str
    usual: str
    feels: str
    definition: str


ROWS = (
    UsualNumber(
        "kingpin_inclination_deg",
        "kingpin inclination",
        "deg",
        "6 to 13 (common practice)",
        "more lifts the car with lock and leans the outer wheel out",
        "lean of the steering axis seen from the front, + top inward (ISO 8855)",
    ),
    UsualNumber(
        "caster_deg",
        "caster",
        "deg",
        "3 to 7 (common practice)",
        "more leans the outer wheel in with lock and weighs the steering",
        "lean of the steering axis seen from the side, + top rearward (ISO 8855)",
    ),
    UsualNumber(
        "scrub_radius_mm",
        "scrub radius",
        "mm",
        "0 to 40 (common practice)",
        "more pulls at the wheel in bumps and under uneven braking",
        "steering axis at the ground to the wheel's lowest point along the spin axis, + axis "
        "inboard (ISO 8855)",
    ),
    UsualNumber(
        "trail_mm",
        "caster trail",
        "mm",
        "10 to 35 (common practice)",
        "more centres itself, weighs the steering and tells of grip",
        "wheel's lowest point to the steering axis at the ground along the heading, + axis ahead (ISO 8855)",
    ),
    UsualNumber(
        "camber_deg_per_mm",
        "camber gain",
        "deg/mm",
        "-0.01 to -0.03 (common practice)",
        "more keeps the outer wheel upright in roll and leans both under braking",
        "camber (+ top outward) per mm of wheel-centre travel",
    ),
    UsualNumber(
        "toe_deg_per_mm",
        "bump steer slope",
        "deg/mm",
        "within ±0.004 (common practice)",
        "the car darts on bumps",
        "toe (+ toe-in) per mm of wheel-centre travel, rack held",
    ),
    UsualNumber(
        "track_change_per_mm",
        "track change of one wheel",
        "mm/mm",
        "within ±0.1 (common practice)",
        "more scrubs the tyre sideways on bumps",
        "contact carried by the upright, outboard, per mm of wheel-centre travel",
    ),
    UsualNumber(
        "roll_centre_mm",
        "roll centre, by motion of the contact",
        "mm over ground",
        "0 to 100, rear above front (common practice)",
        "high jacks the body up in a corner; one that wanders with travel feels nervous",
        "y·(dy/dz) of the contact carried by the upright, in the plane across the car through it",
    ),
    UsualNumber(
        "roll_centre_by_arms_mm",
        "roll centre, by the arms' construction",
        "mm over ground",
        "a check: differs by bump steer times trail",
        "",
        "arms' planes cut by the plane across through the wheel centre; contact to where they meet, "
        "at the car's "
        "middle",
    ),
    UsualNumber(
        "front_view_swing_arm_mm",
        "front-view swing arm",
        "mm",
        "1200 to 4000 (common practice)",
        "short gains camber fast and moves the roll centre",
        "contact to the instant centre by motion, level, + towards the car's other side",
    ),
    UsualNumber(
        "side_view_swing_arm_mm",
        "side-view swing arm",
        "mm",
        "over 1500 (common practice)",
        "short turns the caster with travel and harshens the ride under braking",
        "contact to the instant centre by motion in the plane along the car, level, + rearward",
    ),
)


def anti(
    axle: str, driven: bool, brake_share: float, how: str
) -> tuple[tuple[str, UsualNumber, float, float], ...]:
    """The anti figures of an axle: (which slope, what is told, share, sense): see geometry.anti_percent."""
    front = axle == "front"
    braking, sense = ("anti-dive", 1.0) if front else ("anti-lift under braking", -1.0)
    share = brake_share if front else 1 - brake_share
    given = f"{share:.2f} of the braking at this axle ({how})"
    usual = "0 to 30 (common practice)"
    out = [
        (
            where,
            UsualNumber(
                f"{braking.split()[0].replace('-', '_')}_{key}_percent",
                f"{braking}, brakes {brakes}",
                "%",
                usual,
                "more holds the nose up but stiffens it over bumps while braking"
                if front
                else "holds the tail down",
                f"slope of the {what} times L/h, {given}",
            ),
            share,
            sense,
        )
        for where, key, brakes, what in (
            ("contact_slope", "outboard", "outboard (torque at the upright)", "contact"),
            ("wheel_centre_slope", "inboard", "inboard (torque at the frame)", "wheel centre"),
        )
    ]
    if driven:
        pulling = "anti-lift under drive" if front else "anti-squat"
        out += [
            (
                where,
                UsualNumber(
                    f"{'anti_lift_drive' if front else 'anti_squat'}_{key}_percent",
                    f"{pulling}, drive {drive}",
                    "%",
                    "0 to 60 (common practice)",
                    "holds the nose down under power"
                    if front
                    else "holds the tail up under power, costs grip on bumps",
                    f"slope of the {what} times L/h, all the drive at this axle",
                ),
                1.0,
                sense,
            )
            for where, key, drive, what in (
                (
                    "wheel_centre_slope",
                    "frame",
                    "by shafts from the frame (torque at the frame)",
                    "wheel centre",
                ),
                ("contact_slope", "upright", "in the upright (torque at the upright)", "contact"),
            )
        ]
    return tuple(out)


STEERING = {
    "rack": "positive to +y, the car's left, on either side of the car",
    "steer angle": "of the wheel's heading about the vertical, from straight ahead (static toe is "
    "not steering)",
    "toe change": "from travel 0 at the same rack, one wheel, + toe-in",
    "Ackermann share": "of the angle difference: (inner - outer) over what full Ackermann adds to the outer, "
    "cot(full) = cot(outer) - w/L, at ride; w between the points where the steering axes meet the ground",
    "share of the cotangents": "(cot outer - cot inner)·L/w: the same limit near straight ahead, up "
    "to some 5 points "
    "off at full lock",
    "turning": "where the line through a wheel's lowest point square to its heading meets the other "
    "axle's line; "
    "inner, outer wheel and the middle of both; the circle is the outer contact's: no overhang, no tyre slip",
    "toggle margin": "least angle between steering arm and tie rod from one line, seen along the "
    "steering axis",
    "tilt": "of a rod end out of the plane square to its bolt, which stands as near upright as "
    "square to the rod "
    "allows at ride; of a ball joint in line with the rack: angle between rod and rack",
}
