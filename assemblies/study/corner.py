"""One corner worked through, numbers only: motion, springing, parts' places, gaps, findings. No CAD."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar, overload

import numpy as np

from assemblies.gaps.cures import Stand
from assemblies.gaps.cures import cures as look
from assemblies.gaps.hoses import hoses
from assemblies.gaps.interference import interference as gaps_of
from assemblies.gaps.links import links
from assemblies.gaps.tool_access import tools
from assemblies.job import FrameJob, Job, JobError
from assemblies.job.sense import Suspicion, of, suspicions
from assemblies.layout import step_neighbours as imports
from assemblies.layout.corner import DesignForces, lay_out
from assemblies.layout.junctions.account import junctions_row
from assemblies.layout.junctions.advice import advised
from assemblies.layout.made import Made
from assemblies.layout.placing import Layout
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing, alike, read_of, springing
from assemblies.results.faults import looked
from assemblies.results.findings import Finding, worst_first
from assemblies.results.gaps import BoltAccess, ClearanceRow, Hose, Linked
from assemblies.results.model import Results
from assemblies.results.setting import Clocking, SetUp
from assemblies.results.steering import Geometry, Steering
from assemblies.results.strength import StrengthRow
from assemblies.results.travel import AssumedRow, EndsRow, SpringNumbers, Travel
from assemblies.results.words import tally
from assemblies.setup.account import set_up
from assemblies.steering.account import geometry, steering
from assemblies.strength import Rooms, strength
from assemblies.strength.row import Check
from assemblies.strength.table import strength_row
from assemblies.study.frame import FrameStudy, study_frame
from assemblies.study.off_gauge import off_gauge
from assemblies.study.stopped import CornerSoFar, stopped
from assemblies.study.verdict import verdict
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

Say = Callable[..., None]
Of = TypeVar("Of")
Other = TypeVar("Other")


@dataclass(frozen=True)
class Worked:
    """A corner that stands, before its gaps are looked at: what its rooms told, by their place in the
    results, and their findings."""

    job: Job
    mechanism: Mechanism
    springing: Springing
    layout: Layout
    told: dict[str, Any]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, repr=False)
class Study:
    """What was found out about a job; `springing` and `layout` are None where the mechanism cannot stand."""

    job: Job
    mechanism: Mechanism
    springing: Springing | None
    layout: Layout | None
    results: Results
    worked: Worked | None = None  # what `with_gaps` goes on from

    def __repr__(self) -> str:
        return f"<Study of {self.job.name}: {tally(self.results)}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the brief account, as on a terminal, and the curves."""
        from assemblies.results import shown

        return shown.html(self.results, self.job)


@overload
def study(job: Job, *more: Any, **asked: Any) -> Study: ...
@overload
def study(job: FrameJob, *more: Any, **asked: Any) -> FrameStudy: ...
def study(
    job: Job | FrameJob,
    interference: bool = True,
    progress: Say = lambda *_: None,
    cures: bool = False,
    try_cures: bool = False,
    like: Study | None = None,
    made: Made | None = None,
) -> Study | FrameStudy:
    """Work a job through, or a frame alone. A corner that cannot work gives findings, not exceptions.

    `cures`: also work out the shift or trim that would cure each short gap; a second or so each. `try_cures`:
    work the corner again with each cure of a strength row before it is told; half a second each, twelve at
    most. `like`: of a job that differs little; what of its motion, spring and parts stays is taken over.
    `made`: the same of another process (`kept`). Raises JobError where a neighbour's STEP file cannot be
    used."""
    if isinstance(job, FrameJob):
        return study_frame(job, progress)
    imports.read(job, progress)
    progress("motion and springs")
    made = made or (like.worked.layout.made if like is not None and like.worked else Made())
    points = HardPoints.of(job)
    if slips := suspicions(of(job)):  # what follows from a slip is no news
        return _stopped(job, Mechanism(points), [_slip(s) for s in slips])
    on = points, *read_of(job)
    try:
        sprung = made.once("springing", on, lambda: springing(job, Mechanism(points)))
    except ValueError as e:
        stop = Finding(level="stop", code="spring", where="ride height", text=f"{e}.")
        return _stopped(job, Mechanism(points), [stop])
    mechanism = sprung.mechanism
    progress("parts")
    forces = design_forces(job, sprung)
    layout = lay_out(job, mechanism, sprung.wheel_mm, forces, sprung.slack_rocker_deg, made=made)
    rooms = _Rooms(progress)

    def told_of(room: str, look: Callable[..., Any], *of: Any) -> Callable[[], Any]:
        return lambda: made.noting(room, on, of, look)

    def setting(j: Job, parts: Layout) -> tuple[tuple[Clocking, SetUp | None], list[Finding]]:
        clock, to_set, found = set_up(j, sprung, parts)
        return (clock, to_set), found

    def steers(j: Job) -> tuple[Steering, list[Finding]]:
        return steering(j, mechanism, sprung)

    def corner(j: Job) -> tuple[Geometry | None, list[Finding]]:
        return geometry(j, mechanism, sprung), []

    rooms.ask("verdict", lambda: (None, [*verdict(job, sprung), *off_gauge(job)]), None)
    rooms.findings += layout.findings
    clock, to_set = rooms.ask("set-up", told_of("set-up", setting, job, layout), (Clocking(), None))
    met = layout.junctions
    advice = lambda: (None, made.once("advice", (met.all, met.made_with), lambda: advised(met)))  # noqa: E731
    rooms.ask("advice of the nodes", advice, None)
    told: dict[str, Any] = dict(
        clocking=clock,
        setup=to_set,
        steering=rooms.ask("steering", told_of("steering", steers, job), None),
        geometry=rooms.ask("corner geometry", told_of("corner geometry", corner, job), None),
        strength=rooms.ask(
            "strength", lambda: strength_of(job, mechanism, sprung, layout, try_cures), StrengthRow()
        ),
        hoses=rooms.ask("hoses", lambda: hoses(job, mechanism, sprung.ends), list[Hose]()),
        links=rooms.ask("links", lambda: links(job, mechanism, sprung.ends), list[Linked]()),
        junctions=junctions_row(layout.junctions) if layout.junctions.nodes else None,
    )
    numbers = Worked(job, mechanism, sprung, layout, told, tuple(rooms.findings))
    return _ended(numbers, interference, progress, cures)


def with_gaps(s: Study, progress: Say = lambda *_: None, cures: bool = False) -> Study:
    """A study that left its gaps out, with them, and as `study` does with their cures: the numbers are not
    worked again."""
    return s if s.worked is None or s.results.clearance.checked else _ended(s.worked, True, progress, cures)


class _Rooms:
    """Asks one room after the other; a slip in one leaves the others standing."""

    def __init__(self, progress: Say, findings: Iterable[Finding] = ()):
        self.progress, self.findings = progress, list(findings)

    def ask(self, where: str, looks: Callable[[], tuple[Of, list[Finding]]], otherwise: Other) -> Of | Other:
        self.progress(where)
        told, found = looked(where, looks, otherwise, passing=(JobError,))
        self.findings += found
        return told


def _ended(w: Worked, interference: bool, progress: Say, cures: bool = False) -> Study:
    """The gaps, where they are asked for, where the wheel stops, and all that is told."""
    job, mechanism, sprung, layout = w.job, w.mechanism, w.springing, w.layout
    rooms = _Rooms(progress, w.findings)

    def cure(report):
        forces = design_forces(job, sprung)
        return look(Stand(job, mechanism, sprung, forces, layout, report, w.told["strength"]), progress)

    def gaps() -> tuple[ClearanceRow, list[Finding]]:
        between, found = gaps_of(job, mechanism, sprung.ends, layout, cure if cures else None)
        return between, [*found, *imports.findings(job)]

    clear = _no_gaps(job, "interference was left out of this run")
    if interference:
        clear = rooms.ask("interference", gaps, _no_gaps(job, "gaps: none was checked"))
    bolts: list[BoltAccess] = []
    if interference and job.clearance.tools:
        bolts = rooms.ask("room for tools", lambda: tools(job, mechanism, sprung.ends, layout), bolts)
    so_far = CornerSoFar(job, mechanism, sprung, layout, rooms.findings, clear.checked)
    ends = rooms.ask("where the wheel stops", lambda: stopped(so_far), None)
    results = _results(job, sprung, clear, rooms.findings, stops=ends, access=bolts, **w.told)
    return Study(job, mechanism, sprung, layout, results, w)


def _stopped(job: Job, mechanism: Mechanism, findings: list[Finding]) -> Study:
    """A corner that is not worked any further."""
    return Study(job, mechanism, None, None, _results(job, None, _no_gaps(job), findings))


def _no_gaps(job: Job, *why: str) -> ClearanceRow:
    return ClearanceRow(checked=False, tolerance_mm=job.clearance.tolerance, not_checked=list(why))


def _slip(s: Suspicion) -> Finding:
    said = f"{s.said[:1].upper()}{s.said[1:]}. {s.cure[:1].upper()}{s.cure[1:]}."
    where = " or ".join(s.keys)
    return Finding(level="stop", code="slip", where=where, text=f"{said} Nothing else is checked until then.")


def design_forces(job: Job, sprung: Springing) -> DesignForces:
    """Worst rod and damper force for `loads.vertical_g` times the corner's weight, vertical at the contact
    patch as in the load case, at any travel.

    Virtual work: the rod carries the whole moment; what the spring does not carry the damper (its bump stop)
    takes."""
    p, c = sprung.poses, sprung.curves
    weight = job.loads.vertical_g * job.corner.corner_mass * G_M_S2
    force = weight * p.velocity("contact")[..., 2]
    with np.errstate(all="ignore"):
        rod = np.abs(force / (p.dtheta_dz * p.rod_moment_arm_mm))
        damper = (force - (0.0 if sprung.spring.linear else c.wheel_force_n)) / np.abs(p.ddamper_dz)
    rod_n, damper_n = (
        float(np.nanmax(np.abs(np.where(np.isfinite(x), x, np.nan)))) if np.isfinite(x).any() else weight
        for x in (rod, damper)
    )
    return DesignForces(
        rod_n,
        damper_n,
        0.0 if sprung.spring.linear else float(np.nanmax(np.abs(np.append(c.torque_nm, 0.0)))),
    )


def strength_of(
    job: Job, mechanism: Mechanism, sprung: Springing, layout: Layout, try_cures: bool = False
) -> tuple[StrengthRow, list[Finding]]:
    def again(changes, rooms):
        return tried_rows(job, mechanism, sprung, layout, changes, rooms)

    try:
        found = strength(job, mechanism, sprung, layout, again if try_cures else None)
    except ValueError as e:
        return StrengthRow(missing=[f"everything: {e}"]), [
            Finding(
                level="stop",
                code="load-case",
                where="strength",
                text=f"The strength could not be checked: {e}.",
            )
        ]
    return strength_row(found), found.findings


def tried_rows(
    job: Job,
    mechanism: Mechanism,
    sprung: Springing,
    layout: Layout,
    changes: Mapping[str, Any],
    rooms: Rooms | None = None,
) -> list[Check]:
    """The strength rows of the job so changed, all or those of some rooms. Motion, spring and parts that the
    changes do not touch are those of the study; the bolts, whose way no row asks for, are left out.
    ValueError where it cannot be."""
    tried, moves, springs = job.changed(changes), mechanism, sprung
    points = HardPoints.of(tried)
    if points.content != mechanism.points.content:
        moves = Mechanism(points)
    if moves is not mechanism or not alike(job, tried):
        springs = springing(tried, moves)
    forces = design_forces(tried, springs)
    made = lay_out(
        tried, moves, springs.wheel_mm, forces, springs.slack_rocker_deg, bolts=False, made=layout.made
    )
    return strength(tried, moves, springs, made, rooms=rooms).checks


# ------------------------------------------------------------------------------------------------ results


def _results(
    job: Job, sprung: Springing | None, gaps: ClearanceRow, findings: list[Finding], **rooms: Any
) -> Results:
    assumed = [AssumedRow(key=a.key, value=a.value, unit=a.unit, why=a.why) for a in job.assumed]
    return Results(
        name=job.name,
        side=job.corner.side,
        assumed=assumed,
        travel=_travel(sprung) if sprung else None,
        ends=_ends(job, sprung) if sprung else None,
        spring=_spring(sprung) if sprung else None,
        clearance=gaps,
        findings=list(worst_first(findings)),
        **rooms,
    )


def _list(x) -> list[float | None]:
    return [float(v) if math.isfinite(v) else None for v in np.asarray(x, float)]


def _travel(s: Springing) -> Travel:
    p, c = s.poses, s.curves
    with np.errstate(all="ignore"):
        inverse = 1 / s.per_damper
    return Travel(
        wheel_mm=[float(z) for z in s.wheel_mm],
        rocker_deg=_list(np.degrees(p.rocker_rad)),
        damper_mm=_list(p.damper_mm),
        damper_per_wheel=_list(s.per_damper),
        wheel_per_damper=_list(inverse),
        wheel_rate_n_per_mm=_list(c.wheel_rate_n_per_mm),
        wheel_rate_spring_term_n_per_mm=_list(c.rate_spring_n_per_mm),
        wheel_rate_geometry_term_n_per_mm=_list(c.rate_geometry_n_per_mm),
        wheel_force_n=_list(c.wheel_force_n),
        rod_force_n=_list(c.rod_force_n),
        spring_torque_nm=None if c.linear else _list(c.torque_nm),
        spring_force_n=_list(c.force_n) if c.linear else None,
        spring_twist_deg=None if c.linear else _list(np.degrees(c.twist_rad)),
        camber_deg=_list(p.camber_deg),
        toe_deg=_list(p.toe_deg),
        rod_to_arm_deg=_list(p.rod_to_arm_deg),
        rod_moment_arm_mm=_list(p.rod_moment_arm_mm),
        damper_moment_arm_mm=_list(p.damper_moment_arm_mm),
        rod_outboard_tilt_deg=_list(p.rod_outboard_tilt_deg),
        rod_inboard_tilt_deg=_list(p.rod_inboard_tilt_deg),
        damper_tilt_deg=_list(p.damper_tilt_deg),
    )


def _ends(job: Job, s: Springing) -> EndsRow:
    e, length = s.ends, s.poses.damper_mm
    return EndsRow(
        reach_mm=list(e.closes_mm),
        stopped_by=list(e.stops),
        toggle_margin_deg=e.margin_deg,
        toggle_margin_at_wheel_mm=e.margin_at_mm,
        toggle_droop_mm=e.toggle_mm[0],
        toggle_bump_mm=e.toggle_mm[1],
        damper_tops_out_at_wheel_mm=_nearest(e.damper_longest_mm),
        damper_bottoms_at_wheel_mm=_nearest(e.damper_shortest_mm),
        damper_margin_longest_mm=job.damper.longest - float(np.nanmax(length)),
        damper_margin_shortest_mm=float(np.nanmin(length)) - job.damper.shortest,
        spring_slack_at_wheel_mm=s.slack_wheel_mm,
    )


def _nearest(both: tuple[float | None, float | None]) -> float | None:
    """The one nearer to ride height, of a travel met towards droop and one met towards bump."""
    return min((z for z in both if z is not None), key=abs, default=None)


def _spring(s: Springing) -> SpringNumbers:
    common: dict[str, Any] = dict(
        kind=s.spring.kind, ride_frequency_hz=s.ride_frequency_hz, rise_percent=s.rise_percent
    )
    if s.spring.linear:
        c = s.compression_mm
        return SpringNumbers(
            rate_n_per_mm=s.spring.rate,
            ride_force_n=s.preload.ride,
            ride_compression_mm=c["ride"],
            droop_compression_mm=c["droop"],
            bump_compression_mm=c["bump"],
            **common,
        )
    t = s.twist_deg
    return SpringNumbers(
        rate_nm_per_rad=s.spring.rate,
        rate_nm_per_deg=math.radians(s.spring.rate),
        rate_clamped_bound_nm_per_rad=s.spring.rate_clamped,
        rate_held_bound_nm_per_rad=s.spring.rate_held,
        ride_torque_nm=s.preload.ride,
        ride_twist_deg=t["ride"],
        droop_twist_deg=t["droop"],
        bump_twist_deg=t["bump"],
        twist_at_damper_top_out_deg=t.get("damper_top_out"),
        slack_rocker_deg=s.slack_rocker_deg,
        stress_ride_mpa=s.stress_mpa["ride"],
        stress_max_mpa=max(abs(v) for k, v in s.stress_mpa.items() if k != "damper_top_out"),
        **common,
    )
