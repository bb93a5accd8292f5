"""Interference: ratios against sampling, tolerance, steering and far members, measured side by side in one
run."""

from __future__ import annotations

import math
import time
from statistics import median

import numpy as np

from assemblies.bench.runner import DEMO, Ratio
from assemblies.clearance import Body, Limits, check, forget
from assemblies.clearance.bounds import CornerBounds
from assemblies.clearance.plan import Cast, Groups
from assemblies.clearance.scene import Grid
from assemblies.clearance.search import Search
from assemblies.gaps.rest import at_rest
from assemblies.job import Job, load
from assemblies.layout import bodies as neighbours
from assemblies.layout.placing import needed
from assemblies.study import study
from parts.shape.form import Form, Frame, Round

TOLERANCE_MM = 0.1
FAR = (0, 10, 100, 1000, 10_000)


def _timed(work, times: int = 3) -> float:
    took = []
    for _ in range(times):
        t0 = time.process_time()
        work()
        took.append(time.process_time() - t0)
    return median(took)


class _Demo:
    """The demo corner's bodies, joints and motion."""

    def __init__(self):
        job = load(DEMO)
        assert isinstance(job, Job)  # the demo is a corner
        made = study(job, interference=False)
        self.layout = needed(made.layout)
        self.bodies, self.joints = neighbours.bodies(self.layout), neighbours.joints(self.layout)
        self.mechanism, self.limits = made.mechanism, Limits.of(job.clearance)
        self.travel, self.rack = (-job.corner.droop, job.corner.bump), job.tie_rod.rack_travel

    def check(self, rack=0.0, tolerance=TOLERANCE_MM, more=()):
        forget()
        return check(
            [*self.bodies, *more], self.mechanism, self.travel, rack, self.joints, self.limits, tolerance
        )

    def at_rest(self):
        return at_rest(self.layout)


def bench() -> list[Ratio]:
    demo = _Demo()
    demo.check()  # the bodies are made into pieces once
    whole = _timed(demo.check)
    base, fine, steered = demo.check(), demo.check(tolerance=TOLERANCE_MM / 10), demo.check(rack=demo.rack)
    with_rack = _timed(lambda: demo.check(rack=demo.rack))
    rest = _timed(demo.at_rest)
    convex, queries, poses = _dense_convex(demo)
    exact = _exact_distance(demo)
    print(
        f"  {len(base.pairs)} pairs of the demo corner over travel at {TOLERANCE_MM} mm: {base.queries} "
        f"distance queries, {whole:.2f} s of "
        f"processor time; with the rack {steered.queries} queries, {with_rack:.2f} s"
    )
    print(
        f"  sampling to the same guarantee would take {poses:.3g} poses of pairs: {queries:.3g} queries of "
        f"convex pieces, or as many "
        f"distances of the exact kernel at {exact * 1e3:.1f} ms (both extrapolated from a measured subset)"
    )
    rows = [
        Ratio(
            "sampling the exact CAD distance at the same guarantee / whole corner over travel at 0.1 mm",
            poses * exact / whole,
            20_000,
        ),
        Ratio(
            "dense sampling of the same convex pieces at the same guarantee / the same", convex / whole, 20
        ),
        Ratio("queries at 0.01 mm / at 0.1 mm", fine.queries / base.queries, 4, at_least=False),
        Ratio("travel x rack / travel alone", with_rack / whole, 4, at_least=False),
        Ratio(
            "what stands still or rides together / the whole check",
            rest / (whole + rest),
            0.3,
            at_least=False,
        ),
    ]
    times = []
    for count in FAR:
        more = [Body(f"far {k}", "frame", _far(k), "fixed") for k in range(count)]
        times.append(_timed(lambda more=more: demo.check(more=more), 1))
        print(f"  with {count} far members: {times[-1]:.2f} s")
    rows.append(
        Ratio(
            "one far member of 10,000 / one member of the demo",
            (times[-1] - times[0]) / FAR[-1] / (whole / 25),
            0.05,
            at_least=False,
        )
    )
    first = next(b for b in demo.bodies if b.name == "upper rail")
    moved = [b for b in demo.bodies if b is not first] + [
        Body(first.name, first.carrier, tuple(f.moved(_shift(0.5)) for f in first.forms), first.kind)
    ]
    demo.check()
    t0 = time.process_time()
    check(moved, demo.mechanism, demo.travel, 0.0, demo.joints, demo.limits, TOLERANCE_MM)
    rows.append(
        Ratio(
            "one member moved, the rest remembered / all anew",
            (time.process_time() - t0) / whole,
            0.25,
            at_least=False,
        )
    )
    return rows


def _shift(x: float):
    return Frame((x, 0.0, 0.0))


def _far(k: int):
    a = k * 2.399963
    return (
        Form(
            (
                Round(
                    30.0,
                    400.0,
                    26.0,
                    Frame((6000 + 50 * math.sqrt(k) * math.cos(a), 50 * math.sqrt(k) * math.sin(a), 300.0)),
                ),
            )
        ),
    )


def _dense_convex(demo: _Demo, subset: int = 4) -> tuple[float, float, float]:
    """Processor time, queries and poses (summed over pairs) that sampling the same convex pieces would take
    for the same guarantee, extrapolated from a few poses.

    Between samples a step h apart the gap can be less than at them by v·h/2, v = the two bodies' greatest
    speeds together: so h = 2·tolerance/v for each pair. At a pose every two pieces that their boxes do not
    rule out are asked."""
    cast = Cast(demo.bodies, demo.joints)
    grid = Grid(CornerBounds(demo.mechanism), demo.travel)
    made = Groups(cast, cast.pairs, TOLERANCE_MM)
    scene = made.forest.scene()
    library = Search(scene, grid).library
    z = np.linspace(demo.travel[0], demo.travel[1], 101)
    frames = grid.motion.frames(z, 0 * z)
    corners, seconds, queries, total = scene.corners(), 0.0, 0.0, 0.0

    def speed(roots) -> float:
        f = np.moveaxis(frames[:, scene.carrier[roots]], 1, 0)
        at = np.einsum("ptij,pnj->ptni", f[..., :3], corners[roots]) + f[:, :, None, :, 3]
        return float((np.sqrt((np.diff(at, axis=1) ** 2).sum(-1)) / (z[1] - z[0])).max())

    places = [
        grid.index(np.array([int(grid.FINE * (k + 0.5) / subset)]), np.array([grid.FINE // 2]))[0]
        for k in range(subset)
    ]
    for roots in made.groups:
        if not (roots[0] and roots[1]):
            continue
        poses = (demo.travel[1] - demo.travel[0]) * (speed(roots[0]) + speed(roots[1])) / (2 * TOLERANCE_MM)
        one, two = (np.array(scene.leaves(side)) for side in roots)
        t0, asked = time.process_time(), 0
        for place in places:
            f = grid.frames[place][None]
            (low_a, high_a), (low_b, high_b) = (
                tuple(b[0] for b in scene.boxes(side, f)) for side in (one, two)
            )
            apart = np.maximum(np.maximum(low_b[None] - high_a[:, None], low_a[:, None] - high_b[None]), 0)
            gap = np.sqrt((apart**2).sum(-1)).ravel()
            nearest = gap.argsort()
            best = library.ask(one[nearest[:1] // len(two)], two[nearest[:1] % len(two)], place[None])[0][0]
            rest = nearest[1:][gap[nearest[1:]] < best]
            if len(rest):
                library.ask(one[rest // len(two)], two[rest % len(two)], np.full(len(rest), place))
            asked += 1 + len(rest)
        seconds += (time.process_time() - t0) / subset * poses
        queries += asked / subset * poses
        total += poses
    return seconds, queries, total


def _exact_distance(demo: _Demo) -> float:
    """Median processor time of the exact kernel's distance over some of the corner's pairs at ride."""
    from parts.files.solid import joined

    by_name: dict[str, Body] = {}
    for body in demo.bodies:
        by_name.setdefault(body.name, body)
    moving = [by_name[n] for n in ("rocker", "rod", "damper") if n in by_name]
    still = [b for b in by_name.values() if b.carrier == "frame"][:4]
    took = []
    for a in moving:
        for b in still:
            one, two = joined(a.forms[:1]), joined(b.forms[:1])
            t0 = time.process_time()
            one.distance(two)
            took.append(time.process_time() - t0)
    return float(np.mean(took))
