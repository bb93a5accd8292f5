"""What hard points must satisfy together: one unit for all, below and above, on their own side, off the
lines that they must stand off. Numbers only, no models.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from assemblies.job.problem import Problem, place
from assemblies.job.sense import POINTS
from parts.shape.form import cross

LEAST_MM = 1.0  # nearer than this, two hard points count as one and an arm as none
LEAST_WHEEL_HEIGHT_MM = 50.0
METRES_BELOW_MM = 4.0  # no car corner is so small in mm, none so large in metres
LEAST_CORNER_MM = 100.0
FURTHEST_MM = 2000.0  # from the wheel's centre
LEAST_SHARE = 0.2  # cosine of a heading's angle to the axis: within about 78 degrees
UNITS = (
    ("metres", 1000.0, METRES_BELOW_MM),
    ("inches", 25.4, 40.0),
)  # mm in it; a joint so near the origin is in it
HEADINGS = {
    "rear": (-1, 0, 0),
    "front": (1, 0, 0),
    "inboard": (0, -1, 0),
    "outboard": (0, 1, 0),
    "down": (0, 0, -1),
    "up": (0, 0, 1),
}  # on the left
OUTER = (
    "wheel.centre",
    "wheel.contact",
    "upper_arm.outer_joint",
    "lower_arm.outer_joint",
    "tie_rod.outer",
    "rod.outboard",
)


def units_of_the_corner(seen: Mapping[str, Any]) -> Iterator[Problem]:
    def looks(mm: float) -> str:
        return (
            f"looks like {'metres' if mm < METRES_BELOW_MM else 'inches or centimetres'}: all lengths are mm"
        )

    if "wheel.centre" in seen and "wheel.contact" in seen:
        height = seen["wheel.centre"][2] - seen["wheel.contact"][2]
        if 0 < height < LEAST_WHEEL_HEIGHT_MM:
            yield Problem(
                "wheel.centre",
                f"is {height:.6g} mm above the contact",
                f"must be at least {LEAST_WHEEL_HEIGHT_MM:g} mm",
                looks(height),
            )
            return
    points = [seen[k] for k in POINTS if k in seen]
    ends = [[end(v) for v in zip(*points, strict=True)] for end in (min, max)]
    if len(points) > 3 and (span := math.dist(*ends)) < LEAST_CORNER_MM:
        yield Problem(
            "hard points",
            f"span {span:.6g} mm in all",
            f"must span at least {LEAST_CORNER_MM:g} mm",
            looks(span),
        )


def _foreign_unit(point, centre) -> str:
    """The unit a point out of scale with the wheel's centre was probably written in; "" for a point in
    scale."""
    away = math.dist(point, centre)
    for unit, mm, small in UNITS:
        if math.hypot(*point) < small or (
            away > FURTHEST_MM / 2 and math.dist([v * mm for v in point], centre) < away / 2
        ):
            return unit
    return ""


def units_of_a_point(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre = seen.get("wheel.centre")
    for key in POINTS:
        if centre is None or key not in seen:
            continue
        away = math.dist(seen[key], centre)
        said = f"is {place(seen[key])}, {away:.5g} mm from the wheel centre"
        if unit := _foreign_unit(seen[key], centre):
            yield Problem(key, said, "all lengths are mm", f"looks like {unit}")
        elif away > FURTHEST_MM:
            yield Problem(key, said, f"must be within {FURTHEST_MM:g} mm of it", "look for a slipped digit")


def units_of_a_member(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """A member whose every point is out of scale would stand where it meets nothing."""
    centre = seen.get("wheel.centre")
    for member in seen.get("job.member", ()) if centre else ():
        if member.shape == "step":
            continue  # its file has a unit of its own, and its origin may lie anywhere
        points = [member.centre] if member.shape == "box" else [member.from_, member.to]
        units = [_foreign_unit(p, centre) for p in points]
        if all(units):
            where = " to ".join(map(place, points))
            yield Problem(
                f"member.{member.name}", f"is at {where}", "all lengths are mm", f"looks like {units[0]}"
            )


def foreign_ends(kind: str, lines: Iterable[Any], centre: Any) -> Iterator[Problem]:
    """Ends of hoses or links that look like another unit, seen from the wheel's centre."""
    for line in lines if centre else ():
        for key, point in (("from", line.from_), ("to", line.to)):
            if unit := _foreign_unit(point, centre):
                yield Problem(
                    f"{kind}.{line.name}.{key}",
                    f"is {place(point)}",
                    "all lengths are mm",
                    f"looks like {unit}",
                )


def wheel(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre, contact = seen.get("wheel.centre"), seen.get("wheel.contact")
    if centre and contact:
        rim, radius = seen.get("wheel.rim_diameter"), seen.get("wheel.tyre_radius")
        if centre == contact:
            yield Problem(
                "wheel.contact", f"is {place(contact)}, the same point as wheel.centre", "must lie below it"
            )
        elif contact[2] >= centre[2]:
            limit = f"must be below the wheel centre's z {centre[2]:g}"
            yield Problem("wheel.contact", f"has z {contact[2]:g}", limit, "z points up")
        elif rim and radius and radius <= rim / 2:
            yield Problem(
                "wheel.rim_diameter",
                f"is {rim:g} mm",
                f"must be less than {2 * radius:g} mm, twice the tyre radius",
            )
    upper, lower = seen.get("upper_arm.outer_joint"), seen.get("lower_arm.outer_joint")
    if upper and lower and upper[2] <= lower[2] and math.dist(upper, lower) >= LEAST_MM:
        yield Problem(
            "upper_arm.outer_joint",
            f"has z {upper[2]:g}",
            f"must be above lower_arm.outer_joint's z {lower[2]:g}",
            "swap the arms if they were mixed up",
        )


def on_its_side(seen: Mapping[str, Any]) -> Iterator[Problem]:
    side = seen.get("corner.side")
    if side is None:
        return
    sign, rule = (1, "y > 0") if side == "left" else (-1, "y < 0")
    wrong = [key for key in OUTER if key in seen and seen[key][1] * sign <= 0]
    if "wheel.centre" in wrong and len(wrong) > 1:
        other = "right" if side == "left" else "left"
        yield Problem(
            "corner.side",
            f'is "{side}" but wheel.centre has y {seen["wheel.centre"][1]:g}',
            f"the {side} side is {rule} (y points left)",
            f'write side = "{other}" or turn the signs of y',
        )
        return
    for key in wrong:
        yield Problem(
            key, f"has y {seen[key][1]:g}", f"must be {rule} on the {side} side", "turn the sign of y"
        )


def apart(seen: Mapping[str, Any]) -> Iterator[Problem]:
    for a, b, what in (
        ("upper_arm.front_pivot", "upper_arm.rear_pivot", "the arm has no pivot axis"),
        ("lower_arm.front_pivot", "lower_arm.rear_pivot", "the arm has no pivot axis"),
        ("upper_arm.outer_joint", "lower_arm.outer_joint", "the steering axis has no length"),
        ("tie_rod.inner", "tie_rod.outer", "the tie rod has no length"),
        ("rod.outboard", "rod.inboard", "the rod has no length"),
        ("rocker.damper_eye", "damper.chassis_eye", "the damper has no length"),
    ):
        if a in seen and b in seen and math.dist(seen[a], seen[b]) < LEAST_MM:
            said = f"is {place(seen[b])}, {math.dist(seen[a], seen[b]):.3g} mm from {a}"
            yield Problem(b, said, f"must be at least {LEAST_MM:g} mm away", what)


def arms(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """Points that must stand off a line through two others."""
    rules = [
        (f"{arm}.front_pivot", f"{arm}.rear_pivot", f"{arm}.outer_joint", "collinear points make no arm")
        for arm in ("upper_arm", "lower_arm")
    ]
    rules.append(
        (
            "upper_arm.outer_joint",
            "lower_arm.outer_joint",
            "tie_rod.outer",
            "on the steering axis it cannot hold the wheel's toe",
        )
    )
    if (arm := seen.get("rod.on")) in ("upper_arm", "lower_arm"):
        rules.append(
            (
                f"{arm}.front_pivot",
                f"{arm}.rear_pivot",
                "rod.outboard",
                "on the arm's pivot axis the rod would not move",
            )
        )
    for a, b, key, what in rules:
        if all(k in seen for k in (a, b, key)) and math.dist(seen[a], seen[b]) >= LEAST_MM:
            same = a.partition(".")[0] == b.partition(".")[0]
            line = f"the line {a} to {b.partition('.')[2] if same else b}"
            yield from _stands_off(key, seen[key], seen[a], np.subtract(seen[b], seen[a]), line, what)


def rocker_axis(seen: Mapping[str, Any]) -> Iterator[Problem]:
    axis = seen.get("rocker.axis")
    if axis is None:
        return
    if math.hypot(*axis) < 1e-6:
        yield Problem(
            "rocker.axis",
            f"is {place(axis)}",
            "must have a length",
            "give the direction the rocker turns about, such as [1, 0, 0]",
        )
        return
    for key in ("rod.inboard", "rocker.damper_eye"):
        if key in seen and "rocker.pivot" in seen:
            yield from _stands_off(
                key, seen[key], seen["rocker.pivot"], axis, "the rocker's axis", "on the axis it has no arm"
            )
    towards, side = seen.get("spring.towards"), seen.get("corner.side")
    if towards and side:
        long = math.hypot(*axis)
        share = {word: abs(np.dot(axis, heading(word, side))) / long for word in HEADINGS}
        if share[towards] < LEAST_SHARE:
            fitting = " or ".join(f'"{word}"' for word, s in share.items() if s >= LEAST_SHARE)
            yield Problem(
                "spring.towards",
                f'is "{towards}"',
                f"the rocker's axis {place(axis)} does not run that way",
                f"write {fitting}",
            )


def heading(towards: str, side: str) -> np.ndarray:
    """The car's direction that `towards` names on this side of the car."""
    return np.array(HEADINGS[towards], float) * (1, 1 if side == "left" else -1, 1)


def _stands_off(key: str, point, origin, along, line: str, what: str) -> Iterator[Problem]:
    away = math.hypot(*cross(np.subtract(point, origin), along)) / math.hypot(*along)
    if away < LEAST_MM:
        yield Problem(
            key,
            f"is {place(point)}, {away:.3g} mm from {line}",
            f"must be at least {LEAST_MM:g} mm off it",
            what,
        )
