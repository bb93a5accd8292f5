"""Clocking plates at a torsion spring's far end: a turning plate on the socket, bolted to one of the frame.

The socket's stack goes through the turning plate, stands proud of it and is welded to it outside, all round;
on the other side its round outside is the spigot that centres the turning plate in the fixed one. Holes stand
in opposite pairs, so two bolts straight across the axis hold at every setting and the spigot carries nothing.
Local axes: the socket's (origin at its mouth, z into it).
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import hexagon, thread
from parts.calc.bolts import torque_forces_n
from parts.hole_rings import Ring, least_angle_deg, mirrored, rings
from parts.part import Flat
from parts.shape.form import Form, Frame, Prism, Vector
from parts.shape.outline import Hole, Mark, Outline, circle
from parts.spring_socket import SpringSocket

EDGE = 1.5  # hole centre to plate edge in hole diameters; EN 1993-1-8 Table 3.3 floor 1.2
SPACING = 2.2  # EN 1993-1-8 Table 3.3
MOST_CIRCLES = 6
PLATE_MM = 6.0  # common practice
HALF_TURN = 180.0  # every hole has its twin straight across the axis
SPIGOT_FIT_MM = 0.2  # fixed plate's bore less the socket's turned outside; common practice
PROUD_MM = 4.0  # of the socket beyond the turning plate, for the fillet round it
HEAD_ROOM_MM = 3.0  # between a hexagon's corners and what it stands beside


@dataclass(frozen=True)
class AnchorPlates(Flat):
    """`positions` settings a turn (the tooth count; an odd one gives twice as many). Holes are reamed to the
    bolt; the plates touch. `around_mm`: diameter that bolts keep clear of, beside the socket's (a tube that
    the fixed plate is welded on to, with its weld).

    Raises ValueError where the holes do not fit."""

    socket: SpringSocket
    positions: int
    bolt: str = "M8"
    thickness_mm: float = PLATE_MM
    most_diameter_mm: float = 240.0
    hand: str = "left"  # "right": the mirrored pattern, every hole's angle turned in sign
    around_mm: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            positions=self.positions, thickness_mm=self.thickness_mm, most_diameter_mm=self.most_diameter_mm
        )
        require.not_negative(around_mm=self.around_mm)
        require.at_least(
            "socket_depth_mm",
            self.socket.depth_mm,
            2 * self.thickness_mm + PROUD_MM,
            "both plates stand round the socket: more plates in it, or thinner anchor plates",
        )
        _ = self._layout

    @property
    def hole_mm(self) -> float:
        return thread(self.bolt).diameter_mm

    @property
    def steps(self) -> int:
        return self.positions

    @property
    def circle_pitch_mm(self) -> float:
        return SPACING * self.hole_mm

    @property
    def bore_mm(self) -> float:
        """Of the fixed plate: the spigot's fit round the socket."""
        return self.socket.outer_diameter_mm + SPIGOT_FIT_MM

    @cached_property
    def _layout(self) -> tuple[float, tuple[Ring, ...]]:
        """Radius of the smallest hole circle and the rings of half a turn, for the smallest plate."""
        inside = max(self.socket.outer_diameter_mm + 2 * PROUD_MM, self.around_mm)
        first = max(
            inside / 2 + HEAD_ROOM_MM + hexagon(self.bolt).across_corners_mm / 2,
            self.bore_mm / 2 + EDGE * self.hole_mm,
        )
        wanted = self.positions // 2 if self.positions % 2 == 0 else self.positions
        best: tuple[float, float, tuple[Ring, ...]] | None = None
        radius, edge_mm = first, EDGE * self.hole_mm
        while radius + edge_mm < (best[0] if best else self.most_diameter_mm / 2 + 1e-9):
            gap = least_angle_deg(radius, self.hole_mm, SPACING)
            room = (best[0] if best else self.most_diameter_mm / 2) - radius - edge_mm
            fit = min(MOST_CIRCLES, 1 + math.floor(room / self.circle_pitch_mm + 1e-9))
            try:
                found = rings(wanted, HALF_TURN, gap, gap, fit)
            except ValueError:
                found = ()
            edge = radius + (len(found) - 1) * self.circle_pitch_mm + edge_mm
            if found and (best is None or edge < best[0] - 1e-9):
                best = (edge, radius, found)
            radius += 1.0
        if best is None:
            raise ValueError(
                f"{self.positions} settings for pairs of {self.bolt} bolts do not fit on plates of "
                f"{self.most_diameter_mm:g} mm; use a smaller bolt, fewer teeth or a larger plate"
            )
        return best[1], best[2] if self.hand == "left" else mirrored(best[2], HALF_TURN)

    @property
    def circles_mm(self) -> tuple[float, ...]:
        """Radius of each hole circle."""
        radius, found = self._layout
        return tuple(radius + k * self.circle_pitch_mm for k in range(len(found)))

    @property
    def diameter_mm(self) -> float:
        return 2 * (self.circles_mm[-1] + EDGE * self.hole_mm)

    def angles_deg(self, which: str) -> tuple[tuple[float, ...], ...]:
        """Angles of a plate's holes, circle by circle: "turning" or "fixed"."""
        pick = {"turning": "second", "fixed": "first"}[which]
        return tuple(
            tuple(sorted((a + half) % 360 for a in getattr(r, pick) for half in (0.0, HALF_TURN)))
            for r in self._layout[1]
        )

    def in_line(self, teeth: int = 0) -> list[tuple[int, float, float]]:
        """Pairs of holes that meet when the turning plate has turned by `teeth` steps right-handed about z:
        circle from 1, angle in the turning plate, angle in the fixed one; a hole and then its twin across."""
        return self._meeting.get(teeth % self.positions, [])

    @cached_property
    def _meeting(self) -> dict[int, list[tuple[int, float, float]]]:
        """By the steps from 0 that the turning plate has turned."""
        found: dict[int, list[tuple[int, float, float]]] = {}
        step, sign = 360 / self.positions, 1 if self.hand == "left" else -1
        for k, (turning, fixed) in enumerate(
            zip(self.angles_deg("turning"), self.angles_deg("fixed"), strict=True), 1
        ):
            for f in fixed:
                for t in turning:
                    teeth = round((f - t) / step)
                    if abs(t + teeth * step - f) < 1e-6:
                        found.setdefault(teeth % self.positions, []).append((k, t, f))

        def order(p):
            half = p[2] % HALF_TURN
            return p[0], round(min(half, HALF_TURN - half), 6), round(sign * half, 6), p[2] >= HALF_TURN

        return {teeth: sorted(pairs, key=order) for teeth, pairs in found.items()}

    def bolts(self, teeth: int = 0) -> list[tuple[int, float, float]]:
        """The two to bolt at a setting: one pair of holes and its twin straight across the axis."""
        return self.in_line(teeth)[:2]

    def places_mm(self, teeth: int = 0) -> np.ndarray:
        """Centres of those bolts in the fixed plate, (2, 2)."""
        pairs = self.bolts(teeth)
        radius = np.array([self.circles_mm[k - 1] for k, _, _ in pairs])
        angle = np.radians([f for _, _, f in pairs])
        return np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))

    def holds(self, teeth: int) -> bool:
        """Whether the bolts of a setting can hold a torque at all."""
        try:
            torque_forces_n(self.places_mm(teeth), 1.0)
        except ValueError:
            return False
        return True

    @cached_property
    def worst(self) -> tuple[int, float]:
        """The setting whose bolts bear most, and the greatest bolt force for a torque of 1 N·mm there, about
        the bolts' own centroid: nothing counts on the spigot. ValueError where a setting cannot hold."""
        forces = [
            float(np.hypot(*torque_forces_n(self.places_mm(k), 1.0)[0].T).max())
            for k in range(self.positions)
        ]
        k = int(np.argmax(forces))
        return k, forces[k]

    @property
    def always_holds(self) -> bool:
        """Whether the bolts of every setting can hold a torque."""
        try:
            return self.worst[1] > 0
        except ValueError:
            return False

    @property
    def bolts_in_line(self) -> int:
        """Bolts at one setting, the fewest of all: one pair."""
        return min(len(self.bolts(k)) for k in range(self.positions))

    def torque_nm(self, shear_per_plane_n: float) -> float:
        """Torque of the bolts at the worst setting, single shear."""
        return shear_per_plane_n / self.worst[1] / 1000

    def outline(self, plate: str = "turning") -> Outline:
        """The "turning" plate (round hole that the socket goes through, second set of holes) or the "fixed"
        one (bore that centres the socket, first set)."""
        holes = [
            Hole(
                r * math.cos(math.radians(a)),
                r * math.sin(math.radians(a)),
                self.hole_mm,
                f"clocking {k + 1}",
                "reamed",
            )
            for k, (r, angles) in enumerate(zip(self.circles_mm, self.angles_deg(plate), strict=True))
            for a in angles
        ]
        middle = (
            Hole(0.0, 0.0, self.socket.outer_diameter_mm, "socket goes through")
            if plate == "turning"
            else Hole(0.0, 0.0, self.bore_mm, "spigot")
        )
        mark = Mark("line", ((self.bore_mm / 2, 0.0), (self.diameter_mm / 2, 0.0)))
        return Outline(circle(0, 0, self.diameter_mm), (), (middle, *holes), (mark,))

    def face_mm(self, plate: str) -> float:
        """Where a plate's side towards the rocker lies, from the socket's mouth."""
        turning = self.socket.depth_mm - PROUD_MM - self.thickness_mm
        return turning if plate == "turning" else turning - self.thickness_mm

    def form(self) -> Form:
        return Form(
            tuple(
                Prism(self.outline(p), self.thickness_mm, Frame((0.0, 0.0, self.face_mm(p))))
                for p in ("turning", "fixed")
            )
        )

    @property
    def volume_mm3(self) -> float:
        return (self.outline("turning").area_mm2 + self.outline("fixed").area_mm2) * self.thickness_mm

    @property
    def centroid(self) -> Vector:
        f = self.form()
        total = [sum(p.volume_mm3 * p.centroid[i] for p in f.pieces) / self.volume_mm3 for i in range(3)]
        return total[0], total[1], total[2]
