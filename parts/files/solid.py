"""Solids from forms.

`solid(form)` builds prisms with true lines and arcs, joins the pieces, takes out the cuts, and gives back one
valid solid whose pieces each have the volume their closed form says. Lengths mm, volumes mm³. Made once, then
looked up (`solid_cache`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert
from OCP.gp import gp_Trsf

from parts.files import stranger
from parts.files.boolean import united, without
from parts.files.imported import Imported
from parts.files.kernel import cq
from parts.files.measured import volume_and_centre, volume_mm3
from parts.files.solid_cache import cache_key, from_disk, memory, to_disk
from parts.shape.form import Form, Frame, Piece, Round
from parts.shape.outline import Loop, OutlineError, circle

Colour = tuple[float, float, float]  # red, green, blue, sRGB, 0 to 1
SAME_VOLUME = 1e-6  # relative
SAME_OBLIQUE = 1e-4  # an oblique round is a surface of extrusion: the kernel integrates it to 2e-5
SAME_PLACE_MM = 1e-4
# How a form whose volume is known is cut, tried in turn until its solid holds that: (faces nearer than this
# count as flush, all cuts are shifted by this). Where faces of two tubes lie in one plane, a round just
# touches a flat or a square end a run, the kernel has left a whole cut undone, and said nothing. The last way
# has all faces of the cuts as splines: two rounds of one size whose axes nearly meet are too much for its
# closed forms.
WAYS_MM = (
    (None, 0.0),
    (None, 1e-3),
    (None, -1e-3),
    (1e-4, 0.0),
    (1e-3, 0.0),
    (None, 2e-2),
    (None, -2e-2),
    (1e-4, 2e-3),
    (1e-4, -2e-3),
    (5e-3, 0.0),
    (None, None),
)
ASKEW = (0.62, 0.53, 0.58)  # way of the shift: along no face
LIKE_SHARE = 1e-4  # of its volume: alike
MISSED_SHARE = 1e-3  # so far off: metal is there that should be gone, or the other way round


class SolidError(ValueError):
    """A form that gives no single valid solid; the text says which piece and why."""


def solid(form: Form | Imported, allow_many: bool = False) -> cq.Shape:
    """The solid of a form, from memory or disk where it has been made before; of an imported shape all its
    solids in one.

    Raises SolidError where a piece cannot be made, where the result is not valid, or where the joined pieces
    do not hang together as one solid (`allow_many` gives a compound of them instead); OutlineError for a bad
    outline."""
    name = cache_key(form) + ("-many" if allow_many else "")
    shape = memory.get(name) or from_disk(name)
    if shape is None:
        shape = to_disk(name, _make(form, allow_many))
    memory[name] = shape
    return shape.moved(
        cq.Location()
    )  # its own handle: moving what is handed out leaves the filed one where it is


def joined(forms: Sequence[Form]) -> cq.Shape:
    """The solid of one form, else a compound of each form's."""
    made = [solid(f, allow_many=True) for f in forms]
    return made[0] if len(made) == 1 else cq.Compound.makeCompound(made)


def workplane(shape: cq.Shape) -> cq.Workplane:
    return cq.Workplane("XY").newObject([shape])


def placed(shape: cq.Shape, where: Frame | np.ndarray) -> cq.Shape:
    """The shape moved by a Frame or a 4 x 4 rigid motion."""
    return shape.moved(cq.Location(_motion(where)))


def piece_solid(piece: Piece) -> cq.Shape:
    """One prism or round bar, placed as its frame says. Not kept: it takes about a millisecond."""
    return _piece(piece, "piece").shape


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
        return _joined(form, pieces, cuts, None, allow_many).shape
    meant, found = form.volume_mm3, list[_Made]()
    wrong: SolidError | None = None
    for touching_mm, shift_mm in WAYS_MM:
        try:
            tools = _as_splines(cuts) if shift_mm is None else _aside(cuts, shift_mm)
            found.append(_joined(form, pieces, tools, touching_mm, allow_many))
        except SolidError as e:
            wrong = wrong or e
            continue
        best = min(found, key=lambda m: abs(m.volume_mm3 - meant))
        off = abs(best.volume_mm3 - meant)
        if off <= LIKE_SHARE * meant:
            return best.shape
    if not found:
        raise wrong or SolidError("the form could not be made")
    if off > MISSED_SHARE * meant:
        raise SolidError(
            f"the CAD kernel made {best.volume_mm3:.1f} mm³ of what must have {meant:.1f} mm³: a cut is left "
            "undone, or takes too much; move it, or what it is cut to, by a hair"
        )
    return best.shape


def _aside(cuts: list[_Made], shift_mm: float) -> list[_Made]:
    by = cq.Vector(*ASKEW) * shift_mm
    return [_Made(c.shape.translate(by), c.volume_mm3) for c in cuts] if shift_mm else cuts


def _as_splines(cuts: list[_Made]) -> list[_Made]:
    return [
        _Made(cq.Shape.cast(BRepBuilderAPI_NurbsConvert(c.shape.wrapped, True).Shape()), c.volume_mm3)
        for c in cuts
    ]


class _Made(NamedTuple):
    shape: Any  # of the kernel
    volume_mm3: float


def _joined(
    form: Form, pieces: list[_Made], cuts: list[_Made], touching_mm: float | None, allow_many: bool
) -> _Made:
    """What is left of a form. Faces nearer than `touching_mm` count as flush."""
    try:
        whole, *others = (p.shape for p in pieces)
        whole = united(whole, *others)
        for apart in _apart([c.shape for c in cuts]):
            whole = without(whole, *apart, touching_mm=touching_mm)
        if len(pieces) + len(cuts) > 1:
            whole, valid = _tidied(whole)
        else:
            valid = whole.isValid()
        solids = whole.Solids()
    except Exception as e:  # the kernel raises its own, undocumented kinds
        raise SolidError(
            f"the CAD kernel could not join {len(pieces)} pieces and {len(cuts)} cuts: {e}"
        ) from e
    if not solids:
        raise SolidError("the cuts leave nothing of the form")
    volumes = [volume_mm3(s) for s in solids] if others or cuts else [pieces[0].volume_mm3]
    _check_volume(sum(volumes), [p.volume_mm3 for p in pieces], sum(c.volume_mm3 for c in cuts))
    if not valid:
        raise SolidError(f"the solid of {len(pieces)} pieces and {len(cuts)} cuts is not valid")
    if len(solids) > 1 and form.heart is not None:
        heart = cq.Vertex.makeVertex(*form.heart)
        k = min(range(len(solids)), key=lambda k: solids[k].distance(heart))
        solids, volumes = [solids[k]], [volumes[k]]
    if len(solids) > 1 and not allow_many:
        raise SolidError(
            f"{len(pieces)} pieces and {len(cuts)} cuts give {len(solids)} separate solids, not 1; "
            "pieces must share a face, and no cut may part them"
        )
    return _Made(_whole(solids), sum(volumes))


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


def _tidied(shape: cq.Shape) -> tuple[cq.Shape, bool]:
    """Faces that continue each other made one; the shape as it is where the kernel cannot (two seams nearly
    in line). And whether it is valid."""
    with suppress(Exception):  # the kernel raises its own, undocumented kinds
        if (tidy := shape.clean()).isValid():
            return tidy, True
    return shape, shape.isValid()


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


def _piece(piece: Piece, what: str) -> _Made:
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
        face = cq.Face.makeFromWires(wire_of(outer), [wire_of(loop) for loop in inner])
        made = cq.Solid.extrudeLinear(face, cq.Vector(*lean, height))
        got = volume_and_centre(made, plainly=not any(lean))[0]  # then exact: flats and cylinders cut square
    except Exception as e:
        raise SolidError(f"{what}: the CAD kernel could not make it: {e}") from e
    if abs(got - piece.volume_mm3) > (SAME_OBLIQUE if any(lean) else SAME_VOLUME) * piece.volume_mm3:
        raise SolidError(
            f"{what}: the CAD kernel made {got:.6f} mm³, the closed form is {piece.volume_mm3:.6f} mm³"
        )
    return _Made(made.moved(cq.Location(motion)), got)


def _check_round(piece: Round, what: str) -> None:
    d, bore, length = piece.diameter_mm, piece.bore_mm, piece.length_mm
    if not (math.isfinite(length) and length > 0):
        raise SolidError(f"{what}: length {length:g} mm; it must be above 0")
    if not (math.isfinite(d) and 0 <= bore < d):
        raise SolidError(
            f"{what}: bore {bore:g} mm in diameter {d:g} mm; it must be 0 or more and under the diameter"
        )


def wire_of(loop: Loop) -> cq.Wire:
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
