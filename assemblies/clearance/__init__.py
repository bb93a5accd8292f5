"""Interference over continuous travel and rack, proven: `check(bodies, mechanism, travel_mm, ...)`."""
from assemblies.clearance.check import Body, Joint, Limits, PairResult, Report, check

__all__ = ["Body", "Joint", "Limits", "PairResult", "Report", "check"]
