"""The reference is built from the docstrings without a warning, and shows each part."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from parts.samples import SAMPLES

ROOT = Path(__file__).parent.parent


@pytest.mark.slow  # of every part its page and picture
def test_the_reference_builds_without_a_warning_and_every_part_has_its_picture(tmp_path):
    pytest.importorskip("pdoc", reason="the reference is made with the group dev")
    made = subprocess.run(
        [sys.executable, "-W", "error::UserWarning", str(ROOT / "docs" / "reference.py"), str(tmp_path)],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert made.returncode == 0 and "arning" not in made.stderr, made.stderr
    for part in SAMPLES:
        page = tmp_path.joinpath(*type(part).__module__.split(".")).with_suffix(".html").read_text("utf-8")
        (shown,) = re.findall(rf'src="([./]*pictures/{type(part).__name__}.svg)"', page)
        assert (tmp_path / "parts" / shown).is_file() and 'class="docstring"' in page
    linked = (tmp_path / "parts" / "rocker_plate.html").read_text("utf-8")
    assert "thickness_mm" in linked and "rod_boss_radius_mm" in linked
    spacer = (tmp_path / "parts" / "spacer.html").read_text("utf-8")
    assert re.search(
        r"bore_mm</a></code></td>.*?<td>10.5</td>\s*<td>0 to 19.9</td>", spacer, re.DOTALL
    )  # outside: 20
    assert 'href="assemblies/study.html"' in (tmp_path / "index.html").read_text("utf-8")
