"""A file with members and no corner: a frame alone, cut and drawn without a suspension."""

from typing import Annotated, Any

from pydantic import Field, field_validator

from assemblies.job import frame as there
from assemblies.job import stock as shop
from assemblies.job.cutting import Prices, Process
from assemblies.job.file import File
from assemblies.job.gaps import ClearanceTable
from assemblies.job.values import Later, assume, refuse


class FrameJob(File):
    """The tubes of a frame and what stands near them. Equal by content, hashable, never changed."""

    node: tuple[Later[there.NodeTable], ...] = assume((), "no named nodes: each tube says its own ends")
    group: tuple[Later[there.Group], ...] = assume((), "nothing is moved as one")
    member: Annotated[tuple[there.Member, ...], Field(min_length=1)]
    junction: tuple[Later[there.Junction], ...] = assume(
        (), "tubes that pass go first, then the larger, then the longer"
    )
    frame: there.FrameTable = assume({}, "usual joints")
    stock: shop.StockTable = assume({}, "no stock given")
    process: Process = assume({}, "usual cutting")
    nest: Later[shop.NestingTable] | None = assume(None, shop.USUAL_NESTING)
    clearance: ClearanceTable = assume({}, "usual gaps")
    prices: Later[Prices] | None = assume(None, "no prices given: no cost")

    @field_validator("member", mode="after")
    @classmethod
    def _rides_on_nothing(cls, members: Any) -> Any:
        riding = [b for b in members if b.moves_with]
        if riding:
            raise refuse(
                f"'{riding[0].name}' moves with the {riding[0].moves_with}",
                "a file with members only has no moving bodies",
                "take moves_with out, or keep it in the job of the corner",
            )
        return members

    @property
    def side(self) -> str:
        """Which side of the car its tubes of one side are told as: by most of their ends."""
        y = [p[1] for b in self.member if isinstance(b, there.Bar) for p in (b.from_, b.to)]
        return "left" if sum(y) >= 0 else "right"
