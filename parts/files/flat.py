"""A flat plate taken back from a solid of the CAD kernel: its outline, thickness and place.

Only what a flat blank can be passes: two parallel caps, walls square to them, edges of lines or arcs."""

from __future__ import annotations

import math

import numpy as np

from parts.files.kernel import cq
from parts.files.solid import SolidError, placed
from parts.shape.form import Frame, unit, vector
from parts.shape.outline import Hole, Loop, Outline, Point, Vertex, circle, without_repeats

SQUARE = 1e-6  # sine of the most a wall may lean
SAME_MM = 1e-5


def flat(shape: cq.Workplane | cq.Shape, frame: Frame | None = None) -> tuple[Outline, float, Frame]:
    """(outline, thickness, frame): the prism of the outline over the thickness in the frame is the solid.

    `frame` gives the directions (its z square to the plate); none: z is the solid's own where the plate
    lies square to it, else the normal of its largest face. Raises SolidError, saying what is not flat."""
    solid = _one(shape)
    own = frame or _lying(solid)
    local = placed(solid, np.linalg.inv(own.matrix()))
    top, caps = None, []
    for face in local.Faces():
        kind, z = face.geomType(), face.normalAt().z
        if kind == "PLANE" and abs(z) > 1 - SQUARE:
            caps.append(face)
            top = face if z > 0 else top
        elif kind not in ("PLANE", "CYLINDER") or abs(z) > SQUARE:
            raise SolidError(
                f"not a flat plate: a {kind.lower()} face at {_at(face.Center())} is not square to it; a "
                "bend, chamfer or countersink is no part of a blank"
            )
    heights = sorted(f.Center().z for f in caps)
    said = ", ".join(f"{h:.3f}" for h in heights)
    if len(caps) != 2 or top is None:
        raise SolidError(
            f"not a flat plate: {len(caps)} faces lie along it, at {said} mm; a "
            "step or pocket is no part of a blank"
        )
    outline, thickness_mm = _outline(top), heights[1] - heights[0]
    if abs(outline.area_mm2 * thickness_mm - local.Volume()) > 1e-6 * local.Volume():
        raise SolidError(
            f"not a flat plate: its volume is {local.Volume():.3f} mm³, outline by thickness give "
            f"{outline.area_mm2 * thickness_mm:.3f}"
        )
    return outline, thickness_mm, Frame((0.0, 0.0, heights[0])).then(own)


def _one(shape: cq.Workplane | cq.Shape) -> cq.Shape:
    solids = [s for v in (shape.vals() if isinstance(shape, cq.Workplane) else [shape]) for s in _solids(v)]
    if len(solids) != 1:
        raise SolidError(f"a plate is one solid; this is a {type(shape).__name__} with {len(solids)}")
    if not solids[0].isValid():
        raise SolidError("the solid is not valid")
    return solids[0]


def _solids(value) -> list[cq.Solid]:
    if not isinstance(value, cq.Shape):
        raise SolidError(f"a plate is taken from a cadquery Workplane or Shape, not a {type(value).__name__}")
    return value.Solids()


def _lying(solid: cq.Shape) -> Frame:
    """Axes with z square to the largest flat face, upward along the solid's own z (y, x) where it can be."""
    flats = [f for f in solid.Faces() if f.geomType() == "PLANE"]
    if not flats:
        raise SolidError("not a flat plate: it has no flat face")
    n = unit(max(flats, key=lambda f: f.Area()).normalAt().toTuple())
    main = max(range(3), key=lambda i: (round(abs(float(n[i])), 6), i))
    n = n if n[main] > 0 else -n
    if n[2] > 1 - SQUARE**2:
        return Frame()
    near = np.eye(3)[int(np.argmin(np.round(np.abs(n), 6)))]
    return Frame.looking((0.0, 0.0, 0.0), vector(n), near)


def _outline(face: cq.Face) -> Outline:
    loops, holes = [], []
    for wire in face.innerWires():
        if hole := _hole(wire):
            holes.append(hole)
        else:
            loop = _loop(wire)
            loops.append(loop if loop.area_mm2 < 0 else loop.reversed())
    outer = _loop(face.outerWire())
    return Outline(outer if outer.area_mm2 > 0 else outer.reversed(), tuple(loops), tuple(holes))


def _hole(wire: cq.Wire) -> Hole | None:
    edges = wire.Edges()
    if any(e.geomType() != "CIRCLE" for e in edges):
        return None
    c, r = edges[0].arcCenter(), edges[0].radius()
    if any((e.arcCenter() - c).Length > SAME_MM or abs(e.radius() - r) > SAME_MM for e in edges):
        return None
    return Hole(round(c.x, 9), round(c.y, 9), round(2 * r, 9), "hole")


def _loop(wire: cq.Wire) -> Loop:
    edges = list(wire)  # in the order they follow one another
    if len(edges) == 1 and edges[0].geomType() == "CIRCLE":
        c = edges[0].arcCenter()
        return circle(c.x, c.y, 2 * edges[0].radius())
    ends = [(_xy(e.startPoint()), _xy(e.endPoint())) for e in edges]
    vertices: list[Vertex] = []
    for k, edge in enumerate(edges):
        if edge.geomType() not in ("LINE", "CIRCLE"):
            raise SolidError(
                f"an edge at {_at(edge.positionAt(0.5))} is a {edge.geomType().lower()}; a blank is cut "
                "along lines and arcs: draw it with those"
            )
        start, end = ends[k]
        following = ends[(k + 1) % len(edges)]
        if min(math.dist(end, p) for p in following) > min(math.dist(start, p) for p in following):
            start, end = end, start  # the kernel keeps an edge's own direction
        elif len(edges) == 2 and k == 1 and math.dist(start, (vertices[0].x, vertices[0].y)) < SAME_MM:
            start, end = end, start
        bulge = _bulge(start, _xy(edge.positionAt(0.5)), end) if edge.geomType() == "CIRCLE" else 0.0
        vertices.append(Vertex(*start, bulge))
    return Loop(without_repeats(vertices))


def _bulge(start: Point, middle: Point, end: Point) -> float:
    """Sagitta over half the chord, positive where the arc lies to the right of its chord."""
    dx, dy, chord = end[0] - start[0], end[1] - start[1], math.dist(start, end)
    aside = ((middle[0] - start[0]) * dy - (middle[1] - start[1]) * dx) / chord
    return 2 * aside / chord


def _xy(v: cq.Vector) -> Point:
    return round(v.x, 9), round(v.y, 9)


def _at(v: cq.Vector) -> str:
    return f"({v.x:.2f}, {v.y:.2f}, {v.z:.2f})"
