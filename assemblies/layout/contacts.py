"""What touches what on purpose, and by which joint: welded, bolted, held or turning in one another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from assemblies.layout.account import ROCKER_PLAN
from assemblies.layout.fasteners import fasteners
from assemblies.layout.placing import Layout
from parts.fastener import BoltAndNut

WELD, BOLT, FIT, HELD, SEAT, TURNS, NODE = "weld", "bolt", "fit", "held", "seat", "turns", "node"


@dataclass(frozen=True)
class Contact:
    """Two placed parts by name that touch. `kind`: a `weld` (a seam: the metal meets), a `node` (tubes of the
    frame cut to each other), a `bolt` through or on what it clamps, a `fit` of one round in another, a spring
    `held` in its window, a coil in its `seat`, an eye that `turns` on its bolt or ball. `by`: the joint."""

    a: str
    b: str
    kind: str
    by: str

    @property
    def pair(self) -> frozenset[str]:
        return frozenset((self.a, self.b))


def contacts(layout: Layout) -> list[Contact]:
    """Every contact of the corner's placed parts, whatever carries them."""
    named = {p.name for p in layout.placed}
    out = [*_frame(layout), *_rocker(layout), *_spring(layout), *_arms(layout), *_bolts(layout)]
    return list({c.pair: c for c in reversed(out) if c.a in named and c.b in named}.values())[::-1]


def _frame(layout: Layout) -> list[Contact]:
    out = [
        Contact(a, b, NODE, f"node {node.name}")
        for node in layout.junctions.nodes
        for a, b in combinations(node.members, 2)
    ]
    out += [Contact(t.name, s.member, WELD, f"foot of the {s.bracket}") for s in layout.seats for t in s.tabs]
    return out


def _rocker(layout: Layout) -> list[Contact]:
    if layout.rocker_plates is None:
        return []
    plates = [p.name for p in layout.rocker_plates]
    inside = [p.name for p in layout.placed if p.body == "rocker" and p.name not in plates]
    tube, gusset = "rocker pivot tube", "rocker gusset"
    sleeve = layout.sleeve_inner.name if layout.sleeve_inner else ""
    out = [Contact(n, plate, WELD, ROCKER_PLAN) for n in inside if n != sleeve for plate in plates]
    out.append(Contact(gusset, tube, WELD, ROCKER_PLAN))
    if sleeve:
        out.append(Contact(sleeve, tube, FIT, "inner tube in one piece with the pivot tube"))
    return out


def _spring(layout: Layout) -> list[Contact]:
    out = []
    if layout.coil is not None:
        halves = [p.name for p in (layout.damper_body, layout.damper_shaft) if p]
        out += [Contact(layout.coil.name, n, SEAT, "coil round its damper") for n in halves]
    if layout.sleeve_inner and layout.sleeve_outer and layout.socket:
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
        "rod to rocker": plates,
        "damper to rocker": plates,
        "rod lug": lug,
        "anchor plates": anchor,
        "sleeve's cross bolt": sleeve,
    } | {s.bracket: [t.name for t in s.tabs] for s in layout.seats}
    rod = layout.rod_placed.name if layout.rod_placed else ""
    dampers = {
        "rocker": layout.damper_shaft.name if layout.damper_shaft else "",
        "chassis": layout.damper_body.name if layout.damper_body else "",
    }
    turns = {"rod to rocker": [rod], "damper to rocker": [dampers["rocker"]], "rod lug": [rod]} | {
        s.bracket: [dampers["chassis"] if s.body == "damper" else layout.arms[s.body].name]
        for s in layout.seats
    }
    if layout.lug and layout.lug.through and layout.rod_arm:  # the sleeves' holes go through the arm's tubes
        clamped["rod lug"] = [*lug, layout.rod_arm.name]
    bolts = [p for p in layout.placed if isinstance(p.part, BoltAndNut)]
    out = []
    for f in fasteners(layout)[0]:
        joint = f.joint.name
        for bolt in (p.name for p in bolts if p.name.startswith(joint)):
            out += [Contact(bolt, n, BOLT, joint) for n in clamped.get(joint, [])]
            out += [Contact(bolt, n, TURNS, joint) for n in turns.get(joint, [])]
    for where, held in clamped.items():
        out += [Contact(n, m, TURNS, f"{where} bolt") for n in turns.get(where, []) for m in held]
    return out
