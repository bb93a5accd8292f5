"""Where the wheel is really stopped: the bump stop against the spring's curve, a strap in droop, or else the
damper's metal; and from how high a fall, with what force.

Energy of the sprung mass on the spring's whole curve: rigid tyre, no damping, unsprung mass left out, so a
fall is told short and a force tall.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Springing
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

STEP_MM = 0.25
INSIDE_MM = 1e-3  # of the very end, where a pose stands only within rounding


@dataclass(frozen=True)
class Stop:
    """One end of the travel: `by` "bump stop", "spring", "droop strap", "damper", or the part of the linkage
    that reaches no further. `force_n` along the stop (nan: metal, no bound); `fall_mm` of the hanging wheel
    over the ground that brings it there (bump)."""

    wheel_mm: float
    by: str
    force_n: float = np.nan
    touches_mm: float = np.nan
    fall_mm: float = np.nan
    wheel_n: float = np.nan  # of a droop stop: its peak at the wheel, and the spring's force left there
    spring_n: float = np.nan


def pressed_n(curve, pressed_mm):
    """Force of a stop by its rows [mm pressed, N]: straight between them and from nothing; nan beyond the
    last."""
    rows = np.array([(0.0, 0.0), *curve], float)
    return np.interp(pressed_mm, rows[:, 0], rows[:, 1], right=np.nan)


def fall_mm(wheel_mm, force_n, weight_n: float) -> np.ndarray:
    """Height over the ground from which a wheel that hangs at `wheel_mm[0]` is pressed to each wheel height:
    W·(h + z - z0) = ∫F dz."""
    z, f = np.asarray(wheel_mm, float), np.asarray(force_n, float)
    energy = np.concatenate([[0.0], np.cumsum(np.diff(z) * (f[1:] + f[:-1]) / 2)])
    return energy / weight_n - (z - z[0])


def strap_n(energy_nmm: float, spring_n: float, stiffness_n_per_mm: float) -> float:
    """Peak force that stops a wheel thrown down by its spring: k·x²/2 = E + F·x, F the spring's force left.

    >>> round(strap_n(36250, 175, 800), 4)
    7792.7835
    """
    k = stiffness_n_per_mm
    return spring_n + float(np.sqrt(spring_n**2 + 2 * k * energy_nmm))


def bump_end(job, mechanism: Mechanism, sprung: Springing) -> Stop:
    """Where the wheel ends in bump under `loads.vertical_g` times the corner's weight, pushed slowly: the
    height at which spring and bump stop carry it, else where the damper bottoms or the linkage ends."""
    last, by = sprung.ends.closes_mm[1] - INSIDE_MM, sprung.ends.stops[1]
    bottoms = sprung.ends.damper_shortest_mm[1]
    if bottoms is not None and bottoms < last:
        last, by = bottoms, "damper"
    if job.bump_stop is None:
        return Stop(last, by)
    stop, droop = job.bump_stop, max(-job.corner.droop, sprung.ends.closes_mm[0] + INSIDE_MM)
    z = np.linspace(droop, last, 2 + int((last - droop) / STEP_MM))
    poses = mechanism.at(z)
    pressed = job.damper.shortest + stop.free_length - poses.damper_mm
    along = pressed_n(stop.curve, pressed)
    total = sprung.preload.curves(poses).wheel_force_n - along * poses.ddamper_dz
    touching = np.nonzero(pressed > 0)[0]
    touches = float(z[touching[0]]) if len(touching) else np.nan
    asked = job.loads.vertical_g * job.corner.corner_mass * G_M_S2
    held = np.nonzero((z > 0) & (total >= asked))[0]
    if not len(held):
        return Stop(last, by, touches_mm=touches)
    k = int(held[0])
    share = (asked - total[k - 1]) / (total[k] - total[k - 1]) if total[k] > total[k - 1] else 1.0
    at = lambda v: float(v[k - 1] + share * (v[k] - v[k - 1]))  # noqa: E731
    falls = fall_mm(z[: k + 1], total[: k + 1], sprung.sprung_mass_kg * G_M_S2)
    return Stop(at(z), "bump stop" if pressed[k] > 0 else "spring", at(along), touches, at(falls))


def droop_end(job, mechanism: Mechanism, sprung: Springing) -> Stop:
    """Where the wheel ends in droop: a strap drawn taut, else the damper's longest or the linkage's end.
    Strap, or a damper whose top-out stiffness is given, bears the spring's energy from ride height down; a
    strap that is taut at ride height already has no force here."""
    last, by = sprung.ends.closes_mm[0] + INSIDE_MM, sprung.ends.stops[0]
    out, strap = sprung.ends.damper_longest_mm[0], job.droop_strap
    if out is not None and out > last:
        last, by = out, "damper"
    if strap is not None:
        z = np.linspace(0.0, last, 2 + int(-last / STEP_MM))
        frames = mechanism.at(z).frame(strap.on)
        end = frames[:, :3, :3] @ np.array(strap.end) + frames[:, :3, 3]
        length = np.linalg.norm(end - strap.frame, axis=-1)
        taut = np.nonzero(length >= strap.length)[0]
        if len(taut) and taut[0] == 0:
            return Stop(0.0, "droop strap")
        if len(taut):
            k = int(taut[0])
            share = (strap.length - length[k - 1]) / (length[k] - length[k - 1])
            height = float(z[k - 1] + share * (z[k] - z[k - 1]))
            ratio = float((length[k] - length[k - 1]) / (z[k - 1] - z[k]))  # mm of strap a mm of wheel
            return _thrown(mechanism, sprung, height, "droop strap", ratio, strap.stiffness)
    if by == "damper" and job.damper.top_out_stiffness is not None:
        ratio = -float(mechanism.at([last]).ddamper_dz[0])
        return _thrown(mechanism, sprung, last, by, ratio, job.damper.top_out_stiffness)
    return Stop(last, by)


def _thrown(mechanism, sprung, height_mm: float, by: str, ratio: float, stiffness: float) -> Stop:
    """A stop that the spring throws the wheel into from ride height, the body in free fall: no damping, the
    unsprung mass's own weight left out."""
    down = np.linspace(height_mm, 0.0, 200)
    force = np.maximum(sprung.preload.curves(mechanism.at(down)).wheel_force_n, 0.0)
    energy = float(np.sum(np.diff(down) * (force[1:] + force[:-1]) / 2))
    wheel_n = strap_n(energy, float(force[0]), stiffness * ratio**2)
    return Stop(height_mm, by, wheel_n / ratio, height_mm, wheel_n=wheel_n, spring_n=float(force[0]))
