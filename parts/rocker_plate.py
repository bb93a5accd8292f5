"""Side plate of a boxed rocker: bosses round the pivot tube and two eyes, joined by true tangent lines and a
waist.

Sizes come from the forces and from edge-distance rules; a radius given below its rule is an error, never a
thin eye. Lengths mm, forces N, stresses MPa.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from parts.base import require
from parts.base.fields import reads
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3, steel
from parts.boss import least_boss_radius_mm, sized_boss_radius_mm, washer_mm
from parts.calc.plate_section import NetSection, cut, least_widths_mm
from parts.part import Flat
from parts.rocker_window import largest_window, room_mm
from parts.shape.belt import Boss, belt, hull_order
from parts.shape.form import Form, Prism
from parts.shape.outline import Hole, Loop, Mark, Outline, OutlineError, Point

WAIST_FLOOR_MM = 12.0  # smallest hollow a jigsaw follows; common practice
LEAST_THICKNESS_MM = 0.5
ARMS = ("rod", "damper")


class EdgeRow(NamedTuple):
    """One hole's edge distance: from the hole's edge to the nearest plate edge, what the rule asks, and whose
    rule."""

    hole: str
    diameter_mm: float
    edge_mm: float
    required_mm: float
    centre_to_edge_mm: float
    over_d0: float
    aim_over_d0: float
    source: str

    @property
    def ok(self) -> bool:
        return self.edge_mm >= self.required_mm - 1e-6


TUBE_OVER_MM = 0.2  # a hole over the measured tube that is welded in it, common practice


@dataclass(frozen=True)
class RockerPlate(Flat):
    """One side plate. Origin: the pivot's axis on the lower face; x and y in the plate's plane; the face z =
    thickness carries the marks. Both plates of a rocker are this same blank: the box strips and the gusset
    touch the faces that look at each other, the pivot tube fills both pivot holes. Forces are those on the
    whole rocker, shared by `plates`. Raises ValueError (OutlineError) with field, value and limit where a
    rule is broken or the shape cannot close."""

    rod_eye: Point  # centre of the rod's hole, mm
    damper_eye: Point  # centre of the damper's hole, mm
    thickness_mm: float
    pivot_tube_outer_mm: float  # the tube welded into the pivot hole
    rod_hole_mm: float  # finished diameter
    damper_hole_mm: float
    pivot_boss_radius_mm: float | None = None  # None: sized
    rod_boss_radius_mm: float | None = None
    damper_boss_radius_mm: float | None = None
    waist_radius_mm: float | None = None  # hollow between the eyes; None: sized, infinite: straight
    rod_force_n: float = 0.0  # worst force on the eye, both plates together
    damper_force_n: float = 0.0
    safety: float = 1.5  # on yield
    plates: int = 2
    tube_measured_mm: float | None = None  # outside of the tube in hand; None: its nominal
    weld_leg_mm: float | None = None  # None: the plate's thickness
    jig_hole_mm: float = 6.0  # 0: none
    vent_mm: float = 0.0  # 0: none; the box is open at its eyes
    window: bool = False
    material: str = "S275"
    name: str = "rocker plate"
    hand: str = ""

    ENDLESS = ("waist_radius_mm",)

    def __post_init__(self) -> None:
        super().__post_init__()
        for field in ("thickness_mm", "pivot_tube_outer_mm", "rod_hole_mm", "damper_hole_mm", "safety"):
            self._number(field, getattr(self, field), above=0.0)
        self._number("thickness_mm", self.thickness_mm, above=LEAST_THICKNESS_MM)
        if self.plates < 1:
            raise OutlineError(f"{self.name}: plates is {self.plates}; the least is 1")
        for field in ("rod_force_n", "damper_force_n", "jig_hole_mm", "vent_mm"):
            self._number(field, getattr(self, field), above=-1e-12)
        for field in (
            "pivot_boss_radius_mm",
            "rod_boss_radius_mm",
            "damper_boss_radius_mm",
            "weld_leg_mm",
            "tube_measured_mm",
        ):
            if getattr(self, field) is not None:
                self._number(field, getattr(self, field), above=0.0)
        if self.waist_radius_mm is not None and not self.waist_radius_mm > 0:
            raise OutlineError(
                f"{self.name}: waist_radius_mm is {self.waist_radius_mm:g}; it must be over 0 "
                f"(infinite: straight)"
            )
        self._check_spacing()
        self._check_radii()
        self.outline()  # a shape that cannot close is an error here, not later
        if self.waist_radius_mm is not None:
            self._check_necks()

    def _number(self, field: str, value: float, above: float) -> None:
        if not math.isfinite(value) or value <= above:
            raise OutlineError(
                f"{self.name}: {field} is {value:g}; it must be finite and over {max(above, 0):g}"
            )

    def _check_spacing(self) -> None:
        """Room for pivot weld and washers, and 2.2·d0 between the eyes (EN 1993-1-8 Table 3.3)."""
        for arm in ARMS:
            least = self.pivot_tube_outer_mm / 2 + self.leg_mm + washer_mm(self.hole_mm(arm)) / 2
            if self.arm_mm(arm) < least:
                raise OutlineError(
                    f"{self.name}: {arm}_eye is {self.arm_mm(arm):.2f} mm from the pivot; pivot tube, "
                    f"weld leg and "
                    f"washer need {least:.2f} mm: move the eye out or take a smaller tube"
                )
        apart = math.dist(self.rod_eye, self.damper_eye)
        least = max(
            2.2 * max(self.rod_hole_mm, self.damper_hole_mm),
            (washer_mm(self.rod_hole_mm) + washer_mm(self.damper_hole_mm)) / 2,
        )
        if apart < least:
            raise OutlineError(
                f"{self.name}: rod_eye and damper_eye are {apart:.2f} mm apart; washers and a spacing "
                f"of 2.2 holes "
                f"(EN 1993-1-8 Table 3.3) need {least:.2f} mm: move one eye"
            )

    def _check_radii(self) -> None:
        for which, least, rule in (
            ("pivot", self.least_pivot_radius_mm, "tube, weld leg and a plate thickness (3 mm at least)"),
            ("rod", self.least_eye_radius_mm("rod"), "EN 1993-1-8 Tables 3.9 type A and 3.3"),
            ("damper", self.least_eye_radius_mm("damper"), "EN 1993-1-8 Tables 3.9 type A and 3.3"),
        ):
            given = getattr(self, f"{which}_boss_radius_mm")
            if given is not None and given < least - 1e-9:
                raise OutlineError(
                    f"{self.name}: {which}_boss_radius_mm is {given:g} mm; the least is {least:.2f} mm "
                    f"({rule})"
                )

    # ------------------------------------------------------------------------------------------ sizes

    @property
    def leg_mm(self) -> float:
        return self.thickness_mm if self.weld_leg_mm is None else self.weld_leg_mm

    def eye(self, arm: str) -> Point:
        """Centre of the "rod" or "damper" eye."""
        require.one_of("arm", arm, ARMS)
        return self.rod_eye if arm == "rod" else self.damper_eye

    def hole_mm(self, arm: str) -> float:
        require.one_of("arm", arm, ARMS)
        return self.rod_hole_mm if arm == "rod" else self.damper_hole_mm

    def arm_mm(self, arm: str) -> float:
        """Pivot axis to eye centre, in the plate's plane."""
        return math.hypot(*self.eye(arm))

    def _rule(self, arm: str) -> tuple[float, float, float, float, float]:
        force = self.rod_force_n if arm == "rod" else self.damper_force_n
        return (
            self.hole_mm(arm),
            force,
            self.plates * self.thickness_mm,
            steel(self.material).yield_mpa,
            self.safety,
        )

    def least_eye_radius_mm(self, arm: str) -> float:
        return least_boss_radius_mm(*self._rule(arm))

    @property
    def least_pivot_radius_mm(self) -> float:
        """Half the tube, the weld's leg and a plate thickness (3 mm at least) beyond its toe; common
        practice."""
        return self.pivot_tube_outer_mm / 2 + self.leg_mm + max(self.thickness_mm, 3.0)

    @cached_property
    def pivot_boss(self) -> Boss:
        sized = (
            math.ceil(
                2 * (self.pivot_tube_outer_mm / 2 + self.leg_mm + max(2 * self.thickness_mm, 6.0)) - 1e-9
            )
            / 2
        )
        return Boss(0.0, 0.0, sized if self.pivot_boss_radius_mm is None else self.pivot_boss_radius_mm)

    def eye_boss(self, arm: str) -> Boss:
        given = self.rod_boss_radius_mm if arm == "rod" else self.damper_boss_radius_mm
        return Boss(
            *self.eye(arm),
            sized_boss_radius_mm(*self._rule(arm), self.thickness_mm) if given is None else given,
        )

    # ------------------------------------------------------------------------------------------ shape

    @cached_property
    def sides(self) -> tuple[list[Boss], int | None]:
        """The bosses round the belt, and the index of the one from which the hollow side leaves (None: the
        pivot's boss stands on the line between the eyes, or one boss covers another, so there is no
        hollow)."""
        rod, damper = self.eye_boss("rod"), self.eye_boss("damper")
        first, second = (rod, damper) if rod.x * damper.y - rod.y * damper.x >= 0 else (damper, rod)
        order = hull_order([self.pivot_boss, first, second])
        if len(order) < 2:
            raise OutlineError(f"{self.name}: one boss covers all the others; give smaller boss radii")
        pairs = [i for i in range(len(order)) if order[i] is first and order[(i + 1) % len(order)] is second]
        return order, pairs[0] if len(order) > 2 and pairs else None

    def _loop(self, waist_mm: float) -> Loop:
        order, hollow = self.sides
        return belt(
            order, [waist_mm if i == hollow and math.isfinite(waist_mm) else None for i in range(len(order))]
        )

    @cached_property
    def waist_mm(self) -> float:
        """Radius of the hollow between the eyes, given or sized; infinite where that side is straight.

        Sized: the deepest that still leaves the pivot boss a quarter of its radius more, lets both arms widen
        towards the pivot (no boss carries more than half a turn) and stays under 80 degrees of hollow; common
        practice."""
        if self.waist_radius_mm is not None:
            return self._given_waist(self.waist_radius_mm)
        order, hollow = self.sides
        if hollow is None or self.window:
            return math.inf
        a, b = order[hollow], order[(hollow + 1) % len(order)]
        low = max(
            WAIST_FLOOR_MM,
            (math.dist((a.x, a.y), (b.x, b.y)) - a.radius_mm - b.radius_mm) / 2 * 1.0001 + 1e-6,
        )
        high = 20 * math.dist((a.x, a.y), (b.x, b.y))
        if self._hollow_is_sound(low):
            return float(math.ceil(low))
        if not self._hollow_is_sound(high):
            return math.inf
        while high - low > 0.25:
            middle = (low + high) / 2
            low, high = (low, middle) if self._hollow_is_sound(middle) else (middle, high)
        return float(math.ceil(high))

    def _hollow_is_sound(self, waist_mm: float) -> bool:
        try:
            loop = self._loop(waist_mm)
        except OutlineError:
            return False
        arc = next((s for s in loop.segments if s.bulge < 0), None)
        return (
            arc is not None
            and abs(arc.sweep) <= math.radians(80)
            and arc.distance_mm(0, 0) >= 1.25 * self.pivot_boss.radius_mm
            and all(s.sweep <= math.radians(179) for s in loop.segments if s.bulge > 0)
        )

    def _given_waist(self, waist_mm: float) -> float:
        if math.isinf(waist_mm):
            return waist_mm
        if self.sides[1] is None:
            raise OutlineError(
                f"{self.name}: waist_radius_mm is {waist_mm:g}, but the pivot boss stands on the line "
                f"between the eyes, "
                "so there is no hollow: leave it out"
            )
        try:
            arc = next(s for s in self._loop(waist_mm).segments if s.bulge < 0)
        except OutlineError as e:
            raise OutlineError(f"{self.name}: waist_radius_mm: {e}") from e
        if (near := arc.distance_mm(0, 0)) < self.pivot_boss.radius_mm - 1e-9:
            raise OutlineError(
                f"{self.name}: waist_radius_mm {waist_mm:g} comes within {near:.2f} mm of the pivot; "
                f"the pivot boss needs "
                f"{self.pivot_boss.radius_mm:g} mm: use a larger radius"
            )
        return waist_mm

    def _check_necks(self) -> None:
        """No arm may be narrower, holes and window out, than the metal its eye must have on both sides
        together."""
        for arm in ARMS:
            least = 2 * self.least_eye_radius_mm(arm) - self.hole_mm(arm)
            (ex, ey), length = self.eye(arm), self.arm_mm(arm)
            at = np.array(self._stations(arm))
            if least_widths_mm(self.outline(), at, (ex / length, ey / length)).min() > least + 1e-3:
                continue  # seen at once; else cut by cut
            if (neck := self.neck(arm)).width_mm < least - 1e-6:
                raise OutlineError(
                    f"{self.name}: the {arm} arm is {neck.width_mm:.2f} mm wide {neck.at_mm:.1f} mm "
                    f"from the pivot (waist "
                    f"radius {self.waist_mm:g} mm); its eye needs {least:.2f} mm: use a larger waist radius"
                )

    @cached_property
    def outer(self) -> Loop:
        return self._loop(self.waist_mm)

    @cached_property
    def waist_arc(self):
        """The hollow side of the loop as a Segment, or None where that side is straight or covered."""
        return next((s for s in self.outer.segments if s.bulge < 0), None)

    @property
    def _over_mm(self) -> float:
        """How much over the tube's nominal outside its hole is cut, so that the tube in hand goes in."""
        return (self.tube_measured_mm or self.pivot_tube_outer_mm) + TUBE_OVER_MM - self.pivot_tube_outer_mm

    @property
    def _fixed_holes(self) -> tuple[Hole, ...]:
        return (
            Hole(0.0, 0.0, self.pivot_tube_outer_mm, "pivot tube", "weld", self._over_mm),
            Hole(*self.rod_eye, self.rod_hole_mm, "rod eye", "reamed"),
            Hole(*self.damper_eye, self.damper_hole_mm, "damper eye", "reamed"),
        )

    @property
    def ligament_mm(self) -> float:
        """Least metal left round a window: 2.5 thicknesses, 8 mm at least (strip and its weld); common
        practice."""
        return max(8.0, 2.5 * self.thickness_mm)

    @cached_property
    def window_loop(self) -> Loop | None:
        """The lightening window, or None where none is wanted or no sound one fits."""
        if not self.window:
            return None
        tube, *eyes = self._fixed_holes
        keep = [replace(tube, diameter_mm=tube.diameter_mm + 2 * self.leg_mm)]
        for arm, h in zip(ARMS, eyes, strict=True):
            boss = sized_boss_radius_mm(*self._rule(arm), self.thickness_mm)
            keep.append(replace(h, diameter_mm=max(h.diameter_mm, 2 * (boss - self.ligament_mm))))
        return largest_window(self.outer, keep, self.eye("rod"), self.eye("damper"), self.ligament_mm)

    def _room(self, holes: tuple[Hole, ...], xy: np.ndarray) -> np.ndarray:
        """Metal round each point: to the nearest edge of plate, window, hole or weld of the tube; negative
        off the metal."""
        toe = replace(holes[0], diameter_mm=holes[0].diameter_mm + 2 * self.leg_mm)
        return room_mm(self.outer, (self.window_loop,) if self.window_loop else (), (toe, *holes[1:]), xy)

    def metal_mm(self, xy: np.ndarray) -> np.ndarray:
        """Distance of each point (n, 2) to the nearest edge of plate or window; negative off the metal. Holes
        do not count."""
        return room_mm(self.outer, (self.window_loop,) if self.window_loop else (), (), xy)

    def _best_on_arm(self, arm: str, holes: tuple[Hole, ...]) -> tuple[float, Point]:
        """(room, point): the point of the arm's line, between tube and eye, with most metal round it."""
        low, high = self.pivot_tube_outer_mm / 2, self.arm_mm(arm) - self.hole_mm(arm) / 2
        at = np.linspace(low, high, 121)
        xy = at[:, None] * np.array(self.eye(arm)) / self.arm_mm(arm)
        rooms = self._room(holes, xy)
        # of equally good places the one nearest the middle
        i = int((np.round(rooms, 3) - 1e-6 * np.abs(at - (low + high) / 2)).argmax())
        return float(rooms[i]), (float(xy[i, 0]), float(xy[i, 1]))

    @cached_property
    def small_holes(self) -> tuple[tuple[Hole, ...], tuple[str, ...]]:
        """Jig and vent holes that find 1.5 diameters from their centre to every edge, and notes on those that
        do not."""
        holes, notes = list(self._fixed_holes), []
        wanted = [
            (arm, self.jig_hole_mm, f"jig {i + 1}", "jig")
            for i, arm in enumerate(ARMS)
            if self.jig_hole_mm > 0
        ]
        wanted += [("rod", self.vent_mm, "vent", "vent")] if self.vent_mm > 0 else []
        for arm, diameter, purpose, fit in wanted:
            room, (x, y) = self._best_on_arm(arm, tuple(holes))
            if room < 1.5 * diameter:
                notes.append(
                    f"{self.name}: hole '{purpose}' of {diameter:g} mm left out: {room:.1f} mm of room on "
                    f"the {arm} arm, "
                    f"{1.5 * diameter:g} mm needed"
                )
                continue
            holes.append(Hole(x, y, diameter, purpose, fit))
        return tuple(holes[3:]), tuple(notes)

    @property
    def notes(self) -> tuple[str, ...]:
        missing = self.window and self.window_loop is None
        return self.small_holes[1] + ((f"{self.name}: no sound window fits; left out",) if missing else ())

    @cached_property
    def _outline(self) -> Outline:
        inner = (self.window_loop,) if self.window_loop else ()
        holes = self._fixed_holes + self.small_holes[0]
        return Outline(self.outer, inner, holes, (self._text(holes),))

    def _text(self, holes: tuple[Hole, ...]) -> Mark:
        """Name and hand, where they lie on metal with most room; the letters are counted 0.8 of their height
        wide."""
        words = " ".join(t for t in (self.name, self.hand) if t)
        x0, y0, x1, y1 = self.outer.bounds
        spots = np.stack(np.meshgrid(np.arange(x0, x1, 6.0), np.arange(y0, y1, 6.0)), -1).reshape(-1, 2)
        spots = spots[self._room(holes, spots) >= 2.0]
        for height in (5.0, 3.0):
            wide = 0.8 * height * len(words)
            far = spots[self._room(holes, spots + np.array([wide, height])) >= 2.0][:, None, :]
            if not len(far):
                continue
            box = np.array([(wide * k / 8, height * up) for k in range(9) for up in (0, 1)])
            rooms = self._room(holes, (far + box).reshape(-1, 2)).reshape(len(far), -1).min(axis=1)
            if rooms.max() >= 2.0:
                x, y = far[rooms.argmax(), 0]
                return Mark("text", ((float(x), float(y)),), words, height)
        return Mark("text", ((x0, y0 - 5.0),), words, 3.0)

    def outline(self) -> Outline:
        """The blank, seen on its marked face; bends none."""
        return self._outline

    def form(self) -> Form:
        return Form((Prism(self.outline(), self.thickness_mm),))

    # ------------------------------------------------------------------------------------------ numbers

    @property
    def centroid(self) -> tuple[float, float, float]:
        return (*self.outline().centroid, self.thickness_mm / 2)

    @property
    def inertia_kg_mm2(self) -> float:
        """Mass moment about the pivot's axis: ρ·t·∫(x² + y²)dA."""
        m = self.outline().moments
        return DENSITY_KG_M3 * 1e-9 * self.thickness_mm * (m[3] + m[4])

    def edge_rows(self) -> list[EdgeRow]:
        """Edge distance of the pivot hole and both eyes as made, against the rule that sizes them."""
        rows = []
        for h in self._fixed_holes:
            edge = min(
                s.distance_mm(h.x, h.y) for loop in (self.outer, *self.outline().inner) for s in loop.segments
            )
            if h.fit == "weld":
                need, aim, source = (
                    self.least_pivot_radius_mm,
                    math.nan,
                    "common practice: weld leg, a plate thickness beyond",
                )
            else:
                need, aim = self.least_eye_radius_mm(h.purpose.split()[0]), 1.5
                source = "EN 1993-1-8:2005 Table 3.9 type A; Table 3.3 (1.2 d0); aim common practice"
            rows.append(
                EdgeRow(
                    h.purpose,
                    h.diameter_mm,
                    edge - h.diameter_mm / 2,
                    need - h.diameter_mm / 2,
                    edge,
                    edge / h.diameter_mm,
                    aim,
                    source,
                )
            )
        return rows

    @reads
    def section(self, arm: str, at_mm: float) -> NetSection:
        """Cut square to an arm's line; elastic values about the net cut's own centroid (not the arm's
        line)."""
        return self._section(arm, at_mm)

    def _section(self, arm: str, at_mm: float) -> NetSection:
        (ex, ey), length = self.eye(arm), self.arm_mm(arm)
        ux, uy = ex / length, ey / length
        return cut(self.outline(), self.thickness_mm, (at_mm * ux, at_mm * uy), (ux, uy), at_mm)

    @reads
    def sections(self, arm: str, count: int = 121) -> list[NetSection]:
        """Cuts from the pivot hole's edge to the eye hole's edge."""
        if count < 2:
            raise ValueError(f"{self.name}: count is {count}; the least is 2")
        return [self._section(arm, at) for at in self._stations(arm, count)]

    def _stations(self, arm: str, count: int = 121) -> list[float]:
        low, high = self.pivot_tube_outer_mm / 2, self.arm_mm(arm) - self.hole_mm(arm) / 2
        return [low + (high - low) * k / (count - 1) for k in range(count)]

    def neck(self, arm: str) -> NetSection:
        """The narrowest cut over an arm, holes and window taken out."""
        return min(self.sections(arm), key=lambda s: s.width_mm)

    def weakest(self, arm: str) -> NetSection:
        """The cut that a force square to the arm at its eye stresses most: the largest (arm - at)/W."""
        return max(self.sections(arm), key=lambda s: (self.arm_mm(arm) - s.at_mm) / s.modulus_mm3)

    def mirrored(self, hand: str) -> RockerPlate:
        """The other hand, as it is to be called: mirrored in the y axis."""
        return replace(
            self,
            rod_eye=(-self.rod_eye[0], self.rod_eye[1]),
            damper_eye=(-self.damper_eye[0], self.damper_eye[1]),
            hand=hand,
        )
