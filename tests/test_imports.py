"""What may import what: the rooms' walls, held in fresh interpreters."""
import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "assemblies" / "jobs").glob("*.toml"))
HEAVY = ("cadquery", "OCP", "ezdxf", "matplotlib", "scipy", "shapely", "reportlab")


def _modules_after(code: str) -> set[str]:
    done = subprocess.run([sys.executable, "-c", code + "\nimport sys, json; print(json.dumps(sorted(sys.modules)))"], cwd=ROOT,
                          capture_output=True, text=True, encoding="utf-8", check=True)
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.stem)
def test_check_with_interference_imports_no_cad_kernel_and_nothing_heavy(demo):
    code = ("import contextlib, io\nfrom assemblies.cli import app\n"
            f"with contextlib.redirect_stdout(io.StringIO()):\n    app(['check', {str(demo)!r}], standalone_mode=False)\n")
    loaded = _modules_after(code)
    assert not [m for m in HEAVY if m in loaded]
    assert "assemblies.clearance" in loaded and "parts.outline" in loaded


def test_parts_never_import_assemblies():
    for file in (ROOT / "parts").glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [n for n in names if n.split(".")[0] == "assemblies"], file


def test_one_room_for_each_heavy_library():
    owners = {"ezdxf": {"parts/dxf.py"}, "cadquery": {"parts/solid.py", "assemblies/step.py"}}
    for folder in ("parts", "assemblies"):
        for file in (ROOT / folder).rglob("*.py"):
            place = file.relative_to(ROOT).as_posix()
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                for library, allowed in owners.items():
                    if any(n.split(".")[0] == library for n in names):
                        assert place in allowed, f"{place} imports {library}"
