"""Nodes where two braces stand on one face of a tube that passes: how far off its axis theirs meet, and the
gap."""

from __future__ import annotations

import numpy as np

from assemblies.layout.junctions.fitting import Junctions
from assemblies.layout.junctions.order import Node
from parts.calc.brace_gap import gap_mm
from parts.tube_end import angle_deg

FLAT = 0.05  # sine of the angle out of the plane that still counts as in it


def off_and_gap(made: Junctions, node: Node) -> tuple[float, float] | None:
    """(eccentricity, gap between the toes), mm, as `parts.calc.brace_gap` counts them; None for any other
    node."""
    passing = [n for n in node.members if node.end_of(n) is None]
    braces = [n for n in node.members if node.end_of(n)]
    if len(passing) != 1 or len(braces) != 2:
        return None
    chord, along = made.all[passing[0]], made.away(node, passing[0])
    ways = [made.away(node, b) for b in braces]
    if float(ways[0] @ along) * float(ways[1] @ along) >= 0:
        return None
    out = ways[0] + ways[1]
    out = out - float(out @ along) * along
    if np.linalg.norm(out) < 0.1:
        return None
    out /= np.linalg.norm(out)
    square = np.cross(along, out)
    if max(abs(float(w @ square)) for w in ways) > FLAT or min(float(w @ out) for w in ways) <= 0:
        return None
    points = [made.all[b].end(node.end_of(b) or "from") - chord.end("from") for b in braces]
    flat = [np.array([p @ along, p @ out]) for p in points]
    lean = [np.array([w @ along, w @ out]) for w in ways]
    t = np.linalg.solve(np.column_stack([lean[0], -lean[1]]), flat[1] - flat[0])
    off = -float((flat[0] + t[0] * lean[0])[1])
    sizes, angles = [], []
    for b, w in zip(braces, ways, strict=True):
        sizes.append(2 * made.all[b].run().half_mm(np.cross(square, w)))
        lies = angle_deg(w, along)
        angles.append(min(lies, 180 - lies))
    return off, gap_mm(2 * chord.run().half_mm(out), sizes[0], angles[0], sizes[1], angles[1], off)
