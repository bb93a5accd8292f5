"""Round bodies between two carriers: placed, what their joints stand in, and which parts of them that is."""

from __future__ import annotations

import math

import numpy as np

from assemblies.clearance import Joint
from assemblies.clearance.plan import ANY
from assemblies.layout.account import Given, NoSeam, Unchecked
from assemblies.layout.placing import SWING_MARGIN_MM, Layout, Placed, put
from assemblies.motion.links import LINK
from parts.shape.form import Form, Frame, Round

STRENGTH = Unchecked("shafts and links between two bodies: their torque and their joints are their maker's")


def place_links(out: Layout) -> None:
    """Every [[link]] of the job, `from` at the origin of its own axes, `to` on +z."""
    for k, x in enumerate(out.job.link, 1):
        line = np.subtract(x.to, x.from_)
        bore = 0.0 if x.wall is None else x.diameter - 2 * x.wall
        put(
            out,
            x.name,
            x.name,
            f"{LINK}{k}",
            Form((Round(x.diameter, math.dist(x.from_, x.to), bore),)),
            Frame.looking(x.from_, line, np.eye(3)[int(np.argmin(np.abs(line)))]),
            None,
            source=Given("bought, or the car's own: the job gives its joints and its diameter"),
            weld=NoSeam("between two joints"),
            strength=STRENGTH,
        )


def parts_of(layout: Layout, p: Placed) -> dict[str, Form] | None:
    """A link's two ends, which lie in what their joints stand in, beside the rest of it, its own axes;
    None for what is no link."""
    if not p.carrier.startswith(LINK):
        return None
    x, (bar,) = next(x for x in layout.job.link if x.name == p.name), p.own_form.pieces
    assert isinstance(bar, Round)
    out, start, end = {}, 0.0, bar.length_mm
    if x.from_in:
        out["from end"] = _cut(bar, 0.0, x.from_reach)
        start = x.from_reach
    if x.to_in:
        out["to end"] = _cut(bar, max(start, end - x.to_reach), end)
        end = max(start, end - x.to_reach)
    return out | ({"": _cut(bar, start, end)} if end > start else {})


def _cut(bar: Round, start_mm: float, end_mm: float) -> Form:
    return Form((Round(bar.diameter_mm, end_mm - start_mm, bar.bore_mm, Frame((0.0, 0.0, start_mm))),))


def joints(layout: Layout) -> list[Joint]:
    """An end turns in what its joint stands in; the rest of the link keeps clear of that."""
    return [
        Joint(x.name, body, point, reach, SWING_MARGIN_MM, ((end, ANY, None),))
        for x in layout.job.link
        for end, body, point, reach in (
            ("from end", x.from_in, x.from_, x.from_reach + SWING_MARGIN_MM),
            ("to end", x.to_in, x.to, x.to_reach + SWING_MARGIN_MM),
        )
        if body is not None
    ]
