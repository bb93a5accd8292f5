"""Makes the STEP files beside it with FreeCAD, another program than the one under test: `freecadcmd
neighbours.py`.

Shapes of our own invention. It prints what FreeCAD itself says of each: number of solids, volume mm³ and box.
The header's author, system and date are made neutral afterwards.
"""

import math
import os
import re

import Part
from FreeCAD import Placement, Rotation, Vector

HERE = os.path.dirname(os.path.abspath(__file__))


def casting():
    """A foot with rounded corners and a hole, and a boss standing on it with a fillet round its root."""
    foot = Part.makeBox(90, 60, 12)
    foot = foot.makeFillet(10, [e for e in foot.Edges if abs(e.BoundBox.ZLength - 12) < 1e-6])
    whole = foot.fuse(Part.makeCylinder(18, 45, Vector(60, 30, 0))).removeSplitter()
    root = [
        e
        for e in whole.Edges
        if e.BoundBox.ZLength < 1e-6
        and abs(e.BoundBox.ZMin - 12) < 1e-6
        and isinstance(e.Curve, Part.Circle)
        and abs(e.Curve.Radius - 18) < 1e-6
    ]
    whole = whole.makeFillet(6, root)
    return whole.cut(Part.makeCylinder(7, 45, Vector(60, 30, 0))).cut(
        Part.makeCylinder(6.5, 12, Vector(20, 30, 0))
    )


def pump():
    """Two solids, each placed by the assembly: the casting turned, and a pulley with a conical side on its
    boss."""
    pulley = (
        Part.makeCylinder(40, 14)
        .fuse(Part.makeCone(40, 28, 9, Vector(0, 0, 14)))
        .removeSplitter()
        .cut(Part.makeCylinder(7, 30))
    )
    body, wheel = casting(), pulley
    turn = Rotation(Vector(1, 1, 0), 35)
    body.Placement = Placement(Vector(15, -20, 30), turn)
    wheel.Placement = Placement(Vector(15, -20, 30) + turn.multVec(Vector(60, 30, 46)), turn)
    return Part.makeCompound([body, wheel])


def pipe():
    """A bent pipe: straights, two bends of radius 60 and a free-form belly (a loft), all one solid."""
    path = Part.Wire(
        [
            Part.makeLine(Vector(0, 0, 0), Vector(100, 0, 0)),
            Part.Arc(
                Vector(100, 0, 0),
                Vector(100 + 60 * math.sin(math.pi / 4), 0, -60 + 60 * math.cos(math.pi / 4)),
                Vector(160, 0, -60),
            ).toShape(),
            Part.makeLine(Vector(160, 0, -60), Vector(160, 0, -130)),
        ]
    )

    def tube(radius):
        return path.makePipeShell(
            [Part.Wire(Part.makeCircle(radius, Vector(0, 0, 0), Vector(1, 0, 0)))], True, False
        )

    rings = [
        Part.Wire(Part.makeCircle(r, Vector(160, 0, z), Vector(0, 0, 1)))
        for r, z in ((21, -130), (34, -175), (30, -240), (16, -300))
    ]
    return tube(21).fuse(Part.makeLoft(rings, True)).removeSplitter()


def plate():
    """A free-form plate (a spline surface through a grid of points, drawn down) with a leaning hole: spline
    faces trimmed across."""
    points = [
        [
            Vector(20 * i, 20 * j, 6 * math.sin(0.9 * i) * math.cos(0.8 * j) + 2 * ((i * 3 + j * 5) % 4))
            for j in range(5)
        ]
        for i in range(6)
    ]
    top = Part.BSplineSurface()
    top.interpolate(points)
    return (
        top.toShape()
        .extrude(Vector(0, 0, 15))
        .cut(Part.makeCylinder(9, 60, Vector(45, 40, -20), Vector(0.2, 0.1, 1)))
    )


def write(name, shape, unit="MM"):
    path = os.path.join(HERE, name)
    Part.exportUnits(unit)
    shape.exportStep(path)
    with open(path, encoding="utf-8") as f:
        text = f.read()
    neutral = f"FILE_NAME('{name}','2000-01-01T00:00:00',(''),(''),'STEP','FreeCAD','');"
    text = re.sub(r"FILE_NAME\(.*?\);", neutral, text, count=1, flags=re.S)
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write(text)
    b = shape.optimalBoundingBox(False)
    low, high = (
        " ".join(f"{x:.4f}" for x in v) for v in ((b.XMin, b.YMin, b.ZMin), (b.XMax, b.YMax, b.ZMax))
    )
    print(f"{name}: {len(shape.Solids)} solids, {shape.Volume:.6f} mm3, box {low} to {high}")


write("casting.step", casting())
write("casting-inch.step", casting(), "INCH")
write("pump.step", pump())
write("pipe.step", pipe())
write("plate.step", plate())
write("sheet.step", Part.makeShell([Part.makePlane(40, 30)]))
