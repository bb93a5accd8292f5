"""The plates to hand as the search sees them: which blanks each admits, and which sets of plates are worth
trying."""

from __future__ import annotations

import itertools
import math

from assemblies.nesting import proof
from assemblies.nesting.container import Container, containers
from assemblies.nesting.layout import Shape
from assemblies.nesting.model import Blank, Remnant, Rules
from assemblies.nesting.polygons import cover, grown
from assemblies.nesting.turns import angles_deg

SEARCH_CHORD_MM, FINE_CHORD_MM = 0.4, 0.03
TRIES_PER_COUNT = 3


def least_plates(needed_mm2: float, areas_mm2: list[float]) -> int:
    """Lower bound: the least number of plates whose areas together hold the blanks (all of them if even that
    is short)."""
    total = 0.0
    for k, area in enumerate(sorted(areas_mm2, reverse=True)):
        total += area
        if needed_mm2 <= total * (1 + 1e-9):
            return k + 1
    return len(areas_mm2)


def shape_of(blank: Blank, remnant: Remnant, rules: Rules, chord_mm: float, least_area_mm2: float) -> Shape:
    """The placer's view of a blank, moved so that its middle is the origin. Windows smaller than the smallest
    blank of the nest are filled. The coarse view also covers the fine one."""
    from shapely.affinity import translate

    coarse = chord_mm > FINE_CHORD_MM
    x0, y0, x1, y1 = blank.outline.bounds
    shape = translate(cover(blank.outline, chord_mm, least_area_mm2), -(x0 + x1) / 2, -(y0 + y1) / 2)
    curved = any(s.bulge for s in blank.outline.outer.segments)
    # the proof's polygons reach up to their own chord error beyond the true arc; the coarse view covers the
    # fine one too
    shape = grown(shape, 2 * FINE_CHORD_MM if coarse else 1.5 * proof.CHORD_MM) if curved else shape
    fill = (2 * chord_mm if coarse else FINE_CHORD_MM) if curved else 0.0
    return Shape(shape, angles_deg(blank, remnant), rules.spacing_mm / 2, fill, blank.rotation == "free")


class Stock:
    """A remnant with what the search needs of it."""

    def __init__(self, remnant: Remnant, rules: Rules, blanks: list[Blank]) -> None:
        smallest = min(b.outline.gross_area_mm2 for b in blanks)
        self.remnant, self.rules, self.blanks, self.smallest = remnant, rules, blanks, smallest
        self.shapes = [shape_of(b, remnant, rules, SEARCH_CHORD_MM, smallest) for b in blanks]
        self.boxes: list[Container] = containers(remnant, rules)
        self.area_mm2 = sum(c.area_mm2 for c in self.boxes)

    def fine(self) -> list[Shape]:
        return [shape_of(b, self.remnant, self.rules, FINE_CHORD_MM, self.smallest) for b in self.blanks]

    def admits(self, k: int, box: Container | None = None) -> bool:
        """Whether the blank, in some allowed turn, is no larger than the box round the usable plate."""
        for c in self.boxes if box is None else [box]:
            x0, y0, x1, y1 = c.bounds
            for angle in self.shapes[k].angles:
                a, b, d, e = self.shapes[k].box(math.radians(angle))
                if (
                    d - a <= x1 - x0 + 1e-9
                    and e - b <= y1 - y0 + 1e-9
                    and self.shapes[k].area_mm2 <= c.area_mm2 + 1e-6
                ):
                    return True
        return False


def too_large(b: Blank, plates: list[Stock]) -> str:
    x0, y0, x1, y1 = b.outline.bounds
    sizes = [c.bounds for p in plates for c in p.boxes]
    u0, v0, u1, v1 = max(sizes, key=lambda s: (s[2] - s[0]) * (s[3] - s[1]))
    return (
        f'blank "{b.name}" is {x1 - x0:.1f} x {y1 - y0:.1f} mm, larger than every plate of '
        f"{b.thickness_mm:g} mm "
        f"{b.material}: the largest leaves {u1 - u0:.1f} x {v1 - v0:.1f} mm inside its edge distances; "
        "find a larger plate, allow it to turn, or split the blank"
    )


def choices(plates: list[Stock], needed: float, bound: int):
    """Sets of plates worth trying: few before many, little metal before much."""
    for count in range(max(1, bound), len(plates) + 1):
        sets = sorted(
            (
                s
                for s in itertools.islice(itertools.combinations(plates, count), 5000)
                if sum(p.area_mm2 for p in s) >= needed
            ),
            key=lambda s: sum(p.area_mm2 for p in s),
        )
        # a set that is nearly full already is not worth the time while there is a roomier one
        roomy = [s for s in sets if needed <= 0.85 * sum(p.area_mm2 for p in s)] or sets[-1:]
        yield from roomy[: TRIES_PER_COUNT - 1]
        if len(roomy) >= TRIES_PER_COUNT:
            yield roomy[-1]
    if needed > sum(p.area_mm2 for p in plates):
        yield tuple(plates)
