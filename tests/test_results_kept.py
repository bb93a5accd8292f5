"""Nothing that was found is lost on the way to the user: results are checked whole, findings only grow, and a
slip of the program in one part is told and takes no other part down."""

import json
from collections import Counter
from dataclasses import FrozenInstanceError, fields, replace
from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest
from declared import amiss
from pydantic import ValidationError

from assemblies.job import load
from assemblies.layout import bodies
from assemblies.layout import corner as laying
from assemblies.results.faults import fault, is_refusal
from assemblies.results.findings import Finding
from assemblies.results.model import Results, parsed, read
from assemblies.results.row import Row
from assemblies.results.strength import StrengthRow
from assemblies.results.travel import AssumedRow
from assemblies.strength import lug
from assemblies.study import corner, study
from parts.shape.outline import Outline

ROOT = Path(__file__).parent.parent
JOBS = ROOT / "assemblies" / "jobs"
MOST_OUTLINES = 180  # of all kinds in one study of this corner with its gaps; 173 when it was counted


def demo(name="corrie-rear"):
    return load(JOBS / f"{name}.toml")


@lru_cache
def whole():
    return demos.corner("corrie-rear")


def test_what_no_row_was_given_for_is_each_ones_own_empty_list():
    one, other = StrengthRow(), StrengthRow()
    one.missing.append("said of this one alone")
    assert (other.missing, StrengthRow().missing) == ([], []) and one.joints is not one.checks


ROWS = Row.__subclasses__()


@pytest.mark.parametrize("kind", ROWS, ids=lambda k: k.__name__)
def test_every_row_can_be_made_and_is_frozen(kind):
    """A field without a default after one that has it shows only where the row is made."""
    row = kind(**{f.name: None for f in fields(kind)})
    with pytest.raises(FrozenInstanceError):
        setattr(row, fields(kind)[0].name, 1)


@pytest.mark.parametrize("name", ["heronbank-front", "tarnside-front", "corrie-rear"])
def test_every_value_is_of_just_the_kind_its_row_declares(name):
    assert amiss(demos.with_gaps(name).results, Results) == []


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("travel.wheel_mm", (0.0,)),
        ("travel.wheel_mm", [np.float64(0.0)]),
        ("travel.spring_torque_nm", [1]),
        ("clearance.checked", np.bool_(True)),
        ("setup.loading_turn", 1.0),
        ("stops.runs_on", {}),
        ("clocking.steps", {"sleeve": 15}),
    ],
)
def test_a_value_of_another_kind_is_seen(where, value):
    group, name = where.split(".")
    results = whole().results
    planted = replace(getattr(results, group), **{name: value})
    assert amiss(replace(results, **{group: planted}), Results)
    finding = Finding(level="bad", code="x", where="y", text="z.")
    assert amiss(replace(results, findings=[finding]), Results) == ["results.findings[].level: 'bad'"]
    unlike = AssumedRow(key="k", value=[np.int64(1)], why="w")
    assert len(amiss(replace(results, assumed=[unlike]), Results)) == 1


def test_a_number_of_numpys_own_is_written_as_what_it_is():
    """No maker should hand one over; where one does, the file is written, and no other number."""
    rows = [AssumedRow(key="k", value=[np.int64(3), np.bool_(True), np.float64(0.5)], why="w")]
    told = json.loads(replace(whole().results, assumed=rows).to_json())["assumed"][0]["value"]
    assert told == [3, True, 0.5] and told[1] is True


def test_a_file_of_another_make_is_one_clear_error(tmp_path):
    """An unknown key anywhere, a missing one, a value of another kind, no results at all; what was not
    checked is worked out anew, not believed."""
    results, file = whole().results, tmp_path / "results.json"
    text = results.to_json()
    file.write_text(text, encoding="utf-8")
    assert read(file).to_json() == text

    def spoilt(change):
        given = json.loads(text)
        change(given)
        return json.dumps(given)

    none = spoilt(lambda r: r.update(not_checked=[]))
    assert parsed(none).not_checked == results.not_checked != []
    for said, change in (
        ("blnks", lambda r: r.update(blnks=[])),
        ("schema_", lambda r: r.update(schema_=1)),
        ("strength.checks.0.ok", lambda r: r["strength"]["checks"][0].pop("ok")),
        ("strength.checks.0.more", lambda r: r["strength"]["checks"][0].update(more=1)),
        ("travel.wheel_mm.0", lambda r: r["travel"]["wheel_mm"].__setitem__(0, "far")),
        ("setup.loading_turn", lambda r: r["setup"].update(loading_turn=0.5)),
        (
            "findings.0.level",
            lambda r: r.update(findings=[{"level": "x", "code": "", "where": "", "text": ""}]),
        ),
    ):
        with pytest.raises(ValidationError) as caught:
            parsed(spoilt(change))
        assert [".".join(map(str, e["loc"])) for e in caught.value.errors()] == [said]
    for wrong in ("[]", "{", ""):
        with pytest.raises(ValidationError):
            parsed(wrong)


def test_a_misspelt_key_is_an_error_and_findings_only_grow():
    results = whole().results
    with pytest.raises(TypeError, match="blnks"):
        results.grown(blnks=[])
    with pytest.raises(TypeError, match="only grow"):
        results.grown(findings=[])
    more = results.grown([Finding(level="stop", code="x", where="y", text="z.")])
    assert more.findings[0].code == "x" and len(more.findings) == len(results.findings) + 1


@pytest.mark.slow
def test_what_the_kernel_says_reaches_file_summary_report_and_exit_status(tmp_path, monkeypatch, refuse):
    """Planted: the kernel's own look says that one pair is at fault, and it makes no solid of one part."""
    from typer.testing import CliRunner

    from assemblies.command.cli import app
    from assemblies.making import build, gap_views, overview, plots, solid_files
    from assemblies.making.gap_views import confirming
    from assemblies.making.sheets import strength_tables

    asked = confirming.confirm

    def planted(pairs, *rest):
        found, left = asked(pairs[:1], *rest)
        object.__setattr__(found[0], "fault", "planted by a test")
        return found, left

    def quick(job, **_):
        return study(job.changed({"clearance.tools": False}))

    refuse(next(p for p in whole().layout.placed if p.name == "damper body"), "refused by a test")
    monkeypatch.setattr(confirming, "confirm", planted)
    monkeypatch.setattr(build, "study", quick)
    for module, name in (
        (plots, "draw"),
        (overview, "draw"),
        (strength_tables, "write"),
        (gap_views, "draw"),
        (gap_views, "write_close"),
    ):
        monkeypatch.setattr(module, name, lambda *_: None)
    monkeypatch.setattr(solid_files, "write", lambda *_: [])
    monkeypatch.setattr(build, "solids", lambda *_: {})
    assert all(f.level != "stop" for f in whole().results.findings)
    ran = CliRunner().invoke(
        app, ["build", str(JOBS / "corrie-rear.toml"), "--only", "solids,report", "--out", str(tmp_path)]
    )
    assert ran.exit_code == 1, ran.output
    folder = next(p for p in tmp_path.iterdir() if p.is_dir())
    results = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    stops = [f for f in results["findings"] if f["level"] == "stop"]
    assert sorted(f["code"] for f in stops) == ["gap-disagreement", "part"]
    assert "damper body" in [f["where"] for f in stops if f["code"] == "part"]
    assert any(said.startswith("damper body: ") for said in results["clearance"]["not_confirmed"])
    for name in ("summary.txt", "report.html"):
        text = (folder / name).read_text(encoding="utf-8")
        assert "planted by a test" in text and "refused by a test" in text, name


def test_one_study_makes_each_thing_few_times(monkeypatch):
    """STEP neighbours are read once, bodies made before the bolts and with them, no outline over
    and over; gaps and all."""
    counts = Counter()

    def counted(owner, name):
        made = getattr(owner, name)

        def one_more(*given, **named):
            counts[name] += 1
            return made(*given, **named)

        monkeypatch.setattr(owner, name, one_more)

    counted(Outline, "__init__")
    counted(corner.imports, "read")
    counted(bodies, "_bodies")
    study(demo())
    assert counts["read"] == 1 and counts["_bodies"] == 2
    assert counts["__init__"] <= MOST_OUTLINES


# ------------------------------------------------------------ slips


def slipped(*_, **__):
    raise IndexError("slipped")


def slip_of_numpy():
    return np.zeros(3) + np.zeros(2)


@pytest.mark.parametrize(
    "slip",
    [
        lambda: {}["x"],
        slip_of_numpy,
        lambda: max([]),
        lambda: np.linalg.inv(np.zeros((2, 2))),
        lambda: int("x"),
    ],
)
def test_slips_are_no_refusals(slip):
    with pytest.raises(Exception) as caught:
        slip()
    assert not is_refusal(caught.value)
    assert "fault of this program" in fault("rod", caught.value).text


def test_a_part_that_refuses_is_a_refusal():
    from parts.member import Member

    with pytest.raises(ValueError, match="wall") as caught:
        Member.tube((0, 0, 0), (0, 0, 100), 20, 15)
    assert is_refusal(caught.value)


def test_a_slip_in_one_part_is_told_and_takes_no_other_down(monkeypatch):
    sound = {p.name for p in whole().layout.placed}  # before the slip is planted

    monkeypatch.setattr(laying, "place_wheel", slipped)
    done = study(demo(), interference=False)
    told = [f for f in done.results.findings if f.code == "program-fault"]
    assert [(f.level, f.where) for f in told] == [("stop", "wheel")] and "slipped" in told[0].text
    assert {p.name for p in done.layout.placed} | {"wheel"} == sound
    assert any(n.what == "wheel" and n.room == "parts" for n in done.results.not_checked)


def test_a_slip_in_one_check_is_told_and_takes_no_other_down(monkeypatch):
    monkeypatch.setattr(lug, "checks", slipped)
    done = study(demo(), interference=False)
    assert [f.where for f in done.results.findings if f.code == "program-fault"] == [
        "strength of the rod lug"
    ]
    assert {"push rod", "damper bracket"} <= {c.item for c in done.results.strength.checks}


ROOMS = {
    "verdict": "verdict",
    "set_up": "set-up",
    "advised": "advice of the nodes",
    "steering": "steering",
    "geometry": "corner geometry",
    "strength_of": "strength",
    "hoses": "hoses",
    "links": "links",
    "stopped": "where the wheel stops",
}


def test_slips_in_all_rooms_at_once_are_told_and_the_results_can_be_read(monkeypatch):
    from assemblies.making.report.page import page
    from assemblies.results import summary

    for room in ROOMS:
        monkeypatch.setattr(corner, room, slipped)
    done = study(demo(), interference=False)
    told = [f for f in done.results.findings if f.code == "program-fault"]
    assert {f.where for f in told} == set(ROOMS.values()) and {f.level for f in told} == {"stop"}
    assert done.results.travel == whole().results.travel
    assert len(done.layout.placed) == len(whole().layout.placed)
    assert {n.what for n in done.results.not_checked} >= {*ROOMS.values()}
    for text in (done.results.to_json(), summary.text(done.results), summary.brief(done.results)):
        assert "fault of this program" in text
    assert "slipped" in page(done, done.results, quick=True)


@pytest.mark.slow
def test_a_slip_in_a_sheet_a_picture_or_the_report_leaves_the_rest_of_a_build(
    monkeypatch, tmp_path, tables_only
):
    from assemblies.making import blanks, build, plots, report, sheets
    from assemblies.making.sheets import jigs, setup_pages, strength_tables

    for module, name in (
        (setup_pages, "write"),
        (jigs, "pin_rows"),
        (sheets, "_book"),
        (plots, "draw"),
        (report, "write"),
    ):
        monkeypatch.setattr(module, name, slipped)
    monkeypatch.setattr(build, "gap_curves", lambda *_: ())
    monkeypatch.setattr(strength_tables, "write", lambda *_: None)
    monkeypatch.setattr(build, "_steering", lambda *_: None)
    make = build._MakingCorner(whole().results, tmp_path, lambda *_: None, whole())
    make.drawn(*blanks.write(whole().layout, tmp_path / "blanks", lambda *_: None))
    make.sheets(build.Printing(), 0.0)
    make.one("plots", lambda: plots.draw())
    make.told()
    make.report()
    told = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))["findings"]
    faults = {f["where"] for f in told if f["code"] == "program-fault"}
    assert faults == {"set-up sheet", "jigs", "shop book", "plots", "report"}
    for file in (
        "sheets/cut-list.csv",
        "sheets/masses.csv",
        make.results.blanks[0].dxf,
    ):
        assert (tmp_path / file).stat().st_size > 200, file
    assert make.results.cut_list and make.results.blanks
