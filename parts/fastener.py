"""A bolt with its nut and washers as one body, and the tools that turn its ends.

Local axes: origin on the bolt's axis at the first clamped face (under the head's washer), z from head to nut.
Sizes are those of the tables in `stock`: hexagons ISO 4014/4032, plain washers ISO 7089. The hexagons' turn
on the axis is unknown: for gaps the `envelope` takes the round through their corners, which no turn leaves.
"""

from __future__ import annotations

import math
from functools import cached_property, lru_cache

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import Hexagon, Thread, Washer, hexagon, thread, washer
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Piece, Prism, Round, Vector
from parts.shape.outline import Hole, Loop, Outline, Vertex
from parts.shape.shapes import hexagon as hexagon_loop

SHANK = {"M5": 5.0, "M6": 6.0, "M8": 8.0, "M10": 10.0, "M12": 12.0, "M14": 14.0, "M16": 16.0, "M20": 20.0}


def bolt_of(hole_mm: float) -> str:
    """The bolt of a finished hole: the largest whose shank passes it."""
    fitting = [name for name, shank in SHANK.items() if shank <= hole_mm + 1e-9]
    if not fitting:
        raise ValueError(f"hole is {hole_mm:g} mm; the smallest bolt listed here needs 5 mm")
    return fitting[-1]


@dataclass(frozen=True)
class BoltAndNut(SteelPart):
    """`stack_mm` is what the plates, spacers and bearings between the two washers measure; `length_mm` the
    bolt's nominal length from under its head. `nut_washers` lie under the nut, beyond a `collar_mm` of the
    washers' section where there is one.

    Raises ValueError where the bolt does not reach through its nut."""

    size: str
    length_mm: float
    stack_mm: float
    nut_washers: int = 1
    collar_mm: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(length_mm=self.length_mm, stack_mm=self.stack_mm, nut_washers=self.nut_washers)
        if not self.collar_mm >= 0:
            raise ValueError(f"collar is {self.collar_mm:g} mm; it must be at least 0")
        require.at_least(
            "length_mm",
            self.length_mm,
            self.nut_end_mm + self.ring.thickness_mm,
            f"through {self.stack_mm:g} mm, washers and nut; take a longer bolt",
        )

    @property
    def hexagon(self) -> Hexagon:
        return hexagon(self.size)

    @property
    def ring(self) -> Washer:
        return washer(self.size)

    @property
    def screw(self) -> Thread:
        return thread(self.size)

    @property
    def head_seat_mm(self) -> float:
        """z of the head's bearing face."""
        return -self.ring.thickness_mm

    @property
    def head_end_mm(self) -> float:
        return self.head_seat_mm - self.hexagon.head_mm

    @property
    def packing_mm(self) -> float:
        """Collar and washers under the nut."""
        return self.collar_mm + self.nut_washers * self.ring.thickness_mm

    @property
    def nut_seat_mm(self) -> float:
        return self.stack_mm + self.packing_mm

    @property
    def nut_end_mm(self) -> float:
        return self.nut_seat_mm + self.hexagon.nut_mm

    @property
    def tip_mm(self) -> float:
        """z of the thread's end."""
        return self.head_seat_mm + self.length_mm

    def form(self) -> Form:
        """Hexagons with a flat's normal along x; thread at its full diameter, chamfers left off."""
        h, w, d = self.hexagon, self.ring, self.screw.diameter_mm
        flat = Outline(hexagon_loop(h.across_flats_mm))
        nut = Outline(flat.outer, holes=(Hole(0.0, 0.0, d, "thread"),))
        pieces: list[Piece] = [
            Prism(flat, h.head_mm, _at(self.head_end_mm)),
            Round(w.outer_mm, w.thickness_mm, w.inner_mm, _at(self.head_seat_mm)),
            Round(d, self.length_mm, 0.0, _at(self.head_seat_mm)),
            Round(w.outer_mm, self.packing_mm, w.inner_mm, _at(self.stack_mm)),
            Prism(nut, h.nut_mm, _at(self.nut_seat_mm)),
        ]
        return Form(tuple(pieces))

    def envelope(self) -> Form:
        """What it can occupy, however its hexagons are turned."""
        return Form(
            (
                *self.head_envelope().pieces,
                *self.shank().pieces,
                *self.nut_envelope().pieces,
            )
        )

    def shank(self) -> Form:
        """What stands between the washers."""
        return Form((Round(self.screw.diameter_mm, self.stack_mm),))

    def head_envelope(self) -> Form:
        """Head and its washer."""
        h, w = self.hexagon, self.ring
        return Form(
            (
                Round(w.outer_mm, w.thickness_mm, 0.0, _at(self.head_seat_mm)),
                Round(h.across_corners_mm, h.head_mm, 0.0, _at(self.head_end_mm)),
            )
        )

    def nut_envelope(self) -> Form:
        """Washers, collar, nut and the thread beyond it."""
        h, w = self.hexagon, self.ring
        past = self.tip_mm - self.nut_end_mm
        thread_end = (Round(self.screw.diameter_mm, past, 0.0, _at(self.nut_end_mm)),) if past > 1e-9 else ()
        return Form(
            (
                Round(w.outer_mm, self.packing_mm, 0.0, _at(self.stack_mm)),
                Round(h.across_corners_mm, h.nut_mm, 0.0, _at(self.nut_seat_mm)),
                *thread_end,
            )
        )

    @property
    def bolt_mm3(self) -> float:
        """Hexagon √3/2·s²·k and a full shank."""
        h = self.hexagon
        return (
            math.sqrt(3) / 2 * h.across_flats_mm**2 * h.head_mm
            + math.pi / 4 * self.screw.diameter_mm**2 * self.length_mm
        )

    @property
    def nut_mm3(self) -> float:
        h = self.hexagon
        return (math.sqrt(3) / 2 * h.across_flats_mm**2 - math.pi / 4 * self.screw.diameter_mm**2) * h.nut_mm

    @property
    def volume_mm3(self) -> float:
        w = self.ring
        return (
            self.bolt_mm3
            + self.nut_mm3
            + math.pi / 4 * (w.outer_mm**2 - w.inner_mm**2) * (w.thickness_mm + self.packing_mm)
        )

    @cached_property
    def centroid(self) -> Vector:
        return 0.0, 0.0, sum(p.volume_mm3 * p.centroid[2] for p in self.form().pieces) / self.volume_mm3


def _at(z: float) -> Frame:
    return Frame((0.0, 0.0, z))


# ------------------------------------------------------------------------------------------------ tools

# Hand tools from memory, typical of their kind: measure the one in hand where a millimetre decides.
SOCKETS_MM: dict[float, float] = {
    8: 17,
    10: 17,
    13: 19,
    16: 23,
    18: 25.5,
    21: 29,
    24: 33,
    27: 36,
    30: 40,
}  # across flats: outside
SOCKET_LENGTH_MM = 38.0
EXTENSION_DIAMETER_MM, EXTENSION_LENGTH_MM = 14.0, 125.0  # between socket and ratchet
RATCHET_DIAMETER_MM, RATCHET_HEIGHT_MM = 36.0, 30.0  # its head; the handle stands beyond it
SWING_DEG = 30.0  # of an open spanner between turns over: its jaw stands at 15 deg


@dataclass(frozen=True)
class Spanner:
    """An open-ended spanner: jaw's outside, nut's centre to the jaw's tips, handle's width, thickness, nut's
    centre to its end."""

    jaw_mm: float
    tips_mm: float
    handle_mm: float
    thickness_mm: float
    length_mm: float


def spanner(across_flats_mm: float) -> Spanner:
    """Typical of its size, from memory: jaw 2.2·s, tips 0.65·s, handle 0.8·s, thickness 0.35·s + 1.5, length
    10·s + 40.

    >>> spanner(13)
    Spanner(jaw_mm=28.6, tips_mm=8.45, handle_mm=10.4, thickness_mm=6.05, length_mm=170.0)
    """
    require.positive(across_flats_mm=across_flats_mm)
    s = across_flats_mm
    return Spanner(
        round(2.2 * s, 6), round(0.65 * s, 6), round(0.8 * s, 6), round(0.35 * s + 1.5, 6), 10.0 * s + 40
    )


@lru_cache(maxsize=256)
def socket_form(across_flats_mm: float, least_length_mm: float = 0.0, extension: bool = False) -> Form:
    """A socket with a ratchet's head on it, from its mouth at z = 0 outward along z; as deep as what it goes
    over asks.

    Raises ValueError for a size without a row."""
    if across_flats_mm not in SOCKETS_MM:
        raise ValueError(
            f"socket is {across_flats_mm:g} mm across flats; known: {', '.join(f'{k:g}' for k in SOCKETS_MM)}"
        )
    length = max(SOCKET_LENGTH_MM, least_length_mm)
    between = (Round(EXTENSION_DIAMETER_MM, EXTENSION_LENGTH_MM, 0.0, _at(length)),) if extension else ()
    ratchet = Round(
        RATCHET_DIAMETER_MM, RATCHET_HEIGHT_MM, 0.0, _at(length + (EXTENSION_LENGTH_MM if extension else 0.0))
    )
    return Form((Round(SOCKETS_MM[across_flats_mm], length), *between, ratchet))


@lru_cache(maxsize=1024)
def spanner_form(across_flats_mm: float, bearing_deg: float, swing_deg: float = SWING_DEG) -> Form:
    """What a spanner sweeps, its jaw on z = 0 round the nut's axis and its handle within `swing_deg` about
    `bearing_deg` from x."""
    tool = spanner(across_flats_mm)
    return Form(
        tuple(Prism(shape(tool, bearing_deg, swing_deg), tool.thickness_mm) for shape in (_jaw, _handle))
    )


def _jaw(tool: Spanner, bearing_deg: float, swing_deg: float) -> Outline:
    """A disc cut straight at the tips, opposite the handle, and what is left of the cut at both ends of the
    swing."""
    r = tool.jaw_mm / 2
    end = math.pi - math.acos(tool.tips_mm / r) + math.radians(swing_deg / 2)
    b = math.radians(bearing_deg)
    return Outline(
        Loop(
            tuple(
                Vertex(r * math.cos(b + a), r * math.sin(b + a), bulge)
                for a, bulge in ((-end, math.tan(end / 4)), (0.0, math.tan(end / 4)), (end, 0.0))
            )
        )
    )


def _handle(tool: Spanner, bearing_deg: float, swing_deg: float) -> Outline:
    """Convex outline round a straight handle in every place of its swing: its sides at both ends, tangents
    along the tip's arc."""
    half, turn, lean = (
        tool.handle_mm / 2,
        math.radians(swing_deg / 2),
        math.atan2(tool.handle_mm / 2, tool.length_mm),
    )
    tip, span = math.hypot(tool.length_mm, half), turn + lean
    tangents = math.ceil(span / math.radians(10))
    step = 2 * span / tangents
    corners = [
        (tip, -span),
        *((tip / math.cos(step / 2), -span + (k + 0.5) * step) for k in range(tangents)),
        (tip, span),
        (half, turn + math.pi / 2),
        (half, -turn - math.pi / 2),
    ]
    b = math.radians(bearing_deg)
    return Outline(Loop(tuple(Vertex(r * math.cos(b + a), r * math.sin(b + a)) for r, a in corners)))
