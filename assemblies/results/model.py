"""The model of results.json: the contract with whoever reads it. Extend it; never rename or drop a key.

Units are in the names. A number that does not exist (a toggle that is never reached) is null.
"""

import json
import math
from collections.abc import Iterable
from dataclasses import KW_ONLY, field, replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import BeforeValidator, TypeAdapter

from assemblies.results.findings import Finding, worst_first
from assemblies.results.frame import JunctionsRow
from assemblies.results.gaps import BoltAccess, ClearanceRow, Hose, Linked
from assemblies.results.making import BarRow, BarsToBuy, BlankRow, CutRow, MassesRow, Nesting, PartRow
from assemblies.results.not_checked import NotChecked, gather
from assemblies.results.row import Row
from assemblies.results.setting import Clocking, SetUp
from assemblies.results.steering import Geometry, Steering
from assemblies.results.strength import StrengthRow
from assemblies.results.travel import AssumedRow, EndsRow, SpringNumbers, Stops, Travel
from parts.base.frozen import dataclass
from parts.base.version import version

SCHEMA = 1


@dataclass(frozen=True)
class Results(Row):
    _: KW_ONLY
    schema: int = SCHEMA
    version: str = field(default_factory=version)  # of the program that made it
    name: str
    side: str
    what: str = "corner"  # or "frame": a file with members only
    assumed: list[AssumedRow]
    travel: Travel | None = None
    ends: EndsRow | None = None
    spring: SpringNumbers | None = None
    stops: Stops | None = None
    clocking: Clocking = field(default_factory=Clocking)
    setup: SetUp | None = None
    clearance: ClearanceRow
    steering: Steering | None = None
    geometry: Geometry | None = None
    hoses: list[Hose] = field(default_factory=list)
    links: list[Linked] = field(default_factory=list)
    access: list[BoltAccess] = field(default_factory=list)
    junctions: JunctionsRow | None = None
    strength: StrengthRow = field(default_factory=StrengthRow)
    blanks: list[BlankRow] = field(default_factory=list)
    parts: list[PartRow] = field(default_factory=list)
    cut_list: list[CutRow] = field(default_factory=list)
    masses: MassesRow | None = None
    nest: Nesting | None = None
    sawing: list[BarRow] = field(default_factory=list)
    bars_to_buy: list[BarsToBuy] = field(default_factory=list)
    not_made: list[str] = field(default_factory=list)  # kinds of files a build was not asked for
    taken_out: list[str] = field(default_factory=list)  # those of an older build that no longer held
    findings: list[Finding]

    @property
    def not_checked(self) -> list[NotChecked]:
        """Everything that no check of this run stands for, from every room."""
        return gather(self)

    def grown(self, found: Iterable[Finding] = (), **content: Any) -> "Results":
        """A copy with more fields in place and more findings: their list only grows."""
        if "findings" in content:
            raise TypeError("findings only grow: give the new ones as `found`")
        return replace(self, findings=list(worst_first([*self.findings, *found])), **content)

    def to_json(self) -> str:
        """Text of results.json: keys by their names, no NaN or infinity, numbers to 9 figures."""
        told = _plain(self) | {"not_checked": _plain(self.not_checked)}
        return json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read(path: str | Path) -> Results:
    """Raises ValidationError for a key that is none, or a value of another kind."""
    return parsed(Path(path).read_text(encoding="utf-8"))


def parsed(text: str) -> Results:
    """As `read`, of the text of a results.json. What was not checked is worked out anew."""
    return _reader().validate_json(text)


@cache
def _reader() -> TypeAdapter:
    return TypeAdapter(Annotated[Results, BeforeValidator(_without_worked_out)])


def _without_worked_out(given: Any) -> Any:
    return {k: v for k, v in given.items() if k != "not_checked"} if isinstance(given, dict) else given


def _plain(value: Any) -> Any:
    if isinstance(value, Row):
        return {k: _plain(v) for k, v in vars(value).items()}
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return float(f"{value:.9g}") if math.isfinite(value) else None
    return value
