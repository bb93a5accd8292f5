"""What a corner looks like at a pose, as solids: the pack twisted as it is there, balls with their bolts and
housings tilted with the rod, bolts, nuts and washers as bodies of their own.

A part's own STEP file shows it as it is made; this is how it stands. Loads the CAD kernel.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from assemblies.layout.bodies import bolt_carrier
from assemblies.layout.placing import Layout, Placed, needed
from assemblies.layout.rods import outboard_bolt
from assemblies.making.step import colour_of
from assemblies.motion.poses import Poses
from assemblies.results.faults import cannot, is_refusal
from assemblies.results.findings import Finding
from assemblies.study import Study
from parts.base.frozen import dataclass
from parts.fastener import BoltAndNut
from parts.files.boolean import common, without
from parts.files.shapes import ball, twisted
from parts.files.solid import Colour, SolidError, placed, solid
from parts.files.solid_cache import once
from parts.rod import Rod
from parts.shape.form import Form, Frame, Piece, Prism, Round
from parts.shape.outline import Outline, rounded
from parts.spring_pack import LeafPack, TorsionBar

RACE_MM = 0.01  # between a ball and its housing, so that the two share no face
RIM_MM = 1.0  # least metal left outside the ball in a housing
PARTS = ("bolt", "head washer", "nut washer", "nut")  # of a bolt, as they are drawn


@dataclass(frozen=True, eq=False)
class Drawn:
    """A solid in its own axes, and the frame that takes it to the car's at a pose; `of` is what was placed,
    `carrier` what it moves with (a ball: its bolt's)."""

    name: str
    shape: Any
    where: np.ndarray
    of: Placed
    carrier: str
    within: Form | None = None  # pieces that hold all of it, in its own axes; None: what was placed

    @property
    def colour(self) -> Colour:
        return colour_of(self.of.body, self.of.carrier)

    @property
    def standing(self):
        return placed(self.shape, self.where)

    def twin(self) -> tuple[Any, np.ndarray]:
        """Its mirror image across the car's middle: a solid in its own axes, mirrored across its x as its
        blank is, and the frame that takes it to the car's. The same solid wherever it stands."""
        return self.shape.mirror("YZ"), np.diag([1.0, -1.0, 1.0, 1.0]) @ self.where @ np.diag([-1.0, 1, 1, 1])


def solid_of(p: Placed) -> Any:
    """Its solid in its own axes. Raises SolidError, which names it."""
    try:
        return solid(p.form)
    except SolidError as e:
        raise SolidError(f"{p.name}: {e}") from e


def drawn(
    done: Study,
    wheel_mm: float = 0.0,
    rack_mm: float = 0.0,
    wanted: Callable[[Placed], bool] = lambda _: True,
) -> Iterator[Drawn]:
    """Everything `wanted` of what is placed, as it stands with the wheel at a height and the rack off the
    middle; nothing of what is `unmade`."""
    layout, poses = needed(done.layout), done.mechanism.at(wheel_mm, rack_mm)
    tried = layout.once(Tried)
    for p in filter(wanted, layout.placed):
        if tried.refusal(p) is None:
            yield from _drawn(p, layout, poses)


class Tried:
    """What of a layout the CAD kernel makes solids of: each part is tried once, where it is asked for."""

    def __init__(self, layout: Layout):
        self.layout = layout
        self._known: dict[str, Exception | None] = {}

    def refusal(self, p: Placed) -> Exception | None:
        """Why there is no solid of it, as it is made and as it stands at ride height."""
        if p.name not in self._known:
            try:
                solid_of(p)
                _ = [*_drawn(p, self.layout)]
                self._known[p.name] = None
            except Exception as e:  # the kernel raises its own, undocumented kinds
                self._known[p.name] = e
        return self._known[p.name]


def solids(layout: Layout) -> dict[str, Any]:
    """Every placed part's solid in its own axes, by name; nothing of what is `unmade`."""
    without = unmade(layout)
    return {p.name: solid_of(p) for p in layout.placed if p.name not in without}


def unmade(layout: Layout, progress: Callable[..., None] = lambda *_: None) -> dict[str, Exception]:
    """What is placed and the CAD kernel makes no solid of, by name, and why."""
    tried, out = layout.once(Tried), dict[str, Exception]()
    for n, p in enumerate(layout.placed, 1):
        progress(f"solid: {p.name}", n, len(layout.placed))
        if (e := tried.refusal(p)) is not None:
            out[p.name] = e
    return out


def lacking(layout: Layout, progress: Callable[..., None] = lambda *_: None) -> list[Finding]:
    """A stop for each part that is `unmade`, with what therefore is not made and not looked at."""
    return [_stop(name, e) for name, e in unmade(layout, progress).items()]


def _stop(name: str, e: Exception) -> Finding:
    found = cannot(name, e)
    said = f"No solid of it can be made: {str(e).removeprefix(f'{name}: ')}." if is_refusal(e) else found.text
    return replace(
        found,
        text=f"{said} Its blanks and lengths stand as drawn, but no STEP file, picture or 3D view shows it, "
        f"and the CAD kernel has not looked for metal that it shares with anything.",
    )


def _drawn(p: Placed, layout: Layout, poses: Poses | None = None) -> Iterator[Drawn]:
    """The solids of one thing where they stand at a pose (None: at ride)."""

    def motion(carrier: str) -> np.ndarray:
        return np.eye(4) if poses is None or carrier == "frame" else poses.frame(carrier)

    where = motion(p.carrier) @ p.frame.matrix()
    if isinstance(p.part, BoltAndNut):
        for name, form in zip(PARTS, bolt_parts(p.part), strict=True):
            named = p.name if name == "bolt" else f"{p.name}'s {name}"
            yield Drawn(named, solid(form), where, p, p.carrier, form)
    elif p is layout.rod_placed and isinstance(p.part, Rod):
        yield Drawn(p.name, _rod(p.part), where, p, p.carrier)
        for end, at, along, carrier in (
            ("outboard", layout.job.rod.outboard, outboard_bolt(layout.job), bolt_carrier(layout.job)),
            ("inboard", layout.job.rod.inboard, layout.job.rocker.axis, "rocker"),
        ):
            lying = Frame.looking(at, along, np.eye(3)[int(np.argmin(np.abs(along)))])
            yield Drawn(
                f"{p.name} {end} ball",
                _ball(p.part),
                motion(carrier) @ lying.matrix(),
                p,
                carrier,
                Form((_slab(p.part, 2 * ball_radius_mm(p.part)),)),
            )
    elif p is layout.pack:
        turn = twist_deg(layout, float(poses.rocker_rad) if poses else 0.0)
        made = twisted_pack(layout, turn)
        round_it = Round(
            p.part.circle_mm,
            p.part.length_mm + 2 * p.part.socket_mm,
            0.0,
            Frame((0.0, 0.0, -p.part.socket_mm)),
        )
        yield Drawn(p.name, made, where, p, p.carrier, Form((round_it,)))
    else:
        yield Drawn(p.name, solid_of(p), where, p, p.carrier)


@lru_cache(maxsize=256)
def bolt_parts(b: BoltAndNut) -> tuple[Form, ...]:
    """Bolt, head washer, nut washers (and collar) and nut, in the order of PARTS."""
    head, washer, shank, packing, nut = b.form().pieces
    return Form((head, shank)), Form((washer,)), Form((packing,)), Form((nut,))


def twist_deg(layout: Layout, rocker_rad: float) -> float:
    """How far the rocker's end of a pack is turned from its far end, right-handed about the pack's z: the
    rocker's angle from where the spring carries nothing."""
    along = float(np.dot(needed(layout.pack).frame.z, needed(layout.eyes).frame.z))
    return math.copysign(1.0, along) * (math.degrees(rocker_rad) - (layout.slack_rocker_deg or 0.0))


def twisted_pack(layout: Layout, degrees: float) -> Any:
    """The pack, or the bar, in its own axes with its rocker's end turned so far."""
    return _twisted(needed(layout.pack).part, degrees, needed(layout.socket).part.spring_corner_mm)


# ------------------------------------------------------------ solids


@lru_cache(maxsize=64)
def _twisted(part: LeafPack | TorsionBar, degrees: float, edge_mm: float):
    """The ends straight in their sockets, the free length twisted between; a round bar shows it by its heads
    alone. The outer edges are dressed to the radius that the sockets' windows ask for."""
    turned = Frame((0.0, 0.0, 0.0), (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)), 0.0))
    if isinstance(part, TorsionBar):
        head, bar, far = part.form().pieces
        head, far = (
            replace(h, outline=replace(h.outline, outer=rounded(_corners(h.outline), edge_mm)))
            for h in (head, far)
            if isinstance(h, Prism)
        )
        return solid(Form((*Form((head,)).moved(turned).pieces, bar, far)))
    strips = [p.outline for p in part.form().pieces if isinstance(p, Prism)]
    n = len(strips)
    edges = [(edge_mm * (k == 0),) * 2 + (edge_mm * (k == n - 1),) * 2 for k in range(n)]
    strips = [Outline(rounded(_corners(o), r)) for o, r in zip(strips, edges, strict=True)]
    return twisted(strips, part.length_mm, part.socket_mm, degrees)


def _corners(outline: Outline) -> list[tuple[float, float]]:
    return [(v.x, v.y) for v in outline.outer.vertices]


def _split(rod: Rod) -> tuple[list[Piece], Piece, Piece]:
    """All but the balls, and the balls: outboard, inboard."""
    n = rod.end_pieces
    out, rest = rod.outboard_end().pieces, rod.rest().pieces
    keep = [
        *(p for k, p in enumerate(out) if k != 1),
        *(p for k, p in enumerate(rest) if k != len(rest) - n + 1),
    ]
    return keep, out[1], rest[len(rest) - n + 1]


def ball_radius_mm(rod: Rod) -> float:
    """Of the sphere in the housing: the rod end's own, as far as the housing leaves it a rim."""
    return min(rod.rod_end.ball_diameter_mm, rod.rod_end.housing_diameter_mm - 2 * RIM_MM) / 2


@lru_cache(maxsize=8)
def _rod(rod: Rod):
    keep, _, _ = _split(rod)
    across = rod.outboard_end().pieces[0].frame.z, rod.rest().pieces[-rod.end_pieces].frame.z
    hollow = [
        ball((0.0, 0.0, z), ball_radius_mm(rod), along)
        for z, along in zip((0.0, rod.length_mm), across, strict=True)
    ]
    form = Form(tuple(keep))
    said = f"hollowed {form.key} {ball_radius_mm(rod)!r} {rod.length_mm!r} {across!r}"
    return once(said, lambda: without(solid(form), *hollow))


@lru_cache(maxsize=8)
def _ball(rod: Rod):
    """A sphere cut to the ball's width and bored, its bore along z, its middle at the origin."""
    e = rod.rod_end
    form, r = Form((_slab(rod, 2 * e.ball_diameter_mm),)), ball_radius_mm(rod) - RACE_MM
    return once(f"ball {r!r} within {form.key}", lambda: common(ball((0.0, 0.0, 0.0), r), solid(form)))


def _slab(rod: Rod, diameter_mm: float) -> Round:
    """As wide as the ball, bored, its middle at the origin."""
    (_, _, ring) = _split(rod)
    assert isinstance(ring, Round)  # the ball
    return replace(ring, diameter_mm=diameter_mm, frame=Frame((0.0, 0.0, -ring.length_mm / 2)))
