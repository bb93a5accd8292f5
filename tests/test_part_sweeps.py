"""Every part over its parameters: one valid, watertight solid that weighs what a formula by hand says, a
blank as large as the solid's face; else a ValueError with a number in it, never the kernel's own.

The formulas are plain geometry, written here and not taken from the parts. `pytest -m slow` sweeps far."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.arm import Arm
from parts.base.stock import thread
from parts.clevis import Clevis
from parts.corner_gusset import CornerGusset
from parts.damper import Damper
from parts.damper_bracket import damper_bracket
from parts.eye_plate import Eye, EyePlate
from parts.fastener import BoltAndNut
from parts.files.solid import volume_mm3
from parts.gusset import Gusset
from parts.member import Member
from parts.part import Flat
from parts.pivot_ring import PivotRing
from parts.pivot_tube import PivotTube
from parts.rack_extension import RackExtension
from parts.rocker_plate import RockerPlate
from parts.rod import Rod
from parts.rod_lug import rod_lug
from parts.spacer import Spacer
from parts.spring_pack import LeafPack, TorsionBar
from parts.spring_socket import SpringSocket
from parts.wheel import Wheel

DISC, HEX = math.pi / 4, math.sqrt(3) / 2
STEEL = 7850e-9  # kg/mm³


def mm(low: float, high: float):
    return st.floats(low, high).map(lambda v: round(v, 3))


def ring(outer: float, bore: float, length: float) -> float:
    return DISC * (outer**2 - bore**2) * length


def _gusset(p: Gusset) -> float:
    return (p.length_mm * p.width_mm - 2 * p.corner_mm**2) * p.thickness_mm


def _box(p: Member) -> float:
    s = p.section
    r, q = s.outer_corner_mm, max(s.outer_corner_mm - s.wall_mm, 0.0)
    if not s.wall_mm:
        return s.width_mm * s.height_mm * math.dist(p.from_, p.to)
    inner = (s.width_mm - 2 * s.wall_mm) * (s.height_mm - 2 * s.wall_mm) - (4 - math.pi) * q**2
    return (s.width_mm * s.height_mm - (4 - math.pi) * r**2 - inner) * math.dist(p.from_, p.to)


def _socket(p: SpringSocket) -> float:
    """Disc less window; a corner of inside angle A gives back r²·(cot(A/2) - (π - A)/2)."""
    b, h, r = p.width_mm + p.clearance_mm, p.height_mm + p.clearance_mm, p.corner_radius_mm
    six = HEX * b**2 - r**2 * (6 / math.sqrt(3) - math.pi)
    window = six if p.height_mm == 0 else b * h - (4 - math.pi) * r**2
    count = math.ceil((p.width_mm + r) / p.plate_thickness_mm - 1e-9)
    return (DISC * p.outer_diameter_mm**2 - window) * p.plate_thickness_mm * count


def _bar(p: TorsionBar) -> float:
    bore = DISC * (p.diameter_mm - 2 * p.wall_mm) ** 2 if p.wall_mm else 0.0
    heads = 2 * (HEX * p.across_flats_mm**2 - bore) * p.socket_mm
    return heads + (DISC * p.diameter_mm**2 - bore) * p.length_mm


def _fork(p: Clevis) -> float:
    """Cheeks: a foot as wide as the boss, straight to the disc, less the hole; the base."""
    cheek = 2 * p.boss_mm * p.reach_mm + math.pi * p.boss_mm**2 / 2 - DISC * p.hole**2
    return (2 * cheek + (p.gap_mm + 2 * p.thickness_mm) * 2 * p.boss_mm) * p.thickness_mm


def _web(p: CornerGusset) -> float:
    """Two planes square to each other, no gap: the triangle under the legs with blunt toes, less the relief's
    quarter disc."""
    (a, b), t = p.legs_mm, p.toe_mm
    polygon = [(0, 0), (a, 0), (a, t), (t, b), (0, b)]
    twice = sum(x * v - u * y for (x, y), (u, v) in zip(polygon, polygon[1:] + polygon[:1], strict=True))
    return (twice / 2 - DISC * p.relief_mm**2) * p.thickness_mm


def _bolt(p: BoltAndNut) -> float:
    h, w, d = p.hexagon, p.ring, p.screw.diameter_mm
    washers = ring(w.outer_mm, w.inner_mm, w.thickness_mm * (1 + p.nut_washers) + p.collar_mm)
    return (
        HEX * h.across_flats_mm**2 * (h.head_mm + h.nut_mm)
        - DISC * d**2 * h.nut_mm
        + washers
        + DISC * d**2 * p.length_mm
    )


def _extension(p: RackExtension) -> float:
    """The round and a male thread of its stress area, less the bore at the nut's minor diameter."""
    t, deep = thread(p.thread), min(p.engagement_mm, p.length_mm)
    return (
        DISC * p.diameter_mm**2 * p.length_mm
        + t.stress_area_mm2 * p.engagement_mm
        - DISC * t.nut_minor_mm**2 * deep
    )


THREADS = st.sampled_from(("M6", "M8", "M10", "M12"))
PLACE = st.tuples(mm(-90, 90), mm(-90, 90))
BRACKETS = st.builds(  # before, beside and past the end of a post that stands 90 to 362 high
    lambda eye, far, height, size: damper_bracket(
        Damper(300, 210, 46, eye_diameter_mm=eye),
        (1748, far, height),
        (1, 0, 0),
        {"post": Member.square((1748, 0, 90), (1748, 0, 362), size, 2)},
    )[1],
    mm(18, 34),
    mm(15, 70),
    mm(80, 380),
    mm(20, 50),
)
LUGS = st.builds(  # through the arm's tubes, or over them by what the bolt needs and a little more or less
    lambda tube, at, over, eye, bolt: rod_lug(
        Arm((300, 115), (300, -115), tube),
        (*at, (tube + float(bolt[1:])) / 2 + over if over else 0.0),
        (0, 1, 0),
        eye,
        bolt,
    ),
    mm(20, 30),
    st.tuples(mm(50, 110), mm(-8, 8)),
    st.just(0.0) | mm(-1, 6),
    mm(8, 20),
    st.sampled_from(("M6", "M8", "M10")),
)
# part: how it is made, its volume by hand (None: its own formula, held by a test of its own), tolerance
SWEEPS = {
    "rocker": (
        st.builds(
            RockerPlate,
            st.tuples(mm(40, 150), st.just(0.0)),
            st.tuples(mm(-60, 60), mm(30, 120)),
            mm(2, 8),
            mm(20, 50),
            mm(6, 14),
            mm(6, 14),
            window=st.booleans(),
            jig_hole_mm=st.sampled_from((0.0, 6.0)),
        ),
        None,
    ),
    "eye plate": (
        st.builds(
            EyePlate,
            st.lists(st.builds(Eye, PLACE, mm(5, 14)), min_size=2, max_size=6).map(tuple),
            mm(2, 8),
            st.none() | mm(20, 200),
        ),
        None,
    ),
    "gusset": (st.builds(Gusset, mm(10, 60), mm(10, 150), mm(10, 90), mm(1, 8), mm(-180, 180)), _gusset),
    "corner gusset": (
        st.builds(
            CornerGusset,
            st.just((((0, 0, 0), (0, 0, 1)), ((0, 0, 0), (1, 0, 0)))),
            st.tuples(mm(15, 120), mm(15, 120)),
            mm(1, 8),
            relief_mm=mm(0, 15),
            toe_mm=mm(0, 10),
            gap_mm=st.just(0.0),
        ),
        _web,
    ),
    "sleeve": (
        st.builds(AdjusterSleeve.around, mm(15, 48), mm(1.5, 6), st.integers(2, 30), THREADS),
        None,
    ),
    "anchor plates": (
        st.builds(
            AnchorPlates,
            st.builds(SpringSocket, mm(16, 30), st.sampled_from((0.0, 18.0)), mm(50, 70)),
            st.integers(6, 24),
            st.sampled_from(("M6", "M8")),
        ),
        None,
    ),
    "pivot tube": (
        st.builds(PivotTube, mm(15, 60), mm(1, 8), mm(10, 60), mm(2, 8), st.none() | mm(0, 9)),
        lambda p: ring(p.outer_mm, p.outer_mm - 2 * p.wall_mm, p.length_mm),
    ),
    "pivot ring": (
        st.builds(PivotRing, mm(5, 60), mm(0, 60), mm(1, 90)),
        lambda p: ring(p.outer_mm, p.bore_mm, p.length_mm),
    ),
    "spacer": (
        st.builds(Spacer.of, THREADS, mm(1, 60)),
        lambda p: ring(p.outer_mm, p.bore_mm, p.length_mm),
    ),
    "clevis": (st.builds(Clevis, mm(10, 60), mm(10, 90), THREADS, mm(2, 8)), _fork),
    "box tube": (
        st.builds(
            Member.rectangular,
            st.just((0.0, 0.0, 0.0)),
            st.tuples(mm(-300, 300), mm(-300, 300), mm(-300, 300)),
            mm(10, 80),
            mm(10, 80),
            mm(0, 9),
            mm(-90, 90),
        ),
        _box,
    ),
    "rod": (st.builds(Rod, mm(60, 500), mm(10, 30), mm(0, 6), THREADS), None),
    "leaves": (
        st.builds(LeafPack, st.integers(1, 8), mm(5, 40), mm(1, 8), mm(50, 900)),
        lambda p: p.leaves * p.width_mm * p.thickness_mm * (p.length_mm + 2 * p.width_mm),
    ),
    "bar": (st.builds(TorsionBar, mm(8, 40), mm(100, 900), mm(0, 8), end_mm=st.none() | mm(5, 60)), _bar),
    "socket": (
        st.builds(
            SpringSocket,
            mm(8, 40),
            st.just(0.0) | mm(3, 30),
            mm(20, 80),
            clearance_mm=mm(0.1, 1),
            corner_radius_mm=mm(0.5, 3),
        ),
        _socket,
    ),
    "arm": (
        st.builds(
            Arm,
            st.tuples(mm(80, 400), mm(-20, 250)),
            st.tuples(mm(80, 400), mm(-250, 20)),
            mm(15, 35),
            mm(1, 4),
        ),
        None,
    ),
    "extension": (st.builds(RackExtension, mm(10, 150), mm(10, 40), THREADS, mm(5, 40)), _extension),
    "damper": (
        st.builds(Damper, mm(200, 400), mm(120, 300), mm(10, 60), eye_bore_mm=mm(6, 14)),
        None,
    ),
    "bolt": (st.builds(BoltAndNut, THREADS, mm(20, 120), mm(5, 90), st.integers(1, 3), mm(0, 9)), _bolt),
    "wheel": (
        st.builds(Wheel, mm(200, 350), mm(100, 300), mm(200, 500)),
        lambda p: ring(2 * p.tyre_radius_mm, p.rim_diameter_mm - 2 * p.barrel_mm, p.tyre_width_mm),
    ),
    "bracket": (BRACKETS, None),
    "tab": (BRACKETS.map(lambda pair: pair.tabs[0]), None),
    "rod lug": (LUGS, None),
}
NEAR = {"arm": 1e-3}  # a sliver beside its boss stays on the solid, as its docstring says; all others 0.01 %


def _swept(name: str, count: int) -> tuple[int, int]:
    """(made, refused)."""
    how, by_hand = SWEEPS[name]
    made = refused = 0

    @settings(
        max_examples=count,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.data())
    def sweep(data):
        nonlocal made, refused
        try:
            part = data.draw(how)
        except ValueError as e:
            assert any(c.isdigit() for c in str(e)), f"no value in '{e}'"
            refused += 1
            return
        made += 1
        _sound(name, part, by_hand)

    sweep()
    return made, refused


def _sound(name: str, part, by_hand) -> None:
    solid = part.solid()
    assert solid.isValid(), part
    for s in solid.Solids():
        assert all(shell.wrapped.Closed() for shell in s.Shells()), part
    volume, near = sum(map(volume_mm3, solid.Solids())), NEAR.get(name, 1e-4)
    if by_hand:
        assert volume == pytest.approx(by_hand(part), rel=near), part
    if hasattr(part, "volume_mm3"):
        assert part.volume_mm3 == pytest.approx(volume, rel=near), part
        assert getattr(part, "mass_kg", None) in (None, pytest.approx(volume * STEEL, rel=near)), part
    if isinstance(part, Flat) and len(part.form().pieces) == 1:
        face = max(f.Area() for f in solid.Faces() if f.geomType() == "PLANE")
        assert part.outline().area_mm2 == pytest.approx(face, rel=1e-6), part


@pytest.mark.parametrize("name", SWEEPS)
def test_a_part_of_any_size_is_sound_or_refused(name):
    made, refused = _swept(name, 4)
    assert made + refused == 4


@pytest.mark.slow
def test_the_sweep_makes_and_refuses():
    """Both happen: a sweep that only refuses proves nothing."""
    counts = [_swept(name, 12) for name in ("rocker", "gusset", "clevis", "bar", "bolt")]
    assert all(made >= 3 for made, _ in counts) and sum(refused for _, refused in counts) >= 5
