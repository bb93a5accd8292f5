"""Where the tie rod's inner joint may stand, in height and width at the rack's given fore-aft, so that bump
steer stays small: a map of places, the best one, and what it means for the rack.

Least toe: the greatest |toe change| from full droop to full bump against ride, rack straight ahead. The inner
joint moves in y and z; its x and the outer joint stay; the tie rod is made anew to the length that leaves
the toe at ride as it is.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from parts.base.frozen import dataclass

LIMIT_DEG = 0.1  # over the whole travel, each wheel; common practice asks it per 25 mm
SPAN_MM = 60.0  # either way from the present place
SPANS_MM = (
    36.0,
    22.0,
    13.0,
    8.0,
    5.0,
    3.0,
)  # of the map either way of the best place, where the zone is small
SEEN = 0.06  # of the map's places within the limit
COUNT = 41  # places along each side of the map
HEIGHTS = 25  # of the wheel, droop to bump
KEEP_MM = 30.0  # from the outer joint and the car's middle: no shorter tie rod is looked at
ROUNDS, SHRINK = 12, 0.6  # of the search for the best place


@dataclass(frozen=True)
class Zone:
    """`worst_deg[k, i]`: greatest |toe change| with the inner joint at `y_mm[i]`, `z_mm[k]`; NaN where the
    corner does not stand over the travel. `best_mm` is the least within SPAN_MM of the present place; the
    map is round it, small enough that the zone can be seen."""

    x_mm: float
    y_mm: np.ndarray
    z_mm: np.ndarray
    worst_deg: np.ndarray
    limit_deg: float
    present_mm: tuple[float, float]
    present_deg: float
    best_mm: tuple[float, float]
    best_deg: float

    @property
    def inside(self) -> np.ndarray:
        """Places of the map within the limit."""
        with np.errstate(invalid="ignore"):
            return self.worst_deg <= self.limit_deg


def worst_toe_deg(points: HardPoints, y_mm, z_mm, travel_mm) -> np.ndarray:
    """Greatest |toe change| against ride over the heights `travel_mm` (from, to), rack straight ahead, with
    the inner joint at y, z (arrays that broadcast); NaN where the corner does not stand all along."""
    y, z = np.broadcast_arrays(np.asarray(y_mm, float), np.asarray(z_mm, float))
    place = np.stack([np.full(y.shape, float(points.tie_inner[0])), y, z], -1).reshape(-1, 3)
    low, high = travel_mm
    heights = np.concatenate([[0.0], np.linspace(low, high, HEIGHTS)])
    toe = Mechanism(points.changed(tie_inner=place)).at(heights).toe_deg
    return np.abs(toe[:, 1:] - toe[:, :1]).max(1).reshape(y.shape)


def zone(points: HardPoints, travel_mm, limit_deg: float = LIMIT_DEG, span_mm: float = SPAN_MM) -> Zone:
    """The best place near the present one, by closing in on the least, and the map round it."""
    y0, z0 = (float(v) for v in points.tie_inner[1:])
    side = 1.0 if points.side == "left" else -1.0
    far = abs(float(points.tie_outer[1])) - KEEP_MM
    low, high = max(KEEP_MM, abs(y0) - span_mm), min(far, abs(y0) + span_mm)
    y = side * np.array([low, max(low, high)])
    z = z0 + np.array([-span_mm, span_mm])
    present = float(worst_toe_deg(points, y0, z0, travel_mm))
    best, best_deg = (y0, z0), present
    half = np.array([abs(y[-1] - y[0]) / 2, span_mm])
    middle = np.array([(y[0] + y[-1]) / 2, z0])
    bounds = np.sort(np.array([[y[0], y[-1]], [z[0], z[-1]]]), axis=1)
    for _ in range(ROUNDS):
        grids = [
            np.clip(m + h * np.linspace(-1, 1, 13), *b) for m, h, b in zip(middle, half, bounds, strict=True)
        ]
        seen = worst_toe_deg(points, grids[0][None, :], grids[1][:, None], travel_mm)
        if np.isfinite(seen).any():
            k, i = np.unravel_index(np.nanargmin(seen), seen.shape)
            if not best_deg <= seen[k, i]:
                best, best_deg = (float(grids[0][i]), float(grids[1][k])), float(seen[k, i])
        middle, half = np.array(best), half * SHRINK
    for span in (span_mm, *(s for s in SPANS_MM if s < span_mm)):  # as near as the zone asks to be seen
        y = side * np.clip(side * best[0] + np.linspace(-span, span, COUNT), KEEP_MM, max(far, KEEP_MM))
        z = best[1] + np.linspace(-span, span, COUNT)
        worst = worst_toe_deg(points, y[None, :], z[:, None], travel_mm)
        if not best_deg <= limit_deg or (worst <= limit_deg).mean() >= SEEN:
            break
    return Zone(float(points.tie_inner[0]), y, z, worst, limit_deg, (y0, z0), present, best, best_deg)


@dataclass(frozen=True)
class Advice:
    """A place in whole millimetres near the best one, as a builder would set it, and what it gives."""

    raise_mm: float  # of the inner joint, so of the rack
    outboard_mm: float
    place_mm: tuple[float, float, float]
    toe_deg: float  # the greatest |toe change| at this very place
    extension_mm: float | None  # of a given rack, this side
    changes: dict  # keys of the job


def advice(job, found: Zone, travel_mm) -> Advice:
    """The best place in whole millimetres from the present one: of the 25 round it that with the least toe.
    The present place stays where none of them is better."""
    points = HardPoints.of(job)
    side = 1.0 if job.corner.side == "left" else -1.0
    inner = job.tie_rod.inner
    dy, dz = (b - p for b, p in zip(found.best_mm, found.present_mm, strict=True))
    tries = [(round(dy) + a, round(dz) + b) for a in range(-2, 3) for b in range(-2, 3)]
    worst = {
        (a, b): float(worst_toe_deg(points, inner[1] + a, inner[2] + b, travel_mm))
        for a, b in (*tries, (0, 0))
    }
    (a, b), toe = min(worst.items(), key=lambda item: (not math.isfinite(item[1]), item[1]))
    place = (inner[0], inner[1] + a, inner[2] + b)
    changes: dict = {"tie_rod.inner": list(place)}
    extension = None
    if job.rack is not None:
        centre = job.rack.centre or (inner[0], 0.0, inner[2])
        extension = side * (place[1] - centre[1]) - job.rack.length / 2
        if job.rack.centre is not None:
            changes["rack.centre"] = [centre[0], centre[1], place[2]]
        if job.rack.extension is not None:
            changes["rack.extension"] = extension
    return Advice(float(b), side * a, place, toe, extension, changes)


def sentence(job, found: Zone, tip: Advice, travel_mm) -> str:
    """What a builder needs to hear; the toe is told upwards."""
    span = f"over {travel_mm[0]:+g} to {travel_mm[1]:+g} mm"
    if not math.isfinite(tip.toe_deg):
        return f"no place of the tie rod's inner joint within {SPAN_MM:g} mm was found to stand {span}"

    def told(deg: float) -> str:
        return f"{math.ceil(1000 * deg - 1e-9) / 1000:.3f}"

    if tip.raise_mm == tip.outboard_mm == 0:
        return f"leave the inner joint where it is: toe stays within {told(tip.toe_deg)} deg {span}"
    thing = "the rack" if job.rack is not None or job.tie_rod.rack_travel else "the toe link's inner joint"
    moves = []
    if tip.raise_mm:
        moves.append(f"{'raise' if tip.raise_mm > 0 else 'lower'} {thing} {abs(tip.raise_mm):g} mm")
    if tip.extension_mm is not None and tip.extension_mm >= 0:
        moves.append(f"make the {job.corner.side} extension {tip.extension_mm:g} mm")
    elif tip.extension_mm is not None:
        moves.append(f"take a rack {2 * -tip.extension_mm:g} mm shorter between its inner joints")
    elif tip.outboard_mm:
        way = "outboard" if tip.outboard_mm > 0 else "inboard"
        moves.append(f"move its inner joint {abs(tip.outboard_mm):g} mm {way}")
    now = f" (now {told(found.present_deg)} deg)" if math.isfinite(found.present_deg) else ""
    return f"{' and '.join(moves)}: toe stays within {told(tip.toe_deg)} deg {span}{now}"
