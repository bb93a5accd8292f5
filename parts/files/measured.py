"""A solid measured by the CAD kernel: volume, centre, what two share, triangles, edges as seen.

Lengths mm, volumes mm³.
"""

from __future__ import annotations

import hashlib
import itertools
from functools import lru_cache
from io import BytesIO

import numpy as np
from OCP.BinTools import BinTools, BinTools_FormatVersion
from OCP.BRep import BRep_Tool
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location

from parts.files.boolean import common
from parts.files.kernel import cq
from parts.files.remembered import once
from parts.shape.form import vector


def seen_svg(shape: cq.Shape) -> str:
    """Its edges seen from ahead, the left and above; hidden ones dashed."""
    options = {
        "width": 480,
        "height": 360,
        "marginLeft": 60,  # the exporter fills three quarters of either
        "marginTop": 45,
        "showAxes": False,
        "projectionDir": (1, 1, 0.7),
    }
    return cq.exporters.getSVG(shape, options)


def volume_mm3(shape: cq.Shape) -> float:
    return volume_and_centre(shape)[0]


def centre_mm(shape: cq.Shape) -> tuple[float, float, float]:
    """Centre of its volume."""
    return vector(volume_and_centre(shape)[1])


def volume_and_centre(shape: cq.Shape, plainly: bool = False) -> tuple[float, np.ndarray]:
    """Volume and its centre, integrated adaptively: with the kernel's plain rule, ten times as fast, coped
    tubes are out by 1e-5."""
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape.wrapped, found, *() if plainly else (1e-6,))
    centre = found.CentreOfMass()
    return found.Mass(), np.array([centre.X(), centre.Y(), centre.Z()])


def common_volume_mm3(a: cq.Shape, b: cq.Shape) -> float:
    """What two shapes share. On copies: the kernel widens tolerances of what it looks at, and the next answer
    would hang on the one before."""
    return sum(
        (volume_mm3(common(x, y)) for x, y in itertools.product(a.copy().Solids(), b.copy().Solids())), 0.0
    )


def triangles(shape: cq.Shape, error_mm: float, turn_rad: float) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 3) and triangles (m, 3), wound outwards, no coarser than asked for; each face of the shape
    has its own corners. Meshed once for all pictures and runs."""
    still = cq.Shape.cast(shape.wrapped.Located(TopLoc_Location()))
    key = still.hashCode(), error_mm, turn_rad
    if key not in _meshed or not _meshed[key][0].isSame(still):
        if len(_meshed) >= MOST_MESHED:
            _meshed.clear()
        given = (digest(still), error_mm, turn_rad)
        _meshed[key] = still, *once("triangles", given, lambda: _triangles(still, error_mm, turn_rad))
    _, corners, faces = _meshed[key]
    to = shape.wrapped.Location().Transformation()
    m = np.array([[to.Value(i, j) for j in range(1, 5)] for i in range(1, 4)])
    return corners @ m[:, :3].T + m[:, 3], faces


# corners and faces in its own axes of the shapes last asked for: several pictures show the same shape
_meshed: dict[tuple, tuple[cq.Shape, np.ndarray, np.ndarray]] = {}
MOST_MESHED = 2000


def _triangles(shape: cq.Shape, error_mm: float, turn_rad: float) -> tuple[np.ndarray, np.ndarray]:
    shape = shape.copy()  # without a finer mesh that another picture asked for, which would serve again
    shape.mesh(error_mm, turn_rad)
    corners, faces, count = [np.empty((0, 3))], [np.empty((0, 3), int)], 0
    for face in shape.Faces():
        where = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face.wrapped, where)
        if mesh is None:
            continue
        own, to = np.array([mesh.Node(i + 1).Coord() for i in range(mesh.NbNodes())]), where.Transformation()
        m = np.array([[to.Value(i, j) for j in range(1, 5)] for i in range(1, 4)])
        round_ = [0, 2, 1] if face.wrapped.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else [0, 1, 2]
        corners.append(own @ m[:, :3].T + m[:, 3])
        faces.append(
            np.array([mesh.Triangle(i + 1).Get() for i in range(mesh.NbTriangles())])[:, round_] + count - 1
        )
        count += len(own)
    return np.concatenate(corners), np.concatenate(faces)


@lru_cache(maxsize=1024)
def digest(shape: cq.Shape) -> str:
    """The shape's content and place as one name: every surface, curve, point and tolerance of it, but no
    triangles."""
    body = BytesIO()
    BinTools.Write_s(shape.wrapped, body, False, False, BinTools_FormatVersion.BinTools_FormatVersion_CURRENT)
    return hashlib.sha256(body.getvalue()).hexdigest()
