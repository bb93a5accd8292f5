"""Nesting of flat blanks on real scrap: remnants with notches, old holes, torch-cut edges and keep-outs;
tubes on bars.

In: outlines, remnants, rules. Out: `Nest`: placements with a proof, what found no room.
Uses: nothing but `parts`.
"""

from assemblies.nesting.model import (
    Blank,
    Missing,
    Nest,
    NestError,
    Placement,
    Remnant,
    Rules,
    Shortage,
    remnant_of,
)
from assemblies.nesting.pack import nest
from assemblies.nesting.proof import ProofError, prove

__all__ = [
    "Blank",
    "Missing",
    "Nest",
    "NestError",
    "Placement",
    "ProofError",
    "Remnant",
    "Rules",
    "Shortage",
    "nest",
    "prove",
    "remnant_of",
]
