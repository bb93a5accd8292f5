"""Sliding a leaf pack with its anchor towards the rocker or away: free length, rate, ride height, overlap and
protrusion.

The slide is counted towards the rocker: it shortens the free length between the anchor's clamp and the
rocker's socket by as much and pushes the pack's end further through the socket. The clock setting stays, so
the spring's free angle stays too.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.layout.pack_slide import BORE_ROOM_MM, SlideRoom
from assemblies.motion.springing import Spring, frequency_hz
from assemblies.results.findings import Finding
from assemblies.results.setting import SlideRow
from assemblies.setup.standing import OnStops


def table(on: OnStops, size: SlideRoom, slides_mm=None) -> list[SlideRow]:
    """Rows over the job's slide range (or at the slides given, mm towards the rocker)."""
    job, s = on.job, on.s
    reach = job.spring.slide
    if slides_mm is None:
        if reach <= 0:
            return []
        slides_mm = np.linspace(-reach, reach, 7)
    p, m = s.preload, s.mechanism
    slides = np.atleast_1d(np.asarray(slides_mm, float))
    springs = [Spring.of(job.spring, length_mm=job.spring.length - float(x)) for x in slides]
    rates: Any = np.array([k.rate for k in springs])  # one spring of as many rates as there are slides
    slid = replace(
        p, spring=replace(p.spring, rate=rates), ride=rates * p.ride_deflection
    )  # the clock setting stays, so does the twist at ride
    stands = on.stand(preload=slid)
    z = stands.wheel_mm
    wheel_rates = slid.curves(m.at(z)).wheel_rate_n_per_mm
    winds = np.degrees(p.ride / rates - p.ride_deflection)
    rows = []
    for i, x in enumerate(map(float, slides)):
        overlap, out, rate = float(size.overlap_mm(x)), float(size.protrusion_mm(x)), float(wheel_rates[i])
        rows.append(
            SlideRow(
                slide_mm=x,
                free_length_mm=job.spring.length - x,
                rate_nm_per_rad=float(rates[i]),
                rate_change_percent=float(rates[i] / p.spring.rate - 1) * 100,
                ride_height_mm=float(0.0 - z[i]),
                wheel_rate_n_per_mm=rate,
                ride_frequency_hz=None
                if _at_a_stop(stands.held[i])
                else frequency_hz(rate, s.sprung_mass_kg),
                wind_back_deg=float(winds[i]),
                stress_bump_mpa=math.radians(s.twist_deg["bump"]) * springs[i].stress_mpa_per_rad,
                overlap_mm=overlap,
                protrusion_mm=out,
                ok=overlap >= size.width_mm - 1e-9 and (out == 0 or size.passes),
                held=stands.held[i],
            )
        )
    return [
        r for r in rows if np.isfinite([r.ride_height_mm, r.stress_bump_mpa, r.ride_frequency_hz or 0]).all()
    ]


def _at_a_stop(held: str) -> bool:
    return bool(held) and not held.startswith("stands past")


def findings(job, size: SlideRoom | None) -> list[Finding]:
    """What stands in the way of the slide that the job asks for."""
    reach = getattr(job.spring, "slide", 0.0)
    if size is None or reach <= 0:
        return []
    low, high = size.allowed_mm
    if low <= -reach + 1e-9 and high >= reach - 1e-9:
        return []
    cures = []
    if low > -reach:
        cures.append(
            f"cut the strips {reach + low:.0f} mm longer at the rocker's end, so that one strip width stays "
            f"in the socket when the pack slides out"
        )
    if not size.passes:
        out = float(replace(size, spare_mm=size.spare_mm + reach).protrusion_mm(reach))
        cures.append(
            f"give their end room: a pivot tube with a bore of at least {size.circle_mm + BORE_ROOM_MM:.1f} "
            f"mm (it has {size.bore_mm:.1f}), or {out:.0f} mm of tube "
            "between the inner tube's end and the socket plates"
        )
    end = f"to {high:+z.0f} mm" if math.isfinite(high) else "on"
    return [
        Finding(
            level="warn",
            code="slide",
            where="leaf pack",
            text=(
                f"The job asks for ±{reach:g} mm of slide; as drawn the pack, {size.circle_mm:.1f} mm over "
                f"its corners, slides from {low:+z.0f} mm {end} towards the rocker. "
                f"To use all of it {' and '.join(cures)}. Or set spring.slide = 0."
            ),
        )
    ]
