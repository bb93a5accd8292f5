"""Pick-up bracket for an arm's inner pivot: a tab each side of the bush on the pivot's axis, cut to the frame
member."""

from __future__ import annotations

from collections.abc import Mapping

from parts.arm import Arm
from parts.base.fields import reads
from parts.bracket import BracketPair, seat
from parts.member import Member
from parts.shape.form import Vector


@reads
def pickup_bracket(
    arm: Arm, pivot: Vector, axis: Vector, members: Mapping[str, Member], **bracket
) -> tuple[str, BracketPair]:
    """The member that carries the pivot at `pivot` with its bolt along `axis` (car axes), and the pair of
    tabs on it.

    The hole is reamed to the bolt, which runs through the bush's sleeve. Keywords as `BracketPair`. Raises
    NoSeat naming why the nearest members cannot carry it."""
    return seat(
        members,
        pivot,
        axis,
        **{
            "eye_width_mm": arm.housing_length_mm,
            "eye_radius_mm": arm.housing_mm / 2,
            "purpose": "pivot bolt",
            **bracket,
        },
    )
