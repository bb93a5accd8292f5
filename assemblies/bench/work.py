"""What a user waits for, as ratios of processor time of fresh processes in one run: `check` against importing
its libraries, a blank against a `check`, a build again against importing the CAD kernel; and a nest that was
given so long, by the clock: on a machine that is busy that one says nothing.

Each is measured between two runs of what it is compared with: a machine is quicker now and slower then.
"""

from __future__ import annotations

import itertools
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable

from assemblies.bench.runner import DEMO, Ratio
from parts.base.frozen import dataclass

TURNS = 5  # the first warms up and does not count
NEST_S = 12
PLATE = "{thickness = 3, outline = [[0, 0], [900, 0], [900, 600], [0, 600]]}"
LIBRARIES = "import numpy, pydantic, typer, fcl"
# what the command, which runs this, sets for itself: the libraries alone are loaded as anyone loads them
OWN = ("PYTHONDONTWRITEBYTECODE", "OPENBLAS_NUM_THREADS", "PYDANTIC_DISABLE_PLUGINS")

Command = Callable[[], list[str]]  # the words of the next command of its kind


@dataclass(frozen=True)
class Timed:
    """A command, what it is compared with, and how many times as much it may take."""

    name: str
    command: Command
    other: Command
    target: float


def bench() -> list[Ratio]:
    """Everything is kept between runs in a folder of its own, so that a cold run is the same everywhere."""
    with tempfile.TemporaryDirectory() as folder:
        env = {k: v for k, v in os.environ.items() if k not in OWN}
        env["ROCKERSHED_CACHE"] = os.path.join(folder, "cache")
        rows, nest = _commands(folder)
        turns = [[_beside(r, env) for r in rows] for _ in range(TURNS)][1:]
        start = time.perf_counter()
        _spent(nest, env)
        nested = (time.perf_counter() - start) / NEST_S
    medians = [statistics.median(of_one) for of_one in zip(*turns, strict=True)]
    return [
        *(Ratio(r.name, m, r.target, at_least=False) for r, m in zip(rows, medians, strict=True)),
        Ratio("nest --seconds, time by the clock / seconds given", nested, 1.0, at_least=False),
    ]


def _commands(folder: str) -> tuple[list[Timed], list[str]]:
    """What is timed, and a nest. Every tweak is one that was not made before: what is kept of a check must
    not stand in for a blank's."""
    me, count = [sys.executable, "-m", "assemblies.command.cli"], itertools.count(1)

    def libraries() -> list[str]:
        return [sys.executable, "-c", LIBRARIES]

    def kernel() -> list[str]:
        return [sys.executable, "-c", "import cadquery"]

    def check(*more: str) -> list[str]:
        return [*me, "check", str(DEMO), *more]

    def build(into: str, *more: str) -> list[str]:
        return [*me, "build", str(DEMO), "--out", os.path.join(folder, into), *more]

    def plate() -> list[str]:
        return ["--change", f"rocker.plate_thickness={3 + next(count) / 64}"]

    def lifted() -> list[str]:
        return ["--change", f"car.cg_height={440 + next(count)}"]

    loaded = f"python -c '{LIBRARIES}'"
    rows = [
        Timed(f"check again, nothing changed / {loaded}", check, libraries, 4.0),
        Timed(
            f"check of another height of the car's mass, gaps known / {loaded}",
            lambda: check(*lifted()),
            libraries,
            4.0,
        ),
        Timed(f"check of a tweaked plate / {loaded}", lambda: check(*plate()), libraries, 4.0),
        Timed(
            f"check without interference / {loaded}",
            lambda: check("--no-interference", *plate()),
            libraries,
            2.5,
        ),
        Timed(
            "build --only blanks of a tweaked plate / check of one",
            lambda: build("blanks", "--only", "blanks", *plate()),
            lambda: check(*plate()),
            2.0,
        ),
        Timed(
            "build again, nothing changed / python -c 'import cadquery'",
            lambda: build("whole"),
            kernel,
            3.0,
        ),
        Timed(
            "build after one plate's change / python -c 'import cadquery'",
            lambda: build("tweaked", *plate()),
            kernel,
            8.0,
        ),
    ]
    nest = [*me, "nest", str(DEMO), "--out", folder, "--change", f"stock.plate=[{PLATE}]"]
    return rows, [*nest, "--seconds", str(NEST_S)]


def _beside(row: Timed, env: dict[str, str]) -> float:
    """How many times as much processor time it takes as the runs of the other before and after it."""
    before, own, after = (_spent(command(), env) for command in (row.other, row.command, row.other))
    return 2 * own / (before + after)


def _spent(command: list[str], env: dict[str, str]) -> float:
    """Processor time of a process, s; where the system does not tell it of others, the time it took."""
    try:
        from resource import RUSAGE_CHILDREN, getrusage
    except ImportError:
        start = time.perf_counter()
        subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, env=env)
        return time.perf_counter() - start
    before = getrusage(RUSAGE_CHILDREN)
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, env=env)
    after = getrusage(RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
