"""Sliding a leaf pack with its anchor towards the rocker or away: free length, rate, ride height, overlap and protrusion.

The slide is counted towards the rocker: it shortens the free length between the anchor's clamp and the rocker's socket by as
much and pushes the pack's end further through the socket. The clock setting stays, so the spring's free angle stays too.
"""
from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from assemblies.findings import Finding
from assemblies.setup.ride_height import settle
from assemblies.springing import Spring, Springing, frequency_hz
from parts.spring_pack import LeafPack
from parts.spring_socket import SpringSocket
from parts.units import G_M_S2

BORE_ROOM_MM = 1.0  # the pack's diagonal to a bore that it passes, in all


@dataclass(frozen=True)
class SlideRow:
    slide_mm: float  # towards the rocker
    free_length_mm: float
    rate_nm_per_rad: float
    rate_change_percent: float
    ride_height_mm: float  # rise of the car at the same clock setting
    wheel_rate_n_per_mm: float  # where it then stands
    ride_frequency_hz: float
    wind_back_deg: float  # wind that brings ride height back
    stress_bump_mpa: float  # at full bump of the job, at the same clock setting
    overlap_mm: float  # of the pack in the rocker's socket
    protrusion_mm: float  # of the pack past that socket, towards and through the rocker
    ok: bool


@dataclass(frozen=True)
class SlideRoom:
    """Sizes round the rocker's end of the pack, mm. `spare_mm`: strips cut longer at that end than the one width of socket that the
    parts are drawn with."""

    width_mm: float
    depth_mm: float
    spare_mm: float
    to_rocker_mm: float  # from the socket's inner face to the middle of the rocker
    circle_mm: float
    bore_mm: float

    @property
    def passes(self) -> bool:
        """Whether the pack's diagonal passes the pivot tube's bore."""
        return self.circle_mm + BORE_ROOM_MM <= self.bore_mm

    @property
    def allowed_mm(self) -> tuple[float, float]:
        """How far the pack slides out and in with one strip width kept in the socket and its end not in the pivot tube's wall."""
        spare = self.width_mm + self.spare_mm
        return 0.0 - self.spare_mm, math.inf if self.passes else self.depth_mm - spare

    def overlap_mm(self, slide_mm):
        return np.clip(self.width_mm + self.spare_mm + np.asarray(slide_mm, float), 0.0, self.depth_mm)

    def protrusion_mm(self, slide_mm):
        return np.maximum(self.width_mm + self.spare_mm + np.asarray(slide_mm, float) - self.depth_mm, 0.0)


def room(job, layout, spare_mm: float = 0.0) -> SlideRoom | None:
    """From the laid-out corner, strips as drawn or cut longer by `spare_mm`; None where there is no leaf pack in place."""
    if job.spring.kind != "leaf-pack" or layout is None or layout.rocker is None or layout.sleeve is None:
        return None
    near = next((p for p in layout.placed if p.name == "sleeve socket" or (isinstance(p.part, SpringSocket) and p.carrier == "rocker")), None)
    if near is None:
        near = next(p for p in layout.placed if isinstance(p.part, SpringSocket))
    near = near.part
    pack = LeafPack(job.spring.leaves, job.spring.leaf_width, job.spring.leaf_thickness, job.spring.length)
    tube = layout.rocker.tube
    return SlideRoom(job.spring.leaf_width, near.depth_mm, spare_mm, tube.length_mm / 2 + layout.sleeve.length_mm, pack.circle_mm,
                     tube.outer_mm - 2 * tube.wall_mm)


def table(job, s: Springing, size: SlideRoom, slides_mm=None) -> list[SlideRow]:
    """Rows over the job's slide range (or at the slides given, mm towards the rocker)."""
    reach = job.spring.slide
    if slides_mm is None:
        if reach <= 0:
            return []
        slides_mm = np.linspace(-reach, reach, 7)
    p, m, weight = s.preload, s.poses.mechanism, s.sprung_mass_kg * G_M_S2
    slides = np.atleast_1d(np.asarray(slides_mm, float))
    springs = [Spring.of(job.spring.model_copy(update={"length": job.spring.length - float(x)})) for x in slides]
    rates = np.array([k.rate for k in springs])
    slid = replace(p, spring=replace(p.spring, rate=rates), ride=rates * p.ride_deflection)  # the clock setting stays, so does the twist at ride
    z = settle(slid, m, weight)
    wheel_rates = slid.curves(m.at(z)).wheel_rate_n_per_mm
    winds = np.degrees(p.ride / rates - p.ride_deflection)
    rows = []
    for i, x in enumerate(map(float, slides)):
        overlap, out, rate = float(size.overlap_mm(x)), float(size.protrusion_mm(x)), float(wheel_rates[i])
        rows.append(SlideRow(x, job.spring.length - x, float(rates[i]), float(rates[i] / p.spring.rate - 1) * 100, float(0.0 - z[i]), rate,
                             frequency_hz(rate, s.sprung_mass_kg), float(winds[i]), math.radians(s.twist_deg["bump"]) * springs[i].stress_mpa_per_rad,
                             overlap, out, overlap >= size.width_mm - 1e-9 and (out == 0 or size.passes)))
    return [r for r in rows if np.isfinite([r.ride_height_mm, r.stress_bump_mpa, r.ride_frequency_hz]).all()]


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
        cures.append(f"cut the strips {reach + low:.0f} mm longer at the rocker's end, so that one strip width stays in the socket when the pack slides out")
    if not size.passes:
        out = float(replace(size, spare_mm=size.spare_mm + reach).protrusion_mm(reach))
        cures.append(f"give their end room: a pivot tube with a bore of at least {size.circle_mm + BORE_ROOM_MM:.1f} mm (it has {size.bore_mm:.1f}), or {out:.0f} mm of tube "
                     "between the inner tube's end and the socket plates")
    return [Finding(level="warn", code="slide", where="leaf pack", text=(
        f"The job asks for ±{reach:g} mm of slide; as drawn the pack, {size.circle_mm:.1f} mm over its corners, slides from {low:+.0f} to {high:+.0f} mm towards the rocker. "
        f"To use all of it {' and '.join(cures)}. Or set spring.slide = 0."))]


def pack_end(layout):
    """What the pack's end sweeps past the rocker's socket at the far end of its slide, in car axes; None for a pack that does not slide."""
    size = room(layout.job, layout)
    return protrusion_form(layout, size, layout.job.spring.slide) if size and layout.job.spring.slide > 0 else None


def protrusion_form(layout, size: SlideRoom, slide_mm: float):
    """What the pack's end sweeps beyond the socket, as a round bar in car axes: a body for the interference check; None for none."""
    from parts.form import Form, Frame, Round
    out = float(size.protrusion_mm(slide_mm))
    if out <= 0 or layout.eyes is None:
        return None
    away = np.array(layout.job.spring_direction)
    start = np.array(layout.eyes.frame.origin) + size.to_rocker_mm * away
    return Form((Round(size.circle_mm, out),)).moved(Frame.looking(start, -away, layout.eyes.frame.x))
