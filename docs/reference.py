"""The reference of what a script may use, from the docstrings, each part with its picture: pages in a folder.

`uv run --group dev python docs/reference.py` writes to outputs/reference; open index.html there."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import sys
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, get_type_hints

import pdoc
import pdoc.render
from limits import accepted, told

from parts.part import Part

DOORS = ("assemblies.job", "assemblies.study", "assemblies.swing", "assemblies.nesting")
SHELVES = ("parts.base", "parts.calc", "parts.files", "parts.shape")  # what the parts are made with
APART = {"parts.part", "parts.samples", *SHELVES}


def modules() -> list[str]:
    """The parts, what they share, and the doors of the assemblies."""
    import parts

    things = [f"parts.{m.name}" for m in pkgutil.iter_modules(parts.__path__)]
    return ["parts.part", *(t for t in things if t not in APART), "parts.shape.outline", *DOORS]


UNITS = {"mm": "mm", "deg": "deg", "n": "N", "kg": "kg", "m3": "kg/m³", "mm3": "kg/mm³"}


def parameters(part: Part) -> str:
    """A table of a part's parameters: unit, default, how far it may go in the part as drawn, what it is."""
    kind: Any = type(part)
    lines = inspect.getsource(kind).splitlines()
    rows = ["| parameter | unit | default | drawn | may be | what it is |", "|---|---|---|---|---|---|"]
    for f in fields(kind):
        line = next((x for x in lines if x.strip().startswith(f"{f.name}:")), "")
        what = line.partition("#")[2].strip()
        unit = UNITS.get(f.name.rsplit("_", 1)[-1], "mm, mm" if f.type in ("Point", "Vector") else "")
        default = "" if f.default is MISSING else str(f.default if f.default != "" else '""')
        value = getattr(part, f.name)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        drawn, limits = (f"{value:g}", told(value, *accepted(part, f.name))) if number else ("", "")
        default = default if len(default) < 30 else "(as drawn)"
        rows.append(f"| `{f.name}` | {unit} | {default} | {drawn} | {limits} | {what} |")
    said = (
        '"May be" is found by trial, all else as drawn, to three digits; most limits move with the other '
        "parameters, and what is refused says value, limit and cure. Lengths are finite, 20 m at most, and "
        "may be text with a unit."
    )
    return "\n".join([*rows, "", said])


def make(folder: Path) -> Path:
    """Write the pages and pictures; returns the first page."""
    from parts.samples import SAMPLES

    folder.mkdir(parents=True, exist_ok=True)
    for part in SAMPLES:
        kind = type(part)
        picture = part.svg(folder / "pictures" / f"{kind.__name__}.svg")
        up = "../" * kind.__module__.count(".")
        said = inspect.cleandoc(kind.__doc__ or "")
        kind.__doc__ = f"{said}\n\n![{part.title}]({up}pictures/{picture.name})\n\n{parameters(part)}\n"
    for name in modules():
        module = importlib.import_module(name)
        for thing in vars(module).values():  # a named tuple does not know the module its types come from
            if isinstance(thing, type) and issubclass(thing, tuple) and thing.__module__ == name:
                thing.__new__.__annotations__ = get_type_hints(thing)
    pdoc.render.configure(show_source=False, search=False, footer_text="rockershed")
    pdoc.pdoc(*modules(), output_directory=folder)
    return folder / "index.html"


if __name__ == "__main__":
    print(make(Path(sys.argv[1] if len(sys.argv) > 1 else "outputs/reference")))
