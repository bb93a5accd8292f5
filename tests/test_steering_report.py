"""Steering in the report: its section, the lock slider's numbers, the map of places."""

import json
import re
from dataclasses import replace

import pytest

from assemblies.making.report import page
from assemblies.making.report.steering import figures, lock, zone_svg
from assemblies.steering.places import zone_row
from assemblies.steering.words import lines
from tests.test_steering_job import REAR, done


@pytest.fixture(scope="module")
def made():
    s = done(**{"tie_rod.inner": (1832, 345, 196)})
    zone = zone_row(s.job, s.layout, s.springing.ends, look=False)
    steering = replace(s.results.steering, zone=zone)
    return s, replace(s.results, steering=steering)


def test_the_section_says_the_lines_and_its_slider_has_the_results_numbers(made):
    s, r = made
    text = page(s, r, {}, quick=True)
    assert text.count('id="steering"') == 1 and 'href="#steering"' in text
    plain = re.sub(r"\s+", " ", text.replace("&#39;", "'").replace("&gt;", ">"))
    for line in lines(r):
        assert line in plain
    for row in r.geometry.rows:
        assert row.name.replace("'", "'") in plain
    data = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)[1])
    assert data["lock"]["inner_deg"][-1] == pytest.approx(r.steering.inner_lock_deg, abs=1e-6)
    assert data["lock"]["ackermann"][0] == pytest.approx(r.steering.ackermann_limit, abs=1e-6)
    assert f'max="{len(r.steering.lock.rack_mm) - 1}"' in text
    keys = {f["key"] for f in data["figures"]}
    assert {"bump-steer", "roll-centre", "scrub-trail"} <= keys


def test_a_toe_link_has_the_section_without_a_slider():
    s = done(REAR)
    text = page(s, s.results, {}, quick=True)
    assert 'id="steering"' in text and 'id="lock"' not in text and lock(s.results) is None
    assert [c.label for c in figures(s.results)[0].curves] == ["straight ahead"]


def test_the_map_shades_just_the_places_within_the_limit(made):
    _, r = made
    z = r.steering.zone
    svg = zone_svg(z)
    within = sum(v is not None and v <= z.limit_deg for row in z.worst_deg for v in row)
    assert within > 0.05 * len(z.y_mm) * len(z.z_mm)  # it can be seen
    assert svg.count("<rect") == within + 1 and svg.count("<circle") == 1
    assert "z " + f"{z.z_mm[0]:.0f}" in svg


def test_the_figures_have_bump_steer_at_lock_and_both_roll_centres(made):
    _, r = made
    drawn = {f.key: [(c.label, c.y) for c in f.curves] for f in figures(r)}
    assert [label for label, _ in drawn["bump-steer"]] == ["rack -36 mm", "straight ahead", "rack +36 mm"]
    assert drawn["roll-centre"][0][1] == r.geometry.roll_centre_mm
