"""Strength as its row of results.json."""

from __future__ import annotations

import math

from assemblies.results import strength as rs
from assemblies.strength.found import Strength
from assemblies.strength.path import WalkedLink
from assemblies.strength.row import Check


def strength_row(s: Strength) -> rs.StrengthRow:
    """The content of `strength` in results.json."""
    return rs.StrengthRow(
        checks=[_check(c) for c in s.checks],
        missing=list(s.missing),
        residual=s.residual,
        virtual_work=s.virtual_work,
        cases=[
            rs.LoadCaseRow(
                name=c.name,
                force_n=list(map(float, c.force_n)),
                moment_nm=list(map(float, c.moment_nm)),
                at=c.at,
                from_wheel_mm=c.travel_mm[0] if c.travel_mm else None,
                to_wheel_mm=c.travel_mm[1] if c.travel_mm else None,
                full_lock=c.full_lock,
                rare=c.rare,
            )
            for c in s.cases
        ],
        frame=[_reaction(r) for r in s.frame],
        joints=[_reaction(r) for r in s.joints],
        path=[_link(w) for w in s.path],
    )


def _link(w: WalkedLink) -> rs.PathLink:
    link = w.link
    return rs.PathLink(
        part=link.part,
        on=link.on,
        by=link.by,
        forces=link.forces,
        moments=link.moments,
        state=w.state,
        case=w.case,
        at_wheel_mm=w.wheel_mm,
        force_n=w.force_n,
        moment_nm=w.moment_nm,
        member=link.member,
    )


def _check(c: Check) -> rs.StrengthCheck:
    return rs.StrengthCheck(
        item=c.item,
        case=c.case,
        check=c.check,
        demand=c.demand,
        resistance=c.resistance,
        unit=c.unit,
        use=c.use if math.isfinite(c.use) else None,
        source=c.source,
        ok=c.ok,
        at_wheel_mm=c.wheel_mm,
        at_rack_mm=c.rack_mm,
        note=c.note,
        cure=c.cure,
        level=c.level,
        damage=c.damage,
        service=c.service,
    )


def _reaction(r) -> rs.ReactionRow:
    return rs.ReactionRow(
        name=r.name,
        on=r.on,
        case=r.case,
        at_wheel_mm=r.wheel_mm,
        at_rack_mm=r.rack_mm,
        point_mm=list(r.point_mm),
        force_n=list(r.force_n),
        moment_nm=list(r.moment_nm),
        own_n=None if r.own_n is None else list(r.own_n),
    )


def size(c: rs.StrengthCheck) -> float:
    return math.inf if c.use is None else c.use
