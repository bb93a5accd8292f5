"""Where tubes of the frame meet: which end is cut to which tubes in which order, and what the cut ends look like."""
from assemblies.junctions.fitting import Junctions, Pair, junctions
from assemblies.junctions.order import Node

__all__ = ["Junctions", "Node", "Pair", "junctions"]
