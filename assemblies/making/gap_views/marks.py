"""Marks between the two nearest points of a pair: in the corner's STEP, and in a file of its own with both
bodies as they then stand.

The points are car coordinates at the pair's worst pose. In the corner's STEP all else stands at ride height,
so the mark's name tells the pose; the files in `gaps/` show both bodies there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from assemblies.layout import bodies as neighbours
from assemblies.layout.placing import needed
from assemblies.results.findings import guaranteed, lacking
from assemblies.results.gaps import PairRow
from assemblies.results.model import Results
from assemblies.study import Study
from parts.base.frozen import dataclass

TIGHTEST = 4  # pairs with gap enough that are marked too
MOST_FILES = 6
BALL_MM, BAR = 2.0, 0.4  # greatest radius of the balls, and the bar's as a share of theirs


@dataclass(frozen=True)
class GapMark:
    """A pair worth showing, numbered from 1, nearest to its limit first."""

    number: int
    pair: PairRow

    @property
    def gap(self) -> str:
        """Never rounded to the better side: `gap 5.29 mm`, or `clash up to 2.11 mm deep`."""
        p = self.pair
        if p.found_gap_mm < 0:
            return f"clash up to {lacking(-p.gap_mm)} mm deep"
        return f"gap {guaranteed(p.gap_mm)} mm"

    @property
    def pose(self) -> str:
        p = self.pair
        return f"wheel {p.at_wheel_mm:+z.0f}" + (f", rack {p.at_rack_mm:+z.0f}" if p.at_rack_mm else "")

    @property
    def bodies(self) -> str:
        return f"{self.pair.a} - {self.pair.b}".replace("_", " ")

    @property
    def name(self) -> str:
        return f"{self.number} {self.gap} {self.bodies}, {self.pose}"

    @property
    def ends(self) -> np.ndarray:
        return np.array([self.pair.point_a, self.pair.point_b], float)

    @property
    def file_name(self) -> str:
        return (
            f"{self.number}-"
            + re.sub(r"[^a-z0-9]+", "-", f"{self.pair.a}-{self.pair.b}".lower()).strip("-")
            + ".step"
        )

    def solid(self):
        """A thin bar from point to point with a small ball at either end. Loads the CAD kernel."""
        from parts.files.shapes import dumbbell

        a, b = self.ends
        r = min(BALL_MM, max(0.5, float(np.linalg.norm(b - a)) / 3))
        return dumbbell(a, b, r, BAR * r)


def marks(results: Results, tightest: int = TIGHTEST) -> list[GapMark]:
    """Every short pair and clash, and the few next to their limits; those without points are left out."""
    pairs = [p for p in results.clearance.pairs if p.point_a is not None and p.point_b is not None]
    some = [p for p in pairs if not p.ok] + [p for p in pairs if p.ok][:tightest]
    return [GapMark(n, p) for n, p in enumerate(some, 1)]


def write_close(done: Study, shown: Sequence[GapMark], folder: Path) -> list[Path]:
    """STEP files of the worst short pairs: both bodies where they stand at the worst pose, and the mark."""
    from assemblies.making.step import COLOURS, write_assembly

    out = []
    for mark in [m for m in shown if not m.pair.ok][:MOST_FILES]:
        items = [item for name in (mark.pair.a, mark.pair.b) for item in standing(done, name, mark.pair)]
        out.append(
            write_assembly(
                folder / mark.file_name,
                [*items, (mark.name, mark.solid(), np.eye(4), COLOURS["gap"])],
                mark.name,
            )
        )
    return out


def standing(done: Study, name: str, pair: PairRow) -> list[tuple[str, object, np.ndarray, tuple]]:
    """A body's parts (name, solid, car frame at the pair's pose, colour); what has no part of its own, and a
    coil, whose length changes, stands as the check sees it. Nothing of a body that is only a mesh."""
    from assemblies.making.drawn import drawn
    from assemblies.making.step import colour_of
    from parts.files.solid import solid

    layout, poses = needed(done.layout), done.mechanism.at(pair.at_wheel_mm, pair.at_rack_mm)

    def motion(carrier: str) -> np.ndarray:
        return np.eye(4) if carrier == "frame" else poses.frame(carrier)

    own = [p for p in layout.placed if p.body == ("rod" if name == "rod end" else name)]
    if own and not (name == "spring" and done.job.spring.kind == "coil-over"):
        stood = drawn(done, pair.at_wheel_mm, pair.at_rack_mm, lambda p: p.body == own[0].body)
        return [(d.name, d.shape, d.where, d.colour) for d in stood]
    bodies = [b for b in neighbours.bodies(layout) if b.name == name]
    forms = [(form, b.carrier) for b in bodies for form in b.forms]
    return [
        (f"{name} {n}", solid(form, allow_many=True), motion(carrier), colour_of(name, carrier))
        for n, (form, carrier) in enumerate(forms, 1)
    ]
