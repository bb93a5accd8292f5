"""What the tables of a job must satisfy together: its hard points, and the names that one table takes from
another. Numbers only, no models.

`problems_between` takes the values that could be read, by key ("rod.inboard"), so that one bad key does not
hide the next; a rule whose keys are not all there is left for the next run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from assemblies.job import point_checks as points
from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT
from assemblies.job.link import problems as link_problems
from assemblies.job.problem import Problem
from assemblies.job.rack import RACK_BODIES
from assemblies.job.rack import problems as rack_problems
from assemblies.job.sense import POINTS, suspicions
from assemblies.job.values import nearest

LEAST_SPACING_MM = 0.1  # between blanks, whatever the tool
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


def problems_between(seen: Mapping[str, Any], member_names: Sequence[Any] = ()) -> list[Problem]:
    """Every rule between tables that `seen` breaks, in a fixed order."""
    names = list(_names(member_names))
    whole = list(points.units_of_the_corner(seen))
    if whole:
        return whole + names
    stray = list(points.units_of_a_point(seen))
    sound = {k: v for k, v in seen.items() if k not in {p.key for p in stray}}
    places = [
        *stray,
        *(
            p
            for rule in (points.wheel, points.on_its_side, points.arms, points.rocker_axis)
            for p in rule(sound)
        ),
    ]
    alone = places and all(p.key in POINTS for p in places) and not [*points.apart(sound)]
    if alone and (slip := _slip(seen, places)):
        return [slip, *names]  # all that it leads to is no news
    rules = (
        points.wheel,
        points.on_its_side,
        points.apart,
        points.arms,
        points.rocker_axis,
        _between_the_plates,
        points.units_of_a_member,
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


def _hoses(seen: Mapping[str, Any]) -> Iterator[Problem]:
    centre, hoses = seen.get("wheel.centre"), seen.get("job.hose", ())
    for name, count in Counter(h.name.casefold() for h in hoses).items():
        if count > 1:
            yield Problem(
                f"hose.{name}", f"{count} hoses have this name", "each needs its own", "number them"
            )
    yield from points.foreign_ends("hose", hoses, centre)


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
    yield from points.foreign_ends("link", seen.get("job.link", ()), centre)


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
