"""Two corners compared: what differs, by how much, and which parts must be cut again."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies.job import load
from assemblies.making.compare.comparison import compared, keys
from assemblies.making.compare.numbers import RowOfBoth
from assemblies.making.compare.overlaid import overlaid, page
from assemblies.making.compare.remaking import same
from assemblies.making.compare.telling import _line, text
from assemblies.results.findings import Finding, guaranteed, lacking
from parts.shape.belt import Boss, belt
from parts.shape.form import Form, Prism, Round
from parts.shape.outline import Mark, Outline
from tests.browser import browsers, opened, violations

STOP = Finding(level="stop", code="planted", where="eye", text="It breaks.")
JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@pytest.fixture(scope="module")
def job():
    return load(JOBS / "corrie-rear.toml")


@pytest.fixture(scope="module")
def thicker(job):
    """The demo corner against the same with other rocker plates and a stiffer coil."""
    return compared(job, job.changed({"rocker.plate_thickness": 6, "spring.rate": 75}), interference=False)


def test_a_corner_and_itself_have_no_differences(job):
    c = compared(job, job, interference=False)
    assert not c.keys and not [r for r in c.rows if r.differs] and not c.gone and not c.new
    assert c.parts and {p.fate for p in c.parts} == {"stays"}
    assert "No number differs" in text(c) and "Every part stays" in page(c)


def test_changed_keys_are_named_with_both_values(thicker, job):
    assert ("spring.rate", f"{job.spring.rate:g}", "75") in thicker.keys
    named = {k for k, _, _ in thicker.keys}  # a default that follows the plates is named too
    assert (
        {"rocker.plate_thickness", "spring.rate"}
        <= named
        <= {"rocker.plate_thickness", "spring.rate", "damper.bracket_thickness"}
    )


def test_a_default_written_out_is_no_change(job):
    assert keys(job, job.changed({"clearance.tolerance": job.clearance.tolerance})) == ()


def test_only_what_the_change_touches_is_cut_again(thicker):
    """Thicker plates: the rocker's plates are new metal; arms, rod and their brackets do not know of it."""
    fate = {p.name: p for p in thicker.parts}
    assert fate["rocker plate"].fate == "again" and "to 6 mm thick" in fate["rocker plate"].why
    for name in ("upper arm", "lower arm", "push rod", "upper arm front bracket tab 1"):
        assert fate[name].fate == "stays", name


def test_differences_are_those_of_the_two_results(thicker):
    """Every row against results.json of either; the wheel rate's difference by hand: stiffness times (ds/dz)²
    grows with the coil's rate."""
    rows = {r.name: r for r in thicker.rows}
    one, two = (json.loads(s.results.to_json()) for s in (thicker.a, thicker.b))
    assert rows["ride frequency"].change == pytest.approx(
        two["spring"]["ride_frequency_hz"] - one["spring"]["ride_frequency_hz"], abs=1e-6
    )
    at = [int(np.argmin(np.abs(r["travel"]["wheel_mm"]))) for r in (one, two)]
    ratio2 = one["travel"]["damper_per_wheel"][at[0]] ** 2
    geometry = (
        two["travel"]["wheel_rate_geometry_term_n_per_mm"][at[1]]
        - one["travel"]["wheel_rate_geometry_term_n_per_mm"][at[0]]
    )
    assert rows["wheel rate, ride"].change == pytest.approx(
        (75 - thicker.a.job.spring.rate) * ratio2 + geometry, abs=1e-4
    )
    assert not rows["rocker angle, full bump"].differs


def test_text_says_what_the_page_says(thicker):
    said, html = text(thicker), page(thicker)
    line = next(x for x in said.splitlines() if x.strip().startswith("ride frequency"))
    a, b, change = map(float, line.split()[2:5])
    assert b - a == pytest.approx(change, abs=0.011)
    for value in line.split()[2:4]:
        assert f'<td class="num">{value}</td>' in html
    assert "Parts to be cut again\n  rocker plate: " in said


def test_gaps_are_paired_by_bodies_and_a_pair_of_one_side_only_has_no_change(thicker):
    from assemblies.making.compare.numbers import pairs
    from assemblies.results import gaps as rs

    def clear(*found):
        made = [
            rs.PairRow(
                a=a,
                b=b,
                kind="moving",
                gap_mm=g,
                found_gap_mm=g,
                required_mm=8,
                at_wheel_mm=0,
                at_rack_mm=0,
                ok=g >= 8,
            )
            for a, b, g in found
        ]
        return replace(
            thicker.a.results, clearance=rs.ClearanceRow(checked=True, tolerance_mm=0.1, pairs=made)
        )

    found = pairs(
        clear(("rod", "rail", 9.0), ("rocker", "rail", 20.0)),
        clear(("rod", "rail", 6.5), ("spring", "rail", 30.0)),
    )
    assert [(r.name, r.change) for r in found] == [
        ("rod to rail", -2.5),
        ("rocker to rail", None),
        ("spring to rail", None),
    ]


@pytest.mark.slow
def test_curves_of_both_lie_over_the_heights_of_either(job):
    c = compared(job, job.changed({"corner.bump": 40}), interference=False)
    f = next(f for f in overlaid(c) if f.key == "rocker-angle")
    a, b = c.a.results.travel, c.b.results.travel
    assert (
        f.x[-1] == a.wheel_mm[-1]
        and f.curves[0].y[-1] is None
        and f.also[0].y[-1] == pytest.approx(a.rocker_deg[-1], rel=1e-6)
    )
    read = [v for x, v in zip(f.x, f.curves[0].y, strict=True) if x in b.wheel_mm]
    assert read == pytest.approx(list(b.rocker_deg), rel=1e-6)


def test_shapes_differ_by_what_is_cut_not_by_noise_or_marks():
    outline = Outline(belt([Boss(0, 0, 20), Boss(90, 5, 12)]))
    noisy = outline.moved(turn_rad=1e-12)
    assert same(outline, noisy) and same(outline, replace(outline, marks=(Mark("pop", ((0.0, 0.0),)),)))
    assert not same(outline, Outline(belt([Boss(0, 0, 20), Boss(90.01, 5, 12)])))
    assert same(Form((Round(20, 100),)), Form((Round(20, 100 + 1e-9),))) and not same(
        Form((Round(20, 100),)), Form((Round(20, 100, 16),))
    )
    assert not same(Form((Prism(outline, 3.0),)), Form((Round(20, 100),)))
    assert not same(outline, Outline(belt([Boss(0, 0, 20), Boss(90, 5, 12), Boss(40, 60, 9)])))
    assert math.isclose(outline.area_mm2, noisy.area_mm2)


def test_a_long_name_of_a_row_is_told_whole():
    row = RowOfBoth("lower_arm to lower arm front bracket on the left", "mm", 2, 3.2, 3.2, 3.0)
    first, *rest = _line(row).splitlines()
    assert " ".join([first.split("  ")[1], *map(str.strip, rest)]) == row.name.replace("_", " ")
    assert first.endswith("of 3") and len(first) <= 80


def test_command_compares_a_file_with_a_changed_key(tmp_path, monkeypatch):
    from assemblies.command.cli import app
    from assemblies.making.compare import overlaid as page_of_both

    monkeypatch.setattr(page_of_both, "solids", lambda layout: {})  # both corners' metal is made elsewhere

    done = CliRunner().invoke(
        app,
        [
            "compare",
            str(JOBS / "corrie-rear.toml"),
            "--change",
            "spring.rate=75",
            "--no-interference",
            "--out",
            str(tmp_path),
        ],
    )
    assert done.exit_code == 0, done.output
    told = done.output.partition("Written: ")[0]  # a path is as long as it is
    assert max(map(len, told.splitlines())) <= 80 and "_arm " not in told
    assert "spring.rate: 60 -> 75" in done.output and (tmp_path / "corrie-rear-compared.html").is_file()
    assert (
        CliRunner().invoke(app, ["compare", str(JOBS / "corrie-rear.toml"), "--out", str(tmp_path)]).exit_code
        == 2
    )


def test_names_with_markup_are_shown_as_written(job):
    bad = "<script>window.ran=1</script> a"
    c = compared(job, job.changed({"name": bad}), interference=False)
    html = page(c)
    assert bad not in html and "&lt;script&gt;window.ran=1" in html


@pytest.mark.slow
def test_page_reads_both_curves_and_lays_both_corners_over_each_other(thicker, tmp_path):
    """The rocker's plate is drawn twice, an arm once; either side alone shows what it has."""
    from assemblies.making.report.overlay import overlay
    from parts.files.solid import solid

    plate = thicker.a.layout.rocker_plates[0].name
    wanted = (plate, "lower arm")
    shapes = [
        {p.name: solid(p.form) for p in s.layout.placed if p.name in wanted} for s in (thicker.a, thicker.b)
    ]
    path = tmp_path / "both.html"
    scene = overlay(thicker.a, shapes[0], thicker.b, shapes[1])
    path.write_text(page(thicker, scene), encoding="utf-8")
    with browsers() as found, opened(found.get(), path.as_uri()) as tab:
        tab.evaluate("corner.setPose(20, 0)")
        said = [
            float(t.split()[0].replace("−", "-"))
            for t in tab.locator("#curve-wheel-force output").all_text_contents()
        ]
        want = [
            float(np.interp(20, s.results.travel.wheel_mm, s.results.travel.wheel_force_n))
            for s in (thicker.b, thicker.a)
        ]
        assert said == pytest.approx(want, abs=0.6)

        def seen() -> set[str]:
            return {p["name"] for p in tab.evaluate("corner.parts()") if p["shown"]}

        assert seen() == {*wanted, f"A: {plate}"}
        turned = {p["name"]: np.array(p["matrix"]) for p in tab.evaluate("corner.parts()")}
        assert np.abs(turned["A: " + plate] - turned[plate]).max() < 3.0
        tab.click("[data-side=before]")
        assert seen() == {"lower arm", f"A: {plate}"}
        tab.click("[data-side=after]")
        assert seen() == set(wanted)
        assert violations(tab) == []
        assert not re.search(r"NaN|undefined", tab.inner_text("main"))


def test_what_stands_elsewhere_or_moves_otherwise_is_not_alike(job):
    """A part of the same shape on a carrier that moves otherwise is drawn twice; where A cannot be, it stands
    at the nearest height it can."""
    from assemblies.making.report.overlay import overlay
    from parts.files.solid import solid

    other = [job.rod.outboard[0], job.rod.outboard[1], job.rod.outboard[2] + 4.0]
    c = compared(job, job.changed({"rod.outboard": other}), interference=False)
    plate = c.a.layout.rocker_plates[0].name
    wanted = ("lower arm", plate)
    one, two = ({p.name: solid(p.form) for p in s.layout.placed if p.name in wanted} for s in (c.a, c.b))
    told = overlay(c.a, one, c.b, two)
    alike = {p["name"]: p["alike"] for p in told["parts"] if not p.get("before")}
    assert alike[plate] is False and f"A: {plate}" in {p["name"] for p in told["parts"]}
    assert set(told["motion"]["bodies"]) > {"rocker", "before rocker"}


def test_an_item_without_any_resistance_is_the_worst_of_all(thicker):
    """It has no use to compare: it must not drop out of the list."""
    from assemblies.making.compare.numbers import uses

    rows = thicker.b.results.strength.checks
    none = replace(thicker.b.results.strength, checks=[replace(rows[-1], use=None, ok=False), *rows[:-1]])
    found = uses(thicker.a.results, replace(thicker.b.results, strength=none))
    assert found[0].name == rows[-1].item and found[0].said[1] == "nothing"


def test_the_verdict_and_exit_status_are_those_of_the_worse(thicker, job):
    """A 4 mm plate lengthens the rod eye's bolt: one new stop, which the first line tells."""
    both, same = thicker, compared(job, job, interference=False)
    assert same.works and same.verdict.startswith("A and B alike: has no stop")
    new = [f for f in both.new if f.level == "stop"]
    assert both.works == (not new)
    first = " ".join(text(both).split("\n\n")[0].split())
    assert first.startswith(both.verdict.split(";")[0])
    planted = replace(both, b=replace(both.b, results=replace(both.b.results, findings=[STOP])), new=(STOP,))
    assert not planted.works and planted.verdict.startswith("B does not work; A has no stop")
    assert "1 new stop" in planted.verdict.lower()


def test_gaps_round_down_and_uses_up():
    gap = RowOfBoth("a to b", "mm", 2, 19.998, 7.999, 8.0, lambda mm, _: guaranteed(mm))
    use = RowOfBoth("eye", "of 1", 2, 0.991, 1.001, round=lacking)
    assert gap.said == ("19.99", "7.99") and gap.short and use.said == ("1.00", "1.01")
