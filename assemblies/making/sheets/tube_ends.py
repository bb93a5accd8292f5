"""The ends of tubes to cut, the frame's and the arms': what each is cut to, in which order, and how the saw
is set, in words. Lengths mm, angles deg.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assemblies.layout.frame import of_car, sides
from assemblies.layout.junctions.fitting import OTHER
from assemblies.layout.junctions.trimmed import in_words as trim_in_words
from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.sections import in_inches
from assemblies.results.findings import lacking
from parts.arm import Arm
from parts.base.frozen import dataclass
from parts.fitted_tube import Fitted
from parts.member import Section
from parts.tube_end import SawCut, TubeEnd

ENDS = ("from", "to")
SQUARE_MM = 0.5  # an end whose curve varies less is sawn square
LEVEL_DEG = 0.05
NEAR_FLAT_MM = 1.5  # open beside a run's rounded corners along a flat cut: weld fills it; common practice


@dataclass(frozen=True)
class TubePiece:
    """A tube to cut. `turn`: its axes (columns x, y, z) in the car's; `places`: what is at each end; `order`:
    its place in the order of fitting there, 0 where none; `notes`: what else to know. `of_car`: how many both
    sides take."""

    name: str
    tube: Fitted
    turn: np.ndarray
    places: dict[str, str]
    order: dict[str, int]
    outboard: float  # sign of y
    notes: tuple[str, ...] = ()
    of_car: int = 2

    def cut(self, end: str) -> TubeEnd:
        return self.tube.from_cut if end == "from" else self.tube.to_cut

    def faces(self, quarter: int) -> str:
        """Where the middle of a quarter looks in the car: 0 the index line, then round right-handed."""
        x, y = self.turn[:, 0], self.turn[:, 1]
        return direction((x, y, -x, -y)[quarter], self.outboard)


def direction(v: Sequence[float] | np.ndarray, outboard: float) -> str:
    """A unit vector in words, its larger shares first: "up", "front and outboard"; without a side (0) left
    and right."""
    names = (("front", "rear"), ("outboard", "inboard") if outboard else ("left", "right"), ("up", "down"))
    shares = (float(v[0]), float(v[1]) * (outboard or 1.0), float(v[2]))
    return " and ".join(
        names[k][shares[k] < 0]
        for k in sorted(range(3), key=lambda k: -abs(shares[k]))
        if abs(shares[k]) > 0.38
    )


def pieces(layout: Layout) -> list[TubePiece]:
    """The frame's tubes with a cut end, then the arms' tubes."""
    side, made, out = (1.0 if layout.job.side == "left" else -1.0), layout.junctions, []
    both = sides(layout.job) == "both"
    for name, tube in made.tubes.items():
        found = {e: made.node_of(name, e) for e in ENDS}
        out.append(
            TubePiece(
                name,
                tube,
                tube.frame.matrix()[:3, :3],
                {e: n.name if n else "" for e, n in found.items()},
                {e: n.members.index(name) + 1 if n else 0 for e, n in found.items()},
                0.0 if both else side,
                of_car=of_car(layout.job, tube.member),
            )
        )
    for placed in layout.arms.values():
        out += _arm(placed.name, placed.part, placed.frame.matrix()[:3, :3], side)
    return out


def _arm(which: str, arm: Arm, turn: np.ndarray, side: float) -> list[TubePiece]:
    out = []
    for k, (end, tube, past) in enumerate(
        zip(("front", "rear"), arm.coped(), arm.past_housing_mm(), strict=True)
    ):
        notes = (
            (
                f"{past:.1f} mm past the housing's end, where nothing carries it: trim it there, or make the "
                f"housing {2 * past:.0f} mm longer.",
            )
            if past > SQUARE_MM
            else ()
        )
        out.append(
            TubePiece(
                f"{which} {end} tube",
                tube,
                turn @ tube.frame.matrix()[:3, :3],
                {"from": "outer joint", "to": f"{end} pivot"},
                {"from": k + 1, "to": 0},
                side,
                notes,
            )
        )
    return out


def needs_strip(cut: TubeEnd) -> bool:
    return bool(cut.runs) and max(np.ptp(cut.outer_mm), np.ptp(cut.inner_mm)) > SQUARE_MM


def flat_mm(tube: Fitted) -> float:
    """Long point to long point where every end that one saw cut makes is sawn so: shorter than what is
    ordered."""
    return tube.length_mm - sum(c.flat_in_mm for c in (tube.from_cut, tube.to_cut) if has_saw_cut(c))


def flat_words(tube: Fitted) -> str:
    flat = flat_mm(tube)
    return f"{flat:.1f} with flat cuts" if tube.length_mm - flat > 0.05 else ""


def size(s: Section) -> str:
    wall = f" x {s.wall_mm:g}" if s.wall_mm else ""
    wide = (s.width_mm,) if s.is_round else (s.width_mm, s.height_mm)
    beside = in_inches(*wide, *((s.wall_mm,) if s.wall_mm else ()))
    words = f"round {s.width_mm:g}{wall}" if s.is_round else f"{s.width_mm:g} x {s.height_mm:g}{wall}"
    return f"{words}{beside}"


def end_in_words(p: TubePiece, end: str) -> str:
    """What an end is cut to, in order, and how."""
    cut = p.cut(end)
    at = f"{end.capitalize()} end" + (
        f" ({p.places[end]}{f', fitted no. {p.order[end]}' if p.order[end] else ''})" if p.places[end] else ""
    )
    if not cut.runs:
        return f"{at}: square, cut to nothing."
    to = ", ".join(f"{n} {run_in_words(name)}" for n, name in enumerate(cut.runs, 1))
    if not needs_strip(cut):
        return f"{at}: on {to}; sawn square."
    words = (
        f"{at}: on {to}; the short point lies {cut.short_mm - cut.long_mm:.1f} mm in from the long "
        f"point; weld {cut.weld_mm:.0f} mm."
    )
    if cut.missing:
        words += " 'open': it meets nothing there and stays square at the long point."
    if cut.trims:
        words += f" Trimmed at the cuts beside (T): {'; '.join(map(trim_in_words, cut.trims))}."
    if saw := saw_in_words(p, end):
        words += f" {saw}"
    return words


def run_in_words(name: str) -> str:
    return f"{name.removeprefix(OTHER)} of the other side" if name.startswith(OTHER) else name


def kind(cut: TubeEnd) -> str:
    """How an end is made, for the cut list."""
    if not needs_strip(cut):
        return "square"
    if has_saw_cut(cut):
        deg = saw_cut(cut)[0].from_square_deg
        return f"sawn {f'{deg:.1f} deg from square' if deg > LEVEL_DEG else 'square'}{_in(cut)}"
    return "coped, see its strip"


def _in(cut: TubeEnd) -> str:
    """Where a flat cut's long point lies on a tube that has its order length."""
    return f", {cut.flat_in_mm:.1f} in from the long point" if cut.flat_in_mm > 0.05 else ""


def saw_in_words(p: TubePiece, end: str) -> str:
    """Setting of the saw where one flat cut does: "" where none does."""
    cut = p.cut(end)
    if not has_saw_cut(cut):
        return ""
    saw, gap = saw_cut(cut)
    rest = f", at most {lacking(gap, 1)} open at the rounded corners" if gap > 0.05 else ""
    if cut.section.is_round:
        return f"One flat cut: {saw.from_square_deg:.1f} from square{_in(cut)}{rest}."
    table, mitre, x, tilt, y = setting(cut, end)
    words = [
        f"{name} {deg:.1f}, the {p.faces(side)} side longer"
        for name, deg, side in (("mitre", mitre, x), ("blade tilted", tilt, y))
        if deg > LEVEL_DEG
    ]
    said = "; ".join(words) or "square"
    return f"Or one saw cut, the {p.faces(table)} face on the table: {said}{_in(cut)}{rest}."


def has_saw_cut(cut: TubeEnd) -> bool:
    return bool(cut.runs) and not cut.missing and cut.flat is not None and cut.flat[1] <= NEAR_FLAT_MM


def saw_cut(cut: TubeEnd) -> tuple[SawCut, float]:
    """The flat cut, and what is open beside it, of an end that has one."""
    return needed(cut.flat)


def setting(cut: TubeEnd, end: str) -> tuple[int, float, int, float, int]:
    """Quarter on the table, mitre and the quarter that is longer for it, blade's tilt and the quarter longer
    for that. A tilt alone becomes a
    mitre: the tube is laid a quarter turn round."""
    (saw, _), (x, y) = saw_cut(cut), longer_sides(cut, end)
    if abs(saw.mitre_deg) <= LEVEL_DEG < abs(saw.tilt_deg):
        return 2, abs(saw.tilt_deg), y, 0.0, 0
    return 3, abs(saw.mitre_deg), x, abs(saw.tilt_deg), y


def longer_sides(cut: TubeEnd, end: str) -> tuple[int, int]:
    """Quarters (of +x or -x, of +y or -y) where the tube reaches farther, for a flat cut: `SawCut`'s u is
    local x, mirrored at `to`."""
    saw, _ = saw_cut(cut)
    u = saw.mitre_deg if end == "from" else -saw.mitre_deg
    return (0 if u > 0 else 2), (1 if saw.tilt_deg > 0 else 3)
