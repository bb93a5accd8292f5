"""Solids from forms: the only file of parts/ that imports the CAD kernel.

`solid(form)` builds prisms with true lines and arcs, joins the pieces, takes out the cuts, and gives back one
valid solid whose pieces each have the volume their closed form says. Lengths mm, volumes mm³.

Made once, then looked up. A solid is filed under the SHA-256 of every number of its form together with the
source text of this file, of parts/form.py and of parts/outline.py and the versions of the kernel. Change a
number, a line of the making or the kernel and the name changes: an old solid is then never asked for, so none
can be stale. Two spellings of one number (0.0 and -0.0, 3 and 3.0) get two names, which costs a rebuild and
no more. On disk each file opens with the digest of what follows; a damaged file is not read by the kernel but
made again. The folder: environment variable ROCKERSHED_CACHE ("off" for none), else the user's cache folder
of the platform.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from collections.abc import Callable, Sequence
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import cast

import cadquery as cq
import numpy as np
import OCP
from OCP.BinTools import BinTools, BinTools_FormatVersion
from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepGProp import BRepGProp
from OCP.gp import gp_Trsf
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopTools import TopTools_ListOfShape

import parts.shape.form
import parts.shape.outline
from parts.files import stranger
from parts.files.cache import keep, kept
from parts.files.imported import Imported
from parts.shape.form import Form, Frame, Piece, Round, vector
from parts.shape.outline import Loop, OutlineError, circle

Colour = tuple[float, float, float]  # red, green, blue, sRGB, 0 to 1
SAME_VOLUME = 1e-6  # relative
SAME_OBLIQUE = 1e-4  # an oblique round is a surface of extrusion: the kernel integrates it to 2e-5
SAME_PLACE_MM = 1e-4
# How a form whose volume is known is cut, tried in turn until its solid holds that: (faces nearer than this
# count as flush, all cuts are shifted by this). Where faces of two tubes lie in one plane, or a round just
# touches a flat, the kernel has left a whole cut undone, and said nothing.
WAYS_MM = ((None, 0.0), (None, 1e-3), (None, -1e-3), (1e-4, 0.0), (1e-3, 0.0), (1e-4, 2e-3), (1e-4, -2e-3))
ASKEW = (0.62, 0.53, 0.58)  # way of the shift: along no face
LIKE_SHARE = 1e-4


class SolidError(ValueError):
    """A form that gives no single valid solid; the text says which piece and why."""


# ------------------------------------------------------------------------------------------------ building


def solid(form: Form | Imported, allow_many: bool = False) -> cq.Shape:
    """The solid of a form, from memory or disk where it has been made before; of an imported shape all its
    solids in one.

    Raises SolidError where a piece cannot be made, where the result is not valid, or where the joined pieces
    do not hang together as one solid (`allow_many` gives a compound of them instead); OutlineError for a bad
    outline."""
    name = cache_key(form) + ("-many" if allow_many else "")
    shape = _memory.get(name) or _from_disk(name)
    if shape is None:
        shape = _to_disk(name, _make(form, allow_many))
    _memory[name] = shape
    return shape.moved(
        cq.Location()
    )  # its own handle: moving what is handed out leaves the filed one where it is


def joined(forms: Sequence[Form]) -> cq.Shape:
    """The solid of one form, else a compound of each form's."""
    made = [solid(f, allow_many=True) for f in forms]
    return made[0] if len(made) == 1 else cq.Compound.makeCompound(made)


def workplane(shape: cq.Shape) -> cq.Workplane:
    return cq.Workplane("XY").newObject([shape])


def seen_svg(shape: cq.Shape) -> str:
    """Its edges seen from ahead, the left and above; hidden ones dashed."""
    options = {"width": 480, "height": 360, "showAxes": False, "projectionDir": (1, 1, 0.7)}
    return cq.exporters.getSVG(shape, options)


def volume_mm3(shape: cq.Shape) -> float:
    return _measured(shape)[0]


def centre_mm(shape: cq.Shape) -> tuple[float, float, float]:
    """Centre of its volume."""
    return vector(_measured(shape)[1])


def _measured(shape: cq.Shape, plainly: bool = False) -> tuple[float, np.ndarray]:
    """Volume and its centre, integrated adaptively: with the kernel's plain rule, ten times as fast, coped
    tubes are out by 1e-5."""
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape.wrapped, found, *() if plainly else (1e-6,))
    centre = found.CentreOfMass()
    return found.Mass(), np.array([centre.X(), centre.Y(), centre.Z()])


def common_volume_mm3(a: cq.Shape, b: cq.Shape) -> float:
    """What two shapes share. On one core: the kernel's threads cost a quarter more and find the same. On
    copies: it widens tolerances of what it looks at, and the next answer would hang on the one before."""
    total = 0.0
    for x, y in itertools.product(a.copy().Solids(), b.copy().Solids()):
        one, other, both = TopTools_ListOfShape(), TopTools_ListOfShape(), BRepAlgoAPI_Common()
        one.Append(x.wrapped)
        other.Append(y.wrapped)
        both.SetArguments(one)
        both.SetTools(other)
        both.SetRunParallel(False)
        both.Build()
        total += volume_mm3(cq.Shape.cast(both.Shape()))
    return total


def placed(shape: cq.Shape, where: Frame | np.ndarray) -> cq.Shape:
    """The shape moved by a Frame or a 4 x 4 rigid motion."""
    return shape.moved(cq.Location(_motion(where)))


def triangles(shape: cq.Shape, error_mm: float, turn_rad: float) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 3) and triangles (m, 3), wound outwards, no coarser than asked for; each face of the shape
    has its own corners."""
    still = cq.Shape.cast(shape.wrapped.Located(TopLoc_Location()))
    key = still.hashCode(), error_mm, turn_rad
    if key not in _meshed or not _meshed[key][0].isSame(still):
        if len(_meshed) >= MOST_MESHED:
            _meshed.clear()
        _meshed[key] = still, *_triangles(still, error_mm, turn_rad)
    _, corners, faces = _meshed[key]
    to = shape.wrapped.Location().Transformation()
    m = np.array([[to.Value(i, j) for j in range(1, 5)] for i in range(1, 4)])
    return corners @ m[:, :3].T + m[:, 3], faces


# corners and faces in its own axes of the shapes last asked for: several pictures show the same shape
_meshed: dict[tuple, tuple[cq.Shape, np.ndarray, np.ndarray]] = {}
MOST_MESHED = 2000


def _triangles(shape: cq.Shape, error_mm: float, turn_rad: float) -> tuple[np.ndarray, np.ndarray]:
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


def piece_solid(piece: Piece) -> cq.Shape:
    """One prism or round bar, placed as its frame says. Not kept: it takes about a millisecond."""
    return _piece(piece, "piece")


def ball(centre, radius_mm: float, poles=(0.0, 0.0, 1.0)) -> cq.Shape:
    """`poles`: the direction of its poles. They should lie outside what a ball is cut to: a zone that holds
    them inside its rim does not come back from a STEP file when it is mirrored."""
    return cq.Solid.makeSphere(
        float(radius_mm), cq.Vector(*map(float, centre)), cq.Vector(*map(float, poles)), angleDegrees1=-90
    )


def twisted(outlines: Sequence, length_mm: float, end_mm: float, degrees: float) -> cq.Shape:
    """Strips that lie on each other, twisted together about z: straight from z = -`end_mm` to 0, turned there
    by `degrees`, back to no turn at z = `length_mm`, straight for another `end_mm`. One solid a strip.

    Raises SolidError where a volume is not the outline's area times its length (1e-3 relative: the twisted
    faces are splines)."""
    said = f"twisted {(*outlines, length_mm, end_mm, degrees)!r}"
    return once(said, lambda: _twisted(outlines, length_mm, end_mm, degrees))


def _twisted(outlines: Sequence, length_mm: float, end_mm: float, degrees: float) -> cq.Shape:
    out = []
    whole = length_mm + 2 * end_mm
    for outline in outlines:
        try:
            wire = cq.Workplane().add(cq.Wire.assembleEdges(_wire(outline.outer).Edges())).val()
            section = cast(cq.Wire, wire)
            near = section.rotate(cq.Vector(), cq.Vector(0, 0, 1), degrees)
            far = section.moved(cq.Location(cq.Vector(0, 0, length_mm)))
            middle = cq.Solid.extrudeLinearWithRotation(
                near, [], cq.Vector(), cq.Vector(0, 0, length_mm), -degrees
            )
            down, up = cq.Vector(0, 0, -end_mm), cq.Vector(0, 0, end_mm)
            ends = [
                cq.Solid.extrudeLinear(near, [], down),
                cq.Solid.extrudeLinear(far, [], up),
            ]
            made = middle.fuse(*ends)
            solids, volume = made.Solids(), volume_mm3(made)
        except Exception as e:  # the kernel raises its own, undocumented kinds
            raise SolidError(
                f"a strip twisted by {degrees:g} deg: the CAD kernel could not make it: {e}"
            ) from e
        meant = outline.area_mm2 * whole
        if len(solids) != 1 or abs(volume - meant) > 1e-3 * meant:
            raise SolidError(
                f"a strip twisted by {degrees:g} deg: the CAD kernel made {volume:.1f} mm³, {meant:.1f} mm³ "
                f"meant"
            )
        out.append(solids[0])
    return out[0] if len(out) == 1 else cq.Compound.makeCompound(out)


def dumbbell(a, b, ball_mm: float, bar_mm: float) -> cq.Shape:
    """Two balls of radius `ball_mm` round points a and b, and a bar of radius `bar_mm` between: one turned
    solid."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    given = (a.tolist(), b.tolist(), ball_mm, bar_mm)
    return once(f"dumbbell {given!r}", lambda: _dumbbell(a, b, ball_mm, bar_mm))


def _dumbbell(a: np.ndarray, b: np.ndarray, ball_mm: float, bar_mm: float) -> cq.Shape:
    long = float(np.linalg.norm(b - a))
    if long < 1e-3 * ball_mm:
        return ball(a, ball_mm)
    apart = 2 * math.sqrt(ball_mm**2 - bar_mm**2) < long
    x = math.sqrt(ball_mm**2 - bar_mm**2) if apart else long / 2  # where the first ball's outline ends
    end, half = (x, math.sqrt(ball_mm**2 - x**2)), math.pi - 0.5 * (math.pi - math.acos(x / ball_mm))
    top = (ball_mm * math.cos(half), ball_mm * math.sin(half))

    def at(p, mirrored: bool = False) -> cq.Vector:
        return cq.Vector(long - p[0] if mirrored else p[0], p[1], 0)

    outline = [cq.Edge.makeThreePointArc(at((-ball_mm, 0)), at(top), at(end))]
    outline += [cq.Edge.makeLine(at(end), at(end, True))] if apart else []
    outline += [
        cq.Edge.makeThreePointArc(at(end, True), at(top, True), at((-ball_mm, 0), True)),
        cq.Edge.makeLine(at((-ball_mm, 0), True), at((-ball_mm, 0))),
    ]
    turned = cq.Solid.revolve(
        cq.Face.makeFromWires(cq.Wire.assembleEdges(outline)), 360.0, cq.Vector(0, 0, 0), cq.Vector(1, 0, 0)
    )
    along = (b - a) / long
    side = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    return placed(turned, Frame(tuple(a), tuple(along), tuple(side / np.linalg.norm(side))))


def faceted(corners: np.ndarray, faces: np.ndarray) -> cq.Shape:
    """A solid of flat triangles from closed meshes: `corners` (n, 3) mm, `faces` (m, 3) outward; separate
    ones become a compound. About 1 ms a triangle.

    Raises SolidError where a mesh does not close to one valid solid of the mesh's own volume (1e-6
    relative)."""
    owner = np.arange(len(corners))
    while True:  # the least corner number of all that hang together
        least = owner.copy()
        np.minimum.at(least, faces.ravel(), np.repeat(owner[faces].min(1), 3))
        if (least == owner).all():
            break
        owner = least
    made = [_one_faceted(corners, faces[owner[faces[:, 0]] == k]) for k in np.unique(owner[faces[:, 0]])]
    return made[0] if len(made) == 1 else cq.Compound.makeCompound(made)


def _one_faceted(corners: np.ndarray, faces: np.ndarray) -> cq.Solid:
    spots = {k: cq.Vertex.makeVertex(*map(float, corners[k])) for k in np.unique(faces).tolist()}
    edges: dict[tuple[int, int], cq.Edge] = {}

    def edge(a: int, b: int) -> cq.Edge:
        key = (a, b) if a < b else (b, a)
        if key not in edges:
            edges[key] = cq.Edge(BRepBuilderAPI_MakeEdge(spots[key[0]].wrapped, spots[key[1]].wrapped).Edge())
        return edges[key]

    a, b, c = (corners[faces[:, k]] for k in range(3))
    volume = float((a * np.cross(b, c)).sum() / 6)
    try:
        shell = cq.Shell.makeShell(
            [
                cq.Face.makeFromWires(cq.Wire.assembleEdges([edge(a, b), edge(b, c), edge(c, a)]))
                for a, b, c in faces.tolist()
            ]
        )
        shape = cq.Solid.makeSolid(shell.fix())
        good = shape.isValid() and abs(shape.Volume() - volume) <= SAME_VOLUME * abs(volume)
    except Exception as e:  # the kernel raises its own, undocumented kinds
        raise SolidError(f"a mesh of {len(faces)} triangles gives no valid solid: {e}") from e
    if not good:
        raise SolidError(
            f"a mesh of {len(faces)} triangles gives no valid solid: {shape.Volume():.3f} mm³, its own "
            f"volume is {volume:.3f} mm³"
        )
    return shape


def _imported(form: Imported) -> cq.Shape:
    try:
        read = cq.Shape.importBin(BytesIO(stranger.shape(form.path)))
    except stranger.StrangerError as e:
        raise SolidError(f"{Path(form.path).name} {e}") from None
    solids = read.Solids()
    whole = solids[0] if len(solids) == 1 else cq.Compound.makeCompound(solids)
    return whole.mirror("XZ") if form.mirrored else whole


def _make(form: Form | Imported, allow_many: bool) -> cq.Shape:
    if isinstance(form, Imported):
        return _imported(form)
    if not form.pieces:
        raise SolidError("a form needs at least one piece")
    pieces = [_piece(p, f"piece {i + 1}") for i, p in enumerate(form.pieces)]
    cuts = [_piece(p, f"cut {i + 1}") for i, p in enumerate(form.cuts)]
    if form.volume_mm3 is None:
        return _whole(_joined(form, pieces, cuts, None, allow_many))
    best, off, wrong = None, math.inf, None
    for touching_mm, shift_mm in WAYS_MM:
        moved = [c.translate(cq.Vector(*ASKEW) * shift_mm) for c in cuts] if shift_mm else cuts
        try:
            made = _whole(_joined(form, pieces, moved, touching_mm, allow_many))
        except SolidError as e:
            wrong = wrong or e
            continue
        lacks = abs(volume_mm3(made) - form.volume_mm3)
        if lacks < off:
            best, off = made, lacks
        if off <= LIKE_SHARE * form.volume_mm3:
            break
    if best is None:
        raise wrong or SolidError("the form could not be made")
    return best


def _joined(
    form: Form, pieces: list[cq.Solid], cuts: list[cq.Solid], touching_mm: float | None, allow_many: bool
) -> list[cq.Solid]:
    """The solids that are left of a form. Faces nearer than `touching_mm` count as flush."""
    try:
        whole = pieces[0].fuse(*pieces[1:]) if len(pieces) > 1 else pieces[0]
        for apart in _apart(cuts):
            whole = whole.cut(*apart, tol=touching_mm)
        if len(pieces) + len(cuts) > 1:
            whole = _tidied(whole)
        solids = whole.Solids()
        valid = whole.isValid()
    except Exception as e:  # the kernel raises its own, undocumented kinds
        raise SolidError(
            f"the CAD kernel could not join {len(pieces)} pieces and {len(cuts)} cuts: {e}"
        ) from e
    if not solids:
        raise SolidError("the cuts leave nothing of the form")
    _check_volume(sum(map(volume_mm3, solids)), list(map(volume_mm3, pieces)), sum(map(volume_mm3, cuts)))
    if not valid:
        raise SolidError(f"the solid of {len(pieces)} pieces and {len(cuts)} cuts is not valid")
    if len(solids) > 1 and form.heart is not None:
        heart = cq.Vertex.makeVertex(*form.heart)
        solids = [min(solids, key=lambda s: s.distance(heart))]
    if len(solids) > 1 and not allow_many:
        raise SolidError(
            f"{len(pieces)} pieces and {len(cuts)} cuts give {len(solids)} separate solids, not 1; "
            "pieces must share a face, and no cut may part them"
        )
    return solids


def _whole(solids: list[cq.Solid]) -> cq.Shape:
    return solids[0] if len(solids) == 1 else cq.Compound.makeCompound(solids)


def _apart(tools: list[cq.Solid]) -> list[list[cq.Solid]]:
    """Tools in groups whose boxes do not meet: cut at once, the kernel has left 7 % of a tube's metal where
    three of them overlapped."""
    boxes = [
        np.array([(b.xmin, b.ymin, b.zmin), (b.xmax, b.ymax, b.zmax)])
        for b in (t.BoundingBox() for t in tools)
    ]
    groups: list[list[int]] = []
    for i, box in enumerate(boxes):
        home = next(
            (
                g
                for g in groups
                if all((box[0] > boxes[k][1]).any() or (box[1] < boxes[k][0]).any() for k in g)
            ),
            None,
        )
        if home is None:
            groups.append([i])
        else:
            home.append(i)
    return [[tools[i] for i in g] for g in groups]


def _tidied(shape: cq.Shape) -> cq.Shape:
    """Faces that continue each other made one; the shape as it is where the kernel cannot (two seams nearly
    in line)."""
    try:
        tidy = shape.clean()
    except Exception:  # the kernel raises its own, undocumented kinds
        return shape
    return tidy if tidy.isValid() else shape


def _check_volume(got: float, pieces: list[float], cut: float) -> None:
    """A union holds at least its largest piece and at most all of them; the cuts take no more than their own
    volume."""
    most, least = sum(pieces), max(pieces) - cut
    slack = SAME_VOLUME * most
    if not least - slack <= got <= most + slack:
        raise SolidError(
            f"the CAD kernel made {got:.3f} mm³ of a form that must have {max(least, 0):.3f} to {most:.3f} "
            f"mm³"
        )


def _piece(piece: Piece, what: str) -> cq.Solid:
    """One prism or round bar, placed; its volume is held against the closed form."""
    if isinstance(piece, Round):
        _check_round(piece, what)
        outer, inner, height, lean = circle(0, 0, piece.diameter_mm), [], piece.length_mm, (0.0, 0.0)
        if piece.bore_mm:
            inner = [circle(0, 0, piece.bore_mm)]
    else:
        try:
            piece.outline.check()
        except OutlineError as e:
            raise OutlineError(f"{what}: {e}") from e
        if not (math.isfinite(piece.thickness_mm) and piece.thickness_mm > 0):
            raise SolidError(f"{what}: thickness {piece.thickness_mm:g} mm; it must be above 0")
        outer, height, lean = piece.outline.outer, piece.thickness_mm, piece.lean_mm
        inner = [*piece.outline.inner, *(circle(h.x, h.y, h.diameter_mm) for h in piece.outline.holes)]
    motion = _motion(piece.frame, what)
    try:
        face = cq.Face.makeFromWires(_wire(outer), [_wire(loop) for loop in inner])
        made = cq.Solid.extrudeLinear(face, cq.Vector(*lean, height))
        got = volume_mm3(made)
    except Exception as e:
        raise SolidError(f"{what}: the CAD kernel could not make it: {e}") from e
    if abs(got - piece.volume_mm3) > (SAME_OBLIQUE if any(lean) else SAME_VOLUME) * piece.volume_mm3:
        raise SolidError(
            f"{what}: the CAD kernel made {got:.6f} mm³, the closed form is {piece.volume_mm3:.6f} mm³"
        )
    return made.moved(cq.Location(motion))


def _check_round(piece: Round, what: str) -> None:
    d, bore, length = piece.diameter_mm, piece.bore_mm, piece.length_mm
    if not (math.isfinite(length) and length > 0):
        raise SolidError(f"{what}: length {length:g} mm; it must be above 0")
    if not (math.isfinite(d) and 0 <= bore < d):
        raise SolidError(
            f"{what}: bore {bore:g} mm in diameter {d:g} mm; it must be 0 or more and under the diameter"
        )


def _wire(loop: Loop) -> cq.Wire:
    """True lines and arcs; a loop that is one circle is one edge, so that it bounds one cylinder."""
    first = loop.segments[0]
    if all(s.bulge > 0 for s in loop.segments) or all(s.bulge < 0 for s in loop.segments):
        (cx, cy), r = first.centre, first.radius
        if all(
            math.dist(s.centre, (cx, cy)) < 1e-9 * r and abs(s.radius - r) < 1e-9 * r for s in loop.segments
        ):
            return cq.Wire.assembleEdges([cq.Edge.makeCircle(r, cq.Vector(cx, cy, 0))])
    corners = [cq.Vector(v.x, v.y, 0) for v in loop.vertices]
    edges = []
    for s, a, b in zip(loop.segments, corners, corners[1:] + corners[:1], strict=True):
        if not s.bulge:
            edges.append(cq.Edge.makeLine(a, b))
        else:
            edges.append(cq.Edge.makeThreePointArc(a, cq.Vector(*s.at(0.5), 0), b))
    return cq.Wire.assembleEdges(edges)


def _motion(where: Frame | np.ndarray, what: str = "frame") -> gp_Trsf:
    """The kernel's rigid motion. Raises SolidError for a matrix that scales, shears, mirrors or is not
    finite."""
    m = where.matrix() if isinstance(where, Frame) else np.asarray(where, float)
    turn = m[:3, :3]
    if not np.isfinite(m).all() or abs(turn.T @ turn - np.eye(3)).max() > 1e-9 or np.linalg.det(turn) < 0:
        raise SolidError(
            f"{what}: its frame is not a rigid motion; x and z must be square to each other and of length 1"
        )
    motion = gp_Trsf()
    motion.SetValues(*map(float, m[:3].ravel()))
    return motion


# ------------------------------------------------------------------------------------------------ cache

_memory: dict[str, cq.Shape] = {}


def cache_key(form: Form | Imported) -> str:
    """The form's every number, how solids are made, and by which kernel, as one name."""
    return hashlib.sha256((salt() + form.key).encode()).hexdigest()


@cache
def salt() -> str:
    h = hashlib.sha256(f"cadquery {cq.__version__} OCP {OCP.__version__}\n".encode())
    for file in (__file__, parts.shape.form.__file__, parts.shape.outline.__file__):
        h.update(hashlib.sha256(Path(file).read_bytes()).digest())
    return h.hexdigest()


def once(said: str, make: Callable[[], cq.Shape]) -> cq.Shape:
    """A shape that is no form, filed like one: `said` holds all that goes into it besides this file."""
    name = hashlib.sha256(f"{salt()}|{said}".encode()).hexdigest()
    shape = _from_disk(name)
    return _to_disk(name, make()) if shape is None else shape


def forget() -> None:
    """Drop the solids held in memory; those on disk stay."""
    _memory.clear()


def _from_disk(name: str) -> cq.Shape | None:
    body = kept(name, "solid")
    return cq.Shape.importBin(BytesIO(body)) if body else None


def _to_disk(name: str, shape: cq.Shape) -> cq.Shape:
    """Keep a shape; gives it back as it will be read, so that what follows does not depend on what was
    kept."""
    body = BytesIO()
    shape.exportBin(body)
    keep(name, "solid", body.getvalue())
    return cq.Shape.importBin(BytesIO(body.getvalue()))


@lru_cache(maxsize=1024)
def digest(shape: cq.Shape) -> str:
    """The shape's content and place as one name: every surface, curve, point and tolerance of it, but no
    triangles."""
    body = BytesIO()
    BinTools.Write_s(shape.wrapped, body, False, False, BinTools_FormatVersion.BinTools_FormatVersion_CURRENT)
    return hashlib.sha256(body.getvalue()).hexdigest()
