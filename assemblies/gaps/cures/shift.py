"""A member moved: the smallest shift that gives all its pairs what they need, as keys of the job."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from assemblies.clearance.suggest import AXES, Surroundings
from assemblies.gaps.cures.stand import Stand, apart, trouble
from assemblies.job import JobError
from assemblies.job.frame import Bar
from assemblies.job.places import put_at
from assemblies.results import gaps as rs

# a shift along one of the car's axes is offered first where it is no longer than this times the smallest
PLAIN = 1.15
PLAIN_MM = 0.3  # and this
LONGER = 3.0  # times the smallest shift: as far as another way is looked along
GRID_MM = 0.1  # shifts are rounded up to this
PLACES = {
    "from_": "from",
    "to": "to",
    "centre": "centre",
    "at": "at",
}  # keys that place a member, as fields and as written
TRIES = 3  # ways that are laid out anew before a shift is given up


def shift(stand: Stand, name: str) -> rs.Cure | None:
    """How far and which way a member must go, and whether that holds when its brackets follow it; None where
    no shift of up to `suggest.FURTHEST_MM` clears all its pairs."""
    member = next(m for m in stand.job.member if m.name == name)
    asked = stand.asked
    around = Surroundings(
        name,
        asked.bodies,
        stand.mechanism,
        asked.travel_mm,
        asked.rack_mm,
        asked.joints,
        asked.limits,
        asked.tolerance_mm,
        stand.report.pairs,
    )
    first = None
    tried: list[np.ndarray] = []
    for way in _ways(around, _axis(member)):
        vector = _rounded(around, way)
        if vector is None or any(np.array_equal(vector, t) for t in tried):
            continue
        if len(tried) == TRIES:
            break
        tried.append(vector)
        for changes in _followed(stand, member, vector):
            try:
                after = stand.anew(changes)
            except (JobError, ValueError) as e:
                wrong = [str(e)]
            else:
                wrong = trouble(stand, after, name)
            cure = rs.Cure(
                kind="shift",
                body=name,
                shift_mm=vector.tolist(),
                changes=changes,
                holds=not wrong,
                trouble=wrong,
            )
            if cure.holds:
                return cure
            first = first or cure
    return first


def _followed(stand: Stand, member, vector) -> Iterator[dict[str, list[float]]]:
    """The groups' moves that hold a member; the keys that move it alone (with its named nodes); then, where
    it leaves its nodes so or goes further than it is wide, those that move its nodes: the ends of all other
    tubes that meet it there go with it."""
    yield from with_group(stand.job, member, vector)
    alone = placed(member, vector)
    junctions, ends = stand.layout.junctions, {}
    for node in junctions.nodes:
        if member.name in node.members:
            for name, end in node.ends:
                if name == member.name:
                    continue
                other = next(m for m in stand.job.member if isinstance(m, Bar) and m.name == name)
                point = other.from_ if end == "from" else other.to
                key, value = put_at(f"member.{name}.{end}", point, np.add(point, vector).tolist())
                ends[key] = value
    tube = junctions.all.get(member.name)
    wide = tube is not None and float(np.linalg.norm(vector)) > tube.member.section.width_mm
    try:
        off = bool(ends) and (wide or bool(apart(stand.layout, stand.placed(alone))))
    except (JobError, ValueError):
        off = bool(ends)
    if not (off and wide):
        yield alone
    if off:
        yield alone | ends


def _ways(around: Surroundings, axis) -> Iterator[np.ndarray]:
    """Shifts that clear, each worked out when it is asked for: along the nearest of the car's axes where that
    is about as short as the smallest, the smallest, then along the other axes on its side."""
    found = around.smallest(axis)
    if found is None or not found.distance_mm:
        return
    axes = sorted((np.array(v, float) for v in AXES.values()), key=lambda v: -float(v @ found.direction))
    plain = around.march(axes[0], found.least_mm, PLAIN * found.distance_mm + PLAIN_MM)
    if plain is not None:
        yield plain * axes[0]
    yield found.vector_mm
    for way in (w for w in axes if w @ found.direction > 0.3):
        far = around.march(way, found.least_mm, LONGER * found.distance_mm)
        if far is not None:
            yield far * way


def _rounded(around: Surroundings, vector: np.ndarray) -> np.ndarray | None:
    """A shift in whole tenths, each part rounded up, that a check of its own finds to clear."""
    parts = np.where(np.abs(vector) < 0.02, 0.0, vector)
    up = np.sign(parts) * np.ceil(np.abs(parts) / GRID_MM - 1e-3)
    for _ in range(4):
        at = np.round(up * GRID_MM, 6) + 0.0
        if not around.short(at, around.tolerance):
            return at
        up += np.sign(up) * (np.abs(up) == np.abs(up).max())
    return None


def _axis(member) -> np.ndarray | None:
    """A bar's own direction: moved along itself it stands where it stood."""
    if getattr(member, "from_", None) is None:
        return None
    return np.subtract(member.to, member.from_)


def placed(member, vector) -> dict[str, list[float]]:
    """The keys of the job that move a member by a vector: of an end at a named node, the node's own."""
    return dict(
        put_at(f"member.{member.name}.{written}", point, np.add(point, vector).tolist())
        for field, written in PLACES.items()
        if (point := getattr(member, field, None)) is not None
    )


def with_group(job, member, vector) -> Iterator[dict[str, list[float]]]:
    """The move of each group that holds the member; a group that moves hard points of the corner is none: its
    motion would be another."""
    still = ("member.", "node.", "hose.")
    for group in job.group:
        if member.name in group.members and all(f"{p}.".startswith(still) for p in group.points):
            yield {f"group.{group.name}.move": [round(float(v), 4) + 0.0 for v in np.add(group.move, vector)]}


def words(vector) -> str:
    """A shift in the car's directions: "2.9 mm down", or "3.1 mm: 2.7 down and 1.5 left".

    >>> words([0, 0, -2.9]), words([0, 1.5, -2.7])
    ('2.9 mm down', '3.1 mm: 2.7 down and 1.5 left')
    """
    sides = (("forward", "back"), ("left", "right"), ("up", "down"))
    parts = sorted(
        ((abs(v), pair[0 if v > 0 else 1]) for v, pair in zip(vector, sides, strict=True) if v),
        key=lambda p: -p[0],
    )
    if len(parts) == 1:
        return f"{parts[0][0]:.1f} mm {parts[0][1]}"
    said = [f"{size:.1f} {way}" for size, way in parts]
    return f"{math.sqrt(sum(v * v for v in vector)):.1f} mm: {', '.join(said[:-1])} and {said[-1]}"
