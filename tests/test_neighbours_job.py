"""Neighbours by the job file: STEP files placed by point and turn, kinds and margins, hoses between two
bodies."""

import random
import shutil
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import demos
import numpy as np
import pytest
from step_here import read_here
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.gaps.hoses import hoses
from assemblies.job import Job, JobError, load, starter
from assemblies.layout import step_neighbours as imports
from assemblies.results.findings import lacking
from assemblies.study import study
from parts.files import stranger

ROOT = Path(__file__).parent.parent
DATA = Path(__file__).parent / "data"
PUMP = {
    "name": "coolant pump",
    "shape": "step",
    "file": str(DATA / "pump.step"),
    "at": [-90, 140, 180],
    "turn": [10, -20, 90],
    "margin": 2,
}
PIPE = {
    "name": "exhaust",
    "shape": "step",
    "file": str(DATA / "casting.step"),
    "at": [-260, 180, 330],
    "turn": [0, 40, 0],
    "kind": "exhaust",
}
FINE = {"tolerance": 0.1}
HOSE = {"name": "brake hose", "from": [-60, 340, 330], "to": [10, 670, 270], "to_on": "upright"}


@pytest.fixture(scope="module", autouse=True)
def own_cache(tmp_path_factory):
    """One folder for the module: the kernel reads each file once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("ROCKERSHED_CACHE", str(tmp_path_factory.mktemp("cache")))
        patch.setattr(stranger, "_read", read_here)
        yield


def job(*members, **tables):
    given = tomllib.loads(starter())
    given["member"] = [*given["member"], *members]
    coarse = {"tools": False, "tolerance": 0.5}  # bolts' reach and how near a mesh is have tests of their own
    given["clearance"] = given.get("clearance", {}) | coarse | tables.pop("clearance", {})
    given.update(tables)
    return Job.from_dict(given)


def written(tmp_path, extra):
    path = tmp_path / "job.toml"
    path.write_text(starter() + extra, encoding="utf-8")
    return path


def pairs(results, *names):
    return {(p.a, p.b): p for p in results.clearance.pairs if {p.a, p.b} & set(names)}


@pytest.fixture(scope="module")
def seen():
    return demos.known(job(PUMP, PIPE, clearance=FINE))


def test_a_path_is_taken_from_the_job_files_folder_and_kept_through_changes(tmp_path, monkeypatch):
    (tmp_path / "cad").mkdir()
    shutil.copy(DATA / "casting.step", tmp_path / "cad")
    read = load(
        written(
            tmp_path,
            '[[member]]\nname = "pump"\nshape = "step"\nfile = "cad/casting.step"\nat = [0, 100, 200]\n',
        )
    )
    assert Path(read.member[-1].file) == tmp_path / "cad" / "casting.step"
    monkeypatch.chdir("/")
    assert (
        read.changed({"member.pump.turn": [0, 0, 5]}).member[-1].file
        == read.member[-1].file
        == read.mirrored().member[-1].file
    )
    monkeypatch.chdir(tmp_path / "cad")
    assert (
        job(PUMP | {"file": "casting.step"}).member[-1].file == read.member[-1].file
    )  # from a script: the current folder
    with pytest.raises(JobError, match=r'member.coolant pump.file: is "gone.step"; no such file'):
        job(PUMP | {"file": "gone.step"})


def test_mirrored_twice_is_the_same_job_and_each_key_turns_as_the_mirror_says():
    one = job(PUMP, PIPE, hose=[HOSE])
    other = one.mirrored()
    pump, hose = other.member[-2], other.hose[0]
    assert (pump.at, pump.turn, pump.mirrored) == ((-90, -140, 180), (-10, -20, -90), True)
    assert hose.to == (10, -670, 270) and hose.from_ == (-60, -340, 330) and hose.to_on == "upright"
    assert other.mirrored() == one.changed(
        {"member.coolant pump.mirrored": False, "member.exhaust.mirrored": False}
    )


@pytest.mark.slow
def test_the_mirrored_corner_has_the_same_gaps(seen):
    other = study(seen.job.mirrored())
    a, b = pairs(seen.results, "coolant pump", "exhaust"), pairs(other.results, "coolant pump", "exhaust")
    assert len(a) > 10 and a.keys() == b.keys()
    for key, p in a.items():
        q = b[key]
        assert (
            p.required_mm == q.required_mm
            and p.gap_mm <= q.found_gap_mm + 1e-6
            and q.gap_mm <= p.found_gap_mm + 1e-6
        ), key


def test_kinds_and_margins_set_what_is_asked(seen):
    """trade practice: 8 to fixed, 30 exhaust to metal, 75 exhaust to a damper, 15 hose; margins of both
    bodies on top."""
    p = pairs(seen.results, "coolant pump", "exhaust")
    assert p["rocker", "coolant pump"].required_mm == 8 + 2 and p["rocker", "coolant pump"].margin_mm == 2
    assert (
        p["rocker", "exhaust"].required_mm == 30
        and p["rocker", "exhaust"].kind == "exhaust"
        and p["rocker", "exhaust"].margin_mm is None
    )
    assert p["damper", "exhaust"].required_mm == 75
    assert p["wheel", "exhaust"].required_mm == 30 and p["wheel", "coolant pump"].required_mm == 20 + 2
    line = {
        "name": "line",
        "shape": "cylinder",
        "from": [20, 600, 320],
        "to": [40, 660, 330],
        "diameter": 8,
        "kind": "hose",
        "moves_with": "upright",
        "margin": 2,
    }
    more = job(PIPE, line, clearance={"margins": {"rod": 1.5, "damper": 3}, "hose": 18, "flex": 1})
    q = pairs(demos.known(more).results, "line", "exhaust", "rod")
    assert q["line", "exhaust"].required_mm == 75 + 2 + 1 and q["line", "rocker"].required_mm == 18 + 2 + 1
    assert (
        q["damper", "exhaust"].required_mm == 75 + 3 + 1 and q["rod", "lower rail"].required_mm == 8 + 1.5 + 1
    )
    for limits, words in (
        ({"margins": {"rodd": 1}}, "did you mean 'rod'"),
        ({"margins": {"rod": 99}}, "0 to 50 mm"),
    ):
        with pytest.raises(JobError, match=words):
            job(clearance=limits)
    with pytest.raises(JobError, match="did you mean 'exhaust'"):
        job(PIPE | {"kind": "exhuast"})


@pytest.mark.slow
def test_a_finding_says_what_is_asked_and_how_much_of_it_is_margin():
    near = demos.known(
        job(
            PUMP | {"at": [-90, 240, 200]},
            PIPE | {"at": [-120, 220, 250], "margin": 4},
        )
    )
    text = {f.where: f.text for f in near.results.findings if f.code in ("gap", "clash")}
    assert any("8 mm asked + 2 mm margin" in t for t in text.values()) or any(
        "clash" in f.code for f in near.results.findings
    )
    short = [
        p for p in near.results.clearance.pairs if p.kind == "exhaust" and not p.ok and p.found_gap_mm >= 0
    ]
    assert short and all("asked to an exhaust + 4 mm margin" in text[f"{p.a} to {p.b}"] for p in short)


def test_order_of_members_changes_nothing(seen):
    given = seen.job.to_dict()
    random.Random(3).shuffle(given["member"])
    assert given["member"] != seen.job.to_dict()["member"]
    again = study(Job.from_dict(given)).results
    assert again.clearance.pairs == seen.results.clearance.pairs
    assert sorted(map(str, again.findings)) == sorted(map(str, seen.results.findings))


def test_a_part_wholly_inside_a_closed_import_is_a_clash(tmp_path):
    from step_text import block

    (tmp_path / "room.step").write_text(block((-3000, -3000, -3000), (3000, 3000, 3000)))
    room = {"name": "room", "shape": "step", "file": str(tmp_path / "room.step")}
    found = pairs(demos.known(job(room)).results, "room")
    assert found and all(p.found_gap_mm < 0 and not p.ok for p in found.values())


# ------------------------------------------------------------ refused before anything is written


def test_a_file_that_cannot_be_used_is_one_line_and_nothing_is_written(tmp_path):
    """Of a build; a check reads it by the same `command.common.load`."""
    (tmp_path / "half.step").write_text((DATA / "pump.step").read_text()[:20_000])
    shutil.copy(DATA / "sheet.step", tmp_path)
    extra = "".join(
        f'[[member]]\nname = "{n}"\nshape = "step"\nfile = "{n}.step"\n' for n in ("half", "sheet")
    )
    said = CliRunner().invoke(
        app,
        ["build", str(written(tmp_path, extra)), "--out", str(tmp_path / "out")],
    )
    lines = said.stderr.strip().split("\n")[1:]
    assert said.exit_code == 2 and len(lines) == 2 and not (tmp_path / "out").exists()
    assert lines[0].startswith("member.half.file: half.step is no STEP file") and lines[1].startswith(
        "member.sheet.file: sheet.step holds no solid"
    )


def test_a_script_is_told_of_a_bad_file_by_its_key(tmp_path):
    (tmp_path / "half.step").write_text((DATA / "pump.step").read_text()[:20_000])
    with pytest.raises(JobError, match=r"^member\.half\.file: half\.step is no STEP file"):
        demos.known(job({"name": "half", "shape": "step", "file": str(tmp_path / "half.step")}))


def test_a_clamp_touches_what_it_is_said_to_and_no_more():
    """Round the damper's body, halfway between the eyes at ride: a clash until the job says that it touches
    it; then that pair is told as not looked at, and what moves past the clamp is checked all the same."""
    eyes = np.array([job().damper.chassis_eye, job().rocker.damper_eye])
    a, b = (eyes[0] + share * (eyes[1] - eyes[0]) for share in (0.4, 0.5))
    clamp = {
        "name": "clamp",
        "shape": "cylinder",
        "diameter": job().damper.body_diameter + 8,
        "from": a.tolist(),
        "to": b.tolist(),
        "moves_with": "damper_body",
    }

    def clashes(results):
        return {f.where for f in results.findings if f.code == "clash" and "clamp" in f.where}

    plain = demos.known(job(clamp)).results
    assert clashes(plain) == {"clamp to damper body"}
    assert "in its member's 'touches'" in next(
        f.text for f in plain.findings if f.where == "clamp to damper body"
    )
    found = demos.known(job(clamp | {"touches": ["damper body"]})).results
    assert not clashes(found)
    assert ("clamp", "damper body", "given") in {(c.a, c.b, c.kind) for c in found.clearance.contacts}
    assert any(
        t.startswith("clamp to damper body: member.clamp.touches says") for t in found.clearance.not_checked
    )
    moving = [
        {(p.a, p.b): p.found_gap_mm for p in r.clearance.pairs if "clamp" in (p.a, p.b)}
        for r in (plain, found)
    ]
    assert moving[0] and moving[0] == moving[1]


@pytest.mark.parametrize(
    "name, said", [("damper bdy", "near it: damper body"), ("pull rod", "move against each other")]
)
def test_a_touch_that_excuses_nothing_is_told(name, said):
    tank = {
        "name": "tank",
        "shape": "box",
        "centre": [0, 200, 300],
        "size": [20, 20, 20],
        "moves_with": "damper_body",
        "touches": [name],
    }
    found = [f for f in demos.known(job(tank)).results.findings if f.code == "touches"]
    assert [f.where for f in found] == ["member.tank.touches"] and said in found[0].text


@pytest.mark.slow
def test_what_is_worth_knowing_of_an_import(tmp_path):
    pipe = PIPE | {"file": str(DATA / "pipe.step")}
    given = job(PUMP | {"at": [9000, 0, 0]}, pipe, clearance=FINE)
    text = {f.code: f.text for f in imports.findings(given)}
    assert "from the wheel centre" in text["import-far"] and "0.025 mm asked" in text["import-coarse"]
    assert not imports.findings(job(PUMP, PIPE))


@pytest.mark.slow
def test_a_second_check_needs_no_cad_kernel(tmp_path, seen):
    """In a fresh interpreter: the triangles come from the folder that the first check filled."""
    path = written(
        tmp_path,
        f'[[member]]\nname = "pump"\nshape = "step"\nfile = "{(DATA / "pump.step").as_posix()}"\nat = [-90, '
        f"140, 180]\n",
    )
    code = (
        "import contextlib, io, sys\nfrom assemblies.command.cli import app\n"
        f"with contextlib.redirect_stdout(io.StringIO()) as out:\n    app(['check', {str(path)!r}, "
        f"'--json'], standalone_mode=False)\n"
        "print('OCP' in sys.modules or 'cadquery' in sys.modules, '\"pump\"' in out.getvalue())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, encoding="utf-8"
    )
    assert done.stdout.split() == ["False", "True"], done.stderr


@pytest.mark.slow
def test_an_import_is_in_solids_and_picture_but_in_no_list_to_cut(seen, tmp_path):
    from assemblies.making.sheets.masses import weigh
    from assemblies.making.step import colour_of, write_assembly
    from parts.files.measured import volume_mm3
    from parts.files.solid import solid
    from parts.files.step import read_step

    placed = [p for p in seen.layout.placed if p.body in ("coolant pump", "exhaust")]
    file = write_assembly(
        tmp_path / "two.step", [(p.name, p.form, p.frame, colour_of(p.body, p.carrier)) for p in placed]
    )
    back = {p.name: volume_mm3(p.shape) for p in read_step(file)}
    assert back["coolant pump"] == pytest.approx(189634.151387, rel=1e-6) and back[
        "exhaust"
    ] == pytest.approx(89778.628893, rel=1e-6)  # FreeCAD's
    mirrored = next(
        p for p in study(seen.job.mirrored(), interference=False).layout.placed if p.body == "coolant pump"
    )
    assert (
        volume_mm3(solid(mirrored.form)) == pytest.approx(189634.151387, rel=1e-6)
        and mirrored.form.key != placed[0].form.key
    )
    masses = weigh(seen.layout, [], [])
    assert {"coolant pump", "exhaust"} <= set(masses.missing) and not {"coolant pump", "exhaust"} & {
        p.name for p in masses.parts
    }
    assert not {"coolant pump", "exhaust"} & set(seen.layout.members) and not [
        f for f in seen.layout.flat if "pump" in f.name
    ]


# ------------------------------------------------------------------------------------------------ hoses


@cache
def _hosed():
    return demos.known(job(hose=[HOSE]), interference=False)


def _hose(**more):
    """Row and finding of the hose, by the motion of the corner, which no hose changes."""
    s = _hosed()
    (row,), (finding,) = hoses(job(hose=[HOSE | more]), s.mechanism, s.springing.ends)
    return s, row, finding


def test_a_study_tells_of_its_hoses():
    s, row, finding = _hose()
    assert finding in s.results.findings and s.results.hoses == [row]
    short = demos.known(job(hose=[HOSE | {"length": 300}]), interference=False).results
    assert [h.length_mm for h in short.hoses] == [300]
    assert [f.level for f in short.findings if f.code == finding.code] == ["stop"]


def test_a_hoses_length_and_sag_hold_against_dense_poses():
    """Independent: 200 x 81 poses; sag by the ellipse with its ends as foci, semi-minor axis sqrt(L² - d²)/2,
    tried point by point."""
    s, row, finding = _hose(length=420)
    wheel, rack = np.linspace(-s.job.corner.droop, s.job.corner.bump, 200), np.linspace(-35, 35, 81)
    f = s.mechanism.at(wheel[:, None], rack[None]).frame("upright")
    apart = np.sqrt(
        ((f[..., :3, :3] @ np.array(HOSE["to"], float) + f[..., :3, 3] - HOSE["from"]) ** 2).sum(-1)
    )
    assert 0 <= row.least_length_mm - apart.max() <= 0.15 and 0 <= apart.min() - row.shortest_mm <= 0.15
    assert row.with_spare_mm == pytest.approx(1.05 * row.least_length_mm)
    d, t = row.shortest_mm, np.linspace(0, 2 * np.pi, 2001)
    x, y = 210 * np.cos(t), row.sag_mm * np.sin(t)
    assert np.allclose(
        np.hypot(x - d / 2, y) + np.hypot(x + d / 2, y), 420, atol=1e-6
    )  # every place a taut hose of 420 can reach
    assert (
        finding.level == "note"
        and "tie it" in finding.text
        and f"{row.sag_mm:.0f} mm off the straight line" in finding.text
    )


@pytest.mark.parametrize("share, level", [(None, "note"), (0.999, "stop"), (1.02, "warn"), (1.06, "note")])
def test_a_hose_is_judged_by_its_length(share, level):
    _, row, _ = _hose()
    _, _, finding = _hose(**({} if share is None else {"length": round(share * row.least_length_mm, 3)}))
    assert finding.level == level and f"{lacking(row.least_length_mm, 1)} mm apart" in finding.text
    assert ("too short" in finding.text) == (level == "stop")


def test_a_mirrored_hose_is_as_long():
    s, row, _ = _hose()
    other = study(s.job.mirrored(), interference=False).results.hoses[0]
    assert other.least_length_mm == pytest.approx(
        row.least_length_mm, abs=0.11
    ) and other.shortest_mm == pytest.approx(row.shortest_mm, abs=0.11)


def test_hoses_are_read_with_care():
    for more, words in (
        ({"to_on": "uprigt"}, "did you mean 'upright'"),
        ({"to": [0, 0.7, 0.27]}, "looks like metres"),
        ({"length": 3}, "must be 20"),
    ):
        with pytest.raises(JobError, match=words):
            job(hose=[HOSE | more])
    with pytest.raises(JobError, match="2 hoses have this name"):
        job(hose=[HOSE, HOSE])


@pytest.mark.slow
def test_thousands_of_members(seen):
    """They stand far off, one is near: it gets the gap it gets among few, and nothing fails."""
    far = [
        {
            "name": f"far {i}",
            "shape": "cylinder",
            "diameter": 20,
            "from": [-5000 + i % 100 * 90, -9000, 20 + i // 100 * 60],
            "to": [-4950 + i % 100 * 90, -9000, 20 + i // 100 * 60],
        }
        for i in range(1_500)
    ]
    steps = []
    many = study(job(PUMP, *far, clearance=FINE), progress=lambda *what: steps.append(what))
    a, b = pairs(many.results, "coolant pump"), pairs(seen.results, "coolant pump")
    for key in (("rocker", "coolant pump"), ("damper", "coolant pump")):
        assert a[key].gap_mm <= b[key].found_gap_mm and b[key].gap_mm <= a[key].found_gap_mm
    assert sum(p.b.startswith("far") for p in many.results.clearance.pairs) >= 1_500 * 5 and steps
