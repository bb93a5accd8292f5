"""Where tubes of the frame meet: which end is cut to which tubes in which order, and what the cut ends look
like."""

from assemblies.layout.junctions.fitting import Junctions, TubePair, junctions
from assemblies.layout.junctions.order import Node

__all__ = ["Junctions", "Node", "TubePair", "junctions"]
