"""A corner as it stands, and the same with some keys of its job changed: what else that would upset."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from assemblies.clearance import PairResult, Report
from assemblies.gaps.interference import TUBES, Asked
from assemblies.job import Job
from assemblies.layout.corner import DesignForces, lay_out
from assemblies.layout.placing import Layout
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from assemblies.results import strength as rs
from assemblies.results.findings import guaranteed, lacking
from assemblies.strength import strength
from assemblies.strength.table import strength_row
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Stand:
    """All that is known of a corner. Members and the rocker's outline change neither its motion nor its
    springing."""

    job: Job
    mechanism: Mechanism
    sprung: Springing
    forces: DesignForces
    layout: Layout
    report: Report
    strength: rs.StrengthRow

    @property
    def asked(self) -> Asked:
        return Asked.of(self.job, self.sprung.ends, self.layout)

    @cached_property
    def pairs(self) -> list[PairResult]:
        """All pairs of the corner, those with the other side's bodies too."""
        one_sided = {m.name for m in self.job.member if m.shape not in TUBES}
        return [*self.report.pairs, *self.asked.between_sides(self.mechanism, one_sided).pairs]

    def placed(self, changes: Mapping[str, Any], bolts: bool = False) -> Layout:
        """Everything in its place with keys changed, the bolts where they are asked for. Raises JobError."""
        job = self.job.changed(changes)
        slack, made = self.sprung.slack_rocker_deg, self.layout.made
        return lay_out(job, self.mechanism, self.sprung.wheel_mm, self.forces, slack, bolts, made)

    def anew(self, changes: Mapping[str, Any]) -> Stand:
        """The whole corner with keys changed: parts, gaps and strength. Raises JobError or ValueError."""
        layout = self.placed(changes, bolts=True)
        report = Asked.of(layout.job, self.sprung.ends, layout).check(self.mechanism)
        strong = strength_row(strength(layout.job, self.mechanism, self.sprung, layout))
        return Stand(layout.job, self.mechanism, self.sprung, self.forces, layout, report, strong)


def apart(before: Layout, after: Layout) -> list[tuple[str, str, str, str]]:
    """(tube, which end, other tube, node) that met at a node before and meet at none now."""
    now = {(n, e, m) for node in after.junctions.nodes for n, e in node.ends for m in node.members}
    return [
        (n, e, m, node.name)
        for node in before.junctions.nodes
        for n, e in node.ends
        for m in node.members
        if m != n and (n, e, m) not in now
    ]


def trouble(before: Stand, after: Stand, cured: str, other: str = "") -> list[str]:
    """What is wrong with `after`: pairs of the cured body (with `other` alone where it is named) that are
    still short, pairs, parts and strength that were in order before."""
    gap = {(p.a, p.b): p.gap_mm - p.required_mm for p in before.pairs}
    said = []
    for p in after.pairs:
        own = cured in (p.a, p.b) and (not other or other in (p.a, p.b))
        worse = gap.get((p.a, p.b), 0.0) - (p.gap_mm - p.required_mm) > before.report.tolerance_mm
        if not p.ok and (own or worse):
            said.append(f"{p.a} to {p.b} then has {guaranteed(p.gap_mm)} of {p.required_mm:g} mm")
    stops = {(f.code, f.where) for f in before.layout.findings if f.level == "stop"}
    said += [
        f"{f.where}: {f.text.rstrip('.')}"
        for f in after.layout.findings
        if f.level == "stop" and (f.code, f.where) not in stops
    ]
    lost = {p.body for p in before.layout.placed} - {p.body for p in after.layout.placed}
    said += [f"the {name} then finds no place" for name in sorted(lost) if not any(name in s for s in said)]
    said += [
        f"the '{e}' end of '{n}' then meets '{m}' no more ({at})"
        for n, e, m, at in apart(before.layout, after.layout)
    ]
    passed = {(c.item, c.check) for c in before.strength.checks if not c.ok}
    for c in after.strength.checks:
        if not c.ok and (c.item, c.check) not in passed:
            passed.add((c.item, c.check))
            said.append(
                f"{c.item}, {c.check} is then used {'without end' if c.use is None else lacking(c.use)}"
            )
    return said
