"""The gaps of the tightest pairs over travel and rack, at single poses: for curves, maps and the slider.

What is guaranteed, also between these poses, stands in results.json; the pose of the least gap is one of
them.
"""

from __future__ import annotations

import base64
import math
from dataclasses import astuple

import numpy as np

from assemblies.clearance import Limits
from assemblies.clearance.at_poses import at_poses
from assemblies.clearance.bounds import carrier_name
from assemblies.layout import bodies as neighbours
from assemblies.results.curves import Curve
from assemblies.results.faults import needed
from assemblies.results.gaps import PairRow
from assemblies.results.model import Results
from assemblies.study import Study
from parts.base.frozen import dataclass
from parts.files.cache import keep, kept, key

MOST_PAIRS, CURVES = 8, 4  # as many as the page lists beside the corner, and drawn as curves
STEP_MM = 5.0
RACK_PLACES, FEW = 9, 3  # where the rack moves a body of the pair; where it hardly matters
ARMS = {"frame", "upper_arm", "lower_arm"}  # the rack moves them little, and what hangs on a rod on an arm
HUNG = {"rod", "rocker", "spring", "damper_body", "damper_shaft"}


@dataclass(frozen=True)
class Field:
    """A pair over wheel heights and rack places: `gap_mm`, `spare_mm` (gap less what is asked), NaN where the
    corner cannot be; `ends` (2, wheel, rack, 3) the nearest points, car coordinates at ride on `carriers`."""

    index: int  # of the pair in results.json
    pair: PairRow
    wheel_mm: np.ndarray
    rack_mm: np.ndarray
    gap_mm: np.ndarray
    spare_mm: np.ndarray
    ends: np.ndarray
    carriers: np.ndarray  # (2, wheel, rack) places of clearance's carriers


def fields(study: Study, results: Results, known: bool = False) -> tuple[Field, ...]:
    """The tightest pairs; nothing where gaps were not checked. Kept on disk by content; `known`: nothing
    where one of them is not."""
    if not results.clearance.checked or study.layout is None or results.travel is None:
        return ()
    pairs = results.clearance.pairs[:MOST_PAIRS]

    bodies, joints = neighbours.bodies(study.layout), neighbours.joints(study.layout)
    limits = Limits.of(study.job.clearance)
    springing = needed(study.springing)
    reach = np.asarray(springing.wheel_mm, float)[np.asarray(springing.poses.valid, bool)]
    most = abs(study.job.tie_rod.rack_travel)
    plain = ARMS if study.mechanism.points.rod_on == "upright" else ARMS | HUNG
    out = []
    for n, p in enumerate(pairs):
        places = FEW if {b.carrier for b in bodies if b.name in (p.a, p.b)} <= plain else RACK_PLACES
        wheel = _places(reach[0], reach[-1], STEP_MM, p.at_wheel_mm)
        rack = _places(-most, most, 2 * most / (places - 1), p.at_rack_mm) if most else np.zeros(1)
        z, s = (x.ravel() for x in np.meshgrid(wheel, rack, indexing="ij"))
        shape, names = (len(wheel), len(rack)), (p.a, p.b)
        made_of = key(
            "gaps at poses",
            [(b.name, b.part, b.kind, b.margin_mm, b.key) for b in bodies if b.name in names],
            [j for j in joints if {j.a, j.b} == set(names)],
            study.mechanism.points.content,
            (limits, wheel.tolist(), rack.tolist()),
        )
        body = kept(made_of, "gaps")
        if body is None and known:
            return ()
        if body is None:
            found = at_poses(names, bodies, joints, study.mechanism, z, s, limits)
            rows = () if found is None else np.column_stack([np.asarray(v, float) for v in astuple(found)])
            body = np.asarray(rows, float).tobytes()
            keep(made_of, "gaps", body)
        if not body:  # nothing to look at
            continue
        at = np.frombuffer(body).reshape(*shape, 10)
        ends = np.stack([at[..., 2:5], at[..., 5:8]])
        out.append(
            Field(
                n, p, wheel, rack, at[..., 0], at[..., 1], ends, np.moveaxis(at[..., 8:], -1, 0).astype(int)
            )
        )
    return tuple(out)


def _places(low: float, high: float, step: float, also: float) -> np.ndarray:
    """Even places from end to end, and the one of the least gap as far as it lies between them."""
    n = max(1, round((high - low) / step))
    even = np.linspace(low, high, n + 1)
    also = min(max(also, low), high)
    near = np.abs(even - also) < 1e-6 * max(high - low, 1.0)
    return even if near.any() else np.sort(np.append(even, also))


def gap_curves(found: tuple[Field, ...], results: Results) -> tuple[Curve, ...]:
    """The gap of the tightest pairs that do not clash, least over the rack, over the heights of
    `results.travel`."""
    out: list[Curve] = []
    for f in found:
        if f.pair.found_gap_mm <= 0 or len(out) == CURVES:
            continue
        good = np.isfinite(f.gap_mm).any(1)
        if not good.any():
            continue
        least = np.nanmin(f.gap_mm[good], axis=1)
        over = np.interp(
            np.array(needed(results.travel).wheel_mm), f.wheel_mm[good], least, left=math.nan, right=math.nan
        )
        out.append(
            Curve(
                f"{f.pair.a} – {f.pair.b}, {f.pair.required_mm:g} asked".replace("_", " "),
                [float(f"{v:.4g}") if math.isfinite(v) else None for v in over],
                asked=f.pair.required_mm,
            )
        )
    return tuple(out)


def live(found: tuple[Field, ...]) -> list[dict]:
    """What the page's script needs to tell a gap at any pose and to draw it where it is: numbers packed as
    little-endian float32, wheel slowest: gap, point on a, point on b."""
    out = []
    for f in found:
        met = np.unique(f.carriers)
        numbers = np.concatenate([f.gap_mm[..., None], f.ends[0], f.ends[1]], -1)
        out.append(
            {
                "pair": f.index,
                "wheel": [round(float(v), 4) for v in f.wheel_mm],
                "rack": [round(float(v), 4) for v in f.rack_mm],
                "numbers": base64.b64encode(np.ascontiguousarray(numbers, "<f4").tobytes()).decode("ascii"),
                "carriers": [carrier_name(int(k)) for k in met],
                "on": ["".join(map(str, np.searchsorted(met, f.carriers[k].ravel()))) for k in (0, 1)],
            }
        )
    return out
