"""What the hard points of a job must satisfy together: distances, arms, sides, units. Numbers only, no
models.

`problems_between` takes the values that could be read, by key ("rod.inboard"), so that one bad key does not
hide the next; a rule whose keys are not all there is left for the next run.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT
from assemblies.job.link import problems as link_problems
from assemblies.job.rack import RACK_BODIES
from assemblies.job.rack import problems as rack_problems
from assemblies.job.sense import POINTS, suspicions
from assemblies.job.values import nearest, plain
from parts.base.frozen import dataclass

LEAST_MM = 1.0  # nearer than this, two hard points count as one and an arm as none
LEAST_WHEEL_HEIGHT_MM = 50.0
METRES_BELOW_MM = 4.0  # no car corner is so small in mm, none so large in metres
LEAST_CORNER_MM = 100.0
FURTHEST_MM = 2000.0  # from the wheel's centre
LEAST_SPACING_MM = 0.1  # between blanks, whatever the tool
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
BODIES = ("rocker", "rod", "damper", "spring", "upper_arm", "lower_arm", "tie_rod", "wheel")
BRACKETS = (
    "damper bracket",
    *(f"{arm} arm {end} bracket" for arm in ("upper", "lower") for end in ("front", "rear")),
)
BODY_NAMES = (
    *BODIES,
    "rod end",
    "rod lug",
    "rod lug bolt",
    "spring housing",
    "spring anchor",
    "pivot bearings",
    "pivot spindle",
    "pivot bracket",
    "pivot bracket bolt",
    *BRACKETS,
    "rocker bolts",
    CROSS_BOLT,
    f"{ANCHOR_PLATES} bolt",
    *(f"{b} bolt" for b in BRACKETS),
)  # a member so named would be one with them in the gaps

OUTER = (
    "wheel.centre",
    "wheel.contact",
    "upper_arm.outer_joint",
    "lower_arm.outer_joint",
    "tie_rod.outer",
    "rod.outboard",
)


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a job: the key, what it is, what it must be, what to do about it."""

    key: str
    value: str
    limit: str = ""
    cure: str = ""

    def __str__(self) -> str:
        return plain(
            f"{self.key}: " + "; ".join(part for part in (self.value, self.limit, self.cure) if part)
        )


def problems_between(seen: Mapping[str, Any], member_names: Sequence[Any] = ()) -> list[Problem]:
    """Every rule between hard points that `seen` breaks, in a fixed order."""
    names = list(_names(member_names))
    whole = list(_units_of_the_corner(seen))
    if whole:
        return whole + names
    stray = list(_units_of_a_point(seen))
    sound = {k: v for k, v in seen.items() if k not in {p.key for p in stray}}
    places = [*stray, *(p for rule in (_wheel, _side, _arms, _axis) for p in rule(sound))]
    alone = places and all(p.key in POINTS for p in places) and not [*_apart(sound)]
    if alone and (slip := _slip(seen, places)):
        return [slip, *names]  # all that it leads to is no news
    rules = (
        _wheel,
        _side,
        _apart,
        _arms,
        _axis,
        _between_the_plates,
        _units_of_a_member,
        _hoses,
        _junctions,
        _holders,
        _on_a_coil,
        _spacing,
        _rack,
        _links,
    )
    return stray + [p for rule in rules for p in rule(sound)] + names


def _slip(seen: Mapping[str, Any], places: Sequence[Problem]) -> Problem | None:
    """The one slip of the pen that explains points that cannot be; None where none does."""
    for s in suspicions(seen):
        if s.likely:
            same = next((p for p in places if p.key in s.keys), None)
            said, limit = (same.value, same.limit) if same else (s.said, "")
            return Problem(" or ".join(s.keys), said, limit, s.looks)
    return None


# ------------------------------------------------------------------------------------------------ units


def _units_of_the_corner(seen: Mapping[str, Any]) -> Iterator[Problem]:
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
    points = np.array([seen[k] for k in POINTS if k in seen])
    if len(points) > 3 and (span := float(np.linalg.norm(np.ptp(points, axis=0)))) < LEAST_CORNER_MM:
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
        if np.linalg.norm(point) < small or (
            away > FURTHEST_MM / 2 and math.dist(np.multiply(point, mm), centre) < away / 2
        ):
            return unit
    return ""


def _units_of_a_point(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre = seen.get("wheel.centre")
    for key in POINTS:
        if centre is None or key not in seen:
            continue
        away = math.dist(seen[key], centre)
        said = f"is {_text(seen[key])}, {away:.5g} mm from the wheel centre"
        if unit := _foreign_unit(seen[key], centre):
            yield Problem(key, said, "all lengths are mm", f"looks like {unit}")
        elif away > FURTHEST_MM:
            yield Problem(key, said, f"must be within {FURTHEST_MM:g} mm of it", "look for a slipped digit")


def _units_of_a_member(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """A member whose every point is out of scale would stand where it meets nothing."""
    centre = seen.get("wheel.centre")
    for member in seen.get("job.member", ()) if centre else ():
        if member.shape == "step":
            continue  # its file has a unit of its own, and its origin may lie anywhere
        points = [member.centre] if member.shape == "box" else [member.from_, member.to]
        units = [_foreign_unit(p, centre) for p in points]
        if all(units):
            where = " to ".join(map(_text, points))
            yield Problem(
                f"member.{member.name}", f"is at {where}", "all lengths are mm", f"looks like {units[0]}"
            )


def _hoses(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre, hoses = seen.get("wheel.centre"), seen.get("job.hose", ())
    for name, count in Counter(h.name.casefold() for h in hoses).items():
        if count > 1:
            yield Problem(
                f"hose.{name}", f"{count} hoses have this name", "each needs its own", "number them"
            )
    yield from _foreign_ends("hose", hoses, centre)


def _foreign_ends(kind: str, lines: Iterable[Any], centre: Any) -> Iterator[Problem]:
    """Ends of hoses or links that look like another unit, seen from the wheel's centre."""
    for line in lines if centre else ():
        for key, point in (("from", line.from_), ("to", line.to)):
            if unit := _foreign_unit(point, centre):
                yield Problem(
                    f"{kind}.{line.name}.{key}",
                    f"is {_text(point)}",
                    "all lengths are mm",
                    f"looks like {unit}",
                )


def _junctions(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """A junction's tubes are tubes of the frame that take part."""
    members = {m.name: m for m in seen.get("job.member", ())}
    for i, junction in enumerate(seen.get("job.junction", ()), 1):
        key = f"junction.{i}.members"
        for name in junction.members:
            m = members.get(name)
            if m is None:
                yield Problem(
                    key,
                    f"names '{name}'",
                    "must name members of the job",
                    nearest(name, members) or "known: " + ", ".join(members),
                )
            elif (
                m.shape not in ("square", "rectangular", "round")
                or m.moves_with
                or m.kind not in (None, "fixed")
            ):
                yield Problem(
                    key,
                    f"names '{name}'",
                    "must name tubes of the frame: square, rectangular or round, fixed",
                    "take it out",
                )
            elif m.shape == "round" and not m.wall and m.ends != "fitted":
                yield Problem(
                    key,
                    f"names '{name}'",
                    "is a solid round, which is cut to nothing",
                    'give it a wall, or ends = "fitted" where it is welded in',
                )
            elif m.ends == "square" and (junction.mitre or name != junction.members[0]):
                yield Problem(
                    key, f"names '{name}'", 'has ends = "square"', "name it first, or take that key out"
                )


def _holders(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """Keys that name what holds a part name members that are there; where a tube is meant, a tube."""
    members = {m.name: m for m in seen.get("job.member", ())} if "job.member" in seen else None
    if members is None:
        return
    housing = getattr(seen.get("job.spring"), "housing", None)
    named = [
        ("pivot.member", seen.get("pivot.member"), ("square", "rectangular", "round")),
        ("spring.housing.member", getattr(housing, "member", None), ("round",)),
        ("tie_rod.member", seen.get("tie_rod.member"), ()),
        *(("frame.goes_on", name, ()) for name in seen.get("frame.goes_on", ())),
    ]
    for key, name, shapes in named:
        m = members.get(name)
        if name is None:
            continue
        if m is None:
            known = nearest(name, members) or "known: " + (", ".join(members) or "none")
            yield Problem(key, f"names '{name}'", "must name a member of the job", known)
        elif shapes and (m.shape not in shapes or not m.wall or m.moves_with):
            yield Problem(
                key,
                f"names '{name}'",
                f"must name a {' or '.join(shapes)} tube that is fixed",
                "give it a wall",
            )
    stub = seen.get("pivot.kind") == "stub"
    if stub and "job.spring" in seen and getattr(housing, "member", None) is None:
        yield Problem(
            "pivot.kind",
            'is "stub"',
            "its bearings sit in a spring tube that is part of the frame",
            'name that tube: spring.housing = { member = "..." }',
        )
    if (
        seen.get("pivot.kind") == "spindle"
        and getattr(seen.get("job.spring"), "kind", "coil-over") != "coil-over"
    ):
        yield Problem(
            "pivot.kind",
            'is "spindle"',
            "a spring on the rocker's axis leaves no room for a tab at that end",
            'write "stub" or "cantilever"',
        )


def _on_a_coil(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """A rotary spring turns with the rocker; a coil has no one motion."""
    if getattr(seen.get("job.spring"), "kind", None) != "coil-over":
        return
    riding = [(f"member.{m.name}.moves_with", m.moves_with) for m in seen.get("job.member", ())]
    riding += [
        (f"{table}.{h.name}.{key}_on", on)
        for table in ("hose", "link")
        for h in seen.get(f"job.{table}", ())
        for key, on in (("from", h.from_on), ("to", h.to_on))
    ]
    for key, on in riding:
        if on == "spring":
            yield Problem(
                key,
                'is "spring"',
                "a coil's two ends move apart",
                'write "damper_shaft" or "damper_body", whichever end carries it',
            )


# ------------------------------------------------------------------------------------------------ cutting


def _spacing(seen: Mapping[str, Any]) -> Iterator[Problem]:
    spacing, kerf = seen.get("nest.spacing"), seen.get("process.kerf")
    if spacing is None or kerf is None or spacing >= max(kerf, LEAST_SPACING_MM):
        return
    limit = (
        f"must be at least the kerf of {kerf:g} mm"
        if kerf > LEAST_SPACING_MM
        else f"must be at least {LEAST_SPACING_MM:g} mm"
    )
    yield Problem(
        "nest.spacing",
        f"is {spacing:g} mm",
        limit,
        "blanks that touch cannot be cut apart" if not spacing else "one cut alone would take more",
    )


# ------------------------------------------------------------------------------------------------ places


def _rack(seen: Mapping[str, Any]) -> Iterator[Problem]:
    for problem in rack_problems(seen):
        yield Problem(*problem)
    if "rack.length" in seen:
        for m in seen.get("job.member", ()):
            if m.name.casefold() in RACK_BODIES:
                yield Problem(
                    f"member.{m.name}",
                    f'is named "{m.name}"',
                    "[rack] makes a body of that name",
                    "take the member out, or name it otherwise",
                )


def _links(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre = seen.get("wheel.centre")
    for problem in link_problems(seen, BODY_NAMES):
        yield Problem(*problem)
    yield from _foreign_ends("link", seen.get("job.link", ()), centre)


def _wheel(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre, contact = seen.get("wheel.centre"), seen.get("wheel.contact")
    if centre and contact:
        rim, radius = seen.get("wheel.rim_diameter"), seen.get("wheel.tyre_radius")
        if centre == contact:
            yield Problem(
                "wheel.contact", f"is {_text(contact)}, the same point as wheel.centre", "must lie below it"
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


def _side(seen: Mapping[str, Any]) -> Iterator[Problem]:
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


def _apart(seen: Mapping[str, Any]) -> Iterator[Problem]:
    for a, b, what in (
        ("upper_arm.front_pivot", "upper_arm.rear_pivot", "the arm has no pivot axis"),
        ("lower_arm.front_pivot", "lower_arm.rear_pivot", "the arm has no pivot axis"),
        ("upper_arm.outer_joint", "lower_arm.outer_joint", "the steering axis has no length"),
        ("tie_rod.inner", "tie_rod.outer", "the tie rod has no length"),
        ("rod.outboard", "rod.inboard", "the rod has no length"),
        ("rocker.damper_eye", "damper.chassis_eye", "the damper has no length"),
    ):
        if a in seen and b in seen and math.dist(seen[a], seen[b]) < LEAST_MM:
            said = f"is {_text(seen[b])}, {math.dist(seen[a], seen[b]):.3g} mm from {a}"
            yield Problem(b, said, f"must be at least {LEAST_MM:g} mm away", what)


def _arms(seen: Mapping[str, Any]) -> Iterator[Problem]:
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


def _axis(seen: Mapping[str, Any]) -> Iterator[Problem]:
    axis = seen.get("rocker.axis")
    if axis is None:
        return
    if np.linalg.norm(axis) < 1e-6:
        yield Problem(
            "rocker.axis",
            f"is {_text(axis)}",
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
        share = {word: abs(np.dot(axis, heading(word, side))) / np.linalg.norm(axis) for word in HEADINGS}
        if share[towards] < LEAST_SHARE:
            fitting = " or ".join(f'"{word}"' for word, s in share.items() if s >= LEAST_SHARE)
            yield Problem(
                "spring.towards",
                f'is "{towards}"',
                f"the rocker's axis {_text(axis)} does not run that way",
                f"write {fitting}",
            )


def heading(towards: str, side: str) -> np.ndarray:
    """The car's direction that `towards` names on this side of the car."""
    return np.array(HEADINGS[towards], float) * (1, 1 if side == "left" else -1, 1)


def _between_the_plates(seen: Mapping[str, Any]) -> Iterator[Problem]:
    room = seen.get("rocker.box_width")
    for key, width in (
        ("damper.eye_width", seen.get("damper.eye_width")),
        ("rod.rod_end.ball_width", getattr(seen.get("rod.rod_end"), "ball_width", None)),
    ):
        if room and width and room <= width:
            yield Problem(
                "rocker.box_width",
                f"is {room:g} mm",
                f"must be more than {key} {width:g} mm",
                f"it sits between the plates; correct {key} if yours is narrower",
            )


def _names(names: Sequence[Any]) -> Iterator[Problem]:
    plain = [n.strip().casefold() for n in names if isinstance(n, str)]
    for name, count in Counter(plain).items():
        if count > 1:
            yield Problem(
                f"member.{name}", f"{count} members have this name", "each needs its own", "number them"
            )
        if name in BODY_NAMES:
            yield Problem(
                f"member.{name}",
                f'is named "{name}"',
                "a body of the corner has that name: " + ", ".join(BODIES if name in BODIES else [name]),
                "name it otherwise",
            )


def _stands_off(key: str, point, origin, along, line: str, what: str) -> Iterator[Problem]:
    away = float(np.linalg.norm(np.cross(np.subtract(point, origin), along)) / np.linalg.norm(along))
    if away < LEAST_MM:
        yield Problem(
            key,
            f"is {_text(point)}, {away:.3g} mm from {line}",
            f"must be at least {LEAST_MM:g} mm off it",
            what,
        )


def _text(point) -> str:
    return "[" + ", ".join(f"{v:.6g}" for v in point) + "]"
