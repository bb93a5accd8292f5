"""What the set-up sheet says, in numbers and words: the check table, what to set and expect, the torque list.
Its pages are drawn in `setup_pages`."""

from __future__ import annotations

import math

from assemblies.job.joint_names import CROSS_BOLT
from assemblies.layout.fasteners import fastener, joints
from assemblies.results.faults import needed
from assemblies.results.model import Results
from assemblies.setup.collar import short_of_free
from assemblies.strength.clamped import tightenings
from parts.base.stock import thread
from parts.calc.bolts import preload_n, tightening_torque_nm

HEAD = [
    "wheel height, mm",
    "rocker angle, deg",
    "damper eye to eye, mm",
    "toe-in change, deg",
    "measured rocker",
    "measured damper",
    "measured toe",
]
FIELDS = ("wheel_mm", "rocker_deg", "damper_mm", "toe_deg")
DECIMALS = (0, 1, 1, 2)


def rows(r: Results, step_mm: float = 10.0) -> list[list[str]]:
    """One row each `step_mm` of wheel height, both ends of travel included, read off the curves of
    `r.travel`."""
    t = needed(r.travel)
    low, high = t.wheel_mm[0], t.wheel_mm[-1]
    heights = sorted(
        {low, high, *(step_mm * k for k in range(math.ceil(low / step_mm), math.floor(high / step_mm) + 1))}
    )

    def shown(f, d, z):
        value = round(_read(t, f, z), d) + 0.0  # no minus zero
        return f"{value:.{d}f}" if f == "damper_mm" or value == 0 else f"{value:+.{d}f}"

    return [[*(shown(f, d, z) for f, d in zip(FIELDS, DECIMALS, strict=True)), "", "", ""] for z in heights]


def _read(t, name: str, z: float) -> float:
    x, y = t.wheel_mm, getattr(t, name)
    i = max(k for k in range(len(x) - 1) if x[k] <= z + 1e-9)
    share = (z - x[i]) / (x[i + 1] - x[i])
    a, b = (math.nan if v is None else v for v in (y[i], y[i + 1]))
    return b if share > 1 - 1e-9 else a if share < 1e-9 else a + share * (b - a)


def notes(r: Results) -> list[str]:
    """What to set and what to expect, a sentence each."""
    s, e, c = needed(r.spring), needed(r.ends), r.clocking
    out = [
        f"All figures hold for the {r.side} side with the car at ride height, driver aboard. Wheel height is "
        f"measured from there, bump positive. "
        "Rocker angle is right-handed about the axis as the job file gives it."
    ]
    if s.ride_torque_nm is not None:
        out.append(
            f"At ride the spring carries {s.ride_torque_nm:.1f} N·m at {s.ride_twist_deg:.1f} deg of twist; "
            f"it is slack with the rocker at "
            f"{s.slack_rocker_deg:+z.1f} deg."
        )
        out.append(
            f"At full droop {s.droop_twist_deg:.1f} deg of twist are left: wind them in before the pin goes "
            f"in, against a droop stop that holds. "
            "A wound spring can break bones: load and unload it only through the adjuster with the travel "
            "blocked."
        )
    else:
        out.append(
            f"At ride the coil carries {s.ride_force_n:.0f} N, "
            f"{short_of_free(needed(s.ride_compression_mm))}; at full droop it is "
            f"{short_of_free(needed(s.droop_compression_mm))}."
        )
    for name, step in c.steps.items():
        out.append(f"One step of the {name}: {step:.3f} deg, {_risen(c, name)}.")
    for text, z in (
        ("The damper tops out", e.damper_tops_out_at_wheel_mm),
        ("The damper bottoms", e.damper_bottoms_at_wheel_mm),
        ("The spring goes slack", e.spring_slack_at_wheel_mm),
    ):
        if z is not None:
            out.append(f"{text} at wheel height {z:+z.1f} mm.")
    out.append(
        "If a reading is off by more than 0.5 deg or 1 mm (common practice), stop and find out why before "
        "going on."
    )
    return out


def _risen(c, name: str) -> str:
    mm, by = c.ride_height_per_step_mm.get(name), c.held_per_step.get(name)
    if mm is None:
        return "on which the car cannot stand"
    return f"{abs(mm):.1f} mm of ride height" + (f": the car then {by}" if by else "")


def torque_list(layout) -> list[list[str]]:
    """Where, bolt, tightening torque and what sets it, how it is locked; then what is not laid out. Guidance:
    T = K·F·d, K = 0.2, F the less of the class's preload and what the clamped parts bear."""
    open_ = joints(layout)[1]
    out = []
    for tight in tightenings(layout):
        j = tight.joint
        try:
            length = f"x {fastener(j).length_mm:g}"
        except ValueError:
            length = "length?"
        pivoting = any(w in j.name for w in ("rod", "damper", "bracket"))
        lock = "all-metal lock nut, plain shank in both plates" if pivoting else "lock nut, reamed hole"
        if tight.limited and tight.weakest is not None:
            lock += f"; no more: {tight.weakest.what} bears {tight.weakest.bears_n / 1e3:.1f} kN"
            lock += ", snug" if j.name == CROSS_BOLT else ""
        out.append([j.name, f"{j.count} {j.size} {length}", f"{tight.torque_nm}", lock])
    rod = layout.job.rod.thread
    t = thread(rod)
    out.append(
        [
            "rod's two jam nuts",
            f"2 {rod}",
            f"{tightening_torque_nm(preload_n(t.stress_area_mm2, '8.8'), t.diameter_mm) / 2:.0f}",
            "paint stripe; thread seen in the witness hole; both balls free",
        ]
    )
    return [*out, *([text, "", "", "yours: write bolt and torque"] for text in open_)]
