"""The README's scripts run as printed and print what the README says."""

import contextlib
import io
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
PAIRS = re.findall(r"```python\n(.*?)```\n\n```\n(.*?)```", TEXT, re.S)


@pytest.mark.parametrize("code, printed", PAIRS, ids=[f"script {i + 1}" for i in range(len(PAIRS))])
def test_script_prints_what_the_readme_says(code, printed, monkeypatch, tmp_path):
    monkeypatch.chdir(ROOT)
    code = code.replace("outputs/", f"{tmp_path.as_posix()}/")
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "README.md", "exec"), {})
    assert out.getvalue().strip() == printed.strip()


def test_the_readme_shows_scripts_and_both_commands():
    assert len(PAIRS) == 3
    assert (
        "pip install uv && uv run rockershed build assemblies/jobs/heronbank-front.toml" in TEXT
        and "uv run pytest" in TEXT
    )
    for link in re.findall(r"\]\(([^)h][^)]*)\)", TEXT):
        assert (ROOT / link).is_file(), link
