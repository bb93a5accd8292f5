"""The boxed rocker: two plates, pivot tube, box strips and gusset from one set of numbers.

Rocker system: origin on the pivot's axis in the mid plane between the plates, z along the axis, x towards the
rod eye (as `local` makes it). Lengths mm, forces N, masses kg, inertia kg·mm².
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from parts.base.frozen import dataclass
from parts.box_strip import BoxStrip, SweptDisc, free_paths
from parts.gusset import FIT_UP_MM, SHORTEST_MM, Gusset
from parts.part import Part
from parts.pivot_tube import PivotTube
from parts.rocker_plate import ARMS, RockerPlate
from parts.rocker_window import segment_distance_mm
from parts.shape.form import Form, Frame, Prism, Vector, vector
from parts.shape.outline import OutlineError, Point


class LocalEyes(NamedTuple):
    """Eyes in the rocker's system: in the plates' plane, and their offsets along the axis from the mid
    plane."""

    frame: Frame
    rod_eye: Point
    damper_eye: Point
    rod_offset_mm: float
    damper_offset_mm: float


def local(pivot: Vector, axis: Vector, rod_eye: Vector, damper_eye: Vector) -> LocalEyes:
    """Rocker system of four vectors given in any outer system; the mid plane holds the rod eye's centre.

    Raises OutlineError where the rod eye lies on the axis."""
    p, z = np.asarray(pivot, float), np.asarray(axis, float)
    z = z / np.linalg.norm(z)
    to_rod = np.asarray(rod_eye, float) - p
    if np.linalg.norm(to_rod - (to_rod @ z) * z) < 1e-6:
        raise OutlineError("rocker: the rod eye lies on the pivot's axis; move one of them")
    frame = Frame.looking(p + (to_rod @ z) * z, z, to_rod)
    inverse = np.linalg.inv(frame.matrix())
    rod, damper = ((inverse @ np.append(np.asarray(e, float), 1.0))[:3] for e in (rod_eye, damper_eye))
    return LocalEyes(
        frame,
        (float(rod[0]), float(rod[1])),
        (float(damper[0]), float(damper[1])),
        float(rod[2]),
        float(damper[2]),
    )


@dataclass(frozen=True)
class BoxedRocker(Part):
    """The weldment. Plates at z = ±(gap/2 .. gap/2 + t); strips and gusset between them; tube through
    both."""

    plate: RockerPlate
    tube: PivotTube
    strips: tuple[BoxStrip, ...]
    gusset: Gusset | None
    box_width_mm: float
    swings: tuple[SweptDisc, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def forms(self) -> dict[str, Form]:
        """Every piece in the rocker's system by name; the plates are "plate +z" and "plate -z"."""
        out = {
            "plate +z": self.plate_form(ahead=True),
            "plate -z": self.plate_form(ahead=False),
            "pivot tube": self.tube.form(),
        }
        out |= {f"box strip {i + 1}": s.form() for i, s in enumerate(self.strips)}
        return out | ({"gusset": self.gusset.form()} if self.gusset else {})

    def plate_form(self, ahead: bool) -> Form:
        """The plate at +z where `ahead`, else at -z, in the rocker's system."""
        t, half = self.plate.thickness_mm, self.box_width_mm / 2
        return Form((Prism(self.plate.outline(), t, Frame((0.0, 0.0, half if ahead else -half - t))),))

    def form(self) -> Form:
        """The whole weldment in the rocker's system; pieces touch and do not overlap."""
        return Form(tuple(p for f in self.forms.values() for p in f.pieces))

    @property
    def _inner(self) -> tuple:
        return (self.tube, *self.strips, *((self.gusset,) if self.gusset else ()))

    @property
    def volume_mm3(self) -> float:
        return 2 * self.plate.volume_mm3 + sum(p.volume_mm3 for p in self._inner)

    @property
    def mass_kg(self) -> float:
        """Steel only: welds, bushes, bolts and joints are not in it."""
        return 2 * self.plate.mass_kg + sum(p.mass_kg for p in self._inner)

    @property
    def centroid(self) -> Vector:
        """Centre of gravity of `mass_kg` in the rocker's system."""
        x, y, _ = self.plate.centroid
        weighed = [(2 * self.plate.mass_kg, (x, y, 0.0))] + [(p.mass_kg, p.centroid) for p in self._inner]
        return vector(sum(m * c[i] for m, c in weighed) / self.mass_kg for i in range(3))

    @property
    def inertia_kg_mm2(self) -> float:
        """About the pivot's axis."""
        return 2 * self.plate.inertia_kg_mm2 + sum(p.inertia_kg_mm2 for p in self._inner)


def boxed_rocker(
    plate: RockerPlate,
    *,
    box_width_mm: float,
    tube_wall_mm: float,
    rod_swing: SweptDisc | None = None,
    damper_swing: SweptDisc | None = None,
    strip_mm: float | None = None,
    gusset_mm: float | None = None,
) -> BoxedRocker:
    """All pieces of a rocker boxed between two such plates, `box_width_mm` apart, of the plates' steel.

    `rod_swing`, `damper_swing`: what each joint sweeps between the plates (None: a disc 3 mm over the boss,
    no body). `strip_mm`, `gusset_mm`: thicknesses, the plates' own unless given; 0 leaves them out. Raises
    OutlineError / ValueError before any CAD."""
    strip, web = (plate.thickness_mm if v is None else v for v in (strip_mm, gusset_mm))
    for field, value, least in (
        ("box_width_mm", box_width_mm, 1.0),
        ("strip_mm", strip, 0.0),
        ("gusset_mm", web, 0.0),
    ):
        if not (math.isfinite(value) and value >= least):
            raise OutlineError(
                f"rocker: {field} is {value:g} mm; it must be finite and at least {least:g} mm"
            )
    outer, steel, hand = plate.pivot_tube_outer_mm, plate.material, plate.hand
    tube = PivotTube(outer, tube_wall_mm, box_width_mm, plate.thickness_mm, plate.leg_mm, material=steel)
    notes = list(plate.notes)
    swings = [
        _swing(plate, arm, given, notes) for arm, given in zip(ARMS, (rod_swing, damper_swing), strict=True)
    ]
    notes += _meetings(plate, swings)
    weld = SweptDisc((0.0, 0.0), outer / 2 + FIT_UP_MM)
    paths = free_paths(plate.outer, strip, [*swings, weld]) if strip else []
    if strip and not paths:
        notes.append(
            "rocker: no box strip of 12 mm or more is left between the swings; the plates stay open and soft "
            "in twist"
        )
    strips = tuple(
        BoxStrip(p, strip, box_width_mm, material=steel, name=f"box strip {i + 1}", hand=hand)
        for i, p in enumerate(paths)
    )
    gusset = _gusset(plate, strips, swings, web, box_width_mm, notes)
    return BoxedRocker(plate, tube, strips, gusset, box_width_mm, tuple(swings), tuple(notes))


def _swing(plate: RockerPlate, arm: str, given: SweptDisc | None, notes: list[str]) -> SweptDisc:
    """What a joint sweeps, as given; else a disc about its eye, which is noted."""
    eye = plate.eye(arm)
    if given is None:
        disc = SweptDisc(eye, plate.eye_boss(arm).radius_mm + 3.0)
        notes.append(
            f"rocker: swing of the {arm} not given; the strips clear a disc of {disc.radius_mm:g} mm "
            f"about its eye only"
        )
        return disc
    if math.dist(given.eye, eye) > 0.01:
        raise OutlineError(
            f"rocker: {arm}_swing is about {given.eye}, the {arm} eye is at {eye}; they must agree"
        )
    return given


def _meetings(side: RockerPlate, swings: list[SweptDisc]) -> list[str]:
    """Notes where what swings about one eye reaches the other eye's disc or the pivot tube."""
    rod, damper = swings
    notes = []
    apart = math.dist(rod.eye, damper.eye)
    if apart < rod.radius_mm + damper.radius_mm:
        notes.append(
            f"rocker: the joints at rod eye and damper eye need {rod.radius_mm + damper.radius_mm:.1f} mm "
            f"between their centres "
            f"and have {apart:.1f} mm: move one eye, or turn the joints to miss each other"
        )
    for arm, swing, other in (("rod", rod, damper), ("damper", damper, rod)):
        if not swing.half_width_mm:
            continue
        for what, at, radius in (
            ("the other eye's joint", other.eye, other.radius_mm),
            ("the pivot tube", (0.0, 0.0), side.pivot_tube_outer_mm / 2),
        ):
            bar = SweptDisc(swing.eye, 0.0, swing.half_width_mm + radius, swing.from_deg, swing.to_deg)
            if not bar.clears(np.array([at]))[0]:
                notes.append(f"rocker: the {arm}'s body sweeps over {what} between the plates")
    return notes


def _gusset(
    side: RockerPlate,
    strips: tuple[BoxStrip, ...],
    swings: list[SweptDisc],
    thickness: float,
    width: float,
    notes: list[str],
) -> Gusset | None:
    """The web from the tube towards the hollow side, as long as strips, edge, window and swings allow."""
    if not thickness:
        return None
    way = _between(side)
    c, s = math.cos(way), math.sin(way)
    start = side.pivot_tube_outer_mm / 2 + FIT_UP_MM
    at = np.arange(start, max(side.arm_mm("rod"), side.arm_mm("damper")) * 1.5, 0.5)
    lines = [np.column_stack([at * c - v * s, at * s + v * c]) for v in (-thickness / 2, 0.0, thickness / 2)]
    clear = np.logical_and.reduce(
        [side.metal_mm(xy) >= side.leg_mm for xy in lines] + [w.clears(xy) for w in swings for xy in lines]
    )
    strip = strips[0].thickness_mm if strips else 0.0
    # distance from the nearest strip's outer face: the web stops at its inner face less the fit-up gap
    for path in (p for b in strips for p in b.path):
        for xy in lines:
            clear &= segment_distance_mm(path, xy) >= strip + FIT_UP_MM
    last = int(np.argmin(clear)) - 1 if not clear.all() else len(at) - 1
    length = float(at[last] - start) if last > 0 else 0.0
    if length < SHORTEST_MM:
        notes.append(
            f"rocker: gusset left out: {length:.1f} mm of room from the pivot tube outwards, {SHORTEST_MM:g} "
            f"mm needed"
        )
        return None
    return Gusset(start, length, width, thickness, math.degrees(way), material=side.material)


def _between(side: RockerPlate) -> float:
    """Direction (rad) from the pivot to the nearest point of the hollow, or along the bisector of the
    arms."""
    arc = side.waist_arc
    if arc is not None:
        cx, cy = arc.centre
        turn = math.atan2(-cy, -cx) - math.atan2(arc.start[1] - cy, arc.start[0] - cx)
        if (-turn) % (2 * math.pi) <= abs(arc.sweep):
            return math.atan2(cy, cx)
    a = [math.atan2(side.eye(arm)[1], side.eye(arm)[0]) for arm in ARMS]
    turn = (a[1] - a[0] + math.pi) % (2 * math.pi) - math.pi
    return a[0] + turn / 2
