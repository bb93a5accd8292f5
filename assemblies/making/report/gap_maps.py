"""Maps of a pair's gap less what is asked, over travel and rack: shaded bands, the line where just enough is
left, the pose of the least gap.

Red is short, blue is enough: a pair of hues that colour-blind readers tell apart (after C. Brewer's RdBu).
"""

from __future__ import annotations

from html import escape
from typing import Any

import numpy as np

from assemblies.making.report.gaps import Field
from assemblies.results.curves import number, ticks
from assemblies.results.findings import guaranteed, lacking

MOST, ALIKE_MM = 4, 1.0  # maps; a gap that changes by less has none to show
WIDE, TALL = 340, 236
LEFT, RIGHT, TOP, BOTTOM = 44, 10, 10, 40
BANDS = (  # up to so much spare, mm, its colour and words
    (-4.0, "#a50f15", "4 mm and more short"),
    (-2.0, "#de4a3a", "2 to 4 mm short"),
    (0.0, "#fcae91", "up to 2 mm short"),
    (2.0, "#deebf7", "enough, up to 2 mm to spare"),
    (5.0, "#a6cbe5", "2 to 5 mm to spare"),
    (np.inf, "#5a97c9", "5 mm and more to spare"),
)


def maps(found: tuple[Field, ...]) -> list[dict]:
    """A drawing a pair, nearest to its limit first; none of a gap that is alike at all poses, nor without a
    rack."""
    return [
        {
            "pair": f.index,
            "a": f.pair.a,
            "b": f.pair.b,
            "asked": f"{f.pair.required_mm:g}",
            "gap": guaranteed(f.pair.gap_mm),
            "ok": f.pair.ok,
            "svg": svg(f),
        }
        for f in found
        if len(f.rack_mm) > 1
        and np.isfinite(f.gap_mm).all(1).any()
        and np.nanmax(f.gap_mm) - np.nanmin(f.gap_mm) > ALIKE_MM
    ][:MOST]


def svg(f: Field) -> str:
    """The map; `data-` tells the script where the axes lie."""
    from contourpy import FillType, contour_generator

    right, floor = WIDE - RIGHT, TALL - BOTTOM
    x0, x1, y0, y1 = f.wheel_mm[0], f.wheel_mm[-1], f.rack_mm[0], f.rack_mm[-1]

    def px(x):
        return LEFT + (x - x0) / (x1 - x0) * (right - LEFT)

    def py(y):
        return TOP + (y1 - y) / (y1 - y0) * (floor - TOP)

    spare = np.ma.masked_invalid(f.spare_mm.T)
    shape = contour_generator(px(f.wheel_mm), py(f.rack_mm), spare, fill_type=FillType.OuterOffset)
    out = [
        f'<svg class="gapmap" viewBox="0 0 {WIDE} {TALL}" role="img" aria-label="{escape(_said(f))}" '
        f'data-x0="{x0:g}" data-x1="{x1:g}" data-y0="{y0:g}" data-y1="{y1:g}" data-left="{LEFT}" '
        f'data-right="{right}" data-top="{TOP}" data-floor="{floor}">'
    ]
    least = -np.inf
    for most, colour, _ in BANDS:
        filled: Any = shape.filled(least, most)  # of this fill type points and offsets; its types say any
        points, offsets = filled
        rings = [p[a:b] for p, o in zip(points, offsets, strict=True) for a, b in zip(o, o[1:], strict=False)]
        if rings:
            out.append(f'<path fill="{colour}" fill-rule="evenodd" d="{"".join(map(_ring, rings))}"/>')
        least = most
    out += [f'<path class="zero" d="{_line(line)}"/>' for line in shape.lines(0.0)]
    for v in ticks(x0, x1, 5):
        out.append(
            f'<path class="axis" d="M{px(v):.1f} {floor}v5"/><text class="tick" x="{px(v):.1f}" '
            f'y="{floor + 18}" text-anchor="middle">{number(v, sign=True)}</text>'
        )
    for v in ticks(y0, y1, 4):
        out.append(
            f'<path class="axis" d="M{LEFT} {py(v):.1f}h-5"/><text class="tick" x="{LEFT - 8}" '
            f'y="{py(v) + 4:.1f}" text-anchor="end">{number(v, sign=True)}</text>'
        )
    at = [
        px(min(max(f.pair.at_wheel_mm, x0), x1)),
        py(min(max(f.pair.at_rack_mm, y0), y1)),
    ]
    out += [
        f'<rect class="edge" x="{LEFT}" y="{TOP}" width="{right - LEFT}" height="{floor - TOP}"/>',
        f'<text class="tick" x="{right}" y="{TALL - 4}" text-anchor="end">wheel, mm; up: rack, mm</text>',
        f'<circle class="least" cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="6"/>',
        '<path class="here" d="M-7 0H7M0 -7V7"/></svg>',
    ]
    return "".join(out)


def _ring(points) -> str:
    return _line(points) + "Z"


def _line(points) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _said(f: Field) -> str:
    good = f.spare_mm[np.isfinite(f.spare_mm)]
    short = 100.0 * float((good < 0).mean()) if len(good) else 0.0
    return (
        f"{f.pair.a} to {f.pair.b}, gap less the {f.pair.required_mm:g} mm asked over wheel height and rack: "
        f"short at {lacking(short, 0)} per cent of the poses looked at, least at wheel "
        f"{f.pair.at_wheel_mm:+z.0f}, rack {f.pair.at_rack_mm:+z.0f} mm"
    ).replace("_", " ")
