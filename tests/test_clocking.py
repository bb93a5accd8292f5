"""Clocking against closed forms, brute force over every tooth, the holes' own geometry in the car, and pixels
of a printed strip."""

import itertools
import math
from functools import cache
from pathlib import Path

import demos
import numpy as np
import pytest
from corners import trailing
from hypothesis import given, settings
from hypothesis import strategies as st

from assemblies.job import load
from assemblies.making.sheets.paper import Printing
from assemblies.making.sheets.strip_pages import write
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Preload, Spring
from assemblies.setup.clocking.choose import choose
from assemblies.setup.clocking.drilling import drilling
from assemblies.setup.clocking.joints import (
    AdjustableJoint,
    chain,
    fewest_teeth,
    nearest_deg,
    nearest_settings,
    settings_a_turn,
    vernier_step_deg,
    wrong_teeth,
)
from assemblies.setup.clocking.settings import nearest, recognise, wrong
from assemblies.setup.clocking.strips import strips
from assemblies.setup.ride_height import settle
from assemblies.setup.standing import OnStops
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.spring_socket import SpringSocket
from tests.settled import settle_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
TOOTHED = ("heronbank-front", "tarnside-front")

ON_A_SLEEVE = "heronbank-front, its spring on a sleeve"


@cache
def corner(name, mirrored=False):
    if name == ON_A_SLEEVE:
        changes = {"pivot": None, "spring.housing": {"outer": 60.3, "wall": 2.9}, "spring.teeth.sleeve": 12}
        return demos.known(demos.corner("heronbank-front").job.changed(changes), interference=False)
    return demos.corner(name, mirrored)


def standing(s):
    return OnStops(s.job, s.springing)


@cache
def drill(name, mirrored=False):
    s = corner(name, mirrored)
    return drilling(s.job, s.layout, s.springing.preload.sense)


# ------------------------------------------------------------ steps: check rows V1 to V3, V5


@pytest.mark.parametrize(
    ("counts", "step", "a_turn"),
    [
        ((24, 25), 0.6, 600),
        ((24, 30), 3, 120),
        ((20, 21), 0.85714286, 420),
        ((36, 40), 1, 360),
        ((48, 50), 0.3, 1200),
        ((30, 30), 12, 30),
    ],
)
def test_vernier_steps(counts, step, a_turn):
    """V1, closed form 360/lcm; enumeration agrees."""
    assert vernier_step_deg(*counts) == pytest.approx(step, rel=1e-8)
    assert settings_a_turn(counts) == a_turn
    angles = {
        round((i * 360 / counts[0] - j * 360 / counts[1]) % 360, 6) % 360
        for i in range(counts[0])
        for j in range(counts[1])
    }
    assert len(angles) == a_turn


def test_nearest_setting_and_its_teeth():
    """V2, closed form; any teeth that give the angle pass."""
    assert nearest_deg([7.0, 1.0, -2.5], 24, 25) == pytest.approx([7.2, 1.2, -2.4], abs=1e-9)
    joints = (
        AdjustableJoint("sleeve", "toothed", 24),
        AdjustableJoint("anchor", "toothed", 25, side="frame"),
    )
    for target, angle, most in ((7.0, 7.2, 24), (1.0, 1.2, 4), (-2.5, -2.4, 8)):
        best = nearest_settings(joints, target, 1)[0]
        k1, k2 = best.teeth
        assert best.wind_deg == pytest.approx(angle, abs=1e-9)
        assert math.cos(math.radians(k1 * 15 - k2 * 14.4 - angle)) == pytest.approx(
            1, abs=1e-12
        )  # a whole turn is none
        assert abs(k1) + abs(k2) <= most


def test_hole_circles_of_8_and_9_have_one_pair_in_line():
    """V3, closed form: 5 deg, one pair at each setting."""
    assert vernier_step_deg(8, 9) == 5
    for m in range(72):
        pairs = [
            (i, j)
            for i in range(8)
            for j in range(9)
            if abs((i * 45 + m * 5 - j * 40 + 180) % 360 - 180) < 1e-9
        ]
        assert len(pairs) == 1


@pytest.mark.parametrize(("step_deg", "shift"), [(0.6, -4.2034373), (3, -21.312647), (6, -43.374898)])
def test_winding_the_spring_up_lowers_the_wheel(step_deg, shift):
    """V5, closed form with a root find, all at once and alone."""
    m = Mechanism(trailing(400))
    preload = Preload.for_weight(Spring("solid-bar", 1500.0), m, 2500.0)
    both = settle(preload, m, 2500.0, np.radians([step_deg, 0.0]))
    assert both == pytest.approx([shift, 0.0], abs=1e-6)


@given(st.lists(st.integers(2, 13), min_size=1, max_size=3), st.data())
@settings(max_examples=60, deadline=None)
def test_fewest_teeth_by_brute_force(counts, data):
    """Every setting is reached, by no more teeth than the best of all combinations."""
    joints = [
        AdjustableJoint(f"j{i}", "toothed", n, side=data.draw(st.sampled_from(["rocker", "frame"])))
        for i, n in enumerate(counts)
    ]
    whole = math.lcm(*counts)
    best: dict[int, int] = {}
    for ks in itertools.product(*(range(-n, n + 1) for n in counts)):
        m = sum(j.winds * k * whole // j.steps for j, k in zip(joints, ks, strict=True)) % whole
        best[m] = min(best.get(m, 10**9), sum(map(abs, ks)))
    table = fewest_teeth(joints)
    assert table.shape == (whole, len(counts))
    for m, ks in enumerate(table.tolist()):
        assert sum(j.winds * k * whole // j.steps for j, k in zip(joints, ks, strict=True)) % whole == m
        assert sum(map(abs, ks)) == best[m]


def test_slots_and_free_joints_make_up_the_rest():
    teeth = AdjustableJoint("anchor", "toothed", 40, side="frame")
    slot = AdjustableJoint("flange", "slotted", 6, range_deg=10.0)
    found = nearest_settings((teeth, slot), 4.321, 1)[0]
    assert found.wind_deg == pytest.approx(4.321) and abs(found.turn_deg) <= 5
    short = AdjustableJoint("flange", "slotted", 40, range_deg=1.0)
    found = nearest_settings((teeth, short), 4.0, 1)[
        0
    ]  # steps of 9 deg: 0.5 deg of slot does not reach from 0 or 9
    assert found.wind_deg == pytest.approx(0.5)
    assert nearest_settings((teeth, AdjustableJoint("sleeve", "free")), 4.321, 3) == [
        nearest_settings((teeth, AdjustableJoint("sleeve", "free")), 4.321, 1)[0]
    ]
    assert nearest_settings((teeth, AdjustableJoint("sleeve", "free")), 4.321)[0].wind_deg == 4.321
    assert nearest_settings((AdjustableJoint("anchor", "clamped", side="frame"),), 4.0)[0].wind_deg == 0


def test_a_joint_says_what_is_wrong_with_it():
    for wrong_joint, said in (
        (dict(kind="glued"), "glued"),
        (dict(kind="toothed"), "steps is 0"),
        (dict(kind="slotted", steps=6), "range_deg"),
        (dict(kind="free", side="top"), "top"),
    ):
        with pytest.raises(ValueError, match=said):
            AdjustableJoint("sleeve", **wrong_joint)


# ------------------------------------------------------------------------------------------------ on the car


@pytest.mark.parametrize("name", TOOTHED)
def test_settings_are_exact_equilibria(name):
    """Each listed ride height against one root find of its own; torque carries the weight there by virtual
    work."""
    s = corner(name).springing
    weight = s.sprung_mass_kg * 9.80665
    for row in nearest(standing(corner(name)), chain(corner(name).job), 3.0, 5):
        z = settle_mm(s.preload, s.poses.mechanism, weight, math.radians(row.angle_deg))
        assert row.ride_height_mm == pytest.approx(-z, abs=1e-7)
        ratio = abs(float(s.mechanism.at(z).dtheta_dz))
        assert row.torque_nm * 1e3 * ratio == pytest.approx(weight, rel=1e-9)
        assert row.torque_nm == pytest.approx(math.radians(row.twist_deg) * s.spring.rate, rel=1e-9)
        assert row.stress_mpa / row.twist_deg == pytest.approx(
            row.bump_stress_mpa / (s.twist_deg["bump"] + row.angle_deg), rel=1e-9
        )


def test_one_tooth_wrong_as_the_trade_notes_tell_it():
    """Worked apart by a plain rigid-link solution: sleeve alone 9 deg = 27 mm, one vernier step 2.4 mm (A);
    0.27 deg = 0.6 mm (C)."""
    on = standing(corner("heronbank-front"))
    fine = corner("heronbank-front").job.changed({"spring.teeth": {"sleeve": 40, "anchor": 44}})
    table = wrong(on, chain(fine))
    by = {(t.teeth["sleeve"], t.teeth["anchor"]): t for t in table}
    assert len(by) == 8 and (0, 0) not in by
    assert by[1, 0].angle_deg == 9 and by[1, 0].ride_height_mm == pytest.approx(27, abs=1)
    assert by[1, 1].ride_height_mm == pytest.approx(2.4, abs=0.1)
    assert by[0, 1].ride_height_mm < 0 < by[0, -1].ride_height_mm  # the frame's side unwinds
    assert [t.teeth for t in recognise(table, by[-1, 0].ride_height_mm, 2)] == [{"sleeve": -1, "anchor": 0}]
    assert recognise(table, 12.0, 2) == []
    other = wrong(standing(corner("tarnside-front")), chain(corner("tarnside-front").job))
    assert next(t for t in other if t.teeth == {"sleeve": 1, "anchor": 1}).ride_height_mm == pytest.approx(
        0.6, abs=0.06
    )


@pytest.mark.parametrize(
    ("name", "mirrored"), [*((n, m) for n in TOOTHED for m in (False, True)), (ON_A_SLEEVE, False)]
)
def test_the_named_holes_come_in_line(name, mirrored):
    """Turn the part in the car by the teeth, in the way bump turns the rocker: the two named holes stand at
    one place."""
    s, d = corner(name, mirrored), drill(name, mirrored)
    sense = np.sign(float(s.mechanism.at(1.0).rocker_rad))
    axis = np.array(s.job.rocker.axis) / np.linalg.norm(s.job.rocker.axis) * sense
    placed = {p.name: p for p in s.layout.placed}

    def turned(v, angle):
        return (
            math.cos(angle) * v
            + math.sin(angle) * np.cross(axis, v)
            + (1 - math.cos(angle)) * (axis @ v) * axis
        )

    def direction(part, deg):
        m = placed[part].frame.matrix()
        return m[:3, 0] * math.cos(math.radians(deg)) + m[:3, 1] * math.sin(math.radians(deg))

    def meet(said, teeth):
        at, pair = said.split(": ")
        inner, outer = (float(w.split()[1]) for w in pair.replace(" deg", "").split(", "))
        drilled = {(h.part, h.row, round(h.angle_deg, 3)) for h in d.holes()}
        k = int(at.split()[1])
        assert {
            ("sleeve inner tube", k, round(inner, 3)),
            ("sleeve outer tube", k, round(outer, 3)),
        } <= drilled
        a, b = direction("sleeve inner tube", inner), direction("sleeve outer tube", outer)
        step = math.radians(teeth * d.sleeve.step_deg)  # of the tube that carries the spring
        a, b = (turned(a, step), b) if d.stub else (a, turned(b, step))
        assert abs(a @ b) == pytest.approx(1, abs=1e-9)  # straight across: either mouth

    for teeth in (-1, 1):
        meet(d.pair("sleeve", teeth), teeth)
    for row in nearest(standing(s), chain(s.job), 2.0, 9, d.pair):
        meet(row.bolt["sleeve"], row.sleeve_teeth)
        _, here, across = row.bolt["anchor"].replace("; and across", "").split(": ")
        bolted = []
        for pair in (here, across):
            turning, fixed = (float(w.split()[1]) for w in pair.replace(" deg", "").split(", "))
            a = direction("anchor plate fixed", fixed)
            b = turned(
                direction("anchor plate turning", turning),
                math.radians(row.anchor_teeth * 360 / s.job.spring.teeth.anchor),
            )
            assert a @ b == pytest.approx(1, abs=1e-5)  # printed to four figures
            bolted.append(a)
        assert bolted[0] @ bolted[1] == pytest.approx(-1, abs=1e-5)  # straight across the axis


@pytest.mark.parametrize("name", TOOTHED)
def test_a_mirrored_job_gives_a_mirrored_sheet(name):
    """Angles turn sign, everything else stays: settings, ride heights, windings, and the strip of the other
    hand."""
    own, other = corner(name).results, corner(name, True).results
    assert other.side != own.side
    for a, b in zip(own.clocking.settings, other.clocking.settings, strict=True):
        assert (a.sleeve_teeth, a.anchor_teeth) == (b.sleeve_teeth, b.anchor_teeth)
        assert a.ride_height_mm == pytest.approx(b.ride_height_mm, abs=1e-7)
    for a, b in zip(own.setup.winding, other.setup.winding, strict=True):
        assert (a.torque_nm, a.lever_force_n) == (
            pytest.approx(b.torque_nm, abs=1e-7),
            pytest.approx(b.lever_force_n, abs=1e-7),
        )
    assert own.setup.loading_turn == -other.setup.loading_turn

    def holes(rows, sign):
        return sorted((r.part, r.row, round(sign * r.angle_deg % 360, 6) % 360) for r in rows)

    assert holes(own.setup.drill, -1) == holes(other.setup.drill, 1)
    mine, theirs = strips(drill(name), other.side), strips(drill(name, True), other.side)
    for a, b in zip(mine, theirs, strict=True):
        assert a.loading == b.loading
        assert np.array(_spots(a)) == pytest.approx(np.array(_spots(b)), abs=1e-5)


def _spots(strip):
    return sorted((round(s.x_mm, 5), s.y_mm) for s in strip.spots)


def test_a_coil_over_has_no_clocking():
    s = corner("corrie-rear")
    assert chain(s.job) == () and s.results.clocking.steps == {} and s.results.setup.drill == []


def test_a_setting_whose_bolts_cannot_hold_is_not_offered(monkeypatch):
    """Statics, row B17: where only one bolt meets, the plate would swing about it."""
    s = corner("heronbank-front")
    d = drilling(s.job, s.layout, s.springing.preload.sense)
    joints = chain(s.job)
    every = nearest(standing(s), joints, 2.0, 9, d.pair)
    lost = every[3].anchor_teeth
    whole = AnchorPlates.bolts
    monkeypatch.setattr(
        AnchorPlates, "bolts", lambda a, teeth=0: whole(a, teeth)[: 1 if teeth == lost * d.turn else 2]
    )
    left = nearest(standing(s), joints, 2.0, 9, d.pair)
    assert [r.anchor_teeth for r in left] == [r.anchor_teeth for r in every if r.anchor_teeth != lost]
    assert len(left) < len(every)


def test_without_teeth_the_sleeve_is_free_and_any_wind_is_reached():
    job = load(JOBS / "tarnside-front.toml")
    given = job.to_dict()
    given["spring"].pop("teeth")
    s = demos.known(type(job).from_dict(given), interference=False)
    joints = chain(s.job)
    assert {j.kind for j in joints} == {"clamped", "free"}
    assert s.results.clocking.ride_height_per_deg_mm == pytest.approx(
        corner("tarnside-front").results.clocking.ride_height_per_deg_mm
    )
    assert wrong_teeth(joints) == [] and nearest(standing(s), joints, 1.234)[0].angle_deg == 1.234
    assert "drill one hole straight across both" in " ".join(s.results.setup.order)


# ------------------------------------------------------------ choosing counts


def test_chosen_counts_fit_and_are_fine_enough():
    """Spacing 2.2·d0 and edge 1.2·d0 at least (EN 1993-1-8 Table 3.3), measured on the holes themselves; step
    = 360/lcm."""
    socket = SpringSocket.for_leaves(4, 32, 4, 47)
    found = choose(1.0, 38, 3, socket, "M8")
    assert [c.holes for c in found] == sorted(c.holes for c in found)
    for c in found:
        assert c.step_deg == 360 / math.lcm(c.sleeve, c.anchor) <= 1.0
        sleeve = AdjusterSleeve.around(38, 3, c.sleeve, "M8")
        assert sleeve.length_mm <= 200
        radius = sleeve.inner_mm / 2 - sleeve.inner_wall_mm
        for ring in sleeve.rows:
            mouths = sorted({a % 360 for x in ring.first for a in (x, x + 180)})
            for a, b in itertools.combinations(mouths, 2):
                assert 2 * radius * math.sin(math.radians(abs(a - b)) / 2) >= 2.2 * 8 - 1e-6
        plates = AnchorPlates(socket, c.anchor, "M8")
        for which in ("fixed", "turning"):
            holes = [h for h in plates.outline(which).holes if h.purpose.startswith("clocking")]
            assert all(plates.diameter_mm / 2 - math.hypot(h.x, h.y) >= 1.2 * 8 for h in holes)
            assert all(
                math.dist((a.x, a.y), (b.x, b.y)) >= 2.2 * 8 - 1e-6
                for a, b in itertools.combinations(holes, 2)
            )
    with pytest.raises(ValueError, match="finest that fits"):
        choose(0.01, 38, 3, socket)
    with pytest.raises(ValueError, match="above 0"):
        choose(0, 38, 3, socket)


# ------------------------------------------------------------ drilling and strips


@pytest.mark.parametrize("name", TOOTHED)
def test_arcs_round_the_tube(name):
    """Arc = angle/360·π·D from the datum line; every hole goes straight through: its other mouth is half a
    turn on."""
    d = drill(name)
    for which, diameter in (("inner", d.sleeve.inner_mm), ("outer", d.sleeve.outer_mm)):
        rows = [h for h in d.holes() if h.part == f"sleeve {which} tube"]
        assert len(rows) == 2 * len(d.sleeve.holes(which))
        for h in rows:
            assert h.arc_mm == pytest.approx(h.angle_deg / 360 * math.pi * diameter, abs=1e-9)
            assert any(o.row == h.row and abs((o.angle_deg - h.angle_deg) % 360 - 180) < 1e-9 for o in rows)
        for strip in strips(d, "left"):
            if strip.part == f"sleeve {which} tube":
                assert strip.width_mm == pytest.approx(math.pi * (diameter + 0.1))
                assert strip.length_mm == d.sleeve.length_mm


def test_a_printed_strip_measured_in_pixels(tmp_path):
    """Print the page to pixels: outline and hole crosses stand at π·(D + 0.1 paper) and its shares, to a
    pixel or two of 254 dpi."""
    import pypdfium2

    d = drill("heronbank-front")
    write(d, "heronbank front", tmp_path)
    document = pypdfium2.PdfDocument(tmp_path / "wrap-left.pdf")
    dots_per_mm = 10.0
    for page, strip in enumerate(strips(d, "left")):
        picture = document[page].render(scale=254 / 72).to_numpy()[:, :, :3].astype("int16")
        blue, green, red = picture[:, :, 0], picture[:, :, 1], picture[:, :, 2]
        dark = (picture < 100).all(-1)
        tall = np.nonzero(dark.sum(0) > 0.95 * strip.length_mm * dots_per_mm)[
            0
        ]  # columns that hold the outline's sides
        tall = tall[tall < (10 + strip.width_mm + 3) * dots_per_mm]  # not the upright check bar
        left, right = tall.min(), tall.max()
        assert (right - left) / dots_per_mm == pytest.approx(math.pi * (strip.diameter_mm + 0.1), abs=0.25)
        crosses = np.maximum(red, blue) - green > 120
        angles = sorted({h.angle_deg for h in strip.holes if h.row == 1})
        want = sorted((a - strip.seam_deg) % 360 / 360 * math.pi * (strip.diameter_mm + 0.1) for a in angles)
        rows = np.nonzero(crosses.sum(1) > 0)[0]
        lowest = rows.max()  # row 1 lies nearest the rocker, at the bottom
        middle = lowest - round(
            2 * dots_per_mm
        )  # the level arms, 4 mm long; the datum line may cover their middle
        columns = np.nonzero(crosses[middle - 2 : middle + 3].any(0))[0]
        groups = np.split(columns, np.nonzero(np.diff(columns) > 12)[0] + 1)
        got = [((g.min() + g.max()) / 2 - left) / dots_per_mm for g in groups]
        seen = [
            (g, x) for g, x in zip(got, want, strict=True) if 2 < x < strip.width_mm - 2
        ]  # the seam cuts the arm of one nearer to it
        assert len(seen) >= len(want) - 1
        for g, x in seen:
            assert g == pytest.approx(x, abs=0.15)


def test_a_printer_that_prints_small_is_corrected(tmp_path):
    """A strip drawn 200/198 wider: a printer that shrinks 200 mm to 198 prints it true."""
    from pypdf import PdfReader

    d = drill("heronbank-front")
    write(d, "heronbank front", tmp_path / "true")
    write(d, "heronbank front", tmp_path / "wide", Printing("A4", 200 / 198, 1.0))
    plain, wide = (PdfReader(tmp_path / n / "wrap-left.pdf").pages[0] for n in ("true", "wide"))
    assert (
        wide.get_contents().get_data().startswith(plain.get_contents().get_data()[:5])
        and b"1.010101 0 0 1 0 0 cm" in wide.get_contents().get_data()
    )
    assert b"1.010101" not in plain.get_contents().get_data()


def test_strips_as_dxf_carry_pops_at_the_holes(tmp_path):
    from parts.files.blank import read_blank

    d = drill("tarnside-front")
    write(d, "tarnside front", tmp_path)
    left = read_blank(tmp_path / "wrap-sleeve-outer-tube-left.dxf")
    right = read_blank(tmp_path / "wrap-sleeve-outer-tube-right.dxf")
    strip = strips(d, "left")[1]
    width = math.pi * (d.sleeve.outer_mm + 0.1)
    assert left.extents_mm == pytest.approx((0, 0, width, d.sleeve.length_mm), abs=1e-6)
    assert np.array(sorted(left.pops)) == pytest.approx(
        np.array(sorted((s.x_mm, s.y_mm) for s in strip.spots)), abs=1e-6
    )
    # the other hand is the mirror image, up to where the seam was cut
    datum, other = strip.x_mm(0), strips(d, "right")[1].x_mm(0)
    flip = sorted((round((datum - x) % width, 3) % round(width, 3), round(y, 3)) for x, y in left.pops)
    assert np.array(flip) == pytest.approx(
        np.array(
            sorted((round((x - other) % width, 3) % round(width, 3), round(y, 3)) for x, y in right.pops)
        ),
        abs=2e-3,
    )
    assert any("LEFT" in t for t in left.texts) and any("RIGHT" in t for t in right.texts)
