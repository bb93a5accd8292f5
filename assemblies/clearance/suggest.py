"""What would cure a clash or a short gap: the smallest shift of the body that stands in the way."""
from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assemblies.clearance.check import Limits, check
from assemblies.clearance.plan import Body
from parts.form import Frame

AXES = {"forward": (1, 0, 0), "back": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0), "up": (0, 0, 1), "down": (0, 0, -1)}
FURTHEST_MM = 150.0  # no longer shift is looked for
STEPS = 12  # of marching towards the gap that is needed


@dataclass(frozen=True)
class Shift:
    """Move `body` by `distance_mm` along `direction` (car axes, unit; `words` where it is one of them): all its pairs then have
    what they need, proven."""

    body: str
    direction: tuple[float, float, float]
    words: str
    distance_mm: float


def smallest_shift(name: str, bodies, mechanism, travel_mm, rack_mm=0.0, joints=(), limits: Limits | None = None,
                   tolerance_mm: float = 0.1) -> Shift | None:
    """The smallest of the shifts of a fixed body, along the car's six directions and away from where each of its pairs is
    nearest, that clears all its pairs; None where none within `FURTHEST_MM` does.

    A shift by s changes a gap by s at most, so marching by what is still missing never passes the first place that is
    clear. Joints of the body stay where they are. Raises ValueError for a body that is not there or moves."""
    own = [b for b in bodies if b.name == name]
    if not own or any(b.carrier != "frame" for b in own):
        raise ValueError(f"clearance: body {name!r} is not one that stands on the frame")
    moving = [b for b in bodies if b.carrier != "frame"]
    # pairs of two moving bodies are not at stake: they are left out by looking at the body as the only other one
    others = [j for j in joints if name in (j.a, j.b) and {j.a, j.b} <= {b.name for b in [*moving, *own]}]

    def missing(by: np.ndarray) -> tuple[float, list]:
        shifted = [_moved(b, by) for b in own]
        worst, rows = 0.0, []
        for part in sorted({b.name for b in moving}):
            some = [b for b in moving if b.name == part]
            report = check([*some, *shifted], mechanism, travel_mm, rack_mm,
                           [j for j in others if part in (j.a, j.b)], limits, tolerance_mm)
            for r in report.pairs:
                if name in (r.a, r.b):
                    worst = max(worst, r.required_mm - r.gap_mm)
                    rows.append(r)
        return worst, rows

    lacking, rows = missing(np.zeros(3))
    if lacking <= 0:
        return Shift(name, (0.0, 0.0, 0.0), "", 0.0)
    ways = [(np.array(v, float), word) for word, v in AXES.items()]
    for r in rows:
        if not r.ok:
            away = np.subtract(r.point_b, r.point_a) * (-1 if r.clash else 1) * (1 if r.b == name else -1)
            size = np.sqrt(away @ away)
            if size > 1e-6:
                ways.append((away / size, "away"))
    best: Shift | None = None
    for way, word in ways:
        far = lacking
        for _ in range(STEPS):
            if far > (best.distance_mm if best else FURTHEST_MM):
                break
            still, _ = missing(far * way)
            if still <= 0:
                best = Shift(name, tuple(map(float, way)), word, float(far))
                break
            far += max(still, tolerance_mm)
    return best


def _moved(body: Body, by: np.ndarray) -> Body:
    frame = Frame(tuple(map(float, by)))
    return replace(body, forms=tuple(f.moved(frame) for f in body.forms), shells=tuple(s.moved(by) for s in body.shells))
