"""The collar of a coil-over: the dimension it is set by, and what other settings of it do.

With the damper off the car and pulled right out, the coil stands between its seat and the collar's perch, as
short of its free length as the damper's travel from ride height to there leaves of the ride's compression.
Winds are mm that the collar squeezes the coil more; positive raises the car.
"""

from __future__ import annotations

import numpy as np

from assemblies.motion.springing import Springing
from assemblies.results.findings import Finding
from assemblies.results.setting import CollarRow
from assemblies.setup.limits import beyond
from assemblies.setup.standing import OnStops

JUST_FREE_MM = 0.05  # what the words round to nothing


def topped_out_mm(job, s: Springing) -> float:
    """Compression of the coil at the design setting with the damper pulled right out; below 0 it is loose
    there."""
    p = s.preload
    return float(p.ride_deflection + p.sense * (job.damper.longest - p.ride_damper_mm))


def settings(on: OnStops, layout=None, wanted_mm: float = 0.0, count: int = 9) -> list[CollarRow]:
    """`count` settings 1 mm of collar apart, the middle one the wanted wind; equilibria under the sprung
    weight."""
    job, s = on.job, on.s
    winds = wanted_mm + np.arange(count) - (count - 1) // 2
    p, m = s.preload, s.mechanism
    stands = on.stand(winds)
    force = p.curves(m.at(stands.wheel_mm)).force_n + p.spring.rate * winds
    top, droop = topped_out_mm(job, s), s.compression_mm["droop"]
    return [
        CollarRow(
            wind_mm=float(w),
            seat_to_perch_mm=float(job.spring.free_length - top - w),
            ride_height_mm=_there(x),
            held=by,
            beyond="; ".join(
                t for t in (beyond(job.spring, s, float(w)), _off_thread(job, s, layout, float(w))) if t
            ),
            force_n=_there(f),
            droop_compression_mm=_there(droop + w),
        )
        for w, x, by, f in zip(winds, stands.rise_mm, stands.held, force, strict=True)
    ]


def short_of_free(mm: float) -> str:
    """A coil's compression in words: it is short of its free length, just free, or loose."""
    if abs(mm) < JUST_FREE_MM:
        return "just free"
    return f"{mm:.1f} mm short of free" if mm > 0 else f"loose by {-mm:.1f} mm"


def order(job, s: Springing) -> str:
    """How the collar is set before the coil-over goes in, a sentence."""
    top = topped_out_mm(job, s)
    held = f", holding {s.spring.rate * top:.0f} N" if top >= JUST_FREE_MM else ""
    return (
        f"Off the car, the damper pulled right out ({job.damper.longest:g} mm eye to eye), turn the collar "
        f"till it stands {job.spring.free_length - top:.1f} mm from seat to perch: the coil is then "
        f"{short_of_free(top)}{held}. Then fit it, settle the car (roll 2 m back and forth, press each end), "
        f"read the ride height and turn both sides' collars alike."
    )


def findings(job, s: Springing, layout) -> list[Finding]:
    """The collar has to stand on the body: whether the coil is too long for this damper."""
    over = _over_mm(job, s, layout)
    if not over > 0:
        return []
    cap = layout.damper_body.part.cap_mm
    return [
        Finding(
            level="warn",
            code="collar",
            where="coil spring",
            text=(
                f"At the design setting the collar's perch would stand {cap - over:.1f} mm from the body's "
                f"eye; the body begins at {cap:.1f} mm: no thread there. A spring at least "
                f"{over:.1f} mm shorter of the same rate (spring.free_length "
                f"{job.spring.free_length - over:.1f} or less), or its seat nearer to the shaft's eye "
                f"(spring.seat, taken as {job.spring.seat:g} mm)."
            ),
        )
    ]


def _over_mm(job, s: Springing, layout, wound_mm: float = 0.0) -> float:
    """How far the collar's perch would stand off the body's end, above 0: there is no thread there."""
    if layout is None or layout.damper_body is None:
        return -np.inf
    part = layout.damper_body.part
    seat_to_perch = job.spring.free_length - topped_out_mm(job, s) - wound_mm
    return part.cap_mm - (job.damper.longest - part.shaft_cap_mm - seat_to_perch)


def _off_thread(job, s: Springing, layout, wound_mm: float) -> str:
    over = _over_mm(job, s, layout, wound_mm)
    return f"the perch {over:.1f} mm off the body's end, no thread there" if over > 0 else ""


def _there(x) -> float | None:
    return float(x) + 0.0 if np.isfinite(x) else None
