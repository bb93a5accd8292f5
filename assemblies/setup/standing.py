"""Where a corner stands when its spring, its load or its rod is changed: on its spring, or where strap, bump
stop, damper or linkage hold it.

Statics over all the travel there is: the spring's force at the wheel, the bump stop's by its rows and the
strap's by its stiffness, dU/dz of each, against the sprung weight. Where neither stop touches, the exact
equilibrium of `settle`; else the grid's, straight between its heights.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from assemblies.motion.springing import Preload, Springing
from assemblies.motion.stops import INSIDE_MM, pressed_n
from assemblies.setup.ride_height import settle
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

STEP_MM = 0.25
PAST_MM = 0.05  # beyond the wished travel: less is rounding
STRAP, BUMP_STOP = "hangs on the droop strap", "sits on the bump stop"


@dataclass(frozen=True)
class HeldTravel:
    """Travel of the wheel (car standing -z higher), and what holds it there beside the spring: "" where
    nothing does and it stands within the wished travel. Arrays of one shape."""

    wheel_mm: np.ndarray
    held: np.ndarray

    @property
    def rise_mm(self) -> np.ndarray:
        return 0.0 - self.wheel_mm


@dataclass(frozen=True)
class OnStops:
    """A corner of a job and what stops its wheel."""

    job: Any  # a Job: its spring is of any kind
    s: Springing

    @property
    def weight_n(self) -> float:
        return self.s.sprung_mass_kg * G_M_S2

    @cached_property
    def _ends(self) -> tuple[float, str, float, str]:
        """Lowest and highest wheel height there is, and what is met there."""
        e = self.s.ends
        low, high = e.closes_mm[0] + INSIDE_MM, e.closes_mm[1] - INSIDE_MM
        by = [f"stands where the linkage ends ({stop})" for stop in e.stops]
        for heights, said in (
            (e.damper_longest_mm, "with the damper pulled right out"),
            (e.damper_shortest_mm, "with the damper pushed home"),
        ):
            if heights[0] is not None and heights[0] > low:
                low, by[0] = heights[0], f"hangs {said}"
            if heights[1] is not None and heights[1] < high:
                high, by[1] = heights[1], f"sits {said}"
        return low, by[0], high, by[1]

    @cached_property
    def _grid(self):
        """Wheel heights, the spring's deflection from ride and its slope, the stops' force at the wheel, the
        heights between which neither touches, and what is met at the grid's ends."""
        low, low_by, high, high_by = self._ends
        p, m = self.s.preload, self.s.mechanism
        z = np.linspace(low, high, 2 + int((high - low) / STEP_MM))
        pose = m.at(z)
        linear = p.spring.linear
        moved = (pose.damper_mm - p.ride_damper_mm if linear else pose.rocker_rad) * p.sense
        slope = (pose.ddamper_dz if linear else pose.dtheta_dz) * p.sense
        stops, taut, touches = np.zeros(len(z)), -np.inf, np.inf
        if (strap := self.job.droop_strap) is not None:
            frames = pose.frame(strap.on)
            end = frames[:, :3, :3] @ np.array(strap.end) + frames[:, :3, 3]
            length = np.linalg.norm(end - strap.frame, axis=-1)
            over = np.where(z < 0, length - strap.length, -1.0)  # a strap holds in droop
            stops = stops + strap.stiffness * np.maximum(over, 0.0) * np.gradient(length, z)
            taut = np.max(z[over > 0], initial=-np.inf)
        if (stop := self.job.bump_stop) is not None:
            pressed = np.maximum(self.job.damper.shortest + stop.free_length - pose.damper_mm, 0.0)
            stops = stops - pressed_n(stop.curve, pressed) * pose.ddamper_dz
            touches = np.min(z[(pressed > 0) & (z > 0)], initial=np.inf)
            if np.isnan(stops).any():
                high_by = "presses the bump stop beyond its last row"
        there = np.isfinite(moved + slope + stops)
        cut = (x[there] for x in (z, moved, slope, stops))
        return *cut, (taut, touches), (low_by, high_by)

    def stand(self, wound=0.0, preload: Preload | None = None, weight_n: float | None = None) -> HeldTravel:
        """Where it stands with its spring wound further by `wound` (rad; coil-over mm), (n,). `preload`:
        another spring or setting than the job's (its rate and ride may be arrays); `weight_n`: another
        load."""
        p = self.s.preload if preload is None else preload
        weight = self.weight_n if weight_n is None else weight_n
        shape = np.broadcast_shapes(np.shape(wound), np.shape(p.ride))
        wound, ride, rate = (
            np.broadcast_to(np.asarray(v, float), shape).ravel() for v in (wound, p.ride, p.spring.rate)
        )
        z, moved, slope, stops, (taut, touches), ends = self._grid
        if len(z) < 2:
            alone = settle(p, self.s.mechanism, weight, wound.reshape(shape))
            return HeldTravel(np.reshape(alone, shape), np.full(shape, ends[1], object))
        deflection = (ride / rate + wound)[:, None] + moved
        if p.spring.linear:
            deflection = np.maximum(deflection, 0.0)  # a loose coil does not pull
        force = (rate * (1.0 if p.spring.linear else 1e3))[:, None] * deflection * slope + stops
        met, inside = _crossing(z, force - weight)
        low, high = max(taut, z[0]), min(touches, z[-1])
        near = (
            inside & (met > low - STEP_MM) & (met < high + STEP_MM)
        )  # on its spring alone, to within a step
        exact = np.full(len(met), np.nan)
        if near.any():
            own = replace(p, ride=ride[near], spring=replace(p.spring, rate=rate[near]))
            start = np.round(met[near] / STEP_MM) * STEP_MM  # ride height itself where it stands there
            exact[near] = settle(own, self.s.mechanism, weight, wound[near], start)
        free = (exact >= low) & (exact <= high)
        at = np.where(free, exact, met)
        wished = self.job.corner
        held = np.select(
            [
                ~free & ~inside & (at <= z[0]),
                ~free & ~inside,
                ~free & (at <= taut),
                ~free & (at >= touches),
                at < -wished.droop - PAST_MM,
                at > wished.bump + PAST_MM,
            ],
            [*ends, STRAP, BUMP_STOP, "stands past corner.droop", "stands past corner.bump"],
            "",
        )
        return HeldTravel(at.reshape(shape), held.reshape(shape).astype(object))

    def told(self, wheel_mm) -> HeldTravel:
        """Wheel heights found otherwise, brought back to what strap, bump stop, damper and linkage leave
        free."""
        at = np.asarray(wheel_mm, float)
        z, *_, (taut, touches), ends = self._grid
        if not len(z):  # the bump stop is pressed beyond its last row at every height
            return HeldTravel(at, np.full(at.shape, ends[1], object))
        low, high = max(taut, z[0]), min(touches, z[-1])
        held = np.select(
            [at < low, at > high],
            [STRAP if taut > z[0] else ends[0], BUMP_STOP if touches < z[-1] else ends[1]],
            "",
        )
        return HeldTravel(np.clip(at, low, high), held.astype(object))


def _crossing(z: np.ndarray, over: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Height (n,) nearest to ride at which each row of `over` (n, m) rises through nothing, and whether there
    is one; else the end that it is pressed to."""
    up = (over[:, :-1] < 0) & (over[:, 1:] >= 0)
    far = np.where(up, np.abs(z[:-1]), np.inf)
    k, i = far.argmin(1), np.arange(len(over))
    a, b = over[i, k], over[i, k + 1]
    inside = np.asarray(up.any(1))
    with np.errstate(all="ignore"):
        met = z[k] + (z[k + 1] - z[k]) * a / (a - b)
    return np.where(inside, met, np.where(over[:, 0] >= 0, z[0], z[-1])), inside
