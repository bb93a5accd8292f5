"""What the interference check is used for beyond gaps: cures, hoses, imported neighbours, memory."""

from __future__ import annotations

import numpy as np
import pytest
from clearance_corner import PUSH, bar, box, mechanism
from step_here import read_here

from assemblies.clearance import Body, check, forget
from assemblies.clearance.hose import reach
from assemblies.clearance.suggest import Surroundings
from parts.files import stranger

TRAVEL = (-40.0, 40.0)
ROD = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),))


def tube(a=(-40, 300, 420), b=(60, 320, 300), name="tube"):
    return Body(name, "frame", (bar(a, b, 25.4),), "fixed")


def test_only_the_pairs_of_a_moved_member_are_looked_at_again():
    mech = mechanism()
    bodies = [
        ROD,
        Body("tie_rod", "tie_rod", (bar(PUSH["tie_inner"], PUSH["tie_outer"], 16),)),
        tube(),
        *(tube((k * 20, 100, 50), (k * 20 + 10, 200, 80), f"m{k}") for k in range(5)),
    ]
    forget()
    first = check(bodies, mech, TRAVEL)
    again = check(list(reversed(bodies)), mech, TRAVEL)
    assert first.queries > 0 and again.queries == 0 and again.pairs == first.pairs
    moved = check(
        [b for b in bodies if b.name != "m2"] + [tube((41, 100, 50), (51, 200, 80), "m2")], mech, TRAVEL
    )
    assert 0 < moved.queries < first.queries / 3
    forget()
    fresh = check(
        [b for b in bodies if b.name != "m2"] + [tube((41, 100, 50), (51, 200, 80), "m2")], mech, TRAVEL
    )
    for r, s in zip(moved.pairs, fresh.pairs, strict=True):
        assert (r.a, r.b) == (s.a, s.b) and (r.gap_mm, r.found_gap_mm) == pytest.approx(
            (s.gap_mm, s.found_gap_mm), abs=1e-6
        )
    assert check(bodies, mechanism(seed=1), TRAVEL).queries > 0  # another corner is not mistaken for this one


def test_thousands_of_far_members_are_bounded_and_near_ones_still_searched():
    mech = mechanism()
    far = [tube((5000 + k, 300, 300), (5000 + k, 300, 700), f"far {k}") for k in range(1500)]
    report = {(r.a, r.b): r for r in check([ROD, tube(), *far], mech, TRAVEL).pairs}
    near = report["rod", "tube"]
    assert near.found_gap_mm - near.gap_mm <= 0.1
    for k in (0, 700, 1499):
        r = report["rod", f"far {k}"]
        assert 500 < r.gap_mm <= r.found_gap_mm and r.ok
        alone = check([ROD, far[k]], mech, TRAVEL).pairs[0]
        assert r.gap_mm <= alone.found_gap_mm and r.found_gap_mm >= alone.gap_mm


def test_the_smallest_shift_clears_and_little_less_does_not():
    mech = mechanism()
    bodies = [ROD, tube()]
    assert check(bodies, mech, TRAVEL).pairs[0].clash
    shift = Surroundings("tube", bodies, mech, TRAVEL).smallest(None)
    way = np.array(shift.direction)

    def moved(mm):
        return check(
            [ROD, tube(np.array((-40, 300, 420)) + mm * way, np.array((60, 320, 300)) + mm * way)],
            mech,
            TRAVEL,
        ).pairs[0]

    assert moved(shift.distance_mm).ok
    assert not moved(shift.distance_mm - 0.5).ok
    assert shift.distance_mm < 40
    with pytest.raises(ValueError, match="rod"):
        Surroundings("rod", bodies, mech, TRAVEL).smallest(None)


def test_a_hose_is_as_long_as_the_furthest_pose_asks():
    """Against the greatest distance on 200 x 60 poses."""
    mech = mechanism()
    a, b = (0.0, 600.0, 300.0), (50.0, 200.0, 400.0)
    for rack in (0.0, 30.0):
        need = reach(mech, "upright", a, "frame", b, TRAVEL, rack)
        z, s = (g.ravel() for g in np.meshgrid(np.linspace(*TRAVEL, 200), np.linspace(-rack, rack, 60)))
        frame = mech.at(z, s).frame("upright")
        apart = np.linalg.norm(frame[:, :3, :3] @ a + frame[:, :3, 3] - b, axis=1).max()
        assert need.longest_mm - 0.1 <= apart <= need.longest_mm and need.found_mm <= need.longest_mm


@pytest.mark.slow
def test_an_imported_neighbour_and_one_that_holds_a_part_inside(tmp_path, monkeypatch):
    """A STEP file written and read by the CAD kernel: gap as for the same box given as a form; a rod wholly
    inside a big hollow housing's outer box is a clash; broken and empty files are clear errors."""
    cq = pytest.importorskip("cadquery")
    from assemblies.clearance.imported import read_step

    monkeypatch.setattr(stranger, "_read", read_here)
    mech = mechanism()
    low, high = (-60, 330, 420), (60, 420, 470)
    block = (
        cq.Workplane("XY")
        .box(*(h - a for h, a in zip(high, low, strict=True)), centered=False)
        .translate(low)
    )
    cq.exporters.export(block, str(tmp_path / "block.step"))
    shells = read_step(tmp_path / "block.step")
    imported = check([ROD, Body("block", "frame", (), "fixed", shells=shells)], mech, TRAVEL).pairs[0]
    known = check([ROD, Body("block", "frame", (box(low, high),), "fixed")], mech, TRAVEL).pairs[0]
    assert imported.gap_mm <= known.found_gap_mm and imported.found_gap_mm >= known.gap_mm
    assert imported.gap_mm == pytest.approx(known.gap_mm, abs=0.2)
    turned = np.eye(4)
    turned[:3, 3] = (0, 0, 1000)
    assert read_step(tmp_path / "block.step", turned)[0].box[0][2] == pytest.approx(1420, abs=1e-4)

    big = cq.Workplane("XY").box(900, 900, 900).translate((0, 370, 300))
    cq.exporters.export(big, str(tmp_path / "big.step"))
    inside = check(
        [ROD, Body("big", "frame", (), "fixed", shells=read_step(tmp_path / "big.step"))], mech, TRAVEL
    ).pairs[0]
    assert inside.clash and inside.clash_mm == TRAVEL

    (tmp_path / "broken.step").write_text("ISO-10303-21; nonsense")
    for name, words in (("broken.step", "STEP|solid"), ("none.step", "no such file")):
        with pytest.raises(ValueError, match=words):
            read_step(tmp_path / name)
