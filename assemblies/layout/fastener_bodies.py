"""The corner's bolts as bodies: which way each is put in, and where it stands.

The head goes to the side where nothing is struck over the travel and where the bolt can be drawn out best;
where both sides are alike, to the upper side, so that a bolt stays in that has lost its nut, else outboard or
forward. A bolt is drawn out along its
axis: the round through its head's corners needs its own length clear beyond the head's seat.
"""

from __future__ import annotations

from difflib import get_close_matches
from functools import lru_cache

import numpy as np

from assemblies.clearance import Body
from assemblies.clearance.probe import Probe, ProbedBodies
from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT, DAMPER_EYE, ROD_EYE
from assemblies.layout import bodies as neighbours
from assemblies.layout.account import Bought, Checked, NoSeam
from assemblies.layout.fasteners import Fastener, fasteners
from assemblies.layout.placing import Layout, put
from assemblies.motion.mechanism import Mechanism
from assemblies.results.findings import Finding
from parts.base.frozen import dataclass
from parts.fastener import BoltAndNut
from parts.shape.form import Form, Frame, Round, Vector

ROOM_MM = 1.0  # round tools and bolts on their way, common practice
ALIKE_MM = 0.5  # sides whose room differs by less are alike
LOOK_MM = 12.0  # more room than this makes no difference


@dataclass(frozen=True)
class Way:
    """A bolt with its head at one of its two sides."""

    bolt: BoltAndNut
    carrier: str
    frame: Frame

    @staticmethod
    def both(f: Fastener, place: tuple[Vector, Vector]) -> tuple[Way, Way]:
        start, axis = (np.array(v) for v in place)
        end = start + f.joint.stack_mm * axis
        return Way(f.body, f.joint.carrier, _frame(start, axis)), Way(
            f.body, f.joint.carrier, _frame(end, -axis)
        )

    def standing(self) -> Form:
        return self.bolt.envelope().moved(self.frame)


@lru_cache(maxsize=256)
def ends(bolt: BoltAndNut) -> Form:
    """Head, nut and thread without their washers, in the bolt's own axes."""
    head, nut = bolt.head_envelope().pieces[1:], bolt.nut_envelope().pieces[1:]
    return Form((*head, *nut))


@lru_cache(maxsize=256)
def drawn(bolt: BoltAndNut) -> Form:
    """Room for a bolt on its way out, in its own axes, from `ROOM_MM`/2 off the head's seat."""
    past = bolt.length_mm + bolt.hexagon.head_mm
    return Form(
        (
            Round(
                bolt.hexagon.across_corners_mm,
                past,
                0.0,
                Frame((0.0, 0.0, bolt.head_seat_mm - ROOM_MM / 2), z=(0.0, 0.0, -1.0)),
            ),
        )
    )


def _frame(origin, z) -> Frame:
    return Frame.looking(origin, z, np.eye(3)[int(np.argmin(np.abs(z)))])


def place_bolts(out: Layout, mechanism: Mechanism, travel_mm) -> None:
    """Place every bolt that can be worked out; one without a length is said in the cut list and left out
    here."""
    standing = [(f, n, place) for f in fasteners(out)[0] for n, place in enumerate(f.joint.places)]
    if not standing:
        return
    both = [Way.both(f, place) for f, _, place in standing]
    chosen = _ways(out, mechanism, travel_mm, both, [_through(f) for f, _, _ in standing])
    names = [_name(f, n) for f, n, _ in standing]
    out.findings += [_unknown(name, names) for name in out.job.clearance.turned if name not in names]
    for (f, _, _), name, ways, way in zip(standing, names, both, chosen, strict=True):
        if name in out.job.clearance.turned:
            way = ways[ways.index(way) ^ 1]
        out.bolts.append(
            put(
                out,
                name,
                body_of(f),
                way.carrier,
                way.bolt.form(),
                way.frame,
                way.bolt,
                source=Bought(f.joint.name),
                weld=NoSeam("a bolt"),
                strength=Checked((_item(f),)),
                weighed=False,
            )
        )


def _name(f: Fastener, n: int) -> str:
    name = f.joint.name if f.joint.name.endswith("bolt") else f"{f.joint.name} bolt"
    return f"{name} {n + 1}" if f.joint.count > 1 else name


def _unknown(name: str, names: list[str]) -> Finding:
    near = ", ".join(get_close_matches(name, names, 1, 0.4) or names)
    said = f"clearance.turned names '{name}', and no bolt is called so: {near}."
    return Finding(level="warn", code="bolt-turned", where=name, text=said)


def _item(f: Fastener) -> str:
    """The item of the strength table that its own checks stand under."""
    known = {
        ROD_EYE: "rocker, rod eye",
        DAMPER_EYE: "rocker, damper eye",
        CROSS_BOLT: "sleeve",
    }
    return known.get(f.joint.name, f.joint.name)


def body_of(f: Fastener) -> str:
    """Its body in the gaps: the rocker's two bolts are one, every other joint's its own."""
    if f.joint.name in (ROD_EYE, DAMPER_EYE):
        return neighbours.ROCKER_BOLTS
    return f.joint.name if f.joint.name.endswith("bolt") else f"{f.joint.name} bolt"


def _through(f: Fastener) -> frozenset[str]:
    """What a bolt clamps, so that its ends stand on it."""
    if f.joint.name == CROSS_BOLT:
        return frozenset(("rocker", "spring"))
    if f.joint.name == ANCHOR_PLATES:
        return frozenset(("spring anchor",))
    return frozenset(("rocker",) if f.joint.carrier == "rocker" else (f.joint.name,))


def _ways(
    out: Layout, mechanism: Mechanism, travel_mm, both: list[tuple[Way, Way]], through: list[frozenset[str]]
) -> list[Way]:
    """The better way of each bolt, at droop, ride and bump."""
    travel = np.asarray(travel_mm, float)
    travel = travel[np.asarray(mechanism.at(travel).valid)]
    if not len(travel):
        return [a for a, _ in both]
    heights = travel[[0, int(np.abs(travel).argmin()), -1]]
    bolts = [
        Body(f"bolt {k}", a.carrier, (a.standing(), b.standing())) for k, (a, b) in enumerate(both)
    ]  # whichever way they stand
    around = ProbedBodies([*neighbours.bodies(out), *bolts], mechanism, out.job.clearance.tolerance)
    probes = [
        p
        for b, ways, own in zip(bolts, both, through, strict=True)
        for w in ways
        for p in (
            Probe(ends(w.bolt), w.carrier, own | {b.name}, w.frame),
            Probe(drawn(w.bolt), w.carrier, frozenset((b.name,)), w.frame),
        )
    ]
    gap = around.gaps(probes, heights, LOOK_MM, out.made.each).reshape(len(both), 2, 2, len(heights))
    struck, free = gap[:, :, 0].min(-1), gap[:, :, 1].max(-1)
    return [
        ways[_better(e, d, ways, out.job.corner.side)] for ways, e, d in zip(both, struck, free, strict=True)
    ]


def _better(ends, free, ways: tuple[Way, Way], side: str) -> int:
    """Whose ends strike nothing, then which can be drawn, then which has more room; alike: see above."""
    for values in (np.minimum(ends, 0.0), np.minimum(free, ROOM_MM), np.minimum(ends, 8.0), free):
        if abs(values[0] - values[1]) > ALIKE_MM:
            return int(values[1] > values[0])
    head = -np.array(ways[0].frame.z)  # from the nut to the head
    k = int(np.argmax(np.abs(head) * (1.0, 1.0, 1.01)))
    outward = -1.0 if k == 1 and side == "right" else 1.0
    return int(head[k] * outward < 0)


def side_of(direction, side: str) -> str:
    """The side a direction of the car points to, in a word."""
    i = int(np.argmax(np.abs(direction)))
    ahead = direction[i] > 0
    if i == 1:
        return "outboard" if ahead == (side == "left") else "inboard"
    return (("front", "rear"), (), ("upper", "lower"))[i][not ahead]
