"""What stands still or rides together, at ride: overlaps, short gaps, welds without metal to weld to.

Every two placed parts on one carrier are looked at once. What touches on purpose is a contact with its kind
(`layout.contacts`); all else must be apart.
"""

from __future__ import annotations

from itertools import combinations, groupby

import numpy as np

from assemblies.clearance import Body, Limits
from assemblies.clearance.bounds import CARRIERS, carrier_index
from assemblies.clearance.rest import AtRest, Standing
from assemblies.layout import bodies as neighbours
from assemblies.layout.contacts import WELD, Contact, contacts
from assemblies.layout.placing import Layout, Placed
from assemblies.results import model as rs
from assemblies.results.findings import Finding, guaranteed, lacking
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.shape.form import Form

APART_MM = 0.5  # plain metal that nothing joins: less is neither clear nor joined; common practice
OVERLAP_MM = 0.05  # less is paint and rounding
SEAM_MM = 0.5  # gap under a fillet, common practice
MOST_SEAM_MM = 1.0  # and the most, common practice
LISTED_MM = 5.0  # pairs with more than this to spare are not listed
PLAIN = ("fixed", "moving")


def at_rest(layout: Layout) -> tuple[list[rs.RestGap], list[rs.Contact], list[Finding]]:
    """Gaps of what does not move against each other, every contact of the corner, and findings."""
    bodies = [_body(layout, p) for p in _looked_at(layout)]
    owner = [p.body for p in _looked_at(layout)]
    known = {c.pair: c for c in contacts(layout)}
    limits = Limits.of(layout.job.clearance)
    pairs, asked = [], []
    for _, group in groupby(
        sorted(range(len(bodies)), key=lambda k: carrier_index(bodies[k].carrier)),
        key=lambda k: carrier_index(bodies[k].carrier),
    ):
        for i, j in combinations(sorted(group), 2):
            contact = known.get(frozenset((bodies[i].name, bodies[j].name)))
            if contact is not None and contact.kind != WELD:
                continue
            pairs.append((i, j))
            asked.append(MOST_SEAM_MM + LISTED_MM if contact else _needed(limits, bodies, owner, i, j))
    standing = Standing(bodies, layout.job.clearance.tolerance)
    deep = [frozenset((bodies[i].name, bodies[j].name)) not in known for i, j in pairs]
    found = standing.gaps(pairs, [a + LISTED_MM for a in asked], deep)
    need = dict(zip(pairs, asked, strict=True))
    met = {frozenset((bodies[g.i].name, bodies[g.j].name)): g for g in found}
    rows, findings = [], []
    for g in found:
        names = bodies[g.i].name, bodies[g.j].name
        if frozenset(names) in known:
            continue
        least = need[g.i, g.j]
        carrier = CARRIERS[carrier_index(bodies[g.i].carrier)]
        ok = g.gap_mm >= least if least > 0 else g.found_gap_mm > -OVERLAP_MM
        rows.append(
            rs.RestGap(
                a=names[0], b=names[1], on=carrier, gap_mm=g.gap_mm, required_mm=least, ok=ok,
                point_a=list(g.point_a), point_b=list(g.point_b),
            )
        )  # fmt: skip
        if not ok:
            findings.append(_finding(*names, g, least))
    drawn = {b.name for b in bodies}
    for c in known.values():
        if c.kind == WELD and {c.a, c.b} <= drawn:
            findings += _open_seam(c, met.get(c.pair))
    findings += [
        _in_parts(b.name) for k, b in enumerate(bodies) if b.forms and not b.shells and standing.parts(k) > 1
    ]
    rows.sort(key=lambda r: (r.gap_mm - r.required_mm, r.a, r.b))
    return rows, [rs.Contact(a=c.a, b=c.b, kind=c.kind, by=c.by) for c in known.values()], findings


def _looked_at(layout: Layout) -> list[Placed]:
    return [p for p in layout.placed if layout.job.clearance.fasteners or not isinstance(p.part, BoltAndNut)]


def _body(layout: Layout, p: Placed) -> Body:
    """A placed part by its own name, with the kind and margin of its body."""
    kind = "tyre" if p.body == "wheel" else "fixed" if p.carrier == "frame" else "moving"
    shells = tuple(neighbours.shells_of(layout.job, p)) if isinstance(p.form, Imported) else ()
    pieces = [] if shells else [q for f in neighbours.split(layout, p).values() for q in f.pieces]
    hollow = p.body in neighbours.HOLLOW or any(
        p is x for x in (layout.sleeve_outer, layout.sleeve_inner, layout.coil)
    )
    body = Body(p.name, p.carrier, (Form(tuple(pieces)),) if pieces else (), kind, 0.0, hollow, shells)
    return neighbours.asking(layout.job, body, p.body)


def _needed(limits: Limits, bodies: list[Body], owner: list[str], i: int, j: int) -> float:
    """The gap two parts at rest to each other need: their kinds' where one of them asks for more than plain
    metal, the rim's to what rides in the wheel, else just to be apart; pieces of one body may touch."""
    one, two = bodies[i], bodies[j]
    kinds = {one.kind, two.kind}
    if owner[i] == owner[j]:
        return 0.0
    margin = one.margin_mm + two.margin_mm
    if "tyre" in kinds:
        return limits.others["caliper"] + margin
    if kinds <= set(PLAIN):
        return APART_MM + margin
    return limits.required_mm(one.kind, two.kind) + margin


def _finding(a: str, b: str, g: AtRest, least: float) -> Finding:
    spot = ", ".join(f"{v:.0f}" for v in g.point_a)
    if g.found_gap_mm < -OVERLAP_MM:
        return Finding(
            level="stop",
            code="clash",
            where=f"{a} to {b}",
            text=(
                f"They stand in each other, at least {guaranteed(-g.found_gap_mm)} mm deep, near ({spot}), "
                f"at every height: neither moves against the other, and no joint between them is known. Move "
                f"one of them by at least {lacking(least - g.gap_mm, 1)} mm there, or cut one to the other."
            ),
        )
    return Finding(
        level="warn",
        code="gap",
        where=f"{a} to {b}",
        text=(
            f"Guaranteed gap {guaranteed(g.gap_mm)} mm, {least:g} mm asked, at every height (neither moves "
            f"against the other), near ({spot}). Move one of them {lacking(least - g.gap_mm)} mm away there."
        ),
    )


def _open_seam(c: Contact, g: AtRest | None) -> list[Finding]:
    """A weld must have metal under it."""
    gap = np.inf if g is None else g.found_gap_mm
    if gap <= SEAM_MM + OVERLAP_MM:
        return []
    wide = f"{lacking(gap)} mm" if np.isfinite(gap) else f"over {MOST_SEAM_MM + LISTED_MM:g} mm"
    return [
        Finding(
            level="stop" if gap > MOST_SEAM_MM else "warn",
            code="open-seam",
            where=f"{c.a} to {c.b}",
            text=(
                f"A weld is asked here ({c.by}) and the metal is {wide} apart; a fillet bridges "
                f"{SEAM_MM:g} mm, at most {MOST_SEAM_MM:g}. Bring the two together."
            ),
        )
    ]


def _in_parts(name: str) -> Finding:
    return Finding(
        level="stop",
        code="in-parts",
        where=name,
        text="Its metal is in two or more separate parts: nothing holds them to each other.",
    )
