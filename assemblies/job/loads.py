"""Tables `loads`, `load_case`, `bolts` and `fatigue`: what a corner must bear, and by which bolts."""

from typing import Annotated, Any

from pydantic import ValidationInfo, field_validator

from assemblies.job.values import (
    NO_GRADE,
    Coordinates,
    Flag,
    Name,
    Quantity,
    Steel,
    Table,
    Word,
    assume,
    refuse,
)
from parts.calc.bolts import GRADES

GIVEN_G = "first cut, common practice"


class LoadsTable(Table):
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


class LoadCaseTable(Table):
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
