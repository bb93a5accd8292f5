"""A driven rear right corner of the tests' own: push rod, coil-over, half shaft, nodes of six and of four
square tubes, cut by hand from an inch plate, a remnant and odd bars. Checked as its builder would."""

from functools import cache
from pathlib import Path

import demos
import pytest
from pypdf import PdfReader

from assemblies.job import load
from assemblies.making import sheets
from assemblies.making.report.gaps import fields, gap_curves
from assemblies.making.sheets import sawing, setup_pages
from assemblies.making.sheets.paper import Printing
from assemblies.results.findings import lacking
from assemblies.study import Study

JOB = Path(__file__).parent / "data" / "scree-rear-right.toml"


@cache
def corner(gaps: bool) -> Study:
    return demos.known(load(JOB), interference=gaps)


@pytest.mark.slow
def test_numbers_loads_and_nodes():
    done = corner(False)
    r = done.results
    assert not [f for f in r.findings if f.level == "stop"]
    (shaft,) = r.links
    assert shaft.plunge_in_mm + shaft.plunge_out_mm < shaft.plunge_limit_mm
    assert shaft.from_angle_deg < shaft.from_angle_limit_deg and done.job.car.driven
    assert {"drive", "engine braking"} <= {c.name for c in r.strength.cases}
    sizes = sorted(len(n.members) for n in r.junctions.nodes)
    assert sizes[-2:] == [4, 6]


@pytest.mark.slow
def test_what_is_in_hand_is_cut_first():
    """Every odd bar of 25 square is used before a new one, to less than the shortest piece that fits."""
    done = corner(False)
    shop = sheets.work_out(done.layout, done.springing, lambda flat: 2 * flat.thickness_mm, False)
    (plan,) = [p.plan for p in shop.sawn if str(p.section) == "25 x 25 x 2"]
    assert sum(not b.bought for b in plan.bars) == 3 and plan.to_buy == 1
    spared = sawing.plans(shop.rows, done.job.changed({"stock.in_hand_first": False}))
    (other,) = [p.plan for p in spared if str(p.section) == "25 x 25 x 2"]
    assert other.to_buy == 1 and plan.needed_mm < other.needed_mm


@pytest.mark.slow
def test_its_gaps():
    """No stop; the shaft's gaps are proven like all others and have their curves in the report."""
    done = corner(True)
    assert not [f for f in done.results.findings if f.level == "stop"]
    mine = [p for p in done.results.clearance.pairs if "half shaft" in (p.a, p.b)]
    assert len(mine) > 20 and all(p.ok and p.found_gap_mm - p.gap_mm < 0.11 for p in mine)
    assert gap_curves(fields(done, done.results), done.results)


@pytest.mark.slow
def test_the_set_up_sheet_says_how_the_shaft_is_fitted(tmp_path):
    """What its sliding joint must still have at ride, and no heading alone at the foot of a page."""
    done = corner(False)
    path = setup_pages.write(done.results, tmp_path, done, Printing("Letter"))
    (x,) = done.results.links
    pages = [p.extract_text() for p in PdfReader(path[1]).pages]
    assert f"{lacking(x.plunge_in_mm, 1)} mm in, {lacking(x.plunge_out_mm, 1)} mm out" in pages[0]
    assert not any(p.rstrip().endswith("Torque and lock list") for p in pages)
