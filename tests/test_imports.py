"""What may import what: the rooms' walls, held in fresh interpreters."""

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from sources import tree

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "assemblies" / "jobs").glob("*.toml"))
HEAVY = ("cadquery", "OCP", "ezdxf", "matplotlib", "scipy", "shapely", "reportlab", "numpy.ma", "email")


def _modules_after(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", code + "\nimport sys, json; print(json.dumps(sorted(sys.modules)))"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"ROCKERSHED_CACHE": "off"},  # a check that was made before loads nearly nothing
        check=True,
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize("demos", [DEMOS[:1], pytest.param(DEMOS[1:], marks=pytest.mark.slow)])
def test_check_with_interference_imports_no_cad_kernel_and_nothing_heavy(demos):
    """Of any demo: one after the other in one interpreter."""
    code = (
        "import contextlib, io\nfrom assemblies.command.cli import app\n"
        f"for demo in {[*map(str, demos)]!r}:\n"
        "    with contextlib.redirect_stdout(io.StringIO()):\n"
        "        app(['check', demo], standalone_mode=False)\n"
    )
    loaded = _modules_after(code)
    assert not [m for m in HEAVY if m in loaded]
    assert "assemblies.clearance" in loaded and "parts.shape.outline" in loaded


def test_what_looks_for_plug_ins_is_there_for_whoever_asks_it_more():
    """A newer pydantic may; of names that it has not it has none."""
    code = (
        "import assemblies.command\nfrom pydantic.plugin import _loader\n"
        "assert _loader.get_plugins() == () and 'email' not in __import__('sys').modules\n"
        "assert _loader.PYDANTIC_ENTRY_POINT_GROUP == 'pydantic' and not hasattr(_loader, 'nothing')\n"
    )
    assert "email" in _modules_after(code)


@pytest.mark.slow
def test_the_cad_kernel_loads_without_all_of_the_library_that_draws_it_and_leaves_that_to_who_asks():
    code = (
        "import sys\nfrom parts.files import solid\n"
        "assert 'vtk' not in sys.modules and 'vtkmodules.all' not in sys.modules\n"
        "names = {m for m in sys.modules if m.startswith('vtkmodules.')}\n"
        "import vtk\nassert vtk.vtkSphereSource().GetOutputPort()\n"
        "assert len(names) < 50 < 100 < len({m for m in sys.modules if m.startswith('vtkmodules.')})\n"
        "mesh = solid.cq.Solid.makeBox(1, 2, 3).toVtkPolyData(0.1, 0.1)\n"
        "assert isinstance(mesh, vtk.vtkPolyData) and mesh.GetNumberOfPoints()\n"
    )
    assert {"OCP", "cadquery"} <= _modules_after(code)


# Lowest first: a room may use those before it, never one after it, function-level imports counted.
ROOMS = (
    "results",
    "job",
    "motion",
    "clearance",
    "layout",
    "swing",
    "setup",
    "strength",
    "gaps",
    "steering",
    "tolerances",
    "study",
)
ROOMS += ("nesting", "making", "bench", "command")
SHELVES = ("base", "shape", "calc", "", "files")  # of parts; "" are the things themselves
LOOSE = {"parts/dxf.py", "parts/part.py", "parts/plate.py"}  # doors to what `files` makes


@cache
def _imports(file: Path) -> list[str]:
    """Every module a file imports, at its top or inside a function; of `from a import b` a.b where
    that is a module, else a."""
    out = []
    for node in _statements(tree(file)):
        if isinstance(node, ast.Import):
            out += [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{file}: a relative import"
            full = [f"{node.module}.{a.name}" for a in node.names]
            out += [name if _is_module(name) else node.module for name in full]
    return out


@cache
def _sources(folder: str) -> list[Path]:
    return sorted((ROOT / folder).rglob("*.py"))


@cache
def _is_module(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.with_suffix(".py").exists() or (path / "__init__.py").exists()


def test_the_map_in_developers_names_every_room_in_order_on_one_screen():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Rooms")[2].partition("## Conventions")[0]
    rows = [line.split("`")[1] for line in table.splitlines() if line.startswith("| `")]
    assert rows == [*ROOMS, *(s for s in SHELVES if s)] and len(table.splitlines()) <= 40


def test_parts_never_import_assemblies():
    for file in _sources("parts"):
        assert not [n for n in _imports(file) if n.split(".")[0] == "assemblies"], file


def test_every_folder_of_assemblies_is_a_room_that_says_what_it_is_for():
    folders = {p.parent.name for p in (ROOT / "assemblies").glob("*/__init__.py")}
    assert folders == set(ROOMS)
    for room in ROOMS:
        said = ast.get_docstring(tree(ROOT / "assemblies" / room / "__init__.py"))
        assert said and "Uses:" in said, (
            f"assemblies/{room}/__init__.py says neither what it is for nor what it uses"
        )
    assert {p.name for p in (ROOT / "assemblies").glob("*.py")} == {"__init__.py"}


def test_rooms_stand_in_one_order_late_imports_counted():
    for file in _sources("assemblies"):
        room = file.relative_to(ROOT / "assemblies").parts[0]
        for name in _imports(file):
            words = name.split(".")
            if words[0] == "assemblies" and len(words) > 1 and words[1] in ROOMS and room in ROOMS:
                assert ROOMS.index(words[1]) <= ROOMS.index(room), f"{file.relative_to(ROOT)} imports {name}"


def test_the_shelves_of_parts_stand_in_one_order():
    for file in _sources("parts"):
        place = file.relative_to(ROOT).as_posix()
        shelf = file.parent.name if file.parent.name != "parts" else ""
        for name in _imports(file):
            words = name.split(".")
            if words[0] == "parts" and _is_module(name) and len(words) > 1 and place not in LOOSE:
                other = words[1] if words[1] in SHELVES else ""
                assert SHELVES.index(other) <= SHELVES.index(shelf), f"{place} imports {name}"


def test_no_file_imports_itself_in_a_circle():
    """Over files, late imports counted; a package's own `__init__` is counted
    through what it takes from its files."""
    graph = {}
    for file in _sources("parts") + _sources("assemblies"):
        name = ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        graph[name] = {n for n in _imports(file) if _is_module(n) and n != name}
    state: dict[str, int] = {}

    def walk(name: str, path: tuple[str, ...]) -> None:
        state[name] = 1
        for other in sorted(graph.get(name, ())):
            assert state.get(other) != 1, f"a circle: {' -> '.join((*path, name, other))}"
            if other not in state:
                walk(other, (*path, name))
        state[name] = 2

    for name in sorted(graph):
        if name not in state:
            walk(name, ())


def test_one_room_for_each_heavy_library():
    owners = {
        "ezdxf": {"parts/files/dxf.py"},
        "cadquery": {"parts/files/kernel.py"},
    }
    for file in _sources("parts") + _sources("assemblies"):
        place = file.relative_to(ROOT).as_posix()
        for library, allowed in owners.items():
            if any(n.split(".")[0] == library for n in _imports(file)):
                assert place in allowed, f"{place} imports {library}"


# What may be imported inside a function: the libraries that cost time to load or that not every system has,
# and files of this project that load one of them. A verb (`command`) loads its own room alone, so that each
# starts at once.
LATE = {
    "cadquery": "seconds",
    "OCP": "a second",
    "ezdxf": "a third of a second",
    "matplotlib": "half a second",
    "contourpy": "comes with matplotlib",
    "PIL": "comes with matplotlib",
    "scipy": "a third of a second",
    "shapely": "a tenth of a second",
    "numba": "half a second",
    "reportlab": "a tenth of a second",
    "html": "its table of entities: a fiftieth of a second, and a check writes no page",
    "jinja2": "a tenth of a second",
    "markupsafe": "comes with jinja2",
    "manifold3d": "only swept bodies need it",
    "skfem": "of the developers: a second opinion",
    "gmsh": "of the developers: a second opinion",
    "spyrrow": "of the developers: a general packer to compare with",
    "resource": "POSIX alone has it",
    "ctypes": "one system alone needs it",
    "importlib": "a hundredth of a second, and only where the package is installed",
}
STARTS_AT_ONCE = "assemblies/command/"


def _parted(file: Path) -> tuple[set[str], set[str]]:
    """Modules that a file imports at its top, and those inside functions; what only a type checker reads is
    in neither."""

    def of(nodes) -> set:
        return {n for n in nodes if isinstance(n, ast.Import | ast.ImportFrom)}

    every = [*_statements(tree(file))]
    typing = {
        n
        for i in every
        if isinstance(i, ast.If) and "TYPE_CHECKING" in ast.unparse(i.test)
        for n in of(_statements(i))
    }
    late = {n for f in every if isinstance(f, ast.FunctionDef) for n in of(_statements(f))} - typing
    return _named(of(every) - late - typing), _named(late)


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    """It and all that stand in it; imports stand in no expression."""
    yield node
    for inner in ast.iter_child_nodes(node):
        if not isinstance(inner, ast.expr):
            yield from _statements(inner)


def _named(nodes: set) -> set[str]:
    out = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            out |= {a.name for a in node.names}
        else:
            full = [f"{node.module}.{a.name}" for a in node.names]
            out |= {name if _is_module(name) else node.module for name in full}
    return out


def test_what_is_imported_inside_a_function_has_its_reason():
    parted = {}
    for file in _sources("parts") + _sources("assemblies"):
        name = ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        parted[name] = (file.relative_to(ROOT).as_posix(), *_parted(file))

    def loads_slow(name: str, seen: set[str]) -> bool:
        if name.split(".")[0] in LATE:
            return True
        if name in seen or name not in parted:
            return False
        seen.add(name)
        rooms = {name.rpartition(".")[0]} - {""}
        return any(loads_slow(other, seen) for other in parted[name][1] | rooms)

    for place, _, late in parted.values():
        for other in late if not place.startswith(STARTS_AT_ONCE) else ():
            assert loads_slow(other, set()), f"{place} imports {other} inside a function: put it at the top"


def test_a_frozen_class_is_made_by_the_quick_decorator():
    for file in _sources("parts") + _sources("assemblies"):
        text = file.read_text(encoding="utf-8")
        quick = "from parts.base.frozen import dataclass\n" in text
        assert quick or "@dataclass(frozen=True" not in text, f"{file}: `dataclass` of parts.base.frozen"
