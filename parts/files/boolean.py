"""The CAD kernel's union, difference and common part, on one core: its own threads take a sixth more of the
machine's time, which a build has other work for, and find the same."""

from __future__ import annotations

from OCP.BOPAlgo import BOPAlgo_GlueEnum
from OCP.BRepAlgoAPI import (
    BRepAlgoAPI_BooleanOperation,
    BRepAlgoAPI_Common,
    BRepAlgoAPI_Cut,
    BRepAlgoAPI_Fuse,
)
from OCP.TopTools import TopTools_ListOfShape

from parts.files.kernel import cq


def united(first: cq.Shape, *others: cq.Shape, glued: bool = False) -> cq.Shape:
    """All in one. `glued`: where they meet they share whole faces, and no more is looked for."""
    both = BRepAlgoAPI_Fuse()
    if glued:
        both.SetGlue(BOPAlgo_GlueEnum.BOPAlgo_GlueShift)
    return _done(both, first, others) if others else first


def without(whole: cq.Shape, *tools: cq.Shape, touching_mm: float | None = None) -> cq.Shape:
    """What the tools leave. Faces nearer than `touching_mm` count as flush."""
    left = BRepAlgoAPI_Cut()
    if touching_mm:
        left.SetFuzzyValue(touching_mm)
    return _done(left, whole, tools)


def common(a: cq.Shape, b: cq.Shape) -> cq.Shape:
    """What both fill."""
    return _done(BRepAlgoAPI_Common(), a, [b])


def _done(asked: BRepAlgoAPI_BooleanOperation, first: cq.Shape, others) -> cq.Shape:
    one, rest = TopTools_ListOfShape(), TopTools_ListOfShape()
    one.Append(first.wrapped)
    for other in others:
        rest.Append(other.wrapped)
    asked.SetArguments(one)
    asked.SetTools(rest)
    asked.SetRunParallel(False)
    asked.Build()
    return cq.Shape.cast(asked.Shape())
