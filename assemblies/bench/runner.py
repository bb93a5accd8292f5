"""Speed as ratios measured side by side in one run: never seconds, never a timed test."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

ROOMS = (
    "assemblies.bench.motion",
    "assemblies.bench.solids",
    "assemblies.bench.clearance",
    "assemblies.bench.nesting",
)
DEMO = Path(__file__).parents[1] / "jobs" / "heronbank-front.toml"


@dataclass(frozen=True)
class Row:
    """A measured ratio and its target: at least it (`at_least`) or at most it."""

    name: str
    ratio: float
    target: float
    at_least: bool = True

    @property
    def ok(self) -> bool:
        return self.ratio >= self.target if self.at_least else self.ratio <= self.target


def start_up() -> list[Row]:
    """A whole `check` without interference against a bare `import numpy`, as fresh processes, in turn;
    medians.

    Both run as an ordinary installation does, with compiled modules kept; the first pair warms up and does
    not count."""
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    commands = {
        "check": [sys.executable, "-m", "assemblies.command.cli", "check", str(DEMO), "--no-interference"],
        "numpy": [sys.executable, "-c", "import numpy"],
    }
    times: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(8):
        for name, command in commands.items():
            t0 = time.perf_counter()
            subprocess.run(command, stdout=subprocess.DEVNULL, check=False, env=env)
            times[name].append(time.perf_counter() - t0)
    check, numpy = (statistics.median(times[k][1:]) for k in ("check", "numpy"))
    return [Row("check without interference / python -c 'import numpy'", check / numpy, 4.0, at_least=False)]


def run(say: Callable[[str], None]) -> int:
    """Measure everything and print a line each; 0 when every target is met."""
    missed = 0
    for source in (start_up, *(import_module(room).bench for room in ROOMS)):
        for row in source():
            missed += not row.ok
            say(
                f"{'met   ' if row.ok else 'MISSED'}  {row.ratio:10.3f}  {'>=' if row.at_least else '<='} "
                f"{row.target:<8g}  {row.name}"
            )
    return 1 if missed else 0
