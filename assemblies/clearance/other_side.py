"""The two sides of the car against each other: bodies near the middle, each side at any height of its own
wheel.

The other side is this side's mirror image. A body that stays a from the middle plane and the image of one
that stays b stay a + b from each other, so only those that come too near for that are looked at: over both
wheels' travel at once, each pair of mirror images once. Bodies that follow the rack are then told as not
checked: both sides share one rack.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assemblies.clearance.bounds import BOTH, CARRIERS, OTHER, STEERED, CornerBounds, carrier_index
from assemblies.clearance.check import Limits, Report, look
from assemblies.clearance.plan import Body, Cast, Pair, swept_boxes
from assemblies.clearance.scene import Grid, both_ways, span
from parts.base.distinct import distinct

ITS_OWN_IMAGE_MM = 0.01


class BothSides:
    """The motion of both sides: first this wheel's travel, second the other's; the other side's carriers
    follow this side's."""

    def __init__(self, mechanism):
        mirrored = type(mechanism)(mechanism.points.mirrored())
        self.sides = CornerBounds.of(mechanism), CornerBounds.of(mirrored)
        names = (*CARRIERS[1:], *self.sides[1].links)
        self._here = np.array([carrier_index(n) for n in names])
        self._there = np.array([carrier_index(OTHER + n) for n in names])
        self._count = BOTH + 2 * len(self.sides[0].links)
        own, other = self.sides
        self.references = self._both(own.references, other.references, axis=0)

    @property
    def content(self) -> str:
        return f"both sides of {self.sides[0].content}"

    def _both(self, own: np.ndarray, other: np.ndarray, axis: int) -> np.ndarray:
        """One array of both sides' carriers, each where `carrier_index` has it."""
        shape = list(own.shape)
        shape[axis] = self._count
        out = np.zeros(shape)
        along = np.moveaxis(out, axis, 0)  # a view
        along[: own.shape[axis]] = np.moveaxis(own, axis, 0)
        along[self._there] = np.moveaxis(other, axis, 0)[self._here]
        return out

    def frames(self, wheel_mm: np.ndarray, other_mm: np.ndarray) -> np.ndarray:
        own, other = (
            side.frames(z, np.zeros(len(z))) for side, z in zip(self.sides, (wheel_mm, other_mm), strict=True)
        )
        return self._both(own, other, axis=1)

    def bends(self, z_edges: np.ndarray, other_edges: np.ndarray):
        """As bounds.bends: each side bends along its own travel only."""
        one, two = (
            side.bends(edges, np.zeros(1))
            for side, edges in zip(self.sides, (z_edges, other_edges), strict=True)
        )
        out = []
        for own, other in zip(one, two, strict=True):  # middles, radii: (1, carriers, 12, cells, 1)
            both = np.zeros((2, self._count, 12, own.shape[3], other.shape[3]))
            both[0, : own.shape[1]] = own[0]
            both[1, self._there] = np.swapaxes(other[0, self._here], 2, 3)
            out.append(both)
        return tuple(out)


def between_sides(
    bodies,
    mechanism,
    travel_mm: tuple[float, float],
    rack_mm: float = 0.0,
    limits: Limits | None = None,
    tolerance_mm: float = 0.1,
    one_sided=(),
    between_runs: bool = False,
) -> Report:
    """Gaps of this side's moving bodies to the other side's, of those pairs that the middle plane does not
    keep apart.

    `one_sided`: names of bodies that have no mirror image (a tank, an engine). The other side's bodies are
    called "other ..."; `at_other_wheel_mm` is the other wheel's height. Raises ValueError as `check` does."""
    limits, travel = limits or Limits(), span(travel_mm)
    cast = Cast(bodies, (), wanted=())
    side = 1.0 if mechanism.points.side == "left" else -1.0
    corner = CornerBounds.of(mechanism)
    grid = Grid(corner, travel, both_ways(rack_mm))
    own = [b for parts in cast.parts.values() for b in parts]
    ends = side * swept_boxes(own, grid, between_runs)[:, :, 1]
    clear: dict[str, float] = {}  # proven distance from the middle plane; negative where it may be crossed
    for body, least in zip(own, ends.min(1).tolist(), strict=True):
        clear[body.name] = min(least, clear.get(body.name, math.inf))
    steered, follow = (
        {name for name, parts in cast.parts.items() if any(carrier_index(b.carrier) in which for b in parts)}
        for which in (corner.riding(STEERED), corner.steered)
    )
    twins = [
        name
        for name in cast.names
        if name not in one_sided and not (name in cast.still and own_image(cast.parts[name]))
    ]
    near, skipped = set(), []
    for a in cast.moving:
        for b in twins:
            if b in cast.moving and b < a:
                continue  # the mirror image of a pair that is looked at
            least = clear[a] + clear[b]
            need = limits.of_pair(Pair(a, b), cast)
            if least >= need:
                continue
            if steered & {a, b}:
                skipped.append(
                    (
                        a,
                        OTHER + b,
                        f"{_proven(least)}, {need:g} mm asked; both follow the rack, so how much more is not "
                        f"known",
                    )
                )
            else:
                near.add((a, OTHER + b))
                if rack_mm and follow & {a, b}:
                    skipped.append(
                        (
                            a,
                            OTHER + b,
                            "the rod on the upright follows the rack: looked at with the rack straight ahead "
                            "only",
                        )
                    )
    if not near:
        return Report((), tuple(skipped), 0, tolerance_mm)
    some = [b for b in bodies if b.name in {a for a, _ in near}]
    some += [_image(b) for b in bodies if OTHER + b.name in {b for _, b in near}]
    found = look(
        Cast(some, (), wanted=near),
        mechanism.points,
        lambda: BothSides(corner.mechanism),
        travel,
        travel,
        limits,
        tolerance_mm,
        between_runs,
    )
    pairs = tuple(replace(p, at_rack_mm=0.0, at_other_wheel_mm=p.at_rack_mm) for p in found.pairs)
    return Report(pairs, (*skipped, *found.not_checked), found.queries, tolerance_mm)


def own_image(parts: Sequence[Body]) -> bool:
    """Whether a body is the same in the mirror of the middle plane, corner by corner: it is given whole. An
    imported mesh is held not to be: its triangles do not tell."""
    boxes = np.concatenate([b.boxes for b in parts])
    if any(b.shells for b in parts) or abs(boxes[:, 0, 1].min() + boxes[:, 1, 1].max()) > ITS_OWN_IMAGE_MM:
        return False
    corners = distinct(np.concatenate([p.shape for b in parts for p in b.pieces(1.0)]), rows=True)
    apart = np.abs(corners[:, None] - corners * (1.0, -1.0, 1.0, 1.0)).max(2)
    return bool((apart.min(1) < ITS_OWN_IMAGE_MM).all())


def _image(body: Body) -> Body:
    return replace(
        body,
        name=OTHER + body.name,
        carrier=body.carrier if body.carrier == "frame" else OTHER + body.carrier,
        forms=tuple(f.mirrored() for f in body.forms),
        shells=tuple(s.mirrored() for s in body.shells),
    )


def _proven(least_mm: float) -> str:
    """A proven gap in words; none is proven where the motion is too quick to be bounded."""
    if not math.isfinite(least_mm):
        return "no gap proven"
    return f"proven {math.floor(100 * least_mm) / 100:.2f} mm apart"
