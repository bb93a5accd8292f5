"""Seeded corners as solids, every two different parts of them looked at by the CAD kernel at poses: common
metal that no finding names is a hole in the check.

A few corners by default; `ROCKERSHED_SWEEP=40 pytest -m slow tests/test_whole_solids.py -s` looks at so many
and prints what it counts.
"""

from __future__ import annotations

import os
import time
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from assemblies.job import JobError, load
from assemblies.layout.contacts import contacts
from assemblies.making.drawn import drawn, unmade
from assemblies.making.gap_views.whole import Looker
from assemblies.study import study

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
SOME_MM3 = 1.0
POSES = int(os.environ.get("ROCKERSHED_POSES", "9"))
SWEEP = int(os.environ.get("ROCKERSHED_SWEEP", "0"))
FIRST = int(os.environ.get("ROCKERSHED_FIRST", "0"))  # seeds from here: a sweep in shares


def corner(seed: int):
    """A demo with its arms' bases wider or narrower, points off, a fat damper at either end, big bosses or a
    box in the way. Raises JobError where that is no job."""
    rng = np.random.default_rng(seed)
    u = rng.uniform
    job = load(JOBS / f"{('heronbank-front', 'tarnside-front', 'corrie-rear')[seed % 3]}.toml")
    changes: dict[str, object] = {}

    def moved(key, *by):
        table, name = key.split(".")
        changes[key] = [v + float(d) for v, d in zip(getattr(getattr(job, table), name), by, strict=True)]

    for arm in ("upper_arm", "lower_arm"):
        wide = u(-40, 70)
        moved(f"{arm}.front_pivot", wide + u(-8, 8), u(-1, 1), u(-3, 3))
        moved(f"{arm}.rear_pivot", -wide + u(-8, 8), u(-1, 1), u(-3, 3))
        moved(f"{arm}.outer_joint", *u(-6, 6, 3))
    moved("damper.chassis_eye", *u(-3, 3, 3))
    if seed % 4 == 1:
        changes["damper.body_end"] = "rocker"
    if seed % 4 == 2:
        changes["rocker.damper_boss_radius"] = float(u(22, 30))
        changes["rocker.rod_boss_radius"] = float(u(20, 26))
    changes["damper.body_diameter"] = float(u(38, 56))
    if seed % 2:  # a box that may stand in anything, on the frame or on the upright
        middle = np.array(job.rocker.pivot) + u(-140, 140, 3)
        box = {"name": "box", "shape": "box", "centre": middle.tolist(), "size": u(20, 90, 3).tolist()}
        if seed % 4 == 3:
            away = (u(-120, 120), u(-40, 40), u(-120, 120))
            box |= {"centre": (np.array(job.wheel.centre) + away).tolist(), "moves_with": "upright"}
        changes["member"] = [*(m.model_dump(by_alias=True, exclude_unset=True) for m in job.member), box]
    return job.changed(changes)


def named(done) -> set[frozenset[str]]:
    """Pairs of bodies or parts that some finding names."""
    gaps = done.results.clearance
    rows = [(p.a, p.b) for p in (*gaps.pairs, *gaps.at_rest) if not p.ok]
    rows += [f.where.split(" to ") for f in done.results.findings if f.code == "eye-lean"]
    return {frozenset("rod" if n == "rod end" else n for n in pair) for pair in rows}


def unnamed(done, poses, count: Counter) -> list[str]:
    """Common metal of every two different parts at `poses` that no finding of a `check` names, and
    that is more than their contact may share; what the kernel could not look at is unnamed too."""
    told_of, known = named(done), {c.pair: c for c in contacts(done.layout)}
    look, left = Looker(most=10**6), [f"{name} has no solid: {e}" for name, e in unmade(done.layout).items()]
    for wheel, rack in poses:
        if not done.mechanism.at(wheel, rack).valid.all():
            count["poses not reached"] += 1
            continue
        count["poses"] += 1
        before = look.asked
        for s in look.at(list(drawn(done, wheel, rack)), wheel, rack):
            if s.common_mm3 <= SOME_MM3:
                continue
            one, two = s.a.of, s.b.of
            pairs = {frozenset((one.body, two.body)), frozenset((one.name, two.name))}
            contact = known.get(frozenset((one.name, two.name)))
            may = contact.may_share_mm3 if contact else SOME_MM3
            how = "told" if pairs & told_of else "joined" if s.common_mm3 <= may else "unnamed"
            count[how] += 1
            if how != "told":
                count[f"{how}, most mm³"] = max(count[f"{how}, most mm³"], round(s.common_mm3, 1))
            if how == "unnamed":
                pose = f"wheel {wheel:+.1f}, rack {rack:+.1f}"
                left.append(
                    f"{s.a.name} / {s.b.name} ({contact and contact.kind}): {s.common_mm3:.1f} mm³ at {pose}"
                )
        count["asked"] += look.asked - before
    return left


def poses_of(job, many: bool):
    """The ends of the travel at opposite locks; with `many` droop, ride and bump straight
    ahead and at both locks, the first `POSES` of these nine."""
    low, high, rack = -job.corner.droop, job.corner.bump, job.tie_rod.rack_travel
    ends = [(low, rack), (high, -rack)]
    if not many:
        return ends
    all_ = [(0.0, 0.0), *ends, *((z, s) for z in (low, 0.0, high) for s in (0.0, -rack, rack))]
    return list(dict.fromkeys(all_))[:POSES]


def looked_at(seeds, many: bool, count: Counter) -> list[str]:
    left = []
    for seed in seeds:
        start = time.process_time()
        try:
            done = study(corner(seed))
        except JobError:
            count["no job"] += 1
            continue
        if done.layout is None or not done.results.clearance.checked:
            count["not checked"] += 1
            continue
        count["corners"] += 1
        left += [f"seed {seed}: {text}" for text in unnamed(done, poses_of(done.job, many), count)]
        if SWEEP:
            print(seed, f"{time.process_time() - start:.0f} s", dict(count), left[-3:], flush=True)
    return left


@pytest.mark.slow
def test_common_metal_of_seeded_corners_is_named():
    count: Counter = Counter()
    left = looked_at((21,), False, count)
    assert count["corners"] == 1 and count["asked"] > 75
    assert not left, left


@pytest.mark.slow
@pytest.mark.skipif(not SWEEP, reason="the long sweep: ROCKERSHED_SWEEP=40")
def test_the_long_sweep():
    count: Counter = Counter()
    left = looked_at(range(FIRST, SWEEP), True, count)
    print("\n".join([str(dict(count)), *left]))
    assert not left
