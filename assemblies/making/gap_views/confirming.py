"""The worst gaps asked again of the CAD kernel, as results and findings."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from assemblies.clearance.confirm import Confirmed, chosen, confirm
from assemblies.layout import bodies as neighbours
from assemblies.layout.contacts import GIVEN, NODE, ROUNDING_MM3, WELD, Contact, contacts
from assemblies.layout.placing import Placed, needed
from assemblies.results.findings import Finding, guaranteed
from assemblies.results.gaps import SharedMetal
from assemblies.results.model import Results
from assemblies.study import Study
from parts.files.imported import Imported

if TYPE_CHECKING:
    from assemblies.making.gap_views.whole import Shared

LEANING = 1.2  # of a leaning eye's metal by the closed form, which is of first order


def confirmed(done: Study, results: Results, progress: Callable[..., None] = lambda *_: None) -> Results:
    """`results` with the kernel's distance and common volume of every short pair and of the nearest others at
    their worst poses, what was not confirmed, and a stop finding for each pair where kernel and check
    disagree. Loads the CAD kernel."""
    gaps = results.clearance
    if done.layout is None:
        return results

    asked, found, left = chosen(gaps.pairs), list[Confirmed](), list[str]()
    if asked:
        found, left = confirm(
            asked,
            neighbours.bodies(done.layout),
            done.mechanism,
            neighbours.joints(done.layout),
            progress,
            _imported(done),
        )
    if len(asked) < len(gaps.pairs):
        rest = min(p.gap_mm - p.required_mm for p in gaps.pairs[len(asked) :])
        left.append(
            f"{len(gaps.pairs) - len(asked)} further pairs: each has {guaranteed(rest)} mm or more to spare"
        )
    by = {(c.a, c.b): c for c in found}
    pairs = [
        p
        if (c := by.get((p.a, p.b))) is None
        else replace(p, exact_gap_mm=c.gap_mm, common_mm3=c.common_mm3, common_metal_mm3=c.metal_mm3)
        for p in gaps.pairs
    ]
    faults = [
        Finding(
            level="stop",
            code="gap-disagreement",
            where=f"{c.a} to {c.b}",
            text=(
                f"The check and the CAD kernel disagree: {c.fault}. Trust neither: measure this gap on the "
                f"mock-up, and report the job file as a fault of the program."
            ),
        )
        for c in found
        if c.fault
    ]
    seen = _whole(done, asked, progress)
    more, untold = told(done, results, seen.shared)
    return results.grown(
        [*faults, *untold],
        clearance=replace(
            gaps,
            pairs=pairs,
            not_confirmed=left + seen.not_looked_at,
            whole_at=seen.poses,
            shared_metal=more,
        ),
    )


class Seen(NamedTuple):
    """What the look at whole solids found, at which poses of all, and what it could not look at."""

    shared: list[Shared]
    poses: list[list[float]]
    not_looked_at: list[str]


def whole_poses(done: Study) -> list[tuple[float, float]]:
    """Wheel and rack of the looks at everything: droop, ride, bump, and full lock both ways; of them what the
    corner reaches."""
    job = done.job
    rack = job.tie_rod.rack_travel
    poses = [(-job.corner.droop, 0.0), (0.0, 0.0), (job.corner.bump, 0.0)]
    poses += [(0.0, rack), (0.0, -rack)] if rack else []
    return [p for p in poses if bool(done.mechanism.at(*p).valid)]


def _whole(done: Study, asked, progress) -> Seen:
    """Everything at the poses above, and each pair of `asked` at its own worst one. Where the gaps could not
    be checked this is all that is looked at: no proof of what is between these poses."""
    from assemblies.making.drawn import drawn, unmade
    from assemblies.making.gap_views.whole import Looker

    look, found, poses = Looker(between_runs=True), [], whole_poses(done)
    for z, rack in poses:
        progress(f"whole solids at wheel {z:+g}, rack {rack:+g} mm")
        found += look.at(list(drawn(done, z, rack)), z, rack)
    for n, pair in enumerate(asked, 1):
        progress(f"whole solids: {pair.a} to {pair.b}", n, len(asked))
        bodies = {_body(pair.a), _body(pair.b)}
        z, rack = pair.at_wheel_mm, pair.at_rack_mm
        things = list(drawn(done, z, rack, partial(_is_of, bodies)))
        found += look.at(things, z, rack, lambda a, b: a.of.body != b.of.body)
    look.keep()
    not_looked_at = sorted(
        {
            f"{s.a.name} to {s.b.name}: the CAD kernel could not work out what they share"
            for s in found
            if s.unknown
        }
    )
    not_looked_at += [
        f"{name}: the CAD kernel makes no solid of it, and has not looked for metal that it shares"
        for name in unmade(needed(done.layout))
    ]
    if look.left:
        not_looked_at.append(
            f"{look.left} further pairs of whole solids: too many to ask the CAD kernel about"
        )
    return Seen([s for s in found if not s.unknown], [list(p) for p in poses], not_looked_at)


def _body(name: str) -> str:
    return "rod" if name == "rod end" else name


def _is_of(bodies: set[str], p: Placed) -> bool:
    return p.body in bodies


def told(done: Study, results: Results, shared) -> tuple[list[SharedMetal], list[Finding]]:
    """The most that each two share, over what their contact may, and a stop for those of which no clash and
    no leaning eye is told. Tubes of a node and welded parts that share at most a hundredth of the smaller one
    are a warning: there is metal to file off before they fit. What the job says touches is a row, so that its
    size can be read, and no finding."""
    known = {c.pair: c for c in contacts(needed(done.layout))}
    clashes = {frozenset((p.a, p.b)) for p in results.clearance.pairs if p.found_gap_mm < 0}
    clashes |= {frozenset((r.a, r.b)) for r in results.clearance.at_rest if not r.ok}
    leaning = {frozenset(f.where.split(" to ", 1)) for f in results.findings if f.code == "eye-lean"}
    most: dict[tuple[str, str], Shared] = {}
    for s in shared:
        key = s.a.name, s.b.name
        if key not in most or s.common_mm3 > most[key].common_mm3:
            most[key] = s
    rows, findings = [], []
    for (a, b), s in sorted(most.items(), key=lambda item: -item[1].common_mm3):
        contact = known.get(frozenset((s.a.of.name, s.b.of.name)))
        kind = contact.kind if contact else None
        if s.common_mm3 <= (contact.may_share_mm3 if contact and kind != GIVEN else ROUNDING_MM3):
            continue
        rows.append(
            SharedMetal(
                a=a, b=b, common_mm3=s.common_mm3, at_wheel_mm=s.wheel_mm, at_rack_mm=s.rack_mm, kind=kind
            )
        )
        names = {frozenset((s.a.of.name, s.b.of.name))}
        names |= {frozenset((x, y)) for x in _rows_of(s.a.of.body) for y in _rows_of(s.b.of.body)}
        if (
            kind == GIVEN
            or names & clashes
            or (names & leaning and s.common_mm3 <= _by_its_lean_mm3(s, contact))
        ):
            continue
        joint = f"They touch on purpose ({contact.by}), but not so deep. " if contact else ""
        findings.append(
            Finding(
                level="warn" if kind in (NODE, WELD) and s.common_mm3 <= _little(s) else "stop",
                code="shared-metal",
                where=f"{a} to {b}",
                text=(
                    f"At wheel {s.wheel_mm:+z.1f} mm, rack {s.rack_mm:+z.1f} mm the CAD kernel finds "
                    f"{s.common_mm3:.1f} mm³ of metal of one inside the other, and no gap tells of it. "
                    f"{joint}They cannot be built so: look at them in the STEP file at that height "
                    f"(build --at), and move or trim one."
                ),
            )
        )
    return rows, findings


def _rows_of(body: str) -> tuple[str, ...]:
    """What a body is called in the rows of the gaps."""
    return ("rod", "rod end") if body == "rod" else (body,)


def _by_its_lean_mm3(s: Shared, contact: Contact | None) -> float:
    """The most that a damper's eye and its bolt share as far as they now lean: the eye's hole lies along its
    x, the bolt along its z."""
    if contact is None or not contact.leaning_mm3:
        return 0.0
    bolt, eye = (s.a, s.b) if s.a.of.name == contact.a else (s.b, s.a)
    along = abs(float(bolt.where[:3, 2] @ eye.where[:3, 0]))
    return ROUNDING_MM3 + LEANING * contact.leaning_mm3 * math.tan(math.acos(min(along, 1.0)))


def _little(s: Shared) -> float:
    from parts.files.measured import volume_mm3

    return 0.01 * min(volume_mm3(s.a.shape), volume_mm3(s.b.shape))


def _imported(done: Study) -> dict[str, list]:
    """Solids of the neighbours that come as STEP files, by body, where they stand at ride height."""
    from parts.files.solid import placed, solid

    out: dict[str, list] = {}
    for p in needed(done.layout).placed:
        if isinstance(p.form, Imported):
            out.setdefault(p.body, []).extend(placed(s, p.frame) for s in solid(p.form).Solids())
    return out
