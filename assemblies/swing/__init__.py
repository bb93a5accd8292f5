"""A rocker, or any part that turns, alone: a pivot, an axis, a swing in degrees, and what stands round it.

In: parts and neighbours from a script, or a small TOML file (`load`). Out: `Swing`, its proven gaps and
findings. Uses: `layout` (what a [[member]] is), `clearance`, `job` (how a file is read), `results`.
"""

from assemblies.clearance.hinge import Hinge
from assemblies.swing.file import load
from assemblies.swing.swing import Gap, InCar, OnHinge, StepFile, Swing

__all__ = ["Gap", "Hinge", "InCar", "OnHinge", "StepFile", "Swing", "load"]
