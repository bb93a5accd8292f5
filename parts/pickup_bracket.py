"""Pick-up bracket for an arm's inner pivot: a tab each side of the bush on the pivot's axis, cut to the frame member."""
from __future__ import annotations

from collections.abc import Mapping

from parts.arm import Arm
from parts.bracket import BracketPair, seat
from parts.form import Vector
from parts.member import Member


def pickup_bracket(arm: Arm, pivot: Vector, axis: Vector, members: Mapping[str, Member], bolt: str = "M10",
                   thickness_mm: float = 3.0, boss_radius_mm: float | None = None, **bracket) -> tuple[str, BracketPair]:
    """The member that carries the pivot at `pivot` with its bolt along `axis` (car axes), and the pair of tabs on it.

    Hole reamed to the bush's bore; the bush housing turns between the tabs with 1 mm to the member. More keywords as
    `BracketPair`. Raises NoSeat naming why the nearest members cannot carry it."""
    return seat(members, pivot, axis, **{
        "eye_width_mm": arm.housing_length_mm, "eye_radius_mm": arm.housing_mm / 2, "bolt": bolt, "swing_mm": 1.0,
        "hole_mm": arm.housing_bore_mm, "thickness_mm": thickness_mm, "boss_radius_mm": boss_radius_mm,
        "purpose": "pivot bolt", **bracket})
