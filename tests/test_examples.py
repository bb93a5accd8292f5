"""The scripts in examples/ run and print what stands at their end; README shows two of them as they are."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from scripts import ROOT, printed_by

SCRIPTS = sorted((ROOT / "examples").glob("*.py"))


def parts_of(script: Path) -> tuple[str, str]:
    """(code without its docstring, what it says it prints)."""
    code, _, said = script.read_text(encoding="utf-8").partition("\n# prints:\n")
    body = ast.parse(code).body
    assert isinstance(body[0], ast.Expr), f"{script.name} does not say what it shows"
    lines = code.splitlines()[body[0].end_lineno :]
    return "\n".join(lines).strip(), "\n".join(x.removeprefix("# ") for x in said.splitlines())


def test_there_are_eight():
    assert len(SCRIPTS) == 8


SLOW = {"nest_blanks"}  # the search compiles itself


@pytest.mark.parametrize(
    "script", [pytest.param(p, id=p.stem, marks=[pytest.mark.slow] * (p.stem in SLOW)) for p in SCRIPTS]
)
def test_it_prints_what_it_says(script, tmp_path):
    code, said = parts_of(script)
    assert printed_by(code, script.name, tmp_path) == said.strip() != ""
    written = code.count('"outputs/') + 2 * code.count('f"outputs/')  # the one in a loop runs twice
    assert len(list(tmp_path.iterdir())) == written - code.count('f"outputs/')


@pytest.mark.parametrize("name", ("whole_corner", "thickness_sweep"))
def test_the_readme_shows_it(name):
    code, said = parts_of(ROOT / "examples" / f"{name}.py")
    assert f"```python\n{code}\n```\n\n```\n{said}\n```" in (ROOT / "README.md").read_text(encoding="utf-8")
