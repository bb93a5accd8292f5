"""Curves over wheel height as vector drawings in the page: drawn here, given their cursor by the page's
script.

Colours are Okabe and Ito's (2008), told apart by colour-blind readers; a second curve also has dashes of its
own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from html import escape
from typing import Any

from assemblies.results.faults import needed
from assemblies.results.findings import guaranteed
from assemblies.results.model import Results
from parts.base.frozen import dataclass

BLUE, ORANGE, GREEN, RED = (
    "#0072B2",
    "#B86A00",
    "#00785A",
    "#C24A00",
)  # the palette's hues, darkened to 4.5 : 1 on paper where needed
COLOURS = (BLUE, ORANGE, GREEN, RED)
DASHES = ("", "9 5", "3 4", "12 4 3 4")
WIDE, TALL = 520, 300
LEFT, RIGHT, TOP, BOTTOM = 56, 14, 26, 42
GAP_NOTE = (
    "Least of the rack's places, worked out every 5 mm and at the tightest pose, drawn straight between; "
    "thin and level: what is asked. What is guaranteed stands in the table of gaps."
)
ROD_TO_ARM_DEG = 40.0  # nearer to one line than this counts as close to toggle (common practice)


@dataclass(frozen=True)
class Curve:
    label: str
    y: Sequence[float | None]
    asked: float | None = None  # the least it should be, drawn level in its colour


@dataclass(frozen=True)
class Line:
    """A limit: level across the picture (`y`) or upright at a wheel height (`x`)."""

    label: str
    y: float | None = None
    x: float | None = None


@dataclass(frozen=True)
class Shade:
    """What is shaded: all between two values of y."""

    label: str
    low: float
    high: float


@dataclass(frozen=True)
class Figure:
    key: str
    title: str
    unit: str
    x: Sequence[float]
    curves: tuple[Curve, ...]
    lines: tuple[Line, ...] = ()
    bands: tuple[Shade, ...] = ()
    note: str = ""
    decimals: int = 1
    down: bool = False  # read off rounded down: a gap
    zero: bool = False  # the value 0 belongs in the picture
    also: tuple[Curve, ...] = field(default=())  # the same curves of another job, drawn beside


def figures(r: Results, job=None, gaps: tuple[Curve, ...] = ()) -> list[Figure]:
    """Every curve that `r.travel` holds, and the gaps given; limits that only the job knows (damper lengths,
    rocker arm) where it is given."""
    t: Any = r.travel  # its arrays hold no None where the mechanism stands
    if t is None:
        return []

    def drawn(name: str, title: str, unit: str, *curves: tuple[str, Any], **more: Any) -> Figure:
        return Figure(name, title, unit, t.wheel_mm, tuple(Curve(*c) for c in curves), **more)

    near_a_line = (
        Shade(f"under {ROD_TO_ARM_DEG:g} deg of one line (common practice)", -1e9, ROD_TO_ARM_DEG),
        Shade("", 180 - ROD_TO_ARM_DEG, 1e9),
    )
    rates = (
        ("wheel rate", t.wheel_rate_n_per_mm),
        ("of it the spring's own rate", t.wheel_rate_spring_term_n_per_mm),
        ("of it the changing ratio", t.wheel_rate_geometry_term_n_per_mm),
    )
    at_wheel = ("vertical, at the wheel centre", t.wheel_force_n)
    along_rod = ("rod, tension positive", t.rod_force_n)
    tilts = (
        ("rod end, outboard", t.rod_outboard_tilt_deg),
        ("rod end, rocker", t.rod_inboard_tilt_deg),
        ("damper eyes", t.damper_tilt_deg),
    )
    per_wheel = ("damper per wheel", t.damper_per_wheel)
    torque, force = ("spring torque", t.spring_torque_nm), ("spring force", t.spring_force_n or ())
    out = [
        drawn("rocker-angle", "Rocker angle", "deg", ("rocker, from ride", t.rocker_deg)),
        _stroke(r, job),
        drawn("damper-per-wheel", "Damper travel per wheel travel", "mm/mm", per_wheel, decimals=3),
        drawn("wheel-rate", "Wheel rate", "N/mm", *rates, zero=True, decimals=2),
        drawn("wheel-force", "Force at the wheel from the spring", "N", at_wheel, zero=True, decimals=0),
        drawn("rod-force", "Rod force", "N", along_rod, zero=True, decimals=0),
        drawn("camber", "Camber", "deg", ("camber, + top outward", t.camber_deg), zero=True, decimals=2),
        drawn("toe", "Toe", "deg", ("toe, + toe-in", t.toe_deg), zero=True, decimals=3),
        _moment_arm(r, job),
        drawn(
            "rod-to-arm",
            "Angle between rod and rocker arm",
            "deg",
            ("rod to arm", t.rod_to_arm_deg),
            bands=near_a_line,
        ),
        drawn("tilts", "Joint tilts", "deg", *tilts, zero=True),
        drawn("spring-torque", "Spring torque", "N·m", torque, zero=True)
        if t.spring_torque_nm is not None
        else drawn("spring-force", "Spring force", "N", force, zero=True, decimals=0),
    ]
    if gaps:
        more: Any = dict(decimals=2, down=True, zero=True)
        out.append(Figure("gap", "Gap of the tightest pairs", "mm", t.wheel_mm, gaps, note=GAP_NOTE, **more))
    return out


def _stroke(r: Results, job) -> Figure:
    t, e, lines = needed(r.travel), needed(r.ends), list[Line]()
    if job is not None:
        lines = [
            Line(
                f"longest {job.damper.longest:g} mm, {e.damper_margin_longest_mm:.1f} mm left",
                y=job.damper.longest,
            ),
            Line(
                f"shortest {job.damper.shortest:g} mm, {e.damper_margin_shortest_mm:.1f} mm left",
                y=job.damper.shortest,
            ),
        ]
    inside = [
        (name, z)
        for name, z in (
            ("tops out", e.damper_tops_out_at_wheel_mm),
            ("bottoms", e.damper_bottoms_at_wheel_mm),
        )
        if z is not None and t.wheel_mm[0] <= z <= t.wheel_mm[-1]
    ]
    lines += [Line(f"{name} at {z:+z.1f} mm", x=z) for name, z in inside]
    return Figure(
        "damper-length",
        "Damper, eye to eye",
        "mm",
        t.wheel_mm,
        (Curve("damper length", t.damper_mm),),
        tuple(lines),
    )


def _moment_arm(r: Results, job) -> Figure:
    t, bands = needed(r.travel), tuple[Shade, ...]()
    if job is not None:
        near = _arm_mm(job) * math.sin(math.radians(ROD_TO_ARM_DEG))
        bands = (Shade(f"under {ROD_TO_ARM_DEG:g} deg to toggle (common practice)", -near, near),)
    return Figure(
        "moment-arm",
        "Rod's moment arm about the pivot",
        "mm",
        t.wheel_mm,
        (Curve("moment arm", t.rod_moment_arm_mm),),
        bands=bands,
        zero=True,
    )


def _arm_mm(job) -> float:
    """Distance of the rod's eye from the rocker's axis."""
    out = [a - b for a, b in zip(job.rod.inboard, job.rocker.pivot, strict=True)]
    axis = job.rocker.axis
    along = sum(a * b for a, b in zip(out, axis, strict=True)) / math.hypot(*axis)
    return math.sqrt(max(math.hypot(*out) ** 2 - along**2, 0.0))


# ------------------------------------------------------------------------------------------------ drawing


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round numbers (1, 2, 5 times a power of ten) that lie within low and high."""
    raw = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    return [(first + k) * step for k in range(math.floor(high / step + 1e-9) - first + 1)]


@dataclass(frozen=True)
class Scale:
    """From values to places in the drawing."""

    x0: float
    x1: float
    y0: float
    y1: float

    @staticmethod
    def of(f: Figure) -> Scale:
        values = [v for c in (*f.curves, *f.also) for v in (*c.y, c.asked) if v is not None] or [0.0]
        low, high = min(values), max(values)
        span = high - low
        for line in f.lines:
            if (
                line.y is not None and low - span < line.y < high + span
            ):  # a limit far away is said, not drawn
                low, high = min(low, line.y), max(high, line.y)
        near = [e for b in f.bands for e in (b.low, b.high) if low - 0.3 * span < e < high + 0.3 * span]
        low, high = min([low, *near]), max([high, *near])
        if f.zero:
            low, high = min(low, 0.0), max(high, 0.0)
        if high - low < 1e-9 * max(abs(high), 1e-3):
            low, high = low - max(abs(low), 1.0) * 0.05, high + max(abs(high), 1.0) * 0.05
        pad = 0.06 * (high - low)
        return Scale(float(f.x[0]), float(f.x[-1]), low - pad, high + pad)

    def px(self, x: float) -> float:
        return LEFT + (x - self.x0) / (self.x1 - self.x0) * (WIDE - LEFT - RIGHT)

    def py(self, y: float) -> float:
        return TOP + (self.y1 - y) / (self.y1 - self.y0) * (TALL - TOP - BOTTOM)

    def inside(self, y: float) -> float:
        return min(max(y, self.y0), self.y1)


def path(x: Sequence[float], y: Sequence[float | None], s: Scale) -> str:
    """A polyline with gaps where there is no value."""
    out, pen = [], "M"
    for a, b in zip(x, y, strict=True):
        if b is None:
            pen = "M"
            continue
        out.append(f"{pen}{s.px(a):.1f} {s.py(b):.1f}")
        pen = "L"
    return "".join(out)


def svg(f: Figure) -> str:
    """The drawing: grid, shaded bands, limits, curves and an empty cursor for the script."""
    s = Scale.of(f)
    floor, right = TALL - BOTTOM, WIDE - RIGHT
    said = "; ".join(_said(f, c) for c in f.curves)
    out = [
        f'<svg class="plot" viewBox="0 0 {WIDE} {TALL}" role="img" '
        f'aria-label="{escape(f"{f.title}: {said}")}" '
        f'data-x0="{s.x0:g}" data-x1="{s.x1:g}" data-y0="{s.y0:.9g}" data-y1="{s.y1:.9g}" '
        f'data-left="{LEFT}" data-right="{right}" data-top="{TOP}" data-floor="{floor}">'
    ]
    for b in f.bands:
        low, high = s.py(s.inside(b.low)), s.py(s.inside(b.high))
        if low - high > 0.5:
            out.append(
                f'<rect class="band" x="{LEFT}" y="{high:.1f}" width="{right - LEFT}" '
                f'height="{low - high:.1f}"/>'
            )
            if b.label:
                out.append(
                    f'<text class="limit" x="{LEFT + 6}" '
                    f'y="{min(high + 15, low - 4):.1f}">{escape(b.label)}</text>'
                )
    for v in ticks(s.y0, s.y1):
        out.append(
            f'<path class="{"axis" if abs(v) < 1e-12 else "grid"}" d="M{LEFT} {s.py(v):.1f}H{right}"/>'
            f'<text class="tick" x="{LEFT - 7}" y="{s.py(v) + 4:.1f}" text-anchor="end">{number(v)}</text>'
        )
    for v in ticks(s.x0, s.x1, 7):
        out.append(
            f'<path class="{"axis" if abs(v) < 1e-12 else "grid"}" d="M{s.px(v):.1f} {TOP}V{floor}"/>'
            f'<text class="tick" x="{s.px(v):.1f}" y="{floor + 17}" '
            f'text-anchor="middle">{number(v, sign=True)}</text>'
        )
    out.append(
        f'<text class="tick" x="{right}" y="{TALL - 5}" text-anchor="end">wheel height from ride, mm</text>'
        f'<text class="tick" x="2" y="{TOP - 11}">{escape(f.unit)}</text>'
    )
    for line in f.lines:
        out += _limit(line, s, floor, right)
    for k, c in enumerate(f.curves):
        if c.asked is not None and s.y0 <= c.asked <= s.y1:
            out.append(
                f'<path class="asked" d="M{LEFT} {s.py(c.asked):.1f}H{right}" stroke="{COLOURS[k % 4]}" '
                f'stroke-dasharray="{DASHES[k % 4]}"/>'
            )
    for curves, other in ((f.also, True), (f.curves, False)):
        for k, c in enumerate(curves):
            out.append(
                f'<path class="curve{" other" if other else ""}" d="{path(f.x, c.y, s)}" '
                f'stroke="{COLOURS[k % 4]}" '
                f'stroke-dasharray="{DASHES[k % 4]}"/>'
            )
    marks = "".join(
        f'<circle r="4.5" fill="{COLOURS[k % 4]}"{other}/>'
        for curves, other in ((f.curves, ""), (f.also, ' opacity="0.45"'))
        for k in range(len(curves))
    )
    out.append(f'<g class="cursor"><path d="M0 {TOP}V{floor}"/>{marks}</g></svg>')
    return "".join(out)


def _limit(line: Line, s: Scale, floor: float, right: float) -> list[str]:
    if line.x is not None:
        x = s.px(line.x)
        return [
            f'<path class="limit" d="M{x:.1f} {TOP}V{floor}"/><text class="limit" x="{x + 5:.1f}" '
            f'y="{floor - 8}">{escape(line.label)}</text>'
        ]
    if line.y is None or not s.y0 <= line.y <= s.y1:
        return []
    y = s.py(line.y)
    below = y < TALL / 2
    return [
        f'<path class="limit" d="M{LEFT} {y:.1f}H{right}"/><text class="limit" x="{LEFT + 6}" '
        f'y="{y + 15 if below else y - 6:.1f}">{escape(line.label)}</text>'
    ]


def unseen(f: Figure) -> list[str]:
    """Limits that lie too far away to be drawn."""
    s = Scale.of(f)
    return [
        *(line.label for line in f.lines if line.y is not None and not s.y0 <= line.y <= s.y1),
        *(f"{b.label}: outside the picture" for b in f.bands if b.label and not _meets(f, s)),
    ]


def _meets(f: Figure, s: Scale) -> bool:
    """Whether some band of a figure is in the picture."""
    return any(b.low < s.y1 and b.high > s.y0 for b in f.bands)


def _said(f: Figure, c: Curve) -> str:
    ends = [c.y[0], c.y[-1]]
    text = guaranteed if f.down else "{:.{}f}".format
    return f"{c.label} from " + " to ".join(
        "nothing" if v is None else f"{text(v, f.decimals)} {f.unit}" for v in ends
    )


def number(v: float, sign: bool = False) -> str:
    """A tick's number: as short as it can be, with a true minus."""
    text = f"{v:+.6g}" if sign and abs(v) > 1e-12 else f"{0.0 if abs(v) < 1e-12 else v:.6g}"
    return text.replace("-", "−")


def swatch(k: int, other: bool = False) -> str:
    """A short stroke as the curve is drawn, for a key beside the drawing."""
    return (
        f'<svg class="swatch" viewBox="0 0 34 10" aria-hidden="true"><path '
        f'class="curve{" other" if other else ""}" d="M1 5H33" '
        f'stroke="{COLOURS[k % 4]}" stroke-dasharray="{DASHES[k % 4]}"/></svg>'
    )
