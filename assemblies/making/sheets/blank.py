"""The blanks of a corner, hand by hand: what is cut, how each hole is made, in which order."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from assemblies.layout.placing import FlatPart
from parts.base.fits import limits
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3, REAMERS_MM, drill_below_mm, reaming_drill_mm
from parts.shape.mirror import own_mirror
from parts.shape.outline import Mark, Outline

PILOT_MM, STEP_MM = 4.0, 3.5  # first drill and the most one drill opens in thin plate, common practice
LARGEST_DRILL_MM = 16.0  # beyond it a twist drill grabs in thin plate: hole saw; common practice
LARGEST_FIT_MM = 50.0  # as far as the fits' table goes


@dataclass(frozen=True)
class HoleLine:
    """One hole of a blank: place from the two datum edges (left and bottom of the blank's box), and how it is
    made."""

    number: int
    purpose: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    fit: str
    made: str  # cut | drill
    drills_mm: tuple[float, ...]  # in order; empty where it is cut
    last: str  # "ream 10 H7", "hole saw 38", ...
    limits_mm: tuple[float, float] | None  # of a reamed hole, H7
    stack: str
    when: str
    side: str = "marked face"
    cut_mm: float = 0.0  # 0: not cut

    @property
    def order(self) -> str:
        """Drills in order and the last tool, in words."""
        drills = ", ".join(f"{d:g}" for d in self.drills_mm)
        if self.made == "cut" and self.last:
            return "; ".join((f"cut {self.cut_mm:g}", *([f"drill {drills}"] if drills else []), self.last))
        if self.made == "cut" and self.fit == "weld":
            return (
                f"cut {self.cut_mm:g} for a tube of {self.diameter_mm:g}: measure the tube in hand, the hole "
                f"is 0.2 over it"
            )
        if self.made == "cut":
            return "cut to the line"
        return (
            f"drill {drills}; {self.last}"
            if drills and self.last
            else f"drill {drills}"
            if drills
            else self.last
        )


@dataclass(frozen=True)
class BlankSheet:
    """A blank of one hand with all its sheet tells."""

    part: str
    hand: str
    outline: Outline
    count: int
    thickness_mm: float
    material: str
    holes: tuple[HoleLine, ...]
    grain: bool = False  # the nest lays its folds across the rolling direction

    @property
    def file_stem(self) -> str:
        stem = re.sub(r"[^a-z0-9]+", "-", self.part.lower()).strip("-")
        return stem if self.hand == "either" else f"{stem}-{self.hand}"

    @property
    def mass_kg(self) -> float:
        return self.outline.area_mm2 * self.thickness_mm * DENSITY_KG_M3 * 1e-9

    @property
    def folds(self) -> bool:
        return any(m.kind == "text" and m.text.endswith((" up", " down")) for m in self.outline.marks)


def car_count(count: int, hand: str) -> int:
    """How many of this hand's blank both sides of the car take; `count` is what one side takes.

    >>> car_count(2, "either"), car_count(2, "left")
    (4, 2)
    """
    return 2 * count if hand == "either" else count


def counted(count: int, hand: str) -> str:
    """The same in words, for whoever cuts the file.

    >>> counted(2, "either")
    'cut 4 of this file for the car: 2 a side, the same for left and right'
    >>> counted(1, "left")
    'cut 1 of this file for the car: all for the left side; the right side has its own file'
    """
    other = {"left": "right", "right": "left"}
    all_ = f"cut {car_count(count, hand)} of this file for the car"
    if hand == "either":
        return f"{all_}: {count} a side, the same for left and right"
    return f"{all_}: all for the {hand} side; the {other[hand]} side has its own file"


def hands(flat: FlatPart, side: str) -> Iterator[tuple[str, Outline]]:
    """Each hand's name and outline; one named "either" where the blank is its own mirror image. `flat` is
    drawn for `side`."""
    if own_mirror(flat.outline):
        yield "either", relabelled(flat.outline, "")
        return
    other = {"left": "right", "right": "left"}[side]
    for hand in ("left", "right"):
        yield hand, flat.outline if hand == side else relabelled(flat.outline.mirrored(), other)


def relabelled(outline: Outline, hand: str) -> Outline:
    """The outline with the hand at the end of its texts put right."""

    def one(m: Mark) -> Mark:
        return replace(m, text=re.sub(r"\b(left|right)$", hand, m.text).strip()) if m.kind == "text" else m

    return replace(outline, marks=tuple(map(one, outline.marks)))


def blank_sheets(
    flats: list[FlatPart], side: str, smallest_hole_mm, cut_fitted: bool, grain: bool = False
) -> list[BlankSheet]:
    """A sheet a blank and hand; `smallest_hole_mm(flat)` is the smallest hole that is cut; with `grain` folds
    lie across it."""
    from parts.files.blank import hole_table

    out = []
    for flat in flats:
        for hand, outline in hands(flat, side):
            rows = hole_table(outline, smallest_hole_mm(flat), cut_fitted)
            holes = tuple(
                HoleLine(
                    r.number,
                    r.purpose,
                    r.from_left_mm,
                    r.from_bottom_mm,
                    r.diameter_mm,
                    r.fit,
                    r.made,
                    *steps(r.diameter_mm, r.fit, r.made),
                    *company(flat, hand, r.fit, r.made),
                    cut_mm=r.cut_mm,
                )
                for r in rows
            )
            out.append(
                BlankSheet(
                    flat.name, hand, outline, flat.count, flat.thickness_mm, flat.material, holes, grain
                )
            )
    return out


def steps(
    diameter_mm: float, fit: str, made: str
) -> tuple[tuple[float, ...], str, tuple[float, float] | None]:
    """Drills in order, the last tool's words, and the finished limits of a reamed hole (H7, ISO 286-2).

    Pilot 4, then at most 3.5 more a drill; a reamer's drill leaves 0.2 to 0.3 (common practice).

    >>> steps(10.0, "reamed", "drill")
    ((4.0, 7.0, 9.8), 'ream 10 H7', (10.0, 10.015))
    """
    reamed = fit == "reamed"
    if made == "cut" and not reamed:
        return (), "", None
    if made == "cut":
        if diameter_mm > LARGEST_DRILL_MM:
            return (), f"bore {diameter_mm:g} H7", _h7(diameter_mm)
        return (reaming_drill_mm(diameter_mm),), f"ream {diameter_mm:g} H7", _h7(diameter_mm)
    if diameter_mm > LARGEST_DRILL_MM:
        saw = diameter_mm - 0.5 if reamed else diameter_mm
        last = f"hole saw {saw:g}" + (f", bore {diameter_mm:g} H7" if reamed else "")
        return (6.0,), last, _h7(diameter_mm) if reamed else None
    final = reaming_drill_mm(diameter_mm) if reamed else drill_below_mm(diameter_mm)
    pilot = min(PILOT_MM, final)
    count = max(1, -int(-(final - pilot) // STEP_MM)) if final > pilot else 0
    between = [drill_below_mm(round(2 * (pilot + (final - pilot) * k / count)) / 2) for k in range(1, count)]
    drills = tuple(dict.fromkeys([pilot, *between, final]))
    if not reamed:
        return drills, "" if abs(final - diameter_mm) < 0.05 else f"file to {diameter_mm:g}", None
    tool = "ream" if diameter_mm in REAMERS_MM else "adjustable reamer to"
    return drills, f"{tool} {diameter_mm:g} H7", _h7(diameter_mm)


def _h7(diameter_mm: float) -> tuple[float, float] | None:
    if diameter_mm > LARGEST_FIT_MM:
        return None
    h = limits(diameter_mm, "H7")
    return h.smallest_mm, h.largest_mm


def company(flat: FlatPart, hand: str, fit: str, made: str) -> tuple[str, str]:
    """How the blank is held for a hole, and when the hole is finished."""
    if made == "cut" and fit != "reamed":
        return "singly", "with the outline"
    welded = flat.name == "rocker plate" or " tab" in flat.name
    if flat.count > 1:
        others = f"all {flat.count}" + (
            "" if hand == "either" else f" and the other hand's {flat.count}, turned over"
        )
        stack = f"stack of {others}"
    else:
        stack = "singly"
    if not (welded and fit == "reamed"):
        return stack, "before welding"
    return stack, (
        "drill before, ream after welding through both plates"
        if flat.name == "rocker plate"
        else "drill before, ream after welding through both tabs, on the dummy axle's line"
    )
