"""All strength checks of a laid-out corner, what is not checked, what the frame must bear, and the findings
from them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from typing import Any

from assemblies.job import Job
from assemblies.layout.made import Made
from assemblies.layout.placing import Layout
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from assemblies.motion.stops import Stop
from assemblies.results.faults import fault, is_refusal
from assemblies.strength import fatigue, path, stops
from assemblies.strength.by_part import EACH_PART
from assemblies.strength.cures import tried
from assemblies.strength.findings import material, spring_care, uses
from assemblies.strength.forces import Forces, corner_forces
from assemblies.strength.found import Strength
from assemblies.strength.load_cases import LoadCase, cases_of
from assemblies.strength.one_gone import one_gone
from assemblies.strength.reactions import joints, reactions
from assemblies.strength.row import Check
from assemblies.strength.unchecked import never_checked, of_parts

STRAP = "droop strap"  # what gives its rows, beside `EACH_PART`
Rooms = Collection[str]  # names of `EACH_PART`, or `STRAP`
Reworked = Callable[[Mapping[str, Any], Rooms], list[Check]]


def strength(
    job: Job,
    mechanism: Mechanism,
    sprung: Springing,
    layout: Layout,
    again: Reworked | None = None,
    rooms: Rooms | None = None,
) -> Strength:
    """Every check of the corner. A part that could not be made has its checks listed as missing.

    `again`: the rows that some rooms give of the job with keys changed; with it each cure is tried before it
    is told. `rooms`: the rows of those rooms, and nothing else is worked: enough for a trial."""
    ends = stops.travel_ends(job, mechanism, sprung, layout.made)
    cases, service, unit = _forces(job, mechanism, sprung, ends[1], layout.made)
    out, f = Strength(cases), service.times(job.loads.safety)
    if not len(f.case):
        out.missing.append("everything: the linkage reaches no pose of any load case")
        return out
    out.residual, out.virtual_work = f.residual, f.virtual_work
    weight = Strength(out.cases)
    for room, name in EACH_PART:
        if rooms is not None and name not in rooms:
            continue
        before = len(out.checks), len(out.details)
        try:
            room(out, job, layout, sprung, f, unit)
        except Exception as e:
            out.missing.append(f"{name}: not checked further: {e}")
            if not is_refusal(e):
                out.findings.append(fault(f"strength of the {name}", e))
        if any(c.seam is not None for c in _given(out, name, before)):
            with suppress(Exception):  # told above
                room(weight, job, layout, sprung, unit, unit)
    details, spectrum = out.details + fatigue.of_welds(weight.checks), job.fatigue
    out.checks += fatigue.checks(details, spectrum.ranges, spectrum.gamma, bool(spectrum.model_fields_set))
    thrown = stops.taut(job, mechanism, ends[1]) if rooms is None or STRAP in rooms else None
    if thrown is not None:
        held, pulled = stops.on_frame(job, layout, thrown)
        before = len(out.checks), len(out.details)
        if thrown.strap.on != "upright":
            out.checks += stops.on_arm(job, layout, thrown)
        if held.link.member:
            rows, words = stops.on_frame_tube(job, layout, thrown, f, held.link.member)
            out.checks += rows
            out.missing += words
        _given(out, STRAP, before)
    out.checks.sort(key=lambda c: (-round(c.use, 9), c.item, c.check))  # rounding decides no order
    if rooms is not None:
        return out
    out.frame, out.joints = reactions(job, layout, service), joints(layout, service)
    out.missing += stops.missing(job, ends, f, thrown)
    out.missing += never_checked(job, layout) + of_parts(layout, out)
    if again is not None:
        out.checks = tried(out.checks, lambda changes, of: again(changes, rooms_of(out, of)))
    out.path = path.walk(job, layout, service)
    if thrown is not None:
        out.path.append(held)
        out.frame.append(pulled)
    out.missing += path.missing(out.path)
    out.findings += [
        *path.findings(job, layout, out.path),
        *material(job, layout),
        *uses(out.checks, again is not None),
        *spring_care(job),
        one_gone(job),
    ]
    return out


def _forces(
    job: Job, mechanism: Mechanism, sprung: Springing, droop: Stop, made: Made
) -> tuple[tuple[LoadCase, ...], Forces, Forces]:
    """The load cases, their forces in service and those of one corner weight: a trial of a cure, most of
    which change none of them, has the study's."""
    of, points = (job, sprung), mechanism.points
    cases = cases_of(job, sprung, droop)

    def forces(j: Job, s: Springing) -> Forces:
        return corner_forces(j, mechanism, s, cases)

    def of_weight(j: Job, s: Springing) -> Forces:
        one = LoadCase("one weight", (0.0, 0.0, j.corner.corner_mass * 9.80665), travel_mm=(0.0, 0.0))
        return corner_forces(j, mechanism, s, (one,), spring_takes_all=True, welds_only=True)

    service = made.noting("forces", (points, cases), of, forces)
    return cases, service, made.noting("forces of one weight", points, of, of_weight)


def _given(out: Strength, room: str, before: tuple[int, int]) -> list[Check]:
    """The rows a room has added, noted as its own, with those of fatigue that follow from it."""
    new, details = out.checks[before[0] :], out.details[before[1] :]
    keys = [(c.item, c.check) for c in new] + [(d.item, fatigue.named(d.detail)) for d in details]
    keys += [(c.item, fatigue.named(c.check)) for c in new if c.seam is not None]
    for key in keys:
        out.rooms.setdefault(key, set()).add(room)
    return new


def rooms_of(out: Strength, checks: Sequence[Check]) -> set[str]:
    """The rooms that gave these rows."""
    every = {name for _, name in EACH_PART} | {STRAP}
    return set().union(*(out.rooms.get((c.item, c.check), every) for c in checks))
