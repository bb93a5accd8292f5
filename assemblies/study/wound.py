"""Which strength rows do not hold with the spring wound to another setting than the design: the same parts,
the same load cases, worked again."""

from __future__ import annotations

import math
from collections.abc import Sequence

from assemblies.motion.springing import springing
from assemblies.results.findings import use_of
from assemblies.strength import strength
from assemblies.strength.table import strength_row
from assemblies.study.corner import Study

MOST = 3  # settings of a side that are each worked; those further out are told by the first that breaks


def breaks(s: Study, winds: Sequence[float]) -> list[str]:
    """For each wind from the design setting (deg; coil-over mm of collar) the rows that hold at the design
    setting and not there, in words; "" where all hold.

    A row's use is the most of sums that are straight in the wind, so it is convex: rows that hold at both
    ends hold between, and what breaks breaks from one wind outward."""
    out = dict.fromkeys(winds, "")
    for side in (sorted(w for w in out if w > 0), sorted((w for w in out if w < 0), reverse=True)):
        if not side or not (said := _broken(s, side[-1])):
            continue
        holds, fails = -1, len(side) - 1
        while fails - holds > 1:
            middle = (holds + fails) // 2
            holds, fails = (holds, middle) if _broken(s, side[middle]) else (middle, fails)
        first = _broken(s, side[fails])
        for i, w in enumerate(side[fails:]):
            far = fails + i == len(side) - 1
            out[w] = said if far else _broken(s, w) if i < MOST else f"{first} at {side[fails]:+z.2f} already"
    return [out[w] for w in winds]


def _broken(s: Study, wind: float) -> str:
    if s.springing is None or s.layout is None:
        return ""
    linear = s.springing.spring.linear
    there = springing(s.job, s.mechanism, wind if linear else math.radians(wind))
    was = {(c.item, c.check, c.case): c.ok for c in s.results.strength.checks}
    held = {(item, check) for (item, check, _), ok in was.items() if ok}
    held -= {(item, check) for (item, check, _), ok in was.items() if not ok}
    found = strength_row(strength(s.job, s.mechanism, there, s.layout)).checks
    bad = [c for c in found if not c.ok and (c.item, c.check) in held]
    if not bad:
        return ""
    worst = max(bad, key=lambda c: math.inf if c.use is None else c.use)
    more = len({(c.item, c.check) for c in bad}) - 1
    return f"{worst.item}: {worst.check}, {use_of(worst.use)}" + (f", and {more} more" if more else "")
