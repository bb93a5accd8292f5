"""Interference over continuous travel and rack, proven: `check(bodies, mechanism, travel_mm, ...)`.

In: `Body`s of forms on carriers, a mechanism, limits. Out: `Report`: a guaranteed gap a pair and its pose.
Knows no job. Uses: `motion`.
"""

from assemblies.clearance.check import Limits, PairResult, Report, check
from assemblies.clearance.memory import forget
from assemblies.clearance.other_side import between_sides
from assemblies.clearance.plan import Body, Joint

__all__ = ["Body", "Joint", "Limits", "PairResult", "Report", "between_sides", "check", "forget"]
