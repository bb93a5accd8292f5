"""Strength of every part of a corner for stated load cases, with the rule beside each number."""
from assemblies.strength.corner import Strength, strength
from assemblies.strength.row import Check

__all__ = ["Check", "Strength", "strength"]
