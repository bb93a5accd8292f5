"""Solids that are no form: a ball, strips twisted together, a dumbbell, a mesh of triangles. Lengths mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import cast

import numpy as np
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge

from parts.files.boolean import united
from parts.files.kernel import cq
from parts.files.measured import volume_mm3
from parts.files.solid import SAME_VOLUME, SolidError, placed, wire_of
from parts.files.solid_cache import once
from parts.shape.form import Frame


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
            wire = cq.Workplane().add(cq.Wire.assembleEdges(wire_of(outline.outer).Edges())).val()
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
            made = united(middle, *ends, glued=True)  # they share whole faces, no more
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
