"""Room for a leaf pack to slide through the rocker: sizes round its end, and what its end sweeps past the
socket.

The slide is counted towards the rocker: it shortens the free length between the anchor's clamp and the
rocker's socket by as much and pushes the pack's end further through the socket.
"""

from __future__ import annotations

import math

import numpy as np

from parts.base.frozen import dataclass
from parts.shape.form import Form, Frame, Round
from parts.spring_pack import LeafPack

BORE_ROOM_MM = 1.0  # the pack's diagonal to a bore that it passes, in all


@dataclass(frozen=True)
class SlideRoom:
    """Sizes round the rocker's end of the pack, mm. `spare_mm`: strips cut longer at that end than the one
    width of socket that the parts are drawn with."""

    width_mm: float
    depth_mm: float
    spare_mm: float
    to_rocker_mm: float  # from the socket's inner face to the middle of the rocker
    circle_mm: float
    bore_mm: float

    @property
    def passes(self) -> bool:
        """Whether the pack's diagonal passes the pivot tube's bore."""
        return self.circle_mm + BORE_ROOM_MM <= self.bore_mm

    @property
    def allowed_mm(self) -> tuple[float, float]:
        """How far the pack slides out and in with one strip width kept in the socket and its end not in the
        pivot tube's wall."""
        spare = self.width_mm + self.spare_mm
        return 0.0 - self.spare_mm, math.inf if self.passes else self.depth_mm - spare

    def overlap_mm(self, slide_mm):
        return np.clip(self.width_mm + self.spare_mm + np.asarray(slide_mm, float), 0.0, self.depth_mm)

    def protrusion_mm(self, slide_mm):
        return np.maximum(self.width_mm + self.spare_mm + np.asarray(slide_mm, float) - self.depth_mm, 0.0)


def room(job, layout, spare_mm: float = 0.0) -> SlideRoom | None:
    """From the laid-out corner, strips as drawn or cut longer by `spare_mm`; None where there is no leaf pack
    in place."""
    if (
        job.spring.kind != "leaf-pack"
        or layout is None
        or layout.pivot_bore_mm is None
        or layout.socket is None
    ):
        return None
    pack = LeafPack(job.spring.leaves, job.spring.leaf_width, job.spring.leaf_thickness, job.spring.length)
    depth = layout.socket.part.depth_mm
    stub = layout.pivot if job.pivot.kind == "stub" else None
    mouth = np.array(layout.socket.frame.origin) - np.array(layout.eyes.frame.origin)
    return SlideRoom(
        job.spring.leaf_width,
        depth,
        spare_mm,
        float(mouth @ np.array(job.spring_direction)) - depth,
        pack.circle_mm,
        stub.shaft_bore_mm if stub else layout.pivot_bore_mm,
    )


def pack_end(layout):
    """What the pack's end sweeps past the rocker's socket at the far end of its slide, in car axes; None for
    a pack that does not slide."""
    size = room(layout.job, layout)
    return (
        protrusion_form(layout, size, layout.job.spring.slide)
        if size and layout.job.spring.slide > 0
        else None
    )


def protrusion_form(layout, size: SlideRoom, slide_mm: float):
    """What the pack's end sweeps beyond the socket, as a round bar in car axes: a body for the interference
    check; None for none."""
    out = float(size.protrusion_mm(slide_mm))
    if out <= 0 or layout.eyes is None:
        return None
    away = np.array(layout.job.spring_direction)
    start = np.array(layout.eyes.frame.origin) + size.to_rocker_mm * away
    return Form((Round(size.circle_mm, out),)).moved(Frame.looking(start, -away, layout.eyes.frame.x))
