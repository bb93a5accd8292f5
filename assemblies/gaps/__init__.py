"""What a build makes of the gaps: the exact kernel's word, marks in STEP, pictures."""
from assemblies.gaps.confirming import confirmed
from assemblies.gaps.marks import Mark, marks, write_close
from assemblies.gaps.pictures import draw

__all__ = ["Mark", "confirmed", "draw", "marks", "write_close"]
