"""Which way a blank may lie: the allowed angles, and whether it is its own mirror."""

from __future__ import annotations

import math

import numpy as np

from assemblies.nesting.model import FREE_STEP_DEG, Blank, NestError, Remnant
from assemblies.nesting.polygons import cover
from parts.shape.outline import Outline

SAME_MM = 0.02


def mirror_axis_deg(outline: Outline) -> float | None:
    """Direction (0 to 180 degrees) of a line about which the outline, holes included, is its own mirror; None
    if none.

    An axis passes through the centroid and through a corner or the middle of a side, so those are all the
    lines tried; a mirror image counts as the same where it strays no more than 0.02 mm."""
    from shapely import Polygon
    from shapely.affinity import affine_transform

    cx, cy = outline.centroid
    metal = cover(outline, 0.002, 0.0)
    edge = Polygon(metal.exterior.simplify(0.002), [r.simplify(0.002) for r in metal.interiors])
    for s in outline.outer.segments:
        for px, py in (s.start, s.at(0.5)):
            a = math.atan2(py - cy, px - cx) % math.pi
            c, k = math.cos(2 * a), math.sin(2 * a)
            image = affine_transform(edge, [c, k, k, -c, cx - c * cx - k * cy, cy - k * cx + c * cy])
            if (
                edge.symmetric_difference(image).area < SAME_MM * edge.length
                and edge.hausdorff_distance(image) < 20 * SAME_MM
            ):
                return math.degrees(a)
    return None


def angles_deg(blank: Blank, remnant: Remnant) -> tuple[float, ...]:
    """Allowed turns. "free" takes 15 degree steps from the angle that lays the blank squarest, "grain" the
    two along the rolling direction. A blank that is its own mirror may also lie as if turned over: for it
    that is one more turn."""
    if blank.rotation == "free":
        base = _squarest_deg(blank.outline)
        return tuple(round((base + FREE_STEP_DEG * k) % 360, 9) for k in range(round(360 / FREE_STEP_DEG)))
    if blank.rotation == "grain":
        own = [remnant.grain_deg % 360, (remnant.grain_deg + 180) % 360]
    elif blank.rotation in (0, 360):
        return (0.0,)
    else:
        n = 360 / float(blank.rotation)
        if abs(n - round(n)) > 1e-9:
            raise NestError(
                f'blank "{blank.name}": a rotation step of {blank.rotation:g} degrees does not divide 360'
            )
        own = [k * float(blank.rotation) for k in range(round(n))]
    axis = mirror_axis_deg(blank.outline) if blank.rotation == "grain" else None
    if axis is not None:
        own += [(2 * remnant.grain_deg - 2 * axis - a) % 360 for a in own]
    return tuple(sorted({round(a, 6) % 360 for a in own}))


def _squarest_deg(outline: Outline) -> float:
    """The turn that lays the longest side of the least enclosing rectangle along x."""
    from shapely import Polygon

    p = np.array(Polygon(outline.outer.points(0.05)).minimum_rotated_rectangle.exterior.coords)
    d = np.diff(p, axis=0)[:2]
    k = int(np.argmax(np.hypot(d[:, 0], d[:, 1]) > np.hypot(*d[1]) - 1e-9))
    return (-math.degrees(math.atan2(d[k][1], d[k][0]))) % 360
