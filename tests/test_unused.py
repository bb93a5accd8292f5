"""Whatever is defined in `parts` and `assemblies` is used there, or is a door that a script is told of."""

from __future__ import annotations

import ast
import re
from collections import Counter
from pathlib import Path

from sources import nodes, tree

ROOT = Path(__file__).parent.parent
ASKED_BY_NAME = {  # what other programs call, each by whom
    "list_commands": "typer",
    "format_commands": "typer",
    "do_GET": "http.server",
    "log_message": "http.server",
    "_repr_html_": "a notebook",
    "_child": "the process that beside.py starts, by a text",
    "edge_rows": "a script: a plate's edge distances with their limits",
}
# what hangs a function where it is called
HUNG = (
    "validator",
    "serializer",
    "computed_field",
    "command",
    "callback",
    "compiled",
)


def _uses(every: list[ast.AST]) -> Counter[str]:
    """Every name that is read, called as an attribute or keyword, or stands in a text that is one name."""
    found: Counter[str] = Counter()
    for n in every:
        if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load):
            found[n.id] += 1
        elif isinstance(n, ast.Attribute):
            found[n.attr] += 1
        elif isinstance(n, ast.keyword) and n.arg:
            found[n.arg] += 1
        elif isinstance(n, ast.Constant) and isinstance(n.value, str) and re.fullmatch(r"[\w.]+", n.value):
            found.update(n.value.split("."))
    return found


def _defined(module: ast.Module, every: list[ast.AST]) -> list[str]:
    found, top = [], {id(n) for n in module.body}
    for n in every:
        if isinstance(n, ast.FunctionDef | ast.ClassDef):
            if not any(word in ast.unparse(d) for d in n.decorator_list for word in HUNG):
                found.append(n.name)
        elif isinstance(n, ast.Assign) and id(n) in top:
            found += [t.id for t in n.targets if isinstance(t, ast.Name)]
    return [name for name in found if not name.startswith("__")]


def test_nothing_is_defined_that_nothing_uses():
    used, defined = Counter(list(ASKED_BY_NAME)), []
    for file in (*ROOT.glob("parts/**/*.py"), *ROOT.glob("assemblies/**/*.py")):
        used += _uses(nodes(file))
        if file.relative_to(ROOT).parts[0] == "parts" and file.parent.name == "parts":
            # what a script may make
            things = {n.name for n in tree(file).body if isinstance(n, ast.ClassDef)}
            used.update(things)
        defined += [(name, file.relative_to(ROOT).as_posix()) for name in _defined(tree(file), nodes(file))]
    doors = [ROOT / "README.md", *ROOT.glob("examples/*.py"), *ROOT.glob("assemblies/making/report/*.[hj]*")]
    for door in doors:
        used.update(set(re.findall(r"\w+", door.read_text(encoding="utf-8", errors="ignore"))))
    assert [f"{place}: {name}" for name, place in defined if not used[name]] == []


def test_a_class_name_stands_for_one_thing():
    """Where a thing shares its name, its table of a job file ends in Table, that of results.json in Row."""
    found: dict[str, list[str]] = {}
    for file in (*ROOT.glob("parts/**/*.py"), *ROOT.glob("assemblies/**/*.py")):
        for n in tree(file).body:
            if isinstance(n, ast.ClassDef):
                found.setdefault(n.name, []).append(file.relative_to(ROOT).as_posix())
    assert {n: files for n, files in found.items() if len(files) > 1} == {}


MOST_LINES = (
    90  # of one function, its docstring aside; arguments, branches and statements: ruff, in pyproject
)
LONG = {  # none may join them and none may grow
    "assemblies/strength/rods.py: checks": 134,
    "assemblies/making/nest_job.py: nest_job": 102,
    "assemblies/strength/lug.py: _net": 100,
    "assemblies/making/sheets/bought_rows.py: bought": 95,
}


def _lines(f: ast.FunctionDef) -> int:
    first = f.body[0]
    told = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    said = first.end_lineno - first.lineno + 1 if told else 0
    return f.end_lineno - f.lineno + 1 - said


def test_a_function_can_be_read_in_one_sitting():
    too_long = []
    for file in (*ROOT.glob("parts/**/*.py"), *ROOT.glob("assemblies/**/*.py")):
        place = file.relative_to(ROOT).as_posix()
        for f in nodes(file):
            if isinstance(f, ast.FunctionDef):
                lines, most = _lines(f), LONG.get(f"{place}: {f.name}", MOST_LINES)
                too_long += [f"{place}: {f.name}: {lines} lines, {most} at most"] if lines > most else []
    assert too_long == []
