"""A job file in other words: turned into its other side, or with points measured anew, its comments kept."""

import re
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import STARTER, Job, load
from assemblies.job.rewrite import other_side, rewritten

FILES = [STARTER, *sorted((Path(__file__).parent.parent / "assemblies" / "jobs").glob("*.toml"))]
run = CliRunner().invoke


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_the_other_side_of_a_file_is_the_mirrored_job_with_its_comments(file):
    text = file.read_text(encoding="utf-8")
    job = Job.from_dict(tomllib.loads(text))
    there = other_side(text, job)
    new = Job.from_dict(tomllib.loads(there))
    assert new.changed({"name": job.name}) == job.mirrored() and new.slug != job.slug
    assert [x.partition("#")[2] for x in there.split("\n") if "#" in x] == [
        x.partition("#")[2] for x in text.split("\n") if "#" in x
    ]
    back = Job.from_dict(tomllib.loads(other_side(there, new)))
    assert back.changed({"name": job.name}) == job


def test_members_units_and_several_lines_survive():
    text = STARTER.read_text(encoding="utf-8")
    hub = r"centre = [\n  0,\n  \1,  # half the track\n  265,\n]  # hub"
    text = re.sub(r"centre = \[0, (\d+), 265\]", hub, text)
    text = re.sub(r"box_width = (\d+) ", r'box_width = "\1 mm" ', text)
    job = Job.from_dict(tomllib.loads(text))
    new = job.changed({"wheel.centre": [1, 751, 266], "member.upper rail.roll": 5, "corner.droop": 44})
    out = rewritten(text, new)
    assert Job.from_dict(tomllib.loads(out)) == new
    assert (
        "centre = [1, 751, 266]  # hub" in out
        and re.search(r'box_width = "[0-9]+ mm"', out)
        and "roll = 5" in out
    )


def test_side_and_measure_write_files(tmp_path):
    mine, other, tapes = tmp_path / "mine.toml", tmp_path / "other.toml", tmp_path / "tapes.toml"
    assert run(app, ["new", str(mine)]).exit_code == 0
    assert run(app, ["side", str(mine), str(other)]).exit_code == 0
    assert load(other).corner.side == "right" and load(other).wheel.centre[1] == -load(mine).wheel.centre[1]
    assert run(app, ["side", str(mine), str(other)]).exit_code == 2  # never overwrites
    tapes.write_text('[[point]]\nname = "rod.outboard"\nside = "right"\nat = [-3, -599.5, 347]\n')
    before = mine.read_text(encoding="utf-8")
    assert run(app, ["measure", str(tapes), "--into", str(mine)]).exit_code == 0
    assert load(mine).rod.outboard == (-3.0, 599.5, 347.0)
    changed = [
        (a, b) for a, b in zip(before.split("\n"), mine.read_text("utf-8").split("\n"), strict=True) if a != b
    ]
    assert len(changed) == 1 and changed[0][1] == "outboard = [-3, 599.5, 347]"
    tapes.write_text('[[point]]\nname = "left ear"\nat = [-3, 599.5, 347]\n')
    ran = run(app, ["measure", str(tapes), "--into", str(mine)])
    assert ran.exit_code == 2 and "left ear" in ran.output and "rod.outboard" in ran.output


@pytest.mark.parametrize(
    ("verb", "text", "words"),
    [
        ("measure", "point = 3", "point must be a list of tables"),
        ("measure", "datum = 3", "datum must be a table"),
        ("measure", '[[point]]\nname = "a"\ndistances = 3', "distances must be a table"),
        ("asbuilt", '[[doubt]]\nname = "rod"', "doubt must be a list of names"),
        ("asbuilt", 'reading = "x"', "reading must be a list of tables"),
        ("asbuilt", '[[reading]]\nkind = "damper"\nvalue = [1]', "must be a plain number"),
        ("asbuilt", '[[reading]]\nkind = "damper"\nvalue = nan', "must be a plain number"),
    ],
)
def test_a_verbs_own_file_is_refused_in_one_line(tmp_path, verb, text, words):
    file = tmp_path / "f.toml"
    file.write_text(text)
    ran = run(app, [verb, *([str(STARTER)] if verb == "asbuilt" else []), str(file)])
    assert ran.exit_code == 2 and words in ran.output and "Traceback" not in ran.output, ran.output
