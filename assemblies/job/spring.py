"""Table `spring` in each of its kinds, and the tube round a torsion spring."""

import math
from typing import Annotated, Any, Literal

from pydantic import ValidationInfo, field_validator

from assemblies.job.corner import RoundTube
from assemblies.job.point_checks import HEADINGS
from assemblies.job.values import (
    HOLLOW,
    ByWord,
    Flag,
    Length,
    Modulus,
    Name,
    Noted,
    Quantity,
    Table,
    Teeth,
    Thickness,
    ThreadSize,
    Tube,
    Wall,
    Word,
    assume,
    below,
    refuse,
)
from parts.anchor_plates import PLATE_MM as ANCHOR_PLATE_MM
from parts.base.stock import SPRING_G_MPA
from parts.spring_socket import PLATE_MM, SEAM_MM


class ClockingTeeth(Table):
    sleeve: Teeth
    anchor: Teeth


NO_TEETH = "no clocking teeth: the sleeve is set at any angle and drilled"
NO_HOUSING = "no tube round the bar"


class TorsionSpring(Noted):
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


class LeafPackTable(TorsionSpring):
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


Spring = Annotated[LeafPackTable | SolidBar | SpringTube | CoilOver, ByWord("kind")]


def _bore_clears(housing: Housing, across: float, what: str) -> None:
    if housing.outer is None or housing.wall is None:
        return  # a tube of the frame: the layout looks whether all that lives in it fits
    bore = housing.outer - 2 * housing.wall
    if bore <= across:
        limit = f"must be more than {across:.4g} mm, {what}"
        raise refuse(f"has a bore of {bore:.4g} mm", limit, "take a larger or thinner tube")
