"""The CAD kernel, `cq`, without the whole of the library it can be drawn on a screen with.

One module of the kernel's (OCP.IVtkOCC) imports `vtk`, which stands for all 150 modules of that library and
takes a fifth of the kernel's start; what cadquery itself needs of them it imports by name. While the kernel
loads, an empty module stands in its place; whoever asks for `vtk` afterwards gets the real one.
"""

from __future__ import annotations

import sys
from types import ModuleType

_EMPTY = ModuleType("vtk")
sys.modules.setdefault("vtk", _EMPTY)
try:
    import cadquery as cq
finally:
    if sys.modules["vtk"] is _EMPTY:
        del sys.modules["vtk"]

__all__ = ["cq"]
