"""What the rocker's pivot stands on, as a table of the job file. Rules between tables stand in
`assemblies.job.checks`."""

from typing import Annotated, Any

from pydantic import ValidationInfo, field_validator

from assemblies.job.values import (
    NO_GRADE,
    Name,
    Noted,
    Quantity,
    Steel,
    Thickness,
    ThreadSize,
    Tube,
    Wall,
    Word,
    assume,
    refuse,
)
from parts.base.bearings import KINDS

MOUNTS = ("stub", "spindle", "cantilever")
NO_MOUNT = "not given: nothing holds the rocker, which is a stop"
NO_RATING = "not given: it is its maker's, and without it the bearings are not checked"


class Pivot(Noted):
    """`stub`: a heavy tube in two bearings inside the spring tube (`spring.housing.member`), the rocker's
    tube slid over it and bolted through. `spindle`: a bolt and its sleeve between two tabs on `member`.
    `cantilever`: a bar through the frame tube `member`, welded into both of its walls, the rocker on its free
    end."""

    table = "pivot"
    kind: Annotated[str, Word(MOUNTS)] | None = assume(None, NO_MOUNT)
    member: Name | None = assume(
        None,
        "a spindle's tabs stand on the tube that carries them best; a stub runs in spring.housing.member",
    )
    bearing: Annotated[str, Word(KINDS)] = assume("bush", "dry wrapped bushes, usual for a swing")
    bearing_width: Annotated[float, Quantity(4, 60)] | None = assume(
        None, "the widest of that bore up to 20, and up to its bore"
    )
    diameter: Tube | None = assume(None, "what the pivot tube's bore takes")
    wall: Wall | None = assume(None, "of a stub: a quarter of its diameter, common practice for a heavy tube")
    bolt: ThreadSize = assume("M16", "of a spindle between two tabs: a usual size")
    bracket_thickness: Thickness = assume(6.0, "tabs of a spindle, common practice")
    bracket_weld: Annotated[float, Quantity(1, 20)] | None = assume(
        None, "as thick as the thinner of the two"
    )
    material: Steel = assume("unknown", NO_GRADE)
    end_float: Annotated[float, Quantity(0, 2)] = assume(0.2, "by shims, 0.1 to 0.3, common practice")
    static_rating: Annotated[float, Quantity(100, 1e6, "N")] | None = assume(None, NO_RATING)
    dynamic_rating: Annotated[float, Quantity(100, 1e6, "N")] | None = assume(None, NO_RATING)

    @field_validator("member", mode="after")
    @classmethod
    def _a_bar_goes_through_a_tube(cls, member: Any, info: ValidationInfo) -> Any:
        if member is None and info.data.get("kind") == "cantilever":
            raise refuse("missing", "a cantilever spindle goes through a tube of the frame", "name the tube")
        if member is not None and info.data.get("kind") == "stub":
            raise refuse(
                f"is '{member}'", "a stub runs in the spring tube", "name that in spring.housing.member"
            )
        return member
