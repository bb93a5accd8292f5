"""The job: what a builder measured and chose, as one frozen value. Every error names key, value, limit and
cure.

In: a TOML file, or a dict from a script. Out: `Job`, or `JobError`. Uses: `results` (words), `parts`.
"""

from assemblies.job.file import Assumed, JobError, slug
from assemblies.job.frame_job import FrameJob
from assemblies.job.job import STARTER, Job, demo, load, starter

__all__ = ["STARTER", "Assumed", "FrameJob", "Job", "JobError", "demo", "load", "slug", "starter"]
