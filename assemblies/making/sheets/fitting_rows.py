"""The order in which the frame's tubes are fitted and tacked, as a table for the shop book and CSV."""

from __future__ import annotations

from assemblies.results import frame as rs

HEAD = [
    "no.",
    "tube",
    "how it goes in",
    "tack",
    "weld before the next tubes go in",
    "reached by the torch, %",
]
WIDTHS = (3, 15, 19, 26, 26, 26)


def lines(order: rs.FittingOrder) -> list[str]:
    said = [
        "Fit in this order: each tube was tried past those that stand already, straight or one end "
        "first and swung "
        "home, to 2 mm. Tack each end at two places or more before the next tube goes in; weld when "
        "all is tacked and "
        "measured, but for the seams named to be welded before: later tubes hide them.",
        f"Reached: share of a seam to which a torch comes, a cone of {order.torch_deg:g} deg and "
        f"{order.torch_mm:g} mm "
        "(common practice): with what it joins in place / with all in place.",
    ]
    if order.stuck:
        names = ", ".join(order.stuck)
        said.insert(0, f"NO ORDER WAS FOUND for {names}: they hold each other; those stand first below.")
    return said


def rows(order: rs.FittingOrder) -> list[list[str]]:
    out = []
    for n, s in enumerate(order.steps, 1):
        ends = {id(r): f"{r.member}, {r.end} end" + (f" at {r.node}" if r.node else "") for r in s.seams}
        hidden = [
            f"{ends[id(r)]}, {r.placed_percent - r.last_percent:.0f} % of it: before {r.weld_before}"
            for r in s.seams
            if r.weld_before
        ]
        reached = [f"{ends[id(r)]} {r.placed_percent:.0f} / {r.last_percent:.0f}" for r in s.seams]
        tack = s.tack or ["nothing yet: hold it in its place"]
        out.append([str(n), s.member, s.how, "; ".join(tack), "; ".join(hidden), "; ".join(reached)])
    return out
