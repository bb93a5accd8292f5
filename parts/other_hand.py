"""The part for the other side of the car: the mirror image in the part's own xz plane, every number kept."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from parts.base.frozen import dataclass
from parts.part import Flat, Part
from parts.shape.form import Form, Vector
from parts.shape.outline import Outline

OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class OtherHand(Part):
    """The mirror image of any part. Make it with `other_hand`."""

    of: Any

    def __post_init__(self) -> None:
        if not isinstance(self.of, Part):
            raise ValueError(f"other hand: of is {self.of!r}; it wants a part")
        super().__post_init__()

    @property
    def title(self) -> str:
        return f"{self.of.title}, other hand"

    @property
    def forms(self) -> dict[str, Form]:
        return {name: f.mirrored() for name, f in self.of.forms.items()}

    def form(self) -> Form:
        return self.of.form().mirrored()

    @property
    def mass_kg(self) -> float:
        return self.of.mass_kg

    @property
    def centroid(self) -> Vector:
        x, y, z = self.of.centroid
        return x, 0.0 - y, z


@dataclass(frozen=True)
class FlatOtherHand(OtherHand, Flat):
    """The mirror image of a flat part: its marked face too, so that the blank is cut as drawn."""

    @property
    def thickness_mm(self) -> float:
        return self.of.thickness_mm

    @property
    def material(self) -> str:
        return getattr(self.of, "material", "")

    @property
    def hand(self) -> str:
        return OTHER.get(getattr(self.of, "hand", ""), "")

    def outline(self) -> Outline:
        return self.of.outline().mirrored()


def other_hand(part: Part) -> Part:
    """The same part for the other side; of that again the first."""
    if isinstance(part, OtherHand):  # of that again the first
        return part.of
    return FlatOtherHand(part) if isinstance(part, Flat) else OtherHand(part)


def pair(part: Part) -> tuple[Part, Part]:
    """A left part and its right mirror image; one that has a `hand` says so on its blank."""
    if not isinstance(part, Part):
        raise ValueError(f"pair: of is {part!r}; it wants a part")
    same: Any = part
    left = replace(same, hand="left") if hasattr(part, "hand") else same
    return left, other_hand(left)
