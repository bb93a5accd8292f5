"""Forces with a few entries of one usual case, for rows that are worked by hand; only what a test sets is
real."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assemblies.strength.forces import Forces
from assemblies.strength.load_cases import LoadCase


def entries(count: int = 1, **real) -> Forces:
    none = np.zeros((count, 3))
    fields = dict.fromkeys(Forces.__dataclass_fields__, none)
    f = Forces(
        **fields
        | {
            "cases": (LoadCase("test", (0, 0, 1)),),
            "case": np.zeros(count, int),
            "wheel_mm": np.zeros(count),
            "rack_mm": np.zeros(count),
            "usual": np.ones(count, bool),
            "spring_nm": np.zeros(count),
            "safety": 1.0,
            "welds_only": False,
        }
    )
    return replace(f, **{k: np.asarray(v, float) for k, v in real.items()})
