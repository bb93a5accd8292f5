"""Strength of every part of a corner for stated load cases, with the rule beside each number.

In: a `Job`, its mechanism, springing and layout. Out: `Strength`: rows, reactions, findings. Uses: `layout`,
`motion` and below.
"""

from assemblies.strength.corner import Rooms, strength
from assemblies.strength.found import Strength
from assemblies.strength.row import Check

__all__ = ["Check", "Rooms", "Strength", "strength"]
