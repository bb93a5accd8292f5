"""Bolts worked out from what they clamp: grip, length, thread, washers, so that the plain shank spans every
shear plane.

Lengths mm from the head's bearing face, masses kg. A bolt of ISO 4014 of nominal length l has a thread of b =
2d + 6 (l up to 125), 2d + 12 (to 200) or 2d + 25; its grip to the first full thread is at most l - b, its
plain shank at least l - b - 5P. Those rules and the list of lengths are from memory: lay the bolt in hand
beside the stack before it is bought by the dozen.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT, DAMPER_EYE, ROD_EYE
from assemblies.layout.placing import Layout
from parts.arm import SLEEVE_WALL_MM
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3, hexagon, thread, washer
from parts.fastener import BoltAndNut, bolt_of
from parts.shape.form import Vector, vector

LENGTHS_MM = (
    16,
    20,
    25,
    30,
    35,
    40,
    45,
    50,
    55,
    60,
    65,
    70,
    80,
    90,
    100,
    110,
    120,
    130,
    140,
    150,
    160,
    180,
    200,
)  # ISO 4014, from memory
PROTRUDING_PITCHES = 2  # thread beyond the nut, common practice
MOST_WASHERS = 3  # more under one nut is a collar
SPACER_WALL_MM = SLEEVE_WALL_MM
SLEEVE = "inner sleeve"


@dataclass(frozen=True)
class Layer:
    """One thing on the bolt, head to nut; a shear plane lies wherever `sheared` changes from one layer to the
    next."""

    what: str
    thickness_mm: float
    sheared: bool  # carries the plates' side of the load


@dataclass(frozen=True)
class BoltedJoint:
    """A bolted joint: its layers without the washers under head and nut, where it stands and what it moves
    with.

    `places`, one a bolt: the first layer's outer face on the bolt's axis, and the direction from there to the
    last layer."""

    name: str
    size: str
    layers: tuple[Layer, ...]
    point: Vector
    carrier: str
    count: int = 1
    places: tuple[tuple[Vector, Vector], ...] = ()

    @property
    def stack_mm(self) -> float:
        return sum(x.thickness_mm for x in self.layers)

    @property
    def planes_mm(self) -> tuple[float, ...]:
        """Shear planes from the first layer's outer face."""
        out, at = [], 0.0
        for a, b in zip(self.layers, self.layers[1:], strict=False):
            at += a.thickness_mm
            if a.sheared != b.sheared:
                out.append(at)
        return tuple(out)


@dataclass(frozen=True)
class Fastener:
    """The bolt for a joint, one washer under the head, `nut_washers` under the nut and a collar where washers
    do not reach."""

    joint: BoltedJoint
    length_mm: float
    thread_mm: float
    plain_mm: float  # least plain shank
    grip_mm: float  # clamped: stack, washers, collar
    nut_washers: int
    collar_mm: float
    last_plane_mm: float  # from the head's bearing face

    @property
    def washers(self) -> int:
        return 1 + self.nut_washers

    @property
    def thread_in_last_plate_mm(self) -> float:
        """Length of the last layer that may bear on thread; 0 where the plain shank passes it all."""
        ends = washer(self.joint.size).thickness_mm + self.joint.stack_mm
        return max(0.0, ends - self.plain_mm)

    @property
    def body(self) -> BoltAndNut:
        """The bolt as a thing with a shape."""
        return BoltAndNut(
            self.joint.size, self.length_mm, self.joint.stack_mm, self.nut_washers, self.collar_mm
        )

    @property
    def bolt_kg(self) -> float:
        """Hexagon head and a full shank: thread counted full, a little over."""
        return self.body.bolt_mm3 * DENSITY_KG_M3 * 1e-9

    @property
    def nut_kg(self) -> float:
        return self.body.nut_mm3 * DENSITY_KG_M3 * 1e-9

    @property
    def washer_kg(self) -> float:
        return ring_kg(
            washer(self.joint.size).outer_mm,
            washer(self.joint.size).inner_mm,
            washer(self.joint.size).thickness_mm,
        )

    @property
    def collar_kg(self) -> float:
        w = washer(self.joint.size)
        return ring_kg(w.outer_mm, w.inner_mm, self.collar_mm)

    @property
    def mass_kg(self) -> float:
        """One bolt with its nut, washers and collar."""
        return self.body.mass_kg


def thread_length_mm(diameter_mm: float, length_mm: float) -> float:
    """b of ISO 4014 (from memory): 2d + 6 up to 125 mm, 2d + 12 to 200, 2d + 25 beyond.

    >>> thread_length_mm(10, 80), thread_length_mm(10, 130)
    (26, 32)
    """
    return 2 * diameter_mm + (6 if length_mm <= 125 else 12 if length_mm <= 200 else 25)


def fastener(joint: BoltedJoint) -> Fastener:
    """The shortest listed bolt whose plain shank passes the last shear plane at its least, packed so that the
    nut tightens before the thread ends. Raises ValueError where no listed length reaches or a layer has no
    thickness."""
    for layer in joint.layers:
        if layer.thickness_mm < 0:
            raise ValueError(
                f"{joint.name}: {layer.what} is {layer.thickness_mm:g} mm; there is no room for it"
            )
    t, w, nut = thread(joint.size), washer(joint.size).thickness_mm, hexagon(joint.size).nut_mm
    last = w + (joint.planes_mm[-1] if joint.planes_mm else 0.0)
    for length in LENGTHS_MM:
        b = thread_length_mm(t.diameter_mm, length)
        to_thread, plain = length - b, length - b - 5 * t.pitch_mm
        if plain < last - 1e-9:
            continue
        packing = max(w, to_thread - w - joint.stack_mm)  # under the nut
        washers = max(1, math.ceil(packing / w - 1e-9))
        collar = 0.0
        if washers > MOST_WASHERS:
            washers, collar = 1, math.ceil(2 * (packing - w) - 1e-9) / 2
        grip = w + joint.stack_mm + washers * w + collar
        if length >= grip + nut + PROTRUDING_PITCHES * t.pitch_mm - 1e-9:
            return Fastener(joint, float(length), b, plain, grip, washers, collar, last)
    raise ValueError(
        f"{joint.name}: a stack of {joint.stack_mm:g} mm needs a bolt longer than {LENGTHS_MM[-1]} mm"
    )


def ring_kg(outer_mm: float, inner_mm: float, length_mm: float) -> float:
    return math.pi / 4 * (outer_mm**2 - inner_mm**2) * length_mm * DENSITY_KG_M3 * 1e-9


# ------------------------------------------------------------ a corner's joints


def joints(layout: Layout) -> tuple[list[BoltedJoint], list[str]]:
    """Every bolted joint that is laid out, and in words those that are not."""
    job = layout.job
    out: list[BoltedJoint] = []
    refused = []
    for make in (_rocker_joints, _lug_joints, _bracket_joints, _spring_joints):
        try:
            out += make(layout)
        except ValueError as e:
            refused.append(str(e))
    open_ = [
        *([] if layout.lug else [f"rod to {job.rod.on.replace('_', ' ')}: its lug is not laid out"]),
        *([] if layout.pivot else ["rocker's pivot: spindle and bushes are not laid out"]),
        "outer joints of the arms, tie rod's ends: not laid out",
        *refused,
    ]
    return out, open_


def _rocker_joints(layout: Layout) -> list[BoltedJoint]:
    job, r, eyes = layout.job, layout.rocker, layout.eyes
    if r is None or eyes is None or layout.rod is None:
        return []
    t, gap = r.plate.thickness_mm, r.box_width_mm
    out = []
    for name, hole, what, width, offset, point in (
        (
            ROD_EYE,
            r.plate.rod_hole_mm,
            "rod end's ball",
            layout.rod.rod_end.ball_width_mm,
            eyes.rod_offset_mm,
            job.rod.inboard,
        ),
        (
            DAMPER_EYE,
            r.plate.damper_hole_mm,
            "damper's eye",
            job.damper.eye_width,
            eyes.damper_offset_mm,
            job.rocker.damper_eye,
        ),
    ):
        layers = (
            Layer("plate", t, True),
            Layer("spacer", gap / 2 + offset - width / 2, False),
            Layer(what, width, False),
            Layer("spacer", gap / 2 - offset - width / 2, False),
            Layer("plate", t, True),
        )
        axis = np.array(eyes.frame.z)
        start = np.array(point) - (offset + gap / 2 + t) * axis
        out.append(
            BoltedJoint(name, bolt_of(hole), layers, vector(point), "rocker", places=(_place(start, axis),))
        )
    return out


def _lug_joints(layout: Layout) -> list[BoltedJoint]:
    lug, rod = layout.lug, layout.job.rod
    if lug is None:
        return []
    low, high = layout.lug_sleeves
    spacer = Layer("spacer", (lug.gap_mm - rod.rod_end.ball_width) / 2, False)
    layers = (
        Layer("sleeve", low.part.length_mm, True),
        spacer,
        Layer("rod end's ball", rod.rod_end.ball_width, False),
        spacer,
        Layer("sleeve", high.part.length_mm, True),
    )
    along = np.array(high.frame.z)
    return [
        BoltedJoint(
            "rod lug",
            bolt_of(rod.rod_end.bore),
            layers,
            rod.outboard,
            rod.on,
            places=(_place(np.array(low.frame.origin) - low.part.length_mm * along, along),),
        )
    ]


def _place(start, axis) -> tuple[Vector, Vector]:
    axis = np.asarray(axis, float)
    return vector(start), vector(axis / np.sqrt(axis @ axis))


def _bracket_joints(layout: Layout) -> list[BoltedJoint]:
    job, out = layout.job, []
    for seat in layout.seats:
        low, high = seat.tabs
        gap = tab_gap_mm(low.part, high.part)
        between: tuple[Layer, ...]
        if seat.body in ("upper_arm", "lower_arm"):
            size = getattr(job, seat.body).thread
            between = (Layer(SLEEVE, gap, False),)  # clamped; bush and housing turn on it
        elif seat.body == "rocker":
            size = job.pivot.bolt
            between = (Layer("pivot sleeve", gap, False),)  # clamped; the rocker turns on it
        else:
            width, size = job.damper.eye_width, bolt_of(job.rocker.damper_hole)
            spacer = Layer("spacer", (gap - width) / 2, False)
            between = spacer, Layer("damper's eye", width, False), spacer
        layers = (
            Layer("tab", low.part.thickness_mm, True),
            *between,
            Layer("tab", high.part.thickness_mm, True),
        )
        out.append(
            BoltedJoint(
                seat.bracket,
                size,
                layers,
                seat.point,
                "frame",
                places=(_place(low.frame.origin, low.frame.z),),
            )
        )
    return out


def tab_gap_mm(low, high) -> float:
    """Between the inner faces of two tabs of a pair."""
    apart = np.array(high.frame.origin) - np.array(low.frame.origin)
    return float(apart @ np.array(low.frame.z)) - low.thickness_mm


def _spring_joints(layout: Layout) -> list[BoltedJoint]:
    tube = layout.sleeve_outer
    if tube is None:
        return []
    s = tube.part
    wall = (s.outer_mm - s.inner_mm) / 2
    row, angle, _ = s.setting(0)  # as drawn: the design setting
    z = next(h.z_mm for h in s.holes("inner") if h.row == row and h.angle_deg == angle)
    m, turn = tube.frame.matrix(), math.radians(angle)
    across = m[:3, 0] * math.cos(turn) + m[:3, 1] * math.sin(turn)
    start = m[:3, 3] + z * m[:3, 2] - s.outer_mm / 2 * across
    out = [
        BoltedJoint(
            CROSS_BOLT,
            s.bolt,
            (
                Layer("sleeve's wall", wall, True),
                Layer("inner tube", s.inner_mm, False),
                Layer("sleeve's wall", wall, True),
            ),
            tube.centre_of_gravity_mm,
            "rocker",
            places=(_place(start, across),),
        )
    ]
    if layout.anchor_plates:
        turning, fixed = layout.anchor_plates
        a, m = turning.part, fixed.frame.matrix()
        places = tuple(_place((m @ (x, y, 0.0, 1.0))[:3], m[:3, 2]) for x, y in a.places_mm().tolist())
        out.append(
            BoltedJoint(
                ANCHOR_PLATES,
                a.bolt,
                (Layer("fixed plate", a.thickness_mm, True), Layer("turning plate", a.thickness_mm, False)),
                fixed.centre_of_gravity_mm,
                "frame",
                a.bolts_in_line,
                places,
            )
        )
    return out


def fasteners(layout: Layout) -> tuple[list[Fastener], list[str]]:
    """A bolt for every joint that can have one; in words what is open."""
    found, open_ = joints(layout)
    out = []
    for j in found:
        try:
            out.append(fastener(j))
        except ValueError as e:
            open_.append(str(e))
    return out, open_


def spacers(layout: Layout) -> list[tuple[BoltedJoint, Layer, int]]:
    """Spacers beside rod end and damper's eyes, inner sleeves of the arms' bushes: joint, layer, how many
    alike on that bolt."""
    out = []
    for j in joints(layout)[0]:
        by_length: dict[float, list[Layer]] = {}
        for layer in j.layers:
            if layer.what in ("spacer", SLEEVE) and layer.thickness_mm > 1e-6:
                by_length.setdefault(round(layer.thickness_mm, 3), []).append(layer)
        out += [(j, same[0], len(same) * j.count) for same in by_length.values()]
    return out


def spacer_kg(joint: BoltedJoint, layer: Layer) -> float:
    """One spacer or inner sleeve: bored to the bolt, `SPACER_WALL_MM` thick."""
    bore = thread(joint.size).diameter_mm
    return ring_kg(bore + 2 * SPACER_WALL_MM, bore, layer.thickness_mm)
