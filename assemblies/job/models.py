"""The tables of one corner as frozen models: attribute names are the file's keys, every length is in mm.

Rules between keys of one table stand beside the later key, rules between tables in `assemblies.job.checks`. A
key with a default says why beside it.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationInfo, create_model, field_validator

from assemblies.job.checks import BODY_NAMES, HEADINGS, POINTS
from assemblies.job.neighbours import HEAT_MM, NEIGHBOUR_KINDS
from assemblies.job.sense import SIZES
from assemblies.job.values import (
    HOLLOW,
    NO_GRADE,
    Angle,
    Coordinates,
    Direction,
    Flag,
    Frozen,
    Gap,
    Hole,
    Length,
    Margin,
    Modulus,
    Name,
    Point,
    Quantity,
    Radius,
    Steel,
    Swing,
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
    from_others,
    refuse,
)
from parts.anchor_plates import PLATE_MM as ANCHOR_PLATE_MM
from parts.base.stock import SPRING_G_MPA, THREADS, rod_end
from parts.calc.bolts import GRADES
from parts.spring_socket import PLATE_MM, SEAM_MM

# ------------------------------------------------------------------------------------------------ the corner


class Corner(Table):
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


class Wheel(Table):
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


class Arm(Table):
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


class UpperArm(Arm):
    table = "upper_arm"


class LowerArm(Arm):
    table = "lower_arm"


class TieRod(Table):
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
    lug_diameter: Annotated[float, Quantity(8, 100)] | None = assume(
        None, "sleeves round the outboard bolt with 4 mm of wall, 3 mm where they go through the arm's tubes"
    )
    lug_thickness: Thickness | None = assume(None, "the rocker's plate")


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


class Damper(Table):
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


def eye_in_box(damper: Damper, info: ValidationInfo) -> Damper:
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
    return Damper.model_construct(
        damper.model_fields_set, **dict(damper) | {"eye_width": width, "bracket_thickness": plate}
    )


# ------------------------------------------------------------------------------------------------ springs


class ClockingTeeth(Table):
    sleeve: Teeth
    anchor: Teeth


NO_TEETH = "no clocking teeth: the sleeve is set at any angle and drilled"
NO_HOUSING = "no tube round the bar"


class TorsionSpring(Table):
    """What the rotary springs share; `length` is free length between the fixed end and the rocker's
    socket."""

    table = "spring"
    teeth: ClockingTeeth | None = assume(None, NO_TEETH)
    shear_modulus: Modulus = assume(SPRING_G_MPA, "usual for spring steel")
    towards: Annotated[str, Word(tuple(HEADINGS))] = assume("rear", "the spring lies behind the rocker")
    tensile_strength: Annotated[float, Quantity(300, 3000, "MPa")] | None = assume(
        None, "not known: a plain guide figure is used"
    )
    preset: Flag = assume(False, "not pre-set (scragged)")
    sleeve: RoundTube | None = assume(None, "the stock tube that slides over the pivot tube")
    sleeve_bolt: ThreadSize = assume("M8", "usual cross bolt of the sleeve")
    anchor_plate: Thickness = assume(ANCHOR_PLATE_MM, "usual plate of the clocking plates at the far end")
    anchor_bolt: ThreadSize = assume("M8", "usual bolt of the clocking plates")
    socket_plate: Thickness = assume(
        PLATE_MM, "usual plate of the sockets' stacks; as thick as deep: no seam"
    )
    socket_seam: Annotated[float, Quantity(1, 10)] = assume(
        SEAM_MM, "V ground round each seam between a socket's plates and welded, as deep as their edges give"
    )


class Housing(Table):
    """The tube round a torsion spring: one of its own size, or a tube of the frame by its name."""

    outer: Tube | None = assume(None, "the member's")
    wall: Annotated[Wall, below("outer", 0.5, HOLLOW)] | None = assume(None, "the member's")
    member: Name | None = assume(None, "a tube of its own, which carries nothing else")

    @field_validator("member", mode="after")
    @classmethod
    def _one_or_the_other(cls, member: Any, info: ValidationInfo) -> Any:
        size = [k for k in ("outer", "wall") if info.data.get(k) is not None]
        if member is None and len(size) < 2 and {"outer", "wall"} <= info.data.keys():
            raise refuse(
                "missing",
                "the tube needs outer and wall, or the name of a tube of the frame",
                'housing = { outer = 60.3, wall = 2.9 } or housing = { member = "spring tube" }',
            )
        if member is not None and size:
            raise refuse(f"is '{member}'", f"and {size[0]} is given too", "that tube has its own size")
        return member


class LeafPack(TorsionSpring):
    kind: Literal["leaf-pack"]
    leaves: Annotated[int, Quantity(1, 60, "", whole=True)]
    leaf_width: Annotated[float, Quantity(3, 300)]
    leaf_thickness: Annotated[
        float, Quantity(0.3, 60), below("leaf_width", 1, "swap them if they were mixed up", equal=True)
    ]
    length: Length
    slide: Annotated[float, Quantity(0, 2000), below("length", 0.9)] = assume(0.0, "pack does not slide")
    housing: Housing

    @field_validator("housing", mode="after")
    @classmethod
    def _stack_fits(cls, housing: Housing, info: ValidationInfo) -> Housing:
        d = info.data
        if all(k in d for k in ("leaves", "leaf_width", "leaf_thickness")):
            across = math.hypot(d["leaf_width"], d["leaves"] * d["leaf_thickness"])
            _bore_clears(housing, across, "the leaf stack's diagonal")
        return housing


class SolidBar(TorsionSpring):
    kind: Literal["solid-bar"]
    diameter: Annotated[float, Quantity(3, 150)]
    length: Length
    housing: Housing | None = assume(None, NO_HOUSING)

    @field_validator("housing", mode="after")
    @classmethod
    def _bar_fits(cls, housing: Housing | None, info: ValidationInfo) -> Housing | None:
        if housing and "diameter" in info.data:
            _bore_clears(housing, info.data["diameter"], "the bar's diameter")
        return housing


class SpringTube(TorsionSpring):
    kind: Literal["tube"]
    outer: Annotated[float, Quantity(3, 150)]
    wall: Annotated[Wall, below("outer", 0.5, HOLLOW)]
    length: Length
    housing: Housing | None = assume(None, NO_HOUSING)

    @field_validator("housing", mode="after")
    @classmethod
    def _tube_fits(cls, housing: Housing | None, info: ValidationInfo) -> Housing | None:
        if housing and "outer" in info.data:
            _bore_clears(housing, info.data["outer"], "the spring tube's outside")
        return housing


class CoilOver(Table):
    kind: Literal["coil-over"]
    rate: Annotated[float, Quantity(0.5, 5000, "N/mm")]
    free_length: Annotated[float, Quantity(20, 1500)]
    outer_diameter: Annotated[float, Quantity(10, 400)]
    seat: Annotated[float, Quantity(5, 300)] = assume(
        50.0, "shaft eye to the coil's seat, with eye and bump rubber: measure yours"
    )


Spring = Annotated[LeafPack | SolidBar | SpringTube | CoilOver, Field(discriminator="kind")]


def _bore_clears(housing: Housing, across: float, what: str) -> None:
    if housing.outer is None or housing.wall is None:
        return  # a tube of the frame: the layout looks whether all that lives in it fits
    bore = housing.outer - 2 * housing.wall
    if bore <= across:
        limit = f"must be more than {across:.4g} mm, {what}"
        raise refuse(f"has a bore of {bore:.4g} mm", limit, "take a larger or thinner tube")


# ------------------------------------------------------------ gaps, cutting, loads


_KINDS: dict[str, Any] = {k.word: (Gap, assume(k.gap_mm, k.reason)) for k in NEIGHBOUR_KINDS}
KindGaps: Any = create_model("KindGaps", __base__=Table, **_KINDS)  # a key for each kind of neighbour


class Clearance(KindGaps):
    fixed: Gap = assume(8.0, "to a fixed tube 6 to 10, common practice")
    moving: Gap = assume(12.0, "between moving parts 10 to 15, common practice")
    tyre: Gap = assume(20.0, "tyre to anything 15 to 25, common practice")
    exhaust_heat: Gap = assume(HEAT_MM, "exhaust to a hose or a damper without a shield, common practice")
    ground: Gap = assume(15.0, "frame to ground at full bump, the tyre gives some 10 more, common practice")
    tolerance: Annotated[float, Quantity(0.001, 10)] = assume(
        0.1, "how near the guaranteed gap is to the true one"
    )
    flex: Annotated[float, Quantity(0, 50)] = assume(0.0, "no flex or tyre growth added to the gaps")
    fasteners: Flag = assume(
        True, "bolt heads, washers, nuts and thread ends are looked at like any other body"
    )
    margins: (
        Annotated[
            dict[Annotated[str, Word(BODY_NAMES, "must be a body of the corner:")], Margin],
            AfterValidator(Frozen),
        ]
        | None
    ) = assume(None, "no building tolerance of the corner's own bodies")
    turned: tuple[Name, ...] = assume(
        (), "each bolt's head stands where its ends strike nothing and it can be drawn out best"
    )
    tools: Flag = assume(
        True, "each bolt is to be reached by a socket or spanner and drawn out with all else in place"
    )


KERF_MM = {"plasma": 1.5, "hand": 1.2, "laser": 0.2, "waterjet": 0.8}


SAW_KERF_MM = {
    "bandsaw": 1.2,
    "cold saw": 2.5,
    "abrasive": 3.2,
    "hacksaw": 1.0,
}  # widest of the usual, common practice


class Process(Table):
    table = "process"
    cutting: Annotated[str, Word(tuple(KERF_MM))] = assume(
        "plasma", "plasma or hand cutting is the home shop's way"
    )
    kerf: Annotated[float, Quantity(0, 10), derived(lambda d: KERF_MM[d["cutting"]])] = assume(
        None, "usual for this way of cutting: measure a trial cut"
    )
    smallest_hole: Annotated[float, Quantity(0, 500)] | None = assume(
        None,
        "plasma, hand: no fitted hole, none under twice the plate; laser, waterjet: none under the plate; "
        "common practice",
    )
    compensation: Flag = assume(False, "blanks are nominal size")
    saw: Annotated[str, Word(tuple(SAW_KERF_MM))] = assume(
        "abrasive", "the saw that takes most: its pieces fit with any other too"
    )
    saw_kerf: Annotated[float, Quantity(0, 10), derived(lambda d: SAW_KERF_MM[d["saw"]])] = assume(
        None, "usual for this saw, common practice: measure a trial cut"
    )
    facing: Annotated[float, Quantity(0, 20)] = assume(
        2.0, "both ends of a turned piece faced, common practice"
    )
    turn_down: Annotated[float, Quantity(0, 50)] = assume(
        0.0, "a turned piece is sawn from bar of its own diameter"
    )

    @field_validator("compensation", mode="after")
    @classmethod
    def _has_a_kerf(cls, compensation: bool, info: ValidationInfo) -> bool:
        if compensation and info.data.get("kerf") == 0:
            raise refuse(
                "is true with a kerf of 0 mm",
                "there must be a cut to compensate for",
                "measure a trial cut for process.kerf, or leave compensation out",
            )
        return compensation


GIVEN_G = "first cut, common practice"


class Loads(Table):
    vertical_g: Annotated[float, Quantity(0.1, 20, "")] = assume(
        3.0, "first-cut load per wheel, common practice"
    )
    safety: Annotated[float, Quantity(1, 20, "")] = assume(1.5, "on yield, common practice")
    braking_g: Annotated[float, Quantity(0, 10, "")] = assume(
        1.2, f"of the whole car, road tyres 1.0 to 1.2; {GIVEN_G}"
    )
    cornering_g: Annotated[float, Quantity(0, 10, "")] = assume(
        1.2, f"of the whole car, road tyres 1.0 to 1.2; {GIVEN_G}"
    )
    kerb_g: Annotated[float, Quantity(0, 20, "")] = assume(2.0, f"vertical part of a kerb strike; {GIVEN_G}")
    kerb_step: Annotated[float, Quantity(1, 500)] = assume(
        60.0, "height of the step that sets a kerb strike's direction, common practice"
    )
    side_kerb_speed: Annotated[float, Quantity(0, 10, "m/s")] = assume(
        0.5, f"half of walking pace: a slip or a parked wheel pushed on a kerb; {GIVEN_G}"
    )
    side_kerb_height: Annotated[float, Quantity(1, 500)] = assume(
        100.0, "where a kerb's edge meets the wheel, common practice"
    )
    side_stiffness: Annotated[float, Quantity(10, 1e5, "N/mm")] = assume(
        300.0, "of tyre, rim and arms sideways, in series; first cut"
    )
    droop_g: Annotated[float, Quantity(0, 50, "")] = assume(
        3.0, f"on the unsprung mass as it meets the droop stop; {GIVEN_G}"
    )
    usual_cases: Flag = assume(True, "the usual load cases are used beside those of [[load_case]]")


class LoadCase(Table):
    """A case of the builder's own; one of the usual ones by the same name is replaced. Car axes; N or times
    the corner's weight."""

    name: Name
    force: Annotated[tuple[float, float, float], Coordinates(3, 1e6, "N")] | None = assume(
        None, "g is given instead"
    )
    g: Annotated[tuple[float, float, float], Coordinates(3, 100, "")] | None = assume(
        None, "force is given instead"
    )
    at: Annotated[str, Word(("contact", "wheel_centre"))] = assume(
        "contact", "outboard brakes: the tyre's force meets the ground"
    )
    moment: Annotated[tuple[float, float, float], Coordinates(3, 1e6, "N·m")] = assume(
        (0.0, 0.0, 0.0), "no moment besides"
    )
    travel: Annotated[tuple[float, float], Coordinates(2, 1000)] | None = assume(
        None, "over all of the travel"
    )
    full_lock: Flag = assume(False, "straight ahead")
    rare: Flag = assume(False, "it comes every drive and counts for wear")

    @field_validator("g", mode="after")
    @classmethod
    def _one_of_two(cls, g: Any, info: ValidationInfo) -> Any:
        if "force" in info.data and (g is None) == (info.data["force"] is None):
            said = "missing, and so is force" if g is None else "is given, and so is force"
            raise refuse(
                said,
                "one of the two must be there",
                "force = [x, y, z] in N, or g = [x, y, z] in corner weights",
            )
        return g

    @field_validator("travel", mode="after")
    @classmethod
    def _low_first(cls, travel: Any) -> Any:
        if travel is not None and travel[0] > travel[1]:
            raise refuse(
                f"is {list(travel)}", "must go from the lower wheel height to the higher", "swap them"
            )
        return travel


class Bolts(Table):
    """Bolts through the rocker's eyes and the brackets."""

    grade: Annotated[str, Word(tuple(GRADES))] = assume("8.8", "usual high-tensile bolt")
    threads_in_plane: Flag = assume(True, "the safe side: buy a plain shank as long as the grip")
    sleeve_material: Steel = assume("unknown", NO_GRADE)


class Fatigue(Table):
    """Ranges of the wheel's vertical load in corner weights, each with its count over the corner's life."""

    ranges: tuple[Annotated[tuple[float, float], Coordinates(2, 1e10, "")], ...] = assume(
        ((2.5, 1e3), (1.5, 2e4), (1.0, 2e5), (0.5, 2e6)),
        "first cut for some 50 000 km on poor roads, common practice",
    )
    gamma: Annotated[float, Quantity(1, 3, "")] = assume(
        1.35, "a crack has grave consequences, inspected: EN 1993-1-9 Table 3.1"
    )

    @field_validator("ranges", mode="after")
    @classmethod
    def _are_ranges(cls, ranges: Any) -> Any:
        if not ranges or any(r <= 0 or n <= 0 for r, n in ranges):
            raise refuse(f"is {[list(r) for r in ranges]}", "must be a list of [range, count], both over 0")
        return ranges


NO_PRICE = "not given: left out of the cost"
Price = Annotated[float, Quantity(0, 1e6, "")]


class Prices(Table):
    """What stock costs, in one currency of the builder's own: plate, bar and spring steel a kg, tube a metre,
    the rest each."""

    table = "prices"
    plate: Price | None = assume(None, NO_PRICE)
    bar: Price | None = assume(None, NO_PRICE)
    spring_steel: Price | None = assume(None, NO_PRICE)
    tube: Price | None = assume(None, NO_PRICE)
    bolt: Price | None = assume(None, NO_PRICE)
    nut: Price | None = assume(None, NO_PRICE)
    washer: Price | None = assume(None, NO_PRICE)
    bush: Price | None = assume(None, NO_PRICE)
    rod_end: Price | None = assume(None, NO_PRICE)
    damper: Price | None = assume(None, NO_PRICE)
    coil: Price | None = assume(None, NO_PRICE)
