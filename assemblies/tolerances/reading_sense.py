"""Can a reading be of this corner at all? A slip of the pen is told before anything is made of it."""

from __future__ import annotations

from collections.abc import Iterator

SIZE_OFF = 0.25  # a strip or bar further than this share from the job's is another one, common practice
DAMPER_MM = 5.0  # beyond its ends a damper is not measured, not even badly


def slip(job, r) -> str:
    """Why the reading cannot be: its value, what can be, what to do; nothing where it can."""
    for what, value, unit, low, high, cure in _ranges(job, r):
        if not low <= value <= high:
            return f"{what} is {value:g} {unit}; {low:g} to {high:g} {unit} can be: {cure}"
    return ""


def _ranges(job, r) -> Iterator[tuple[str, float, str, float, float, str]]:
    c, d = job.corner, job.damper
    if r.kind == "damper":
        room = max(r.accuracy or 0.0, DAMPER_MM)
        cure = "check the digits, or damper.shortest and damper.longest"
        yield "its length", r.value, "mm", d.shortest - room, d.longest + room, cure
    if r.kind == "ride":
        cure = "it is the scale's reading, wheel and all: check the digits"
        yield "the mass", r.at, "kg", c.unsprung_mass + 1, 3 * c.corner_mass, cure
        cure = "beyond its travel a stop holds the wheel: check the reading and its sign"
        yield "how low the car stands", r.value, "mm", -c.droop, c.bump, cure
    size = {"leaf-pack": "leaf_thickness", "solid-bar": "diameter", "tube": "outer"}.get(job.spring.kind)
    if r.kind == "thickness" and size:
        mm = getattr(job.spring, size)
        cure = f"check the digits, or set spring.{size} to what it is"
        yield "the size", r.value, "mm", (1 - SIZE_OFF) * mm, (1 + SIZE_OFF) * mm, cure
    if r.kind in ("rocker", "toe"):
        yield "the angle", r.value, "deg", -90.0, 90.0, "check the digits"
