"""What a build makes of the gaps: the exact kernel's word, marks in STEP, pictures."""

from assemblies.making.gap_views.confirming import confirmed
from assemblies.making.gap_views.marks import GapMark, marks, write_close
from assemblies.making.gap_views.pictures import draw

__all__ = ["GapMark", "confirmed", "draw", "marks", "write_close"]
