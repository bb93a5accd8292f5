"""One of each part, of everyday size: for the reference's pictures, and tests of what all parts can."""

from __future__ import annotations

from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.arm import Arm
from parts.clevis import Clevis
from parts.corner_gusset import CornerGusset
from parts.damper import Damper
from parts.damper_bracket import damper_bracket
from parts.eye_plate import Eye, EyePlate
from parts.fastener import BoltAndNut
from parts.gusset import Gusset
from parts.jig import bracket_jig
from parts.member import Member
from parts.other_hand import other_hand
from parts.part import Part
from parts.pivot_ring import PivotRing
from parts.pivot_tube import PivotTube
from parts.plate import Plate
from parts.rack_extension import RackExtension
from parts.rocker_plate import RockerPlate
from parts.rod import Rod
from parts.rod_lug import rod_lug
from parts.shape.outline import Hole, Outline, rectangle
from parts.spacer import Spacer
from parts.spring_pack import LeafPack, TorsionBar
from parts.spring_socket import SpringSocket
from parts.wheel import Wheel

DAMPER = Damper(300, 210, 46, eye_diameter_mm=24)
POST = Member.square((1748, 0, 90), (1748, 0, 362), 30, 2)
ROCKER = RockerPlate((92, 0), (-9.5, 69.3), 4, 38, 10, 10)
BRACKET = damper_bracket(DAMPER, (1748, 34, 252), (1, 0, 0), {"post": POST})[1]
ARM = Arm((300, 115), (300, -115), 22)
FLOOR, WALL = ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
EYES = (Eye((0, 0), 38, "pivot", fit="weld"), Eye((90, 0), 10), Eye((0, 70), 10), Eye((-60, -20), 8))
SAMPLES: tuple[Part, ...] = (
    ROCKER,
    EyePlate(EYES, 4),
    Plate(Outline(rectangle(0, 0, 60, 40, 5), holes=(Hole(20, 20, 10, "bolt"),)), 4),
    Gusset(20, 60, 36, 3, 30),
    CornerGusset((FLOOR, WALL), (60, 50), 3),
    AdjusterSleeve.around(38, 3, 24),
    PivotTube(38, 3, 36, 4),
    PivotRing(30, 20, 10),
    Spacer.of("M10", 12),
    Clevis(22, 40),
    Member.square((0, 0, 0), (0, 300, 0), 30, 2),
    Rod(300, 20, 2.5, "M10"),
    LeafPack(4, 20, 4.5, 400),
    TorsionBar(20, 400, end_mm=24),
    SpringSocket(20, 20, 60),
    Arm((250, 250), (250, -250), 22, boss_diameter_mm=60, housing_length_mm=90),
    RackExtension(60, 24, "M14", 21),
    other_hand(ROCKER),
    DAMPER,
    BRACKET,
    AnchorPlates(SpringSocket(20, 20, 60), 12),
    BoltAndNut("M10", 50, 30),
    Wheel(280, 170, 330, mass_kg=15),
    BRACKET.tabs[0],
    rod_lug(ARM, (66, 1, -2), (0, 1, 0), 14, "M10"),
    bracket_jig("jig of a damper bracket", *BRACKET.tabs, inside_gap_mm=26, bolt_mm=10),
)
