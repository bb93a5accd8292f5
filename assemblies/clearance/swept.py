"""The room that moving bodies sweep: one closed mesh a body, and the flat silhouette of a plate's sweep.

Between two poses every point of a piece stays within the piece's slack of the straight line between its
places (slack.py): so the hull of the piece's corners at both ends, grown by the slack, holds all it sweeps
there. How far such a hull reaches beyond the true sweep is bounded: with the motion M(t) = M0 + t·(M1 - M0)
but for the slack, a point (1-t)·M0·u + t·M1·v of the hull lies t(1-t)·|(M1 - M0)(u - v)| <= ¼·|(M1 - M0)(u -
v)| from M(t)·w, w = (1-t)·u + t·v, which is a point of the convex piece. Travel and rack are cut finer until
that is small; the union of all hulls is the mesh.

Needs manifold3d for the union, scipy and shapely for the silhouette (loaded here only).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from assemblies.clearance.bounds import CornerBounds
from assemblies.clearance.hinge import Hinge
from assemblies.clearance.plan import Cast, Groups, Pair
from assemblies.clearance.scene import Grid, Scene, both_ways, span, spread
from assemblies.clearance.slack import Bends
from parts.base.frozen import dataclass
from parts.shape.form import Frame
from parts.shape.outline import Loop, Outline, Vertex

MOST_HULLS = 1024  # of a piece, and four times that of a body; where more were needed the error grows instead
MANY = 32  # a long piece that needs more than so many is halved first
GROUP = 64
STILL_MM = 1e-9
RACKS = 65  # places over the rack
HULLS, SIMPLER = 0.45, (0.05, 0.15)  # shares of the error
_OCTAHEDRON = np.array(
    [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], float
)  # times √3 it holds the unit ball


@dataclass(frozen=True)
class Envelope:
    """One closed mesh (of several where the sweep falls apart), `corners` (n, 3) mm car coordinates, `faces`
    (m, 3) outward: it holds all that the body sweeps and reaches at most `error_mm` beyond it (holes, bores
    and hollows that the sweep encloses count as filled)."""

    corners: np.ndarray
    faces: np.ndarray
    error_mm: float

    @property
    def triangles(self) -> np.ndarray:
        return self.corners[self.faces]

    @property
    def volume_mm3(self) -> float:
        a, b, c = np.moveaxis(self.triangles, 1, 0)
        return float((a * np.cross(b, c)).sum() / 6)


@dataclass(frozen=True)
class Stage:
    """A piece over one cell: the corners of all its poses at the cell's ends, what they are to be grown by to
    hold the sweep between, and how far the hull so grown reaches beyond it."""

    corners: np.ndarray
    grow_mm: float
    beyond_mm: float


def envelope(
    name: str,
    bodies,
    mechanism,
    travel_mm,
    rack_mm: float = 0.0,
    error_mm: float = 1.0,
    progress: Callable[..., None] = lambda *_: None,
) -> Envelope:
    """What a body sweeps over travel (and rack), within `error_mm`, or twice or more that where it would take
    more than MOST_HULLS.

    The union of a few neighbouring hulls is simplified, and then that of all: the surface moves by less than
    a share of the error each time, so all hulls are grown by both shares beforehand and what is left still
    holds what they held."""
    import manifold3d

    while True:
        pieces = _pieces(
            *_scene(name, bodies, mechanism, travel_mm, rack_mm, HULLS * error_mm), HULLS * error_mm
        )
        if pieces is not None:
            break
        error_mm *= 2
    few, fewer = SIMPLER[0] * error_mm, SIMPLER[1] * error_mm
    groups = [stages[k : k + GROUP] for stages in pieces for k in range(0, len(stages), GROUP)]
    unions, beyond = [], 0.0
    for n, stages in enumerate(groups, 1):
        progress(f"swept: {name}", n, len(groups))
        made = manifold3d.Manifold.batch_boolean(
            [_hull(manifold3d, s, few + fewer) for s in stages], manifold3d.OpType.Add
        )
        unions.append(made.as_original().simplify(few))
        beyond = max(beyond, *(s.beyond_mm + np.sqrt(3) * s.grow_mm for s in stages))
    whole = manifold3d.Manifold.batch_boolean(unions, manifold3d.OpType.Add).as_original().simplify(fewer)
    mesh = manifold3d.Manifold.compose(
        [part for part in whole.decompose() if part.volume() > 0]
    ).to_mesh64()  # the rest are hollows inside
    return Envelope(
        np.array(mesh.vert_properties)[:, :3],
        np.array(mesh.tri_verts, int),
        float(beyond + (1 + np.sqrt(3)) * (few + fewer)),
    )


def _hull(manifold3d, s: Stage, more_mm: float):
    r = np.sqrt(3) * (s.grow_mm + more_mm)
    return manifold3d.Manifold.hull_points(
        (s.corners[:, None] + r * _OCTAHEDRON).reshape(-1, 3) if r > 0 else s.corners
    )


def write_stl(path: str | Path, triangles: np.ndarray, title: str) -> Path:
    """Binary STL in mm. Raises ValueError for an empty mesh."""
    if not len(triangles):
        raise ValueError(f"{path}: nothing to write")
    record = np.zeros(
        len(triangles), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    )
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.sqrt((normal**2).sum(1))
    record["normal"], record["corners"] = normal / np.where(size > 0, size, 1)[:, None], triangles
    path = Path(path)
    path.write_bytes(
        f"{title}, mm".encode("ascii", "replace")[:79].ljust(80)
        + np.uint32(len(triangles)).tobytes()
        + record.tobytes()
    )
    return path


def silhouette(
    name: str, bodies, mechanism, origin, normal, travel_mm, rack_mm: float = 0.0, error_mm: float = 0.2
):
    """Flat outlines of a body's sweep, seen along `normal` from its tip: a list of `Outline`, x to the right
    of `up` = car z (car x where the normal is upright), the point `origin` at 0, 0; from outside, within
    `error_mm` or, where it would take too many hulls, twice or more that. Arcs as chords."""
    from shapely import MultiPoint, union_all

    m = plane(origin, normal).matrix()
    shapes = []
    while (
        pieces := _pieces(
            *_scene(name, bodies, mechanism, travel_mm, rack_mm, 0.8 * error_mm), 0.8 * error_mm
        )
    ) is None:
        error_mm *= 2
    for s in (s for piece in pieces for s in piece):
        flat = (s.corners - m[:3, 3]) @ m[:3, :2]
        shapes.append(MultiPoint(flat).convex_hull.buffer(s.grow_mm / np.cos(np.pi / 32) + 1e-9, quad_segs=8))
    whole = union_all(shapes)

    def loop(ring) -> Loop:
        return Loop(tuple(Vertex(float(x), float(y)) for x, y in list(ring.coords)[:-1]))

    out = []
    for polygon in getattr(whole, "geoms", [whole]):
        polygon = polygon.simplify(error_mm / 10).buffer(error_mm / 10, join_style="mitre")
        for p in getattr(polygon, "geoms", [polygon]):
            outer = loop(p.exterior)
            out.append(
                Outline(
                    outer if outer.area_mm2 > 0 else outer.reversed(),
                    tuple(h if h.area_mm2 < 0 else h.reversed() for h in (loop(r) for r in p.interiors)),
                )
            )
    return out


def plane(origin, normal):
    """The frame of a silhouette: z along `normal`, y up in the car (forward where the normal is upright)."""
    z = np.asarray(normal, float) / np.linalg.norm(normal)
    up = (0.0, 0.0, 1.0) if abs(z[2]) < 0.99 else (1.0, 0.0, 0.0)
    return Frame.looking(tuple(origin), tuple(z), tuple(np.cross(up, z)))


def _scene(name, bodies, mechanism, travel_mm, rack_mm, error_mm) -> tuple[Scene, Grid, Bends, list[int]]:
    own = [replace(b, hollow=False) for b in bodies if b.name == name]
    if not own:
        raise ValueError(
            f"clearance: there is no body {name!r}; the bodies are "
            f"{', '.join(sorted({b.name for b in bodies}))}"
        )
    cast = Cast(own, ())
    made = Groups(
        cast, [Pair(name, name)], 2 * error_mm
    )  # pieces reach at most two tenths of the error past the metal
    scene = made.forest.scene()
    rack = both_ways(rack_mm)
    motion = mechanism if isinstance(mechanism, Hinge) else CornerBounds(mechanism)
    grid = Grid(motion, span(travel_mm), rack)
    if rack and _with_the_arms({b.carrier for b in own}, mechanism):
        grid = Grid(grid.motion, _as_if_straight(mechanism, grid), None)
    return scene, grid, Bends(scene, grid), sorted(scene.leaves(made.groups[0][0]))


def _with_the_arms(carriers: set[str], mechanism) -> bool:
    """Whether bodies so carried stand where the lower arm's angle alone says; the rack only shifts the wheel
    height that goes with it."""
    rest = (
        {"rod", "rocker", "spring", "damper_body", "damper_shaft"}
        if mechanism.points.rod_on != "upright"
        else set()
    )
    return carriers <= {"frame", "upper_arm", "lower_arm"} | rest


def _as_if_straight(mechanism, grid: Grid) -> tuple[float, float]:
    """The travel with the rack straight ahead over which the arms turn as far as over all racks; a little
    more where lock moves them further.

    The least and greatest height of the lower arm's outer joint over the rack at both ends of travel, to
    within the bend of its path between RACKS places (which is added), and the wheel heights at which it
    stands there with the rack at 0."""
    rack = spread(grid.rack, RACKS)
    ends = []
    for z, out in zip(grid.travel, (-1, 1), strict=True):
        height = mechanism.at(np.full(RACKS, z), rack).point("lower_outer")[..., 2].reshape(-1)
        goal = out * (out * height).max() + out * np.abs(np.diff(height, 2)).max(initial=0.0)
        for _ in range(40):  # secant: the joint goes up with the wheel nearly one to one
            off = goal - float(mechanism.at(z, 0.0).point("lower_outer")[..., 2].reshape(-1)[0])
            z += off
            if abs(off) < 1e-9:
                break
        ends.append(z)
    return min(ends[0], grid.travel[0]), max(ends[1], grid.travel[1])


def _pieces(scene: Scene, grid: Grid, bends: Bends, which, error_mm: float) -> list[list[Stage]] | None:
    """Every piece over cells of travel and rack, cut in halves until the hulls reach no further than
    `error_mm` beyond the sweep; None where MOST_HULLS are not enough for that."""
    out, left, count = [], list(which)[::-1], 0
    while left:
        i = left.pop()
        if scene.carrier[i] == 0:
            out.append([Stage(scene.pieces[i].points, 0.0, float(scene.beyond[i]))])
            continue
        nz, ns = 1, 1
        while nz * ns <= MOST_HULLS:
            cells = _Cells(scene, grid, bends, i, nz, ns)
            worst = cells.over_z.max(), cells.over_s.max()
            if sum(worst) + scene.beyond[i] <= error_mm:
                break
            nz, ns = (2 * nz, ns) if worst[0] >= worst[1] else (nz, 2 * ns)
        if nz * ns > MANY and scene.kids[i, 0] >= 0:
            left += list(scene.kids[i])
            continue
        count += nz * ns
        if nz * ns > MOST_HULLS or count > 4 * MOST_HULLS:
            return None
        out.append(list(cells.stages()))
    return out


class _Cells:
    """A piece over nz x ns cells of travel and rack."""

    def __init__(self, scene: Scene, grid: Grid, bends: Bends, i: int, nz: int, ns: int):
        self.points, self.beyond, fine = scene.pieces[i].points, float(scene.beyond[i]), Grid.FINE
        self.nz, self.ns = nz, ns
        steers = grid.rack is not None
        z = np.arange(nz + 1) * (fine // nz)
        s = np.arange(ns + 1) * (fine // ns) if steers else np.array([fine // 2, fine // 2])
        zz, ss = (g.ravel() for g in np.meshgrid(z, s, indexing="ij"))
        self.frames = grid.at(zz, ss)[:, scene.carrier[i]].reshape(nz + 1, ns + 1, 3, 4)
        za, sa = (g.ravel() for g in np.meshgrid(z[:-1], s[:-1], indexing="ij"))
        slack = bends.slack(
            (np.full(len(za), i),),
            za,
            np.full(len(za), fine // nz),
            sa if steers else np.zeros(len(za), np.int64),
            np.full(len(za), fine // ns if steers else fine),
        )
        slack = [np.asarray(a).reshape(nz, ns) for a in slack] + [np.zeros((nz, ns))] * (2 - len(slack))
        place = np.einsum("abij,nj->abni", self.frames[..., :3], self.points) + self.frames[:, :, None, :, 3]
        self.steered = steers and (np.abs(place - place[:, :1]).max() > STILL_MM or slack[1].max() > STILL_MM)
        self.place, self.grow = place, slack[0] + slack[1]
        f = self.frames[..., :3]
        along_z = self._spread(
            f[1:] - f[:-1]
        )  # (nz, ns + 1): how differently points of the piece move across the cell
        along_s = self._spread(f[:, 1:] - f[:, :-1])
        cross = self._spread(f[1:, 1:] - f[1:, :-1] - f[:-1, 1:] + f[:-1, :-1])
        root3 = 1 + np.sqrt(3)  # the slack itself, and the octahedron that holds a ball of it
        self.over_z = np.maximum(along_z[:, 1:], along_z[:, :-1]) / 4 + root3 * slack[0]
        self.over_s = (
            (np.maximum(along_s[1:], along_s[:-1]) / 4 + root3 * slack[1] + cross / 2)
            if self.steered
            else np.zeros((nz, ns))
        )

    def _spread(self, turns: np.ndarray) -> np.ndarray:
        """Greatest |turn·(u - v)| over points u, v of the piece: at most the diagonal of a box round
        turn·piece."""
        moved = np.einsum("abij,nj->abni", turns, self.points)
        return np.sqrt((np.ptp(moved, axis=2) ** 2).sum(-1))

    def stages(self) -> Iterator[Stage]:
        for a in range(self.nz):
            for b in range(self.ns if self.steered else 1):
                ends = self.place[a : a + 2, b : b + 2] if self.steered else self.place[a : a + 2, :1]
                yield Stage(
                    ends.reshape(-1, 3),
                    float(self.grow[a, b]),
                    float(self.over_z[a, b] + self.over_s[a, b] - np.sqrt(3) * self.grow[a, b] + self.beyond),
                )
