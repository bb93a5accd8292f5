"""Readings on the welded corner, and what is doubted of it before anything was read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from assemblies.job.toml_file import number, rows, tables
from assemblies.motion.hard_points import JOINTS
from parts.base.frozen import dataclass

KINDS = {"rocker": "deg", "damper": "mm", "toe": "deg", "torque": "N·m", "ride": "mm", "thickness": "mm"}
ACCURACY = {
    "rocker": 0.2,
    "damper": 1.0,
    "toe": 0.1,
    "torque": 5.0,
    "ride": 2.0,
    "thickness": 0.02,
    "wheel": 1.0,
}  # ±, two standard deviations
EXPECTED = {
    "clock": 10.0,
    "rate": 6.0,
    "thickness": 0.2,
    "rod": 2.0,
    "point": 2.0,
}  # ± of the unknowns: deg (mm), %, mm, mm, mm


@dataclass(frozen=True)
class Reading:
    """One reading. `kind`: "rocker" (deg from ride height, right-handed about the axis as given), "damper"
    (eye to eye), "toe" (deg from ride height), "torque" (N·m that the spring holds, by spring balance on a
    lever; a coil-over: N), each at wheel height `at`; "ride" (wheel height from its place, + when the car is
    low, under a corner mass `at` in kg); "thickness" (strip or bar diameter, `at` unused). `accuracy` is ±,
    two standard deviations."""

    kind: str
    at: float
    value: float
    accuracy: float | None = None
    wheel_accuracy_mm: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f'reading: kind is "{self.kind}"; it must be one of {", ".join(KINDS)}')
        for name, v in (("at", self.at), ("value", self.value)):
            if not math.isfinite(v):
                raise ValueError(f"reading of {self.kind}: {name} is {v}; it must be a finite number")
        for name, good_to in (("accuracy", self.accuracy), ("wheel_accuracy_mm", self.wheel_accuracy_mm)):
            if good_to is not None and not (math.isfinite(good_to) and good_to > 0):
                raise ValueError(f"reading of {self.kind}: {name} is {good_to}; it must be above 0")

    @property
    def sigma(self) -> float:
        return (self.accuracy or ACCURACY[self.kind]) / 2

    @property
    def wheel_sigma_mm(self) -> float:
        return (
            (self.wheel_accuracy_mm if self.wheel_accuracy_mm is not None else ACCURACY["wheel"]) / 2
            if self.kind in ("rocker", "damper", "toe", "torque")
            else 0.0
        )


@dataclass(frozen=True)
class Unknown:
    """What may differ: "clock" (deg), of a coil-over "collar" (mm), "rate" (%), "thickness" (mm), "rod" (mm
    longer) or a point's coordinate ("pivot.y", mm). `expected` is ±, two standard deviations, before anything
    was read."""

    name: str
    expected: float

    @property
    def unit(self) -> str:
        return {"clock": "deg", "rate": "%"}.get(self.name, "mm")

    @property
    def sigma(self) -> float:
        return self.expected / 2


@dataclass(frozen=True)
class Readings:
    readings: tuple[Reading, ...]
    unknowns: tuple[Unknown, ...] = (Unknown("clock", EXPECTED["clock"]), Unknown("rate", EXPECTED["rate"]))


def unknowns_for(
    job, points: Mapping[str, float] | tuple[str, ...] = (), rod: bool = False
) -> tuple[Unknown, ...]:
    """Clock and rate, and what else is to be doubted: coordinates by name, "pivot.y", or all three of "pivot"
    (±2 mm each unless given)."""
    out = [Unknown("clock", EXPECTED["clock"]), Unknown("rate", EXPECTED["rate"])]
    out += [Unknown("rod", EXPECTED["rod"])] if rod else []
    sizes = points if isinstance(points, Mapping) else dict.fromkeys(points, EXPECTED["point"])
    for name, size in sizes.items():
        point, _, axis = name.partition(".")
        if point not in JOINTS or axis not in ("", "x", "y", "z"):
            raise ValueError(
                f'as built: "{name}" is not a hard point; write one of {", ".join(JOINTS)}, with .x, .y or '
                f".z for one coordinate"
            )
        out += [Unknown(f"{point}.{a}", float(size)) for a in (axis or "xyz")]
    return tuple(out)


def read(path: str | Path) -> Readings:
    """Readings from TOML: [[reading]] with kind, at, value and perhaps accuracy, wheel_accuracy; doubt =
    ["pivot.y", "rod", ...].

    Raises ValueError naming what is wrong."""
    given = tables(path)
    unknown = set(given) - {"reading", "doubt"}
    if unknown:
        raise ValueError(f"{path}: unknown key {', '.join(sorted(unknown))}; known: reading, doubt")
    doubt = given.get("doubt", [])
    if not isinstance(doubt, list) or not all(isinstance(d, str) for d in doubt):
        raise ValueError(f'{path}: doubt must be a list of names, such as doubt = ["pivot.y", "rod"]')
    found = []
    for i, row in enumerate(rows(path, given, "reading"), 1):
        extra = set(row) - {"kind", "at", "value", "accuracy", "wheel_accuracy"}
        if extra or not {"kind", "value"} <= set(row):
            raise ValueError(
                f"{path}: reading {i} has {', '.join(sorted(row))}; it needs kind and value, and may have "
                f"at, accuracy, wheel_accuracy"
            )
        found.append(
            Reading(
                str(row["kind"]),
                number(path, f"reading {i}, at", row.get("at", 0.0)),
                number(path, f"reading {i}, value", row["value"]),
                *(
                    number(path, f"reading {i}, {k}", row[k]) if k in row else None
                    for k in ("accuracy", "wheel_accuracy")
                ),
            )
        )
    return Readings(tuple(found), unknowns_for(None, tuple(d for d in doubt if d != "rod"), "rod" in doubt))
