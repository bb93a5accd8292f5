"""Every end of the frame's tubes cut to the tubes before it: curves, lengths, solids' data and what to say
about them. Numbers only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from itertools import combinations

import numpy as np

from assemblies.layout.junctions import trimmed, words
from assemblies.layout.junctions.meeting import ENDS, IN_LINE_DEG, Meeting, Tube, meetings
from assemblies.layout.junctions.order import Key, Node, nodes
from assemblies.results.findings import Finding
from parts.base.frozen import dataclass
from parts.fitted_tube import Fitted, fitted
from parts.member import Member
from parts.shape.form import vector
from parts.skin import Face, Run
from parts.tube_end import TubeEnd, angle_deg, parting_mm, tube_end
from parts.tube_wall import wall_points

OTHER = "other "  # before the name of a tube of the other side of the car
PAST_MM = 0.5  # a run's open end short of what lands on it by less is within the saw's error


@dataclass(frozen=True)
class TubePair:
    """Two tubes of a node: the angle between them (away from the node; between the axes where one passes) and
    how far along the first and along the second from where their axes meet their outsides part, each taken as
    a round of half its larger side."""

    a: str
    b: str
    angle_deg: float
    parting_a_mm: float
    parting_b_mm: float


@dataclass(frozen=True)
class Junctions:
    """`ends`: every cut end; `tubes`: every tube that has one, whole; `all`: every tube that took part, by
    name in the job's order."""

    nodes: tuple[Node, ...] = ()
    ends: dict[Key, TubeEnd] = field(default_factory=dict)
    tubes: dict[str, Fitted] = field(default_factory=dict)
    all: dict[str, Tube] = field(default_factory=dict)
    told: tuple[tuple[str, Finding], ...] = ()  # what to say, with the name of its node, "" where of none
    images: frozenset[Key] = (
        frozenset()
    )  # ends on the other side of the car, cut as the mirror images of the same tubes' other ends
    made_with: tuple[float, tuple, bool] = (10.0, (), True)  # within_mm, asked, mirrored

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found, without a cure: see `advice`."""
        return tuple(f for _, f in self.told)

    def node_of(self, name: str, end: str) -> Node | None:
        """Where an end is cut; for an end on the other side of the car the node it is the image of."""
        if (name, end) in self.images:
            end = "to" if end == "from" else "from"
        return next((n for n in self.nodes if (name, end) in n.ends), None)

    def away(self, node: Node, name: str) -> np.ndarray:
        """Unit vector along a tube, away from the node; from -> to where it passes."""
        return self.all[name].away(node.end_of(name) or "from")

    def pairs(self, node: Node) -> list[TubePair]:
        """Every two tubes of a node, in the order of fitting."""
        out = []
        for a, b in combinations(node.members, 2):
            apart = angle_deg(self.away(node, a), self.away(node, b))
            if node.end_of(a) is None or node.end_of(b) is None:
                apart = min(apart, 180 - apart)
            r, s = self.all[a].half_mm, self.all[b].half_mm
            out.append(TubePair(a, b, apart, parting_mm(r, s, apart), parting_mm(s, r, apart)))
        return out


def junctions(
    tubes: Sequence[Tube], within_mm: float = 10.0, asked: Sequence = (), mirrored: bool = True
) -> Junctions:
    """Fit tubes together. `within_mm`: how far off another tube an end may lie and still be cut to it;
    `asked`: [[junction]] tables; `mirrored`: the tubes of one side stand for the other's too."""
    by_name = {t.name: t for t in tubes}
    met, beside = meetings(tubes, within_mm)
    met = [m for m in met if by_name[m.tube].free]
    found, wrong = nodes(tubes, met, asked, within_mm)
    said = [("", words.not_followed(where, why)) for where, why in wrong]
    ends_met = {(m.tube, m.end) for m in met}
    for b in beside:
        if (b.tube, b.end) not in ends_met and (f := words.beside(by_name, b)):
            here = next((n.name for n in found if {b.tube, b.other} <= set(n.members)), "")
            said.append((here, f))
    ends: dict[Key, TubeEnd] = {}
    for node in found:
        for i, name in enumerate(node.members):
            end = node.end_of(name)
            if end is None:
                continue
            try:
                ends[name, end] = cut = _cut(by_name, node, ends, met, name, end, node.members[:i])
            except ValueError as e:
                said.append((node.name, words.not_cut(node, name, end, e)))
                continue
            said += [(node.name, f) for f in _about(by_name, node, ends, met, name, end, cut)]
    images = _across(by_name, ends) if mirrored else {}
    ends |= images
    whole = {
        n: fitted(by_name[n].member, ends.get((n, "from")), ends.get((n, "to")))
        for n in by_name
        if any((n, e) in ends and ends[n, e].runs for e in ENDS)
    }
    for name in [n for n, t in whole.items() if t.crossed]:
        said.append(("", words.nothing_left(name, whole.pop(name))))
        for end in ENDS:
            ends.pop((name, end), None)
    asked = tuple(asked)
    return Junctions(
        tuple(found), ends, whole, by_name, tuple(said), frozenset(images), (within_mm, asked, mirrored)
    )


def _across(tubes: dict[str, Tube], ends: dict[Key, TubeEnd]) -> dict[Key, TubeEnd]:
    """The far ends of tubes that cross the car and are their own mirror images: cut as the near end is, to
    the tubes of the other side."""
    out = {}
    for (name, end), cut in ends.items():
        m, far = tubes[name].member, "to" if end == "from" else "from"
        if cut.runs and (name, far) not in ends and _own_image(m):
            out[name, far] = tube_end(m, far, [c.mirrored(OTHER + c.name) for c in cut.cutters])
    return out


def _own_image(m: Member) -> bool:
    """From one side of the car straight to the other, its sides as they lie in the mirror too."""
    (x, y, z), (u, v, w) = m.from_, m.to
    lies = m.section.is_round or m.roll_deg % 90 == 0
    return lies and abs(y) > 1.0 and max(abs(x - u), abs(y + v), abs(z - w)) < 0.01


def _cut(
    tubes: dict[str, Tube],
    node: Node,
    ends: dict[Key, TubeEnd],
    met: Sequence[Meeting],
    name: str,
    end: str,
    before: Sequence[str],
) -> TubeEnd:
    """The end against all tubes before it that it reaches."""
    tube = tubes[name]
    cutters: list[Run | Face] = []
    partner = _partner(node, name)
    if partner:
        cutters.append(_bisecting(tubes, node, name, partner))
    for other in before:
        if (
            other != partner
            and (cutter := _cutter(tubes, node, ends, met, name, end, other, before)) is not None
        ):
            cutters.append(cutter)
    if not cutters:
        return tube_end(tube.member, end)
    return tube_end(tube.member, end, cutters)


def _cutter(
    tubes: dict[str, Tube],
    node: Node,
    ends: dict[Key, TubeEnd],
    met: Sequence[Meeting],
    name: str,
    end: str,
    other: str,
    before: Sequence[str],
) -> Run | Face | None:
    """What of an earlier tube cuts this end: its outside, its end face where they butt, nothing where they
    lie along each other."""
    tube, run = tubes[name], tubes[other]
    there = node.end_of(other)
    away, along = tube.away(end), run.away(there or "from")
    apart = angle_deg(away, along)
    if min(apart, 180 - apart) < IN_LINE_DEG:
        if there is None or apart < 90:
            return None
        cut = ends.get((other, there))
        point = (
            run.end(there) + (min(cut.long_mm, 0.0) if cut is not None else 0.0) * along
        )  # beyond the other's long point where it is cut itself
        return Face(other, vector(point), vector(-along))
    if there is None or (
        (cut := ends.get((other, there))) is not None
        and not cut.runs
        and not _covered(node, met, other, there, before)
    ):
        return run.run()  # an end that nothing cuts: as if it went on, see words.run_end
    reach = cut.long_mm if cut is not None else 0.0
    return run.run(low_mm=reach) if there == "from" else run.run(high_mm=run.member.length_mm - reach)


def _covered(node: Node, met: Sequence[Meeting], name: str, end: str, before: Sequence[str]) -> bool:
    """Whether an earlier tube goes on from an end, face to face with it."""
    return any(
        m.other == name and m.butts == end and m.tube in before and node.end_of(m.tube) == m.end for m in met
    )


def _partner(node: Node, name: str) -> str | None:
    return next((p for p in node.mitred if p != name), None) if node.mitred and name in node.mitred else None


def _bisecting(tubes: dict[str, Tube], node: Node, name: str, partner: str) -> Face:
    """The plane that halves the angle of two tubes, through the middle of where their axes are nearest."""
    a, b = (tubes[n].away(node.mitred_end(n)) for n in (name, partner))
    n = a - b
    p, q = (tubes[n].end(node.mitred_end(n)) for n in (name, partner))
    c = float(a @ b)
    w = q - p
    if 1 - c * c > 1e-6:
        s = (float(w @ a) - c * float(w @ b)) / (1 - c * c)
        t = (c * float(w @ a) - float(w @ b)) / (1 - c * c)
        p, q = p + s * a, q + t * b
    return Face(partner, vector((p + q) / 2), vector(n / np.linalg.norm(n)))


# ------------------------------------------------------------------------------------------------ what to say


def _about(
    tubes: dict[str, Tube],
    node: Node,
    ends: dict[Key, TubeEnd],
    met: Sequence[Meeting],
    name: str,
    end: str,
    cut: TubeEnd,
) -> list[Finding]:
    if not cut.runs:
        return []
    tube, said = tubes[name], []
    for c in cut.cutters:
        if isinstance(c, Face):
            continue
        away, along = tube.away(end), tubes[c.name].away(node.end_of(c.name) or "from")
        apart = angle_deg(away, along)
        if node.end_of(c.name) is None:
            apart = min(apart, 180 - apart)
        said += words.sharp(node, name, c.name, apart)
        said += words.run_end(
            tubes, node, name, c.name, _past_mm(tube, end, cut, c, tubes[c.name], met, ends)
        )
    said += words.overhang(node, tube, cut, _over(tube, cut) if cut.missing else None)
    said += words.saw(node, name, end, cut)
    said += trimmed.told(node, name, end, cut)
    if partner := _partner(node, name):
        said += words.mitre(tubes, node, name, partner)
    return said


@dataclass(frozen=True)
class Over:
    """How far a tube's outside reaches past its run's, square to both axes; how far apart the axes are; the
    roll that lays its faces along the run and what reaches past it then."""

    run: str
    mm: float
    off_mm: float
    roll_deg: float
    rolled_mm: float


def _over(tube: Tube, cut: TubeEnd) -> Over | None:
    """Past the run it stands over least."""
    found = []
    m, s = tube.member.frame.matrix(), tube.member.section
    for c in cut.cutters:
        if isinstance(c, Face):
            continue
        n = np.cross(m[:3, 2], c.frame.z)
        n /= np.linalg.norm(n)
        off = abs(float(np.subtract(tube.member.from_, c.frame.origin) @ n))
        x, y = float(n @ m[:3, 0]), float(n @ m[:3, 1])
        turn = 0.0 if s.is_round else (math.degrees(math.atan2(y, x)) + 45) % 90 - 45
        across = (
            abs(math.cos(math.radians(math.degrees(math.atan2(y, x)) - turn))) > 0.5
        )  # local x then lies along n
        half = (s.width_mm if across else s.height_mm) / 2
        found.append(
            Over(
                c.name,
                off + tube.run().half_mm(n) - c.half_mm(n),
                off,
                (tube.member.roll_deg + turn + 180) % 360 - 180,
                off + half - c.half_mm(n),
            )
        )
    return min(found, key=lambda o: o.mm, default=None)


def _past_mm(
    tube: Tube, end: str, cut: TubeEnd, c: Run, run: Tube, met: Sequence[Meeting], ends: dict[Key, TubeEnd]
) -> tuple[str, float] | None:
    """Which end of a run is open under the tube, and how much longer the run must be to carry it all; None
    where none is."""
    if cut.line is None or not _near_an_end(
        tube,
        run,
        next((m.foot_mm for m in met if (m.tube, m.end, m.other) == (tube.name, end, run.name)), None),
    ):
        return None
    s, (t, _), rule = cut.first
    x, y, _ = wall_points(tube.member.section, s)
    inwards = tube.away(end)
    start = cut.line.points(x, y)
    points = start + np.outer(t, inwards)
    lands = rule == [k.name for k in cut.cutters].index(c.name)
    along = c.along_mm(points)
    for which in ENDS:
        if (last := ends.get((run.name, which))) and last.runs:
            continue
        past = 0.0 - along if which == "from" else along - run.member.length_mm
        worst = lands & (past > PAST_MM)
        if not worst.any():
            continue
        others = [k for k in cut.cutters if k.name != c.name]
        leaves = np.max([k.span(start, inwards)[1] for k in (run.run(*_real(run, ends)), *others)], axis=0)
        open_ = worst & (leaves < t - PAST_MM)
        if open_.any():
            return which, float(past[open_].max())
    return None


def _near_an_end(tube: Tube, run: Tube, foot_mm: float | None) -> bool:
    """Whether a tube whose axis comes to a run there may reach past one of its ends."""
    if foot_mm is None:
        return True
    between = math.radians(angle_deg(tube.member.frame.z, run.member.frame.z))
    half, other = (math.hypot(t.member.section.width_mm, t.member.section.height_mm) / 2 for t in (tube, run))
    reach = (half + other * abs(math.cos(between))) / max(math.sin(between), 1e-3)
    return foot_mm - reach < 0 or foot_mm + reach > run.member.length_mm


def _real(tube: Tube, ends: dict[Key, TubeEnd]) -> tuple[float, float]:
    """From where to where a tube's metal reaches."""
    low, high = (ends[tube.name, e].long_mm if (tube.name, e) in ends else 0.0 for e in ENDS)
    return low, tube.member.length_mm - high
