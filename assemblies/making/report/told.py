"""A finding with the place in the page that it is about."""

from __future__ import annotations

import re

from assemblies.results.findings import Finding
from assemblies.results.model import Results
from parts.base.frozen import dataclass

PLACES = {  # where a finding's subject stands in the page, by the longest of these that its code begins with
    "clash": "gaps",
    "gap": "gaps",
    "interference": "gaps",
    "cannot-close": "curve-rocker-angle",
    "swing": "curve-rocker-angle",
    "toggle": "curve-moment-arm",
    "damper": "curve-damper-length",
    "droop-stop": "curve-damper-length",
    "damper-ratio": "curve-damper-per-wheel",
    "damper-off-plane": "curve-tilts",
    "rod-tilt": "curve-tilts",
    "rod-off-plane": "curve-tilts",
    "rod-sense": "curve-rod-force",
    "unstable": "curve-wheel-rate",
    "falling-rate": "curve-wheel-rate",
    "rise": "curve-wheel-rate",
    "frequency": "curve-wheel-rate",
    "bump-steer": "curve-toe",
    "inner-joint-outboard": "curve-toe",
    "slack": "set-up",
    "preload": "set-up",
    "twist": "set-up",
    "spring": "set-up",
    "slide": "set-up",
    "coil": "set-up",
    "strength": "strength",
    "steel": "strength",
    "plate-grade": "strength",
    "thin-weld": "strength",
    "rod-lug": "strength",
    "load-case": "strength",
    "nest": "cut-list",
    "tube": "cut-list",
    "junction": "cut-list",
    "part": "parts",
    "rocker": "parts",
    "box-width": "parts",
    "bracket": "parts",
    "no-seat": "parts",
    "rod-adjustment": "parts",
    "tie-rod": "parts",
}

POSE = re.compile(r"wheel ([+-]?\d+(?:\.\d+)?) ?mm(?:, rack ([+-]?\d+(?:\.\d+)?) ?mm)?")
LEVELS = {"stop": "Stop", "warn": "Look at", "note": "Note"}


@dataclass(frozen=True)
class Told:
    """A finding with the place in the page and the pose it speaks of."""

    level: str
    word: str
    where: str
    text: str
    place: str | None
    wheel_mm: float | None
    rack_mm: float | None
    pair: str | None


def told_on_page(f: Finding, r: Results) -> Told:
    place = next((PLACES[k] for k in sorted(PLACES, key=len, reverse=True) if f.code.startswith(k)), None)
    sections = {
        "strength": bool(r.strength.checks),
        "gaps": r.clearance.checked,
        "parts": bool(r.parts or r.blanks),
        "cut-list": bool(r.cut_list),
    }
    if place is not None and (not sections.get(place, r.travel is not None)):
        place = None
    pose = POSE.search(f.where) or POSE.search(f.text)
    wheel, rack = (float(x) if x else None for x in pose.groups()) if pose and r.travel else (None, None)
    pair = next((str(k) for k, p in enumerate(r.clearance.pairs) if f.where == f"{p.a} to {p.b}"), None)
    return Told(f.level, LEVELS[f.level], f.where, f.text, place, wheel, rack, pair)
