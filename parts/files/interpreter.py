"""Whether this very interpreter can be started once more, for work in a process of its own."""

import os
import sys


def starts_again() -> bool:
    """Whether `sys.executable` starts an interpreter: frozen, or inside another program, it starts that."""
    name = os.path.basename(sys.executable or "").lower()
    return not getattr(sys, "frozen", False) and name.startswith(("python", "pypy"))
