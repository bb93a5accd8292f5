"""A commented job file of the kind that is wanted: axle, spring, rod, side; from the starter or a demo.

Pull rods start from the starter, push rods from the demos; what differs is a table of text or a few values.
Every kind that is written is a corner without a stop, gaps and all (`tests/test_new.py` holds it).
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from assemblies.job.job import Job, starter
from assemblies.job.rewrite import other_side, rewritten

AXLES, SPRINGS, RODS, SIDES = (
    ("front", "rear"),
    ("leaf-pack", "solid-bar", "coil-over"),
    ("pull", "push"),
    ("left", "right"),
)

PULL_BAR = """[spring]
kind = "solid-bar"           # or "leaf-pack", "tube", "coil-over"
diameter = 13                # measure it to 0.01: 1 % here is 4 % of the rate
length = 700                 # free length, fixed end to the rocker's socket
housing = { member = "spring tube" }   # a tube of the frame; or { outer = 60.3, wall = 2.9 } of its own
teeth = { sleeve = 36, anchor = 37 }
sleeve_bolt = "M10"          # cross bolt of the adjuster's sleeve

"""
PUSH_LEAVES = """[spring]
kind = "leaf-pack"           # or "solid-bar", "tube", "coil-over"
leaves = 7
leaf_width = 20
leaf_thickness = 3           # measure it to 0.01: 1 % here is 3 % of the rate
length = 900                 # free length, fixed end to the rocker's socket
housing = { member = "spring tube" }   # it is part of the frame
teeth = { sleeve = 4, anchor = 99 }
sleeve_bolt = "M10"          # cross bolt of the adjuster's sleeve

"""
STRONG_BOLTS = """[bolts]                      # a front corner brakes harder: 8.8 would not do
grade = "10.9"

"""


def written(
    axle: str = "front", spring: str = "leaf-pack", rod: str | None = None, side: str = "left"
) -> str:
    """Text of the job file of that kind. `rod` left out: pull, but push with a coil-over. Raises
    ValueError for a kind that is not offered."""
    rod = rod or ("push" if spring == "coil-over" else "pull")
    for key, value, known in (
        ("axle", axle, AXLES),
        ("spring", spring, SPRINGS),
        ("rod", rod, RODS),
        ("side", side, SIDES),
    ):
        if value not in known:
            raise ValueError(f'--{key} is "{value}"; it must be one of {", ".join(known)}')
    if (spring, rod) == ("coil-over", "pull"):
        raise ValueError(
            "no job with a pull rod and a coil-over is offered: take --rod push, or --spring leaf-pack and "
            "put your own in"
        )
    if (axle, spring, rod, side) == ("front", "leaf-pack", "pull", "left"):
        return starter()
    text, values = _base(axle, spring, rod)
    name = f"larchfield {axle}" + (" right" if side == "right" else "")
    job = Job.from_dict(tomllib.loads(text)).changed(values)
    text = rewritten(text, job)
    if job.corner.side != side:
        text = other_side(text, job)
    return rewritten(text, Job.from_dict(tomllib.loads(text)).changed({"name": name}))


def _base(axle: str, spring: str, rod: str) -> tuple[str, dict[str, Any]]:
    """The text to start from, and the values that are to change in it."""
    if rod == "pull":
        text = starter()
        values: dict[str, Any] = {}
        if spring == "solid-bar":
            text = _table(text, "spring", PULL_BAR)
            values["member.spring tube.to"] = [-940, 280, 165]
        if axle == "rear":
            values |= {"tie_rod.rack_travel": 0, "car.axle": "rear"}
            text = text.replace(_line(text, "#: axle"), "")
        return text, values
    if spring == "coil-over":
        text = _demo("corrie-rear")
        if axle == "rear":
            return text, {}
        text = text.replace("[[member]]", STRONG_BOLTS + "[[member]]", 1)
        return text, {"tie_rod.rack_travel": 30, "car.axle": "front"}
    text = _demo("tarnside-front")
    text = _table(text, "spring", PUSH_LEAVES) if spring == "leaf-pack" else text
    if axle == "front":
        return text, {}
    return text, {"tie_rod.rack_travel": 0, "car.axle": "rear", "member.lower rail.wall": 4}


def _demo(name: str) -> str:
    """A demo's file under the starter's first words."""
    first = starter().split("\nschema", 1)[0].split("\n")
    head = [line for line in first if not line.startswith(("# The numbers", "# A line that"))]
    text = (Path(__file__).parent.parent / "jobs" / f"{name}.toml").read_text(encoding="utf-8")
    return "\n".join(
        [
            *head,
            "# The numbers below are an invented corner that works: replace them by your own.",
            "# `rockershed new FILE` without options writes every key there is, each with what it means.",
            "schema" + text.split("\nschema", 1)[1],
        ]
    )


def _table(text: str, name: str, new: str) -> str:
    return re.sub(rf"^\[{name}\].*?(?=^\[)", lambda _: new, text, count=1, flags=re.MULTILINE | re.DOTALL)


def _line(text: str, start: str) -> str:
    return next(line + "\n" for line in text.split("\n") if line.startswith(start))
