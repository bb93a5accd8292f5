"""Whole builds after seeded tweaks, each file by file as a build from nothing makes it, and back
to the first.

Some six minutes of processor time a sequence, so none runs unless asked for. Ten, one a core at a time, each
with caches and folders of its own:

    ROCKERSHED_TWEAKS=10 uv run pytest tests/test_tweaks.py -v

ROCKERSHED_TWEAKS_FROM=10 starts at another seed: a fault names its seed, which alone is then run again.
ROCKERSHED_TWEAKS_STEPS=1 is the shortest sequence.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from assemblies.job import load

COUNT = int(os.environ.get("ROCKERSHED_TWEAKS", "0"))
FIRST = int(os.environ.get("ROCKERSHED_TWEAKS_FROM", "0"))
SECONDS = float(os.environ.get("ROCKERSHED_TWEAKS_SECONDS", "1200"))  # one build at most
STEPS = int(os.environ.get("ROCKERSHED_TWEAKS_STEPS", "3"))  # six at most: one of each sort
JOBS = sorted((Path(__file__).parent.parent / "assemblies" / "jobs").glob("*.toml"))
DAY_S = 86400
SPRING = {"leaf-pack": "length", "solid-bar": "length", "coil-over": "free_length"}


def plate(width: float) -> list[dict]:
    outline = [[0, 0], [width, 0], [width, 600], [0, 600]]
    return [{"thickness": t, "outline": outline} for t in (3, 4, 5)]


def tweaks(job, dice: random.Random) -> dict[str, tuple[str, object]]:
    """One of each sort, as key and value."""
    joint, tube = [*job.lower_arm.outer_joint], dice.choice(job.member)
    joint[dice.randrange(3)] += dice.choice((-3, -1.5, 1.5, 3))
    spring = SPRING[job.spring.kind]
    return {
        "plate": ("rocker.plate_thickness", dice.choice((2.5, 3.5, 5))),
        "hard point": ("lower_arm.outer_joint", joint),
        "tube": (f"member.{tube.name}.wall", tube.wall + dice.choice((0.5, 1))),
        "spring": (f"spring.{spring}", getattr(job.spring, spring) + dice.choice((-5, 5))),
        "name": ("name", job.name.title()),  # its folder stays
        "sheet stock": ("stock.plate", plate(dice.choice((700, 1100)))),
    }


def toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value)


class Bench:
    """A job file and folders; every build is a process of its own, as a user's is."""

    def __init__(self, job: Path, folder: Path):
        self.file, self.folder = folder / job.name, folder
        shutil.copy(job, self.file)
        self.on(time.time() - 100 * DAY_S)

    def on(self, day: float) -> None:
        self.day = day
        os.utime(self.file, (day, day))

    def build(self, changes: dict[str, object], of: str, cores: int) -> dict[str, bytes]:
        """What the folder `of` holds after a build with its own cache."""
        options = [w for key, value in changes.items() for w in ("--change", f"{key}={toml(value)}")]
        environment = os.environ | {
            "ROCKERSHED_CACHE": str(self.folder / f"{of}-cache"),
            "ROCKERSHED_CORES": str(cores),
        }
        out = self.folder / of
        command = [sys.executable, "-m", "assemblies.command.cli", "build", str(self.file), "--out", str(out)]
        done = subprocess.run(
            [*command, *options],
            env=environment,
            cwd=Path(__file__).parent.parent,
            capture_output=True,
            timeout=SECONDS,
        )
        said = done.stderr.decode("utf-8", "replace")
        assert done.returncode in (0, 1) and "Traceback" not in said, f"{of}: {done.returncode}\n{said}"
        return {p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}


def difference(kept: dict[str, bytes], own: dict[str, bytes]) -> str:
    """The first one, in words; "" where there is none."""
    unlike = sorted(k for k in kept.keys() | own.keys() if kept.get(k) != own.get(k))
    made = [k for k in unlike if not k.endswith("made-by-rockershed.txt")] or unlike  # which only lists
    if not made:
        return ""
    name, count = made[0], f"{len(made)} of {len(own)} files differ; first {made[0]}"
    if name not in kept or name not in own:
        return f"{count}: only {'after the tweaks' if name in kept else 'from nothing'}"
    a, b = kept[name].split(b"\n"), own[name].split(b"\n")
    n = next((n for n, (one, two) in enumerate(zip(a, b, strict=False)) if one != two), min(len(a), len(b)))
    one, two = (lines[n] if n < len(lines) else b"(ends)" for lines in (a, b))
    at = max(0, next((i for i, (x, y) in enumerate(zip(one, two, strict=False)) if x != y), 0) - 60)
    return (
        f"{count}, line {n + 1}: after the tweaks {one[at : at + 160]!r}, from nothing {two[at : at + 160]!r}"
    )


@pytest.mark.skipif(not COUNT, reason="minutes a sequence: ROCKERSHED_TWEAKS=10 runs ten")
@pytest.mark.parametrize("seed", range(FIRST, FIRST + max(1, COUNT)))
def test_tweaks_one_after_the_other_leave_what_builds_from_nothing_make(seed, tmp_path):
    dice, job = random.Random(seed), JOBS[seed % len(JOBS)]
    bench, walk = Bench(job, tmp_path), [f"seed {seed}, {job.stem}"]
    base = changes = {"stock.plate": plate(900)}
    first = now = bench.build(base, "tweaked", cores=2)
    assert {"blanks", "sheets", "solids", "plots", "nest"} <= {p for k in first for p in k.split("/")}
    day, dated = bench.day, dice.randrange(STEPS)

    def same(kept: dict[str, bytes], own: dict[str, bytes]) -> None:
        told = difference(kept, own)
        assert not told, f"{' > '.join(walk)}: {told}"

    for step, (sort, (key, value)) in enumerate(dice.sample(list(tweaks(load(job), dice).items()), STEPS)):
        if step == dated:  # alone the day is no part of what makes two builds differ
            bench.on(day + dice.randrange(1, 90) * DAY_S)
            walk.append("another day")
            same(bench.build(changes, "tweaked", cores=2), now)
        changes = changes | {key: value}
        walk.append(f"{sort} {key}={toml(value)}")
        now = bench.build(changes, "tweaked", cores=2)
        for made in ("nothing", "nothing-cache"):
            shutil.rmtree(tmp_path / made, ignore_errors=True)
        same(now, bench.build(changes, "nothing", cores=1))
    bench.on(day)
    walk.append("back to the first")
    same(bench.build(base, "tweaked", cores=2), first)
