"""Bracket for the damper's chassis eye: two tabs on the bolt's axis, cut to the frame member that carries
them."""

from __future__ import annotations

from collections.abc import Mapping

from parts.base.fields import reads
from parts.bracket import BracketPair, seat
from parts.damper import Damper
from parts.member import Member
from parts.shape.form import Vector


@reads
def damper_bracket(
    damper: Damper, eye: Vector, axis: Vector, members: Mapping[str, Member], **bracket
) -> tuple[str, BracketPair]:
    """The member that carries the eye at `eye` with its bolt along `axis` (car axes), and the pair of tabs on
    it.

    The hole is reamed to the bolt. Keywords as `BracketPair`. Raises NoSeat naming why the nearest members
    cannot carry it.

    >>> post = Member.square((1748, 0, 90), (1748, 0, 362), 30, 2)
    >>> name, pair = damper_bracket(Damper(285, 225, 46), (1748, 34, 252), (1, 0, 0), {"post": post})
    >>> name, pair.reach_mm, pair.inside_gap_mm, pair.spacer_mm, pair.grip_mm
    ('post', 19.0, 30.0, 5.0, 36.0)
    """
    return seat(
        members,
        eye,
        axis,
        **{
            "eye_width_mm": damper.eye_width_mm,
            "eye_radius_mm": damper.eye_mm / 2,
            "purpose": "damper bolt",
            **bracket,
        },
    )
