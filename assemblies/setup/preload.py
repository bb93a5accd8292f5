"""Preload: what has to be wound in against the droop stop before the pin goes in, and what it can do to a
hand.

Torque K·θ, energy K·θ²/2, force at the end of a lever T/L (statics), the lever's end sweeps θ·L. A coil-over:
force k·x, energy k·x²/2. All from the free spring.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.motion.springing import Spring, Springing
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

LEVER_MM = 600.0  # a stout bar a builder has; state your own


@dataclass(frozen=True)
class Winding:
    """The spring at one pose. Twist in deg for a rotary spring, compression in mm for a coil-over; torque
    N·m, or force N."""

    pose: str
    wheel_mm: float
    deflection: float
    load: float
    energy_j: float
    lever_force_n: float | None = None
    lever_travel_mm: float | None = None


def energy_j(rate, deflection, linear: bool = False):
    """K·θ²/2 (N·m/rad, rad), or k·x²/2 of a coil (N/mm, mm), J; a slack spring stores nothing.

    >>> round(float(energy_j(100.0, 0.5)), 3), float(energy_j(60.0, 20.0, linear=True))
    (12.5, 12.0)
    """
    x = np.maximum(np.asarray(deflection, float), 0.0)
    return np.asarray(rate, float) * x**2 / 2 * (1e-3 if linear else 1.0)


def lever_force_n(torque_nm, lever_mm):
    """Force at the end of a lever, square to it: T/L.

    >>> float(lever_force_n(60.0, 600.0))
    100.0
    """
    lever = np.asarray(lever_mm, float)
    if not (np.isfinite(lever) & (lever > 0)).all():
        raise ValueError(
            f"lever_mm is {lever_mm}; it must be above 0: measure from the tube's axis to the middle of your "
            f"hands"
        )
    return np.asarray(torque_nm, float) / (lever / 1000)


def winding(s: Springing, wheel_mm, lever_mm: float = LEVER_MM, pose: str = "") -> Winding:
    """The spring with the wheel at a travel."""
    c = s.preload.curves(s.mechanism.at(wheel_mm))
    if s.spring.linear:
        x = float(c.compression_mm)
        return Winding(
            pose, float(wheel_mm), x, max(float(c.force_n), 0.0), float(energy_j(s.spring.rate, x, True))
        )
    twist = float(c.twist_rad)
    torque = max(float(c.torque_nm), 0.0)
    return Winding(
        pose,
        float(wheel_mm),
        math.degrees(twist),
        torque,
        float(energy_j(s.spring.rate, twist)),
        float(lever_force_n(torque, lever_mm)),
        max(twist, 0.0) * lever_mm,
    )


def windings(s: Springing, lever_mm: float = LEVER_MM) -> list[Winding]:
    """Droop stop, damper topped out (where that is beyond), ride height, bump."""
    top = s.ends.damper_longest_mm[0]
    poses = [
        ("full droop", float(s.wheel_mm[0])),
        ("damper topped out", top),
        ("ride height", 0.0),
        ("full bump", float(s.wheel_mm[-1])),
    ]
    found = [winding(s, z, lever_mm, name) for name, z in poses if z is not None]
    return [w for w in found if math.isfinite(w.energy_j)]


def bound_torque_nm(spring: Spring, twist_deg: float) -> float | None:
    """Torque of a leaf pack as stiff as its ends can make it: the most the lever may have to hold."""
    return None if spring.rate_held is None else max(spring.rate_held * math.radians(twist_deg), 0.0)


def stop_needed(s: Springing, droop_mm: float) -> str:
    """What must hold the wheel at droop, and what happens without it."""
    top, slack = s.ends.damper_longest_mm[0], s.slack_wheel_mm
    unit, left = ("mm", s.compression_mm) if s.spring.linear else ("deg", s.twist_deg)
    at = left["droop"]
    if not math.isfinite(at):
        return (
            f"The linkage stops closing at wheel {s.ends.closes_mm[0]:+z.1f} mm, before full droop: set a "
            f"stop or strap well above that."
        )
    if slack is not None and slack >= -droop_mm:
        return (
            f"The spring is slack before full droop, at wheel {slack:+z.1f} mm: nothing to wind in, and it "
            f"rattles. Set a stop or strap above that height, "
            "or use a softer spring."
        )
    held = (
        f"At wheel {-droop_mm:+z.0f} mm the spring still pushes with {at:.1f} {unit} left in it, so a "
        f"droop stop or strap must hold the wheel there."
    )
    if top is None:
        return (
            f"{held} The damper never tops out within the linkage's reach: without a stop nothing but the "
            f"linkage ends droop."
        )
    if slack is not None and slack > top:
        return (
            f"{held} Without it the wheel falls to {slack:+z.1f} mm, where the spring goes slack, before "
            f"the damper tops out at {top:+z.1f} mm."
        )
    if top > -droop_mm:
        return (
            f"The damper tops out at wheel {top:+z.1f} mm, before the asked droop: it would be the stop. "
            f"Use a strap unless its maker allows that."
        )
    return (
        f"{held} Without it the damper alone stops the wheel, at {top:+z.1f} mm with "
        f"{left.get('damper_top_out', math.nan):.1f} {unit} left; few dampers are made for that."
    )


def cautions(s: Springing, lever_mm: float = LEVER_MM) -> list[str]:
    """What stands beside the winding numbers, each with its own numbers."""
    w, bump = (winding(s, float(z), lever_mm) for z in s.wheel_mm[[0, -1]])
    if not math.isfinite(w.energy_j + bump.energy_j):
        return [
            "Load and unload the spring only with the travel blocked. Never heat, weld, drill or grind a "
            "loaded spring."
        ]
    if s.spring.linear:
        return [
            f"At full droop the coil still holds {w.load:.0f} N and {w.energy_j:.0f} J: use spring "
            f"compressors, keep out of line with the coil, and never undo an eye bolt of a loaded "
            f"coil-over."
        ]
    return [
        f"The wound spring holds {w.energy_j:.1f} J at full droop and {bump.energy_j:.0f} J at full bump, "
        f"where it would throw 1 kg {bump.energy_j / G_M_S2:.0f} m high: it can break bones.",
        f"Wind and unwind only with a lever that cannot slip off, held by two people or a stop: "
        f"{w.lever_force_n:.0f} N at {lever_mm:.0f} mm, the hands moving {w.lever_travel_mm:.0f} mm.",
        "Block the travel at the droop stop first. Hands and face stay out of the lever's plane and out of "
        "line with the tube's end. Never load or unload by knocking a bolt out.",
        "Never heat, weld, drill or grind a loaded spring.",
    ]
