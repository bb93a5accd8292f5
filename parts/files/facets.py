"""Solids of other programs' STEP files as closed triangle meshes, with a proven distance from the true
surface.

The kernel's own linear deflection is a wish, not a promise (measured on a loft: the true surface was up
to 1.11 times as far away, and places of a mesh of a torus twice), so the mesh it makes is measured:
facet_error.py proves how far each face and its triangles are apart, and to that come the shape's own
tolerances, by which the kernel lets edges and faces miss each other.

Extruded and turned curves are made splines of first, by the kernel's exact conversion of the whole solid.
Faces of a kind that has none (offsets of free-form faces) become splines within a tolerance of the kernel's:
they count as `unproven_faces`, and so do those whose triangles do not fit their rim as they should.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_SurfaceOfExtrusion, GeomAbs_SurfaceOfRevolution
from OCP.IFSelect import IFSelect_RetDone
from OCP.Message import Message, Message_Printer
from OCP.Poly import Poly_Triangulation
from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Shape

from parts.base.frozen import dataclass
from parts.files.facet_error import face_error
from parts.files.surface_bend import bend_of

WIDEST_RAD = 0.5  # a triangle turns no further than this
TRIES = 6  # meshes made until the error is as small as asked
MOST_TRIANGLES = 20_000  # of one solid: a free-form shape gets a wider error instead, and says so
FIRST = 0.7  # of the error asked: the kernel's deflection to begin with
MERGED_MM = 1e-6  # corners nearer than this are one: faces share the corners of their common edge
ROUNDING_MM = 1e-6
FOIL_MM = 1e-3  # a solid thinner than this is a surface in disguise


class StepError(ValueError):
    """A STEP file whose solids cannot be used; the text says why and what to do."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Meshes (n, 3, 3) mm, one a solid, corners anti-clockwise seen from outside; every point of the true
    surface lies within `error_mm` of them and they of it: proven, but for `unproven_faces`, of which it is
    what the same measure finds. `loose_faces` of the file belong to no solid and are left out."""

    solids: tuple[np.ndarray, ...]
    error_mm: float
    loose_faces: int = 0
    unproven_faces: int = 0


def facets(path: str | Path, error_mm: float) -> Facets:
    """The solids of a STEP file, in mm whatever its unit, as meshes within `error_mm` where that can be had.

    Raises StepError for a file that is not STEP or damaged, that holds no solid, or a solid that is empty or
    not closed."""
    shape = read(path)
    solids = _all(shape, TopAbs_SOLID)
    if not solids:
        raise StepError("holds no solid; export solids, not surfaces, sketches or meshes")
    made = [_within(solid, error_mm) for solid in solids]
    loose = len(_all(shape, TopAbs_FACE)) - sum(len(_all(s, TopAbs_FACE)) for s in solids)
    return Facets(
        tuple(m.mesh for m in made), max(m.off_mm for m in made), loose, sum(m.unproven for m in made)
    )


def read(path: str | Path) -> TopoDS_Shape:
    """All of a STEP file as one shape, assemblies placed, mm. Raises StepError."""
    Message.DefaultMessenger_s().RemovePrinters(
        Message_Printer.get_type_descriptor_s()
    )  # it prints past Python, on stdout
    reader = STEPControl_Reader()
    try:
        if reader.ReadFile(str(path)) != IFSelect_RetDone:
            raise StepError(
                "is no STEP file, or a damaged one (it cannot be read to its end); export it again"
            )
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


@dataclass(frozen=True, eq=False)
class _Mesh:
    mesh: np.ndarray
    off_mm: float
    unproven: int


def _within(solid: TopoDS_Shape, error_mm: float) -> _Mesh:
    """A solid's mesh and its error: made finer until that is small enough, but of no more than
    MOST_TRIANGLES."""
    solid, strange = _bounded_kinds(solid)
    own = (
        ShapeAnalysis_ShapeTolerance().Tolerance(solid, 1) + ROUNDING_MM
    )  # the greatest of its faces', edges' and corners'
    deflection, best, coarse = error_mm * FIRST, None, False
    for _ in range(TRIES):
        BRepTools.Clean_s(solid)
        BRepMesh_IncrementalMesh(solid, deflection, False, WIDEST_RAD, False)
        count = sum(_triangles(face)[0].NbTriangles() for face in _all(solid, TopAbs_FACE))
        if count > MOST_TRIANGLES:
            coarse, deflection = True, deflection * 1.1 * count / MOST_TRIANGLES
            continue
        mesh, off, unproven = _measured(solid, error_mm)
        if best is None or (unproven, off + own) < (best.unproven, best.off_mm):
            best = _Mesh(mesh, off + own, unproven)
        if (off + own <= error_mm and not unproven) or coarse:
            break
        deflection *= max(0.2, min(0.7, 0.9 * (error_mm - own) / off)) if error_mm > own else 0.5
    if best is None:
        raise StepError(
            f"holds a solid of more than {MOST_TRIANGLES} triangles however coarse; export the outside that "
            f"matters alone"
        )
    return _Mesh(_closed(best.mesh), best.off_mm, best.unproven + strange)


def _bounded_kinds(solid: TopoDS_Shape) -> tuple[TopoDS_Shape, int]:
    """The solid with surfaces whose bend is known, and how many of its faces are not exactly so."""
    surfaces = [BRepAdaptor_Surface(TopoDS.Face_s(f), False) for f in _all(solid, TopAbs_FACE)]
    others = [s.GetType() for s in surfaces if bend_of(s) is None]
    if not others:
        return solid, 0
    strange = sum(kind not in (GeomAbs_SurfaceOfExtrusion, GeomAbs_SurfaceOfRevolution) for kind in others)
    try:
        made = BRepBuilderAPI_NurbsConvert(solid, True).Shape()
    except RuntimeError as e:  # the kernel's own kinds
        raise StepError(
            f"holds a face that the CAD kernel cannot make a spline of ({e}); export it with plain or spline "
            f"surfaces"
        ) from None
    return made, strange


def _triangles(face) -> tuple[Poly_Triangulation, TopLoc_Location]:
    where = TopLoc_Location()
    made = BRep_Tool.Triangulation_s(TopoDS.Face_s(face), where)
    if made is None:
        raise StepError(
            "holds a face that cannot be made into triangles; repair it where it was made and export it again"
        )
    return made, where


def _closed(mesh: np.ndarray) -> np.ndarray:
    """The mesh without slivers, outward. Raises StepError where it is empty or has an open edge."""
    if not len(mesh):
        raise StepError("holds an empty solid; export it again")
    _, number = np.unique(
        np.rint(mesh.reshape(-1, 3) / MERGED_MM).astype(np.int64), axis=0, return_inverse=True
    )
    corners = number.reshape(-1, 3)
    sound = (corners != np.roll(corners, 1, 1)).all(1)
    mesh, corners = mesh[sound], corners[sound]
    edges = np.stack([corners, np.roll(corners, -1, 1)], -1).reshape(-1, 2)
    there, back = (np.unique(e, axis=0, return_counts=True) for e in (edges, edges[:, ::-1]))
    if len(there[0]) != len(back[0]) or (there[0] != back[0]).any() or (there[1] != back[1]).any():
        raise StepError(
            "holds a solid that is not closed (a face is missing or does not meet its neighbour); "
            "repair it where it was made and export it again"
        )
    volume = (mesh[:, 0] * np.cross(mesh[:, 1], mesh[:, 2])).sum() / 6
    area = np.linalg.norm(np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0]), axis=1).sum() / 2
    if abs(volume) < FOIL_MM * area / 2:
        raise StepError("holds an empty solid, one without thickness; export it again")
    return mesh if volume > 0 else mesh[:, ::-1]


# ------------------------------------------------------------ measuring a mesh


def _measured(solid: TopoDS_Shape, error_mm: float) -> tuple[np.ndarray, float, int]:
    """Triangles of all faces, how far they and the true faces are apart at most (without the shape's own
    tolerances), and of how many faces that is not proven."""
    triangles, off, open_ = [np.zeros((0, 3, 3))], 0.0, 0
    for shape in _all(solid, TopAbs_FACE):
        face, (made, where) = TopoDS.Face_s(shape), _triangles(shape)
        turn = where.Transformation()
        points = np.array([_xyz(made.Node(i).Transformed(turn)) for i in range(1, made.NbNodes() + 1)])
        corners = (
            np.array([made.Triangle(i).Get() for i in range(1, made.NbTriangles() + 1)]).reshape(-1, 3) - 1
        )
        found = face_error(face, made, where, points, corners, error_mm)
        off, open_ = max(off, found.off_mm), open_ + (found.why is not None)
        triangles.append(points[corners[:, ::-1] if face.Orientation() == TopAbs_REVERSED else corners])
    return np.concatenate(triangles), off, open_


def _xyz(p) -> tuple[float, float, float]:
    return p.X(), p.Y(), p.Z()
