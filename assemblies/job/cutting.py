"""Tables `process` and `prices`: how plate and bar are cut, and what stock costs."""

from typing import Annotated

from pydantic import ValidationInfo, field_validator

from assemblies.job.values import Flag, Noted, Quantity, Word, assume, derived, refuse

KERF_MM = {"plasma": 1.5, "hand": 1.2, "laser": 0.2, "waterjet": 0.8}
SAW_KERF_MM = {
    "bandsaw": 1.2,
    "cold saw": 2.5,
    "abrasive": 3.2,
    "hacksaw": 1.0,
}  # widest of the usual, common practice


class Process(Noted):
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


NO_PRICE = "not given: left out of the cost"
Price = Annotated[float, Quantity(0, 1e6, "")]


class Prices(Noted):
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
