"""What touches what on purpose, by which joint, and how much metal two drawn solids may share there: welded,
bolted, held or turning in one another."""

from __future__ import annotations

import math
from itertools import combinations

from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT, DAMPER_EYE, ROD_EYE
from assemblies.layout.account import ROCKER_PLAN
from assemblies.layout.fasteners import fasteners
from assemblies.layout.placing import Layout
from parts.base.frozen import dataclass
from parts.fastener import BoltAndNut

WELD, BOLT, FIT, HELD, SEAT, TURNS, NODE = "weld", "bolt", "fit", "held", "seat", "turns", "node"
GIVEN = "given"
ROUNDING_MM3 = 1.0  # less than this the kernel's rounding and paint make up
SLIVER_MM = 0.5  # all round the thinner tube of a node: what a file takes off before it fits, common practice
REAMED_LEAN_DEG = 0.1  # what a reamed bore lets an eye lean on its bolt, common practice


@dataclass(frozen=True)
class Contact:
    """Two placed parts by name that touch. `kind`: a `weld` (a seam: the metal meets), a `node` (tubes of the
    frame cut to each other), a `bolt` through or on what it clamps, a `fit` of one round in another, a spring
    `held` in its window, a coil in its `seat`, an eye that `turns` on its bolt or ball; `given`: the job's
    word for it, and nothing more is known. `by`: the joint.

    `may_share_mm3`: metal that both may have in common, drawn. A contact touches: holes are drawn as holes,
    balls in hollows, springs twisted into their windows, so none but rounding; a sliver at a node's cut, an
    eye as far as its bore lets it lean, and where the job says so anything, told as not checked."""

    a: str
    b: str
    kind: str
    by: str
    may_share_mm3: float = ROUNDING_MM3
    leaning_mm3: float = 0.0  # what an eye shares with its bolt, for each unit of its lean's tangent

    @property
    def pair(self) -> frozenset[str]:
        return frozenset((self.a, self.b))


def contacts(layout: Layout) -> list[Contact]:
    """Every contact of the corner's placed parts, whatever carries them."""
    named = {p.name for p in layout.placed}
    out = [
        *_frame(layout),
        *_rocker(layout),
        *_spring(layout),
        *_pivot(layout),
        *_arms(layout),
        *_bolts(layout),
        *given(layout),
        *_links(layout),
    ]
    return list({c.pair: c for c in reversed(out) if c.a in named and c.b in named}.values())[::-1]


def given(layout: Layout) -> list[Contact]:
    """What the job's neighbours are said to touch, whether or not there is such a part."""
    return [
        Contact(m.name, other, GIVEN, f"member.{m.name}.touches", math.inf)
        for m in layout.job.member
        for other in m.touches
    ]


def _links(layout: Layout) -> list[Contact]:
    """Joints of shafts and links and what they stand in: the job's word for it."""
    return [
        Contact(x.name, p.name, GIVEN, f"link.{x.name}.{key}")
        for x in layout.job.link
        for key, body in (("from_in", x.from_in), ("to_in", x.to_in))
        for p in layout.placed
        if body is not None and p.body == body
    ]


def _frame(layout: Layout) -> list[Contact]:
    out = [
        Contact(a, b, NODE, f"node {node.name}", _sliver_mm3(layout, a, b))
        for node in layout.junctions.nodes
        for a, b in combinations(node.members, 2)
    ]
    out += [Contact(t.name, s.member, WELD, f"foot of the {s.bracket}") for s in layout.seats for t in s.tabs]
    return out


def _sliver_mm3(layout: Layout, *names: str) -> float:
    """`SLIVER_MM` over the section of the thinner tube."""
    sections = [layout.members[n].outline().area_mm2 for n in names if n in layout.members]
    return ROUNDING_MM3 + SLIVER_MM * min(sections, default=0.0)


def _leaning_mm3(layout: Layout) -> float:
    """What a damper's eye and its bolt share for each unit of its lean's tangent: at x from the eye's middle
    the bolt stands x·tan off, a crescent of a diameter times that; over the eye's width d·w²/4."""
    d = layout.damper
    return d.eye_bore_mm * d.eye_width_mm**2 / 4 if d else 0.0


def _rocker(layout: Layout) -> list[Contact]:
    if layout.rocker_plates is None:
        return []
    plates = [p.name for p in layout.rocker_plates]
    tube, gusset = "rocker pivot tube", "rocker gusset"
    stub = layout.pivot is not None and layout.pivot.kind == "stub"
    goes_on = layout.sleeve_outer if stub else layout.sleeve_inner  # in one piece with the pivot tube
    sleeve = goes_on.name if goes_on else ""
    apart = {sleeve, *plates, "pivot bearing 1", "pivot bearing 2"}
    inside = [p.name for p in layout.placed if p.body == "rocker" and p.name not in apart]
    out = [Contact(n, plate, WELD, ROCKER_PLAN) for n in inside for plate in plates]
    out.append(Contact(gusset, tube, WELD, ROCKER_PLAN))
    if sleeve:
        out.append(Contact(sleeve, tube, FIT, "sleeve in one piece with the pivot tube"))
    return out


def _spring(layout: Layout) -> list[Contact]:
    out = []
    if layout.coil is not None:
        halves = [p.name for p in (layout.damper_body, layout.damper_shaft) if p]
        out += [Contact(layout.coil.name, n, SEAT, "coil round its damper") for n in halves]
    stub = layout.pivot is not None and layout.pivot.kind == "stub"
    if layout.sleeve_inner and layout.sleeve_outer and stub:
        out.append(Contact(layout.sleeve_outer.name, layout.sleeve_inner.name, FIT, "sleeve on its stub"))
    elif layout.sleeve_inner and layout.sleeve_outer and layout.socket:
        out += [
            Contact(layout.sleeve_outer.name, layout.sleeve_inner.name, FIT, "sleeve on its inner tube"),
            Contact(layout.socket.name, layout.sleeve_outer.name, WELD, "socket on the sleeve's outer tube"),
            Contact(layout.socket.name, layout.sleeve_inner.name, FIT, "inner tube's end at the socket"),
            Contact(layout.sleeve_outer.name, "rocker pivot tube", FIT, "sleeve's end at the pivot tube"),
        ]
    if layout.anchor_plates and layout.anchor_socket:
        turning, fixed = (p.name for p in layout.anchor_plates)
        out += [
            Contact(layout.anchor_socket.name, turning, WELD, "socket through the turning plate"),
            Contact(layout.anchor_socket.name, fixed, FIT, "socket centres the fixed plate"),
            Contact(turning, fixed, BOLT, "anchor plates' bolts"),
        ]
    if layout.pack:
        ends = [layout.socket, layout.anchor_socket, *(layout.anchor_plates or ())]
        out += [Contact(layout.pack.name, p.name, HELD, "spring in its windows") for p in ends if p]
    return out


def _pivot(layout: Layout) -> list[Contact]:
    """What the rocker's pivot is made of."""
    m, tube = layout.pivot, "rocker pivot tube"
    if m is None:
        return []
    bearings, rings = ([f"{name} {n}" for n in (1, 2)] for name in ("pivot bearing", "pivot bearing ring"))
    spacers, stub, sleeve = ["pivot spacer 1", "pivot spacer 2"], "pivot stub", "pivot sleeve"
    out = []
    plates = [p.name for p in layout.rocker_plates or ()]
    if m.kind == "stub":
        washer, spacer = "pivot thrust washer", "pivot spacer"
        ends = ("sleeve inner tube", "sleeve outer tube", tube, *plates)
        nodes = [node for node in layout.junctions.nodes if m.member in node.members]
        outside = sorted({n for node in nodes for n in node.members})
        out += [Contact(stub, b, TURNS, "stub in its bearings") for b in bearings]
        out += [
            Contact(b, r, FIT, "bearing pressed into its ring") for b, r in zip(bearings, rings, strict=True)
        ]
        out += [Contact(n, r, FIT, "the spring tube's wall is between") for n in outside for r in rings]
        out += [Contact(r, m.member, WELD, "ring plug-welded in the spring tube") for r in rings]
        out.append(Contact(tube, "sleeve inner tube", FIT, "stub in the rocker's tube, one piece"))
        out += [Contact(stub, other, FIT, "stub in the rocker's tube, one piece") for other in ends]
        out += [
            Contact(spacer, n, FIT, "spacer to the end float") for n in (stub, tube, bearings[0], rings[0])
        ]
        out += [Contact(washer, n, FIT, "thrust washer") for n in (stub, bearings[1], rings[1])]
        if layout.socket and layout.anchor_plates:
            out += [
                Contact(layout.socket.name, stub, WELD, "socket on the stub"),
                Contact(layout.socket.name, washer, FIT, "thrust washer"),
                Contact(layout.anchor_plates[1].name, m.member, WELD, "fixed plate on the spring tube"),
            ]
        return out
    out += [
        Contact(b, n, FIT, "bearing pressed into the pivot tube") for b in bearings for n in (tube, *plates)
    ]
    if m.kind == "spindle":
        tabs = [t.name for t in layout.brackets["pivot bracket"].tabs]
        out += [Contact(sleeve, b, TURNS, "rocker on its sleeve") for b in bearings]
        return out + [Contact(sleeve, t, FIT, "sleeve clamped between the tabs") for t in tabs]
    spindle = "pivot spindle"
    out += [Contact(spindle, b, TURNS, "rocker on its spindle") for b in bearings]
    out += [Contact(spindle, s, FIT, "spacer on the spindle") for s in spacers]
    out += [Contact(tube, s, FIT, "spacer to the end float") for s in spacers]
    out += [Contact(b, s, FIT, "spacer to the end float") for b in bearings for s in spacers]
    out.append(Contact(spacers[0], m.member, FIT, "spacer against the tube"))
    return [*out, Contact(spindle, m.member, WELD, "spindle through the tube")]


def _arms(layout: Layout) -> list[Contact]:
    arm = layout.rod_arm.name if layout.rod_arm else ""
    return [Contact(p.name, arm, WELD, "rod lug") for p in (*layout.lug_sleeves, *layout.lug_fins)]


def _bolts(layout: Layout) -> list[Contact]:
    """A bolt and what it clamps, and what turns on it."""
    plates = [p.name for p in layout.rocker_plates or ()]
    lug = [p.name for p in layout.lug_sleeves]
    anchor = [p.name for p in layout.anchor_plates or ()]
    sleeve = [p.name for p in (layout.sleeve_inner, layout.sleeve_outer, layout.socket) if p]
    clamped = {
        ROD_EYE: plates,
        DAMPER_EYE: plates,
        "rod lug": lug,
        ANCHOR_PLATES: anchor,
        CROSS_BOLT: sleeve,
    } | {s.bracket: [t.name for t in s.tabs] for s in layout.seats}
    rod = layout.rod_placed.name if layout.rod_placed else ""
    halves = [p for p in (layout.damper_body, layout.damper_shaft) if p]  # either end may be on the rocker
    dampers = {p.carrier: p.name for p in halves}
    turns = {
        ROD_EYE: [rod],
        DAMPER_EYE: [dampers.get("damper_shaft", "")],
        "rod lug": [rod],
    } | {
        s.bracket: [dampers.get("damper_body", "") if s.body == "damper" else layout.arms[s.body].name]
        for s in layout.seats
        if s.body != "rocker"
    }
    if "pivot bracket" in clamped:
        clamped["pivot bracket"].append("pivot sleeve")
    if layout.lug and layout.lug.through and layout.rod_arm:  # the sleeves' holes go through the arm's tubes
        clamped["rod lug"] = [*lug, layout.rod_arm.name]
    bolts = [p for p in layout.placed if isinstance(p.part, BoltAndNut)]
    out = []
    for f in fasteners(layout)[0]:
        joint = f.joint.name
        for bolt in (p.name for p in bolts if p.name.startswith(joint)):
            out += [Contact(bolt, n, BOLT, joint) for n in clamped.get(joint, [])]
            for n in turns.get(joint, []):
                leans = _leaning_mm3(layout) if n in dampers.values() else 0.0
                reamed = ROUNDING_MM3 + leans * math.tan(math.radians(REAMED_LEAN_DEG))
                out.append(Contact(bolt, n, TURNS, joint, reamed, leans))
    for where, held in clamped.items():
        out += [Contact(n, m, TURNS, f"{where} bolt") for n in turns.get(where, []) for m in held]
    return out
