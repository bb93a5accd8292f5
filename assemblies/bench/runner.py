"""Speed as ratios measured side by side in one run: never seconds, never a timed test."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

from parts.files.cache import keep, kept

ROOMS = (
    "assemblies.bench.work",
    "assemblies.bench.watching",
    "assemblies.bench.motion",
    "assemblies.bench.solids",
    "assemblies.bench.clearance",
    "assemblies.bench.nesting",
)
LIBRARIES = ("rockershed", "numpy", "pydantic", "typer", "python-fcl", "cadquery", "scipy", "shapely")
LAST = 4  # runs shown beside this one
DEMO = Path(__file__).parents[1] / "jobs" / "heronbank-front.toml"


@dataclass(frozen=True)
class Ratio:
    """A measured ratio and its target: at least it (`at_least`) or at most it."""

    name: str
    ratio: float
    target: float
    at_least: bool = True

    @property
    def ok(self) -> bool:
        return self.ratio >= self.target if self.at_least else self.ratio <= self.target


def run(say: Callable[[str], None]) -> int:
    """Measure everything and print a line each, with the ratios of the last runs on this machine beside,
    oldest first; 0 when every target is met."""
    missed, history = 0, _history()
    say(_machine())
    for source in (import_module(room).bench for room in ROOMS):
        for row in source():
            missed += not row.ok
            before = history.get(row.name, [])
            say(
                f"{'met   ' if row.ok else 'MISSED'}  {row.ratio:10.3f}  {'>=' if row.at_least else '<='} "
                f"{row.target:<8g}  {row.name}"
                + (f"  (before: {', '.join(f'{r:.3f}' for r in before)})" if before else "")
            )
            history[row.name] = [*before, row.ratio][-LAST:]
    keep("history", "bench", json.dumps(history).encode())
    return 1 if missed else 0


def _history() -> dict[str, list[float]]:
    body = kept("history", "bench")
    return json.loads(body) if body else {}


def _machine() -> str:
    """The machine and what runs on it."""
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    machine = f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
    return f"{machine}; Python {platform.python_version()}, {versions}"
