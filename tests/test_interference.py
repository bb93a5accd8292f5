"""The check of a corner that locks within the rack it is asked for: how far it goes is told, and checked that far."""
from pathlib import Path

import numpy as np

from assemblies.hard_points import HardPoints
from assemblies.interference import closing_rack_mm
from assemblies.job import load
from assemblies.motion import Mechanism
from assemblies.study import study

DEMO = Path(__file__).parent.parent / "assemblies" / "jobs" / "tarnside-front.toml"


def test_the_rack_to_which_a_corner_closes_is_where_its_poses_end():
    mechanism = Mechanism(HardPoints.of(load(DEMO)))
    travel, heights = (-50.0, 55.0), np.linspace(-50, 55, 211)[:, None]
    held = closing_rack_mm(mechanism, travel, 190.0)
    assert 36 < held < 190
    assert mechanism.at(heights, [-held, held]).valid.all()
    assert not mechanism.at(heights, [-held - 0.1, held + 0.1]).valid.all()
    assert closing_rack_mm(mechanism, travel, 36.0) == 36.0 and closing_rack_mm(mechanism, travel, 0.0) == 0.0


def test_a_corner_that_locks_within_the_rack_is_checked_as_far_as_it_goes():
    done = study(load(DEMO).changed({"tie_rod.rack_travel": 190, "clearance.fasteners": False, "clearance.tools": False, "member": None}))
    stops = [f for f in done.results.findings if f.code == "rack-reach"]
    assert len(stops) == 1 and stops[0].level == "stop" and "190 mm asked" in stops[0].text
    found = done.results.clearance
    assert found.checked and found.pairs and any(text.startswith("rack beyond") for text in found.not_checked)
    assert max(abs(p.at_rack_mm) for p in found.pairs) < 190
