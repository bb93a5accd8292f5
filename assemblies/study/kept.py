"""What the last study of a job of one name made, kept for the next: after a tweak most of it is made of the
same values still.

Nothing is taken for being last: each part is found by what it was made of (`layout.made`), by this tool and
these libraries (`cache.key`).
"""

from __future__ import annotations

import pickle

from assemblies.job import FrameJob, Job
from assemblies.layout.made import Made
from parts.files import cache, remembered


def made_last(job: Job | FrameJob) -> Made:
    """What was made last for a job of this name and side; nothing where nothing is kept."""
    if remembered.cache_folder() is None:
        return Made()
    body = cache.kept(_name(job), "made")
    try:
        return Made(remembered.read(body)) if body else Made()
    except remembered.UNREADABLE:  # of another make
        return Made()


def keep_made(job: Job | FrameJob, made: Made) -> None:
    """Keep it for the next study, where there is anything new."""
    if made.new and remembered.cache_folder() is not None:
        cache.keep(_name(job), "made", pickle.dumps(made.body(), protocol=4))


def _name(job: Job | FrameJob) -> str:
    return cache.key("made", job.name, getattr(job, "side", ""))
