"""Rows of the rocker's pivot worked by hand, and each kind of mount with each kind of bearing on a whole job.
Sources stand beside each; "statics" is derived in the test."""

import math
import tomllib
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest
from entries import entries

from assemblies.job import load
from assemblies.layout.pivot_mount import PivotMount, thrust_outer_mm
from assemblies.strength import pivot
from assemblies.strength.forces import RockerForces, corner_forces, rocker_forces
from assemblies.strength.load_cases import cases_of
from parts.base.bearings import size
from parts.base.stock import STEELS
from parts.calc.sections import rectangular_tube

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
S235, S355 = STEELS["S235"], STEELS["S355"]
F_VW = 360 / (math.sqrt(3) * 0.8 * 1.25)  # row B9: 207.85 MPa
NONE = (0.0, 0.0, 0.0)


def mount(kind="stub", supports=(30.0, 80.0), bearing=("bush", 20), width=20.0, shaft=20.0, bore=0.0, **more):
    b = size(*bearing)
    return PivotMount(
        kind, "tube", supports, more.pop("bearings", supports), b, width, shaft, bore, True, "S355", **more
    )


def loaded(*pulls, axial=0.0, spring_nm=0.0) -> RockerForces:
    """On the rocker: pulls (force N, station mm), square to the axis; what the pivot answers."""
    f = np.sum([p for p, _ in pulls], axis=0, dtype=float) + np.array([0, 0, axial])
    moment = np.sum([np.cross((0, 0, z), p) for p, z in pulls], axis=0, dtype=float)
    none = np.zeros((1, 3))
    return RockerForces(none, none, -f[None], -moment[None], np.array([spring_nm]), none[0], none[0])


OVERHUNG = loaded(((6000, 0, 0), 0))  # row P1: near support 9600 N, 180 N·m there


def a_job(**given):
    given = {"static_rating": None, "dynamic_rating": None, "bearing": "bush", "kind": "stub"} | given
    ranges = given.pop("ranges", ((1.0, 1.0),))
    tube = SimpleNamespace(outer=30.0, wall=5.0)
    return SimpleNamespace(
        pivot=SimpleNamespace(**given),
        fatigue=SimpleNamespace(ranges=ranges),
        rocker=SimpleNamespace(pivot_tube=tube),
    )


def rows_of(m, r, job=None, steel=S355, carrier=None, safety=1.0):
    carrier = carrier or (None, S235, None)
    found = pivot.checks(replace(entries(), safety=safety), job or a_job(kind=m.kind), m, r, steel, carrier)
    return {(c.item, c.check): c for c in found}


# ------------------------------------------------------------ the shaft


BENT = "bending, torsion and shear at the near support"


def test_stub_overhung_in_two_bearings():
    """Row P1: 6000 N 30 mm before bearings 50 mm apart, 20 mm solid: 229.18312 MPa at the near one."""
    row = rows_of(mount(), OVERHUNG)["pivot stub", BENT]
    assert (row.demand, row.resistance) == pytest.approx((229.18312, 355), rel=1e-6)
    (detail,) = pivot.details(a_job(), mount(), OVERHUNG)
    assert (detail.stress_mpa, detail.category_mpa) == pytest.approx((229.18312, 125), rel=1e-6)


def test_hollow_stub_under_bending_torsion_and_shear():
    """Row P2: 40 x 5, 300 N·m, 350 N·m, 6 kN: 107.87144 MPa at the neutral axis, the fibre has 99.29."""
    m = mount(supports=(50, 150), bearing=("bush", 40), shaft=40, bore=30)
    r = loaded(((0, 6000, 0), 0), spring_nm=-350.0)
    assert rows_of(m, r)["pivot stub", BENT].demand == pytest.approx(107.87144, rel=1e-5)
    mirrored = replace(m, supports_mm=(-150, -50))  # the spring behind the rocker
    assert rows_of(mirrored, r)["pivot stub", BENT].demand == pytest.approx(107.87144, rel=1e-5)


def test_cantilever_is_welded_where_it_bends():
    """Row P1 again; in fatigue the toe of a weld round it, category 71, not a turned shaft."""
    m = mount("cantilever", wall_mm=3.0)
    assert rows_of(m, OVERHUNG)["pivot spindle", BENT].demand == pytest.approx(229.18312, rel=1e-6)
    (detail,) = pivot.details(a_job(kind="cantilever"), m, OVERHUNG)
    assert detail.stress_mpa == pytest.approx(229.18312, rel=1e-6)
    assert (detail.item, detail.category_mpa, detail.detail) == (
        "pivot spindle",
        71.0,
        "toe of the weld to the near wall",
    )


def test_walls_that_a_cantilever_goes_through():
    """Row P1's 9600 N in the near wall: 1.5·d·t·fy and F/(π·d) round it (row P8), both of the weaker of the
    spindle's and the tube's steel; along the axis 3 kN more, square to it."""
    m = mount("cantilever", wall_mm=3.0)
    rows = rows_of(m, loaded(((6000, 0, 0), 0), axial=3000), steel=S355, carrier=(None, S235, None))
    row = rows["pivot spindle", "bearing on the wall it goes through"]
    assert (row.demand, row.resistance) == pytest.approx((9600, 1.5 * 20 * 3 * 235), rel=1e-6)
    row = rows["pivot spindle", "weld to the wall"]
    assert row.demand == pytest.approx(math.hypot(9600, 3000) / (math.pi * 20), rel=1e-6)
    assert row.resistance == pytest.approx(F_VW * 3.6 / math.sqrt(2), rel=1e-6)


def test_spring_tube_where_the_frame_holds_it():
    """Row P2's tube: the whole 6 kN 100 mm from its node bends it twice as much, so its fibre is worst:
    √((2·69.846284)² + 3·40.743665²) MPa."""
    tube = SimpleNamespace(section=SimpleNamespace(width_mm=40.0, wall_mm=5.0))
    r = loaded(((0, 6000, 0), 0), spring_nm=350.0)
    rows = rows_of(mount(supports=(60, 160)), r, carrier=(tube, S235, 100.0))
    row = rows["tube", "bending and torsion where the frame holds it"]
    assert (row.demand, row.resistance) == pytest.approx(
        (math.hypot(2 * 69.846284, math.sqrt(3) * 40.743665), 235), rel=1e-5
    )
    assert ("tube", row.check) not in rows_of(mount(), r)
    words = pivot.missing(a_job(), mount(), None, 6000.0)
    assert "no other tube of the job meets it" in words[0] and "6000 N" in words[0]


def test_seams_of_the_spring_tube():
    """Row B13: 500 N·m round 42.4 mm at a throat of 3 mm is 59.019722 MPa; the leg is the plate's 4 mm or
    1.2 walls. Plugs: 4 of 10 mm at f_vw,d (EN 1993-1-8:2005 4.3.5)."""
    tube = SimpleNamespace(section=SimpleNamespace(width_mm=42.4, wall_mm=2.5))
    (row,) = pivot.anchor_weld(entries(spring_nm=[-500.0]), tube, S235, 6.0, 4.0)
    assert row.demand == pytest.approx(3 * 59.019722, rel=1e-6)
    assert row.resistance == pytest.approx(F_VW * 3.0 / math.sqrt(2), rel=1e-6)
    thick = SimpleNamespace(section=SimpleNamespace(width_mm=42.4, wall_mm=5.0))
    (row,) = pivot.anchor_weld(entries(spring_nm=[-500.0]), thick, S235, 6.0, 4.0)
    assert row.resistance == pytest.approx(F_VW * 4.0 / math.sqrt(2), rel=1e-6)
    row = rows_of(mount(), loaded(((6000, 0, 0), 0), axial=-3000))[
        "pivot bearing rings", "plug welds into the spring tube"
    ]
    assert (row.demand, row.resistance) == pytest.approx((3000, 4 * math.pi * 25 * F_VW), rel=1e-6)


# ------------------------------------------------------------ what turns


def test_pressure_of_the_bush():
    """Row P3: 9000 N half on each bush of 16 x 15: 18.75 MPa. Row P11: planes 12 and 38 of 60 mm: the worse
    bush has 4422.3234 N, not 2500. A limit of wear: without the safety factor."""
    m = mount("spindle", bearings=(-22.5, 22.5), bearing=("bush", 16), width=15.0)
    row = rows_of(m, loaded(((0, 9000, 0), 0)))["pivot bearings", "pressure of the bush"]
    assert (row.demand, row.resistance, row.level) == (pytest.approx(18.75, rel=1e-6), 60.0, "warn")
    m = mount("spindle", bearings=(0, 60))
    planes = loaded(((6500, 0, 0), 12), ((-2500, 3000, 0), 38))
    row = rows_of(m, planes)["pivot bearings", "pressure of the bush"]
    assert row.demand == pytest.approx(4422.3234 / 400, rel=1e-6)
    more = replace(planes, pivot_n=1.5 * planes.pivot_n, pivot_moment_nmm=1.5 * planes.pivot_moment_nmm)
    row = rows_of(m, more, safety=1.5)["pivot bearings", "pressure of the bush"]
    assert row.demand == pytest.approx(4422.3234 / 400, rel=1e-6)
    whole = np.array([[4000.0, 3000.0, 0.0]])
    shared = pivot.bracket_force(replace(m, supports_mm=(0, 60)), planes, whole)
    assert shared == pytest.approx(2 * 4422.3234 * np.array([[0.8, 0.6, 0.0]]), rel=1e-6)


@pytest.mark.parametrize(
    ("kind", "radial", "axial", "rating", "asked"),
    [
        ("ball", 4000, 2000, 5000, 1.5 * 4000),  # row P5 (a): P0 4 kN; 0.6·Fr + 0.5·Fa alone gives 3.4
        ("ball", 2000, 3000, 5000, 1.5 * 2700),  # (b)
        ("needle", 9600, 0, 24000, 3.0 * 9600),  # (c): s0 2.5 under a guide of 3
    ],
)
def test_static_rating(kind, radial, axial, rating, asked):
    """Row P5, ISO 76, times the guide of safety (common practice)."""
    m = mount("spindle", bearings=(-20, 20), bearing=(kind, 20))
    job = a_job(kind="spindle", bearing=kind, static_rating=float(rating))
    row = rows_of(m, loaded(((0, 2 * radial, 0), 0), axial=axial), job)["pivot bearings", "static rating"]
    assert (row.demand, row.resistance) == pytest.approx((asked, rating), rel=1e-6)
    if asked > rating:
        assert row.options[0].changes == {"pivot.static_rating": math.ceil(asked / 100) * 100.0}


def life_of(kind, rating, ranges, axial=0.0, sweep=16.0):
    m = mount("spindle", bearings=(-20, 20), bearing=(kind, 20))
    job = a_job(bearing=kind, dynamic_rating=rating, ranges=ranges)
    (row,) = pivot.life(job, m, loaded(((0, 4000, 0), 0), axial=axial), sweep)  # 2000 N a bearing
    return row


def test_life_of_the_bearings():
    """Row P6: at 4 kN a needle of 16.8 kN lives 1.3447766e9 swings of 16 deg, a ball of 9.95 kN 1.7315769e8.
    A range of 2 weights on 2 kN a weight reaches 4 kN; one of 0.5 stands about 1 and reaches 1.25, not 0.5:
    2.5 kN, (4/2.5)^p more swings."""
    assert life_of("needle", 16_800.0, ((2.0, 1.3447766e9),)).demand == pytest.approx(1, rel=1e-6)
    assert life_of("ball", 9950.0, ((2.0, 1.7315769e8),)).demand == pytest.approx(1, rel=1e-6)
    both = ((2.0, 1.7315769e8), (0.5, 1.7315769e8))
    row = life_of("ball", 9950.0, both)
    assert row.demand == pytest.approx(1 + (2.5 / 4) ** 3, rel=1e-6)
    assert row.options[0].changes == {"pivot.dynamic_rating": 10_800.0}  # 9950·1.2441^(1/3) = 10 701
    assert not life_of("ball", 20_000.0, both).options


def test_a_ball_bearing_tires_of_what_runs_along_the_axis():
    """ISO 281: P = 0.56·Fr + Y·Fa with Y 2.3 of the least load (from memory): Fr 2 kN and 1 kN along it are
    3.42 kN a weight; a needle bearing has none of it."""
    more = life_of("ball", 9950.0, ((2.0, 1.7315769e8),), axial=1000.0).demand
    assert more == pytest.approx((3.42 / 2) ** 3, rel=1e-6)
    assert life_of("needle", 16_800.0, ((2.0, 1.3447766e9),), axial=1000.0).demand == pytest.approx(1, 1e-6)


def test_what_runs_against_a_bearing():
    """On a ball bearing's inner ring alone, over a needle's cup on to the ring round it."""
    assert thrust_outer_mm(size("ball", 40), 6.0) == pytest.approx(43.6)
    assert thrust_outer_mm(size("needle", 40), 6.0) == 49.0
    assert thrust_outer_mm(size("bush", 40), 6.0) == 46.0
    assert thrust_outer_mm(size("needle", 40), 12.0, 52.5) == 52.0


# ------------------------------------------------------------ whole jobs


def members(name):
    with open(JOBS / f"{name}.toml", "rb") as f:
        return tomllib.load(f)["member"]


BEAM = {"name": "pivot beam", "shape": "square", "size": 40, "wall": 3, "roll": 54.9}
BEAM |= {"from": [-640, 300.5, 354.92], "to": [-440, 300.5, 354.92]}
RATED = {"pivot.static_rating": 30_000.0, "pivot.dynamic_rating": 20_000.0}
WHOLE = {
    "stub": ("heronbank-front", {}),
    "stub, needle": ("heronbank-front", {"pivot.bearing": "needle"} | RATED),
    "stub, ball": (
        "heronbank-front",
        {
            "pivot.bearing": "ball",
            "member": [
                m | ({"size": 70} if m["name"] == "spring tube" else {}) for m in members("heronbank-front")
            ],
        }
        | RATED,
    ),
    "spindle": ("corrie-rear", {}),
    "spindle, needle": ("corrie-rear", {"pivot.bearing": "needle"}),
    "spindle, ball": (
        "corrie-rear",
        {
            "pivot.bearing": "ball",
            "pivot.bearing_width": None,
            "pivot.bolt": "M12",
            "rocker.pivot_tube": {"outer": 35, "wall": 4.5},
        }
        | RATED,
    ),
    "cantilever": (
        "corrie-rear",
        {
            "member": [*members("corrie-rear"), BEAM],
            "pivot.kind": "cantilever",
            "pivot.member": "pivot beam",
            "pivot.bearing_width": None,
            "frame.goes_on": ["pivot beam"],
        },
    ),
}


@lru_cache
def whole(name):
    job, changes = WHOLE[name]
    return demos.known(load(JOBS / f"{job}.toml").changed(changes), interference=False)


@lru_cache
def forces(name):
    s = whole(name)
    return corner_forces(s.job, s.mechanism, s.springing, cases_of(s.job, s.springing))


def supports_by_hand(name, stations):
    """Of each entry the two supports' forces on what they hold: six equations of statics in car axes, the
    axis' own left out. An own route: `two_supports` is a closed form in the rocker's axes."""
    s, f = whole(name), forces(name)
    axis = np.asarray(s.job.rocker.axis, float) / np.linalg.norm(s.job.rocker.axis)
    z = np.array(s.layout.eyes.frame.z)
    origin = np.array(s.layout.eyes.frame.origin)
    assert abs(axis @ z) == pytest.approx(1)
    e1 = np.cross(z, [0.3, 0.9, 0.1])
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(z, e1)
    columns = []
    for at in stations:
        for e in (e1, e2):
            arm = np.cross(at * z, e)
            columns.append([e @ e1, e @ e2, arm @ e1, arm @ e2])
    found = []
    for rod, damper, eye, knuckle in zip(
        f.rod_on_rocker_n, f.damper_on_rocker_n, f.points["rod_inboard"], f.points["damper_eye"], strict=True
    ):
        about = np.cross(eye - origin, rod) + np.cross(knuckle - origin, damper)
        right = -np.array([(rod + damper) @ e1, (rod + damper) @ e2, about @ e1, about @ e2])
        x = np.linalg.solve(np.array(columns).T, right)
        found.append([np.hypot(*x[:2]), np.hypot(*x[2:])])
    return np.array(found)


@pytest.mark.parametrize("name", ["stub", "spindle", "cantilever"])
def test_pressure_of_the_bushes_on_a_whole_job(name):
    m = whole(name).layout.pivot
    row = next(c for c in whole(name).results.strength.checks if c.check == "pressure of the bush")
    most = supports_by_hand(name, m.bearings_mm).max()
    assert row.demand == pytest.approx(most / (m.bearing.bore_mm * m.width_mm), rel=1e-4)


@pytest.mark.parametrize("name", ["stub", "cantilever"])
def test_bending_of_the_shaft_on_a_whole_job(name):
    """Statics above: the far support's force times the span, over a round section's modulus. The stub's
    torque is the spring's; both rows carry the safety."""
    s = whole(name)
    m, safety = s.layout.pivot, s.job.loads.safety
    far = supports_by_hand(name, m.supports_mm)[:, int(np.argmax(np.abs(m.supports_mm)))]
    w = math.pi / 32 * (m.shaft_mm**4 - m.shaft_bore_mm**4) / m.shaft_mm
    bending = far * abs(m.supports_mm[0] - m.supports_mm[1]) / w
    torsion = np.abs(forces(name).spring_nm) * 1e3 / (2 * w)
    row = next(c for c in s.results.strength.checks if c.check == BENT)
    assert row.demand == pytest.approx(safety * np.sqrt(bending**2 + 3 * torsion**2).max(), rel=1e-4)


def test_spindles_bolt_on_a_whole_job():
    """EN 1993-1-8:2005 3.13 with the worse tab's force on both, F/8·(b + 4c + 2a), b 52, c 4, a 6: F·10 mm.
    By statics with the force in the bushes' middles (row P3's way) it is less: the row is on the safe
    side."""
    s = whole("spindle")
    m = s.layout.pivot
    most = s.job.loads.safety * supports_by_hand("spindle", m.supports_mm).max()
    row = next(
        c for c in s.results.strength.checks if (c.item, c.check) == ("pivot bracket", "bending of the bolt")
    )
    assert row.demand == pytest.approx(2 * most * 10 / 1e3, rel=1e-3)
    assert most * (m.supports_mm[1] - m.bearings_mm[1]) / 1e3 < row.demand


@pytest.mark.parametrize("name", ["stub, needle", "stub, ball", "spindle, ball"])
def test_rolling_bearings_on_a_whole_job(name):
    """ISO 76 on the worse bearing by the statics above."""
    s = whole(name)
    m, kind = s.layout.pivot, s.layout.pivot.bearing.kind
    rows = {c.check: c for c in s.results.strength.checks if c.item == "pivot bearings"}
    assert set(rows) == {"static rating", "life under the spectrum"}
    radial = supports_by_hand(name, m.bearings_mm).max(1)
    axial = np.abs(forces(name).pivot_n @ np.array(s.layout.eyes.frame.z))
    p0 = radial if kind == "needle" else np.maximum(radial, 0.6 * radial + 0.5 * axial)
    assert rows["static rating"].demand == pytest.approx(
        {"needle": 3, "ball": 1.5}[kind] * p0.max(), rel=1e-4
    )
    assert 0 < rows["life under the spectrum"].demand < 1
    assert not [x for x in s.results.strength.missing if "no row of pivot" in x]
    rings = [p for p in s.layout.placed if p.name.startswith("pivot bearing ")]
    assert {p.part.bore_mm for p in rings} >= {m.bearing.bore_mm}


def test_a_bearing_without_ratings_is_told_once():
    missing = whole("spindle, needle").results.strength.missing
    told = [m for m in missing if "pivot bearing" in m]
    assert told == [
        "pivot bearings (needle 22 x 28): no maker's ratings given (pivot.static_rating, "
        "pivot.dynamic_rating)"
    ]


def test_a_cantilever_pulls_on_its_tube():
    """Statics: both walls' forces on the tube are all of the rocker's force, and its couple about the pivot's
    middle; what bends the tube between its nodes is told as not known."""
    s, f = whole("cantilever"), forces("cantilever")
    r = rocker_forces(f, s.layout.eyes)
    frame, m = s.layout.eyes.frame.matrix(), s.layout.pivot
    walls = pivot.on_member(f, m, r, frame[:3, :3])
    assert np.abs(walls[0] + walls[1] + f.pivot_n).max() < 1e-6
    axis, origin = frame[:3, 2], frame[:3, 3]
    about = sum(np.cross(z * axis, w) for z, w in zip(m.supports_mm, walls, strict=True))
    asked = np.cross(f.points["rod_inboard"] - origin, f.rod_on_rocker_n)
    asked += np.cross(f.points["damper_eye"] - origin, f.damper_on_rocker_n)
    asked -= (asked @ axis)[:, None] * axis
    assert np.abs(about - asked).max() < 1e-6 * np.abs(asked).max() + 1e-3
    assert any("tube 'pivot beam' under the pivot spindle" in x for x in s.results.strength.missing)
    assert [f for f in s.results.findings if f.code == "cantilever"]


def test_a_cantilevers_tube_between_two_nodes_has_a_row():
    """Statics of a beam on two pins 200 mm apart, the spindle 115 mm from one: beside it a force F in the
    bar's line and its couple C bend by (F·b + C)·a/L and (F·a - C)·b/L, a force across by F·a·b/L, the twist
    T is held at both ends; from the walls' forces, which the test before holds."""
    name, changes = WHOLE["cantilever"]
    post = {"shape": "square", "size": 25, "wall": 2}
    posts = [
        post | {"name": f"post {n}", "from": [x, 300.5, 354.92], "to": [x, 300.5, 110]}
        for n, x in ((1, -640), (2, -440))
    ]
    changes = changes | {"member": [*members(name), BEAM, *posts]}
    changes["frame.goes_on"] = ["pivot beam"]
    s = demos.known(load(JOBS / f"{name}.toml").changed(changes), interference=False)
    row = next(c for c in s.results.strength.checks if c.item == "pivot beam")
    f, frame, m = forces("cantilever"), s.layout.eyes.frame.matrix(), s.layout.pivot
    walls = pivot.on_member(f, m, rocker_forces(f, s.layout.eyes), frame[:3, :3])
    x, z = np.array([1.0, 0.0, 0.0]), frame[:3, 2]
    y, total, length = np.cross(z, x), walls[0] + walls[1], 200.0
    middle = sum(m.supports_mm) / 2
    couple = sum(np.cross((at - middle) * z, v) for at, v in zip(m.supports_mm, walls, strict=True))
    box, stress = rectangular_tube(40, 40, 3), []
    for a, sign in ((115.0, 1.0), (85.0, -1.0)):
        b = length - a
        bent = np.abs((total @ z) * b + sign * (couple @ y)) * a / length + np.abs(total @ y) * a * b / length
        pull = np.abs(total @ x) * (sign > 0) / box.area_mm2  # the first node holds it
        stress.append(
            np.hypot(bent / box.w_el_y_mm3 + pull, math.sqrt(3) * (couple @ x) * b / length / box.c_t_mm3)
        )
    assert row.demand == pytest.approx(s.job.loads.safety * np.max(stress), rel=1e-3)
