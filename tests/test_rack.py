"""The steering rack: tied to the tie rods in the job, a body in the gaps, an extension to make and to
check."""

import math
from functools import cache

import demos
import numpy as np
import pytest

from assemblies.job import Job, JobError, load
from assemblies.layout.rack import END, HOUSING, INNER_JOINT
from assemblies.making.sheets.cut_list import rows as cut_rows
from assemblies.results.model import parsed
from assemblies.steering.lock import lock_by_gaps_mm
from assemblies.steering.words import lines
from assemblies.study import study
from parts.base.stock import thread
from parts.rack_extension import RackExtension
from tests.test_imports import DEMOS

FRONT = next(p for p in DEMOS if p.stem == "heronbank-front")
CENTRE = [1832, 0, 191]


def job(rack=None, **changes) -> Job:
    """The front demo with a rack in place of the housing it has as a member, its travel left to the rack."""
    given = load(FRONT).to_dict()
    given["member"] = [m for m in given["member"] if m["name"] != "rack housing"]
    given["tie_rod"].pop("rack_travel")
    given["rack"] = {"length": 480, "stroke": 36, "centre": CENTRE, **(rack or {})}
    made = Job.from_dict(given)
    return made.changed(changes) if changes else made


def refused(rack=None, **changes) -> str:
    with pytest.raises(JobError) as e:
        job(rack, **changes)
    (line,) = str(e.value).splitlines()
    return line


@cache
def checked():
    return demos.known(job({"extension_material": "S355", "stroke": 40}))


# ------------------------------------------------------------ the job


def test_the_racks_stroke_is_the_travel_and_its_extension_reaches_the_tie_rod():
    """480 between the joints, tie rods at ±340: 100 each side."""
    j = job({"mm_per_turn": 44})
    assert j.tie_rod.rack_travel == 36 and j.car.axle == "front"
    assert "rack_travel" not in j.to_dict()["tie_rod"]
    s = demos.known(j, interference=False).results.steering
    assert s.rack.extension_mm == s.rack.other_extension_mm == pytest.approx(100)
    assert s.turns_lock_to_lock == pytest.approx(72 / 44) and s.lock_by == "the rack's own ends"
    assert s.lock_rack_mm == 36 and s.rack.jam_nuts == 2


@pytest.mark.parametrize(
    "rack, changes, key, said",
    [
        ({"length": 1400}, {}, "rack.length", "must be less than 1355 mm, the gap between the wheels"),
        (
            {"length": 700},
            {},
            "rack.length",
            "stands 10 mm outboard of tie_rod.inner; must be at most 680 mm",
        ),
        (
            {"stroke": 30},
            {"tie_rod.rack_travel": 36},
            "tie_rod.rack_travel",
            "must be at most rack.stroke 30 mm",
        ),
        ({"centre": [1832, 0, 324]}, {}, "tie_rod.inner", "is 133 mm off the rack's axis"),
        ({"centre": [1932, 0, 191]}, {}, "tie_rod.inner", "is 100 mm off the rack's axis"),
        ({"tilt": 2}, {}, "rack.tilt", "is 2 deg; must be at most 0.168 deg, 1 mm at the inner joint"),
        ({"tilt": 3, "centre": [1832, 0, 173]}, {}, "rack.tilt", "only a rack along y"),
        ({"extension": 40}, {}, "tie_rod.inner", "is 60 mm from the rack's end at y 280"),
        ({"centre": [1832, 12, 191]}, {}, "rack.centre", "left and right must be alike"),
        (
            {"centre": [1832, 12, 191], "other_extension": 100},
            {},
            "rack.other_extension",
            "must be 112 mm to reach the other tie rod",
        ),
        ({"housing_length": 640}, {}, "rack.stroke", "draws the inner joint 16 mm into the housing"),
        ({}, {"tie_rod.inner": [1832, -340, 191]}, "tie_rod.inner", "between the car's middle and"),
        ({}, {"tie_rod.inner": [1832, 720, 191]}, "tie_rod.inner", "between the car's middle and"),
    ],
)
def test_what_does_not_fit_is_one_clear_line(rack, changes, key, said):
    line = refused(rack, **changes)
    assert line.startswith(key + ": ") and said in line


def test_a_rack_as_level_as_its_end_is_found_is_taken():
    """1 mm at 340: 0.1685 deg."""
    assert job({"tilt": 0.168}).rack.tilt == 0.168 and job().rack.tilt == 0
    assert "0.168 deg" in refused({"tilt": 0.169})


def test_left_and_right_may_differ_where_asked_for():
    j = job({"centre": [1832, 12, 191], "other_extension": 112})
    s = demos.known(j, interference=False).results.steering.rack
    assert (s.extension_mm, s.other_extension_mm) == pytest.approx((88, 112))
    m = study(j.mirrored(), interference=False).results.steering.rack
    assert (m.extension_mm, m.other_extension_mm) == pytest.approx((88, 112))  # all of it is mirrored
    assert m.centre_mm == [1832, -12, 191] and j.mirrored().mirrored() == j


def test_a_member_of_the_racks_name_is_refused_only_beside_a_rack():
    load(FRONT)  # has one, and no rack
    with pytest.raises(JobError, match=r"member.rack housing.*makes a body of that name"):
        Job.from_dict(load(FRONT).to_dict() | {"rack": {"length": 480, "stroke": 36}})


def test_a_place_not_given_is_in_line_with_the_tie_rod():
    j = job().changed({"rack.centre": None})
    said = lines(demos.known(j, interference=False).results)
    assert any("place not yet given" in x for x in said)


# ------------------------------------------------------------ the gaps


def test_the_rack_end_moves_with_the_rack_and_slides_in_its_housing():
    r = checked().results
    frames = checked().mechanism.at(np.array([0.0, 30.0]), np.array([25.0, -10.0])).frame("rack")
    want = np.tile(np.eye(4), (2, 1, 1))
    want[:, 1, 3] = 25, -10
    assert frames == pytest.approx(want, abs=1e-12)
    pairs = {frozenset((p.a, p.b)): p for p in r.clearance.pairs}
    assert frozenset((END, HOUSING)) not in pairs
    arm = pairs[frozenset(("lower_arm", END))]
    assert arm.at_rack_mm == pytest.approx(40.0)  # nearest with the end furthest out
    bodies = {(p.name, p.carrier) for p in checked().layout.placed if p.body in (END, HOUSING)}
    assert bodies == {
        ("rack housing", "frame"),
        ("rack bar", "rack"),
        ("rack extension", "rack"),
        (INNER_JOINT, "rack"),
    }
    assert not [p for p in r.clearance.other_side if {p.a, p.b} & {END, "other " + END} and not p.ok]


def test_a_neighbour_in_the_way_of_the_ends_travel_is_met_where_the_rack_puts_it():
    """A plate 30 beyond the inner joint's housing at ride: the end passes through it at full rack, and stands
    30 less the rack's travel short of it else."""
    j = job({"stroke": 20}).changed({"clearance.fasteners": False, "clearance.tools": False})
    reach = 340 + 1.4 * 24 / 2
    given = j.to_dict()
    given["member"].append(
        {"name": "post", "shape": "box", "centre": [1832, reach + 30 + 5, 160], "size": [40, 10, 30]}
    )
    r = demos.known(Job.from_dict(given)).results
    pair = next(p for p in r.clearance.pairs if {p.a, p.b} == {END, "post"})
    across = 191 - 1.4 * 12 - 175  # below the joint's round
    want = math.hypot(max(reach + 20 - (reach + 30), 0), across) if across > 0 else 30 - 20
    assert pair.at_rack_mm == pytest.approx(20, abs=0.2)
    assert pair.gap_mm == pytest.approx(want, abs=0.15) and pair.gap_mm <= want


@pytest.mark.slow
def test_the_lock_that_the_gaps_allow_is_where_the_short_pair_comes_in_order():
    s = checked()
    lock = lock_by_gaps_mm(s.job, s.mechanism, s.springing.ends, s.layout, s.results.clearance)
    assert 0 < lock < 40
    short = [p for p in s.results.clearance.pairs if not p.ok and {p.a, p.b} & {"wheel", "tie_rod", END}]
    assert short
    for rack, ok in ((lock, True), (lock + 1.0, False)):
        r = demos.known(
            s.job.changed({"tie_rod.rack_travel": round(rack, 3), "clearance.tools": False})
        ).results
        names = {(p.a, p.b) for p in short}
        assert all(p.ok for p in r.clearance.pairs if (p.a, p.b) in names) == ok


# ------------------------------------------------------------ the extension


def test_an_extension_is_turned_from_its_length_and_thread():
    e = RackExtension(100.0, 24.0, "M14", 21.0)
    t = thread("M14")
    assert e.cut_length_mm == 121 and e.engaged == pytest.approx(1.5)
    volume = math.pi * 12**2 * 100 - math.pi / 4 * t.nut_minor_mm**2 * 21 + t.stress_area_mm2 * 21
    assert e.mass_kg == pytest.approx(volume * 7.85e-6, rel=1e-9)
    with pytest.raises(ValueError, match=r"extension_diameter is 16 mm; must be at least 18.2 mm"):
        RackExtension(100.0, 16.0, "M14", 21.0)


def test_the_extension_bends_as_a_cantilever():
    """M14: A_s 115.4 mm² (ISO 898-1 table), d = 12.12 mm, W = 174.9 mm³; 500 N at 125 mm: 357 MPa."""
    e = RackExtension(100.0, 24.0, "M14", 21.0)
    d = math.sqrt(4 * 115.44 / math.pi)
    assert e.stress_mpa(500.0, 1000.0, 125.0) == pytest.approx(
        1000 / 115.44 + 500 * 125 * 32 / math.pi / d**3, rel=1e-3
    )


def test_the_strength_table_has_the_tie_rods_force_on_the_extension():
    """By hand from the reaction at the tie rod's inner end in the table's own case and pose."""
    r = checked().results
    c = next(c for c in r.strength.checks if c.item == "rack extension" and c.check.startswith("cantilever"))
    forces = [x for x in r.strength.frame if x.name == "tie rod, inner end" and x.case == c.case]
    assert forces
    x, y, z = max((f.force_n for f in forces), key=lambda f: math.hypot(f[0], f[2]))
    part = RackExtension(100.0, 24.0, "M14", 21.0)
    least = part.stress_mpa(math.hypot(x, z), abs(y), 125.0) * 1.5
    assert c.demand >= least * (1 - 1e-9) and c.demand == pytest.approx(least, rel=0.5)
    assert c.resistance == pytest.approx(355, abs=15)
    assert any(c.item == "rack bar" for c in r.strength.checks)
    assert any("cantilever" in c.check for c in r.strength.checks if c.item == "rack bar")


def test_half_the_threads_cylinder_holds_the_extension():
    """By hand: M14 has d2 = 12.701 (ISO 724), L = 1.5·14; half of π·d2·L at fy/√3."""
    checks = checked().results.strength.checks
    (c,) = [c for c in checks if c.check == "thread engagement"]
    fy = next(x.resistance for x in checks if x.check == "cantilever at its thread")
    assert c.resistance == pytest.approx(math.pi * 12.701 * 21 / 2 * fy / math.sqrt(3), rel=1e-4)


def test_too_short_a_thread_holds_nothing():
    s = demos.known(job({"engagement": 10}), interference=False)
    (c,) = [c for c in s.results.strength.checks if c.check == "thread engagement"]
    assert not c.ok and c.resistance == 0 and "rack.engagement = 21 mm instead of 10" in c.cure


def test_extension_and_jam_nut_are_on_the_cut_list():
    rows = [r for r in cut_rows(checked().layout) if "rack extension" in r.item]
    assert [(r.group, r.count, r.length_mm) for r in rows] == [("bar", 1, 121.0), ("fastener", 1, None)]
    assert rows[0].stock == "bar 24" and "M14 turned 21 long" in rows[0].note


def test_a_rack_that_goes_further_than_the_job_wants_a_stop():
    s = demos.known(job({"stroke": 50}, **{"tie_rod.rack_travel": 36}), interference=False).results
    (found,) = [f for f in s.findings if f.code == "lock-stop"]
    assert found.level == "warn" and "14 mm further" in found.text
    assert s.steering.lock_by == "a stop: the rack itself goes to ±50 mm"
    assert parsed(s.to_json()).steering.rack.stroke_mm == 50


def test_the_sheet_shows_how_the_extension_is_made(tmp_path):
    from pypdf import PdfReader

    from assemblies.making.sheets import steering_sheet
    from assemblies.steering.strings import string_check

    s = checked()
    path = tmp_path / "steering.pdf"
    check = string_check(s.job, s.mechanism)
    steering_sheet.write(s.results, check, path, s.layout.rack_extension.part)
    text = "".join(p.extract_text() for p in PdfReader(path).pages)
    assert "100.0 shoulder to shoulder" in text and "21 deep" in text and "sawn 121.0 mm" in text
    steering_sheet.write(s.results, check, path)
    assert "shoulder to shoulder" not in "".join(p.extract_text() for p in PdfReader(path).pages)
