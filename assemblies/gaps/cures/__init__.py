"""What would give short pairs their gap: a member moved, the rocker's outline trimmed; each laid out and
checked anew."""

from assemblies.gaps.cures.account import Cured, cures
from assemblies.gaps.cures.stand import Stand

__all__ = ["Cured", "Stand", "cures"]
