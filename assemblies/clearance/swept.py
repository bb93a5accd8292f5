"""The room that moving bodies sweep: meshes for a friend's CAD, and the flat silhouette of a plate's sweep.

Between two poses every point of a piece stays within the piece's slack of the straight line between its places (slack.py):
so the hull of the piece's corners at both ends, grown by the slack, holds all it sweeps there. The meshes are these hulls,
one beside the other; they overlap, which viewers and CAD take as one body each. Needs scipy and shapely (loaded here only).
"""
from __future__ import annotations

from pathlib import Path

import numpy as np

from assemblies.clearance.bounds import Corner
from assemblies.clearance.plan import Cast, Groups, Pair
from assemblies.clearance.scene import Grid, Scene
from assemblies.clearance.slack import Bends


def envelope(name: str, bodies, mechanism, travel_mm, rack_mm: float = 0.0, cells: int = 32, error_mm: float = 0.5) -> np.ndarray:
    """Triangles (n, 3, 3), outward, that hold all that a body sweeps over travel (and rack), within about `error_mm`."""
    from scipy.spatial import ConvexHull
    scene, grid, bends, which = _scene(name, bodies, mechanism, travel_mm, rack_mm, error_mm)
    out = []
    for corners, grow in _stages(scene, grid, bends, which, cells):
        if grow > 0:
            corners = (corners[:, None] + grow * np.sqrt(3) * _OCTAHEDRON[None]).reshape(-1, 3)  # holds a ball of radius grow
        hull = ConvexHull(corners)
        faces = corners[hull.simplices]
        normal = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
        flip = (normal * hull.equations[:, :3]).sum(1) < 0
        faces[flip] = faces[flip][:, ::-1]
        out.append(faces)
    return np.concatenate(out)


def write_stl(path: str | Path, triangles: np.ndarray, title: str) -> Path:
    """Binary STL in mm. Raises ValueError for an empty mesh."""
    if not len(triangles):
        raise ValueError(f"{path}: nothing to write")
    record = np.zeros(len(triangles), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]))
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.sqrt((normal**2).sum(1))
    record["normal"], record["corners"] = normal / np.where(size > 0, size, 1)[:, None], triangles
    path = Path(path)
    path.write_bytes(f"{title}, mm".encode("ascii", "replace")[:79].ljust(80) + np.uint32(len(triangles)).tobytes() + record.tobytes())
    return path


def silhouette(name: str, bodies, mechanism, origin, normal, travel_mm, rack_mm: float = 0.0, cells: int = 64, error_mm: float = 0.1):
    """Flat outlines of a body's sweep, seen along `normal` from its tip: a list of `Outline`, x to the right of `up` = car z
    (car x where the normal is upright), the point `origin` at 0, 0. Grown by the slack; arcs as chords."""
    from shapely import MultiPoint, union_all

    from parts.form import Frame
    from parts.outline import Loop, Outline, Vertex
    z = np.asarray(normal, float) / np.linalg.norm(normal)
    up = (0.0, 0.0, 1.0) if abs(z[2]) < 0.99 else (1.0, 0.0, 0.0)
    m = Frame.looking(tuple(origin), tuple(z), tuple(np.cross(up, z))).matrix()
    scene, grid, bends, which = _scene(name, bodies, mechanism, travel_mm, rack_mm, error_mm)
    shapes = []
    for corners, grow in _stages(scene, grid, bends, which, cells):
        flat = (corners - m[:3, 3]) @ m[:3, :2]
        shapes.append(MultiPoint(flat).convex_hull.buffer(grow / np.cos(np.pi / 32) + 1e-9, quad_segs=8))
    whole = union_all(shapes)

    def loop(ring) -> Loop:
        return Loop(tuple(Vertex(float(x), float(y)) for x, y in list(ring.coords)[:-1]))
    out = []
    for polygon in getattr(whole, "geoms", [whole]):
        polygon = polygon.simplify(error_mm / 10).buffer(error_mm / 10, join_style="mitre")
        for p in getattr(polygon, "geoms", [polygon]):
            outer = loop(p.exterior)
            out.append(Outline(outer if outer.area_mm2 > 0 else outer.reversed(),
                               tuple(h if h.area_mm2 < 0 else h.reversed() for h in (loop(r) for r in p.interiors))))
    return out


_OCTAHEDRON = np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], float)


def _scene(name, bodies, mechanism, travel_mm, rack_mm, error_mm):
    own = [b for b in bodies if b.name == name]
    if not own:
        raise ValueError(f"clearance: there is no body {name!r}; the bodies are {', '.join(sorted({b.name for b in bodies}))}")
    cast = Cast(own, ())
    made = Groups(cast, [Pair(name, name, ())], 10 * error_mm)  # pieces reach a tenth of a tolerance past the metal
    scene = made.forest.scene()
    rack = (-abs(float(rack_mm)), abs(float(rack_mm))) if rack_mm else None
    grid = Grid(Corner(mechanism), tuple(map(float, travel_mm)), rack)
    which, left = [], list(made.groups[0][0])
    while left:
        i = left.pop()
        if scene.real[i]:
            which.append(i)
        else:
            left += list(scene.kids[i])
    return scene, grid, Bends(scene, grid), sorted(which)


def _stages(scene: Scene, grid: Grid, bends: Bends, which, cells: int):
    """Corners of each piece at both ends (all four corners) of each cell, and the slack they are to be grown by."""
    cells = 1 << max(0, int(np.ceil(np.log2(cells))))
    wide = grid.FINE // cells
    z = np.arange(cells) * wide
    sides = max(1, cells // 4) if grid.rack else 1
    s = np.arange(sides) * (grid.FINE // sides) if grid.rack else np.array([grid.FINE // 2])
    ws = grid.FINE // sides if grid.rack else grid.FINE
    for i in which:
        carrier = scene.carrier[i]
        if carrier == 0:
            yield scene.pieces[i].points, 0.0
            continue
        moves_with_rack = grid.rack is not None
        for a in z:
            for b in s:
                zz = np.array([a, a, a + wide, a + wide]) if moves_with_rack else np.array([a, a + wide])
                ss = np.array([b, b + ws, b, b + ws]) if moves_with_rack else np.array([b, b])
                f = grid.at(zz, ss)[:, carrier]
                corners = np.einsum("tij,nj->tni", f[:, :, :3], scene.pieces[i].points) + f[:, None, :, 3]
                slack = sum(bends.slack(np.array([i]), np.array([a]), np.array([wide]), np.array([b]), np.array([ws])))[0]
                yield corners.reshape(-1, 3), float(slack)
