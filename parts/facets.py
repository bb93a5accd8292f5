"""Solids of other programs' STEP files as closed triangle meshes, with the distance of the true surface from them.

Beside solid.py the only file of parts/ that imports the CAD kernel. The kernel's own linear deflection is a wish, not a
promise (measured on a loft: the true surface was up to 1.11 times as far away, and places of a mesh of a torus twice),
so the mesh it makes is measured:

- Every triangle is looked at in a grid of places: the distance from there to the true surface, in closed form for planes,
  cylinders, cones, spheres and tori, else to the surface's point at the same parameters after one step towards the nearest.
  The grid has `GRID` steps a side, and as many for each smooth stretch of a spline that the triangle spans.
- Every stretch of a true edge between two corners is looked at in seven places: its distance from the chord.
- Nearest points on the surface move continuously along the mesh, and along its rim they stay within the edges' distance of the
  true rim; so they cover the face, but for a strip no wider than that: what holds of the mesh's distance from the face holds of
  the face's from the mesh.
- A deviation that is nought at the corners and bends evenly is at most 9/8 of what such a grid sees; `SAFETY` is more.
- To these come the shape's own tolerances.

Held against dense points of the true faces (tests/test_imported.py) the error stated was 1.2 to 2.3 times the true one.
"""
from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import (
    GeomAbs_CN,
    GeomAbs_Cone,
    GeomAbs_Cylinder,
    GeomAbs_Line,
    GeomAbs_Plane,
    GeomAbs_Sphere,
    GeomAbs_Torus,
)
from OCP.GeomAPI import GeomAPI_ProjectPointOnSurf
from OCP.gp import gp_Pnt, gp_Vec
from OCP.IFSelect import IFSelect_RetDone
from OCP.Message import Message, Message_Printer
from OCP.Poly import Poly_Triangulation
from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance
from OCP.STEPControl import STEPControl_Reader
from OCP.TColStd import TColStd_Array1OfReal
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Shape

SAFETY = 1.25  # on what is sampled
WIDEST_RAD = 0.5  # a triangle turns no further than this
TRIES = 6  # meshes made until the error is as small as asked
MOST_TRIANGLES = 20_000  # of one solid: a free-form shape gets a wider error instead, and says so
GRID = 3  # steps a side in which a triangle is looked at
MOST_GRID = 24
MOST_SEARCHES = 300  # of nearest points on a free-form surface
MERGED_MM = 1e-6  # corners nearer than this are one: faces share the corners of their common edge
ROUNDING_MM = 1e-6


class StepError(ValueError):
    """A STEP file whose solids cannot be used; the text says why and what to do."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Meshes (n, 3, 3) mm, one a solid, corners anti-clockwise seen from outside; every point of the true surface lies within
    `error_mm` of them and they of it. `loose_faces` of the file belong to no solid and are left out."""

    solids: tuple[np.ndarray, ...]
    error_mm: float
    loose_faces: int = 0


def facets(path: str | Path, error_mm: float) -> Facets:
    """The solids of a STEP file, in mm whatever its unit, as meshes within `error_mm` where that can be had.

    Raises StepError for a file that is not STEP or damaged, that holds no solid, or a solid that is empty or not closed."""
    shape = read(path)
    solids = _all(shape, TopAbs_SOLID)
    if not solids:
        raise StepError("holds no solid; export solids, not surfaces, sketches or meshes")
    meshes, error = [], 0.0
    for solid in solids:
        mesh, off = _within(solid, error_mm)
        meshes.append(mesh)
        error = max(error, off)
    faces = _all(shape, TopAbs_FACE)
    return Facets(tuple(meshes), error, len(faces) - sum(len(_all(s, TopAbs_FACE)) for s in solids))


def read(path: str | Path) -> TopoDS_Shape:
    """All of a STEP file as one shape, assemblies placed, mm. Raises StepError."""
    Message.DefaultMessenger_s().RemovePrinters(Message_Printer.get_type_descriptor_s())  # it prints past Python, on stdout
    reader = STEPControl_Reader()
    try:
        if reader.ReadFile(str(path)) != IFSelect_RetDone:
            raise StepError("is no STEP file, or a damaged one (it cannot be read to its end); export it again")
        reader.TransferRoots()
        checks = reader.WS().TransferReader().TransientProcess().CheckList(True)
        shape = reader.OneShape()
    except RuntimeError as e:  # the kernel's own kinds
        raise StepError(f"is a damaged STEP file ({e}); export it again") from None
    if not checks.IsEmpty(True):
        raise StepError("is a damaged STEP file (parts of it refer to what is not there); export it again")
    if shape.IsNull():
        raise StepError("holds nothing; export solids")
    return shape


def _all(shape: TopoDS_Shape, kind) -> list[TopoDS_Shape]:
    seek, out = TopExp_Explorer(shape, kind), []
    while seek.More():
        out.append(seek.Current())
        seek.Next()
    return out


def _within(solid: TopoDS_Shape, error_mm: float) -> tuple[np.ndarray, float]:
    """A solid's mesh and its error: made finer until that is small enough, but of no more than MOST_TRIANGLES."""
    own = ShapeAnalysis_ShapeTolerance().Tolerance(solid, 1) + ROUNDING_MM  # the greatest of its faces', edges' and corners'
    deflection, best, coarse = error_mm / SAFETY, None, False
    for _ in range(TRIES):
        BRepTools.Clean_s(solid)
        BRepMesh_IncrementalMesh(solid, deflection, False, WIDEST_RAD, False)
        count = sum(_triangles(face)[0].NbTriangles() for face in _all(solid, TopAbs_FACE))
        if count > MOST_TRIANGLES:
            coarse, deflection = True, deflection * 1.1 * count / MOST_TRIANGLES
            continue
        mesh, off = _measured(solid)
        if best is None or off + own < best[1]:
            best = mesh, off + own
        if off + own <= error_mm or coarse:
            break
        deflection *= max(0.2, min(0.7, 0.9 * (error_mm - own) / off)) if error_mm > own else 0.5
    if best is None:
        raise StepError(f"holds a solid of more than {MOST_TRIANGLES} triangles however coarse; export the outside that matters alone")
    return _closed(best[0]), best[1]


def _triangles(face) -> tuple[Poly_Triangulation, TopLoc_Location]:
    where = TopLoc_Location()
    made = BRep_Tool.Triangulation_s(TopoDS.Face_s(face), where)
    if made is None:
        raise StepError("holds a face that cannot be made into triangles; repair it where it was made and export it again")
    return made, where


def _closed(mesh: np.ndarray) -> np.ndarray:
    """The mesh without slivers, outward. Raises StepError where it is empty or has an open edge."""
    if not len(mesh):
        raise StepError("holds an empty solid; export it again")
    _, number = np.unique(np.rint(mesh.reshape(-1, 3) / MERGED_MM).astype(np.int64), axis=0, return_inverse=True)
    corners = number.reshape(-1, 3)
    sound = (corners != np.roll(corners, 1, 1)).all(1)
    mesh, corners = mesh[sound], corners[sound]
    edges = np.stack([corners, np.roll(corners, -1, 1)], -1).reshape(-1, 2)
    there, back = (np.unique(e, axis=0, return_counts=True) for e in (edges, edges[:, ::-1]))
    if len(there[0]) != len(back[0]) or (there[0] != back[0]).any() or (there[1] != back[1]).any():
        raise StepError("holds a solid that is not closed (a face is missing or does not meet its neighbour); "
                        "repair it where it was made and export it again")
    volume = (mesh[:, 0] * np.cross(mesh[:, 1], mesh[:, 2])).sum() / 6
    if abs(volume) < 1e-6:
        raise StepError("holds an empty solid; export it again")
    return mesh if volume > 0 else mesh[:, ::-1]


# ------------------------------------------------------------------------------------------------ measuring a mesh

def _measured(solid: TopoDS_Shape) -> tuple[np.ndarray, float]:
    """Triangles of all faces, and how far they and the true faces are apart at most (without the shape's own tolerances)."""
    triangles, off = [np.zeros((0, 3, 3))], 0.0
    for shape in _all(solid, TopAbs_FACE):
        face, (made, where) = TopoDS.Face_s(shape), _triangles(shape)
        turn = where.Transformation()
        points = np.array([_xyz(made.Node(i).Transformed(turn)) for i in range(1, made.NbNodes() + 1)])
        corners = np.array([made.Triangle(i).Get() for i in range(1, made.NbTriangles() + 1)]).reshape(-1, 3) - 1
        off = max(off, _face_off(BRepAdaptor_Surface(face, False), points[corners], made, corners))
        for edge in _all(face, TopAbs_EDGE):
            off = max(off, _edge_off(TopoDS.Edge_s(edge), made, where, points))
        triangles.append(points[corners[:, ::-1] if face.Orientation() == TopAbs_REVERSED else corners])
    return np.concatenate(triangles), SAFETY * off


def _xyz(p) -> tuple[float, float, float]:
    return p.X(), p.Y(), p.Z()


def _grid(steps: int) -> np.ndarray:
    """Shares (n, 3) of a triangle's corners at the places of a grid, the corners themselves left out."""
    whole = [(i, j, steps - i - j) for i in range(steps + 1) for j in range(steps + 1 - i)]
    return np.array([p for p in whole if max(p) < steps]) / steps


def _face_off(surface: BRepAdaptor_Surface, triangles: np.ndarray, made, corners: np.ndarray) -> float:
    """Greatest distance of a face's triangles from its surface."""
    if surface.GetType() == GeomAbs_Plane or not len(triangles):
        return 0.0
    if surface.GetType() in _CLOSED_FORM:
        return float(_CLOSED_FORM[surface.GetType()](surface, np.einsum("gk,nkx->ngx", _grid(GRID), triangles)).max())
    uv = np.array([(p.X(), p.Y()) for p in (made.UVNode(i) for i in range(1, made.NbNodes() + 1))])[corners]
    steps = np.minimum(GRID * _stretches(surface, uv), MOST_GRID)
    places = []
    for n in np.unique(steps):
        some = steps == n
        places.append([np.einsum("gk,nkx->ngx", _grid(n), x[some]).reshape(-1, x.shape[2]) for x in (triangles, uv)])
    return _furthest(surface, *(np.concatenate(x) for x in zip(*places, strict=True)))


def _local(surface, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points in the surface's own axes: distance from its axis, height along it."""
    place = surface.Position()
    axis, origin = (np.array(_xyz(x)) for x in (place.Direction(), place.Location()))
    away = at - origin
    height = away @ axis
    return np.sqrt(np.maximum((away**2).sum(-1) - height**2, 0)), height


def _off_cylinder(surface, at):
    s = surface.Cylinder()
    return np.abs(_local(s, at)[0] - s.Radius())


def _off_cone(surface, at):
    s = surface.Cone()
    rho, height = _local(s, at)
    a = s.SemiAngle()
    return np.abs((rho - s.RefRadius()) * np.cos(a) - height * np.sin(a))  # of the nappe the face lies on


def _off_sphere(surface, at):
    s = surface.Sphere()
    return np.abs(np.hypot(*_local(s, at)) - s.Radius())


def _off_torus(surface, at):
    s = surface.Torus()
    rho, height = _local(s, at)
    return np.abs(np.hypot(rho - s.MajorRadius(), height) - s.MinorRadius())


_CLOSED_FORM = {GeomAbs_Cylinder: _off_cylinder, GeomAbs_Cone: _off_cone, GeomAbs_Sphere: _off_sphere, GeomAbs_Torus: _off_torus}


def _stretches(surface: BRepAdaptor_Surface, uv: np.ndarray) -> np.ndarray:
    """How many smooth stretches of the surface each triangle (n, 3, 2) spans, the way it spans more."""
    most = np.ones(len(uv), int)
    for axis, count, intervals in ((0, surface.NbUIntervals, surface.UIntervals), (1, surface.NbVIntervals, surface.VIntervals)):
        ends = TColStd_Array1OfReal(1, count(GeomAbs_CN) + 1)
        intervals(ends, GeomAbs_CN)
        inner = np.array([ends.Value(i) for i in range(2, ends.Length())])
        low, high = uv[..., axis].min(1), uv[..., axis].max(1)
        most = np.maximum(most, 1 + np.searchsorted(inner, high, "left") - np.searchsorted(inner, low, "right"))
    return most


def _furthest(surface: BRepAdaptor_Surface, at: np.ndarray, uv: np.ndarray) -> float:
    """Greatest distance of places from a free-form surface, begun from parameters near each."""
    away = np.array([_stepped(surface, p, u, v) for p, (u, v) in zip(at, uv.tolist(), strict=True)])
    low, high = uv.min(0), uv.max(0)
    plain, sure = BRep_Tool.Surface_s(surface.Face()), np.zeros(len(at), bool)
    for _ in range(MOST_SEARCHES):  # the step goes astray near a pole: what is furthest is looked for in earnest
        k = int(away.argmax())
        if sure[k]:
            break
        found = GeomAPI_ProjectPointOnSurf(gp_Pnt(*at[k]), plain, low[0], high[0], low[1], high[1])
        away[k] = min(away[k], found.LowerDistance()) if found.NbPoints() else away[k]
        sure[k] = True
    return float(away.max())


def _stepped(surface: BRepAdaptor_Surface, p: np.ndarray, u: float, v: float) -> float:
    """Distance of p from the surface's point at (u, v) after one step of Gauss and Newton towards the nearest."""
    s, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, s, du, dv)
    away = gp_Vec(s, gp_Pnt(*p))
    a, b, c = du.Dot(du), du.Dot(dv), dv.Dot(dv)
    det = a * c - b * b
    if det < 1e-12 * a * c or not det:
        return away.Magnitude()
    x, y = away.Dot(du), away.Dot(dv)
    near = surface.Value(u + (c * x - b * y) / det, v + (a * y - b * x) / det)
    return min(away.Magnitude(), near.Distance(gp_Pnt(*p)))


def _edge_off(edge, made, where, points: np.ndarray) -> float:
    """How far a true edge leaves the mesh's path along it."""
    path = BRep_Tool.PolygonOnTriangulation_s(edge, made, where)
    if path is None or BRep_Tool.Degenerated_s(edge):
        return 0.0
    number = np.array([path.Node(i) for i in range(1, path.NbNodes() + 1)]) - 1
    at = np.array([path.Parameter(i) for i in range(1, path.NbNodes() + 1)])
    curve, share = BRepAdaptor_Curve(edge), np.arange(1, 8) / 8
    if curve.GetType() == GeomAbs_Line:
        return 0.0
    between = at[:-1, None] + (at[1:] - at[:-1])[:, None] * share
    true = np.array([_xyz(curve.Value(t)) for t in between.ravel()]).reshape(-1, len(share), 3)
    a, along = points[number[:-1]][:, None], (points[number[1:]] - points[number[:-1]])[:, None]
    foot = np.clip(((true - a) * along).sum(2) / np.maximum((along**2).sum(2), 1e-300), 0, 1)
    return float(np.sqrt(((true - a - foot[..., None] * along) ** 2).sum(2).max(initial=0.0)))
