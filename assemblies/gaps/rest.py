"""What stands still or rides together, at ride: overlaps, short gaps, welds without metal to weld to.

Every two placed parts on one carrier are looked at once. What touches on purpose is a contact with its kind
(`layout.contacts`); all else must be apart.
"""

from __future__ import annotations

from difflib import get_close_matches

import numpy as np

from assemblies.clearance import Body, Limits
from assemblies.clearance.bounds import carrier_index, carrier_name
from assemblies.clearance.rest import AtRest, RestBodies, near_pairs
from assemblies.layout import bodies as neighbours
from assemblies.layout.contacts import GIVEN, WELD, Contact, contacts, given
from assemblies.layout.placing import Layout, Placed
from assemblies.results import gaps as rs
from assemblies.results.findings import Finding, guaranteed, lacking
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.pivot_ring import PivotRing
from parts.shape.form import Form

APART_MM = 0.5  # plain metal that nothing joins: less is neither clear nor joined; common practice
OVERLAP_MM = 0.05  # less is paint and rounding
SEAM_MM = 0.5  # gap under a fillet, common practice
MOST_SEAM_MM = 1.0  # and the most, common practice
LISTED_MM = 5.0  # pairs with more than this to spare are not listed
PLAIN = ("fixed", "moving")


def at_rest(layout: Layout) -> tuple[list[rs.RestGap], list[rs.ContactRow], list[Finding]]:
    """Gaps of what does not move against each other, every contact of the corner, and findings."""
    known = contacts(layout)
    rows, findings = _kept_apart(layout, {c.pair for c in known})
    return (
        sorted(rows, key=lambda r: (r.gap_mm - r.required_mm, r.a, r.b)),
        [rs.ContactRow(a=c.a, b=c.b, kind=c.kind, by=c.by) for c in known],
        findings + _as_drawn(layout, [c for c in known if c.kind == WELD]) + _not_so(layout),
    )


def taken_on_trust(layout: Layout) -> list[str]:
    """Contacts that only the job's word is known of: how far one stands in the other was not looked at."""
    return [
        f"{c.a} to {c.b}: {c.by} says that they touch; how deep, and what holds them, is not looked at"
        for c in contacts(layout)
        if c.kind == GIVEN
    ]


def _kept_apart(layout: Layout, known: set[frozenset[str]]) -> tuple[list[rs.RestGap], list[Finding]]:
    """Every two parts on one carrier that no contact names."""
    placed, limits = _looked_at(layout), Limits.of(layout.job.clearance)
    bodies = [_body(layout, p) for p in placed]
    on = [carrier_index(b.carrier) for b in bodies]
    most = max(APART_MM, *limits.others.values()) + 2 * max((b.margin_mm for b in bodies), default=0.0)
    standing = RestBodies(bodies, layout.job.clearance.tolerance)
    pairs = [
        (i, j)
        for i, j in near_pairs(standing.boxes, most + LISTED_MM)
        if on[i] == on[j] and frozenset((bodies[i].name, bodies[j].name)) not in known
    ]
    need = {(i, j): _needed(limits, bodies[i], bodies[j], placed[i].body == placed[j].body) for i, j in pairs}
    rows, findings = [], []
    for g in standing.gaps(pairs, [need[p] + LISTED_MM for p in pairs], [True] * len(pairs)):
        a, b, least = bodies[g.i].name, bodies[g.j].name, need[g.i, g.j]
        ok = g.gap_mm >= least if least > 0 else g.found_gap_mm > -OVERLAP_MM
        rows.append(
            rs.RestGap(
                a=a,
                b=b,
                on=carrier_name(on[g.i]),
                gap_mm=g.gap_mm,
                required_mm=least,
                ok=ok,
                point_a=list(g.point_a),
                point_b=list(g.point_b),
            )
        )
        if not ok:
            findings.append(_finding(a, b, g, least))
    return rows, findings


def _as_drawn(layout: Layout, welds: list[Contact]) -> list[Finding]:
    """Welds and the parts themselves, tubes with the corners their feet are cut to; a part of one piece is
    one metal, others are looked at in their own axes."""
    joined = {n for c in welds for n in (c.a, c.b)}
    parts = [p for p in _looked_at(layout) if isinstance(p.form, Form)]
    bodies = [Body(p.name, p.carrier, (p.in_car,)) for p in parts if p.name in joined]
    at = {b.name: k for k, b in enumerate(bodies)}
    standing = RestBodies(bodies, layout.job.clearance.tolerance)
    pairs = [(at[c.a], at[c.b]) for c in welds]
    within = [MOST_SEAM_MM + LISTED_MM] * len(pairs)
    met = {(g.i, g.j): g.found_gap_mm for g in standing.gaps(pairs, within, [False] * len(pairs))}
    out = [_open_seam(c, met.get(p, np.inf)) for c, p in zip(welds, pairs, strict=True)]
    own = [Body(p.name, "frame", (p.own_form,)) for p in parts if len(p.own_form.pieces) > 1]
    metals = RestBodies(own, layout.job.clearance.tolerance).parts(range(len(own)))
    out += [_in_parts(b.name) if n > 1 else None for b, n in zip(own, metals, strict=True)]
    return [f for f in out if f is not None]


def _looked_at(layout: Layout) -> list[Placed]:
    return [p for p in layout.placed if layout.job.clearance.fasteners or not isinstance(p.part, BoltAndNut)]


def _body(layout: Layout, p: Placed) -> Body:
    """A placed part by its own name, with the kind and margin of its body."""
    kind = "tyre" if p.body == "wheel" else "fixed" if p.carrier == "frame" else "moving"
    shells = tuple(neighbours.shells_of(layout.job, p)) if isinstance(p.form, Imported) else ()
    forms = () if shells else tuple(f for f in neighbours.split(layout, p).values() if f.pieces)
    round_parts = (layout.sleeve_outer, layout.sleeve_inner, layout.coil)
    hollow = p.body in neighbours.HOLLOW or any(p is x for x in round_parts)
    hollow = hollow or p.body == neighbours.spring_tube(layout) or isinstance(p.part, PivotRing)
    body = Body(p.name, p.carrier, forms, kind, 0.0, hollow, shells)
    return neighbours.asking(layout.job, body, p.body)


def _needed(limits: Limits, one: Body, two: Body, same: bool) -> float:
    """The gap two parts at rest to each other need: their kinds' where one of them asks for more than plain
    metal, the rim's to what rides in the wheel, else just to be apart; pieces of the same body may touch."""
    if same:
        return 0.0
    margin, kinds = one.margin_mm + two.margin_mm, {one.kind, two.kind}
    if "tyre" in kinds:
        return limits.others["caliper"] + margin
    return (APART_MM if kinds <= set(PLAIN) else limits.required_mm(one.kind, two.kind)) + margin


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
                f"one of them by at least {lacking(least - g.gap_mm, 1)} mm there, or cut one to the other; "
                f"where one is clamped, strapped or welded to the other, say so in its member's 'touches'."
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


def _open_seam(c: Contact, gap_mm: float) -> Finding | None:
    """A weld must have metal under it."""
    if gap_mm <= SEAM_MM + OVERLAP_MM:
        return None
    wide = f"{lacking(gap_mm)} mm" if np.isfinite(gap_mm) else f"over {MOST_SEAM_MM + LISTED_MM:g} mm"
    return Finding(
        level="stop" if gap_mm > MOST_SEAM_MM else "warn",
        code="open-seam",
        where=f"{c.a} to {c.b}",
        text=(
            f"A weld is asked here ({c.by}) and the metal is {wide} apart; a fillet bridges {SEAM_MM:g} mm, "
            f"at most {MOST_SEAM_MM:g}. Bring the two together."
        ),
    )


def _not_so(layout: Layout) -> list[Finding]:
    """Touches that excuse nothing: no such part, or one that moves."""
    at = {p.name: carrier_index(p.carrier) for p in layout.placed}
    out = []
    for c in given(layout):
        if c.b not in at:
            near = get_close_matches(c.b, at, 3, 0.4)
            why = "no part is called so; " + (
                f"near it: {', '.join(near)}" if near else "clashes name the parts"
            )
        elif c.a in at and at[c.a] != at[c.b]:
            why = "the two move against each other, so their gap is asked for as if nothing were said"
        else:
            continue
        out.append(Finding(level="warn", code="touches", where=c.by, text=f"Touches '{c.b}': {why}."))
    return out


def _in_parts(name: str) -> Finding:
    return Finding(
        level="stop",
        code="in-parts",
        where=name,
        text="Its metal is in two or more separate parts: nothing holds them to each other.",
    )
