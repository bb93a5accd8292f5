"""Which part of a tube's seam a torch reaches, and which tubes hide it: a cone of `HALF_DEG` and `LONG_MM`
whose tip is on the seam, leaning between the tube's wall and the run's skin, up to 50 deg along the seam
either way."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from assemblies.layout.junctions.bodies import MIRROR, TubeInPlace
from parts.skin import Run
from parts.tube_end import TubeEnd
from parts.tube_wall import wall_points

HALF_DEG, LONG_MM = 15.0, 120.0  # a gas nozzle of about 20 mm and the hand behind it; common practice
LEANS_DEG = (0.0, 30.0, -30.0, 50.0, -50.0)
POINTS, RAYS, OFF_MM = 24, 6, 1.0
DEPTHS_MM = np.linspace(4.0, LONG_MM, 18)


class TorchSeam:
    """The points of one end's seam, and for each which of the others hide it from every way the torch may
    lean."""

    def __init__(self, tube: TubeInPlace, end: str, cut: TubeEnd, others: Iterable[TubeInPlace]):
        self.tube, self.end = tube.name, end
        self.needs = {tube.name, *(tube.stands_as(r) for r in cut.runs)}
        points, ways, runs, sharp = _seam(tube, end, cut)
        self.hidden: list[list[frozenset[str]]] = [[frozenset()] * len(LEANS_DEG) for _ in points]
        if not len(points):
            return
        near = [o for o in others if o.name != tube.name and _within(points, o)]
        for lean in range(len(LEANS_DEG)):
            blocked: list[set[str]] = [{tube.name} if s else set() for s in sharp]
            for other in near:
                for i in map(int, np.flatnonzero(_hits(points, ways[lean], other))):
                    if runs[i] != other.name:
                        blocked[i].add(other.name)
            for i, some in enumerate(blocked):
                self.hidden[i][lean] = frozenset(some)

    def reached(self, there: set[str]) -> float:
        """Share of the seam that the torch reaches with those tubes there."""
        if not self.hidden:
            return 1.0
        return sum(any(not (h & there) for h in leans) for leans in self.hidden) / len(self.hidden)


def _seam(tube: TubeInPlace, end: str, cut: TubeEnd):
    """Points a little off the seam; for each lean the cone's rays, each (n, 3); whose skin each lies on;
    where wall and skin stand too sharp to each other."""
    s = cut.around_mm[-1] * (np.arange(POINTS) + 0.5) / POINTS
    at = np.searchsorted(cut.around_mm, s, side="right") - 1
    met = (cut.ruled_by[at] >= 0) & (cut.ruled_by[at] < len(cut.cutters))  # not where it was trimmed
    s, rule = s[met], cut.ruled_by[at][met]
    x, y, _ = wall_points(tube.section, s)
    inner_x, inner_y, _ = wall_points(tube.section, s, 0.01)
    t = np.interp(s, cut.around_mm, cut.outer_mm)
    z = t if end == "from" else tube.tube.member.length_mm - t
    m = tube.tube.frame.matrix()[:3, :3]
    plain = np.column_stack([x, y, z]) @ m.T + tube.tube.frame.origin  # before any mirror
    wall = np.column_stack([x - inner_x, y - inner_y, np.zeros(len(s))]) @ m.T
    wall /= np.maximum(np.linalg.norm(wall, axis=1), 1e-12)[:, None]
    inwards = m[:, 2] if end == "from" else -m[:, 2]
    skin = np.array([_normal(cut.cutters[k], p, inwards) for k, p in zip(rule, plain, strict=True)]).reshape(
        -1, 3
    )
    open_deg = 180 - np.degrees(np.arccos(np.clip((wall * skin).sum(1), -1, 1)))
    sharp = open_deg < 2 * HALF_DEG  # the wall and the skin themselves leave the cone no room
    between = wall + skin
    flat = np.linalg.norm(between, axis=1) < 0.2  # against each other: off the wall
    between[flat] = wall[flat]
    between /= np.linalg.norm(between, axis=1)[:, None]
    along = np.cross(wall, skin)
    size = np.linalg.norm(along, axis=1)
    along = np.where(size[:, None] > 1e-6, along / np.maximum(size, 1e-12)[:, None], inwards)
    ways = []
    for lean in LEANS_DEG:
        centre = between * math.cos(math.radians(lean)) + along * math.sin(math.radians(lean))
        u = np.cross(centre, along)
        u /= np.maximum(np.linalg.norm(u, axis=1), 1e-12)[:, None]
        v = np.cross(centre, u)
        c, r = math.cos(math.radians(HALF_DEG)), math.sin(math.radians(HALF_DEG))
        turns = [2 * math.pi * k / RAYS for k in range(RAYS)]
        ways.append([centre, *(c * centre + r * (math.cos(a) * u + math.sin(a) * v) for a in turns)])
    points = plain + OFF_MM * between
    runs = [tube.stands_as(cut.runs[k]) for k in rule]
    if tube.mirrored:
        points, ways = points * MIRROR, [[w * MIRROR for w in some] for some in ways]
    return points, ways, runs, sharp


def _normal(cutter, point: np.ndarray, inwards: np.ndarray) -> np.ndarray:
    """The run's skin's outward normal at a point on it; of a plane its own."""
    if not isinstance(cutter, Run):
        return np.array(cutter.normal, float)
    m = cutter.frame.matrix()
    x, y, _ = (point - m[:3, 3]) @ m[:3, :3]
    s = cutter.section
    if s.is_round:
        local = np.array([x, y, 0.0])
    else:
        bx, by = s.width_mm / 2 - s.outer_corner_mm, s.height_mm / 2 - s.outer_corner_mm
        local = np.array([x - np.clip(x, -bx, bx), y - np.clip(y, -by, by), 0.0])
    size = float(np.linalg.norm(local))
    return m[:3, :3] @ (local / size) if size > 1e-6 else inwards


def _within(points: np.ndarray, other: TubeInPlace) -> bool:
    a, b = other.ends
    d = b - a
    t = np.clip((points - a) @ d / (d @ d), 0, 1)
    away = np.linalg.norm(points - a - t[:, None] * d, axis=1).min()
    return bool(away < LONG_MM + 2 * max(other.section.width_mm, other.section.height_mm))


def _hits(points: np.ndarray, rays: list[np.ndarray], other: TubeInPlace) -> np.ndarray:
    """Which cones hold a part of a hull: places along every ray, in all."""
    at = points[None, None] + DEPTHS_MM[:, None, None, None] * np.array(rays)[None]
    return np.any(other.holds(at.reshape(-1, 3)).reshape(len(DEPTHS_MM) * len(rays), -1), axis=0)
