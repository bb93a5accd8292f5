"""What a corner's parts look like and hang on: a colour a body, a branch of the tree a part. No CAD
kernel."""

from __future__ import annotations

from assemblies.layout.placing import Placed
from parts.fastener import BoltAndNut
from parts.tab import Tab

Colour = tuple[float, float, float]  # red, green, blue, sRGB, 0 to 1

# Quiet colours told apart also by eyes that lack red or green: least CIE Lab difference of any two, seen by
# normal,
# red-blind and green-blind eyes, is over 20 (tests/test_step.py holds it).
COLOURS: dict[str, Colour] = {
    "frame": (0.63, 0.63, 0.66),
    "wheel": (0.30, 0.27, 0.30),
    "rocker": (0.93, 0.81, 0.51),
    "rod": (0.15, 0.27, 0.51),
    "damper_body": (0.33, 0.48, 0.63),
    "damper_shaft": (0.84, 0.84, 0.72),
    "upper_arm": (0.48, 0.60, 0.42),
    "lower_arm": (0.36, 0.27, 0.15),
    "tie_rod": (0.69, 0.72, 0.93),
    "spring": (0.54, 0.42, 0.15),
    "gap": (0.87, 0.0, 0.87),  # marks, no part
}


def colour_of(body: str, carrier: str) -> Colour:
    """A part's colour: its body's own, else that of what carries it; the frame's for members and brackets."""
    return COLOURS.get(body) or COLOURS.get(carrier) or COLOURS["wheel" if carrier == "upright" else "frame"]


GAPS = "gap marks"
GROUPS = {
    "rocker": "rocker",
    "rod": "rod",
    "damper_body": "damper",
    "damper_shaft": "damper",
    "upper_arm": "arms",
    "lower_arm": "arms",
    "tie_rod": "steering",
    "rack housing": "steering",
    "rack end": "steering",
    "wheel": "wheel",
    "spring": "spring",
    "spring anchor": "spring",
    "spring housing": "spring",
    "pivot spindle": "spring",
}


def group_of(p: Placed) -> str:
    """The branch of the corner's tree that a placed part hangs on."""
    if isinstance(p.part, BoltAndNut):
        return "fasteners"
    if isinstance(p.part, Tab):
        return "brackets"
    return GROUPS.get(p.body) or ("frame" if p.carrier == "frame" else GROUPS.get(p.carrier, "neighbours"))
