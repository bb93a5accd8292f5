"""A build of just some kinds, and a build again: what is left as it is, made again or taken out."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import load
from assemblies.making import build as building
from assemblies.making import inputs
from assemblies.results.model import read
from assemblies.study import study

JOB = Path(__file__).parent.parent / "assemblies" / "jobs" / "corrie-rear.toml"


@lru_cache
def studied(job):
    return study(job, interference=False)


@pytest.fixture
def made(monkeypatch, tmp_path):
    """Builds the job with changes, gaps left out; each study is counted."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
    studies = []

    def quick(job, **_):
        studies.append(job)
        return studied(job)

    monkeypatch.setattr(building, "study", quick)
    base = load(JOB)

    def build(out="out", changes=None, kinds=("blanks",)):
        job = base.changed(changes) if changes else base
        return building.build(job, tmp_path / out, kinds=kinds)

    build.studies = studies
    return build


def stamps(folder: Path) -> dict[str, int]:
    return {p.relative_to(folder).as_posix(): p.stat().st_mtime_ns for p in folder.rglob("*") if p.is_file()}


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_build_again_with_nothing_changed_writes_nothing(made):
    folder, _ = made()
    before = stamps(folder)
    again, told = made()
    assert stamps(again) == before and len(made.studies) == 1
    assert told == read(folder / "results.json") and told.blanks


@pytest.mark.parametrize(
    "disturb",
    [
        lambda folder, mp: next((folder / "blanks").glob("*.dxf")).unlink(),
        lambda folder, mp: (folder / "summary.txt").write_text("mine", encoding="utf-8"),
        lambda folder, mp: mp.setattr(inputs, "tool", lambda: "a newer one"),
        lambda folder, mp: mp.setenv("ROCKERSHED_CACHE", "off"),
    ],
    ids=["a file gone", "a file changed", "another version", "nothing kept"],
)
def test_it_is_made_again_where_anything_is_not_as_it_was_made(made, monkeypatch, disturb):
    folder, _ = made()
    disturb(folder, monkeypatch)
    made()
    assert len(made.studies) == 2 and len(list((folder / "blanks").glob("*.dxf"))) > 5


@pytest.fixture
def apart(monkeypatch):
    """Sheets and nest in a process beside, as in a whole build, without the CAD kernel's part."""
    monkeypatch.setattr(building, "KERNEL", {"sheets"})
    monkeypatch.setattr(building._MakingCorner, "second_look", lambda self: None)
    monkeypatch.setenv("ROCKERSHED_CORES", "2")


@pytest.mark.slow
def test_tweaks_one_after_the_other_leave_what_a_build_from_nothing_makes(made, monkeypatch, tmp_path, apart):
    """Seeded tweaks on one folder, sheets beside and kept from state to state; the last one file by file as a
    folder, a cache and one process of its own make it. Whole builds, and more tweaks: `test_tweaks`."""
    import random

    dice, tweak, kinds = random.Random(21), {"name": "Corrie Rear"}, ("blanks", "sheets")
    for key, values in (("stock.bar_length", [3000, 7500]), ("rocker.plate_thickness", [2.5, 5, 6])):
        tweak[key] = dice.choice(values)
        folder, _ = made("one", tweak, kinds)
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "nothing kept"))
    monkeypatch.setenv("ROCKERSHED_CORES", "1")
    fresh, _ = made("own", tweak, kinds)
    one, own = content(folder), content(fresh)
    assert not {k for k in one.keys() | own.keys() if one.get(k) != own.get(k)}, tweak
    assert "sheets/shop-book.pdf" in own and len([k for k in own if k.endswith(".dxf")]) > 10


@pytest.mark.slow
def test_what_fails_beside_is_one_error_and_leaves_the_last_good_folder(made, monkeypatch, apart):
    folder, _ = made()
    before = stamps(folder)
    monkeypatch.setattr(building, "KERNEL", {"nest"})
    plate = {"name": "offcut", "outline": [[0, 0], [400, 0], [400, 300], [0, 300]], "thickness": 3}
    asked = {"stock.plate": [plate], "nest": {"spare": [{"name": "no such blank", "count": 1}]}}
    with pytest.raises(building.BuildError, match="no such blank"):
        made(changes=asked, kinds=("nest",))
    assert stamps(folder) == before and [p.name for p in folder.parent.iterdir()] == [folder.name]


@pytest.mark.slow
def test_files_of_other_kinds_that_no_longer_hold_are_taken_out_and_told(made, monkeypatch):
    def sheets(making, *_):  # what is on them is no matter here
        (making.folder / "sheets").mkdir()
        (making.folder / "sheets" / "set-up.pdf").write_bytes(b"%PDF")

    monkeypatch.setattr(building._MakingCorner, "sheets", sheets)
    folder, results = made(kinds=("blanks", "sheets"))
    assert (folder / "sheets" / "set-up.pdf").is_file()
    assert results.not_made == ["solids", "pictures", "nest", "report"] and not results.taken_out
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    _, same = made()  # nothing changed: the sheets still hold
    assert (folder / "sheets" / "set-up.pdf").is_file() and "sheets" not in same.not_made
    folder, results = made(changes={"rocker.plate_thickness": 5})
    assert not (folder / "sheets").exists() and results.taken_out == ["sheets"]
    assert "the older sheets showed another state and are taken out" in " ".join(
        (folder / "summary.txt").read_text(encoding="utf-8").split()
    )
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_an_unknown_kind_is_one_clear_error_before_anything_is_made(tmp_path):
    ran = CliRunner().invoke(app, ["build", str(JOB), "--out", str(tmp_path), "--only", "blanks,shets"])
    assert ran.exit_code == 2 and not list(tmp_path.iterdir())
    assert "'shets' is none of" in ran.output and "did you mean 'sheets'?" in ran.output


def test_plates_tried_before_are_not_tried_again_and_tell_the_same(monkeypatch, tmp_path):
    """Another plate asks nothing new; another load asks for all."""
    from assemblies.making.sheets import strength_tables as tables

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    asked = []

    def counted(job, thicknesses, _):
        asked.append(list(thicknesses))
        return [{"thickness_mm": t, "use": job.loads.vertical_g / t} for t in thicknesses]

    monkeypatch.setattr(tables, "gauges", counted)

    def asked_of(thicknesses, **changes):
        return tables._gauges(SimpleNamespace(job=load(JOB).changed(changes)), thicknesses)

    first = asked_of([3.0, 4.0])
    assert asked_of([3.0, 4.0, 5.0], **{"rocker.plate_thickness": 4})[:2] == first
    assert asked == [[3.0, 4.0], [5.0]]
    harder = asked_of([3.0], **{"loads.vertical_g": 4})
    assert asked[2:] == [[3.0]] and harder[0]["use"] == 4 / 3


@pytest.mark.slow
def test_a_plot_is_drawn_again_where_its_curve_moved_and_else_is_the_same(monkeypatch, tmp_path):
    from assemblies.making import plots

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
    job = load(JOB)
    r = studied(job).results
    moved = replace(r, travel=replace(r.travel, rocker_deg=[v + 0.5 for v in r.travel.rocker_deg]))
    drawn = []
    for n, results in enumerate((r, r, moved)):
        plots.draw(results, tmp_path / str(n), job=job)
        drawn.append(content(tmp_path / str(n)))
    assert drawn[0] == drawn[1]
    assert {k for k in drawn[2] if drawn[2][k] != drawn[0][k]} == {"rocker-angle.svg", "rocker-angle.png"}
    said = (tmp_path / "0" / "damper-length.svg").read_text(
        encoding="utf-8"
    )  # text is text, limits are drawn
    for words in (f"longest {job.damper.longest:g} mm", "wheel height from ride", ">mm<"):
        assert words in said
    assert {"camber.svg", "toe.svg"} <= set(drawn[0])


@pytest.mark.parametrize(("key", "value"), [("rocker.plate_thickness", 5.0), ("spring.rate", 41.0)])
def test_a_study_that_goes_on_from_another_tells_what_one_from_nothing_tells(key, value):
    done = studied(load(JOB))
    other = done.job.changed({key: value})
    assert study(other, interference=False, like=done).results == study(other, interference=False).results


def test_another_thickness_of_the_same_blanks_asks_for_no_other_plate(monkeypatch, tmp_path):
    from assemblies.nesting import shortage
    from assemblies.nesting.model import Blank, Missing, Rules
    from parts.shape.outline import Outline, rectangle

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    asked = []
    monkeypatch.setattr(shortage, "_size", lambda some, *_: (asked.append(some), (100 + len(asked), 50))[1])

    def lengths(wide, thickness):
        blank = Blank("tab", Outline(rectangle(0.0, 0.0, wide, 20.0)), 4, thickness)
        [found] = shortage.shortages([Missing(blank, 4, "no room left")], [], Rules(), 0, 400)
        return found.length_mm, found.thickness_mm

    assert lengths(30.0, 4.0) == (101, 4.0)
    assert lengths(30.0, 4.2) == (101, 4.2) and len(asked) == 1
    assert lengths(31.0, 4.2) == (102, 4.2)


def test_pages_made_before_are_those_of_the_same_sheets_day_and_printer(monkeypatch, tmp_path):
    from assemblies.making.sheets.drawing import Drawing
    from assemblies.making.sheets.paper import Printing, Sheet, write_pdf

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))

    def made(words="a", reach=50.0, **printing):
        drawn = Drawing()
        drawn.line((0.0, 0.0), (reach, 0.0))
        where = write_pdf(tmp_path / "p.pdf", [Sheet("t", words, drawn)], Printing(**printing), "x")
        return (tmp_path / "p.pdf").read_bytes(), where

    first = made()
    assert made() == first == made()
    others = [made("b"), made(reach=51.0), made(dated="2020-01-02"), made(scale_x=1.001), made(paper="A3")]
    assert len({body for body, _ in (first, *others)}) == 6
