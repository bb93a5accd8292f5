"""What the strength checks of a corner found."""

from __future__ import annotations

from dataclasses import dataclass, field

from assemblies.results.findings import Finding
from assemblies.strength.fatigue import Detail
from assemblies.strength.load_cases import LoadCase
from assemblies.strength.path import WalkedLink
from assemblies.strength.reactions import Reaction
from assemblies.strength.row import Check


@dataclass
class Strength:
    """What the checks found, worst first; `missing`: what a drawing would need and is not checked here, with
    the reason."""

    cases: tuple[LoadCase, ...]
    checks: list[Check] = field(default_factory=list)
    details: list[Detail] = field(default_factory=list)  # whose fatigue is a row each, all worked at once
    missing: list[str] = field(default_factory=list)
    frame: list[Reaction] = field(default_factory=list)
    joints: list[Reaction] = field(default_factory=list)
    path: list[WalkedLink] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    residual: float = 0.0
    virtual_work: float = 0.0
    rooms: dict[tuple[str, str], set[str]] = field(default_factory=dict)  # which gave an item's check
