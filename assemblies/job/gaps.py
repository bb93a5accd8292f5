"""Table `clearance`: how much room what moves is to keep, and what is looked at."""

from typing import Annotated, Any

from pydantic import AfterValidator, create_model

from assemblies.job.checks import BODY_NAMES
from assemblies.job.neighbours import HEAT_MM, NEIGHBOUR_KINDS
from assemblies.job.values import (
    Flag,
    Frozen,
    Gap,
    Margin,
    Name,
    Quantity,
    Table,
    Word,
    assume,
)

_KINDS: dict[str, Any] = {k.word: (Gap, assume(k.gap_mm, k.reason)) for k in NEIGHBOUR_KINDS}
KindGaps: Any = create_model("KindGaps", __base__=Table, **_KINDS)  # a key for each kind of neighbour


class ClearanceTable(KindGaps):
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
