"""The gap of the tightest pairs along the travel: the interference check asked again at single heights.

At each height it is the least gap over the whole rack, found to within the tolerance; the curve goes straight
between heights. What is guaranteed over all heights, also between these, stands in results.json. Pairs that
clash have no curve: their findings say where.
"""

from __future__ import annotations

import json
import math
from dataclasses import fields, replace

import numpy as np

from assemblies.making.report.curves import Curve
from assemblies.results.model import Results
from assemblies.study import Study
from parts.files.cache import keep, kept, key

MOST_PAIRS, STEP_MM, TOLERANCE_MM = 4, 10.0, 0.2
SLICE_MM = 2e-3  # a height is asked as a travel this long


def shown(results: Results) -> list:
    """The tightest pairs that do not clash."""
    return [p for p in results.clearance.pairs if p.found_gap_mm > 0][:MOST_PAIRS]


def gap_curves(study: Study, results: Results) -> tuple[Curve, ...]:
    """A curve for each of the tightest pairs, over the heights of `results.travel`; nothing where gaps were
    not checked."""
    if not results.clearance.checked or study.layout is None or results.travel is None:
        return ()
    if _last and _last[0] is study and _last[1] == shown(results):
        return _last[2]
    from assemblies.layout import bodies as neighbours

    bodies, joints = neighbours.bodies(study.layout), neighbours.joints(study.layout)
    wheel = np.asarray(study.springing.wheel_mm, float)[np.asarray(study.springing.poses.valid, bool)]
    heights = np.unique(
        np.concatenate(
            [
                [wheel[0], wheel[-1]],
                np.arange(math.ceil(wheel[0] / STEP_MM), math.floor(wheel[-1] / STEP_MM) + 1) * STEP_MM,
            ]
        )
    )
    out = []
    for pair in shown(results):
        names = {pair.a, pair.b}
        own = (
            [b for b in bodies if b.name in names],
            [replace(j, required_mm=0.0) for j in joints if {j.a, j.b} == names],
        )
        at = np.unique(np.append(heights, np.clip(pair.at_wheel_mm, wheel[0], wheel[-1])))
        made_of = key(
            "gap curve",
            [(b.name, b.part, b.key) for b in own[0]],
            own[1],
            [
                np.asarray(getattr(study.mechanism.points, f.name)).tolist()
                for f in fields(study.mechanism.points)
            ],
            (at.tolist(), float(wheel[0]), float(wheel[-1]), study.job.tie_rod.rack_travel, TOLERANCE_MM),
        )
        body = kept(made_of, "curve")
        gaps = json.loads(body) if body else [_gap(study, *own, z, wheel) for z in at]
        if not body:
            keep(made_of, "curve", json.dumps(gaps).encode())
        over = np.interp(results.travel.wheel_mm, at, gaps, left=math.nan, right=math.nan)
        out.append(
            Curve(
                f"{pair.a} – {pair.b}, {pair.required_mm:g} asked".replace("_", " "),
                [float(f"{v:.4g}") if math.isfinite(v) else None for v in over],
            )
        )
    _last[:] = [study, shown(results), tuple(out)]
    return tuple(out)


# the study and pairs last asked for, and their curves: a build shows them in a picture and in the report
_last: list = []


def _gap(study: Study, bodies, joints, wheel_mm: float, reach: np.ndarray) -> float:
    """Least gap of the one pair at a height, over the rack; NaN where the corner cannot be there."""
    from assemblies.clearance import Limits, check

    middle = min(max(wheel_mm, reach[0] + SLICE_MM), reach[-1] - SLICE_MM)
    try:
        found = check(
            bodies,
            study.mechanism,
            (middle - SLICE_MM / 2, middle + SLICE_MM / 2),
            study.job.tie_rod.rack_travel,
            joints,
            Limits(0.0, 0.0, 0.0),
            TOLERANCE_MM,
        )  # nothing asked: where it is too little is known already
    except ValueError:
        return math.nan
    return found.pairs[0].found_gap_mm if found.pairs else math.nan
