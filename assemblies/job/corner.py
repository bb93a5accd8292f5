"""The tables of one corner's linkage as frozen models: attribute names are the file's keys, lengths are mm.

Rules between keys of one table stand beside the later key, rules between tables in `assemblies.job.checks`. A
key with a default says why beside it. A table whose name the thing itself has too ends in `Table`. The
spring's tables stand in `spring`, the others in `gaps`, `cutting` and `loads`.
"""

import math
from typing import Annotated

from pydantic import AfterValidator, ValidationInfo, field_validator

from assemblies.job.sense import POINTS, SIZES
from assemblies.job.values import (
    HOLLOW,
    NO_GRADE,
    Angle,
    Direction,
    Flag,
    Hole,
    Length,
    Name,
    Noted,
    Point,
    Quantity,
    Radius,
    Steel,
    Swing,
    Table,
    Thickness,
    ThreadSize,
    Travel,
    Tube,
    Wall,
    Word,
    assume,
    below,
    derived,
    from_others,
    refuse,
)
from parts.base.stock import THREADS, rod_end


class CornerTable(Noted):
    table = "corner"
    side: Annotated[str, Word(("left", "right"))]
    corner_mass: Annotated[float, Quantity(5, 5000, "kg")]  # on this wheel at ride height, driver aboard
    unsprung_mass: Annotated[
        float, Quantity(0.5, 1000, "kg"), below("corner_mass", 1, "corner_mass includes it", unit="kg")
    ]
    bump: Travel  # wheel travel up from ride height
    droop: Travel  # wheel travel down from ride height
    as_measured: tuple[Annotated[str, Word((*POINTS, "rocker.axis", *SIZES))], ...] = assume(
        (), "points out of what cars have are taken for slips of the pen"
    )


class WheelTable(Noted):
    table = "wheel"
    centre: Point
    contact: Point
    tyre_width: Annotated[float, Quantity(50, 600)]
    rim_diameter: Annotated[float, Quantity(100, 800)]
    tyre_radius: Annotated[float, Quantity(60, 800), derived(lambda d: d["centre"][2] - d["contact"][2])] = (
        assume(None, "wheel centre's height over the contact")
    )
    static_camber: Angle = assume(0.0, "camber is told relative to ride height")
    static_toe: Angle = assume(0.0, "toe is told relative to ride height")
    rim_thickness: Annotated[float, Quantity(0, 100)] = assume(
        12.0, "rim radius less the inside of the barrel, common practice"
    )


Leg = Annotated[float, Quantity(1, 20)]  # of a fillet
Rating = Annotated[float, Quantity(100, 1e6, "N")]
NO_RATING = "bought: its maker's static rating is not given"
NO_SWING = "bought: how far it swings from its middle is not given"
THINNER = "leg of the feet's fillets: the thinner of tab and tube"


class ArmTable(Noted):
    front_pivot: Point
    rear_pivot: Point
    outer_joint: Point
    tube_diameter: Tube
    tube_wall: Annotated[Wall, below("tube_diameter", 0.5, HOLLOW, equal=True)] = assume(
        2.0, "usual wall of an arm's tube"
    )
    material: Steel = assume("unknown", NO_GRADE)
    thread: ThreadSize = assume("M10", "usual rod end at the frame; sets bolt and eye width of the pick-up")
    bracket_thickness: Thickness = assume(3.0, "the same plate as most brackets, common practice")
    bracket_weld: Leg | None = assume(None, THINNER)
    joint_rating: Rating | None = assume(None, NO_RATING)
    joint_swing: Swing | None = assume(None, NO_SWING)


class UpperArm(ArmTable):
    table = "upper_arm"


class LowerArm(ArmTable):
    table = "lower_arm"


class TieRod(Noted):
    table = "tie_rod"
    inner: Point
    outer: Point
    diameter: Tube
    rack_travel: Annotated[float, Quantity(0, 200)] = assume(
        0.0, "the stroke of [rack]; without one no steering: a fixed toe link"
    )
    wall: Annotated[Wall, below("diameter", 0.5, HOLLOW, equal=True)] | None = assume(
        None, "bought: its strength is its maker's; give the wall of a made one"
    )
    thread: ThreadSize | None = assume(
        None, "bought: its strength is its maker's; give the rod ends' thread of a made one"
    )
    material: Steel = assume("unknown", NO_GRADE)
    joint_rating: Rating | None = assume(None, NO_RATING)
    joint_swing: Swing | None = assume(None, NO_SWING)
    member: Name | None = assume(
        None, "not given: nothing holds its inner end, or the rack that does, which is a stop"
    )


TYPICAL_END = "typical rod end of this thread: measure yours"


class RodEndSize(Table):
    """Measured size of the rod's two rod ends."""

    housing_diameter: Annotated[float, Quantity(5, 150), from_others] = assume(None, TYPICAL_END)
    housing_width: Annotated[float, Quantity(2, 100), from_others] = assume(None, TYPICAL_END)
    ball_width: Annotated[float, Quantity(2, 100), from_others] = assume(None, TYPICAL_END)
    bore: Annotated[float, Quantity(2, 80), from_others] = assume(None, TYPICAL_END)
    static_rating: Annotated[float, Quantity(100, 1e6, "N")] | None = assume(
        None, "not given: its maker's static radial load rating"
    )
    swing: Swing | None = assume(None, NO_SWING)
    stem_yield: Annotated[float, Quantity(100, 2000, "MPa")] | None = assume(
        None, "not known: counted as S235"
    )


def _thread_fits(thread: str, info: ValidationInfo) -> str:
    size, rod = THREADS[thread].diameter_mm, info.data.get("diameter", math.inf)
    if size >= rod:
        raise refuse(f"is {thread}", f"must be smaller than the rod's diameter {rod:g} mm")
    return thread


def _size_from_thread(given: RodEndSize, info: ValidationInfo) -> RodEndSize:
    if "thread" not in info.data:
        return given
    typical = rod_end(info.data["thread"])
    sizes = {
        k: v
        if v is not None or k in ("static_rating", "swing", "stem_yield")
        else float(getattr(typical, f"{k}_mm"))
        for k, v in given
    }
    if not sizes["bore"] < sizes["housing_diameter"]:
        raise refuse(
            f"has a bore of {sizes['bore']:g}",
            f"must be less than the housing's {sizes['housing_diameter']:g}",
        )
    return RodEndSize.model_construct(given.model_fields_set, **sizes)


class RodTable(Noted):
    table = "rod"
    kind: Annotated[str, Word(("pull", "push"))]
    on: Annotated[str, Word(("upper_arm", "lower_arm", "upright"))]
    outboard: Point
    inboard: Point
    diameter: Tube
    wall: Annotated[Wall, below("diameter", 0.5, HOLLOW, equal=True)]
    thread: Annotated[ThreadSize, AfterValidator(_thread_fits)]
    material: Steel = assume("unknown", NO_GRADE)
    rod_end: Annotated[RodEndSize, AfterValidator(_size_from_thread)] = assume({}, TYPICAL_END)
    lug_diameter: Annotated[float, Quantity(8, 100)] | None = assume(
        None, "sleeves round the outboard bolt with 4 mm of wall, 3 mm where they go through the arm's tubes"
    )
    lug_thickness: Thickness | None = assume(None, "the rocker's plate")


class RoundTube(Table):
    outer: Tube
    wall: Annotated[Wall, below("outer", 0.5, HOLLOW)]


class Rocker(Noted):
    table = "rocker"
    pivot: Point
    axis: Direction
    damper_eye: Point
    plate_thickness: Thickness
    plate_material: Steel = assume("unknown", NO_GRADE)
    box_width: Annotated[float, Quantity(5, 300)]  # gap between the plates
    pivot_tube: RoundTube
    pivot_tube_measured: Tube | None = assume(
        None, "the tube's nominal outside: measure the tube in hand before the plates are cut"
    )
    rod_hole: Hole
    damper_hole: Hole
    pivot_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    rod_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    damper_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    waist_radius: Annotated[float, Quantity(5, 5000)] | None = assume(
        None, "a hollow between the eyes, sized to leave a sound neck"
    )
    window: Flag = assume(False, "no lightening window")
    jig_hole: Annotated[float, Quantity(2, 30)] = assume(6.0, "usual jig pin")
    weld_leg: Annotated[float, Quantity(1, 20)] | None = assume(None, "a plate thickness")

    @field_validator("pivot_tube_measured", mode="after")
    @classmethod
    def _that_tube(cls, measured: float | None, info: ValidationInfo) -> float | None:
        tube = info.data.get("pivot_tube")
        if measured is not None and tube and abs(measured - tube.outer) > 1.0:
            raise refuse(
                f"is {measured:g} mm", f"must be within 1 mm of the tube's nominal outside, {tube.outer:g}"
            )
        return measured

    @field_validator("pivot_boss_radius", "rod_boss_radius", "damper_boss_radius", mode="after")
    @classmethod
    def _metal_round_the_hole(cls, radius: float | None, info: ValidationInfo) -> float | None:
        data = info.data
        tube = data.get("pivot_tube")
        holes = {"rod_boss_radius": data.get("rod_hole"), "damper_boss_radius": data.get("damper_hole")}
        hole = holes.get(info.field_name or "", tube and tube.outer)
        if radius is not None and hole and radius <= hole / 2:
            raise refuse(f"is {radius:g} mm", f"must be more than {hole / 2:g} mm, the radius of its hole")
        return radius


class DamperTable(Noted):
    table = "damper"
    chassis_eye: Point
    longest: Length  # eye to eye
    shortest: Annotated[Length, below("longest", 1, "swap them if they were mixed up")]
    body_diameter: Annotated[float, Quantity(5, 200)]
    shaft_diameter: Annotated[float, Quantity(2, 100), below("body_diameter")] = assume(
        14.0, "usual shaft: measure yours"
    )
    eye_width: Annotated[float, Quantity(2, 150), from_others] = assume(
        None, "20, or what leaves 3 each side in the box: measure yours"
    )
    eye_diameter: Annotated[float, Quantity(5, 200)] = assume(30.0, "usual eye: measure yours")
    body_from_eye: Annotated[float, Quantity(5, 200)] | None = assume(
        None, "the body begins 3 mm clear of the tabs or plates its eye sits between: measure yours"
    )
    body_end: Annotated[str, Word(("chassis", "rocker"))] = assume(
        "chassis", "body at the frame is the usual way round"
    )
    bracket_thickness: Annotated[Thickness, from_others] = assume(None, "the rocker's plate")
    bracket_weld: Leg | None = assume(None, THINNER)
    top_out_stiffness: Annotated[float, Quantity(1, 1e5, "N/mm")] | None = assume(
        None, "not known: what it bears as it tops out is not told; give it for one that is the droop stop"
    )


def eye_in_box(damper: DamperTable, info: ValidationInfo) -> DamperTable:
    """The damper with its eye's width and bracket's plate, which follow the rocker, worked out where they
    were not given."""
    if "rocker" not in info.data:
        return damper
    width = (
        damper.eye_width
        if damper.eye_width is not None
        else max(2.0, min(20.0, info.data["rocker"].box_width - 6.0))
    )
    plate = (
        damper.bracket_thickness
        if damper.bracket_thickness is not None
        else info.data["rocker"].plate_thickness
    )
    return DamperTable.model_construct(
        damper.model_fields_set, **dict(damper) | {"eye_width": width, "bracket_thickness": plate}
    )
