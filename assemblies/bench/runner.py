"""Speed as ratios measured side by side in one run: never seconds, never a timed test. What was measured is
kept in the cache folder and stands beside the next run, with what was another machine or version then."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Callable, Sequence
from datetime import datetime
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

from parts.base.frozen import dataclass
from parts.files.cache import keep, kept, tool

ROOMS = ("work", "watching", "motion", "solids", "clearance", "nesting")  # files of this folder
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


def run(say: Callable[[str], None], rooms: Sequence[str] = ROOMS) -> int:
    """Measure rooms and print a line a ratio, with those of the last runs on this machine beside, oldest
    first; 0 when every target is met."""
    missed, before, machine = 0, _history(), _machine()
    ratios: dict[str, float] = {}
    say("; ".join(machine))
    for n, past in enumerate(before, 1):
        other = [w for w in past["with"] if w not in machine]
        say(f"  before, run {n}: {past['on']}{', then with ' + ', '.join(other) if other else ''}")
    now = datetime.now().isoformat(" ", "minutes")
    try:
        for room in rooms:
            say(f"{room} ...")
            for row in import_module(f"assemblies.bench.{room}").bench():
                missed += not row.ok
                ratios[row.name] = row.ratio
                was = [f"{p['ratios'][row.name]:.3f}" if row.name in p["ratios"] else "-" for p in before]
                say(
                    f"{'met   ' if row.ok else 'MISSED'}  {row.ratio:10.3f}  "
                    f"{'>=' if row.at_least else '<='} {row.target:<8g}  {row.name}"
                    + (f"  (before: {', '.join(was)})" if set(was) - {"-"} else "")
                )
    finally:  # one that was ended early has measured what it has
        if ratios:
            runs = [*before, {"on": now, "with": machine, "ratios": ratios}][-LAST:]
            keep("runs", "bench", json.dumps(runs).encode())
    return 1 if missed else 0


def _history() -> list[dict]:
    body = kept("runs", "bench")
    return json.loads(body) if body else []


def _machine() -> list[str]:
    """The machine and what runs on it, one thing a word."""
    return [
        f"{platform.system()} {platform.machine()}",
        f"{os.cpu_count()} cores",
        f"Python {platform.python_version()}",
        *(f"{name} {version(name)}" for name in LIBRARIES),
        f"files {tool()[:8]}",  # a version is one over many changes
    ]
