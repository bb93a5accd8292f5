"""A hose, cable or strap between two moving points: how far they come apart, and how near."""

from __future__ import annotations

import numpy as np

from assemblies.clearance.bounds import WIDEST_CELLS, CornerBounds, carrier_index, sharpest
from assemblies.clearance.scene import spread
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class LongestReach:
    """Greatest distance of two points over all poses: it lies between `found_mm` (at the pose) and
    `longest_mm` (proven); and the least, between `shortest_mm` (proven) and `found_shortest_mm`."""

    longest_mm: float
    found_mm: float
    at_wheel_mm: float
    at_rack_mm: float
    shortest_mm: float
    found_shortest_mm: float
    shortest_at_wheel_mm: float
    shortest_at_rack_mm: float


def reach(
    mechanism,
    carrier_a: str,
    point_a,
    carrier_b: str,
    point_b,
    travel_mm,
    rack_mm: float = 0.0,
    within_mm: float = 0.1,
) -> LongestReach:
    """Greatest and least distance of point a (riding on one body) from point b (on another) over travel and
    rack.

    Along straight paths a distance is convex, so over a cell it is at most the greatest at its corners, plus
    what the true paths may stray from straight ones (bounds.py); and it is at least the least of n·(b - a) at
    its corners, less as much, for any direction n. Cells are halved until both are within `within_mm`. Raises
    ValueError where the corner cannot reach a pose or the bound cannot be had."""
    corner = CornerBounds(mechanism)
    carriers = np.array([carrier_index(carrier_a), carrier_index(carrier_b)])
    points = np.array([point_a, point_b], float)
    cells = 32
    while True:
        z = spread(travel_mm, cells + 1)
        s = np.linspace(-abs(rack_mm), abs(rack_mm), cells // 2 + 1) if rack_mm else np.zeros(1)
        zz, ss = np.repeat(z, len(s)), np.tile(s, len(z))
        f = corner.frames(zz, ss)[:, carriers]
        if not np.isfinite(f).all():
            raise ValueError(
                f"hose: the corner cannot reach all of wheel travel {travel_mm[0]:g} to {travel_mm[1]:g} mm"
            )
        ends = np.einsum("tkij,kj->tki", f[..., :3], points) + f[..., 3]
        way = ends[:, 1] - ends[:, 0]
        apart = np.sqrt((way**2).sum(1))
        bend = sharpest(*corner.bends(z, s), carriers, (points - corner.references[carriers])[:, None]).sum(1)
        slack = bend[0] * (z[1] - z[0]) ** 2 / 8
        if rack_mm:
            slack = slack + bend[1] * (s[1] - s[0]) ** 2 / 8
        grid = apart.reshape(len(z), len(s))
        corners = [grid[:-1], grid[1:]]
        ways = way.reshape(len(z), len(s), 3)
        ways = [ways[:-1], ways[1:]]
        if rack_mm:
            corners, ways = ([x for c in both for x in (c[:, :-1], c[:, 1:])] for both in (corners, ways))
        longest = float((np.max(corners, 0) + slack).max()) + 1e-6
        n = np.mean(ways, 0)
        n = n / np.maximum(np.sqrt((n**2).sum(-1)), 1e-12)[..., None]
        least = np.min([(w * n).sum(-1) for w in ways], 0)
        shortest = max(float((least - slack).min()) - 1e-6, 0.0)
        far, near = int(apart.argmax()), int(apart.argmin())
        if longest - apart[far] <= within_mm and apart[near] - shortest <= within_mm:
            return LongestReach(
                longest,
                float(apart[far]),
                float(zz[far]),
                float(ss[far]),
                shortest,
                float(apart[near]),
                float(zz[near]),
                float(ss[near]),
            )
        cells *= 2
        if cells > WIDEST_CELLS:
            raise ValueError(
                "hose: the motion is too quick to be bounded; end the travel further from where it stops "
                "closing"
            )
