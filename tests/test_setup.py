"""Preload, slide, ride height and corner weights against statics, virtual work, rigid-body equilibrium and
brute-force root finds."""

import math
from dataclasses import replace
from functools import cache, lru_cache
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest
from corners import PULL, PUSH
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from assemblies.job import load
from assemblies.layout import pack_slide
from assemblies.making.sheets import setup_pages, setup_sheet
from assemblies.making.sheets.paper import Printing
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import Preload, Spring, springing
from assemblies.setup import preload, slide
from assemblies.setup.adjusters import adjusters, moves
from assemblies.setup.clocking.joints import chain
from assemblies.setup.corner_weights import (
    CORNERS,
    corner_weights,
    load_changes_n,
    pattern,
    wind_for_load,
)
from assemblies.setup.ride_height import (
    carried_n,
    correction,
    rods_turned_mm,
    settle,
    wind_for,
    with_rods,
)
from assemblies.setup.standing import OnStops
from assemblies.study import study
from assemblies.tolerances.variations import rocker_turned
from parts.base.units import G_M_S2
from tests.settled import settle_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")
VERNIER_DEG = 360 / math.lcm(4, 99)  # heronbank's teeth: least step of two rings


@cache
def corner(name):
    return demos.corner(name)


SLIDING = {  # the rocker's tube as the sleeve's inner one, the anchor free to slide
    "pivot": None,
    "rocker.pivot_tube": {"outer": 38, "wall": 3},
    "spring.housing": {"outer": 60.3, "wall": 2.9},
    "spring.teeth": {"sleeve": 40, "anchor": 44},
    "spring.slide": 30,
}


@lru_cache
def sliding():
    return demos.known(load(JOBS / "heronbank-front.toml").changed(SLIDING), interference=False)


# ------------------------------------------------------------------------------------------------ ride height


@pytest.mark.parametrize("name", DEMOS)
def test_many_settles_at_once_are_the_same_as_one(name):
    s = corner(name).springing
    weight = s.sprung_mass_kg * G_M_S2
    wounds = np.linspace(-0.1, 0.1, 5) * (100 if s.spring.linear else 1)
    found = settle(s.preload, s.mechanism, weight * np.array([[1.0], [1.1]]), wounds)
    for i, w in enumerate((weight, 1.1 * weight)):
        for j, x in enumerate(wounds):
            assert found[i, j] == pytest.approx(settle_mm(s.preload, s.mechanism, w, x), abs=1e-8)


@given(st.sampled_from(DEMOS), st.floats(-25, 25), st.floats(-10, 10), st.floats(0.85, 1.2))
@settings(max_examples=40, deadline=None)
def test_the_wind_that_corrects_does(name, low, wanted, load_share):
    """A corner made to stand `low` under any load by a hidden clock error stands at `wanted` after the wind
    that `wind_for` tells."""
    s = corner(name).springing
    m, weight = s.mechanism, s.sprung_mass_kg * G_M_S2 * load_share
    hidden = float(wind_for(s.preload, m, weight, float(settle(s.preload, m, weight)), low))
    assert settle_mm(s.preload, m, weight, hidden) == pytest.approx(low, abs=1e-6)
    assert settle_mm(
        s.preload, m, weight, hidden + float(wind_for(s.preload, m, weight, low, wanted))
    ) == pytest.approx(wanted, abs=1e-6)


def test_the_wind_of_a_coil_over_by_hand():
    """A damper that shortens by 0.6 mm a mm of wheel and 0.001 more each mm: at 10 mm its ratio is 0.62 and
    it is 6.1 mm shorter. For 3000 N there the coil of 50 N/mm is pressed 3000/0.62/50 = 96.774 mm, at ride
    3000/0.6/50 = 100 mm: the collar comes up by 100 - 96.774 + 6.1 = 9.326 mm."""
    poses = SimpleNamespace(
        at=lambda z: SimpleNamespace(damper_mm=300 - 0.6 * z - 0.001 * z**2, ddamper_dz=-0.6 - 0.002 * z)
    )
    coil = SimpleNamespace(spring=SimpleNamespace(linear=True, rate=50.0), sense=-1.0, ride_damper_mm=300.0)
    assert float(wind_for(coil, poses, 3000.0, 10.0)) == pytest.approx(9.325806, abs=1e-6)


@given(
    st.sampled_from(("heronbank-front", "tarnside-front")),
    st.floats(-20, 20),
    st.sampled_from([None, 0.9, 1.1]),
)
@settings(max_examples=25, deadline=None)
def test_correcting_twice_changes_nothing(name, low, share):
    """The nearest move leaves less than half a step, and from there the nearest move is none."""
    s = corner(name).springing
    joints, on = chain(corner(name).job), OnStops(corner(name).job, s)
    kg = None if share is None else s.sprung_mass_kg * share
    first = moves(on, joints, correction(s, low, sprung_kg=kg), 3)
    best = min(first, key=lambda m: abs(m.left_mm))
    again = correction(s, -best.left_mm, sprung_kg=kg)
    second = min(moves(on, joints, again, 3), key=lambda m: abs(m.wind_deg - again.wind))
    assert second.teeth == (0, 0)
    assert second.left_mm == pytest.approx(best.left_mm, abs=1e-6)
    assert abs(best.left_mm) <= 0.51 * max(
        abs(b.left_mm - a.left_mm) for a, b in zip(first, first[1:], strict=False)
    )


def test_one_height_has_two_causes():
    """Wrong setting or wrong load: each explanation, put back into the corner, gives the height that was
    read."""
    s = corner("tarnside-front").springing
    m = s.mechanism
    c = correction(s, 12.0)
    assert settle_mm(s.preload, m, c.load_kg * G_M_S2) == pytest.approx(12.0, abs=1e-7)
    assert settle_mm(s.preload, m, c.load_kg * G_M_S2, math.radians(c.wind_load)) == pytest.approx(
        0.0, abs=1e-7
    )
    error = settle_error(s, 12.0)
    assert settle_mm(
        s.preload, m, s.sprung_mass_kg * G_M_S2, error + math.radians(c.wind_clock)
    ) == pytest.approx(0.0, abs=1e-6)
    assert float(carried_n(s.preload, m, 0.0)) == pytest.approx(s.sprung_mass_kg * G_M_S2)
    weighed = correction(s, 12.0, sprung_kg=c.load_kg)
    assert weighed.wind == pytest.approx(c.wind_load)
    with pytest.raises(ValueError, match="beyond its travel"):
        correction(s, 500.0)


def settle_error(s, low):
    """Clock error (rad) that makes the corner stand `low`, by Brent's method."""
    weight = s.sprung_mass_kg * G_M_S2
    return brentq(lambda c: settle_mm(s.preload, s.mechanism, weight, c) - low, -0.6, 0.6, xtol=1e-12)


@pytest.mark.parametrize("points", [PUSH, PULL], ids=["push", "pull"])
@pytest.mark.parametrize("longer", [-3.0, 1.0, 3.5])
def test_a_turned_rod_by_brute_force(points, longer):
    """Equilibrium of the corner with the longer rod by bisection: the rocker turned by circle and sphere at
    every wheel height, force by central differences of its angle; the wheel's own path does not know of the
    rod."""
    m = Mechanism(points)
    preload_ = Preload.for_weight(Spring("solid-bar", 350.0, stress_mpa_per_rad=1.0), m, 2400.0)
    batch, zeros = with_rods(m, [-0.5, longer, 400.0])  # one that closes nowhere is none of the batch
    assert batch.batch == (2,) and np.isnan(zeros).tolist() == [False, False, True]
    for z in (-20.0, 0.0, 25.0):
        old, now = m.at(z), batch.at(z - zeros[1])
        assert now.point("wheel_centre")[1] == pytest.approx(old.point("wheel_centre"), abs=1e-7)
        assert now.camber_deg[1] == pytest.approx(old.camber_deg, abs=1e-8)
        rods = np.linalg.norm(now.point("rod_outboard") - now.point("rod_inboard"), axis=-1)
        assert rods - np.linalg.norm(points.rod_outboard - points.rod_inboard) == pytest.approx(
            [-0.5, longer], abs=1e-9
        )
    rod = np.linalg.norm(points.rod_outboard - points.rod_inboard) + longer

    def angle(z):
        return (
            float(rocker_turned(points.changed(rod_outboard=m.at(z).point("rod_outboard")), rod))
            * preload_.sense
        )

    def force(z):
        return 350e3 * (preload_.ride_deflection + angle(z)) * (angle(z + 0.01) - angle(z - 0.01)) / 0.02

    low, high = -35.0, 35.0
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if force(middle) < 2400 else (low, middle)
    assert np.isnan(rods_turned_mm(preload_, m, 2400.0, [400.0])).all()
    none, settled = rods_turned_mm(preload_, m, 2400.0, [400.0, longer])
    assert settled == pytest.approx(low, abs=1e-4) and math.isnan(none)


def test_adjusters_of_the_demos():
    """V9, closed form: pitch one end, twice the pitch between opposite hands (M12: 1.75 and 3.5). Trade
    notes, worked apart: 27 mm for 9 deg (A), 2.7 mm a step of 360/396 deg; 3.3 mm a turn of a 1.5 mm
    collar over travel (B, ±10 %),
    0.6 mm (C)."""
    rear = {
        a.name: a for a in adjusters(OnStops(corner("corrie-rear").job, corner("corrie-rear").springing), {})
    }
    assert [a.step for n, a in rear.items() if n.startswith("rod")] == [1.75, 3.5]
    collar = next(a for n, a in rear.items() if "turn of 1.5" in n)
    assert collar.up_mm == pytest.approx(3.3, rel=0.1) and collar.down_mm < 0 < collar.up_mm
    for name, mm in (("heronbank-front", 2.7), ("tarnside-front", 0.6)):
        rows = {a.name: a for a in corner(name).results.setup.adjusters}
        assert rows["vernier, one step"].up_mm == pytest.approx(mm, abs=0.1)


# ------------------------------------------------------------------------------------------------ preload


@pytest.mark.parametrize("name", DEMOS)
def test_stored_energy_is_the_work_of_the_wheel_force(name):
    """Virtual work: ∫ F dz from the slack point is what the spring holds; lever: F·L = T and its hand moves
    θ·L (statics)."""
    s = corner(name).springing
    for w in preload.windings(s, 800.0):
        if s.slack_wheel_mm is None or w.wheel_mm < s.slack_wheel_mm:
            assert s.slack_wheel_mm is not None and w.energy_j == 0 == w.load
            continue
        z = np.linspace(s.slack_wheel_mm, w.wheel_mm, 4001)
        assert np.trapezoid(s.preload.curves(s.mechanism.at(z)).wheel_force_n, z) / 1000 == pytest.approx(
            w.energy_j, rel=1e-5
        )
        if not s.spring.linear:
            assert w.lever_force_n * 0.8 == pytest.approx(w.load)
            assert w.lever_travel_mm == pytest.approx(math.radians(w.deflection) * 800)
            assert w.load * w.lever_travel_mm / 1600 == pytest.approx(w.energy_j)  # T·θ/2


def test_preload_of_the_demos():
    """Trade notes, worked apart: twist left at droop 11.2 (A), 1.8 deg (C); coil 1.25 kN at droop (B)."""
    assert preload.windings(corner("heronbank-front").springing)[0].deflection == pytest.approx(11.2, abs=0.1)
    assert preload.windings(corner("tarnside-front").springing)[0].deflection == pytest.approx(1.8, abs=0.1)
    assert preload.windings(corner("corrie-rear").springing)[0].load == pytest.approx(1250, rel=0.01)


def test_what_must_hold_the_wheel_at_droop():
    """A: the damper alone at -65; C: slack near -54 before the damper's -60 (trade notes). A spring slack
    inside the travel says so."""
    assert "-65" in preload.stop_needed(corner("heronbank-front").springing, 45)
    said = preload.stop_needed(corner("tarnside-front").springing, 50)
    assert "-54" in said and "slack" in said
    assert "slack before full droop" in preload.stop_needed(corner("tarnside-front").springing, 58)
    for name in DEMOS:
        u = corner(name).results.setup
        assert u.cautions and u.stop and all(w.energy_j >= 0 for w in u.winding)
    with pytest.raises(ValueError, match="lever_mm"):
        preload.lever_force_n(10, 0)


# ------------------------------------------------------------------------------------------------ slide


def test_slide_changes_rate_by_length_and_ride_height_by_equilibrium():
    """K·L is constant (Saint-Venant); ±30 of 600 mm changes the rate about ±5 % (trade notes); stress by
    twist over length; the ride height is that of a corner whose file has the other length and whose spring is
    wound to the same free angle."""
    s = sliding()
    size = pack_slide.room(s.job, s.layout)
    rows = slide.table(OnStops(s.job, s.springing), size)
    assert [r.slide_mm for r in rows] == pytest.approx(np.linspace(-30, 30, 7))
    for r in rows:
        assert r.rate_nm_per_rad * r.free_length_mm == pytest.approx(s.springing.spring.rate * 600)
        assert r.stress_bump_mpa * r.free_length_mm == pytest.approx(s.springing.stress_mpa["bump"] * 600)
        other = springing(s.job.changed({"spring.length": r.free_length_mm}), s.mechanism)
        twist_here = s.springing.preload.ride_deflection - other.preload.ride_deflection
        z = settle_mm(other.preload, s.mechanism, s.springing.sprung_mass_kg * G_M_S2, twist_here)
        assert r.ride_height_mm == pytest.approx(-z, abs=1e-6)
        back = settle_mm(
            other.preload,
            s.mechanism,
            s.springing.sprung_mass_kg * G_M_S2,
            twist_here + math.radians(r.wind_back_deg),
        )
        assert back == pytest.approx(0, abs=1e-6)
    assert rows[0].rate_change_percent == pytest.approx(-5, abs=0.5) and rows[
        -1
    ].rate_change_percent == pytest.approx(5, abs=0.5)


def test_overlap_and_protrusion_by_hand():
    """32 of strip in a socket 36 deep: 4 mm in and it meets the tube, a diagonal of 35.8 does not pass a bore
    of 32; 30 out and 2 are left. Strips 30 longer and a bore of 40: 32 + 60 into 36 sticks out 56 at +30, 32
    stay at -30."""
    s = sliding()
    size = pack_slide.room(s.job, s.layout)
    assert (size.depth_mm, size.width_mm, size.circle_mm, size.bore_mm) == (
        36,
        32,
        pytest.approx(math.hypot(32, 16)),
        32,
    )
    rows = {round(r.slide_mm): r for r in slide.table(OnStops(s.job, s.springing), size, [-30, 0, 4, 5, 30])}
    assert [rows[x].ok for x in (-30, 0, 4, 5, 30)] == [False, True, True, False, False]
    assert (
        rows[-30].overlap_mm,
        rows[0].overlap_mm,
        rows[5].overlap_mm,
        rows[5].protrusion_mm,
        rows[30].protrusion_mm,
    ) == (2, 32, 36, 1, 26)
    assert size.allowed_mm == (0, 4)
    (found,) = slide.findings(s.job, size)
    assert found.level == "warn" and all(
        x in found.text for x in ("30 mm longer", "36.8", "56 mm of tube", "+4 mm")
    )
    wide = pack_slide.room(s.job, s.layout, spare_mm=30.0)
    wide = replace(wide, bore_mm=40.0)
    rows = slide.table(OnStops(s.job, s.springing), wide)
    assert all(r.ok for r in rows) and slide.findings(s.job, wide) == []
    assert (rows[-1].protrusion_mm, rows[-1].overlap_mm, rows[0].overlap_mm, rows[0].protrusion_mm) == (
        56,
        36,
        32,
        0,
    )
    form = pack_slide.protrusion_form(s.layout, wide, 30)
    assert sum(p.volume_mm3 for p in form.pieces) == pytest.approx(math.pi / 4 * wide.circle_mm**2 * 56)
    assert pack_slide.protrusion_form(s.layout, wide, -30) is None
    assert (
        slide.findings(corner("corrie-rear").job, None) == []
        and corner("tarnside-front").results.setup.slide == []
    )


def test_the_pack_s_end_stands_in_the_interference_check():
    """It reaches from the socket's inner face along the axis towards the rocker, 26 mm as drawn at the far
    end of the slide."""
    from assemblies.layout.bodies import bodies

    s = sliding()
    fixed = next(b for b in bodies(s.layout) if b.name == "spring" and b.carrier == "spring")
    end = pack_slide.pack_end(s.layout)
    assert len(fixed.forms) == 2 and fixed.forms[1] == end
    piece = end.pieces[0]
    start = np.array(piece.frame.origin)
    axis = np.array(s.job.spring_direction)
    socket = next(p for p in s.layout.placed if p.name == "spring socket")
    face = np.array(socket.frame.origin) - socket.part.depth_mm * axis
    assert start == pytest.approx(face, abs=1e-9) and piece.length_mm == 26
    assert np.array(piece.frame.z) == pytest.approx(-axis)
    assert pack_slide.pack_end(corner("tarnside-front").layout) is None


# ------------------------------------------------------------ corner weights


def test_shares_of_four_readings():
    """Arithmetic."""
    w = corner_weights([[120, 116, 165, 170], [100, 100, 100, 100]])
    assert w.total_kg.tolist() == [571, 400]
    assert w.cross_share == pytest.approx([(116 + 165) / 571, 0.5])
    assert w.front_share == pytest.approx([236 / 571, 0.5]) and w.left_share == pytest.approx(
        [285 / 571, 0.5]
    )
    for bad in ([1, 2, 3], [100, 0, 100, 100], [100, math.nan, 1, 1]):
        with pytest.raises(ValueError, match="corner weights"):
            corner_weights(bad)


def _rigid(h, k, tracks, wheelbase=2350.0):
    """Load changes of a rigid body on four springs whose upper seats are raised by h: three equations of
    equilibrium, solved."""
    x = np.array([wheelbase, wheelbase, 0, 0])
    y = np.array([tracks[0], -tracks[0], tracks[1], -tracks[1]]) / 2
    modes = np.stack([np.ones(4), x, y])  # heave, pitch, roll of the body lift its corners by modes.T @ q
    q = np.linalg.solve(modes @ (k[:, None] * modes.T), modes @ (k * h))
    return k * (h - modes.T @ q)


def test_cross_weight_is_met_and_the_car_does_not_move():
    """Each corner raised by F/K leaves the body where it is (rigid-body reference) and brings the cross
    weight to 50 %."""
    readings, tracks, k = (
        np.array([121.0, 113.0, 158.0, 172.0]),
        (1554.0, 1480.0),
        np.array([11.4, 11.4, 13.4, 13.4]),
    )
    change = load_changes_n(readings, *tracks)
    assert change.sum() == pytest.approx(0, abs=1e-9)  # N, of some hundreds
    assert change @ [1, 1, 0, 0] == pytest.approx(0, abs=1e-9)
    assert change @ [tracks[0], -tracks[0], tracks[1], -tracks[1]] == pytest.approx(0, abs=1e-6)  # N·mm
    assert _rigid(change / k, k, tracks) == pytest.approx(change)
    after = corner_weights(readings + change / G_M_S2)
    assert after.cross_share == pytest.approx(0.5) and after.front_share == pytest.approx(
        corner_weights(readings).front_share
    )
    assert load_changes_n(readings + change / G_M_S2, *tracks) == pytest.approx(
        0, abs=1e-9
    )  # twice changes nothing
    assert load_changes_n(np.stack([readings, readings]), *tracks).shape == (2, 4)
    assert len(CORNERS) == 4 and pattern(1500, 1500).tolist() == [1, -1, -1, 1]
    with pytest.raises(ValueError, match="cross_share"):
        load_changes_n(readings, *tracks, 50)
    with pytest.raises(ValueError, match="rear_track_mm"):
        pattern(1500, 0)


@pytest.mark.parametrize("name", DEMOS)
def test_wind_for_a_load_change_is_exact(name):
    """With the wheel where it is, the wound spring's own force at the wheel has changed by just that much."""
    s = corner(name).springing
    wind = float(wind_for_load(s, 150.0))
    wound = replace(
        s.preload, ride=s.preload.ride + s.spring.rate * (wind if s.spring.linear else math.radians(wind))
    )
    rise = (
        wound.curves(s.mechanism.at(0.0)).wheel_force_n - s.preload.curves(s.mechanism.at(0.0)).wheel_force_n
    )
    assert float(rise) == pytest.approx(150.0, rel=1e-9)


# ------------------------------------------------------------------------------------------------ the sheet


@pytest.mark.parametrize("name", DEMOS)
def test_the_set_up_sheet_has_one_or_two_pages_and_its_numbers(name, tmp_path):
    from pypdf import PdfReader

    from assemblies.making.sheets.letters import letters

    s = corner(name)
    with letters(()):  # the fonts of a build, wider than the standard ones
        setup_pages.write(s.results, tmp_path, s, Printing(dated="2026-11-29"))
    pages = PdfReader(tmp_path / "set-up.pdf").pages
    assert 1 <= len(pages) <= 2
    text = " ".join(p.extract_text() for p in pages)
    assert "job of 2026-11-29" in text
    assert not {"sleev", "ancho"} & set(text.split())  # no word broken for want of width
    for words in ("CAUTION", "Check table", "Order of work", "Torque and lock list", "Preload", "Settings"):
        assert words in text
    assert f"{s.results.setup.winding[0].energy_j:.1f}" in text
    for row in setup_sheet.rows(s.results):
        assert row[2] in text
    assert (tmp_path / "wrap-left.pdf").exists() == (s.results.setup.drill != [])
    assert all(float(p.mediabox[3]) == pytest.approx(842, abs=1) for p in pages)
    setup_pages.write(s.results, tmp_path, s, Printing("Letter"))
    for file in tmp_path.glob("*.pdf"):  # the set-up, and the wrap strips with their table
        for page in PdfReader(file).pages:
            size = sorted(map(float, page.mediabox[2:]))
            larger = "wrap" in file.name and size[0] > 700  # 11 x 17 in for a long strip
            assert size == pytest.approx([792, 1224] if larger else [612, 792], abs=0.1)


# ------------------------------------------------------------------------------------------------ the verbs


def say(*words):
    done = demos.verb(*words)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def flat(text):
    """As if no line were broken."""
    return " ".join(text.split())


@pytest.mark.slow
def test_clock_prints_and_writes_strips(tmp_path):
    code, text = say(
        "clock",
        JOBS / "heronbank-front.toml",
        "--wind",
        "4.75",
        "--count",
        "3",
        "--step",
        "1",
        "--sheets",
        tmp_path,
        "--lever",
        "800",
    )
    assert (
        code == 0
        and f"{5 * VERNIER_DEG:+.2f}" in text
        and "12 and 35" in flat(text)
        and "81 N at" in flat(text)  # 65.0 N·m on a lever of 800 mm
        and "it can break bones" in flat(text)
    )
    assert sorted(p.name for p in tmp_path.iterdir() if p.suffix == ".pdf") == [
        "wrap-left.pdf",
        "wrap-right.pdf",
    ]
    assert say("clock", JOBS / "corrie-rear.toml", "--sheets", tmp_path)[0] == 2
    assert say("clock", JOBS / "heronbank-front.toml", "--lever", "0")[0] == 2
    assert say("clock", JOBS / "heronbank-front.toml", "--step", "0.001")[0] == 2


def test_a_collar_is_set_by_a_dimension():
    """Seat to perch with the damper out, by hand from the points: eyes 305 mm apart at ride, 336 pulled out,
    the coil's ride force by virtual work on the damper's travel (central difference). Each other setting
    carries the sprung weight where it says the car stands."""
    job = load(JOBS / "corrie-rear.toml")
    s = demos.known(job, interference=False)
    m, weight = s.springing.mechanism, (165 - 32) * 9.80665

    def slope(z):
        a, b = (float(m.at(z + h).damper_mm) for h in (0.01, -0.01))
        return (b - a) / 0.02

    rows = s.results.setup.collar
    design = next(r for r in rows if r.wind_mm == 0)
    assert design.seat_to_perch_mm == pytest.approx(200 - weight / slope(0.0) / 60 + 336 - 305, abs=1e-3)
    assert design.ride_height_mm == 0 and len(rows) == 9
    for r in rows:
        z = -r.ride_height_mm
        coil = r.seat_to_perch_mm - (336 - float(m.at(z).damper_mm))
        assert 60 * (200 - coil) * slope(z) == pytest.approx(weight, rel=1e-5)
        assert r.force_n == pytest.approx(60 * (200 - coil), rel=1e-6)
    assert f"{design.seat_to_perch_mm:.1f} mm from seat to perch" in s.results.setup.order[0]
    long = demos.known(job.changed({"spring.free_length": 300.0}), interference=False).results
    (said,) = (f.text for f in long.findings if f.code == "collar")
    cure = float(said.split("spring.free_length ")[1].split(" or less")[0])
    cured = study(job.changed({"spring.free_length": cure}), interference=False).results
    assert not [f for f in cured.findings if f.code == "collar"]


def test_a_coil_over_is_told_in_mm_of_collar():
    """No clock angle, tooth or lever where a collar is turned; a wind is mm of it."""
    file = JOBS / "corrie-rear.toml"
    code, text = say("clock", file, "--wind", "10", "--count", "3")
    assert code == 0 and "+11.0" in text and "seat to perch" in text and "deg" not in text
    assert "tolerance" not in text and "clocking" not in text
    code, text = say("tolerance", file, "--builds", "100")
    assert code == 0 and "clock" not in text and "twist" not in text and "collar" in text
    for words in (("clock", file, "--lever", "500"), ("correct", file, "--sleeve", "2")):
        code, text = say(*words)
        assert code == 2 and "coil-over" in text


@pytest.mark.parametrize(
    ("mm", "words"), [(0.04, "just free"), (3.0, "3.0 mm short of free"), (-2.0, "loose by 2.0 mm")]
)
def test_a_coil_is_never_nothing_short_of_free(mm, words):
    from assemblies.setup.collar import short_of_free

    assert short_of_free(mm) == words


def test_correct_says_both_causes_and_the_move():
    code, text = say("correct", JOBS / "heronbank-front.toml", "--low", "14")
    assert code == 0 and "14 mm too low" in text and "cannot tell the two apart" in text
    assert f"{5 * VERNIER_DEG:+.2f}" in text
    code, text = say("correct", JOBS / "heronbank-front.toml", "--low", "26", "--weighed", "118")
    assert code == 0 and f"{10 * VERNIER_DEG:+.2f}" in text and "118 kg weighed" in text
    assert say("correct", JOBS / "corrie-rear.toml", "--low", "-5")[0] == 0
    assert say("correct", JOBS / "heronbank-front.toml", "--low", "14", "--weighed", "20")[0] == 2
    assert say("correct", JOBS / "heronbank-front.toml", "--low", "600")[0] == 2


def test_corners_tolerance_measure_and_asbuilt_speak(tmp_path):
    code, text = say("corners", JOBS / "heronbank-front.toml", JOBS / "corrie-rear.toml", 120, 115, 160, 171)
    assert code == 0 and "cross weight 48.6 %" in text and "mm of collar" in text
    code, text = say("tolerance", JOBS / "tarnside-front.toml", "--builds", "300", "--worst")
    assert code == 0 and "share of variance" in text and text.count("from     to") == 2
    code, text = say("measure", tmp_path / "sheet.pdf")
    assert code == 0 and (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert say("measure", tmp_path / "sheet.pdf")[0] == 2  # never overwrites
    readings = tmp_path / "r.toml"
    readings.write_text('[[reading]]\nkind = "ride"\nat = 118\nvalue = 14\n', encoding="utf-8")
    code, text = say("asbuilt", JOBS / "heronbank-front.toml", readings)
    assert code == 0 and "cannot be told apart" in text and "Wind +" in text
    assert say("asbuilt", JOBS / "heronbank-front.toml", tmp_path / "none.toml")[0] == 2
