"""Bolts as bodies: their sizes, where they stand, which way round, and what they strike."""

import math
from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.layout import bodies as neighbours
from assemblies.layout.fastener_bodies import drawn
from assemblies.layout.fasteners import fasteners
from assemblies.making.sheets import masses
from parts.fastener import BoltAndNut, bolt_of
from parts.shape.form import Prism, Round

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")


@lru_cache(maxsize=8)
def _made(name: str, mirrored: bool = False):
    return demos.corner(name, mirrored)


def _bolts(done):
    return {p.name: p for p in done.layout.placed if isinstance(p.part, BoltAndNut)}


# ------------------------------------------------------------------------------------------------ one bolt

# Across flats ISO 4014/4032 and washers d1, d2 ISO 7089, exact; a general CAD fastener table agrees
SIZES = (
    ("M5", 8, 5.3, 10),
    ("M6", 10, 6.4, 12),
    ("M8", 13, 8.4, 16),
    ("M10", 16, 10.5, 20),
    ("M12", 18, 13, 24),
    ("M16", 24, 17, 30),
)


@pytest.mark.parametrize("size, flats, inner, outer", SIZES)
def test_bodies_have_the_standards_sizes(size, flats, inner, outer):
    b = BoltAndNut(size, 120, 40)
    hexagons = [p for p in b.form().pieces if isinstance(p, Prism)]
    rings = [p for p in b.form().pieces if isinstance(p, Round) and p.bore_mm]
    assert len(hexagons) == 2 and len(rings) == 2
    for h in hexagons:
        x0, _, x1, _ = h.outline.bounds
        assert x1 - x0 == pytest.approx(flats)
    assert {(r.diameter_mm, r.bore_mm) for r in rings} == {(outer, inner)}
    assert max(p.diameter_mm for p in b.head_envelope().pieces) == pytest.approx(
        max(outer, 2 / math.sqrt(3) * flats)
    )


def test_envelope_holds_the_hexagons_however_they_are_turned():
    b = BoltAndNut("M10", 80, 44, 3)
    corner = max(math.hypot(v.x, v.y) for v in b.form().pieces[0].outline.outer.vertices)
    heads = [p for p in b.envelope().pieces if p.diameter_mm == pytest.approx(2 * corner)]
    assert {round(p.frame.origin[2], 6) for p in heads} == {round(b.head_end_mm, 6), round(b.nut_seat_mm, 6)}
    assert {p.length_mm for p in heads} == {b.hexagon.head_mm, b.hexagon.nut_mm}


def test_solid_is_one_valid_body_with_the_volume_worked_out_by_hand():
    from parts.files.solid import solid

    for b in (BoltAndNut("M10", 80, 46, 3), BoltAndNut("M12", 90, 44, 1, 11.0), BoltAndNut("M8", 40, 12, 3)):
        s = solid(b.form())
        assert s.isValid() and len(s.Solids()) == 1
        assert s.Volume() == pytest.approx(b.volume_mm3, rel=1e-9)
        assert s.Center().z == pytest.approx(b.centroid[2], abs=1e-6)
        box = s.BoundingBox()
        assert (box.zmin, box.zmax) == pytest.approx(
            (-b.ring.thickness_mm - b.hexagon.head_mm, b.length_mm - b.ring.thickness_mm), abs=1e-6
        )


def test_a_bolt_that_does_not_reach_through_its_nut_is_an_error():
    with pytest.raises(ValueError, match=r"length is 50\.00 mm; the least is 5"):
        BoltAndNut("M10", 50, 40)
    with pytest.raises(ValueError, match="smallest bolt"):
        bolt_of(4.0)


# ------------------------------------------------------------ in the corner


@pytest.mark.parametrize("name", DEMOS)
def test_bolts_pass_through_the_hard_points_of_the_job(name):
    done = _made(name)
    job, bolts = done.job, _bolts(done)
    through = {
        "rod to rocker bolt": (job.rod.inboard, job.rocker.axis),
        "damper to rocker bolt": (job.rocker.damper_eye, job.rocker.axis),
        "damper bracket bolt": (job.damper.chassis_eye, job.rocker.axis),
    }
    for arm in ("upper_arm", "lower_arm"):
        a = getattr(job, arm)
        for end in ("front", "rear"):
            through[f"{arm.replace('_', ' ')} {end} bracket bolt"] = (
                getattr(a, f"{end}_pivot"),
                np.subtract(a.front_pivot, a.rear_pivot),
            )
    for bolt, (point, axis) in through.items():
        p = bolts[bolt]
        z = np.array(p.frame.z)
        away = np.subtract(point, p.frame.origin)
        along = float(away @ z)
        assert np.linalg.norm(away - along * z) < 1e-6, bolt  # the axis goes through the joint's centre
        assert abs(abs(z @ axis) / np.linalg.norm(axis) - 1) < 1e-9
        assert 0 < along < p.part.stack_mm  # which lies between head and nut
    eyes = [bolts[n] for n in ("rod to rocker bolt", "damper to rocker bolt")]
    for p in eyes:  # both plates between the washers, by the points of the job alone
        assert p.part.stack_mm == pytest.approx(job.rocker.box_width + 2 * job.rocker.plate_thickness)
        assert p.carrier == "rocker"


@pytest.mark.parametrize("name", DEMOS)
def test_the_other_side_has_its_bolts_the_same_way_round(name):
    left, right = _bolts(_made(name)), _bolts(_made(name, True))
    assert left.keys() == right.keys()
    flip = np.array((1.0, -1.0, 1.0))
    for bolt, p in left.items():
        q = right[bolt]
        assert np.array(q.frame.origin) == pytest.approx(flip * p.frame.origin, abs=1e-6), bolt
        assert np.array(q.frame.z) == pytest.approx(flip * p.frame.z, abs=1e-9), bolt
        assert (q.part.size, q.part.length_mm, q.part.nut_washers, q.part.collar_mm) == (
            p.part.size,
            p.part.length_mm,
            p.part.nut_washers,
            p.part.collar_mm,
        )


@pytest.mark.parametrize("name", DEMOS)
def test_masses_count_every_bolt_once(name):
    done = _made(name)
    assert all(p.mass_kg is None for p in _bolts(done).values())
    bolted, open_ = fasteners(done.layout)
    weighed = [w for w in masses.weigh(done.layout, bolted, open_).parts if w.name.startswith("fasteners, ")]
    assert len(weighed) == len(bolted)
    per_kg = 7850e-9
    for w, f in zip(weighed, bolted, strict=True):
        assert w.mass_kg == pytest.approx(
            f.joint.count * sum(p.volume_mm3 for p in f.body.form().pieces) * per_kg, rel=1e-9
        )


def test_the_way_out_is_the_bolts_own_length_past_its_seat():
    b = BoltAndNut("M10", 80, 46, 3)
    (way,) = drawn(b).pieces
    assert way.diameter_mm == pytest.approx(16 * 2 / math.sqrt(3)) and way.length_mm == pytest.approx(
        80 + b.hexagon.head_mm
    )
    assert way.frame.z == (0.0, 0.0, -1.0) and way.frame.origin[2] < b.head_seat_mm


# ------------------------------------------------------------------------------------------------ gaps

DEPTH_MM = 2.0


def _planted(job, done):
    """A box that the nut on the rod's eye runs DEPTH_MM into at full bump, and nowhere else: its face is
    square to the way along which the eye then moves on; plane geometry of a point that turns about the
    rocker's axis (here the car's x)."""
    p = _bolts(done)["rod to rocker bolt"]
    assert np.abs(p.frame.z)[0] == pytest.approx(1.0)
    eye = np.squeeze(done.mechanism.at(np.array([50.0, 55.0])).point("rod_inboard"))
    step = eye[1] - eye[0]
    k = 1 if abs(step[1]) > abs(step[2]) else 2
    sense = math.copysign(1, step[k])
    b = p.part
    x = sorted(p.frame.origin[0] + p.frame.z[0] * z for z in (b.nut_seat_mm, b.nut_end_mm))
    face = eye[1, k] + sense * (b.hexagon.across_corners_mm / 2 - DEPTH_MM)
    centre, size = np.array([sum(x) / 2, *eye[1, 1:]]), np.array([x[1] - x[0] - 0.2, 60.0, 60.0])
    size[k], centre[k] = 10.0, face + sense * 5.0
    members = [m.model_dump(by_alias=True, exclude_unset=True) for m in job.member]
    return job.changed(
        {
            "tie_rod.rack_travel": 0,
            "member": [
                *members,
                {"name": "planted", "shape": "box", "centre": centre.tolist(), "size": size.tolist()},
            ],
        }
    )


def test_a_nut_that_runs_into_the_frame_in_bump_is_found_with_its_depth():
    done = _made("heronbank-front")
    made = demos.known(_planted(done.job, done))
    pair = next(p for p in made.results.clearance.pairs if {p.a, p.b} == {"rocker bolts", "planted"})
    assert pair.found_gap_mm == pytest.approx(-DEPTH_MM, abs=0.1) and pair.gap_mm <= -DEPTH_MM + 1e-3
    assert pair.at_wheel_mm == pytest.approx(55.0, abs=0.5)
    assert any(f.code == "clash" and "rocker bolts" in f.where for f in made.results.findings)


def test_switched_off_they_are_drawn_but_not_looked_at():
    done = _made("heronbank-front")
    job = _planted(done.job, done).changed({"clearance.fasteners": False, "clearance.tools": False})
    made = demos.known(job)
    assert not any("bolt" in b.name for b in neighbours.bodies(made.layout)) and _bolts(made)
    assert not any("bolt" in p.a + p.b for p in made.results.clearance.pairs) and not made.results.access
    assert any("clearance.fasteners is false" in t for t in made.results.clearance.not_checked)


@pytest.mark.parametrize("name", DEMOS)
def test_no_bolt_is_said_to_strike_what_turns_on_it(name):
    """A joint's own zone holds eye or bush; what is left of the pair keeps clear of the bolt."""
    done = demos.with_gaps(name)
    own = {
        ("damper", "rocker bolts"),
        ("rod", "rocker bolts"),
        ("rod end", "rod lug bolt"),
        ("damper", "damper bracket bolt"),
    }
    own |= {(f"{a}_arm", f"{a} arm {e} bracket bolt") for a in ("upper", "lower") for e in ("front", "rear")}
    seen = {
        (a, b): p for p in done.results.clearance.pairs for a, b in ((p.a, p.b), (p.b, p.a)) if (a, b) in own
    }
    assert seen.keys() == own
    assert all(p.gap_mm >= 3.0 for p in seen.values())
    assert any("outer joints of the arms" in t for t in done.results.clearance.not_checked)
    assert not any("lug is not laid out" in t for t in done.results.clearance.not_checked)
