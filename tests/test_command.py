"""The command as a builder uses it: exit statuses, streams, errors before anything is touched."""

import json
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from types import SimpleNamespace

import demos
import pytest

from assemblies.results.model import parsed, read

ROOT = Path(__file__).parent.parent
JOBS = ROOT / "assemblies" / "jobs"
DEMOS = sorted(JOBS.glob("*.toml"))


def run(*words):
    """In a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "assemblies.command.cli", *map(str, words)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**__import__("os").environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": ""},
    )


def here(*words):
    """In this process."""
    done = demos.verb(*words)
    return SimpleNamespace(returncode=done.exit_code, stdout=done.stdout, stderr=done.stderr)


@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.stem)
def test_check_of_a_demo_is_clean_json_ends_well_and_reads_back(demo, tmp_path):
    start = run if demo is DEMOS[0] else here
    done = start("check", demo, "--json", "--no-interference")
    assert done.returncode == 0, done.stderr
    results = parsed(done.stdout)
    (tmp_path / "results.json").write_text(done.stdout, encoding="utf-8")
    assert read(tmp_path / "results.json") == results and results.name.replace(" ", "-") == demo.stem
    assert results.version == version("rockershed")
    assert done.stderr == ""
    assert not results.clearance.checked and results.clearance.not_checked
    t = results.travel
    lengths = {name: len(curve) for name, curve in vars(t).items() if curve is not None}
    assert len(set(lengths.values())) == 1
    assert max(b - a for a, b in zip(t.wheel_mm, t.wheel_mm[1:], strict=False)) <= 1.0 + 1e-9
    assert 0.0 in t.wheel_mm


def test_a_wrong_job_file_is_one_clear_error_and_status_2(tmp_path):
    text = (
        (JOBS / "heronbank-front.toml")
        .read_text(encoding="utf-8")
        .replace("plate_thickness = 3", "plate_thicknes = 3")
    )
    bad = tmp_path / "bad.toml"
    bad.write_text(text, encoding="utf-8")
    done = run("build", bad, "--out", tmp_path / "out")
    assert done.returncode == 2 and done.stdout == ""
    assert (
        "rocker.plate_thicknes" in done.stderr
        and "plate_thickness" in done.stderr
        and "Traceback" not in done.stderr
    )
    assert not (tmp_path / "out").exists()


def test_a_design_that_cannot_work_is_status_1_in_plain_text():
    done = run("check", JOBS / "heronbank-front.toml", "--no-interference", "--change", "damper.shortest=240")
    assert done.returncode == 1
    assert "STOP" in done.stdout and "shortest" in done.stdout
    assert "\x1b" not in done.stdout  # plain text in a pipe


def test_new_never_overwrites(tmp_path):
    file = tmp_path / "mine.toml"
    assert here("new", file).returncode == 0
    before = file.read_bytes()
    done = here("new", file)
    assert done.returncode == 2 and "exists" in done.stderr
    assert file.read_bytes() == before
    assert here("check", file, "--no-interference").returncode == 0


def test_change_takes_toml_values_and_refuses_unknown_keys():
    job = JOBS / "heronbank-front.toml"
    thick = json.loads(
        here("check", job, "--no-interference", "--json", "--change", 'spring.leaf_thickness="5 mm"').stdout
    )
    assert thick["spring"]["rate_nm_per_rad"] > 300
    done = here("check", job, "--change", "rocker.colour=3")
    assert done.returncode == 2 and "rocker.colour" in done.stderr
    done = here("check", job, "--change", "nonsense")
    assert done.returncode == 2 and "KEY=VALUE" in done.stderr
