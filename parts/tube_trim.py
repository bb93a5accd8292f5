"""What no hacksaw leaves standing: tongues of a cut, long for their width and too narrow to weld, and
skins thinner than the wall that stand over a run's side. They are trimmed at the neighbouring cut.

A trim is a place of the wall (a closed line round it, in the section's axes) and a plane across it: metal
that reaches farther than the plane is taken off there. It cuts strip, length and solid alike. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.member import Section
from parts.shape.form import Frame, Prism, vector
from parts.shape.outline import Outline, rounded
from parts.skin import drawn_out
from parts.tube_wall import breaks_mm, wall_points

NARROW_MM, NARROW_WALLS = 5.0, 2.0  # a tongue under the larger of the two burns away, common practice
LONG = 1.5  # times its width: what is shorter stands, common practice
LEAST_MM = 0.5  # of length: less is within the saw's error
SAMPLES = 960  # places round the tube that are looked at
BESIDE_MM = 0.1  # a trim reaches so far past the tongue's sides, where there is no metal anyway
FLAT_MM = 0.05  # a neighbouring cut this near a plane is taken for one
OUT_MM, IN_MM = 1.0, 0.5  # a trim's line lies so far outside the tube and inside its bore
TONGUE, OVERHANG = "tongue", "overhang"


@dataclass(frozen=True)
class Trim:
    """`places`: the line round it; the plane lies `level_mm` + `slope`·(x, y) from the given end inwards.
    `at_mm`: its middle along the outside; `width_mm` round the tube, `length_mm` of metal that goes."""

    kind: str
    places: tuple[tuple[float, float], ...]
    level_mm: float
    slope: tuple[float, float]
    at_mm: float
    width_mm: float
    length_mm: float
    edges_mm: tuple[float, float]  # along the outside, from and to; past a turn or below 0 where it goes over

    floor_mm: float  # the long point's plane, where a place that meets nothing ends anyway

    def leaves(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Where lines along the tube at places of the section leave it, -inf where they do not meet it."""
        inside = np.zeros(len(x), bool)
        for (a, b), (c, d) in zip(self.places, (*self.places[1:], self.places[0]), strict=True):
            if b != d:
                inside ^= ((b > y) != (d > y)) & (x < a + (y - b) * (c - a) / (d - b))
        at = self.level_mm + self.slope[0] * x + self.slope[1] * y
        return np.where(inside & (at > self.floor_mm), at, -np.inf)

    def piece(self, end: str, length_mm: float, long_mm: float) -> Prism:
        """What to take out of the solid, in the tube's local axes: from the plane outwards past the long
        point. `length_mm`: the member's."""
        way, start = (1.0, 0.0) if end == "from" else (-1.0, length_mm)
        u, v = (way * k for k in self.slope)
        x = np.array([1.0, 0.0, u]) / np.hypot(1.0, u)
        n = np.array([-u, -v, 1.0]) / np.sqrt(1 + u * u + v * v)
        origin = np.array([0.0, 0.0, start + way * self.level_mm])
        p = np.array([(a, b, u * a + v * b) for a, b in self.places])
        flat = np.column_stack([p @ x, p @ np.cross(n, x)])
        frame = Frame(vector(origin), vector(x), vector(n))
        far = float(np.abs(p[:, 2]).max()) + abs(self.level_mm - long_mm) + 5.0
        return drawn_out(
            Outline(rounded([(float(a), float(b)) for a, b in flat])), frame, np.array([0.0, 0.0, -way * far])
        )


def trims(line: Any, section: Section) -> tuple[Trim, ...]:
    """The trims of an end whose lines along the wall are `line`; none on a solid bar."""
    if not section.wall_mm:
        return ()
    s, x, y = _samples(section)
    cuts = line.cut_at(x, y)[0].reshape(2, -1)
    found = list(_overhangs(section, s, cuts))
    places = list(zip(x.reshape(2, -1), y.reshape(2, -1), strict=True))
    for _ in range(3):  # with the longest tongue gone the long point lies elsewhere
        levels = [
            np.fmax(row, np.max([t.leaves(x, y) for t in found], axis=0)) if found else row
            for row, (x, y) in zip(cuts, places, strict=True)
        ]
        levels = [np.where(np.isinf(row), np.nan, row) for row in levels]
        long = float(np.nanmin(levels))
        metal = np.min([np.where(np.isnan(row), long, row) for row in levels], axis=0)
        more = list(_tongues(section, s, metal))
        if not more:
            break
        found += more
    return tuple(found)


@lru_cache(256)
def _samples(section: Section) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places round the tube, and x and y of them on the outside and then at the bore."""
    s = np.arange(SAMPLES) * (float(breaks_mm(section)[-1]) / SAMPLES)
    x, y, _ = wall_points(section, np.tile(s, 2), np.repeat([0.0, section.wall_mm], SAMPLES))
    return s, x, y


def _tongues(section: Section, s: np.ndarray, metal: np.ndarray):
    """`metal`: how far the wall reaches at each place (from the given end; less is farther). What a closing
    by the narrowest width that stands fills is a tongue, where it is long for its width."""
    step = s[1]
    count = max(2, round(max(NARROW_MM, NARROW_WALLS * section.wall_mm) / step))
    first = int(np.argmax(metal))  # no tongue is here: the ring is opened
    ring = np.roll(metal, -first)
    high = _sliding(ring, count, np.max)
    level = _sliding(np.roll(high, count), count, np.min)
    filled = level - ring
    for a, b in _stretches(filled > 1e-9, level):
        long, wide = float(filled[a:b].max()), (b - a) * step
        if long < max(LONG * wide, LEAST_MM):
            continue
        edges = s[first] + a * step - step - BESIDE_MM, s[first] + (b - 1) * step + step + BESIDE_MM
        yield _trim(TONGUE, section, edges, float(level[a]), (0.0, 0.0), wide, long, -np.inf)


def _overhangs(section: Section, s: np.ndarray, cuts: np.ndarray):
    """Where the outside meets nothing and the bore does: a skin over the run's side, trimmed on the plane the
    bore is cut on."""
    over = np.isnan(cuts[0]) & np.isfinite(cuts[1])
    if not over.any() or over.all():
        return
    long = float(np.nanmin(cuts))
    first = int(np.argmin(over))
    ring, step = np.roll(over, -first), s[1]
    x, y, _ = wall_points(section, s, section.wall_mm)
    for a, b in _stretches(ring, np.zeros(len(s))):
        which = (first + np.arange(a, b)) % len(s)
        design = np.column_stack([np.ones(b - a), x[which], y[which]])
        plane = np.linalg.lstsq(design, cuts[1][which], rcond=None)[0]
        long_mm = float((design @ plane).max()) - long
        if np.abs(design @ plane - cuts[1][which]).max() > FLAT_MM or long_mm < LEAST_MM:
            continue
        edges = s[first] + a * step - BESIDE_MM, s[first] + (b - 1) * step + BESIDE_MM
        slope = float(plane[1]), float(plane[2])
        yield _trim(OVERHANG, section, edges, float(plane[0]), slope, (b - a) * step, long_mm, long)


def _sliding(ring: np.ndarray, count: int, of) -> np.ndarray:
    """`of` the `count` + 1 places from each one on, round a ring."""
    return of(np.lib.stride_tricks.sliding_window_view(np.append(ring, ring[:count]), count + 1), axis=1)


def _stretches(on: np.ndarray, level: np.ndarray) -> list[tuple[int, int]]:
    """From and to (after) of places in a row that are `on` at one level."""
    start = on & ~np.insert(on[:-1] & (np.diff(level) == 0), 0, False)
    end = on & ~np.append(on[1:] & (np.diff(level) == 0), False)
    return list(zip(np.flatnonzero(start).tolist(), (np.flatnonzero(end) + 1).tolist(), strict=True))


def _trim(
    kind: str,
    section: Section,
    edges: tuple[float, float],
    level_mm: float,
    slope: tuple[float, float],
    width_mm: float,
    length_mm: float,
    floor_mm: float,
) -> Trim:
    around = float(breaks_mm(section)[-1])
    breaks = [b + k * around for k in (-1, 0, 1) for b in breaks_mm(section)]
    inner = [b for b in breaks if edges[0] < b < edges[1]]
    along = distinct([*np.linspace(*edges, max(2, int(edges[1] - edges[0]) + 1)), *inner]) % around
    depth = min(section.wall_mm + IN_MM, min(section.width_mm, section.height_mm) / 2 - 0.05)
    out, bore = (np.column_stack(wall_points(section, along, d)[:2]) for d in (-OUT_MM, depth))
    places: Sequence = [*out.tolist(), *bore[::-1].tolist()]
    return Trim(
        kind,
        tuple((float(a), float(b)) for a, b in _apart(places)),
        level_mm,
        slope,
        sum(edges) / 2 % around,
        width_mm,
        length_mm,
        edges,
        floor_mm,
    )


def _apart(places: Sequence) -> list:
    """Without corners that stand on each other."""
    return [p for k, p in enumerate(places) if np.hypot(*np.subtract(p, places[k - 1])) > 1e-3]
