"""What a user waits for, as ratios of processor time of fresh processes, in turn in one run: `check` against
importing its libraries, a blank against a `check`, a build again against importing the CAD kernel; and a nest
that was given so long, by the clock: on a machine that is busy that one says nothing."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time

from assemblies.bench.runner import DEMO, Ratio

TURNS = 4  # the first warms up and does not count
NEST_S = 12
PLATE = "{thickness = 3, outline = [[0, 0], [900, 0], [900, 600], [0, 600]]}"
LIBRARIES = "import numpy, pydantic, typer, fcl"
# what the command, which runs this, sets for itself: the libraries alone are loaded as anyone loads them
OWN = ("PYTHONDONTWRITEBYTECODE", "OPENBLAS_NUM_THREADS", "PYDANTIC_DISABLE_PLUGINS")


def bench() -> list[Ratio]:
    """Everything is kept between runs in a folder of its own, so that a cold run is the same everywhere.
    Every tweak is one that was not made before: what is kept of a check must not stand in for a blank's."""
    me = [sys.executable, "-m", "assemblies.command.cli"]
    with tempfile.TemporaryDirectory() as folder:
        env = {k: v for k, v in os.environ.items() if k not in OWN}
        env["ROCKERSHED_CACHE"] = os.path.join(folder, "cache")
        out = ["--out", os.path.join(folder, "out")]
        _spent([*me, "build", str(DEMO), *out], env)  # the build that is made again

        def turn(n: int) -> dict[str, float]:
            one, two, three = (
                ["--change", f"rocker.plate_thickness={t + 0.25 * n}"] for t in (3, 3.08, 3.16)
            )
            blank = ["--out", os.path.join(folder, "blank"), "--only", "blanks", *three]
            commands = {
                "libraries": [sys.executable, "-c", LIBRARIES],
                "kernel": [sys.executable, "-c", "import cadquery"],
                "check": [*me, "check", str(DEMO)],
                "gaps known": [*me, "check", str(DEMO), "--change", f"car.cg_height={440 + n}"],
                "plain check": [*me, "check", str(DEMO), "--no-interference", *two],
                "check of the tweak": [*me, "check", str(DEMO), *one],
                "blank": [*me, "build", str(DEMO), *blank],
                "again": [*me, "build", str(DEMO), *out],
            }
            return {name: _spent(command, env) for name, command in commands.items()}

        turns = [turn(n) for n in range(TURNS)][1:]
        plate = _spent([*me, "build", str(DEMO), *out, "--change", "rocker.plate_thickness=4"], env)
        nest = [*me, "nest", str(DEMO), "--out", folder, "--change", f"stock.plate=[{PLATE}]"]
        start = time.perf_counter()
        _spent([*nest, "--seconds", str(NEST_S)], env)
        nested = (time.perf_counter() - start) / NEST_S

    def row(name: str, a: str, b: str, target: float) -> Ratio:
        return Ratio(name, statistics.median(t[a] / t[b] for t in turns), target, at_least=False)

    libraries = f"python -c '{LIBRARIES}'"
    changed = plate / statistics.median(t["kernel"] for t in turns)
    return [
        row(f"check again, nothing changed / {libraries}", "check", "libraries", 4.0),
        row(
            f"check of another height of the car's mass, gaps known / {libraries}",
            "gaps known",
            "libraries",
            4.0,
        ),
        row(f"check of a tweaked plate / {libraries}", "check of the tweak", "libraries", 4.0),
        row(f"check without interference / {libraries}", "plain check", "libraries", 2.5),
        row("build --only blanks of a tweaked plate / check of one", "blank", "check of the tweak", 2.0),
        row("build again, nothing changed / python -c 'import cadquery'", "again", "kernel", 3.0),
        Ratio("build after one plate's change / python -c 'import cadquery'", changed, 8.0, at_least=False),
        Ratio("nest --seconds, time by the clock / seconds given", nested, 1.0, at_least=False),
    ]


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
