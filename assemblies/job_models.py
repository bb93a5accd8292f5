"""The tables of one corner as frozen models: attribute names are the file's keys, every length is in mm.

Rules between keys of one table stand beside the later key, rules between tables in `assemblies.job_checks`. A key with a
default says why beside it.
"""
from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from assemblies.job_checks import HEADINGS
from assemblies.job_values import (
    HOLLOW,
    NO_GRADE,
    Angle,
    Direction,
    Flag,
    Gap,
    Hole,
    Length,
    Modulus,
    Point,
    Quantity,
    Radius,
    Steel,
    Table,
    Teeth,
    Thickness,
    ThreadSize,
    Travel,
    Tube,
    Wall,
    Word,
    assume,
    below,
    derived,
    refuse,
)
from parts.stock import SPRING_G_MPA, THREADS, rod_end

# ------------------------------------------------------------------------------------------------ the corner

class Corner(Table):
    table = "corner"
    side: Annotated[str, Word(("left", "right"))]
    corner_mass: Annotated[float, Quantity(5, 5000, "kg")]  # on this wheel at ride height, driver aboard
    unsprung_mass: Annotated[float, Quantity(0.5, 1000, "kg"), below("corner_mass", 1, "corner_mass includes it", unit="kg")]
    bump: Travel  # wheel travel up from ride height
    droop: Travel  # wheel travel down from ride height


class Wheel(Table):
    table = "wheel"
    centre: Point
    contact: Point
    tyre_width: Annotated[float, Quantity(50, 600)]
    rim_diameter: Annotated[float, Quantity(100, 800)]
    tyre_radius: Annotated[Annotated[float, Quantity(60, 800)] | None,
                           derived(lambda d: d["centre"][2] - d["contact"][2])] = assume(
        None, "wheel centre's height over the contact")
    static_camber: Angle = assume(0.0, "camber is told relative to ride height")
    static_toe: Angle = assume(0.0, "toe is told relative to ride height")
    rim_thickness: Annotated[float, Quantity(0, 100)] = assume(
        12.0, "rim radius less the inside of the barrel, common practice")


class Arm(Table):
    front_pivot: Point
    rear_pivot: Point
    outer_joint: Point
    tube_diameter: Tube
    tube_wall: Annotated[Wall, below("tube_diameter", 0.5, HOLLOW, equal=True)] = assume(2.0, "usual wall of an arm's tube")
    material: Steel = assume("unknown", NO_GRADE)
    thread: ThreadSize = assume("M10", "usual rod end at the frame; sets bolt and eye width of the pick-up")


class UpperArm(Arm):
    table = "upper_arm"


class LowerArm(Arm):
    table = "lower_arm"


class TieRod(Table):
    table = "tie_rod"
    inner: Point
    outer: Point
    diameter: Tube
    rack_travel: Annotated[float, Quantity(0, 200)] = assume(0.0, "no steering: a fixed toe link")


TYPICAL_END = "typical rod end of this thread: measure yours"


class RodEndSize(Table):
    """Measured size of the rod's two rod ends."""

    housing_diameter: Annotated[float, Quantity(5, 150)] | None = assume(None, TYPICAL_END)
    housing_width: Annotated[float, Quantity(2, 100)] | None = assume(None, TYPICAL_END)
    ball_width: Annotated[float, Quantity(2, 100)] | None = assume(None, TYPICAL_END)
    bore: Annotated[float, Quantity(2, 80)] | None = assume(None, TYPICAL_END)


def _thread_fits(thread: str, info: ValidationInfo) -> str:
    size, rod = THREADS[thread].diameter_mm, info.data.get("diameter", math.inf)
    if size >= rod:
        raise refuse(f"is {thread}", f"must be smaller than the rod's diameter {rod:g} mm")
    return thread


def _size_from_thread(given: RodEndSize, info: ValidationInfo) -> RodEndSize:
    if "thread" not in info.data:
        return given
    typical = rod_end(info.data["thread"])
    sizes = {k: v if v is not None else float(getattr(typical, f"{k}_mm")) for k, v in given}
    if not sizes["bore"] < sizes["housing_diameter"]:
        raise refuse(f"has a bore of {sizes['bore']:g}", f"must be less than the housing's {sizes['housing_diameter']:g}")
    return RodEndSize.model_construct(given.model_fields_set, **sizes)


class Rod(Table):
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


class RoundTube(Table):
    outer: Tube
    wall: Annotated[Wall, below("outer", 0.5, HOLLOW)]


class Rocker(Table):
    table = "rocker"
    pivot: Point
    axis: Direction
    damper_eye: Point
    plate_thickness: Thickness
    plate_material: Steel = assume("unknown", NO_GRADE)
    box_width: Annotated[float, Quantity(5, 300)]  # gap between the plates
    pivot_tube: RoundTube
    rod_hole: Hole
    damper_hole: Hole
    pivot_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    rod_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    damper_boss_radius: Radius | None = assume(None, "sized from forces and edge distances")
    waist_radius: Annotated[float, Quantity(5, 5000)] | None = assume(None, "a hollow between the eyes, sized to leave a sound neck")
    window: Flag = assume(False, "no lightening window")
    jig_hole: Annotated[float, Quantity(2, 30)] = assume(6.0, "usual jig pin")

    @field_validator("pivot_boss_radius", "rod_boss_radius", "damper_boss_radius", mode="after")
    @classmethod
    def _metal_round_the_hole(cls, radius: float | None, info: ValidationInfo) -> float | None:
        data = info.data
        tube = data.get("pivot_tube")
        hole = {"pivot_boss_radius": tube and tube.outer, "rod_boss_radius": data.get("rod_hole"),
                "damper_boss_radius": data.get("damper_hole")}[info.field_name]
        if radius is not None and hole and radius <= hole / 2:
            raise refuse(f"is {radius:g} mm", f"must be more than {hole / 2:g} mm, the radius of its hole")
        return radius


class Damper(Table):
    table = "damper"
    chassis_eye: Point
    longest: Length  # eye to eye
    shortest: Annotated[Length, below("longest", 1, "swap them if they were mixed up")]
    body_diameter: Annotated[float, Quantity(5, 200)]
    shaft_diameter: Annotated[float, Quantity(2, 100), below("body_diameter")] = assume(14.0, "usual shaft: measure yours")
    eye_width: Annotated[float, Quantity(2, 150)] | None = assume(
        None, "20, or what leaves 3 each side in the box: measure yours")
    eye_diameter: Annotated[float, Quantity(5, 200)] = assume(30.0, "usual eye: measure yours")
    body_end: Annotated[str, Word(("chassis", "rocker"))] = assume("chassis", "body at the frame is the usual way round")


def eye_in_box(damper: Damper, info: ValidationInfo) -> Damper:
    """The damper with its eye's width, which needs the rocker's box, worked out where it was not given."""
    if damper.eye_width is not None or "rocker" not in info.data:
        return damper
    width = max(2.0, min(20.0, info.data["rocker"].box_width - 6.0))
    return Damper.model_construct(damper.model_fields_set, **dict(damper) | {"eye_width": width})


# ------------------------------------------------------------------------------------------------ springs

class ClockingTeeth(Table):
    sleeve: Teeth
    anchor: Teeth


NO_TEETH = "no clocking teeth: the sleeve is set at any angle and drilled"
NO_HOUSING = "no tube round the bar"


class TorsionSpring(Table):
    """What the rotary springs share; `length` is free length between the fixed end and the rocker's socket."""

    table = "spring"
    teeth: ClockingTeeth | None = assume(None, NO_TEETH)
    shear_modulus: Modulus = assume(SPRING_G_MPA, "usual for spring steel")
    towards: Annotated[str, Word(tuple(HEADINGS))] = assume("rear", "the spring lies behind the rocker")


class LeafPack(TorsionSpring):
    kind: Literal["leaf-pack"]
    leaves: Annotated[int, Quantity(1, 60, "", whole=True)]
    leaf_width: Annotated[float, Quantity(3, 300)]
    leaf_thickness: Annotated[float, Quantity(0.3, 60), below("leaf_width", 1, "swap them if they were mixed up", equal=True)]
    length: Length
    slide: Annotated[float, Quantity(0, 2000), below("length", 0.9)] = assume(0.0, "pack does not slide")
    housing: RoundTube

    @field_validator("housing", mode="after")
    @classmethod
    def _stack_fits(cls, housing: RoundTube, info: ValidationInfo) -> RoundTube:
        d = info.data
        if all(k in d for k in ("leaves", "leaf_width", "leaf_thickness")):
            across = math.hypot(d["leaf_width"], d["leaves"] * d["leaf_thickness"])
            _bore_clears(housing, across, "the leaf stack's diagonal")
        return housing


class SolidBar(TorsionSpring):
    kind: Literal["solid-bar"]
    diameter: Annotated[float, Quantity(3, 150)]
    length: Length
    housing: RoundTube | None = assume(None, NO_HOUSING)

    @field_validator("housing", mode="after")
    @classmethod
    def _bar_fits(cls, housing: RoundTube | None, info: ValidationInfo) -> RoundTube | None:
        if housing and "diameter" in info.data:
            _bore_clears(housing, info.data["diameter"], "the bar's diameter")
        return housing


class SpringTube(TorsionSpring):
    kind: Literal["tube"]
    outer: Annotated[float, Quantity(3, 150)]
    wall: Annotated[Wall, below("outer", 0.5, HOLLOW)]
    length: Length
    housing: RoundTube | None = assume(None, NO_HOUSING)

    @field_validator("housing", mode="after")
    @classmethod
    def _tube_fits(cls, housing: RoundTube | None, info: ValidationInfo) -> RoundTube | None:
        if housing and "outer" in info.data:
            _bore_clears(housing, info.data["outer"], "the spring tube's outside")
        return housing


class CoilOver(Table):
    kind: Literal["coil-over"]
    rate: Annotated[float, Quantity(0.5, 5000, "N/mm")]
    free_length: Annotated[float, Quantity(20, 1500)]
    outer_diameter: Annotated[float, Quantity(10, 400)]
    seat: Annotated[float, Quantity(5, 300)] = assume(50.0, "shaft eye to the coil's seat, with eye and bump rubber: measure yours")


Spring = Annotated[LeafPack | SolidBar | SpringTube | CoilOver, Field(discriminator="kind")]


def _bore_clears(housing: RoundTube, across: float, what: str) -> None:
    bore = housing.outer - 2 * housing.wall
    if bore <= across:
        limit = f"must be more than {across:.4g} mm, {what}"
        raise refuse(f"has a bore of {bore:.4g} mm", limit, "take a larger or thinner tube")


# ------------------------------------------------------------------------------------------------ gaps, cutting, loads

class Clearance(Table):
    fixed: Gap = assume(8.0, "to a fixed tube 6 to 10, common practice")
    moving: Gap = assume(12.0, "between moving parts 10 to 15, common practice")
    tyre: Gap = assume(20.0, "tyre to anything 15 to 25, common practice")
    tolerance: Annotated[float, Quantity(0.001, 10)] = assume(0.1, "how near the guaranteed gap is to the true one")
    flex: Annotated[float, Quantity(0, 50)] = assume(0.0, "no flex or tyre growth added to the gaps")


KERF_MM = {"plasma": 1.5, "hand": 1.2, "laser": 0.2, "waterjet": 0.8}


class Process(Table):
    cutting: Annotated[str, Word(tuple(KERF_MM))] = assume("plasma", "plasma or hand cutting is the home shop's way")
    kerf: Annotated[Annotated[float, Quantity(0, 10)] | None, derived(lambda d: KERF_MM[d["cutting"]])] = assume(
        None, "usual for this way of cutting: measure a trial cut")
    smallest_hole: Annotated[float, Quantity(0, 500)] | None = assume(
        None, "plasma, hand: no fitted hole, none under twice the plate; laser, waterjet: none under the plate; common practice")
    compensation: Flag = assume(False, "blanks are nominal size")


class Loads(Table):
    vertical_g: Annotated[float, Quantity(0.1, 20, "")] = assume(3.0, "first-cut load per wheel, common practice")
    safety: Annotated[float, Quantity(1, 20, "")] = assume(1.5, "on yield, common practice")
