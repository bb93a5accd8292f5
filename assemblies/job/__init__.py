"""The job: what a builder measured and chose, as one frozen value. Every error names key, value, limit and
cure.

In: a TOML file, or a dict from a script. Out: `Job`, or `JobError`. Uses: `results` (words), `parts`.
"""

from assemblies.job.job import STARTER, Assumed, Job, JobError, load, slug, starter

__all__ = ["STARTER", "Assumed", "Job", "JobError", "load", "slug", "starter"]
