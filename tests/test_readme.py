"""The README's scripts run as printed and print what the README says."""

import re
import tomllib
from importlib.metadata import requires, version

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from scripts import ROOT, printed_by

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
PAIRS = re.findall(r"```python\n(.*?)```\n\n```\n(.*?)```", TEXT, re.S)


@pytest.mark.parametrize("code, printed", PAIRS, ids=[f"script {i + 1}" for i in range(len(PAIRS))])
def test_script_prints_what_the_readme_says(code, printed, tmp_path):
    assert printed_by(code, "README.md", tmp_path) == printed.strip()


def test_the_readme_shows_scripts_and_both_commands():
    assert len(PAIRS) == 3
    first = (
        "pip install uv && uv run --no-default-groups rockershed build assemblies/jobs/heronbank-front.toml"
    )
    assert first in TEXT and "uv run pytest" in TEXT
    for link in re.findall(r"\]\(([^)h][^)]*)\)", TEXT):
        assert (ROOT / link).is_file(), link


def test_what_the_first_command_installs_is_recorded_and_none_of_it_is_compiled():
    """Every package reached from the dependencies has an upper bound in the project's own list, the tested
    version is within it, and what compiles (cytriangle) is reached by no default group."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    bounds = {}
    for r in map(Requirement, project["tool"]["uv"]["constraint-dependencies"]):
        if r.marker is None or r.marker.evaluate():
            bounds[canonicalize_name(r.name)] = r.specifier
    groups = project["dependency-groups"]
    asked = [*project["project"]["dependencies"]]
    for name in project["tool"]["uv"]["default-groups"]:
        asked += groups[name]
    todo, seen = [Requirement(a) for a in asked], set()
    while todo:
        r = todo.pop()
        name = canonicalize_name(r.name)
        if name in seen or (r.marker and not r.marker.evaluate({"extra": ""})):
            continue
        seen.add(name)
        assert name in bounds, f"{name} has no tested version in pyproject"
        assert version(name) in bounds[name], f"{name} {version(name)} is newer than was tested"
        todo += [Requirement(x) for x in requires(name) or ()]
    assert len(seen) > 20 and "cytriangle" not in seen and "sectionproperties" not in seen
    assert not re.search(r"https?:|@", "".join(map(str, bounds)))
