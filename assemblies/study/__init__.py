"""One corner worked through, numbers only: everything a job says, with its findings. Loads no CAD kernel.

In: a `Job`. Out: `Study` (mechanism, springing, layout, results). Uses: every room up to `tolerances`.
"""

from assemblies.study.corner import Study, design_forces, strength_of, study

__all__ = ["Study", "design_forces", "strength_of", "study"]
