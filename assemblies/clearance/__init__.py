"""Interference over continuous travel and rack, proven: `check(bodies, mechanism, travel_mm, ...)`."""
from assemblies.clearance.check import Limits, PairResult, Report, check, forget
from assemblies.clearance.plan import Body, Joint, other_side

__all__ = ["Body", "Joint", "Limits", "PairResult", "Report", "check", "forget", "other_side"]
