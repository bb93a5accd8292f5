"""A drawing as a general library reads it: ezdxf for the file, its own arithmetic for bulges, shapely for the
shapes."""

import math

import ezdxf
from ezdxf.math import bulge_to_arc
from shapely import Polygon

SAG_MM = 0.0001


def shapes(path, layer):
    """Polygons of the closed paths and circles of a layer, in the order of the file; arcs chorded within
    0.0001 mm."""
    return [
        Polygon(ring(e))
        for e in ezdxf.readfile(path).modelspace().query(f'*[layer=="{layer}"]')
        if e.dxftype() in ("LWPOLYLINE", "CIRCLE")
    ]


def ring(e):
    if e.dxftype() == "CIRCLE":
        return [(v.x, v.y) for v in e.flattening(SAG_MM)]
    points = list(e.get_points("xyb"))
    out = []
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1], strict=True):
        out.append((x0, y0))
        if bulge:
            centre, a, b, r = bulge_to_arc((x0, y0), (x1, y1), bulge)
            sweep = (b - a) % (2 * math.pi)
            n = max(2, math.ceil(sweep / (2 * math.acos(1 - SAG_MM / r))))
            turns = [a + sweep * k / n for k in range(1, n)]
            out += [
                (centre.x + r * math.cos(t), centre.y + r * math.sin(t))
                for t in (turns if bulge > 0 else turns[::-1])
            ]
    return out


def outers(path):
    """Outsides on the cut layer: the closed paths that lie in no other."""
    cut = shapes(path, "CUT")
    return [a for a in cut if not any(b is not a and b.contains(a) for b in cut)]
