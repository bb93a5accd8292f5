"""The CAD kernel's word on the gaps: it never finds less than was proven, and a check that errs does not pass
in silence."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from clearance_corner import PUSH, bar, box, mechanism, square_tube

from assemblies.clearance import Body, Joint, check
from assemblies.clearance.confirm import _distance, _Standing, chosen, confirm, exact
from assemblies.clearance.imported import Shell
from assemblies.clearance.oriented import parted_mm
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline, rectangle

TRAVEL = (-40.0, 40.0)
ROD = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),))


def tube(a=(-40, 300, 420), b=(60, 320, 300), name="tube"):
    return Body(name, "frame", (bar(a, b, 25.4),), "fixed")


RAIL = Body("rail", "frame", (square_tube((-60, 320, 385), (70, 300, 400), 25, 4),), "fixed")


def test_true_gap_and_common_volume_at_the_worst_pose():
    mech = mechanism()
    bodies = [ROD, tube(), RAIL]
    report = check(bodies, mech, TRAVEL)
    rows, left = confirm(report.pairs, bodies, mech)
    assert not left and len(rows) == len(report.pairs)
    for r, c in zip(report.pairs, rows, strict=True):
        assert (c.a, c.b, c.fault) == (r.a, r.b, None)
        if r.clash:
            assert c.gap_mm == 0 and c.common_mm3 > 0 and c.metal_mm3 == pytest.approx(c.common_mm3)
        else:
            assert r.gap_mm - 1e-6 <= c.gap_mm <= r.found_gap_mm + 1e-6 and c.common_mm3 == 0


def test_what_rides_together_is_left_out_as_in_the_check():
    """A clamp round a damper's body, and the shaft further out: the kernel too measures to the shaft
    alone."""
    mech = mechanism()
    p = mech.points
    along = (p.damper_eye - p.damper_chassis) / math.dist(p.damper_eye, p.damper_chassis)
    bodies = [
        Body("damper", "damper_body", (bar(p.damper_chassis, p.damper_chassis + 140 * along, 46),)),
        Body("damper", "damper_shaft", (bar(p.damper_eye, p.damper_eye - 90 * along, 14),)),
        Body(
            "clamp", "damper_body", (bar(p.damper_chassis + 60 * along, p.damper_chassis + 80 * along, 60),)
        ),
    ]
    report = check(bodies, mech, TRAVEL)
    (row,), left = confirm(report.pairs, bodies, mech)
    assert not left and row.fault is None and row.common_mm3 == 0
    assert report.pairs[0].gap_mm - 1e-6 <= row.gap_mm <= report.pairs[0].found_gap_mm + 1e-6


def test_common_volume_of_crossing_bars():
    """Round bars of radius R and r crossing at right angles share 8·∫ sqrt(R² - x²)·sqrt(r² - x²) dx from 0
    to r (scipy's quad); where the larger is a tube of bore b, the same integral for b less of it is metal."""
    from scipy.integrate import quad

    def shared(big, small):
        return (
            8
            * quad(
                lambda x: math.sqrt(big**2 - x**2) * math.sqrt(max(small**2 - x**2, 0.0)), 0, min(big, small)
            )[0]
        )

    mech = mechanism()
    for bore in (0.0, 18.0):
        one = Body(
            "one",
            "frame",
            (Form((Round(24, 200, bore, Frame((-100.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))),)),),
        )
        two = Body("two", "lower_arm", (bar((0, -100, 0), (0, 100, 0), 14),))
        gap, common = exact("one", "two", [one, two], mech.at(0.0), ())
        assert gap == 0 and common == pytest.approx(shared(12, 7), rel=1e-5)
        worst = check([one, two], mech, (-1e-3, 1e-3)).pairs[0]
        (row,), _ = confirm([worst], [one, two], mech)
        assert row.common_mm3 == pytest.approx(shared(12, 7), rel=1e-3) and row.fault is None
        assert row.metal_mm3 == pytest.approx(shared(12, 7) - (shared(9, 7) if bore else 0.0), rel=1e-3)


def test_only_what_turns_in_a_joint_is_left_out():
    """Two bars of radius 5 in line, 10 mm into each other: pi·25·10 in common, unless one turns in the other;
    a collar on one, 3 mm off the other's end, is still met."""
    mech = mechanism()
    at = np.array(PUSH["rod_inboard"], float)
    along = (at - PUSH["rod_outboard"]) / np.linalg.norm(at - PUSH["rod_outboard"])
    bodies = [
        Body("one", "frame", (bar(at - 5 * along, at + 200 * along, 10),), "fixed", part="pin"),
        Body("one", "frame", (bar(at + 8 * along, at + 12 * along, 30),), "fixed", part="collar"),
        Body("two", "rod", (bar(at + 5 * along, at - 200 * along, 10),)),
    ]
    gap, common = exact("one", "two", bodies, mech.at(0.0), [Joint("one", "two")])
    assert gap == 0 and common == pytest.approx(math.pi * 25 * 10, rel=1e-6)
    joint = Joint("one", "two", rows=(("pin", "*", None),))
    gap, common = exact("one", "two", bodies, mech.at(0.0), [joint])
    assert common == 0 and gap == pytest.approx(3.0, abs=1e-5)
    (pair,) = check(bodies, mech, (-1e-3, 1e-3), joints=[joint]).pairs
    (row,), _ = confirm([pair], bodies, mech, [joint])
    assert row.fault is None and row.gap_mm == pytest.approx(3.0, abs=0.01)


def test_a_wrong_check_is_found_out():
    """A gap overstated by 0.5 mm, understated by 0.5, a clash that is none, a clash not seen."""
    mech = mechanism()
    bodies = [ROD, tube(), RAIL]
    report = {p.b: p for p in check(bodies, mech, TRAVEL).pairs}
    clear, clash = report["rail"], report["tube"]
    assert clash.clash and not clear.clash
    gap = clear.found_gap_mm
    for wrong, words in (
        (replace(clear, gap_mm=gap + 0.5, found_gap_mm=gap + 0.6), "was proven, the CAD kernel finds"),
        (replace(clear, gap_mm=gap - 0.6, found_gap_mm=gap - 0.5), "was found, the CAD kernel finds"),
        (replace(clear, gap_mm=-1.0, found_gap_mm=-0.5), "finds no volume in common"),
        (replace(clash, gap_mm=0.5, found_gap_mm=0.6), "mm³ in common"),
    ):
        (row,), _ = confirm([wrong], bodies, mech)
        assert words in row.fault


def test_what_has_no_solid_is_listed():
    mech = mechanism()
    corners = np.array([(0, 0, 0), (10, 0, 0), (0, 10, 0), (0, 0, 10)], float) + np.array((-60, 330, 500))
    shell = Shell(corners[np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])], 0.05)
    bodies = [ROD, Body("tank", "frame", (), "fixed", shells=(shell,))]
    pairs = check(bodies, mech, TRAVEL).pairs
    rows, left = confirm(pairs, bodies, mech)
    assert not rows and left == [f"{pairs[0].a} to {pairs[0].b}: tank is an imported mesh"]
    rows, left = confirm(pairs, [ROD], mech)
    assert not rows and "tank is no body with a solid" in left[0]


def test_all_short_pairs_are_asked_and_the_nearest_others():
    mech = mechanism()
    pairs = check(
        [ROD, tube(), RAIL, *(tube((k * 20, 100, 50), (k * 20 + 10, 200, 80), f"m{k}") for k in range(6))],
        mech,
        TRAVEL,
    ).pairs
    short = sum(not p.ok for p in pairs)
    assert short == 2 and chosen(pairs, 3) == list(pairs[:5]) and chosen(pairs, 0) == list(pairs[:2])


@pytest.mark.slow
def test_boxes_part_two_pieces_by_no_more_than_the_kernels_distance():
    """120 pairs of bars and plates at random: never more, mostly nearly as much, and none that overlap are
    parted; and of each ten pairs the nearest is found."""
    rng = np.random.default_rng(3)

    def piece():
        frame = Frame.looking(tuple(rng.uniform(-40, 40, 3)), rng.normal(0, 1, 3), rng.normal(0, 1, 3))
        if rng.random() < 0.5:
            return Round(float(rng.uniform(4, 20)), float(rng.uniform(5, 60)), 0.0, frame)
        return Prism(Outline(rectangle(-5, -3, *rng.uniform(4, 40, 2))), float(rng.uniform(2, 30)), frame)

    met = [(_Standing(0, "", piece()), _Standing(1, "", piece())) for _ in range(120)]
    one, two = zip(*((x.box, y.box) for x, y in met), strict=True)
    parted = parted_mm(*map(np.array, zip(*one, strict=True)), *map(np.array, zip(*two, strict=True)))
    apart = np.array([x.shape.distance(y.shape) for x, y in met])
    assert (parted <= apart + 1e-6).all() and (apart == 0).sum() > 3
    assert np.median(parted[apart > 10] / apart[apart > 10]) > 0.8
    for k in range(0, 120, 10):
        assert _distance(met[k : k + 10]) == apart[k : k + 10].min()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1))
def test_dense_exact_sampling_never_finds_less_than_was_proven(seed):
    """Corners moved at random, tubes and boxes at random round them; the kernel's exact distance at 18 poses
    of travel and rack, of a rod with its joint's zone on the rocker too, is never below the proven gap."""
    rng = np.random.default_rng(100 + seed)
    mech = mechanism(seed=seed)
    p = mech.points
    rod, tie = (
        Body(
            n,
            n,
            (bar(p.rod_outboard, p.rod_inboard, 18) if n == "rod" else bar(p.tie_inner, p.tie_outer, 16),),
        )
        for n in ("rod", "tie_rod")
    )
    rocker = Body(
        "rocker",
        "rocker",
        (
            bar(p.pivot, p.rod_inboard + 0.1 * (p.rod_inboard - p.pivot), 30),
            box((-60, 120, 300), (20, 150, 330)),
        ),
    )
    fixed = []
    for k in range(3):
        a = np.array((rng.uniform(-150, 150), rng.uniform(120, 420), rng.uniform(150, 420)))
        fixed.append(
            Body(
                f"tube {k}",
                "frame",
                (
                    square_tube(a, a + rng.normal(0, 120, 3), 25, 4)
                    if k % 2
                    else bar(a, a + rng.normal(0, 120, 3), 25),
                ),
                "fixed",
            )
        )
    bodies, joints = [rod, tie, rocker, *fixed], [Joint("rod", "rocker", required_mm=3.0)]
    report = check(bodies, mech, TRAVEL, 25.0, joints)
    poses = [(z, s) for z in np.linspace(*TRAVEL, 6) for s in (-25.0, rng.uniform(-25, 25), 25.0)]
    asked = 0
    for pair in report.pairs:
        zones = [j for j in joints if {j.a, j.b} == {pair.a, pair.b}]
        if pair.gap_mm > 150:
            continue
        for z, s in [*poses, (pair.at_wheel_mm, pair.at_rack_mm)]:
            gap, common = exact(pair.a, pair.b, bodies, mech.at(z, s), zones)
            assert gap >= pair.gap_mm - 1e-3 and (common < 1e-3 or pair.gap_mm <= 1e-3)
            asked += 1
    assert asked >= 5 * 19


@pytest.mark.slow
def test_an_imported_solid_is_asked_in_place_of_its_triangles(tmp_path, monkeypatch):
    """A casting of another program (FreeCAD) beside the rod, clear and in its way: proven <= exact <= found,
    and volume in common."""
    from pathlib import Path

    from assemblies.clearance.imported import read_step
    from parts.files.imported import Imported
    from parts.files.solid import placed, solid

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    file, mech = Path(__file__).parent / "data" / "casting.step", mechanism()
    for y, clash in ((330.0, False), (300.0, None)):
        at = np.eye(4)
        at[:3, 3] = (-20, y, 430)
        bodies = [ROD, Body("casting", "frame", (), "fixed", shells=read_step(file, at))]
        (pair,) = check(bodies, mech, TRAVEL).pairs
        (row,), left = confirm(
            [pair], bodies, mech, imported={"casting": [placed(solid(Imported.of(file)), at)]}
        )
        assert not left and row.fault is None and pair.gap_mm <= row.gap_mm + 1e-6
        assert (row.common_mm3 > 0) == (pair.found_gap_mm < 0)
        if clash is False:
            assert row.gap_mm <= pair.found_gap_mm + 1e-6
            (wrong,), _ = confirm(
                [replace(pair, gap_mm=row.gap_mm + 0.5, found_gap_mm=row.gap_mm + 0.6)],
                bodies,
                mech,
                imported={"casting": [placed(solid(Imported.of(file)), at)]},
            )
            assert "was proven" in wrong.fault
