"""Crushing by preload, each law once by hand, and the torque that the sheet prints."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path

import demos
import pytest

from assemblies.job import load
from assemblies.making.sheets.setup_sheet import torque_list
from assemblies.strength.clamped import checks, tightenings
from assemblies.study import study
from parts.calc.clamping import class_preload_n, sleeve_squash_n, torque_nm, tube_squeeze_n

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@lru_cache
def laid_out(name, *changes):
    return demos.known(load(JOBS / f"{name}.toml").changed(dict(changes)), interference=False)


def printed(name, *changes):
    return {line[0]: line for line in torque_list(laid_out(name, *changes).layout)}


def test_a_ring_squeezed_along_its_axis_by_hand():
    """A 16 x 3 sleeve of S235 on M10: 39π = 122.52 mm² times 235 = 28 793 N, under 0.7·800·57.99 = 32 474 N
    of class 8.8: 0.2·28.793·10 = 57 N·m and not 64."""
    assert sleeve_squash_n(16, 10, 235) == pytest.approx(39 * math.pi * 235)
    assert class_preload_n("M10", "8.8") == pytest.approx(32474, rel=1e-4)
    assert torque_nm("M10", 28793) == 57 and torque_nm("M10", 32474) == 64
    with pytest.raises(ValueError, match=r"bore_mm is 16; it must be less than outer_mm, 16"):
        sleeve_squash_n(16, 16, 235)


def test_a_tube_squeezed_across_by_hand():
    """50 x 4, a pad of 20: β = 0.4, 1 - 0.324 = 0.676, 5.2/0.676 = 7.6923; times 235·16 = 3760: 28 923 N of
    an X joint, half of it 14 462 N. The same form, with 5.7 for 5.2, is AISC 360-16 Eq. K3-3."""
    assert tube_squeeze_n(50, 4, 20, 235) == pytest.approx(14462, abs=1)


def test_a_weaker_class_is_tightened_less_and_a_stronger_one_no_more():
    """5.6: 0.7·300·57.99 = 12 178 N, 24 N·m."""
    assert class_preload_n("M10", "5.6") == pytest.approx(12178, abs=1)
    assert class_preload_n("M10", "10.9") == class_preload_n("M10", "8.8")
    assert printed("tarnside-front", ("bolts.grade", "5.6"))["lower arm front bracket"][2] == "24"


def test_the_sheet_prints_the_less_of_class_and_what_is_clamped():
    """Arms' sleeves 57 N·m. The cross bolt's tube, 45 x 2.45 of S275 between washers of 20: β = 0.444, half
    of 5.2/0.64·275·2.45² = 6706 N, 13 N·m. Plates alone take the class: M8 0.56·36.6 = 20.5 kN, 32 N·m."""
    said = printed("heronbank-front")
    assert said["upper arm rear bracket"][2] == "57"
    assert "no more: inner sleeve bears 28.8 kN" in said["upper arm rear bracket"][3]
    assert said["sleeve's cross bolt"][2] == "13" and "snug" in said["sleeve's cross bolt"][3]
    assert said["anchor plates"][2] == "32" and "no more" not in said["anchor plates"][3]
    strong = printed("heronbank-front", ("bolts.sleeve_material", "S355"))["upper arm rear bracket"]
    assert strong[2] == "64" and "no more" not in strong[3]


@pytest.mark.parametrize("name", ["tarnside-front", "corrie-rear"])
def test_each_rings_cure_clears_its_row(name):
    job = laid_out(name).job
    rows = [c for c in checks(laid_out(name).layout) if not c.ok]
    assert rows and all(c.level == "warn" and c.options for c in rows)
    keys = {k: v for c in rows for o in c.options if not isinstance(o, str) for k, v in o.changes.items()}
    assert keys["bolts.sleeve_material"] == "S355"
    after = checks(study(job.changed(keys), interference=False).layout)
    assert [c.check for c in after if not c.ok and c.item != "sleeve"] == []


def test_the_weakest_of_a_stack_decides():
    """Corrie's pivot sleeve, 25 over M16 of S235: 235·π/4·(625 - 256) = 68 106 N under 87 734 of M16."""
    pivot = next(t for t in tightenings(laid_out("corrie-rear").layout) if t.joint.name == "pivot bracket")
    assert pivot.weakest.bears_n == pytest.approx(235 * math.pi / 4 * (25**2 - 16**2))
    assert pivot.torque_nm == 217
    assert 235 * math.pi / 4 * (25**2 - 16**2) == pytest.approx(68106, abs=1)
    lug = next(t for t in tightenings(laid_out("heronbank-front").layout) if t.joint.name == "rod lug")
    assert {p.what for p in lug.parts} == {"lug sleeve", "spacer"}
    assert lug.weakest.bears_n == min(p.bears_n for p in lug.parts)
