"""The steering rack of the axle: its length, stroke and housing, and how its ends meet the tie rods.
Optional; the place may be left out where it is still to be found (`rockershed steer`).

The rack lies along y, level and square across the car: motion, gaps and steering numbers move the inner
joints along y, and take the other side for this one's mirror image. On a bar that lies askew the joints move
along the bar and the two sides are unlike, so `tilt` beyond what its end may be off is refused, not ignored.
Turned about its own axis a rack is the same; its ears and pinion stand where their own points say.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, NamedTuple

import numpy as np
from pydantic import Field, ValidationInfo

from assemblies.job.values import (
    NO_GRADE,
    Coordinates,
    Noted,
    Point,
    Quantity,
    Steel,
    Table,
    ThreadSize,
    assume,
    derived,
)
from parts.base.stock import THREADS

RACK_BODIES = ("rack housing", "rack end")  # what [rack] makes, in the gaps
ON_MM = 1.0  # an inner joint this near to the rack's end is on it
ENGAGED = 1.5  # thread diameters of engagement, common practice in steel
USUAL = "usual: measure yours"
Extension = Annotated[float, Quantity(0, 600)]


class Pinion(Table):
    """The pinion's housing with the column's joint: a round from the rack to the joint."""

    from_: Point = Field(alias="from")
    to: Point
    diameter: Annotated[float, Quantity(10, 200)]


class Ear(Table):
    """A box along the car's axes round one ear of the housing with its bolts."""

    centre: Point
    size: Annotated[tuple[float, float, float], Coordinates(3, 500)]


class RackTable(Noted):
    """`length`: between its own inner joints' centres, without extensions."""

    table = "rack"
    length: Annotated[float, Quantity(100, 2000)]
    stroke: Annotated[float, Quantity(1, 200)]  # each way from the middle
    mm_per_turn: Annotated[float, Quantity(5, 300)] | None = assume(
        None, "not given: turns lock to lock are not told"
    )
    centre: Point | None = assume(None, "not yet found: in line with tie_rod.inner, on the car's middle")
    tilt: Annotated[float, Quantity(0, 90, "deg")] = assume(  # of its axis off y, whichever way
        0.0, "level and square across the car: measure both ends' heights and fore-aft"
    )
    extension: Extension | None = assume(None, "what reaches tie_rod.inner")
    other_extension: Extension | None = assume(None, "as this side's")
    housing_diameter: Annotated[float, Quantity(10, 200)] = assume(45.0, USUAL)
    housing_length: Annotated[
        float,
        Quantity(50, 2000),
        derived(lambda d: max(50.0, d["length"] - 2 * d["stroke"] - 60)),
    ] = assume(None, "length less both strokes and 60 of boots: measure yours")
    ear: tuple[Ear, ...] = assume((), "no ears given: they are not looked at")
    pinion: Pinion | None = assume(None, "no pinion given: it is not looked at")
    bar_diameter: Annotated[float, Quantity(8, 60)] = assume(24.0, f"the toothed bar, {USUAL}")
    thread: ThreadSize = assume("M14", f"of the bar's ends, {USUAL}")
    engagement: Annotated[
        float,
        Quantity(1, 200),
        derived(lambda d: ENGAGED * THREADS[d["thread"]].diameter_mm),
    ] = assume(None, "1.5 times the thread, common practice")
    extension_diameter: Annotated[float, Quantity(8, 80), derived(lambda d: d["bar_diameter"])] = assume(
        None, "as the bar"
    )
    extension_material: Steel = assume("unknown", NO_GRADE)
    joint_reach: Annotated[float, Quantity(0, 150)] = assume(
        25.0, f"inner joint's shoulder to its ball, {USUAL}"
    )


def steered_by(tie_rod: Any, info: ValidationInfo) -> Any:
    """The tie rod with the rack's stroke as its travel, where a rack is given and the travel is not."""
    rack = info.data.get("rack")
    if rack is None or "rack_travel" in tie_rod.model_fields_set:
        return tie_rod
    return type(tie_rod).model_construct(
        tie_rod.model_fields_set, **dict(tie_rod) | {"rack_travel": rack.stroke}
    )


def place(rack: RackTable, inner) -> tuple[float, float, float]:
    """The rack's middle: as given, else in line with the inner joint on the car's middle."""
    return rack.centre if rack.centre is not None else (inner[0], 0.0, inner[2])


def extensions(length: float, centre_y: float, inner_y: float) -> tuple[float, float]:
    """Extension that reaches the inner joint on this side and, mirrored, on the other; negative: too long a
    rack.

    >>> extensions(400.0, 0.0, 318.0), extensions(400.0, -10.0, 318.0)
    ((118.0, 118.0), (128.0, 108.0))
    """
    side = 1.0 if inner_y > 0 else -1.0
    return side * (inner_y - centre_y) - length / 2, side * (inner_y + centre_y) - length / 2


Problem = tuple[str, str, str, str]  # key, value, limit, cure


class Fit(NamedTuple):
    """What of a job says how the rack meets the tie rods, as far as it was read."""

    seen: Mapping[str, Any]
    length: float
    stroke: float
    inner: Sequence[float]
    outer: Sequence[float]

    @property
    def side(self) -> float:
        return 1.0 if self.outer[1] > 0 else -1.0

    @property
    def centre(self) -> Sequence[float]:
        return self.seen.get("rack.centre") or (self.inner[0], 0.0, self.inner[2])

    @property
    def needed(self) -> tuple[float, float]:
        return extensions(self.length, self.centre[1], self.inner[1])


def problems(seen: Mapping[str, Any]) -> Iterator[Problem]:
    """Every rule between rack, tie rods and wheels that is broken, up to the first that leaves the next
    without sense."""
    if not {"rack.length", "rack.stroke", "tie_rod.inner", "tie_rod.outer"} <= seen.keys():
        return
    length, stroke, inner, outer = (
        seen[k] for k in ("rack.length", "rack.stroke", "tie_rod.inner", "tie_rod.outer")
    )
    travel = seen.get("tie_rod.rack_travel")
    fit = Fit(seen, length, stroke, inner, outer)
    before = _between_wheels(fit) or _own_side(fit)
    if before is None and travel is not None and travel > stroke:
        yield (
            "tie_rod.rack_travel",
            f"is {travel:g} mm",
            f"must be at most rack.stroke {stroke:g} mm",
            "the rack ends there",
        )
    rules = (_lies_across, _on_axis, _not_too_long, _extension, _alike, _outside_housing)
    if broken := before or next((p for rule in rules if (p := rule(fit))), None):
        yield broken


def _between_wheels(r: Fit) -> Problem | None:
    wheel, width = r.seen.get("wheel.centre"), r.seen.get("wheel.tyre_width")
    if not (wheel and width and r.length >= (gap := 2 * abs(wheel[1]) - width)):
        return None
    return (
        "rack.length",
        f"is {r.length:g} mm",
        f"must be less than {gap:g} mm, the gap between the wheels",
        "measure between the rack's own inner joints",
    )


def _own_side(r: Fit) -> Problem | None:
    if 0 < r.side * r.inner[1] < r.side * r.outer[1]:
        return None
    return (
        "tie_rod.inner",
        f"has y {r.inner[1]:g}",
        f"must lie between the car's middle and tie_rod.outer's y {r.outer[1]:g}",
        "a rack's end stands inboard of the steering arm, on its own side",
    )


def _lies_across(r: Fit) -> Problem | None:
    tilt, y, middle = r.seen.get("rack.tilt", 0.0), r.inner[1], r.centre[1]
    reach = max(abs(y - middle), abs(y + middle))
    if reach * math.sin(math.radians(tilt)) <= ON_MM:
        return None
    most = math.floor(1000 * math.degrees(math.asin(ON_MM / reach))) / 1000
    return (
        "rack.tilt",
        f"is {tilt:g} deg",
        f"must be at most {most:.3f} deg, {ON_MM:g} mm at the inner "
        "joint: only a rack along y, level and square across the car, is worked out; askew, the joints "
        "move along the bar and left and right are unlike",
        "shim the rack's mounts until it lies so; there is no way round this here",
    )


def _on_axis(r: Fit) -> Problem | None:
    off = math.hypot(r.inner[0] - r.centre[0], r.inner[2] - r.centre[2])
    if off <= ON_MM:
        return None
    return (
        "tie_rod.inner",
        f"is {off:.4g} mm off the rack's axis",
        f"must lie on it: x {r.centre[0]:g}, z {r.centre[2]:g}",
        "move it there, or correct rack.centre; a rack that lies askew is not worked out (rack.tilt)",
    )


def _not_too_long(r: Fit) -> Problem | None:
    needed = r.needed
    if min(needed) >= -ON_MM:
        return None
    k = int(np.argmin(needed))
    return (
        "rack.length",
        f"is {r.length:g} mm: its end stands {-needed[k]:.4g} mm outboard of "
        f"{'tie_rod.inner' if k == 0 else 'the other tie rod'}",
        f"must be at most {r.length + 2 * needed[k]:.6g} mm",
        "take a shorter rack, or move tie_rod.inner outboard",
    )


def _extension(r: Fit) -> Problem | None:
    given, needed = r.seen.get("rack.extension"), r.needed[0]
    if given is None or abs(given - needed) <= ON_MM:
        return None
    end = r.inner[1] - r.side * (needed - given)
    return (
        "tie_rod.inner",
        f"is {abs(given - needed):.4g} mm from the rack's end at y {end:.6g}",
        f"must stand on it within {ON_MM:g} mm",
        f"move it, or write rack.extension = {needed:.4g}",
    )


def _alike(r: Fit) -> Problem | None:
    """The other side's extension: as given, else this side's."""
    this, other = r.needed
    given = r.seen.get("rack.other_extension")
    there = next((e for e in (given, r.seen.get("rack.extension")) if e is not None), this)
    if abs(there - other) <= ON_MM:
        return None
    cure = f"put rack.centre on the car's middle, or ask for it: rack.other_extension = {other:.4g}"
    if given is None:
        said = f"leaves {this:.4g} mm of extension on this side and asks {other:.4g} on the other"
        return "rack.centre", said, "left and right must be alike", cure
    limit = f"must be {other:.4g} mm to reach the other tie rod"
    return "rack.other_extension", f"is {there:g} mm", limit, cure


def _outside_housing(r: Fit) -> Problem | None:
    housing = r.seen.get("rack.housing_length")
    reach = r.side * (r.inner[1] - r.centre[1]) - r.stroke
    if housing is None or min(reach, r.length / 2 + r.needed[1] - r.stroke) > housing / 2:
        return None
    return (
        "rack.stroke",
        f"is {r.stroke:g} mm: it draws the inner joint {housing / 2 - reach:.4g} mm into the housing",
        f"must leave the joint outside half of rack.housing_length {housing:g} mm",
        "correct the stroke, the housing's length or the extension",
    )
