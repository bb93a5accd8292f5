"""Where a corner stands on strap, bump stop, damper or linkage: energy, written anew.

At equilibrium the slope of all energy by wheel travel is the weight (virtual work): the spring's K·θ²/2, the
strap's k·x²/2, the bump stop's area under its rows.
"""

import json
import math
from dataclasses import replace
from functools import cache

import demos
import numpy as np
import pytest

from assemblies.job import Job
from assemblies.making.sheets import setup_sheet
from assemblies.motion.springing import springing
from assemblies.setup.account import set_up
from assemblies.setup.adjusters import moves
from assemblies.setup.clocking import chain
from assemblies.setup.collar import settings
from assemblies.setup.ride_height import correction
from assemblies.setup.standing import BUMP_STOP, STRAP, OnStops
from assemblies.study.wound import breaks

OUT = "hangs with the damper pulled right out"


def standing(name):
    s = demos.corner(name)
    return OnStops(s.job, s.springing)


def energy_nmm(on: OnStops, z: float, wound: float) -> float:
    """Of the spring and both stops at one wheel height, from the job's own keys."""
    p, job, pose = on.s.preload, on.job, on.s.mechanism.at([z])
    if p.spring.linear:
        x = p.ride / p.spring.rate + wound + p.sense * (float(pose.damper_mm[0]) - p.ride_damper_mm)
        total = p.spring.rate * x**2 / 2
    else:
        x = p.ride / p.spring.rate + wound + p.sense * float(pose.rocker_rad[0])
        total = p.spring.rate * x**2 / 2 * 1e3
    strap, stop = job.droop_strap, job.bump_stop
    frame = pose.frame(strap.on)[0]
    length = np.linalg.norm(frame[:3, :3] @ np.array(strap.end) + frame[:3, 3] - strap.frame)
    total += strap.stiffness * max(length - strap.length, 0.0) ** 2 / 2
    rows = np.array([(0.0, 0.0), *stop.curve])
    pressed = np.linspace(0, max(job.damper.shortest + stop.free_length - float(pose.damper_mm[0]), 0), 4000)
    return total + float(np.trapezoid(np.interp(pressed, *rows.T), pressed))


@pytest.mark.parametrize(
    "name, winds, held",
    [
        ("heronbank-front", (-35, -20, -5, 5, 20, 40), [BUMP_STOP, BUMP_STOP, "", "", STRAP, STRAP]),
        ("corrie-rear", (-25, -4, 4, 33), [BUMP_STOP, "", "", STRAP]),
    ],
)
def test_where_it_stands_all_energy_together_carries_the_weight(name, winds, held):
    on = standing(name)
    wound = np.array(winds, float) if on.s.spring.linear else np.radians(winds)
    got = on.stand(wound)
    assert list(got.held) == held
    for z, w in zip(got.wheel_mm, wound, strict=True):
        slope = (energy_nmm(on, z + 0.05, w) - energy_nmm(on, z - 0.05, w)) / 0.1
        assert slope == pytest.approx(on.weight_n, rel=0.01), (z, w)


def test_wound_too_far_it_hangs_on_the_damper_or_sits_on_its_stop():
    """Wound up by a quarter turn the spring alone would lift the car 228 mm; it cannot fall out of its
    damper."""
    on = standing("heronbank-front")
    got = on.stand(np.radians([90.0, 400.0, -400.0]))
    out = on.s.ends.damper_longest_mm[0]
    assert got.wheel_mm[:2] == pytest.approx([out, out]) and list(got.held[:2]) == [OUT, OUT]
    assert 0 < got.wheel_mm[2] <= on.s.ends.damper_shortest_mm[1] and "bump stop" in got.held[2]


def test_a_bump_stop_pressed_beyond_its_last_row_at_every_height_is_told_of_each():
    """Longer by 100 mm and its curve than its room with the damper pulled out: no height has a force."""
    s = demos.corner("heronbank-front")
    damper, last_mm = s.job.damper, s.job.bump_stop.curve[-1][0]
    job = s.job.changed({"bump_stop.free_length": damper.longest - damper.shortest + last_mm + 100})
    on, said = OnStops(job, springing(job, s.mechanism)), "presses the bump stop beyond its last row"
    assert set(on.stand(np.radians([-20.0, 0.0, 20.0])).held) == {said}
    told = on.told([-30.0, 0.0, 12.0])
    assert list(told.wheel_mm) == [-30.0, 0.0, 12.0] and set(told.held) == {said}
    set_up(job, on.s, None)


@cache
def four_teeth():
    """The demo with four teeth at the sleeve, and neither strap nor bump stop in the second."""
    s = demos.corner("heronbank-front")
    tables = s.job.to_dict()
    tables["spring"]["teeth"] = {"sleeve": 4, "anchor": 44}
    bare = {k: v for k, v in tables.items() if k not in ("droop_strap", "bump_stop")}
    jobs = [Job.from_dict(t) for t in (tables, bare)]
    return [(job, springing(job, s.mechanism)) for job in jobs]


def test_no_height_beyond_the_stops_is_printed_anywhere():
    for job, sprung in four_teeth():
        clock, u, _ = set_up(job, sprung, None)
        reach = sprung.ends.damper_longest_mm[0], sprung.ends.damper_shortest_mm[1]
        heights = [(t.ride_height_mm, t.held) for t in (*clock.wrong_tooth, *clock.settings)]
        heights += [(clock.ride_height_per_step_mm[n], clock.held_per_step.get(n, "")) for n in clock.steps]
        heights += [(a.up_mm, a.up_held) for a in u.adjusters] + [
            (a.down_mm, a.down_held) for a in u.adjusters
        ]
        for rise, held in heights:
            assert reach[0] - 1e-6 <= -rise <= reach[1] + 1e-6
            assert bool(held) or -job.corner.droop - 0.1 <= -rise <= job.corner.bump + 0.1
        assert clock.held_per_step["sleeve"] == OUT and {a.up_held for a in u.adjusters} >= {"", OUT}
        quarter = next(t for t in clock.wrong_tooth if t.teeth == {"sleeve": 1, "anchor": 0})
        assert quarter.ride_height_mm == pytest.approx(-reach[0]) and quarter.held == OUT
        assert any(s.beyond.startswith(s.held) for s in clock.settings if s.held)
        low = sprung.ends.damper_longest_mm[0]
        results = replace(demos.corner("heronbank-front").results, clocking=clock)
        assert f"{-low:.1f} mm of ride height: the car then {OUT}" in " ".join(setup_sheet.notes(results))
        json.loads(results.to_json())


def test_a_move_that_ends_on_a_stop_says_so():
    job, sprung = four_teeth()[0]
    got = moves(OnStops(job, sprung), chain(job)[:1], correction(sprung, 10.0), 3)
    assert [m.held for m in got] == [BUMP_STOP, "", OUT]
    assert got[1].left_mm == pytest.approx(-10.0)  # a quarter turn is too coarse: it stays where it is


def test_a_collars_setting_says_what_it_goes_beyond():
    on, layout = standing("corrie-rear"), demos.corner("corrie-rear").layout
    spec, s = on.job.spring, on.s
    rows = settings(on, layout, 0.0, 241)
    for r in rows:
        assert ("loose" in r.beyond) == (s.compression_mm["droop"] + r.wind_mm < 0)
        assert ("solid" in r.beyond) == (s.compression_mm["bump"] + r.wind_mm >= 0.75 * spec.free_length)
    assert any("no thread there" in r.beyond for r in rows) and any(r.beyond == "" for r in rows)
    assert all(math.isfinite(r.ride_height_mm) for r in rows)


def test_a_wound_setting_that_breaks_a_row_says_which():
    """The strap's arm bears the spring's force at droop: its use grows with each degree more."""
    s = demos.corner("heronbank-front")
    row = next(
        c for c in s.results.strength.checks if c.item == "droop strap" and "bending of the" in c.check
    )
    assert 0.9 < row.use < 1
    at = breaks(s, [1.0, 5.0])
    assert at[0] == "" and "droop strap: bending" in at[1]
