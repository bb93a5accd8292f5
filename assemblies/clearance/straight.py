"""What the rack does not move: the arms, and what hangs on them, stand where the lower arm's angle puts them.

The rack only changes the wheel's height at which the arm has an angle (the rod on the upright apart). Two
such bodies take, over all travel and rack, the poses of one range of that angle: those with the rack straight
ahead over a travel a little longer. So their gap is looked for over one number in place of two, and told at a
pose of travel and rack in which the arm stands alike.

Which angles occur at the ends of travel is read at `SAMPLES` places of the rack. Between two of them, h
apart, the arm's outer joint strays from the straight line between its places by at most h²/8·sup|p''|
(bounds.py): by that the range is widened.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from assemblies.clearance.bounds import CornerBounds, carrier_index, sharpest
from assemblies.clearance.memory import recalled
from assemblies.clearance.slack import ROOTS, SIDES
from assemblies.motion.linkage import turn

SAMPLES = 4097
STRAY_MM = 1e-6  # the most the range is widened by: below what is taken off every bound
LEAST_MM = 5.0  # of travel: over less, to search travel and rack together is quicker than to find the range


class Straight:
    """The travel with the rack straight ahead that stands for a travel and rack, and the way back."""

    def __init__(self, corner: CornerBounds, travel_mm, rack_mm: tuple[float, float], straight_mm):
        self.travel = straight_mm
        self._mechanism, self._steered, self._whole, self._rack = (
            corner.mechanism,
            corner.steered,
            travel_mm,
            np.linspace(*rack_mm, SAMPLES),
        )
        self._known: dict[
            float, np.ndarray
        ] = {}  # most pairs are nearest at an end of the travel: the same for all

    @classmethod
    @lru_cache(maxsize=8)
    def of(
        cls,
        corner: CornerBounds,
        travel_mm: tuple[float, float],
        rack_mm: tuple[float, float],
        between_runs: bool = False,
    ) -> Straight | None:
        """None where there is nothing of the kind: the rod on the upright, a corner that does not close or
        whose motion cannot be bounded over the longer travel; nor over a sliver of travel."""
        key = f"{corner.content}, {travel_mm}, {rack_mm}"
        (straight,) = recalled(
            "straight ahead", [key], lambda _: [cls._travel(corner, travel_mm, rack_mm)], between_runs
        )
        return straight and cls(corner, travel_mm, rack_mm, straight)

    @staticmethod
    def _travel(
        corner: CornerBounds, travel_mm: tuple[float, float], rack_mm: tuple[float, float]
    ) -> tuple[float, float] | None:
        m, p = corner.mechanism, corner.mechanism.points
        if m.chain.on_upright or travel_mm[1] - travel_mm[0] < LEAST_MM or rack_mm[0] > 0 or rack_mm[1] < 0:
            return None
        rack = np.linspace(*rack_mm, SAMPLES)
        ends = m.at(np.array(travel_mm)[:, None], rack)
        bend = sharpest(
            *corner.bends(np.linspace(*travel_mm, ROOTS + 1), np.linspace(*rack_mm, 2 * SIDES + 1)),
            np.array([carrier_index("lower_arm")]),
            (np.ravel(p.lower_outer) - corner.references[carrier_index("lower_arm")])[None, None],
        )
        stray = (rack[1] - rack[0]) ** 2 / 8 * float(bend[1].max())
        if not (ends.valid.all() and stray < STRAY_MM):
            return None
        angle = _angle(ends)
        hinge = np.ravel(p.lower_rear - p.lower_front)
        arm = np.ravel(p.lower_outer - p.lower_front)
        more = 1.1 * stray / float(np.linalg.norm(np.cross(hinge, arm)) / np.linalg.norm(hinge))
        height = _height(m.chain, np.array([angle.min() - more, angle.max() + more]), 0.0)
        straight = float(height.min()), float(height.max())
        if (
            not m.at(np.array(straight)).valid.all()
            or not np.isfinite(corner.bends(np.linspace(*straight, ROOTS + 1), np.zeros(1))).all()
        ):
            return None
        return straight

    def stands_for(self, carriers) -> bool:
        """Whether bodies on these carriers all stand where the lower arm's angle puts them."""
        return not any(carrier_index(c) in self._steered for c in carriers)

    def told(self, gap, under_mm, clash_mm) -> tuple:
        """What was found of a pair with the rack straight ahead, over travel and rack. Its pose stays one
        with the rack straight ahead, if need be a hair past the travel: no rack setting has a part in it."""
        if gap is None:
            return gap, under_mm, clash_mm
        return gap, *(self.span(s) if s else None for s in (under_mm, clash_mm))

    def span(self, straight_mm: tuple[float, float]) -> tuple[float, float]:
        """All wheel travel at which, at some rack, the arms stand as somewhere in a range with the rack
        straight ahead."""
        low, high = self._whole
        first, last = (self._heights(x) for x in straight_mm)
        return float(np.clip(first.min() - STRAY_MM, low, high)), float(
            np.clip(last.max() + STRAY_MM, low, high)
        )

    def _heights(self, straight_mm: float) -> np.ndarray:
        """The wheel's height at each place of the rack with the arms as at a travel straight ahead."""
        if straight_mm not in self._known:
            angle = _angle(self._mechanism.at(straight_mm))[0]
            self._known[straight_mm] = _height(
                self._mechanism.chain, np.full(len(self._rack), angle), self._rack
            )
        return self._known[straight_mm]


def _angle(poses) -> np.ndarray:
    """The lower arm's angle from ride, flat, rad."""
    cos, sin = poses.state[0, :2]
    return np.arctan2(sin, cos)


def _height(chain, angle: np.ndarray, rack_mm) -> np.ndarray:
    """The wheel's height over ride at angles of the lower arm (rad) and places of the rack."""
    return np.ravel(chain.upright(*turn(angle[None]), np.broadcast_to(rack_mm, (1, len(angle)))).wheel_z)
