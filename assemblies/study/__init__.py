"""One corner worked through, numbers only: everything a job says, with its findings. Loads no CAD kernel.

In: a `Job`. Out: `Study` (mechanism, springing, layout, results); of a `FrameJob` a `FrameStudy`. Uses:
every room up to `tolerances`.
"""

from assemblies.study.corner import Study, design_forces, strength_of, study, with_gaps
from assemblies.study.frame import FrameStudy

__all__ = ["FrameStudy", "Study", "design_forces", "strength_of", "study", "with_gaps"]
